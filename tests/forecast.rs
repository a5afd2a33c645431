//! The heat balance against numbers that others have worked out or measured. Where it
//! differs from what was measured, by how much is said in `grammar/FORECAST.md`, line by
//! line, and nothing here is fitted to agree.

#![allow(clippy::expect_used, clippy::panic)]

use tempwright::forecast::body::{self, Body, haycock, mixed, power_for};
use tempwright::forecast::exchange::{Site, exchange, published};
use tempwright::forecast::most_shivering;
use tempwright::forecast::simulate::{Fluid, State, Treatment, hours_to};
use tempwright::model::Way;
use tempwright::model::words::{FixedWord as _, Means, Population};

fn near(ours: f64, theirs: f64, within: f64) {
    assert!((ours - theirs).abs() <= within, "{ours} is not {theirs}");
}

/// Exact consequences of mass × specific heat × rate.
#[test]
fn net_power_for_a_rate() {
    for (mass, heat, watts) in [
        (70.0, 3470.0, 67.47),
        (70.0, 2980.0, 57.94),
        (80.0, 3470.0, 77.11),
        (3.5, 3470.0, 3.374),
        (3.5, 2980.0, 2.897),
    ] {
        near(power_for(mass, heat, 1.0), watts, 0.006);
    }
    // From 37 to 33 °C: 971.6 kJ.
    near(power_for(70.0, 3470.0, 4.0) * 3.6, 971.6, 0.05);
}

/// A textbook's exercise ("Temperature of the person under the influence of this cold
/// water"): 68 kg of 3.6 kJ/kg/°C at 39 °C drink 1 L of water at 3 °C.
#[test]
fn mixing_as_in_a_textbook() {
    near(mixed(68.0, 3600.0, 39.0, 1.0, 3.0), 38.396, 0.0005);
}

/// Haycock 1978 as published calculators have it.
#[test]
fn surface() {
    for (height, mass, area) in [
        (170.0, 70.0, 1.8257),
        (180.0, 80.0, 2.0066),
        (50.0, 3.5, 0.2244),
    ] {
        near(haycock(height, mass), area, 0.0001);
    }
    near(body::area(3.5, Population::Newborn), 0.2244, 0.0001);
}

/// At 34 °C an anaesthetised volunteer makes about 60 kcal/h (69.7 W) and loses about 45
/// kcal/h (52.3 W): Taguchi et al. 2004.
#[test]
fn heat_and_loss_at_34() {
    let body = Body::likely(70.0, Population::Adult);
    near(body.heat(34.0), 69.7, 4.0);
    near(body.loss(32.0) / body.area * body::MEASURED_ON, 52.3, 0.1);
}

/// Cold fluid is deeper in the core at first than by mixing, and then comes back: the shape
/// that Rajek et al. 2000 and Bernard et al. 2003 saw.
#[test]
fn cold_fluid_is_deeper_first_and_rebounds() {
    let body = Body::likely(70.0, Population::Adult);
    let treatment = Treatment {
        fluid: Some(Fluid {
            litres: 2.1,
            celsius: 4.0,
            minutes: 30.0,
        }),
        ..Treatment::default()
    };
    let mut state = State::begin(&body, 35.5);
    let mut course = Vec::new();
    for _ in 0..480 {
        state.step(&body, &treatment);
        course.push(state.core);
    }
    let deepest = course.iter().copied().fold(f64::MAX, f64::min);
    let by_mixing = mixed(70.0, body.specific_heat, 35.5, 2.1, 4.0);
    assert!(deepest < by_mixing - 0.15, "{deepest} {by_mixing}");
    let last = course.last().copied().expect("it ran");
    assert!(last > deepest + 0.2, "{last} {deepest}");
    // 30 mL/kg at 4 °C in half an hour, median from 35.5 to 33.8 (Bernard 2003).
    near(deepest, 33.8, 0.3);
}

struct Seen {
    likely: Option<f64>,
    fastest: f64,
    slowest: Option<f64>,
}

/// The mean rate of the core over a stretch, °C/h, of a body of 70 kg.
fn rate(means: Means, way: Way, from: f64, to: f64) -> Seen {
    let power = exchange(means, way).expect("a power");
    let sign = if way == Way::Cool { -1.0 } else { 1.0 };
    let hours = |body: &Body, watts: f64| {
        let watts = sign * watts * body.area / body::MEASURED_ON;
        let treatment = match power.site {
            Site::Core => Treatment {
                core_watts: watts,
                ..Treatment::default()
            },
            Site::Periphery => Treatment {
                periphery_watts: watts,
                ..Treatment::default()
            },
        };
        hours_to(body, &treatment, way, from, to)
    };
    let all: Vec<Option<f64>> = Body::corners(70.0, Population::Adult)
        .iter()
        .flat_map(|body| [hours(body, power.watts.low), hours(body, power.watts.high)])
        .collect();
    let fastest = all.iter().flatten().copied().fold(f64::MAX, f64::min);
    let slowest = all
        .iter()
        .copied()
        .try_fold(0.0f64, |known, hours| hours.map(|hours| known.max(hours)));
    let speed = |hours: f64| (from - to).abs() / hours;
    Seen {
        likely: hours(&Body::likely(70.0, Population::Adult), power.watts.likely).map(speed),
        fastest: speed(fastest),
        slowest: slowest.map(speed),
    }
}

/// Every published rate of a class beside the estimate, with the deviation.
fn compared() -> Vec<String> {
    let mut rows = Vec::new();
    for (means, way, from, to) in [
        (Means::Esophageal, Way::Cool, 36.0, 34.0),
        (Means::Esophageal, Way::Warm, 34.0, 36.0),
        (Means::Surface, Way::Cool, 36.0, 34.0),
        (Means::Intravascular, Way::Cool, 36.0, 34.0),
        (Means::Immersion, Way::Cool, 41.4, 38.4),
    ] {
        let ours = rate(means, way, from, to);
        let likely = ours.likely.expect("the likely body gets there");
        for theirs in published(means, way) {
            let verb = if way == Way::Cool { "cools" } else { "warms" };
            rows.push(format!(
                "| {} {verb} | {} ({:.2} to {:.2}) | {likely:.2} ({:.2} to {:.2}) | {:+.0} % | {} |",
                means.word(),
                theirs.mean,
                theirs.low,
                theirs.high,
                ours.slowest.unwrap_or(0.0),
                ours.fastest,
                (likely / theirs.mean - 1.0) * 100.0,
                theirs.source
            ));
            // The whole time to target, pauses and all, is another thing than a rate.
            if theirs.source.ends_with("whole time to target") {
                continue;
            }
            let apart = ours.fastest < theirs.low || ours.slowest.unwrap_or(0.0) > theirs.high;
            assert!(
                !apart,
                "the ranges do not meet: {}",
                rows.last().expect("a row")
            );
        }
    }
    rows
}

#[test]
fn published_rates_with_their_deviation() {
    let page = include_str!("../grammar/FORECAST.md");
    let rows = compared();
    let missing: Vec<&String> = rows
        .iter()
        .filter(|row| !page.contains(row.as_str()))
        .collect();
    assert!(
        missing.is_empty(),
        "not in grammar/FORECAST.md:\n{missing:#?}"
    );
}

/// Common practice, no source: by the esophageal route about 2.7 h to target on the mean.
#[test]
fn common_practice_of_the_time_to_target() {
    let ours = rate(Means::Esophageal, Way::Cool, 36.0, 33.0);
    let hours = |rate: f64| 3.0 / rate;
    let fastest = hours(ours.fastest);
    let likely = hours(ours.likely.expect("it gets there"));
    let row = format!(
        "| about 2.7 h | {likely:.1} h ({fastest:.1} h to {}) | {:+.0} % |",
        ours.slowest.map_or_else(
            || "not in 3 days".to_owned(),
            |rate| format!("{:.1} h", hours(rate))
        ),
        (likely / 2.7 - 1.0) * 100.0
    );
    let page = include_str!("../grammar/FORECAST.md");
    assert!(page.contains(&row), "not in grammar/FORECAST.md: {row}");
    assert!(fastest < 2.7 && likely > 2.7, "{row}");
}

/// Common practice, no source: 96 % of maintenance readings within 1 °C by the esophageal
/// route, over courses of 36 h and of more than 72 h. Here the body's heat goes up and down
/// by 30 % over six hours and it shivers at twice its heat for 40 min in every eight hours;
/// the exchanger gives what it can towards the target, and hourly readings are off by up to
/// the accuracy of a thermometer, 0.2 °C.
#[test]
fn common_practice_of_the_maintenance() {
    let power = exchange(Means::Esophageal, Way::Cool)
        .expect("a power")
        .watts
        .likely;
    let warms = exchange(Means::Esophageal, Way::Warm)
        .expect("a power")
        .watts
        .likely;
    let share = |hours: u32| {
        let mut body = Body::likely(70.0, Population::Adult);
        let mut state = State::begin(&body, 33.0);
        let (mut within, mut all) = (0u32, 0u32);
        for step in 0..hours * 120 {
            let minute = f64::from(step) / 2.0;
            let shivers = minute % 480.0 >= 440.0;
            let swing = 1.0 + 0.3 * (minute / 360.0 * std::f64::consts::TAU).sin();
            body.shivering = if shivers { 2.0 } else { swing };
            let wanted = (33.0 - state.core) * 400.0;
            let treatment = Treatment {
                core_watts: wanted.clamp(-power, warms),
                ..Treatment::default()
            };
            state.step(&body, &treatment);
            if step % 120 == 119 {
                let off = [0.2, -0.1, 0.0, 0.1, -0.2][(step / 120 % 5) as usize];
                all += 1;
                within += u32::from((state.core + off - 33.0).abs() <= 1.0);
            }
        }
        f64::from(within) / f64::from(all) * 100.0
    };
    let row = format!(
        "| 96 % | {:.0} % over 36 h, {:.0} % over 74 h |",
        share(36),
        share(74)
    );
    let page = include_str!("../grammar/FORECAST.md");
    assert!(page.contains(&row), "not in grammar/FORECAST.md: {row}");
    // More than this much of the heat at rest, and the core rises.
    let most =
        most_shivering(&[Means::Esophageal], 70.0, Population::Adult, 33.0).expect("a power");
    assert!((1.2..2.5).contains(&most), "{most}");
}

/// `due within 30 min of recognition`: what is left of it when the bath begins.
#[test]
fn a_time_that_counts_from_a_mark_is_judged_by_what_is_left_of_it() {
    use tempwright::forecast::{Reach, Wanted, forecast, report};
    use tempwright::plan::Case;
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("protocols");
    let text = std::fs::read_to_string(root.join("heat-stroke.protocol")).expect("the demo");
    let mut library =
        tempwright::source::MemoryLibrary::default().with("heat-stroke.protocol", &text);
    for entry in std::fs::read_dir(root.join("shared")).expect("shared") {
        let path = entry.expect("an entry").path();
        let name = format!(
            "shared/{}",
            path.file_name().expect("a name").to_string_lossy()
        );
        library = library.with(&name, &std::fs::read_to_string(&path).expect("text"));
    }
    let loaded = tempwright::model::load(&library, &["heat-stroke.protocol"]).expect("read");
    let protocol = &loaded.protocols.first().expect("no errors").1;
    let of = |minutes_before: Option<i64>| {
        let mut case = Case::default();
        if let Some(minutes) = minutes_before {
            let (mark, _) = protocol
                .marks()
                .find(|(_, mark)| mark.name.name == "recognition")
                .expect("the mark");
            case.marks
                .insert(mark, tempwright::quantity::Exact::int(-minutes));
        }
        forecast(
            protocol,
            &Wanted {
                weight: Some(82.0),
                from: Some(41.0),
                case,
            },
        )
    };
    let judged = |minutes_before| {
        let forecast = of(minutes_before);
        let phase = &forecast.phases[0];
        (phase.due_hours, phase.estimates[0].due)
    };
    // By the published rates 11 min are likely, 8 to 22 min.
    assert_eq!(judged(Some(0)), (Some(0.5), Some(Reach::Sure)));
    assert_eq!(judged(Some(12)), (Some(0.3), Some(Reach::Likely)));
    assert_eq!(judged(Some(20)).1, Some(Reach::Unlikely));
    assert_eq!(judged(Some(28)).1, Some(Reach::OutOfReach));
    assert_eq!(judged(Some(45)).1, Some(Reach::OutOfReach));
    assert!(
        report(&of(Some(12)))
            .contains("30 min of recognition, of which 18 min is left when the phase begins")
    );
    assert!(report(&of(Some(45))).contains("of which nothing is left"));
    // Without the mark it is judged all the same, and said how.
    assert!(judged(None).1.is_some());
    assert!(report(&of(None)).contains("due within 30 min of recognition"));
}
