//! A whole-body heat balance: is what the protocol wants within reach of its method?
//!
//! Takes a protocol, weights and where the core begins; gives for each phase that cools or
//! warms how long it would take a body of that size, with the range that the constants
//! leave, beside the rates that were published for the class of method; and whether its
//! `due within` or its planned course lies in that range. [`report`] makes text of it.
//!
//! It is an estimate of what a class of method can do, **never a prediction for a
//! patient**: where the numbers come from stands in [`body`] and [`exchange`], and what
//! they do not know (shivering, drugs, blood flow, fat, the device itself) is said with
//! every answer. The arithmetic is floating-point, in one order, so the same everywhere.
//!
//! What may go wrong: a method without any published power has no heat balance, and one
//! without a published rate no second opinion; both are said.

pub mod body;
pub mod exchange;
mod report;
pub mod simulate;

pub use report::report;

use crate::model::words::{FixedWord as _, Means, Population};
use crate::model::{Aim, Due, MarkRef, Phase, PhaseId, Protocol, Way};
use crate::plan::{Case, Course, Plan};
use crate::quantity::Exact;
use body::Body;
use exchange::{Published, Site};
use serde::Serialize;
use simulate::{Treatment, hours_to};

/// What is asked.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Wanted {
    /// kg; without, the lightest and the heaviest that the protocol allows.
    pub weight: Option<f64>,
    /// °C at the start; without, the farthest that the protocol allows.
    pub from: Option<f64>,
    /// What else is known: its marks place a `due within D of MARK`.
    pub case: Case,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Forecast {
    pub protocol: String,
    pub version: String,
    pub phases: Vec<PhaseForecast>,
}

/// Hours, each `None` where it is not reached in three days.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Range {
    pub fastest: Option<f64>,
    pub likely: Option<f64>,
    pub slowest: Option<f64>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Estimate {
    pub weight: f64,
    /// `None` where a power is missing.
    pub balance: Option<Range>,
    /// The same, making twice the heat at rest.
    pub shivering: Option<Option<f64>>,
    pub due: Option<Reach>,
    pub course: Option<Reach>,
}

/// How what is wanted lies to the estimate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Reach {
    /// Even the fastest estimate is later.
    OutOfReach,
    /// Only a fast course is in time.
    Unlikely,
    /// The likely course is in time, a slow one is not.
    Likely,
    /// Even the slowest is in time.
    Sure,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PhaseForecast {
    pub phase: String,
    pub warms: bool,
    pub from: f64,
    pub to: f64,
    pub by: Vec<&'static str>,
    /// Of these no power was found.
    pub without_power: Vec<&'static str>,
    pub powers: Vec<String>,
    /// °C/h that the core may not go beyond.
    pub cap: Option<f64>,
    /// Hours that are left at the most when the phase begins.
    pub due_hours: Option<f64>,
    /// What they count from, where that is a mark.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub due_of: Option<DueOf>,
    pub course_hours: Option<f64>,
    /// By the published rates of the class, for any weight.
    pub published: Option<Range>,
    pub rates: Vec<String>,
    pub estimates: Vec<Estimate>,
}

/// A `due within D of MARK`: how much of D is gone when the phase begins.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DueOf {
    pub mark: String,
    /// D itself.
    pub within_hours: f64,
    /// What is left of it at the least; `None` where nothing says when the mark is.
    pub least_hours: Option<f64>,
}

/// Every phase that cools or warms by a method.
pub fn forecast(protocol: &Protocol, wanted: &Wanted) -> Forecast {
    Forecast {
        protocol: protocol.name.name.clone(),
        version: protocol.head.version.value.to_string(),
        phases: protocol
            .phases()
            .filter_map(|(id, _)| phase(protocol, id, wanted))
            .collect(),
    }
}

/// Whether even the fastest published rate of its method is too late for the `due within`
/// of a phase: only then can [`phase`] find it out of reach, which takes far longer to say.
pub fn late_by_rates(protocol: &Protocol, id: PhaseId) -> bool {
    outline(protocol, id, &Wanted::default()).is_some_and(|outline| {
        let fastest = outline.said.published.map(|range| range.fastest);
        fastest
            .zip(outline.said.due_hours)
            .is_some_and(|(fastest, due)| fastest.is_none_or(|fastest| fastest > due))
    })
}

/// One phase; `None` where it holds or keeps, or where nothing says where it begins.
pub fn phase(protocol: &Protocol, id: PhaseId, wanted: &Wanted) -> Option<PhaseForecast> {
    let Outline {
        mut said,
        way,
        means,
        weights,
    } = outline(protocol, id, wanted)?;
    let population = protocol.head.patients.group.value;
    said.estimates = weights
        .into_iter()
        .map(|weight| {
            let balance = balance(weight, population, &means, way);
            let reach = |hours: Option<f64>| {
                hours.and_then(|hours| reach(hours, [balance, said.published]))
            };
            Estimate {
                weight,
                balance,
                shivering: (way.0 == Way::Cool)
                    .then(|| shivering(weight, population, &means, way))
                    .flatten(),
                due: reach(said.due_hours),
                course: reach(said.course_hours),
            }
        })
        .collect();
    Some(said)
}

/// What is known of a phase before any body is simulated.
struct Outline {
    /// Without estimates.
    said: PhaseForecast,
    way: Way4,
    means: Vec<Means>,
    weights: Vec<f64>,
}

fn outline(protocol: &Protocol, id: PhaseId, wanted: &Wanted) -> Option<Outline> {
    let stated = &protocol[id];
    let Aim::Reach {
        way,
        reading,
        from,
        to,
        rate,
        ..
    } = &stated.aim
    else {
        return None;
    };
    if !protocol[reading.value].kind.is_body() {
        return None;
    }
    let plan = Plan::of(protocol, &wanted.case).ok();
    let is_first = id.index() == 0;
    let begins = match (from, wanted.from.filter(|_| is_first)) {
        (_, Some(asked)) => asked,
        (Some(from), None) => number(from.value)?,
        (None, None) => {
            let values = plan.as_ref()?.phase(id)?.start_values;
            number(match way {
                Way::Cool => values.high?,
                Way::Warm => values.low?,
            })?
        }
    };
    let ends = number(to.value)?;
    let means = means(protocol, stated);
    let cap = stated
        .never_faster
        .as_ref()
        .and_then(|cap| number(cap.value));
    let (due_hours, due_of) = match &stated.due {
        None => (None, None),
        Some(due) => due_left(protocol, id, due, plan.as_ref())?,
    };
    let course_hours = rate.as_ref().and_then(|rate| {
        let begin = from.as_ref().map(|from| from.value)?;
        let length = Course::of(stated, begin, rate.slower().value)?.arrives_after()?;
        number(length).map(|minutes| minutes / 60.0)
    });
    let published = by_rates(&means, *way, (begins - ends).abs(), cap);
    let population = protocol.head.patients.group.value;
    let weights = match (wanted.weight, protocol.head.patients.dosing_weight()) {
        (Some(weight), _) => vec![weight],
        (None, Some(range)) => vec![number(range.low.value)?, number(range.high.value)?],
        (None, None) => vec![match population {
            Population::Adult => 70.0,
            Population::Child => 18.0,
            Population::Newborn => 3.5,
        }],
    };
    let said = PhaseForecast {
        phase: stated.name.name.clone(),
        warms: *way == Way::Warm,
        from: begins,
        to: ends,
        by: means.iter().map(|means| means.word()).collect(),
        without_power: means
            .iter()
            .filter(|means| exchange::exchange(**means, *way).is_none())
            .map(|means| means.word())
            .collect(),
        powers: powers(&means, *way),
        cap,
        due_hours,
        due_of,
        course_hours,
        published,
        rates: rates(&means, *way),
        estimates: Vec::new(),
    };
    Some(Outline {
        said,
        way: (*way, begins, ends, cap),
        means,
        weights,
    })
}

/// Hours from the beginning of the phase, at the most; and of which mark.
///
/// Where nothing places the mark it is taken to be when the phase begins: whoever is too
/// late then is too late whenever it was before.
fn due_left(
    protocol: &Protocol,
    id: PhaseId,
    due: &Due,
    plan: Option<&Plan>,
) -> Option<(Option<f64>, Option<DueOf>)> {
    let hours = |minutes: Exact| number(minutes).map(|minutes| minutes / 60.0);
    let within = due.within.value;
    let Some(mark) = &due.of else {
        return Some((hours(within), None));
    };
    let begins = plan
        .and_then(|plan| plan.phase(id))
        .map(|placed| placed.start);
    let at = plan.and_then(|plan| plan.mark(mark.value));
    let (most, least) = match (begins, at) {
        (Some(begins), Some(at)) => (
            at.latest.map_or(within, |at| within + at - begins.earliest),
            begins.latest.map(|begins| within + at.earliest - begins),
        ),
        _ => (within, None),
    };
    let of = DueOf {
        mark: match mark.value {
            MarkRef::Start => "start".to_owned(),
            MarkRef::PhaseStart(of) => format!("{}.start", protocol[of].name.name),
            MarkRef::PhaseEnd(of) => format!("{}.end", protocol[of].name.name),
            MarkRef::Named(of) => protocol[of].name.name.clone(),
        },
        within_hours: hours(within)?,
        least_hours: least.and_then(hours),
    };
    Some((hours(most), Some(of)))
}

fn means(protocol: &Protocol, phase: &Phase) -> Vec<Means> {
    let means = protocol.means(phase).iter();
    means.map(|means| means.value).collect()
}

fn powers(means: &[Means], way: Way) -> Vec<String> {
    means
        .iter()
        .filter(|means| **means != Means::Passive)
        .filter_map(|means| {
            let found = exchange::exchange(*means, way)?;
            Some(format!(
                "{}: {:.0} W ({:.0} to {:.0}) at 1.81 m²; {}",
                means.word(),
                found.watts.likely,
                found.watts.low,
                found.watts.high,
                found.source
            ))
        })
        .collect()
}

fn rates(means: &[Means], way: Way) -> Vec<String> {
    means
        .iter()
        .flat_map(|means| {
            exchange::published(*means, way).iter().map(move |rate| {
                format!(
                    "{}: {} °C/h ({:.2} to {:.2}); {}",
                    means.word(),
                    rate.mean,
                    rate.low,
                    rate.high,
                    rate.source
                )
            })
        })
        .collect()
}

type Way4 = (Way, f64, f64, Option<f64>);

/// The powers of all means together, at one end of their ranges; `None` where one has none.
fn treatment(
    means: &[Means],
    (way, _, _, cap): Way4,
    area: f64,
    pick: impl Fn(body::Span) -> f64,
) -> Option<Treatment> {
    let sign = match way {
        Way::Cool => -1.0,
        Way::Warm => 1.0,
    };
    let mut all = Treatment {
        cap,
        ..Treatment::default()
    };
    for means in means {
        let found = exchange::exchange(*means, way)?;
        let watts = sign * pick(found.watts) * area / body::MEASURED_ON;
        match found.site {
            Site::Core => all.core_watts += watts,
            Site::Periphery => all.periphery_watts += watts,
        }
    }
    Some(all)
}

fn balance(weight: f64, population: Population, means: &[Means], way: Way4) -> Option<Range> {
    let (direction, from, to, _) = way;
    let body = Body::likely(weight, population);
    let likely = treatment(means, way, body.area, |span| span.likely)?;
    let mut fastest: Option<f64> = None;
    let mut slowest = Some(0.0f64);
    for corner in Body::corners(weight, population) {
        for pick in [|span: body::Span| span.low, |span: body::Span| span.high] {
            let treatment = treatment(means, way, corner.area, pick)?;
            let hours = hours_to(&corner, &treatment, direction, from, to);
            fastest = match (fastest, hours) {
                (Some(known), Some(hours)) => Some(known.min(hours)),
                (known, hours) => known.or(hours),
            };
            slowest = slowest.zip(hours).map(|(known, hours)| known.max(hours));
        }
    }
    Some(Range {
        fastest,
        likely: hours_to(&body, &likely, direction, from, to),
        slowest,
    })
}

fn shivering(
    weight: f64,
    population: Population,
    means: &[Means],
    way: Way4,
) -> Option<Option<f64>> {
    let (direction, from, to, _) = way;
    let body = Body {
        shivering: 2.0,
        ..Body::likely(weight, population)
    };
    let likely = treatment(means, way, body.area, |span| span.likely)?;
    Some(hours_to(&body, &likely, direction, from, to))
}

/// By the published rates: the fastest and the slowest of any study, and the mean of their
/// means; of several means together the rates add up.
fn by_rates(means: &[Means], way: Way, distance: f64, cap: Option<f64>) -> Option<Range> {
    let mut sum = Published {
        low: 0.0,
        mean: 0.0,
        high: 0.0,
        source: "",
    };
    let active: Vec<&Means> = means.iter().filter(|m| **m != Means::Passive).collect();
    if active.is_empty() {
        return None;
    }
    for means in active {
        let studies = exchange::published(*means, way);
        if studies.is_empty() {
            return None;
        }
        let count = studies.len() as f64;
        sum.high += studies.iter().map(|s| s.high).fold(0.0, f64::max);
        sum.low += studies.iter().map(|s| s.low).fold(f64::MAX, f64::min);
        sum.mean += studies.iter().map(|s| s.mean).sum::<f64>() / count;
    }
    let hours = |rate: f64| {
        let rate = cap.map_or(rate, |cap| rate.min(cap));
        (rate > 0.0 && distance / rate <= simulate::LONGEST_HOURS).then(|| distance / rate)
    };
    Some(Range {
        fastest: hours(sum.high),
        likely: hours(sum.mean),
        slowest: hours(sum.low),
    })
}

/// Against both estimates: in doubt, the kinder one.
fn reach(hours: f64, estimates: [Option<Range>; 2]) -> Option<Reach> {
    let in_time = |estimate: Option<f64>| estimate.is_some_and(|estimate| estimate <= hours);
    estimates
        .into_iter()
        .flatten()
        .map(|range| {
            if in_time(range.slowest) {
                Reach::Sure
            } else if in_time(range.likely) {
                Reach::Likely
            } else if in_time(range.fastest) {
                Reach::Unlikely
            } else {
                Reach::OutOfReach
            }
        })
        .max()
}

/// For drawing up estimates only.
fn number(value: Exact) -> Option<f64> {
    let (numerator, denominator) = value.parts()?;
    Some(numerator as f64 / denominator as f64)
}

/// How much heat, as a share of that at rest, the method can still carry off at a
/// temperature that is held; more than that, and the core rises.
pub fn most_shivering(
    means: &[Means],
    weight: f64,
    population: Population,
    held: f64,
) -> Option<f64> {
    let body = Body::likely(weight, population);
    let way = (Way::Cool, held, held, None);
    let all = treatment(means, way, body.area, |span| span.likely)?;
    let periphery = held - body.gap;
    Some((body.loss(periphery) - all.core_watts - all.periphery_watts) / body.heat(held))
}
