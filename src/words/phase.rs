//! What a phase aims at, how fast it may go, and how it ends.

use super::{Words, listed};
use crate::model::words::Means;
use crate::model::{Aim, Due, End, EndTrigger, Phase, PhaseId, Planned, Way};

impl Words<'_> {
    /// The aim: `cool **Core temperature** to 33.0 °C`.
    pub fn aim(&self, phase: &Phase) -> String {
        let reading = self.reading_marked(phase.aim.reading());
        match &phase.aim {
            Aim::Hold { at, within, .. } => format!(
                "hold {reading} at {} ± {}",
                self.both(at),
                self.both(within)
            ),
            Aim::Keep { low, high, .. } => match (low, high) {
                (Some(low), Some(high)) => format!(
                    "keep {reading} at {} to {}",
                    self.both(low),
                    self.both(high)
                ),
                (Some(low), None) => format!("keep {reading} at or above {}", self.both(low)),
                (None, Some(high)) => format!("keep {reading} at or below {}", self.both(high)),
                (None, None) => format!("keep {reading}"),
            },
            Aim::Reach {
                way,
                from,
                to,
                within,
                rate,
                ..
            } => {
                let verb = match way {
                    Way::Cool => "cool",
                    Way::Warm => "warm",
                };
                let mut words = format!("{verb} {reading}");
                if let Some(from) = from {
                    words.push_str(&format!(" from {}", self.both(from)));
                }
                words.push_str(&format!(" to {}", self.both(to)));
                if let Some(within) = within {
                    words.push_str(&format!(" (at most {} short of it)", self.both(within)));
                }
                if let Some(rate) = rate {
                    words.push_str(&match &rate.second {
                        None => format!(" at {}", self.both(&rate.first)),
                        Some(_) => format!(
                            " at {} to {}",
                            self.both(rate.slower()),
                            self.both(rate.faster())
                        ),
                    });
                }
                words
            }
        }
    }

    /// Caps, steps and means, one line each.
    pub fn pace(&self, phase: &Phase) -> Vec<String> {
        let mut lines = Vec::new();
        if let Some(cap) = &phase.never_faster {
            lines.push(format!("never faster than **{}**", self.both(cap)));
        }
        if let Some(least) = &phase.at_least {
            lines.push(format!("at least {}", self.both(least)));
        }
        if let Some(steps) = &phase.steps {
            lines.push(format!(
                "the target moves every {} in steps of {}",
                steps.every,
                self.both(&steps.step)
            ));
        }
        if !phase.by.is_empty() {
            let means: Vec<String> = phase
                .by
                .iter()
                .map(|at| means(at.value).to_string())
                .collect();
            lines.push(listed(&means, "and"));
        }
        lines
    }

    /// How a phase ends, in a sentence without its subject.
    pub fn end(&self, phase: &Phase, id: PhaseId) -> String {
        match &phase.end {
            End::Reached => "ends when the target is reached".to_string(),
            End::Lasts(duration) => format!("lasts {duration}"),
            End::After { after, mark } => format!("ends {after} after {}", self.mark(mark.value)),
            End::Awaited {
                trigger,
                plan,
                at_least,
                at_most,
            } => {
                let mut words = match trigger {
                    EndTrigger::Mark(mark) => format!("ends at: {}", self.mark(mark.value)),
                    EndTrigger::When(cond) => {
                        format!("ends when {}", self.condition(cond, &[id]))
                    }
                };
                if let Some(least) = at_least {
                    words.push_str(&format!(", not before {least}"));
                }
                if let Some(most) = at_most {
                    words.push_str(&format!(", at the latest after {most}"));
                }
                words.push_str(&format!(" (planned for {})", planned(plan)));
                words
            }
        }
    }

    /// `due within 4 h`, counted from where it says.
    pub fn due(&self, due: &Due) -> String {
        match &due.of {
            None => format!("due within {} of its beginning", due.within),
            Some(mark) => format!("due within {} of {}", due.within, self.mark(mark.value)),
        }
    }
}

/// How it is done, as it stands after the aim.
fn means(means: Means) -> &'static str {
    match means {
        Means::Esophageal => "by an exchanger in the esophagus",
        Means::Surface => "by pads or blankets on the skin",
        Means::Intravascular => "by a catheter in a vessel",
        Means::Immersion => "by immersion in water",
        Means::Evaporative => "by wetting and fanning",
        Means::IcePacks => "by ice packs",
        Means::ColdFluids => "by cold fluids",
        Means::ForcedAir => "by forced air",
        Means::WarmFluids => "by warm fluids",
        Means::Lavage => "by lavage",
        Means::Extracorporeal => "by a circuit outside the body",
        Means::Passive => "with no active cooling or warming",
    }
}

fn planned(plan: &Planned) -> String {
    match &plan.last {
        None => plan.first.to_string(),
        Some(last) => format!("{} to {last}", plan.first),
    }
}
