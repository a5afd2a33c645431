//! The words that begin a statement, by the place where it stands, and how each
//! statement reads.

use super::Place;

/// The words that begin a statement or a block, by the place where they stand.
pub(super) const FIRST_WORDS: &[(Place, &[&str])] = &[
    (Place::File, &["protocol", "library", "scenario"]),
    (
        Place::Protocol,
        &[
            "title",
            "unit",
            "version",
            "review",
            "purpose",
            "patients",
            "method",
            "timezone",
            "guideline",
            "start",
            "shifts",
            "workload",
            "show",
            "approved",
            "use",
            "cite",
            "let",
            "mark",
            "include",
            "exclude",
            "caution",
            "limit",
            "reading",
            "every",
            "at",
            "accept",
            "measure",
            "people",
            "phase",
            "rule",
            "ladder",
            "checklist",
            "medication",
        ],
    ),
    (
        Place::Library,
        &[
            "title",
            "version",
            "review",
            "use",
            "cite",
            "let",
            "mark",
            "include",
            "exclude",
            "caution",
            "limit",
            "reading",
            "every",
            "at",
            "people",
            "phase",
            "rule",
            "ladder",
            "checklist",
            "medication",
        ],
    ),
    (Place::People, &[]),
    (
        Place::Phase,
        &[
            "cool", "warm", "hold", "keep", "lasts", "ends", "by", "never", "at", "due", "target",
        ],
    ),
    (
        Place::Rule,
        &["when", "then", "ready", "again", "overrides"],
    ),
    (Place::Ladder, &["rung", "step"]),
    (
        Place::Rung,
        &[
            "record", "score", "test", "follow", "call", "do", "continue", "begin", "set", "raise",
            "lower", "keep", "pause", "stop", "give", "withhold", "recheck",
        ],
    ),
    (Place::Checklist, &["step"]),
    (
        Place::Medication,
        &[
            "class",
            "dose",
            "infuse",
            "concentration",
            "rounded",
            "ceiling",
            "only",
            "avoid",
        ],
    ),
    (Place::Scenario, &["given", "at", "from", "expect"]),
];

/// Whether a statement that begins so stands in a protocol and cannot stand in the
/// block of that word. In `people` any word may be a name.
pub(super) fn only_in_a_protocol(word: &str, block: &str) -> bool {
    match Place::inside(block) {
        None | Some(Place::Protocol | Place::Library | Place::People | Place::Scenario) => false,
        Some(place) => {
            first_words(Place::Protocol).contains(&word) && !first_words(place).contains(&word)
        }
    }
}

/// The words that can begin a line in a place.
pub(crate) fn first_words(place: Place) -> &'static [&'static str] {
    FIRST_WORDS
        .iter()
        .find(|(of, _)| *of == place)
        .map_or(&[], |(_, words)| words)
}

/// How a statement with this first word reads.
pub(crate) fn pattern(word: &str, place: Place) -> &'static str {
    match (word, place) {
        ("at", Place::Phase) => "`at least 0.5 °C/h`",
        ("at", Place::Scenario) => "`at 3:00 core 33.0 °C, water 14.0 °C`",
        ("step", Place::Checklist) => {
            "`step \"Mark the depth\", record depth in cm, two people, covers depth`"
        }
        ("protocol", _) => "`protocol adult-arrest-33 { … }`",
        ("library", _) => "`library shivering { … }`",
        ("scenario", _) => "`scenario \"Water stays cold\" for adult-arrest-33 { … }`",
        (
            "title" | "unit" | "timezone" | "use" | "include" | "exclude" | "caution" | "avoid",
            _,
        ) => "the word, then a text in quotes",
        ("version", _) => "`version 2.1.0`",
        ("review", _) => "`review 2027-06-30`",
        ("purpose", _) => "`purpose therapeutic-hypothermia after cardiac-arrest`",
        ("patients", _) => {
            "`patients adult, weight 40 kg to 140 kg, core 33.0 °C to 37.5 °C on arrival`"
        }
        ("method", _) => "`method esophageal feedback from core`",
        ("guideline", _) => "`guideline erc-2022`",
        ("start", _) => "`start within 6 h of rosc`",
        ("shifts", _) => "`shifts 07:30, 19:30`",
        ("workload", _) => "`workload 20 entries per hour`",
        ("show", _) => "`show °C and °F`",
        ("approved", _) => "`approved by \"Dr …\" on 2026-05-01 as \"fingerprint\"`",
        ("cite", _) => "`cite ttm2-2021 \"Dankiewicz J, et al. N Engl J Med 2021;384:2283-2294\"`",
        ("let", _) => "`let goal = 33.0 °C`",
        ("mark", _) => "`mark rosc \"Return of spontaneous circulation\"`",
        ("limit", _) => "`limit potassium never below 3.0 mmol/L`",
        ("reading", _) => {
            "`reading core \"Core temperature\" temperature at bladder, continuous, shown to 0.1 °C, accurate to 0.2 °C`"
        }
        ("every", _) => "`every 1 h record core during hold, guard`",
        ("at", _) => "`at 4 h before rewarm.start do \"Stop potassium replacement\"`",
        ("accept", _) => "`accept FINDING on NAME because \"…\" by \"…\" until 2027-01-31`",
        ("measure", _) => {
            "`measure in-band \"Time in the band\" share of time when core within 0.5 °C of target during hold, goal at least 95 %`"
        }
        ("people", _) => "`people { … }`",
        ("phase", _) => "`phase hold \"Hold at target\" { … }`",
        ("rule", _) => "`rule too-cold { … }`",
        ("ladder", _) => "`ladder shivering-steps \"Shivering\" on shiver { … }`",
        ("checklist", _) => "`checklist placing \"Placing\" at placing { … }`",
        ("medication", _) => "`medication magnesium \"Magnesium sulfate\" { … }`",
        ("cool" | "warm", _) => "`warm core from 33.0 °C to 36.5 °C within 0.2 °C at 0.25 °C/h`",
        ("hold", _) => "`hold core at 33.0 °C within 0.5 °C`",
        ("keep", Place::Phase) => "`keep core 36.0 °C to 37.7 °C`",
        ("keep", _) => "`keep target here until core at or above 33.0 °C`",
        ("lasts", _) => "`lasts 24 h`",
        ("ends", _) => {
            "`ends 72 h after rosc`, or `ends when core at or above 36.0 °C, plan for 4 h to 8 h`"
        }
        ("by", _) => "`by surface, cold-fluids`",
        ("never", _) => "`never faster than 0.5 °C/h`",
        ("due", _) => "`due within 4 h`",
        ("target", _) => "`target moves every 1 h in steps of 0.1 °C`",
        ("when", _) => "`when core below 32.5 °C for 30 min during hold`",
        ("then", _) => "`then call intensivist within 15 min`",
        ("ready", _) => "`ready again when core at or above 32.8 °C`",
        ("again", _) => "`again after 1 h`",
        ("overrides", _) => "`overrides too-cold, warming-too-fast`",
        ("rung", _) => "`rung 2 to 3 \"Moderate or severe\" { … }`",
        ("step", _) => "`step \"Warm the skin\" { … }`",
        ("recheck", _) => "`recheck in 30 min`",
        ("call", _) => "`call consultant now`, or `call consultant within 15 min`",
        ("do", _) => "`do \"Warm the hands and feet\"`",
        ("give", _) => "`give magnesium otherwise call consultant now`",
        ("pause", _) => "`pause temperature control until core at or above 32.8 °C`",
        ("record" | "score" | "test", _) => "`score shiver now`, or `test potassium in 30 min`",
        ("set", _) => "`set target 33.0 °C`, or `set rate 0.25 °C/h`",
        ("raise" | "lower", _) => "`lower target by 0.5 °C, at least 32.0 °C`, or `raise propofol`",
        ("withhold", _) => "`withhold potassium-chloride until potassium at or below 4.0 mmol/L`",
        ("stop", _) => "`stop temperature control`, or `stop propofol`",
        ("follow", _) => "`follow shivering-steps`",
        ("begin", _) => "`begin rewarm`",
        ("continue", _) => "`continue`",
        ("class", _) => "`class sedative`",
        ("dose", _) => "`dose 2 g iv over 30 min, not again within 6 h`",
        ("infuse", _) => {
            "`infuse 0.2 mcg/kg/h to 0.7 mcg/kg/h, steps of 0.1 mcg/kg/h every 30 min`"
        }
        ("concentration", _) => "`concentration 4 mcg/mL`",
        ("rounded", _) => "`rounded to 0.1 mL/h`",
        ("ceiling", _) => "`ceiling 4 g per 24 h`",
        ("only", _) => "`only with propofol`",
        ("given", _) => {
            "`given weight 82 kg`, `given start 2026-10-25 01:30`, or `given rosc 2 h before start`"
        }
        ("from", _) => "`from 4:00 to 6:00 every 30 min core 33.0 °C`",
        ("expect", _) => "`expect cold-water at 5:00`, or `expect no too-cold`",
        _ => "see the language reference",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_first_word_has_a_pattern() {
        for (place, words) in FIRST_WORDS {
            for word in *words {
                assert_ne!(
                    pattern(word, *place),
                    "see the language reference",
                    "{word} {place:?}"
                );
            }
        }
    }
}
