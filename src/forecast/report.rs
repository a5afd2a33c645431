//! A forecast as plain text.

use super::body::Span;
use super::{DueOf, Forecast, PhaseForecast, Range, Reach, body};
use std::fmt::Write;

pub fn report(forecast: &Forecast) -> String {
    let mut out = String::new();
    line(
        &mut out,
        &format!(
            "{} {}: an ESTIMATE of what this class of method can do, never a prediction for a patient",
            forecast.protocol, forecast.version
        ),
    );
    if forecast.phases.is_empty() {
        line(
            &mut out,
            "  no phase cools or warms a body temperature from a known beginning, so there is nothing to estimate",
        );
    }
    for phase in &forecast.phases {
        tell(&mut out, phase);
    }
    line(&mut out, "\nAssumptions");
    let span = |span: Span| format!("{} to {}", span.low, span.high);
    for text in [
        format!(
            "two compartments; specific heat {} J/kg/°C, core {} of the mass",
            span(body::SPECIFIC_HEAT),
            span(body::CORE_SHARE)
        ),
        format!(
            "heat at rest {} W/m² at 37 °C, 7 % less for each °C below; no shivering, but where it is said",
            span(body::HEAT_AT_REST)
        ),
        format!(
            "{} W/m²/°C from core to periphery, {:.1} W/m²/°C from there to a room at {} °C, no covers on and no fever",
            span(body::CONDUCTANCE),
            body::LOSS,
            body::ROOM
        ),
        format!(
            "the periphery is {} °C colder than the core at the start",
            span(body::GAP)
        ),
        "the method works at its full power from the first minute, until the core is there"
            .to_owned(),
        "powers were measured on adults; a smaller body has them by its surface".to_owned(),
        "the range is that of every choice of these ends together; a patient can lie outside it"
            .to_owned(),
        "sources: the language reference's companion page, FORECAST.md".to_owned(),
    ] {
        line(&mut out, &format!("  - {text}"));
    }
    out
}

fn tell(out: &mut String, phase: &PhaseForecast) {
    let verb = if phase.warms { "warms" } else { "cools" };
    line(
        out,
        &format!(
            "\n{} {verb} from {:.1} °C to {:.1} °C, {}",
            phase.phase,
            phase.from,
            phase.to,
            phase.by.join(" and ")
        ),
    );
    for estimate in &phase.estimates {
        let weight = format!("{} kg", estimate.weight);
        match &estimate.balance {
            Some(range) => line(
                out,
                &format!("  {weight:<8} heat balance     {}", words(range)),
            ),
            None => line(
                out,
                &format!(
                    "  {weight:<8} heat balance     none: no power was found for {} that could be cited",
                    phase.without_power.join(", ")
                ),
            ),
        }
        if let Some(hours) = estimate.shivering {
            line(
                out,
                &format!(
                    "           if shivering     {}, at twice the heat at rest",
                    time(hours)
                ),
            );
        }
    }
    match &phase.published {
        Some(range) => line(
            out,
            &format!("  any      published rates  {}", words(range)),
        ),
        None => line(out, "  any      published rates  none for this method"),
    }
    if let Some(cap) = phase.cap {
        line(
            out,
            &format!("  never faster than {cap} °C/h, which is kept to"),
        );
    }
    for (what, hours, reach) in [
        (
            "due within",
            phase.due_hours,
            phase.estimates.iter().map(|e| e.due).collect::<Vec<_>>(),
        ),
        (
            "planned course of",
            phase.course_hours,
            phase.estimates.iter().map(|e| e.course).collect(),
        ),
    ] {
        let Some(hours) = hours else { continue };
        let when = match (&phase.due_of, what) {
            (Some(of), "due within") => due_of(of, hours),
            _ => time(Some(hours)),
        };
        for (estimate, reach) in phase.estimates.iter().zip(reach) {
            let said = match reach {
                None => "cannot be judged",
                Some(Reach::OutOfReach) => "OUT OF REACH even of the fastest estimate",
                Some(Reach::Unlikely) => "unlikely: only a fast course is in time",
                Some(Reach::Likely) => "within reach of the likely course, not of a slow one",
                Some(Reach::Sure) => "within reach even of the slowest estimate",
            };
            line(
                out,
                &format!("  {what} {when}, {} kg: {said}", estimate.weight),
            );
        }
    }
    for text in phase.powers.iter().chain(&phase.rates) {
        line(out, &format!("    {text}"));
    }
}

/// What is left of a time that counts from a mark, when the phase begins.
fn due_of(of: &DueOf, most: f64) -> String {
    let within = format!("{} of {}", time(Some(of.within_hours)), of.mark);
    let left = |hours: f64| {
        if hours <= 0.0 {
            "nothing".to_owned()
        } else {
            time(Some(hours))
        }
    };
    match of.least_hours {
        Some(least) if (most - least).abs() < 1e-9 => {
            format!(
                "{within}, of which {} is left when the phase begins",
                left(most)
            )
        }
        Some(least) => format!(
            "{within}, of which {} to {} is left when the phase begins; judged by {}",
            left(least),
            left(most),
            left(most)
        ),
        None => format!(
            "{within}; judged as if {} were the beginning of the phase, since nothing says how long before it is (--start and --mark do)",
            of.mark
        ),
    }
}

fn words(range: &Range) -> String {
    format!(
        "{} likely, {} to {}",
        time(range.likely),
        time(range.fastest),
        time(range.slowest)
    )
}

fn time(hours: Option<f64>) -> String {
    match hours {
        None => "not in 3 days".to_owned(),
        // The numbers are no better than that.
        Some(hours) if hours < 2.0 => format!("{:.0} min", hours * 60.0),
        Some(hours) => format!("{hours:.1} h"),
    }
}

fn line(out: &mut String, text: &str) {
    // Writing into a string does not fail.
    let _ = writeln!(out, "{text}");
}
