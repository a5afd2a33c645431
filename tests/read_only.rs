//! Folders in which whoever runs the program may not write: it says so, and what was there stays.

#![cfg(target_os = "linux")]
#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

use std::collections::BTreeMap;
use std::os::unix::fs::{MetadataExt as _, PermissionsExt as _};
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// Whom nothing belongs to, by the custom of Linux.
const NOBODY: &str = "65534";

const HOST: &str = "src/checks/hosts/fever.protocol";

struct Project {
    folder: tempfile::TempDir,
    /// Within the folder, so that another user can run it.
    program: PathBuf,
    /// Whether it is run as another user.
    other: bool,
}

/// A protocol with all that is made from it; `None` where the test cannot be had.
fn project() -> Option<Project> {
    let folder = tempfile::tempdir().expect("a folder");
    let root = std::fs::metadata(folder.path()).expect("there").uid() == 0;
    if root && Command::new("setpriv").arg("--version").output().is_err() {
        assert!(
            std::env::var_os("CI").is_none(),
            "setpriv must be here: apt-get install util-linux"
        );
        eprintln!("SKIPPED: the administrator may write everywhere, and setpriv is not here");
        return None;
    }
    let path = folder.path().to_path_buf();
    let at = |name: &str| path.join(name);
    let host = std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(HOST))
        .expect("a protocol");
    std::fs::create_dir(at(".git")).expect("made");
    std::fs::write(at("p.protocol"), &host).expect("written");
    // The same, but not in the one style.
    std::fs::write(at("loose.protocol"), host.replace("  ", "   ")).expect("written");
    std::fs::copy(env!("CARGO_BIN_EXE_tempwright"), at("program")).expect("copied");
    let mut project = Project {
        program: at("program"),
        folder,
        other: false,
    };
    for arguments in [
        &["build", "p.protocol"][..],
        &["sheet", "p.protocol", "-o", "sheet.pdf"],
        &["kit", "p.protocol", "-o", "kit.html"],
    ] {
        let output = project.run(arguments);
        assert!(output.status.success(), "{arguments:?}: {output:?}");
    }
    // What is printed now would be another sheet.
    let changed = host.replacen("Prevention of fever", "New prevention of fever", 1);
    assert_ne!(host, changed);
    std::fs::write(at("p.protocol"), changed).expect("written");
    close(&path);
    project.other = root;
    Some(project)
}

/// Nobody may write in it any more, whoever it belongs to.
fn close(folder: &Path) {
    for entry in std::fs::read_dir(folder).expect("listed") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            close(&path);
        }
    }
    set(folder, 0o555);
}

fn set(path: &Path, mode: u32) {
    std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).expect("set");
}

impl Project {
    fn run(&self, arguments: &[&str]) -> Output {
        let mut command = if self.other {
            let mut command = Command::new("setpriv");
            command
                .args(["--reuid", NOBODY, "--regid", NOBODY, "--clear-groups"])
                .arg(&self.program);
            command
        } else {
            Command::new(&self.program)
        };
        command
            .args(arguments)
            .current_dir(self.folder.path())
            .output()
            .expect("the program starts")
    }

    /// Everything in the folder but the program, by its path.
    fn all(&self) -> BTreeMap<PathBuf, Vec<u8>> {
        let mut found = BTreeMap::new();
        let mut open = vec![self.folder.path().to_path_buf()];
        while let Some(folder) = open.pop() {
            for entry in std::fs::read_dir(folder).expect("listed") {
                let path = entry.expect("an entry").path();
                if path.is_dir() {
                    open.push(path);
                } else if path != self.program {
                    let bytes = std::fs::read(&path).expect("readable");
                    found.insert(path, bytes);
                }
            }
        }
        found
    }

    /// The program could not do it, names what it could not write and why, and has changed nothing.
    fn refuses(&self, arguments: &[&str], what: &str) {
        let before = self.all();
        let output = self.run(arguments);
        let said = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}: {output:?}");
        for part in [
            what,
            "` cannot be written: ",
            "you have no permission to write there",
            "nothing of it was changed",
        ] {
            assert!(said.contains(part), "{arguments:?}: no `{part}`: {said}");
        }
        assert_eq!(
            self.all().keys().collect::<Vec<_>>(),
            before.keys().collect::<Vec<_>>()
        );
        assert!(self.all() == before, "{arguments:?}: something was changed");
    }
}

impl Drop for Project {
    fn drop(&mut self) {
        let mut open = vec![self.folder.path().to_path_buf()];
        while let Some(folder) = open.pop() {
            set(&folder, 0o755);
            for entry in std::fs::read_dir(folder).into_iter().flatten().flatten() {
                if entry.path().is_dir() {
                    open.push(entry.path());
                }
            }
        }
    }
}

#[test]
fn what_cannot_be_written_is_named_and_what_was_there_stays() {
    let Some(project) = project() else { return };
    let made = project.all();
    assert!(made.len() >= 8, "{:?}", made.keys());
    // What only reads is served.
    for arguments in [
        &["check", "p.protocol"][..],
        &["timeline", "p.protocol"],
        &["sheet", "p.protocol", "--form", "md", "-o", "-"],
    ] {
        let output = project.run(arguments);
        assert!(output.status.success(), "{arguments:?}: {output:?}");
    }
    let by = ["--by", "Dr A <a@example.org>", "--on", "2026-11-24"];
    let approve: Vec<&str> = ["approve", "p.protocol"].into_iter().chain(by).collect();
    for (arguments, what) in [
        (&["build", "p.protocol"][..], "out/host-fever/"),
        (
            &["build", "p.protocol", "--out", "elsewhere"],
            "elsewhere/host-fever/",
        ),
        (&["sheet", "p.protocol", "-o", "sheet.pdf"], "sheet.pdf"),
        (&["sheet", "p.protocol", "-o", "new.html"], "new.html"),
        (&["fmt", "loose.protocol"], "loose.protocol"),
        (&approve, "p.protocol"),
        (&["kit", "p.protocol", "-o", "kit.html"], "kit.html"),
        (&["new", "next"], "next.protocol"),
        (
            &[
                "compare",
                "p.protocol",
                "loose.protocol",
                "--format",
                "html",
                "-o",
                "compare.html",
            ],
            "compare.html",
        ),
    ] {
        project.refuses(arguments, what);
    }
    // The folder can be written, what lies in it cannot: the rest is not begun.
    set(&project.folder.path().join("out"), 0o777);
    project.refuses(&["build", "p.protocol"], "out/host-fever/");
    // Or the test would prove nothing.
    set(&project.folder.path().join("out/host-fever"), 0o777);
    let output = project.run(&["build", "p.protocol"]);
    assert!(output.status.success(), "{output:?}");
    assert!(project.all() != made);
}
