//! One case as it goes on: what its records and the events of the run come to.
//!
//! INVARIANT: what is kept is bounded by the protocol and its windows, never by how many
//! records there are; lists for people are cut at a stated length and counted on.

use super::built_in::BuiltIn;
use super::log::Placed;
use super::phase_tally::{PhaseTally, sliding};
use super::problem::{Problems, Weight as Heft};
use super::trace::{Point, Trace};
use crate::eval::{Aimed, Case, Entry, EntryWhat, Event, Run, What, wording};
use crate::model::*;
use crate::quantity::Exact;
use std::collections::BTreeMap;

/// How many times or passes are listed; beyond, they are counted.
pub(super) const LISTED: usize = 200;

pub(super) struct Tally<'p> {
    pub protocol: &'p Protocol,
    pub built_in: &'p [BuiltIn],
    pub run: Run<'p>,
    /// Entries of a moment that is not over.
    waiting: Vec<Placed>,
    pub phases: Vec<PhaseTally>,
    pub passes: Vec<Pass>,
    pub more_passes: u64,
    pub looks: Vec<LookTally>,
    pub rules: Vec<RuleTally>,
    /// By limit: how many records were past it.
    pub limits: Vec<u64>,
    pub trace: Trace,
    /// The first time of each mark.
    pub marks: BTreeMap<MarkId, Exact>,
    pub entries: u64,
    pub counted: u64,
    pub until: Exact,
    pub has_ended: bool,
    /// Until when the last drawn record stands.
    last_good: Option<Exact>,
}

#[derive(Debug, Clone)]
pub(super) struct Pass {
    pub phase: PhaseId,
    pub from: Exact,
    pub to: Option<Exact>,
    pub by_order: bool,
}

#[derive(Debug, Clone, Default)]
pub(super) struct LookTally {
    pub due: u64,
    pub in_time: u64,
    pub late: u64,
    pub missed: u64,
    last_line: u64,
}

#[derive(Debug, Clone, Default)]
pub(super) struct RuleTally {
    pub fired: u64,
    pub times: Vec<Exact>,
    /// What its orders ask to be written down.
    /// Each with how long after the firing a record is an answer.
    pub asks: Vec<(ReadingId, Exact)>,
    pub answered: Lengths,
    pub unanswered: u64,
    /// Fired then; what is still asked for.
    open: Option<(Exact, Vec<(ReadingId, Exact)>)>,
    pub ready: Lengths,
    fired_at: Option<Exact>,
}

/// Lengths of time: how many, their sum, the longest.
#[derive(Debug, Clone, Copy)]
pub(super) struct Lengths {
    pub count: u64,
    pub sum: Exact,
    pub longest: Exact,
}

impl Default for Lengths {
    fn default() -> Self {
        Lengths {
            count: 0,
            sum: Exact::ZERO,
            longest: Exact::ZERO,
        }
    }
}

impl Lengths {
    fn add(&mut self, length: Exact) {
        self.count += 1;
        self.sum = self.sum + length;
        self.longest = self.longest.max(length);
    }

    pub fn mean(&self) -> Option<Exact> {
        let count = i64::try_from(self.count).ok().filter(|count| *count > 0)?;
        Some(self.sum / Exact::int(count))
    }
}

impl RuleTally {
    /// Still without an answer at the end of the log.
    pub fn is_open(&self) -> bool {
        self.open.is_some()
    }
}

impl<'p> Tally<'p> {
    pub fn new(protocol: &'p Protocol, built_in: &'p [BuiltIn], case: &Case) -> Self {
        Tally {
            protocol,
            built_in,
            run: Run::new(protocol, case),
            waiting: Vec::new(),
            phases: protocol
                .phases()
                .map(|(id, phase)| PhaseTally {
                    sliding: sliding(protocol, id, phase),
                    ..PhaseTally::default()
                })
                .collect(),
            passes: Vec::new(),
            more_passes: 0,
            looks: protocol.readings().map(|_| LookTally::default()).collect(),
            rules: protocol
                .rules()
                .map(|(_, rule)| RuleTally {
                    asks: asked_for(protocol, rule),
                    ..RuleTally::default()
                })
                .collect(),
            limits: protocol.limits.iter().map(|_| 0).collect(),
            trace: Trace::default(),
            marks: case.marks.iter().copied().collect(),
            entries: 0,
            counted: 0,
            until: Exact::ZERO,
            has_ended: false,
            last_good: None,
        }
    }

    /// The next entry in order of time.
    pub fn enter(&mut self, placed: Placed, problems: &mut Problems) {
        self.entries += 1;
        if self
            .waiting
            .first()
            .is_some_and(|(_, entry)| entry.at < placed.1.at)
        {
            self.moment(problems);
        }
        self.waiting.push(placed);
    }

    pub fn finish(&mut self, problems: &mut Problems) {
        self.moment(problems);
        self.run.finish();
        let events = self.run.take_events();
        for event in &events {
            self.event(event);
        }
    }

    fn moment(&mut self, problems: &mut Problems) {
        let waiting = std::mem::take(&mut self.waiting);
        let Some(at) = waiting.first().map(|(_, entry)| entry.at) else {
            return;
        };
        self.twice(&waiting, problems);
        for (_, entry) in &waiting {
            self.run.enter(*entry);
        }
        // Time has passed up to this moment, and nothing of it has been decided yet.
        let before = (self.run.phase(), self.run.aimed(at));
        self.gaps(&waiting, at, problems);
        self.run.advance(at);
        let after = (self.run.phase(), self.run.aimed(at));
        let events = self.run.take_events();
        let mut refused: Vec<Entry> = Vec::new();
        for event in &events {
            if let What::Refused(refusal) = &event.what {
                let line = waiting
                    .iter()
                    .find(|(_, entry)| *entry == refusal.entry)
                    .map(|(line, _)| *line);
                problems.add(
                    Heft::Lost,
                    line,
                    "not-counted",
                    wording::refused(refusal.why),
                    || wording::event(self.protocol, event).replacen("not counted: ", "", 1),
                );
                refused.push(refusal.entry);
            } else {
                self.event(event);
            }
        }
        for (index, (line, entry)) in waiting.iter().enumerate() {
            // Of two records of one reading at one time the later stands.
            let stands = |other: &Placed| match (entry.what, other.1.what) {
                (EntryWhat::Record { reading, .. }, EntryWhat::Record { reading: other, .. }) => {
                    reading != other
                }
                _ => true,
            };
            let is_last = waiting
                .iter()
                .skip(index + 1)
                .filter(|other| !refused.contains(&other.1))
                .all(stands);
            if refused.contains(entry) || !is_last {
                continue;
            }
            self.counted += 1;
            self.until = self.until.max(at);
            match entry.what {
                EntryWhat::Record { reading, value } => {
                    self.record(reading, value, at, before, after);
                }
                EntryWhat::Mark(mark) => self.mark(mark, at, *line, problems),
            }
        }
        // Put back the room that the list has.
        self.waiting = waiting;
        self.waiting.clear();
    }

    /// A mark made again has its new time from then on (M2), which a log may not mean.
    fn mark(&mut self, mark: MarkId, at: Exact, line: u64, problems: &mut Problems) {
        let first = *self.marks.entry(mark).or_insert(at);
        if first != at {
            let name = &self.protocol[mark].name.name;
            problems.add(Heft::Doubtful, Some(line), "mark-again", name, || {
                format!(
                    "`{name}` is made again, first at {}: from here on it has this time",
                    wording::time(first)
                )
            });
        }
    }

    /// Two records of one reading at one time: the later line stands.
    fn twice(&self, waiting: &[Placed], problems: &mut Problems) {
        for (index, (line, entry)) in waiting.iter().enumerate() {
            let EntryWhat::Record { reading, value } = entry.what else {
                continue;
            };
            let earlier =
                waiting
                    .iter()
                    .take(index)
                    .rev()
                    .find_map(|(line, other)| match other.what {
                        EntryWhat::Record { reading: of, value } if of == reading => {
                            Some((*line, value))
                        }
                        _ => None,
                    });
            let Some((other_line, other)) = earlier else {
                continue;
            };
            let name = &self.protocol[reading].name.name;
            if other == value {
                problems.add(Heft::Doubtful, Some(*line), "duplicate", name, || {
                    format!("`{name}` stands here again as on line {other_line}, at the same time; it was counted once")
                });
            } else {
                problems.add(Heft::Doubtful, Some(*line), "two-values", name, || {
                    format!(
                        "`{name}` has another value than on line {other_line} at the same time, {}: this one stands, {}",
                        wording::value(self.protocol, reading, other),
                        wording::value(self.protocol, reading, value)
                    )
                });
            }
        }
    }

    /// Where a reading that is asked for was unknown until this record.
    fn gaps(&mut self, waiting: &[Placed], at: Exact, problems: &mut Problems) {
        for (line, entry) in waiting {
            let EntryWhat::Record { reading, .. } = entry.what else {
                continue;
            };
            let last_line = self
                .looks
                .get_mut(reading.index())
                .map_or(0, |look| std::mem::replace(&mut look.last_line, *line));
            if let Some((last, good)) = self.run.last_record(reading)
                && good < at
                && good > last
                && !self.has_ended
            {
                let name = &self.protocol[reading].name.name;
                problems.add(Heft::Doubtful, Some(*line), "gap", name, || {
                    format!(
                        "no `{name}` from {} (line {last_line}) to {}; it is unknown from {} on",
                        wording::time(last),
                        wording::time(at),
                        wording::time(good)
                    )
                });
            }
        }
    }

    fn record(
        &mut self,
        reading: ReadingId,
        value: Exact,
        at: Exact,
        before: (Option<PhaseId>, Aimed),
        after: (Option<PhaseId>, Aimed),
    ) {
        for rule in &mut self.rules {
            if let Some((fired, asked)) = &mut rule.open {
                let since = at - *fired;
                asked.retain(|(wanted, from)| *wanted != reading || since < *from);
                if asked.is_empty() {
                    rule.answered.add(at - *fired);
                    rule.open = None;
                }
            }
        }
        if self.protocol.control_reading() == Some(reading) {
            let broken = self.trace_breaks(reading, at);
            self.trace.add(Point { at, value, broken });
        }
        // A record that ends a phase belongs to both (M17).
        let ended = before.0.filter(|phase| after.0 != Some(*phase));
        let of_both = ended
            .map(|phase| (phase, before.1))
            .into_iter()
            .chain(after.0.map(|phase| (phase, after.1)));
        for (phase, aimed) in of_both {
            let stated = &self.protocol[phase];
            if stated.aim.reading() != reading {
                continue;
            }
            if let Some(tally) = self.phases.get_mut(phase.index()) {
                tally.record(stated, aimed, value, at);
            }
        }
    }

    fn trace_breaks(&mut self, reading: ReadingId, at: Exact) -> bool {
        let until = self.last_good;
        self.last_good = self.run.last_record(reading).map(|(_, good)| good);
        until.is_some_and(|until| until < at)
    }

    fn event(&mut self, event: &Event<'_>) {
        let at = event.at;
        match &event.what {
            What::PhaseBegins { phase, by_order } => {
                if let Some(tally) = self.phases.get_mut(phase.index()) {
                    tally.since = Some(at);
                    tally.is_above = false;
                    if let Some((sliding, _)) = &mut tally.sliding {
                        sliding.begin();
                    }
                }
                if self.passes.len() < LISTED {
                    self.passes.push(Pass {
                        phase: *phase,
                        from: at,
                        to: None,
                        by_order: *by_order,
                    });
                } else {
                    self.more_passes += 1;
                }
            }
            What::PhaseEnds { phase, why } => {
                if let Some(tally) = self.phases.get_mut(phase.index())
                    && *why == crate::eval::EndWhy::Arrived
                    && tally.arrived.is_none()
                {
                    tally.arrived = tally.since.map(|since| (since, at));
                }
                if self.more_passes == 0
                    && let Some(last) = self.passes.last_mut()
                {
                    last.to = Some(at);
                }
            }
            What::PhaseOverdue(phase) => {
                if let Some(tally) = self.phases.get_mut(phase.index())
                    && tally.arrived.is_none()
                {
                    tally.overdue = true;
                }
            }
            What::CaseEnds => self.has_ended = true,
            What::LimitPassed { limit, .. } => {
                if let Some(count) = self.limits.get_mut(*limit) {
                    *count += 1;
                }
            }
            What::EntryDue(asked) => self.look(asked.reading, |look| look.due += 1),
            What::EntryMade { asked, late: true } => {
                self.look(asked.reading, |look| look.late += 1);
            }
            What::EntryMade { asked, late: false } => {
                self.look(asked.reading, |look| look.in_time += 1);
            }
            What::EntryMissed(asked) => self.look(asked.reading, |look| look.missed += 1),
            What::RuleFires { rule, .. } => {
                if let Some(tally) = self.rules.get_mut(rule.index()) {
                    tally.fired += 1;
                    if tally.times.len() < LISTED {
                        tally.times.push(at);
                    }
                    tally.fired_at = Some(at);
                    if tally.open.take().is_some() {
                        tally.unanswered += 1;
                    }
                    if !tally.asks.is_empty() {
                        tally.open = Some((at, tally.asks.clone()));
                    }
                }
            }
            What::RuleReady(rule) => {
                if let Some(tally) = self.rules.get_mut(rule.index())
                    && let Some(fired) = tally.fired_at.take()
                {
                    tally.ready.add(at - fired);
                }
            }
            _ => {}
        }
    }

    fn look(&mut self, reading: ReadingId, change: impl FnOnce(&mut LookTally)) {
        if let Some(look) = self.looks.get_mut(reading.index()) {
            change(look);
        }
    }
}

/// What the orders of a rule ask to be written down; what a rung or step asks for in
/// turn is not known beforehand.
fn asked_for(protocol: &Protocol, rule: &Rule) -> Vec<(ReadingId, Exact)> {
    let mut found = Vec::new();
    for action in &rule.then {
        match &action.order {
            Order::Ask {
                readings, after, ..
            } => {
                // From three quarters of D on, as with a recheck (M26).
                let from = after
                    .as_ref()
                    .map_or(Exact::ZERO, |after| after.value * Exact::ratio(3, 4));
                found.extend(readings.iter().map(|at| (at.value, from)));
            }
            Order::FollowLadder(ladder) => {
                found.push((protocol[ladder.value].reading.value, Exact::ZERO));
            }
            _ => {}
        }
    }
    found.sort();
    found.dedup();
    found
}
