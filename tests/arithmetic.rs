//! Conversions and infusion arithmetic against numbers that others published.
//!
//! Where a page prints a rounded answer, both stand here: the exact value, which
//! must be met exactly, and the printed one, which must be its rounding.

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

mod outside;

use tempwright::model::{
    Concentration, InfusionRate, Medication, Named, Rounding, Text, Way, load,
};
use tempwright::plan::{Clock, Course, Round, Steps};
use tempwright::quantity::{Base, Dimension, Exact, UNITS, Unit, Written, unit_named};
use tempwright::source::{MemoryLibrary, Span};

fn number(text: &str) -> Exact {
    match Exact::parse(text) {
        Some(value) => value,
        // Longer than a protocol may write: an answer of an outside program.
        None => {
            let (top, bottom) = text.split_once('/').unwrap_or((text, "1"));
            let part = |digits: &str| {
                let digits: i64 = digits.parse().expect("an outside number");
                Exact::int(digits)
            };
            part(top) / part(bottom)
        }
    }
}

/// `5 mcg/kg/min` as its number and its unit.
fn parts(text: &str) -> (Exact, &'static Unit) {
    let (value, unit) = text.split_once(' ').expect("a number and a unit");
    (
        number(value),
        unit_named(unit).unwrap_or_else(|| panic!("`{unit}` is not read")),
    )
}

fn span() -> Span {
    Span::default()
}

fn rate(text: &str) -> InfusionRate {
    let (value, unit) = parts(text);
    assert!(
        matches!(
            unit.dimension,
            Dimension::Infusion | Dimension::InfusionPerKg
        ),
        "{text}"
    );
    InfusionRate {
        per_hour: value * unit.factor(),
        base: unit.base,
        per_kg: unit.dimension == Dimension::InfusionPerKg,
        written: Written::default(),
        span: span(),
    }
}

fn medication(strength: &str, rounded_to: Option<&str>) -> Medication {
    let (value, unit) = parts(strength);
    assert_eq!(unit.dimension, Dimension::Concentration, "{strength}");
    Medication {
        name: Named {
            name: "test".into(),
            span: span(),
        },
        title: Text {
            markdown: "Test".into(),
            span: span(),
        },
        class: None,
        doses: Vec::new(),
        infusion: None,
        concentration: Some(Concentration {
            per_ml: value * unit.factor(),
            base: unit.base,
            written: Written::default(),
            span: span(),
        }),
        rounded_to: rounded_to.map(|text| Rounding {
            value: parts(text).0,
            base: Base::Volume,
            is_rate: true,
            written: Written::default(),
            span: span(),
        }),
        ceiling: None,
        only_with: Vec::new(),
        avoid: Vec::new(),
        span: span(),
    }
}

/// mL/h before rounding.
fn pump(order: &str, strength: &str, kilograms: Option<&str>) -> Exact {
    medication(strength, None)
        .work_rate(&rate(order), kilograms.map(number))
        .expect("the strength counts the same substance")
        .exact
}

/// A medication as a protocol writes it.
fn written(lines: &str) -> Medication {
    let file = format!(
        r#"protocol example {{
  title "Example"
  unit "Example"
  version 1.0.0
  review 2027-01-01
  purpose fever-control
  patients adult
  method passive
  timezone "UTC"
  reading core "Core" temperature at bladder, shown to 0.1 °C, accurate to 0.2 °C
  phase guard "Guard" {{
    keep core at or below 37.7 °C
    lasts 24 h
  }}
  medication example-drug "Example" {{
{lines}
  }}
}}
"#
    );
    let library = MemoryLibrary::default().with("example.protocol", &file);
    let loaded = load(&library, &["example.protocol"]).expect("held in memory");
    let (_, protocol) = loaded
        .protocols
        .first()
        .unwrap_or_else(|| panic!("{lines}: {:?}", loaded.diagnostics));
    let (_, drug) = protocol.medications().next().expect("one medication");
    drug.clone()
}

/// mL/h before rounding, of an order and a strength as a protocol writes them.
fn pump_as_written(order: &str, strength: &str, kilograms: Option<&str>) -> Exact {
    let drug = written(&format!("    infuse {order}\n    concentration {strength}"));
    let infusion = drug.infusion.as_ref().expect("an infusion");
    drug.work_rate(&infusion.first, kilograms.map(number))
        .expect("the same substance")
        .exact
}

/// Whether `printed` is `exact` rounded, half up, to the places that it shows.
fn is_rounding(exact: Exact, printed: &str) -> bool {
    let places = printed
        .split_once('.')
        .map_or(0, |(_, places)| places.len());
    let step = Exact::ratio(1, 10i64.pow(u32::try_from(places).expect("few places")));
    (exact + step / Exact::int(2)).round_down_to(step) == number(printed)
}

/// Order, strength, weight in kg, exact mL/h, the page's answers.
/// The bag is written as its strength: 200 mg in 250 mL is 0.8 mg/mL.
type Worked = (
    &'static str,
    &'static str,
    Option<&'static str>,
    &'static str,
    &'static [&'static str],
);

#[test]
fn published_infusion_examples() {
    const PAGES: &[(&str, &[Worked])] = &[
        (
            "\"Dosage Calculation in Critical Care Settings\": dopamine, nitroglycerin, midazolam",
            &[
                ("5 mcg/kg/min", "0.8 mg/mL", Some("95"), "35.625", &["36"]),
                ("10 mcg/min", "0.2 mg/mL", None, "3", &["3"]),
                ("0.05 mg/kg/h", "1 mg/mL", Some("40"), "2", &["2"]),
            ],
        ),
        (
            "\"Critical Care Calculations Study Guide\": dopamine, nitroprusside",
            &[
                (
                    "6 mcg/kg/min",
                    "1.6 mg/mL",
                    Some("65"),
                    "14.625",
                    &["14.6", "15"],
                ),
                (
                    "0.4 mcg/kg/min",
                    "0.2 mg/mL",
                    Some("80"),
                    "9.6",
                    &["9.6", "10"],
                ),
            ],
        ),
        (
            "\"Calculating mL/hr RATE from DOSAGE ORDERED\": norepinephrine, morphine",
            &[
                ("3 mcg/min", "0.032 mg/mL", None, "5.625", &["5.6", "6"]),
                ("8 mg/h", "0.5 mg/mL", None, "16", &["16"]),
            ],
        ),
        (
            "\"How to calculate mcg/kg/min\", a nursing journal: dopamine",
            &[("10 mcg/kg/min", "3.2 mg/mL", Some("85"), "15.9375", &["16"])],
        ),
        (
            "a dosage practice set: dopamine at 220 lb, which the page takes as 100 kg",
            &[("3 mcg/kg/min", "1.6 mg/mL", Some("100"), "11.25", &["11.3"])],
        ),
        (
            "\"Common Conversions\": dopamine at 190 lb, which the page divides by 2.2",
            &[(
                "5 mcg/kg/min",
                "1.6 mg/mL",
                Some("950/11"),
                "2850/176",
                &["16.2"],
            )],
        ),
        (
            "a dosage textbook problem, read backwards: dobutamine, 30 mL/h is 500 mcg/min",
            &[
                ("30000 mcg/h", "1 mg/mL", None, "30", &["30"]),
                ("500 mcg/min", "1 mg/mL", None, "30", &["30"]),
            ],
        ),
        (
            "a dosage practice set, read backwards: nitroprusside 3.453, dopamine 1.905 mcg/kg/min",
            &[
                (
                    "625/181 mcg/kg/min",
                    "0.2 mg/mL",
                    Some("72.4"),
                    "75",
                    &["75"],
                ),
                ("40/21 mcg/kg/min", "1.6 mg/mL", Some("70"), "5", &["5"]),
            ],
        ),
        (
            "worked out from the definition: propofol 10 mg/mL at 80 kg",
            &[
                ("20 mcg/kg/min", "10 mg/mL", Some("80"), "9.6", &["9.6"]),
                ("50 mcg/kg/min", "10 mg/mL", Some("80"), "24", &["24.0"]),
                ("75 mcg/kg/min", "10 mg/mL", Some("80"), "36", &["36.0"]),
            ],
        ),
        (
            "worked out from the definition: dexmedetomidine 4 mcg/mL at 80 kg",
            &[
                ("0.2 mcg/kg/h", "4 mcg/mL", Some("80"), "4", &["4.0"]),
                ("0.5 mcg/kg/h", "4 mcg/mL", Some("80"), "10", &["10.0"]),
                (
                    "1.5 mcg/kg/h",
                    "4 micrograms/mL",
                    Some("80"),
                    "30",
                    &["30.0"],
                ),
                // The sixtyfold slip: the same number per minute.
                ("0.5 mcg/kg/min", "4 mcg/mL", Some("80"), "600", &["600"]),
            ],
        ),
        (
            "worked out from the definition: fentanyl 10 mcg/mL",
            &[("25 mcg/h", "10 mcg/mL", None, "2.5", &["2.5"])],
        ),
    ];
    for (page, examples) in PAGES {
        for (order, strength, kilograms, exact, printed) in *examples {
            let answer = pump(order, strength, *kilograms);
            assert_eq!(answer, number(exact), "{order} of {strength}, from {page}");
            assert_eq!(
                pump_as_written(order, strength, *kilograms),
                answer,
                "{order}"
            );
            for rounded in *printed {
                assert!(
                    is_rounding(answer, rounded),
                    "{answer} is not {rounded}: {page}"
                );
            }
        }
    }
    // The reverse examples as their pages print them.
    assert!(is_rounding(number("625/181"), "3.453") && is_rounding(number("625/181"), "3.5"));
    assert!(is_rounding(number("40/21"), "1.905") && is_rounding(number("40/21"), "1.9"));
}

#[test]
fn a_pump_rate_is_rounded_down_to_its_step_and_never_up() {
    // The first published example: 35.625 mL/h. Its page rounds to 36, by its own rule.
    for (step, set) in [("1 mL/h", "35"), ("0.1 mL/h", "35.6"), ("0.5 mL/h", "35.5")] {
        let worked = medication("0.8 mg/mL", Some(step))
            .work_rate(&rate("5 mcg/kg/min"), Some(number("95")))
            .expect("mg beside mg");
        assert_eq!(
            (worked.per_hour, worked.exact),
            (number("28.5"), number("35.625"))
        );
        assert_eq!(worked.set, number(set), "{step}");
    }
}

/// What one dose at that weight comes to, in mg: product, after `at most`, given.
fn dose(drug: &Medication, kilograms: &str) -> [String; 3] {
    let weight = Some(number(kilograms));
    let line = drug
        .dose_line_for(weight)
        .unwrap_or_else(|| panic!("no line for {kilograms} kg"));
    let worked = drug.work_dose(line, weight).expect("mg beside mg");
    [worked.product, worked.capped, worked.given].map(|value| value.to_string())
}

#[test]
fn a_dose_by_weight_is_capped_and_then_rounded_down() {
    let drug = written("    dose 30 mg/kg iv over 30 min, at most 2 g\n    rounded to 100 mg");
    assert_eq!(dose(&drug, "64.9"), ["1947", "1947", "1900"]);
    assert_eq!(dose(&drug, "66.6"), ["1998", "1998", "1900"]);
    assert_eq!(dose(&drug, "66.7"), ["2001", "2000", "2000"]);
    assert_eq!(dose(&drug, "70"), ["2100", "2000", "2000"]);
    // 0.15 mg/kg or 0.1 mg/kg, as two pages print the same drug, drawn up from 1 mg/mL.
    let drawn = "    concentration 1 mg/mL\n    rounded to 0.5 mL";
    let drug = written(&format!("    dose 0.15 mg/kg iv over 1 min\n{drawn}"));
    assert_eq!(dose(&drug, "72"), ["10.8", "10.8", "10.5"]);
    let drug = written(&format!("    dose 0.1 mg/kg iv over 1 min\n{drawn}"));
    assert_eq!(dose(&drug, "72"), ["7.2", "7.2", "7"]);
    // By hand, of another strength: 43.2 mg of 10 mg/mL is 4.32 mL, drawn up as 4 mL, 40 mg.
    let drawn = "    concentration 10 mg/mL\n    rounded to 0.5 mL";
    let drug = written(&format!("    dose 0.6 mg/kg iv over 1 min\n{drawn}"));
    assert_eq!(dose(&drug, "72"), ["43.2", "43.2", "40"]);
    // 10.8 mg of 2 mg/mL is 5.4 mL, drawn up as 5.2 mL, 10.4 mg.
    let drawn = "    concentration 2 mg/mL\n    rounded to 0.4 mL";
    let drug = written(&format!("    dose 0.15 mg/kg iv over 1 min\n{drawn}"));
    assert_eq!(dose(&drug, "72"), ["10.8", "10.8", "10.4"]);
}

#[test]
fn weight_bands_take_their_own_edges() {
    let drug = written(
        "    dose 500 mg iv over 30 min  when weight below 50 kg
    dose 1 g iv over 30 min     when weight at or above 50 kg and weight at or below 100 kg
    dose 2 g iv over 30 min     when weight above 100 kg",
    );
    for (kilograms, milligrams) in [
        ("49.9", "500"),
        ("50", "1000"),
        ("100", "1000"),
        ("100.1", "2000"),
    ] {
        assert_eq!(dose(&drug, kilograms)[2], milligrams, "{kilograms} kg");
    }
}

#[test]
fn what_cannot_be_worked_out_is_not_guessed() {
    let propofol = medication("10 mg/mL", None);
    assert_eq!(
        propofol.work_rate(&rate("50 mcg/kg/min"), None),
        None,
        "no weight"
    );
    assert_eq!(
        propofol.work_rate(&rate("5 mmol/h"), None),
        None,
        "mmol of a strength in mg"
    );
    // A volume rate needs neither.
    let worked = propofol
        .work_rate(&rate("12.5 mL/h"), None)
        .expect("a volume");
    assert_eq!(worked.exact, number("12.5"));
}

#[test]
fn pounds_are_not_read() {
    // 220 lb is 100 kg at the pages' 2.2 and 99.79 kg exactly: 11.3 or 11.2 mL/h.
    for spelling in ["lb", "lbs", "pound", "pounds"] {
        assert!(unit_named(spelling).is_none(), "{spelling}");
    }
    let exact = number("220") * number("0.45359237");
    let answer = medication("1.6 mg/mL", None)
        .work_rate(&rate("3 mcg/kg/min"), Some(exact))
        .expect("mg beside mg")
        .exact;
    assert!(is_rounding(answer, "11.226") && is_rounding(answer, "11.2"));
}

#[test]
fn what_is_easily_misread_is_no_unit() {
    for spelling in [
        "µg", "μg", "ug", "cc", "U", "u", "IU", "ml", "MG", "Mg", "gm", "mcgs", "H", "hrs",
    ] {
        assert!(unit_named(spelling).is_none(), "{spelling}");
    }
}

#[test]
fn a_thousandfold_slip_stays_a_thousandfold_slip() {
    // Magnesium for shivering is given in g/h; the same number in mg/h is a thousandth.
    let grams = rate("0.5 g/h").per_hour;
    assert_eq!(grams, rate("0.5 mg/h").per_hour * Exact::int(1000));
    // 75 mcg/kg/min of propofol is 4.5 mg/kg/h, past the 4 mg/kg/h of its label; 50 is not.
    assert_eq!(rate("75 mcg/kg/min").per_hour, rate("4.5 mg/kg/h").per_hour);
    assert_eq!(rate("50 mcg/kg/min").per_hour, rate("3 mg/kg/h").per_hour);
    assert!(rate("200/3 mcg/kg/min").per_hour == rate("4 mg/kg/h").per_hour);
}

#[test]
fn temperatures_in_both_scales() {
    // Clinical thresholds and their customary equivalents; exact by definition.
    const PAIRS: &[(&str, &str)] = &[
        ("28", "82.4"),
        ("30", "86.0"),
        ("32", "89.6"),
        ("33", "91.4"),
        ("33.5", "92.3"),
        ("34", "93.2"),
        ("35", "95.0"),
        ("36", "96.8"),
        ("36.5", "97.7"),
        ("37", "98.6"),
        ("37.5", "99.5"),
        ("37.7", "99.86"),
        ("37.8", "100.04"),
        ("38.3", "100.94"),
        ("38.6", "101.48"),
        ("38.9", "102.02"),
        ("39", "102.2"),
        ("40", "104.0"),
    ];
    let fahrenheit = parts("0 °F").1;
    let celsius = parts("0 degC").1;
    for (in_celsius, in_fahrenheit) in PAIRS {
        assert_eq!(
            fahrenheit.temperature_to_celsius(number(in_fahrenheit)),
            celsius.temperature_to_celsius(number(in_celsius)),
            "{in_fahrenheit} °F"
        );
    }
}

#[test]
fn a_difference_is_converted_without_the_32() {
    let change = |text: &str| {
        let (value, unit) = parts(text);
        value * unit.factor()
    };
    assert_eq!(change("0.9 °F"), change("0.5 °C"));
    assert_eq!(change("0.54 °F"), change("0.3 °C"));
    assert_eq!(change("0.9 °F/h"), change("0.5 °C/h"));
    // 0.155 °C/min, the rate wanted in heat stroke, is 9.3 °C/h.
    assert_eq!(change("0.155 °C/min"), change("9.3 °C/h"));
    // The trap: as a temperature the same 0.5 °C is 32.9 °F.
    let (value, unit) = parts("32.9 °F");
    assert_eq!(unit.temperature_to_celsius(value), number("0.5"));
    assert_ne!(change("32.9 °F"), change("0.5 °C"));
}

#[test]
fn every_unit_agrees_with_pint() {
    // What pint calls otherwise or does not know: units of activity, and amounts,
    // which are never converted into each other.
    let units: String = UNITS
        .iter()
        .filter(|unit| unit.dimension != Dimension::Amount && unit.base != Base::Units)
        .map(|unit| format!("{}\t{:?} {:?}\n", unit.name, unit.dimension, unit.base))
        .collect();
    let Some(answers) = outside::python("units_pint.py", "pint", &["20261124", "2000"], &units)
    else {
        return;
    };
    let mut seen = std::collections::BTreeMap::<&str, usize>::new();
    for line in answers.lines() {
        let fields: Vec<&str> = line.split('\t').collect();
        let (ours, theirs) = match fields.as_slice() {
            ["convert", from, to] => {
                let ((value, from), (answer, to)) = (parts(from), parts(to));
                (value * from.factor() / to.factor(), answer)
            }
            ["celsius", from, to] => {
                let (value, unit) = parts(from);
                (unit.temperature_to_celsius(value), parts(to).0)
            }
            ["change", from, to] => {
                let (value, unit) = parts(from);
                (value * unit.factor(), parts(to).0)
            }
            ["pump", order, weight, strength, answer] => {
                let weight = weight.strip_suffix(" kg").expect("a weight");
                (pump(order, strength, Some(weight)), parts(answer).0)
            }
            _ => panic!("not understood: {line}"),
        };
        assert_eq!(ours, theirs, "{line}");
        *seen
            .entry(fields.first().copied().unwrap_or(""))
            .or_default() += 1;
    }
    let counts: Vec<usize> = seen.values().copied().collect();
    assert_eq!(counts, [2000; 4], "{seen:?}");
}

#[test]
fn courses_agree_with_another_reading_of_the_definition() {
    let Some(answers) = outside::python("courses.py", "fractions", &["20261124", "3000"], "")
    else {
        return;
    };
    let mut stepped = 0;
    for line in answers.lines() {
        let fields: Vec<&str> = line.split('\t').collect();
        let [way, begin, end, rate, every, step, minute, then, arrives] = fields.as_slice() else {
            panic!("not understood: {line}");
        };
        let course = Course {
            way: if *way == "warm" { Way::Warm } else { Way::Cool },
            begin: number(begin),
            end: number(end),
            rate: number(rate),
            steps: (*every != "-").then(|| Steps {
                every: number(every),
                step: number(step),
            }),
        };
        stepped += usize::from(course.steps.is_some());
        assert_eq!(course.target_at(number(minute)), number(then), "{line}");
        assert_eq!(course.arrives_after(), Some(number(arrives)), "{line}");
        assert!(course.has_arrived(number(arrives)), "{line}");
    }
    assert!((1000..3000).contains(&stepped), "{stepped} with steps");
}

#[test]
fn clocks_agree_with_another_time_zone_library() {
    let Some(answers) = outside::python("clocks.py", "zoneinfo, tzdata", &["20261124", "1500"], "")
    else {
        return;
    };
    let mut twice = 0;
    for line in answers.lines() {
        let fields: Vec<&str> = line.split('\t').collect();
        let [zone, start, minutes, shown] = fields.as_slice() else {
            panic!("not understood: {line}");
        };
        let clock = Clock::parse(zone, start).unwrap_or_else(|error| panic!("{line}: {error}"));
        let then = clock
            .at(number(minutes), Round::Down)
            .expect("inside the calendar");
        let (date, time) = shown.split_once(' ').expect("a date and a time");
        assert_eq!(then.time(), time, "{line}");
        twice += usize::from(time.contains('('));
        assert_eq!(then.date().to_string(), date, "{line}");
    }
    assert!(twice > 50, "only {twice} of the times occur twice");
}
