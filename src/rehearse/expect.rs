//! Whether an expectation was met; and if not, what happened and what decided.

use super::decided;
use super::trial::{Failure, Place, Ran, expected_words};
use crate::eval::same::{Closeness, same_order};
use crate::eval::{Aimed, Cause, Event, RuleStanding, Truth, What, wording};
use crate::model::{
    Action, Expect, Expected, LadderForm, LadderId, Order, PhaseId, Protocol, ReadingId, RuleId,
};
use crate::quantity::Exact;
use crate::source::Sources;

/// Steps shown with a failure: enough to see what led there, few enough to read.
const STEPS: usize = 12;

/// `None` where the expectation was met.
pub(super) fn failure(
    protocol: &Protocol,
    expected: &Expect,
    ran: &Ran<'_>,
    sources: &Sources,
) -> Option<Failure> {
    let found = match &expected.what {
        Expected::Rule(rule) => rule_failure(protocol, expected, rule.value, ran),
        Expected::Order(order) => order_failure(protocol, expected, order, ran),
        Expected::Phase(phase) => phase_failure(protocol, expected, phase.value, ran),
        Expected::Target(value) => target_failure(protocol, expected, value.value, ran),
    }?;
    Some(Failure {
        place: Place::of(expected.span, sources),
        expected: expected_words(protocol, expected),
        happened: found.happened,
        decided: found.decided,
        steps: found.steps,
    })
}

struct Found {
    happened: String,
    decided: Vec<String>,
    steps: Vec<String>,
}

fn rule_failure(
    protocol: &Protocol,
    expected: &Expect,
    rule: RuleId,
    ran: &Ran<'_>,
) -> Option<Found> {
    let fired: Vec<Exact> = ran
        .events
        .iter()
        .filter(|event| matches!(event.what, What::RuleFires { rule: it, .. } if it == rule))
        .map(|event| event.at)
        .collect();
    let happened = happened("it fires", &fired, expected)?;
    let at = decided_at(expected, &fired, ran);
    Some(Found {
        happened,
        decided: decisions(protocol, &[rule], at, ran),
        steps: steps(protocol, ran, at, &about_rule(protocol, rule)),
    })
}

fn order_failure(
    protocol: &Protocol,
    expected: &Expect,
    order: &Order,
    ran: &Ran<'_>,
) -> Option<Found> {
    let same = |given: &Order| same_order(given, order, Closeness::WithoutUntil);
    let mut given = Vec::new();
    let mut causes: Vec<(Exact, Cause)> = Vec::new();
    for event in &ran.events {
        if let What::OrderGiven {
            order: it,
            causes: by,
        } = &event.what
            && same(it)
        {
            given.push(event.at);
            causes.extend(by.iter().map(|cause| (event.at, *cause)));
        }
    }
    let happened = happened("it is ordered", &given, expected)?;
    let at = decided_at(expected, &given, ran);
    let (mut rules, ladders) = who_orders(protocol, &same);
    let mut decided = Vec::new();
    if expected.absent {
        // Those that gave it have decided; the others have not.
        rules.clear();
        for (time, cause) in &causes {
            if *time == at {
                match cause {
                    Cause::Rule(rule) => rules.push(*rule),
                    other => decided.push(wording::cause(protocol, *other)),
                }
            }
        }
    } else {
        decided.extend(
            ladders
                .iter()
                .map(|ladder| decided::ladder(protocol, *ladder, |of| has(of, &same), at, ran)),
        );
        if rules.is_empty() && ladders.is_empty() {
            decided.push("no rule and no ladder orders it in these words".to_owned());
        }
    }
    decided.extend(decisions(protocol, &rules, at, ran));
    let mut about = About {
        // Where nothing orders it, the words of all that was ordered help.
        orders: if rules.is_empty() && ladders.is_empty() && causes.is_empty() {
            Orders::All
        } else {
            Orders::Theirs
        },
        ..About::default()
    };
    about.ladders.extend(&ladders);
    for rule in &rules {
        about.add(about_rule(protocol, *rule));
    }
    about
        .ladders
        .extend(causes.iter().filter_map(|(_, cause)| match cause {
            Cause::Rung(ladder, _) | Cause::Step(ladder, _) => Some(*ladder),
            Cause::Rule(_) | Cause::Look(_) | Cause::Otherwise(_) => None,
        }));
    about.readings.extend(
        about
            .ladders
            .iter()
            .map(|ladder| protocol[*ladder].reading.value),
    );
    Some(Found {
        happened,
        decided,
        steps: steps(protocol, ran, at, &about),
    })
}

fn phase_failure(
    protocol: &Protocol,
    expected: &Expect,
    phase: PhaseId,
    ran: &Ran<'_>,
) -> Option<Found> {
    let at = expected.at.unwrap_or(ran.until);
    let runs = ran.snapshots.get(&at).and_then(|snapshot| snapshot.phase);
    if (runs == Some(phase)) != expected.absent {
        return None;
    }
    Some(Found {
        happened: match runs {
            Some(phase) => format!("phase {} runs", protocol[phase].name.name),
            None => "the case is over".to_owned(),
        },
        decided: runs
            .map(|phase| decided::phase(protocol, phase, at, ran))
            .into_iter()
            .collect(),
        steps: steps(
            protocol,
            ran,
            at,
            &About {
                readings: runs
                    .into_iter()
                    .chain([phase])
                    .map(|phase| protocol[phase].aim.reading())
                    .collect(),
                orders: Orders::Control,
                ..About::default()
            },
        ),
    })
}

fn target_failure(
    protocol: &Protocol,
    expected: &Expect,
    value: Exact,
    ran: &Ran<'_>,
) -> Option<Found> {
    let at = expected.at.unwrap_or(ran.until);
    let aimed = ran
        .snapshots
        .get(&at)
        .map_or(Aimed::Nothing, |snapshot| snapshot.aimed);
    if (aimed == Aimed::Value(value)) != expected.absent {
        return None;
    }
    let runs = ran.snapshots.get(&at).and_then(|snapshot| snapshot.phase);
    let mut decided: Vec<String> = runs
        .map(|phase| decided::phase(protocol, phase, at, ran))
        .into_iter()
        .collect();
    decided.extend(decided::target_orders(protocol, at, ran, Order::steers));
    Some(Found {
        happened: wording::aimed(protocol, aimed),
        decided,
        steps: steps(
            protocol,
            ran,
            at,
            &About {
                targets: true,
                orders: Orders::Control,
                ..About::default()
            },
        ),
    })
}

/// What happened instead; `None` where the expectation was met.
fn happened(verb: &str, times: &[Exact], expected: &Expect) -> Option<String> {
    let at_it = match expected.at {
        Some(at) => times.contains(&at),
        None => !times.is_empty(),
    };
    if at_it != expected.absent {
        return None;
    }
    let listed: Vec<String> = times.iter().map(|at| wording::time(*at)).collect();
    Some(if times.is_empty() {
        verb.replace("it fires", "it never fires")
            .replace("it is ordered", "it is never ordered")
    } else {
        format!("{verb} at {}", listed.join(", "))
    })
}

/// The time whose decision is explained.
fn decided_at(expected: &Expect, times: &[Exact], ran: &Ran<'_>) -> Exact {
    match (expected.at, expected.absent) {
        (Some(at), _) => at,
        (None, true) => times.first().copied().unwrap_or(ran.until),
        (None, false) => ran.until,
    }
}

/// How each rule stood, or on what it fired.
fn decisions(protocol: &Protocol, rules: &[RuleId], at: Exact, ran: &Ran<'_>) -> Vec<String> {
    rules
        .iter()
        .map(|rule| {
            let name = &protocol[*rule].name.name;
            let fired = ran.events.iter().find_map(|event| match &event.what {
                What::RuleFires { rule: it, because } if it == rule && event.at == at => {
                    Some(because)
                }
                _ => None,
            });
            if let Some(because) = fired {
                let facts: Vec<String> = because
                    .iter()
                    .map(|fact| wording::fact(protocol, fact))
                    .collect();
                return format!("rule `{name}` fires: {}", facts.join("; "));
            }
            match ran
                .snapshots
                .get(&at)
                .and_then(|snapshot| snapshot.rules.get(rule))
            {
                Some(standing) => format!("rule `{name}`, {}", standing_words(protocol, standing)),
                None => format!("rule `{name}`"),
            }
        })
        .collect()
}

fn standing_words(protocol: &Protocol, standing: &RuleStanding<'_>) -> String {
    match standing {
        RuleStanding::NotInPhase => "not in its phases".to_owned(),
        RuleStanding::InPhase {
            truth,
            facts,
            fired,
            overridden_by,
        } => {
            let ready = match (fired, overridden_by, truth) {
                (Some(fired), _, _) => {
                    format!("at rest since it fired at {}", wording::time(*fired))
                }
                (None, Some(by), Truth::Holds) => {
                    format!("overridden by `{}`", protocol[*by].name.name)
                }
                (None, _, _) => "in its phases and ready".to_owned(),
            };
            let facts: Vec<String> = facts
                .iter()
                .map(|fact| wording::fact(protocol, fact))
                .collect();
            format!("{ready}: {}", facts.join("; "))
        }
    }
}

fn has(actions: &[Action], same: &impl Fn(&Order) -> bool) -> bool {
    actions.iter().any(|action| {
        same(&action.order)
            || crate::eval::same::otherwise(&action.order)
                .is_some_and(|instead| same(&instead.order))
    })
}

/// The rules and ladders in whose orders it stands.
fn who_orders(protocol: &Protocol, same: &impl Fn(&Order) -> bool) -> (Vec<RuleId>, Vec<LadderId>) {
    let rules = protocol
        .rules()
        .filter(|(_, rule)| has(&rule.then, same))
        .map(|(id, _)| id)
        .collect();
    let ladders = protocol
        .ladders()
        .filter(|(_, ladder)| match &ladder.form {
            LadderForm::Rungs(rungs) => rungs.iter().any(|rung| has(&rung.actions, same)),
            LadderForm::Steps { steps, .. } => steps.iter().any(|step| has(&step.actions, same)),
        })
        .map(|(id, _)| id)
        .collect();
    (rules, ladders)
}

/// What the steps to a failure are about.
#[derive(Default)]
struct About {
    readings: Vec<ReadingId>,
    rules: Vec<RuleId>,
    ladders: Vec<LadderId>,
    orders: Orders,
    targets: bool,
}

/// Which orders count.
#[derive(Clone, Copy, Default, PartialEq, Eq)]
enum Orders {
    #[default]
    None,
    /// Those that change a phase or a target.
    Control,
    /// Those that these rules and ladders give.
    Theirs,
    All,
}

impl About {
    fn add(&mut self, other: About) {
        self.readings.extend(other.readings);
        self.rules.extend(other.rules);
    }

    fn order_counts(&self, order: &Order) -> bool {
        match self.orders {
            Orders::None | Orders::Theirs => false,
            Orders::All => true,
            Orders::Control => order.steers(),
        }
    }

    fn counts(&self, event: &Event<'_>) -> bool {
        match &event.what {
            What::Recorded { reading, .. } => self.readings.contains(reading),
            What::RuleFires { rule, .. } | What::RuleReady(rule) => {
                self.orders == Orders::All || self.rules.contains(rule)
            }
            What::RuleSilenced { rule, .. } => self.rules.contains(rule),
            What::PhaseBegins { .. }
            | What::PhaseEnds { .. }
            | What::CaseEnds
            | What::Marked(_)
            | What::Refused(_)
            | What::Contradiction { .. }
            | What::OrderNotDone { .. } => true,
            What::Target(_) => self.targets,
            What::OrderGiven { order, causes } => {
                self.order_counts(order)
                    || (self.orders == Orders::Theirs
                        && causes.iter().any(|cause| match cause {
                            Cause::Rule(rule) => self.rules.contains(rule),
                            Cause::Rung(ladder, _) | Cause::Step(ladder, _) => {
                                self.ladders.contains(ladder)
                            }
                            Cause::Look(_) => false,
                            Cause::Otherwise(_) => true,
                        }))
            }
            What::OrderEnds(order) => self.order_counts(order),
            What::RungChosen { ladder, .. }
            | What::StepDone { ladder, .. }
            | What::NoRung { ladder, .. }
            | What::LadderRests { ladder, .. } => {
                self.orders == Orders::All || self.ladders.contains(ladder)
            }
            What::NotGiven { .. } => matches!(self.orders, Orders::All | Orders::Theirs),
            What::LimitPassed { .. }
            | What::PhaseOverdue(_)
            | What::RecheckDue { .. }
            | What::RecheckAnswered { .. }
            | What::EntryDue(_)
            | What::EntryMade { .. }
            | What::EntryMissed(_)
            | What::ChecklistDue(_)
            | What::Medication { .. }
            | What::Call(_) => false,
        }
    }
}

fn about_rule(protocol: &Protocol, rule: RuleId) -> About {
    let mut rules = vec![rule];
    let mut readings = protocol[rule].when.readings();
    if let Some(ready_again) = &protocol[rule].ready_again {
        readings.extend(ready_again.readings());
    }
    for (id, other) in protocol.rules() {
        if other.overrides.iter().any(|over| over.value == rule) {
            rules.push(id);
            readings.extend(other.when.readings());
        }
    }
    About {
        readings,
        rules,
        ..About::default()
    }
}

/// What led there: records of one moment, and the same records again and again, in one
/// line; those before the last few are counted.
fn steps(protocol: &Protocol, ran: &Ran<'_>, at: Exact, about: &About) -> Vec<String> {
    let mut all: Vec<Step> = Vec::new();
    for event in &ran.events {
        if event.at > at || !about.counts(event) {
            continue;
        }
        let words = wording::event(protocol, event);
        let is_record = matches!(event.what, What::Recorded { .. });
        match all.last_mut() {
            Some(last) if is_record && last.is_record && last.from == event.at => {
                last.words.push_str(&words.replacen("recorded:", ",", 1));
            }
            _ => all.push(Step {
                from: event.at,
                to: event.at,
                times: 1,
                is_record,
                words,
            }),
        }
    }
    all.dedup_by(|next, last| {
        let again = next.is_record && last.is_record && next.words == last.words;
        if again {
            last.to = next.to;
            last.times += 1;
        }
        again
    });
    let from = all.len().saturating_sub(STEPS);
    let mut shown = Vec::new();
    if from > 0 {
        shown.push(format!("… {from} earlier, not shown"));
    }
    shown.extend(all.iter().skip(from).map(Step::told));
    shown
}

struct Step {
    from: Exact,
    to: Exact,
    times: usize,
    is_record: bool,
    words: String,
}

impl Step {
    fn told(&self) -> String {
        let from = wording::time(self.from);
        if self.times == 1 {
            return format!("{from} {}", self.words);
        }
        format!(
            "{from} to {} {}, {} times",
            wording::time(self.to),
            self.words,
            self.times
        )
    }
}
