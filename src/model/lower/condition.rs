//! Conditions and what ends an order.

use super::parts::side;
use super::*;

impl<'t> Lowerer<'t> {
    pub(super) fn cond(&mut self, node: &Node<'t>) -> Option<Cond> {
        let first = node.first()?;
        let head = self.term(&first);
        let (rest, all) = match (node.find(R::all_of), node.find(R::any_of)) {
            (Some(rest), _) => (rest, true),
            (None, Some(rest)) => (rest, false),
            (None, None) => return head,
        };
        let terms: Vec<Option<Cond>> = rest.children().map(|term| self.term(&term)).collect();
        let mut parts = vec![head?];
        for term in terms {
            parts.push(term?);
        }
        Some(if all {
            Cond::All(parts)
        } else {
            Cond::Any(parts)
        })
    }

    fn term(&mut self, node: &Node<'t>) -> Option<Cond> {
        match node.rule() {
            R::cond => self.cond(node),
            _ => self.test(node).map(Cond::Test),
        }
    }

    fn test(&mut self, node: &Node<'t>) -> Option<Test> {
        let kind = self.test_kind(&node.first()?);
        let sustained = head::optional(
            node.find(R::sustained)
                .map(|sustained| self.duration(&sustained.find(R::value)?)),
        );
        Some(Test {
            kind: kind?,
            sustained: sustained?,
            span: node.span(),
        })
    }

    fn test_kind(&mut self, node: &Node<'t>) -> Option<TestKind> {
        let names = node.all(R::name);
        let values = node.all(R::value);
        let first = names.first();
        match node.rule() {
            R::compare => {
                let reading = self.reading_id(first?)?.value;
                Some(TestKind::Compare {
                    reading,
                    cmp: cmp(&node.find(R::cmp)?),
                    level: self.level(values.first()?, reading)?,
                })
            }
            R::outside => {
                let reading = self.reading_id(first?)?.value;
                let range = self.levels(node, reading)?;
                Some(TestKind::Outside {
                    reading,
                    low: range.low,
                    high: range.high,
                })
            }
            R::is_word => {
                let reading = self.reading_id(first?)?.value;
                Some(TestKind::Is {
                    reading,
                    word: self.choice_word(reading, names.get(1)?)?,
                })
            }
            R::off_target => {
                let reading = self.temperature_id(first?)?.value;
                Some(TestKind::OffTarget {
                    reading,
                    side: side(&node.find(R::side)?),
                    by: self.change(values.first()?, reading, true)?,
                })
            }
            R::near_target => {
                let reading = self.temperature_id(first?)?.value;
                Some(TestKind::NearTarget {
                    reading,
                    within: self.change(values.first()?, reading, true)?,
                })
            }
            R::differ => {
                let first = self.reading_id(first?);
                let second = self.reading_id(names.get(1)?);
                let (first, second) = (first?, second?);
                self.comparable(&first, &second)?;
                Some(TestKind::Differ {
                    first: first.value,
                    second: second.value,
                    cmp: more_less(&node.find(R::more_less)?),
                    by: self.change(values.first()?, first.value, true)?,
                })
            }
            R::trend => {
                let reading = self.reading_id(first?)?.value;
                let by = self.change(values.first()?, reading, true);
                let over = self.duration(values.get(1)?);
                let way = match node.find(R::trend_way)?.text() {
                    "rises" => TrendWay::Rises,
                    _ => TrendWay::Falls,
                };
                Some(TestKind::Trend {
                    reading,
                    way,
                    cmp: more_less(&node.find(R::more_less)?),
                    by: by?,
                    over: over?,
                })
            }
            R::not_recorded => {
                let reading = self.reading_id(first?);
                let over = self.duration(values.first()?);
                Some(TestKind::NotRecorded {
                    reading: reading?.value,
                    over: over?,
                })
            }
            R::lasts_longer => {
                let phase = self.phase_id(first?);
                let than = self.duration(values.first()?);
                Some(TestKind::LastsLonger {
                    phase: phase?.value,
                    than: than?,
                })
            }
            R::overdue => Some(TestKind::Overdue {
                phase: self.phase_id(first?)?.value,
            }),
            R::paused_longer => Some(TestKind::PausedLonger {
                than: self.duration(values.first()?)?,
            }),
            _ => None,
        }
    }

    /// Two readings can differ by an amount only in one unit.
    fn comparable(&mut self, first: &At<ReadingId>, second: &At<ReadingId>) -> Option<()> {
        let kind = |id: ReadingId| {
            let reading = self.readings.get(id.index())?.as_ref()?;
            Some((reading.kind.clone(), reading.name.name.clone()))
        };
        let (a, a_name) = kind(first.value)?;
        let (b, b_name) = kind(second.value)?;
        let same = match (&a, &b) {
            (ReadingKind::Amount { unit: a, .. }, ReadingKind::Amount { unit: b, .. }) => a == b,
            (ReadingKind::Score { .. }, ReadingKind::Score { .. }) => true,
            _ => a.is_temperature() && b.is_temperature(),
        };
        if same && first.value != second.value {
            return Some(());
        }
        self.error(
            Diagnostic::error(
                "unit-mismatch",
                first.span.to(second.span),
                format!("`{a_name}` and `{b_name}` cannot be compared"),
            )
            .why("a difference has a meaning only between two readings of one kind and unit")
            .help("name two different readings of the same kind")
            .source("structural"),
        );
        None
    }

    /// The index of a word among those of a choice.
    pub(super) fn choice_word(&mut self, reading: ReadingId, node: &Node<'t>) -> Option<usize> {
        let declared = self.readings.get(reading.index())?.as_ref()?;
        let name = declared.name.name.clone();
        let ReadingKind::Choice { words, .. } = &declared.kind else {
            self.error(
                Diagnostic::error(
                    "unit-mismatch",
                    node.span(),
                    format!("`{name}` has values, not words"),
                )
                .why("`is` asks for a word of a choice")
                .help("compare it with `below`, `above`, `at or below` or `at or above`")
                .source("structural"),
            );
            return None;
        };
        let words: Vec<String> = words.iter().map(|word| word.name.clone()).collect();
        let found = words.iter().position(|word| word == node.text());
        if found.is_none() {
            self.error(
                Diagnostic::error(
                    "unknown-word",
                    node.span(),
                    format!("`{}` is no word of `{name}`", node.text()),
                )
                .why("it can never be recorded, so the line would never apply")
                .help(format!("write one of: {}", words.join(", ")))
                .source("structural"),
            );
        }
        found
    }

    pub(super) fn until(&mut self, node: &Node<'t>) -> Option<Until> {
        let part = node.first()?;
        match part.rule() {
            R::cond => Some(Until::When(self.cond(&part)?)),
            R::mark => Some(Until::Mark(self.mark_ref(&part)?)),
            _ => Some(Until::For(self.duration(&part)?)),
        }
    }
}

pub(super) fn cmp(node: &Node<'_>) -> Cmp {
    let text = node.text();
    match (text.starts_with("at"), text.ends_with("below")) {
        (true, true) => Cmp::AtOrBelow,
        (true, false) => Cmp::AtOrAbove,
        (false, true) => Cmp::Below,
        (false, false) => Cmp::Above,
    }
}

fn more_less(node: &Node<'_>) -> MoreLess {
    match node.text() {
        "more" => MoreLess::More,
        _ => MoreLess::Less,
    }
}
