//! `explain`: the page about one finding or one published limit.

use super::format::{TextOrJson, pretty};
use super::output;
use super::project::CannotRun;
use crate::checks::explain::{Page, explain, names, nearest_name};
use serde_json::{Value, json};
use std::process::ExitCode;

#[derive(Debug, clap::Args)]
pub struct Args {
    /// A finding's name, as reports show it (without: all names)
    name: Option<String>,
    #[arg(long, value_enum, default_value_t)]
    format: TextOrJson,
}

pub fn run(args: &Args) -> Result<ExitCode, CannotRun> {
    let Some(name) = &args.name else {
        let pages: Vec<Page> = names().into_iter().filter_map(explain).collect();
        output::say(&match args.format {
            TextOrJson::Json => pretty(&json!({
                "format_version": "1.0",
                "pages": pages.iter().map(record).collect::<Vec<_>>(),
            })),
            TextOrJson::Text => pages
                .iter()
                .map(|page| format!("{:<32} {}\n", page.name, page.summary))
                .collect(),
        })?;
        return Ok(ExitCode::SUCCESS);
    };
    match explain(name) {
        Some(page) => {
            output::say(&match args.format {
                TextOrJson::Json => {
                    pretty(&json!({ "format_version": "1.0", "page": record(&page) }))
                }
                TextOrJson::Text => page.to_string(),
            })?;
            Ok(ExitCode::SUCCESS)
        }
        None => {
            let near = nearest_name(name)
                .map_or(";".to_owned(), |near| format!("; did you mean `{near}`?"));
            Err(CannotRun(format!(
                "there is no finding `{name}`{near} `tempwright explain` lists them all"
            )))
        }
    }
}

fn record(page: &Page) -> Value {
    let sections = page.sections.iter();
    json!({
        "name": page.name,
        "family": page.family.word(),
        "level": page.level.word(),
        "since": page.since,
        "summary": page.summary,
        "sections": sections
            .map(|(heading, text)| json!({ "heading": heading, "text": text }))
            .collect::<Vec<_>>(),
    })
}
