//! The language reference says what the parser does: its examples are read, they use
//! the whole grammar, and its lists of words are the parser's own.

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

use std::collections::{BTreeMap, BTreeSet};
use tempwright::model::load;
use tempwright::model::words::{self, FixedWord};
use tempwright::quantity::UNITS;
use tempwright::source::{FileId, MemoryLibrary, SourceFile};
use tempwright::syntax::{self, CONNECTING_WORDS, Node, Rule, TreeBlock};

const REFERENCE: &str = include_str!("../grammar/LANGUAGE.md");
const GRAMMAR: &str = include_str!("../grammar/protocol.pest");

/// A fenced example: its first line in the reference, its context, and its text.
struct Example {
    line: usize,
    context: String,
    text: String,
}

fn fenced(language: &str) -> Vec<Example> {
    let mut examples = Vec::new();
    let mut open: Option<Example> = None;
    let mut other = false;
    for (number, line) in REFERENCE.lines().enumerate() {
        match (&mut open, line.strip_prefix("```")) {
            (None, Some(_)) if other => other = false,
            (None, Some(info)) => match info.strip_prefix(language) {
                Some(context) => {
                    open = Some(Example {
                        line: number + 2,
                        context: context.trim().to_owned(),
                        text: String::new(),
                    });
                }
                None => other = true,
            },
            (Some(_), Some(_)) => examples.extend(open.take()),
            (Some(example), None) => {
                example.text.push_str(line);
                example.text.push('\n');
            }
            (None, None) => {}
        }
    }
    assert!(open.is_none() && !other, "a fence does not close");
    examples
}

/// The files that an example stands for: itself, or itself inside a block of its
/// kind; of conditions and orders, one for each line.
fn files(example: &Example) -> Vec<String> {
    let inside = |before: &str, after: &str| {
        vec![format!(
            "protocol example {{\n{before}\n{}{after}\n}}\n",
            example.text
        )]
    };
    let each_line = |before: &str, after: &str| {
        example
            .text
            .lines()
            .map(|line| {
                format!("protocol example {{\n rule example {{\n{before} {line}\n{after}\n}}\n}}\n")
            })
            .collect()
    };
    match example.context.as_str() {
        "file" => vec![example.text.clone()],
        "body" => inside("", ""),
        "people" => inside("people {", "}"),
        "phase" => inside("phase example \"Example\" {", "}"),
        "rule" => inside("rule example {", "}"),
        "ladder" => inside("ladder example \"Example\" on potassium {", "}"),
        "rung" => inside(
            "ladder example \"Example\" on shiver {\nrung 0 \"Example\" {",
            "}\n}",
        ),
        "checklist" => inside("checklist example \"Example\" at start {", "}"),
        "medication" => inside("medication example \"Example\" {", "}"),
        "scenario" => vec![format!(
            "scenario \"Example\" for example {{\n{}}}\n",
            example.text
        )],
        "condition" | "refused condition" => each_line("when", "then continue"),
        "action" => each_line("when core below 32.5 °C\nthen", ""),
        context => panic!("line {}: no such context: `{context}`", example.line),
    }
}

/// Every use of a rule of the grammar: its name, and the texts that it matched.
type Uses = BTreeMap<String, Vec<String>>;

fn collect(node: &Node<'_>, uses: &mut Uses) {
    uses.entry(format!("{:?}", node.rule()))
        .or_default()
        .push(node.text().to_owned());
    for child in node.children() {
        collect(&child, uses);
    }
}

fn collect_block(block: &TreeBlock<'_>, uses: &mut Uses) {
    collect(&block.head, uses);
    block.statements.iter().for_each(|node| collect(node, uses));
    block
        .blocks
        .iter()
        .for_each(|block| collect_block(block, uses));
}

/// Parses a file; gives what is wrong with it, in words.
fn read(text: &str, uses: &mut Uses) -> Vec<String> {
    let source = SourceFile::new("example.protocol", text);
    let tree = syntax::parse(FileId::default(), &source);
    tree.blocks
        .iter()
        .for_each(|block| collect_block(block, uses));
    tree.diagnostics
        .iter()
        .map(|finding| format!("{}: {}", finding.title, source.slice(finding.place.span)))
        .collect()
}

#[test]
fn every_example_is_read() {
    let examples = fenced("protocol");
    assert!(
        examples.len() > 30,
        "only {} examples found",
        examples.len()
    );
    let mut faults = Vec::new();
    for example in &examples {
        let refused = example.context.starts_with("refused");
        for file in files(example) {
            let found = read(&file, &mut Uses::new());
            if found.is_empty() == refused {
                faults.push(format!("line {}: {found:?} in\n{file}", example.line));
            }
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n\n"));
}

/// The rules of the grammar with their literal words, and whether they are silent.
fn grammar_rules() -> Vec<(String, bool, Vec<String>)> {
    let mut rules: Vec<(String, bool, Vec<String>)> = Vec::new();
    for line in GRAMMAR.lines().filter(|line| !line.starts_with("//")) {
        if let Some((name, rest)) = line.split_once('=')
            && name
                .trim()
                .chars()
                .all(|c| c.is_ascii_lowercase() || c == '_' || c.is_ascii_digit())
            && !line.starts_with(' ')
        {
            let silent = rest.trim_start().starts_with('_');
            rules.push((name.trim().to_owned(), silent, Vec::new()));
        }
        let Some((_, _, words)) = rules.last_mut() else {
            continue;
        };
        // What must not follow is no part of an example.
        let line = line.replace("!(\"over\" ~ b)", "");
        for literal in line.split('"').skip(1).step_by(2) {
            if !literal.is_empty() && literal.bytes().all(|byte| byte.is_ascii_lowercase()) {
                words.push(literal.to_owned());
            }
        }
    }
    rules
}

/// The words of a match, as the grammar sees them: a name may stand at a point.
fn words_of(text: &str) -> BTreeSet<&str> {
    text.split(|c: char| !c.is_ascii_lowercase()).collect()
}

#[test]
fn every_part_of_the_grammar_has_an_example() {
    let mut uses = Uses::new();
    for example in fenced("protocol") {
        for file in files(&example) {
            read(&file, &mut uses);
        }
    }
    let rules = grammar_rules();
    assert!(rules.len() > 150, "only {} rules found", rules.len());
    let all = Rule::all_rules().len();
    assert_eq!(
        rules.len(),
        all,
        "the grammar was not read as its parser reads it"
    );

    let mut missing = Vec::new();
    for (rule, silent, words) in &rules {
        // M1's own list, tested below; it stands where names are refused.
        if rule == "reserved" {
            continue;
        }
        let matched: Vec<&String> = if *silent {
            uses.values().flatten().collect()
        } else {
            uses.get(rule).into_iter().flatten().collect()
        };
        if !silent && matched.is_empty() && rule != "EOI" {
            missing.push(format!("no example of `{rule}`"));
            continue;
        }
        for word in words {
            if !matched
                .iter()
                .any(|text| words_of(text).contains(word.as_str()))
            {
                missing.push(format!("no example of `{word}` in `{rule}`"));
            }
        }
    }
    assert!(missing.is_empty(), "{}", missing.join("\n"));
}

#[test]
fn the_printed_grammar_has_every_word_of_the_parser_and_no_other() {
    let printed: String = fenced("grammar")
        .into_iter()
        .map(|block| block.text)
        .collect();
    let printed: BTreeSet<&str> = printed
        .split(|c: char| !c.is_ascii_alphabetic())
        .filter(|word| !word.is_empty() && word.bytes().all(|byte| byte.is_ascii_lowercase()))
        .collect();
    let rules = grammar_rules();
    let parsed: BTreeSet<&str> = rules
        .iter()
        .filter(|(rule, ..)| rule != "reserved")
        .flat_map(|(_, _, words)| words.iter().map(String::as_str))
        .collect();
    assert_eq!(printed, parsed);
}

#[test]
fn every_definition_stands_there_once_and_in_order() {
    let numbers: Vec<usize> = REFERENCE
        .lines()
        .filter_map(|line| line.strip_prefix("- **M")?.split_once(' ')?.0.parse().ok())
        .collect();
    assert_eq!(numbers, (1..=36).collect::<Vec<_>>());
    assert_eq!(
        REFERENCE.matches("*Edge:*").count(),
        36,
        "one example near the edge of each"
    );
}

#[test]
fn the_connecting_words_are_those_of_the_parser() {
    let definition = REFERENCE
        .split_once("- **M1 Connecting words.**")
        .and_then(|(_, rest)| rest.split_once("can name nothing:"))
        .and_then(|(_, rest)| rest.split_once('.'))
        .expect("M1 lists them")
        .0;
    let listed: Vec<&str> = definition.split(',').map(str::trim).collect();
    assert_eq!(listed, CONNECTING_WORDS);
    for (rule, _, words) in grammar_rules() {
        if rule == "reserved" {
            assert_eq!(words, CONNECTING_WORDS);
        }
    }
    for word in CONNECTING_WORDS {
        let file = format!("protocol example {{\n mark {word} \"Example\"\n}}\n");
        assert!(
            !read(&file, &mut Uses::new()).is_empty(),
            "`{word}` names a mark"
        );
        let file = format!("protocol example {{\n mark {word}-2 \"Example\"\n}}\n");
        assert_eq!(
            read(&file, &mut Uses::new()),
            Vec::<String>::new(),
            "`{word}-2`"
        );
    }
}

/// The words in the row of the table of fixed words that begins so.
fn row(first: &str) -> Vec<&'static str> {
    let cell = REFERENCE
        .lines()
        .find_map(|line| line.strip_prefix(&format!("| {first} | ")))
        .unwrap_or_else(|| panic!("no row `{first}`"));
    cell.trim_end_matches('|')
        .split(',')
        .map(str::trim)
        .collect()
}

fn listed<W: FixedWord>(first: &str) {
    let words: Vec<&str> = W::ALL.iter().map(|word| word.word()).collect();
    assert_eq!(row(first), words, "{first}");
}

#[test]
fn the_fixed_words_are_those_of_the_parser() {
    listed::<words::Purpose>("`purpose`");
    listed::<words::Event>("`after`");
    listed::<words::Population>("`patients`");
    listed::<words::Means>("`method`, `by`");
    listed::<words::Site>("`temperature at`");
    listed::<words::Medium>("`temperature of`");
    listed::<words::Scale>("`score of`");
    listed::<words::Sign>("`choice of`");
    listed::<words::Analyte>("`amount of`");
    listed::<words::Route>("routes");
    listed::<words::DrugClass>("`class`");
    listed::<words::Occasion>("checklist `at`");
    listed::<words::Topic>("`covers`");
    listed::<words::Guideline>("`guideline`");
    let rows = concat!(
        include_str!("../src/checks/evidence/rows/after_arrest.rs"),
        include_str!("../src/checks/evidence/rows/monitoring.rs"),
        include_str!("../src/checks/evidence/rows/newborn.rs"),
        include_str!("../src/checks/evidence/rows/theatre.rs"),
    );
    for mark in row("marks that the checks know") {
        assert!(
            rows.contains(&format!("\"{mark}\"")),
            "no check knows `{mark}`"
        );
    }
}

#[test]
fn the_units_are_those_of_the_parser() {
    let section = REFERENCE
        .split_once("**Every unit that is read.**")
        .and_then(|(_, rest)| rest.split_once("\n\n## "))
        .expect("a list of units")
        .0;
    let listed: BTreeSet<&str> = section.split('`').skip(1).step_by(2).collect();
    let read: BTreeSet<&str> = UNITS
        .iter()
        .flat_map(|unit| std::iter::once(unit.name).chain(unit.spellings.iter().copied()))
        .collect();
    assert_eq!(listed, read);
}

/// What the examples take for granted, each with the words by which an example
/// declares it itself.
const BACKGROUND: &[(&str, &str)] = &[
    ("title ", r#"title "Example""#),
    ("unit ", r#"unit "Example""#),
    ("version ", "version 1.0.0"),
    ("review ", "review 2027-01-01"),
    (
        "purpose ",
        "purpose therapeutic-hypothermia after cardiac-arrest",
    ),
    (
        "patients ",
        "patients adult, weight 40 kg to 140 kg, core 33.0 °C to 37.5 °C on arrival",
    ),
    ("method ", "method surface feedback from core"),
    ("timezone ", r#"timezone "Europe/London""#),
    (
        "people {",
        r#"people { nurse "Nurse"
                    doctor "Doctor"
                    intensivist "Doctor"
                    consultant "Consultant" }"#,
    ),
    ("cite ttm2-2021", r#"cite ttm2-2021 "A trial""#),
    (
        "cite committee-minutes",
        r#"cite committee-minutes "Minutes""#,
    ),
    ("mark rosc", r#"mark rosc "Return of circulation""#),
    ("mark birth", r#"mark birth "Birth""#),
    (
        "mark randomisation",
        r#"mark randomisation "Randomisation""#,
    ),
    ("mark awake-and-clear", r#"mark awake-and-clear "Awake""#),
    ("mark sedation-off", r#"mark sedation-off "Sedation off""#),
    (
        "reading core ",
        r#"reading core "Core" temperature at bladder, shown to 0.1 °C, accurate to 0.2 °C"#,
    ),
    (
        "reading second ",
        r#"reading second "Second" temperature at esophagus, shown to 0.1 °C, accurate to 0.2 °C"#,
    ),
    (
        "reading water ",
        r#"reading water "Water" temperature of water, shown to 0.1 °C"#,
    ),
    (
        "reading shiver ",
        r#"reading shiver "Shivering" score of shivering 0 to 3"#,
    ),
    (
        "reading comfort ",
        r#"reading comfort "Comfort" score 1 to 10"#,
    ),
    (
        "reading potassium ",
        r#"reading potassium "Potassium" amount of potassium in mmol/L, shown to 0.1 mmol/L,
           reads 1.0 mmol/L to 10.0 mmol/L"#,
    ),
    (
        "reading pressure ",
        r#"reading pressure "Pressure" amount in mmHg, shown to 1 mmHg, reads 0 mmHg to 300 mmHg"#,
    ),
    (
        "reading awake ",
        r#"reading awake "Responds to" choice alert or verbal or pain"#,
    ),
    (
        "phase cool ",
        "phase cool \"Cool\" {\n cool core to 33.0 °C\n}",
    ),
    (
        "phase hold ",
        "phase hold \"Hold\" {\n hold core at 33.0 °C within 0.5 °C\n lasts 24 h\n}",
    ),
    (
        "phase rewarm ",
        "phase rewarm \"Rewarm\" {\n warm core to 36.5 °C\n}",
    ),
    (
        "phase guard ",
        "phase guard \"Guard\" {\n keep core at or below 37.7 °C\n lasts 24 h\n}",
    ),
    (
        "rule too-cold ",
        "rule too-cold {\n when core below 32.0 °C\n then continue\n}",
    ),
    (
        "rule cold-water ",
        "rule cold-water {\n when water below 5 °C\n then continue\n}",
    ),
    (
        "ladder shivering-steps ",
        r#"ladder shivering-steps "Shivering" on shiver { rung 0 to 3 "Any" { continue } }"#,
    ),
    (
        "checklist turning ",
        r#"checklist turning "Turning" at each-shift { step "Turn" }"#,
    ),
    (
        "medication magnesium ",
        r#"medication magnesium "Magnesium sulfate" { dose 2 g iv over 30 min }"#,
    ),
    (
        "medication dexmedetomidine ",
        r#"medication dexmedetomidine "Dexmedetomidine" { infuse 0.2 mcg/kg/h
                                                          concentration 4 mcg/mL }"#,
    ),
    (
        "medication paracetamol ",
        r#"medication paracetamol "Paracetamol" { dose 1 g oral }"#,
    ),
];

/// The file with all that it takes for granted, or `None` where it is no protocol.
fn with_background(file: &str) -> Option<String> {
    if file.starts_with("# Invented") {
        return Some(file.to_owned());
    }
    let rest = file.strip_prefix("protocol example {\n")?;
    let mut whole = "protocol example {\n".to_owned();
    for (declares, text) in BACKGROUND {
        if !rest.lines().any(|line| line.starts_with(declares)) {
            whole.push_str(text);
            whole.push('\n');
        }
    }
    whole.push_str(rest);
    Some(whole)
}

#[test]
fn every_example_means_something() {
    let shared = "library shared {\n cite shared-source \"A source\"\n}\n";
    let mut lowered = 0;
    let mut faults = Vec::new();
    for example in fenced("protocol") {
        if example.context.starts_with("refused") {
            continue;
        }
        for file in files(&example)
            .iter()
            .filter_map(|file| with_background(file))
        {
            let library = MemoryLibrary::default()
                .with("example.protocol", &file)
                .with("shared/shivering.protocol", shared);
            let loaded = load(&library, &["example.protocol"]).expect("held in memory");
            lowered += loaded.protocols.len();
            for fault in loaded.diagnostics {
                if fault.name != "unused-name" {
                    let at = loaded.sources.text(fault.place.span);
                    faults.push(format!("line {}: {}: `{at}`", example.line, fault.title));
                }
            }
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
    assert!(lowered > 60, "only {lowered} lowered");
}
