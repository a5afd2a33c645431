//! What holds of the timeline of any protocol and any of its cases.

use super::testing::*;
use super::*;
use crate::quantity::Exact;
use proptest::prelude::*;

/// Any reaching phase, any hold, any ramp, a fixed end.
fn any_protocol() -> impl Strategy<Value = String> {
    (
        1i64..=40,
        proptest::option::of(1i64..=12),
        proptest::option::of(1i64..=20),
        proptest::option::of(0i64..=10),
        1i64..=72,
        (
            1i64..=20,
            0i64..=20,
            proptest::option::of((1i64..=8, 1i64..=10)),
        ),
        1i64..=100,
    )
        .prop_map(
            |(cap, due, least, within, hold, (slow, more, steps), fixed)| {
                let optional = |text: Option<String>| text.unwrap_or_default();
                format!(
                    r#"phase cool "Cool" {{
                     cool core to 33.5 °C {}
                     never faster than {}.{} °C/h
                     {}
                     {}
                   }}
                   phase hold "Hold" {{
                     hold core at 33.5 °C within 0.5 °C
                     lasts {hold} h
                   }}
                   phase rewarm "Rewarm" {{
                     warm core to 36.5 °C at {}/20 °C/h to {}/20 °C/h
                     {}
                   }}
                   phase guard "Guard" {{
                     keep core 36.0 °C to 37.7 °C
                     ends {fixed} h after rosc
                   }}"#,
                    optional(within.map(|n| format!("within {}/10 °C", n.max(1)))),
                    cap / 10,
                    cap % 10,
                    optional(due.map(|n| format!("due within {n} h"))),
                    optional(least.map(|n| format!("at least {n}/20 °C/h"))),
                    slow,
                    slow + more,
                    optional(steps.map(|(every, step)| format!(
                        "target moves every {} min in steps of {step}/10 °C",
                        every * 15
                    ))),
                )
            },
        )
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 128,
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    #[test]
    fn windows_are_ordered_and_a_case_lies_within_them(
        text in any_protocol(),
        core in 330i64..=375,
        rosc in 0i64..=360,
        share in 0i64..=100,
    ) {
        let protocol = protocol(&text);
        let all = blank(&protocol);
        let core = Exact::ratio(core, 10).to_decimal(1).expect("tenths");
        let mut case = case_of(&protocol, Some(&core), Some(&format!("{rosc} min before start")));
        let one = Plan::of(&protocol, &case).expect("a plan");
        let ordered = |window: Window| {
            window.planned.is_none_or(|planned| window.earliest <= planned)
                && match (window.planned, window.latest) {
                    (Some(planned), Some(latest)) => planned <= latest,
                    (None, Some(_)) => false,
                    (_, None) => true,
                }
        };
        let inside = |narrow: Window, wide: Window| {
            wide.contains(narrow.earliest)
                && match (narrow.latest, wide.latest) {
                    (Some(narrow), Some(wide)) => narrow <= wide,
                    (None, Some(_)) => false,
                    (_, None) => true,
                }
        };
        for (narrow, wide) in one.phases.iter().zip(&all.phases) {
            prop_assert!(ordered(narrow.end) && ordered(wide.end));
            prop_assert!(narrow.start.earliest <= narrow.end.earliest);
            prop_assert!(inside(narrow.end, wide.end), "{narrow:?} {wide:?}");
        }
        // Reached at any moment that the plan allows: still inside.
        let end = one.phases[0].end;
        let last = end.latest.unwrap_or(end.earliest + hours("48"));
        let at = end.earliest + (last - end.earliest) * Exact::ratio(share, 100);
        case.reached.insert(one.phases[0].phase, at);
        let pinned = Plan::of(&protocol, &case).expect("a plan");
        for (narrow, wide) in pinned.phases.iter().zip(&one.phases) {
            prop_assert!(ordered(narrow.end));
            prop_assert!(inside(narrow.end, wide.end), "{narrow:?} {wide:?}");
        }
    }
}
