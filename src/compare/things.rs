//! The named things of a protocol, member by member.

use super::acting::rule_named;
use super::acts::Side;
use super::change::{Area, Change, Kind, Step, Verdict};
use super::pairs::{Pair, pairs};
use super::say::{self, list, text};
use super::walk::{Slot, Thing, Walk, only_care};
use serde_json::Value;

/// A sort of named thing.
struct Sort {
    member: &'static str,
    word: &'static str,
    area: Area,
    step: Step,
    /// The whole of one, for what was added or removed.
    whole: fn(&Value) -> String,
    /// Of one that was added, and of one that was removed.
    verdicts: (Verdict, Verdict),
}

const SORTS: &[Sort] = &[
    Sort {
        member: "phases",
        word: "phase",
        area: Area::Phases,
        step: Step::Major,
        whole: whole_phase,
        verdicts: (Verdict::Different, Verdict::Different),
    },
    Sort {
        member: "medications",
        word: "medication",
        area: Area::Medications,
        step: Step::Major,
        whole: whole_medication,
        verdicts: (Verdict::Different, Verdict::Different),
    },
    Sort {
        member: "rules",
        word: "rule",
        area: Area::Rules,
        step: Step::Major,
        whole: whole_rule,
        verdicts: (Verdict::Different, Verdict::Different),
    },
    Sort {
        member: "ladders",
        word: "ladder",
        area: Area::Ladders,
        step: Step::Major,
        whole: whole_ladder,
        verdicts: (Verdict::Different, Verdict::Different),
    },
    Sort {
        member: "readings",
        word: "reading",
        area: Area::Readings,
        step: Step::Major,
        whole: whole_reading,
        verdicts: (Verdict::Different, Verdict::Different),
    },
    Sort {
        member: "marks",
        word: "mark",
        area: Area::Marks,
        step: Step::Minor,
        whole: |one| say::quoted(text(one, "title")),
        verdicts: (Verdict::Different, Verdict::Different),
    },
    Sort {
        member: "people",
        word: "role",
        area: Area::People,
        step: Step::Minor,
        whole: whole_role,
        verdicts: (Verdict::Different, Verdict::Different),
    },
    Sort {
        member: "checklists",
        word: "checklist",
        area: Area::Checklists,
        step: Step::Minor,
        whole: whole_checklist,
        verdicts: (Verdict::Stricter, Verdict::Looser),
    },
    Sort {
        member: "measures",
        word: "measure",
        area: Area::Measures,
        step: Step::Minor,
        whole: say::measure,
        verdicts: (Verdict::Different, Verdict::Different),
    },
    Sort {
        member: "citations",
        word: "cite",
        area: Area::Sources,
        step: Step::Patch,
        whole: |one| say::quoted(text(one, "text")),
        verdicts: (Verdict::SameMeaning, Verdict::SameMeaning),
    },
    Sort {
        member: "lets",
        word: "let",
        area: Area::Names,
        step: Step::Patch,
        whole: |one| text(one, "written").replace(' ', "\u{a0}"),
        verdicts: (Verdict::Different, Verdict::Different),
    },
];

impl Walk<'_, '_> {
    pub fn things(&mut self, old: &Value, new: &Value) {
        for sort in SORTS {
            let (olds, news) = (list(old, sort.member), list(new, sort.member));
            let found = pairs(olds, news, |one| text(one, "name").to_owned(), |_, _| 0);
            for pair in &found {
                match *pair {
                    Pair::Old(o) => {
                        if let Some(one) = olds.get(o) {
                            self.lone(sort, Side::Old, one);
                        }
                    }
                    Pair::New(n) => {
                        if let Some(one) = news.get(n) {
                            self.lone(sort, Side::New, one);
                        }
                    }
                    Pair::Both(o, n) => {
                        if let (Some(a), Some(b)) = (olds.get(o), news.get(n)) {
                            self.both(sort, a, b);
                        }
                    }
                }
            }
            if sort.member == "phases" {
                let thing = Thing {
                    area: Area::Phases,
                    about: "phases",
                    step: Step::Major,
                    old,
                    new,
                };
                self.order_of(thing, "phases", &found, news, |one| {
                    text(one, "name").to_owned()
                });
            }
        }
    }

    fn lone(&mut self, sort: &Sort, side: Side, one: &Value) {
        let name = text(one, "name");
        let said = Some((sort.whole)(one));
        let kind = match side {
            Side::Old => Kind::Removed,
            Side::New => Kind::Added,
        };
        let mut change =
            Change::new(sort.area, kind, format!("{} `{name}`", sort.word)).step(sort.step);
        change.verdict = match side {
            Side::New => sort.verdicts.0,
            Side::Old => sort.verdicts.1,
        };
        change = match side {
            Side::Old => change.between(said, None),
            Side::New => change.between(None, said),
        };
        if sort.member == "rules" {
            let protocol = match side {
                Side::Old => self.sides.old,
                Side::New => self.sides.new,
            };
            if only_care(one) {
                change.verdict = match side {
                    Side::New => Verdict::Stricter,
                    Side::Old => Verdict::Looser,
                };
            }
            if let Some(rule) = rule_named(protocol, name) {
                change.case = self.sides.alone(side, rule);
            }
        }
        if matches!(sort.member, "citations") {
            change = change.wording();
        }
        if sort.member == "lets" {
            change = change
                .wording()
                .consequence("a name for a value; what changes by it is told where it is used");
        }
        self.changes.push(change);
    }

    fn both(&mut self, sort: &Sort, old: &Value, new: &Value) {
        if old == new {
            return;
        }
        let about = format!("{} `{}`", sort.word, text(new, "name"));
        let thing = Thing {
            area: sort.area,
            about: &about,
            step: sort.step,
            old,
            new,
        };
        if sort.member != "citations" {
            self.words(
                sort.area,
                &about,
                "title",
                text(old, "title"),
                text(new, "title"),
            );
        }
        match sort.member {
            "phases" => self.phase(thing),
            "rules" => self.rule(thing),
            "ladders" => self.ladder(thing),
            "medications" => self.medication(thing),
            "readings" => self.reading(thing),
            "people" => self.slot(
                thing,
                &Slot::new("no_reply", "no reply", "no-reply", no_reply),
            ),
            "checklists" => self.checklist(thing),
            "measures" => {
                self.slot(
                    thing,
                    &Slot::new("what", "what is measured", "", say::plain),
                );
                self.slot(thing, &Slot::new("during", "phases", "", say::plain));
                self.slot(thing, &Slot::new("goal", "goal", "", say::goal));
            }
            "citations" => self.words(
                sort.area,
                &about,
                "citation",
                text(old, "text"),
                text(new, "text"),
            ),
            "lets" => {
                let (a, b) = (text(old, "written"), text(new, "written"));
                if a != b {
                    self.changes.push(
                        Change::new(sort.area, Kind::Changed, &about)
                            .between(
                                Some(a.replace(' ', "\u{a0}")),
                                Some(b.replace(' ', "\u{a0}")),
                            )
                            .consequence(
                                "a name for a value; what changes by it is told where it is used",
                            )
                            .wording(),
                    );
                }
            }
            _ => {}
        }
        self.rest(sort.area, &about, old, new);
    }
}

fn no_reply(one: &Value) -> String {
    format!(
        "if no reply in {} then {}",
        say::measured(one.get("within")),
        text(one, "then")
    )
}

fn whole_phase(one: &Value) -> String {
    let mut said = vec![one.get("aim").map(say::aim).unwrap_or_default()];
    if one.get("never_faster").is_some() {
        said.push(format!(
            "never faster than {}",
            say::measured(one.get("never_faster"))
        ));
    }
    said.extend(one.get("due").map(say::due));
    said.extend(one.get("end").map(say::end));
    said.join("; ")
}

fn whole_rule(one: &Value) -> String {
    let orders: Vec<String> = list(one, "then").iter().map(say::line).collect();
    let mut said = format!(
        "when {}{} then {}",
        one.get("when").map(say::condition).unwrap_or_default(),
        say::during(one),
        orders.join("; ")
    );
    if one.get("again_after").is_some() {
        said.push_str(&format!(
            "; again after {}",
            say::measured(one.get("again_after"))
        ));
    }
    if !list(one, "overrides").is_empty() {
        said.push_str(&format!(
            "; overrides {}",
            say::names(list(one, "overrides"))
        ));
    }
    said
}

fn whole_ladder(one: &Value) -> String {
    let steps: Vec<String> = list(one, "rungs")
        .iter()
        .chain(list(one, "steps"))
        .map(say::rung)
        .collect();
    format!("on {}: {}", text(one, "reading"), steps.join(" → "))
}

fn whole_medication(one: &Value) -> String {
    let mut said: Vec<String> = list(one, "doses").iter().map(say::dose_line).collect();
    said.extend(one.get("infusion").map(say::infusion));
    said.extend(one.get("ceiling").map(say::ceiling));
    if said.is_empty() {
        say::quoted(text(one, "title"))
    } else {
        said.join("; ")
    }
}

fn whole_reading(one: &Value) -> String {
    format!(
        "{} {}",
        say::quoted(text(one, "title")),
        one.get("what").map(say::reading_kind).unwrap_or_default()
    )
}

fn whole_role(one: &Value) -> String {
    let mut said = say::quoted(text(one, "title"));
    if let Some(reply) = one.get("no_reply") {
        said.push(' ');
        said.push_str(&no_reply(reply));
    }
    said
}

fn whole_checklist(one: &Value) -> String {
    let steps: Vec<String> = list(one, "steps").iter().map(say::check_step).collect();
    format!("at {}: {}", text(one, "at"), steps.join(" → "))
}
