//! From arguments to files: which folder is the project's root, and which
//! protocols are meant.

use super::disk::Disk;
use crate::model::{Loaded, Opened, load};
use std::path::{Path, PathBuf};

/// We could not run: what, and what to do about it.
#[derive(Debug)]
pub struct CannotRun(pub String);

impl std::fmt::Display for CannotRun {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        out.write_str(&self.0)
    }
}

/// A root and the files below it that were asked for.
#[derive(Debug)]
pub struct Project {
    pub disk: Disk,
    /// Relative to the root, `/` between the parts.
    pub files: Vec<String>,
}

/// The files meant by `paths`: a file is itself, a folder is every `.protocol`
/// file directly in it. Without any, the folder `protocols` or else this one.
pub fn find(paths: &[PathBuf], root: Option<&Path>) -> Result<Project, CannotRun> {
    let here = Path::new(".");
    let paths: Vec<PathBuf> = if paths.is_empty() {
        let usual = here.join("protocols");
        vec![if usual.is_dir() { usual } else { here.into() }]
    } else {
        paths.to_vec()
    };
    let mut files = Vec::new();
    for path in &paths {
        let meta = std::fs::metadata(path).map_err(|error| {
            CannotRun(match error.kind() {
                std::io::ErrorKind::NotFound => {
                    format!("there is no file or folder `{}`", path.display())
                }
                _ => format!("`{}` cannot be read: {error}", path.display()),
            })
        })?;
        if meta.is_dir() {
            files.append(&mut in_folder(path)?);
        } else {
            files.push(path.clone());
        }
    }
    if files.is_empty() {
        let shown: Vec<String> = paths
            .iter()
            .map(|path| path.display().to_string())
            .collect();
        return Err(CannotRun(format!(
            "there is no `.protocol` file in `{}`",
            shown.join("`, `")
        )));
    }
    let root = match root {
        Some(root) => root.to_path_buf(),
        None => root_of(&files)?,
    };
    let real = |path: &Path| {
        path.canonicalize()
            .map_err(|error| CannotRun(format!("`{}` cannot be read: {error}", path.display())))
    };
    let real_root = real(&root)?;
    let mut relative = Vec::new();
    for file in &files {
        let full = real(file)?;
        let inside = full.strip_prefix(&real_root).map_err(|_| {
            CannotRun(format!(
                "`{}` lies outside the project's folder `{}`",
                file.display(),
                root.display()
            ))
        })?;
        let parts: Vec<String> = inside
            .components()
            .map(|part| part.as_os_str().to_string_lossy().into_owned())
            .collect();
        relative.push(parts.join("/"));
    }
    Ok(Project {
        disk: Disk::new(root),
        files: relative,
    })
}

/// The project of one protocol file: which protocol of a folder is meant cannot be
/// known, and a sheet of the wrong one is worse than none.
pub fn find_one(path: &Path) -> Result<Project, CannotRun> {
    if path.is_dir() {
        return Err(CannotRun(format!(
            "`{}` is a folder; name one protocol file in it",
            path.display()
        )));
    }
    find(&[path.to_path_buf()], None)
}

/// The protocols of a project that has been found.
pub fn read(project: &Project) -> Result<Loaded, CannotRun> {
    load(&project.disk, &paths(project)).map_err(|error| CannotRun(error.to_string()))
}

/// Its texts alone.
pub fn open(project: &Project) -> Result<Opened, CannotRun> {
    crate::model::open(&project.disk, &paths(project)).map_err(|error| CannotRun(error.to_string()))
}

fn paths(project: &Project) -> Vec<&str> {
    project.files.iter().map(String::as_str).collect()
}

fn in_folder(folder: &Path) -> Result<Vec<PathBuf>, CannotRun> {
    let cannot = |error: std::io::Error| {
        CannotRun(format!(
            "the folder `{}` cannot be read: {error}",
            folder.display()
        ))
    };
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).map_err(cannot)? {
        let path = entry.map_err(cannot)?.path();
        if path.extension().is_some_and(|end| end == "protocol") && path.is_file() {
            found.push(path);
        }
    }
    found.sort();
    Ok(found)
}

/// The working copy that the first file lies in, or else the folder that holds
/// all files.
fn root_of(files: &[PathBuf]) -> Result<PathBuf, CannotRun> {
    let Some(first) = files.first() else {
        return Ok(PathBuf::from("."));
    };
    let full = first
        .canonicalize()
        .map_err(|error| CannotRun(format!("`{}` cannot be read: {error}", first.display())))?;
    let folders = || full.ancestors().skip(1);
    if let Some(top) = folders().find(|folder| folder.join(".git").exists()) {
        return Ok(top.to_path_buf());
    }
    let all: Vec<PathBuf> = files
        .iter()
        .filter_map(|file| file.canonicalize().ok())
        .collect();
    Ok(folders()
        .find(|folder| all.iter().all(|file| file.starts_with(folder)))
        .map_or_else(|| PathBuf::from("."), Path::to_path_buf))
}
