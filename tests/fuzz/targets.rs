//! What is asked of each part of the program, whatever it is given: it ends, in an
//! answer or in findings, and the answer keeps its promises. A fuzzer tries it on
//! what it makes up; `tests/fuzz_replay.rs` tries again what was worth keeping.

use std::path::Path;
use std::sync::OnceLock;
use tempwright::checks::{self, Context};
use tempwright::diag::{Diagnostic, render};
use tempwright::document::{Paper, html, markdown, pdf};
use tempwright::format::{Refusal, format};
use tempwright::model::{Loaded, Protocol, load};
use tempwright::plan::{Case, Plan};
use tempwright::rehearse::rehearse;
use tempwright::source::{FileId, MemoryLibrary, SourceFile, Sources};
use tempwright::{audit, rules, sheet as run_sheet, syntax};

/// Longer texts only cost time.
const LONGEST: usize = 64 << 10;
const PATH: &str = "protocols/made.protocol";

fn text(data: &[u8]) -> Option<&str> {
    let text = std::str::from_utf8(data).ok()?;
    (text.len() <= LONGEST).then_some(text)
}

/// Every place of a finding lies in a text that was read, and it can be shown.
fn shown(found: &Diagnostic, sources: &Sources) {
    for label in std::iter::once(&found.place).chain(&found.others) {
        let file = sources.get(label.span.file).expect("a file that was read");
        assert!(file.text.get(label.span.range()).is_some(), "{found:?}");
    }
    assert!(!found.title.is_empty());
    // A protocol that is left out is always told of by what is wrong in it.
    assert!(
        !found.title.ends_with("read and not understood"),
        "{found:?}"
    );
    assert!(!render::human(found, sources, render::Style::default()).is_empty());
    assert!(!render::concise(found, sources).contains('\n'));
    serde_json::to_string(&render::record(found, sources)).expect("JSON");
}

/// Any text is read, and each thing wrong with it is told.
pub fn parser(data: &[u8]) {
    let Some(text) = text(data) else { return };
    let source = SourceFile::new(PATH, text);
    let parsed = syntax::parse(FileId::default(), &source);
    for found in &parsed.diagnostics {
        assert!(text.get(found.place.span.range()).is_some(), "{found:?}");
    }
    let loaded = loaded(text);
    for found in &loaded.diagnostics {
        shown(found, &loaded.sources);
    }
    for (_, protocol) in &loaded.protocols {
        let _ = Plan::of(protocol, &Case::default());
        rehearse(protocol, &loaded.sources);
    }
}

/// One style: the same words and comments, and again the same.
pub fn formatter(data: &[u8]) {
    let Some(text) = text(data) else { return };
    let once = match format(text) {
        Ok(once) => once,
        Err(Refusal::Outline(found)) => return assert!(!found.is_empty()),
        Err(Refusal::Changed) => panic!("the formatter would change what is said"),
    };
    assert_eq!(format(&once).expect("formatted before"), once);
    let faults = |text: &str| {
        let source = SourceFile::new(PATH, text);
        let parsed = syntax::parse(FileId::default(), &source);
        let mut names: Vec<&str> = parsed.diagnostics.iter().map(|found| found.name).collect();
        names.sort_unstable();
        names
    };
    assert_eq!(faults(text), faults(&once));
}

/// Every check on every protocol that can be made out.
pub fn checker(data: &[u8]) {
    let Some(text) = given_or_made(data) else {
        return;
    };
    let mut loaded = loaded(&text);
    if loaded.has_errors() {
        return;
    }
    for (_, protocol) in &loaded.protocols {
        let context = Context::new(protocol, &loaded.sources);
        let reading = std::mem::take(&mut loaded.diagnostics);
        let report = checks::check(&context, reading);
        for found in report
            .findings
            .iter()
            .chain(report.accepted.iter().map(|a| &a.finding))
        {
            shown(found, &loaded.sources);
        }
    }
}

/// A rule file is read as what it says, or refused; with its seals, and as somebody
/// would read it who does not look at them.
pub fn rule_file(data: &[u8]) {
    if data.len() > 4 * LONGEST {
        return;
    }
    let _ = rules::read_protocol(data);
    let Ok(file) = serde_json::from_slice::<rules::RuleFile>(data) else {
        return;
    };
    let Ok(protocol) = rules::to_model(&file) else {
        return;
    };
    let again = rules::to_bytes(&rules::export(&protocol));
    let (_, twice) = rules::read_protocol(&again).expect("a file of our own");
    assert_eq!(rules::fingerprint(&protocol), rules::fingerprint(&twice));
    let _ = rules::fhir(&protocol);
    let _ = rules::schedule_csv(&protocol, &Case::default());
    printed(&protocol, false);
}

/// A log of any kind: what counted and what did not is told. The first byte chooses
/// the protocol that it is held against.
pub fn log(data: &[u8]) {
    let Some((first, log)) = data.split_first() else {
        return;
    };
    if log.len() > LONGEST {
        return;
    }
    let protocols = demos();
    let Some(protocol) = protocols.get(usize::from(*first) % protocols.len()) else {
        return;
    };
    let auditor = audit::Auditor::new(protocol, audit::Options::default());
    let known = tempwright::eval::Case::default();
    let Ok(done) = auditor.audit("made", || Ok(log), &known, &mut |_, _| {}) else {
        return;
    };
    assert!(done.counted <= done.entries);
    assert!(
        done.counted == done.entries || !done.problems.is_empty(),
        "dropped unsaid"
    );
    assert!(!audit::report(&done).is_empty());
    serde_json::to_string(&done).expect("JSON");
}

/// Whatever can be made out of a protocol is printed in all three forms.
pub fn sheet(data: &[u8]) {
    let Some(text) = given_or_made(data) else {
        return;
    };
    let loaded = loaded(&text);
    if loaded.has_errors() {
        return;
    }
    for (_, protocol) in &loaded.protocols {
        printed(protocol, data.len().is_multiple_of(8));
    }
}

fn printed(protocol: &Protocol, on_paper: bool) {
    let starts = [
        "2026-11-24T14:30",
        "2027-03-27T20:10",
        "2026-10-24T23:59",
        "2028-02-28T22:00",
    ];
    let mut cases = vec![Case::default()];
    for start in starts {
        cases.extend(Case::starting(protocol, start));
    }
    for (index, case) in cases.iter().enumerate() {
        let Ok(plan) = Plan::of(protocol, case) else {
            continue;
        };
        let options = run_sheet::Options {
            fingerprint: rules::fingerprint(protocol),
            paper: Paper::A4,
            withheld: None,
            ..run_sheet::Options::default()
        };
        let Ok(document) = run_sheet::build(protocol, &plan, case, &options) else {
            continue;
        };
        let page = html::render(&document);
        assert!(!page.to_lowercase().contains("<script"));
        assert!(!markdown::render(&document).is_empty());
        if on_paper && index < 2 {
            // What no page can hold, or no glyph can write, is refused and never cut.
            if let Ok(bytes) = pdf::render(&document) {
                assert!(bytes.starts_with(b"%PDF-"));
            }
        }
    }
}

fn loaded(text: &str) -> Loaded {
    static LIBRARY: OnceLock<MemoryLibrary> = OnceLock::new();
    let mut library = LIBRARY.get_or_init(|| folder("protocols/shared")).clone();
    library.files.insert(PATH.to_owned(), text.to_owned());
    load(&library, &[PATH]).expect("held in memory")
}

fn root() -> &'static Path {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    // The fuzzer's package lies in the project's.
    here.ancestors()
        .find(|folder| folder.join("protocols").is_dir())
        .expect("the project")
}

fn folder(name: &str) -> MemoryLibrary {
    let mut library = MemoryLibrary::default();
    for entry in std::fs::read_dir(root().join(name)).expect("a folder of the project") {
        let path = entry.expect("an entry").path();
        if path.extension().is_some_and(|end| end == "protocol") {
            let file = path
                .file_name()
                .expect("a name")
                .to_string_lossy()
                .into_owned();
            let text = std::fs::read_to_string(&path).expect("UTF-8");
            library.files.insert(format!("{name}/{file}"), text);
        }
    }
    library
}

fn demos() -> &'static [Protocol] {
    static DEMOS: OnceLock<Vec<Protocol>> = OnceLock::new();
    DEMOS.get_or_init(|| {
        let of = |text: &String| {
            loaded(text)
                .protocols
                .into_iter()
                .map(|(_, protocol)| protocol)
        };
        folder("protocols").files.values().flat_map(of).collect()
    })
}

/// Small whole protocols, and the real ones after them.
fn bases() -> &'static [String] {
    static BASES: OnceLock<Vec<String>> = OnceLock::new();
    BASES.get_or_init(|| {
        let examples = checks::all().flat_map(|check| [check.fires, check.passes]);
        let mut bases: Vec<String> = examples.filter_map(checks::example::complete).collect();
        bases.extend(folder("tests/trials").files.into_values());
        bases.extend(folder("protocols").files.into_values());
        bases
    })
}

/// A text as it stands, or a protocol of the project with slips of the pen in it:
/// four bytes a slip, so that what comes out can mostly be read.
pub fn given_or_made(data: &[u8]) -> Option<String> {
    if data.starts_with(b"protocol") || data.starts_with(b"use") || data.starts_with(b"#") {
        return text(data).map(str::to_owned);
    }
    let ([high, low], slips) = data.split_first_chunk::<2>()?;
    let bases = bases();
    let base = bases.get(usize::from(u16::from_be_bytes([*high, *low])) % bases.len())?;
    let mut lines: Vec<String> = base.lines().map(str::to_owned).collect();
    for slip in slips.chunks_exact(4).take(12) {
        let &[kind, high, low, with] = slip else {
            continue;
        };
        let count = lines.len();
        let at = usize::from(u16::from_be_bytes([high, low])) % count.max(1);
        let other = (at + 1 + usize::from(with)) % count.max(1);
        match kind % 6 {
            0 => drop(lines.remove(at)),
            1 => lines.insert(other, lines.get(at)?.clone()),
            2 => lines.swap(at, other),
            // A number or a word becomes one that stands elsewhere in the language.
            3 => replace(lines.get_mut(at)?, with, NUMBERS, |c| {
                c.is_ascii_digit() || c == '.'
            }),
            4 => replace(lines.get_mut(at)?, with, WORDS, |c| c.is_ascii_lowercase()),
            _ => {
                let words = lines.get(other)?.clone();
                let pieces: Vec<&str> = words.split(' ').filter(|word| !word.is_empty()).collect();
                replace(lines.get_mut(at)?, with, &pieces, |c| c != ' ');
            }
        }
        if lines.is_empty() {
            return None;
        }
    }
    Some(lines.join("\n") + "\n")
}

/// Puts one of `with` where one of the runs of such signs stands.
fn replace(line: &mut String, choice: u8, with: &[&str], is: impl Fn(char) -> bool) {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for (at, sign) in line.char_indices() {
        let end = at + sign.len_utf8();
        match runs.last_mut() {
            Some(run) if is(sign) && run.1 == at => run.1 = end,
            _ if is(sign) => runs.push((at, end)),
            _ => {}
        }
    }
    let (Some(&(from, to)), false) = (
        runs.get(usize::from(choice >> 4) % runs.len().max(1)),
        with.is_empty(),
    ) else {
        return;
    };
    if let Some(word) = with.get(usize::from(choice) % with.len()) {
        line.replace_range(from..to, word);
    }
}

const NUMBERS: &[&str] = &[
    "0",
    "1",
    "2",
    "5",
    "10",
    "15",
    "30",
    "33.0",
    "36.0",
    "37.5",
    "0.1",
    "0.25",
    "0.05",
    "100",
    "1000000",
    "99999999999999999999",
    "0.000001",
    "24",
    "72",
    "60",
    "3.33333",
];

const WORDS: &[&str] = &[
    "above", "below", "at", "or", "and", "not", "for", "during", "every", "within", "core",
    "water", "rises", "falls", "by", "over", "until", "begin", "raise", "lower", "hold", "pause",
    "call", "give", "once", "again", "h", "min", "any", "recorded", "start", "end",
];
