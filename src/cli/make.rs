//! What is made of a protocol: its sheet in three forms, its rule file.

use super::project::CannotRun;
use crate::document::{Document, Paper, html, markdown, pdf};
use crate::model::Protocol;
use crate::plan::{Case, Plan};
use crate::rules;
use crate::sheet::{self, Options};

#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum Form {
    Pdf,
    Html,
    /// Markdown
    Md,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, clap::ValueEnum)]
pub enum PaperSize {
    #[default]
    A4,
    Letter,
}

impl PaperSize {
    fn paper(self) -> Paper {
        match self {
            PaperSize::A4 => Paper::A4,
            PaperSize::Letter => Paper::Letter,
        }
    }
}

/// The run sheet as a document; an empty case gives the blank form.
pub fn document(
    protocol: &Protocol,
    case: &Case,
    paper: PaperSize,
    withheld: Option<String>,
) -> Result<Document, CannotRun> {
    let plan = Plan::of(protocol, case).map_err(|error| CannotRun(error.to_string()))?;
    let options = Options {
        fingerprint: rules::fingerprint(protocol),
        paper: paper.paper(),
        withheld,
    };
    sheet::build(protocol, &plan, case, &options).map_err(|error| CannotRun(error.to_string()))
}

pub fn rendered(document: &Document, form: Form) -> Result<Vec<u8>, CannotRun> {
    Ok(match form {
        Form::Pdf => pdf::render(document).map_err(|error| CannotRun(error.to_string()))?,
        Form::Html => html::render(document).into_bytes(),
        Form::Md => markdown::render(document).into_bytes(),
    })
}

/// Every file that `build` writes for a protocol: its name and its bytes.
pub fn all(
    protocol: &Protocol,
    paper: PaperSize,
    withheld: Option<String>,
) -> Result<Vec<(&'static str, Vec<u8>)>, CannotRun> {
    let blank = document(protocol, &Case::default(), paper, withheld)?;
    Ok(vec![
        ("sheet.md", rendered(&blank, Form::Md)?),
        ("sheet.html", rendered(&blank, Form::Html)?),
        ("sheet.pdf", rendered(&blank, Form::Pdf)?),
        ("rules.json", rules::to_bytes(&rules::export(protocol))),
    ])
}
