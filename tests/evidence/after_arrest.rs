//! After cardiac arrest, rates, fever.

use super::{Case, case};
use tempwright::diag::Level::{Error, Note, Warning};

const HOLD_36: &str = "guideline aha-2015\nphase hold \"Hold\" {\n  hold core at 36.0 °C within 0.5 °C\n  lasts 24 h\n}\n";
const HOLD_36_1: &str = "guideline aha-2015\nphase hold \"Hold\" {\n  hold core at 36.1 °C within 0.5 °C\n  lasts 24 h\n}\n";

pub const CASES: &[Case] = &[
    // AHA 2015, 2020: 32 °C to 36 °C.
    case("pa-target-range-aha-2015-2020", Error, HOLD_36, HOLD_36_1),
    case(
        "pa-target-range-aha-2015-2020",
        Error,
        "guideline aha-2020\nphase hold \"Hold\" {\n  hold core at 32.0 °C within 0.5 °C\n  lasts 24 h\n}\n",
        "guideline aha-2020\nphase hold \"Hold\" {\n  hold core at 31.9 °C within 0.5 °C\n  lasts 24 h\n}\n",
    ),
    // The edition must be named.
    case(
        "pa-target-range-aha-2015-2020",
        Error,
        "phase hold \"Hold\" {\n  hold core at 36.1 °C within 0.5 °C\n  lasts 24 h\n}\n",
        HOLD_36_1,
    ),
    // AHA 2023: 32 °C to 37.5 °C.
    case(
        "pa-target-range-aha-2023",
        Error,
        "# host fever\nguideline aha-2023\n",
        "# host fever\nguideline aha-2023\nphase guard \"Prevent fever\" {\n  keep core 36.0 °C to 37.6 °C\n  ends 72 h after rosc\n}\n",
    ),
    // AHA: 24 h or more at the target.
    case(
        "pa-duration-aha-24",
        Warning,
        "guideline aha-2015\n",
        "guideline aha-2015\nphase hold \"Hold\" {\n  hold core at 33.0 °C within 0.5 °C\n  lasts 1439 min\n}\n",
    ),
    // AHA 2025, from memory: 36 h or more of control.
    case(
        "pa-duration-aha-2025-36",
        Warning,
        "# host fever\nguideline aha-2025\nphase guard \"Prevent fever\" {\n  keep core 36.0 °C to 37.5 °C\n  lasts 36 h\n}\n",
        "# host fever\nguideline aha-2025\nphase guard \"Prevent fever\" {\n  keep core 36.0 °C to 37.5 °C\n  lasts 35 h\n}\n",
    ),
    // ERC-ESICM 2022: not above 37.7 °C, for 72 h or more; no upper limit at all is an error.
    case(
        "pa-fever-erc-2022",
        Warning,
        "guideline erc-2022\n",
        "guideline erc-2022\nphase guard \"Prevent fever\" {\n  keep core 36.0 °C to 37.8 °C\n  ends 72 h after rosc\n}\n",
    ),
    case(
        "pa-fever-erc-2022",
        Warning,
        "guideline erc-2022\n",
        "guideline erc-2022\nphase guard \"Prevent fever\" {\n  keep core 36.0 °C to 37.7 °C\n  ends 71 h after rosc\n}\n",
    ),
    case(
        "pa-fever-erc-2022",
        Error,
        "# host fever\nguideline erc-2022\n",
        "# host fever\nguideline erc-2022\nphase guard \"Prevent fever\" {\n  keep core at or above 36.0 °C\n  ends 72 h after rosc\n}\n",
    ),
    // ERC 2021 is superseded for temperature.
    case(
        "pa-fever-erc-2021",
        Note,
        "guideline erc-2022\n",
        "guideline erc-2021\n",
    ),
    // ERC 2025, from memory: 37.5 °C for 36 h to 72 h.
    case(
        "pa-fever-erc-2025",
        Warning,
        "# host fever\nguideline erc-2025\n",
        "# host fever\nguideline erc-2025\nphase guard \"Prevent fever\" {\n  keep core 36.0 °C to 37.6 °C\n  ends 72 h after rosc\n}\n",
    ),
    case(
        "pa-fever-erc-2025",
        Warning,
        "# host fever\nguideline erc-2025\nphase guard \"Prevent fever\" {\n  keep core 36.0 °C to 37.5 °C\n  ends 36 h after rosc\n}\n",
        "# host fever\nguideline erc-2025\nphase guard \"Prevent fever\" {\n  keep core 36.0 °C to 37.5 °C\n  ends 35 h after rosc\n}\n",
    ),
    // ILCOR 2022: 37.5 °C, 72 h.
    case(
        "pa-fever-ilcor-2022",
        Warning,
        "# host fever\nguideline ilcor-2022\n",
        "# host fever\nguideline ilcor-2022\nphase guard \"Prevent fever\" {\n  keep core 36.0 °C to 37.6 °C\n  ends 72 h after rosc\n}\n",
    ),
    // ILCOR 2024, from memory: 36 h to 72 h.
    case(
        "pa-fever-ilcor-2024-window",
        Note,
        "# host fever\nguideline ilcor-2024\n",
        "# host fever\nguideline ilcor-2024\nphase guard \"Prevent fever\" {\n  keep core 36.0 °C to 37.5 °C\n  ends 73 h after rosc\n}\n",
    ),
    // ERC-ESICM 2022, ILCOR 2022: mild hypothermia on admission is not warmed actively.
    case(
        "pa-spontaneous-hypothermia",
        Error,
        "# host fever\nphase early \"Let warm up\" {\n  warm core to 36.0 °C\n  by passive\n  at least 0.1 °C/h\n}\n",
        "# host fever\nphase guard \"Warm up\" {\n  warm core to 36.0 °C\n  never faster than 0.5 °C/h\n  at least 0.1 °C/h\n}\n",
    ),
    // AHA 2023: 0.5 °C/h.
    case(
        "pa-spontaneous-hypothermia-rate",
        Warning,
        "# host fever\nphase guard \"Warm up\" {\n  warm core to 36.0 °C\n  never faster than 0.5 °C/h\n  at least 0.1 °C/h\n}\n",
        "# host fever\nphase guard \"Warm up\" {\n  warm core to 36.0 °C\n  never faster than 0.51 °C/h\n  at least 0.1 °C/h\n}\n",
    ),
    // ERC-ESICM 2022, ILCOR 2022: no cold fluid before hospital.
    case(
        "pa-no-prehospital-cold-bolus",
        Error,
        "method surface, cold-fluids feedback from core\nmark arrival \"Arrival in hospital\"\nstart within 2 h of arrival\nphase guard \"Prevent fever\" {\n  keep core 36.0 °C to 37.7 °C\n  lasts 30 h\n}\nat rosc record core now\n",
        "method surface, cold-fluids feedback from core\n",
    ),
    // NICE IPG782: below 36 °C only in research.
    case(
        "pa-hypothermia-below-36-research-only",
        Warning,
        "guideline nice-2024\nphase cool \"Cool\" {\n  cool core to 36.0 °C\n  never faster than 2.0 °C/h\n  due within 4 h\n}\nphase hold \"Hold\" {\n  hold core at 36.0 °C within 0.5 °C\n  lasts 24 h\n}\n",
        "guideline nice-2024\nphase cool \"Cool\" {\n  cool core to 36.0 °C\n  never faster than 2.0 °C/h\n  due within 4 h\n}\nphase hold \"Hold\" {\n  hold core at 35.9 °C within 0.5 °C\n  lasts 24 h\n}\n",
    ),
    // ILCOR 2022: feedback control.
    case("pa-feedback-device", Warning, "", "method surface\n"),
    // HACA 2002, Glover 2016: 4 h as a goal.
    case(
        "pa-induction-goal",
        Note,
        "",
        "phase cool \"Cool to target\" {\n  cool core to 33.0 °C\n  never faster than 2.0 °C/h\n  due within 241 min\n}\n",
    ),
    // TTM 2013, TTH48 2017: 0.5 °C/h; below 0.15 °C/h noted (Cho 2019).
    case(
        "rewarm-cap-adult",
        Error,
        "",
        "phase rewarm \"Rewarm\" {\n  warm core from 33.0 °C to 36.5 °C within 0.2 °C at 0.25 °C/h\n  never faster than 0.51 °C/h\n}\n",
    ),
    // Bernard 2002: 4 °C in 6 h must fail the later cap.
    case(
        "rewarm-cap-adult",
        Error,
        "phase rewarm \"Rewarm\" {\n  warm core from 33.0 °C to 37.0 °C at 0.5 °C/h\n  never faster than 0.5 °C/h\n}\n",
        "phase rewarm \"Rewarm\" {\n  warm core from 33.0 °C to 37.0 °C at 2/3 °C/h\n  never faster than 2/3 °C/h\n}\n",
    ),
    case(
        "rewarm-cap-adult",
        Note,
        "phase rewarm \"Rewarm\" {\n  warm core from 33.0 °C to 36.5 °C at 0.15 °C/h\n  never faster than 0.5 °C/h\n}\n",
        "phase rewarm \"Rewarm\" {\n  warm core from 33.0 °C to 36.5 °C at 0.14 °C/h\n  never faster than 0.5 °C/h\n}\n",
    ),
    // Eurotherm3235: 1 °C in 4 h.
    case(
        "rewarm-cap-tbi",
        Error,
        "purpose therapeutic-hypothermia after head-injury\nphase rewarm \"Rewarm\" {\n  warm core from 33.0 °C to 36.5 °C at 1/4 °C/h\n  never faster than 0.25 °C/h\n}\n",
        "purpose therapeutic-hypothermia after head-injury\nphase rewarm \"Rewarm\" {\n  warm core from 33.0 °C to 36.5 °C at 0.26 °C/h\n  never faster than 0.26 °C/h\n}\n",
    ),
    // Polderman 2009: act at 32 °C; a floor below it is warned of, none at all is an error.
    case(
        "overshoot-floor",
        Warning,
        "rule too-cold {\n  when core below 32.0 °C during hold\n  then call doctor now\n}\n",
        "rule too-cold {\n  when core below 31.9 °C during hold\n  then call doctor now\n}\n",
    ),
    case(
        "overshoot-floor",
        Error,
        "",
        "# without rule too-cold\nrule sites-disagree {\n  when core and second differ by more than 1.0 °C\n  then call doctor within 30 min\n}\n",
    ),
    // Intensive Care Med Exp 2015: watch after control stops.
    case(
        "rebound-fever-watch",
        Warning,
        "",
        "# without phase guard\n# without rule fever\n# without rule cold-again\n# without every 1 h record core\n# without every 1 h record second\n# without every 6 h give paracetamol\nevery 1 h record core, second during hold, rewarm\n",
    ),
    // HYPERION ±0.5, TTH48 ±1.
    case(
        "target-band",
        Note,
        "phase hold \"Hold\" {\n  hold core at 33.0 °C within 1.0 °C\n  lasts 24 h\n}\n",
        "phase hold \"Hold\" {\n  hold core at 33.0 °C within 1.1 °C\n  lasts 24 h\n}\n",
    ),
    // Le May 2021: no benefit of 31 °C.
    case(
        "no-mild-hypothermia-31",
        Warning,
        "phase hold \"Hold\" {\n  hold core at 32.0 °C within 0.5 °C\n  lasts 24 h\n}\n",
        "phase hold \"Hold\" {\n  hold core at 31.9 °C within 0.5 °C\n  lasts 24 h\n}\n",
    ),
    // CASS 2018.
    case(
        "no-hypothermia-sepsis",
        Warning,
        "",
        "purpose therapeutic-hypothermia after sepsis\n",
    ),
    // Eurotherm3235 2015: 32 °C to 35 °C gave a worse outcome.
    case(
        "no-hypothermia-icp-worse",
        Warning,
        "purpose therapeutic-hypothermia after head-injury\nphase cool \"Cool\" {\n  cool core to 35.1 °C\n  due within 4 h\n}\nphase hold \"Hold\" {\n  hold core at 35.1 °C within 0.5 °C\n  lasts 24 h\n}\n",
        "purpose therapeutic-hypothermia after head-injury\nphase cool \"Cool\" {\n  cool core to 35.1 °C\n  due within 4 h\n}\nphase hold \"Hold\" {\n  hold core at 35.0 °C within 0.5 °C\n  lasts 24 h\n}\n",
    ),
    // ESICM/NACCS 2024: 36.0 °C to 37.5 °C.
    case(
        "tbi-normothermia-band",
        Warning,
        "# host head-injury\n",
        "# host head-injury\nphase guard \"Normal\" {\n  keep core 35.9 °C to 37.5 °C\n  lasts 72 h\n}\n",
    ),
    case(
        "tbi-normothermia-band",
        Warning,
        "# host head-injury\n",
        "# host head-injury\nphase guard \"Normal\" {\n  keep core 36.0 °C to 37.6 °C\n  lasts 72 h\n}\n",
    ),
    // INTREPID 2024: 85.5 % shivered.
    case(
        "shivering-rate-normothermia",
        Warning,
        "# host fever\n",
        "# host fever\n# without ladder shivering-steps\n# without every 1 h score shiver\nevery 1 h score shiver\n",
    ),
    // Intensive-care definition: 38.3 °C.
    case(
        "icu-fever-definition",
        Note,
        "# host fever\nrule too-warm {\n  when core at or above 38.2 °C\n  then call doctor within 30 min\n}\n",
        "# host fever\nrule too-warm {\n  when core at or above 38.3 °C\n  then call doctor within 30 min\n}\n",
    ),
];
