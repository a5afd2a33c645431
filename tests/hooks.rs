//! The hook and the merge-request job of `protocols/`, in a repository of their own:
//! what they let through, what they stop, and what stands in the comment.

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

use std::path::Path;
use std::process::{Command, Output};

/// A unit's repository, with this project's protocols at its top.
struct Repository(tempfile::TempDir);

impl Repository {
    fn new() -> Repository {
        let folder = tempfile::tempdir().expect("a folder");
        copy(
            &Path::new(env!("CARGO_MANIFEST_DIR")).join("protocols"),
            folder.path(),
        );
        // Two are enough to see what a change does, and are checked in less time.
        for name in [
            "accidental-hypothermia",
            "adult-arrest-normothermia",
            "newborn-cooling",
            "theatre-warmth",
        ] {
            std::fs::remove_file(folder.path().join(format!("{name}.protocol"))).expect("copied");
        }
        let repository = Repository(folder);
        for arguments in [
            &["init", "--quiet", "--initial-branch", "main"][..],
            &["config", "user.name", "A committee"],
            &["config", "user.email", "committee@example.org"],
            &["add", "--all"],
            &["commit", "--quiet", "--message", "As approved"],
        ] {
            let output = repository.run("git", arguments);
            assert!(output.status.success(), "{}", told(&output));
        }
        repository
    }

    fn run(&self, program: &str, arguments: &[&str]) -> Output {
        let own = Path::new(env!("CARGO_BIN_EXE_tempwright"));
        let own = own.parent().expect("its folder").display();
        let others = std::env::var("PATH").expect("a path");
        Command::new(program)
            .args(arguments)
            .current_dir(self.0.path())
            .env("PATH", format!("{own}:{others}"))
            .env("HOME", self.0.path())
            .env("PRE_COMMIT_HOME", self.0.path().join(".git/pre-commit"))
            .env_remove("GIT_DIR")
            .env_remove("GIT_INDEX_FILE")
            .env_remove("GIT_WORK_TREE")
            .output()
            .expect("ran")
    }

    fn change(&self, file: &str, old: &str, new: &str) {
        let path = self.0.path().join(file);
        let text = std::fs::read_to_string(&path).expect("there");
        assert!(text.contains(old), "{file}: {old}");
        std::fs::write(&path, text.replacen(old, new, 1)).expect("written");
    }

    fn commit(&self) -> Output {
        self.run(
            "git",
            &["commit", "--all", "--quiet", "--message", "A change"],
        )
    }
}

fn copy(from: &Path, to: &Path) {
    for entry in std::fs::read_dir(from).expect("listed") {
        let path = entry.expect("an entry").path();
        let target = to.join(path.file_name().expect("a name"));
        if path.is_dir() {
            std::fs::create_dir(&target).expect("made");
            copy(&path, &target);
        } else {
            std::fs::copy(&path, &target).expect("copied");
        }
    }
}

fn told(output: &Output) -> String {
    format!(
        "{}{}",
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr)
    )
}

fn is_there(program: &str) -> bool {
    let found = Command::new(program).arg("--version").output();
    let there = found.is_ok_and(|output| output.status.success());
    if !there {
        assert!(std::env::var_os("CI").is_none(), "{program} must run here");
        eprintln!("SKIPPED: this needs {program}");
    }
    there
}

#[test]
fn a_commit_with_a_fault_is_stopped_and_a_clean_one_is_made() {
    if !is_there("pre-commit") {
        return;
    }
    let repository = Repository::new();
    let installed = repository.run("pre-commit", &["install"]);
    assert!(installed.status.success(), "{}", told(&installed));

    let file = "heat-stroke.protocol";
    // A difference where a temperature is meant.
    let (old, new) = ("never above", "never  above");
    repository.change(file, old, new);
    let output = repository.commit();
    assert!(!output.status.success());
    let said = told(&output);
    assert!(
        said.contains("in the one style") && said.contains(file),
        "{said}"
    );
    repository.change(file, new, old);

    repository.change(file, "39.0 °C", "39.0 °C/h");
    let output = repository.commit();
    assert!(!output.status.success());
    let said = told(&output);
    assert!(said.contains("unit-mismatch"), "{said}");
    repository.change(file, "39.0 °C/h", "39.0 °C");

    repository.change(file, "expect no late", "expect late");
    let output = repository.commit();
    assert!(!output.status.success());
    let said = told(&output);
    assert!(
        said.contains("scenarios go as expected") && said.contains("FAIL"),
        "{said}"
    );
    repository.change(file, "expect late", "expect no late");

    repository.change(file, "  version 1.3.0", "  version 1.3.1");
    let output = repository.commit();
    assert!(output.status.success(), "{}", told(&output));
}

#[test]
fn a_merge_request_is_tried_and_its_effect_on_a_patient_is_told() {
    let repository = Repository::new();
    let job = |arguments: &[&str]| repository.run("sh", arguments);
    let branched = repository.run("git", &["checkout", "--quiet", "-b", "change"]);
    assert!(branched.status.success());
    repository.change(
        "adult-arrest-33.protocol",
        "  version 2.2.0",
        "  version 2.2.1",
    );
    let output = job(&["merge-request.sh", "main"]);
    assert_eq!(output.status.code(), Some(0), "{}", told(&output));
    let comment = std::fs::read_to_string(repository.0.path().join("comment.md"));
    let comment = comment.expect("a comment");
    assert!(
        comment.contains("adult-arrest-33") && comment.contains("2.2.1"),
        "{comment}"
    );

    // A finding fails the job; the comment is made all the same.
    repository.change("adult-arrest-33.protocol", "37.7 °C", "41.7 °C");
    let output = job(&["merge-request.sh", "main", "other.md"]);
    assert_eq!(output.status.code(), Some(1), "{}", told(&output));
    assert!(repository.0.path().join("other.md").exists());

    let output = job(&["merge-request.sh", "no-such-branch"]);
    assert_eq!(output.status.code(), Some(1), "{}", told(&output));
    let output = job(&["merge-request.sh"]);
    assert_ne!(output.status.code(), Some(0), "{}", told(&output));
}

/// The job file calls that script, and nothing that is not there.
#[test]
fn the_job_file_calls_the_script() {
    let job = include_str!("../protocols/.gitlab-ci.yml");
    assert!(job.contains(
        "- sh merge-request.sh \"origin/$CI_MERGE_REQUEST_TARGET_BRANCH_NAME\" comment.md"
    ));
    if !is_there("python3") {
        return;
    }
    let output = Command::new("python3")
        .args([
            "-c",
            "import sys, yaml\nfor name in sys.argv[1:]:\n  print(sorted(yaml.safe_load(open(name, encoding='utf-8'))))",
            "protocols/.gitlab-ci.yml",
            "protocols/.pre-commit-config.yaml",
        ])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .expect("ran");
    if output.status.success() {
        assert_eq!(told(&output), "['protocols']\n['repos']\n");
    } else {
        assert!(std::env::var_os("CI").is_none(), "{}", told(&output));
    }
}
