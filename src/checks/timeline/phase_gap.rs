//! A phase begins at a temperature at which the one before cannot end.

use super::super::facts::{Band, band_kept};
use super::super::words::{celsius, name};
use super::super::{Check, Context, Family, Run, timing};
use crate::diag::{Diagnostic, Level};
use crate::model::*;
use crate::quantity::Exact;

pub const CHECK: Check = Check {
    name: "phase-gap",
    family: Family::Timeline,
    level: Level::Error,
    since: "0.1.0",
    summary: "a phase begins where the one before it cannot have ended",
    catches: "A `from`, a value to hold or a range to keep that lies apart from where the phase before it ends; and a \
              first phase that cools, warms or holds while the heading does not say within which range patients \
              arrive. Phases on different readings are not compared.",
    why: "Between the two temperatures there is no instruction: the nurse holds a sheet that begins somewhere else.",
    fires: "\
phase rewarm \"Rewarm slowly\" {
  warm core from 34.0 °C to 36.5 °C within 0.5 °C at 0.25 °C/h
  never faster than 0.5 °C/h
  target moves every 1 h in steps of 0.1 °C
}
",
    passes: "\
phase rewarm \"Rewarm slowly\" {
  warm core from 33.0 °C to 36.5 °C within 0.5 °C at 0.25 °C/h
  never faster than 0.5 °C/h
  target moves every 1 h in steps of 0.1 °C
}
",
    source: "structural",
    run: Run::Over(run),
};

impl Band {
    fn apart(self, other: Band) -> bool {
        let below = |high: Option<Exact>, low: Option<Exact>| {
            high.zip(low).is_some_and(|(high, low)| high < low)
        };
        below(self.high, other.low) || below(other.high, self.low)
    }

    fn words(self) -> String {
        match (self.low, self.high) {
            (Some(low), Some(high)) if low == high => celsius(low),
            (Some(low), Some(high)) => format!("{} to {}", celsius(low), celsius(high)),
            (Some(low), None) => format!("at or above {}", celsius(low)),
            (None, Some(high)) => format!("at or below {}", celsius(high)),
            (None, None) => "anywhere".to_owned(),
        }
    }
}

fn run(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let mut found = Vec::new();
    let phases: Vec<(PhaseId, &Phase)> = protocol.phases().collect();
    for pair in phases.windows(2) {
        let [(_, before), (_, after)] = pair else {
            continue;
        };
        if before.aim.reading() != after.aim.reading() {
            continue;
        }
        let (ended, begins) = (end_of(before), beginning_of(after));
        if ended.apart(begins) {
            found.push(
                CHECK
                    .found(
                        after.aim_span,
                        format!(
                            "{} begins at {}, but {} ends at {}",
                            name(&after.name),
                            begins.words(),
                            name(&before.name),
                            ended.words()
                        ),
                    )
                    .here("begins here")
                    .also(before.aim_span, "ends here")
                    .why("between the two temperatures the sheet gives no instruction")
                    .help(format!(
                        "let {} begin at {}, or put a phase that cools or warms between the two",
                        name(&after.name),
                        ended.words()
                    ))
                    .about(&after.name.name),
            );
        }
    }
    if let Some((_, first)) = phases.first() {
        found.extend(first_phase(protocol, first));
    }
    found
}

fn first_phase(protocol: &Protocol, first: &Phase) -> Option<Diagnostic> {
    if matches!(first.aim, Aim::Keep { .. }) {
        return None;
    }
    let reading = first.aim.reading();
    let arrival = timing::arrival(protocol, reading);
    let reading = &protocol[reading].name;
    let Some(range) = arrival else {
        return Some(
            Diagnostic::warning(
                CHECK.name,
                first.aim_span,
                format!(
                    "{} is the first phase, and nothing says at which `{}` patients arrive",
                    name(&first.name),
                    reading.name
                ),
            )
            .also(protocol.head.patients.span, "the patients are described here")
            .why("without it no plan can say how long this phase takes, and the sheet can print no time for it")
            .help(format!(
                "write the range in `patients`: `{} 33.0 °C to 37.5 °C on arrival`, with this unit's own values",
                reading.name
            ))
            .source(CHECK.source)
            .about(&first.name.name),
        );
    };
    let arrives = Band {
        low: Some(range.low.value),
        high: Some(range.high.value),
    };
    let begins = beginning_of(first);
    // To be cooled or warmed to a value is what the phase is for.
    let is_reach = matches!(first.aim, Aim::Reach { .. });
    (is_reach && arrives.apart(begins)).then(|| {
        CHECK
            .found(
                first.aim_span,
                format!(
                    "{} begins at {}, but patients arrive at {}",
                    name(&first.name),
                    begins.words(),
                    arrives.words()
                ),
            )
            .also(range.span, "the range on arrival")
            .why("no patient of this protocol is where its first phase begins")
            .help("leave out `from`, so that the phase begins where the patient is")
            .about(&first.name.name)
    })
}

fn end_of(phase: &Phase) -> Band {
    match &phase.aim {
        Aim::Reach {
            way, to, within, ..
        } => {
            let short = within.as_ref().map_or(Exact::ZERO, |within| within.value);
            match way {
                Way::Cool => Band {
                    low: Some(to.value),
                    high: Some(to.value + short),
                },
                Way::Warm => Band {
                    low: Some(to.value - short),
                    high: Some(to.value),
                },
            }
        }
        Aim::Hold { .. } | Aim::Keep { .. } => band_kept(&phase.aim),
    }
}

fn beginning_of(phase: &Phase) -> Band {
    match &phase.aim {
        Aim::Reach { from, .. } => {
            let from = from.as_ref().map(|from| from.value);
            Band {
                low: from,
                high: from,
            }
        }
        Aim::Hold { .. } | Aim::Keep { .. } => band_kept(&phase.aim),
    }
}
