//! A git repository as a [`Library`], through the git program.
//!
//! What a person writes for a revision never becomes an option of git: it is refused
//! where it begins with `-`, and is turned into the name of a commit before anything
//! is read. Files are read with `cat-file`, libraries at the same revision.

use super::project::CannotRun;
use crate::source::{Library, MAX_FILE_BYTES, ReadError};
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

/// A working copy.
#[derive(Debug, Clone)]
pub struct Repository {
    top: PathBuf,
}

/// One commit of it; its files are a library.
#[derive(Debug, Clone)]
pub struct Revision {
    repository: Repository,
    /// In full.
    pub commit: String,
    /// As the person wrote it.
    pub said: String,
}

impl Repository {
    /// The one that this folder lies in.
    pub fn around(folder: &Path) -> Result<Repository, CannotRun> {
        let output = git(folder, &["rev-parse", "--show-toplevel"])?;
        if !output.status.success() {
            return Err(CannotRun(format!(
                "`{}` is in no git repository",
                folder.display()
            )));
        }
        let mut top = output.stdout;
        while top.last() == Some(&b'\n') {
            top.pop();
        }
        Ok(Repository {
            top: PathBuf::from(String::from_utf8_lossy(&top).into_owned()),
        })
    }

    pub fn top(&self) -> &Path {
        &self.top
    }

    /// Runs git; what it printed, or its own words why not.
    pub fn ask(&self, arguments: &[&str]) -> Result<String, CannotRun> {
        let output = git(&self.top, arguments)?;
        if output.status.success() {
            return Ok(String::from_utf8_lossy(&output.stdout).into_owned());
        }
        Err(CannotRun(format!(
            "git could not do it: {}",
            told(&output.stderr)
        )))
    }

    /// What git prints, if it has something to say.
    pub fn maybe(&self, arguments: &[&str]) -> Option<String> {
        let output = git(&self.top, arguments).ok()?;
        output
            .status
            .success()
            .then(|| String::from_utf8_lossy(&output.stdout).trim().to_owned())
    }

    pub fn revision(&self, said: &str) -> Result<Revision, CannotRun> {
        let strange = said.is_empty()
            || said.starts_with('-')
            || said.contains(':')
            || said.chars().any(|c| c.is_control() || c.is_whitespace());
        let unknown = || {
            CannotRun(format!(
                "`{}` is no revision of this repository; name a branch, a tag or a commit",
                said.escape_debug()
            ))
        };
        if strange {
            return Err(unknown());
        }
        let wanted = format!("{said}^{{commit}}");
        let output = git(
            &self.top,
            &[
                "rev-parse",
                "--verify",
                "--quiet",
                "--end-of-options",
                &wanted,
            ],
        )?;
        let commit = String::from_utf8_lossy(&output.stdout).trim().to_owned();
        let is_name = commit.len() >= 40 && commit.bytes().all(|byte| byte.is_ascii_hexdigit());
        if !output.status.success() || !is_name {
            return Err(unknown());
        }
        Ok(Revision {
            repository: self.clone(),
            commit,
            said: said.to_owned(),
        })
    }
}

impl Revision {
    /// Every `.protocol` file of the commit, by path.
    pub fn protocols(&self) -> Result<Vec<String>, CannotRun> {
        let listed = self.repository.ask(&[
            "ls-tree",
            "-r",
            "-z",
            "--name-only",
            "--full-tree",
            &self.commit,
        ])?;
        Ok(listed
            .split('\0')
            .filter(|path| path.ends_with(".protocol"))
            .map(str::to_owned)
            .collect())
    }

    /// Whether a folder of that name is in the commit.
    pub fn is_folder(&self, path: &str) -> bool {
        let wanted = format!("{}:{path}", self.commit);
        self.repository
            .maybe(&["cat-file", "-t", &wanted])
            .is_some_and(|kind| kind == "tree")
    }

    fn bytes(&self, path: &str) -> Result<Vec<u8>, ReadError> {
        let literal = ["--literal-pathspecs", "ls-tree", "-z", "--full-tree"];
        let mut arguments: Vec<&str> = literal.to_vec();
        arguments.extend([self.commit.as_str(), "--", path]);
        let told = |error: CannotRun| ReadError::Other(error.0);
        let listed = git(&self.repository.top, &arguments).map_err(told)?;
        let listed = String::from_utf8_lossy(&listed.stdout).into_owned();
        let Some(mode) = listed
            .split([' ', '\0'])
            .next()
            .filter(|mode| !mode.is_empty())
        else {
            return Err(ReadError::Missing);
        };
        match mode {
            "100644" | "100755" => {}
            // Where a link leads is not in the commit.
            "120000" => {
                return Err(ReadError::Other(
                    "it is a link, and links are not followed in git".to_owned(),
                ));
            }
            _ => return Err(ReadError::Other("it is no file".to_owned())),
        }
        let blob = format!("{}:{path}", self.commit);
        let size = git(&self.repository.top, &["cat-file", "-s", &blob]).map_err(told)?;
        let size: u64 = String::from_utf8_lossy(&size.stdout)
            .trim()
            .parse()
            .map_err(|_| ReadError::Missing)?;
        if size > MAX_FILE_BYTES {
            return Err(ReadError::TooLarge);
        }
        let output = git(&self.repository.top, &["cat-file", "blob", &blob]).map_err(told)?;
        if !output.status.success() {
            return Err(ReadError::Other(self::told(&output.stderr)));
        }
        Ok(output.stdout)
    }
}

impl Library for Revision {
    fn read(&self, path: &str) -> Result<String, ReadError> {
        String::from_utf8(self.bytes(path)?)
            .map_err(|error| ReadError::NotUtf8(error.utf8_error().valid_up_to()))
    }
}

fn git(folder: &Path, arguments: &[&str]) -> Result<Output, CannotRun> {
    Command::new("git")
        .arg("--no-optional-locks")
        .args(["-c", "core.quotepath=off"])
        .arg("-C")
        .arg(folder)
        .args(arguments)
        .env("LC_ALL", "C")
        .env("GIT_TERMINAL_PROMPT", "0")
        .stdin(Stdio::null())
        .output()
        .map_err(|error| match error.kind() {
            std::io::ErrorKind::NotFound => {
                CannotRun("the program `git` is not installed, or not on the path".to_owned())
            }
            _ => CannotRun(format!("git cannot be run: {error}")),
        })
}

fn told(bytes: &[u8]) -> String {
    let text = String::from_utf8_lossy(bytes);
    text.lines()
        .next()
        .unwrap_or("it gave no reason")
        .to_owned()
}
