//! What begins and ends, or goes up and down, within the error of the thermometer.

use super::super::facts::{self, Origin, during};
use super::super::words::{self, name};
use super::super::{Check, Context, Family, Run};
use super::to_and_fro::{Turn, to_and_fro};
use super::{is_during, one_line, order_text};
use crate::diag::{Diagnostic, Level};
use crate::eval::What;
use crate::model::*;
use crate::quantity::Exact;
use crate::solve::opposites::can_oppose;
use crate::source::Span;

pub const CHECK: Check = Check {
    name: "chatter",
    family: Family::Rules,
    level: Level::Warning,
    since: "0.1.0",
    summary: "an order begins and ends nearer together than the reading is accurate",
    catches: "An `until`, a `ready again when`, or a rule with an opposite order, whose value is nearer to the value \
              that started it than the reading is accurate to. Where no accuracy is stated, than one step of its \
              display. Scores and choices have no error of this kind.",
    why: "The thermometer's own error switches control off and on, or calls somebody again and again.",
    fires: "\
rule too-cold {
  when core below 32.5 °C during hold
  then pause temperature control until core at or above 32.6 °C
  then call doctor within 15 min
  again after 1 h
}
",
    passes: "\
rule too-cold {
  when core below 32.5 °C during hold
  then pause temperature control until core at or above 32.7 °C
  then call doctor within 15 min
  again after 1 h
}
",
    source: "structural",
    run: Run::Over(run),
};

/// What a value is compared with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Scale {
    Value,
    FromTarget,
    Trend(TrendWay, Exact),
}

/// One end of what a test takes in: it holds on that side of `at`.
#[derive(Debug, Clone, Copy)]
struct Edge {
    reading: ReadingId,
    scale: Scale,
    side: Side,
    at: Exact,
    span: Span,
}

fn run(context: &Context) -> Vec<Diagnostic> {
    let mut findings = untils(context);
    findings.extend(ready_again(context));
    findings.extend(opposite_rules(context));
    findings
}

fn untils(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let mut findings = Vec::new();
    for order in facts::orders(protocol) {
        let (Some(Until::When(until)), Origin::Rule(id)) =
            (facts::until(order.action), order.origin)
        else {
            continue;
        };
        let rule = &protocol[id];
        if let Some(near) = nearest(protocol, rule, until) {
            let finding = near.finding(
                context,
                format!(
                    "{} begins and ends `{}` within the error of the reading",
                    name(&rule.name),
                    without_until(&one_line(context, order.action.span))
                ),
            );
            let says = order_text(context, order.action);
            let ends = |what: &What| matches!(what, What::OrderEnds(ended) if std::ptr::eq(*ended, &raw const order.action.order));
            let turn = near.turn(id, says, "that ends".to_owned());
            findings.push(turned(context, finding, &turn, &ends).about(&rule.name.name));
        }
    }
    findings
}

fn without_until(text: &str) -> &str {
    text.split(" until ").next().unwrap_or(text)
}

fn ready_again(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let mut findings = Vec::new();
    for (id, rule) in protocol.rules() {
        if let Some(ready) = &rule.ready_again
            && let Some(near) = nearest(protocol, rule, ready)
        {
            let finding = near.finding(
                context,
                format!(
                    "{} is ready again within the error of the reading",
                    name(&rule.name)
                ),
            );
            let says: Vec<String> = rule
                .then
                .iter()
                .map(|action| order_text(context, action))
                .collect();
            let turn = near.turn(
                id,
                says.join("; "),
                "it is ready to say so again".to_owned(),
            );
            let is_ready = |what: &What| matches!(what, What::RuleReady(ready) if *ready == id);
            findings.push(turned(context, finding, &turn, &is_ready).about(&rule.name.name));
        }
    }
    findings
}

fn opposite_rules(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let mut findings = Vec::new();
    for (id, a) in protocol.rules() {
        for (other, b) in protocol.rules().skip(id.index() + 1) {
            let opposite = a.then.iter().find_map(|first| {
                b.then
                    .iter()
                    .find(|second| can_oppose(&first.order, &second.order))
                    .map(|second| (first, second))
            });
            let Some((first, second)) = opposite else {
                continue;
            };
            let near = during(protocol, &a.during)
                .into_iter()
                .filter(|phase| is_during(b, *phase))
                .find_map(|phase| {
                    closest(
                        (protocol, phase),
                        &edges(protocol, &a.when, phase),
                        &edges(protocol, &b.when, phase),
                        true,
                    )
                });
            if let Some(near) = near {
                let finding = near.finding(
                    context,
                    format!(
                        "{} and {} order opposite things within the error of the reading",
                        name(&a.name),
                        name(&b.name)
                    ),
                );
                let then = format!("{} says: {}", name(&b.name), order_text(context, second));
                let turn = near.turn(id, order_text(context, first), then);
                let fires =
                    |what: &What| matches!(what, What::RuleFires { rule, .. } if *rule == other);
                findings.push(turned(context, finding, &turn, &fires).about(&a.name.name));
            }
        }
    }
    findings
}

/// The finding with a record on which it goes to and fro.
fn turned(
    context: &Context,
    finding: Diagnostic,
    turn: &Turn,
    comes: &dyn Fn(&What) -> bool,
) -> Diagnostic {
    match to_and_fro(context, turn, comes) {
        Some(case) => finding.witness(case),
        None => finding,
    }
}

/// Two edges that are too near.
struct Near {
    phase: PhaseId,
    begins: Edge,
    ends: Edge,
    gap: Exact,
    error: Exact,
}

impl Near {
    fn turn(&self, rule: RuleId, says: String, then: String) -> Turn {
        Turn {
            rule,
            phase: self.phase,
            reading: self.begins.reading,
            side: self.begins.side,
            at: (self.begins.scale == Scale::Value).then_some(self.begins.at),
            error: self.error,
            says,
            then,
        }
    }

    fn finding(&self, context: &Context, title: String) -> Diagnostic {
        let reading = &context.protocol[self.begins.reading];
        let unit = |value: Exact| difference(reading, value);
        let apart = if self.gap > Exact::ZERO {
            format!("only {} from where it began", unit(self.gap))
        } else {
            "no farther than where it began".to_owned()
        };
        let mut finding = CHECK
            .found(self.ends.span, title)
            .here(apart)
            .also(self.begins.span, "what begins it");
        finding = match &reading.accurate_to {
            Some(accurate) => finding.also(
                accurate.span,
                format!("{} is no surer than this", name(&reading.name)),
            ),
            None => finding.also(reading.span, "the reading, with no accuracy stated"),
        };
        finding
            .why("the error of the reading alone would switch it off and on")
            .help(format!(
                "let at least {} lie between the two",
                unit(self.error)
            ))
    }
}

fn difference(reading: &Reading, value: Exact) -> String {
    match &reading.kind {
        ReadingKind::Body(_) | ReadingKind::Medium(_) => words::celsius(value),
        ReadingKind::Amount {
            unit: Some(unit), ..
        } => format!("{value}\u{a0}{}", unit.name),
        ReadingKind::Amount { unit: None, .. }
        | ReadingKind::Score { .. }
        | ReadingKind::Choice { .. } => value.to_string(),
    }
}

/// Where the end of what a rule begins is too near to its beginning.
fn nearest(protocol: &Protocol, rule: &Rule, end: &Cond) -> Option<Near> {
    during(protocol, &rule.during)
        .into_iter()
        .find_map(|phase| {
            let ends = edges(protocol, end, phase);
            // With `and`, the part farthest away decides; parts about something else
            // decide too, and how far nobody can say.
            if let Cond::All(parts) = end {
                let all_near = parts.iter().all(|part| {
                    closest(
                        (protocol, phase),
                        &edges(protocol, &rule.when, phase),
                        &edges(protocol, part, phase),
                        false,
                    )
                    .is_some()
                });
                if !all_near {
                    return None;
                }
            }
            closest(
                (protocol, phase),
                &edges(protocol, &rule.when, phase),
                &ends,
                false,
            )
        })
}

/// The first pair on opposite sides that lies nearer together than the error.
/// `apart` asks for those only that do not meet, which is another check's business.
fn closest(
    (protocol, phase): (&Protocol, PhaseId),
    begins: &[Edge],
    ends: &[Edge],
    apart: bool,
) -> Option<Near> {
    for begin in begins {
        for end in ends {
            if begin.reading != end.reading || begin.scale != end.scale || begin.side == end.side {
                continue;
            }
            let gap = match begin.side {
                Side::Above => begin.at - end.at,
                Side::Below => end.at - begin.at,
            };
            let Some(error) = error(&protocol[begin.reading]) else {
                continue;
            };
            if gap < error && !(apart && gap < Exact::ZERO) {
                return Some(Near {
                    phase,
                    begins: *begin,
                    ends: *end,
                    gap,
                    error,
                });
            }
        }
    }
    None
}

fn error(reading: &Reading) -> Option<Exact> {
    match &reading.kind {
        ReadingKind::Score { .. } | ReadingKind::Choice { .. } => None,
        ReadingKind::Body(_) | ReadingKind::Medium(_) | ReadingKind::Amount { .. } => reading
            .accurate_to
            .as_ref()
            .or(reading.shown_to.as_ref())
            .map(|error| error.value),
    }
}

/// The edges of every test, with a target that stands still put in as a value.
fn edges(protocol: &Protocol, cond: &Cond, phase: PhaseId) -> Vec<Edge> {
    let mut found = Vec::new();
    for test in cond.tests() {
        let mut push = |reading, scale, side, at| {
            found.push(Edge {
                reading,
                scale,
                side,
                at,
                span: test.span,
            });
        };
        match &test.kind {
            TestKind::Compare {
                reading,
                cmp,
                level,
            } => {
                let side = match cmp {
                    Cmp::Above | Cmp::AtOrAbove => Side::Above,
                    Cmp::Below | Cmp::AtOrBelow => Side::Below,
                };
                push(*reading, Scale::Value, side, level.value);
            }
            TestKind::Outside { reading, low, high } => {
                push(*reading, Scale::Value, Side::Below, low.value);
                push(*reading, Scale::Value, Side::Above, high.value);
            }
            TestKind::OffTarget { reading, side, by } => {
                let offset = match side {
                    Side::Above => by.value,
                    Side::Below => -by.value,
                };
                let (scale, at) = from_target(&protocol[phase].aim, *side, offset);
                push(*reading, scale, *side, at);
            }
            TestKind::NearTarget { reading, within } => {
                let aim = &protocol[phase].aim;
                let (scale, at) = from_target(aim, Side::Above, within.value);
                push(*reading, scale, Side::Below, at);
                let (scale, at) = from_target(aim, Side::Below, -within.value);
                push(*reading, scale, Side::Above, at);
            }
            TestKind::Trend {
                reading,
                way,
                cmp,
                by,
                over,
            } => {
                let side = match cmp {
                    MoreLess::More => Side::Above,
                    MoreLess::Less => Side::Below,
                };
                push(*reading, Scale::Trend(*way, over.value), side, by.value);
            }
            TestKind::Is { .. }
            | TestKind::Differ { .. }
            | TestKind::NotRecorded { .. }
            | TestKind::LastsLonger { .. }
            | TestKind::Overdue { .. }
            | TestKind::PausedLonger { .. } => {}
        }
    }
    found
}

/// An offset from the target as a value where the target stands still.
fn from_target(aim: &Aim, side: Side, offset: Exact) -> (Scale, Exact) {
    let stands = match (aim, side) {
        (Aim::Hold { at, .. }, _) => Some(at.value),
        (Aim::Reach { to, rate: None, .. }, _) => Some(to.value),
        (Aim::Reach { rate: Some(_), .. }, _) => None,
        (Aim::Keep { high, .. }, Side::Above) => high.as_ref().map(|high| high.value),
        (Aim::Keep { low, .. }, Side::Below) => low.as_ref().map(|low| low.value),
    };
    match stands {
        Some(target) => (Scale::Value, target + offset),
        None => (Scale::FromTarget, offset),
    }
}
