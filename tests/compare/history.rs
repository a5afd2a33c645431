//! A small history of the flagship, of the kinds of commit that committees make,
//! in a real repository in a temporary folder.

use std::path::{Path, PathBuf};
use std::process::Command;

/// One commit: its message and the texts that it replaces, file by file.
pub struct Commit {
    pub name: &'static str,
    pub message: &'static str,
    pub edits: &'static [(&'static str, &'static str, &'static str)],
}

pub const FLAGSHIP: &str = "protocols/adult-arrest-33.protocol";
const SHIVERING: &str = "protocols/shared/shivering.protocol";

pub const COMMITS: &[Commit] = &[
    Commit {
        name: "target",
        message: "Hold at 34.0 °C after the committee has read the new trial",
        edits: &[
            (FLAGSHIP, "version 2.2.0", "version 3.0.0"),
            (FLAGSHIP, "let goal = 33.0 °C", "let goal = 34.0 °C"),
            (
                FLAGSHIP,
                "when core below 32.5 °C during hold",
                "when core below 33.5 °C during hold",
            ),
            (
                FLAGSHIP,
                "until core at or above 32.8 °C\n    then call doctor within 15 min\n    ready again when core at or above 32.8 °C",
                "until core at or above 33.8 °C\n    then call doctor within 15 min\n    ready again when core at or above 33.8 °C",
            ),
            (
                FLAGSHIP,
                "when core above 33.5 °C for 1 h during hold",
                "when core above 34.5 °C for 1 h during hold",
            ),
        ],
    },
    Commit {
        name: "cap",
        message: "Rewarm more slowly at the most",
        edits: &[
            (FLAGSHIP, "version 3.0.0", "version 4.0.0"),
            (
                FLAGSHIP,
                "target moves every 1 h in steps of 0.1 °C\n    due within 18 h",
                "target moves every 1 h in steps of 0.1 °C\n    due within 16 h",
            ),
            (
                FLAGSHIP,
                "never faster than 0.5 °C/h",
                "never faster than 0.3 °C/h",
            ),
            (
                FLAGSHIP,
                "when core rises more than 0.5 °C in 1 h during rewarm",
                "when core rises more than 0.3 °C in 1 h during rewarm",
            ),
        ],
    },
    Commit {
        name: "guard",
        message: "Guard against fever for four days",
        edits: &[
            // The step is too small: the report has to say so.
            (FLAGSHIP, "version 4.0.0", "version 4.1.0"),
            (
                FLAGSHIP,
                "ends 72 h after rosc source erc-esicm-2022",
                "ends 96 h after rosc",
            ),
        ],
    },
    Commit {
        name: "rung",
        message: "One more step of shivering before deep sedation",
        edits: &[
            (FLAGSHIP, "version 4.1.0", "version 5.0.0"),
            (SHIVERING, "version 1.0.0", "version 2.0.0"),
            (
                SHIVERING,
                "    step \"Deep sedation\" {",
                "    step \"Warm air over the skin\" {\n      do \"Warm air over arms and legs; the trunk stays free\"\n      call doctor within 15 min\n      recheck in 20 min\n    }\n    step \"Deep sedation\" {",
            ),
        ],
    },
    Commit {
        name: "drug",
        message: "No opioid in the steps any more",
        edits: &[
            (FLAGSHIP, "version 5.0.0", "version 6.0.0"),
            (SHIVERING, "version 2.0.0", "version 3.0.0"),
            (
                SHIVERING,
                "    step \"Opioid\" {\n      call doctor within 15 min\n      give fentanyl otherwise continue\n      recheck in 20 min\n    }\n",
                "",
            ),
            (
                SHIVERING,
                "  medication fentanyl \"Fentanyl\" {\n    class opioid\n    dose 50 mcg iv over 2 min, not again within 20 min because \"The low end of the published 50 mcg to 150 mcg\"\n    concentration 10 mcg/mL\n    ceiling 300 mcg per 24 h\n    avoid \"Airway not protected\"\n  }\n",
                "",
            ),
            (
                FLAGSHIP,
                "  expect give fentanyl otherwise continue at 1:20\n",
                "",
            ),
            (
                FLAGSHIP,
                "  expect no give fentanyl otherwise continue\n",
                "  expect no give dexmedetomidine otherwise continue\n",
            ),
        ],
    },
    Commit {
        name: "rename",
        message: "Call the rule what the nurses call it",
        edits: &[
            (FLAGSHIP, "version 6.0.0", "version 6.1.0"),
            (FLAGSHIP, "rule too-cold {", "rule colder-than-hold {"),
            (
                FLAGSHIP,
                "overrides too-cold, too-warm",
                "overrides colder-than-hold, too-warm",
            ),
            (FLAGSHIP, "expect too-cold", "expect colder-than-hold"),
            (FLAGSHIP, "expect no too-cold", "expect no colder-than-hold"),
        ],
    },
    Commit {
        name: "typo",
        message: "Spelling",
        edits: &[
            (FLAGSHIP, "version 6.1.0", "version 6.1.1"),
            (
                FLAGSHIP,
                "Medicines are cleared more slowly when cold: they last longer and add up",
                "Medicines are cleared more slowly when cold; they last longer and add up",
            ),
        ],
    },
    Commit {
        name: "reformat",
        message: "Line up the columns",
        edits: &[
            (
                FLAGSHIP,
                "  purpose therapeutic-hypothermia after cardiac-arrest",
                "  purpose   therapeutic-hypothermia after cardiac-arrest",
            ),
            (
                FLAGSHIP,
                "  limit glucose never below 4.0 mmol/L\n  limit glucose never above 10.0 mmol/L",
                "  # sugar\n  limit glucose never above 10.0 mmol/L\n  limit glucose never below 4.0 mmol/L",
            ),
        ],
    },
    Commit {
        name: "looks",
        message: "Look every 30 min in the hold, and call sooner when it is too warm",
        edits: &[
            (FLAGSHIP, "version 6.1.1", "version 7.0.0"),
            (
                FLAGSHIP,
                "every 1 h record core during hold, guard, watch",
                "every 30 min record core during hold\n  every 1 h record core during guard, watch",
            ),
            (
                FLAGSHIP,
                "then follow esophageal-trouble\n    then call doctor within 30 min\n    again after 2 h\n  }\n\n  rule cold-water",
                "then follow esophageal-trouble\n    then call doctor within 15 min\n    again after 2 h\n  }\n\n  rule cold-water",
            ),
            (
                FLAGSHIP,
                "when core above 34.5 °C for 1 h during hold",
                "when core above 34.5 °C for 30 min during hold",
            ),
        ],
    },
    Commit {
        name: "limits",
        message: "Potassium: treat below 3.3, and never above 5.0",
        edits: &[
            (FLAGSHIP, "version 7.0.0", "version 8.0.0"),
            (
                FLAGSHIP,
                "limit potassium never above 5.5 mmol/L",
                "limit potassium never above 5.0 mmol/L",
            ),
            (
                FLAGSHIP,
                "when potassium above 5.5 mmol/L",
                "when potassium above 5.0 mmol/L",
            ),
            (
                FLAGSHIP,
                "when potassium below 3.5 mmol/L during cool, hold",
                "when potassium below 3.3 mmol/L during cool, hold",
            ),
        ],
    },
];

pub fn git(folder: &Path, arguments: &[&str]) -> String {
    let output = Command::new("git")
        .arg("-C")
        .arg(folder)
        .args(arguments)
        // Nothing of the machine's own set-up takes part.
        .env("GIT_CONFIG_GLOBAL", "/dev/null")
        .env("GIT_CONFIG_NOSYSTEM", "1")
        .env("GIT_AUTHOR_NAME", "A committee")
        .env("GIT_AUTHOR_EMAIL", "committee@example.org")
        .env("GIT_COMMITTER_NAME", "A committee")
        .env("GIT_COMMITTER_EMAIL", "committee@example.org")
        .env("GIT_AUTHOR_DATE", "2026-11-01T12:00:00Z")
        .env("GIT_COMMITTER_DATE", "2026-11-01T12:00:00Z")
        .output()
        .expect("git runs");
    assert!(
        output.status.success(),
        "git {arguments:?}: {}",
        String::from_utf8_lossy(&output.stderr)
    );
    String::from_utf8(output.stdout)
        .expect("text")
        .trim()
        .to_owned()
}

/// A folder of this process that is gone at the end.
pub struct Temporary(pub PathBuf);

impl Temporary {
    pub fn new(name: &str) -> Self {
        let folder = std::env::temp_dir().join(format!("tempwright-{name}-{}", std::process::id()));
        let _ = std::fs::remove_dir_all(&folder);
        std::fs::create_dir_all(&folder).expect("a folder");
        Temporary(folder)
    }
}

impl Drop for Temporary {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

pub fn copy_protocols(to: &Path) {
    let from = Path::new(env!("CARGO_MANIFEST_DIR")).join("protocols");
    for folder in ["", "shared"] {
        let into = to.join("protocols").join(folder);
        std::fs::create_dir_all(&into).expect("a folder");
        for entry in std::fs::read_dir(from.join(folder)).expect("protocols") {
            let path = entry.expect("an entry").path();
            if path.extension().is_some_and(|end| end == "protocol") {
                std::fs::copy(&path, into.join(path.file_name().expect("a name"))).expect("copied");
            }
        }
    }
}

/// The flagship and what it uses, then ten commits, each tagged with its name; the
/// first state is `start`.
pub fn repository(name: &str) -> Temporary {
    let folder = Temporary::new(name);
    let root = &folder.0;
    git(root, &["init", "--quiet", "--initial-branch", "main"]);
    copy_protocols(root);
    for entry in std::fs::read_dir(root.join("protocols")).expect("protocols") {
        let path = entry.expect("an entry").path();
        if path.is_file() && !path.ends_with("adult-arrest-33.protocol") {
            std::fs::remove_file(path).expect("removed");
        }
    }
    git(root, &["add", "."]);
    git(root, &["commit", "--quiet", "-m", "The protocol in force"]);
    git(root, &["tag", "start"]);
    for commit in COMMITS {
        for (file, from, to) in commit.edits {
            let path = root.join(file);
            let text = std::fs::read_to_string(&path).expect("text");
            assert!(
                text.contains(from),
                "{}: `{from}` stands in {file}",
                commit.name
            );
            std::fs::write(&path, text.replace(from, to)).expect("written");
        }
        git(root, &["commit", "--quiet", "-am", commit.message]);
        git(root, &["tag", commit.name]);
    }
    folder
}
