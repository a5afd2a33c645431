//! Whether the approvals of a protocol count where signatures are asked for.

use super::git::Repository;
use super::project::{CannotRun, Project};
use super::signature;
use crate::approval;
use crate::model::Protocol;
use crate::rules::fingerprint;
use std::path::PathBuf;

/// How approvals are judged; the same for every command that prints.
#[derive(Debug, Clone, Default, clap::Args)]
pub struct ApprovalArgs {
    /// An approval counts only with a signature that verifies (always so where
    /// `git config tempwright.requireSignature true`)
    #[arg(long)]
    pub require_signature: bool,
    /// Who may sign (without: the file of `gpg.ssh.allowedSignersFile`)
    #[arg(long, value_name = "FILE")]
    pub allowed_signers: Option<PathBuf>,
}

/// Why no approval of this protocol counts, for want of a signature.
pub fn withheld(
    args: &ApprovalArgs,
    project: &Project,
    place: &str,
    protocol: &Protocol,
) -> Result<Option<String>, CannotRun> {
    let path = project.disk.root().join(place);
    let repository = path
        .parent()
        .and_then(|folder| Repository::around(folder).ok());
    if !args.require_signature && !signature::required(repository.as_ref()) {
        return Ok(None);
    }
    let print = fingerprint(protocol);
    let approvals = approval::of_this(protocol, &print);
    if approvals.is_empty() {
        return Ok(None);
    }
    let Some(allowed) =
        signature::allowed_signers(repository.as_ref(), args.allowed_signers.as_deref())
    else {
        return Ok(Some(
            "signatures are required, and nothing says who may sign".to_owned(),
        ));
    };
    let mut why = Vec::new();
    for approval in approvals {
        let by = approval.by.markdown.trim();
        let Some(text) = approval::signed_text(approval) else {
            why.push(format!("the approval of {by} cannot be signed"));
            continue;
        };
        let beside = signature::beside(&path, by);
        // Every approval that stands there is printed, so every one must verify.
        if let Err(reason) = signature::verify(&allowed, &beside, by, approval.on.value, &text) {
            why.push(reason);
        }
    }
    Ok((!why.is_empty()).then(|| why.join("; ")))
}
