//! The run of one case: moment after moment, in the order of M3.
//!
//! ```text
//! entries ─► phases end and begin ─► UNTILs, rules ─► orders ─┐
//!               ▲                                             │ after a `begin`
//!               └─────────────────────────────────────────────┘ once more
//! ```
//!
//! INVARIANT: what is kept is bounded by the protocol and its windows, never by
//! how many records there are.
//!
//! Choices where the definitions leave room:
//! - After a `begin` there is one more moment at the same time, so that the rules
//!   of the phase that it begins are decided on the record that begins it.
//! - Of the orders of one moment `begin` is carried out first, so `set target`
//!   beside it sets the target of the phase that it begins; `stop` comes last.
//! - `stop temperature control` ends every pause; `begin` then starts unpaused.

use super::asks::Asks;
use super::board::Board;
use super::calls::Calls;
use super::case::Case;
use super::condition::View;
use super::entry::{Entry, EntryWhat, LONGEST_CASE_DAYS, Refusal, RefusedFor, refused_value};
use super::event::{Event, Events, What};
use super::ladders::Ladders;
use super::looks::Looks;
use super::measures::Measures;
use super::medications::Medications;
use super::phases::{EndWhy, Phases};
use super::rules::Rules;
use super::shifts::Shifts;
use super::standing::{Pauses, Standing};
use super::target::{Aimed, Target};
use crate::model::{PhaseId, Protocol, ReadingId, Side};
use crate::quantity::Exact;
use std::collections::BTreeMap;

/// A case as it goes on. Feed it entries in order of time, or let time pass.
#[derive(Debug, Clone)]
pub struct Run<'p> {
    pub(super) protocol: &'p Protocol,
    pub(super) board: Board,
    pub(super) phases: Phases<'p>,
    pub(super) target: Target<'p>,
    pub(super) standing: Standing<'p>,
    pub(super) pauses: Pauses,
    pub(super) rules: Rules<'p>,
    pub(super) looks: Looks<'p>,
    pub(super) asks: Asks,
    pub(super) ladders: Ladders<'p>,
    pub(super) medications: Medications<'p>,
    pub(super) calls: Calls,
    shifts: Shifts<'p>,
    pub(super) measures: Measures<'p>,
    pub(super) events: Events<'p>,
    rates: BTreeMap<PhaseId, Exact>,
    /// Phases that orders have begun at this very time, to end a ring.
    pub(super) begun: Vec<PhaseId>,
    said_target: Aimed,
    said_overdue: Option<(PhaseId, Exact)>,
    /// Marks that are known beforehand, the next one last.
    coming: Vec<Entry>,
    /// Entries of a moment that is not over yet.
    pending: Vec<Entry>,
    /// The last moment that is over.
    pub(super) past: Option<Exact>,
    pub(super) next_wake: Option<Exact>,
    next_close: Option<Exact>,
}

impl<'p> Run<'p> {
    pub fn new(protocol: &'p Protocol, case: &Case) -> Self {
        let mut phases = Phases::new(protocol);
        let mut coming = Vec::new();
        for (mark, at) in &case.marks {
            if *at <= Exact::ZERO {
                phases.mark(*mark, *at);
            } else {
                coming.push(Entry::mark(*at, *mark));
            }
        }
        coming.sort_by_key(|mark| std::cmp::Reverse(mark.at));
        Run {
            protocol,
            board: Board::new(protocol),
            phases,
            target: Target::new(),
            standing: Standing::default(),
            pauses: Pauses::default(),
            rules: Rules::new(protocol),
            looks: Looks::new(protocol),
            asks: Asks::default(),
            ladders: Ladders::new(protocol),
            medications: Medications::new(protocol, case.weight),
            calls: Calls::new(protocol),
            shifts: Shifts::new(protocol, case.clock.clone()),
            measures: Measures::new(protocol),
            events: Events::default(),
            rates: case.rates.clone(),
            begun: Vec::new(),
            said_target: Aimed::Nothing,
            said_overdue: None,
            coming,
            pending: Vec::new(),
            past: None,
            next_wake: Some(Exact::ZERO),
            next_close: None,
        }
    }

    /// From the next moment on only the rules that are marked are looked at: for whoever asks
    /// what one rule does, and knows that the others cannot change it.
    pub fn watch(&mut self, only: &[bool]) {
        self.rules.watch(only);
    }

    /// From now on nothing is said of boxes and targets, and nothing is measured: for whoever asks
    /// only what is decided.
    pub fn say_only_what_is_decided(&mut self) {
        self.events.only_decided();
        self.measures = Measures::default();
    }

    /// Takes in one entry. Entries of one moment belong together, so the moment is
    /// decided only when time goes on.
    pub fn enter(&mut self, entry: Entry) {
        if let Some(why) = self.refused_time(&entry) {
            let at = self.past.unwrap_or(Exact::ZERO);
            self.say(at, What::Refused(Refusal { entry, why }));
            return;
        }
        if let EntryWhat::Mark(mark) = entry.what
            && entry.at < Exact::ZERO
        {
            self.phases.mark(mark, entry.at);
            return;
        }
        if self.pending_at().is_some_and(|at| at < entry.at) {
            self.decide_pending();
        }
        self.wake_before(entry.at);
        self.pending.push(entry);
    }

    /// Lets time pass up to and including `to`, at most to the longest case.
    pub fn advance(&mut self, to: Exact) {
        let to = to.min(longest_case());
        if self.pending_at().is_some_and(|at| at <= to) {
            self.decide_pending();
        }
        self.wake_before(to);
        if self.next_wake == Some(to) {
            self.moment(to, &[]);
        } else if self.next_close == Some(to) {
            self.close(to);
        }
    }

    /// Decides the moment of the last entries, or that of the start where there are
    /// none; no time passes after it.
    pub fn finish(&mut self) {
        self.decide_pending();
        if self.past.is_none() {
            self.advance(Exact::ZERO);
        }
    }

    /// What has happened since this was last asked.
    pub fn take_events(&mut self) -> Vec<Event<'p>> {
        self.events.take()
    }

    pub(super) fn say(&mut self, at: Exact, what: What<'p>) {
        self.events.push(Event { at, what });
    }

    pub(super) fn view(&self, now: Exact) -> View<'_> {
        View {
            now,
            board: &self.board,
            aimed: self.target.aimed(now),
            running: self.phases.clock(),
            paused_since: self.pauses.since,
        }
    }

    fn pending_at(&self) -> Option<Exact> {
        self.pending.first().map(|entry| entry.at)
    }

    fn refused_time(&self, entry: &Entry) -> Option<RefusedFor> {
        let is_record = matches!(entry.what, EntryWhat::Record { .. });
        if entry.at > longest_case() {
            return Some(RefusedFor::TooLate);
        }
        if entry.at < Exact::ZERO {
            if is_record {
                return Some(RefusedFor::BeforeStart);
            }
            let begun = self.past.is_some() || self.pending_at().is_some();
            return begun.then_some(RefusedFor::OutOfOrder);
        }
        let early = self.past.is_some_and(|past| entry.at <= past)
            || self.pending_at().is_some_and(|at| entry.at < at);
        early.then_some(RefusedFor::OutOfOrder)
    }

    fn decide_pending(&mut self) {
        let entries = std::mem::take(&mut self.pending);
        if let Some(at) = entries.first().map(|entry| entry.at) {
            self.moment(at, &entries);
        }
    }

    fn wake_before(&mut self, to: Exact) {
        loop {
            let wake = self.next_wake.filter(|wake| *wake < to);
            let until = wake.unwrap_or(to);
            while let Some(close) = self.next_close.filter(|close| *close < until) {
                self.close(close);
            }
            match wake {
                Some(wake) => self.moment(wake, &[]),
                None => break,
            }
        }
    }

    /// Boxes that are missed between two moments: said, and nothing is decided.
    fn close(&mut self, now: Exact) {
        self.looks.close(now, &mut self.events);
        self.next_close = self.looks.closes(now);
    }

    fn moment(&mut self, now: Exact, entries: &[Entry]) {
        self.begun.clear();
        let mut measures = std::mem::take(&mut self.measures);
        self.measure(&mut measures, now);
        let mut entries = entries.to_vec();
        while let Some(mark) = self.coming.pop_if(|mark| mark.at <= now) {
            entries.push(mark);
        }
        let records = self.write_down(&entries, now);
        let mut first = true;
        loop {
            self.settle_phases(now);
            if self.phases.has_ended() {
                break;
            }
            self.end_standing(now);
            self.say_target(now, false);
            let asked = self.collect(if first { &records } else { &[] }, now);
            if !self.give_orders(asked, now) {
                break;
            }
            first = false;
        }
        self.ladders.say_due(now, &mut self.events);
        if !self.phases.has_ended() {
            for list in self.shifts.due(now, self.phases.running()) {
                self.say(now, What::ChecklistDue(list));
            }
        }
        measures.observe(self.phases.running(), &self.view(now));
        self.measures = measures;
        self.past = Some(now);
        self.next_wake = self.wakes(now);
        self.next_close = if self.phases.has_ended() {
            None
        } else {
            self.looks.closes(now)
        };
    }

    /// Enters records and marks, and gives the records that count, one of each
    /// reading.
    fn write_down(&mut self, entries: &[Entry], now: Exact) -> Vec<(ReadingId, Exact)> {
        let protocol = self.protocol;
        let mut records: Vec<(ReadingId, Exact)> = Vec::new();
        for entry in entries {
            if let Some(why) = self.refused(entry) {
                self.say(now, What::Refused(Refusal { entry: *entry, why }));
                continue;
            }
            match entry.what {
                EntryWhat::Mark(mark) => {
                    self.phases.mark(mark, now);
                    self.say(now, What::Marked(mark));
                }
                EntryWhat::Record { reading, value } => {
                    self.say(now, What::Recorded { reading, value });
                    for (limit, stated) in protocol.limits.iter().enumerate() {
                        let passed = match stated.side {
                            Side::Above => value > stated.level.value,
                            Side::Below => value < stated.level.value,
                        };
                        if stated.reading == reading && passed {
                            self.say(now, What::LimitPassed { limit, value });
                        }
                    }
                    self.board.enter(reading, value, now);
                    records.retain(|(known, _)| *known != reading);
                    records.push((reading, value));
                }
            }
        }
        for (reading, _) in &records {
            self.looks.record(*reading, now, &mut self.events);
            self.asks.record(*reading, now, &mut self.events);
        }
        records
    }

    fn refused(&self, entry: &Entry) -> Option<RefusedFor> {
        if self.phases.has_ended() {
            return Some(RefusedFor::AfterEnd);
        }
        match entry.what {
            EntryWhat::Mark(mark) => {
                (mark.index() >= self.protocol.marks().count()).then_some(RefusedFor::Unknown)
            }
            EntryWhat::Record { reading, value } => {
                if reading.index() >= self.protocol.readings().count() {
                    return Some(RefusedFor::Unknown);
                }
                refused_value(&self.protocol[reading], value)
            }
        }
    }

    /// Phases end and begin until none does.
    fn settle_phases(&mut self, now: Exact) {
        if self.past.is_none() && self.begun.is_empty() && self.phases.running().is_none() {
            match self.protocol.phases().next() {
                Some((phase, _)) => self.begin_phase(phase, now, false),
                None => self.end_case(now),
            }
        }
        loop {
            self.begin_course(now);
            let view = View {
                now,
                board: &self.board,
                aimed: self.target.aimed(now),
                running: self.phases.clock(),
                paused_since: self.pauses.since,
            };
            self.phases.observe(&view);
            let Some(why) = self.phases.ends_now(&self.target, &view) else {
                break;
            };
            let next = self
                .phases
                .running()
                .and_then(|p| self.phases.next_after(p));
            self.end_phase(why, now);
            match next {
                Some(phase) => self.begin_phase(phase, now, false),
                None => self.end_case(now),
            }
        }
        self.board.settle(self.phases.running(), now);
        self.rules.settle(self.phases.running(), now);
        self.looks
            .settle(self.phases.running(), now, &mut self.events);
        for medication in self.medications.run_out(now) {
            self.say(
                now,
                What::Medication {
                    medication,
                    given: super::medications::Given::RanOut,
                },
            );
        }
        if let Some(clock) = self.phases.clock()
            && clock.due.is_some_and(|due| due <= now)
            && self.said_overdue != Some((clock.phase, clock.since))
        {
            self.said_overdue = Some((clock.phase, clock.since));
            self.say(now, What::PhaseOverdue(clock.phase));
        }
    }

    /// A course that waits for its reading begins as soon as that is known (M21).
    fn begin_course(&mut self, now: Exact) {
        if !self.target.is_waiting() {
            return;
        }
        let known = self.phases.running().and_then(|phase| {
            let reading = self.protocol[phase].aim.reading();
            self.board.standing(reading, now).map(|record| record.value)
        });
        if let Some(value) = known {
            self.target.known(value, now);
            self.say_target(now, true);
        }
    }

    pub(super) fn begin_phase(&mut self, phase: PhaseId, now: Exact, by_order: bool) {
        let stated = &self.protocol[phase];
        let value = self
            .board
            .standing(stated.aim.reading(), now)
            .map(|record| record.value);
        self.phases.begin(phase, now, by_order);
        let rate = self.rates.get(&phase).copied();
        self.target.begin(stated, now, by_order, value, rate);
        self.update_still(now);
        self.say(now, What::PhaseBegins { phase, by_order });
        self.say_target(now, true);
    }

    pub(super) fn end_phase(&mut self, why: EndWhy, now: Exact) {
        if let Some(phase) = self.phases.end(now) {
            self.say(now, What::PhaseEnds { phase, why });
        }
        for order in self.standing.end_of_phase() {
            self.say(now, What::OrderEnds(order));
        }
        self.target.end();
        self.update_still(now);
    }

    fn end_case(&mut self, now: Exact) {
        self.phases.end_case();
        self.say(now, What::CaseEnds);
    }

    /// Ends the orders whose UNTIL holds (M15).
    fn end_standing(&mut self, now: Exact) {
        let view = View {
            now,
            board: &self.board,
            aimed: self.target.aimed(now),
            running: self.phases.clock(),
            paused_since: self.pauses.since,
        };
        self.standing.observe(&view);
        for order in self.standing.end(&view, &self.phases) {
            self.say(now, What::OrderEnds(order));
        }
        self.update_still(now);
    }

    /// The course stands still while control is paused or stopped, or while the
    /// target is kept.
    pub(super) fn update_still(&mut self, now: Exact) {
        self.pauses.update(self.standing.pauses(), now);
        let still =
            self.pauses.since.is_some() || self.standing.keeps_target() || self.phases.is_stopped();
        self.target.set_still(still, now);
    }

    /// Says the target where it is another one. A target that glides is said when
    /// something happens to it (`moved`) and when it arrives.
    pub(super) fn say_target(&mut self, now: Exact, moved: bool) {
        let aimed = self.target.aimed(now);
        let worth_it = moved || !self.target.glides() || self.target.has_arrived(now);
        if aimed != self.said_target && worth_it {
            self.said_target = aimed;
            self.say(now, What::Target(aimed));
        }
    }

    /// The next moment at which time alone changes something.
    fn wakes(&self, now: Exact) -> Option<Exact> {
        let mark = self.coming.last().map(|mark| mark.at);
        if self.phases.has_ended() {
            return mark;
        }
        let view = self.view(now);
        let starts = |phase| self.phases.expected_start(phase, &self.target, &view);
        [
            self.phases.wakes(&view),
            self.target.wakes(now),
            self.standing.wakes(&view),
            self.rules.wakes(&view),
            self.looks.wakes(&self.phases, starts, now),
            self.ladders.wakes(now),
            self.medications.wakes(now),
            self.shifts.wakes(),
            mark,
        ]
        .into_iter()
        .flatten()
        .filter(|at| *at > now && !at.is_overflow())
        .min()
    }
}

fn longest_case() -> Exact {
    Exact::int(LONGEST_CASE_DAYS * 24 * 60)
}
