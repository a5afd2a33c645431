//! What is computed, shown behind what was written: when a phase starts and ends, when a
//! course arrives, how many boxes in a row a `for` comes to.

use super::Server;
use super::answers::Spot;
use super::hover::is_current;
use crate::model::{Aim, Cond, End, EndTrigger, Phase, PhaseId, Protocol};
use crate::plan::clock::Round;
use crate::plan::course::Course;
use crate::plan::report::hours_and_minutes;
use crate::quantity::Rate;
use crate::source::Span;
use crate::syntax::index::Symbol;
use crate::words::Words;
use lsp_types::{InlayHint, InlayHintKind, InlayHintLabel, InlayHintParams};

impl Server {
    pub(super) fn hints(&mut self, params: &InlayHintParams) -> Vec<InlayHint> {
        let Some(path) = self.documents.path(&params.text_document.uri) else {
            return Vec::new();
        };
        let _ = self.documents.load(&path);
        let Some(text) = self.documents.text(&path) else {
            return Vec::new();
        };
        let spot = Spot {
            path,
            text,
            offset: 0,
        };
        let mut found = self.phase_hints(&spot);
        found.extend(self.course_and_box_hints(&spot));
        found.sort();
        found
            .into_iter()
            .map(|(at, said)| InlayHint {
                position: self.columns.position(&spot.text, at),
                label: InlayHintLabel::String(said.replace('\u{a0}', " ")),
                kind: Some(InlayHintKind::TYPE),
                text_edits: None,
                tooltip: None,
                padding_left: Some(true),
                padding_right: None,
                data: None,
            })
            .filter(|hint| (params.range.start..=params.range.end).contains(&hint.position))
            .collect()
    }

    /// Behind each phase's head, when it starts and ends by plan; found by name, so that
    /// it stands while another line cannot be read.
    fn phase_hints(&self, spot: &Spot) -> Vec<(usize, String)> {
        let indexes = self.documents.indexes(&spot.path);
        let Some((_, text, index)) = indexes.iter().find(|(other, _, _)| *other == spot.path)
        else {
            return Vec::new();
        };
        index
            .declarations
            .iter()
            .filter(|declared| declared.symbol == Symbol::Phase)
            .filter_map(|declared| {
                let place = self.phase_place(&spot.path, &declared.name)?;
                let start = declared.whole.start as usize;
                let line = text.get(start..)?.lines().next()?;
                Some((start + line.trim_end().len(), place))
            })
            .collect()
    }

    fn course_and_box_hints(&self, spot: &Spot) -> Vec<(usize, String)> {
        let Some((loaded, protocol)) = self.read_of(&spot.path) else {
            return Vec::new();
        };
        let mut found: Vec<(Span, String)> = Vec::new();
        for (id, phase) in protocol.phases() {
            found.extend(arrival(phase));
            if let End::Awaited {
                trigger: EndTrigger::When(cond),
                ..
            } = &phase.end
            {
                boxes(protocol, cond, &[id], &mut found);
            }
        }
        for (_, rule) in protocol.rules() {
            let during: Vec<PhaseId> = rule.during.iter().map(|phase| phase.value).collect();
            boxes(protocol, &rule.when, &during, &mut found);
            if let Some(again) = &rule.ready_again {
                boxes(protocol, again, &during, &mut found);
            }
        }
        found
            .into_iter()
            .filter(|(span, _)| is_current(loaded, spot, *span))
            .map(|(span, said)| (span.end as usize, said))
            .collect()
    }
}

/// Behind its rate, how long the course of a phase takes (M21).
fn arrival(phase: &Phase) -> Option<(Span, String)> {
    let Aim::Reach {
        from: Some(from),
        rate: Some(rate),
        ..
    } = &phase.aim
    else {
        return None;
    };
    let after = |rate: &Rate| {
        let minutes = Course::of(phase, from.value, rate.value)?.arrives_after()?;
        Some(hours_and_minutes(minutes, Round::Up))
    };
    let (soonest, latest) = (after(rate.faster())?, after(rate.slower())?);
    let last = rate.second.as_ref().unwrap_or(&rate.first);
    let said = if soonest == latest {
        format!("arrives after {latest} h")
    } else {
        format!("arrives after {soonest} h to {latest} h")
    };
    Some((last.span, said))
}

/// Behind each `for D`, the boxes in a row that it comes to (M9).
fn boxes(protocol: &Protocol, cond: &Cond, during: &[PhaseId], found: &mut Vec<(Span, String)>) {
    for test in cond.tests() {
        if let Some(duration) = &test.sustained
            && let Some(said) = Words::of(protocol).boxes(test, during)
        {
            found.push((duration.span, format!("= {said}")));
        }
    }
}
