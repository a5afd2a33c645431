//! The record: for each phase a table with a row a time point and a column for each thing that
//! the phase asks for.

use super::Sheet;
use crate::document::{
    Block, Cell, Column, Field, Notice, NoticeKind, Rich, Row, Table, Width, text,
};
use crate::model::words::{FixedWord as _, Occasion};
use crate::model::{Action, Aim, End, LookWhat, LookWhen, MarkRef, Order, PhaseId, ReadingKind};
use crate::plan::{Laid, NoTime, Round};
use crate::quantity::Exact;

impl Sheet<'_> {
    pub(super) fn record(&self) -> Vec<Block> {
        let counted = self.counted_from_ends();
        let mut blocks = vec![self.how_to_fill(!counted.is_empty())];
        blocks.extend(counted);
        blocks.extend(self.waiting());
        blocks.extend(self.regular_doses());
        blocks.extend(self.grids());
        for table in self.shift_checks() {
            blocks.push(Block::Keep(vec![table]));
        }
        blocks
    }

    /// The marks of the record, and what each letter stands for.
    fn how_to_fill(&self, counts_on: bool) -> Block {
        let mut how = String::from(
            "Dotted line: fill in at that time. Grey with a dash: not asked for then. Write what \
             the display shows, all its digits. + 15 min: the same row, 15 min later. Rows marked \
             +: where the phase lasts longer than planned; when they are full, print the sheet \
             again. Filled in late: write the true time beside it.",
        );
        if counts_on {
            how.push_str(" Below, by the number of the phase: write in when one is over, and add.");
        }
        for (occasion, when) in [
            (Occasion::EachShift, ""),
            (
                Occasion::EachShiftOfControl,
                ", as long as temperature is controlled",
            ),
        ] {
            let lists = self.protocol.checklists();
            let titles: Vec<String> = lists
                .filter(|(_, list)| list.at.value == occasion)
                .map(|(_, list)| format!("**{}**", list.title.markdown.trim()))
                .collect();
            if !titles.is_empty() {
                how.push_str(&format!(
                    " At each change of shift{when}: {}, after the record.",
                    crate::words::listed(&titles, "and")
                ));
            }
        }
        if self.moves_targets() {
            how.push_str(
                " After a pause or an order that moves the target: write the new targets beside \
                 the printed ones.",
            );
        }
        how.extend(self.sites());
        let mut body = vec![Block::Paragraph(text::inline(&how))];
        for (id, reading) in self.protocol.readings() {
            if let ReadingKind::Choice { words, .. } = &reading.kind {
                let words: Vec<String> = words
                    .iter()
                    .map(|word| word.name.replace('-', " "))
                    .collect();
                let list = crate::words::listed(&words, "or");
                let line = Rich::bold(text::inline(self.words.reading(id)).plain()).then(format!(
                    ": write {list}, or enough letters to tell them apart."
                ));
                body.push(Block::Paragraph(line));
            }
        }
        let tasks: Vec<Rich> = self
            .tasks()
            .into_iter()
            .map(|(letter, look)| {
                let when = self
                    .protocol
                    .looks
                    .get(look)
                    .map(|look| self.words.when(&look.when));
                Rich::bold(format!("{letter}  "))
                    .then(text::inline(&self.task_words(look)))
                    .then(format!(" ({})", when.unwrap_or_default()))
            })
            .collect();
        if !tasks.is_empty() {
            let mut line = Rich::from("Columns with a letter: tick when it is done.");
            for task in tasks {
                line = line.then("  ").then(task);
            }
            body.push(Block::Paragraph(line));
        }
        Block::Notice(Notice {
            kind: NoticeKind::Plain,
            title: "How to fill in the record".into(),
            body,
        })
    }

    /// Where a temperature of the body is taken, if its title does not say so.
    fn sites(&self) -> Option<String> {
        let sites: Vec<String> = self
            .protocol
            .readings()
            .filter_map(|(id, reading)| match &reading.kind {
                ReadingKind::Body(site) => {
                    let site = site.value.word().replace('-', " ");
                    let title = self.words.reading(id).to_lowercase();
                    (!title.contains(&site))
                        .then(|| format!("{}: {site}", self.words.reading_marked(id)))
                }
                _ => None,
            })
            .collect();
        (!sites.is_empty()).then(|| format!(" Sites: {}.", sites.join("; ")))
    }

    /// Whether a rule or a ladder can give the target another course than the printed one.
    fn moves_targets(&self) -> bool {
        let protocol = self.protocol;
        let rules = protocol.rules().flat_map(|(_, rule)| &rule.then);
        let ladders = protocol.ladders();
        let ladders = ladders.flat_map(|(_, ladder)| ladder.actions().map(|(_, action)| action));
        // A course stands still as long as control does.
        let has_course = protocol
            .phases()
            .any(|(_, phase)| matches!(phase.aim, Aim::Reach { rate: Some(_), .. }));
        let mut given = rules.chain(ladders).flat_map(Action::with_otherwise);
        given.any(|action| {
            action.order.is_of_target()
                || has_course && matches!(action.order, Order::SetRate(_) | Order::Pause(_))
        })
    }

    /// Regular tasks with their letters, in the order of the protocol.
    pub(super) fn tasks(&self) -> Vec<(char, usize)> {
        self.protocol
            .looks
            .iter()
            .enumerate()
            .filter(|(_, look)| {
                matches!(look.when, LookWhen::Every { .. })
                    && matches!(look.what, LookWhat::Do { .. })
            })
            .map(|(index, _)| index)
            .zip("ABCDEFGHJKLMNPQRSTUVWXYZ".chars())
            .map(|(index, letter)| (letter, index))
            .collect()
    }

    /// What a look tells to do.
    pub(super) fn task_words(&self, look: usize) -> String {
        let Some(look) = self.protocol.looks.get(look) else {
            return String::new();
        };
        match &look.what {
            LookWhat::Do { text, .. } => text.markdown.trim().to_string(),
            LookWhat::Give(medication) => format!(
                "Give **{}**",
                self.protocol[medication.value].title.markdown.trim()
            ),
            LookWhat::Order(action) => crate::words::sentence(&self.words.order(action, &[])),
            LookWhat::Ask { way, readings, .. } => {
                let names: Vec<String> = readings
                    .iter()
                    .map(|at| self.words.reading_marked(at.value))
                    .collect();
                crate::words::sentence(&format!(
                    "{} {}",
                    way.word(),
                    crate::words::listed(&names, "and")
                ))
            }
        }
    }

    /// What hangs on a moment that nobody knows yet, or that lies outside the plan.
    fn waiting(&self) -> Option<Block> {
        let rows: Vec<Row> = self
            .schedule
            .unplaced
            .iter()
            .map(|waiting| {
                let what = text::inline(&self.task_words(waiting.look));
                let when = self
                    .protocol
                    .looks
                    .get(waiting.look)
                    .map(|look| self.words.when(&look.when))
                    .unwrap_or_default();
                let note = match waiting.why {
                    NoTime::Waits { mark, .. } => match mark {
                        MarkRef::Named(_)
                        | MarkRef::Start
                        | MarkRef::PhaseStart(_)
                        | MarkRef::PhaseEnd(_) => String::new(),
                    },
                    NoTime::BeforeStart(at) => {
                        format!(
                            " ({}: already past at the start)",
                            self.times.moment(at, Round::Down)
                        )
                    }
                    NoTime::AfterEnd(at) => format!(
                        " ({}: after the end of this sheet)",
                        self.times.moment(at, Round::Down)
                    ),
                };
                Row::cells(vec![
                    Cell::Tick,
                    Cell::Text(text::inline(&when).then(note)),
                    Cell::Text(what),
                    Cell::WriteIn(Field::open("", "", 24)),
                    Cell::Initials,
                ])
            })
            .collect();
        (!rows.is_empty()).then(|| {
            Block::Table(Table {
                caption: "To be done at a moment that is not known when this is printed".into(),
                columns: vec![
                    Column::new("Done", Width::Mm(11)).middle(),
                    Column::new("When", Width::Share(2)),
                    Column::new("What", Width::Share(3)),
                    Column::new("Due at", Width::Mm(30)),
                    Column::new("Initials", Width::Mm(15)),
                ],
                rows,
                row_height: 75,
                fill: false,
            })
        })
    }

    /// Whether the clock time of a phase's beginning can be printed: the plan knows it, and no
    /// phase before it can still last longer than planned, as one that ends by arriving can.
    pub(super) fn begins_for_sure(&self, id: PhaseId) -> bool {
        let mut sure = true;
        for placed in &self.plan.phases {
            if placed.phase == id {
                return sure && placed.start.exact().is_some();
            }
            sure = match &self.protocol[placed.phase].end {
                _ if placed.over => true,
                End::Reached | End::Awaited { .. } => false,
                End::Lasts(_) => sure,
                End::After { mark, .. } => match mark.value {
                    MarkRef::Start => true,
                    MarkRef::Named(mark) => self.case.marks.contains_key(&mark),
                    MarkRef::PhaseStart(_) | MarkRef::PhaseEnd(_) => sure,
                },
            };
        }
        false
    }

    /// The plan counts on the latest beginning of a phase; where it ends at a moment that hangs on
    /// no phase, one that begins sooner lasts longer.
    pub(super) fn at_its_longest(&self, laid: Laid) -> Laid {
        let placed = self.plan.phase(laid.phase).filter(|placed| !placed.over);
        let ends = match &self.protocol[laid.phase].end {
            End::After { after, mark } => match mark.value {
                MarkRef::Start | MarkRef::Named(_) => {
                    let made = self.plan.mark(mark.value).and_then(|made| made.latest);
                    made.map(|made| made + after.value)
                }
                MarkRef::PhaseStart(_) | MarkRef::PhaseEnd(_) => None,
            },
            End::Reached | End::Awaited { .. } | End::Lasts(_) => None,
        };
        let longest = placed
            .filter(|_| !laid.assumed)
            .and_then(|placed| Some(ends? - placed.start.earliest));
        match longest {
            Some(longest) => Laid {
                end: laid.end.max(laid.start + longest),
                ..laid
            },
            None => laid,
        }
    }

    pub(super) fn may_last_longer(&self, laid: &Laid) -> bool {
        let open = self
            .plan
            .phase(laid.phase)
            .is_none_or(|placed| placed.end.latest.is_none());
        let over = self
            .plan
            .phase(laid.phase)
            .is_some_and(|placed| placed.over);
        if over {
            return false;
        }
        laid.assumed
            || open
            || matches!(
                self.protocol[laid.phase].end,
                End::Reached | End::Awaited { .. }
            )
    }
}

/// The hour grid of a phase: `0:15` since it began.
pub(super) fn since(at: Exact) -> String {
    crate::plan::report::hours_and_minutes(at, Round::Down)
}
