//! Where the target stands at a look: by plan, after an order, or wherever orders can
//! have brought it (M20 to M22).
//!
//! ```text
//! by plan        what the evaluator aimed at, or a variable (the record) + what has gone
//! held up        the same, less the time for which it stood still
//! whatever done  two variables, the target rounded down and up; they move with time
//!                as far as the course lets them, and as one where it moves in whole steps
//! ```

use super::compare::{FREE, TARGET};
use super::formula::{Domain, Formula, Var, ZERO};
use super::frame::CourseFrom;
use super::scene::{AnyTarget, Bent, Scene};
use crate::eval::Aimed;
use crate::model::*;
use crate::plan::Course;
use crate::quantity::Exact;

impl<'s> Scene<'s> {
    pub(super) fn aimed_at(&self, look: Exact) -> Aimed {
        if let (Some(held), Some(course)) = (self.held_up, &self.frame.stated)
            && look > held.since
        {
            let gone = self.gone(course, self.frame.begins, look, false);
            return Aimed::Value(course.having_gone(gone));
        }
        if let Some((since, course)) = self.anew
            && look > since
        {
            return Aimed::Value(course.target_at(look - since));
        }
        match self.target_after {
            Some((after, aimed)) if look > after => aimed,
            _ => self.frame.aimed_at(look),
        }
    }

    /// How far a course that began then has gone at a moment, or just before it.
    fn gone(&self, course: &Course, begins: Exact, at: Exact, before: bool) -> Exact {
        let run = |minutes: Exact| match course.steps {
            // The move of that very moment is not made yet.
            Some(steps) if before => {
                let moves = (minutes / steps.every).ceil() - Exact::ONE;
                course.gone_after(moves.max(Exact::ZERO) * steps.every)
            }
            _ => course.gone_after(minutes.max(Exact::ZERO)),
        };
        let Some(held) = self.held_up.filter(|held| at > held.since) else {
            return run(at - begins);
        };
        let stands = course.gone_after((held.since - begins).max(Exact::ZERO));
        match held.until {
            // It begins anew where it stands.
            Some(until) if at > until => stands + run(at - until.max(begins)),
            Some(_) | None => stands,
        }
    }

    /// Where the course begins at a record: that record, the course, and how far it
    /// has gone at a look.
    pub(super) fn course_at(&mut self, look: Exact) -> Option<(Var, &'s CourseFrom, Exact)> {
        let course = self.frame.course.as_ref()?;
        if look < course.since || self.samples(course.reading).len() <= course.sample {
            return None;
        }
        let gone = self.gone(&course.course, course.since, look, false);
        Some((self.var(course.reading, course.sample), course, gone))
    }

    /// The course has not ended the phase by that moment.
    pub fn not_arrived(&mut self, at: Exact) -> Formula {
        if matches!(
            self.any.and_then(|any| any.target),
            Some(AnyTarget::Course(_))
        ) {
            // Whoever holds it up makes it arrive later.
            return Formula::TRUE;
        }
        match (&self.frame.course, &self.frame.stated) {
            (Some(from), _) => self.not_arrived_from(from, at),
            // Otherwise the records of the frame know.
            (None, Some(course)) if self.held.wide => self.not_arrived_by(course, at),
            (None, _) => Formula::TRUE,
        }
    }

    /// The records of a reading that can end the phase, each with when the next one
    /// takes its place, if that is by then.
    fn stands(&self, reading: ReadingId, at: Exact) -> Vec<(usize, Option<Exact>)> {
        let samples = self.samples(reading);
        let made = samples.partition_point(|sample| sample.at <= at);
        (0..made)
            .map(|index| {
                let next = samples.get(index + 1).map(|next| next.at);
                (index, next.filter(|next| *next <= at))
            })
            .collect()
    }

    fn not_arrived_from(&mut self, from: &'s CourseFrom, at: Exact) -> Formula {
        let mut all = Vec::new();
        for (index, next) in self.stands(from.reading, at) {
            if index < from.sample {
                continue;
            }
            let upto = next.unwrap_or(at);
            let Some((begin, _, _)) = self.course_at(upto) else {
                continue;
            };
            let gone = self.gone(&from.course, from.since, upto, next.is_some());
            let strictly = next.is_none() || from.course.steps.is_some();
            let var = self.var(from.reading, index);
            let end = from.course.end;
            let on_way = match (from.course.way, strictly) {
                (Way::Warm, true) => self.compare(begin, Cmp::Below, end - gone),
                (Way::Warm, false) => self.compare(begin, Cmp::AtOrBelow, end - gone),
                (Way::Cool, true) => self.compare(begin, Cmp::Above, end + gone),
                (Way::Cool, false) => self.compare(begin, Cmp::AtOrAbove, end + gone),
            };
            let away = self.away(var, &from.course, from.within);
            all.push(Formula::any([on_way, away]));
        }
        Formula::all(all)
    }

    fn not_arrived_by(&mut self, course: &Course, at: Exact) -> Formula {
        let Aim::Reach {
            reading, within, ..
        } = &self.protocol[self.frame.phase].aim
        else {
            return Formula::TRUE;
        };
        let within = within.as_ref().map_or(Exact::ZERO, |within| within.value);
        let begins = self.frame.begins;
        let mut all = Vec::new();
        for (index, next) in self.stands(reading.value, at) {
            let upto = next.unwrap_or(at);
            let (course, begins) = match self.anew {
                Some((since, anew)) if upto > since => (anew, since),
                Some(_) | None => (*course, begins),
            };
            let gone = self.gone(&course, begins, upto, next.is_some());
            let strictly = next.is_none() || course.steps.is_some();
            let arrived = match strictly {
                true => gone >= course.distance(),
                false => gone > course.distance(),
            };
            if arrived {
                let var = self.var(reading.value, index);
                all.push(self.away(var, &course, within));
            }
        }
        Formula::all(all)
    }

    /// The reading is not yet where the course ends.
    fn away(&self, var: Var, course: &Course, within: Exact) -> Formula {
        match course.way {
            Way::Warm => self.compare(var, Cmp::Below, course.end - within),
            Way::Cool => self.compare(var, Cmp::Above, course.end + within),
        }
    }

    /// The target at a look wherever orders can have brought it, as variables: rounded
    /// down and rounded up to whole units. Or that a comparison by so much is open.
    pub(super) fn any_target(
        &mut self,
        look: Exact,
        by: Exact,
    ) -> Option<Result<(Var, Var), Formula>> {
        let (range, whole) = match (self.any?.target?, self.frame.aimed_at(look)) {
            (AnyTarget::Course(bent), aimed) if look >= self.frame.begins => {
                return self.any_course(bent, aimed, look, by);
            }
            (_, Aimed::Nothing | Aimed::Range { .. }) | (AnyTarget::Course(_), _) => return None,
            (AnyTarget::Between(low, high), Aimed::Value(_)) => ((low, high), true),
            (AnyTarget::Free, Aimed::Value(_)) => return Some(Err(self.open())),
        };
        Some(Ok(self.target(look, range, whole).0))
    }

    /// A comparison that decides nothing.
    pub(super) fn open(&mut self) -> Formula {
        let key = self.vars.len();
        let free = self.stand_in(FREE, key, (0, 1));
        Formula::at_most(free, ZERO, 0)
    }

    /// The variables of the target at a look, and whether they are new.
    fn target(&mut self, look: Exact, range: (i64, i64), whole: bool) -> ((Var, Var), bool) {
        if let Some(known) = self.targets.get(&look) {
            return (*known, false);
        }
        let key = self.targets.len() * 2;
        let low = self.stand_in(TARGET, key, range);
        let high = if whole {
            low
        } else {
            let high = self.stand_in(TARGET, key + 1, range);
            self.beside.push(Formula::at_most(low, high, 0));
            self.beside.push(Formula::at_most(high, low, 1));
            high
        };
        self.targets.insert(look, (low, high));
        ((low, high), true)
    }

    fn any_course(
        &mut self,
        bent: Bent,
        aimed: Aimed,
        look: Exact,
        by: Exact,
    ) -> Option<Result<(Var, Var), Formula>> {
        let frame = self.frame;
        let (course, begin) = match (&frame.course, &frame.stated) {
            (Some(from), _) => {
                let (begin, _, gone) = self.course_at(look)?;
                (&from.course, Some((begin, gone)))
            }
            (None, Some(course)) => (course, None),
            (None, None) => return None,
        };
        let whole = self.is_whole(course, begin.is_some(), bent);
        if !whole && !self.grids.is_whole(by) {
            return Some(Err(self.open()));
        }
        let range = match (begin, aimed) {
            (Some(_), _) => {
                let domain = self.grids.domain(frame.course.as_ref()?.reading)?;
                let (low, high) = set_too(
                    (self.grids.value(domain.low), self.grids.value(domain.high)),
                    bent,
                );
                (low.min(course.end), high.max(course.end))
            }
            (None, Aimed::Value(now)) => {
                let (low, high) = between(course, now, bent);
                match (course.way, self.control_domain().filter(|_| bent.farther)) {
                    (_, None) => (low, high),
                    (Way::Warm, Some(domain)) => (low.min(self.grids.value(domain.low)), high),
                    (Way::Cool, Some(domain)) => (low, high.max(self.grids.value(domain.high))),
                }
            }
            (None, Aimed::Nothing | Aimed::Range { .. }) => return None,
        };
        let range = (self.grids.floor(range.0), self.grids.ceil(range.1));
        let (target, is_new) = self.target(look, range, whole);
        if is_new {
            if let Some(begin) = begin {
                let rule = self.begun_at(course, begin, target, bent);
                self.beside.push(rule);
            }
            self.chain(course, look, bent);
        }
        Some(Ok(target))
    }

    /// What the reading that the phase aims at can show.
    fn control_domain(&self) -> Option<Domain> {
        let reading = self.protocol[self.frame.phase].aim.reading();
        self.grids.domain(reading)
    }

    /// A course that stands on whole units wherever it stands.
    fn is_whole(&self, course: &Course, begins_at_record: bool, bent: Bent) -> bool {
        let is_whole = |value| self.grids.is_whole(value);
        course.steps.is_some_and(|steps| is_whole(steps.step))
            && (begins_at_record || is_whole(course.begin))
            && is_whole(course.end)
            && bent.whole
    }

    /// Between where a course began, at that record, and where it would be by plan.
    fn begun_at(
        &self,
        course: &Course,
        (begin, gone): (Var, Exact),
        (low, high): (Var, Var),
        bent: Bent,
    ) -> Formula {
        let (floor, ceil) = (self.grids.floor(course.end), self.grids.ceil(course.end));
        let at_least = |var, value: i64| Formula::at_most(ZERO, var, -value);
        let at_most = |var, value: i64| Formula::at_most(var, ZERO, value);
        let by_plan = bent.set.is_none() && !bent.faster;
        let gone = self.grids.ceil(gone);
        // Begun past its end it stands at the end.
        let (not_past, mut not_before, not_ahead) = match course.way {
            Way::Warm => (
                at_most(high, ceil),
                vec![Formula::at_most(begin, low, 0), at_least(low, floor)],
                [Formula::at_most(high, begin, gone), at_least(begin, ceil)],
            ),
            Way::Cool => (
                at_least(low, floor),
                vec![Formula::at_most(high, begin, 0), at_most(high, ceil)],
                [Formula::at_most(begin, low, gone), at_most(begin, floor)],
            ),
        };
        if let Some((least, most)) = bent.set {
            not_before.push(match course.way {
                Way::Warm => at_least(low, self.grids.floor(least)),
                Way::Cool => at_most(high, self.grids.ceil(most)),
            });
        }
        let mut all = vec![not_past, Formula::any(not_before)];
        if by_plan {
            all.push(Formula::any(not_ahead));
        }
        Formula::all(all)
    }

    /// From one look to the next a course goes one way only, and no farther than it can.
    fn chain(&mut self, course: &Course, look: Exact, bent: Bent) {
        if bent.set.is_some() {
            return;
        }
        let own = self.targets.get(&look).copied();
        let before = self.targets.range(..look).next_back();
        let after = self.targets.range(look..).nth(1);
        let pairs = [
            before.map(|(at, vars)| (look - *at, Some(*vars), own)),
            after.map(|(at, vars)| (*at - look, own, Some(*vars))),
        ];
        for (time, first, second) in pairs.into_iter().flatten() {
            let (Some(first), Some(second)) = (first, second) else {
                continue;
            };
            let (from, to) = match course.way {
                Way::Warm => (first, second),
                Way::Cool => (second, first),
            };
            for (from, to) in [(from.0, to.0), (from.1, to.1)] {
                self.beside.push(Formula::at_most(from, to, 0));
                if !bent.faster {
                    let most = self.grids.ceil(farthest(course, time));
                    self.beside.push(Formula::at_most(to, from, most));
                }
            }
        }
    }
}

/// The farthest that a course can go in a time, wherever its moves fall.
fn farthest(course: &Course, time: Exact) -> Exact {
    let per_minute = course.rate / Exact::int(60);
    match course.steps {
        None => per_minute * time,
        Some(steps) => (per_minute * (time + steps.every)).round_up_to(steps.step),
    }
}

fn set_too((low, high): (Exact, Exact), bent: Bent) -> (Exact, Exact) {
    match bent.set {
        Some((least, most)) => (low.min(least), high.max(most)),
        None => (low, high),
    }
}

/// Where a course that began at a stated value can stand when by plan it stands there.
fn between(course: &Course, now: Exact, bent: Bent) -> (Exact, Exact) {
    let begin = course.having_gone(Exact::ZERO);
    let ahead = if bent.set.is_some() || bent.faster {
        course.end
    } else {
        now
    };
    let (low, high) = set_too((begin.min(ahead), begin.max(ahead)), bent);
    match course.way {
        Way::Warm => (low.min(course.end), high.min(course.end)),
        Way::Cool => (low.max(course.end), high.max(course.end)),
    }
}
