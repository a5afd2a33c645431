//! Ladders: what to do for each value, or step after step until the goal is met.

use super::Sheet;
use crate::document::{Block, Cell, Column, Rich, Row, Table, Width, text};
use crate::model::{
    Action, Goal, Ladder, LadderForm, LadderId, LookWhat, LookWhen, PhaseId, ReadingId,
    ReadingKind, RungBand,
};
use crate::quantity::Duration;
use crate::words::sentence;

impl Sheet<'_> {
    pub(super) fn steps_and_doses(&self) -> Vec<Block> {
        let mut blocks = Vec::new();
        for (id, ladder) in self.protocol.ladders() {
            blocks.extend(self.ladder(id, ladder));
        }
        blocks.extend(self.doses());
        blocks
    }

    /// When a ladder is followed without a rule: at each record of its reading that a look asks for.
    pub(super) fn followed_at(&self, ladder: LadderId) -> Option<String> {
        let follows = |what: &LookWhat| matches!(what, LookWhat::Ask { then_follow: Some(at), .. } if at.value == ladder);
        let looks = self.protocol.looks.iter();
        let times: Vec<String> = looks
            .filter(|look| follows(&look.what))
            .map(|look| match &look.when {
                LookWhen::Every { during, .. } => {
                    let during: Vec<PhaseId> = during.iter().map(|at| at.value).collect();
                    match self.phase_numbers(&during).as_str() {
                        "all" => "in all phases".to_owned(),
                        one if one.parse::<usize>().is_ok() => format!("in phase {one}"),
                        several => format!("in phases {several}"),
                    }
                }
                LookWhen::At { .. } | LookWhen::Before { .. } => self.words.when(&look.when),
            })
            .collect();
        (!times.is_empty()).then(|| crate::words::listed(&times, "and"))
    }

    fn ladder(&self, id: LadderId, ladder: &Ladder) -> Vec<Block> {
        let reading = ladder.reading.value;
        let title = Rich::from("Steps: ").then(text::inline(&ladder.title.markdown));
        let name = self.words.reading_marked(reading);
        let (how, rows) = match &ladder.form {
            LadderForm::Rungs(rungs) => (
                match self.followed_at(id) {
                    Some(when) => format!(
                        "At each {name} {when}, and when a rule says so: do what stands beside its \
                         value."
                    ),
                    None => format!("Take {name} and do what stands beside its value."),
                },
                rungs
                    .iter()
                    .map(|rung| {
                        let band = self.band(&rung.band);
                        self.rung(
                            band,
                            &rung.title.markdown,
                            &rung.actions,
                            rung.recheck.as_ref(),
                        )
                    })
                    .collect::<Vec<_>>(),
            ),
            LadderForm::Steps { goal, steps } => {
                let goal = self.goal(reading, goal);
                let begins = match self.followed_at(id) {
                    Some(when) => format!(
                        " **Begin at each {} that is not so, {when}.**",
                        name.trim_matches('*')
                    ),
                    None => String::new(),
                };
                (
                    format!(
                        "Goal: {name} {goal}.{begins} Goal met: no further step; next time from step \
                         1. Not met at the recheck: the next step. Sent here meanwhile: go on \
                         where you are."
                    ),
                    steps
                        .iter()
                        .enumerate()
                        .map(|(index, step)| {
                            let number = (index + 1).to_string();
                            self.rung(
                                number,
                                &step.title.markdown,
                                &step.actions,
                                step.recheck.as_ref(),
                            )
                        })
                        .collect(),
                )
            }
        };
        let first = match &ladder.form {
            LadderForm::Rungs(_) => "Value",
            LadderForm::Steps { .. } => "Step",
        };
        vec![
            Block::Heading {
                level: 1,
                text: title,
            },
            Block::Paragraph(text::inline(&how)),
            Block::Table(Table {
                caption: Rich::default(),
                columns: vec![
                    Column::new(first, Width::Word(14)).middle(),
                    Column::new("Do, in this order", Width::Share(1)),
                    Column::new("Recheck", Width::Mm(19)),
                    Column::new("Done: time, initials", Width::Mm(27)),
                ],
                rows,
                row_height: 70,
                fill: false,
            }),
        ]
    }

    fn rung(
        &self,
        first: String,
        title: &str,
        actions: &[Action],
        recheck: Option<&Duration>,
    ) -> Row {
        let mut lines = vec![text::inline(title).all_bold()];
        lines.extend(
            actions
                .iter()
                .map(|action| text::inline(&sentence(&self.words.order(action, &[])))),
        );
        let mut words = Rich::default();
        for (index, line) in lines.into_iter().enumerate() {
            // The first order stands beside the title, the others below it.
            words = match (index, actions.len()) {
                (0, _) => line,
                (_, 1) => words.then(": ").then(line),
                (1, _) => words.then(": 1. ").then(line),
                _ => words.then(format!("\n{index}. ")).then(line),
            };
        }
        let again = recheck.map_or("–".to_string(), |recheck| format!("in {recheck}"));
        Row::cells(vec![
            Cell::Text(Rich::bold(first)),
            Cell::Text(words),
            Cell::text(again),
            Cell::Initials,
        ])
    }

    fn band(&self, band: &RungBand) -> String {
        match band {
            RungBand::Values { low, high } if low.value == high.value => self.words.both(low),
            RungBand::Values { low, high } => {
                format!("{} to {}", self.words.both(low), self.words.both(high))
            }
            RungBand::Compare { cmp, level } => {
                format!("{} {}", cmp.words(), self.words.both(level))
            }
        }
    }

    fn goal(&self, reading: ReadingId, goal: &Goal) -> String {
        match goal {
            Goal::Compare { cmp, level } => {
                format!("{} {}", cmp.words(), self.words.both(level))
            }
            Goal::Is(word) => match &self.protocol[reading].kind {
                ReadingKind::Choice { words, .. } => words
                    .get(word.value)
                    .map(|word| format!("is *{}*", word.name.replace('-', " ")))
                    .unwrap_or_default(),
                _ => String::new(),
            },
        }
    }
}
