//! The rows of one phase's record: every time at which something is due, what is asked then, and
//! what else happens between.

use super::Sheet;
use super::grid::Columns;
use super::record::since;
use crate::document::{Cell, Rich, Row, text};
use crate::model::{Aim, LookWhen, MarkRef, PhaseId, ReadingId, Way};
use crate::plan::{Due, DueWhat, Laid, Round, interval_in_force};
use crate::quantity::{Exact, Level, difference_to_fahrenheit, to_celsius, to_fahrenheit};
use crate::words::shown;
use std::collections::BTreeMap;

/// What a box of the record asks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum BoxOf {
    /// The reading at the time of the row.
    Reading(ReadingId),
    /// The reading so many minutes after the time of the row, which is a whole hour: a reading
    /// that is asked for several times an hour has its boxes side by side.
    Later(ReadingId, Exact),
}

impl BoxOf {
    pub fn reading(self) -> ReadingId {
        match self {
            BoxOf::Reading(id) | BoxOf::Later(id, _) => id,
        }
    }

    /// How long after the row's own time.
    pub fn after(self) -> Exact {
        match self {
            BoxOf::Reading(_) => Exact::ZERO,
            BoxOf::Later(_, after) => after,
        }
    }
}

/// What is due in one phase.
pub(super) struct PhaseRows {
    pub laid: Laid,
    /// Clock times may be printed.
    pub exact: bool,
    /// Columns: boxes, then lettered tasks.
    pub boxes: Vec<BoxOf>,
    pub tasks: Vec<(char, usize)>,
    at: BTreeMap<Exact, Vec<Due>>,
}

impl PhaseRows {
    pub fn of(sheet: &Sheet, laid: Laid, exact: bool) -> Self {
        let due = sheet.entries(&laid);
        let readings: Vec<ReadingId> = sheet
            .protocol
            .readings()
            .map(|(id, _)| id)
            .filter(|id| due.iter().any(|due| asks(due, *id)))
            .collect();
        let tasks = sheet
            .tasks()
            .into_iter()
            .filter(|(_, look)| due.iter().any(|due| look_of(due) == Some(*look)))
            .collect();
        let tasks: Vec<(char, usize)> = tasks;
        let room = sheet.room_for_boxes(&[laid.phase], exact, tasks.len());
        let mut rows = PhaseRows {
            laid,
            exact,
            boxes: readings.iter().map(|id| BoxOf::Reading(*id)).collect(),
            tasks,
            at: BTreeMap::new(),
        };
        let mut count = rows.boxes.len();
        let mut boxes = Vec::new();
        for id in readings {
            let spread = rows.spread(sheet, &due, id);
            if count + spread.len() <= room + 1 {
                count += spread.len() - 1;
                boxes.extend(spread);
            } else {
                boxes.push(BoxOf::Reading(id));
            }
        }
        // Where one of them needs rows within the hour, the others are spared narrow boxes.
        let within_the_hour = |of: &BoxOf| {
            let spread = boxes
                .iter()
                .any(|other| matches!(other, BoxOf::Later(id, _) if *id == of.reading()));
            let every = interval_in_force(sheet.protocol, of.reading(), laid.phase);
            !spread && every.is_some_and(|every| every < Exact::int(60))
        };
        if !boxes.iter().any(within_the_hour) {
            rows.boxes = boxes;
        }
        for each in due {
            rows.at.entry(rows.row_of(&each)).or_default().push(each);
        }
        rows
    }

    pub fn phase(&self) -> PhaseId {
        self.laid.phase
    }

    /// How many rows there are.
    pub fn count(&self) -> usize {
        self.at.len()
    }

    /// The boxes of a reading within an hour, where it can have them side by side: asked for in
    /// even parts of the hour, and the target the same all the hour.
    fn spread(&self, sheet: &Sheet, due: &[Due], id: ReadingId) -> Vec<BoxOf> {
        let single = vec![BoxOf::Reading(id)];
        let hour = Exact::int(60);
        let Some(interval) = interval_in_force(sheet.protocol, id, self.laid.phase) else {
            return single;
        };
        let parts = hour / interval;
        let Some(count) = parts
            .to_i64_floor()
            .filter(|count| *count > 1 && parts.is_integer())
        else {
            return single;
        };
        let even = due.iter().filter(|due| asks(due, id)).all(|due| {
            let since = due.at - self.laid.start;
            let row = since.round_down_to(hour);
            ((since - row) / interval).is_integer()
                && self.target(sheet, due.at) == self.target(sheet, self.laid.start + row)
        });
        if !even {
            return single;
        }
        (0..count)
            .map(|part| match part {
                0 => BoxOf::Reading(id),
                _ => BoxOf::Later(id, interval * Exact::int(part)),
            })
            .collect()
    }

    /// The time of the row in which something is written down.
    fn row_of(&self, due: &Due) -> Exact {
        let spread = |id: ReadingId| {
            self.boxes
                .iter()
                .any(|of| matches!(of, BoxOf::Later(other, _) if *other == id))
        };
        match &due.what {
            DueWhat::Ask { reading, .. } if spread(*reading) => {
                let since = due.at - self.laid.start;
                self.laid.start + since.round_down_to(Exact::int(60))
            }
            _ => due.at,
        }
    }

    pub fn table_rows(&self, sheet: &Sheet, columns: &Columns) -> Vec<Row> {
        let mut rows: Vec<Row> = self.target_unknown(sheet).into_iter().collect();
        let mut day = None;
        for (&at, due) in &self.at {
            if self.exact
                && let Some(time) = sheet.times.clock(at, Round::Down)
                && day.replace(time.date()) != Some(time.date())
            {
                rows.push(Row::Band {
                    text: time.day_and_year().into(),
                    tick: false,
                    initials: false,
                    divider: true,
                });
            }
            for each in due {
                if let Some(words) = self.between(sheet, each) {
                    rows.push(Row::Band {
                        text: Rich::bold(format!("{}  ", self.band_time(sheet, each))).then(words),
                        tick: true,
                        // A list is signed in the list.
                        initials: !matches!(each.what, DueWhat::Checklist(_)),
                        divider: false,
                    });
                }
            }
            if due.iter().any(|each| self.has_column(each)) {
                rows.push(self.row(sheet, at, due, columns));
            }
        }
        rows
    }

    /// By the clock, or since the phase began.
    fn time(&self, sheet: &Sheet, at: Exact) -> String {
        let clock = sheet.times.clock(at, Round::Down).filter(|_| self.exact);
        clock.map_or_else(|| since(at - self.laid.start), |time| time.time())
    }

    /// The same for what is done once: what hangs on a moment outside the phase has its own time.
    fn band_time(&self, sheet: &Sheet, due: &Due) -> String {
        let look = look_of(due).and_then(|look| sheet.protocol.looks.get(look));
        let own = look.is_some_and(|look| match &look.when {
            LookWhen::At { mark, .. } => {
                matches!(mark.value, MarkRef::Named(_) | MarkRef::Start)
            }
            LookWhen::Every { .. } | LookWhen::Before { .. } => false,
        });
        if own && !self.exact {
            sheet.times.moment(due.at, Round::Up)
        } else {
            self.time(sheet, due.at)
        }
    }

    /// A course begins at the reading (M21): without it, nobody can print its targets.
    fn target_unknown(&self, sheet: &Sheet) -> Option<Row> {
        let phase = &sheet.protocol[self.laid.phase];
        let Aim::Reach {
            rate: Some(rate), ..
        } = &phase.aim
        else {
            return None;
        };
        if !self.target(sheet, self.laid.start).is_empty() {
            return None;
        }
        let from = sheet.words.reading(phase.aim.reading());
        let slower = sheet
            .case
            .rates
            .get(&self.laid.phase)
            .unwrap_or(rate.slower());
        Some(Row::Band {
            text: Rich::bold("Targets:  ").then(text::inline(&format!(
                "they begin at {from} when the phase begins and move by {}. Print the sheet \
                 again with that value, or write the targets in.",
                sheet.words.both(slower)
            ))),
            tick: false,
            initials: false,
            divider: false,
        })
    }

    fn has_column(&self, due: &Due) -> bool {
        matches!(due.what, DueWhat::Ask { .. })
            || look_of(due).is_some_and(|look| self.tasks.iter().any(|(_, other)| *other == look))
    }

    /// What is done once and so has no column.
    fn between(&self, sheet: &Sheet, due: &Due) -> Option<Rich> {
        match &due.what {
            DueWhat::Ask { .. } => None,
            // Their clock time says nothing about a phase of which nobody knows the beginning.
            DueWhat::Checklist(_) if !self.exact => None,
            DueWhat::Checklist(id) => Some(text::inline(&sheet.protocol[*id].title.markdown)),
            DueWhat::Task { look } | DueWhat::Dose { look, .. } | DueWhat::Order { look } => {
                (!self.has_column(due)).then(|| text::inline(&sheet.task_words(*look)))
            }
        }
    }

    fn row(&self, sheet: &Sheet, at: Exact, due: &[Due], columns: &Columns) -> Row {
        let clock = sheet.times.clock(at, Round::Down).filter(|_| self.exact);
        let clock = clock.map(|time| Cell::text(Rich::bold(time.time())));
        let mut cells = Vec::new();
        if !columns.exact {
            let hours = since(at - self.laid.start);
            cells.push(Cell::Text(match clock {
                Some(_) => hours.into(),
                None => Rich::bold(hours),
            }));
        }
        cells.push(clock.unwrap_or(Cell::Due));
        if columns.target {
            let target = self.target(sheet, at);
            cells.push(if target.is_empty() {
                Cell::Due
            } else {
                Cell::Value(target)
            });
        }
        for of in &columns.boxes {
            let asked = due
                .iter()
                .any(|due| asks(due, of.reading()) && due.at == at + of.after());
            cells.push(if asked { Cell::Due } else { Cell::NotDue });
        }
        for (_, look) in &columns.tasks {
            let asked = due.iter().any(|due| look_of(due) == Some(*look));
            cells.push(if asked { Cell::Tick } else { Cell::NotDue });
        }
        if columns.notes {
            cells.push(Cell::Empty);
        }
        cells.push(Cell::Initials);
        let minutes = at - self.laid.start;
        Row::Cells {
            cells,
            heavy: (minutes / Exact::int(360)).is_integer(),
        }
    }

    /// The target of that moment, in the unit in which the phase was written.
    fn target(&self, sheet: &Sheet, at: Exact) -> String {
        let phase = &sheet.protocol[self.laid.phase];
        let reading = phase.aim.reading();
        let number = |level: &Level| sheet.in_column(level, reading);
        let with_other = |shown: String, celsius: Exact, unit: &str| match sheet
            .words
            .beside(celsius, unit, false)
        {
            Some(other) => format!("{shown} ({other})"),
            None => shown,
        };
        match &phase.aim {
            Aim::Hold { at, .. } => with_other(number(at), at.value, at.written.unit),
            // The range on the other scale stands at the head of the phase.
            Aim::Keep { low, high, .. } => match (low, high) {
                (Some(low), Some(high)) => format!("{} to {}", number(low), number(high)),
                (Some(low), None) => format!("≥ {}", number(low)),
                (None, Some(high)) => format!("≤ {}", number(high)),
                (None, None) => String::new(),
            },
            Aim::Reach { to, rate: None, .. } => with_other(number(to), to.value, to.written.unit),
            Aim::Reach { to, way, .. } => {
                let minutes = at - self.laid.start;
                let target = sheet
                    .plan
                    .target_in(sheet.protocol, self.laid.phase, minutes);
                let Some(target) = target else {
                    return String::new();
                };
                let step = sheet.protocol[reading].shown_to.as_ref();
                let (shown, celsius) = temperature(target, *way, step, to.written.unit);
                let shown = match sheet.unit_of(reading) == to.written.unit {
                    true => shown,
                    false => format!("{shown}\u{a0}{}", to.written.unit),
                };
                with_other(shown, celsius, to.written.unit)
            }
        }
    }
}

/// A target as the display shows it, rounded to its step on the slower side, said in °C or °F;
/// and what that is in °C.
fn temperature(
    celsius: Exact,
    way: Way,
    step: Option<&crate::quantity::Change>,
    unit: &str,
) -> (String, Exact) {
    let rounded = |value: Exact, step: Exact| match way {
        Way::Warm => value.round_down_to(step),
        Way::Cool => value.round_up_to(step),
    };
    let celsius = match step {
        Some(step) if step.written.unit == "°F" => {
            let step = difference_to_fahrenheit(step.value);
            to_celsius(rounded(to_fahrenheit(celsius), step))
        }
        Some(step) => rounded(celsius, step.value),
        None => rounded(celsius, Exact::ratio(1, 10)),
    };
    let value = match unit {
        "°F" => to_fahrenheit(celsius),
        _ => celsius,
    };
    // One digit at least: 33.0, never 33.
    let text = value.to_decimal(1).unwrap_or_else(|| shown(value, 3));
    (text, celsius)
}

fn asks(due: &Due, id: ReadingId) -> bool {
    matches!(&due.what, DueWhat::Ask { reading, .. } if *reading == id)
}

fn look_of(due: &Due) -> Option<usize> {
    match &due.what {
        DueWhat::Task { look } | DueWhat::Dose { look, .. } | DueWhat::Order { look } => {
            Some(*look)
        }
        DueWhat::Ask { .. } | DueWhat::Checklist(_) => None,
    }
}
