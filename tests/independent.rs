//! The evaluator against another one, written in another language from
//! `grammar/MEANING.md` alone: on every scenario of every protocol, and on
//! protocols and records made at random, both must say the same.
//!
//! `TEMPWRIGHT_PAIRS=5000 cargo test --release --test independent` tries as many.

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

#[path = "independent/generate.rs"]
mod generate;
#[path = "support/python.rs"]
mod python;
mod support;

use generate::{Dice, Made};
use serde_json::{Value, json};
use std::collections::BTreeMap;
use support::{library, paths, protocol, try_load};
use tempwright::eval::{Aimed, Asked, Case, Entry, Event, Given, Run, What};
use tempwright::model::{self, MarkId, Protocol, ReadingId, ReadingKind};
use tempwright::quantity::Exact;
use tempwright::rules;
use tempwright::source::MemoryLibrary;

/// One case for both.
struct Tried {
    /// What a person needs to see it again.
    name: String,
    case: Case,
    entries: Vec<Entry>,
    until: Exact,
}

fn text(value: Exact) -> String {
    let (above, below) = value.parts().expect("it fits");
    if below == 1 {
        above.to_string()
    } else {
        format!("{above}/{below}")
    }
}

fn line(protocol: &Protocol, file: &str, tried: &Tried) -> String {
    let marks: BTreeMap<&str, String> = tried
        .case
        .marks
        .iter()
        .map(|(mark, at)| (protocol[*mark].name.name.as_str(), text(*at)))
        .collect();
    let entries: Vec<Value> = tried
        .entries
        .iter()
        .map(|entry| match entry.what {
            tempwright::eval::EntryWhat::Mark(mark) => {
                json!([text(entry.at), "mark", protocol[mark].name.name])
            }
            tempwright::eval::EntryWhat::Record { reading, value } => {
                json!([
                    text(entry.at),
                    "record",
                    protocol[reading].name.name,
                    value_text(protocol, reading, value)
                ])
            }
        })
        .collect();
    json!({
        "file": file,
        "weight": tried.case.weight.map(text),
        "marks": marks,
        "entries": entries,
        "until": text(tried.until),
    })
    .to_string()
}

fn value_text(protocol: &Protocol, reading: ReadingId, value: Exact) -> String {
    match &protocol[reading].kind {
        ReadingKind::Choice { words, .. } => value
            .to_i64_floor()
            .and_then(|index| usize::try_from(index).ok())
            .and_then(|index| words.get(index))
            .map_or("?".to_owned(), |word| word.name.clone()),
        _ => text(value),
    }
}

/// An order without what stands in for it.
fn order(protocol: &Protocol, order: &model::Order) -> Value {
    let mut value = serde_json::to_value(rules::Order::of(protocol, order)).expect("JSON");
    value.as_object_mut().expect("members").remove("otherwise");
    value
}

fn said(protocol: &Protocol, event: &Event<'_>) -> Vec<Value> {
    let at = text(event.at);
    match &event.what {
        What::PhaseBegins { phase, .. } => vec![json!([at, "begins", protocol[*phase].name.name])],
        What::PhaseEnds { phase, .. } => vec![json!([at, "ends", protocol[*phase].name.name])],
        What::CaseEnds => vec![json!([at, "over"])],
        What::RuleFires { rule, .. } => vec![json!([at, "fires", protocol[*rule].name.name])],
        What::OrderGiven { order: one, .. } => vec![json!([at, "order", order(protocol, one)])],
        What::OrderNotDone { order: one, .. } => {
            vec![json!([at, "not done", order(protocol, one)])]
        }
        What::Contradiction { orders } => orders
            .iter()
            .map(|(one, _)| json!([at, "contradicted", order(protocol, one)]))
            .collect(),
        What::RungChosen { ladder, rung } => {
            vec![json!([at, "rung", protocol[*ladder].name.name, rung])]
        }
        What::StepDone { ladder, step } => {
            vec![json!([at, "step", protocol[*ladder].name.name, step])]
        }
        What::Medication { medication, given } => {
            let name = &protocol[*medication].name.name;
            match given {
                Given::Dose(Some(amount)) => vec![json!([at, "dose", name, text(*amount)])],
                Given::Rate(rate) => vec![json!([at, "rate", name, text(*rate)])],
                Given::Dose(None) | Given::RunsAlready | Given::Stopped | Given::RanOut => vec![],
            }
        }
        What::NotGiven { medication, .. } => {
            vec![json!([at, "not given", protocol[*medication].name.name])]
        }
        What::Refused(refusal) => match refusal.entry.what {
            tempwright::eval::EntryWhat::Record { reading, .. } => {
                vec![json!([at, "refused", protocol[reading].name.name])]
            }
            tempwright::eval::EntryWhat::Mark(_) => vec![],
        },
        What::EntryDue(asked) => vec![json!([at, "due", entry(protocol, asked), text(asked.due)])],
        What::EntryMade { asked, late } => {
            vec![json!([
                at,
                "made",
                entry(protocol, asked),
                text(asked.due),
                late
            ])]
        }
        What::EntryMissed(asked) => {
            vec![json!([
                at,
                "missed",
                entry(protocol, asked),
                text(asked.due)
            ])]
        }
        What::Call(call) => {
            let chain: Vec<Value> = call
                .no_reply
                .iter()
                .map(|(at, role)| json!([text(*at), protocol[*role].name.name]))
                .collect();
            let role = &protocol[call.role].name.name;
            vec![json!([at, "call", role, text(call.by), chain])]
        }
        _ => vec![],
    }
}

fn entry<'p>(protocol: &'p Protocol, asked: &Asked) -> &'p str {
    &protocol[asked.reading].name.name
}

fn target(aimed: Aimed) -> Value {
    match aimed {
        Aimed::Nothing => json!([]),
        Aimed::Value(value) => json!([text(value), text(value)]),
        Aimed::Range { low, high } => json!([low.map(text), high.map(text)]),
    }
}

/// What the program says, sorted within each moment.
fn ours(protocol: &Protocol, tried: &Tried) -> Vec<Value> {
    let mut run = Run::new(protocol, &tried.case);
    let mut out = Vec::new();
    let mut targets = Vec::new();
    let mut entries = tried.entries.iter().peekable();
    while let Some(entry) = entries.next() {
        run.enter(*entry);
        if entries.peek().is_none_or(|next| next.at > entry.at) {
            run.advance(entry.at);
            if !run.has_ended() {
                targets.push(json!([
                    text(entry.at),
                    "target",
                    target(run.aimed(entry.at))
                ]));
            }
        }
    }
    run.advance(tried.until);
    for event in run.take_events() {
        out.extend(said(protocol, &event));
    }
    out.extend(targets);
    let sums = run.measures(tried.until);
    for (measure, sum) in protocol.measures.iter().zip(sums) {
        out.push(json!([
            text(tried.until),
            "measure",
            measure.name.name,
            text(sum.held),
            text(sum.known),
            text(sum.unknown),
            text(sum.area),
        ]));
    }
    sorted(out)
}

fn sorted(mut said: Vec<Value>) -> Vec<Value> {
    let time = |one: &Value| {
        let text = one[0].as_str().expect("a time").to_owned();
        let (above, below) = text.split_once('/').unwrap_or((&text, "1"));
        Exact::int(above.parse().expect("a number")) / Exact::int(below.parse().expect("a number"))
    };
    said.sort_by_cached_key(|one| (time(one), one.to_string()));
    // Two orders of one moment may be refused for one reason: said once or twice.
    said.dedup();
    said
}

/// What the other evaluator says to all of these; `None` where there is no Python.
fn theirs(input: &str) -> Option<Vec<Vec<Value>>> {
    let child = python::start("independent/evaluator.py", |_| {})?;
    let output = python::tell(child, input.to_owned());
    assert!(output.status.success(), "the evaluator failed");
    let text = String::from_utf8(output.stdout).expect("UTF-8");
    Some(
        text.lines()
            .map(|line| serde_json::from_str::<Vec<Value>>(line).expect("JSON"))
            .map(sorted)
            .collect(),
    )
}

fn define(name: &str, protocol: &Protocol) -> String {
    json!({ "define": name, "file": rules::export(protocol) }).to_string()
}

/// Where the two part ways, with what led there.
fn parting(tried: &Tried, ours: &[Value], theirs: &[Value], asked: &str) -> String {
    let same = ours.iter().zip(theirs).take_while(|(a, b)| a == b).count();
    let shown = |said: &[Value]| -> String {
        said.iter()
            .skip(same)
            .take(6)
            .map(|one| format!("\n    {one}"))
            .collect()
    };
    let both: String = ours[same.saturating_sub(8)..same]
        .iter()
        .map(|one| format!("\n    {one}"))
        .collect();
    format!(
        "{}\n  asked {asked}\n  both say{both}\n  the program says{}\n  the other says{}",
        tried.name,
        shown(ours),
        shown(theirs)
    )
}

fn compare(pairs: Vec<(Protocol, Vec<Tried>)>) -> Option<(usize, usize, Vec<String>)> {
    let mut input = String::new();
    let mut asked = Vec::new();
    for (index, (protocol, cases)) in pairs.iter().enumerate() {
        let name = index.to_string();
        input.push_str(&define(&name, protocol));
        input.push('\n');
        for tried in cases {
            let line = line(protocol, &name, tried);
            input.push_str(&line);
            input.push('\n');
            asked.push((protocol, tried, line));
        }
    }
    let theirs = theirs(&input)?;
    assert_eq!(theirs.len(), asked.len());
    let mut apart = Vec::new();
    let mut said = 0;
    for ((protocol, tried, line), theirs) in asked.iter().zip(&theirs) {
        let ours = ours(protocol, tried);
        said += ours.len();
        if &ours != theirs {
            apart.push(parting(tried, &ours, theirs, line));
        }
    }
    Some((asked.len(), said, apart))
}

fn agree(pairs: Vec<(Protocol, Vec<Tried>)>, at_least: usize) {
    let Some((cases, said, apart)) = compare(pairs) else {
        return;
    };
    eprintln!(
        "{cases} cases, {said} things said, {} disagreements",
        apart.len()
    );
    assert!(cases >= at_least, "only {cases} cases");
    assert!(said > cases * 3, "hardly anything was said");
    assert!(
        apart.is_empty(),
        "{} of {cases} disagree:\n{}",
        apart.len(),
        apart.iter().take(6).cloned().collect::<Vec<_>>().join("\n")
    );
}

#[test]
fn on_every_scenario_of_every_protocol() {
    let library = library();
    let pairs = paths(&library)
        .iter()
        .map(|path| {
            let protocol = protocol(&library, path);
            let cases = protocol
                .scenarios
                .iter()
                .map(|scenario| scenario_case(path, scenario))
                .collect();
            (protocol, cases)
        })
        .collect();
    agree(pairs, 30);
}

fn scenario_case(path: &str, scenario: &model::Scenario) -> Tried {
    let mut case = Case::default();
    for given in &scenario.given {
        match given {
            model::Given::Weight(weight) => case.weight = Some(weight.value),
            model::Given::Mark { mark, at } => case.marks.push((mark.value, *at)),
            model::Given::Start(..) => {}
        }
    }
    let mut entries = Vec::new();
    for line in &scenario.lines {
        for at in &line.times {
            entries.extend(line.entries.iter().map(|entry| match entry {
                model::Entry::Record { reading, value } => {
                    Entry::record(*at, reading.value, value.value())
                }
                model::Entry::Mark(mark) => Entry::mark(*at, mark.value),
            }));
        }
    }
    entries.sort_by_key(|entry| entry.at);
    let last = entries.last().map_or(Exact::ZERO, |entry| entry.at);
    Tried {
        name: format!("{path}: {}", scenario.title.markdown),
        case,
        entries,
        until: last + Exact::int(360),
    }
}

#[test]
fn on_protocols_and_records_made_at_random() {
    let wanted: usize = std::env::var("TEMPWRIGHT_PAIRS")
        .ok()
        .and_then(|number| number.parse().ok())
        .unwrap_or(240);
    let first: u64 = std::env::var("TEMPWRIGHT_SEED")
        .ok()
        .and_then(|number| number.parse().ok())
        .unwrap_or(1);
    let mut pairs = Vec::new();
    let (mut seed, mut cases, mut broken) = (first, 0, 0);
    while cases < wanted {
        let mut dice = Dice::new(seed);
        let text = generate::protocol(&mut dice);
        let library = MemoryLibrary::default().with("made.protocol", &text);
        let mut loaded = try_load(&library, "made.protocol");
        if loaded.has_errors() {
            broken += 1;
            assert!(
                broken < 20 + seed - first,
                "no text is whole: {:?}",
                loaded.diagnostics.first().map(|found| &found.title)
            );
        } else {
            let protocol = loaded.protocols.remove(0).1;
            let tried: Vec<Tried> = (0..4)
                .map(|number| random_case(&protocol, &mut dice, seed, number))
                .collect();
            cases += tried.len();
            pairs.push((protocol, tried));
        }
        seed += 1;
    }
    if let Some(folder) = std::env::var_os("TEMPWRIGHT_KEEP") {
        // To look at one: the text of every seed.
        for seed in first..seed {
            let text = generate::protocol(&mut Dice::new(seed));
            let path = std::path::Path::new(&folder).join(format!("{seed}.protocol"));
            std::fs::write(path, text).expect("the folder is there");
        }
    }
    eprintln!("{broken} texts were not whole");
    agree(pairs, wanted);
}

/// Rules and looks have no order: the fingerprint says so, and so must the run.
#[test]
fn the_order_in_which_rules_and_looks_stand_decides_nothing() {
    let (mut tried, mut with_orders) = (0, 0);
    for seed in 1..400 {
        let mut dice = Dice::new(seed);
        let texts = [
            generate::protocol(&mut dice),
            generate::reversed(&mut Dice::new(seed)),
        ];
        let [one, other] = texts.map(|text| {
            let library = MemoryLibrary::default().with("made.protocol", &text);
            try_load(&library, "made.protocol")
        });
        if one.has_errors() {
            continue;
        }
        let (one, other) = (&one.protocols[0].1, &other.protocols[0].1);
        assert_eq!(
            rules::fingerprint(one),
            rules::fingerprint(other),
            "seed {seed}"
        );
        for number in 0..2 {
            let case = random_case(one, &mut dice, seed, number);
            let (a, b) = (ours(one, &case), ours(other, &case));
            let a: Vec<Value> = a.into_iter().filter(|said| said[1] != "measure").collect();
            let b: Vec<Value> = b.into_iter().filter(|said| said[1] != "measure").collect();
            assert!(a == b, "{}", parting(&case, &a, &b, ""));
            tried += 1;
            with_orders += usize::from(a.iter().any(|said| said[1] == "order"));
        }
    }
    assert!(
        tried > 200 && with_orders > tried / 2,
        "{with_orders} of {tried}"
    );
}

fn random_case(protocol: &Protocol, dice: &mut Dice, seed: u64, number: usize) -> Tried {
    let reading = |name: &str| {
        protocol
            .readings()
            .find(|(_, one)| one.name.name == name)
            .map(|(id, _)| id)
            .expect("declared")
    };
    let made: Vec<Made> = generate::record(dice);
    let entries: Vec<Entry> = made
        .iter()
        .map(|(at, what, value)| {
            let at = Exact::int(i64::try_from(*at).expect("small"));
            match *what {
                "seen" => Entry::mark(at, MarkId(0)),
                "awake" => {
                    let index = ["alert", "verbal", "pain"]
                        .iter()
                        .position(|word| word == value)
                        .expect("a word");
                    Entry::record(at, reading("awake"), Exact::int(index as i64))
                }
                name => Entry::record(at, reading(name), Exact::parse(value).expect("a number")),
            }
        })
        .collect();
    let mut case = Case {
        weight: (!dice.one_in(6))
            .then(|| Exact::int(50 + i64::try_from(dice.below(40)).expect("small"))),
        ..Case::default()
    };
    if dice.one_in(2) {
        case.marks.push((MarkId(0), Exact::int(-120)));
    }
    let last = entries.last().map_or(Exact::ZERO, |entry| entry.at);
    Tried {
        name: format!("seed {seed}, record {number}"),
        case,
        entries,
        until: last + Exact::int(240),
    }
}
