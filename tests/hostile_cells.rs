//! Texts that a spreadsheet would run as a formula, in every table that the program writes: they are
//! cells of text, and numbers are numbers.

#![cfg(unix)]
#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

use serde_json::Value;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::Command;

#[path = "support/laden.rs"]
mod laden;
mod outside;

/// Each before a text's own words.
const BEFORE: [&str; 11] = [
    "=1+1 ",
    "=HYPERLINK(\"http://127.0.0.1:9/\") ",
    "+1+1 ",
    "-1+1|cmd ",
    "@SUM(A1) ",
    "\t=1+1 ",
    "\r=1+1 ",
    "\"=1+1 ",
    "\",=1+1 ",
    "  =1+1 ",
    "\u{2003}=1+1 ",
];

/// Not what begins a formula, once what a spreadsheet skips is skipped.
fn is_text_or_number(cell: &str) -> bool {
    let first = cell
        .trim_start_matches(|one: char| {
            one == '"' || (one.is_whitespace() && one != '\t' && one != '\r')
        })
        .chars()
        .next();
    let begins = first.is_some_and(|one| "=+-@\t\r\n|%＝＋－＠".contains(one));
    !begins || is_number(cell)
}

fn is_number(cell: &str) -> bool {
    let digits = cell.strip_prefix('-').unwrap_or(cell);
    let (whole, part) = digits.split_once('.').unwrap_or((digits, "0"));
    [whole, part]
        .iter()
        .all(|part| !part.is_empty() && part.bytes().all(|one| one.is_ascii_digit()))
}

#[test]
fn the_judge_knows_a_formula_from_a_number() {
    for bad in [
        "=1",
        "+1",
        "-1+1",
        "@A",
        "\t=1",
        "\r1",
        "\"=1",
        " =1",
        "\u{2003}=1",
        "＝1",
        "-",
        "-A1",
    ] {
        assert!(!is_text_or_number(bad), "{bad:?}");
    }
    for good in ["-0.5", "12", "0.25", "'=1", "core", "", "1:30", "a=b"] {
        assert!(is_text_or_number(good), "{good:?}");
    }
}

/// Every table of the folder, whatever made it.
fn tables(folder: &Path, found: &mut BTreeMap<PathBuf, String>) {
    for entry in std::fs::read_dir(folder).expect("listed") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            tables(&path, found);
        } else if path.extension().is_some_and(|ending| ending == "csv") {
            found.insert(path.clone(), std::fs::read_to_string(&path).expect("UTF-8"));
        }
    }
}

/// All tables that can be written of a protocol whose texts all begin so; and what went wrong.
fn written(before: &str, folder: &Path) -> BTreeMap<PathBuf, String> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let host =
        std::fs::read_to_string(root.join("src/checks/hosts/fever.protocol")).expect("a host");
    let host = host
        .trim_end()
        .strip_suffix('}')
        .expect("its end")
        .to_owned()
        + "  measure cold \"Cold\" area of core below 36.0 °C, goal at most 2.0 °C h\n}\n";
    let text = laden::each(&host, &|own| format!("{before}{own}"));
    std::fs::create_dir_all(folder.join(".git")).expect("made");
    std::fs::create_dir_all(folder.join("cases")).expect("made");
    std::fs::create_dir_all(folder.join("made")).expect("made");
    std::fs::write(folder.join("p.protocol"), text).expect("written");
    let log = |values: [&str; 3]| {
        let rows: String = values
            .iter()
            .enumerate()
            .map(|(at, value)| format!("{at}:00,{value},\"{}x\"\n", before.replace('"', "\"\"")))
            .collect();
        format!("time,core,\"{}\"\n{rows}", before.replace('"', "\"\""))
    };
    std::fs::write(
        folder.join(format!("cases/{}.csv", before.replace('/', ""))),
        log(["35.0", "36.5", "37.9"]),
    )
    .expect("written");
    std::fs::write(folder.join("cases/-0.5.csv"), log(["36.0", "35.5", "36.0"])).expect("written");
    for arguments in [
        &["build", "p.protocol", "--out", "made"][..],
        &[
            "sheet",
            "p.protocol",
            "--start",
            "2026-11-24T14:30",
            "-o",
            "made/case.pdf",
            "--also",
            "csv",
        ],
        &["sheet", "p.protocol", "-o", "made/blank.csv"],
        &["audit", "p.protocol", "cases", "-o", "made/audit.csv"],
    ] {
        let output = Command::new(env!("CARGO_BIN_EXE_tempwright"))
            .current_dir(folder)
            .args(arguments)
            .output()
            .expect("the program starts");
        assert!(
            matches!(output.status.code(), Some(0 | 1)),
            "{before:?}: {arguments:?}: {}{}",
            String::from_utf8_lossy(&output.stdout),
            String::from_utf8_lossy(&output.stderr)
        );
    }
    let mut found = BTreeMap::new();
    tables(&folder.join("made"), &mut found);
    let names: Vec<_> = found
        .keys()
        .filter_map(|path| path.file_name()?.to_str())
        .collect();
    assert_eq!(
        names,
        ["audit.csv", "blank.csv", "case.csv", "schedule.csv"],
        "{before:?}"
    );
    found
}

#[test]
fn no_cell_of_any_table_is_run_as_a_formula() {
    let mut tables = Vec::new();
    for before in BEFORE {
        let folder = tempfile::tempdir().expect("a folder");
        for (path, text) in written(before, folder.path()) {
            let name = path
                .file_name()
                .expect("a name")
                .to_string_lossy()
                .into_owned();
            tables.push((before, name, text));
        }
    }
    let input: String = tables
        .iter()
        .map(|(.., text)| format!("{}\n", Value::from(text.as_str())))
        .collect();
    let Some(said) = outside::python("csv_read.py", "csv", &[], &input) else {
        return;
    };
    assert_eq!(said.lines().count(), BEFORE.len() * 4);
    for ((before, name, _), said) in tables.iter().zip(said.lines()) {
        let rows: Vec<Vec<String>> = serde_json::from_str(said).expect("JSON");
        let width = rows[0].len();
        let mut held = 0;
        for row in &rows {
            assert_eq!(row.len(), width, "{before:?} in {name}: {row:?}");
            for cell in row {
                assert!(is_text_or_number(cell), "{before:?} in {name}: {cell:?}");
                held += usize::from(cell.contains(before.trim()));
            }
        }
        assert!(held >= 2, "{before:?} stands in {held} cells of {name}");
        if name == "audit.csv" {
            figures(&rows);
        }
    }
}

/// Values are numbers, as bare as they are.
fn figures(rows: &[Vec<String>]) {
    let column = |name: &str| {
        rows[0]
            .iter()
            .position(|head| head == name)
            .expect("a column")
    };
    let (value, case) = (column("value"), column("case"));
    let mut numbers = 0;
    for row in &rows[1..] {
        assert!(row[value].is_empty() || is_number(&row[value]), "{row:?}");
        numbers += usize::from(!row[value].is_empty());
    }
    assert!(numbers >= 20, "{numbers} figures");
    assert!(
        rows.iter().any(|row| row[case] == "-0.5"),
        "a number stays one"
    );
}
