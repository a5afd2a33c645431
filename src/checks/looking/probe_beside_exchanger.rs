//! The control temperature is measured where the exchanger sits.

use super::super::words::{self, name};
use super::super::{Check, Context, Family, Run};
use crate::diag::{Diagnostic, Level};
use crate::model::words::{FixedWord, Means, Site};
use crate::model::*;
use std::collections::BTreeMap;

pub const CHECK: Check = Check {
    name: "probe-beside-exchanger",
    family: Family::Looking,
    level: Level::Error,
    since: "0.1.0",
    summary: "the temperature that steers the treatment is measured beside the exchanger",
    catches: "A control reading at the place where the means of the phase gives or takes heat: esophageal with the \
              esophagus; surface, forced air, ice packs, immersion and evaporation with skin, armpit and forehead; \
              intravascular and extracorporeal with the pulmonary artery; lavage with the bladder or esophagus.",
    why: "The probe then shows the exchanger and not the patient: the device stops early, or goes on while the patient \
          overcools.",
    fires: "\
method intravascular feedback from core
reading core \"Core temperature\" temperature at pulmonary-artery, continuous, shown to 0.1 °C, accurate to 0.2 °C
",
    passes: "\
method intravascular feedback from core
",
    source: "common practice, no source",
    run: Run::Over(run),
};

fn run(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let mut beside: BTreeMap<(ReadingId, Means), Vec<PhaseId>> = BTreeMap::new();
    for (id, phase) in protocol.phases() {
        let feedback = protocol
            .head
            .method
            .feedback
            .as_ref()
            .map(|feedback| feedback.value);
        let mut steering = vec![phase.aim.reading()];
        steering.extend(feedback.filter(|feedback| *feedback != phase.aim.reading()));
        for reading in steering {
            let ReadingKind::Body(site) = &protocol[reading].kind else {
                continue;
            };
            for means in protocol.means(phase) {
                if sits_at(means.value).contains(&site.value) {
                    beside.entry((reading, means.value)).or_default().push(id);
                }
            }
        }
    }
    beside
        .into_iter()
        .map(|((reading, means), phases)| {
            let about = &protocol[reading];
            let (site, span) = match &about.kind {
                ReadingKind::Body(site) => (site.value.word(), site.span),
                _ => ("", about.span),
            };
            CHECK
                .found(
                    span,
                    format!(
                        "{} steers the treatment and is measured where the exchanger is",
                        name(&about.name)
                    ),
                )
                .here(format!("{site}, beside the {} exchanger", means.word()))
                .also(
                    protocol.head.method.span,
                    format!("in {}", words::phases(protocol, &phases)),
                )
                .why("the probe shows the exchanger and not the patient, who may be much colder or warmer")
                .help("steer by a core temperature at another place, and keep this one as a second reading if need be")
                .about(&about.name.name)
        })
        .collect()
}

/// Where a means gives or takes heat.
fn sits_at(means: Means) -> &'static [Site] {
    match means {
        Means::Esophageal => &[Site::Esophagus],
        Means::Surface
        | Means::ForcedAir
        | Means::IcePacks
        | Means::Immersion
        | Means::Evaporative => &[Site::Skin, Site::Armpit, Site::Forehead],
        Means::Intravascular | Means::Extracorporeal => &[Site::PulmonaryArtery],
        Means::Lavage => &[Site::Bladder, Site::Esophagus],
        Means::ColdFluids | Means::WarmFluids | Means::Passive => &[],
    }
}
