//! Targets, rates, windows and thresholds, as the rows ask for them.

use super::super::answers::{answers, first_answered};
use super::super::facts::orders;
use super::super::words::{self, celsius, name, per_hour};
use super::super::{Context, timing};
use super::Finder;
use crate::diag::Level;
use crate::model::words::{Analyte, FixedWord, Medium, Scale, Site, Topic};
use crate::model::*;
use crate::quantity::{Exact, Rate};
use crate::source::Span;

/// A number of the table. INVARIANT: the table's numbers can be read; a slip
/// would show in the tests on both sides of every limit.
pub fn number(text: &str) -> Exact {
    Exact::parse(text).unwrap_or(Exact::OVERFLOW)
}

/// Something that is aimed at.
pub struct Target {
    pub value: Exact,
    pub span: Span,
    /// The phase or the rule.
    pub about: String,
    /// `the target of `hold``
    pub words: String,
}

fn target(value: &crate::quantity::Level, about: &Named, what: &str) -> Target {
    Target {
        value: value.value,
        span: value.span,
        about: about.name.clone(),
        words: format!("{what} of {}", name(about)),
    }
}

/// The phases up to the first rewarming: those in which the treatment's target
/// is sought and kept. A warm phase at the very beginning is no rewarming.
pub fn treatment(protocol: &Protocol) -> Vec<PhaseId> {
    let mut found = Vec::new();
    for (id, phase) in protocol.phases() {
        if is_warm(phase) {
            if found.is_empty() {
                continue;
            }
            break;
        }
        found.push(id);
    }
    found
}

fn is_warm(phase: &Phase) -> bool {
    matches!(phase.aim, Aim::Reach { way: Way::Warm, .. })
}

/// Warm phases that come after another phase.
pub fn rewarmings(protocol: &Protocol) -> Vec<(PhaseId, &Phase)> {
    protocol
        .phases()
        .skip(1)
        .filter(|(_, phase)| is_warm(phase))
        .collect()
}

/// What the phases of the treatment aim at, both ends of a range too.
pub fn aims(protocol: &Protocol) -> Vec<Target> {
    let mut found = Vec::new();
    for id in treatment(protocol) {
        let phase = &protocol[id];
        match &phase.aim {
            Aim::Reach { to, .. } => found.push(target(to, &phase.name, "the target")),
            Aim::Hold { at, .. } => found.push(target(at, &phase.name, "the target")),
            Aim::Keep { low, high, .. } => {
                found.extend(
                    low.iter()
                        .map(|low| target(low, &phase.name, "the lower limit")),
                );
                found.extend(
                    high.iter()
                        .map(|high| target(high, &phase.name, "the upper limit")),
                );
            }
        }
    }
    found
}

/// Targets that a rule or a ladder can set during the treatment.
pub fn commanded(protocol: &Protocol) -> Vec<Target> {
    let treatment = treatment(protocol);
    let mut found = Vec::new();
    for order in orders(protocol) {
        if !order.phases.iter().any(|phase| treatment.contains(phase)) {
            continue;
        }
        let (level, what) = match &order.action.order {
            Order::SetTarget(level) => (level, "the target set"),
            Order::RaiseTarget { at_most, .. } => (at_most, "the highest target"),
            Order::LowerTarget { at_least, .. } => (at_least, "the lowest target"),
            _ => continue,
        };
        let about = order.name.unwrap_or(&protocol.name);
        found.push(Target {
            value: level.value,
            span: level.span,
            about: about.name.clone(),
            words: format!("{what} by {}", name(about)),
        });
    }
    found
}

impl Finder<'_, '_> {
    /// Every target of the treatment, aimed at or ordered, from `low` to `high`.
    pub fn targets_within(&mut self, low: &str, high: &str) {
        let (low, high) = (number(low), number(high));
        for target in aims(self.protocol)
            .into_iter()
            .chain(commanded(self.protocol))
        {
            if target.value < low || target.value > high {
                let range = format!("{} to {}", celsius(low), celsius(high));
                self.hit(
                    target.span,
                    &target.about,
                    format!(
                        "{}, {}, is outside {range}",
                        target.words,
                        celsius(target.value)
                    ),
                );
            }
        }
    }

    /// One finding for the first target of the treatment that `is` true of.
    pub fn first_target(&mut self, is: impl Fn(Exact) -> bool, what: &str) {
        let first = aims(self.protocol)
            .into_iter()
            .find(|target| is(target.value));
        if let Some(target) = first {
            self.hit(
                target.span,
                &target.about,
                format!("{}, {}, {what}", target.words, celsius(target.value)),
            );
        }
    }

    /// Planned rates, caps and rates that rules set, in rewarming phases.
    pub fn rewarming_at_most(&mut self, limit: &str) {
        let limit = number(limit);
        for (_, phase) in rewarmings(self.protocol) {
            self.rate_at_most(phase, limit);
        }
        let phases: Vec<PhaseId> = rewarmings(self.protocol)
            .into_iter()
            .map(|(id, _)| id)
            .collect();
        for order in orders(self.protocol) {
            if let Order::SetRate(rate) = &order.action.order
                && rate.value > limit
                && order.phases.iter().any(|phase| phases.contains(phase))
            {
                let about = order.name.unwrap_or(&self.protocol.name);
                self.hit(
                    rate.span,
                    &about.name,
                    format!(
                        "{rate}, set by {}, is faster than {}",
                        name(about),
                        per_hour(limit)
                    ),
                );
            }
        }
    }

    /// The planned rate of a phase and its cap; one finding for both.
    pub fn rate_at_most(&mut self, phase: &Phase, limit: Exact) {
        let planned = planned(phase).map(RateRange::faster);
        let cap = phase.never_faster.as_ref();
        let too_fast = |rate: &&Rate| rate.value > limit;
        let hit = planned
            .filter(too_fast)
            .map(|rate| (rate, "planned"))
            .or_else(|| cap.filter(too_fast).map(|rate| (rate, "allowed")));
        if let Some((rate, how)) = hit {
            self.hit(
                rate.span,
                &phase.name.name,
                format!(
                    "{rate}, {how} in {}, is faster than {}",
                    name(&phase.name),
                    per_hour(limit)
                ),
            );
        }
    }

    /// Something answers values of an amount below `limit`, from the first one on.
    pub fn answered_below(&mut self, which: Analyte, limits: &[(&str, Exact)], phases: &[PhaseId]) {
        self.answered(which, limits, phases, Side::Below);
    }

    pub fn answered_above(&mut self, which: Analyte, limits: &[(&str, Exact)], phases: &[PhaseId]) {
        self.answered(which, limits, phases, Side::Above);
    }

    /// `limits` has the limit for each unit that the amount may be in.
    fn answered(
        &mut self,
        which: Analyte,
        limits: &[(&str, Exact)],
        phases: &[PhaseId],
        side: Side,
    ) {
        let readings = amounts(self.protocol, which);
        if readings.is_empty() {
            self.missing(format!("no reading of {} is declared", which.word()));
            return;
        }
        let mut worst = None;
        for id in readings {
            let reading = &self.protocol[id];
            let Some((limit, step)) = limit_in_unit(reading, limits)
                .zip(reading.shown_to.as_ref().map(|step| step.value))
            else {
                // Another unit: what cannot be compared is not judged.
                return;
            };
            let first_past = match side {
                Side::Below => (limit - step).round_up_to(step),
                Side::Above => (limit + step).round_down_to(step),
            };
            let unanswered: Vec<PhaseId> = phases
                .iter()
                .copied()
                .filter(|phase| !answers(self.protocol, id, first_past, &[*phase]))
                .collect();
            if unanswered.is_empty() {
                return;
            }
            worst.get_or_insert((id, limit, first_past, unanswered));
        }
        let Some((id, limit, first_past, unanswered)) = worst else {
            return;
        };
        let reading = &self.protocol[id];
        let way = match side {
            Side::Below => "below",
            Side::Above => "above",
        };
        let then = match first_answered(self.protocol, id, first_past, side, &unanswered) {
            Some(value) => format!("until it is {}", words::value(reading, value)),
            None => "at all".to_owned(),
        };
        self.hit(
            reading.span,
            &reading.name.name,
            format!(
                "nothing answers {} {way} {} {then} in {}",
                name(&reading.name),
                words::value(reading, limit),
                words::phases(self.protocol, &unanswered)
            ),
        );
    }

    /// No step, rule or criterion covers the topic.
    pub fn must_cover(&mut self, topic: Topic, what: &str) {
        if super::super::facts::covering(self.protocol, topic).is_empty() {
            self.missing(format!("{what}: nothing covers {}", topic.word()));
        }
    }

    /// Every `limit` on a temperature of that medium.
    pub fn limits_on(&self, medium: Medium, side: Side) -> Vec<(&Limit, &Reading)> {
        self.protocol
            .limits
            .iter()
            .filter(|limit| limit.side == side)
            .map(|limit| (limit, &self.protocol[limit.reading]))
            .filter(|(_, reading)| {
                matches!(&reading.kind, ReadingKind::Medium(of) if of.value == medium)
            })
            .collect()
    }

    /// Each `limit` on that medium which `is` true of.
    pub fn limit_hits(
        &mut self,
        medium: Medium,
        side: Side,
        is: impl Fn(Exact) -> bool,
        what: &str,
    ) {
        let hits: Vec<(Span, String, String)> = self
            .limits_on(medium, side)
            .into_iter()
            .filter(|(limit, _)| is(limit.level.value))
            .map(|(limit, reading)| {
                (
                    limit.span,
                    reading.name.name.clone(),
                    format!(
                        "the limit on {}, {}, {what}",
                        name(&reading.name),
                        limit.level
                    ),
                )
            })
            .collect();
        for (span, about, title) in hits {
            self.hit(span, &about, title);
        }
    }
}

pub fn planned(phase: &Phase) -> Option<&RateRange> {
    match &phase.aim {
        Aim::Reach { rate, .. } => rate.as_ref(),
        Aim::Hold { .. } | Aim::Keep { .. } => None,
    }
}

pub fn amounts(protocol: &Protocol, which: Analyte) -> Vec<ReadingId> {
    protocol
        .readings()
        .filter(|(_, reading)| {
            matches!(&reading.kind, ReadingKind::Amount { of: Some(of), .. } if of.value == which)
        })
        .map(|(id, _)| id)
        .collect()
}

pub fn limit_in_unit(reading: &Reading, limits: &[(&str, Exact)]) -> Option<Exact> {
    let ReadingKind::Amount { unit, .. } = &reading.kind else {
        return None;
    };
    let unit = unit.map_or("", |unit| unit.name);
    limits
        .iter()
        .find(|(of, _)| *of == unit)
        .map(|(_, limit)| *limit)
}

/// The score of shivering.
pub fn shivering(protocol: &Protocol) -> Option<(ReadingId, &Reading)> {
    protocol.readings().find(|(_, reading)| {
        matches!(&reading.kind, ReadingKind::Score { of: Some(of), .. } if of.value == Scale::Shivering)
    })
}

/// The reading that steers the treatment, where it is one of the body.
pub fn control(protocol: &Protocol) -> Option<(ReadingId, &Reading, Site)> {
    let id = protocol.control_reading()?;
    let reading = &protocol[id];
    match &reading.kind {
        ReadingKind::Body(site) => Some((id, reading, site.value)),
        _ => None,
    }
}

pub fn active_phases(protocol: &Protocol) -> Vec<PhaseId> {
    protocol
        .phases()
        .filter(|(_, phase)| protocol.is_active(phase))
        .map(|(id, _)| id)
        .collect()
}

/// The upper line that a phase keeps: of a range, or of a value and its band.
pub fn upper(phase: &Phase) -> Option<(Exact, Span)> {
    match &phase.aim {
        Aim::Keep { high, .. } => high.as_ref().map(|high| (high.value, high.span)),
        Aim::Hold { at, within, .. } => Some((at.value + within.value, at.span)),
        Aim::Reach { .. } => None,
    }
}

/// What a row about fever asks for.
pub struct FeverWatch {
    /// °C that are not to be exceeded.
    pub upper: &'static str,
    /// Where no phase has an upper line at all.
    pub without: Level,
    pub above: Level,
    /// Hours at the least and, where the row says so, at the most.
    pub hours: (i64, Option<i64>),
    pub window: Level,
}

impl Finder<'_, '_> {
    pub fn fever_watch(&mut self, watch: &FeverWatch) {
        let limit = number(watch.upper);
        let lines: Vec<(PhaseId, &Phase, Exact, Span)> = self
            .protocol
            .phases()
            .filter_map(|(id, phase)| {
                let (upper, span) = upper(phase)?;
                Some((id, phase, upper, span))
            })
            .collect();
        let by_limit =
            self.protocol.limits.iter().any(|other| {
                other.side == Side::Above && self.protocol[other.reading].kind.is_body()
            });
        // The band around a depth says nothing about fever.
        let is_fever_line = |upper: Exact| upper >= number("36");
        if !by_limit && !lines.iter().any(|(_, _, upper, _)| is_fever_line(*upper)) {
            self.missing_at(watch.without, "no phase has an upper limit of temperature");
            return;
        }
        for (_, phase, upper, span) in &lines {
            if *upper > limit {
                self.hit_at(
                    watch.above,
                    *span,
                    &phase.name.name,
                    format!(
                        "the upper limit of {}, {}, is above {}",
                        name(&phase.name),
                        celsius(*upper),
                        celsius(limit)
                    ),
                );
            }
        }
        let Some((_, last, ..)) = lines.last() else {
            return;
        };
        let Some(window) = lines
            .iter()
            .filter_map(|(id, phase, ..)| watched_until(self.context, *id, phase))
            .max()
        else {
            return;
        };
        let (least, most) = watch.hours;
        let too_short = window < Exact::int(least * 60);
        let too_long = most.is_some_and(|most| window > Exact::int(most * 60));
        if too_short || too_long {
            let wanted = match most {
                Some(most) => format!("{least} h to {most} h are asked for"),
                None => format!("at least {least} h are asked for"),
            };
            let least = if too_short { " at the least" } else { "" };
            self.hit_at(
                watch.window,
                last.end_span,
                &last.name.name,
                format!(
                    "fever is prevented for {}{least}, and {wanted}",
                    words::time(window)
                ),
            );
        }
    }
}

/// Minutes from the arrest, or else from the start, until which the phase's
/// upper line is kept at the least.
fn watched_until(context: &Context, id: PhaseId, phase: &Phase) -> Option<Exact> {
    if let End::After { after, mark } = &phase.end
        && let MarkRef::Named(_) = mark.value
    {
        return Some(after.value);
    }
    timing::extremes(context.protocol)
        .iter()
        .filter_map(|plan| plan.phase(id).map(|placed| placed.end.earliest))
        .min()
}

/// The least time that phases take together, in minutes.
pub fn together(context: &Context, phases: &[PhaseId]) -> Option<Exact> {
    phases
        .iter()
        .map(|id| timing::length(context, *id).map(|length| length.shortest))
        .sum::<Option<Exact>>()
}

/// Phases of the treatment that hold or keep.
pub fn holding(protocol: &Protocol) -> Vec<PhaseId> {
    treatment(protocol)
        .into_iter()
        .filter(|id| !matches!(protocol[*id].aim, Aim::Reach { .. }))
        .collect()
}
