//! Comparing, listing and verifying in a real repository, with the set-up that the
//! README describes, and with what hostile hands write for revisions and paths.

#![allow(clippy::expect_used)] // a test says so by panicking

#[path = "compare/history.rs"]
#[allow(dead_code)]
mod history;

use history::{FLAGSHIP, Temporary, copy_protocols, git, repository};
use std::path::Path;
use std::process::{Command, Output};

fn tempwright(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_tempwright"))
        .current_dir(folder)
        .args(arguments)
        .env("GIT_CONFIG_GLOBAL", "/dev/null")
        .env("GIT_CONFIG_NOSYSTEM", "1")
        .output()
        .expect("the program runs")
}

fn said(output: &Output) -> String {
    format!(
        "{}{}",
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr)
    )
}

fn code(output: &Output) -> i32 {
    output.status.code().expect("a code")
}

/// Git with the program on its path.
fn git_with_program(folder: &Path, arguments: &[&str]) -> String {
    let program = Path::new(env!("CARGO_BIN_EXE_tempwright"));
    let path = format!(
        "{}:{}",
        program.parent().expect("a folder").display(),
        std::env::var("PATH").unwrap_or_default()
    );
    let output = Command::new("git")
        .arg("-C")
        .arg(folder)
        .args(arguments)
        .env("PATH", path)
        .env("GIT_CONFIG_GLOBAL", "/dev/null")
        .env("GIT_CONFIG_NOSYSTEM", "1")
        .output()
        .expect("git runs");
    assert!(output.status.success(), "{}", said(&output));
    String::from_utf8(output.stdout).expect("text")
}

/// The lines of the README's block that sets git up.
fn readme_setup() -> Vec<&'static str> {
    include_str!("../README.md")
        .lines()
        .filter(|line| line.starts_with("git config diff") || line.starts_with("echo '*.protocol"))
        .collect()
}

#[test]
fn the_set_up_of_the_readme_works() {
    let folder = repository("readme-git");
    let setup = readme_setup();
    assert_eq!(setup.len(), 3, "the README has the set-up: {setup:?}");
    for line in setup {
        let done = Command::new("sh")
            .current_dir(&folder.0)
            .args(["-c", line])
            .output()
            .expect("sh runs");
        assert!(done.status.success(), "{line}: {}", said(&done));
    }
    // The spread-out line is no difference any more; the comment is one.
    let diff = git_with_program(&folder.0, &["diff", "typo", "reformat", "--", "protocols"]);
    assert!(diff.contains("+  # sugar"), "{diff}");
    assert!(!diff.contains("therapeutic-hypothermia"), "{diff}");
    let told = git_with_program(
        &folder.0,
        &[
            "difftool",
            "--tool",
            "tempwright",
            "--no-prompt",
            "looks",
            "limits",
            "--",
            FLAGSHIP,
        ],
    );
    assert!(
        told.contains("limit `potassium never above`: changed, stricter"),
        "{told}"
    );
}

/// What a job on a merge request runs.
#[test]
fn a_merge_request_job_gets_its_comment() {
    let folder = repository("job");
    let output = tempwright(
        &folder.0,
        &[
            "compare",
            "start",
            "main",
            "--format",
            "markdown",
            "-o",
            "comment.md",
        ],
    );
    assert_eq!(code(&output), 1, "{}", said(&output));
    let comment = std::fs::read_to_string(folder.0.join("comment.md")).expect("a comment");
    assert!(comment.chars().count() <= 60_000);
    assert!(comment.starts_with("## Protocols: `start` → `main`"));
    let summary = comment.find("changes of meaning").expect("a summary");
    let folded = comment.find("<details>").expect("details");
    assert!(summary < folded);
    assert_eq!(
        comment.matches("<details>").count(),
        comment.matches("</details>").count()
    );
    let page = tempwright(&folder.0, &["compare", "cap", "guard", "--format", "html"]);
    let page = String::from_utf8(page.stdout).expect("text");
    assert!(page.contains("<svg") && page.contains("before (broken)"));
    for outside in ["http", "<script", "<link", "url(", "@import", "<img"] {
        assert!(!page.contains(outside), "{outside}");
    }
    let json = tempwright(
        &folder.0,
        &["compare", "looks", "limits", "--format", "json"],
    );
    let json: serde_json::Value = serde_json::from_slice(&json.stdout).expect("JSON");
    assert_eq!(json["compared"][0]["protocol"], "adult-arrest-33");
    assert!(
        json["compared"][0]["changes"]
            .as_array()
            .is_some_and(|all| all.len() == 3)
    );
    // Since the last commit nothing has changed; a comment says so and ends with 0.
    let same = tempwright(&folder.0, &["compare", "main", "--format", "markdown"]);
    assert_eq!(code(&same), 0, "{}", said(&same));
    assert!(said(&same).contains("**No change in meaning.**"));
}

#[test]
fn libraries_are_read_at_the_same_revision() {
    let folder = repository("revisions");
    let output = tempwright(
        &folder.0,
        &[
            "compare",
            &format!("guard:{FLAGSHIP}"),
            &format!("rung:{FLAGSHIP}"),
        ],
    );
    let text = said(&output);
    assert!(
        text.contains("step: added") && text.contains("Warm air over the skin"),
        "{text}"
    );
    // A file against a revision, a folder against a revision, from a folder below.
    let output = tempwright(
        &folder.0,
        &["compare", &format!("looks:{FLAGSHIP}"), FLAGSHIP],
    );
    assert_eq!(code(&output), 1, "{}", said(&output));
    let output = tempwright(&folder.0, &["compare", "looks:protocols", "protocols"]);
    assert_eq!(code(&output), 1, "{}", said(&output));
    let below = folder.0.join("protocols");
    let output = tempwright(
        &below,
        &[
            "compare",
            "main:./adult-arrest-33.protocol",
            "adult-arrest-33.protocol",
        ],
    );
    assert_eq!(code(&output), 0, "{}", said(&output));
}

#[test]
fn hostile_revisions_and_paths_are_refused() {
    let folder = repository("hostile");
    std::fs::write(folder.0.join("canary"), "there").expect("written");
    for wrong in [
        "--output=canary",
        "-x",
        "--upload-pack=touch canary2",
        "nowhere",
        "main:../../etc/passwd",
        "main:protocols/../../x.protocol",
        "main:/etc/passwd",
        "main:protocols/none.protocol",
        ":protocols/adult-arrest-33.protocol",
        "main~99999:protocols",
        "$(touch canary2)",
        "main; touch canary2",
        "main\nstart",
        "",
        "ext::sh -c touch% canary2",
        "none.protocol",
    ] {
        for arguments in [
            vec!["compare", "--", wrong, "main"],
            vec!["compare", "--", "main", wrong],
        ] {
            let output = tempwright(&folder.0, &arguments);
            assert_eq!(code(&output), 2, "{wrong:?}: {}", said(&output));
        }
        for command in ["history", "verify"] {
            let output = tempwright(&folder.0, &[command, "--", wrong]);
            assert_eq!(code(&output), 2, "{command} {wrong:?}: {}", said(&output));
        }
    }
    assert_eq!(
        std::fs::read_to_string(folder.0.join("canary")).expect("read"),
        "there"
    );
    assert!(!folder.0.join("canary2").exists());
    // A link in a commit is not followed out of it.
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink("/etc/passwd", folder.0.join("link.protocol")).expect("linked");
        git(&folder.0, &["add", "link.protocol"]);
        git(&folder.0, &["commit", "--quiet", "-m", "a link"]);
        let output = tempwright(&folder.0, &["compare", "HEAD:link.protocol", FLAGSHIP]);
        assert_eq!(code(&output), 2);
        assert!(said(&output).contains("it is a link"), "{}", said(&output));
    }
    let outside = Temporary::new("no-repository");
    copy_protocols(&outside.0);
    let output = tempwright(&outside.0, &["compare", "main"]);
    // The temporary folder may itself lie in somebody's repository.
    assert_eq!(code(&output), 2, "{}", said(&output));
}

#[test]
fn a_version_with_errors_is_not_half_compared() {
    let folder = repository("errors");
    let path = folder.0.join(FLAGSHIP);
    let text = std::fs::read_to_string(&path).expect("text");
    std::fs::write(&path, text.replacen("call doctor", "call somebody", 1)).expect("written");
    let output = tempwright(&folder.0, &["compare", "main"]);
    assert_eq!(code(&output), 2);
    assert!(said(&output).contains("`somebody`"), "{}", said(&output));
}

#[test]
fn the_history_lists_each_step() {
    let folder = repository("list");
    let output = tempwright(&folder.0, &["history", FLAGSHIP]);
    assert_eq!(code(&output), 0, "{}", said(&output));
    let lines: Vec<String> = said(&output)
        .lines()
        // The commits' names hang on the git that made them.
        .map(|line| line.get(11..).unwrap_or("").to_owned())
        .collect();
    insta::assert_snapshot!("history", lines.join("\n"));
    // The file's own rename is followed.
    git(&folder.0, &["mv", FLAGSHIP, "protocols/arrest.protocol"]);
    git(
        &folder.0,
        &["commit", "--quiet", "-m", "Another name for the file"],
    );
    let output = tempwright(&folder.0, &["history", "protocols/arrest.protocol"]);
    assert_eq!(
        said(&output).lines().count(),
        lines.len() + 1,
        "{}",
        said(&output)
    );
}

#[test]
fn a_sheet_is_traced_to_its_version() {
    let folder = repository("trace");
    let sheet = |name: &str| {
        let output = tempwright(&folder.0, &["sheet", FLAGSHIP, "-o", name]);
        assert_eq!(code(&output), 0, "{}", said(&output));
    };
    git(&folder.0, &["checkout", "--quiet", "cap"]);
    for name in ["old.pdf", "old.html", "old.md"] {
        sheet(name);
    }
    git(&folder.0, &["checkout", "--quiet", "main"]);
    for name in ["old.pdf", "old.html", "old.md"] {
        let output = tempwright(&folder.0, &["verify", name]);
        let text = said(&output);
        assert_eq!(code(&output), 1, "{text}");
        assert!(
            text.contains("adult-arrest-33 version 4.0.0"),
            "{name}: {text}"
        );
        assert!(
            text.contains("NOT in force: adult-arrest-33 is now version 8.0.0"),
            "{text}"
        );
    }
    sheet("now.pdf");
    let output = tempwright(&folder.0, &["verify", "now.pdf"]);
    assert!(
        said(&output).contains("nobody has approved it"),
        "{}",
        said(&output)
    );
    let output = tempwright(
        &folder.0,
        &[
            "approve",
            FLAGSHIP,
            "--by",
            "Committee",
            "--on",
            "2020-01-02",
        ],
    );
    assert_eq!(code(&output), 0, "{}", said(&output));
    let output = tempwright(&folder.0, &["verify", "now.pdf", "--on", "2027-01-01"]);
    assert_eq!(code(&output), 0, "{}", said(&output));
    assert!(said(&output).contains("\nin force: "), "{}", said(&output));
    let over = tempwright(&folder.0, &["verify", "now.pdf", "--on", "2029-01-01"]);
    assert_eq!(code(&over), 1);
    assert!(said(&over).contains("the review of"), "{}", said(&over));
    // A rule file that was changed by hand is not believed.
    let output = tempwright(&folder.0, &["build", FLAGSHIP, "--out", "made"]);
    assert_eq!(code(&output), 0, "{}", said(&output));
    let rules = "made/adult-arrest-33/rules.json";
    let output = tempwright(&folder.0, &["verify", rules, "--on", "2027-01-01"]);
    assert_eq!(code(&output), 0, "{}", said(&output));
    let text = std::fs::read_to_string(folder.0.join(rules)).expect("rules");
    std::fs::write(folder.0.join(rules), text.replacen("34", "35", 1)).expect("written");
    let output = tempwright(&folder.0, &["verify", rules]);
    assert_eq!(code(&output), 2);
    assert!(
        said(&output).contains("is not believed"),
        "{}",
        said(&output)
    );
    let output = tempwright(&folder.0, &["verify", &"0".repeat(64)]);
    assert_eq!(code(&output), 1);
    assert!(
        said(&output).contains("no version that is known here"),
        "{}",
        said(&output)
    );
}
