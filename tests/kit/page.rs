//! The page itself, driven by `tests/outside/kit.js`.
//!
//! `TEMPWRIGHT_KIT_CASES` is how many random cases each protocol has (else a few),
//! `TEMPWRIGHT_KIT_BINARY` how many of them go through the program itself and not only through its
//! functions, `TEMPWRIGHT_KIT_PICTURES` a folder for screenshots of every step.

use crate::case::{self, Made, Random};
use crate::engine;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::OnceLock;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The page, made once, or `None` where a browser is missing.
fn kit() -> Option<&'static Path> {
    static PAGE: OnceLock<PathBuf> = OnceLock::new();
    let modules = root().join("target/outside/node_modules/playwright-core");
    if !modules.is_dir() || !Path::new("/usr/bin/chromium").exists() {
        assert!(
            std::env::var_os("CI").is_none(),
            "the page must be tried here: see `.ci/run` for chromium and the npm line"
        );
        eprintln!("SKIPPED: the page needs chromium and the npm line of .ci/run");
        return None;
    }
    if let Some(stale) = engine::stale() {
        panic!("{stale}");
    }
    Some(PAGE.get_or_init(|| {
        let page = Path::new(env!("CARGO_TARGET_TMPDIR")).join("kit.html");
        let to = page.to_str().expect("UTF-8");
        let done = program(&["kit", "protocols", "-o", to]);
        assert!(done.status.success(), "{done:?}");
        page
    }))
}

fn program(arguments: &[&str]) -> std::process::Output {
    Command::new(env!("CARGO_BIN_EXE_tempwright"))
        .args(arguments)
        .current_dir(root())
        .output()
        .expect("the program runs")
}

fn driven(task: &Value) -> Value {
    let mut child = Command::new("node")
        .arg(root().join("tests/outside/kit.js"))
        .env("NODE_PATH", root().join("target/outside/node_modules"))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("node is there");
    let mut stdin = child.stdin.take().expect("piped");
    stdin
        .write_all(task.to_string().as_bytes())
        .expect("it reads");
    drop(stdin);
    let output = child.wait_with_output().expect("it ends");
    assert!(output.status.success(), "kit.js failed");
    let seen: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    // Nothing but the file itself is ever asked for, whatever was done.
    for request in seen["requests"].as_array().expect("a list") {
        let address = request.as_str().expect("an address");
        let own = address.starts_with("file:///") && address.ends_with("/kit.html");
        // The walk tries to send something, to see that it is stopped.
        assert!(own || address == "http://127.0.0.1:9/", "{address}");
    }
    seen
}

fn number(name: &str, usual: usize) -> usize {
    std::env::var(name).map_or(usual, |text| text.parse().expect("a number"))
}

#[test]
fn a_sheet_from_the_page_is_the_sheet_from_the_command_line() {
    let Some(page) = kit() else { return };
    let folder = tempfile::tempdir().expect("a folder");
    let (cases, through) = (
        number("TEMPWRIGHT_KIT_CASES", 20),
        number("TEMPWRIGHT_KIT_BINARY", 1),
    );
    let mut tasks = Vec::new();
    let mut wanted: Vec<(String, Made, Option<String>)> = Vec::new();
    for (seed, (path, protocol)) in case::protocols().into_iter().enumerate() {
        let mut random = Random::new(seed as u64 + 1);
        let mut left = through;
        for _ in 0..cases {
            let made = case::random(&mut random, &protocol);
            let mut sheet = case::expected(&protocol, &made);
            if left > 0 && (sheet.is_some() || through >= cases) {
                left -= 1;
                sheet = by_program(&path, &made, folder.path());
            }
            // The page alone refuses what should have been reviewed before.
            let day = made.day.parse().expect("a day");
            if tempwright::approval::review_over(&protocol, day).is_some() {
                sheet = None;
            }
            tasks.push(made.page.clone());
            wanted.push((path.clone(), made, sheet));
        }
    }
    let seen = driven(&json!({"page": page, "cases": tasks}));
    assert_eq!(seen["faults"], json!([]));
    let got = seen["cases"].as_array().expect("a list");
    assert_eq!(got.len(), wanted.len());
    let mut printed: BTreeMap<&str, (usize, usize)> = BTreeMap::new();
    for (got, (path, made, sheet)) in got.iter().zip(&wanted) {
        let same = got["html"].as_str() == sheet.as_deref();
        assert!(
            same,
            "{path}\n{made:?}\nthe page: {}\n{}\nthe command line prints: {}",
            got["status"],
            got["beside"],
            sheet.is_some()
        );
        assert_eq!(
            got["paper"], true,
            "what is printed is that document: {made:?}"
        );
        let count = printed.entry(path).or_default();
        count.0 += usize::from(sheet.is_some());
        count.1 += usize::from(sheet.is_none());
    }
    println!("same documents, and refused by both: {printed:?}");
    // Cases that are all refused would prove nothing.
    for (path, (sheets, _)) in &printed {
        assert!(
            sheets * 5 >= cases,
            "{path}: only {sheets} of {cases} print"
        );
    }
}

fn by_program(path: &str, made: &Made, folder: &Path) -> Option<String> {
    let to = folder.join("case.html");
    let mut arguments = vec!["sheet", path, "-o", to.to_str().expect("UTF-8")];
    arguments.extend(["--paper", if made.letter { "letter" } else { "a4" }]);
    for (name, value) in &made.arguments {
        arguments.extend([*name, value]);
    }
    let done = program(&arguments);
    match done.status.code() {
        Some(0) => Some(std::fs::read_to_string(&to).expect("written")),
        Some(2) => None,
        _ => panic!("{done:?}"),
    }
}

/// One case of each protocol, printed by the browser.
#[test]
fn every_printed_page_has_its_foot_and_the_parts_come_in_order() {
    let Some(page) = kit() else { return };
    let folder = tempfile::tempdir().expect("a folder");
    let protocols = case::protocols();
    let tasks: Vec<Value> = protocols
        .iter()
        .map(|(_, protocol)| {
            let head = &protocol.head;
            json!({
                "title": tempwright::document::text::inline(&head.title.markdown).plain(),
                "now": 1_795_574_700, // 2026-11-25 02:45
                "paper": "A4",
                "print": format!("{}.pdf", protocol.name.name),
                "fields": {"start": {"text": "0230", "day": "2026-11-25"}},
            })
        })
        .collect();
    let seen = driven(&json!({"page": page, "cases": tasks, "print": folder.path()}));
    for (path, protocol) in &protocols {
        let name = &protocol.name.name;
        let ours = folder.path().join(format!("{name}-program.pdf"));
        let ours = ours.to_str().expect("UTF-8");
        let done = program(&["sheet", path, "--start", "2026-11-25T02:30", "-o", ours]);
        assert!(done.status.success(), "{done:?}");
        let theirs = folder.path().join(format!("{name}.pdf"));
        let theirs = theirs.to_str().expect("UTF-8");
        let (browser, program) = (texts(theirs), texts(ours));
        println!(
            "{name}: {} pages by the browser, {} as PDF",
            browser.len(),
            program.len()
        );
        let print = tempwright::rules::fingerprint(protocol);
        for (index, text) in browser.iter().enumerate() {
            let page = format!("Page {} of {}", index + 1, browser.len());
            for wanted in [page.as_str(), &print[..16], "DRAFT: not approved for use"] {
                assert!(
                    text.contains(wanted),
                    "{name}, page {}: no {wanted}",
                    index + 1
                );
            }
            assert!(
                text.lines().count() > 8,
                "{name}: page {} is empty",
                index + 1
            );
        }
        assert_eq!(parts(&browser), parts(&program), "{name}");
        assert!(parts(&browser).len() >= 5, "{name}");
        let (more, less) = (
            browser.len().max(program.len()),
            browser.len().min(program.len()),
        );
        assert!(more - less <= 4, "{name}: {more} pages and {less}");
        codes(folder.path(), name, browser.len(), protocol, &print);
    }
    assert_eq!(seen["faults"], json!([]));
}

/// The text of each page.
fn texts(pdf: &str) -> Vec<String> {
    let output = Command::new("pdftotext")
        .args(["-raw", pdf, "-"])
        .output()
        .expect("pdftotext is there");
    let text = String::from_utf8(output.stdout).expect("UTF-8");
    let pages: Vec<String> = text.split('\u{c}').map(str::to_owned).collect();
    pages
        .into_iter()
        .filter(|page| !page.trim().is_empty())
        .collect()
}

/// The headings of the parts, in the order in which they are printed.
fn parts(pages: &[String]) -> Vec<String> {
    const PARTS: [&str; 8] = [
        "The case",
        "Before and during start",
        "The record",
        "If … then",
        "Doses",
        "Not responding",
        "Ending",
        "What was found and done",
    ];
    pages
        .iter()
        .flat_map(|page| page.lines())
        .map(str::trim)
        .filter(|line| PARTS.contains(line))
        .map(str::to_owned)
        .collect()
}

/// The code on each page says which protocol, version and fingerprint it is.
fn codes(
    folder: &Path,
    name: &str,
    pages: usize,
    protocol: &tempwright::model::Protocol,
    print: &str,
) {
    let done = Command::new("pdftoppm")
        // The lower right corner of A4, where the code stands.
        .args(["-r", "200", "-gray", "-png", "-x", "1250", "-y", "2000"])
        .args(["-W", "404", "-H", "339"])
        .arg(folder.join(format!("{name}.pdf")))
        .arg(folder.join(format!("{name}-page")))
        .status()
        .expect("pdftoppm is there");
    assert!(done.success());
    let wanted = format!("{name} {} {print}", protocol.head.version.value).to_uppercase();
    let mut pictures: Vec<PathBuf> = std::fs::read_dir(folder)
        .expect("the folder")
        .map(|entry| entry.expect("an entry").path())
        .filter(|path| {
            let file = path
                .file_name()
                .and_then(|file| file.to_str())
                .unwrap_or("");
            file.starts_with(&format!("{name}-page")) && file.ends_with("png")
        })
        .collect();
    pictures.sort();
    assert_eq!(pictures.len(), pages);
    for picture in pictures {
        let output = Command::new("zbarimg")
            .args(["--quiet", "--raw", "-Sdisable", "-Sqrcode.enable"])
            .arg(&picture)
            .output()
            .expect("zbarimg is there");
        let read = String::from_utf8_lossy(&output.stdout);
        assert!(
            read.lines().any(|line| line == wanted),
            "{}: {read}",
            picture.display()
        );
    }
}

#[test]
fn the_keyboard_alone_leads_from_opening_to_printing() {
    let Some(page) = kit() else { return };
    let mut seen = driven(&json!({
        "page": page,
        "walk": {"title": "Temperature control at 33", "now": 1_795_617_900}, // 2026-11-25 14:45
        "pictures": std::env::var("TEMPWRIGHT_KIT_PICTURES").ok(),
    }));
    println!("opened in {} ms", seen["opening"]);
    // The walk tries once to send something, and the browser says that it was stopped.
    let faults = seen["faults"].as_array_mut().expect("a list");
    faults.retain(|fault| {
        !fault.as_str().is_some_and(|fault| {
            fault.contains("connect-src") || fault.contains("Refused to connect")
        })
    });
    assert_eq!(*faults, Vec::<Value>::new());
    let steps = &seen["steps"];
    let text = |name: &str| {
        steps[name]
            .as_str()
            .unwrap_or_else(|| panic!("{name}: {steps}"))
    };
    assert_eq!(steps["chosen"], "chosen-title");
    assert_eq!(
        steps["names"],
        json!([
            "Start (needed)",
            "Start: day",
            "Weight",
            "Return of spontaneous circulation",
            "Return of spontaneous circulation: day",
            "Core temperature on arrival",
            "1 Cool to target: target reached at",
            "1 Cool to target: target reached at: day",
            "3 Rewarm slowly: target reached at",
            "3 Rewarm slowly: target reached at: day",
            "Paper",
        ])
    );
    assert!(
        text("which").contains("not a time by the 24-hour clock"),
        "{steps}"
    );
    assert_eq!(steps["invalid"], "true");
    assert_eq!(steps["offered"], "14:30");
    assert_eq!(steps["back"], "field-start");
    assert_eq!(
        text("start"),
        "✓ Wed 25 Nov 2026 14:30 (Europe/London), 15 min ago"
    );
    assert!(
        text("pounds").contains("“180 lb” is not a weight in kilograms"),
        "{steps}"
    );
    assert_eq!(steps["refused"]["focus"], "field-weight");
    assert_eq!(steps["refused"]["printed"], 0);
    assert!(text("ready").starts_with("Ready to print, with a draft mark on every page."));
    assert_eq!(steps["printed"], 1);
    assert!(
        text("reached").contains("Wed 25 Nov 17:40, 3 h 10 min after the start"),
        "{steps}"
    );
    assert!(text("reached").contains("later than now"), "{steps}");
    assert_eq!(steps["definite"], true);
    assert_eq!(
        text("changing"),
        "No sheet was ready when this page was printed."
    );
    assert_eq!(
        steps["next"],
        json!({
            "left": "",
            "paper": "No sheet was ready when this page was printed.",
            "status": "No sheet yet; needed: Start.",
            "focus": "field-start",
        }),
        "nothing of one patient is left for the next"
    );
    let blank =
        std::fs::read_to_string(root().join("out/adult-arrest-33/sheet.html")).expect("made");
    assert!(
        steps["blank"]["html"].as_str() == Some(blank.as_str()),
        "the blank form is that of `build`"
    );
    let reading = &steps["reading"];
    let html = reading["html"].as_str().expect("HTML");
    for wanted in ["<svg", "If … then", "Cold water"] {
        assert!(html.contains(wanted), "{wanted}");
    }
    assert!(!html.contains("The record</h2>"));
    assert!(
        reading["left"]
            .as_str()
            .is_some_and(|left| left.contains("accepted.")),
        "{reading}"
    );
    assert!(text("source").contains("protocol adult-arrest-33 {"));
    assert!(text("source").contains("# ---- protocols/shared/"));
    assert_eq!(steps["left"]["fields"], 0, "what was typed is gone");
    assert!(
        steps["left"]["focus"]
            .as_str()
            .is_some_and(|focus| focus.contains("Temperature control at 33"))
    );
    assert_eq!(
        steps["stopped"],
        json!([]),
        "nothing tried to leave the page"
    );
    assert_eq!(steps["kept"], json!(["", 0]));
    assert_eq!(steps["fetch"], "stopped");
    assert_eq!(steps["policy"], json!(["connect-src"]));
    for (view, found) in seen["axe"].as_object().expect("views") {
        assert_eq!(found["violations"], json!([]), "{view}");
        assert!(
            found["passes"].as_u64().is_some_and(|passes| passes > 10),
            "{view}"
        );
    }
    assert!(
        seen["axe"]
            .as_object()
            .is_some_and(|views| views.len() >= 8)
    );
    // Each thing by its title, in sentences that can be read aloud.
    for (field, begins) in [
        ("weight", "✗ The weight, 820 kg, is outside the range"),
        (
            "mark-rosc",
            "✗ “Return of spontaneous circulation” lies after the start.",
        ),
        ("reading-core", "✗ “Core temperature” cannot read 96.8 °C."),
        ("reached-cool", "✗ That is 30 min before the start."),
        (
            "reached-rewarm",
            "✗ “3 Rewarm slowly” cannot be over before it begins.",
        ),
    ] {
        let told = text(&format!("said of {field}")).replace('\u{a0}', " ");
        assert!(told.starts_with(begins), "{told}");
    }
    let covered = steps["covered"].as_array().expect("a list");
    assert_eq!(covered.len(), 21);
    assert!(covered.iter().all(|said| said == ""), "{covered:?}");
    for view in ["tablet", "upright"] {
        assert_eq!(steps[format!("{view} overlap")], false, "{view}");
        assert!(
            steps[view].as_i64().is_some_and(|over| over <= 0),
            "{view}: wider than the screen"
        );
    }
}
