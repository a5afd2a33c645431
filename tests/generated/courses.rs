//! Small protocols in which the target moves: by a course, and by what a third rule orders.

use crate::generated::Config;

const HEAD: &str = r#"
  title "Small"
  unit "Invented"
  version 1.0.0
  review 2027-06-30
  purpose fever-control after cardiac-arrest
  patients adult, weight 50 kg to 100 kg, core 36.0 °C to 36.2 °C on arrival
  method surface feedback from core
  timezone "Europe/London"
  people {
    doctor "Doctor"
  }
  mark ready "Ready"
  reading core   "Core"   temperature at bladder, shown to 0.1 °C, accurate to 0.1 °C, reads 36.0 °C to 36.2 °C
  reading second "Second" temperature at rectum, shown to 0.2 °C, accurate to 0.1 °C, reads 36.0 °C to 36.2 °C
  reading score  "Score"  score of pain 0 to 1
"#;

const SETTLE: &str = "phase settle \"Settle\" {\n keep core 36.0 °C to 36.2 °C\n lasts 1 h\n}\n";
const MIDDLE: &str = "phase middle \"Middle\" {\n keep core 36.0 °C to 36.1 °C\n lasts 1 h\n}\n";
const HOLD: &str = "phase hold \"Hold\" {\n hold core at 36.1 °C within 0.1 °C\n lasts 24 h\n}\n";

fn course(aim: &str) -> String {
    format!("phase move \"Move\" {{\n {aim}\n}}\n")
}

/// Name, phases, the phase asked about, what the third rule does.
pub fn configs() -> Vec<Config> {
    let hourly = "target moves every 1 h in steps of 0.1 °C";
    let warm = format!("warm core to 36.2 °C at 0.1 °C/h\n {hourly}");
    let near = format!("warm core to 36.2 °C within 0.1 °C at 0.1 °C/h\n {hourly}");
    let cool = format!("cool core to 36.0 °C at 0.1 °C/h\n {hourly}");
    let from = format!("warm core from 36.0 °C to 36.2 °C at 0.05 °C/h\n {hourly}");
    let glides = "warm core from 36.0 °C to 36.2 °C at 0.05 °C/h";
    let falls = "cool core from 36.2 °C to 36.0 °C within 0.1 °C at 0.1 °C/h";
    let slow = "warm core to 36.2 °C at 0.05 °C/h";
    let fall = "cool core to 36.0 °C within 0.1 °C at 0.05 °C/h";
    let after = |aim: &str| format!("{SETTLE}{}", course(aim));
    let quiet = "when second above 36.2 °C\n then call doctor now";
    let all: Vec<(&'static str, String, u32, &str)> = vec![
        ("warm", course(&warm), 0, quiet),
        ("warm, near", course(&near), 0, quiet),
        ("cool", course(&cool), 0, quiet),
        ("warm slowly", course(slow), 0, quiet),
        ("cool slowly", course(fall), 0, quiet),
        ("later warm", after(&warm), 1, quiet),
        ("later cool", after(&cool), 1, quiet),
        ("later warm slowly", after(slow), 1, quiet),
        ("later cool slowly", after(fall), 1, quiet),
        (
            "after cooling",
            format!(
                "phase cool \"Cool\" {{\n cool core to 36.0 °C within 0.1 °C\n due within 4 h\n}}\n{HOLD}"
            ),
            1,
            quiet,
        ),
        (
            "after warming",
            format!("phase warm \"Warm\" {{\n warm core to 36.2 °C\n due within 4 h\n}}\n{HOLD}"),
            1,
            quiet,
        ),
        (
            "after cooling slowly",
            format!(
                "phase cool \"Cool\" {{\n cool core to 36.0 °C\n never faster than 0.1 °C/h\n \
                 due within 4 h\n}}\n{HOLD}"
            ),
            1,
            quiet,
        ),
        (
            "after warming near",
            format!(
                "phase warm \"Warm\" {{\n warm core to 36.2 °C within 0.1 °C\n \
                 never faster than 0.1 °C/h\n due within 4 h\n}}\n{HOLD}"
            ),
            1,
            quiet,
        ),
        (
            "reach near",
            course("warm core to 36.2 °C within 0.1 °C\n due within 4 h"),
            0,
            quiet,
        ),
        (
            "reach down near",
            course("cool core to 36.0 °C within 0.1 °C\n due within 4 h"),
            0,
            quiet,
        ),
        (
            "mark",
            format!(
                "phase wait \"Wait\" {{\n keep core 36.0 °C to 36.2 °C\n \
                 ends at ready, plan for 2 h\n}}\n{HOLD}"
            ),
            1,
            quiet,
        ),
        (
            "late mark",
            format!(
                "phase wait \"Wait\" {{\n keep core 36.0 °C to 36.2 °C\n \
                 ends at ready, plan for 2 h, at least 2 h\n}}\n{HOLD}"
            ),
            1,
            quiet,
        ),
        (
            "timed by a mark, seldom looked at behind it",
            format!(
                "phase wait \"Wait\" {{\n keep core 36.0 °C to 36.2 °C\n \
                 ends at ready, plan for 2 h\n}}\n{HOLD}"
            ),
            1,
            quiet,
        ),
        (
            "timed by a mark",
            format!(
                "phase wait \"Wait\" {{\n keep core 36.0 °C to 36.2 °C\n \
                 ends at ready, plan for 2 h\n}}\nphase middle \"Middle\" {{\n \
                 keep core 36.0 °C to 36.1 °C\n ends 1 h after ready\n}}\n{HOLD}"
            ),
            2,
            quiet,
        ),
        (
            "after a rise",
            format!(
                "phase wait \"Wait\" {{\n keep core 36.0 °C to 36.2 °C\n \
                 ends when core rises more than 0.1 °C in 1 h, plan for 2 h\n}}\n{HOLD}"
            ),
            1,
            quiet,
        ),
        (
            "after waiting",
            format!(
                "phase wait \"Wait\" {{\n keep core 36.0 °C to 36.2 °C\n \
                 ends when core at or above 36.1 °C for 1 h, plan for 2 h\n}}\n{HOLD}"
            ),
            1,
            quiet,
        ),
        ("two of three", format!("{SETTLE}{MIDDLE}{HOLD}"), 2, quiet),
        (
            "raised",
            HOLD.to_owned(),
            0,
            "when score at or above 1\n then raise target by 0.1 °C, at most 36.2 °C",
        ),
        (
            "lowered",
            HOLD.to_owned(),
            0,
            "when core above 36.1 °C\n then lower target by 0.1 °C, at least 36.0 °C",
        ),
        (
            "overridden",
            HOLD.to_owned(),
            0,
            "when core at or above 36.1 °C\n then lower target by 0.1 °C, at least 36.0 °C\n}\n\
             rule fourth {\n when core at or below 36.1 °C during hold\n then call doctor now\n \
             overrides third",
        ),
        (
            "set",
            format!("{SETTLE}{HOLD}"),
            1,
            "when score at or above 1 for 1 h during hold\n then set target 36.2 °C",
        ),
        (
            "kept",
            course(&from),
            0,
            "when score at or above 1\n then keep target here for 1 h",
        ),
        (
            "kept until",
            course(&from),
            0,
            "when core below 36.1 °C\n then keep target here until score below 1",
        ),
        (
            "paused on its way",
            course(&from),
            0,
            "when score at or above 1\n then pause temperature control for 90 min",
        ),
        (
            "kept gliding",
            course(glides),
            0,
            "when score at or above 1\n then keep target here for 1 h",
        ),
        (
            "kept gliding down",
            course(falls),
            0,
            "when score at or above 1\n then keep target here until score below 1",
        ),
        (
            "kept from a record",
            course(&warm),
            0,
            "when score at or above 1\n then keep target here for 90 min",
        ),
        (
            "kept from a record, gliding",
            course(slow),
            0,
            "when score at or above 1\n then keep target here until score below 1",
        ),
        (
            "kept from a record, down",
            course(fall),
            0,
            "when core below 36.1 °C\n then keep target here for 2 h",
        ),
        (
            "paused from a record",
            course(&near),
            0,
            "when score at or above 1\n then pause temperature control until score below 1",
        ),
        (
            "paused for an hour",
            course(glides),
            0,
            "when core above 36.0 °C\n then pause temperature control for 1 h",
        ),
        (
            "faster",
            course(glides),
            0,
            "when score at or above 1\n then set rate 0.1 °C/h",
        ),
        (
            "raised on its way",
            course(glides),
            0,
            "when score at or above 1\n then raise target by 0.1 °C, at most 36.2 °C",
        ),
        (
            "raised between the steps",
            course(&from),
            0,
            "when score at or above 1\n then raise target by 0.05 °C, at most 36.2 °C",
        ),
        (
            "begun by an order",
            format!("{SETTLE}{}", course(glides)),
            1,
            "when score at or above 1\n then begin move",
        ),
        (
            "begun by an order from a record",
            format!("{SETTLE}{}", course(fall)),
            1,
            "when score at or above 1 during settle\n then begin move",
        ),
        (
            "begun again",
            format!("{}{HOLD}", course(falls)),
            0,
            "when score at or above 1 during hold\n then begin move",
        ),
        (
            "set on its way down",
            course(falls),
            0,
            "when score at or above 1\n then set target 36.1 °C",
        ),
        (
            "paused before",
            format!("{SETTLE}{HOLD}"),
            1,
            "when score at or above 1\n then pause temperature control for 2 h",
        ),
    ];
    all.into_iter()
        .map(|(name, phases, phase, third)| {
            let during = if name == "two of three" {
                " during middle, hold"
            } else {
                ""
            };
            let rules: String = ["a", "b"]
                .map(|name| {
                    format!(
                        "rule {name} {{\n when core above 36.0 °C{during}\n then call doctor now\n}}\n"
                    )
                })
                .concat();
            let core = if name.ends_with("seldom looked at behind it") {
                "every 1 h record core during wait\nevery 3 h record core during hold"
            } else {
                "every 1 h record core"
            };
            let looks = format!("{core}\nevery 2 h record second\nevery 1 h score score\n");
            let text = format!(
                "protocol small {{{HEAD}\n{phases}\n{looks}{rules}rule third {{\n {third}\n}}\n}}\n"
            );
            Config::read(name, &text, phase)
        })
        .collect()
}
