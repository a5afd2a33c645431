//! From arguments to versions of protocols: a file, a folder, `REV:path`, a whole
//! revision, the working copy.

use super::disk::Disk;
use super::git::Repository;
use super::project::{self, CannotRun};
use crate::compare::Version;
use crate::diag::{Level, render};
use crate::model::{Loaded, load};
use crate::source::{Library, ReadError};
use std::path::{Path, PathBuf};

/// The protocols of one side, each with the file that it stands in.
#[derive(Debug)]
pub struct Versions {
    /// How the side is called in a report.
    pub said: String,
    /// One for each file, so that findings of one never hide another.
    pub files: Vec<(String, Loaded)>,
}

impl Versions {
    pub fn iter(&self) -> impl Iterator<Item = (&str, Version<'_>)> {
        self.files.iter().flat_map(|(path, loaded)| {
            loaded.protocols.iter().map(move |(_, protocol)| {
                (
                    path.as_str(),
                    Version {
                        protocol,
                        sources: &loaded.sources,
                        reading: &loaded.diagnostics,
                    },
                )
            })
        })
    }

    /// Refuses where a file has errors: half a protocol compared would be a lie.
    fn whole(self) -> Result<Versions, CannotRun> {
        let mut told = String::new();
        for (_, loaded) in &self.files {
            for found in &loaded.diagnostics {
                if found.level == Level::Error {
                    told.push_str(&render::human(
                        found,
                        &loaded.sources,
                        render::Style::default(),
                    ));
                    told.push('\n');
                }
            }
        }
        if told.is_empty() {
            return Ok(self);
        }
        Err(CannotRun(format!(
            "{} has errors, so nothing is compared\n\n{told}",
            self.said
        )))
    }
}

/// What an argument means.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Spec {
    /// A file or a folder that is there.
    Path(PathBuf),
    /// `REV:path`; an empty path is all of it.
    InGit { revision: String, path: String },
    /// Everything in the working copy.
    WorkingCopy,
}

pub fn spec(argument: &str) -> Spec {
    let path = Path::new(argument);
    if path.exists() {
        return Spec::Path(path.to_path_buf());
    }
    match argument.split_once(':') {
        Some((revision, path)) => Spec::InGit {
            revision: revision.to_owned(),
            path: path.to_owned(),
        },
        // What has the ending of a file is one, and is not there.
        None if argument.ends_with(".protocol") => Spec::Path(path.to_path_buf()),
        None => Spec::InGit {
            revision: argument.to_owned(),
            path: String::new(),
        },
    }
}

/// Reads one side. `stands_for` is the path in the project that a file on the disk
/// takes the place of.
pub fn read(spec: &Spec, stands_for: Option<&str>) -> Result<Versions, CannotRun> {
    match spec {
        Spec::Path(path) => match stands_for {
            Some(place) => in_place(path, place)?,
            None => on_disk(path)?,
        },
        Spec::InGit { revision, path } => in_git(revision, path)?,
        Spec::WorkingCopy => working_copy()?,
    }
    .whole()
}

fn on_disk(path: &Path) -> Result<Versions, CannotRun> {
    let project = project::find(&[path.to_path_buf()], None)?;
    let files = each(&project.disk, &project.files)?;
    Ok(Versions {
        said: format!("`{}`", path.display()),
        files,
    })
}

fn working_copy() -> Result<Versions, CannotRun> {
    let repository = Repository::around(Path::new("."))?;
    let listed = repository.ask(&[
        "ls-files",
        "-z",
        "--cached",
        "--others",
        "--exclude-standard",
    ])?;
    let disk = Disk::new(repository.top());
    let mut paths: Vec<String> = listed
        .split('\0')
        .filter(|path| path.ends_with(".protocol") && repository.top().join(path).is_file())
        .map(str::to_owned)
        .collect();
    paths.sort();
    paths.dedup();
    Ok(Versions {
        said: "the working copy".to_owned(),
        files: each(&disk, &paths)?,
    })
}

fn in_git(said: &str, path: &str) -> Result<Versions, CannotRun> {
    let repository = Repository::around(Path::new("."))?;
    let revision = repository.revision(said)?;
    let path = in_repository(&repository, path)?;
    let paths: Vec<String> = if path.is_empty() || revision.is_folder(&path) {
        let all = revision.protocols()?;
        let below = |file: &str| match file.strip_prefix(path.as_str()) {
            _ if path.is_empty() => true,
            // Directly in the folder, as on the disk.
            Some(rest) => rest
                .strip_prefix('/')
                .is_some_and(|name| !name.contains('/')),
            None => false,
        };
        all.into_iter().filter(|file| below(file)).collect()
    } else {
        vec![path.clone()]
    };
    if paths.is_empty() {
        return Err(CannotRun(format!(
            "there is no `.protocol` file in `{said}:{path}`"
        )));
    }
    let files = each(&revision, &paths)
        .map_err(|error| CannotRun(format!("in revision `{}`: {error}", revision.said)))?;
    Ok(Versions {
        said: if path.is_empty() {
            format!("`{said}`")
        } else {
            format!("`{said}:{path}`")
        },
        files,
    })
}

/// As git reads it: from the top, or from here where it begins with `./`.
pub fn in_repository(repository: &Repository, path: &str) -> Result<String, CannotRun> {
    let full = match path.strip_prefix("./") {
        Some(rest) => {
            let here = std::path::absolute(".")
                .ok()
                .and_then(|here| here.canonicalize().ok());
            let top = repository.top().canonicalize().ok();
            let inside = match (&here, &top) {
                (Some(here), Some(top)) => here.strip_prefix(top).ok(),
                _ => None,
            };
            match inside.and_then(Path::to_str) {
                Some(inside) if !inside.is_empty() => format!("{inside}/{rest}"),
                _ => rest.to_owned(),
            }
        }
        None => path.to_owned(),
    };
    let full = full.trim_matches('/').to_owned();
    let strange = full.split('/').any(|part| part == ".." || part == ".")
        || full.chars().any(char::is_control);
    if strange {
        return Err(CannotRun(format!(
            "`{}` is no path inside a repository",
            path.escape_debug()
        )));
    }
    Ok(full)
}

fn each(library: &dyn Library, paths: &[String]) -> Result<Vec<(String, Loaded)>, CannotRun> {
    paths
        .iter()
        .map(|path| {
            load(library, &[path.as_str()])
                .map(|loaded| (path.clone(), loaded))
                .map_err(|error| CannotRun(error.to_string()))
        })
        .collect()
}

/// One file put in the place of another, for a difference tool that hands over
/// copies: what it uses is read where it belongs.
struct InPlace {
    place: String,
    text: String,
    disk: Disk,
}

impl Library for InPlace {
    fn read(&self, path: &str) -> Result<String, ReadError> {
        if path == self.place {
            Ok(self.text.clone())
        } else {
            self.disk.read(path)
        }
    }
}

fn in_place(path: &Path, place: &str) -> Result<Versions, CannotRun> {
    let repository = Repository::around(Path::new("."))?;
    let place = in_repository(&repository, place)?;
    let folder = path
        .parent()
        .filter(|parent| !parent.as_os_str().is_empty());
    let name = path
        .file_name()
        .map(|name| name.to_string_lossy().into_owned());
    let text = Disk::new(folder.unwrap_or_else(|| Path::new(".")))
        .read(name.as_deref().unwrap_or_default())
        .map_err(|error| {
            CannotRun(
                crate::model::LoadError {
                    path: path.display().to_string(),
                    error,
                }
                .to_string(),
            )
        })?;
    let library = InPlace {
        place: place.clone(),
        text,
        disk: Disk::new(repository.top()),
    };
    Ok(Versions {
        said: format!("`{}`", path.display()),
        files: each(&library, &[place])?,
    })
}
