//! Writing files whole or not at all.

use super::project::CannotRun;
use crate::diag::visible_text;
use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};

static SERIAL: AtomicU32 = AtomicU32::new(0);

/// Refuses a name that only protocols have: whoever gives it has left out the other one.
pub fn is_no_protocol(path: &Path) -> Result<(), CannotRun> {
    if path.extension().is_some_and(|ending| ending == "protocol") {
        return Err(CannotRun(format!(
            "`{}` is the name of a protocol, which would be replaced; name another file",
            shown(path)
        )));
    }
    Ok(())
}

/// Refuses to write over what is read, under whichever name.
pub fn spares<'a>(
    path: &Path,
    inputs: impl IntoIterator<Item = (&'a Path, &'static str)>,
) -> Result<(), CannotRun> {
    let Ok(target) = fs::canonicalize(path) else {
        // There is nothing there yet.
        return Ok(());
    };
    for (input, what) in inputs {
        if fs::canonicalize(input).is_ok_and(|input| input == target) {
            return Err(CannotRun(format!(
                "`{}` is {what}, which would be replaced; name another file",
                shown(path)
            )));
        }
    }
    Ok(())
}

/// Puts `bytes` at `path`: into a new file beside it, then by renaming, so that
/// whoever opens `path` meanwhile finds the old whole or the new whole.
pub fn write(path: &Path, bytes: &[u8]) -> Result<(), CannotRun> {
    let cannot = |error: std::io::Error| {
        CannotRun(format!(
            "`{}` cannot be written: {}; nothing of it was changed",
            path.display(),
            reason(&error)
        ))
    };
    if path.is_dir() {
        return Err(CannotRun(format!(
            "`{}` is a folder; name a file",
            path.display()
        )));
    }
    // A device or a pipe is written to, not replaced.
    if path.exists() && !path.is_file() {
        return fs::OpenOptions::new()
            .write(true)
            .open(path)
            .and_then(|mut file| file.write_all(bytes))
            .map_err(cannot);
    }
    // Through a link the file behind it is meant; the link stays.
    let target = fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf());
    let path = target.as_path();
    // Who may read the old one may read the new one, and nobody else.
    let permissions = fs::metadata(path).ok().map(|meta| meta.permissions());
    let folder = match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent.to_path_buf(),
        _ => PathBuf::from("."),
    };
    fs::create_dir_all(&folder).map_err(cannot)?;
    let name = path.file_name().map_or_else(
        || "output".to_owned(),
        |name| name.to_string_lossy().into_owned(),
    );
    let serial = SERIAL.fetch_add(1, Ordering::Relaxed);
    let beside = folder.join(format!(".{name}.{}-{serial}.part", std::process::id()));
    let done = fs::File::create(&beside)
        .and_then(|mut file| {
            file.write_all(bytes)?;
            if let Some(permissions) = permissions {
                file.set_permissions(permissions)?;
            }
            file.sync_all()
        })
        .and_then(|()| fs::rename(&beside, path));
    done.map_err(|error| {
        // What was begun is taken away again; that it may fail changes nothing.
        let _ = fs::remove_file(&beside);
        cannot(error)
    })
}

/// A path as it is shown, and as other programs expect it: `/` between its parts.
pub fn shown(path: &Path) -> String {
    let text = path.display().to_string();
    let text = text.replace(std::path::MAIN_SEPARATOR, "/");
    text.strip_prefix("./").map(str::to_owned).unwrap_or(text)
}

fn reason(error: &std::io::Error) -> String {
    use std::io::ErrorKind as Kind;
    match error.kind() {
        Kind::PermissionDenied => "you have no permission to write there".to_owned(),
        Kind::StorageFull => "the disk is full".to_owned(),
        Kind::ReadOnlyFilesystem => "the disk is read-only".to_owned(),
        Kind::NotADirectory | Kind::AlreadyExists => {
            "a file stands where a folder is needed".to_owned()
        }
        _ => error.to_string(),
    }
}

/// Says something to a person: what would steer a terminal is shown, not sent.
pub fn say(text: &str) -> Result<(), CannotRun> {
    print(&visible_text(text))
}

/// Writes to standard output; a reader who has left is no error.
pub fn print(text: &str) -> Result<(), CannotRun> {
    print_bytes(text.as_bytes())
}

pub fn print_bytes(bytes: &[u8]) -> Result<(), CannotRun> {
    let mut out = std::io::stdout().lock();
    match out.write_all(bytes).and_then(|()| out.flush()) {
        Ok(()) => Ok(()),
        Err(error) if error.kind() == std::io::ErrorKind::BrokenPipe => Ok(()),
        Err(error) => Err(CannotRun(format!(
            "standard output cannot be written: {}",
            reason(&error)
        ))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[cfg(unix)]
    #[test]
    fn a_link_stays_and_a_private_file_stays_private() {
        use std::os::unix::fs::PermissionsExt as _;
        let folder =
            std::env::temp_dir().join(format!("tempwright-private-{}", std::process::id()));
        fs::create_dir_all(&folder).expect("a folder");
        let (file, link) = (folder.join("own.txt"), folder.join("link.txt"));
        fs::write(&file, "old").expect("written");
        fs::set_permissions(&file, fs::Permissions::from_mode(0o600)).expect("set");
        std::os::unix::fs::symlink(&file, &link).expect("linked");
        write(&link, b"new").expect("written");
        assert!(link.is_symlink());
        assert_eq!(fs::read(&file).expect("read"), b"new");
        let mode = fs::metadata(&file).expect("there").permissions().mode();
        assert_eq!(mode & 0o777, 0o600);
        fs::remove_dir_all(&folder).expect("removed");
    }

    #[test]
    fn a_file_that_cannot_be_made_leaves_nothing() {
        let folder = std::env::temp_dir().join(format!("tempwright-output-{}", std::process::id()));
        fs::create_dir_all(&folder).expect("a folder");
        let file = folder.join("there.txt");
        write(&file, b"old").expect("written");
        write(&file, b"new").expect("written again");
        assert_eq!(fs::read(&file).expect("read"), b"new");
        assert!(write(&file.join("below.txt"), b"x").is_err());
        assert!(write(&folder, b"x").is_err());
        let left = fs::read_dir(&folder).expect("listed").count();
        assert_eq!(left, 1, "only the file itself is there");
        fs::remove_dir_all(&folder).expect("removed");
    }
}
