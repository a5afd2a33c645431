//! The planned course as a chart.

use super::Sheet;
use crate::document::{Chart, ChartPhase, Course, CoursePoint, Tick, text};
use crate::model::{Aim, Phase, Way};
use crate::plan::{Laid, PhasePlan, Round, report};
use crate::quantity::{Exact, to_celsius, to_fahrenheit};

impl Sheet<'_> {
    /// The chart of the reading by which temperature is controlled; none where it is no
    /// temperature or no phase aims at it.
    pub(super) fn chart(&self) -> Option<Chart> {
        let control = self.protocol.control_reading()?;
        if !self.protocol[control].kind.is_temperature() {
            return None;
        }
        let scale = Scale {
            fahrenheit: self.unit_of(control) == "°F",
        };
        let records: Vec<Vec<CoursePoint>> = self
            .records
            .iter()
            .map(|piece| piece.iter().map(|point| scale.recorded(*point)).collect())
            .collect();
        let mut courses = Vec::new();
        let mut phases = Vec::new();
        for laid in self
            .schedule
            .layout
            .iter()
            .filter(|laid| laid.start < laid.end)
        {
            let phase = &self.protocol[laid.phase];
            let placed = self.plan.phase(laid.phase)?;
            phases.push(ChartPhase {
                minute: whole(laid.start)?,
                number: (laid.phase.index() + 1).to_string(),
                name: text::inline(&phase.title.markdown).plain(),
            });
            if phase.aim.reading() == control {
                courses.push(scale.course(phase, placed, laid)?);
            }
        }
        let recorded = records.iter().flatten();
        let last = recorded.clone().map(|point| point.minute).max();
        let to = whole(self.schedule.layout.last()?.end)?.max(last.unwrap_or(0));
        let to = (to + 59).div_euclid(60).max(1) * 60;
        let (low, high) = bounds(&courses, recorded.map(|point| point.milli))?;
        let (minutes, tick) = match to / 60 {
            0..=12 => (15, 60),
            13..=30 => (60, 120),
            31..=120 => (60, 360),
            121..=240 => (120, 720),
            241..=960 => (360, 2160),
            // However long it lasts, no more lines than a page has room for.
            hours => {
                let day = 1440 * (1 + hours / 3840);
                (day, 6 * day)
            }
        };
        for course in &mut courses {
            // A side without a limit reaches to the edge of the chart.
            for (_, lower, upper) in &mut course.band {
                *lower = (*lower).max(low);
                *upper = (*upper).min(high);
            }
        }
        Some(Chart {
            title: format!(
                "Planned course: {}",
                text::inline(self.words.reading(control)).plain()
            ),
            summary: self.in_words(),
            unit: self.unit_of(control),
            beside: self
                .protocol
                .head
                .both_scales
                .then(|| scale.beside(low, high)),
            from: 0,
            to,
            low,
            high,
            step: 500,
            minutes,
            courses,
            records,
            phases,
            ticks: self.ticks(to, tick),
        })
    }

    fn ticks(&self, to: i64, step: i64) -> Vec<Tick> {
        let mut ticks = Vec::new();
        let mut last = None;
        let mut minute = 0;
        while minute <= to {
            let at = Exact::int(minute);
            ticks.push(match self.times.clock(at, Round::Down) {
                Some(time) => {
                    let new = last.replace(time.date()) != Some(time.date());
                    Tick {
                        minute,
                        label: time.time(),
                        day: if new { time.day() } else { String::new() },
                    }
                }
                None => Tick {
                    minute,
                    label: report::hours_and_minutes(at, Round::Down),
                    day: if minute == 0 {
                        "hours since the start".to_string()
                    } else {
                        String::new()
                    },
                },
            });
            minute += step;
        }
        ticks
    }

    fn in_words(&self) -> String {
        let each: Vec<String> = self
            .plan
            .phases
            .iter()
            .map(|placed| {
                let aim = text::inline(&self.words.aim(&self.protocol[placed.phase])).plain();
                format!(
                    "{}: {aim}, begins {}, ends {}",
                    text::inline(&self.words.phase(placed.phase)).plain(),
                    self.times.window(placed.start),
                    self.times.window(placed.end)
                )
            })
            .collect();
        format!("{}.", each.join("; "))
    }
}

fn whole(at: Exact) -> Option<i64> {
    at.to_i64_floor()
}

/// The scale of the drawing: that of the display from which the nurse plots.
#[derive(Clone, Copy)]
struct Scale {
    fahrenheit: bool,
}

impl Scale {
    /// Thousandths of a degree of the scale.
    fn milli(self, celsius: Exact) -> Option<i64> {
        let value = match self.fahrenheit {
            true => to_fahrenheit(celsius),
            false => celsius,
        };
        (value * Exact::int(1000)).to_i64_floor()
    }

    /// What was recorded comes in thousandths of a degree Celsius.
    fn recorded(self, point: CoursePoint) -> CoursePoint {
        let celsius = Exact::ratio(point.milli, 1000);
        CoursePoint {
            milli: self.milli(celsius).unwrap_or(point.milli),
            ..point
        }
    }

    /// Whole degrees of the other scale between two heights, each where it lies exactly.
    fn beside(self, low: i64, high: i64) -> (String, Vec<(i64, String)>) {
        let here = |milli: i64| Exact::ratio(milli, 1000);
        let other = |milli: i64| match self.fahrenheit {
            true => to_celsius(here(milli)),
            false => to_fahrenheit(here(milli)),
        };
        let (Some(first), Some(last)) =
            (other(low).ceil().to_i64_floor(), other(high).to_i64_floor())
        else {
            return (String::new(), Vec::new());
        };
        let places = (first..=last).filter_map(|degree| {
            let at = match self.fahrenheit {
                true => to_fahrenheit(Exact::int(degree)),
                false => to_celsius(Exact::int(degree)),
            };
            // Drawn to a thousandth of a degree.
            let milli = (at * Exact::int(1000)).to_i64_floor()?;
            Some((milli, format!("{degree}.0")))
        });
        let unit = if self.fahrenheit { "°C" } else { "°F" };
        (unit.to_string(), places.collect())
    }
}

/// Past any chart: a side of a range that has no limit.
const OPEN: i64 = 1_000_000;

impl Scale {
    fn course(self, phase: &Phase, placed: &PhasePlan, laid: &Laid) -> Option<Course> {
        let (from, to) = (whole(laid.start)?, whole(laid.end)?);
        let point = |minute: i64, value: Exact| {
            Some(CoursePoint {
                minute,
                milli: self.milli(value)?,
            })
        };
        let mut course = Course {
            uncertain: laid.assumed || placed.start.exact().is_none(),
            ..Course::default()
        };
        match &phase.aim {
            Aim::Hold { at, within, .. } => {
                course.points = vec![point(from, at.value)?, point(to, at.value)?];
                let (low, high) = (
                    self.milli(at.value - within.value)?,
                    self.milli(at.value + within.value)?,
                );
                course.band = vec![(from, low, high), (to, low, high)];
            }
            Aim::Keep { low, high, .. } => {
                let low = low
                    .as_ref()
                    .map_or(Some(-OPEN), |low| self.milli(low.value))?;
                let high = high
                    .as_ref()
                    .map_or(Some(OPEN), |high| self.milli(high.value))?;
                course.band = vec![(from, low, high), (to, low, high)];
            }
            Aim::Reach { way, to: end, .. } => match &placed.course {
                Some(ramp) => {
                    course.points.push(point(from, ramp.begin)?);
                    if ramp.steps.is_some() {
                        let mut before = ramp.begin;
                        for step in ramp.moves().take(2000) {
                            let minute = whole(laid.start + step.after)?;
                            course.points.push(point(minute, before)?);
                            course.points.push(point(minute, step.target)?);
                            before = step.target;
                        }
                    }
                    course.points.push(point(to, end.value)?);
                }
                None => {
                    // From the far end of where the reading can be: the longest way.
                    let far = match way {
                        Way::Cool => placed.start_values.high,
                        Way::Warm => placed.start_values.low,
                    };
                    if let Some(far) = far {
                        course.points = vec![point(from, far)?, point(to, end.value)?];
                    }
                    course.uncertain = true;
                }
            },
        }
        Some(course)
    }
}

/// Whole degrees around everything that is drawn, one to spare on both sides.
fn bounds(courses: &[Course], recorded: impl Iterator<Item = i64>) -> Option<(i64, i64)> {
    let values = courses.iter().flat_map(|course| {
        let points = course.points.iter().map(|point| point.milli);
        let band = course.band.iter().flat_map(|(_, low, high)| [*low, *high]);
        points.chain(band).filter(|value| value.abs() < OPEN)
    });
    let values = values.chain(recorded);
    let (mut low, mut high) = (i64::MAX, i64::MIN);
    for value in values {
        low = low.min(value);
        high = high.max(value);
    }
    if low > high {
        return None;
    }
    Some((
        (low - 500).div_euclid(1000) * 1000,
        (high + 1499).div_euclid(1000) * 1000,
    ))
}
