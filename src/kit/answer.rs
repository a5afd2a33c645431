//! Questions in, answers out.

use super::days::Now;
use super::entries::{self, Entry};
use super::fields::{self, Besides, Field, State};
use super::review::{self, Refusal};
use super::view;
use crate::diag::Level;
use crate::document::{Document, Paper, html, markdown, text};
use crate::model::{Protocol, load};
use crate::plan::{Case, Plan};
use crate::rules;
use crate::sheet::{self, Options};
use crate::source::MemoryLibrary;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The protocols of one page; each is read when it is first asked about.
#[derive(Debug)]
pub struct Engine {
    library: MemoryLibrary,
    roots: Vec<Root>,
    read: BTreeMap<usize, Read>,
}

#[derive(Debug)]
struct Read {
    protocol: Protocol,
    fingerprint: String,
    withheld: Option<String>,
    /// The paths of its file and of the libraries in it.
    files: Vec<String>,
}

/// What the page holds: every text that was read, and which of them are asked for.
#[derive(Debug, Clone, Deserialize, Serialize)]
pub struct Texts {
    pub files: BTreeMap<String, String>,
    pub roots: Vec<Root>,
}

/// One protocol of the page.
#[derive(Debug, Clone, Deserialize, Serialize)]
pub struct Root {
    pub path: String,
    /// Why its approval does not count, for want of a signature: only who makes the page can tell.
    pub withheld: Option<String>,
}

#[derive(Debug, Clone, Copy, Default, Deserialize)]
enum PaperSize {
    #[default]
    A4,
    Letter,
}

#[derive(Debug, Deserialize)]
#[serde(tag = "ask", rename_all = "lowercase", deny_unknown_fields)]
enum Question {
    /// What is asked about a case.
    Questions { protocol: usize },
    /// What is wrong with the entries, and the sheet where nothing is.
    Sheet {
        protocol: usize,
        now: i64,
        #[serde(default)]
        paper: PaperSize,
        fields: BTreeMap<String, Entry>,
    },
    /// The blank form.
    Blank {
        protocol: usize,
        now: i64,
        #[serde(default)]
        paper: PaperSize,
    },
    /// The protocol, to read on a screen.
    Reading { protocol: usize, now: i64 },
}

#[derive(Debug, Serialize)]
#[serde(rename_all = "lowercase")]
enum Answer {
    Questions(Vec<Field>),
    Sheet(SheetAnswer),
    Reading(view::Reading),
    /// The question itself cannot be answered: a fault of the page.
    Fault(String),
}

/// One protocol in the list that the page opens with.
#[derive(Debug, Serialize)]
pub struct Listed {
    pub name: String,
    pub title: String,
    pub unit: String,
    pub version: String,
    /// The first day of review among the protocol's and its libraries'.
    pub review: String,
    pub status: String,
    pub draft: bool,
    pub fingerprint: String,
}

#[derive(Debug, Default, Serialize)]
struct SheetAnswer {
    fields: Besides,
    /// Labels of the fields that are wrong, of needed ones that are empty, and of others left open.
    wrong: Vec<String>,
    needed: Vec<String>,
    open: Vec<String>,
    refused: Option<Refusal>,
    sheet: Option<Printed>,
}

#[derive(Debug, Serialize)]
struct Printed {
    title: String,
    draft: bool,
    html: String,
    markdown: String,
}

impl Engine {
    pub fn new(texts: Texts) -> Engine {
        Engine {
            library: MemoryLibrary { files: texts.files },
            roots: texts.roots,
            read: BTreeMap::new(),
        }
    }

    /// The answer to one question; both are JSON.
    pub fn answer(&mut self, question: &str) -> String {
        let answer = match serde_json::from_str(question) {
            Ok(question) => self.answered(question).unwrap_or_else(Answer::Fault),
            Err(error) => Answer::Fault(format!("the question cannot be read: {error}")),
        };
        serde_json::to_string(&answer).unwrap_or_else(|error| {
            format!("{{\"fault\":\"the answer cannot be written: {error}\"}}")
        })
    }

    fn answered(&mut self, question: Question) -> Result<Answer, String> {
        Ok(match question {
            Question::Questions { protocol } => {
                Answer::Questions(fields::of(&self.read(protocol)?.protocol))
            }
            Question::Sheet {
                protocol,
                now,
                paper,
                fields,
            } => Answer::Sheet(self.sheet(protocol, now, paper, &fields)?),
            Question::Blank {
                protocol,
                now,
                paper,
            } => Answer::Sheet(self.blank(protocol, now, paper)?),
            Question::Reading { protocol, now } => {
                let read = self.read(protocol)?;
                let document = read.document(&Case::default(), PaperSize::A4)?;
                let now = moment(&read.protocol, now)?;
                Answer::Reading(view::of(&read.protocol, document, &now, read.files.clone()))
            }
        })
    }

    /// What may go wrong is a text with errors, which `kit` has refused to put on a page.
    fn read(&mut self, index: usize) -> Result<&Read, String> {
        let root = self
            .roots
            .get(index)
            .ok_or_else(|| format!("there is no protocol {index}"))?;
        if !self.read.contains_key(&index) {
            let loaded = load(&self.library, &[&root.path]).map_err(|error| error.to_string())?;
            if let Some(error) = loaded
                .diagnostics
                .iter()
                .find(|found| found.level == Level::Error)
            {
                return Err(error.title.clone());
            }
            let files = loaded
                .sources
                .iter()
                .map(|(_, file)| file.path.clone())
                .collect();
            let (_, protocol) = loaded
                .protocols
                .into_iter()
                .next()
                .ok_or_else(|| format!("`{}` holds no protocol", root.path))?;
            let fingerprint = rules::fingerprint(&protocol);
            let read = Read {
                protocol,
                fingerprint,
                withheld: root.withheld.clone(),
                files,
            };
            self.read.insert(index, read);
        }
        self.read
            .get(&index)
            .ok_or_else(|| format!("`{}` was not read", root.path))
    }

    /// The list that the page opens with.
    pub fn listed(&mut self) -> Result<Vec<Listed>, String> {
        (0..self.roots.len())
            .map(|index| {
                let read = self.read(index)?;
                let head = &read.protocol.head;
                // Whether it is a draft is for the sheet to say (M34).
                let document = read.document(&Case::default(), PaperSize::A4)?;
                let reviews = read
                    .protocol
                    .uses
                    .iter()
                    .filter_map(|used| used.review.as_ref());
                let review = reviews.fold(head.review.value, |first, own| first.min(own.value));
                Ok(Listed {
                    name: read.protocol.name.name.clone(),
                    title: text::inline(&head.title.markdown).plain(),
                    unit: text::inline(&head.unit.markdown).plain(),
                    version: head.version.value.to_string(),
                    review: review.to_string(),
                    status: document.meta.status,
                    draft: document.draft.is_some(),
                    fingerprint: read.fingerprint.clone(),
                })
            })
            .collect()
    }

    fn sheet(
        &mut self,
        index: usize,
        now: i64,
        paper: PaperSize,
        entered: &BTreeMap<String, Entry>,
    ) -> Result<SheetAnswer, String> {
        let read = self.read(index)?;
        let protocol = &read.protocol;
        let fields = fields::of(protocol);
        if let Some(unknown) = entered
            .keys()
            .find(|id| fields.iter().all(|field| field.id != **id))
        {
            return Err(format!("this protocol does not ask for `{unknown}`"));
        }
        let now = moment(protocol, now)?;
        let (case, besides) = entries::read(protocol, &fields, entered, &now);
        let mut answer = SheetAnswer::default();
        for field in &fields {
            let state = besides.get(&field.id).map(|beside| beside.state);
            match state.unwrap_or_default() {
                State::Wrong | State::Waiting => answer.wrong.push(field.label.clone()),
                State::Empty if field.needed => answer.needed.push(field.label.clone()),
                State::Empty if !field.later => answer.open.push(field.label.clone()),
                State::Empty | State::Good => {}
            }
        }
        answer.fields = besides;
        answer.refused = case
            .clock
            .as_ref()
            .and_then(|clock| review::refused(protocol, clock.start().date()));
        let ready = answer.wrong.is_empty() && answer.needed.is_empty() && answer.refused.is_none();
        if ready {
            answer.print(read, &case, paper);
        }
        Ok(answer)
    }

    fn blank(&mut self, index: usize, now: i64, paper: PaperSize) -> Result<SheetAnswer, String> {
        let read = self.read(index)?;
        let now = moment(&read.protocol, now)?;
        let mut answer = SheetAnswer {
            refused: review::refused(&read.protocol, now.today()),
            ..SheetAnswer::default()
        };
        if answer.refused.is_none() {
            answer.print(read, &Case::default(), paper);
        }
        Ok(answer)
    }
}

impl SheetAnswer {
    fn print(&mut self, read: &Read, case: &Case, paper: PaperSize) {
        match read.document(case, paper) {
            Ok(document) => {
                self.sheet = Some(Printed {
                    title: document.title.clone(),
                    draft: document.draft.is_some(),
                    html: html::render(&document),
                    markdown: markdown::render(&document),
                });
            }
            Err(why) => {
                self.refused = Some(Refusal {
                    title: "these entries together give no sheet".to_owned(),
                    why,
                    help: "check the times, and the day chosen beside each".to_owned(),
                });
            }
        }
    }
}

fn moment(protocol: &Protocol, now: i64) -> Result<Now, String> {
    Now::of(now, &protocol.head.timezone.value).map_err(|error| error.to_string())
}

impl Read {
    fn document(&self, case: &Case, paper: PaperSize) -> Result<Document, String> {
        let plan = Plan::of(&self.protocol, case).map_err(|error| error.to_string())?;
        let options = Options {
            fingerprint: self.fingerprint.clone(),
            withheld: self.withheld.clone(),
            paper: match paper {
                PaperSize::A4 => Paper::A4,
                PaperSize::Letter => Paper::Letter,
            },
            ..Options::default()
        };
        sheet::build(&self.protocol, &plan, case, &options).map_err(|error| error.to_string())
    }
}
