//! Newborns and children.

use super::{Case, case};
use tempwright::diag::Level::{Error, Note, Warning};

pub const CASES: &[Case] = &[
    // TOBY 2008, CPS 2018: 33.5 °C, kept 33.0 °C to 34.0 °C.
    case(
        "neo-target",
        Error,
        "# host newborn\n",
        "# host newborn\nphase hold \"Hold\" {\n  hold core at 33.5 °C within 0.6 °C\n  lasts 72 h\n}\n",
    ),
    case(
        "neo-target",
        Error,
        "# host newborn\nphase hold \"Hold\" {\n  hold core at 33.9 °C within 0.1 °C\n  lasts 72 h\n}\n",
        "# host newborn\nphase hold \"Hold\" {\n  hold core at 34.1 °C within 0.1 °C\n  lasts 72 h\n}\n",
    ),
    // TOBY, CPS: 72 h, no less and no more.
    case(
        "neo-duration",
        Error,
        "# host newborn\n",
        "# host newborn\nphase hold \"Hold\" {\n  hold core at 33.5 °C within 0.5 °C\n  lasts 71 h\n}\n",
    ),
    case(
        "neo-duration",
        Error,
        "# host newborn\nphase hold \"Hold\" {\n  hold core at 33.5 °C within 0.5 °C\n  ends 72 h after start\n}\n",
        "# host newborn\nphase hold \"Hold\" {\n  hold core at 33.5 °C within 0.5 °C\n  lasts 73 h\n}\n",
    ),
    // TOBY: within 6 h of birth.
    case(
        "neo-start-window",
        Error,
        "# host newborn\n",
        "# host newborn\nstart within 361 min of birth\npatients newborn, birth weight 1801 g to 6000 g, gestation 36 weeks to 43 weeks, core 34.0 °C to 37.5 °C on arrival\n",
    ),
    // TOBY: 36 weeks; CPS: 35 may be considered, below 35 not.
    case(
        "neo-gestation",
        Warning,
        "# host newborn\n",
        "# host newborn\npatients newborn, birth weight 1801 g to 6000 g, age 0 h to 6 h, gestation 35 weeks to 43 weeks, core 34.0 °C to 37.5 °C on arrival\n",
    ),
    case(
        "neo-gestation",
        Error,
        "# host newborn\n",
        "# host newborn\npatients newborn, birth weight 1801 g to 6000 g, age 0 h to 6 h, gestation 34 weeks to 43 weeks, core 34.0 °C to 37.5 °C on arrival\n",
    ),
    // NICHD 2005, from memory: more than 1800 g.
    case(
        "neo-weight",
        Warning,
        "# host newborn\npatients newborn, birth weight 1800 g to 6000 g, age 0 h to 6 h, gestation 36 weeks to 43 weeks, core 34.0 °C to 37.5 °C on arrival\n",
        "# host newborn\npatients newborn, birth weight 1799 g to 6000 g, age 0 h to 6 h, gestation 36 weeks to 43 weeks, core 34.0 °C to 37.5 °C on arrival\n",
    ),
    // TOBY registry NCT00147030: entry criteria.
    case(
        "neo-acidosis",
        Error,
        "# host newborn\n",
        "# host newborn\n# without include \"Base\n",
    ),
    case(
        "neo-encephalopathy",
        Error,
        "# host newborn\n",
        "# host newborn\n# without include \"Moderate\n",
    ),
    case(
        "neo-aeeg",
        Note,
        "# host newborn\n",
        "# host newborn\n# without include \"Brain\n",
    ),
    // Shankaran 2014, 2017: not deeper, not longer.
    case(
        "neo-deeper",
        Error,
        "# host newborn\nphase hold \"Hold\" {\n  hold core at 33.0 °C within 0.5 °C\n  lasts 72 h\n}\n",
        "# host newborn\nphase hold \"Hold\" {\n  hold core at 32.9 °C within 0.5 °C\n  lasts 72 h\n}\n",
    ),
    case(
        "neo-longer",
        Error,
        "# host newborn\n",
        "# host newborn\nphase hold \"Hold\" {\n  hold core at 33.5 °C within 0.5 °C\n  lasts 4321 min\n}\n",
    ),
    // CPS 2018: 6 h to 12 h. To 36.5 °C in 6 h is exactly 0.5 °C/h.
    case(
        "neo-rewarm-window",
        Warning,
        "# host newborn\nphase rewarm \"Rewarm\" {\n  warm core from 33.5 °C to 36.5 °C at 0.5 °C/h\n  never faster than 0.5 °C/h\n}\n",
        "# host newborn\nphase rewarm \"Rewarm\" {\n  warm core from 33.5 °C to 36.5 °C at 0.51 °C/h\n  never faster than 0.6 °C/h\n}\n",
    ),
    case(
        "neo-rewarm-window",
        Warning,
        "# host newborn\nphase rewarm \"Rewarm\" {\n  warm core from 33.5 °C to 36.5 °C at 0.25 °C/h\n  never faster than 0.5 °C/h\n}\n",
        "# host newborn\nphase rewarm \"Rewarm\" {\n  warm core from 33.5 °C to 36.5 °C at 0.24 °C/h\n  never faster than 0.5 °C/h\n}\n",
    ),
    // Shankaran 2005, Azzopardi 2008, from memory: 0.5 °C/h.
    case(
        "rewarm-cap-neonate",
        Warning,
        "# host newborn\n",
        "# host newborn\nphase rewarm \"Rewarm\" {\n  warm core from 33.5 °C to 37.0 °C at 0.583 °C/h\n  never faster than 0.6 °C/h\n}\n",
    ),
    // Moler 2015: 16 h from 33.0 °C to 36.8 °C, 0.24 °C/h or less.
    case(
        "rewarm-cap-child",
        Warning,
        "patients child, weight 40 kg to 120 kg, core 33.5 °C to 37.5 °C on arrival\nphase rewarm \"Rewarm\" {\n  warm core from 33.0 °C to 36.8 °C at 0.24 °C/h\n  never faster than 0.24 °C/h\n}\n",
        "patients child, weight 40 kg to 120 kg, core 33.5 °C to 37.5 °C on arrival\nphase rewarm \"Rewarm\" {\n  warm core from 33.0 °C to 36.8 °C at 0.25 °C/h\n  never faster than 0.25 °C/h\n}\n",
    ),
    // ILCOR 2019, 2020: 37.5 °C.
    case(
        "child-upper",
        Error,
        "# host child\n",
        "# host child\nphase guard \"Normal\" {\n  keep core 36.0 °C to 37.6 °C\n  lasts 5 days\n}\n",
    ),
    // AHA 2019, 2020: 5 days, or 2 days and 3 days.
    case(
        "child-options",
        Warning,
        "# host child\n",
        "# host child\nphase guard \"Normal\" {\n  keep core 36.0 °C to 37.5 °C\n  lasts 119 h\n}\n",
    ),
    case(
        "child-options",
        Warning,
        "patients child, weight 40 kg to 120 kg, core 33.5 °C to 37.5 °C on arrival\nphase hold \"Hold\" {\n  hold core at 33.0 °C within 0.5 °C\n  lasts 2 days\n}\nphase guard \"Normal\" {\n  keep core 36.0 °C to 37.5 °C\n  lasts 3 days\n}\n",
        "patients child, weight 40 kg to 120 kg, core 33.5 °C to 37.5 °C on arrival\nphase hold \"Hold\" {\n  hold core at 33.0 °C within 0.5 °C\n  lasts 1 day\n}\nphase guard \"Normal\" {\n  keep core 36.0 °C to 37.5 °C\n  lasts 3 days\n}\n",
    ),
    // AHA 2015: treated at 38 °C.
    case(
        "child-fever",
        Warning,
        "# host child\nrule too-warm {\n  when core at or above 38.0 °C\n  then call doctor within 30 min\n}\n",
        "# host child\nrule too-warm {\n  when core above 38.0 °C\n  then call doctor within 30 min\n}\n",
    ),
    // French panel 2017.
    case(
        "child-hypothermia-not-suggested",
        Note,
        "# host child\nphase guard \"Hold\" {\n  hold core at 34.1 °C within 0.5 °C\n  lasts 48 h\n}\n",
        "# host child\nphase guard \"Hold\" {\n  hold core at 34.0 °C within 0.5 °C\n  lasts 48 h\n}\n",
    ),
    // Below 32 °C more children died.
    case(
        "child-floor",
        Error,
        "# host child\nphase guard \"Hold\" {\n  hold core at 32.0 °C within 0.5 °C\n  lasts 48 h\n}\n",
        "# host child\nphase guard \"Hold\" {\n  hold core at 31.9 °C within 0.5 °C\n  lasts 48 h\n}\n",
    ),
];
