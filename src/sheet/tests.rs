//! The demo protocols as sheets.

use super::*;
use crate::document::{html, markdown, pdf};
use crate::model::load;
use crate::source::{Library, ReadError};

/// The folder of demo protocols, for tests only.
struct Folder;

impl Library for Folder {
    fn read(&self, path: &str) -> Result<String, ReadError> {
        let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("protocols");
        std::fs::read_to_string(root.join(path)).map_err(|_| ReadError::Missing)
    }
}

fn demo(name: &str) -> Protocol {
    let path = format!("{name}.protocol");
    let loaded = load(&Folder, &[path.as_str()]).expect("it can be read");
    match loaded.protocols.into_iter().next() {
        Some((_, protocol)) => protocol,
        None => panic!("{:#?}", loaded.diagnostics),
    }
}

fn case_of(protocol: &Protocol, weight: &str) -> Case {
    let mut case = Case::starting(protocol, "2026-11-25T03:10")
        .and_then(|case| case.enter_weight(protocol, weight))
        .expect("a case");
    for mark in ["rosc", "birth"] {
        if protocol.marks().any(|(_, known)| known.name.name == mark) {
            case = case
                .enter_mark(protocol, mark, "2026-11-25T01:40")
                .expect("a mark");
        }
    }
    case
}

fn sheet_of(protocol: &Protocol, case: &Case, paper: Paper, fingerprint: &str) -> Document {
    let plan = Plan::of(protocol, case).expect("a plan");
    let options = Options {
        fingerprint: fingerprint.to_string(),
        paper,
        ..Options::default()
    };
    build(protocol, &plan, case, &options).expect("a sheet")
}

const DEMOS: [(&str, &str); 6] = [
    ("adult-arrest-33", "82kg"),
    ("adult-arrest-normothermia", "82kg"),
    ("accidental-hypothermia", "82kg"),
    ("heat-stroke", "82kg"),
    ("newborn-cooling", "3.4kg"),
    ("theatre-warmth", "82kg"),
];

/// Every text of a layout, without spaces and no-break spaces.
fn packed(text: &str) -> String {
    text.chars().filter(|c| !c.is_whitespace()).collect()
}

#[test]
fn every_demo_prints_on_both_papers_as_blank_form_and_as_case_without_a_text_over_another() {
    for (name, weight) in DEMOS {
        let protocol = demo(name);
        for case in [Case::default(), case_of(&protocol, weight)] {
            for paper in [Paper::A4, Paper::Letter] {
                let document = sheet_of(&protocol, &case, paper, "0123456789abcdef");
                let layout = pdf::lay_out(&document).expect("a layout");
                let (width, height) = layout.paper();
                let mut pages: std::collections::BTreeMap<usize, Vec<&pdf::PlacedText>> =
                    std::collections::BTreeMap::new();
                for text in layout.texts() {
                    assert!(text.size >= 9.0, "{name}: {text:?}");
                    let inside = text.x >= 20.0
                        && text.x + text.width <= width - 20.0
                        && text.y >= 18.0
                        && text.y + text.height <= height - 12.0;
                    assert!(inside, "{name}: {text:?}");
                    pages.entry(text.page).or_default().push(text);
                }
                for texts in pages.values_mut() {
                    texts.sort_by(|a, b| a.y.total_cmp(&b.y));
                    for (index, a) in texts.iter().enumerate() {
                        for b in texts.iter().skip(index + 1) {
                            if b.y > a.y + a.height {
                                break;
                            }
                            let across = (a.x + a.width).min(b.x + b.width) - a.x.max(b.x);
                            let down = (a.y + a.height).min(b.y + b.height) - a.y.max(b.y);
                            assert!(across <= 0.3 || down <= 0.8, "{name}: {a:?} over {b:?}");
                        }
                    }
                }
            }
        }
    }
}

#[test]
fn the_three_forms_say_every_rule_step_and_medicine() {
    let protocol = demo("adult-arrest-33");
    let case = case_of(&protocol, "82kg");
    let document = sheet_of(&protocol, &case, Paper::A4, "0123456789abcdef");
    let layout = pdf::lay_out(&document).expect("a layout");
    let page: String = layout
        .texts()
        .iter()
        .map(|text| text.text.as_str())
        .collect();
    let forms = [
        ("pdf", packed(&page)),
        (
            "html",
            packed(&html::render(&document).replace("&#39;", "'")),
        ),
        ("markdown", packed(&markdown::render(&document))),
    ];
    let words = Words::of(&protocol);
    let mut wanted: Vec<String> = Vec::new();
    wanted.extend(
        protocol
            .rules()
            .map(|(_, rule)| words.name(&rule.name.name)),
    );
    wanted.extend(
        protocol
            .medications()
            .map(|(_, found)| found.title.markdown.clone()),
    );
    for (_, list) in protocol.checklists() {
        wanted.extend(list.steps.iter().map(|step| step.text.markdown.clone()));
    }
    wanted.extend(
        protocol
            .roles()
            .map(|(_, role)| role.title.markdown.clone()),
    );
    wanted.extend(
        protocol
            .criteria
            .iter()
            .map(|found| found.text.markdown.clone()),
    );
    assert!(wanted.len() > 60);
    for text in wanted {
        for (form, all) in &forms {
            assert!(all.contains(&packed(&text)), "{form}: {text}");
        }
    }
}

#[test]
fn doses_for_82_kg_are_those_of_a_hand_calculation() {
    let protocol = demo("adult-arrest-33");
    let case = case_of(&protocol, "82kg");
    let text = packed(&markdown::render(&sheet_of(
        &protocol,
        &case,
        Paper::A4,
        "",
    )));
    // 0.3 mcg/kg/h × 82 kg = 24.6 mcg/h; at 4 mcg/mL 6.15 mL/h, set to 6.1 mL/h.
    // 20 mcg/kg/min × 82 kg = 1640 mcg/min = 98.4 mg/h; at 10 mg/mL 9.84 mL/h, set to 9.8 mL/h.
    for wanted in [
        "0.3mcg/kg/h×82kg=24.6mcg/h÷4mcg/mL=6.15mL/h:pump**6.1mL/h**",
        "0.7mcg/kg/h×82kg=57.4mcg/h÷4mcg/mL=14.35mL/h:pump**14.3mL/h**",
        "20mcg/kg/min×82kg=1640mcg/min÷10mg/mL=9.84mL/h:pump**9.8mL/h**",
        "nevermorethan16.8mcg/kginany24h(×82kg=1377.6mcg)",
    ] {
        assert!(text.contains(wanted), "{wanted}");
    }
}

#[test]
fn a_blank_form_has_no_patient_and_no_clock_time_in_its_rows() {
    let protocol = demo("adult-arrest-33");
    let text = packed(&markdown::render(&sheet_of(
        &protocol,
        &Case::default(),
        Paper::A4,
        "",
    )));
    assert!(text.contains("0.3mcg/kg/h×\\_\\_\\_\\_\\_\\_kg="), "{text}");
    assert!(!text.contains("Wed"));
}

#[test]
fn no_clock_time_is_printed_for_a_phase_whose_beginning_is_not_known() {
    let protocol = demo("adult-arrest-33");
    let open = case_of(&protocol, "82kg");
    let reached = open
        .clone()
        .enter_reached(&protocol, "cool=06:25")
        .expect("a case");
    let hold = |case: &Case| -> String {
        let text = markdown::render(&sheet_of(&protocol, case, Paper::A4, ""));
        let from = text.rfind("| **2 Hold at target**: ").expect("the phase");
        let to = text.rfind("| **3 Rewarm slowly**: ").expect("the next");
        packed(text.get(from..to).expect("a part"))
    };
    assert!(!hold(&open).contains("|**07:25**|"));
    assert!(hold(&open).contains("|**1:00**|"));
    // Reached at 06:25: the boxes of the hold are at 06:25, 07:25 and so on.
    assert!(hold(&reached).contains("|**06:25**|**33.0**|"));
    assert!(hold(&reached).contains("|**07:25**|**33.0**|"));
}

#[test]
fn the_draft_mark_goes_only_when_the_approval_is_of_this_content() {
    let protocol = demo("adult-arrest-33");
    let case = Case::default();
    let draft = sheet_of(&protocol, &case, Paper::A4, "abc");
    assert_eq!(draft.draft.as_deref(), Some(DRAFT));
    let mut approved = protocol.clone();
    let date = approved.head.review.clone();
    let text = approved.head.title.clone();
    approved.head.approvals.push(crate::model::Approval {
        by: text.clone(),
        on: date,
        fingerprint: crate::model::Text {
            markdown: "abc".to_string(),
            span: text.span,
        },
        reason: crate::model::Reason::default(),
        span: text.span,
    });
    assert_eq!(sheet_of(&approved, &case, Paper::A4, "abc").draft, None);
    assert!(sheet_of(&approved, &case, Paper::A4, "abd").draft.is_some());
    assert!(sheet_of(&approved, &case, Paper::A4, "").draft.is_some());
}

#[test]
fn the_urgent_stand_first() {
    let protocol = demo("adult-arrest-33");
    let text = markdown::render(&sheet_of(&protocol, &Case::default(), Paper::A4, ""));
    let places: Vec<usize> = [
        "**Call now: ",
        "**Call within 15\u{a0}min: ",
        "**Call within 30\u{a0}min: ",
        "**Call within 1\u{a0}h: ",
        "**Do it yourself",
    ]
    .iter()
    .map(|group| text.find(group).expect(group))
    .collect();
    assert!(places.is_sorted(), "{places:?}");
}

#[test]
fn the_target_of_each_hour_of_rewarming_is_the_stepped_course() {
    // M21 by hand: 0.25 °C/h in steps of 0.1 °C: 33.0, 33.2, 33.5, 33.7, 34.0 …
    let protocol = demo("adult-arrest-33");
    let text = markdown::render(&sheet_of(&protocol, &Case::default(), Paper::A4, ""));
    let from = text.rfind("| **3 Rewarm slowly**: ").expect("the phase");
    let part = packed(text.get(from..).expect("a part"));
    for (hour, target) in [
        (0, "33.0"),
        (1, "33.2"),
        (2, "33.5"),
        (3, "33.7"),
        (4, "34.0"),
        (13, "36.2"),
    ] {
        let row = format!("|**{hour}:00**|\\_\\_\\_\\_|**{target}**|");
        assert!(part.contains(&row), "{row}");
    }
}

#[test]
fn no_entry_is_printed_later_than_the_protocol_asks_for_it() {
    let mut seen = 0;
    for (name, weight) in DEMOS {
        let protocol = demo(name);
        let first = protocol.phases.first().expect("a phase").name.name.clone();
        let open = case_of(&protocol, weight);
        // A first phase that ends off the quarter hour shifts all that follows.
        let reached = open
            .clone()
            .enter_reached(&protocol, &format!("{first}=05:47"));
        for case in [open].into_iter().chain(reached) {
            let plan = Plan::of(&protocol, &case).expect("a plan");
            let sheet = Sheet {
                protocol: &protocol,
                plan: &plan,
                case: &case,
                paper: Paper::A4,
                schedule: plan::schedule(&protocol, &case).expect("a schedule"),
                words: Words::of(&protocol),
                times: Times::of(&case),
                records: Vec::new(),
            };
            let printed: Vec<plan::Due> = sheet
                .schedule
                .layout
                .iter()
                .filter(|laid| laid.start < laid.end)
                .flat_map(|laid| sheet.entries(laid))
                .collect();
            for due in &sheet.schedule.due {
                let plan::DueWhat::Ask { reading, .. } = &due.what else {
                    continue;
                };
                let interval = plan::interval_in_force(&protocol, *reading, due.phase);
                let in_time = printed.iter().any(|entry| {
                    let same = matches!(&entry.what, plan::DueWhat::Ask { reading: other, .. } if other == reading);
                    same && entry.at <= due.at
                        && interval.map_or(entry.at == due.at, |interval| entry.at > due.at - interval)
                });
                assert!(
                    in_time,
                    "{name}: {} at {}",
                    protocol[*reading].name.name, due.at
                );
                seen += 1;
            }
        }
    }
    assert!(seen > 1000, "{seen}");
}

#[test]
fn a_regular_dose_is_ticked_in_one_place_at_its_own_times() {
    let protocol = demo("adult-arrest-33");
    let case = case_of(&protocol, "82kg");
    let text = markdown::render(&sheet_of(&protocol, &case, Paper::A4, ""));
    assert_eq!(text.matches("Regular dose:").count(), 1);
    for time in [
        "Wed\u{a0}25\u{a0}Nov 03:10",
        "Wed\u{a0}25\u{a0}Nov 09:10",
        "Thu\u{a0}26\u{a0}Nov 03:10",
    ] {
        assert!(
            text.contains(&format!("| **{time}** | \\_\\_\\_\\_ |")),
            "{time}"
        );
    }
    assert_eq!(text.matches("Give **Paracetamol").count(), 0);
}

#[test]
fn every_shift_has_its_column() {
    let protocol = demo("newborn-cooling");
    let case = case_of(&protocol, "3.4kg");
    let document = sheet_of(&protocol, &case, Paper::A4, "");
    let schedule = plan::schedule(&protocol, &case).expect("a schedule");
    let due = schedule
        .due
        .iter()
        .filter(|due| matches!(due.what, plan::DueWhat::Checklist(_)))
        .count();
    let columns: usize = document
        .blocks
        .iter()
        .filter_map(|block| match block {
            Block::Keep(inner) => match inner.first() {
                Some(Block::Table(table)) => Some(table.columns.len() - 1),
                _ => None,
            },
            _ => None,
        })
        .sum();
    assert!(due > 7, "{due}");
    assert_eq!(columns, due);
}

#[test]
fn no_time_and_no_target_is_cut_in_two() {
    for (name, weight) in DEMOS {
        let protocol = demo(name);
        let case = case_of(&protocol, weight);
        for paper in [Paper::A4, Paper::Letter] {
            let layout = pdf::lay_out(&sheet_of(&protocol, &case, paper, "")).expect("a layout");
            for text in layout.texts() {
                // `03:` or `03:1`, the rest of it on the next line.
                let short = text.text.len() <= 4 && text.text.get(2..3) == Some(":");
                let cut = short && text.text.starts_with(|c: char| c.is_ascii_digit());
                assert!(!cut, "{name}: {text:?}");
            }
        }
    }
}

#[test]
fn the_second_person_has_room_for_each_rate() {
    let protocol = demo("adult-arrest-33");
    let case = case_of(&protocol, "82kg");
    let text = packed(&markdown::render(&sheet_of(
        &protocol,
        &case,
        Paper::A4,
        "",
    )));
    for pump in ["6.1", "10.2", "14.3", "9.8", "17.2", "24.6"] {
        let row = format!("pump**{pump}mL/h**|\\_\\_\\_\\_mL/h|\\_\\_\\_\\_|");
        assert!(text.contains(&row), "{pump}");
    }
}

#[test]
fn seventy_two_hours_are_eight_pages_and_no_book() {
    let pages = |paper: Paper| -> Vec<(usize, usize)> {
        let counts = DEMOS.iter().map(|(name, weight)| {
            let protocol = demo(name);
            let count = |case: &Case| {
                let document = sheet_of(&protocol, case, paper, "0123456789abcdef");
                pdf::lay_out(&document).expect("a layout").page_count()
            };
            (count(&Case::default()), count(&case_of(&protocol, weight)))
        });
        counts.collect()
    };
    let (a4, letter) = (pages(Paper::A4), pages(Paper::Letter));
    assert_eq!(a4, [(9, 8), (8, 8), (8, 8), (5, 5), (8, 8), (6, 6)]);
    assert_eq!(letter, [(10, 9), (9, 9), (9, 9), (5, 5), (9, 9), (6, 6)]);
}

/// How long fever is prevented, and by what hours the rows go, hangs on both times.
#[test]
fn whenever_it_begins_a_case_of_cardiac_arrest_has_eight_pages() {
    let protocol = demo("adult-arrest-33");
    for minute in (7..24 * 60).step_by(97) {
        for before in [0, 7, 40, 150, 355] {
            let day = |minutes: i32| {
                let date = if minutes < 0 { 1 } else { 2 };
                let minutes = minutes.rem_euclid(24 * 60);
                format!("2026-12-{date:02}T{:02}:{:02}", minutes / 60, minutes % 60)
            };
            let case = Case::starting(&protocol, &day(minute))
                .and_then(|case| case.enter_weight(&protocol, "82 kg"))
                .and_then(|case| case.enter_mark(&protocol, "rosc", &day(minute - before)))
                .expect("a case");
            let document = sheet_of(&protocol, &case, Paper::A4, "0123456789abcdef");
            let pages = pdf::lay_out(&document).expect("a layout").page_count();
            assert_eq!(pages, 8, "{} after {before} min", day(minute));
        }
    }
}
