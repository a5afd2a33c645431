//! Signatures of approvals: detached, in the open SSHSIG format, made and verified
//! by `ssh-keygen`.
//!
//! A signature lies beside the protocol. It signs the statement of the approval, as
//! one line; the namespace keeps it from standing for anything else. Whom to believe
//! is the file of allowed signers that git uses (`gpg.ssh.allowedSignersFile`). A
//! signature counts only for the approval that names its signer.

use super::git::Repository;
use super::project::CannotRun;
use crate::approval::NAMESPACE;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// `NAME.protocol.dr-a-a-example-org-1a2b3c4d.sig`
pub fn beside(file: &Path, by: &str) -> PathBuf {
    let mut plain = String::new();
    for character in by.trim().to_lowercase().chars() {
        if character.is_ascii_alphanumeric() {
            plain.push(character);
        } else if !plain.ends_with('-') && !plain.is_empty() {
            plain.push('-');
        }
    }
    let plain: String = plain.trim_end_matches('-').chars().take(60).collect();
    // Two names may have the same plain letters.
    let mark: String = sha256(by.trim()).chars().take(8).collect();
    let name = file.file_name().map_or_else(
        || "protocol".to_owned(),
        |name| name.to_string_lossy().into_owned(),
    );
    file.with_file_name(format!("{name}.{plain}-{mark}.sig"))
}

fn sha256(text: &str) -> String {
    use sha2::{Digest as _, Sha256};
    Sha256::digest(text.as_bytes())
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect()
}

/// Signs the text with a private key, or with a public one whose private part an
/// agent holds.
pub fn sign(key: &Path, text: &str) -> Result<Vec<u8>, CannotRun> {
    let done = run(
        Command::new("ssh-keygen")
            .args(["-Y", "sign", "-n", NAMESPACE, "-f"])
            .arg(key),
        text,
    )?;
    if !done.status.success() || !done.stdout.starts_with(b"-----BEGIN SSH SIGNATURE-----") {
        return Err(CannotRun(format!(
            "`{}` did not sign: {}; nothing was written",
            key.display(),
            first_line(&done.stderr)
        )));
    }
    Ok(done.stdout)
}

/// Where the names of those who may sign stand.
pub fn allowed_signers(repository: Option<&Repository>, given: Option<&Path>) -> Option<PathBuf> {
    match given {
        Some(path) => Some(path.to_path_buf()),
        None => {
            let said =
                repository?.maybe(&["config", "--type=path", "gpg.ssh.allowedSignersFile"])?;
            let path = PathBuf::from(said);
            // As git does: from the top of the working copy.
            Some(if path.is_absolute() {
                path
            } else {
                repository?.top().join(path)
            })
        }
    }
}

/// Whether the setting of this working copy asks for signatures.
pub fn required(repository: Option<&Repository>) -> bool {
    repository
        .and_then(|it| it.maybe(&["config", "--type=bool", "tempwright.requireSignature"]))
        .is_some_and(|said| said == "true")
}

/// Whether the signature is of that text, by somebody who may sign and whom the
/// approval names. Says why not.
pub fn verify(
    allowed: &Path,
    signature: &Path,
    by: &str,
    on: jiff::civil::Date,
    text: &str,
) -> Result<String, String> {
    if !signature.is_file() {
        return Err(format!("no signature of {by} lies beside the protocol"));
    }
    if !allowed.is_file() {
        return Err(format!(
            "the file of allowed signers `{}` is not there",
            allowed.display()
        ));
    }
    let principal = principal_of(by);
    let time = format!("verify-time={}120000Z", on.strftime("%Y%m%d"));
    let done = run(
        Command::new("ssh-keygen")
            .args([
                "-Y", "verify", "-n", NAMESPACE, "-O", &time, "-I", principal, "-f",
            ])
            .arg(allowed)
            .arg("-s")
            .arg(signature),
        text,
    )
    .map_err(|error| error.0)?;
    if done.status.success() {
        Ok(principal.to_owned())
    } else {
        Err(format!("the signature of {by} does not verify"))
    }
}

/// The address in angle brackets, or else the whole name.
pub fn principal_of(by: &str) -> &str {
    by.rsplit_once('<')
        .and_then(|(_, rest)| rest.split_once('>'))
        .map_or(by.trim(), |(inside, _)| inside.trim())
}

fn run(command: &mut Command, input: &str) -> Result<std::process::Output, CannotRun> {
    let cannot = |error: std::io::Error| {
        CannotRun(match error.kind() {
            std::io::ErrorKind::NotFound => {
                "the program `ssh-keygen` is not installed, or not on the path".to_owned()
            }
            _ => format!("ssh-keygen cannot be run: {error}"),
        })
    };
    let mut child = command
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .map_err(cannot)?;
    if let Some(mut stdin) = child.stdin.take() {
        // A program that stopped before it read says why in its own words.
        let _ = stdin.write_all(input.as_bytes());
    }
    child.wait_with_output().map_err(cannot)
}

fn first_line(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes)
        .lines()
        .next()
        .unwrap_or("it gave no reason")
        .to_owned()
}
