//! A value at which somebody should be told what to do, and nobody is.

use super::super::facts::during;
use super::super::words::{self, name};
use super::super::{Check, Context, Family, Run};
use super::{does_something, is_during, one_line, unwatched, witness};
use crate::diag::{Diagnostic, Level};
use crate::model::*;
use crate::quantity::{Duration, Exact, Written};
use crate::solve::{Answer, Found, Goal, Question, Values};
use crate::source::Span;

pub const CHECK: Check = Check {
    name: "no-answer",
    family: Family::Rules,
    level: Level::Error,
    since: "0.1.0",
    summary: "a value, a delay or a speed that no rule answers",
    catches: "A value outside the band or range of a phase, farther from a course than its `within`, or past a \
              `limit`, that stays as long as any rule waits, and of which no rule and no rung speaks; a value past a \
              `limit` of which only rules speak that wait longer than from one look to the next; a value of a \
              score of which other values have a rule; a `due within` without a rule on `is overdue` or `lasts longer \
              than`; a cap that no rule on a rise or fall watches.",
    why: "The patient drifts outside what the protocol itself calls right, and the sheet is silent.",
    fires: "\
# without rule cold-again
phase guard \"Prevent fever\" {
  keep core 36.0 °C to 37.7 °C
  ends 72 h after rosc
}
",
    passes: "\
rule cold-again {
  when core below 36.0 °C for 2 h during guard
  then call doctor within 30 min
  again after 2 h
}
",
    source: "structural",
    run: Run::Over(run),
};

fn run(context: &Context) -> Vec<Diagnostic> {
    let mut findings = Vec::new();
    for (phase, stated) in context.protocol.phases() {
        for zone in zones(context, phase, stated) {
            findings.extend(unanswered(context, phase, &zone));
        }
        findings.extend(unwatched::due(context, phase, stated));
        findings.extend(unwatched::cap(context, phase, stated));
    }
    findings.extend(limits(context));
    findings.extend(scores(context));
    findings
}

/// Values of a reading that need an answer.
struct Zone {
    reading: ReadingId,
    goals: Vec<Owned>,
    /// `outside the band of the phase`
    what: &'static str,
    /// ` than its `within``
    than: &'static str,
    span: Span,
    level: Level,
    /// Whether `continue` is an answer here.
    continue_counts: bool,
    /// Whether what waits longer than from one look to the next is no answer here.
    at_once: bool,
}

/// A goal that owns its condition.
enum Owned {
    Value(Cmp, Exact),
    Cond(Box<Cond>),
}

fn zones(context: &Context, phase: PhaseId, stated: &Phase) -> Vec<Zone> {
    let reading = stated.aim.reading();
    let zone = |cmp: Cmp, value: Exact, what| Zone {
        reading,
        goals: vec![Owned::Value(cmp, value)],
        what,
        than: "",
        span: stated.aim_span,
        level: Level::Error,
        continue_counts: false,
        at_once: false,
    };
    match &stated.aim {
        Aim::Hold { at, within, .. } => vec![
            zone(Cmp::Below, at.value - within.value, "below the band of"),
            zone(Cmp::Above, at.value + within.value, "above the band of"),
        ],
        Aim::Keep { low, high, .. } => low
            .iter()
            .map(|low| zone(Cmp::Below, low.value, "below the range of"))
            .chain(
                high.iter()
                    .map(|high| zone(Cmp::Above, high.value, "above the range of")),
            )
            .collect(),
        Aim::Reach {
            within: Some(within),
            rate: Some(_),
            ..
        } => [
            (Side::Below, "farther below the course of"),
            (Side::Above, "farther above the course of"),
        ]
        .into_iter()
        .map(|(side, what)| Zone {
            reading,
            goals: vec![Owned::Cond(Box::new(off_course(
                context, phase, reading, side, within,
            )))],
            what,
            than: " than its `within`",
            span: within.span,
            level: Level::Warning,
            continue_counts: false,
            at_once: false,
        })
        .collect(),
        Aim::Reach { .. } => Vec::new(),
    }
}

/// Off the course for as long as any rule of the phase waits.
fn off_course(
    context: &Context,
    phase: PhaseId,
    reading: ReadingId,
    side: Side,
    within: &crate::quantity::Change,
) -> Cond {
    let longest = context
        .protocol
        .rules()
        .filter(|(_, rule)| is_during(rule, phase))
        .flat_map(|(_, rule)| rule.when.tests())
        .filter(|test| test.kind.readings().contains(&reading))
        .filter_map(|test| test.sustained.as_ref().map(|sustained| sustained.value))
        .max();
    Cond::Test(Test {
        kind: TestKind::OffTarget {
            reading,
            side,
            by: within.clone(),
        },
        sustained: longest.map(|value| Duration::new(value, Written::default(), within.span)),
        span: within.span,
    })
}

fn limits(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let zone = |limit: &Limit| {
        let cmp = match limit.side {
            Side::Below => Cmp::Below,
            Side::Above => Cmp::Above,
        };
        Zone {
            reading: limit.reading,
            goals: vec![Owned::Value(cmp, limit.level.value)],
            what: "past its `limit` in",
            than: "",
            span: limit.span,
            level: Level::Error,
            continue_counts: false,
            at_once: false,
        }
    };
    let mut findings = Vec::new();
    for limit in &protocol.limits {
        let at_once = Zone {
            at_once: true,
            ..zone(limit)
        };
        // One finding for a limit, whatever the number of phases.
        let first = |zone: &Zone| {
            protocol
                .phases()
                .find_map(|(phase, _)| unanswered(context, phase, zone))
        };
        findings.extend(first(&zone(limit)).or_else(|| first(&at_once)));
    }
    findings
}

fn scores(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let mut findings = Vec::new();
    for (reading, stated) in protocol.readings() {
        let ReadingKind::Score { low, high, .. } = stated.kind else {
            continue;
        };
        // What a ladder leaves out is a finding of its own.
        let has_ladder = protocol
            .ladders()
            .any(|(_, ladder)| ladder.reading.value == reading);
        if has_ladder {
            continue;
        }
        let mut missing: Vec<Diagnostic> = Vec::new();
        for (phase, _) in protocol.phases() {
            let spoken_of = protocol
                .rules()
                .any(|(_, rule)| is_during(rule, phase) && rule.when.readings().contains(&reading));
            if !spoken_of || !missing.is_empty() {
                continue;
            }
            for value in low..=high {
                let exactly = Exact::int(value);
                let zone = Zone {
                    reading,
                    goals: vec![
                        Owned::Value(Cmp::AtOrAbove, exactly),
                        Owned::Value(Cmp::AtOrBelow, exactly),
                    ],
                    what: "of which other values have a rule, in",
                    than: "",
                    span: stated.span,
                    level: Level::Error,
                    continue_counts: true,
                    at_once: false,
                };
                missing.extend(unanswered(context, phase, &zone));
            }
        }
        findings.extend(missing.into_iter().next());
    }
    findings
}

/// The finding for a zone, where there is a value of it of which nothing speaks.
fn unanswered(context: &Context, phase: PhaseId, zone: &Zone) -> Option<Diagnostic> {
    let protocol = context.protocol;
    let solver = &context.solver;
    if rungs_speak(context, phase, zone) {
        return None;
    }
    let speakers: Vec<(RuleId, &Rule)> = protocol
        .rules()
        .filter(|(_, rule)| {
            is_during(rule, phase)
                && rule.when.readings().contains(&zone.reading)
                && rule
                    .then
                    .iter()
                    .any(|action| zone.continue_counts || does_something(action))
        })
        .collect();
    let mut goals: Vec<Goal> = zone
        .goals
        .iter()
        .map(|goal| match goal {
            Owned::Value(cmp, value) => Goal::Value {
                reading: zone.reading,
                cmp: *cmp,
                value: *value,
            },
            Owned::Cond(cond) => Goal::Cond {
                cond,
                during: None,
                holds: true,
            },
        })
        .collect();
    let prompt: Vec<(&Rule, Option<Cond>)> = speakers
        .iter()
        .filter(|_| zone.at_once)
        .map(|(_, rule)| (*rule, at_once(context, phase, &rule.when)))
        .collect();
    if zone.at_once
        && prompt
            .iter()
            .all(|(rule, cond)| cond.as_ref() == Some(&rule.when))
    {
        // Nothing waits, and so the question has been asked before.
        return None;
    }
    for (rule, cond) in &prompt {
        goals.extend(cond.iter().map(|cond| Goal::Cond {
            cond,
            during: Some(&rule.during),
            holds: false,
        }));
    }
    if !zone.at_once {
        goals.extend(speakers.iter().map(|(_, rule)| Goal::rule(rule, false)));
    }
    let mut question = Question::new(phase, goals).with(Values::Held);
    question.settled_only = true;
    let Answer::Found(found) = solver.ask(&question) else {
        return None;
    };
    Some(finding(context, phase, zone, &speakers, &found))
}

/// The condition without what waits: a test whose `for D` is longer than from one look at its
/// readings to the next, since a second look may confirm the first, or a rise or fall, which
/// speaks of where a value came from.
fn at_once(context: &Context, phase: PhaseId, cond: &Cond) -> Option<Cond> {
    match cond {
        Cond::Test(test) => {
            let waits = test.sustained.as_ref().is_some_and(|sustained| {
                test.kind
                    .readings()
                    .into_iter()
                    .filter_map(|reading| context.solver.intervals.at(reading, phase))
                    .min()
                    .is_none_or(|interval| sustained.value > interval)
            });
            let trend = matches!(test.kind, TestKind::Trend { .. });
            (!waits && !trend).then(|| cond.clone())
        }
        Cond::All(parts) => parts
            .iter()
            .map(|part| at_once(context, phase, part))
            .collect::<Option<Vec<_>>>()
            .map(Cond::All),
        Cond::Any(parts) => {
            let left: Vec<Cond> = parts
                .iter()
                .filter_map(|part| at_once(context, phase, part))
                .collect();
            (!left.is_empty()).then_some(Cond::Any(left))
        }
    }
}

/// Whether a ladder that is followed at each look speaks of the whole zone.
fn rungs_speak(context: &Context, phase: PhaseId, zone: &Zone) -> bool {
    let protocol = context.protocol;
    protocol.looks.iter().any(|look| {
        let LookWhat::Ask {
            then_follow: Some(ladder),
            ..
        } = &look.what
        else {
            return false;
        };
        let LookWhen::Every { during: phases, .. } = &look.when else {
            return false;
        };
        let ladder = &protocol[ladder.value];
        ladder.reading.value == zone.reading && during(protocol, phases).contains(&phase)
    })
}

fn finding(
    context: &Context,
    phase: PhaseId,
    zone: &Zone,
    speakers: &[(RuleId, &Rule)],
    found: &Found,
) -> Diagnostic {
    let protocol = context.protocol;
    let reading = &protocol[zone.reading];
    let value = found
        .shown
        .iter()
        .rev()
        .find(|(_, of, _)| *of == zone.reading)
        .map(|(_, _, value)| words::value(reading, *value))
        .unwrap_or_default();
    let mut shown = found.clone();
    // Held all the time: the last record says it.
    let last: Vec<_> = shown
        .shown
        .iter()
        .filter(|(at, _, _)| *at >= found.at)
        .copied()
        .collect();
    if !last.is_empty() {
        shown.shown = last;
    }
    let mut finding = Diagnostic::new(
        CHECK.name,
        zone.level,
        zone.span,
        format!(
            "{} {value} is {} {}{}, and no rule answers it{}",
            reading.name.name,
            zone.what,
            name(&protocol[phase].name),
            zone.than,
            if zone.at_once { " at once" } else { "" }
        ),
    )
    .source(CHECK.source)
    .here("stated here")
    .witness(witness(
        context,
        &shown,
        vec![match zone.at_once {
            true => format!("{} is at {value}, and only what waits speaks of it", reading.name.name),
            false => format!("{} stays at {value}, and nothing is said", reading.name.name),
        }],
    ))
    .why(match zone.at_once {
        true => "what must never be goes on for as long as the rule waits, and nobody is told",
        false => "the patient drifts outside what the protocol itself calls right, and the sheet is silent",
    })
    .help(format!(
        "add a rule on {} that speaks at {value}{}, with what to do and whom to call",
        reading.name.name,
        match zone.at_once {
            true => " without a `for D` longer than from one look to the next",
            false => "",
        }
    ))
    .about(&protocol[phase].name.name);
    for (_, rule) in speakers {
        finding = finding.also(
            rule.when_span,
            format!(
                "{} does not hold {}: {}",
                name(&rule.name),
                if zone.at_once { "at once" } else { "then" },
                one_line(context, rule.when_span)
            ),
        );
    }
    finding
}
