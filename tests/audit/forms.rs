//! The command: its forms and what it ends with.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn folder(name: &str) -> PathBuf {
    let folder =
        std::env::temp_dir().join(format!("tempwright-audit-{}-{name}", std::process::id()));
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).expect("a folder");
    folder
}

fn audit(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_tempwright"))
        .current_dir(root())
        .arg("audit")
        .arg("protocols/adult-arrest-33.protocol")
        .args(arguments)
        .output()
        .expect("the program runs")
}

fn text(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).expect("UTF-8")
}

const CLEAN: &str = "time,core,second,water,shiver,pressure,rosc,weight (kg)
-2:00,,,,,,yes,82
0:00,36.0,36.1,14.0,0,70,,
0:15,35.4,,,,,,
0:30,34.9,,,,,,
0:45,34.5,,,,,,
1:00,34.1,34.3,12.0,0,71,,
";

#[test]
fn clean_faulty_and_impossible_end_with_0_1_and_2() {
    let folder = folder("codes");
    let clean = folder.join("clean.csv");
    std::fs::write(&clean, CLEAN).expect("written");
    let output = audit(&[clean.to_str().expect("a path")]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output));
    let faulty = folder.join("faulty.csv");
    std::fs::write(&faulty, CLEAN.replace("34.9", "94.8")).expect("written");
    let output = audit(&[faulty.to_str().expect("a path")]);
    assert_eq!(output.status.code(), Some(1));
    assert!(text(&output).contains("line 5"), "{}", text(&output));
    for wrong in [
        &["/no/such/log.csv"][..],
        &[],
        &[folder.join("none").to_str().expect("a path")],
        &[clean.to_str().expect("a path"), "--start", "yesterday"],
        &[clean.to_str().expect("a path"), "--weight", "180 lb"],
        &[
            clean.to_str().expect("a path"),
            "--output",
            clean.to_str().expect("a path"),
        ],
    ] {
        let output = audit(wrong);
        assert_eq!(output.status.code(), Some(2), "{wrong:?}");
        assert!(!output.stderr.is_empty(), "{wrong:?}");
    }
    assert_eq!(std::fs::read_to_string(&clean).expect("read"), CLEAN);
    std::fs::remove_dir_all(&folder).expect("removed");
}

#[test]
fn a_folder_of_cases_in_every_form() {
    let folder = folder("forms");
    std::fs::write(folder.join("b.csv"), CLEAN).expect("written");
    std::fs::write(
        folder.join("=cmd|'x'!A1.csv"),
        CLEAN.replace("34.1", "33.0"),
    )
    .expect("written");
    std::fs::write(folder.join("notes.txt"), "no log").expect("written");
    let at = folder.to_str().expect("a path");
    let all = text(&audit(&[at]));
    assert!(all.contains("All 2 cases"), "{all}");
    let csv = text(&audit(&[at, "--form", "csv"]));
    let mut lines = csv.lines();
    assert_eq!(
        lines.next(),
        Some("\u{feff}case,protocol,version,figure,title,value,unit,shown,goal,met")
    );
    // Nothing that a spreadsheet would run.
    for line in lines.clone() {
        assert!(
            line.starts_with("'=cmd|'x'!A1,") || line.starts_with("b,"),
            "{line}"
        );
    }
    assert!(
        csv.contains("b,adult-arrest-33,2.2.0,entries.core.made,`core`: made,5,count,5,"),
        "{csv}"
    );
    let json: serde_json::Value =
        serde_json::from_str(&text(&audit(&[at, "--form", "json"]))).expect("JSON");
    assert_eq!(json["format_version"], 1);
    assert_eq!(json["cases"].as_array().expect("cases").len(), 2);
    assert_eq!(json["cases"][1]["case"], "b");
    let made = json["cases"][0]["figures"]
        .as_array()
        .expect("figures")
        .iter()
        .find(|figure| figure["key"] == "cool.time-to-target")
        .expect("a figure");
    assert_eq!(
        (&made["value"], &made["unit"]),
        (&"60".into(), &"min".into())
    );
    let page = folder.join("page.html");
    let output = audit(&[at, "-o", page.to_str().expect("a path")]);
    assert!(text(&output).is_empty());
    let html = std::fs::read_to_string(&page).expect("written");
    assert!(html.starts_with("<!DOCTYPE html>"));
    // A picture that the page itself holds needs nothing from elsewhere; the name of the
    // picture's language is no address.
    let elsewhere = html
        .replace("src=\"data:image/", "")
        .replace("http://www.w3.org/2000/svg", "");
    for banned in ["<script", "http://", "src="] {
        assert!(!elsewhere.contains(banned), "{banned}");
    }
    // A course for each case, and run charts over both.
    assert_eq!(html.matches("recorded over planned\"").count(), 2);
    assert!(html.matches(">median ").count() >= 1, "no run chart");
    std::fs::remove_dir_all(&folder).expect("removed");
}

#[test]
fn a_missed_goal_has_a_line_and_ends_with_1() {
    let folder = folder("missed");
    let log = folder.join("late.csv");
    let mut text = String::from(
        "time,core,second,water,shiver,pressure,rosc,weight (kg)\n-2:00,,,,,,yes,82\n",
    );
    // A quarter of an hour too late at the target, looked at as often as is asked.
    for quarter in 0..=17 {
        let (hour, minute) = (quarter / 4, quarter % 4 * 15);
        let core = if quarter < 17 { "33.1" } else { "33.0" };
        let hourly = if minute == 0 {
            format!("{core},14.0,0,70,,")
        } else {
            ",,,,,".to_owned()
        };
        text.push_str(&format!("{hour}:{minute:02},{core},{hourly}\n"));
    }
    std::fs::write(&log, text).expect("written");
    let output = audit(&[log.to_str().expect("a path"), "--form", "lines"]);
    assert_eq!(output.status.code(), Some(1));
    let missed: Vec<String> = self::text(&output)
        .lines()
        .filter(|line| line.contains("[goal-missed]"))
        .map(|line| line.replace('\u{a0}', " "))
        .collect();
    assert_eq!(
        missed,
        ["late:0: [goal-missed] `cool`: time until cooled to 33.0 °C: 4:15 h, goal within 4 h"]
    );
    std::fs::remove_dir_all(&folder).expect("removed");
}

#[test]
fn a_log_from_standard_input() {
    use std::io::Write as _;
    let mut child = Command::new(env!("CARGO_BIN_EXE_tempwright"))
        .current_dir(root())
        .args(["audit", "protocols/adult-arrest-33.protocol", "-"])
        .stdin(std::process::Stdio::piped())
        .stdout(std::process::Stdio::piped())
        .spawn()
        .expect("the program runs");
    child
        .stdin
        .take()
        .expect("piped")
        .write_all(CLEAN.as_bytes())
        .expect("written");
    let output = child.wait_with_output().expect("it ends");
    assert_eq!(output.status.code(), Some(0));
    assert!(text(&output).starts_with("standard input: adult-arrest-33"));
}

#[test]
fn a_log_over_the_chart_of_the_run_sheet() {
    let folder = folder("sheet");
    let log = folder.join("case.csv");
    std::fs::write(&log, CLEAN).expect("written");
    let sheet = |log: Option<&Path>| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_tempwright"));
        command
            .current_dir(root())
            .args([
                "sheet",
                "protocols/adult-arrest-33.protocol",
                "--form",
                "html",
                "-o",
                "-",
            ])
            .args([
                "--start",
                "2026-11-24T14:30",
                "--mark",
                "rosc=13:05",
                "--weight",
                "82 kg",
            ]);
        if let Some(log) = log {
            command.arg("--log").arg(log);
        }
        let output = command.output().expect("the program runs");
        assert_eq!(output.status.code(), Some(0));
        text(&output)
    };
    let dots = |html: &str| html.matches("<polygon").count();
    assert_eq!(dots(&sheet(Some(&log))), dots(&sheet(None)) + 5);
    std::fs::remove_dir_all(&folder).expect("removed");
}
