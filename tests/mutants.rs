//! Defects planted one at a time in the demo protocols: each must be found by the check that is
//! there for it.
//!
//! The tables stand in `tests/mutants/*.txt`. A mutant names the check, the protocol and what is
//! wrong, and then the change:
//!
//! ```text
//! mutant no-answer in adult-arrest-33: nobody answers a cold patient in the hold
//! cut rule too-cold                  a statement, found by its first words, with its block
//! - lasts 24 h                       a text that stands once; without `+` it is taken out
//! + lasts 240 h
//! add every 5 min record water       a line more in the protocol
//! file shared/shivering              what follows changes that file
//! on 2031-01-01                      the day of the check
//! equivalent: why a clinician would call it no defect; then nothing may be found
//! unseen: why a defect is not found; to be taken away once it is
//! ```
//!
//! `cargo test --test mutants -- --nocapture` shows how many were planted, found, equivalent and
//! unseen, for each check.

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

mod support;

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};
use tempwright::checks::{self, Context, Depth, Family, Run, evidence, run::check_all_to};
use tempwright::model::load;
use tempwright::source::MemoryLibrary;

/// One line of change.
#[derive(Debug)]
enum Edit {
    Swap { from: String, to: String },
    Cut(String),
    Add(String),
    On(jiff::civil::Date),
}

#[derive(Debug)]
struct Mutant {
    /// Where it stands in the tables, for messages.
    place: String,
    check: String,
    base: String,
    what: String,
    /// Each with the file that it changes.
    edits: Vec<(String, Edit)>,
    /// Why nothing is found.
    silent: Option<Silent>,
}

#[derive(Debug)]
enum Silent {
    Equivalent(String),
    Unseen(String),
}

/// The tables, and the checks that no defect of a protocol can reach, with the reason.
#[derive(Default)]
struct Tables {
    mutants: Vec<Mutant>,
    outside: BTreeMap<String, String>,
}

fn tables() -> Tables {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/mutants");
    let mut paths: Vec<_> = std::fs::read_dir(folder)
        .expect("the tables are there")
        .map(|entry| entry.expect("an entry").path())
        .collect();
    paths.sort();
    let mut tables = Tables::default();
    for path in paths {
        let text = std::fs::read_to_string(&path).expect("UTF-8 text");
        let name = path.file_name().expect("a file").to_string_lossy();
        for (at, line) in text.lines().enumerate() {
            let place = format!("{name}:{}", at + 1);
            if !line.is_empty() && !line.starts_with('#') {
                tables.read(&place, line);
            }
        }
    }
    tables
}

impl Tables {
    fn read(&mut self, place: &str, line: &str) {
        let (word, rest) = line.split_once(' ').unwrap_or((line, ""));
        if word == "outside" {
            let (check, why) = rest.split_once(": ").expect("outside CHECK: why");
            self.outside.insert(check.to_owned(), why.to_owned());
            return;
        }
        if word == "mutant" {
            let (head, what) = rest.split_once(": ").expect("CHECK in PROTOCOL: what");
            let (check, base) = head.split_once(" in ").expect("CHECK in PROTOCOL");
            self.mutants.push(Mutant {
                place: place.to_owned(),
                check: check.to_owned(),
                base: base.to_owned(),
                what: what.to_owned(),
                edits: Vec::new(),
                silent: None,
            });
            return;
        }
        let mutant = self.mutants.last_mut().expect("a mutant comes first");
        let file = match mutant.edits.last() {
            Some((file, _)) => file.clone(),
            None => path(&mutant.base),
        };
        let edit = match word {
            "file" => Edit::Add(String::new()),
            "cut" => Edit::Cut(rest.to_owned()),
            "-" => match mutant.edits.last_mut() {
                // Lines that follow each other are one text.
                Some((_, Edit::Swap { from, to })) if to.is_empty() => {
                    from.push('\n');
                    from.push_str(rest);
                    return;
                }
                _ => Edit::Swap {
                    from: rest.to_owned(),
                    to: String::new(),
                },
            },
            "+" => match mutant.edits.last_mut() {
                Some((_, Edit::Swap { to, .. })) => {
                    if !to.is_empty() {
                        to.push('\n');
                    }
                    to.push_str(rest);
                    return;
                }
                _ => panic!("{place}: `+` without `-`"),
            },
            "add" => match mutant.edits.last_mut() {
                Some((_, Edit::Add(lines))) => {
                    lines.push_str(rest);
                    lines.push('\n');
                    return;
                }
                _ => Edit::Add(format!("{rest}\n")),
            },
            "on" => Edit::On(rest.parse().expect("a day")),
            "equivalent:" => {
                mutant.silent = Some(Silent::Equivalent(rest.to_owned()));
                return;
            }
            "unseen:" => {
                mutant.silent = Some(Silent::Unseen(rest.to_owned()));
                return;
            }
            _ => panic!("{place}: `{word}` begins no line of a table"),
        };
        let file = if word == "file" { path(rest) } else { file };
        mutant.edits.push((file, edit));
    }
}

fn path(name: &str) -> String {
    format!("protocols/{name}.protocol")
}

/// The demo protocols without their scenarios: those name rules that a mutant takes out.
fn bases() -> MemoryLibrary {
    let mut library = support::library();
    for text in library.files.values_mut() {
        if let Some(at) = text.find("\n}\n") {
            text.truncate(at + 3);
        }
    }
    library
}

/// Applies one change; an error says why it does not apply exactly once.
fn apply(text: &str, edit: &Edit) -> Result<String, String> {
    match edit {
        Edit::Swap { from, to } => match text.matches(from.as_str()).count() {
            1 if from != to => Ok(text.replacen(from.as_str(), to, 1)),
            count => Err(format!("`{from}` stands {count} times")),
        },
        Edit::Cut(words) => cut(text, words),
        Edit::Add(lines) if lines.is_empty() => Ok(text.to_owned()),
        Edit::Add(lines) => {
            let (body, _) = text.rsplit_once('}').ok_or("no block to add to")?;
            Ok(format!("{body}{lines}}}\n"))
        }
        Edit::On(_) => Ok(text.to_owned()),
    }
}

/// Takes out the statement that begins with these words, its block and the lines on which it
/// goes on.
fn cut(text: &str, words: &str) -> Result<String, String> {
    let lines: Vec<&str> = text.lines().collect();
    let begins: Vec<usize> = (0..lines.len())
        .filter(|at| lines[*at].trim_start().starts_with(words))
        .collect();
    let [first] = begins.as_slice() else {
        return Err(format!("{} statements begin with `{words}`", begins.len()));
    };
    let deep = |line: &str| line.len() - line.trim_start().len();
    let own = deep(lines[*first]);
    let mut last = *first;
    while lines.get(last + 1).is_some_and(|line| {
        deep(line) > own || (deep(line) == own && line.trim_start() == "}" && last > *first)
    }) {
        last += 1;
    }
    let kept: Vec<&str> = lines
        .iter()
        .enumerate()
        .filter(|(at, _)| *at < *first || *at > last)
        .map(|(_, line)| *line)
        .collect();
    Ok(kept.join("\n") + "\n")
}

impl Mutant {
    fn library(&self, bases: &MemoryLibrary) -> Result<MemoryLibrary, String> {
        let mut library = MemoryLibrary::default();
        library.files.clone_from(&bases.files);
        for (file, edit) in &self.edits {
            let text = library.files.get_mut(file).ok_or(format!("no {file}"))?;
            *text = apply(text, edit)?;
        }
        if self.edits.is_empty() {
            return Err("nothing is changed".to_owned());
        }
        Ok(library)
    }

    fn day(&self) -> Option<jiff::civil::Date> {
        self.edits.iter().find_map(|(_, edit)| match edit {
            Edit::On(day) => Some(*day),
            _ => None,
        })
    }
}

/// How much is run to look for a finding. A check of the family `rules` runs alone: together
/// they are too slow for so many protocols.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Runs {
    Alone(&'static str),
    ButRules,
    All,
}

impl Runs {
    fn of(check: &str) -> Runs {
        // These tell what the others have left open or not found.
        if ["not-proved", "exception-unused"].contains(&check) {
            return Runs::All;
        }
        checks::all()
            .find(|known| known.name == check && known.family == Family::Rules)
            .map_or(Runs::ButRules, |known| Runs::Alone(known.name))
    }
}

type Findings = BTreeSet<(&'static str, String)>;

/// Names and titles of what is found.
fn findings(
    library: &MemoryLibrary,
    base: &str,
    runs: Runs,
    day: Option<jiff::civil::Date>,
) -> Findings {
    let root = path(base);
    let loaded = load(library, &[root.as_str()]).expect("the protocol is there");
    let found = match runs {
        Runs::All => check_all_to(loaded, day, Depth::Whole).findings,
        Runs::ButRules => check_all_to(loaded, day, Depth::Quick).findings,
        Runs::Alone(name) => {
            let run = checks::all().find_map(|check| match check.run {
                Run::Over(run) if check.name == name => Some(run),
                _ => None,
            });
            match (run, loaded.protocols.first()) {
                (Some(run), Some((_, protocol))) => {
                    run(&Context::new(protocol, &loaded.sources).on(day))
                }
                _ => Vec::new(),
            }
        }
    };
    found
        .into_iter()
        .map(|found| (found.name, found.title))
        .collect()
}

/// What became of one mutant: why it could not be tried, or whether it is found, and how long
/// that took.
type Tried = (Result<bool, String>, Duration);

fn try_all(mutants: &[Mutant]) -> Vec<Tried> {
    let bases = bases();
    // What stands in a base too was not planted.
    let clean: Mutex<BTreeMap<(String, Runs), Findings>> = Mutex::default();
    let tried: Vec<Mutex<Option<Tried>>> = mutants.iter().map(|_| Mutex::default()).collect();
    let next = AtomicUsize::new(0);
    let one = |mutant: &Mutant| -> Result<bool, String> {
        let library = mutant.library(&bases)?;
        let runs = Runs::of(&mutant.check);
        let mut found = findings(&library, &mutant.base, runs, mutant.day());
        found.retain(|(name, _)| *name == mutant.check);
        if found.is_empty() {
            return Ok(false);
        }
        let key = (mutant.base.clone(), runs);
        let known = clean.lock().expect("no thread stops").get(&key).cloned();
        let before = known.unwrap_or_else(|| findings(&bases, &mutant.base, runs, None));
        let new = found.difference(&before).next().is_some();
        clean.lock().expect("no thread stops").insert(key, before);
        Ok(new)
    };
    std::thread::scope(|scope| {
        for _ in 0..std::thread::available_parallelism().map_or(2, usize::from) {
            scope.spawn(|| {
                while let Some(mutant) = mutants.get(next.fetch_add(1, Ordering::Relaxed)) {
                    let begun = Instant::now();
                    let result = one(mutant);
                    let at = mutants
                        .iter()
                        .position(|other| std::ptr::eq(other, mutant))
                        .expect("one of them");
                    *tried[at].lock().expect("no thread stops") = Some((result, begun.elapsed()));
                }
            });
        }
    });
    tried
        .into_iter()
        .map(|tried| tried.into_inner().expect("no thread stops").expect("tried"))
        .collect()
}

#[test]
fn every_planted_defect_is_found_by_its_check() {
    let tables = tables();
    let tried = try_all(&tables.mutants);
    // Planted, found, equivalent, unseen.
    let mut counts: BTreeMap<&str, [usize; 4]> = BTreeMap::new();
    let mut wrong = Vec::new();
    for (mutant, (result, _)) in tables.mutants.iter().zip(&tried) {
        let count = counts.entry(&mutant.check).or_default();
        count[0] += 1;
        let told = match (result, &mutant.silent) {
            (Ok(true), None) => {
                count[1] += 1;
                continue;
            }
            (Ok(false), Some(Silent::Equivalent(_))) => {
                count[2] += 1;
                continue;
            }
            (Ok(false), Some(Silent::Unseen(_))) => {
                count[3] += 1;
                continue;
            }
            (Ok(true), Some(Silent::Equivalent(why))) => {
                format!("found, and yet equivalent: {why}")
            }
            (Ok(true), Some(Silent::Unseen(why))) => {
                format!("found now; take `unseen` away: {why}")
            }
            (Ok(false), None) => "not found".to_owned(),
            (Err(why), _) => format!("cannot be planted: {why}"),
        };
        wrong.push(format!(
            "{} {} in {}: {}: {told}",
            mutant.place, mutant.check, mutant.base, mutant.what
        ));
    }
    let sum = |at: usize| counts.values().map(|count| count[at]).sum::<usize>();
    println!(
        "planted {}, found {}, equivalent {}, unseen {}",
        sum(0),
        sum(1),
        sum(2),
        sum(3)
    );
    for (check, [planted, found, equivalent, unseen]) in &counts {
        println!("{check:<40} {planted:>3} {found:>3} {equivalent:>3} {unseen:>3}");
    }
    let mut slow: Vec<_> = tables.mutants.iter().zip(&tried).collect();
    slow.sort_by_key(|(_, (_, time))| std::cmp::Reverse(*time));
    for (mutant, (_, time)) in slow.iter().take(5) {
        println!(
            "{:>7} ms {} {}",
            time.as_millis(),
            mutant.place,
            mutant.check
        );
    }
    assert!(
        wrong.is_empty(),
        "{} of {}:\n{}",
        wrong.len(),
        sum(0),
        wrong.join("\n")
    );
}

/// A check without a mutant is one of which nobody knows whether it finds anything.
#[test]
fn every_check_has_a_mutant() {
    let tables = tables();
    let planted: BTreeSet<&str> = tables
        .mutants
        .iter()
        .filter(|mutant| mutant.silent.is_none())
        .map(|mutant| mutant.check.as_str())
        .collect();
    let known: BTreeSet<&str> = checks::all()
        .map(|check| check.name)
        .chain(
            evidence::rows()
                .filter(|row| matches!(row.decision, evidence::Decision::Fires { .. }))
                .map(|row| row.id),
        )
        .collect();
    let without: Vec<&&str> = known
        .iter()
        .filter(|name| !planted.contains(*name) && !tables.outside.contains_key(**name))
        .collect();
    assert!(without.is_empty(), "no mutant: {without:?}");
    let unknown: Vec<&str> = planted
        .iter()
        .copied()
        .chain(tables.outside.keys().map(String::as_str))
        .filter(|name| !known.contains(name))
        .collect();
    assert!(unknown.is_empty(), "no such check: {unknown:?}");
    let both: Vec<&String> = tables
        .outside
        .keys()
        .filter(|name| planted.contains(name.as_str()))
        .collect();
    assert!(both.is_empty(), "planted, and said to be outside: {both:?}");
}
