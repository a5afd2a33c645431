//! The named things of a protocol, member by member.

use super::acts::{Acts, Side, Watched};
use super::change::{Area, Change, Kind, Step, Verdict};
use super::pairs::{Pair, pairs, texts_alike};
use super::say::{self, list, text};
use super::walk::{Slot, Thing, Walk, only_care};
use super::weigh::{Tighter, bare, number, weigh};
use crate::model::{Cond, End, EndTrigger, Protocol, RuleId};
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

    fn phase(&mut self, thing: Thing<'_>) {
        for slot in [
            Slot::new("aim", "aim", "phase", say::aim),
            Slot::new("never_faster", "cap", "phase", |one| {
                format!("never faster than {}", say::measured(Some(one)))
            }),
            Slot::new("at_least", "slowest rate", "phase", |one| {
                format!("at least {}", say::measured(Some(one)))
            }),
            Slot::new("due", "due time", "due", say::due),
            Slot::new("moves", "moves of the target", "", say::moves),
            Slot::new("by", "means", "", |one| format!("by {}", say::plain(one))),
        ] {
            self.slot(thing, &slot);
        }
        self.phase_end(thing);
    }

    fn phase_end(&mut self, thing: Thing<'_>) {
        let (Some(old), Some(new)) = (thing.old.get("end"), thing.new.get("end")) else {
            return;
        };
        if bare(old) == bare(new) {
            return;
        }
        let keeps = [thing.old, thing.new]
            .iter()
            .all(|phase| phase.get("aim").map_or("", |aim| text(aim, "kind")) == "keep");
        let mut verdict = weigh(thing.area, "end", "", Some(old), Some(new));
        let mut consequence = String::new();
        // A range that is guarded for longer is guarded all the time that it was.
        let member = match (text(old, "kind"), text(new, "kind")) {
            ("lasts", "lasts") => "duration",
            ("after", "after") if text(old, "mark") == text(new, "mark") => "after",
            _ => "",
        };
        if let (true, Some(a), Some(b)) = (keeps, old.get(member), new.get(member)) {
            verdict = number(a, b, Tighter::High);
        }
        if let (Some(a), Some(b)) = (old.get("condition"), new.get("condition"))
            && bare(a) != bare(b)
            && let Some(acts) = self.ends(text(thing.new, "name"))
        {
            verdict = Verdict::Different;
            consequence = match (acts.undecided, acts.more, acts.fewer) {
                (false, true, false) => "it can end sooner, and never later",
                (false, false, true) => "it can end later, and never sooner",
                (false, false, false) => "it ends on the same records",
                _ => "it can end sooner on some records and later on others",
            }
            .to_owned();
        }
        self.changes.push(
            Change::new(thing.area, Kind::Changed, thing.about)
                .of("end")
                .between(Some(say::end(old)), Some(say::end(new)))
                .verdict(verdict)
                .consequence(consequence)
                .step(thing.step),
        );
    }

    /// The conditions with which the phase ends in both versions.
    fn ends(&self, name: &str) -> Option<Acts> {
        let cond = |protocol: &'_ Protocol| -> Option<(Cond, crate::model::PhaseId)> {
            let (id, phase) = protocol
                .phases()
                .find(|(_, phase)| phase.name.name == name)?;
            match &phase.end {
                End::Awaited {
                    trigger: EndTrigger::When(cond),
                    ..
                } => Some((cond.clone(), id)),
                _ => None,
            }
        };
        let (old, old_id) = cond(self.sides.old)?;
        let (new, new_id) = cond(self.sides.new)?;
        let here = |id| vec![crate::model::At::new(id, crate::source::Span::default())];
        let (old_during, new_during) = (here(old_id), here(new_id));
        Some(self.sides.conditions(
            Watched {
                cond: &old,
                during: &old_during,
            },
            Watched {
                cond: &new,
                during: &new_during,
            },
            None,
        ))
    }

    fn rule(&mut self, thing: Thing<'_>) {
        let name = text(thing.new, "name");
        let said = |rule: &Value| {
            let when = rule.get("when").map(say::condition).unwrap_or_default();
            format!("when {when}{}", say::during(rule))
        };
        let differs =
            |member: &str| thing.old.get(member).map(sorted) != thing.new.get(member).map(sorted);
        if differs("when") || differs("during") {
            let mut change = Change::new(thing.area, Kind::Changed, thing.about)
                .of("condition")
                .between(Some(said(thing.old)), Some(said(thing.new)))
                .step(thing.step);
            if let (Some(old), Some(new)) = (
                rule_named(self.sides.old, name),
                rule_named(self.sides.new, name),
            ) {
                let acts = self.sides.rules(old, new);
                change.verdict = acts.verdict();
                change.consequence = acts.words().to_owned();
                if acts.not_shown {
                    change.consequence.push_str(
                        "; on the records tried, other rules make both versions do the same",
                    );
                }
                change.case = acts.case;
                // A number that changed is told as a change, whatever can be recorded.
                if change.verdict == Verdict::SameMeaning {
                    if numbers(thing.old.get("when")) == numbers(thing.new.get("when")) {
                        change = change.wording();
                    } else {
                        change.verdict = Verdict::Different;
                    }
                }
            }
            self.changes.push(change);
        }
        self.orders(thing, list(thing.old, "then"), list(thing.new, "then"));
        self.ready_again(thing, name);
        self.slot(
            thing,
            &Slot::new("again_after", "not again within", "", |one| {
                format!("again after {}", say::measured(Some(one)))
            }),
        );
        self.set(
            thing,
            ("overrides", "overridden rule"),
            |one| format!("overrides {}", say::plain(one)),
            (Verdict::Different, Verdict::Different),
        );
    }

    fn ready_again(&mut self, thing: Thing<'_>, name: &str) {
        let (old, new) = (thing.old.get("ready_again"), thing.new.get("ready_again"));
        if old.map(bare) == new.map(bare) {
            return;
        }
        let mut change = Change::new(thing.area, Kind::Changed, thing.about)
            .of("ready again")
            .between(
                old.map(|one| format!("ready again when {}", say::condition(one))),
                new.map(|one| format!("ready again when {}", say::condition(one))),
            )
            .step(thing.step);
        if let (Some(old), Some(new)) = (
            rule_named(self.sides.old, name),
            rule_named(self.sides.new, name),
        ) {
            let (old, new) = (&self.sides.old[old], &self.sides.new[new]);
            if let (Some(a), Some(b)) = (&old.ready_again, &new.ready_again) {
                let acts = self.sides.conditions(
                    Watched {
                        cond: a,
                        during: &old.during,
                    },
                    Watched {
                        cond: b,
                        during: &new.during,
                    },
                    None,
                );
                change.verdict = match acts.verdict() {
                    Verdict::SameMeaning => Verdict::Different,
                    verdict => verdict,
                };
                change.consequence = match acts.verdict() {
                    Verdict::Stricter => "it is ready to speak again sooner, and never later",
                    Verdict::Looser => "it is ready to speak again later, and never sooner",
                    _ => "",
                }
                .to_owned();
            }
        }
        self.changes.push(change);
    }

    fn ladder(&mut self, thing: Thing<'_>) {
        self.slot(thing, &Slot::new("reading", "reading", "", say::plain));
        self.slot(
            thing,
            &Slot::new("goal", "goal", "", |one| match text(one, "kind") {
                "is" => format!("until is {}", text(one, "word")),
                _ => format!(
                    "until {} {}",
                    text(one, "is").replace('-', " "),
                    say::measured(one.get("level"))
                ),
            }),
        );
        for (member, word) in [("rungs", "rung"), ("steps", "step")] {
            let (olds, news) = (list(thing.old, member), list(thing.new, member));
            let found = pairs(
                olds,
                news,
                |one| text(one, "title").to_owned(),
                |a, b| {
                    let alike = texts_alike(&say::rung(a), &say::rung(b));
                    if a.get("band").is_some() && a.get("band").map(bare) == b.get("band").map(bare)
                    {
                        alike.max(60)
                    } else {
                        alike
                    }
                },
            );
            for pair in &found {
                match *pair {
                    Pair::Old(o) => self.changes.push(
                        Change::new(thing.area, Kind::Removed, thing.about)
                            .of(word)
                            .between(olds.get(o).map(say::rung), None)
                            .step(thing.step),
                    ),
                    Pair::New(n) => self.changes.push(
                        Change::new(thing.area, Kind::Added, thing.about)
                            .of(word)
                            .between(None, news.get(n).map(say::rung))
                            .step(thing.step),
                    ),
                    Pair::Both(o, n) => {
                        let (Some(old), Some(new)) = (olds.get(o), news.get(n)) else {
                            continue;
                        };
                        let about = format!(
                            "{}, {word} {}",
                            thing.about,
                            say::quoted(text(new, "title"))
                        );
                        let inner = Thing {
                            about: &about,
                            old,
                            new,
                            ..thing
                        };
                        self.words(
                            thing.area,
                            &about,
                            "title",
                            text(old, "title"),
                            text(new, "title"),
                        );
                        self.slot(
                            inner,
                            &Slot::new("band", "values", "", |one| match text(one, "kind") {
                                "values" => say::range(one),
                                _ => format!(
                                    "{} {}",
                                    text(one, "is").replace('-', " "),
                                    say::measured(one.get("level"))
                                ),
                            }),
                        );
                        self.orders(inner, list(old, "orders"), list(new, "orders"));
                        self.slot(
                            inner,
                            &Slot::new("recheck", "recheck", "", |one| {
                                format!("recheck in {}", say::measured(Some(one)))
                            }),
                        );
                    }
                }
            }
            if member == "steps" {
                self.order_of(thing, "steps", &found, news, |one| {
                    say::quoted(text(one, "title"))
                });
            }
        }
    }

    fn medication(&mut self, thing: Thing<'_>) {
        for slot in [
            Slot::new("class", "class", "", |one| {
                format!("class {}", say::plain(one))
            }),
            Slot::new("infusion", "infusion", "infusion", say::infusion),
            Slot::new("concentration", "concentration", "", |one| {
                format!("concentration {}", say::measured(Some(one)))
            }),
            Slot::new("rounded_to", "rounding", "", |one| {
                format!("rounded to {}", say::measured(Some(one)))
            }),
            Slot::new("ceiling", "ceiling", "ceiling", say::ceiling),
        ] {
            self.slot(thing, &slot);
        }
        let band = |line: &Value| {
            let mut tests: Vec<String> = list(line, "when_weight")
                .iter()
                .map(|one| bare(one).to_string())
                .collect();
            tests.sort();
            tests.join(" ")
        };
        let (olds, news) = (list(thing.old, "doses"), list(thing.new, "doses"));
        let likeness = |a: &Value, b: &Value| texts_alike(&say::dose_line(a), &say::dose_line(b));
        for pair in pairs(olds, news, band, likeness) {
            let (old, new) = match pair {
                Pair::Both(o, n) => (olds.get(o), news.get(n)),
                Pair::Old(o) => (olds.get(o), None),
                Pair::New(n) => (None, news.get(n)),
            };
            if old.map(bare) == new.map(bare) {
                continue;
            }
            let kind = match (old, new) {
                (None, _) => Kind::Added,
                (_, None) => Kind::Removed,
                _ => Kind::Changed,
            };
            self.changes.push(
                Change::new(thing.area, kind, thing.about)
                    .of("dose")
                    .between(old.map(say::dose_line), new.map(say::dose_line))
                    .verdict(weigh(thing.area, "doses", "dose", old, new))
                    .step(thing.step),
            );
        }
        self.set(
            thing,
            ("only_with", "only with"),
            |one| format!("only with {}", say::plain(one)),
            (Verdict::Different, Verdict::Different),
        );
        self.texts(
            thing,
            ("avoid", "when to avoid it"),
            (Verdict::Stricter, Verdict::Looser),
        );
    }

    fn reading(&mut self, thing: Thing<'_>) {
        for slot in [
            Slot::new("what", "kind", "", say::reading_kind),
            Slot::new("continuous", "continuous", "", say::plain),
            Slot::new("shown_to", "display step", "", |one| {
                format!("shown to {}", say::measured(Some(one)))
            }),
            Slot::new("accurate_to", "accuracy", "", |one| {
                format!("accurate to {}", say::measured(Some(one)))
            }),
            Slot::new("reads", "range read", "", say::range),
            Slot::new("good_for", "good for", "", |one| {
                format!("good for {}", say::measured(Some(one)))
            }),
        ] {
            self.slot(thing, &slot);
        }
    }

    fn checklist(&mut self, thing: Thing<'_>) {
        self.slot(
            thing,
            &Slot::new("at", "when", "", |one| format!("at {}", say::plain(one))),
        );
        let (olds, news) = (list(thing.old, "steps"), list(thing.new, "steps"));
        let found = pairs(
            olds,
            news,
            |one| text(one, "text").to_owned(),
            |a, b| alike_texts(text(a, "text"), text(b, "text")),
        );
        for pair in &found {
            match *pair {
                Pair::Old(o) => self.changes.push(
                    Change::new(thing.area, Kind::Removed, thing.about)
                        .of("step")
                        .between(olds.get(o).map(say::check_step), None)
                        .verdict(Verdict::Looser)
                        .step(thing.step),
                ),
                Pair::New(n) => self.changes.push(
                    Change::new(thing.area, Kind::Added, thing.about)
                        .of("step")
                        .between(None, news.get(n).map(say::check_step))
                        .verdict(Verdict::Stricter)
                        .step(thing.step),
                ),
                Pair::Both(o, n) => {
                    let (Some(old), Some(new)) = (olds.get(o), news.get(n)) else {
                        continue;
                    };
                    let texts = (text(old, "text"), text(new, "text"));
                    self.instruction(thing.area, (thing.about, "step"), texts, thing.step);
                    let rest = |step: &Value| {
                        let mut step = bare(step);
                        if let Value::Object(members) = &mut step {
                            members.remove("text");
                        }
                        step
                    };
                    if rest(old) != rest(new) {
                        self.changes.push(
                            Change::new(thing.area, Kind::Changed, thing.about)
                                .of("step")
                                .between(Some(say::check_step(old)), Some(say::check_step(new)))
                                .step(thing.step),
                        );
                    }
                }
            }
        }
        self.order_of(thing, "steps", &found, news, |one| {
            say::quoted(text(one, "text"))
        });
    }

    /// A list of texts, each with its reason.
    pub fn texts(
        &mut self,
        thing: Thing<'_>,
        (member, what): (&str, &str),
        verdicts: (Verdict, Verdict),
    ) {
        let (olds, news) = (list(thing.old, member), list(thing.new, member));
        let found = pairs(
            olds,
            news,
            |one| text(one, "text").to_owned(),
            |a, b| alike_texts(text(a, "text"), text(b, "text")),
        );
        for pair in found {
            match pair {
                Pair::Old(o) => self.changes.push(
                    Change::new(thing.area, Kind::Removed, thing.about)
                        .of(what)
                        .between(olds.get(o).map(|one| say::quoted(text(one, "text"))), None)
                        .verdict(verdicts.1)
                        .step(thing.step),
                ),
                Pair::New(n) => self.changes.push(
                    Change::new(thing.area, Kind::Added, thing.about)
                        .of(what)
                        .between(None, news.get(n).map(|one| say::quoted(text(one, "text"))))
                        .verdict(verdicts.0)
                        .step(thing.step),
                ),
                Pair::Both(o, n) => {
                    if let (Some(a), Some(b)) = (olds.get(o), news.get(n)) {
                        let texts = (text(a, "text"), text(b, "text"));
                        self.instruction(thing.area, (thing.about, what), texts, thing.step);
                        if a.get("covers") != b.get("covers") {
                            self.changes.push(
                                Change::new(thing.area, Kind::Changed, thing.about)
                                    .of("what it covers")
                                    .between(Some(say::covers(a)), Some(say::covers(b)))
                                    .step(thing.step),
                            );
                        }
                    }
                }
            }
        }
    }
}

/// Spelling first, then shared words.
pub(super) fn alike_texts(old: &str, new: &str) -> usize {
    match super::weigh::texts(old, new) {
        super::weigh::Texts::Words => texts_alike(old, new),
        _ => 100,
    }
}

/// Unordered lists of names as sets.
fn sorted(value: &Value) -> Value {
    match bare(value) {
        Value::Array(mut items) => {
            items.sort_by_key(ToString::to_string);
            Value::Array(items)
        }
        other => other,
    }
}

/// Every number in it, whatever the order.
fn numbers(value: Option<&Value>) -> Vec<String> {
    fn collect(value: &Value, into: &mut Vec<String>) {
        match value {
            Value::Object(members) if say::is_measured(members) => into.push(value.to_string()),
            Value::Object(members) => members.values().for_each(|one| collect(one, into)),
            Value::Array(items) => items.iter().for_each(|one| collect(one, into)),
            _ => {}
        }
    }
    let mut found = Vec::new();
    if let Some(value) = value {
        collect(value, &mut found);
    }
    found.sort();
    found
}

fn rule_named(protocol: &Protocol, name: &str) -> Option<RuleId> {
    protocol
        .rules()
        .find(|(_, rule)| rule.name.name == name)
        .map(|(id, _)| id)
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
