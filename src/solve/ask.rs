//! Questions about one phase: is there a regular record and a moment of it at which
//! all of this holds?
//!
//! Moments are tried from the first on, so the record that answers is the shortest.
//! A question is answered "never" only when no moment is left: past the longest
//! window of the question every moment repeats an earlier one, but for a target that
//! moves, where every moment of the course is tried.
//!
//! `R not recorded` may hold at any moment: R is then silent for that long. An order
//! that pauses control or moves the target may have been given before: the question
//! is then asked once more for each rule that gives one, that rule firing first.
//!
//! Every record goes through the evaluator before it is an answer. Where an order of
//! another rule has disturbed it, the question is asked again with that rule at rest
//! ([`guard`]); what cannot be shown even so is kept in [`Solver::unsettled`].

use super::compiled::Hull;
use super::formula::{Formula, Var};
use super::frame::Frame;
use super::guard::{self, Guards, Shown};
use super::moments::{combinations, first_that_differs, silences};
use super::opposites;
use super::question::{Answer, Found, Goal, Question};
use super::record::found;
use super::scene::{Any, AnyTarget, Held, Scene, Values};
use super::search::{self, Verdict};
use super::{Plain, Solver, follows, possible, prelude};
use crate::eval::Aimed;
use crate::model::*;
use crate::quantity::Exact;
use std::rc::Rc;

/// An order given before, by a rule that fires at `at`.
#[derive(Debug, Clone, Copy)]
pub(super) struct Before<'a> {
    pub rule: RuleId,
    pub at: Exact,
    pub effect: prelude::Effect<'a>,
}

/// What orders are taken to have been given before the moment.
#[derive(Debug, Clone, Copy)]
enum Orders<'a> {
    None,
    First(Before<'a>),
    /// Whatever can be: for a proof that it cannot.
    Any(Any),
}

impl<'a> Orders<'a> {
    fn first(self) -> Option<Before<'a>> {
        match self {
            Orders::First(before) => Some(before),
            Orders::None | Orders::Any(_) => None,
        }
    }

    /// How far they leave records held to the plan.
    fn held(self) -> Held {
        let (wide, another_way) = match self {
            Orders::None => (false, None),
            Orders::First(before) => {
                let bends = !matches!(before.effect, prelude::Effect::Target(_));
                (bends, None)
            }
            Orders::Any(any) => {
                let bends = matches!(any.target, Some(AnyTarget::Course(_)));
                (bends, any.lead_in)
            }
        };
        Held { wide, another_way }
    }

    fn any(self) -> Option<Any> {
        match self {
            Orders::Any(any) => Some(any),
            Orders::None | Orders::First(_) => None,
        }
    }
}

/// How often a question is put again with one more rule at rest.
const MOST_TRIES: u32 = 24;

/// Searches given up within one question: the next would fare no better.
const MOST_GIVEN_UP: u32 = 2;

impl Solver<'_> {
    pub fn ask(&self, question: &Question<'_>) -> Answer {
        let plain = self.plain(question);
        if let Some(known) = plain.and_then(|plain| self.plain.borrow().get(&plain).cloned()) {
            return known;
        }
        let answer = self.answer(question);
        self.note(question, &answer);
        if let Some(plain) = plain {
            self.plain.borrow_mut().insert(plain, answer.clone());
        }
        answer
    }

    fn plain(&self, question: &Question<'_>) -> Option<Plain> {
        let Question {
            phase,
            goals,
            either,
            values: Values::Free,
            not_before,
            before: None,
            settled_only,
            unshown: true,
            opposed: None,
        } = question
        else {
            return None;
        };
        let [
            Goal::Cond {
                cond,
                during: Some(during),
                holds,
            },
        ] = goals.as_slice()
        else {
            return None;
        };
        let rule = self.rule_of(cond)?;
        let own = std::ptr::eq(*during, self.protocol[rule].during.as_slice());
        (own && either.is_empty() && not_before.is_zero()).then_some((
            *phase,
            rule,
            *holds,
            *settled_only,
        ))
    }

    /// A record that shows what is known already: none, and nothing is left open.
    pub fn example(&self, question: &Question<'_>) -> Option<Found> {
        self.answer(question).found()
    }

    fn answer(&self, question: &Question<'_>) -> Answer {
        let Some(frame) = self.frame(question.phase) else {
            return Answer::NoRecord;
        };
        if follows::refutes_itself(question) {
            return Answer::Never;
        }
        let mut guards = Guards::default();
        let mut disturbed: Option<Box<Found>> = None;
        for _ in 0..MOST_TRIES {
            let answer = self.ask_guarded(frame, question, &guards);
            let found = match (answer, disturbed.take()) {
                (Answer::Found(found), _) => found,
                // Who leaves the phase is in it no more: nothing is left out.
                (Answer::Never, Some(_)) if guards.only_leave() => return Answer::Never,
                (Answer::Never | Answer::TooComplex, Some(before)) => {
                    disturbed = Some(before);
                    break;
                }
                (other, _) => return other,
            };
            match self.shown(frame, question, &found) {
                Shown::Yes => return Answer::Found(found),
                Shown::Disturbed(by) if guards.add(&by) => disturbed = Some(found),
                Shown::Disturbed(_) => {
                    disturbed = Some(found);
                    break;
                }
            }
        }
        match disturbed {
            Some(found) => Answer::NotShown(found),
            None => Answer::TooComplex,
        }
    }

    fn ask_guarded(&self, frame: &Frame, question: &Question<'_>, guards: &Guards) -> Answer {
        let plain = self.ask_with(frame, question, guards, Orders::None);
        if !matches!(plain, Answer::Never) {
            return plain;
        }
        let mut too_complex = false;
        let any = possible::any(self, frame, question);
        // Mostly no order at all could bring it about.
        let maybe = match any {
            Some(any) => match self.ask_with(frame, question, guards, Orders::Any(any)) {
                Answer::Found(found) => Some(found),
                Answer::Never | Answer::NoRecord => return Answer::Never,
                // Not decided is not impossible.
                Answer::TooComplex | Answer::NotShown(_) => {
                    too_complex = true;
                    None
                }
            },
            None => None,
        };
        for before in prelude::before(self, frame, question) {
            match self.ask_with(frame, question, guards, Orders::First(before)) {
                Answer::Never | Answer::NoRecord => {}
                Answer::TooComplex => return Answer::TooComplex,
                Answer::NotShown(_) => too_complex = true,
                found @ Answer::Found(_) => return found,
            }
        }
        match maybe {
            Some(found) => Answer::NotShown(found),
            None if too_complex => Answer::TooComplex,
            None => Answer::Never,
        }
    }

    fn ask_with(
        &self,
        frame: &Frame,
        question: &Question<'_>,
        guards: &Guards,
        orders: Orders<'_>,
    ) -> Answer {
        let before = orders.first();
        let tests = question.tests();
        let silences = silences(&tests);
        let mut too_complex = false;
        // Whether the windows of the question were full when a reading fell silent.
        let settled = self.settled(frame, &tests);
        let is_settled = |since: &Exact| !question.settled_only || *since >= settled;
        let mut given_up = 0;
        let mut ruled_out = None;
        let Some(first) = first_that_differs(frame, question, orders.any()) else {
            return Answer::Never;
        };
        let (moments, are_all) = self.moments(frame, question, &tests, &silences);
        too_complex |= !are_all;
        for at in moments {
            if at < first || before.as_ref().is_some_and(|before| at <= before.at) {
                continue;
            }
            if question
                .opposed
                .is_some_and(|pair| !self.oppose(frame, pair, at, orders))
            {
                continue;
            }
            let (combinations, all) = combinations(&silences, at);
            too_complex |= !all;
            for silent in combinations {
                if !silent.values().all(is_settled) {
                    continue;
                }
                if !self.budget.allows(0) {
                    return Answer::TooComplex;
                }
                let mut scene = self.scene(frame, question.values);
                scene.silent_after = silent;
                scene.any = orders.any();
                scene.held = orders.held();
                let formula = self.formula(&mut scene, frame, question, guards, at, before);
                if formula.is_false() {
                    continue;
                }
                // Values that are held mostly ask the same at the next moment.
                let asked = (std::mem::take(&mut scene.domains), formula);
                if ruled_out.as_ref() == Some(&asked) {
                    continue;
                }
                let (verdict, work) = search::decide_counted(&asked.0, &asked.1);
                self.budget.spend(work + asked.0.len() as u64);
                match verdict {
                    Verdict::Impossible => ruled_out = Some(asked),
                    Verdict::TooComplex => {
                        too_complex = true;
                        given_up += 1;
                        if given_up == MOST_GIVEN_UP {
                            return Answer::TooComplex;
                        }
                    }
                    Verdict::Possible(values) => {
                        let mut found = found(&scene, frame, at, &values);
                        found.first = before.map(|before| (before.rule, before.at));
                        return Answer::Found(Box::new(found));
                    }
                }
            }
        }
        if too_complex {
            Answer::TooComplex
        } else {
            Answer::Never
        }
    }

    fn oppose(&self, frame: &Frame, pair: (&Order, &Order), at: Exact, orders: Orders<'_>) -> bool {
        let values: Vec<Exact> = match orders {
            Orders::None => Vec::new(),
            Orders::First(before) => match before.effect {
                prelude::Effect::Target(value) => vec![value],
                // Where it stands by then the evaluator will tell.
                prelude::Effect::HeldUp(..) | prelude::Effect::Anew(_) => return true,
                prelude::Effect::Paused(_) | prelude::Effect::Kept(_) => {
                    match frame.aimed_at(before.at) {
                        Aimed::Value(value) => vec![value],
                        Aimed::Nothing | Aimed::Range { .. } => Vec::new(),
                    }
                }
            },
            Orders::Any(any) => match any.target {
                Some(AnyTarget::Between(low, high)) => {
                    (low..=high).map(|units| self.grids.value(units)).collect()
                }
                Some(AnyTarget::Course(_) | AnyTarget::Free) => return true,
                None => Vec::new(),
            },
        };
        let oppose = |value| opposites::oppose(self.protocol, frame, pair, at, value);
        if values.is_empty() {
            return oppose(None);
        }
        values.into_iter().any(|value| oppose(Some(value)))
    }

    pub(super) fn scene<'s>(&'s self, frame: &'s Frame, values: Values) -> Scene<'s> {
        Scene::new((self.protocol, &self.grids, &self.intervals), frame, values)
    }

    fn formula<'s>(
        &'s self,
        scene: &mut Scene<'s>,
        frame: &'s Frame,
        question: &Question<'_>,
        guards: &Guards,
        at: Exact,
        before: Option<Before<'_>>,
    ) -> Formula {
        let mut all = Vec::new();
        if !self.may_hold(scene, frame, question, at, before.is_some()) {
            return Formula::FALSE;
        }
        if let Some(before) = before {
            let first = prelude::holds(self, scene, frame, before, at);
            if first.is_false() {
                return first;
            }
            all.push(first);
        }
        for goal in &question.goals {
            let formula = self.one(scene, frame, *goal, at);
            if formula.is_false() {
                return formula;
            }
            all.push(formula);
        }
        if !question.either.is_empty() {
            let mut any = Vec::new();
            for goals in &question.either {
                let parts: Vec<Formula> = goals
                    .iter()
                    .map(|goal| self.one(scene, frame, *goal, at))
                    .collect();
                any.push(Formula::all(parts));
            }
            let any = Formula::any(any);
            if any.is_false() {
                return any;
            }
            all.push(any);
        }
        all.push(self.still_running(scene, frame, at));
        all.push(guard::at_rest(self, scene, frame, guards, at, before));
        all.append(&mut scene.beside);
        Formula::all(all)
    }

    /// A sieve that loses nothing: whether the values that the conditions leave to
    /// each record, taken one record at a time, have anything in common.
    fn may_hold<'s>(
        &'s self,
        scene: &Scene<'s>,
        frame: &'s Frame,
        question: &Question<'_>,
        at: Exact,
        ordered_before: bool,
    ) -> bool {
        let mut left = Hull::default();
        for goal in &question.goals {
            let (cond, during, holds) = match goal {
                Goal::Cond {
                    cond,
                    during,
                    holds,
                } => (cond, during, holds),
                Goal::Value {
                    reading,
                    cmp,
                    value,
                } => match self.value_hull(scene, *reading, at, (*cmp, *value)) {
                    Some(hull) if left.narrow(&hull) => continue,
                    Some(_) | None => return false,
                },
                Goal::NotValue { .. } => continue,
            };
            if ordered_before && self.store.borrow().hangs_on_orders(cond) {
                continue;
            }
            let Some(compiled) = self.compiled(scene, frame, cond, scene.since(*during), at) else {
                continue;
            };
            let leaves = if *holds {
                Some(&compiled.hull).filter(|_| !compiled.formula.is_false())
            } else {
                compiled.else_hull.as_ref()
            };
            if !leaves.is_some_and(|hull| left.narrow(hull)) {
                return false;
            }
        }
        true
    }

    /// The values that are left to a record that is compared; `None` where nothing is
    /// known, or nothing left.
    fn value_hull(
        &self,
        scene: &Scene<'_>,
        reading: ReadingId,
        at: Exact,
        (cmp, value): (Cmp, Exact),
    ) -> Option<Hull> {
        let index = scene.known(reading, Exact::ZERO, at)?;
        let record = (reading, scene.key(reading, index));
        let formula = scene.compare(Var(1), cmp, value);
        Hull::of(&formula, &[(record, scene.domain(reading, index))])
    }

    /// The condition of a goal as a formula over the variables of this scene.
    pub(super) fn cond<'s>(
        &'s self,
        scene: &mut Scene<'s>,
        frame: &'s Frame,
        cond: &Cond,
        since: Exact,
        at: Exact,
    ) -> Formula {
        match self.compiled(scene, frame, cond, since, at) {
            Some(compiled) => scene.import(&compiled),
            None => scene.cond(cond, since, at),
        }
    }

    pub(super) fn compiled<'s>(
        &'s self,
        scene: &Scene<'s>,
        frame: &'s Frame,
        cond: &Cond,
        since: Exact,
        at: Exact,
    ) -> Option<Rc<super::compiled::Compiled>> {
        self.store
            .borrow_mut()
            .compiled(scene, frame, cond, since, at)
    }

    /// `ends when` has not held yet (M19).
    fn still_running<'s>(&'s self, scene: &mut Scene<'s>, frame: &'s Frame, at: Exact) -> Formula {
        if matches!(scene.values, Values::OnPlan(_) | Values::HeldAlone(_)) {
            return Formula::TRUE;
        }
        let End::Awaited {
            trigger: EndTrigger::When(cond),
            at_least,
            ..
        } = &self.protocol[frame.phase].end
        else {
            return match &self.protocol[frame.phase].end {
                End::Reached => scene.not_arrived(at),
                _ => Formula::TRUE,
            };
        };
        let from = frame.begins + at_least.as_ref().map_or(Exact::ZERO, |least| least.value);
        let mut all = Vec::new();
        for moment in &frame.moments {
            if *moment >= from && *moment <= at {
                all.push(
                    self.cond(scene, frame, cond, frame.begins, *moment)
                        .negated(),
                );
            }
        }
        Formula::all(all)
    }

    fn one<'s>(
        &'s self,
        scene: &mut Scene<'s>,
        frame: &'s Frame,
        goal: Goal<'_>,
        at: Exact,
    ) -> Formula {
        match goal {
            Goal::Cond {
                cond,
                during,
                holds,
            } => {
                let formula = self.cond(scene, frame, cond, scene.since(during), at);
                if holds { formula } else { formula.negated() }
            }
            Goal::Value {
                reading,
                cmp,
                value,
            } => match scene.known(reading, Exact::ZERO, at) {
                Some(index) => {
                    let var = scene.var(reading, index);
                    scene.compare(var, cmp, value)
                }
                None => Formula::FALSE,
            },
            Goal::NotValue {
                reading,
                cmp,
                value,
            } => match scene.known(reading, Exact::ZERO, at) {
                Some(index) => {
                    let var = scene.var(reading, index);
                    scene.compare(var, cmp, value).negated()
                }
                None => Formula::TRUE,
            },
        }
    }
}
