//! Approval: what is written, what it holds for, and what ends it. In a real
//! repository, through the program.

#![allow(clippy::expect_used)] // a test says so by panicking

#[path = "compare/history.rs"]
#[allow(dead_code)]
mod history;

use history::{Temporary, git};
use std::path::Path;
use std::process::{Command, Output};

const FILE: &str = "fever.protocol";
const DRAFT: &str = "DRAFT: not approved for use";
const ANNA: &str = "Dr Anna <anna@example.org>";
const BENT: &str = "Dr Bent <bent@example.org>";

fn tempwright(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_tempwright"))
        .current_dir(folder)
        .args(arguments)
        .env("GIT_CONFIG_GLOBAL", "/dev/null")
        .env("GIT_CONFIG_NOSYSTEM", "1")
        .output()
        .expect("the program runs")
}

fn code(output: &Output) -> i32 {
    output.status.code().expect("a code")
}

fn said(output: &Output) -> String {
    format!(
        "{}{}",
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr)
    )
}

fn read(folder: &Path) -> String {
    std::fs::read_to_string(folder.join(FILE)).expect("the protocol")
}

fn write(folder: &Path, text: &str) {
    std::fs::write(folder.join(FILE), text).expect("written");
}

/// A small complete protocol in a repository.
fn unit(name: &str) -> Temporary {
    let folder = Temporary::new(name);
    git(&folder.0, &["init", "--quiet", "--initial-branch", "main"]);
    let host = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/checks/hosts/fever.protocol");
    std::fs::copy(host, folder.0.join(FILE)).expect("copied");
    git(&folder.0, &["add", "."]);
    git(&folder.0, &["commit", "--quiet", "-m", "first"]);
    folder
}

fn approve(folder: &Path, by: &str, more: &[&str]) -> Output {
    let mut arguments = vec!["approve", FILE, "--by", by];
    if !more.contains(&"--on") {
        arguments.extend(["--on", "2020-01-02"]);
    }
    arguments.extend(more);
    tempwright(folder, &arguments)
}

fn sheet(folder: &Path, more: &[&str]) -> String {
    let mut arguments = vec!["sheet", FILE, "--form", "md", "-o", "-"];
    arguments.extend(more);
    let output = tempwright(folder, &arguments);
    assert_eq!(code(&output), 0, "{}", said(&output));
    String::from_utf8(output.stdout).expect("text")
}

#[test]
fn a_statement_is_added_and_nothing_else_is_touched() {
    let folder = unit("approve");
    let before = read(&folder.0);
    assert!(sheet(&folder.0, &[]).contains(DRAFT));
    for by in [ANNA, BENT] {
        let output = approve(&folder.0, by, &[]);
        assert_eq!(code(&output), 0, "{}", said(&output));
    }
    let after = read(&folder.0);
    let (statements, rest): (Vec<&str>, Vec<&str>) = after
        .split_inclusive('\n')
        .partition(|line| line.trim_start().starts_with("approved by"));
    assert_eq!(rest.concat(), before, "every other byte is as it was");
    assert_eq!(statements.len(), 2);
    assert!(statements[0].contains(ANNA) && statements[1].contains(BENT));
    let sheet = sheet(&folder.0, &[]);
    assert!(!sheet.contains(DRAFT), "{sheet}");
    assert!(sheet.contains("approved by Dr Anna"), "{sheet}");
    let again = approve(&folder.0, ANNA, &[]);
    assert_eq!(code(&again), 2, "nobody approves twice");
    assert_eq!(read(&folder.0), after);
}

#[test]
fn line_ends_and_a_brace_on_the_same_line_are_kept() {
    let folder = unit("approve-crlf");
    let text = read(&folder.0).replace('\n', "\r\n");
    write(&folder.0, &text);
    let output = approve(&folder.0, ANNA, &[]);
    assert_eq!(code(&output), 0, "{}", said(&output));
    let after = read(&folder.0);
    assert_eq!(after.matches('\n').count(), after.matches("\r\n").count());
    let rest: String = after
        .split_inclusive('\n')
        .filter(|line| !line.trim_start().starts_with("approved by"))
        .collect();
    assert_eq!(rest, text);
}

/// One number, word or order more or less, and the mark is back.
#[test]
fn any_change_of_meaning_brings_the_draft_mark_back() {
    let folder = unit("approve-change");
    assert_eq!(code(&approve(&folder.0, ANNA, &[])), 0);
    let approved = read(&folder.0);
    let phrases: Vec<&str> = approved
        .split(|c: char| c.is_whitespace() || c == '"')
        .filter(|word| word.len() > 2 || word.chars().any(|c| c.is_ascii_digit()))
        .collect();
    let (mut tried, mut lasting) = (0, Vec::new());
    for (index, word) in phrases.iter().enumerate() {
        // Every kind of word, not every word: each is a run of the program.
        if index % 2 != 0 {
            continue;
        }
        let changed = if let Some(at) = word.find(|c: char| c.is_ascii_digit()) {
            let digit = if &word[at..=at] == "1" { "2" } else { "1" };
            format!("{}{digit}{}", &word[..at], &word[at + 1..])
        } else {
            format!("{word}x")
        };
        write(&folder.0, &approved.replacen(word, &changed, 1));
        let output = tempwright(&folder.0, &["sheet", FILE, "--form", "md", "-o", "-"]);
        // A text with errors prints nothing at all.
        if code(&output) != 0 {
            continue;
        }
        tried += 1;
        let text = String::from_utf8_lossy(&output.stdout).into_owned();
        if !text.contains(DRAFT) {
            lasting.push(format!("{word} -> {changed}"));
        }
    }
    assert!(tried > 8, "{tried} changes gave a sheet");
    // The approval's own words, but for its fingerprint, and a comment mean nothing.
    lasting.retain(|change| {
        !approved.lines().any(|line| {
            let word = change.split(" -> ").next().expect("a word");
            (line.trim_start().starts_with("approved by") || line.trim_start().starts_with('#'))
                && line.contains(word)
        })
    });
    assert_eq!(lasting, Vec::<String>::new());
    // A comment ends nothing.
    write(&folder.0, &format!("# read again\n{approved}"));
    assert!(!sheet(&folder.0, &[]).contains(DRAFT));
    // The order of two orders does.
    let first = "then call doctor within 30 min";
    assert!(approved.contains(first), "the host has it");
    let two = approved.replacen(first, &format!("then do \"Look\"\n    {first}"), 1);
    let swapped = approved.replacen(first, &format!("{first}\n    then do \"Look\""), 1);
    write(&folder.0, &two);
    assert!(sheet(&folder.0, &[]).contains(DRAFT));
    assert_eq!(
        code(&approve(&folder.0, ANNA, &["--drop-stale"])),
        0,
        "it can be approved anew"
    );
    assert!(!sheet(&folder.0, &[]).contains(DRAFT));
    let line = read(&folder.0)
        .lines()
        .find(|line| line.contains("approved by"))
        .expect("the statement")
        .to_owned();
    let old_line = approved
        .lines()
        .find(|line| line.contains("approved by"))
        .expect("the statement");
    write(&folder.0, &swapped.replace(old_line, &line));
    assert!(sheet(&folder.0, &[]).contains(DRAFT));
}

#[test]
fn a_forged_statement_is_no_approval() {
    let folder = unit("approve-forged");
    assert_eq!(code(&approve(&folder.0, ANNA, &[])), 0);
    let approved = read(&folder.0);
    let at = approved.find(" as \"").expect("the statement") + 5;
    let print = &approved[at..at + 64];
    for forged in [
        &print[..8],
        &print[..63],
        &print.to_uppercase(),
        &format!("{print}0"),
        &"0".repeat(64),
        "",
    ] {
        write(&folder.0, &approved.replace(print, forged));
        let output = tempwright(&folder.0, &["sheet", FILE, "--form", "md", "-o", "-"]);
        let text = String::from_utf8_lossy(&output.stdout);
        assert!(code(&output) != 0 || text.contains(DRAFT), "`{forged}`");
    }
}

#[test]
fn a_review_that_is_over_brings_the_mark_back() {
    let folder = unit("approve-review");
    assert_eq!(code(&approve(&folder.0, ANNA, &[])), 0);
    let review = read(&folder.0)
        .lines()
        .find_map(|line| {
            line.trim()
                .strip_prefix("review")
                .map(|d| d.trim().to_owned())
        })
        .expect("a review");
    let on = sheet(&folder.0, &["--start", &format!("{review}T08:00")]);
    assert!(!on.contains(DRAFT), "{on}");
    let over = sheet(&folder.0, &["--start", "2031-01-01T08:00"]);
    assert!(
        over.contains(DRAFT) && over.contains("the review of"),
        "{over}"
    );
}

#[test]
fn what_may_not_be_approved_is_refused_and_left_alone() {
    let folder = unit("approve-refused");
    let good = read(&folder.0);
    for (by, more, why) in [
        ("", &[][..], "nobody"),
        ("a\" on 2020-01-01 as \"b", &[], "cannot hold"),
        ("a\nphase x", &[], "cannot hold"),
        (ANNA, &["--on", "2199-01-01"], "still to come"),
        (ANNA, &["--on", "2026-13-01"], "--on"),
    ] {
        let output = approve(&folder.0, by, more);
        assert_eq!(code(&output), 2, "{by:?}: {}", said(&output));
        assert!(said(&output).contains(why), "{by:?}: {}", said(&output));
        assert_eq!(read(&folder.0), good);
    }
    let bad = good.replacen("call doctor", "call nobody-here", 1);
    write(&folder.0, &bad);
    let output = approve(&folder.0, ANNA, &[]);
    assert_eq!(code(&output), 1, "{}", said(&output));
    assert_eq!(read(&folder.0), bad);
    // Approved and committed; another text under the same version is not newer.
    write(&folder.0, &good);
    assert_eq!(code(&approve(&folder.0, ANNA, &[])), 0);
    git(&folder.0, &["commit", "--quiet", "-am", "approved"]);
    let next = read(&folder.0).replacen("within 30 min", "within 20 min", 1);
    write(&folder.0, &next);
    let output = approve(&folder.0, BENT, &["--drop-stale"]);
    assert_eq!(code(&output), 2, "{}", said(&output));
    assert!(
        said(&output).contains("is not newer than"),
        "{}",
        said(&output)
    );
    assert_eq!(read(&folder.0), next);
    let version = next
        .lines()
        .find(|line| line.trim_start().starts_with("version"))
        .expect("a version");
    write(&folder.0, &next.replace(version, "  version 77.0.0"));
    let output = approve(&folder.0, BENT, &["--drop-stale"]);
    assert_eq!(code(&output), 0, "{}", said(&output));
    assert_eq!(read(&folder.0).matches("approved by").count(), 1);
}

#[test]
fn two_who_approve_at_once_lose_nothing() {
    let folder = unit("approve-at-once");
    let before = read(&folder.0);
    let names: Vec<String> = (0..8).map(|n| format!("Member {n}")).collect();
    let running: Vec<_> = names
        .iter()
        .map(|name| {
            Command::new(env!("CARGO_BIN_EXE_tempwright"))
                .current_dir(&folder.0)
                .args(["approve", FILE, "--on", "2020-01-02", "--by", name])
                .stdout(std::process::Stdio::null())
                .spawn()
                .expect("started")
        })
        .collect();
    for mut child in running {
        assert!(child.wait().expect("ended").success());
    }
    let after = read(&folder.0);
    for name in &names {
        assert!(after.contains(&format!("approved by \"{name}\"")), "{name}");
    }
    let rest: String = after
        .split_inclusive('\n')
        .filter(|line| !line.trim_start().starts_with("approved by"))
        .collect();
    assert_eq!(rest, before);
    let left = std::fs::read_dir(&folder.0).expect("listed").count();
    assert_eq!(left, 2, "only the protocol and .git are there");
}

/// On branches of their own git asks which line is meant; keeping both keeps both approvals.
#[test]
fn two_who_approve_on_branches_lose_nothing() {
    let folder = unit("approve-branches");
    for (branch, by) in [("anna", ANNA), ("bent", BENT)] {
        git(&folder.0, &["checkout", "--quiet", "-b", branch, "main"]);
        assert_eq!(code(&approve(&folder.0, by, &[])), 0);
        git(&folder.0, &["commit", "--quiet", "-am", branch]);
    }
    let merged = Command::new("git")
        .arg("-C")
        .arg(&folder.0)
        .args(["-c", "merge.conflictStyle=merge", "merge", "anna"])
        .output()
        .expect("git runs");
    assert!(!merged.status.success(), "git does not choose by itself");
    let output = tempwright(&folder.0, &["sheet", FILE, "--form", "md", "-o", "-"]);
    assert_ne!(code(&output), 0, "half merged is not printed");
    let both: String = read(&folder.0)
        .split_inclusive('\n')
        .filter(|line| {
            !["<<<<<<<", "=======", ">>>>>>>"]
                .iter()
                .any(|sign| line.starts_with(sign))
        })
        .collect();
    write(&folder.0, &both);
    let text = sheet(&folder.0, &[]);
    assert!(!text.contains(DRAFT), "{text}");
    for name in ["Dr Anna", "Dr Bent"] {
        assert!(text.contains(name), "{name}: {text}");
    }
}

fn key(folder: &Path, name: &str) {
    let done = Command::new("ssh-keygen")
        .args(["-q", "-t", "ed25519", "-N", "", "-C", name, "-f"])
        .arg(folder.join(name))
        .output()
        .expect("ssh-keygen runs");
    assert!(done.status.success());
}

#[test]
fn where_signatures_are_required_only_a_right_one_counts() {
    if Command::new("ssh-keygen").arg("-?").output().is_err() {
        assert!(
            std::env::var_os("CI").is_none(),
            "ssh-keygen is not installed"
        );
        eprintln!("ssh-keygen is not installed: nothing was compared");
        return;
    }
    let folder = unit("approve-signed");
    let keys = Temporary::new("approve-keys");
    for name in ["anna", "bent", "stranger"] {
        key(&keys.0, name);
    }
    let public = |name: &str| {
        std::fs::read_to_string(keys.0.join(format!("{name}.pub"))).expect("a public key")
    };
    let allowed = format!(
        "anna@example.org namespaces=\"tempwright-approval\" {}bent@example.org {}",
        public("anna"),
        public("bent")
    );
    std::fs::write(folder.0.join("allowed_signers"), allowed).expect("written");
    git(
        &folder.0,
        &["config", "gpg.ssh.allowedSignersFile", "allowed_signers"],
    );
    git(
        &folder.0,
        &["config", "tempwright.requireSignature", "true"],
    );
    let path = |name: &str| keys.0.join(name).display().to_string();

    let unsigned = approve(&folder.0, ANNA, &[]);
    assert_eq!(code(&unsigned), 0, "{}", said(&unsigned));
    let bare = read(&folder.0);
    assert!(sheet(&folder.0, &[]).contains("no signature of Dr Anna"));
    git(&folder.0, &["checkout", "--quiet", FILE]);

    let signed = approve(&folder.0, ANNA, &["--sign", &path("anna")]);
    assert_eq!(code(&signed), 0, "{}", said(&signed));
    assert_eq!(read(&folder.0), bare, "the statement is the same");
    let text = sheet(&folder.0, &[]);
    assert!(!text.contains(DRAFT), "{text}");
    let signature = std::fs::read_dir(&folder.0)
        .expect("listed")
        .map(|entry| entry.expect("an entry").path())
        .find(|path| path.extension().is_some_and(|end| end == "sig"))
        .expect("a signature");
    let good = std::fs::read(&signature).expect("read");

    // Anybody can verify it without this program.
    let statement = bare
        .lines()
        .find(|line| line.contains("approved by"))
        .expect("the statement")
        .trim()
        .to_owned()
        + "\n";
    std::fs::write(keys.0.join("statement"), &statement).expect("written");
    let verified = Command::new("ssh-keygen")
        .args([
            "-Y",
            "verify",
            "-n",
            "tempwright-approval",
            "-I",
            "anna@example.org",
            "-f",
        ])
        .arg(folder.0.join("allowed_signers"))
        .arg("-s")
        .arg(&signature)
        .stdin(std::fs::File::open(keys.0.join("statement")).expect("open"))
        .output()
        .expect("ran");
    assert!(verified.status.success(), "{}", said(&verified));

    // Made by somebody else, for somebody else, of another text, for another purpose.
    let other = |key: &str, namespace: &str, text: &str| {
        let file = keys.0.join("other");
        std::fs::write(&file, text).expect("written");
        let _ = std::fs::remove_file(keys.0.join("other.sig"));
        let done = Command::new("ssh-keygen")
            .args(["-q", "-Y", "sign", "-n", namespace, "-f"])
            .arg(keys.0.join(key))
            .arg(&file)
            .output()
            .expect("ran");
        assert!(done.status.success(), "{}", said(&done));
        std::fs::read(keys.0.join("other.sig")).expect("a signature")
    };
    let mut torn = good.clone();
    let middle = torn.len() / 2;
    torn[middle] = if torn[middle] == b'A' { b'B' } else { b'A' };
    for (what, bytes) in [
        (
            "a stranger",
            other("stranger", "tempwright-approval", &statement),
        ),
        (
            "another member",
            other("bent", "tempwright-approval", &statement),
        ),
        ("another purpose", other("anna", "file", &statement)),
        (
            "another text",
            other("anna", "tempwright-approval", "approved\n"),
        ),
        ("one letter", torn),
        ("nothing", Vec::new()),
    ] {
        std::fs::write(&signature, &bytes).expect("written");
        let text = sheet(&folder.0, &[]);
        assert!(text.contains(DRAFT), "{what}");
        assert!(text.contains("does not verify"), "{what}: {text}");
    }
    std::fs::write(&signature, &good).expect("written");
    assert!(!sheet(&folder.0, &[]).contains(DRAFT));
    // Signed for one day, claimed for another.
    write(
        &folder.0,
        &bare.replace("on 2020-01-02 as", "on 2020-01-01 as"),
    );
    assert!(sheet(&folder.0, &[]).contains(DRAFT));
    write(&folder.0, &bare);
    // A second member without a signature: his name would be printed too.
    assert_eq!(code(&approve(&folder.0, BENT, &[])), 0);
    assert!(sheet(&folder.0, &[]).contains("no signature of Dr Bent"));
    // `build` judges by the same.
    let output = tempwright(&folder.0, &["build", FILE, "--out", "made"]);
    assert_eq!(code(&output), 0, "{}", said(&output));
    let made = std::fs::read_dir(folder.0.join("made"))
        .expect("listed")
        .next()
        .expect("a folder")
        .expect("an entry")
        .path();
    let built = std::fs::read_to_string(made.join("sheet.md")).expect("a sheet");
    assert!(built.contains(DRAFT));
    // Nobody is allowed where no file says who.
    git(
        &folder.0,
        &["config", "--unset", "gpg.ssh.allowedSignersFile"],
    );
    assert!(sheet(&folder.0, &[]).contains("nothing says who may sign"));
}
