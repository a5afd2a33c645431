//! Timeline and looking.

use super::{fires, passes};

#[test]
fn phase_gap() {
    // The band of the hold ends at 33.5 °C.
    passes(
        "phase-gap",
        "phase rewarm \"R\" {\n  warm core from 33.5 °C to 36.5 °C at 0.25 °C/h\n  never faster than 0.5 °C/h\n}\n",
    );
    fires(
        "phase-gap",
        1,
        "phase rewarm \"R\" {\n  warm core from 33.6 °C to 36.5 °C at 0.25 °C/h\n  never faster than 0.5 °C/h\n}\n",
    );
    // Cooling ends at 33.0 °C; a hold whose band does not reach it begins elsewhere.
    fires(
        "phase-gap",
        1,
        "phase hold \"H\" {\n  hold core at 32.4 °C within 0.5 °C\n  lasts 24 h\n}\nphase rewarm \"R\" {\n  warm core from 32.4 °C to 36.5 °C at 0.25 °C/h\n  never faster than 0.5 °C/h\n}\n",
    );
    passes(
        "phase-gap",
        "phase hold \"H\" {\n  hold core at 32.5 °C within 0.5 °C\n  lasts 24 h\n}\nphase rewarm \"R\" {\n  warm core from 32.5 °C to 36.5 °C at 0.25 °C/h\n  never faster than 0.5 °C/h\n}\n",
    );
    // Rewarming may end 0.2 °C short of 36.5 °C.
    passes(
        "phase-gap",
        "phase rewarm \"R\" {\n  warm core from 33.0 °C to 36.5 °C within 0.2 °C at 0.25 °C/h\n  never faster than 0.5 °C/h\n}\nphase guard \"G\" {\n  keep core 35.0 °C to 36.3 °C\n  ends 72 h after rosc\n}\n",
    );
    fires(
        "phase-gap",
        1,
        "phase rewarm \"R\" {\n  warm core from 33.0 °C to 36.5 °C within 0.2 °C at 0.25 °C/h\n  never faster than 0.5 °C/h\n}\nphase guard \"G\" {\n  keep core 35.0 °C to 36.2 °C\n  ends 72 h after rosc\n}\n",
    );
    // Phases on different readings are not compared.
    passes(
        "phase-gap",
        "phase guard \"G\" {\n  keep second 35.0 °C to 36.2 °C\n  ends 72 h after rosc\n}\n",
    );
    // Nobody says where patients arrive.
    fires("phase-gap", 1, "patients adult, weight 40 kg to 120 kg\n");
}

#[test]
fn ends_before_start() {
    // cool to 4 h, hold 24 h, rewarm 14 h: 42 h, and rosc up to 6 h before.
    passes(
        "ends-before-start",
        "phase guard \"G\" {\n  keep core 36.0 °C to 37.7 °C\n  ends 48 h after rosc\n}\n",
    );
    fires(
        "ends-before-start",
        1,
        "phase guard \"G\" {\n  keep core 36.0 °C to 37.7 °C\n  ends 2879 min after rosc\n}\n",
    );
    // Two ends that hang on the same mark move together.
    passes(
        "ends-before-start",
        "# host fever\nphase guard \"G\" {\n  keep core 36.0 °C to 37.5 °C\n  ends 48 h after rosc\n}\nphase late \"L\" {\n  keep core 36.0 °C to 37.5 °C\n  ends 50 h after rosc\n}\n",
    );
    // A mark that nothing places.
    fires(
        "ends-before-start",
        1,
        "mark consent \"Consent\"\nphase guard \"G\" {\n  keep core 36.0 °C to 37.7 °C\n  ends 72 h after consent\n}\nat consent record core now\nat rosc record core now\n",
    );
    // A mark at which an earlier phase ends has its place there.
    passes("ends-before-start", "# host theatre\n");
}

#[test]
fn plan_faster_than_cap() {
    passes(
        "plan-faster-than-cap",
        "phase rewarm \"R\" {\n  warm core from 33.0 °C to 36.5 °C at 0.5 °C/h\n  never faster than 0.5 °C/h\n}\n",
    );
    fires(
        "plan-faster-than-cap",
        1,
        "phase rewarm \"R\" {\n  warm core from 33.0 °C to 36.5 °C at 0.25 °C/h to 0.51 °C/h\n  never faster than 0.5 °C/h\n}\n",
    );
    // A rule that sets the rate.
    fires(
        "plan-faster-than-cap",
        1,
        "rule off-course {\n  when core below target by more than 0.5 °C during rewarm\n  then set rate 0.6 °C/h\n}\n",
    );
    passes(
        "plan-faster-than-cap",
        "rule off-course {\n  when core below target by more than 0.5 °C during rewarm\n  then set rate 0.5 °C/h\n}\n",
    );
}

#[test]
fn due_impossible() {
    // 37.5 °C to 33.0 °C at 2.0 °C/h takes 2 h 15 min.
    passes(
        "due-impossible",
        "phase cool \"C\" {\n  cool core to 33.0 °C\n  never faster than 2.0 °C/h\n  due within 135 min\n}\n",
    );
    fires(
        "due-impossible",
        1,
        "phase cool \"C\" {\n  cool core to 33.0 °C\n  never faster than 2.0 °C/h\n  due within 134 min\n}\n",
    );
    // Counted from a mark that can lie 6 h before.
    passes(
        "due-impossible",
        "phase cool \"C\" {\n  cool core to 33.0 °C\n  never faster than 2.0 °C/h\n  due within 495 min of rosc\n}\n",
    );
    fires(
        "due-impossible",
        1,
        "phase cool \"C\" {\n  cool core to 33.0 °C\n  never faster than 2.0 °C/h\n  due within 494 min of rosc\n}\n",
    );
    fires(
        "due-impossible",
        1,
        "phase cool \"C\" {\n  cool core to 33.0 °C\n  never faster than 2.0 °C/h\n  at least 2.1 °C/h\n  due within 4 h\n}\n",
    );
}

#[test]
fn rewarming() {
    // 36.0 °C is no hypothermia.
    passes(
        "no-rewarm",
        "# host fever\nphase guard \"G\" {\n  hold core at 36.0 °C within 0.5 °C\n  lasts 72 h\n}\n",
    );
    fires(
        "no-rewarm",
        1,
        "# host fever\nphase guard \"G\" {\n  hold core at 35.9 °C within 0.5 °C\n  lasts 72 h\n}\n",
    );
    // Passive warming has no rate that anybody sets.
    passes(
        "no-rewarm-cap",
        "phase rewarm \"R\" {\n  warm core from 33.0 °C to 36.5 °C\n  by passive\n  at least 0.1 °C/h\n}\n# without rule off-course\n",
    );
    fires(
        "no-rewarm-cap",
        1,
        "# host warming\nphase warming \"W\" {\n  warm core to 36.0 °C\n  at least 0.5 °C/h\n}\n",
    );
}

#[test]
fn never_looked_at() {
    // An order asks for it, a ladder asks by itself.
    passes(
        "never-looked-at",
        "# without every 1 h score shiver\nrule warm-water {\n  when core above 33.4 °C during hold\n  then follow shivering-steps\n}\n",
    );
    // An `until` needs what nobody is asked for.
    fires(
        "never-looked-at",
        1,
        "reading water \"W\" temperature of water, shown to 0.1 °C, accurate to 0.3 °C\nevery 1 h record water during cool\nrule too-cold {\n  when core below 32.5 °C during hold\n  then pause temperature control until water above 20 °C\n}\n",
    );
    // `not recorded` is there for what is missing.
    passes(
        "never-looked-at",
        "reading water \"W\" temperature of water, shown to 0.1 °C, accurate to 0.3 °C\nevery 1 h record water during cool\nrule gone {\n  when water not recorded for 2 h during cool\n  then record water now\n}\n",
    );
    // It brings back what was missed, and is no look of its own.
    fires(
        "never-looked-at",
        2,
        "reading water \"W\" temperature of water, shown to 0.1 °C, accurate to 0.3 °C\nrule gone {\n  when water not recorded for 2 h during hold\n  then record water now\n}\nrule cold-water {\n  when water below 10 °C during hold\n  then call doctor now\n}\n",
    );
    // An order to look again needs a first look.
    fires(
        "never-looked-at",
        1,
        "reading water \"W\" temperature of water, shown to 0.1 °C, accurate to 0.3 °C\nrule cold-water {\n  when water below 10 °C during hold\n  then record water in 30 min\n}\n",
    );
    // Another rule asks for it.
    passes(
        "never-looked-at",
        "reading water \"W\" temperature of water, shown to 0.1 °C, accurate to 0.3 °C\nrule warm {\n  when core above 33.4 °C during hold\n  then record water now\n}\nrule cold-water {\n  when water below 10 °C during hold\n  then record water in 30 min\n}\n",
    );
    // Asked at the beginning of the phase, by a mark.
    passes(
        "never-looked-at",
        "reading water \"W\" temperature of water, shown to 0.1 °C, accurate to 0.3 °C\nat hold.start record water now\nrule cold-water {\n  when water below 10 °C during hold\n  then call doctor now\n}\n",
    );
    // A limit binds every phase.
    fires(
        "never-looked-at",
        1,
        "reading water \"W\" temperature of water, shown to 0.1 °C, accurate to 0.3 °C\nevery 1 h record water during cool, hold, rewarm\nlimit water never above 41 °C\n",
    );
}

#[test]
fn seen_too_late() {
    // Every hour, for 1 h and in 1 h: seen in time.
    passes(
        "seen-too-late",
        "rule a {\n  when core above 33.2 °C for 1 h during hold\n  then call doctor now\n}\n",
    );
    fires(
        "seen-too-late",
        1,
        "rule a {\n  when core above 33.2 °C for 59 min during hold\n  then call doctor now\n}\n",
    );
    fires(
        "seen-too-late",
        1,
        "rule a {\n  when core falls more than 0.5 °C in 30 min during hold\n  then call doctor now\n}\n",
    );
    // Of two readings the shorter interval counts.
    passes(
        "seen-too-late",
        "rule a {\n  when core and second differ by more than 1.0 °C for 15 min during cool\n  then call doctor now\n}\n",
    );
}

#[test]
fn rate_below_resolution() {
    // Accurate to 0.2 °C: twice that is 0.4 °C.
    passes(
        "rate-below-resolution",
        "rule warming-too-fast {\n  when core rises more than 0.4 °C in 1 h during rewarm\n  then call doctor now\n}\n",
    );
    fires(
        "rate-below-resolution",
        1,
        "rule warming-too-fast {\n  when core rises more than 0.39 °C in 1 h during rewarm\n  then call doctor now\n}\n",
    );
    // The cap of 0.5 °C/h, watched over 30 min, is 0.25 °C.
    fires(
        "rate-below-resolution",
        1,
        "rule warming-too-fast {\n  when core rises more than 0.5 °C in 30 min during rewarm\n  then call doctor now\n}\n",
    );
}

#[test]
fn probe_and_second_site() {
    fires(
        "probe-beside-exchanger",
        1,
        "method esophageal feedback from core\n",
    );
    passes(
        "probe-beside-exchanger",
        "method esophageal feedback from core\nreading core \"C\" temperature at nasopharynx, continuous, shown to 0.1 °C, accurate to 0.2 °C\n",
    );
    // The means of the phase, not of the method.
    fires(
        "probe-beside-exchanger",
        1,
        "phase hold \"H\" {\n  hold core at 33.0 °C within 0.5 °C\n  lasts 24 h\n  by esophageal\n}\n",
    );
    // Two readings at one site are one site.
    fires(
        "second-site-missing",
        1,
        "reading second \"S\" temperature at esophagus, continuous, shown to 0.1 °C, accurate to 0.2 °C\n",
    );
    // Without active control nobody needs two.
    passes(
        "second-site-missing",
        "# host warming\nmethod passive\n# without reading second\n# without every 15 min record core\nevery 15 min record core, awake\n",
    );
}

#[test]
fn two_intervals() {
    passes("two-intervals", "every 1 h record core during hold\n");
    fires(
        "two-intervals",
        1,
        "every 2 h record core during hold, rewarm\n",
    );
}

#[test]
fn heavy_hour() {
    // hold: core, second, shiver, its recheck, potassium, pressure, skin.
    passes("heavy-hour", "workload 14 entries per hour\n");
    fires("heavy-hour", 1, "workload 10 entries per hour\n");
}

/// The record that ends cooling is at the target; what follows it need not be.
#[test]
fn too_warm_in_a_phase_that_cooling_leads_into() {
    fires("no-answer", 1, "# without rule too-warm\n");
    passes("no-answer", "");
    // 33.5 °C is the edge of the band, and its first value outside is 33.6 °C.
    let from = |value: &str| {
        format!(
            "rule too-warm {{\n  when core above {value} during hold\n  then call doctor within 30 min\n  again after 1 h\n}}\n"
        )
    };
    passes("no-answer", &from("33.5 °C"));
    fires("no-answer", 1, &from("33.6 °C"));
    fires(
        "no-answer",
        1,
        "# host heat\nrule out-of-range {\n  when core below 36.0 °C during watch\n  then call doctor now\n}\n",
    );
    // What is asked for every 6 h does not make a phase of 4 h too short for the question.
    fires(
        "no-answer",
        1,
        "# host heat\nreading potassium \"Potassium\" amount of potassium in mmol/L, shown to 0.1 mmol/L, reads 1.0 mmol/L to 10.0 mmol/L\nevery 6 h test potassium\nrule gone {\n  when core not recorded for 30 min during watch\n  then record core now\n}\nrule out-of-range {\n  when core below 36.0 °C during watch\n  then call doctor now\n}\n",
    );
}

#[test]
fn a_schedule_without_an_end_is_told() {
    fires(
        "schedule-too-long",
        1,
        "phase guard \"Prevent fever\" {\n  keep core 36.0 °C to 37.7 °C\n  lasts 70000 days\n}\n",
    );
}
