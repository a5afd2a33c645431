//! Audits as one HTML page: what it comes to over all cases, then each case with its
//! course over the plan, its figures, and what could not be counted.

use super::course::{held_together, records, runs};
use crate::audit::{Audit, Figure, Part, Problem, Spread, Summary, Weight};
use crate::document::{
    Block, Column, Document, Footer, Meta, Notice, NoticeKind, Rich, Row, Table, Width, html, text,
};
use crate::document::{Cell, Paper};
use crate::model::Protocol;
use crate::{rules, sheet};

/// The whole page.
pub fn html(protocol: &Protocol, audits: &[Audit], summary: &Summary) -> String {
    html::render(&document(protocol, audits, summary))
}

fn document(protocol: &Protocol, audits: &[Audit], summary: &Summary) -> Document {
    let head = &protocol.head;
    let name = &protocol.name.name;
    let print = rules::fingerprint(protocol);
    let short: String = print.chars().take(16).collect();
    let mut blocks = vec![Block::Notice(Notice {
        kind: NoticeKind::Note,
        title: Rich::from("what this is"),
        body: vec![Block::paragraph(
            "What the logs of finished cases come to when they are held against the protocol. Every \
             order is taken as carried out when it was given: a log cannot show what was done late or \
             left out, but for the entries that it holds. A share of time leaves out the time for which \
             the reading was not known.",
        )],
    })];
    if audits.len() > 1 {
        blocks.extend(over_all(audits, summary));
    }
    for audit in audits {
        blocks.extend(case(protocol, audit));
    }
    Document {
        title: format!("Audit: {}", text::inline(&head.title.markdown).plain()),
        subtitle: text::inline(&head.unit.markdown).plain(),
        language: "en".to_owned(),
        meta: Meta {
            protocol: name.clone(),
            version: head.version.value.to_string(),
            fingerprint: print.clone(),
            status: String::new(),
        },
        paper: Paper::A4,
        draft: None,
        label: None,
        facts: vec![
            (
                Rich::from("Protocol"),
                Rich::from(format!("{name}, version {}", head.version.value)),
            ),
            (Rich::from("Fingerprint"), Rich::from(short.clone())),
            (Rich::from("Cases"), Rich::from(audits.len().to_string())),
        ],
        footer: Footer {
            lines: vec![
                format!(
                    "{name}, version {} · fingerprint {short}",
                    head.version.value
                ),
                "This report supports and does not replace the unit's own review of each case."
                    .to_owned(),
            ],
            code: String::new(),
        },
        blocks,
    }
}

fn over_all(audits: &[Audit], summary: &Summary) -> Vec<Block> {
    let mut blocks = vec![Block::heading(1, format!("All {} cases", summary.cases))];
    let cases = table(
        "The cases",
        &[
            "No.",
            "Case",
            "Start",
            "Length",
            "Entries counted",
            "Lines to look at",
        ],
        audits.iter().enumerate().map(|(index, audit)| {
            let doubts: u64 = audit
                .problems
                .iter()
                .map(|problem| problem.lines.max(1))
                .sum();
            vec![
                (index + 1).to_string(),
                audit.case.clone(),
                audit
                    .start
                    .clone()
                    .unwrap_or_else(|| "not by the clock".to_owned()),
                format!("{} h", audit.length),
                format!("{} of {}", audit.counted, audit.entries),
                doubts.to_string(),
            ]
        }),
    );
    blocks.push(cases);
    blocks.extend(goals(audits, summary));
    let drawn: Vec<&Spread> = summary
        .spreads
        .iter()
        .filter(|spread| is_drawn(spread))
        .collect();
    if !drawn.is_empty() {
        blocks.push(Block::heading(2, "Run charts"));
        blocks.push(Block::paragraph(
            "Each dot is a case. A dash at the foot is a case for which the number is not known. What is the \
             same in every case is not drawn.",
        ));
        blocks.extend(
            drawn
                .into_iter()
                .map(|spread| Block::Keep(vec![Block::Runs(runs(spread, audits))])),
        );
    }
    blocks.push(Block::heading(2, "Every figure over the cases"));
    let goals = summary.spreads.iter().any(|spread| spread.goal.is_some());
    blocks.push(table(
        "Lowest, median and highest",
        if goals {
            &[
                "Figure", "Cases", "Lowest", "Median", "Highest", "Goal", "Met",
            ]
        } else {
            &["Figure", "Cases", "Lowest", "Median", "Highest"]
        },
        summary.spreads.iter().map(|spread| {
            let mut cells = vec![
                text::inline(&spread.title).plain(),
                spread.known.to_string(),
                held_together(&spread.lowest),
                held_together(&spread.median),
                held_together(&spread.highest),
            ];
            if goals {
                let (goal, met) =
                    spread
                        .goal
                        .as_ref()
                        .map_or(("–".to_owned(), "–".to_owned()), |goal| {
                            (
                                goal.goal.clone(),
                                format!("{} of {}", goal.met, goal.met + goal.missed),
                            )
                        });
                cells.extend([held_together(&goal), met]);
            }
            cells
        }),
    ));
    blocks
}

/// Each goal, and in which cases it was missed.
fn goals(audits: &[Audit], summary: &Summary) -> Option<Block> {
    let with_goals: Vec<_> = summary
        .spreads
        .iter()
        .filter_map(|spread| Some((spread, spread.goal.as_ref()?)))
        .collect();
    if with_goals.is_empty() {
        return None;
    }
    let named = |key: &str, wanted: Option<bool>| -> String {
        let found: Vec<&str> = audits
            .iter()
            .filter(|audit| audit.figure(key).and_then(|figure| figure.goal_met) == wanted)
            .map(|audit| audit.case.as_str())
            .collect();
        match found.as_slice() {
            [] => "–".to_owned(),
            found => found.join(", "),
        }
    };
    Some(table(
        "Goals",
        &["Figure", "Goal", "Met in", "Missed in", "Not known in"],
        with_goals.into_iter().map(|(spread, goal)| {
            vec![
                text::inline(&spread.title).plain(),
                held_together(&goal.goal),
                format!("{} of {}", goal.met, goal.met + goal.missed),
                named(&spread.key, Some(false)),
                named(&spread.key, None),
            ]
        }),
    ))
}

/// What a unit looks at from month to month.
fn is_drawn(spread: &Spread) -> bool {
    if spread.lowest == spread.highest {
        return false;
    }
    let key = spread.key.as_str();
    match spread.part {
        Part::Target => key.ends_with(".time-to-target"),
        Part::Held => {
            key.ends_with(".share-of-time-in-band") || key.ends_with(".share-of-readings-within-1")
        }
        Part::Speed => true,
        Part::Guard => key.ends_with(".time-above-guard"),
        Part::Measures => !key.ends_with("known"),
        Part::Entries => key.ends_with(".share-made"),
        Part::Rules => false,
    }
}

fn case(protocol: &Protocol, audit: &Audit) -> Vec<Block> {
    let mut blocks = vec![Block::heading(1, format!("Case {}", audit.case))];
    let start = match &audit.start {
        Some(start) => format!("{start}, {}", audit.start_from),
        None => "not by the clock: times are hours since the start".to_owned(),
    };
    let facts = [
        ("Start", start),
        (
            "Length",
            format!("{} h, to the last entry that counted", audit.length),
        ),
        (
            "Entries",
            format!(
                "{} rows, {} entries read, {} counted",
                audit.rows, audit.entries, audit.counted
            ),
        ),
    ];
    blocks.push(Block::KeyValues(
        facts
            .into_iter()
            .map(|(key, value)| (Rich::from(key), Rich::from(value)))
            .collect(),
    ));
    blocks.extend(problems(audit));
    if let Some(mut chart) = sheet::chart(protocol, &audit.facts, records(&audit.course)) {
        chart.title = format!("{}, recorded over planned", chart.title);
        chart.summary = format!(
            "Thin line with dots: recorded. Thick line: planned, broken where the plan cannot say when. \
             Grey: the band. {}",
            chart.summary
        );
        blocks.push(Block::Keep(vec![
            Block::heading(2, "Course"),
            Block::Chart(chart),
        ]));
    }
    if !audit.phases.is_empty() {
        blocks.push(table(
            "Phases",
            &["Phase", "From", "To", "Begun by"],
            audit.phases.iter().map(|run| {
                vec![
                    text::inline(&run.title).plain(),
                    format!("{} h", run.from),
                    run.to.as_ref().map_or_else(
                        || "goes on at the last entry".to_owned(),
                        |to| format!("{to} h"),
                    ),
                    if run.by_order { "an order" } else { "the plan" }.to_owned(),
                ]
            }),
        ));
    }
    for part in Part::ALL {
        if !matches!(part, Part::Entries | Part::Rules) {
            blocks.extend(figures(audit, part));
        }
    }
    blocks.extend(entries(audit));
    if !audit.rules.is_empty() {
        blocks.push(table(
            "Rules that fired, and how long until the ordered entry was recorded",
            &[
                "Rule",
                "Fired",
                "At (first of them)",
                "Asks for",
                "Mean",
                "Longest",
                "Not recorded",
            ],
            audit.rules.iter().map(|rule| {
                let none = rule.asks.is_empty();
                let or_dash = |text: &Option<String>| {
                    text.as_ref()
                        .map_or_else(|| "–".to_owned(), |text| format!("{text} h"))
                };
                vec![
                    rule.rule.clone(),
                    rule.fired.to_string(),
                    rule.times
                        .iter()
                        .take(8)
                        .cloned()
                        .collect::<Vec<_>>()
                        .join(", "),
                    if none {
                        "no entry".to_owned()
                    } else {
                        rule.asks.join(", ")
                    },
                    or_dash(&rule.mean_answer),
                    or_dash(&rule.longest_answer),
                    if none {
                        "–".to_owned()
                    } else {
                        (rule.unanswered + u64::from(rule.open)).to_string()
                    },
                ]
            }),
        ));
    }
    blocks
}

fn figures(audit: &Audit, part: Part) -> Option<Block> {
    let found: Vec<&Figure> = audit
        .figures
        .iter()
        .filter(|figure| figure.part == part)
        .collect();
    if found.is_empty() {
        return None;
    }
    let goals = found.iter().any(|figure| figure.goal.is_some());
    let heads: &[&str] = if goals {
        &["Figure", "Value", "Goal", "Met"]
    } else {
        &["Figure", "Value"]
    };
    Some(table(
        part.title(),
        heads,
        found.into_iter().map(|figure| {
            let mut cells = vec![
                text::inline(&figure.title).plain(),
                held_together(&figure.shown),
            ];
            if goals {
                cells.push(
                    figure
                        .goal
                        .as_ref()
                        .map_or_else(|| "–".to_owned(), |goal| held_together(goal)),
                );
                cells.push(
                    match figure.goal_met {
                        Some(true) => "yes",
                        Some(false) => "NO",
                        None if figure.goal.is_some() => "not known",
                        None => "–",
                    }
                    .to_owned(),
                );
            }
            cells
        }),
    ))
}

fn entries(audit: &Audit) -> Option<Block> {
    let readings: Vec<&str> = audit
        .figures
        .iter()
        .filter_map(|figure| figure.key.strip_prefix("entries.")?.strip_suffix(".due"))
        .collect();
    (!readings.is_empty()).then(|| {
        table(
            Part::Entries.title(),
            &[
                "Reading",
                "Due",
                "Made",
                "Of these late",
                "Missed",
                "Share made",
            ],
            readings.into_iter().map(|reading| {
                let of = |key: &str| {
                    audit
                        .figure(&format!("entries.{reading}.{key}"))
                        .map_or_else(String::new, |figure| figure.shown.clone())
                };
                vec![
                    reading.to_owned(),
                    of("due"),
                    of("made"),
                    of("late"),
                    of("missed"),
                    of("share-made"),
                ]
            }),
        )
    })
}

fn problems(audit: &Audit) -> Vec<Block> {
    [
        (Weight::Lost, NoticeKind::Caution, "not counted"),
        (
            Weight::Doubtful,
            NoticeKind::Note,
            "counted, but look at it",
        ),
    ]
    .into_iter()
    .filter_map(|(weight, kind, title)| {
        let found: Vec<&Problem> = audit
            .problems
            .iter()
            .filter(|problem| problem.weight == weight)
            .collect();
        (!found.is_empty()).then(|| {
            Block::Notice(Notice {
                kind,
                title: Rich::from(title),
                body: vec![table(
                    "",
                    &["Where", "What"],
                    found.into_iter().map(|problem| {
                        let place = problem.place();
                        let place = if place.is_empty() {
                            "the whole log".to_owned()
                        } else {
                            place
                        };
                        vec![place, text::inline(&problem.what).plain()]
                    }),
                )],
            })
        })
    })
    .collect()
}

fn table(caption: &str, heads: &[&str], rows: impl Iterator<Item = Vec<String>>) -> Block {
    Block::Table(Table {
        caption: Rich::from(caption),
        columns: heads
            .iter()
            .map(|head| Column::new(*head, Width::Share(1)))
            .collect(),
        rows: rows
            .map(|cells| Row::cells(cells.into_iter().map(Cell::text).collect()))
            .collect(),
        ..Table::default()
    })
}
