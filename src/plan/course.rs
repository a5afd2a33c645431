//! The moving target of a phase with a rate (M20 to M22).
//!
//! Takes where a course begins, where it ends, how fast it runs and, where the
//! protocol says so, in which steps the target is really set. Gives the target
//! at any minute, the list of moves, and when the course has arrived. Knows no
//! clock and no phase: whoever stops, bends or pauses a course makes a new one
//! that begins where the old one stood.
//!
//! ```text
//! warm from 33.0 to 36.5 °C at 0.25 °C/h, moves every 1 h in steps of 0.1 °C
//!   minute  0    60    120    180    240   …  840
//!   target  33.0 33.2  33.5   33.7   34.0  …  36.5   <- arrives
//! ```
//!
//! What may go wrong: a number that does not fit is [`Exact::OVERFLOW`] in the
//! answer; a rate of 0 never arrives, which is `None`.

use crate::model::{Aim, Phase, Way};
use crate::quantity::Exact;

/// A course and how it runs. Times are minutes since it began.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Course {
    pub way: Way,
    /// °C
    pub begin: Exact,
    /// °C
    pub end: Exact,
    /// °C/h, the same for both ways.
    pub rate: Exact,
    /// `None` where the target glides.
    pub steps: Option<Steps>,
}

/// `target moves every D in steps of X`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Steps {
    /// Minutes.
    pub every: Exact,
    /// K
    pub step: Exact,
}

/// One setting of the target.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Move {
    /// Minutes since the course began.
    pub after: Exact,
    pub target: Exact,
}

const MINUTES_PER_HOUR: i64 = 60;

impl Course {
    /// The course of a phase that begins at `begin` and runs at `rate`; `None`
    /// where the phase reaches nothing.
    pub fn of(phase: &Phase, begin: Exact, rate: Exact) -> Option<Course> {
        let Aim::Reach { way, to, .. } = &phase.aim else {
            return None;
        };
        Some(Course {
            way: *way,
            begin,
            end: to.value,
            rate,
            steps: phase.steps.as_ref().map(|steps| Steps {
                every: steps.every.value,
                step: steps.step.value,
            }),
        })
    }

    /// How far there is to go; 0 where it begins at its end or past it.
    pub fn distance(&self) -> Exact {
        match self.way {
            Way::Warm => self.end - self.begin,
            Way::Cool => self.begin - self.end,
        }
        .max(Exact::ZERO)
    }

    /// The target so many minutes after the course began. Never past the end.
    pub fn target_at(&self, minutes: Exact) -> Exact {
        self.having_gone(self.gone_after(minutes.max(Exact::ZERO)))
    }

    /// The target so far from the beginning. Never past the end.
    pub fn having_gone(&self, gone: Exact) -> Exact {
        if gone.is_overflow() {
            return Exact::OVERFLOW;
        }
        if gone >= self.distance() {
            return self.end;
        }
        match self.way {
            Way::Warm => self.begin + gone,
            Way::Cool => self.begin - gone,
        }
    }

    /// Minutes from the beginning to the arrival: for a stepped course those of
    /// the move that reaches the end. `None` where it never arrives.
    pub fn arrives_after(&self) -> Option<Exact> {
        let distance = self.distance();
        if distance.is_zero() {
            return Some(Exact::ZERO);
        }
        if self.rate <= Exact::ZERO {
            return None;
        }
        Some(match self.steps {
            None => distance / self.per_minute(),
            Some(Steps { every, step }) => self.move_that_reaches(distance / step) * every,
        })
    }

    pub fn has_arrived(&self, minutes: Exact) -> bool {
        self.arrives_after()
            .is_some_and(|arrival| !arrival.is_overflow() && minutes >= arrival)
    }

    /// The moves that change the target, from the first to the one that reaches
    /// the end; none where the target glides. Worked out one at a time, since
    /// small steps can make very many.
    pub fn moves(&self) -> impl Iterator<Item = Move> + '_ {
        let mut next = self.next_move(Exact::ZERO);
        std::iter::from_fn(move || {
            let this = next?;
            next = self.next_move(this.after);
            Some(this)
        })
    }

    /// The first move later than that minute which changes the target.
    pub fn next_move(&self, minutes: Exact) -> Option<Move> {
        let Steps { every, step } = self.steps?;
        let arrival = self.arrives_after()?;
        if arrival.is_overflow() || minutes >= arrival {
            return None;
        }
        let stands = self.gone_after(minutes.max(Exact::ZERO)) / step;
        let after = (self.move_that_reaches(stands + Exact::ONE) * every).min(arrival);
        Some(Move {
            after,
            target: self.target_at(after),
        })
    }

    /// The farthest that one move takes the target; 0 where it never moves, and
    /// `None` where it glides.
    pub fn largest_move(&self) -> Option<Exact> {
        let Steps { every, step } = self.steps?;
        let distance = self.distance();
        let Some(arrival) = self.arrives_after() else {
            return Some(Exact::ZERO);
        };
        if arrival.is_overflow() {
            return Some(Exact::OVERFLOW);
        }
        // Each move is ⌊a⌋ or ⌈a⌉ steps, a being the steps that the rate makes
        // in one interval, and the last may be cut short by the end. The longer
        // kind comes first when the left-over parts of a add up to a whole step.
        let steps_each = self.per_minute() * every / step;
        let left_over = steps_each - steps_each.floor();
        let last = distance - self.gone_after(arrival - every);
        let before_last = arrival / every - Exact::ONE;
        if before_last <= Exact::ZERO {
            return Some(distance);
        }
        let longest_before = if left_over.is_zero() {
            steps_each.floor()
        } else if (Exact::ONE / left_over).ceil() <= before_last {
            steps_each.ceil()
        } else {
            steps_each.floor()
        };
        Some((longest_before * step).max(last))
    }

    fn per_minute(&self) -> Exact {
        self.rate / Exact::int(MINUTES_PER_HOUR)
    }

    /// How far from the beginning, not cut at the end.
    pub fn gone_after(&self, minutes: Exact) -> Exact {
        match self.steps {
            None => self.per_minute() * minutes,
            Some(Steps { every, step }) => {
                let moves = (minutes / every).floor();
                (self.per_minute() * moves * every).round_down_to(step)
            }
        }
    }

    /// Number of the first move after which the target is at least that many
    /// steps (rounded up to whole ones) from the beginning.
    fn move_that_reaches(&self, steps_away: Exact) -> Exact {
        match self.steps {
            None => Exact::ZERO,
            Some(Steps { every, step }) => {
                (steps_away.ceil() * step / (self.per_minute() * every)).ceil()
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn number(text: &str) -> Exact {
        Exact::parse(text).expect("a number")
    }

    fn course(way: Way, begin: &str, end: &str, rate: &str, steps: Option<(&str, &str)>) -> Course {
        Course {
            way,
            begin: number(begin),
            end: number(end),
            rate: number(rate),
            steps: steps.map(|(every, step)| Steps {
                every: number(every),
                step: number(step),
            }),
        }
    }

    fn hours(value: i64) -> Exact {
        Exact::int(60 * value)
    }

    #[test]
    fn m20_a_gliding_target_runs_at_the_rate() {
        let course = course(Way::Warm, "33.0", "36.5", "0.25", None);
        assert_eq!(course.target_at(hours(2)), number("33.5"));
        assert_eq!(
            course.target_at(Exact::int(1)),
            number("33") + Exact::ratio(1, 240)
        );
        assert_eq!(course.arrives_after(), Some(hours(14)));
        assert_eq!(course.target_at(hours(15)), number("36.5"));
        assert_eq!(course.target_at(-hours(1)), number("33"));
        assert_eq!(course.moves().count(), 0);
        assert_eq!(course.largest_move(), None);
    }

    #[test]
    fn m21_a_stepped_target_stands_on_the_slower_side() {
        let course = course(Way::Warm, "33.0", "36.5", "0.25", Some(("60", "0.1")));
        let stands: Vec<String> = (0..=4)
            .filter_map(|hour| course.target_at(hours(hour)).to_decimal(1))
            .collect();
        assert_eq!(stands, ["33.0", "33.2", "33.5", "33.7", "34.0"]);
        assert_eq!(course.target_at(Exact::int(119)), number("33.2"));
        assert_eq!(course.arrives_after(), Some(hours(14)));
        assert_eq!(course.largest_move(), Some(number("0.3")));
    }

    #[test]
    fn m21_it_arrives_with_the_move_that_is_at_or_past_the_end() {
        let course = course(Way::Warm, "33.0", "36.5", "0.3", Some(("60", "0.2")));
        assert_eq!(course.target_at(hours(11)), number("36.2"));
        assert_eq!(course.arrives_after(), Some(hours(12)));
        assert_eq!(course.target_at(hours(12)), number("36.5"));
        assert!(!course.has_arrived(hours(12) - Exact::ONE));
        assert!(course.has_arrived(hours(12)));
    }

    #[test]
    fn m21_downward_is_the_mirror_of_upward() {
        let down = course(Way::Cool, "39.0", "36.5", "0.25", Some(("60", "0.1")));
        let stands: Vec<String> = (0..=4)
            .filter_map(|hour| down.target_at(hours(hour)).to_decimal(1))
            .collect();
        assert_eq!(stands, ["39.0", "38.8", "38.5", "38.3", "38.0"]);
        assert_eq!(down.arrives_after(), Some(hours(10)));
    }

    #[test]
    fn a_slow_rate_moves_only_when_a_whole_step_is_gained() {
        let course = course(Way::Warm, "33.0", "33.2", "0.1", Some(("30", "0.1")));
        let moves: Vec<(Exact, Exact)> = course.moves().map(|m| (m.after, m.target)).collect();
        assert_eq!(
            moves,
            [
                (Exact::int(60), number("33.1")),
                (Exact::int(120), number("33.2"))
            ]
        );
        assert_eq!(course.largest_move(), Some(number("0.1")));
    }

    #[test]
    fn begun_past_the_end_it_has_arrived() {
        let course = course(Way::Warm, "36.8", "36.5", "0.25", Some(("60", "0.1")));
        assert_eq!(course.arrives_after(), Some(Exact::ZERO));
        assert_eq!(course.target_at(Exact::ZERO), number("36.5"));
        assert_eq!(course.moves().count(), 0);
    }

    #[test]
    fn a_rate_of_nought_never_arrives() {
        let course = course(Way::Warm, "33.0", "36.5", "0", Some(("60", "0.1")));
        assert_eq!(course.arrives_after(), None);
        assert_eq!(course.target_at(hours(100)), number("33.0"));
        assert_eq!(course.moves().count(), 0);
    }

    #[test]
    fn a_number_that_does_not_fit_is_never_a_temperature() {
        let mut course = course(Way::Warm, "33.0", "36.5", "0.25", None);
        course.rate = Exact::OVERFLOW;
        assert!(course.target_at(hours(1)).is_overflow());
        assert!(course.arrives_after().is_some_and(Exact::is_overflow));
        assert!(!course.has_arrived(hours(1000)));
    }

    /// Rates of thirds and hundredths, intervals from 5 min, steps from 0.05 K.
    fn any_stepped() -> impl Strategy<Value = Course> {
        let rate = prop_oneof![
            (1i64..=200).prop_map(|n| Exact::ratio(n, 100)),
            (1i64..=6).prop_map(|n| Exact::ratio(n, 3)),
        ];
        (any::<bool>(), 0i64..=100, rate, 1i64..=48, 1i64..=20).prop_map(
            |(warm, tenths, rate, every, step)| {
                let (low, high) = (Exact::int(31), Exact::int(31) + Exact::ratio(tenths, 10));
                let (way, begin, end) = if warm {
                    (Way::Warm, low, high)
                } else {
                    (Way::Cool, high, low)
                };
                Course {
                    way,
                    begin,
                    end,
                    rate,
                    steps: Some(Steps {
                        every: Exact::int(every * 5),
                        step: Exact::ratio(step, 20),
                    }),
                }
            },
        )
    }

    proptest! {
        #![proptest_config(ProptestConfig {
            failure_persistence: None,
            ..ProptestConfig::default()
        })]

        /// The cap is kept: a stepped target is never ahead of the straight line
        /// at its rate, and no single move is longer than the rate over one
        /// interval rounded up to whole steps.
        #[test]
        fn no_move_is_ahead_of_the_rate(course in any_stepped()) {
            let Some(Steps { every, step }) = course.steps else { unreachable!() };
            let mut stood = course.begin;
            let mut longest = Exact::ZERO;
            for Move { after, target } in course.moves() {
                prop_assert!((after / every).is_integer());
                prop_assert!((target - course.begin).abs() <= course.per_minute() * after);
                let gone = (target - stood).abs();
                prop_assert!(gone > Exact::ZERO);
                prop_assert!(gone <= (course.per_minute() * every).round_up_to(step));
                longest = longest.max(gone);
                stood = target;
            }
            prop_assert_eq!(stood, course.end);
            prop_assert_eq!(course.largest_move(), Some(longest));
        }

        /// The closed forms agree with counting the moves as M21 words it.
        #[test]
        fn arrival_agrees_with_counting(course in any_stepped()) {
            let Some(Steps { every, step }) = course.steps else { unreachable!() };
            let mut k = 0;
            let counted = loop {
                let gone = (course.rate * Exact::int(k) * every / Exact::int(60) / step).floor() * step;
                if gone >= course.distance() { break Exact::int(k) * every; }
                let stands = if course.way == Way::Warm { course.begin + gone } else { course.begin - gone };
                prop_assert_eq!(course.target_at(Exact::int(k) * every), stands);
                prop_assert_eq!(course.target_at(Exact::int(k) * every + every - Exact::ratio(1, 60)), stands);
                k += 1;
            };
            prop_assert_eq!(course.arrives_after(), Some(counted));
            prop_assert_eq!(course.target_at(counted), course.end);
        }
    }
}
