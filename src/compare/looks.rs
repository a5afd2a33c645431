//! What is looked at, done and given at set times.
//!
//! Looks have no names: each goes by what it asks for or orders, one reading at a
//! time, so that two readings in one statement or in two are the same. Of two
//! versions the one that asks at shorter intervals, in every phase, is stricter.

use super::change::{Area, Change, Kind, Step, Verdict};
use super::pairs::{Pair, pairs};
use super::say::{self, list, text};
use super::tending::alike_texts;
use super::walk::Walk;
use super::weigh::{Texts, bare, exact, texts};
use crate::quantity::Exact;
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// All looks for one thing.
struct Look {
    key: String,
    /// `record core`, `do “…”`.
    said: String,
    /// Free text that instructs, if that is what it is.
    text: Option<String>,
    /// Each time with what follows it; sorted.
    times: Vec<Time>,
    whole: Vec<Value>,
}

#[derive(Clone, PartialEq, Eq)]
struct Time {
    when: Value,
    /// `then follow LADDER`, what it covers.
    with: String,
    said: String,
}

impl Walk<'_, '_> {
    pub fn looks(&mut self, old: &Value, new: &Value) {
        let phases: Vec<&str> = list(new, "phases")
            .iter()
            .map(|phase| text(phase, "name"))
            .collect();
        let (olds, news) = (looks(old), looks(new));
        let as_values = |looks: &[Look]| -> Vec<Value> {
            looks
                .iter()
                .map(|look| json!({ "key": look.key, "text": look.text }))
                .collect()
        };
        let found = pairs(
            &as_values(&olds),
            &as_values(&news),
            |one| text(one, "key").to_owned(),
            |a, b| {
                if a.get("text").is_some_and(Value::is_string)
                    && b.get("text").is_some_and(Value::is_string)
                {
                    alike_texts(text(a, "text"), text(b, "text"))
                } else {
                    0
                }
            },
        );
        for pair in found {
            match pair {
                Pair::Old(o) => {
                    if let Some(look) = olds.get(o) {
                        self.lone_look(look, Kind::Removed);
                    }
                }
                Pair::New(n) => {
                    if let Some(look) = news.get(n) {
                        self.lone_look(look, Kind::Added);
                    }
                }
                Pair::Both(o, n) => {
                    if let (Some(a), Some(b)) = (olds.get(o), news.get(n)) {
                        self.look(a, b, &phases);
                    }
                }
            }
        }
    }

    fn lone_look(&mut self, look: &Look, kind: Kind) {
        let said = Some(times_said(&look.times, &look.said));
        let gives = look.key.starts_with("give ") || look.key.starts_with("order ");
        let verdict = match (gives, kind) {
            (true, _) => Verdict::Different,
            (false, Kind::Added) => Verdict::Stricter,
            (false, _) => Verdict::Looser,
        };
        let change = Change::new(Area::Looks, kind, format!("look `{}`", look.key))
            .verdict(verdict)
            .step(if gives { Step::Major } else { Step::Minor });
        self.changes.push(match kind {
            Kind::Added => change.between(None, said),
            _ => change.between(said, None),
        });
    }

    fn look(&mut self, old: &Look, new: &Look, phases: &[&str]) {
        let about = format!("look `{}`", new.key);
        let gives = new.key.starts_with("give ") || new.key.starts_with("order ");
        let step = if gives { Step::Major } else { Step::Minor };
        if let (Some(a), Some(b)) = (&old.text, &new.text)
            && texts(a, b) != Texts::Same
        {
            self.instruction(Area::Looks, ("look", "instruction"), (a, b), step);
        }
        let plain = |look: &Look| -> Vec<(String, String)> {
            look.times
                .iter()
                .map(|time| (bare(&time.when).to_string(), time.with.clone()))
                .collect()
        };
        if plain(old) != plain(new) {
            let mut verdict = if gives {
                Verdict::Different
            } else {
                intervals(old, new, phases)
            };
            let withs = |look: &Look| -> Vec<String> {
                let mut withs: Vec<String> =
                    look.times.iter().map(|time| time.with.clone()).collect();
                withs.sort();
                withs.dedup();
                withs
            };
            if withs(old) != withs(new) {
                verdict = Verdict::Different;
            }
            self.changes.push(
                Change::new(Area::Looks, Kind::Changed, &about)
                    .of("times")
                    .between(
                        Some(times_said(&old.times, "")),
                        Some(times_said(&new.times, "")),
                    )
                    .verdict(verdict)
                    .consequence(seldom(old, new, phases))
                    .step(step),
            );
        }
        // Several statements make one look; which of them gives which reason is told as one.
        let both = |look: &Look| Value::Array(look.whole.clone());
        self.rest(Area::Looks, &about, &both(old), &both(new));
    }
}

fn times_said(times: &[Time], what: &str) -> String {
    let said: Vec<String> = times
        .iter()
        .map(|time| {
            let what = if what.is_empty() {
                String::new()
            } else {
                format!(" {what}")
            };
            format!("{}{what}{}", time.said, time.with)
        })
        .collect();
    said.join("; ")
}

fn looks(meaning: &Value) -> Vec<Look> {
    let mut found: BTreeMap<String, Look> = BTreeMap::new();
    let mut order: Vec<String> = Vec::new();
    for look in list(meaning, "looks") {
        let (Some(when), Some(what)) = (look.get("when"), look.get("what")) else {
            continue;
        };
        let mut one = |key: String, said: String, words: Option<String>, with: String| {
            let entry = found.entry(key.clone()).or_insert_with(|| {
                order.push(key.clone());
                Look {
                    key,
                    said,
                    text: words,
                    times: Vec::new(),
                    whole: Vec::new(),
                }
            });
            entry.times.push(Time {
                when: when_sorted(when),
                with,
                said: say::when(when),
            });
            entry.whole.push(look.clone());
        };
        match text(what, "kind") {
            "ask" => {
                let with = match text(what, "then_follow") {
                    "" => String::new(),
                    ladder => format!(" then follow {ladder}"),
                };
                for reading in list(what, "readings") {
                    let said = format!(
                        "{} {}",
                        text(what, "way"),
                        reading.as_str().unwrap_or_default()
                    );
                    one(said.clone(), said, None, with.clone());
                }
            }
            "do" => {
                let words = text(what, "text").to_owned();
                let said = format!("do {}", say::quoted(&words));
                one(said.clone(), said, Some(words), say::covers(what));
            }
            "give" => {
                let said = format!("give {}", text(what, "medication"));
                one(said.clone(), said, None, String::new());
            }
            _ => {
                let line = what.get("line").unwrap_or(&Value::Null);
                let order = line.get("order").unwrap_or(&Value::Null);
                let said = say::line(line);
                if text(order, "kind") == "do" {
                    let words = text(order, "text").to_owned();
                    let said = format!("do {}", say::quoted(&words));
                    one(said.clone(), said, Some(words), say::covers(order));
                } else {
                    one(format!("order {said}"), said, None, String::new());
                }
            }
        }
    }
    let mut looks: Vec<Look> = order.iter().filter_map(|key| found.remove(key)).collect();
    for look in &mut looks {
        look.times
            .sort_by_key(|time| (bare(&time.when).to_string(), time.with.clone()));
    }
    looks
}

/// The phases of a look have no order.
fn when_sorted(when: &Value) -> Value {
    let mut when = when.clone();
    if let Some(Value::Array(phases)) = when.get_mut("during") {
        phases.sort_by_key(ToString::to_string);
    }
    when
}

/// The shortest `every` in a phase, in minutes.
fn interval(look: &Look, phase: &str) -> Option<Exact> {
    look.times
        .iter()
        .filter(|time| text(&time.when, "kind") == "every")
        .filter(|time| {
            let during = list(&time.when, "during");
            during.is_empty() || during.iter().any(|name| name.as_str() == Some(phase))
        })
        .filter_map(|time| exact(time.when.get("interval")?))
        .min()
}

/// By the interval in force in each phase.
fn intervals(old: &Look, new: &Look, phases: &[&str]) -> Verdict {
    let others = |look: &Look| -> Vec<String> {
        look.times
            .iter()
            .filter(|time| text(&time.when, "kind") != "every")
            .map(|time| bare(&time.when).to_string())
            .collect()
    };
    let mut verdict = if others(old) == others(new) {
        Verdict::SameMeaning
    } else {
        let (before, after) = (others(old), others(new));
        if before.iter().all(|one| after.contains(one)) {
            Verdict::Stricter
        } else if after.iter().all(|one| before.contains(one)) {
            Verdict::Looser
        } else {
            Verdict::Different
        }
    };
    for phase in phases {
        verdict = verdict.and(match (interval(old, phase), interval(new, phase)) {
            (None, None) => Verdict::SameMeaning,
            (None, Some(_)) => Verdict::Stricter,
            (Some(_), None) => Verdict::Looser,
            (Some(a), Some(b)) if b < a => Verdict::Stricter,
            (Some(a), Some(b)) if a < b => Verdict::Looser,
            _ => Verdict::SameMeaning,
        });
    }
    // Equal intervals that begin anew at other moments are not the same times.
    if verdict == Verdict::SameMeaning {
        Verdict::Different
    } else {
        verdict
    }
}

fn seldom(old: &Look, new: &Look, phases: &[&str]) -> String {
    let words = |at: Option<Exact>| {
        at.map_or("not".to_owned(), |at| {
            format!("every {}", crate::words::minutes(at))
        })
    };
    // Phases in which the same happens are told together.
    let mut told: Vec<(String, Vec<String>)> = Vec::new();
    for phase in phases {
        let (a, b) = (interval(old, phase), interval(new, phase));
        if a == b {
            continue;
        }
        let what = format!("{} → {}", words(a), words(b));
        let name = format!("`{phase}`");
        match told.iter_mut().find(|(known, _)| *known == what) {
            Some((_, names)) => names.push(name),
            None => told.push((what, vec![name])),
        }
    }
    let said: Vec<String> = told
        .iter()
        .map(|(what, names)| format!("in {} {what}", names.join(", ")))
        .collect();
    if said.is_empty() {
        "the same intervals, counted from other moments".to_owned()
    } else {
        said.join("; ")
    }
}
