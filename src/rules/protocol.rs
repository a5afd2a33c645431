//! The whole meaning of a protocol, and the way back to the model.

use super::aim::Phase;
use super::file::RuleFile;
use super::head::{Head, Library};
use super::ladder::{Checklist, Ladder};
use super::look::{Look, Rule};
use super::medication::{Accept, Measure, Medication};
use super::names::{In, Out, each, named, text};
use super::parts::{Citation, Criterion, Let, Limit, Mark, Reading, Role, StatedReason};
use super::refusal::Refusal;
use crate::model as m;
use crate::source::Span;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Everything that a committee approves: the fingerprint stands for all of this.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Meaning {
    pub name: String,
    pub head: Head,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub libraries: Vec<Library>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub lets: Vec<Let>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub citations: Vec<Citation>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub people: Vec<Role>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub marks: Vec<Mark>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub criteria: Vec<Criterion>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub readings: Vec<Reading>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub limits: Vec<Limit>,
    /// In the order in which they run.
    pub phases: Vec<Phase>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub looks: Vec<Look>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub rules: Vec<Rule>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub ladders: Vec<Ladder>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub checklists: Vec<Checklist>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub medications: Vec<Medication>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub accepts: Vec<Accept>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub measures: Vec<Measure>,
    /// Reasons of statements that have no member of their own for one.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub reasons: Vec<StatedReason>,
}

impl Meaning {
    pub(super) fn from_model(protocol: &m::Protocol) -> Self {
        let out = Out(protocol);
        Meaning {
            name: protocol.name.name.clone(),
            head: Head::from_model(&protocol.head, out),
            libraries: protocol.uses.iter().map(Library::from_model).collect(),
            lets: all(&protocol.lets, |one| Let::from_model(one, out)),
            citations: all(&protocol.cites, |cite| Citation {
                name: cite.name.name.clone(),
                text: cite.text.markdown.clone(),
            }),
            people: all(&protocol.roles, |role| Role::from_model(role, out)),
            marks: all(&protocol.marks, |mark| Mark {
                name: mark.name.name.clone(),
                title: mark.title.markdown.clone(),
            }),
            criteria: all(&protocol.criteria, |one| Criterion::from_model(one, out)),
            readings: all(&protocol.readings, |one| Reading::from_model(one, out)),
            limits: all(&protocol.limits, |one| Limit::from_model(one, out)),
            phases: all(&protocol.phases, |one| Phase::from_model(one, out)),
            looks: all(&protocol.looks, |one| Look::from_model(one, out)),
            rules: all(&protocol.rules, |one| Rule::from_model(one, out)),
            ladders: all(&protocol.ladders, |one| Ladder::from_model(one, out)),
            checklists: all(&protocol.checklists, |one| Checklist::from_model(one, out)),
            medications: all(&protocol.medications, |one| {
                Medication::from_model(one, out)
            }),
            accepts: all(&protocol.accepts, Accept::from_model),
            measures: all(&protocol.measures, |one| Measure::from_model(one, out)),
            reasons: all(&protocol.reasons, |one| StatedReason::from_model(one, out)),
        }
    }

    /// Every name that the file declares, before anything speaks of it.
    fn names(&self) -> Result<In, Refusal> {
        let mut names = In::default();
        names.declare("citation", self.citations.iter().map(|one| &*one.name))?;
        names.declare("role", self.people.iter().map(|one| &*one.name))?;
        names.declare("mark", self.marks.iter().map(|one| &*one.name))?;
        names.declare("reading", self.readings.iter().map(|one| &*one.name))?;
        names.declare("phase", self.phases.iter().map(|one| &*one.name))?;
        names.declare("rule", self.rules.iter().map(|one| &*one.name))?;
        names.declare("ladder", self.ladders.iter().map(|one| &*one.name))?;
        names.declare("checklist", self.checklists.iter().map(|one| &*one.name))?;
        names.declare("medication", self.medications.iter().map(|one| &*one.name))?;
        Ok(names)
    }
}

fn all<A, B>(list: &[A], make: impl Fn(&A) -> B) -> Vec<B> {
    list.iter().map(make).collect()
}

pub(super) fn to_model(file: &RuleFile) -> Result<m::Protocol, Refusal> {
    let meaning = &file.protocol;
    let mut names = meaning.names()?;
    // Readings first: their kind gives the type of every level.
    let readings = each(&meaning.readings, |one| one.to_model(&names))?;
    names.kinds(&readings);
    let names = &names;
    if meaning.libraries.len() != file.library_files.len() {
        return Err(Refusal::inconsistent(
            "the libraries and their files are not of one number",
        ));
    }
    let uses = meaning
        .libraries
        .iter()
        .zip(&file.library_files)
        .map(|(library, at)| library.to_model(&at.path))
        .collect::<Result<_, _>>()?;
    Ok(m::Protocol {
        name: named(&meaning.name),
        head: meaning.head.to_model(&file.approvals, names)?,
        uses,
        lets: each(&meaning.lets, |one| one.to_model(names))?,
        cites: all(&meaning.citations, |cite| m::Cite {
            name: named(&cite.name),
            text: text(&cite.text),
            span: Span::default(),
        }),
        roles: each(&meaning.people, |one| one.to_model(names))?,
        marks: all(&meaning.marks, |mark| m::Mark {
            name: named(&mark.name),
            title: text(&mark.title),
            span: Span::default(),
        }),
        criteria: each(&meaning.criteria, |one| one.to_model(names))?,
        readings,
        limits: each(&meaning.limits, |one| one.to_model(names))?,
        phases: each(&meaning.phases, |one| one.to_model(names))?,
        looks: each(&meaning.looks, |one| one.to_model(names))?,
        rules: each(&meaning.rules, |one| one.to_model(names))?,
        ladders: each(&meaning.ladders, |one| one.to_model(names))?,
        checklists: each(&meaning.checklists, |one| one.to_model(names))?,
        medications: each(&meaning.medications, |one| one.to_model(names))?,
        accepts: each(&meaning.accepts, |one| one.to_model())?,
        measures: each(&meaning.measures, |one| one.to_model(names))?,
        reasons: each(&meaning.reasons, |one| one.to_model(names))?,
        scenarios: each(&file.scenarios, |one| one.to_model(names))?,
        span: Span::default(),
    })
}
