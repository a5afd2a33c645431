//! Orders that lead back to where they began (M25, M26).

use super::super::facts::during;
use super::super::words::name;
use super::super::{Check, Context, Family, Run};
use super::{is_during, one_line, witness};
use crate::diag::{Diagnostic, Level};
use crate::model::*;
use crate::solve::said::said;
use crate::solve::{Answer, Found, Goal, Question};

pub const CHECK: Check = Check {
    name: "going-round",
    family: Family::Rules,
    level: Level::Error,
    since: "0.1.0",
    summary: "orders lead back to where they began, and nobody is called on the way",
    catches: "A rule that begins an earlier phase, from which the written order leads back to it, and that calls \
              nobody; rules that begin each other's phases on one and the same record; ladders that follow each other \
              in a ring.",
    why: "The patient is cooled and warmed in turn, or the sheet sends the nurse in a circle, and nobody who could \
          stop it is told.",
    fires: "\
rule hot-again {
  when core above 37.7 °C during guard
  then begin cool
}
",
    passes: "\
rule hot-again {
  when core above 37.7 °C during guard
  then begin cool
  then call doctor now
}
",
    source: "structural",
    run: Run::Over(run),
};

/// A rule that begins a phase.
struct Jump<'a> {
    rule: &'a Rule,
    to: PhaseId,
    action: &'a Action,
    calls: bool,
}

fn run(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let jumps: Vec<Jump> = protocol
        .rules()
        .flat_map(|(_, rule)| {
            let orders = said(protocol, rule);
            let calls = rule
                .then
                .iter()
                .any(|action| matches!(action.order, Order::Call { .. }));
            orders
                .into_iter()
                .filter_map(|said| match &said.action.order {
                    Order::Begin(to) => Some(Jump {
                        rule,
                        to: to.value,
                        action: said.action,
                        calls,
                    }),
                    _ => None,
                })
                .collect::<Vec<_>>()
        })
        .collect();
    let mut findings = Vec::new();
    for jump in &jumps {
        findings.extend(at_once(context, jump, &jumps).or_else(|| back(context, jump)));
    }
    findings.extend(rings(protocol));
    findings
}

/// Back to an earlier phase, and by the written order here again, with no call.
fn back(context: &Context, jump: &Jump) -> Option<Diagnostic> {
    if jump.calls {
        return None;
    }
    let protocol = context.protocol;
    let (from, found) = during(protocol, &jump.rule.during)
        .into_iter()
        .filter(|from| *from > jump.to)
        .find_map(|from| Some((from, fires(context, jump.rule, from)?)))?;
    Some(
        CHECK
            .found(
                jump.action.span,
                format!(
                    "{} leads from {} back to {} and round again, and calls nobody",
                    name(&jump.rule.name),
                    name(&protocol[from].name),
                    name(&protocol[jump.to].name)
                ),
            )
            .here("back to here")
            .also(
                protocol[jump.to].name.span,
                format!(
                    "from here the written order leads to {} again",
                    name(&protocol[from].name)
                ),
            )
            .also(jump.rule.when_span, one_line(context, jump.rule.when_span))
            .witness(witness(
                context,
                &found,
                vec![format!(
                    "{} fires and begins {} again",
                    name(&jump.rule.name),
                    name(&protocol[jump.to].name)
                )],
            ))
            .why("the patient can be taken through the same phases without end, and nobody who could stop it is told")
            .help("add `then call ROLE within D` to the rule")
            .about(&jump.rule.name.name),
    )
}

fn fires(context: &Context, rule: &Rule, phase: PhaseId) -> Option<Found> {
    let question = Question::new(phase, vec![Goal::rule(rule, true)]);
    context.solver.ask(&question).found()
}

/// Back on the very record that led away: the one moment never ends.
fn at_once(context: &Context, jump: &Jump, jumps: &[Jump]) -> Option<Diagnostic> {
    let protocol = context.protocol;
    for from in during(protocol, &jump.rule.during) {
        if from == jump.to {
            continue;
        }
        // Phases that this record ends at once lead on by themselves.
        let mut goals = vec![Goal::rule(jump.rule, true)];
        let mut phase = jump.to;
        loop {
            if phase == from {
                if holds_at_once(context, from, &goals, jump.rule, from) {
                    return Some(endless(context, jump, from, None));
                }
                break;
            }
            let other = jumps.iter().find(|other| {
                other.to == from
                    && is_during(other.rule, phase)
                    && holds_at_once(context, from, &goals, other.rule, phase)
            });
            if let Some(other) = other {
                return Some(endless(context, jump, from, Some(other)));
            }
            let Some(goal) = ends_at_once(&protocol[phase]) else {
                break;
            };
            goals.push(goal);
            let next = PhaseId(phase.0 + 1);
            if next.index() >= protocol.phases.len() {
                break;
            }
            phase = next;
        }
    }
    None
}

/// What the record must be for a phase to end on it.
fn ends_at_once<'a>(phase: &Phase) -> Option<Goal<'a>> {
    let Aim::Reach {
        way,
        reading,
        to,
        within,
        rate: None,
        ..
    } = &phase.aim
    else {
        return None;
    };
    let within = within
        .as_ref()
        .map_or(crate::quantity::Exact::ZERO, |within| within.value);
    let (cmp, value) = match way {
        Way::Cool => (Cmp::AtOrBelow, to.value + within),
        Way::Warm => (Cmp::AtOrAbove, to.value - within),
    };
    Some(Goal::Value {
        reading: reading.value,
        cmp,
        value,
    })
}

/// Whether the rule of `there` holds on one record alone, made in `from` with all of
/// `goals`.
fn holds_at_once(
    context: &Context,
    from: PhaseId,
    goals: &[Goal],
    rule: &Rule,
    there: PhaseId,
) -> bool {
    // On one record nothing has lasted, risen or fallen, and no clock has run.
    let one_record = rule.when.tests().iter().all(|test| {
        test.sustained.is_none()
            && matches!(
                test.kind,
                TestKind::Compare { .. }
                    | TestKind::Outside { .. }
                    | TestKind::Is { .. }
                    | TestKind::Differ { .. }
            )
    });
    if !one_record || !is_during(rule, there) {
        return false;
    }
    let mut goals = goals.to_vec();
    goals.push(Goal::Cond {
        cond: &rule.when,
        during: None,
        holds: true,
    });
    matches!(
        context.solver.ask(&Question::new(from, goals)),
        Answer::Found(_)
    )
}

fn endless(context: &Context, jump: &Jump, from: PhaseId, by: Option<&Jump>) -> Diagnostic {
    let protocol = context.protocol;
    let mut finding = CHECK
        .found(
            jump.action.span,
            format!(
                "{} leads from {} to {} and back on one and the same record",
                name(&jump.rule.name),
                name(&protocol[from].name),
                name(&protocol[jump.to].name)
            ),
        )
        .here("away from here")
        .also(jump.rule.when_span, one_line(context, jump.rule.when_span));
    finding = match by {
        Some(by) => finding
            .also(by.action.span, "and back again")
            .also(by.rule.when_span, one_line(context, by.rule.when_span)),
        None => finding.also(
            protocol[jump.to].aim_span,
            "this is reached already, so the phase ends at once",
        ),
    };
    finding
        .why("nobody can say which phase runs after this record")
        .help("move the two values apart, so that one record does not meet both")
        .about(&jump.rule.name.name)
}

/// Ladders that follow each other in a ring.
fn rings(protocol: &Protocol) -> Vec<Diagnostic> {
    let mut findings = Vec::new();
    for (id, ladder) in protocol.ladders() {
        let mut open = vec![id];
        let mut seen: Vec<LadderId> = Vec::new();
        let mut ring = None;
        while let Some(at) = open.pop() {
            for (_, action) in protocol[at].actions() {
                if let Order::FollowLadder(next) = &action.order {
                    if next.value == id {
                        ring = Some(action.span);
                    } else if !seen.contains(&next.value) {
                        seen.push(next.value);
                        open.push(next.value);
                    }
                }
            }
        }
        // The first of a ring speaks for all of it.
        if let Some(span) = ring
            && seen.iter().all(|other| *other > id)
        {
            findings.push(
                CHECK
                    .found(span, format!("{} leads back to itself", name(&ladder.name)))
                    .here("back to the ladder that led here")
                    .also(ladder.name.span, "the ladder")
                    .why("the sheet sends the nurse in a circle")
                    .help("end the last of them with a call instead")
                    .about(&ladder.name.name),
            );
        }
    }
    findings
}
