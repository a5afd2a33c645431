//! The first page: what is known about the case, the phases, the course, who may be started.

use super::Sheet;
use crate::document::{
    Block, Cell, Column, Field, List, Notice, NoticeKind, Rich, Row, Table, Width, text,
};
use crate::model::{CriterionKind, FixedWord};
use crate::plan::{Empty, Round};
use crate::quantity::{Exact, Quantity};

impl Sheet<'_> {
    /// Beside the label box.
    pub(super) fn facts(&self, status: &str, print: &str) -> Vec<(Rich, Rich)> {
        let head = &self.protocol.head;
        let short: String = print.chars().take(16).collect();
        vec![
            (
                "Protocol".into(),
                format!(
                    "{}, version {}, review by {}",
                    self.protocol.name.name, head.version.value, head.review.value
                )
                .into(),
            ),
            ("Status".into(), Rich::bold(status)),
            ("Fingerprint".into(), short.into()),
        ]
    }

    pub(super) fn case_page(&self) -> Vec<Block> {
        let mut blocks = vec![Block::heading(1, "The case")];
        blocks.push(Block::Fields(self.known()));
        blocks.push(Block::Table(self.phases()));
        blocks.extend(self.exceptions());
        if let Some(chart) = self.chart() {
            blocks.push(Block::Chart(chart));
        }
        // A list stands in one half with its heading.
        let listed = |title: &str, lines: Vec<Rich>| {
            Block::Keep(vec![
                Block::heading(2, title),
                Block::List(List::of(false, lines)),
            ])
        };
        let mut who = vec![listed("Start only if all are true", self.entry())];
        let exclude = self.criteria(CriterionKind::Exclude);
        if !exclude.is_empty() {
            who.push(listed("Do not start if any is true", exclude));
        }
        let cautions = self.criteria(CriterionKind::Caution);
        if !cautions.is_empty() {
            who.push(Block::Notice(Notice {
                kind: NoticeKind::Caution,
                title: Rich::default(),
                body: vec![Block::List(List::of(false, cautions))],
            }));
        }
        who.extend(self.people().map(|people| Block::Keep(vec![people])));
        blocks.push(Block::Halves(who));
        blocks
    }

    /// What is known, printed; what is not, to write in.
    fn known(&self) -> Vec<Field> {
        let case = self.case;
        let mut fields = Vec::new();
        let zone = &self.protocol.head.timezone.value;
        fields.push(match self.times.clock(Exact::ZERO, Round::Down) {
            Some(time) => Field::filled(
                "Start (0:00)",
                format!("{} {} ({zone})", time.day_and_year(), time.time()),
            ),
            None => Field::open("Start (0:00): date and time", "", 34),
        });
        if self.protocol.head.patients.dosing_weight().is_some() || case.weight.is_some() {
            fields.push(match &case.weight {
                Some(weight) => Field::filled("Weight", plain(weight)),
                None => Field::open("Weight", "kg", 18),
            });
        }
        for (id, mark) in self.protocol.marks() {
            let title = text::inline(&mark.title.markdown);
            fields.push(match case.marks.get(&id) {
                Some(&at) => Field::filled(title, self.times.moment(at, Round::Down)),
                None => Field::open(title, "", 24),
            });
        }
        for (id, _) in &self.protocol.head.patients.on_arrival {
            let title = text::inline(self.words.reading(*id)).then(" on arrival");
            fields.push(match case.arrival.get(id) {
                Some(level) => Field::filled(title, self.words.both(level)),
                None => Field::open(title, self.unit_of(*id), 14),
            });
        }
        fields
    }

    /// The phases in order: what each aims at, how fast it may go, when it begins and ends.
    fn phases(&self) -> Table {
        let hours = |head: &str| match self.times.has_clock() {
            true => Column::new(head, Width::Mm(30)),
            false => Column::new(head, Width::Mm(30)).under("hours after the start"),
        };
        let rows = self.plan.phases.iter().map(|placed| {
            let phase = &self.protocol[placed.phase];
            let mut parts = vec![self.words.aim(phase)];
            parts.extend(self.words.pace(phase));
            parts.extend(phase.due.as_ref().map(|due| {
                let words = self.words.due(due);
                match self.due_time(placed.phase) {
                    Some(at) => format!("{words}: by **{}**", self.times.moment(at, Round::Down)),
                    None => words,
                }
            }));
            parts.push(self.words.end(phase, placed.phase));
            let name = text::inline(&self.words.phase(placed.phase)).all_bold();
            let (begins, ends) = if placed.empty == Empty::Always {
                let why = "falls away: its end is past before it can begin";
                (Rich::bold(why), Rich::from("–"))
            } else {
                (
                    Rich::from(self.times.window(placed.start)),
                    Rich::from(self.times.window(placed.end)),
                )
            };
            Row::cells(vec![
                Cell::Text(name.then(": ").then(text::inline(&parts.join("; ")))),
                Cell::Text(begins),
                Cell::Text(ends),
            ])
        });
        Table {
            caption: Rich::default(),
            columns: vec![
                Column::new("Phase", Width::Share(1)),
                hours("Begins"),
                hours("Ends"),
            ],
            rows: rows.collect(),
            row_height: 0,
            fill: false,
        }
    }

    /// Who may be started, and by when.
    fn entry(&self) -> Vec<Rich> {
        let head = &self.protocol.head;
        let patients = &head.patients;
        let mut lines = vec![Rich::from(patients.group.value.word())];
        let range =
            |name: &str, low: String, high: String| Rich::from(format!("{name} {low} to {high}"));
        if let Some(weight) = &patients.weight {
            lines.push(range(
                "weight",
                weight.low.to_string(),
                weight.high.to_string(),
            ));
        }
        if let Some(weight) = &patients.birth_weight {
            let (low, high) = (weight.low.to_string(), weight.high.to_string());
            lines.push(range("birth weight", low, high));
        }
        if let Some(age) = &patients.age {
            lines.push(range("age", age.low.to_string(), age.high.to_string()));
        }
        if let Some(age) = &patients.gestation {
            lines.push(range(
                "gestation",
                age.low.to_string(),
                age.high.to_string(),
            ));
        }
        for (id, range) in &patients.on_arrival {
            lines.push(text::inline(&format!(
                "{} {} to {} on arrival",
                self.words.reading(*id),
                self.words.both(&range.low),
                self.words.both(&range.high)
            )));
        }
        if let Some(start) = &head.start_within {
            let mark = self.protocol[start.of].title.markdown.trim();
            let mut line = format!("start within {} of {mark}", start.within);
            if let Some(&at) = self.case.marks.get(&start.of) {
                let by = self.times.moment(at + start.within.value, Round::Down);
                line.push_str(&format!(": by **{by}**"));
            }
            lines.push(text::inline(&line));
        }
        lines.extend(self.criteria(CriterionKind::Include));
        lines
    }

    fn criteria(&self, kind: CriterionKind) -> Vec<Rich> {
        self.protocol
            .criteria
            .iter()
            .filter(|criterion| criterion.kind == kind)
            .map(|criterion| text::inline(&criterion.text.markdown))
            .collect()
    }

    /// What the committee has seen and lets stand: it shows on the sheet.
    fn exceptions(&self) -> Option<Block> {
        if self.protocol.accepts.is_empty() {
            return None;
        }
        let lines = self.protocol.accepts.iter().map(|accept| {
            let on = accept
                .on
                .as_ref()
                .map(|on| format!(" on {}", on.name))
                .unwrap_or_default();
            Rich::bold(format!("{}{on}", self.words.name(&accept.finding.name)))
                .then(": ")
                .then(text::inline(&accept.because.markdown))
                .then(" (")
                .then(text::inline(&accept.by.markdown))
                .then(format!(", until {})", accept.until.value))
        });
        Some(Block::Notice(Notice {
            kind: NoticeKind::Note,
            title: "accepted exceptions".into(),
            body: vec![Block::List(List::of(false, lines))],
        }))
    }
}

/// A quantity as written; the renderers keep number and unit together themselves.
pub(super) fn plain<K>(quantity: &Quantity<K>) -> String {
    quantity.to_string()
}
