//! Parts of a rule file in the words of the language.
//!
//! Takes a member of the meaning as JSON, gives one line. A shape that is not known
//! is said member by member, so that nothing that differs can be left unsaid.

use serde_json::{Map, Value};

const SPACE: &str = "\u{a0}";

pub(super) fn text<'v>(value: &'v Value, member: &str) -> &'v str {
    value.get(member).and_then(Value::as_str).unwrap_or("")
}

pub(super) fn list<'v>(value: &'v Value, member: &str) -> &'v [Value] {
    value
        .get(member)
        .and_then(Value::as_array)
        .map_or(&[], Vec::as_slice)
}

fn words(value: &Value) -> String {
    value.as_str().unwrap_or("").replace('-', " ")
}

/// A number with its unit as written; any other scalar as it stands.
pub(super) fn measured(value: Option<&Value>) -> String {
    match value {
        Some(Value::Object(members)) => members
            .get("written")
            .and_then(Value::as_str)
            .unwrap_or("")
            .replace(' ', SPACE),
        Some(Value::String(text)) => text.clone(),
        Some(other) => other.to_string(),
        None => String::new(),
    }
}

pub(super) fn names(list: &[Value]) -> String {
    let names: Vec<&str> = list.iter().filter_map(Value::as_str).collect();
    names.join(", ")
}

pub(super) fn during(value: &Value) -> String {
    let phases = list(value, "during");
    if phases.is_empty() {
        String::new()
    } else {
        format!(" during {}", names(phases))
    }
}

pub(super) fn condition(value: &Value) -> String {
    let m = |member: &str| measured(value.get(member));
    let reading = text(value, "reading");
    let sustained = match value.get("for") {
        Some(time) => format!(" for {}", measured(Some(time))),
        None => String::new(),
    };
    let said = match text(value, "kind") {
        "all" => parts(value, " and "),
        "any" => parts(value, " or "),
        "compare" => format!(
            "{reading} {} {}",
            words(value.get("is").unwrap_or(&Value::Null)),
            m("level")
        ),
        "outside" => format!("{reading} outside {} to {}", m("low"), m("high")),
        "is" => format!("{reading} is {}", text(value, "word")),
        "off-target" => format!(
            "{reading} {} target by more than {}",
            text(value, "side"),
            m("by_more_than")
        ),
        "near-target" => format!("{reading} within {} of target", m("within")),
        "differ" => format!(
            "{} and {} differ by {} than {}",
            text(value, "first"),
            text(value, "second"),
            text(value, "by"),
            m("than")
        ),
        "trend" => format!(
            "{reading} {} {} than {} in {}",
            text(value, "way"),
            text(value, "by"),
            m("than"),
            m("over")
        ),
        "not-recorded" => format!("{reading} not recorded for {}", m("over")),
        "lasts-longer" => format!("{} lasts longer than {}", text(value, "phase"), m("than")),
        "overdue" => format!("{} is overdue", text(value, "phase")),
        "paused-longer" => format!("paused longer than {}", m("than")),
        _ => plain(value),
    };
    said + &sustained
}

fn parts(value: &Value, joint: &str) -> String {
    let parts: Vec<String> = list(value, "of")
        .iter()
        .map(|part| match text(part, "kind") {
            "all" | "any" => format!("({})", condition(part)),
            _ => condition(part),
        })
        .collect();
    parts.join(joint)
}

fn until(value: Option<&Value>) -> String {
    let Some(value) = value else {
        return String::new();
    };
    match text(value, "kind") {
        "when" => format!(
            "until {}",
            value.get("condition").map(condition).unwrap_or_default()
        ),
        "mark" => format!("until {}", text(value, "mark")),
        _ => format!("for {}", measured(value.get("duration"))),
    }
}

/// An order without its reason.
pub(super) fn order(value: &Value) -> String {
    let m = |member: &str| measured(value.get(member));
    let medication = text(value, "medication");
    let otherwise = match value.get("otherwise").and_then(|line| line.get("order")) {
        Some(other) => format!(" otherwise {}", order(other)),
        None => String::new(),
    };
    match text(value, "kind") {
        "ask" => format!(
            "{} {} {}",
            text(value, "way"),
            names(list(value, "readings")),
            match value.get("after") {
                Some(after) => format!("in {}", measured(Some(after))),
                None => "now".to_owned(),
            }
        ),
        "follow-ladder" => format!("follow {}", text(value, "ladder")),
        "follow-checklist" => format!("follow {}", text(value, "checklist")),
        "call" => format!(
            "call {} {}",
            text(value, "role"),
            match value.get("within") {
                Some(within) => format!("within {}", measured(Some(within))),
                None => "now".to_owned(),
            }
        ),
        "do" => format!("do {}{}", quoted(text(value, "text")), covers(value)),
        "continue" => "continue".to_owned(),
        "begin" => format!("begin {}", text(value, "phase")),
        "set-target" => format!("set target {}", m("target")),
        "raise-target" => format!("raise target by {}, at most {}", m("by"), m("at_most")),
        "lower-target" => format!("lower target by {}, at least {}", m("by"), m("at_least")),
        "keep-target" => format!("keep target here {}", until(value.get("until"))),
        "set-rate" => format!("set rate {}", m("rate")),
        "pause" => format!("pause temperature control {}", until(value.get("until"))),
        "stop" => "stop temperature control".to_owned(),
        "give" => format!("give {medication}{otherwise}"),
        "raise-rate" => format!("raise {medication}{otherwise}"),
        "lower-rate" => format!("lower {medication}{otherwise}"),
        "withhold" => format!("withhold {medication} {}", until(value.get("until"))),
        "stop-medication" => format!("stop {medication}"),
        _ => plain(value),
    }
}

/// One line of orders.
pub(super) fn line(value: &Value) -> String {
    value.get("order").map(order).unwrap_or_default()
}

pub(super) fn quoted(text: &str) -> String {
    format!(
        "“{}”",
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    )
}

pub(super) fn covers(value: &Value) -> String {
    match list(value, "covers") {
        [] => String::new(),
        covers => format!(" covers {}", names(covers)),
    }
}

pub(super) fn range(value: &Value) -> String {
    format!(
        "{} to {}",
        measured(value.get("low")),
        measured(value.get("high"))
    )
}

pub(super) fn aim(value: &Value) -> String {
    let m = |member: &str| measured(value.get(member));
    let reading = text(value, "reading");
    match text(value, "kind") {
        "hold" => format!("hold {reading} at {} within {}", m("at"), m("within")),
        "keep" => match (value.get("low"), value.get("high")) {
            (Some(_), Some(_)) => format!("keep {reading} {}", range(value)),
            (Some(_), None) => format!("keep {reading} at or above {}", m("low")),
            _ => format!("keep {reading} at or below {}", m("high")),
        },
        _ => {
            let mut said = format!("{} {reading}", text(value, "way"));
            for (member, word) in [
                ("from", " from "),
                ("to", " to "),
                ("within", " within "),
                ("rate", " at "),
                ("to_rate", " to "),
            ] {
                if value.get(member).is_some() {
                    said.push_str(word);
                    said.push_str(&m(member));
                }
            }
            said
        }
    }
}

pub(super) fn end(value: &Value) -> String {
    let m = |member: &str| measured(value.get(member));
    let said = match text(value, "kind") {
        "reached" => "ends when it is reached".to_owned(),
        "lasts" => format!("lasts {}", m("duration")),
        "after" => format!("ends {} after {}", m("after"), text(value, "mark")),
        "at-mark" => format!("ends at {}", text(value, "mark")),
        _ => format!(
            "ends when {}",
            value.get("condition").map(condition).unwrap_or_default()
        ),
    };
    let mut said = said;
    if let Some(plan) = value.get("plan") {
        said.push_str(&format!(", plan for {}", measured(plan.get("first"))));
        if let Some(last) = plan.get("last") {
            said.push_str(&format!(" to {}", measured(Some(last))));
        }
    }
    for (member, word) in [("at_least", ", at least "), ("at_most", ", at most ")] {
        if value.get(member).is_some() {
            said.push_str(word);
            said.push_str(&m(member));
        }
    }
    said
}

pub(super) fn due(value: &Value) -> String {
    let of = match text(value, "of") {
        "" => String::new(),
        mark => format!(" of {mark}"),
    };
    format!("due within {}{of}", measured(value.get("within")))
}

pub(super) fn moves(value: &Value) -> String {
    format!(
        "target moves every {} in steps of {}",
        measured(value.get("every")),
        measured(value.get("steps_of"))
    )
}

pub(super) fn when(value: &Value) -> String {
    let m = |member: &str| measured(value.get(member));
    match text(value, "kind") {
        "every" => format!("every {}{}", m("interval"), during(value)),
        "at" => match value.get("after") {
            Some(_) => format!("at {} after {}", m("after"), text(value, "mark")),
            None => format!("at {}", text(value, "mark")),
        },
        _ => format!("at {} before {}.start", m("before"), text(value, "phase")),
    }
}

pub(super) fn dose_line(value: &Value) -> String {
    let mut said = format!("dose {}", measured(value.get("dose")));
    if value.get("route").is_some() {
        said.push(' ');
        said.push_str(text(value, "route"));
    }
    for (member, word) in [
        ("over", " over "),
        ("at_most", ", at most "),
        ("not_again_within", ", not again within "),
    ] {
        if value.get(member).is_some() {
            said.push_str(word);
            said.push_str(&measured(value.get(member)));
        }
    }
    for (index, band) in list(value, "when_weight").iter().enumerate() {
        said.push_str(if index == 0 { " when" } else { " and" });
        said.push_str(&format!(
            " weight {} {}",
            words(band.get("is").unwrap_or(&Value::Null)),
            measured(band.get("weight"))
        ));
    }
    said
}

pub(super) fn infusion(value: &Value) -> String {
    let mut said = format!("infuse {}", measured(value.get("first")));
    for (member, word) in [
        ("top", " to "),
        ("step", ", steps of "),
        ("step_every", " every "),
        ("for_at_most", ", for at most "),
    ] {
        if value.get(member).is_some() {
            said.push_str(word);
            said.push_str(&measured(value.get(member)));
        }
    }
    said
}

pub(super) fn ceiling(value: &Value) -> String {
    format!(
        "ceiling {} per {}",
        measured(value.get("dose")),
        measured(value.get("per"))
    )
}

pub(super) fn reading_kind(value: &Value) -> String {
    let of = match text(value, "of") {
        "" => String::new(),
        of => format!(" of {of}"),
    };
    match text(value, "kind") {
        "body" => format!("temperature at {}", text(value, "site")),
        "medium" => format!("temperature{of}"),
        "score" => format!(
            "score{of} {} to {}",
            measured(value.get("low")),
            measured(value.get("high"))
        ),
        "amount" => match text(value, "unit") {
            "" => format!("amount{of}"),
            unit => format!("amount{of} in {unit}"),
        },
        "choice" => format!("choice{of} {}", names(list(value, "words"))),
        _ => plain(value),
    }
}

/// Rung, step of a ladder: its values, then what is done.
pub(super) fn rung(value: &Value) -> String {
    let band = match value.get("band") {
        Some(band) if text(band, "kind") == "values" => {
            let (low, high) = (measured(band.get("low")), measured(band.get("high")));
            if low == high {
                format!("rung {low}")
            } else {
                format!("rung {low} to {high}")
            }
        }
        Some(band) => format!(
            "rung {} {}",
            words(band.get("is").unwrap_or(&Value::Null)),
            measured(band.get("level"))
        ),
        None => "step".to_owned(),
    };
    let mut said: Vec<String> = list(value, "orders").iter().map(line).collect();
    if value.get("recheck").is_some() {
        said.push(format!("recheck in {}", measured(value.get("recheck"))));
    }
    format!(
        "{band} {}: {}",
        quoted(text(value, "title")),
        said.join("; ")
    )
}

pub(super) fn check_step(value: &Value) -> String {
    let mut said = quoted(text(value, "text"));
    if let Some(field) = value.get("record") {
        said.push_str(&format!(", record {}", text(field, "name")));
        if !text(field, "unit").is_empty() {
            said.push_str(&format!(" in {}", text(field, "unit")));
        }
    }
    if value.get("two_people") == Some(&Value::Bool(true)) {
        said.push_str(", two people");
    }
    said + &covers(value)
}

pub(super) fn measure(value: &Value) -> String {
    let what = value.get("what").unwrap_or(&Value::Null);
    let said = match text(what, "kind") {
        "area" => format!(
            "area of {} {} {}",
            text(what, "reading"),
            text(what, "side"),
            measured(what.get("level"))
        ),
        kind => format!(
            "{kind} of time when {}",
            what.get("condition").map(condition).unwrap_or_default()
        ),
    };
    let goal = value
        .get("goal")
        .map(|goal| format!(", goal {}", self::goal(goal)))
        .unwrap_or_default();
    said + &during(value) + &goal
}

/// What a measure is meant to come to.
pub(super) fn goal(value: &Value) -> String {
    format!(
        "{} {}",
        text(value, "kind").replace('-', " "),
        measured(value.get("value"))
    )
}

/// Why a statement says what it says.
pub(super) fn why(value: &Value) -> String {
    let mut said = Vec::new();
    if !list(value, "sources").is_empty() {
        said.push(format!("source {}", names(list(value, "sources"))));
    }
    if value.get("because").is_some() {
        said.push(format!("because {}", quoted(text(value, "because"))));
    }
    said.join(" ")
}

/// Member by member.
pub(super) fn plain(value: &Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::Bool(true) => "yes".to_owned(),
        Value::Bool(false) => "no".to_owned(),
        Value::Number(number) => number.to_string(),
        Value::String(text) => text.clone(),
        Value::Array(items) => items.iter().map(plain).collect::<Vec<_>>().join(", "),
        Value::Object(members) if is_measured(members) => measured(Some(value)),
        Value::Object(members) => members
            .iter()
            .map(|(name, member)| format!("{} {}", name.replace('_', " "), plain(member)))
            .collect::<Vec<_>>()
            .join(", "),
    }
}

pub(super) fn is_measured(members: &Map<String, Value>) -> bool {
    members.contains_key("value") && members.contains_key("written")
}
