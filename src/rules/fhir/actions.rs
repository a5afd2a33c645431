//! Phases, looks, rules, ladders and checklists as actions.

use super::{id, medicines, number, quantity};
use crate::model::{
    Action, At, Checklist, End, Ladder, LadderForm, Look, LookWhat, LookWhen, MarkRef, Order,
    PhaseId, Protocol, Rule,
};
use crate::quantity::Exact;
use crate::words::Words;
use serde_json::{Map, Value, json};

pub(super) fn all(protocol: &Protocol, words: &Words<'_>) -> Vec<Value> {
    let mut actions = Vec::new();
    let mut before: Option<String> = None;
    for (phase, stated) in protocol.phases() {
        let mut action = titled(
            &format!("phase.{}", stated.name.name),
            &stated.title.markdown,
        );
        let mut lines = vec![words.aim(stated), words.end(stated, phase)];
        lines.extend(words.pace(stated));
        put(&mut action, "description", json!(lines.join("; ")));
        put(&mut action, "goalId", json!([id(&stated.name.name)]));
        if let Some(before) = &before {
            put(
                &mut action,
                "relatedAction",
                json!([{ "actionId": before, "relationship": "after-end" }]),
            );
        }
        if let End::Lasts(duration) = &stated.end
            && let Some(duration) = minutes(duration.value)
        {
            put(&mut action, "timingDuration", duration);
        }
        before = Some(id(&format!("phase.{}", stated.name.name)));
        actions.push(Value::Object(action));
    }
    for (index, look) in protocol.looks.iter().enumerate() {
        actions.push(look_action(protocol, words, index, look));
    }
    for rule in &protocol.rules {
        actions.push(rule_action(protocol, words, rule));
    }
    for ladder in &protocol.ladders {
        actions.push(ladder_action(protocol, words, ladder));
    }
    for list in &protocol.checklists {
        actions.push(checklist_action(list));
    }
    actions
}

fn titled(name: &str, title: &str) -> Map<String, Value> {
    let mut action = Map::new();
    action.insert("id".to_owned(), json!(id(name)));
    action.insert("title".to_owned(), json!(title));
    action
}

fn put(action: &mut Map<String, Value>, name: &str, value: Value) {
    if !super::is_empty(&value) {
        action.insert(name.to_owned(), value);
    }
}

fn minutes(value: Exact) -> Option<Value> {
    quantity(value, "min", "min")
}

fn phase_action(protocol: &Protocol, phase: PhaseId) -> String {
    id(&format!("phase.{}", protocol[phase].name.name))
}

fn concurrent(protocol: &Protocol, during: &[At<PhaseId>]) -> Value {
    during
        .iter()
        .map(|phase| {
            json!({
                "actionId": phase_action(protocol, phase.value),
                "relationship": "concurrent"
            })
        })
        .collect()
}

fn look_action(protocol: &Protocol, words: &Words<'_>, index: usize, look: &Look) -> Value {
    let what = match &look.what {
        LookWhat::Ask { way, readings, .. } => {
            let titles: Vec<&str> = readings.iter().map(|at| words.reading(at.value)).collect();
            format!("{} {}", way.word(), titles.join(", "))
        }
        LookWhat::Do { text, .. } => text.markdown.clone(),
        LookWhat::Give(medication) => {
            format!("give {}", protocol[medication.value].title.markdown)
        }
        LookWhat::Order(action) => words.order(action, &[]),
    };
    let mut action = titled(&format!("look.{}", index + 1), &what);
    put(&mut action, "description", json!(words.when(&look.when)));
    match &look.when {
        LookWhen::Every { interval, during } => {
            put(&mut action, "relatedAction", concurrent(protocol, during));
            if let Some(period) = number(interval.value) {
                put(
                    &mut action,
                    "timingTiming",
                    json!({ "repeat": { "frequency": 1, "period": period, "periodUnit": "min" } }),
                );
            }
        }
        LookWhen::At { after, mark } => {
            let related = match mark.value {
                MarkRef::PhaseStart(phase) => Some((phase, "after-start")),
                MarkRef::PhaseEnd(phase) => Some((phase, "after-end")),
                MarkRef::Start | MarkRef::Named(_) => None,
            };
            match related {
                Some((phase, relationship)) => {
                    let offset = after.as_ref().map(|after| after.value);
                    let related = related_to(protocol, phase, relationship, offset);
                    put(&mut action, "relatedAction", related);
                }
                None => put(
                    &mut action,
                    "trigger",
                    json!([{ "type": "named-event", "name": words.mark(mark.value) }]),
                ),
            }
        }
        LookWhen::Before { before, phase } => {
            let related = related_to(protocol, phase.value, "before-start", Some(before.value));
            put(&mut action, "relatedAction", related);
        }
    }
    if let LookWhat::Give(medication) = &look.what {
        put(
            &mut action,
            "definitionCanonical",
            json!(medicines::reference(protocol, medication.value)),
        );
    }
    if let LookWhat::Order(order) = &look.what {
        let nested = orders(protocol, words, std::slice::from_ref(order), &[]);
        put(&mut action, "action", json!(nested));
    }
    Value::Object(action)
}

fn related_to(
    protocol: &Protocol,
    phase: PhaseId,
    relationship: &str,
    offset: Option<Exact>,
) -> Value {
    let mut related = Map::new();
    put(
        &mut related,
        "actionId",
        json!(phase_action(protocol, phase)),
    );
    put(&mut related, "relationship", json!(relationship));
    if let Some(offset) = offset.and_then(minutes) {
        put(&mut related, "offsetDuration", offset);
    }
    json!([related])
}

/// Orders in their order, each with what it would be without the standard's bounds.
fn orders(
    protocol: &Protocol,
    words: &Words<'_>,
    actions: &[Action],
    during: &[PhaseId],
) -> Vec<Value> {
    actions
        .iter()
        .map(|action| {
            let mut made = Map::new();
            put(&mut made, "title", json!(words.order(action, during)));
            match &action.order {
                Order::Give { medication, .. } => put(
                    &mut made,
                    "definitionCanonical",
                    json!(medicines::reference(protocol, medication.value)),
                ),
                Order::Call { role, within } => {
                    let who = words.role(role.value);
                    let participant = json!([{ "type": "practitioner", "role": { "text": who } }]);
                    put(&mut made, "participant", participant);
                    if let Some(within) = within.as_ref().and_then(|within| minutes(within.value)) {
                        put(&mut made, "timingDuration", within);
                    }
                }
                _ => {}
            }
            Value::Object(made)
        })
        .collect()
}

fn rule_action(protocol: &Protocol, words: &Words<'_>, rule: &Rule) -> Value {
    let during: Vec<PhaseId> = rule.during.iter().map(|phase| phase.value).collect();
    let mut action = titled(
        &format!("rule.{}", rule.name.name),
        &words.name(&rule.name.name),
    );
    let mut lines = vec![format!("when {}", words.condition(&rule.when, &during))];
    if let Some(again) = &rule.ready_again {
        lines.push(format!(
            "ready again when {}",
            words.condition(again, &during)
        ));
    }
    if let Some(after) = &rule.again_after {
        lines.push(format!("may fire again after {after}"));
    }
    if !rule.overrides.is_empty() {
        let names: Vec<String> = rule
            .overrides
            .iter()
            .map(|other| words.name(&protocol[other.value].name.name))
            .collect();
        lines.push(format!("while it holds, not: {}", names.join(", ")));
    }
    put(&mut action, "description", json!(lines.join("; ")));
    // The standard has no language in which these conditions can be said, so the
    // rule file decides them and this names what it then says.
    put(
        &mut action,
        "trigger",
        json!([{ "type": "named-event", "name": format!("rule {}", rule.name.name) }]),
    );
    put(
        &mut action,
        "relatedAction",
        concurrent(protocol, &rule.during),
    );
    put(&mut action, "groupingBehavior", json!("logical-group"));
    put(&mut action, "selectionBehavior", json!("all"));
    put(
        &mut action,
        "action",
        json!(orders(protocol, words, &rule.then, &during)),
    );
    Value::Object(action)
}

fn ladder_action(protocol: &Protocol, words: &Words<'_>, ladder: &Ladder) -> Value {
    let mut action = titled(
        &format!("ladder.{}", ladder.name.name),
        &ladder.title.markdown,
    );
    let group = |title: &str, when: String, actions: &[Action], recheck: Option<String>| {
        let mut step = Map::new();
        put(&mut step, "title", json!(title));
        let recheck = recheck.map(|after| format!("look again in {after}"));
        let lines: Vec<String> = [Some(when), recheck].into_iter().flatten().collect();
        put(&mut step, "description", json!(lines.join("; ")));
        put(
            &mut step,
            "action",
            json!(orders(protocol, words, actions, &[])),
        );
        Value::Object(step)
    };
    let title = words.reading(ladder.reading.value);
    let (groups, selection): (Vec<Value>, &str) = match &ladder.form {
        LadderForm::Rungs(rungs) => (
            rungs
                .iter()
                .map(|rung| {
                    let band = match &rung.band {
                        crate::model::RungBand::Values { low, high } if low.value == high.value => {
                            format!("{title} {low}")
                        }
                        crate::model::RungBand::Values { low, high } => {
                            format!("{title} {low} to {high}")
                        }
                        crate::model::RungBand::Compare { cmp, level } => {
                            format!("{title} {} {level}", cmp.words())
                        }
                    };
                    let recheck = rung.recheck.as_ref().map(ToString::to_string);
                    group(&rung.title.markdown, band, &rung.actions, recheck)
                })
                .collect(),
            "exactly-one",
        ),
        LadderForm::Steps { steps, .. } => (
            steps
                .iter()
                .enumerate()
                .map(|(index, step)| {
                    let recheck = step.recheck.as_ref().map(ToString::to_string);
                    let place = format!("step {}", index + 1);
                    group(&step.title.markdown, place, &step.actions, recheck)
                })
                .collect(),
            "all",
        ),
    };
    if let LadderForm::Steps { goal, .. } = &ladder.form {
        let goal = match goal {
            crate::model::Goal::Compare { cmp, level } => format!("{} {level}", cmp.words()),
            crate::model::Goal::Is(word) => match &protocol[ladder.reading.value].kind {
                crate::model::ReadingKind::Choice { words, .. } => words
                    .get(word.value)
                    .map(|word| word.name.clone())
                    .unwrap_or_default(),
                _ => String::new(),
            },
        };
        let text = format!("step after step until {title} is {goal}");
        put(&mut action, "description", json!(text));
    }
    put(&mut action, "groupingBehavior", json!("logical-group"));
    put(&mut action, "selectionBehavior", json!(selection));
    put(&mut action, "action", json!(groups));
    Value::Object(action)
}

fn checklist_action(list: &Checklist) -> Value {
    use crate::model::FixedWord;
    let mut action = titled(
        &format!("checklist.{}", list.name.name),
        &list.title.markdown,
    );
    let occasion = list.at.value.word().replace('-', " ");
    put(&mut action, "description", json!(format!("at: {occasion}")));
    put(&mut action, "groupingBehavior", json!("visual-group"));
    put(&mut action, "selectionBehavior", json!("all"));
    let steps: Vec<Value> = list
        .steps
        .iter()
        .map(|step| {
            let mut made = Map::new();
            put(&mut made, "title", json!(step.text.markdown));
            let mut notes = Vec::new();
            if let Some((name, unit)) = &step.record {
                let unit = if unit.is_empty() {
                    String::new()
                } else {
                    format!(" in {unit}")
                };
                notes.push(format!("write down {}{unit}", name.name.replace('-', " ")));
            }
            if step.two_people {
                notes.push("two people".to_owned());
            }
            put(&mut made, "description", json!(notes.join("; ")));
            Value::Object(made)
        })
        .collect();
    put(&mut action, "action", json!(steps));
    Value::Object(action)
}
