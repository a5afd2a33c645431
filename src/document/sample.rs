//! A document with every kind of block, for tests. Invented; not for patient care.

use super::{
    Block, Cell, Chart, ChartPhase, Checklist, Column, Course, CoursePoint, Document, Field,
    Footer, List, Meta, Notice, NoticeKind, Paper, Rich, Row, Step, Table, Tick, Width, text,
};

pub(super) fn document(paper: Paper) -> Document {
    let fingerprint = "9f3a41c07be25d18";
    let mut blocks = vec![
        Block::heading(1, "The case"),
        Block::Table(phases()),
        Block::Chart(chart()),
        Block::Columns(vec![start(), exclusions()]),
        Block::Notice(Notice {
            kind: NoticeKind::Caution,
            title: Rich::from("cold patients bleed more easily"),
            body: text::blocks(
                "Check clotting before any *line* is placed. See [the table](https://example.org/clotting).",
            ),
        }),
        Block::PageBreak,
        Block::heading(1, "Before and during start"),
        Block::Halves(vec![
            Block::Checklist(checklist()),
            Block::heading(1, "Ending"),
            Block::Checklist(checklist()),
        ]),
        Block::Fields(vec![
            Field::open("Depth at the teeth", "cm", 18),
            Field::open("Placed at", "(24-hour clock)", 20),
            Field::open("by", "", 30),
        ]),
        Block::heading(1, "The record"),
    ];
    blocks.push(Block::Table(record()));
    blocks.push(Block::heading(1, "If … then"));
    blocks.push(Block::Table(rules()));
    blocks.push(Block::heading(2, "Doses for this patient"));
    blocks.push(dose());
    Document {
        title: "Temperature control after cardiac arrest, adult".into(),
        subtitle: "Adult intensive care, Saltmarsh District Hospital (invented example, not for patient care)".into(),
        language: "en-GB".into(),
        meta: Meta {
            protocol: "adult-arrest-33".into(),
            version: "2.1.0".into(),
            fingerprint: fingerprint.into(),
            status: "draft".into(),
        },
        paper,
        draft: Some("DRAFT: not approved for use".into()),
        label: Some("Patient label (stick here)".into()),
        facts: vec![
            ("Protocol".into(), "adult-arrest-33, version 2.1.0".into()),
            ("Status".into(), Rich::bold("DRAFT: not approved for use")),
            ("Review by".into(), "2027-06-30".into()),
            ("Start (0:00)".into(), "Wed 25 Nov 2026, 03:10".into()),
            ("Weight".into(), "82 kg".into()),
        ],
        footer: Footer {
            lines: vec![
                format!("adult-arrest-33, version 2.1.0 · fingerprint {fingerprint}"),
                "DRAFT: not approved for use.".into(),
                "This sheet supports and does not replace local policy and clinical judgement.".into(),
            ],
            code: format!("TEMPWRIGHT:ADULT-ARREST-33:2.1.0:{}", fingerprint.to_uppercase()),
        },
        blocks,
    }
}

fn phases() -> Table {
    let phase = |name: &str, aim: &str, from: &str, to: &str| {
        Row::cells(vec![
            Cell::text(name),
            Cell::text(aim),
            Cell::text(from),
            Cell::text(to),
            Cell::Fields(vec![Field::open("began", "", 16)]),
        ])
    };
    Table {
        columns: ["Phase", "Aim", "Begins", "Ends", "Was"]
            .map(|head| Column::new(head, Width::Share(1)))
            .to_vec(),
        rows: vec![
            phase(
                "1 Cool to target",
                "cool core to 33.0 °C, never faster than 2.0 °C/h",
                "Wed 03:10",
                "due by Wed 07:10",
            ),
            phase(
                "2 Hold at target",
                "hold core at 33.0 °C ± 0.5 °C",
                "Wed 07:10 at the latest",
                "after 24 h",
            ),
        ],
        row_height: 70,
        ..Table::default()
    }
}

fn chart() -> Chart {
    let point = |minute: i64, milli: i64| CoursePoint { minute, milli };
    let hour = |hours: i64| hours * 60;
    Chart {
        title: "Planned course of the core temperature".into(),
        summary: "Core temperature: 36.4 °C at 03:10; 33.0 °C by Wed 07:10; 36.5 °C at Thu 21:10; then 36.0 °C to 37.7 °C until Sat 02:10.".into(),
        unit: "°C".into(),
        beside: None,
        from: 0,
        to: hour(72),
        low: 31_000,
        high: 38_500,
        step: 500,
        minutes: 60,
        records: Vec::new(),
        courses: vec![
            Course {
                points: vec![point(0, 36_400), point(hour(4), 33_000)],
                band: Vec::new(),
                uncertain: true,
            },
            Course {
                points: vec![point(hour(4), 33_000), point(hour(28), 33_000)],
                band: vec![(hour(4), 32_500, 33_500), (hour(28), 32_500, 33_500)],
                uncertain: false,
            },
            Course {
                points: vec![point(hour(28), 33_000), point(hour(42), 36_500)],
                band: Vec::new(),
                uncertain: false,
            },
            Course {
                points: Vec::new(),
                band: vec![(hour(42), 36_000, 37_700), (hour(72), 36_000, 37_700)],
                uncertain: false,
            },
        ],
        phases: [(0, "1", "Cool"), (4, "2", "Hold at target"), (28, "3", "Rewarm slowly"), (42, "4", "Prevent fever")]
            .map(|(hours, number, name)| ChartPhase {
                minute: hour(hours),
                number: number.into(),
                name: name.into(),
            })
            .to_vec(),
        ticks: (0..=12)
            .map(|index| Tick {
                minute: hour(index * 6),
                label: format!("{:02}:10", (3 + index * 6) % 24),
                day: match index {
                    0 => "Wed 25 Nov".into(),
                    4 => "Thu 26 Nov".into(),
                    8 => "Fri 27 Nov".into(),
                    12 => "Sat 28 Nov".into(),
                    _ => String::new(),
                },
            })
            .collect(),
    }
}

fn start() -> Vec<Block> {
    vec![
        Block::heading(2, "Start only if"),
        Block::List(List::of(
            false,
            [
                Rich::from("adult, weight 40 kg to 140 kg"),
                Rich::from("core 33.0 °C to 37.5 °C on arrival"),
                Rich::from("within 6 h of return of spontaneous circulation, so by Wed 08:10"),
            ],
        )),
    ]
}

fn exclusions() -> Vec<Block> {
    vec![
        Block::heading(2, "Do not start if"),
        Block::List(List::of(
            false,
            [
                Rich::from("bleeding that cannot be pressed on"),
                Rich::from("systolic pressure below 90 mmHg for 30 min in spite of treatment"),
            ],
        )),
    ]
}

fn checklist() -> Checklist {
    let step = |words: &str, fields: Vec<Field>, two_people: bool| Step {
        text: text::inline(words),
        fields,
        two_people,
    };
    Checklist {
        title: "Before start".into(),
        steps: vec![
            step(
                "Look at the **airway**: tube in place, cuff pressure",
                vec![Field::open("cuff", "cmH2O", 14)],
                true,
            ),
            step("Fill the circuit; no air in the line", vec![], false),
            step(
                "Place the bladder probe; wait until it reads steadily for 5 min",
                vec![Field::open("core", "°C", 16)],
                false,
            ),
            step(
                "Set the alarm limits to `32.0 °C` and `38.0 °C`",
                vec![
                    Field::open("lower", "°C", 14),
                    Field::open("upper", "°C", 14),
                ],
                true,
            ),
        ],
    }
}

fn record() -> Table {
    let mut rows = vec![
        Row::Section {
            text: Rich::bold("3 Rewarm slowly"),
            fields: vec![Field::open("began at", "", 18)],
            again: "3 Rewarm slowly (continued)".into(),
        },
        Row::Band {
            text: "Thursday 26 November".into(),
            tick: false,
            initials: false,
            divider: true,
        },
    ];
    for index in 0..44 {
        let (hour, quarter) = (7 + index / 4, index % 4 * 15 + 10);
        let due = |on: bool| if on { Cell::Due } else { Cell::NotDue };
        let target = 330 + index / 4 * 25 / 10;
        rows.push(Row::Cells {
            cells: vec![
                Cell::text(format!("{hour:02}:{:02}", quarter % 60)),
                Cell::Value(format!("{}.{} °C", target / 10, target % 10)),
                Cell::Due,
                due(index % 4 == 0),
                due(index % 4 == 0),
                due(index % 4 == 0),
                due(index % 16 == 0),
                Cell::Empty,
                Cell::Initials,
            ],
            heavy: index % 4 == 0,
        });
        if index == 9 {
            rows.push(Row::Band {
                text: "09:25  Stop potassium replacement".into(),
                tick: true,
                initials: true,
                divider: false,
            });
        }
    }
    Table {
        caption: "Phase 3: Rewarm slowly".into(),
        columns: vec![
            Column::new("Time", Width::Fit(20)),
            Column::new("Target", Width::Fit(20)),
            Column::new("Core", Width::Mm(22)).under("°C; call above 0.5 °C in 1 h"),
            Column::new("Second site", Width::Mm(22)).under("°C"),
            Column::new("Water", Width::Mm(20)).under("°C"),
            Column::new("Shivering", Width::Mm(18)).under("0 to 3"),
            Column::new("Potassium", Width::Mm(20)).under("mmol/L"),
            Column::new("Notes", Width::Share(1)),
            Column::new("Initials", Width::Mm(16)),
        ],
        rows,
        row_height: 70,
        fill: false,
    }
}

fn rules() -> Table {
    let rule = |number: &str, when: &str, then: &[&str], call: &str| {
        Row::cells(vec![
            Cell::text(number),
            Cell::text(text::inline(when)),
            Cell::List(List::of(true, then.iter().map(|words| text::inline(words)))),
            Cell::text(text::inline(call)),
        ])
    };
    Table {
        caption: Rich::default(),
        columns: vec![
            Column::new("", Width::Mm(8)),
            Column::new("If", Width::Share(5)),
            Column::new("Then, in this order", Width::Share(6)),
            Column::new("Call", Width::Share(4)),
        ],
        rows: vec![
            rule(
                "1",
                "**Too cold.** One core box below 32.5 °C, while holding",
                &[
                    "**pause** temperature control until core is at or above 32.8 °C",
                    "call the intensive-care doctor on duty",
                ],
                "intensive-care doctor on duty, within 15 min; no reply in 10 min: consultant",
            ),
            rule(
                "2",
                "**Warming too fast.** Compare with the box 4 rows up: core more than 0.5 °C higher",
                &[
                    "keep the target where it is until core is less than 0.3 °C above the box 4 rows up",
                    "call the intensive-care doctor on duty",
                ],
                "intensive-care doctor on duty, within 30 min",
            ),
            rule(
                "3",
                "**Cold water.** Two hourly water boxes in a row below 10 °C, while holding",
                &["go through the shivering steps"],
                "nobody, unless the steps say so",
            ),
        ],
        row_height: 90,
        fill: true,
    }
}

fn dose() -> Block {
    Block::Notice(Notice {
        kind: NoticeKind::Plain,
        title: "Magnesium sulfate".into(),
        body: vec![
            Block::KeyValues(vec![
                (
                    "Dose".into(),
                    "2 g iv over 30 min, not again within 6 h".into(),
                ),
                (
                    "Ceiling".into(),
                    "4 g per 24 h: at most 2 doses in any 24 h".into(),
                ),
            ]),
            Block::paragraph("Second person: work it out yourself, without looking above."),
            Block::Fields(vec![
                Field::open("Second calculation", "g", 24),
                Field::open("initials", "", 16),
                Field::open("and", "", 16),
            ]),
        ],
    })
}
