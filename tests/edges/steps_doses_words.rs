//! Procedure, medication, evidence lines, governance, notation.

use super::{fires, passes};

#[test]
fn steps_by_route() {
    fires(
        "missing-step",
        5,
        "method esophageal feedback from core\nchecklist ending \"End\" at end {\n  step \"Out\", covers removal, skin-inspection, disposal\n}\n",
    );
    // Every shift is not before the start, and no `every`.
    fires(
        "missing-step",
        1,
        "# without every 2 h do\nchecklist shift \"Shift\" at each-shift {\n  step \"Skin\", covers skin-inspection, probe, flow, leaks, alarm-limits\n}\n",
    );
    // In trouble, pause first.
    fires(
        "missing-step",
        1,
        "checklist trouble \"Trouble\" at trouble {\n  step \"Probe, flow\", covers probe, flow\n  step \"Contact\", covers skin-contact\n}\nrule late {\n  when cool is overdue\n  then follow trouble\n}\n",
    );
    fires(
        "step-out-of-order",
        1,
        "checklist trouble \"Trouble\" at trouble {\n  step \"Contact\", covers skin-contact\n  step \"Pause\", covers pause\n}\nrule late {\n  when cool is overdue\n  then follow trouble\n}\n",
    );
    passes(
        "step-out-of-order",
        "checklist trouble \"Trouble\" at trouble {\n  step \"Pause\", covers pause\n  step \"Contact\", covers skin-contact\n}\nrule late {\n  when cool is overdue\n  then follow trouble\n}\n",
    );
    // What belongs in a checklist is asked for where there is one.
    fires(
        "missing-step",
        3,
        "checklist shift \"Shift\" at each-shift {\n  step \"Alarms\", covers alarm-limits\n}\n",
    );
    fires(
        "missing-step",
        3,
        "checklist trouble \"Trouble\" at trouble {\n  step \"Pause\", covers pause\n  step \"Contact\", covers skin-contact\n}\nrule late {\n  when cool is overdue\n  then follow trouble\n}\n",
    );
    // What is paused starts again, and only when all has been moved.
    let trouble = |steps: &str| {
        format!(
            "checklist trouble \"Trouble\" at trouble {{\n  step \"Probe, flow\", covers probe, flow\n{steps}}}\nrule late {{\n  when cool is overdue\n  then follow trouble\n}}\n"
        )
    };
    let pause = "  step \"Pause\", covers pause\n";
    let contact = "  step \"Contact\", covers skin-contact\n";
    let resume = "  step \"Again\", covers resume\n";
    fires("missing-step", 1, &trouble(&[pause, contact].concat()));
    fires(
        "missing-step",
        1,
        &trouble(&[pause, contact, resume, pause].concat()),
    );
    passes("missing-step", &trouble(&[pause, contact, resume].concat()));
    passes(
        "missing-step",
        &trouble("  step \"Pause, look, start again\", covers resume, skin-contact, pause\n"),
    );
    fires(
        "step-out-of-order",
        1,
        &trouble(&[pause, resume, contact].concat()),
    );
    passes(
        "step-out-of-order",
        &trouble(&[pause, contact, resume, pause, contact, resume].concat()),
    );
    // Passive asks for none.
    passes("missing-step", "# host warming\nmethod passive\n");
}

#[test]
fn ceilings() {
    let med = |dose: &str, ceiling: &str| {
        format!(
            "medication paracetamol \"P\" {{\n  class antipyretic\n  dose {dose}\n  rounded to 1 mg\n  ceiling {ceiling}\n}}\n"
        )
    };
    // 1 g every 6 h is 4 g in 24 h: at 24:00 the first no longer counts (M28).
    passes("over-ceiling", &med("1000 mg nasogastric", "4 g per 24 h"));
    fires(
        "over-ceiling",
        1,
        &med("1001 mg nasogastric", "4 g per 24 h"),
    );
    // 1000 mg every 4 h is 6 g.
    fires(
        "over-ceiling",
        1,
        &format!(
            "{}# without every 6 h give\nevery 4 h give paracetamol during guard\n",
            med("1000 mg nasogastric", "4 g per 24 h")
        ),
    );
    passes(
        "over-ceiling",
        &format!(
            "{}# without every 6 h give\nevery 4 h give paracetamol during guard\n",
            med("650 mg nasogastric", "4 g per 24 h")
        ),
    );
    // At the heaviest patient, 120 kg, and held by `at most`.
    fires(
        "over-ceiling",
        1,
        &med("15 mg/kg nasogastric", "4 g per 24 h"),
    );
    passes(
        "over-ceiling",
        &med("15 mg/kg nasogastric, at most 1 g", "4 g per 24 h"),
    );
    // A ceiling per kilogram is least for the lightest, 40 kg: 2.4 g.
    fires(
        "over-ceiling",
        1,
        &med("1 g nasogastric", "60 mg/kg per 24 h"),
    );
    passes(
        "over-ceiling",
        &med("1 g nasogastric", "100 mg/kg per 24 h"),
    );
    // A single dose.
    fires(
        "over-ceiling",
        1,
        &format!(
            "{}# without every 6 h give\nat guard.start give paracetamol\n",
            med("5 g nasogastric", "4 g per 24 h")
        ),
    );
    // A rule can give it again and again.
    fires(
        "over-ceiling",
        1,
        "# without every 6 h give\nmedication paracetamol \"P\" {\n  class antipyretic\n  dose 1 g nasogastric\n}\nrule fever {\n  when core above 37.7 °C during guard\n  then give paracetamol\n}\n",
    );
    fires(
        "over-ceiling",
        1,
        "# without every 6 h give\nrule fever {\n  when core above 37.7 °C during guard\n  then give paracetamol\n}\nmedication paracetamol \"P\" {\n  class antipyretic\n  dose 1 g nasogastric\n  ceiling 4 g per 24 h\n}\n",
    );
    passes(
        "over-ceiling",
        "# without every 6 h give\nrule fever {\n  when core above 37.7 °C during guard\n  then give paracetamol otherwise call doctor now\n}\n",
    );
}

#[test]
fn infusions() {
    let med = |ceiling: &str, raise: &str| {
        format!(
            "medication dexmedetomidine \"D\" {{\n  class sedative\n  infuse 0.2 mcg/kg/h to 0.7 mcg/kg/h, steps of 0.1 mcg/kg/h every 30 min, for at most 24 h\n  concentration 4 mcg/mL\n  rounded to 0.1 mL/h\n  ceiling {ceiling}\n}}\nrule restless {{\n  when shiver above 2\n  then raise dexmedetomidine{raise}\n}}\n"
        )
    };
    // 0.7 mcg/kg/h × 120 kg × 24 h = 2016 mcg.
    passes("over-ceiling", &med("2016 mcg per 24 h", ""));
    fires("over-ceiling", 1, &med("2015 mcg per 24 h", ""));
    // Raised before, it runs on past the ceiling by time alone (M28): no `otherwise`
    // is asked then.
    fires(
        "over-ceiling",
        1,
        &med("2015 mcg per 24 h", " otherwise call doctor now"),
    );
    passes(
        "over-ceiling",
        &med("2016 mcg per 24 h", " otherwise call doctor now"),
    );
    // Started again and again without a ceiling, though each run has an end.
    fires(
        "over-ceiling",
        1,
        "medication dexmedetomidine \"D\" {\n  class sedative\n  infuse 0.2 mcg/kg/h, for at most 24 h\n  concentration 4 mcg/mL\n  rounded to 0.1 mL/h\n}\n",
    );
    // 0.1 mcg/kg/h × 40 kg = 4 mcg/h: 0.1 mL/h at 40 mcg/mL.
    let weak = |strength: &str| {
        format!(
            "medication dexmedetomidine \"D\" {{\n  class sedative\n  infuse 0.2 mcg/kg/h to 0.7 mcg/kg/h, steps of 0.1 mcg/kg/h every 30 min, for at most 24 h\n  concentration {strength}\n  rounded to 0.1 mL/h\n}}\n"
        )
    };
    passes("rate-not-settable", &weak("40 mcg/mL"));
    fires("rate-not-settable", 1, &weak("41 mcg/mL"));
}

#[test]
fn incomplete_doses() {
    let med = |lines: &str| {
        format!(
            "medication magnesium \"M\" {{\n  class electrolyte\n{lines}  ceiling 4 g per 24 h\n}}\n"
        )
    };
    fires(
        "dose-incomplete",
        1,
        &med("  dose 30 mg/kg iv over 30 min, at most 2 g\n  concentration 100 mg/mL\n"),
    );
    passes(
        "dose-incomplete",
        &med(
            "  dose 30 mg/kg iv over 30 min, at most 2 g\n  concentration 100 mg/mL\n  rounded to 100 mg\n",
        ),
    );
    passes("dose-incomplete", &med("  dose 2 g oral\n"));
    // What is injected is drawn up in mL.
    fires("dose-incomplete", 1, &med("  dose 2 g iv over 30 min\n"));
    fires("dose-incomplete", 1, &med("  dose 500 mg im\n"));
    passes("dose-incomplete", &med("  dose 20 mL iv over 30 min\n"));
    // Injected and infused: one finding.
    fires(
        "dose-incomplete",
        1,
        &med("  dose 1 g iv over 30 min\n  infuse 1 g/h\n"),
    );
    fires("dose-incomplete", 1, &med("  infuse 1 g/h\n"));
    passes(
        "dose-incomplete",
        &med("  infuse 1 g/h\n  concentration 100 mg/mL\n"),
    );
    passes("dose-incomplete", &med("  infuse 10 mL/h\n"));
}

#[test]
fn weight_bands() {
    let med = |first: &str, second: &str| {
        format!(
            "medication magnesium \"M\" {{\n  class electrolyte\n  dose 1 g iv over 30 min when weight {first}\n  dose 2 g iv over 30 min when weight {second}\n  ceiling 4 g per 24 h\n}}\n"
        )
    };
    passes("band-gap", &med("below 50 kg", "at or above 50 kg"));
    passes("band-overlap", &med("below 50 kg", "at or above 50 kg"));
    // 50.0 kg is left out by below 50 kg and above 50 kg.
    fires("band-gap", 1, &med("below 50 kg", "above 50 kg"));
    fires(
        "band-overlap",
        1,
        &med("below 50.1 kg", "at or above 50 kg"),
    );
    // Steps of 0.1 kg: below 50 kg and above 49.9 kg meet.
    passes("band-gap", &med("below 50 kg", "above 49.9 kg"));
    passes("band-overlap", &med("below 50 kg", "above 49.9 kg"));
    // The range of patients ends at 120 kg.
    passes(
        "band-gap",
        &med(
            "below 50 kg",
            "at or above 50 kg and weight at or below 120 kg",
        ),
    );
    fires(
        "band-gap",
        1,
        &med("below 50 kg", "at or above 50 kg and weight below 120 kg"),
    );
    // Two lines for all weights are two doses.
    fires(
        "band-overlap",
        1,
        "medication magnesium \"M\" {\n  class electrolyte\n  dose 1 g iv over 30 min\n  dose 2 g oral\n  ceiling 4 g per 24 h\n}\n",
    );
}

#[test]
fn fever_lines() {
    let rule = |test: &str| {
        format!("rule fever {{\n  when core {test} during guard\n  then call doctor now\n}}\n")
    };
    // On a display of 0.1 °C these two are one line.
    passes("two-fever-lines", &rule("at or above 37.8 °C"));
    passes("two-fever-lines", &rule("above 37.7 °C"));
    fires("two-fever-lines", 1, &rule("above 37.8 °C"));
    // Beyond 38.3 °C it is no line of fever any more.
    fires("two-fever-lines", 1, &rule("above 38.3 °C"));
    passes("two-fever-lines", &rule("above 38.4 °C"));
    // Each with its source.
    passes(
        "two-fever-lines",
        "cite erc \"ERC-ESICM 2022\"\ncite intrepid \"INTREPID 2024\"\nphase guard \"G\" {\n  keep core 36.0 °C to 37.7 °C source erc\n  ends 72 h after rosc\n}\nrule fever {\n  when core at or above 38.0 °C during guard source intrepid\n  then call doctor now\n}\n",
    );
    // In different phases they are no clash.
    passes(
        "two-fever-lines",
        "rule fever {\n  when core above 38.0 °C during rewarm\n  then call doctor now\n}\nrule fever-2 {\n  when core above 37.7 °C during guard\n  then call doctor now\n}\n",
    );
}

#[test]
fn units() {
    fires(
        "mixed-units",
        1,
        "phase hold \"H\" {\n  hold core at 91.4 °F within 0.5 °C\n  lasts 24 h\n}\n",
    );
    // One reading in °F throughout, another in °C, is no mixture for either.
    passes(
        "mixed-units",
        "reading water \"W\" temperature of water, shown to 0.1 °F, accurate to 0.5 °F\nevery 1 h record water\nlimit water never above 105.8 °F\n",
    );
}

#[test]
fn exceptions() {
    let unseen = "# without every 1 h record second\nevery 1 h record second during hold, rewarm\n";
    let accept = |what: &str| {
        format!("{unseen}accept {what} because \"reason\" by \"Committee\" until 2026-12-31\n")
    };
    // Without `on`, and with the right one.
    passes("second-site-missing", &accept("second-site-missing"));
    passes(
        "second-site-missing",
        &accept("second-site-missing on core"),
    );
    fires(
        "second-site-missing",
        1,
        &accept("second-site-missing on second"),
    );
    fires(
        "exception-unused",
        1,
        &accept("second-site-missing on second"),
    );
    // A name that no finding has.
    fires("exception-unused", 1, &accept("second-sight-missing"));
    // An error cannot be accepted.
    let error = "phase rewarm \"R\" {\n  warm core from 33.6 °C to 36.5 °C at 0.25 °C/h\n  never faster than 0.5 °C/h\n}\naccept phase-gap because \"reason\" by \"Committee\" until 2026-12-31\n";
    fires("phase-gap", 1, error);
    fires("exception-unused", 1, error);
    // Its last day is still good.
    passes(
        "exception-expired",
        &format!("{}# on 2026-12-31\n", accept("second-site-missing")),
    );
    fires(
        "exception-expired",
        1,
        &format!("{}# on 2027-01-01\n", accept("second-site-missing")),
    );
    // Without a day nothing expires.
    passes("exception-expired", &accept("second-site-missing"));
    // An exception does not excuse an exception.
    fires(
        "exception-unused",
        2,
        &format!(
            "{}accept exception-unused because \"reason\" by \"Committee\" until 2026-12-31\n",
            accept("heavy-hour")
        ),
    );
}

#[test]
fn notation() {
    fires("error-prone-notation", 1, "caution \"Give 10 U of it\"\n");
    fires(
        "error-prone-notation",
        1,
        "rule fever {\n  when core above 37.7 °C during guard\n  then do \"Call when core > 38\"\n}\n",
    );
    passes(
        "error-prone-notation",
        "caution \"Potassium 3.0 mmol/L, core 36.0 °C\"\n",
    );
    // A source is not for the bedside.
    passes(
        "error-prone-notation",
        "cite trial \"Lancet 2019;10mg @ 5\"\nphase guard \"G\" {\n  keep core 36.0 °C to 37.7 °C source trial\n  ends 72 h after rosc\n}\n",
    );
    // A comment is never printed, but what it hides can be shown.
    passes("error-prone-notation", "caution \"Ask\"\n");
    fires(
        "hidden-characters",
        1,
        "caution \"Cоre is measured twice\"\n",
    );
    fires("hidden-characters", 1, "caution \"Give 1O mg of it\"\n");
    fires("hidden-characters", 1, "caution \"Zero\u{200b}width\"\n");
    passes(
        "hidden-characters",
        "caution \"µ, ≤, °C, ½, ₂, β-blockers, naïve, Ω and O2 are let be\"\n",
    );
}

#[test]
fn a_rule_that_repeats_one_half_of_an_or() {
    let rule = |name: &str, when: &str| {
        format!(
            "rule {name} {{\n  when {when}\n  then do \"Look at the tracing of the heart\"\n  again after 1 h\n}}\n"
        )
    };
    let either = rule(
        "either",
        "potassium below 3.2 mmol/L or pressure below 50 mmHg",
    );
    let less = |value: &str| rule("less", &format!("potassium below {value}"));
    fires("shadowed", 1, &format!("{either}{}", less("3.1 mmol/L")));
    fires("shadowed", 1, &format!("{either}{}", less("3.2 mmol/L")));
    passes("shadowed", &format!("{either}{}", less("3.3 mmol/L")));
    // Of an `and` one half is not enough.
    let both = rule(
        "both",
        "potassium below 3.2 mmol/L and pressure below 50 mmHg",
    );
    passes("shadowed", &format!("{both}{}", less("3.1 mmol/L")));
}
