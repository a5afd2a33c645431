//! Contact with the skin, thermometers, laboratory, shivering.

use super::{Case, case};
use tempwright::diag::Level::{Error, Note, Warning};

const SURFACE_43: &str = "# host warming\nreading pad \"Pad\" temperature of surface, shown to 0.1 °C, accurate to 0.5 °C\nevery 15 min record pad\nlimit pad never above 43.0 °C\nphase warming \"Warm\" {\n  warm core from 30.0 °C to 36.0 °C at 1.0 °C/h\n  never faster than 3.0 °C/h\n}\n";

pub const CASES: &[Case] = &[
    // IEC 60601-1, 2nd edition: 41 °C.
    case(
        "skin-applied-part",
        Warning,
        "reading pad \"Pad\" temperature of surface, shown to 0.1 °C, accurate to 0.5 °C\nevery 1 h record pad\nlimit pad never above 41.0 °C\n",
        "reading pad \"Pad\" temperature of surface, shown to 0.1 °C, accurate to 0.5 °C\nevery 1 h record pad\nlimit pad never above 41.1 °C\n",
    ),
    // Moritz and Henriques, regression 2021: 43 °C 5.9 h to injury; 6 h is longer.
    case(
        "skin-burn-curve",
        Error,
        "# host warming\nreading pad \"Pad\" temperature of surface, shown to 0.1 °C, accurate to 0.5 °C\nevery 15 min record pad\nlimit pad never above 42.9 °C\nphase warming \"Warm\" {\n  warm core from 30.0 °C to 36.0 °C at 1.0 °C/h\n  never faster than 3.0 °C/h\n}\n",
        SURFACE_43,
    ),
    // 43 °C: 1051 s, 17 min 31 s, to the safety line; 36 min is longer, and shorter than 5.9 h.
    case(
        "skin-burn-curve",
        Warning,
        "# host warming\nreading pad \"Pad\" temperature of surface, shown to 0.1 °C, accurate to 0.5 °C\nevery 15 min record pad\nlimit pad never above 43.0 °C\nphase warming \"Warm\" {\n  warm core from 35.5 °C to 36.0 °C at 2.0 °C/h\n  never faster than 3.0 °C/h\n}\n",
        "# host warming\nreading pad \"Pad\" temperature of surface, shown to 0.1 °C, accurate to 0.5 °C\nevery 15 min record pad\nlimit pad never above 43.0 °C\nphase warming \"Warm\" {\n  warm core from 34.8 °C to 36.0 °C at 2.0 °C/h\n  never faster than 3.0 °C/h\n}\n",
    ),
    // From memory: 42 °C.
    case(
        "skin-water-max",
        Warning,
        "reading water \"Water\" temperature of water, shown to 0.1 °C, accurate to 0.5 °C\nevery 1 h record water\nlimit water never above 42.0 °C\n",
        "reading water \"Water\" temperature of water, shown to 0.1 °C, accurate to 0.5 °C\nevery 1 h record water\nlimit water never above 42.1 °C\n",
    ),
    // One unit's published rule: 42 °C, unless it is air.
    case(
        "skin-counterwarm",
        Warning,
        "reading pad \"Pad\" temperature of surface, shown to 0.1 °C, accurate to 0.5 °C\nevery 1 h record pad\nlimit pad never above 42.0 °C\n",
        "reading pad \"Pad\" temperature of surface, shown to 0.1 °C, accurate to 0.5 °C\nevery 1 h record pad\nlimit pad never above 42.1 °C\n",
    ),
    case(
        "skin-counterwarm",
        Warning,
        "reading air \"Air\" temperature of air, shown to 0.1 °C, accurate to 0.5 °C\nevery 1 h record air\nlimit air never above 43.0 °C\n",
        "reading pad \"Pad\" temperature of surface, shown to 0.1 °C, accurate to 0.5 °C\nevery 1 h record pad\nlimit pad never above 43.0 °C\n",
    ),
    // ISO 80601-2-56: 0.3 °C, unless a better probe is stated.
    case(
        "thermo-accuracy",
        Note,
        "phase hold \"Hold\" {\n  hold core at 33.0 °C within 0.2 °C\n  lasts 24 h\n}\n",
        "phase hold \"Hold\" {\n  hold core at 33.0 °C within 0.1 °C\n  lasts 24 h\n}\n",
    ),
    case(
        "thermo-accuracy",
        Note,
        "reading core \"Core\" temperature at esophagus, continuous, shown to 0.1 °C, accurate to 0.4 °C\nphase hold \"Hold\" {\n  hold core at 33.0 °C within 0.3 °C\n  lasts 24 h\n}\n",
        "reading core \"Core\" temperature at esophagus, continuous, shown to 0.1 °C, accurate to 0.4 °C\nphase hold \"Hold\" {\n  hold core at 33.0 °C within 0.2 °C\n  lasts 24 h\n}\n",
    ),
    // Niven 2015: not to steer therapy.
    case(
        "site-peripheral",
        Error,
        "",
        "reading core \"Core\" temperature at ear, continuous, shown to 0.1 °C, accurate to 0.2 °C\n",
    ),
    case(
        "site-peripheral",
        Warning,
        "# host warming\nmethod passive\n",
        "# host warming\nmethod passive\n# without every 15 min record core\nevery 15 min record core, awake\nreading core \"Core\" temperature at ear, shown to 0.1 °C, accurate to 0.3 °C\n# without reading second\n",
    ),
    // Cutuli 2021.
    case(
        "site-icu-noninvasive",
        Warning,
        "",
        "reading second \"Second\" temperature at armpit, shown to 0.1 °C, accurate to 0.3 °C\n",
    ),
    // BMJ Open meta-analysis.
    case(
        "site-temporal",
        Error,
        "",
        "reading core \"Core\" temperature at forehead, continuous, shown to 0.1 °C, accurate to 0.2 °C\n",
    ),
    // Good practice, from memory: two core sites.
    case(
        "site-two-probes",
        Warning,
        "",
        "reading second \"Second\" temperature at skin, shown to 0.1 °C, accurate to 0.3 °C\n",
    ),
    // From memory: bladder and rectum lag; above 1 °C/h.
    case(
        "site-lag",
        Warning,
        "reading core \"Core\" temperature at bladder, continuous, shown to 0.1 °C, accurate to 0.2 °C\nphase cool \"Cool\" {\n  cool core to 33.0 °C\n  never faster than 1.0 °C/h\n  due within 5 h\n}\n",
        "reading core \"Core\" temperature at bladder, continuous, shown to 0.1 °C, accurate to 0.2 °C\nphase cool \"Cool\" {\n  cool core to 33.0 °C\n  never faster than 1.1 °C/h\n  due within 5 h\n}\n",
    ),
    // ERC-ESICM 2022, ESICM/NACCS 2024: continuous.
    case(
        "measure-interval",
        Error,
        "",
        "reading core \"Core\" temperature at esophagus, shown to 0.1 °C, accurate to 0.2 °C\n",
    ),
    // Mirzoyev 2010: 3.0 mmol/L.
    case(
        "k-low",
        Error,
        "rule potassium-low {\n  when potassium below 3.0 mmol/L\n  then call doctor now\n}\n",
        "rule potassium-low {\n  when potassium below 2.9 mmol/L\n  then call doctor now\n}\n",
    ),
    // Soeholm 2012: above 5.5 mmol/L.
    case(
        "k-high",
        Error,
        "",
        "rule potassium-high {\n  when potassium above 5.6 mmol/L\n  then call doctor now\n}\n",
    ),
    // Soeholm 2012: replacement ends before rewarming.
    case(
        "k-supplement",
        Warning,
        "medication kcl \"Potassium chloride\" {\n  class potassium\n  dose 10 mmol iv over 1 h, not again within 1 h\n  ceiling 40 mmol per 24 h\n}\nrule potassium-low {\n  when potassium below 3.5 mmol/L during cool, hold\n  then give kcl otherwise call doctor now\n}\n",
        "# without at 4 h before\nmedication kcl \"Potassium chloride\" {\n  class potassium\n  dose 10 mmol iv over 1 h, not again within 1 h\n  ceiling 40 mmol per 24 h\n}\nrule potassium-low {\n  when potassium below 3.5 mmol/L during cool, hold\n  then give kcl otherwise call doctor now\n}\n",
    ),
    // From memory: never below 4.0 mmol/L, to 10 mmol/L.
    case(
        "glucose",
        Warning,
        "reading sugar \"Glucose\" amount of glucose in mmol/L, shown to 0.1 mmol/L, reads 0.5 mmol/L to 40.0 mmol/L\nevery 2 h test sugar\nrule sugar-wrong {\n  when sugar outside 4.0 mmol/L to 10.0 mmol/L\n  then call doctor now\n}\n",
        "reading sugar \"Glucose\" amount of glucose in mmol/L, shown to 0.1 mmol/L, reads 0.5 mmol/L to 40.0 mmol/L\nevery 2 h test sugar\nrule sugar-wrong {\n  when sugar outside 3.9 mmol/L to 10.0 mmol/L\n  then call doctor now\n}\n",
    ),
    case(
        "glucose",
        Warning,
        "reading sugar \"Glucose\" amount of glucose in mg/dL, shown to 1 mg/dL, reads 10 mg/dL to 700 mg/dL\nevery 2 h test sugar\nrule sugar-wrong {\n  when sugar outside 72 mg/dL to 180 mg/dL\n  then call doctor now\n}\n",
        "reading sugar \"Glucose\" amount of glucose in mg/dL, shown to 1 mg/dL, reads 10 mg/dL to 700 mg/dL\nevery 2 h test sugar\nrule sugar-wrong {\n  when sugar outside 72 mg/dL to 181 mg/dL\n  then call doctor now\n}\n",
    ),
    // From memory: every 4 h to 6 h.
    case(
        "electrolytes-interval",
        Warning,
        "# without every 4 h test potassium\nevery 6 h test potassium\n",
        "# without every 4 h test potassium\nevery 361 min test potassium\n",
    ),
    // Choi 2011 and summary page: 3 mg/dL to 4 mg/dL.
    case(
        "mg-target",
        Warning,
        "reading mg \"Magnesium\" amount of magnesium in mg/dL, shown to 0.1 mg/dL, reads 0.5 mg/dL to 10.0 mg/dL\nevery 4 h test mg\nrule mg-high {\n  when mg above 4.0 mg/dL\n  then call doctor now\n}\n",
        "reading mg \"Magnesium\" amount of magnesium in mg/dL, shown to 0.1 mg/dL, reads 0.5 mg/dL to 10.0 mg/dL\nevery 4 h test mg\nrule mg-high {\n  when mg above 4.1 mg/dL\n  then call doctor now\n}\n",
    ),
    // RCUK / ERC-ESICM 2021: above 65 mmHg.
    case(
        "map-floor",
        Error,
        "rule pressure-low {\n  when pressure below 65 mmHg\n  then call doctor now\n}\n",
        "rule pressure-low {\n  when pressure below 64 mmHg\n  then call doctor now\n}\n",
    ),
    // Badjatia 2008: 0 to 3.
    case(
        "bsas-scale",
        Note,
        "",
        "reading shiver \"Shivering\" score of shivering 0 to 4\n",
    ),
    // Choi 2011: a score of 1 or less.
    case(
        "bsas-goal",
        Warning,
        "",
        "# without medication magnesium\n# without medication dexmedetomidine\nladder shivering-steps \"Shivering\" on shiver {\n  rung 0 to 2 \"Some\" { continue }\n  rung 3 \"Severe\" { call doctor now }\n}\n",
    ),
    case(
        "bsas-goal",
        Warning,
        "# without medication magnesium\n# without medication dexmedetomidine\nladder shivering-steps \"Shivering\" on shiver until at or below 1 {\n  step \"Call\" { call doctor now }\n}\n",
        "# without medication magnesium\n# without medication dexmedetomidine\nladder shivering-steps \"Shivering\" on shiver until at or below 2 {\n  step \"Call\" { call doctor now }\n}\n",
    ),
    // One unit's algorithm: every hour.
    case(
        "bsas-interval",
        Warning,
        "",
        "# without every 1 h score shiver\nevery 61 min score shiver then follow shivering-steps\n",
    ),
    // Not scored at all in one of the phases.
    case(
        "bsas-interval",
        Warning,
        "",
        "# without every 1 h score shiver\nevery 1 h score shiver then follow shivering-steps during cool, hold, guard\n",
    ),
    // From memory: 6 h at most.
    case(
        "skin-interval",
        Warning,
        "# without every 2 h do\nevery 6 h do \"Look at the skin\" covers skin-inspection\n",
        "# without every 2 h do\nevery 361 min do \"Look at the skin\" covers skin-inspection\n",
    ),
    // ERC-ESICM 2021: 72 h from return of circulation.
    case(
        "prognosis-delay",
        Error,
        "at 72 h after rosc do \"Outlook may be judged\" covers prognosis\n",
        "at 71 h after rosc do \"Outlook may be judged\" covers prognosis\n",
    ),
];
