//! Accidental hypothermia, theatre, heat.

use super::{Case, case};
use tempwright::diag::Level::{Error, Note, Warning};

const FLUID: &str = "# host warming\nreading fluid \"Fluid\" temperature of fluid, shown to 0.1 °C, accurate to 0.5 °C\nevery 15 min record fluid\n";

pub const CASES: &[Case] = &[
    // Swiss staging goes by signs as well.
    case(
        "acc-swiss-classic",
        Warning,
        "# host warming\nladder stages \"Stages\" on core {\n  rung below 28.0 °C \"III\" { call doctor now }\n  rung at or above 28.0 °C \"II\" { continue }\n}\nat start follow stages\n",
        "# host warming\n# without rule worse\n# without reading awake\n# without every 15 min record core\nevery 15 min record core, second\nladder stages \"Stages\" on core {\n  rung below 28.0 °C \"III\" { call doctor now }\n  rung at or above 28.0 °C \"II\" { continue }\n}\nat start follow stages\n",
    ),
    // Paal 2016: below 28 °C to a centre with extracorporeal support.
    case(
        "acc-ecls-triage",
        Error,
        "# host warming\n",
        "# host warming\nrule transfer {\n  when core below 27.9 °C\n  then do \"Transfer\" covers extracorporeal-transfer\n  then call doctor now\n}\n",
    ),
    case(
        "acc-ecls-triage",
        Error,
        "# host warming\n",
        "# host warming\n# without rule transfer\n",
    ),
    // Hall 2025: never by a single potassium value.
    case(
        "acc-hope",
        Error,
        "# host warming\nreading potassium \"Potassium\" amount of potassium in mmol/L, shown to 0.1 mmol/L, reads 1.0 mmol/L to 20.0 mmol/L\nevery 1 h test potassium\nrule futile {\n  when potassium above 7.0 mmol/L and awake is unresponsive\n  then do \"Ask whether to go on\" covers rewarming-futile\n}\n",
        "# host warming\nreading potassium \"Potassium\" amount of potassium in mmol/L, shown to 0.1 mmol/L, reads 1.0 mmol/L to 20.0 mmol/L\nevery 1 h test potassium\nrule futile {\n  when potassium above 7.0 mmol/L\n  then do \"Ask whether to go on\" covers rewarming-futile\n}\n",
    ),
    // Older texts, from memory: 8 and 12 mmol/L.
    case(
        "acc-potassium-cutoff",
        Note,
        "# host warming\nreading potassium \"Potassium\" amount of potassium in mmol/L, shown to 0.1 mmol/L, reads 1.0 mmol/L to 20.0 mmol/L\nevery 1 h test potassium\nrule high {\n  when potassium above 7.9 mmol/L\n  then call doctor now\n}\n",
        "# host warming\nreading potassium \"Potassium\" amount of potassium in mmol/L, shown to 0.1 mmol/L, reads 1.0 mmol/L to 20.0 mmol/L\nevery 1 h test potassium\nrule high {\n  when potassium above 8.0 mmol/L\n  then call doctor now\n}\n",
    ),
    // Paal 2016: active external warming to 4 °C/h; lavage adds about 1 °C/h.
    case(
        "acc-rewarm-rates",
        Warning,
        "# host warming\nphase warming \"Warm\" {\n  warm core to 36.0 °C\n  never faster than 5.0 °C/h\n  at least 4.0 °C/h\n}\n",
        "# host warming\nphase warming \"Warm\" {\n  warm core to 36.0 °C\n  never faster than 5.0 °C/h\n  at least 4.1 °C/h\n}\n",
    ),
    case(
        "acc-rewarm-rates",
        Warning,
        "# host warming\nmethod forced-air, lavage feedback from core\nphase warming \"Warm\" {\n  warm core to 36.0 °C\n  never faster than 6.0 °C/h\n  at least 5.0 °C/h\n}\n",
        "# host warming\nmethod forced-air, lavage feedback from core\nphase warming \"Warm\" {\n  warm core to 36.0 °C\n  never faster than 6.0 °C/h\n  at least 5.1 °C/h\n}\n",
    ),
    // Paal 2016: afterdrop to 1.0 °C.
    case(
        "acc-afterdrop",
        Warning,
        "# host warming\nrule falling {\n  when core below 29.0 °C\n  then call doctor now\n}\n",
        "# host warming\nrule falling {\n  when core below 29.1 °C\n  then call doctor now\n}\n",
    ),
    // Handbook: 38 °C to 42 °C.
    case(
        "acc-warm-fluids",
        Warning,
        "# host warming\nreading fluid \"Fluid\" temperature of fluid, shown to 0.1 °C, accurate to 0.5 °C\nevery 15 min record fluid\nlimit fluid never above 42.0 °C\nlimit fluid never below 38.0 °C\n",
        "# host warming\nreading fluid \"Fluid\" temperature of fluid, shown to 0.1 °C, accurate to 0.5 °C\nevery 15 min record fluid\nlimit fluid never above 42.1 °C\n",
    ),
    case(
        "acc-warm-fluids",
        Warning,
        FLUID,
        "# host warming\nreading fluid \"Fluid\" temperature of fluid, shown to 0.1 °C, accurate to 0.5 °C\nevery 15 min record fluid\nlimit fluid never below 37.9 °C\n",
    ),
    // Handbook: about 0.5 °C/h in mild hypothermia.
    case(
        "acc-slow-passive",
        Note,
        "# host warming\nmethod passive\npatients adult, weight 40 kg to 120 kg, core 32.0 °C to 34.9 °C on arrival\nphase warming \"Warm\" {\n  warm core to 36.0 °C\n  at least 0.5 °C/h\n}\n",
        "# host warming\nmethod passive\npatients adult, weight 40 kg to 120 kg, core 32.0 °C to 34.9 °C on arrival\nphase warming \"Warm\" {\n  warm core to 36.0 °C\n  at least 0.6 °C/h\n}\n",
    ),
    // NICE CG65: phases.
    case(
        "peri-phases",
        Note,
        "# host theatre\n",
        "# host theatre\nphase ward-care \"On the ward\" {\n  keep core at or above 36.0 °C\n  ends 23 h after recovery\n  by passive\n}\n",
    ),
    // NICE CG65: 36.0 °C at induction.
    case(
        "peri-induce",
        Error,
        "# host theatre\n",
        "# host theatre\nphase prewarm \"Before induction\" {\n  keep core at or above 35.9 °C\n  ends at induction, plan for 1 h\n}\n",
    ),
    case(
        "peri-induce",
        Error,
        "# host theatre\n",
        "# host theatre\n# without at induction do\n",
    ),
    // NICE CG65: 30 min of warming beforehand.
    case(
        "peri-prewarm",
        Warning,
        "# host theatre\nphase prewarm \"Before induction\" {\n  keep core at or above 36.0 °C\n  ends at induction, plan for 30 min\n}\n",
        "# host theatre\nphase prewarm \"Before induction\" {\n  keep core at or above 36.0 °C\n  ends at induction, plan for 29 min\n}\n",
    ),
    // NICE CG65: every 30 min.
    case(
        "peri-interval",
        Error,
        "# host theatre\n",
        "# host theatre\n# without every 30 min record core\nevery 31 min record core, second during prewarm, theatre\n",
    ),
    // NICE CG65: active warming beyond 30 min.
    case(
        "peri-warm-if",
        Warning,
        "# host theatre\nphase theatre \"Operation\" {\n  keep core at or above 36.0 °C\n  ends at recovery, plan for 30 min\n  by passive\n}\n",
        "# host theatre\nphase theatre \"Operation\" {\n  keep core at or above 36.0 °C\n  ends at recovery, plan for 31 min\n  by passive\n}\n",
    ),
    // NICE CG65: 21 °C.
    case(
        "peri-room",
        Warning,
        "# host theatre\nreading room \"Room\" temperature of air, shown to 0.1 °C, accurate to 0.5 °C\nevery 30 min record room\nlimit room never below 21.0 °C\n",
        "# host theatre\nreading room \"Room\" temperature of air, shown to 0.1 °C, accurate to 0.5 °C\nevery 30 min record room\nlimit room never below 20.9 °C\n",
    ),
    // NICE CG65, from memory: every 15 min in recovery, left at 36.0 °C.
    case(
        "peri-recovery",
        Warning,
        "# host theatre\n",
        "# host theatre\n# without every 15 min record core\nevery 16 min record core, second during waking\n",
    ),
    case(
        "peri-recovery",
        Warning,
        "# host theatre\n",
        "# host theatre\nphase waking \"In recovery\" {\n  keep core at or above 36.0 °C\n  ends when core at or above 35.9 °C, plan for 1 h\n}\n",
    ),
    // NICE CG65: fluids at body temperature.
    case(
        "peri-fluids",
        Warning,
        "# host theatre\nreading fluid \"Fluid\" temperature of fluid, shown to 0.1 °C, accurate to 0.5 °C\nevery 30 min record fluid\nlimit fluid never below 37.0 °C\n",
        "# host theatre\nreading fluid \"Fluid\" temperature of fluid, shown to 0.1 °C, accurate to 0.5 °C\nevery 30 min record fluid\nlimit fluid never below 36.9 °C\n",
    ),
    // SCCM 2025: below 39 °C within 30 min.
    case(
        "heat-goal",
        Error,
        "# host heat\n",
        "# host heat\nphase cool \"Cool\" {\n  cool core to 38.5 °C\n  at least 9.3 °C/h\n  due within 31 min\n}\n",
    ),
    // SCCM 2025: 0.155 °C/min.
    case(
        "heat-rate",
        Warning,
        "# host heat\nphase cool \"Cool\" {\n  cool core to 38.5 °C\n  at least 0.155 °C/min\n  due within 30 min\n}\n",
        "# host heat\nphase cool \"Cool\" {\n  cool core to 38.5 °C\n  at least 9.2 °C/h\n  due within 30 min\n}\n",
    ),
    // Guideline summary: cold water to 12 °C.
    case(
        "heat-water",
        Note,
        "# host heat\nreading water \"Water\" temperature of water, shown to 0.1 °C, accurate to 0.5 °C\nevery 5 min record water\nlimit water never above 12.0 °C\n",
        "# host heat\nreading water \"Water\" temperature of water, shown to 0.1 °C, accurate to 0.5 °C\nevery 5 min record water\nlimit water never above 12.1 °C\n",
    ),
    // SCCM 2025: no antipyretics to cool.
    case(
        "heat-drugs",
        Error,
        "# host heat\nmedication calm \"Sedative\" {\n  class sedative\n  dose 1 mg iv over 1 min\n  ceiling 4 mg per 24 h\n}\nat start give calm\n",
        "# host heat\nmedication paracetamol \"Paracetamol\" {\n  class antipyretic\n  dose 1 g rectal\n  ceiling 4 g per 24 h\n}\nat start give paracetamol\n",
    ),
    // SCCM, ILCOR, ERC: 38.0 °C to 39.0 °C.
    case(
        "heat-stop",
        Warning,
        "# host heat\nphase cool \"Cool\" {\n  cool core to 38.0 °C\n  at least 9.3 °C/h\n  due within 30 min\n}\n",
        "# host heat\nphase cool \"Cool\" {\n  cool core to 37.9 °C\n  at least 9.3 °C/h\n  due within 30 min\n}\n",
    ),
    case(
        "heat-stop",
        Warning,
        "# host heat\nphase cool \"Cool\" {\n  cool core to 39.0 °C\n  at least 9.3 °C/h\n  due within 30 min\n}\n",
        "# host heat\nphase cool \"Cool\" {\n  cool core to 39.1 °C\n  at least 9.3 °C/h\n  due within 30 min\n}\n",
    ),
    // WMS 2024: rectum.
    case(
        "heat-probe",
        Warning,
        "# host heat\n",
        "# host heat\nreading core \"Core temperature\" temperature at bladder, continuous, shown to 0.1 °C, accurate to 0.2 °C\n",
    ),
    // EMHG, MHAUS, from memory: 38.5 °C and 38 °C.
    case(
        "mh-stop",
        Warning,
        "# host heat\npurpose malignant-hyperthermia\n",
        "# host heat\npurpose malignant-hyperthermia\nphase cool \"Cool\" {\n  cool core to 38.6 °C\n  at least 9.3 °C/h\n  due within 30 min\n}\n",
    ),
];
