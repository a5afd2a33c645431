//! What is made of a protocol: its sheet in three forms, its rule file, and what
//! other systems read.

use super::project::CannotRun;
use crate::document::{CoursePoint, Document, Paper, html, markdown, pdf};
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
    /// All that is due, as a table for a spreadsheet
    Csv,
    /// All that is due, as a calendar; the case needs its --start
    Ics,
}

impl Form {
    /// The ending of such a file.
    pub fn ending(self) -> &'static str {
        match self {
            Form::Pdf => "pdf",
            Form::Html => "html",
            Form::Md => "md",
            Form::Csv => "csv",
            Form::Ics => "ics",
        }
    }
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

/// The run sheet as a document, with what was recorded of the case drawn over its chart; an empty
/// case gives the blank form.
fn document(
    protocol: &Protocol,
    case: &Case,
    paper: PaperSize,
    withheld: Option<String>,
    records: Vec<Vec<CoursePoint>>,
) -> Result<Document, CannotRun> {
    let options = Options {
        fingerprint: rules::fingerprint(protocol),
        paper: paper.paper(),
        withheld,
        records,
    };
    laid_out(protocol, case, &options)
}

fn laid_out(protocol: &Protocol, case: &Case, options: &Options) -> Result<Document, CannotRun> {
    let plan = Plan::of(protocol, case).map_err(|error| CannotRun(error.to_string()))?;
    sheet::build(protocol, &plan, case, options).map_err(|error| CannotRun(error.to_string()))
}

/// The sheet or the schedule of a case in that form.
pub fn of_case(
    protocol: &Protocol,
    case: &Case,
    paper: PaperSize,
    form: Form,
    (withheld, records): (Option<String>, Vec<Vec<CoursePoint>>),
) -> Result<Vec<u8>, CannotRun> {
    let page = match form {
        Form::Csv => return schedule(protocol, case),
        Form::Ics => return calendar(protocol, case),
        Form::Pdf => Page::Pdf,
        Form::Html => Page::Html,
        Form::Md => Page::Markdown,
    };
    rendered(&document(protocol, case, paper, withheld, records)?, page)
}

#[derive(Debug, Clone, Copy)]
enum Page {
    Pdf,
    Html,
    Markdown,
}

fn rendered(document: &Document, form: Page) -> Result<Vec<u8>, CannotRun> {
    Ok(match form {
        Page::Pdf => pdf::render(document).map_err(|error| CannotRun(error.to_string()))?,
        Page::Html => html::render(document).into_bytes(),
        Page::Markdown => markdown::render(document).into_bytes(),
    })
}

/// The PlanDefinition of FHIR R4: a draft where the sheet is one.
fn plan_definition(protocol: &Protocol, meaning: &str, is_withheld: bool) -> Vec<u8> {
    let mut plan = rules::fhir_of(protocol, meaning);
    if is_withheld && let Some(members) = plan.as_object_mut() {
        members.insert("status".to_owned(), "draft".into());
        members.remove("approvalDate");
    }
    super::format::pretty(&plan).into_bytes()
}

/// What is due in the case, as a table; without a start by elapsed time.
pub fn schedule(protocol: &Protocol, case: &Case) -> Result<Vec<u8>, CannotRun> {
    rules::schedule_csv(protocol, case)
        .map(String::into_bytes)
        .map_err(|error| CannotRun(error.to_string()))
}

/// What is due in the case, as a calendar.
pub fn calendar(protocol: &Protocol, case: &Case) -> Result<Vec<u8>, CannotRun> {
    rules::calendar(protocol, case)
        .map(String::into_bytes)
        .map_err(|error| match error {
            rules::NoCalendar::NoStart => CannotRun(format!(
                "{error}; add --start, such as --start 2026-11-24T14:30"
            )),
            other => CannotRun(other.to_string()),
        })
}

/// Every file that `build` writes for a protocol: its name and its bytes.
pub fn all(
    protocol: &Protocol,
    paper: PaperSize,
    withheld: Option<String>,
) -> Result<Vec<(&'static str, Vec<u8>)>, CannotRun> {
    let is_withheld = withheld.is_some();
    let file = rules::export(protocol);
    let options = Options {
        fingerprint: file.fingerprint.clone(),
        paper: paper.paper(),
        withheld,
        records: Vec::new(),
    };
    let blank = laid_out(protocol, &Case::default(), &options)?;
    Ok(vec![
        ("sheet.md", rendered(&blank, Page::Markdown)?),
        ("sheet.html", rendered(&blank, Page::Html)?),
        ("sheet.pdf", rendered(&blank, Page::Pdf)?),
        ("rules.json", rules::to_bytes(&file)),
        (
            "plan-definition.json",
            plan_definition(protocol, &file.fingerprint, is_withheld),
        ),
        ("schedule.csv", schedule(protocol, &Case::default())?),
    ])
}
