//! Waiting for a score that cannot be read in a paralysed patient.

use super::super::facts::{self, Origin};
use super::super::words::name;
use super::super::{Check, Context, Family, Run};
use crate::diag::{Diagnostic, Level};
use crate::model::words::{DrugClass, Scale};
use crate::model::*;
use crate::source::Span;

pub const CHECK: Check = Check {
    name: "score-under-block",
    family: Family::Medication,
    level: Level::Error,
    since: "0.1.0",
    summary: "after a neuromuscular blocker something waits for a score of movement",
    catches: "A rule or a ladder that gives a medication of class neuromuscular-blocker and then waits for a score of \
              shivering or sedation: a recheck or a further step of a ladder on that score, a `ready again`, an \
              `until`, or an order to score it.",
    why: "A paralysed patient scores 0 whatever happens. The sheet then says that shivering has stopped, or that the \
          patient is deeply sedated.",
    fires: "\
# without medication magnesium
ladder shivering-steps \"Shivering\" on shiver {
  rung 0 \"None\"           { continue }
  rung 1 \"Mild\"           { do \"Warm the skin of hands, feet and face\" }
  rung 2 \"Moderate\"       { give dexmedetomidine otherwise call doctor now }
  rung 3 \"Severe\"         { give rocuronium otherwise call doctor now
                              call doctor now
                              recheck in 30 min }
}
medication rocuronium \"Rocuronium\" {
  class         neuromuscular-blocker
  dose          0.6 mg/kg iv over 1 min, not again within 30 min
  concentration 10 mg/mL
  rounded to    1 mg
  ceiling       300 mg per 24 h
  only with     dexmedetomidine
}
",
    passes: "\
# without medication magnesium
ladder shivering-steps \"Shivering\" on shiver {
  rung 0 \"None\"           { continue }
  rung 1 \"Mild\"           { do \"Warm the skin of hands, feet and face\" }
  rung 2 \"Moderate\"       { give dexmedetomidine otherwise call doctor now }
  rung 3 \"Severe\"         { give rocuronium otherwise call doctor now
                              call doctor now }
}
medication rocuronium \"Rocuronium\" {
  class         neuromuscular-blocker
  dose          0.6 mg/kg iv over 1 min, not again within 30 min
  concentration 10 mg/mL
  rounded to    1 mg
  ceiling       300 mg per 24 h
  only with     dexmedetomidine
}
",
    source: "structural: the scores are of movement (Badjatia N, et al. Stroke 2008;39:3242-3247, doi \
             10.1161/STROKEAHA.108.523654)",
    run: Run::Over(run),
};

fn run(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let mut found = Vec::new();
    for order in facts::orders(protocol) {
        let Order::Give { medication, .. } = &order.action.order else {
            continue;
        };
        let blocks = protocol[medication.value]
            .class
            .as_ref()
            .is_some_and(|class| class.value == DrugClass::NeuromuscularBlocker);
        if !blocks {
            continue;
        }
        let waits = match order.origin {
            Origin::Ladder(ladder, at) => ladder_waits(protocol, ladder, at),
            Origin::Rule(rule) => rule_waits(protocol, &protocol[rule]),
            Origin::Look => None,
        };
        let Some((reading, span, how)) = waits else {
            continue;
        };
        let mut finding = CHECK
            .found(
                span,
                format!(
                    "{} cannot be scored after {}",
                    name(&protocol[reading].name),
                    name(&protocol[medication.value].name)
                ),
            )
            .here(how)
            .also(order.action.span, "paralysed from here on")
            .why("a paralysed patient scores 0 whatever happens, and the sheet takes that for success")
            .help("end the ladder or rule with a call, and watch a reading that needs no movement");
        finding.about = order.name.map(|name| name.name.clone());
        found.push(finding);
    }
    found
}

fn is_of_movement(reading: &Reading) -> bool {
    matches!(&reading.kind, ReadingKind::Score { of: Some(of), .. }
        if matches!(of.value, Scale::Shivering | Scale::Sedation))
}

fn ladder_waits(
    protocol: &Protocol,
    id: LadderId,
    at: usize,
) -> Option<(ReadingId, Span, &'static str)> {
    let ladder = &protocol[id];
    let reading = ladder.reading.value;
    if !is_of_movement(&protocol[reading]) {
        return None;
    }
    match &ladder.form {
        LadderForm::Rungs(rungs) => rungs
            .get(at)
            .filter(|rung| rung.recheck.is_some())
            .map(|rung| (reading, rung.span, "this rung is chosen anew by the score")),
        LadderForm::Steps { steps, .. } => {
            let step = steps.get(at)?;
            (step.recheck.is_some() || at + 1 < steps.len()).then_some((
                reading,
                step.span,
                "the next step is chosen by the score",
            ))
        }
    }
}

fn rule_waits(protocol: &Protocol, rule: &Rule) -> Option<(ReadingId, Span, &'static str)> {
    let in_cond = |cond: &Cond, how: &'static str| {
        cond.tests().into_iter().find_map(|test| {
            test.kind
                .readings()
                .into_iter()
                .find(|reading| is_of_movement(&protocol[*reading]))
                .map(|reading| (reading, test.span, how))
        })
    };
    if let Some(ready) = &rule.ready_again
        && let Some(waits) = in_cond(ready, "the rule waits for the score to be ready again")
    {
        return Some(waits);
    }
    rule.then.iter().find_map(|action| match &action.order {
        Order::Ask { readings, .. } => readings
            .iter()
            .find(|reading| is_of_movement(&protocol[reading.value]))
            .map(|reading| (reading.value, reading.span, "the score is asked for")),
        _ => match facts::until(action) {
            Some(Until::When(cond)) => in_cond(cond, "the order ends by the score"),
            _ => None,
        },
    })
}
