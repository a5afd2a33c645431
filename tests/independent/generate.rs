//! Protocols and records made at random, always the same from the same seed.

/// A small generator of numbers (xorshift); nothing here needs more.
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Self {
        // Spread the seed, so that neighbours differ from the first throw on.
        Dice(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1)
    }

    pub fn below(&mut self, end: u64) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) % end
    }

    pub fn one_in(&mut self, n: u64) -> bool {
        self.below(n) == 0
    }

    pub fn pick<'a, T: ?Sized>(&mut self, of: &[&'a T]) -> &'a T {
        of[self.below(of.len() as u64) as usize]
    }

    /// A temperature between two, in tenths.
    fn celsius(&mut self, low: u64, high: u64) -> String {
        let tenths = low + self.below(high - low + 1);
        format!("{}.{} °C", tenths / 10, tenths % 10)
    }
}

const PHASES: [&str; 5] = ["cool", "hold", "rewarm", "guard", "watch"];
const TIMES: [&str; 6] = ["10 min", "15 min", "30 min", "45 min", "1 h", "2 h"];

struct Maker<'d> {
    dice: &'d mut Dice,
    phases: Vec<&'static str>,
}

impl Maker<'_> {
    fn during(&mut self) -> String {
        match self.dice.below(4) {
            0 => String::new(),
            1 | 2 => {
                let one = self.phase();
                format!(" during {one}")
            }
            _ => {
                let at = self.dice.below(self.phases.len() as u64) as usize;
                let two: Vec<&str> = self.phases.iter().skip(at).take(2).copied().collect();
                format!(" during {}", two.join(", "))
            }
        }
    }

    fn phase(&mut self) -> &'static str {
        let at = self.dice.below(self.phases.len() as u64) as usize;
        self.phases[at]
    }

    fn time(&mut self) -> &'static str {
        self.dice.pick(&TIMES)
    }

    fn sustained(&mut self) -> String {
        match self.dice.below(3) {
            0 => format!(" for {}", self.time()),
            _ => String::new(),
        }
    }

    fn test(&mut self) -> String {
        let cmp = self
            .dice
            .pick(&["below", "above", "at or below", "at or above"]);
        let reading = self.dice.pick(&["core", "core", "second"]);
        match self.dice.below(16) {
            0..=3 => {
                let level = self.dice.celsius(325, 380);
                format!("{reading} {cmp} {level}{}", self.sustained())
            }
            4 => {
                let score = self.dice.below(4);
                format!("shiver {cmp} {score}{}", self.sustained())
            }
            5 => {
                let (low, high) = (self.dice.celsius(325, 350), self.dice.celsius(350, 378));
                format!("{reading} outside {low} to {high}{}", self.sustained())
            }
            6 => {
                let word = self.dice.pick(&["alert", "verbal", "pain"]);
                format!("awake is {word}{}", self.sustained())
            }
            7 => {
                let side = self.dice.pick(&["above", "below"]);
                let by = self.dice.pick(&["0.3 °C", "0.5 °C", "1.0 °C"]);
                format!("core {side} target by more than {by}{}", self.sustained())
            }
            8 => format!("core within 0.5 °C of target{}", self.sustained()),
            9 | 10 => {
                let way = self.dice.pick(&["more", "less"]);
                let by = self.dice.pick(&["0.5 °C", "1.0 °C"]);
                format!(
                    "core and second differ by {way} than {by}{}",
                    self.sustained()
                )
            }
            11 | 12 => {
                let (way, cmp) = (
                    self.dice.pick(&["rises", "falls"]),
                    self.dice.pick(&["more", "less"]),
                );
                let by = self.dice.pick(&["0.2 °C", "0.5 °C", "1.0 °C"]);
                format!("core {way} {cmp} than {by} in {}", self.time())
            }
            13 => {
                let reading = self.dice.pick(&["core", "second", "shiver"]);
                format!("{reading} not recorded for {}", self.time())
            }
            14 => format!("{} lasts longer than {}", self.phase(), self.time()),
            _ => match self.dice.below(2) {
                0 => format!("paused longer than {}", self.time()),
                _ => "cool is overdue".to_owned(),
            },
        }
    }

    fn cond(&mut self) -> String {
        match self.dice.below(6) {
            0 => format!("{} and {}", self.test(), self.test()),
            1 => format!("{} or {}", self.test(), self.test()),
            2 => format!("({} or {}) and {}", self.test(), self.test(), self.test()),
            _ => self.test(),
        }
    }

    fn until(&mut self) -> String {
        match self.dice.below(4) {
            0 => "until seen".to_owned(),
            1 => format!("until {}", self.cond()),
            _ => format!("for {}", self.time()),
        }
    }

    fn action(&mut self) -> String {
        match self.dice.below(26) {
            0..=2 => format!("call doctor within {}", self.time()),
            3 => "call doctor now".to_owned(),
            4 if self.dice.one_in(2) => format!("record second in {}", self.time()),
            4 => "record core now".to_owned(),
            5 | 6 => "follow steps-up".to_owned(),
            7 | 8 => "follow rungs-by-score".to_owned(),
            9 => format!("begin {}", self.phase()),
            10 => format!("set target {}", self.dice.celsius(330, 372)),
            11 => "raise target by 0.5 °C, at most 36.0 °C".to_owned(),
            12 => "lower target by 0.3 °C, at least 33.0 °C".to_owned(),
            13 | 14 => format!("keep target here {}", self.until()),
            15 => "set rate 0.3 °C/h".to_owned(),
            16..=18 => format!("pause temperature control {}", self.until()),
            19 if self.dice.one_in(3) => "stop temperature control".to_owned(),
            20 => "give salt otherwise call doctor now".to_owned(),
            21 => "give calm otherwise give salt otherwise record core now".to_owned(),
            22 => "raise calm otherwise continue".to_owned(),
            23 => "lower calm".to_owned(),
            24 => format!("withhold salt {}", self.until()),
            25 => "stop calm".to_owned(),
            _ => "do \"Look again\"".to_owned(),
        }
    }

    fn end(&mut self) -> String {
        match self.dice.below(6) {
            0 => "ends 8 h after seen".to_owned(),
            1 => {
                let bounds =
                    self.dice
                        .pick(&["", ", at least 1 h", ", at least 30 min, at most 3 h"]);
                format!("ends at seen, plan for 2 h{bounds}")
            }
            2 => {
                let bounds = self.dice.pick(&["", ", at least 1 h", ", at most 4 h"]);
                format!("ends when {}, plan for 2 h{bounds}", self.test())
            }
            3 => format!("ends {} after {}.start", self.time(), self.phases[0]),
            _ => format!("lasts {}", self.dice.pick(&["30 min", "1 h", "2 h", "3 h"])),
        }
    }

    fn aim(&mut self, phase: &str) -> String {
        match phase {
            "cool" => {
                let within = self.dice.pick(&["", " within 0.3 °C"]);
                let due = self
                    .dice
                    .pick(&["due within 2 h", "due within 3 h of seen"]);
                format!("cool core to 33.0 °C{within}\n    never faster than 2.0 °C/h\n    {due}")
            }
            "rewarm" => {
                let from = self.dice.pick(&["", "from 33.0 °C "]);
                let rate = self
                    .dice
                    .pick(&["0.5 °C/h", "1/3 °C/h", "0.5 °C/h to 1.0 °C/h"]);
                let moves = self.dice.pick(&[
                    "",
                    "target moves every 1 h in steps of 0.1 °C",
                    "target moves every 30 min in steps of 0.2 °C",
                ]);
                format!("warm core {from}to 36.0 °C within 0.2 °C at {rate}\n    {moves}")
            }
            "hold" => format!("hold core at 33.0 °C within 0.5 °C\n    {}", self.end()),
            "guard" => format!("keep core 36.0 °C to 37.7 °C\n    {}", self.end()),
            _ => format!("keep core at or below 37.5 °C\n    {}", self.end()),
        }
    }

    fn look(&mut self) -> String {
        let every = self.dice.pick(&["15 min", "30 min", "1 h", "2 h"]);
        let during = self.during();
        match self.dice.below(10) {
            0..=3 => format!("every {every} record core{during}"),
            4 => format!("every {every} record core, second{during}"),
            5 => format!("every {every} score shiver then follow rungs-by-score{during}"),
            6 => format!("every {every} do \"Turn the patient\"{during}"),
            7 => format!("every {every} give salt{during}"),
            8 => {
                let mark = format!("{}.start", self.phase());
                let mark = self.dice.pick(&["seen", "start", mark.as_str()]).to_owned();
                let action = match self.dice.below(4) {
                    0 => "record core, second".to_owned(),
                    _ => self.action(),
                };
                format!("at {} after {mark} {action}", self.time())
            }
            _ => {
                let phase = self.phase();
                format!("at {} before {phase}.start do \"Get ready\"", self.time())
            }
        }
    }

    fn measure(&mut self, number: u64) -> String {
        let what = match self.dice.below(4) {
            0 => format!("area of core above {}", self.dice.celsius(340, 370)),
            1 => format!("area of second below {}", self.dice.celsius(340, 370)),
            2 => format!("length of time when {}", self.cond()),
            _ => format!("share of time when {}", self.cond()),
        };
        format!("measure sum-{number} \"Sum\" {what}{}", self.during())
    }

    fn rule(&mut self, number: u64, rules: u64) -> String {
        let mut lines = vec![format!("when {}{}", self.cond(), self.during())];
        for _ in 0..=self.dice.below(2) {
            lines.push(format!("then {}", self.action()));
        }
        if self.dice.one_in(3) {
            lines.push(format!("ready again when {}", self.cond()));
        }
        if self.dice.one_in(2) {
            lines.push(format!("again after {}", self.time()));
        }
        if self.dice.one_in(3) {
            let other = self.dice.below(rules);
            if other != number {
                lines.push(format!("overrides rule-{other}"));
            }
        }
        format!("rule rule-{number} {{\n    {}\n  }}", lines.join("\n    "))
    }
}

/// The text of a protocol. Not every one is whole: the caller takes those that are.
pub fn protocol(dice: &mut Dice) -> String {
    written(dice, false)
}

/// The same with its looks, rules and measures in the opposite order.
pub fn reversed(dice: &mut Dice) -> String {
    written(dice, true)
}

fn written(dice: &mut Dice, reversed: bool) -> String {
    let from = dice.below(3) as usize;
    let count = 2 + dice.below(3) as usize;
    let phases: Vec<&'static str> = PHASES.iter().skip(from).take(count).copied().collect();
    let mut maker = Maker {
        dice,
        phases: phases.clone(),
    };
    let mut parts: Vec<String> = phases
        .iter()
        .map(|phase| format!("phase {phase} \"Phase\" {{\n    {}\n  }}", maker.aim(phase)))
        .collect();
    for _ in 0..2 + maker.dice.below(4) {
        parts.push(maker.look());
    }
    let rules = 1 + maker.dice.below(5);
    for number in 0..rules {
        parts.push(maker.rule(number, rules));
    }
    for number in 0..maker.dice.below(3) {
        parts.push(maker.measure(number));
    }
    if reversed {
        parts[phases.len()..].reverse();
    }
    let good = maker.dice.pick(&["", ", good for 1 h", ", good for 3 h"]);
    format!(
        r#"protocol made {{
  title "Made at random" unit "Nowhere" version 1.0.0 review 2027-06-30
  purpose therapeutic-hypothermia after cardiac-arrest
  patients adult, weight 40 kg to 140 kg
  method surface feedback from core
  timezone "Europe/London"
  people {{
    nurse "Nurse"
    doctor "Doctor" if no reply in 20 min then consultant
    consultant "Consultant" if no reply in 30 min then doctor
  }}
  mark seen "Seen"
  reading core "Core" temperature at bladder, continuous, shown to 0.1 °C, accurate to 0.2 °C{good}
  reading second "Second" temperature at rectum, shown to 0.1 °C, accurate to 0.2 °C, reads 30.0 °C to 40.0 °C
  reading shiver "Shivering" score of shivering 0 to 3
  reading awake "Responds" choice of consciousness, alert or verbal or pain
  ladder steps-up "Steps" on shiver until at or below 1 {{
    step "One" {{ do "Warm the hands"
      give salt otherwise continue
      recheck in 20 min }}
    step "Two" {{ give calm otherwise call doctor now
      recheck in 30 min }}
    step "Three" {{ raise calm otherwise call doctor now }}
    step "Four" {{ call doctor within 15 min }}
  }}
  ladder rungs-by-score "Rungs" on shiver {{
    rung 0 "None" {{ continue }}
    rung 1 to 2 "Some" {{ give salt otherwise call doctor within 30 min
      recheck in 40 min }}
    rung 3 "Much" {{ call doctor now }}
  }}
  medication salt "Salt" {{
    dose 30 mg/kg iv over 30 min, at most 2 g, not again within 45 min when weight below 60 kg
    dose 2 g iv over 30 min, not again within 1 h when weight at or above 60 kg
    rounded to 100 mg
    ceiling 4 g per 3 h
  }}
  medication calm "Calm" {{
    infuse 0.2 mcg/kg/h to 0.7 mcg/kg/h, steps of 0.2 mcg/kg/h every 20 min, for at most 5 h
    concentration 4 mcg/mL
    ceiling 2 mcg/kg per 4 h
  }}
  {}
}}
"#,
        parts.join("\n  ")
    )
    .replace("\" unit ", "\"\n  unit ")
    .replace("\" version ", "\"\n  version ")
    .replace(" review ", "\n  review ")
}

/// One entry: minutes, and what is entered.
pub type Made = (u64, &'static str, String);

/// Up to twelve hours of records, mostly in steps of a quarter of an hour.
pub fn record(dice: &mut Dice) -> Vec<Made> {
    let mut made = Vec::new();
    let mut at = 0;
    let mut core = 330 + dice.below(50);
    for _ in 0..5 + dice.below(40) {
        if dice.one_in(3) {
            core = 320 + dice.below(62);
        } else {
            core = (core + dice.below(9)).saturating_sub(4).clamp(315, 385);
        }
        let tenths = |value: u64| format!("{}.{}", value / 10, value % 10);
        if !dice.one_in(4) {
            made.push((at, "core", tenths(core)));
        }
        if dice.one_in(2) {
            let second = (core + dice.below(25)).saturating_sub(12);
            made.push((at, "second", tenths(second)));
        }
        if dice.one_in(3) {
            made.push((at, "shiver", dice.below(4).to_string()));
        }
        if dice.one_in(5) {
            let word = dice.pick(&["alert", "verbal", "pain"]);
            made.push((at, "awake", word.to_owned()));
        }
        if dice.one_in(12) {
            made.push((at, "seen", String::new()));
        }
        if dice.one_in(30) {
            made.push((at, "core", "50.0".to_owned()));
        }
        at += match dice.below(8) {
            0 => 1 + dice.below(29),
            1 => 60,
            2 | 3 => 30,
            _ => 15,
        };
    }
    made
}
