//! A first protocol for a unit that has none: it checks clean, and says in
//! `# decide:` lines what the unit must still settle.
//!
//! Takes what the author already knows; gives the text of a protocol file. The
//! figures are published ones or common practice, so that nothing unsafe stands
//! there before the committee has met.

mod drafted;
mod route;

use crate::model::FixedWord as _;
use crate::model::words::{Means, Purpose};
use std::fmt::Write as _;

/// What kind of protocol is wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Keep an adult's temperature from rising after cardiac arrest.
    FeverControl,
    /// Cool an adult after cardiac arrest, hold, rewarm, guard against fever.
    Hypothermia,
    /// Cool a newborn after lack of oxygen at birth.
    NewbornCooling,
    /// Rewarm an adult found cold.
    AccidentalHypothermia,
    /// Cool an adult with heat stroke in a bath.
    HeatStroke,
    /// Keep an adult warm before, during and after an operation.
    PerioperativeWarmth,
}

impl Kind {
    pub const ALL: [Kind; 6] = [
        Kind::FeverControl,
        Kind::Hypothermia,
        Kind::NewbornCooling,
        Kind::AccidentalHypothermia,
        Kind::HeatStroke,
        Kind::PerioperativeWarmth,
    ];

    pub fn purpose(self) -> Purpose {
        match self {
            Kind::FeverControl => Purpose::FeverControl,
            Kind::Hypothermia => Purpose::TherapeuticHypothermia,
            Kind::NewbornCooling => Purpose::NewbornCooling,
            Kind::AccidentalHypothermia => Purpose::AccidentalHypothermia,
            Kind::HeatStroke => Purpose::HeatStroke,
            Kind::PerioperativeWarmth => Purpose::PerioperativeWarmth,
        }
    }

    /// What is usually written after `patients`, without the temperatures on arrival.
    pub fn usual_patients(self) -> String {
        match self.demo() {
            Some(demo) => demo.patients(),
            None => "adult, weight 40 kg to 150 kg".to_owned(),
        }
    }

    /// Whether the author chooses the route; the other starters have theirs.
    pub fn has_routes(self) -> bool {
        self.demo().is_none()
    }

    /// Whether target, time at target and rate of rewarming are asked for; the other starters have
    /// published figures, to be changed in the file.
    pub fn has_course(self) -> bool {
        self == Kind::Hypothermia
    }
}

const FIRST_LINE: &str =
    "# A first draft to work on: not for patient care until the committee has approved it.\n";

/// What the author knows; the texts are values of the language, such as `33.0 °C`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Wish {
    /// Kebab-case.
    pub name: String,
    pub kind: Kind,
    pub route: Means,
    /// What stands after `patients`, without the temperatures on arrival.
    pub patients: String,
    pub target: String,
    pub hold: String,
    pub rewarm: String,
}

/// Routes for which the starter has checklists.
pub const ROUTES: &[Means] = &[Means::Surface, Means::Intravascular, Means::Esophageal];

/// The protocol's text, in the formatter's style.
pub fn text(wish: &Wish) -> String {
    if let Some(demo) = wish.kind.demo() {
        return drafted::text(demo, wish);
    }
    let mut out = String::new();
    head(wish, &mut out);
    let cold_phases = if wish.kind.has_course() {
        hypothermia_phases(wish, &mut out);
        "guard, watch"
    } else {
        out.push_str(FEVER_PHASES);
        "watch"
    };
    out.push_str(&COMMON.replace("COLD-PHASES", cold_phases));
    out.push_str(&route::checklists(wish.route));
    out.push_str("}\n\n");
    scenarios(wish, &mut out);
    out
}

fn head(wish: &Wish, out: &mut String) {
    let purpose = wish.kind.purpose().word();
    let (title, arrival) = if wish.kind.has_course() {
        (
            "Temperature control after cardiac arrest, adult",
            "35.0 °C to 37.5 °C",
        )
    } else {
        (
            "Preventing fever after cardiac arrest, adult",
            "36.0 °C to 39.0 °C",
        )
    };
    let _ = write!(
        out,
        "{FIRST_LINE}protocol {name} {{
  title \"{title}\"
  # decide: the name of your unit and hospital
  unit \"Adult intensive care\"
  version 0.1.0
  # decide: when this is to be looked at again
  review 2030-01-01
  purpose {purpose} after cardiac-arrest
  guideline erc-2022
  # decide: which weights, and which temperatures on arrival
  patients {patients}, core {arrival} on arrival
  method {route} feedback from core
  # decide: your time zone
  timezone \"Europe/London\"
  start within 6 h of rosc
  shifts 07:30, 19:30

  cite erc-esicm-2022 \"Sandroni et al. ERC-ESICM temperature control guideline. Resuscitation 2022;172:229-236\"
  cite erc-esicm-2021 \"Nolan et al. ERC-ESICM post-resuscitation care. Intensive Care Med 2021;47:369-421\"

  # decide: whom the nurse calls, and who is next when nobody replies
  people {{
    nurse \"Bedside nurse\"
    doctor \"Intensive-care doctor on duty\" if no reply in 10 min then consultant
    consultant \"Intensive-care consultant on call\"
  }}

  mark rosc \"Return of spontaneous circulation\"

  # decide: who is treated, and who is not
  include \"Adult who does not obey commands after the circulation has come back\"
  exclude \"Temperature control would start later than 6 h after the circulation came back\"
  caution \"No cold fluid is given to cool\" source erc-esicm-2022

  # decide: where you measure, and how your thermometers show it
  reading core \"Core temperature\" temperature at nasopharynx, continuous, shown to 0.1 °C, accurate to 0.2 °C
  reading second \"Second site (bladder)\" temperature at bladder, continuous, shown to 0.1 °C, accurate to 0.2 °C
  reading water \"Exchanger water\" temperature of water, shown to 0.1 °C, accurate to 0.3 °C
  reading shiver \"Shivering score\" score of shivering 0 to 3
  reading potassium \"Potassium\" amount of potassium in mmol/L, shown to 0.1 mmol/L, reads 1.0 mmol/L to 10.0 mmol/L
  reading glucose \"Glucose\" amount of glucose in mmol/L, shown to 0.1 mmol/L, reads 0.5 mmol/L to 40.0 mmol/L
  reading pressure \"Mean arterial pressure\" amount of mean-pressure in mmHg, shown to 1 mmHg, reads 20 mmHg to 200 mmHg

  limit core never below 32.0 °C
  limit potassium never below 3.0 mmol/L
  limit potassium never above 5.5 mmol/L
  limit glucose never below 4.0 mmol/L
  limit glucose never above 10.0 mmol/L
  limit pressure never below 65 mmHg source erc-esicm-2021

",
        name = wish.name,
        patients = wish.patients,
        route = wish.route.word(),
    );
}

const FEVER_PHASES: &str = r#"  phase lower "Bring a fever down" {
    cool core to 37.5 °C
    never faster than 1.0 °C/h
    due within 3 h
  }

  # decide: the upper line, and for how long
  phase guard "Prevent fever" {
    keep core 36.0 °C to 37.7 °C source erc-esicm-2022
    ends 72 h after rosc source erc-esicm-2022
  }

  phase watch "Watch for fever after control" {
    keep core 36.0 °C to 37.7 °C
    lasts 24 h
    by passive
  }

  every 15 min record core during lower
  every 1 h record core during guard, watch
  every 1 h record second during lower, guard
  every 1 h record water during lower, guard
  every 1 h score shiver then follow shivering-steps during lower, guard
  every 4 h test potassium, glucose
  every 2 h do "Turn the patient; look at the skin at every point of pressure" covers skin-inspection

  rule cooling-too-fast {
    when core falls more than 1.0 °C in 1 h during lower
    then do "Check both probes and the target"
    then call doctor within 30 min
    again after 1 h
  }

  rule late-at-target {
    when lower is overdue
    then follow trouble
    then call doctor within 30 min
  }

  rule too-cold {
    when core below 36.0 °C during guard
    then pause temperature control until core at or above 36.3 °C
    then call doctor within 30 min
    ready again when core at or above 36.3 °C
    again after 1 h
  }

  rule core-missing-close {
    when core not recorded for 30 min during lower
    then record core now
    again after 30 min
  }

  rule sites-disagree {
    when core and second differ by more than 1.0 °C during lower, guard
    then do "Check both probes; treat neither reading as true until they agree"
    then call doctor within 30 min
    again after 1 h
    overrides too-cold, cooling-too-fast
  }

  rule shiver-missing {
    when shiver not recorded for 2 h during lower, guard
    then follow shivering-steps
    again after 1 h
  }

"#;

fn hypothermia_phases(wish: &Wish, out: &mut String) {
    let _ = write!(
        out,
        "  # decide: the target
  let goal = {target}

  phase cool \"Cool to target\" {{
    cool core to goal
    never faster than 2.0 °C/h
    due within 4 h
  }}

  # decide: how long at target
  phase hold \"Hold at target\" {{
    hold core at goal within 0.5 °C
    lasts {hold}
  }}

  # decide: how fast to rewarm
  phase rewarm \"Rewarm slowly\" {{
    warm core from goal to 36.5 °C within 0.3 °C at {rewarm}
    never faster than 0.5 °C/h
  }}

  # decide: the upper line, and for how long
  phase guard \"Prevent fever\" {{
    keep core 36.0 °C to 37.7 °C source erc-esicm-2022
    ends 72 h after rosc source erc-esicm-2022
  }}

  phase watch \"Watch for fever after control\" {{
    keep core 36.0 °C to 37.7 °C
    lasts 24 h
    by passive
  }}

",
        target = wish.target,
        hold = wish.hold,
        rewarm = wish.rewarm,
    );
    out.push_str(HYPOTHERMIA_LOOKS);
}

const HYPOTHERMIA_LOOKS: &str = r#"  every 15 min record core during cool, rewarm
  every 1 h record core during hold, guard, watch
  every 1 h record second during cool, hold, rewarm, guard
  every 1 h record water during cool, hold, rewarm, guard
  every 1 h score shiver then follow shivering-steps during cool, hold, rewarm, guard
  every 4 h test potassium, glucose during cool, hold, guard, watch
  every 2 h test potassium, glucose during rewarm
  every 2 h do "Turn the patient; look at the skin at every point of pressure" covers skin-inspection
  at 4 h before rewarm.start do "Stop potassium replacement; tell the doctor the last potassium" covers potassium-stop

  rule too-cold {
    when core below 32.5 °C during hold
    then pause temperature control until core at or above 32.8 °C
    then call doctor within 15 min
    ready again when core at or above 32.8 °C
    again after 1 h
  }

  rule off-target {
    when core above target by more than 0.5 °C for 1 h during hold
    then follow trouble
    then call doctor within 30 min
    again after 2 h
  }

  rule below-target {
    when core below target by more than 0.5 °C for 1 h during hold
    then follow trouble
    then call doctor within 30 min
    again after 2 h
  }

  rule ahead-of-course {
    when core above target by more than 0.3 °C for 30 min during rewarm
    then follow trouble
    then call doctor within 30 min
    again after 1 h
  }

  rule behind-course {
    when core below target by more than 0.3 °C for 1 h during rewarm
    then follow trouble
    then call doctor within 1 h
    again after 2 h
  }

  rule cooling-too-fast {
    when core falls more than 2.0 °C in 1 h during cool
    then do "Check both probes and the target; be ready for overshoot"
    then call doctor within 30 min
    again after 1 h
  }

  rule warming-too-fast {
    when core rises more than 0.5 °C in 1 h during rewarm
    then keep target here for 1 h
    then call doctor within 30 min
    again after 1 h
  }

  rule late-at-target {
    when cool is overdue
    then follow trouble
    then call doctor within 15 min
  }

  rule core-missing-close {
    when core not recorded for 30 min during cool, rewarm
    then record core now
    again after 30 min
  }

  rule sites-disagree {
    when core and second differ by more than 1.0 °C during cool, hold, rewarm, guard
    then do "Check both probes; treat neither reading as true until they agree"
    then call doctor within 30 min
    again after 1 h
    overrides too-cold, warming-too-fast, off-target, below-target, ahead-of-course, behind-course
  }

  rule shiver-missing {
    when shiver not recorded for 2 h during cool, hold, rewarm, guard
    then follow shivering-steps
    again after 1 h
  }

"#;

const COMMON: &str = r#"  every 1 h record pressure
  at 72 h after rosc do "Not before now: the doctors may begin to judge the outlook, when sedatives have worn off" covers prognosis source erc-esicm-2021

  rule below-limit {
    when core below 32.0 °C
    then do "Look at heart rhythm and blood pressure; handle the patient gently"
    then call doctor now
    again after 1 h
  }

  rule fever {
    when core above 37.7 °C during guard, watch
    then do "Look for infection; take blankets off; in the guard phase see that temperature control is running"
    then call doctor within 30 min
    again after 2 h
  }

  rule cold-again {
    when core below 36.0 °C during COLD-PHASES
    then do "Cover the patient; check target and probe; do not warm faster than 0.5 °C per hour"
    then call doctor within 30 min
    again after 2 h
  }

  rule paused-long {
    when paused longer than 1 h
    then do "Ask whether temperature control is to start again"
    then call doctor within 15 min
    again after 1 h
  }

  rule core-missing {
    when core not recorded for 2 h during guard, watch
    then record core now
    then call doctor within 30 min
    again after 1 h
  }

  # decide: what potassium, glucose and pressure call for here
  rule potassium-low {
    when potassium below 3.0 mmol/L
    then do "Watch the heart rhythm without a break"
    then call doctor now
    again after 2 h
  }

  rule potassium-high {
    when potassium above 5.5 mmol/L
    then do "Stop all potassium; take a 12-lead tracing of the heart"
    then call doctor now
    again after 2 h
  }

  rule glucose-low {
    when glucose below 4.0 mmol/L
    then test glucose in 15 min
    then call doctor now
    again after 1 h
  }

  rule glucose-high {
    when glucose above 10.0 mmol/L
    then call doctor within 1 h
    again after 4 h
  }

  rule pressure-low {
    when pressure at or below 65 mmHg
    then call doctor now
    again after 30 min
  }

  # decide: your steps and medicines against shivering, with their doses and ceilings
  ladder shivering-steps "Shivering" on shiver {
    rung 0 "None" { continue }
    rung 1 "Mild: jaw, neck or chest" {
      do "Warm the skin of hands, feet and face"
      recheck in 30 min
    }
    rung 2 to 3 "Moderate or severe: arms, trunk or legs" {
      do "Warm the skin of hands, feet and face"
      call doctor within 15 min
      recheck in 30 min
    }
  }

"#;

fn scenarios(wish: &Wish, out: &mut String) {
    let fever = "scenario \"A fever in the guard phase is told to the doctor\" for NAME {
  given rosc 2 h before start
  at 0:00 core 37.4 °C
  at 5:00 core 37.8 °C
  expect phase guard at 0:00
  expect fever at 5:00
}

scenario \"37.7 °C is not yet a fever\" for NAME {
  given rosc 2 h before start
  at 0:00 core 37.4 °C
  at 5:00 core 37.7 °C
  expect no fever
}
";
    let course = "scenario \"Target not reached in four hours\" for NAME {
  given rosc 1 h before start
  from 0:00 to 5:00 every 15 min core 36.0 °C
  expect late-at-target at 4:00
  expect phase cool at 5:00
}

scenario \"Two probes that disagree silence the cold rule, not the limit\" for NAME {
  given rosc 1 h before start
  at 0:00 core 36.0 °C, second 36.2 °C
  at 2:00 core 31.8 °C, second 33.6 °C
  expect below-limit at 2:00
  expect no too-cold
}
";
    let body = if wish.kind.has_course() {
        course
    } else {
        fever
    };
    out.push_str(&body.replace("NAME", &wish.name));
}
