//! The published lists of error-prone abbreviations and dose designations.
//!
//! Takes a text; gives what in it stands on one of the lists. Sources: Institute
//! for Safe Medication Practices, List of Error-Prone Abbreviations, Symbols, and
//! Dose Designations (2021), here ISMP; The Joint Commission, official "Do Not
//! Use" list (2009), here TJC. Entries that were not seen in a list itself say
//! "from memory".
//!
//! Exceptions of the lists: a trailing zero may state the precision of something
//! measured (`3.0 mmol/L`, `36.0 °C`), and `>` and `<` may stand in code and in
//! tables. Where a mark has everyday meanings too (`/`, `+`, `°`), only the use
//! that the list warns of is found.

use super::line::Line;
use super::slips;
use crate::diag::Level;
use std::ops::Range;

/// One entry of the lists.
pub struct Entry {
    pub id: &'static str,
    pub level: Level,
    /// What it has been read as.
    pub read_as: &'static str,
    pub instead: &'static str,
    pub list: &'static str,
    find: fn(&Line) -> Vec<Range<usize>>,
}

const BOTH: &str =
    "ISMP list of error-prone abbreviations (2021) and Joint Commission \"Do Not Use\" list (2009)";
const ISMP: &str = "ISMP list of error-prone abbreviations (2021)";
const ISMP_MEMORY: &str = "ISMP list of error-prone abbreviations (2021), this entry from memory";

/// The entries, gravest first; where two find the same place the first speaks.
pub const ENTRIES: &[Entry] = &[
    entry(
        "trailing-zero",
        Level::Error,
        "ten times the dose",
        "the number without the zero: `1 mg`",
        BOTH,
        slips::trailing_zero,
    ),
    entry(
        "naked-decimal",
        Level::Error,
        "a whole number",
        "a zero before the point: `0.5 mg`",
        BOTH,
        slips::naked_decimal,
    ),
    entry(
        "u-unit",
        Level::Error,
        "0, 4 or cc",
        "`units`",
        BOTH,
        |line| line.after_number(&["U", "u"]),
    ),
    entry("iu", Level::Error, "IV or 10", "`units`", BOTH, |line| {
        line.words(&["IU", "I.U.", "iu"])
    }),
    entry(
        "qd",
        Level::Error,
        "q.i.d. or q.o.d.",
        "`daily`",
        BOTH,
        |line| line.words(&["QD", "qd", "q.d.", "Q.D.", "q.d", "Q.D"]),
    ),
    entry(
        "qod",
        Level::Error,
        "q.d. or q.i.d.",
        "`every other day`",
        BOTH,
        |line| line.words(&["QOD", "qod", "q.o.d.", "Q.O.D.", "q.o.d", "Q.O.D"]),
    ),
    entry(
        "ms",
        Level::Error,
        "each other: morphine sulfate, magnesium sulfate",
        "the name of the drug in full",
        BOTH,
        |line| line.words(&["MS", "MSO4", "MgSO4", "MgS04"]),
    ),
    entry(
        "ug",
        Level::Error,
        "mg, a thousand times the dose",
        "`mcg` or `micrograms`",
        BOTH,
        slips::microgram,
    ),
    entry(
        "cc",
        Level::Error,
        "u (units) or 00",
        "`mL`",
        BOTH,
        |line| line.after_number(&["cc", "CC", "c.c."]),
    ),
    entry(
        "no-space-dose-unit",
        Level::Error,
        "more zeros: the m is read as two of them",
        "a space between number and unit: `10 mg`",
        ISMP,
        slips::no_space_before_unit,
    ),
    entry(
        "no-space-drug-dose",
        Level::Error,
        "one digit more, from the last letter of the name",
        "a space between the name and the dose",
        ISMP,
        slips::no_space_after_name,
    ),
    entry(
        "apothecary",
        Level::Error,
        "metric units",
        "metric units",
        ISMP,
        |line| line.after_number(&["grain", "grains", "gr", "dram", "drams", "minim", "minims"]),
    ),
    entry(
        "ratio-dose",
        Level::Error,
        "another ratio",
        "the strength in mg/mL",
        ISMP_MEMORY,
        slips::ratio,
    ),
    entry(
        "gt-lt",
        Level::Warning,
        "each other, 7 or L",
        "`greater than`, `less than`",
        BOTH,
        slips::greater_less,
    ),
    entry("at-sign", Level::Warning, "2", "`at`", BOTH, slips::at_sign),
    entry(
        "slash",
        Level::Warning,
        "1",
        "`per`, `and`, or two lines",
        ISMP_MEMORY,
        slips::slash,
    ),
    entry(
        "ampersand",
        Level::Warning,
        "2",
        "`and`",
        ISMP_MEMORY,
        |line| line.words(&["&"]),
    ),
    entry(
        "plus",
        Level::Warning,
        "4",
        "`and`",
        ISMP_MEMORY,
        slips::plus,
    ),
    entry(
        "degree-like",
        Level::Warning,
        "0",
        "`h` or `hours`",
        ISMP_MEMORY,
        slips::degree_for_hours,
    ),
    entry(
        "od-os-ou-ad-as-au",
        Level::Warning,
        "each other; OD also as daily",
        "`right eye`, `left ear`, … or `daily`",
        ISMP,
        |line| line.capitals(&["OD", "OS", "OU", "AD", "AS", "AU"]),
    ),
    entry(
        "bedtime",
        Level::Warning,
        "twice daily, half-strength or every hour",
        "`at bedtime`, `nightly`",
        ISMP,
        |line| {
            line.words(&[
                "BT", "bt", "HS", "hs", "qhs", "QHS", "q.h.s.", "qn", "QN", "q.n.",
            ])
        },
    ),
    entry("q1d", Level::Warning, "q.i.d.", "`daily`", ISMP, |line| {
        line.words(&["q1d", "Q1D", "q1D"])
    }),
    entry(
        "q6pm",
        Level::Warning,
        "every 6 h",
        "`daily at` and the time",
        ISMP,
        slips::every_evening,
    ),
    entry(
        "dc",
        Level::Warning,
        "discharge or discontinue",
        "the word that is meant",
        ISMP,
        |line| line.words(&["D/C", "d/c"]),
    ),
    entry(
        "ij-in",
        Level::Warning,
        "IV, intrajugular or IM",
        "`injection`, `intranasal`",
        ISMP,
        |line| line.capitals(&["IJ", "IN"]),
    ),
    entry(
        "sc-sq-subq",
        Level::Warning,
        "SL, \"5 every\" or \"every\"",
        "`subcut`",
        ISMP,
        slips::subcutaneous,
    ),
    entry(
        "ss",
        Level::Warning,
        "55",
        "`sliding scale`, `one-half`",
        ISMP,
        |line| line.words(&["ss", "s.s."]),
    ),
    entry(
        "lower-l",
        Level::Warning,
        "1",
        "`L`, `mL`",
        ISMP,
        slips::lower_l,
    ),
    entry(
        "period-after-unit",
        Level::Warning,
        "1",
        "no point after the unit",
        ISMP,
        slips::point_after_unit,
    ),
    entry(
        "no-comma",
        Level::Warning,
        "ten times more or less",
        "`100,000 units` or `100 thousand units`",
        ISMP,
        slips::long_number,
    ),
    entry(
        "drug-abbrev",
        Level::Warning,
        "another drug",
        "the name of the drug in full",
        BOTH,
        |line| {
            line.words(&[
                "APAP", "AZT", "CPZ", "DPT", "HCTZ", "MTX", "PTU", "TNK", "tPA", "TPA", "ZnSO4",
            ])
        },
    ),
    entry(
        "oj-per-os",
        Level::Note,
        "OD or OS: an eye",
        "`orange juice`; `by mouth`",
        ISMP,
        slips::by_mouth,
    ),
];

const fn entry(
    id: &'static str,
    level: Level,
    read_as: &'static str,
    instead: &'static str,
    list: &'static str,
    find: fn(&Line) -> Vec<Range<usize>>,
) -> Entry {
    Entry {
        id,
        level,
        read_as,
        instead,
        list,
        find,
    }
}

/// What stands on a list, and where in the text (bytes).
pub struct Match {
    pub entry: &'static Entry,
    pub at: Range<usize>,
}

/// Everything in `text` that stands on a list, from left to right.
pub fn search(text: &str) -> Vec<Match> {
    let mut found: Vec<Match> = Vec::new();
    let mut offset = 0;
    let mut fenced = false;
    for raw in text.split_inclusive('\n') {
        let is_fence = raw.trim_start().starts_with("```");
        if is_fence {
            fenced = !fenced;
        }
        if !fenced && !is_fence {
            let line = Line::new(raw);
            for entry in ENTRIES {
                for at in (entry.find)(&line) {
                    let at = offset + at.start..offset + at.end;
                    let taken = found
                        .iter()
                        .any(|other| other.at.start < at.end && at.start < other.at.end);
                    if !taken {
                        found.push(Match { entry, at });
                    }
                }
            }
        }
        offset += raw.len();
    }
    found.sort_by_key(|found| found.at.start);
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ids(text: &str) -> Vec<&'static str> {
        search(text).iter().map(|found| found.entry.id).collect()
    }

    #[test]
    fn every_entry_is_found() {
        for (text, id) in [
            ("give 1.0 mg", "trailing-zero"),
            ("give .5 mg", "naked-decimal"),
            ("insulin 10 U now", "u-unit"),
            ("heparin 5000 IU", "iu"),
            ("aspirin QD", "qd"),
            ("aspirin q.o.d.", "qod"),
            ("MgSO4 2 g", "ms"),
            ("50 µg of it", "ug"),
            ("50 ug of it", "ug"),
            ("10 cc of water", "cc"),
            ("10mg of it", "no-space-dose-unit"),
            ("propranolol20 mg", "no-space-drug-dose"),
            ("5 grains", "apothecary"),
            ("adrenaline 1:1000", "ratio-dose"),
            ("adrenaline 1:10 000", "ratio-dose"),
            ("if core > 37.7", "gt-lt"),
            ("if T<36 warm", "gt-lt"),
            // Not printed at all: it would be taken for the sign of a quotation.
            ("> 30 minutes of recording", "gt-lt"),
            ("start @ 5", "at-sign"),
            ("25 units/10 units", "slash"),
            ("skin & eyes", "ampersand"),
            ("paracetamol + fluids", "plus"),
            ("look every 6°", "degree-like"),
            ("drops OD", "od-os-ou-ad-as-au"),
            ("tablet qhs", "bedtime"),
            ("tablet q1d", "q1d"),
            ("tablet q6PM", "q6pm"),
            ("D/C the line", "dc"),
            ("drug given IN", "ij-in"),
            ("heparin SC", "sc-sq-subq"),
            ("heparin sub q", "sc-sq-subq"),
            ("insulin ss", "ss"),
            ("500 ml of water", "lower-l"),
            ("give 10 mg. then wait", "period-after-unit"),
            ("heparin 100000 units", "no-comma"),
            ("APAP at night", "drug-abbrev"),
            ("drops per os", "oj-per-os"),
        ] {
            assert_eq!(ids(text), [id], "{text}");
        }
    }

    #[test]
    fn every_entry_has_an_example_above() {
        // Keeps the test above whole when an entry is added.
        assert_eq!(ENTRIES.len(), 32);
    }

    #[test]
    fn everyday_writing_is_let_be() {
        for text in [
            "Potassium 3.0 mmol/L is the line",
            "Warm to 36.0 °C",
            "Raise the head of the bed to 30°",
            "Give 1 g, then 10 mL/h and 0.5 mcg/kg/min.",
            "Stop at 5 mg.",
            "Call the doctor on 5/12 or the next day, 24/7",
            "Blood pressure 120/80",
            "and/or",
            "The K+ and Na+ values",
            "`core > 37.7`",
            "| core > 37.7 | act |",
            "> a quotation",
            "Ask us as soon as you are in doubt",
            "PATIENT IN BED AS BEFORE",
            "Write to ward@example.org",
            "see https://example.org/2020/10mg",
            "1:30 in the morning",
            "A unit of blood, 2 units of plasma",
            "H2O, O2, CO2, 18 G needle",
            "First line\n+ a list\n- another",
            "Weight 70 kg; tube 7.0",
        ] {
            assert_eq!(ids(text), Vec::<&str>::new(), "{text}");
        }
    }
}
