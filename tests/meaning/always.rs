//! What must hold for any records whatsoever.

use crate::case::protocol;
use proptest::prelude::*;
use std::sync::LazyLock;
use tempwright::eval::{self, Case, Entry, EntryWhat, Event, Run, What};
use tempwright::model::{MarkId, Protocol, ReadingId};
use tempwright::quantity::Exact;

/// A protocol that uses every sort of test, order, ladder and medication.
const EVERYTHING: &str = r#"
  phase cool "Cool" {
    cool core to 33.0 °C
    never faster than 2.0 °C/h
    due within 4 h
  }
  phase hold "Hold" {
    hold core at 33.0 °C within 0.5 °C
    ends when core within 0.3 °C of target for 2 h, plan for 6 h, at least 3 h, at most 12 h
  }
  phase rewarm "Rewarm" {
    warm core to 36.5 °C within 0.2 °C at 0.25 °C/h
    target moves every 1 h in steps of 0.1 °C
  }
  phase guard "Guard" {
    keep core 36.0 °C to 37.7 °C
    ends 30 h after rosc
  }
  every 15 min record core during cool, rewarm
  every 1 h record core during hold, guard
  every 1 h record second, water
  every 1 h score shiver then follow shivering-steps
  every 4 h give salts
  at 2 h before rewarm.start do "Stop"
  at 20 min after rosc record second
  rule cold-water { when water below 10 °C for 1 h during hold  then follow shivering-steps  then raise calm otherwise give calm }
  rule too-cold {
    when core below 32.5 °C
    then pause temperature control until core at or above 32.8 °C
    then call doctor within 15 min
    ready again when core at or above 32.8 °C
    again after 1 h
  }
  rule fast { when core rises more than 0.5 °C in 1 h  then keep target here until core rises less than 0.3 °C in 1 h }
  rule slow { when core rises less than 0.1 °C in 2 h during rewarm  then raise target by 0.2 °C, at most 36.0 °C }
  rule sites {
    when core and second differ by more than 1.0 °C
    then do "Check"
    overrides too-cold, fast
  }
  rule high { when core above target by more than 1.0 °C during guard  then begin cool  then withhold salts for 6 h }
  rule off { when paused longer than 1 h  then do "Off" }
  rule late { when cool is overdue or core not recorded for 2 h  then call doctor now }
  rule dazed { when awake is pain and shiver above 1  then stop temperature control  then stop calm }
  rule wake { when awake is alert  then begin rewarm }
  ladder shivering-steps "Shivering" on shiver {
    rung 0 to 1 "None" {
      continue
    }
    rung 2 to 3 "Severe" {
      give salts otherwise call senior now
      recheck in 30 min
    }
  }
  medication salts "Salts" {
    dose 20 mg/kg iv over 30 min, not again within 3 h
    ceiling 4 g per 24 h
  }
  medication calm "Calm" {
    infuse 10 mg/h to 30 mg/h, steps of 10 mg/h every 30 min, for at most 12 h
    ceiling 300 mg per 24 h
  }
"#;

static PROTOCOL: LazyLock<Protocol> = LazyLock::new(|| protocol(EVERYTHING));

fn case(protocol: &Protocol) -> Case {
    let rosc = crate::case::mark(protocol, "rosc");
    Case {
        weight: Some(Exact::int(70)),
        marks: vec![(rosc, Exact::int(-60))],
        ..Case::default()
    }
}

/// Up to 60 entries, from no time to a few hours apart, most of them plausible.
fn any_entries() -> impl Strategy<Value = Vec<Entry>> {
    let what = prop_oneof![
        8 => (310i64..=385).prop_map(|tenths| (0, Exact::ratio(tenths, 10))),
        2 => (310i64..=385).prop_map(|tenths| (1, Exact::ratio(tenths, 10))),
        2 => (50i64..=250).prop_map(|tenths| (2, Exact::ratio(tenths, 10))),
        2 => (0i64..=3).prop_map(|score| (3, Exact::int(score))),
        1 => (0i64..=2).prop_map(|word| (4, Exact::int(word))),
        // What cannot be: off the grid, off the range, no such reading.
        1 => (0u32..=6, -100i64..=6000).prop_map(|(reading, n)| (reading, Exact::ratio(n, 7))),
    ];
    let entry = (
        prop_oneof![Just(0i64), Just(15), Just(60), 0i64..=300],
        what,
        0u32..=20,
    );
    proptest::collection::vec(entry, 0..60).prop_map(|entries| {
        let mut at = Exact::ZERO;
        entries
            .into_iter()
            .map(|(later, (reading, value), mark)| {
                at = at + Exact::int(later);
                let what = if mark < 2 {
                    EntryWhat::Mark(MarkId(mark))
                } else {
                    EntryWhat::Record {
                        reading: ReadingId(reading),
                        value,
                    }
                };
                Entry { at, what }
            })
            .collect()
    })
}

fn run<'p>(protocol: &'p Protocol, entries: &[Entry]) -> Vec<Event<'p>> {
    let until = entries.last().map_or(Exact::ZERO, |entry| entry.at);
    eval::run(protocol, &case(protocol), entries.iter().copied(), until)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// No records make it panic; time never goes back; a phase never overlaps
    /// another; nothing follows the end of the case but refusals.
    #[test]
    fn whatever_is_recorded(entries in any_entries()) {
        let protocol = &*PROTOCOL;
        let mut now = Exact::ZERO;
        let mut running = None;
        let mut over = false;
        for event in run(protocol, &entries) {
            prop_assert!(event.at >= now);
            now = event.at;
            match event.what {
                What::PhaseBegins { phase, .. } => {
                    prop_assert!(running.is_none() && !over);
                    running = Some(phase);
                }
                What::PhaseEnds { phase, .. } => {
                    prop_assert_eq!(running, Some(phase));
                    running = None;
                }
                What::CaseEnds => over = true,
                What::OrderGiven { .. } | What::RuleFires { .. } | What::Recorded { .. } => {
                    prop_assert!(!over);
                }
                _ => {}
            }
        }
    }

    /// A later record changes nothing that was said before its moment.
    #[test]
    fn what_has_been_said_stays_said(entries in any_entries(), cut in 0usize..60) {
        let protocol = &*PROTOCOL;
        let cut = cut.min(entries.len());
        let until = entries.get(cut).map_or(Exact::ZERO, |entry| entry.at);
        let before = |events: Vec<Event<'_>>| -> Vec<String> {
            events
                .iter()
                .filter(|event| event.at < until)
                .map(|event| format!("{event:?}"))
                .collect()
        };
        let whole = before(run(protocol, &entries));
        let mut first = Run::new(protocol, &case(protocol));
        for entry in entries.iter().take(cut) {
            first.enter(*entry);
        }
        first.advance(until);
        prop_assert_eq!(whole, before(first.take_events()));
    }

    /// Events as they come are the events all at once.
    #[test]
    fn streamed_is_the_same(entries in any_entries()) {
        let protocol = &*PROTOCOL;
        let streamed: Vec<Event<'_>> = eval::stream(protocol, &case(protocol), entries.clone()).collect();
        prop_assert_eq!(run(protocol, &entries), streamed);
    }

    /// Asking at every minute in between is the same as letting time pass.
    #[test]
    fn looking_often_changes_nothing(entries in any_entries()) {
        let protocol = &*PROTOCOL;
        let mut run_often = Run::new(protocol, &case(protocol));
        let mut now = Exact::ZERO;
        for entry in &entries {
            while now + Exact::int(7) < entry.at {
                now = now + Exact::int(7);
                run_often.advance(now);
            }
            run_often.enter(*entry);
        }
        run_often.finish();
        prop_assert_eq!(run(protocol, &entries), run_often.take_events());
    }
}

/// A year of records every five minutes: what is kept does not grow.
#[test]
fn what_is_kept_is_bounded_by_the_windows() {
    let body = r#"
  phase hold "Hold" {
    hold core at 33.0 °C within 0.5 °C
    ends at awake-and-clear, plan for 24 h
  }
  every 5 min record core, second
  every 1 h score shiver then follow steps
  ladder steps "Steps" on shiver {
    rung 0 to 3 "Any" {
      give salts otherwise call doctor within 15 min
      recheck in 30 min
    }
  }
  medication salts "Salts" {
    dose 1 g iv over 30 min
    ceiling 4 g per 24 h
  }
  rule fast { when core rises more than 0.5 °C in 1 h  then pause temperature control until core rises less than 0.3 °C in 1 h }
  rule ask { when core below 32.5 °C  then score shiver in 30 min  then record water now }
"#;
    let protocol = protocol(body);
    let mut run = Run::new(&protocol, &Case::default());
    let mut sizes = Vec::new();
    for step in 0i64..20_000 {
        let tenths = 325 + step * 7 % 11 - 1;
        run.enter(Entry::record(
            Exact::int(step * 5),
            ReadingId(0),
            Exact::ratio(tenths, 10),
        ));
        run.take_events();
        if step % 2_000 == 1_999 {
            sizes.push(format!("{run:?}").len());
        }
    }
    let (first, last) = (sizes[0], sizes[sizes.len() - 1]);
    assert!(last < first + first / 10, "{sizes:?}");
}
