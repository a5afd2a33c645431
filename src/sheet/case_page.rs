//! The first page: what is known about the case, the phases, the course, who may be started.

use super::Sheet;
use crate::document::{Block, Field, List, Notice, NoticeKind, PhaseBox, Rich, text};
use crate::model::{Aim, CriterionKind, FixedWord, Way};
use crate::plan::{Empty, Round};
use crate::quantity::{Exact, Quantity};

impl Sheet<'_> {
    /// Beside the label box.
    pub(super) fn facts(&self, status: &str, print: &str) -> Vec<(Rich, Rich)> {
        let head = &self.protocol.head;
        let mut purpose = head.purpose.value.word().replace('-', " ");
        if let Some(after) = &head.after {
            purpose.push_str(&format!(" after {}", after.value.word().replace('-', " ")));
        }
        vec![
            (
                "Protocol".into(),
                format!(
                    "{}, version {}",
                    self.protocol.name.name, head.version.value
                )
                .into(),
            ),
            ("Status".into(), Rich::bold(status)),
            ("Review by".into(), head.review.value.to_string().into()),
            ("For".into(), purpose.into()),
            ("Fingerprint".into(), print.into()),
        ]
    }

    pub(super) fn case_page(&self) -> Vec<Block> {
        let mut blocks = vec![Block::heading(1, "The case")];
        blocks.push(Block::Fields(self.known()));
        blocks.push(Block::Strip(self.strip()));
        blocks.push(Block::KeyValues(self.phases_in_full()));
        if let Some(chart) = self.chart() {
            blocks.push(Block::Chart(chart));
        }
        let exclude = self.criteria(CriterionKind::Exclude);
        let start = vec![
            Block::heading(2, "Start only if all are true"),
            Block::List(List::of(false, self.entry())),
        ];
        let not = vec![
            Block::heading(2, "Do not start if any is true"),
            Block::List(List::of(false, exclude.clone())),
        ];
        if exclude.is_empty() {
            blocks.extend(start);
        } else {
            blocks.push(Block::Columns(vec![start, not]));
        }
        let cautions = self.criteria(CriterionKind::Caution);
        if !cautions.is_empty() {
            blocks.push(Block::Notice(Notice {
                kind: NoticeKind::Caution,
                title: Rich::default(),
                body: vec![Block::List(List::of(false, cautions))],
            }));
        }
        blocks.extend(self.exceptions());
        blocks
    }

    /// What is known, printed; what is not, to write in.
    fn known(&self) -> Vec<Field> {
        let case = self.case;
        let mut fields = Vec::new();
        let zone = &self.protocol.head.timezone.value;
        fields.push(match self.times.clock(Exact::ZERO, Round::Down) {
            Some(time) => Field::filled(
                "Start (0:00)",
                format!("{} {} ({zone})", time.day_and_year(), time.time()),
            ),
            None => Field::open("Start (0:00): date and time", "", 34),
        });
        if self.protocol.head.patients.dosing_weight().is_some() || case.weight.is_some() {
            fields.push(match &case.weight {
                Some(weight) => Field::filled("Weight", plain(weight)),
                None => Field::open("Weight", "kg", 18),
            });
        }
        for (id, mark) in self.protocol.marks() {
            let title = text::inline(&mark.title.markdown);
            fields.push(match case.marks.get(&id) {
                Some(&at) => Field::filled(title, self.times.moment(at, Round::Down)),
                None => Field::open(title, "", 24),
            });
        }
        for (id, _) in &self.protocol.head.patients.on_arrival {
            let title = text::inline(self.words.reading(*id)).then(" on arrival");
            fields.push(match case.arrival.get(id) {
                Some(level) => Field::filled(title, plain(level)),
                None => Field::open(title, self.unit_of(*id), 18),
            });
        }
        fields
    }

    fn strip(&self) -> Vec<PhaseBox> {
        self.plan
            .phases
            .iter()
            .map(|placed| {
                let phase = &self.protocol[placed.phase];
                let mut lines = vec![text::inline(&short_aim(&phase.aim))];
                if placed.empty == Empty::Always {
                    lines.push(Rich::bold(
                        "falls away: its end is past before it can begin",
                    ));
                } else {
                    lines.push(self.times.begins(placed.start).into());
                    lines.push(self.times.ends(placed.end).into());
                }
                PhaseBox {
                    name: text::inline(&self.words.phase(placed.phase)),
                    lines,
                    fields: vec![Field::open("began", "", 18), Field::open("ended", "", 18)],
                }
            })
            .collect()
    }

    /// What each phase aims at, how fast it may go and how it ends.
    fn phases_in_full(&self) -> Vec<(Rich, Rich)> {
        self.protocol
            .phases()
            .map(|(id, phase)| {
                let mut parts = vec![self.words.aim(phase)];
                parts.extend(self.words.pace(phase));
                parts.extend(phase.due.as_ref().map(|due| self.words.due(due)));
                parts.push(self.words.end(phase, id));
                (
                    text::inline(&self.words.phase(id)),
                    text::inline(&parts.join("; ")),
                )
            })
            .collect()
    }

    /// Who may be started, and by when.
    fn entry(&self) -> Vec<Rich> {
        let head = &self.protocol.head;
        let patients = &head.patients;
        let mut lines = vec![Rich::from(patients.group.value.word())];
        let range =
            |name: &str, low: String, high: String| Rich::from(format!("{name} {low} to {high}"));
        if let Some(weight) = &patients.weight {
            lines.push(range(
                "weight",
                weight.low.to_string(),
                weight.high.to_string(),
            ));
        }
        if let Some(weight) = &patients.birth_weight {
            let (low, high) = (weight.low.to_string(), weight.high.to_string());
            lines.push(range("birth weight", low, high));
        }
        if let Some(age) = &patients.age {
            lines.push(range("age", age.low.to_string(), age.high.to_string()));
        }
        if let Some(age) = &patients.gestation {
            lines.push(range(
                "gestation",
                age.low.to_string(),
                age.high.to_string(),
            ));
        }
        for (id, range) in &patients.on_arrival {
            lines.push(text::inline(&format!(
                "{} {} to {} on arrival",
                self.words.reading(*id),
                range.low,
                range.high
            )));
        }
        if let Some(start) = &head.start_within {
            let mark = self.protocol[start.of].title.markdown.trim();
            let mut line = format!("start within {} of {mark}", start.within);
            if let Some(&at) = self.case.marks.get(&start.of) {
                let by = self.times.moment(at + start.within.value, Round::Down);
                line.push_str(&format!(": by **{by}**"));
            }
            lines.push(text::inline(&line));
        }
        lines.extend(self.criteria(CriterionKind::Include));
        lines
    }

    fn criteria(&self, kind: CriterionKind) -> Vec<Rich> {
        self.protocol
            .criteria
            .iter()
            .filter(|criterion| criterion.kind == kind)
            .map(|criterion| text::inline(&criterion.text.markdown))
            .collect()
    }

    /// What the committee has seen and lets stand: it shows on the sheet.
    fn exceptions(&self) -> Option<Block> {
        if self.protocol.accepts.is_empty() {
            return None;
        }
        let lines = self.protocol.accepts.iter().map(|accept| {
            let on = accept
                .on
                .as_ref()
                .map(|on| format!(" on {}", on.name))
                .unwrap_or_default();
            Rich::bold(format!("{}{on}", self.words.name(&accept.finding.name)))
                .then(": ")
                .then(text::inline(&accept.because.markdown))
                .then(" (")
                .then(text::inline(&accept.by.markdown))
                .then(format!(", until {})", accept.until.value))
        });
        Some(Block::Notice(Notice {
            kind: NoticeKind::Note,
            title: "accepted exceptions".into(),
            body: vec![Block::List(List::of(false, lines))],
        }))
    }
}

/// The aim without its reading, for the strip.
fn short_aim(aim: &Aim) -> String {
    match aim {
        Aim::Reach { to, way, .. } => match way {
            Way::Cool => format!("**↓ to {to}**"),
            Way::Warm => format!("**↑ to {to}**"),
        },
        Aim::Hold { at, within, .. } => format!("**{at} ± {within}**"),
        Aim::Keep { low, high, .. } => match (low, high) {
            (Some(low), Some(high)) => format!("**{} to {high}**", low.written.number),
            (Some(low), None) => format!("**at or above {low}**"),
            (None, Some(high)) => format!("**at or below {high}**"),
            (None, None) => String::new(),
        },
    }
}

/// A quantity as written; the renderers keep number and unit together themselves.
pub(super) fn plain<K>(quantity: &Quantity<K>) -> String {
    quantity.to_string()
}
