//! The rule file of every protocol: it fits its schema, says all of the protocol,
//! and is refused once it was changed.

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

mod support;

use serde_json::{Value, json};
use support::{library, paths, protocol, without_positions};
use tempwright::rules::{self, RefusedFor};

#[test]
fn the_way_there_and_back_gives_the_same_protocol() {
    let library = library();
    for path in paths(&library) {
        let protocol = protocol(&library, &path);
        let file = rules::export(&protocol);
        let bytes = rules::to_bytes(&file);
        let (read, _) = rules::read_protocol(&bytes).unwrap_or_else(|why| panic!("{path}: {why}"));
        assert_eq!(read.file, file, "{path}");
        assert!(read.left_out.is_empty(), "{path}");
        let back = rules::to_model(&read.file).unwrap_or_else(|why| panic!("{path}: {why}"));
        assert_eq!(
            without_positions(&back),
            without_positions(&protocol),
            "{path}"
        );
        assert_eq!(rules::to_bytes(&rules::export(&back)), bytes, "{path}");
        assert_eq!(
            rules::fingerprint(&back),
            rules::fingerprint(&protocol),
            "{path}"
        );
    }
}

#[test]
fn positions_are_all_that_the_comparison_leaves_out() {
    let library = library();
    let one = protocol(&library, "protocols/adult-arrest-33.protocol");
    let mut other = one.clone();
    assert_eq!(without_positions(&one), without_positions(&other));
    other.phases.swap(0, 1);
    assert_ne!(without_positions(&one), without_positions(&other));
}

#[test]
fn every_rule_file_fits_the_schema() {
    let mut schemas = boon::Schemas::new();
    let mut compiler = boon::Compiler::new();
    let schema = rules::schema();
    assert_eq!(
        schema.get("$schema"),
        Some(&json!("https://json-schema.org/draft/2020-12/schema"))
    );
    compiler
        .add_resource("rules.json", schema)
        .expect("a schema");
    let index = compiler
        .compile("rules.json", &mut schemas)
        .expect("a valid schema");
    let library = library();
    let mut seen = 0;
    for path in paths(&library) {
        let file = rules::export(&protocol(&library, &path));
        let value = serde_json::to_value(&file).expect("JSON");
        if let Err(why) = schemas.validate(&value, index) {
            panic!("{path}: {why}");
        }
        seen += 1;
        // A schema that takes everything would prove nothing.
        for (pointer, member) in [
            ("", "notes"),
            ("/protocol", "notes"),
            ("/protocol/head", "notes"),
            ("/protocol/phases/0", "notes"),
            ("/protocol/phases/0/aim", "notes"),
            ("/protocol/readings/0/what", "notes"),
        ] {
            let mut changed = value.clone();
            let place = changed
                .pointer_mut(pointer)
                .and_then(Value::as_object_mut)
                .unwrap_or_else(|| panic!("{path}: nothing at {pointer}"));
            place.insert(member.to_owned(), json!("x"));
            assert!(
                schemas.validate(&changed, index).is_err(),
                "{path}: {pointer}/{member} was taken"
            );
        }
        let mut changed = value.clone();
        changed["protocol"]["phases"][0]["aim"]["kind"] = json!("freeze");
        assert!(schemas.validate(&changed, index).is_err(), "{path}");
        let mut changed = value;
        changed["protocol"]["head"]["purpose"] = json!("cooling");
        assert!(schemas.validate(&changed, index).is_err(), "{path}");
    }
    assert!(seen >= 26);
}

/// A rule file as JSON, to be changed by a test.
fn sample() -> Value {
    let library = library();
    let protocol = protocol(&library, "protocols/adult-arrest-33.protocol");
    serde_json::to_value(rules::export(&protocol)).expect("JSON")
}

fn refusal(value: &Value) -> rules::Refusal {
    rules::read(&serde_json::to_vec(value).expect("JSON")).expect_err("it is to be refused")
}

/// The checksum and fingerprint as an honest writer of another version would set them.
fn sealed(mut value: Value) -> Value {
    let meaning = normal(value["protocol"].clone());
    value["fingerprint"] = json!(hash(&meaning));
    value.as_object_mut().expect("members").remove("checksum");
    value["checksum"] = json!(hash(&value));
    value
}

fn hash(value: &Value) -> String {
    use sha2::Digest;
    let bytes = serde_json_canonicalizer::to_vec(value).expect("canonical");
    sha2::Sha256::digest(bytes)
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect()
}

/// The normal form by the names that `grammar/MEANING.md` lists.
fn normal(value: Value) -> Value {
    const UNORDERED: &str = "accepts avoid by checklists citations covers criteria doses during \
        guidelines ladders lets libraries limits looks marks measures medications method \
        on_arrival only_with overrides people readings reasons rules rungs shifts sources when_weight";
    match value {
        Value::Object(members) => members
            .into_iter()
            .map(|(name, member)| {
                let mut member = normal(member);
                if UNORDERED.split_whitespace().any(|one| one == name)
                    && let Some(list) = member.as_array_mut()
                {
                    list.sort_by_key(|one| serde_json_canonicalizer::to_vec(one).expect("JSON"));
                }
                (name, member)
            })
            .collect(),
        Value::Array(list) => list.into_iter().map(normal).collect(),
        other => other,
    }
}

#[test]
fn what_was_changed_after_it_was_written_is_refused() {
    let whole = sample();
    assert!(rules::read(&serde_json::to_vec(&whole).expect("JSON")).is_ok());

    let mut number = whole.clone();
    number["protocol"]["phases"][0]["never_faster"]["value"] = json!("20");
    assert_eq!(refusal(&number).reason, RefusedFor::BrokenFingerprint);

    let mut scenario = whole.clone();
    scenario["scenarios"][0]["title"] = json!("another");
    assert_eq!(refusal(&scenario).reason, RefusedFor::Changed);

    let mut approved = whole.clone();
    approved["approvals"] =
        json!([{ "by": "Nobody", "on": "2026-11-02", "fingerprint": whole["fingerprint"] }]);
    assert_eq!(refusal(&approved).reason, RefusedFor::Changed);

    // A text and its number that do not agree, however well they are sealed.
    let mut number = whole.clone();
    number["protocol"]["phases"][0]["never_faster"]["value"] = json!("20");
    let file = rules::read(&serde_json::to_vec(&sealed(number)).expect("JSON"))
        .expect("it is whole")
        .file;
    let why = rules::to_model(&file).expect_err("two numbers");
    assert_eq!(why.reason, RefusedFor::Inconsistent);
    assert!(
        why.title.contains("`2.0 °C/h` is stored as 20 K/h"),
        "{why}"
    );
}

#[test]
fn other_versions_are_read_or_refused() {
    let whole = sample();
    assert_eq!(
        sealed(whole.clone()),
        whole,
        "the test seals as the program does"
    );

    let mut major = whole.clone();
    major["format_version"] = json!("2.0");
    assert_eq!(refusal(&sealed(major)).reason, RefusedFor::OtherMajor);

    let mut same = whole.clone();
    same["protocol"]["rules"][0]["colour"] = json!("red");
    let why = refusal(&sealed(same.clone()));
    assert_eq!(why.reason, RefusedFor::UnknownField);
    assert!(why.title.contains("protocol.rules[0].colour"), "{why}");

    same["format_version"] = json!("1.7");
    let read = rules::read(&serde_json::to_vec(&sealed(same)).expect("JSON")).expect("newer");
    assert_eq!(read.left_out, ["protocol.rules[0].colour"]);
    assert!(rules::to_model(&read.file).is_ok());

    let mut other = whole.clone();
    other["format"] = json!("something-else");
    assert_eq!(refusal(&other).reason, RefusedFor::NotARuleFile);
    for version in ["", "1", "one.two", "1.0.0"] {
        let mut other = whole.clone();
        other["format_version"] = json!(version);
        assert_eq!(
            refusal(&other).reason,
            RefusedFor::NotARuleFile,
            "{version}"
        );
    }
}

#[test]
fn what_is_no_rule_file_is_refused_in_words() {
    for bytes in [&b""[..], b"{", b"[]", b"null", b"\xff", b"{\"format\": 3}"] {
        assert!(rules::read(bytes).is_err());
    }
    let deep = format!("{}{}", "[".repeat(100_000), "]".repeat(100_000));
    assert_eq!(
        rules::read(deep.as_bytes()).expect_err("too deep").reason,
        RefusedFor::NotJson
    );
    let bytes = serde_json::to_vec(&sample()).expect("JSON");
    let cut = rules::read(bytes.get(..bytes.len() / 2).expect("half")).expect_err("cut off");
    assert_eq!(cut.reason, RefusedFor::NotJson);

    let mut number = sample();
    number["protocol"]["rules"][0]["name"] = json!("other");
    insta::assert_snapshot!(refusal(&number), @r"
    the protocol in this rule file was changed after it was written: its fingerprint does not fit
      why:  it is not the protocol that the committee has approved under this fingerprint
      help: write the file again from the protocol; a rule file is never edited by hand
    ");
    let mut major = sample();
    major["format_version"] = json!("2.0");
    insta::assert_snapshot!(refusal(&major), @r"
    this rule file is of format 2; this program reads format 1
      why:  in another major version the same words can mean something else
      help: read it with the program that has written it, or write it again from the protocol with this one
    ");
}

/// A protocol whose every statement has a reason, also where it is only a part of
/// something; all of them stand in the rule file and come back.
#[test]
fn no_reason_is_lost() {
    let library = library();
    let mut text = library.files["protocols/adult-arrest-33.protocol"].clone();
    let mut given = 0;
    for (old, word) in [
        ("\n    by ", "by"),
        ("\n    target moves ", "target moves"),
        ("\n    at least 0", "at least"),
        ("\n    ready again when ", "ready again"),
        ("\n    again after ", "again after"),
        ("\n    overrides ", "overrides"),
        ("\n    class ", "class"),
        ("\n    concentration ", "concentration"),
        ("\n    only with ", "only with"),
        ("\n    rounded to ", "rounded to"),
        ("\n  title ", "title"),
        ("\n  review ", "review"),
        ("\n  timezone ", "timezone"),
        ("\n  shifts ", "shifts"),
        ("\n  workload ", "workload"),
        ("\n  mark ", "mark"),
        ("\n  method ", "method"),
        ("\n    recheck in ", "recheck"),
        ("\n      recheck in ", "recheck"),
    ] {
        let Some(at) = text.find(old) else { continue };
        let end = at + 1 + text[at + 1..].find('\n').expect("a line ends");
        if text[at..end].contains(['#', '{', '}']) || text[at..end].contains("because") {
            continue;
        }
        text.insert_str(end, &format!(" because \"Reason of {word}.\""));
        given += 1;
    }
    assert!(given >= 8, "only {given} statements were found:\n{text}");
    let mut changed = library.clone();
    let path = "protocols/adult-arrest-33.protocol";
    changed.files.insert(path.to_owned(), text);
    let whole = protocol(&changed, path);
    let file = rules::export(&whole);
    let said = String::from_utf8(rules::to_bytes(&file)).expect("UTF-8");
    assert_eq!(said.matches("\"Reason of ").count(), given);
    let (read, back) = rules::read_protocol(said.as_bytes()).expect("whole");
    assert_eq!(read.file, file);
    assert_eq!(without_positions(&back), without_positions(&whole));
    assert_ne!(
        rules::fingerprint(&whole),
        rules::fingerprint(&protocol(&library, path)),
        "a reason that the committee gave is part of what it has approved"
    );
}

/// A source that nobody has declared is told wherever it stands.
#[test]
fn a_source_that_is_not_declared_is_told_everywhere() {
    let library = library();
    let path = "protocols/adult-arrest-33.protocol";
    for statement in ["  review 2027-06-30", "  timezone \"Europe/London\""] {
        let text = &library.files[path];
        assert!(text.contains(statement), "{statement}");
        let text = text.replacen(statement, &format!("{statement} source nowhere"), 1);
        let mut changed = library.clone();
        changed.files.insert(path.to_owned(), text);
        let loaded = support::try_load(&changed, path);
        let found: Vec<&str> = loaded.diagnostics.iter().map(|found| found.name).collect();
        assert_eq!(found, ["unknown-name"], "{statement}");
    }
}

#[test]
fn as_many_otherwise_as_can_be_written_are_read_back() {
    let library = library();
    let path = "protocols/adult-arrest-33.protocol";
    let with = |number: usize| {
        let parentheses = format!("{}core above 38.4 °C{}", "(".repeat(30), ")".repeat(30));
        let chain = "give paracetamol otherwise ".repeat(number);
        let rule = format!(
            "\n  rule long-chain {{\n    when {parentheses} and (core below 38.9 °C or core above 39.0 °C)\n    then {chain}continue\n  }}\n"
        );
        let text = library.files[path].replacen("\n  rule ", &format!("{rule}\n  rule "), 1);
        let mut changed = library.clone();
        changed.files.insert(path.to_owned(), text);
        support::try_load(&changed, path)
    };
    let loaded = with(12);
    assert!(!loaded.has_errors(), "{:?}", loaded.diagnostics.first());
    let protocol = &loaded.protocols[0].1;
    let bytes = rules::to_bytes(&rules::export(protocol));
    let (_, back) = rules::read_protocol(&bytes).expect("it is read back");
    assert_eq!(without_positions(&back), without_positions(protocol));
    for number in [13, 5000] {
        let loaded = with(number);
        assert_eq!(loaded.diagnostics[0].name, "nested-too-deep", "{number}");
    }
}

#[test]
fn the_timeline_is_the_plan_of_the_blank_form_and_nothing_else_is_taken() {
    let value = sample();
    let timeline = value["timeline"].as_array().expect("a timeline");
    let phases = value["protocol"]["phases"].as_array().expect("phases");
    assert_eq!(timeline.len(), phases.len());
    for (times, phase) in timeline.iter().zip(phases) {
        assert_eq!(times["phase"], phase["name"]);
    }
    assert_eq!(
        timeline[0]["begins"],
        json!({ "earliest": "0", "planned": "0", "latest": "0" })
    );
    let mut other = value.clone();
    other["timeline"][1]["begins"]["planned"] = json!("1");
    let bytes = serde_json::to_vec(&sealed(other)).expect("JSON");
    let why = rules::read_protocol(&bytes).expect_err("it is not the plan");
    assert_eq!(why.reason, RefusedFor::Inconsistent);
    assert!(why.title.contains("`timeline[1].begins.planned`"), "{why}");
    // An older file has none, and is read.
    let mut older = value;
    older["format_version"] = json!("1.0");
    older.as_object_mut().expect("members").remove("timeline");
    let bytes = serde_json::to_vec(&sealed(older)).expect("JSON");
    assert!(rules::read_protocol(&bytes).is_ok());
}

#[test]
fn a_member_that_stands_twice_is_refused() {
    let text = serde_json::to_string(&sample()).expect("JSON");
    let twice = text.replacen("\"continuous\":", "\"continuous\":false,\"continuous\":", 1);
    assert_ne!(text, twice);
    assert!(rules::read(twice.as_bytes()).is_err());
}

#[test]
fn names_that_are_declared_nowhere_or_twice_are_refused() {
    let change = |change: &dyn Fn(&mut Value)| {
        let mut value = sample();
        change(&mut value);
        let file = rules::read(&serde_json::to_vec(&sealed(value)).expect("JSON"))
            .expect("it is whole")
            .file;
        rules::to_model(&file)
            .expect_err("it is to be refused")
            .title
    };
    let unknown = change(&|value| value["protocol"]["phases"][0]["aim"]["reading"] = json!("x"));
    assert!(unknown.contains("the reading `x`"), "{unknown}");
    let twice = change(&|value| {
        let first = value["protocol"]["rules"][0].clone();
        value["protocol"]["rules"][1] = first;
    });
    assert!(twice.contains("is declared twice"), "{twice}");
    let unit = change(&|value| {
        value["protocol"]["phases"][0]["never_faster"]["written"] = json!("2.0 °C");
    });
    assert!(unit.contains("not of the kind"), "{unit}");
}
