//! Due sooner than the class of method is likely to manage.

use super::super::words::{name, time};
use super::super::{Check, Context, Family, Run};
use crate::diag::{Diagnostic, Level};
use crate::forecast::{PhaseForecast, Range, Reach, Wanted, late_by_rates, phase};
use crate::quantity::Exact;

pub const CHECK: Check = Check {
    name: "due-unlikely",
    family: Family::Timeline,
    level: Level::Note,
    since: "0.1.0",
    summary: "a phase is due sooner than its method is likely to manage",
    catches: "A `due within` that no estimate reaches from the farthest start that the protocol allows: neither a \
              heat balance of the lightest patient allowed, with every constant at its kindest end, nor the fastest \
              rate that was published for the class of method. It is an estimate, so it is never more than a note, \
              and a method without a power or a rate to cite is not judged. `tempwright forecast` shows the numbers.",
    why: "A time that the method cannot keep makes every case late: the nurse stops taking `overdue` seriously, and \
          the call that it orders comes when nothing is wrong.",
    fires: "\
# without rule cooling-too-fast
phase cool \"Cool to target\" {
  cool core to 33.0 °C
  due within 45 min
}
",
    passes: "\
phase cool \"Cool to target\" {
  cool core to 33.0 °C
  due within 4 h
}
",
    source: "heat balance; Kalasbail 2018, Hoedemaekers 2007, De Fazio 2019, DeMartini 2015 and others, see `tempwright forecast`",
    run: Run::Over(run),
};

fn run(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let mut found = Vec::new();
    for (id, stated) in protocol.phases() {
        let Some(due) = stated.due.as_ref().filter(|due| due.of.is_none()) else {
            continue;
        };
        // Both opinions are needed to say no, and this one is had at once.
        if !late_by_rates(protocol, id) {
            continue;
        }
        let Some(estimate) = phase(protocol, id, &Wanted::default()) else {
            continue;
        };
        // What the cap forbids is `due-impossible`, and needs no estimate.
        let by_cap = estimate
            .cap
            .map(|cap| (estimate.from - estimate.to).abs() / cap);
        if by_cap
            .zip(estimate.due_hours)
            .is_some_and(|(needs, due)| needs > due)
        {
            continue;
        }
        // For every weight.
        let judged = !estimate.estimates.is_empty()
            && estimate.published.is_some()
            && estimate
                .estimates
                .iter()
                .all(|each| each.balance.is_some() && each.due == Some(Reach::OutOfReach));
        if !judged {
            continue;
        }
        found.push(
            CHECK
                .found(
                    due.span,
                    format!("{} is due sooner than its method is likely to manage", name(&stated.name)),
                )
                .here(format!("{}, from {:.1} °C to {:.1} °C", due.within, estimate.from, estimate.to))
                .why("every case is late, and `overdue` is no longer taken seriously")
                .also(stated.aim_span, said(&estimate))
                .help(format!(
                    "allow {} or more, begin nearer to the target, or name a method that moves more heat",
                    soonest(&estimate)
                ))
                .about(&stated.name.name),
        );
    }
    found
}

fn said(estimate: &PhaseForecast) -> String {
    let range = |range: &Range| {
        format!(
            "{} likely, {} at the fastest",
            hours(range.likely),
            hours(range.fastest)
        )
    };
    let each: Vec<String> = estimate
        .estimates
        .iter()
        .filter_map(|each| {
            Some(format!(
                "at {} kg {}",
                each.weight,
                range(each.balance.as_ref()?)
            ))
        })
        .collect();
    format!(
        "an estimate, no prediction for a patient: by heat balance {}; by published rates {}",
        each.join(", "),
        estimate.published.as_ref().map_or_else(String::new, range)
    )
}

/// The fastest of all, up to a quarter of an hour.
fn soonest(estimate: &PhaseForecast) -> String {
    let fastest = estimate
        .estimates
        .iter()
        .filter_map(|each| each.balance?.fastest)
        .chain(estimate.published.and_then(|range| range.fastest))
        .fold(f64::MAX, f64::min);
    // A number of hours within three days.
    let quarters = (fastest * 4.0).ceil().clamp(1.0, 1000.0) as i64;
    time(Exact::int(quarters * 15))
}

fn hours(hours: Option<f64>) -> String {
    hours.map_or_else(
        || "not in 3 days".to_owned(),
        |hours| {
            if hours < 2.0 {
                format!("{:.0} min", hours * 60.0)
            } else {
                format!("{hours:.1} h")
            }
        },
    )
}
