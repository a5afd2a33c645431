//! What is due in a phase, as the record prints it.
//!
//! Regular entries are counted anew from the beginning of each phase, so that all of them stand in
//! the same rows. The protocol counts them through neighbouring phases (M8); counted anew, the
//! first comes sooner than it would, and none comes later: two entries are never further apart
//! than the protocol asks. Doses are not entries: they keep their own times, in a table of their own.

use super::Sheet;
use crate::document::{Block, Cell, Column, Row, Table, Width, text};
use crate::model::{Look, LookWhat, LookWhen, PhaseId, ReadingId};
use crate::plan::{Due, DueWhat, Laid, Round};
use crate::quantity::Exact;

impl Sheet<'_> {
    /// Everything that is due in a phase but the regular doses, by time.
    pub(super) fn entries(&self, laid: &Laid) -> Vec<Due> {
        let mut due: Vec<Due> = Vec::new();
        for (index, look) in self.protocol.looks.iter().enumerate() {
            let Some(interval) = self.regular(look, laid.phase) else {
                continue;
            };
            let mut at = laid.start;
            while at < laid.end {
                for what in regular_entries(index, look) {
                    let next = Due {
                        at,
                        phase: laid.phase,
                        what,
                    };
                    if !due.contains(&next) {
                        due.push(next);
                    }
                }
                at = at + interval;
            }
        }
        for once in self
            .schedule
            .due
            .iter()
            .filter(|once| once.phase == laid.phase)
        {
            if self.is_once(once) && !due.contains(once) {
                due.push(once.clone());
            }
        }
        due.sort_by_key(|due| due.at);
        due
    }

    /// The interval at which a look asks regularly in a phase.
    fn regular(&self, look: &Look, phase: PhaseId) -> Option<Exact> {
        match &look.when {
            LookWhen::Every { interval, during } => (during.is_empty()
                || during.iter().any(|at| at.value == phase))
            .then_some(interval.value)
            .filter(|interval| *interval > Exact::ZERO),
            LookWhen::At { .. } | LookWhen::Before { .. } => None,
        }
    }

    /// Whether the schedule has it for another reason than a regular look.
    fn is_once(&self, due: &Due) -> bool {
        match &due.what {
            DueWhat::Ask { reading, .. } => !self.is_regular(due.at, *reading, due.phase),
            DueWhat::Task { look } | DueWhat::Order { look } | DueWhat::Dose { look, .. } => self
                .protocol
                .looks
                .get(*look)
                .is_some_and(|look| self.regular(look, due.phase).is_none()),
            DueWhat::Checklist(_) => true,
        }
    }

    /// Whether a regular look asks for a reading at that time, counted as the protocol counts.
    fn is_regular(&self, at: Exact, reading: ReadingId, phase: PhaseId) -> bool {
        self.protocol.looks.iter().any(|look| {
            let asks = matches!(&look.what, LookWhat::Ask { readings, .. }
                if readings.iter().any(|other| other.value == reading));
            let Some(interval) = self.regular(look, phase).filter(|_| asks) else {
                return false;
            };
            ((at - self.stretch_start(look, phase)) / interval).is_integer()
        })
    }

    /// Where the unbroken time of a look's phases begins that this phase belongs to (M8).
    fn stretch_start(&self, look: &Look, phase: PhaseId) -> Exact {
        let mut start = Exact::ZERO;
        let mut inside = false;
        for laid in self
            .schedule
            .layout
            .iter()
            .filter(|laid| laid.start < laid.end)
        {
            let within = self.regular(look, laid.phase).is_some();
            if within && !inside {
                start = laid.start;
            }
            inside = within;
            if laid.phase == phase {
                break;
            }
        }
        start
    }

    /// Doses at set times: their own table, so that nobody ticks one twice.
    pub(super) fn regular_doses(&self) -> Vec<Block> {
        let mut blocks = Vec::new();
        for (index, look) in self.protocol.looks.iter().enumerate() {
            let (LookWhen::Every { interval, during }, LookWhat::Give(medication)) =
                (&look.when, &look.what)
            else {
                continue;
            };
            let times: Vec<String> = self
                .schedule
                .due
                .iter()
                .filter(|due| matches!(due.what, DueWhat::Dose { look, .. } if look == index))
                .map(|due| self.times.moment(due.at, Round::Up))
                .collect();
            if times.is_empty() {
                continue;
            }
            let phases: Vec<PhaseId> = during.iter().map(|at| at.value).collect();
            let stretch = if phases.is_empty() {
                String::new()
            } else {
                format!(", in {}", self.words.phases(&phases))
            };
            let name = self.protocol[medication.value].title.markdown.trim();
            blocks.push(Block::Table(dose_table(
                text::inline(&format!("Regular dose: {name}, every {interval}{stretch}")),
                &times,
            )));
        }
        blocks
    }
}

/// What a regular look asks for each time; a dose is no entry.
fn regular_entries(index: usize, look: &Look) -> Vec<DueWhat> {
    match &look.what {
        LookWhat::Ask { way, readings, .. } => readings
            .iter()
            .map(|reading| DueWhat::Ask {
                reading: reading.value,
                way: *way,
                then_follow: Vec::new(),
            })
            .collect(),
        LookWhat::Do { .. } => vec![DueWhat::Task { look: index }],
        LookWhat::Give(_) | LookWhat::Order(_) => Vec::new(),
    }
}

/// Doses three side by side, read line by line.
fn dose_table(caption: crate::document::Rich, times: &[String]) -> Table {
    const BESIDE: usize = 4;
    let mut columns = Vec::new();
    for _ in 0..BESIDE {
        columns.push(Column::new("Due", Width::Fit(34)));
        columns.push(Column::new("Given", Width::Share(1)));
    }
    let rows = times
        .chunks(BESIDE)
        .map(|chunk| {
            let mut cells = Vec::new();
            for time in chunk {
                cells.extend([
                    Cell::text(crate::document::Rich::bold(time.clone())),
                    Cell::Due,
                ]);
            }
            cells.resize(BESIDE * 2, Cell::Empty);
            Row::cells(cells)
        })
        .collect();
    Table {
        caption,
        columns,
        rows,
        row_height: 70,
        fill: false,
    }
}
