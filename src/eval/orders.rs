//! The orders of one moment: collected, made one where they are equal, taken out
//! where they contradict, and carried out together (M3, M27, M33).
//!
//! Everything is decided on what stood before the moment; only then is it done.

use super::contradiction::contradict;
use super::event::{Cause, What};
use super::ladders::Followed;
use super::looks::Ask;
use super::machine::Run;
use super::medications::Verb;
use super::same::{Closeness, otherwise, same_order};
use crate::model::{
    AskWay, LadderId, LookWhat, MedicationId, Order, Protocol, ReadingId, ReadingKind, RoleId,
};
use crate::quantity::Exact;
use std::borrow::Cow;
use std::collections::VecDeque;

/// An order that is asked for at a moment, and by what.
pub(super) type Proposal<'p> = (Cow<'p, Order>, Vec<Cause>);

impl<'p> Run<'p> {
    /// What looks, ladders and rules ask for at this moment.
    pub(super) fn collect(
        &mut self,
        records: &[(ReadingId, Exact)],
        now: Exact,
    ) -> Vec<Proposal<'p>> {
        let protocol = self.protocol;
        let mut asked: Vec<Proposal<'p>> = Vec::new();
        for (reading, value) in records {
            let orders = self.ladders.record(*reading, *value, now, &mut self.events);
            asked.extend(
                orders
                    .into_iter()
                    .map(|(action, cause)| (Cow::Borrowed(&action.order), vec![cause])),
            );
        }
        for (reading, _) in protocol.readings() {
            if !self.board.just_recorded(reading, now) {
                continue;
            }
            for ladder in self.looks.follows(reading) {
                let followed = self.follow(ladder, now);
                asked.extend(self.followed(followed, now));
            }
        }
        let (board, phases, target) = (&self.board, &self.phases, &self.target);
        let view = super::condition::View {
            now,
            board,
            aimed: target.aimed(now),
            running: phases.clock(),
            paused_since: self.pauses.since,
        };
        let starts = |phase| phases.expected_start(phase, target, &view);
        let looks = self.looks.due(board, phases, starts, now, &mut self.events);
        self.rules.observe(&view);
        let firing = self.rules.fire(&view, &mut self.events);
        for look in looks {
            match look {
                Ask::Order(order, cause) => asked.push((order, vec![cause])),
                Ask::Entry { way, reading } => {
                    let just = self.board.just_recorded(reading, now);
                    self.asks
                        .ask(way, reading, Exact::ZERO, just, now, &mut self.events);
                }
            }
        }
        for rule in firing {
            asked.extend(
                protocol[rule]
                    .then
                    .iter()
                    .map(|action| (Cow::Borrowed(&action.order), vec![Cause::Rule(rule)])),
            );
        }
        asked
    }

    /// Gives the orders of a moment; says whether a phase was begun.
    pub(super) fn give_orders(&mut self, asked: Vec<Proposal<'p>>, now: Exact) -> bool {
        let mut orders = self.resolve(asked, now);
        let against: Vec<bool> = orders
            .iter()
            .map(|(order, _)| {
                orders
                    .iter()
                    .any(|(other, _)| contradict(order, other, &self.target, now))
            })
            .collect();
        if against.contains(&true) {
            let mut kept = Vec::new();
            let mut neither = Vec::new();
            for (proposal, against) in orders.into_iter().zip(against) {
                if against { &mut neither } else { &mut kept }.push(proposal);
            }
            orders = kept;
            self.say(now, What::Contradiction { orders: neither });
        }
        // Rules and looks have no order, so that in which they are written decides
        // nothing.
        orders.sort_by_key(|(order, _)| turn(order));
        let calls: Vec<(RoleId, Exact)> = orders.iter().filter_map(|(one, _)| call(one)).collect();
        let mut begun = false;
        for (order, causes) in orders {
            match self.cannot(&order, now) {
                Some(why) => self.say(now, What::OrderNotDone { order, causes, why }),
                None => {
                    self.say(
                        now,
                        What::OrderGiven {
                            order: order.clone(),
                            causes,
                        },
                    );
                    begun |= matches!(&*order, Order::Begin(_));
                    // Of several calls of one role the one due first stands (M16).
                    let later = call(&order).is_some_and(|(role, within)| {
                        calls
                            .iter()
                            .any(|(other, soon)| *other == role && *soon < within)
                    });
                    if !later {
                        self.carry_out(order, now);
                    }
                }
            }
        }
        begun
    }

    /// Follows ladders through, puts `otherwise` in the place of what cannot be
    /// given, and makes equal orders one.
    fn resolve(&mut self, asked: Vec<Proposal<'p>>, now: Exact) -> Vec<Proposal<'p>> {
        let mut queue: VecDeque<Proposal<'p>> = asked.into();
        let mut orders: Vec<Proposal<'p>> = Vec::new();
        while let Some((order, causes)) = queue.pop_front() {
            if let Some((medication, verb)) = verb(&order) {
                let withheld = self.standing.withholds(medication);
                if let Some(why) = self.medications.refusal(medication, verb, withheld, now) {
                    let said = What::NotGiven { medication, why };
                    if !self.events.has_said(now, &said) {
                        self.say(now, said);
                    }
                    if let Some(instead) = instead(&order) {
                        queue.push_front((instead, vec![Cause::Otherwise(medication)]));
                    }
                    continue;
                }
            }
            if let Some((_, known)) = orders
                .iter_mut()
                .find(|(known, _)| same_order(known, &order, Closeness::Whole))
            {
                known.extend(causes);
                continue;
            }
            let ladder = match &*order {
                Order::FollowLadder(ladder) => Some(ladder.value),
                _ => None,
            };
            orders.push((order, causes));
            if let Some(ladder) = ladder {
                let followed = self.follow(ladder, now);
                for proposal in self.followed(followed, now).into_iter().rev() {
                    queue.push_front(proposal);
                }
            }
        }
        orders
    }

    fn follow(&mut self, ladder: LadderId, now: Exact) -> Followed<'p> {
        let reading = self.protocol[ladder].reading.value;
        let value = self
            .board
            .last(reading)
            .filter(|record| record.at == now)
            .map(|record| record.value);
        self.ladders.follow(ladder, value, now, &mut self.events)
    }

    fn followed(&mut self, followed: Followed<'p>, now: Exact) -> Vec<Proposal<'p>> {
        match followed {
            Followed::GoesOn => Vec::new(),
            Followed::Ask(reading) => {
                let way = way_of(self.protocol, reading);
                self.asks
                    .ask(way, reading, Exact::ZERO, false, now, &mut self.events);
                Vec::new()
            }
            Followed::Orders(orders) => orders
                .into_iter()
                .map(|(action, cause)| (Cow::Borrowed(&action.order), vec![cause]))
                .collect(),
        }
    }
}

/// When an order is carried out among those of its moment: what makes room for
/// others first, what ends something last. The rest change nothing for each other.
fn turn(order: &Order) -> u8 {
    match order {
        Order::Begin(_) => 0,
        Order::Stop | Order::StopMedication(_) => 2,
        _ => 1,
    }
}

/// A role that is called, and how soon.
fn call(order: &Order) -> Option<(RoleId, Exact)> {
    match order {
        Order::Call { role, within } => {
            let within = within.as_ref().map_or(Exact::ZERO, |within| within.value);
            Some((role.value, within))
        }
        _ => None,
    }
}

/// A medication and what is wanted of it, where that can be refused (M27).
fn verb(order: &Order) -> Option<(MedicationId, Verb)> {
    match order {
        Order::Give { medication, .. } => Some((medication.value, Verb::Give)),
        Order::RaiseRate { medication, .. } => Some((medication.value, Verb::Raise)),
        Order::LowerRate { medication, .. } => Some((medication.value, Verb::Lower)),
        _ => None,
    }
}

fn instead<'p>(order: &Cow<'p, Order>) -> Option<Cow<'p, Order>> {
    match order {
        Cow::Borrowed(order) => otherwise(order).map(|action| Cow::Borrowed(&action.order)),
        Cow::Owned(order) => otherwise(order).map(|action| Cow::Owned(action.order.clone())),
    }
}

/// The verb with which a ladder asks for its reading: that of the looks, or else
/// the usual one for such a reading.
fn way_of(protocol: &Protocol, reading: ReadingId) -> AskWay {
    let looked = protocol.looks.iter().find_map(|look| match &look.what {
        LookWhat::Ask { way, readings, .. } => {
            readings.iter().any(|r| r.value == reading).then_some(*way)
        }
        LookWhat::Do { .. } | LookWhat::Give(_) | LookWhat::Order(_) => None,
    });
    looked.unwrap_or(match &protocol[reading].kind {
        ReadingKind::Score { .. } | ReadingKind::Choice { .. } => AskWay::Score,
        ReadingKind::Amount { .. } => AskWay::Test,
        ReadingKind::Body(_) | ReadingKind::Medium(_) => AskWay::Record,
    })
}
