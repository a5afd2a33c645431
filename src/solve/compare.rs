//! Comparisons at one look, as formulas: with values, with the target wherever it
//! stands then, between readings, and with what was recorded before.

use super::compiled::known_or_added;
use super::formula::{Domain, Formula, Var, ZERO};
use super::frame::CourseFrom;
use super::scene::Scene;
use crate::eval::Aimed;
use crate::model::*;
use crate::quantity::Exact;

/// Stand for the target and for a pause among the readings of a scene.
pub(super) const TARGET: ReadingId = ReadingId(u32::MAX);
const PAUSE: ReadingId = ReadingId(u32::MAX - 1);
pub(super) const FREE: ReadingId = ReadingId(u32::MAX - 2);

impl<'s> Scene<'s> {
    /// A comparison at one look; `looks` are those up to it.
    pub(super) fn at_look(
        &mut self,
        kind: &TestKind,
        looks: &[Exact],
        since: Exact,
        look: Exact,
    ) -> Formula {
        let readings = kind.readings();
        let mut vars = Vec::with_capacity(2);
        for reading in &readings {
            let Some(index) = self.known(*reading, since, look) else {
                return Formula::FALSE;
            };
            vars.push(self.var(*reading, index));
        }
        let Some(var) = vars.first().copied() else {
            return Formula::FALSE;
        };
        match kind {
            TestKind::Compare { cmp, level, .. } => self.compare(var, *cmp, level.value),
            TestKind::Outside { low, high, .. } => Formula::any([
                self.compare(var, Cmp::Below, low.value),
                self.compare(var, Cmp::Above, high.value),
            ]),
            TestKind::Is { word, .. } => {
                let word = Exact::int(i64::try_from(*word).unwrap_or(i64::MAX / 8));
                Formula::all([
                    self.compare(var, Cmp::AtOrBelow, word),
                    self.compare(var, Cmp::AtOrAbove, word),
                ])
            }
            TestKind::OffTarget { side, by, .. } => self.off_target(var, *side, by.value, look),
            TestKind::NearTarget { within, .. } => self.near_target(var, within.value, look),
            TestKind::Differ { cmp, by, .. } => {
                let Some(second) = vars.get(1).copied() else {
                    return Formula::FALSE;
                };
                match cmp {
                    MoreLess::More => Formula::any([
                        self.more_than(var, second, by.value),
                        self.more_than(second, var, by.value),
                    ]),
                    MoreLess::Less => Formula::all([
                        self.less_than(var, second, by.value),
                        self.less_than(second, var, by.value),
                    ]),
                }
            }
            TestKind::Trend {
                reading,
                way,
                cmp,
                by,
                over,
            } => self.trend(
                (*reading, var),
                (*way, *cmp),
                (by.value, over.value),
                looks,
                since,
            ),
            TestKind::NotRecorded { .. }
            | TestKind::LastsLonger { .. }
            | TestKind::Overdue { .. }
            | TestKind::PausedLonger { .. } => Formula::FALSE,
        }
    }

    /// Nothing but the records decides what a condition comes to.
    pub fn is_plain(&self) -> bool {
        self.silent_after.is_empty()
            && self.paused_since.is_none()
            && self.target_after.is_none()
            && self.held_up.is_none()
            && self.anew.is_none()
            && self.any.is_none()
    }

    pub(super) fn stand_in(&mut self, kind: ReadingId, key: usize, (low, high): (i64, i64)) -> Var {
        let domain = Domain {
            low,
            high,
            step: 1,
            plan: low,
        };
        known_or_added(&mut self.vars, &mut self.domains, (kind, key), domain)
    }

    /// That control has been paused so long at a moment, whoever has paused it. How long it has
    /// been is one variable a moment: longer than 90 min is longer than 30 min too.
    pub(super) fn any_pause(&mut self, than: Exact, at: Exact) -> Formula {
        /// A hundred years, in thousandths of a second.
        const LONGEST: i64 = 100 * 365 * 24 * 3600 * 1000;
        let key = match self.pauses.iter().position(|known| *known == at) {
            Some(key) => key,
            None => {
                self.pauses.push(at);
                self.pauses.len() - 1
            }
        };
        let least = (than * Exact::int(60_000)).ceil().to_i64_floor();
        let Some(least) = least.filter(|least| *least <= LONGEST) else {
            return Formula::FALSE;
        };
        let paused = self.stand_in(PAUSE, key, (0, LONGEST));
        Formula::at_most(ZERO, paused, -least.max(1))
    }

    pub fn compare(&self, var: Var, cmp: Cmp, value: Exact) -> Formula {
        match cmp {
            Cmp::AtOrBelow => Formula::at_most(var, ZERO, self.grids.floor(value)),
            Cmp::Below => Formula::at_most(var, ZERO, self.grids.ceil(value) - 1),
            Cmp::AtOrAbove => Formula::at_most(ZERO, var, -self.grids.ceil(value)),
            Cmp::Above => Formula::at_most(ZERO, var, -self.grids.floor(value) - 1),
        }
    }

    /// `a - b > by`
    fn more_than(&self, a: Var, b: Var, by: Exact) -> Formula {
        Formula::at_most(b, a, -self.grids.floor(by) - 1)
    }

    /// `a - b < by`
    fn less_than(&self, a: Var, b: Var, by: Exact) -> Formula {
        Formula::at_most(a, b, self.grids.ceil(by) - 1)
    }

    fn off_target(&mut self, var: Var, side: Side, by: Exact, look: Exact) -> Formula {
        match (self.any_target(look, by), side) {
            (Some(Err(open)), _) => return open,
            // The target t lies between whole units: reading - t > by where its lower one does.
            (Some(Ok((low, _))), Side::Above) => return self.more_than(var, low, by),
            (Some(Ok((_, high))), Side::Below) => return self.more_than(high, var, by),
            (None, _) => {}
        }
        if let Some((begin, course, gone)) = self.course_at(look) {
            return self.off_course(var, (begin, course, gone), side, by);
        }
        let limit = match (self.aimed_at(look), side) {
            (Aimed::Nothing, _) => None,
            (Aimed::Value(target), _) => Some(target),
            (Aimed::Range { high, .. }, Side::Above) => high,
            (Aimed::Range { low, .. }, Side::Below) => low,
        };
        match (limit, side) {
            (None, _) => Formula::FALSE,
            (Some(limit), Side::Above) => self.compare(var, Cmp::Above, limit + by),
            (Some(limit), Side::Below) => self.compare(var, Cmp::Below, limit - by),
        }
    }

    /// The target is where the course began and has gone from there, but not past
    /// its end.
    fn off_course(
        &self,
        var: Var,
        (begin, from, gone): (Var, &CourseFrom, Exact),
        side: Side,
        by: Exact,
    ) -> Formula {
        let end = from.course.end;
        let (on_way, at_end) = match (from.course.way, side) {
            (Way::Warm, Side::Above) => (
                self.more_than(var, begin, gone + by),
                self.compare(var, Cmp::Above, end + by),
            ),
            (Way::Cool, Side::Above) => (
                self.more_than(var, begin, by - gone),
                self.compare(var, Cmp::Above, end + by),
            ),
            (Way::Warm, Side::Below) => (
                self.more_than(begin, var, by - gone),
                self.compare(var, Cmp::Below, end - by),
            ),
            (Way::Cool, Side::Below) => (
                self.more_than(begin, var, by + gone),
                self.compare(var, Cmp::Below, end - by),
            ),
        };
        // The lower of the two when warming, the higher when cooling.
        match (from.course.way, side) {
            (Way::Warm, Side::Above) | (Way::Cool, Side::Below) => Formula::any([on_way, at_end]),
            (Way::Warm, Side::Below) | (Way::Cool, Side::Above) => Formula::all([on_way, at_end]),
        }
    }

    fn near_target(&mut self, var: Var, within: Exact, look: Exact) -> Formula {
        match self.any_target(look, within) {
            Some(Err(open)) => return open,
            Some(Ok((low, high))) => {
                let most = self.grids.floor(within);
                return Formula::all([
                    Formula::at_most(var, low, most),
                    Formula::at_most(high, var, most),
                ]);
            }
            None => {}
        }
        if let Some(at) = self.course_at(look) {
            return Formula::all([
                self.off_course(var, at, Side::Above, within).negated(),
                self.off_course(var, at, Side::Below, within).negated(),
            ]);
        }
        let (low, high) = match self.aimed_at(look) {
            Aimed::Nothing => return Formula::FALSE,
            Aimed::Value(target) => (Some(target), Some(target)),
            Aimed::Range { low, high } => (low, high),
        };
        let above = low.map(|low| self.compare(var, Cmp::AtOrAbove, low - within));
        let below = high.map(|high| self.compare(var, Cmp::AtOrBelow, high + within));
        Formula::all(above.into_iter().chain(below))
    }

    fn trend(
        &mut self,
        (reading, now): (ReadingId, Var),
        (way, cmp): (TrendWay, MoreLess),
        (by, over): (Exact, Exact),
        looks: &[Exact],
        since: Exact,
    ) -> Formula {
        let Some((look, earlier)) = looks.split_last() else {
            return Formula::FALSE;
        };
        let slack = self.slack(&[reading], *look);
        let is_old = |at: Exact| *look - at >= over - slack;
        let is_young = |at: Exact| *look - at <= over + slack;
        let chosen: Vec<Exact> = match cmp {
            MoreLess::More => earlier.iter().copied().filter(|at| is_young(*at)).collect(),
            MoreLess::Less => earlier
                .iter()
                .rev()
                .copied()
                .find(|at| is_old(*at) && is_young(*at))
                .into_iter()
                .collect(),
        };
        let mut any = Vec::new();
        for at in chosen {
            let Some(index) = self.known(reading, since, at) else {
                continue;
            };
            let then = self.var(reading, index);
            let (more, less) = match way {
                TrendWay::Rises => (now, then),
                TrendWay::Falls => (then, now),
            };
            any.push(match cmp {
                MoreLess::More => self.more_than(more, less, by),
                MoreLess::Less => self.less_than(more, less, by),
            });
        }
        Formula::any(any)
    }
}
