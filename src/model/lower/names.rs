//! All declared names of a protocol and what it uses: one name space.

use crate::diag::Diagnostic;
use crate::source::{FileId, Span};
use crate::syntax::nearest;
use std::collections::BTreeMap;

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(in crate::model) enum Kind {
    Let,
    Cite,
    Mark,
    Reading,
    Measure,
    Role,
    Phase,
    Rule,
    Ladder,
    Checklist,
    Medication,
}

impl Kind {
    pub fn words(self) -> &'static str {
        match self {
            Kind::Let => "a named value",
            Kind::Cite => "a citation",
            Kind::Mark => "a mark",
            Kind::Reading => "a reading",
            Kind::Measure => "a measure",
            Kind::Role => "one of the people",
            Kind::Phase => "a phase",
            Kind::Rule => "a rule",
            Kind::Ladder => "a ladder",
            Kind::Checklist => "a checklist",
            Kind::Medication => "a medication",
        }
    }

    /// How one is declared.
    fn declared(self) -> &'static str {
        match self {
            Kind::Let => "let NAME = 33.0 °C",
            Kind::Cite => "cite NAME \"…\"",
            Kind::Mark => "mark NAME \"…\"",
            Kind::Reading => "reading NAME \"…\" …",
            Kind::Measure => "measure NAME \"…\" …",
            Kind::Role => "NAME \"…\" in people { … }",
            Kind::Phase => "phase NAME \"…\" { … }",
            Kind::Rule => "rule NAME { … }",
            Kind::Ladder => "ladder NAME \"…\" on READING { … }",
            Kind::Checklist => "checklist NAME \"…\" at WORD { … }",
            Kind::Medication => "medication NAME \"…\" { … }",
        }
    }

    /// Things that speak for themselves even when no other statement names them.
    fn stands_alone(self) -> bool {
        matches!(
            self,
            Kind::Measure | Kind::Phase | Kind::Rule | Kind::Checklist
        )
    }
}

#[derive(Debug, Clone)]
struct Declared {
    kind: Kind,
    index: u32,
    span: Span,
    is_library: bool,
    used: bool,
    /// In another file than its own.
    used_elsewhere: bool,
}

#[derive(Debug, Default)]
pub(in crate::model) struct Names {
    by_name: BTreeMap<String, Declared>,
    counts: BTreeMap<Kind, u32>,
}

impl Names {
    /// Enters a name. A second declaration is told, and still has its place in
    /// its table, so that the ids of those after it stay right.
    pub fn declare(
        &mut self,
        kind: Kind,
        name: &str,
        span: Span,
        is_library: bool,
    ) -> Option<Diagnostic> {
        let count = self.counts.entry(kind).or_default();
        let index = *count;
        *count += 1;
        if let Some(first) = self.by_name.get(name) {
            return Some(
                Diagnostic::error(
                    "duplicate-name",
                    span,
                    format!("the name `{name}` is given twice"),
                )
                .here(format!("here as {}", kind.words()))
                .also(first.span, format!("first here, as {}", first.kind.words()))
                .why("a rule, a record or an approval that names it could mean either")
                .help("give one of the two another name")
                .source("structural"),
            );
        }
        self.by_name.insert(
            name.to_owned(),
            Declared {
                kind,
                index,
                span,
                is_library,
                used: false,
                used_elsewhere: false,
            },
        );
        None
    }

    pub fn kind_of(&self, name: &str) -> Option<Kind> {
        self.by_name.get(name).map(|declared| declared.kind)
    }

    /// The thing of one of these kinds, which counts as used from now on.
    pub fn find(
        &mut self,
        kinds: &[Kind],
        name: &str,
        span: Span,
    ) -> Result<(Kind, u32), Box<Diagnostic>> {
        let wanted: Vec<&str> = kinds.iter().map(|kind| kind.words()).collect();
        let wanted = wanted.join(" or ");
        if let Some(declared) = self.by_name.get_mut(name) {
            declared.used = true;
            declared.used_elsewhere |= span.file != declared.span.file;
            if kinds.contains(&declared.kind) {
                return Ok((declared.kind, declared.index));
            }
            return Err(Box::new(
                Diagnostic::error(
                    "unknown-name",
                    span,
                    format!(
                        "`{name}` is {}, where {wanted} belongs",
                        declared.kind.words()
                    ),
                )
                .also(declared.span, "declared here")
                .why("the line cannot be carried out as it stands")
                .help(format!("write the name of {wanted} here"))
                .source("structural"),
            ));
        }
        let mut problem =
            Diagnostic::error("unknown-name", span, format!("`{name}` is not declared"))
                .why("the line cannot be carried out as it stands")
                .source("structural");
        let near = nearest(
            name,
            self.by_name
                .iter()
                .filter(|(_, declared)| kinds.contains(&declared.kind))
                .map(|(name, _)| name.as_str()),
        )
        .map(str::to_owned);
        problem = match near {
            Some(near) => problem
                .here(format!("did you mean `{near}`?"))
                .help(format!("write `{near}`"))
                .fix(span, near),
            None => {
                let declared: Vec<&str> = kinds.iter().map(|kind| kind.declared()).collect();
                problem
                    .here(format!("{wanted} belongs here"))
                    .help(format!("declare it: `{}`", declared.join("` or `")))
            }
        };
        Err(Box::new(problem))
    }

    /// Whether nothing that a library's file declares speaks for itself or is named in
    /// any other file.
    pub fn is_idle(&self, library: FileId) -> bool {
        !self.by_name.values().any(|declared| {
            declared.span.file == library
                && (declared.used_elsewhere || declared.kind.stands_alone())
        })
    }

    /// Names of the protocol's own file that nothing else names. What a shared
    /// library has over is not this protocol's fault.
    pub fn unused(&self) -> Vec<Diagnostic> {
        self.by_name
            .iter()
            .filter(|(name, declared)| {
                !declared.used
                    && !declared.is_library
                    && !declared.kind.stands_alone()
                    && name.as_str() != "nurse"
            })
            .map(|(name, declared)| {
                Diagnostic::warning(
                    "unused-name",
                    declared.span,
                    format!("`{name}` is declared and used nowhere"),
                )
                .here(format!("{} that nothing names", declared.kind.words()))
                .why("it may be that a line which should name it is missing or names another")
                .help("use it, or take the declaration away")
                .source("structural")
                .about(name.clone())
            })
            .collect()
    }
}
