//! Scenarios.

use super::names::Kind;
use super::*;
use crate::quantity::Exact;

/// A scenario that asks for more entries than this is a slip of the pen.
const MOST_ENTRIES: i64 = 20_000;

impl<'t> Lowerer<'t> {
    pub(super) fn scenario(&mut self, block: &TreeBlock<'t>, protocol: &Named) -> Option<Scenario> {
        let head = block.head.first()?;
        let of = head.find(R::name)?;
        if of.text() != protocol.name {
            self.error(
                Diagnostic::error(
                    "unknown-name",
                    of.span(),
                    format!(
                        "the scenario is for `{}`, not for `{}`",
                        of.text(),
                        protocol.name
                    ),
                )
                .why("it would try nothing")
                .help(format!("write `for {}`", protocol.name))
                .fix(of.span(), protocol.name.clone())
                .source("structural"),
            );
            return None;
        }
        let title = self.text(&head);
        let mut given = Vec::new();
        let mut lines = Vec::new();
        let mut expects = Vec::new();
        for line in &block.statements {
            let Some(statement) = line.first() else {
                continue;
            };
            match statement.rule() {
                R::given => given.push(self.given(&statement)),
                R::moment_line | R::from_line => lines.push(self.scenario_line(&statement)),
                R::expect => expects.push(self.expect(&statement)),
                _ => {}
            }
        }
        if expects.is_empty() && !block.broken {
            self.error(
                Diagnostic::error(
                    "missing-statement",
                    head.span(),
                    "the scenario expects nothing",
                )
                .why("a trial that cannot fail shows nothing")
                .help("add a line such as `expect too-cold at 5:00`, or `expect no too-cold`")
                .source("structural"),
            );
        }
        Some(Scenario {
            title: title?,
            given: whole(given)?,
            lines: whole(lines)?,
            expects: whole(expects)?,
            span: block.span,
        })
    }

    fn given(&mut self, node: &Node<'t>) -> Option<Given> {
        let inner = node.first()?;
        match inner.rule() {
            R::given_weight => Some(Given::Weight(self.weight(&inner.find(R::value)?)?)),
            R::given_start => {
                let date = self.date(&inner.find(R::date)?)?;
                let time = self.clock(&inner.find(R::clock)?)?;
                Some(Given::Start(
                    date.value.to_datetime(time.value),
                    inner.span(),
                ))
            }
            _ => {
                let mark = self.refer(Kind::Mark, &inner.find(R::name)?);
                let distance = self.duration(&inner.find(R::value)?);
                let before = inner.find(R::before_after)?.text() == "before";
                let (mark, distance) = (mark?, distance?);
                Some(Given::Mark {
                    mark: At::new(MarkId(mark.value), mark.span),
                    at: if before {
                        -distance.value
                    } else {
                        distance.value
                    },
                })
            }
        }
    }

    fn scenario_line(&mut self, node: &Node<'t>) -> Option<ScenarioLine> {
        let moments: Vec<Option<Exact>> = node
            .all(R::elapsed)
            .iter()
            .map(|time| self.elapsed(time))
            .collect();
        let moments = whole(moments)?;
        let times = match moments.as_slice() {
            [at] => vec![*at],
            [from, to] => {
                let every = self.interval(&node.find(R::value)?, "record a value")?;
                let steps = ((*to - *from) / every.value).to_i64_floor()?;
                if !(0..=MOST_ENTRIES).contains(&steps) {
                    self.error(
                        Diagnostic::error(
                            "range-reversed",
                            node.span(),
                            "these times run backwards, or are far too many",
                        )
                        .why("nothing, or more than a nurse could write, would be recorded")
                        .help("write the earlier time first, with an interval of minutes or hours")
                        .source("structural"),
                    );
                    return None;
                }
                (0..=steps)
                    .map(|step| *from + every.value * Exact::int(step))
                    .collect()
            }
            _ => return None,
        };
        let entries: Vec<Option<Entry>> = node
            .find(R::entries)?
            .all(R::entry)
            .iter()
            .map(|entry| self.entry(entry))
            .collect();
        Some(ScenarioLine {
            times,
            entries: whole(entries)?,
            span: node.span(),
        })
    }

    fn entry(&mut self, node: &Node<'t>) -> Option<Entry> {
        let name = node.find(R::name)?;
        let Some(value) = node.find(R::value) else {
            let mark = self.refer(Kind::Mark, &name)?;
            return Some(Entry::Mark(At::new(MarkId(mark.value), mark.span)));
        };
        let reading = self.reading_id(&name)?;
        let is_choice = self
            .readings
            .get(reading.value.index())
            .and_then(Option::as_ref)
            .is_some_and(|reading| matches!(reading.kind, ReadingKind::Choice { .. }));
        let value = match value.find(R::name) {
            Some(word) if is_choice => {
                EntryValue::Word(self.choice_word(reading.value, &word)?, word.span())
            }
            _ => EntryValue::Level(self.level(&value, reading.value)?),
        };
        Some(Entry::Record { reading, value })
    }

    fn expect(&mut self, node: &Node<'t>) -> Option<Expect> {
        let inner = node.first()?;
        let at = match inner.find(R::elapsed) {
            None => None,
            Some(time) => Some(self.elapsed(&time)?),
        };
        let what = match inner.rule() {
            R::expect_phase => Expected::Phase(self.phase_id(&inner.find(R::name)?)?),
            R::expect_target => {
                let control = self
                    .readings
                    .iter()
                    .position(|reading| {
                        reading
                            .as_ref()
                            .is_some_and(|reading| reading.kind.is_body())
                    })
                    .and_then(|index| u32::try_from(index).ok())?;
                Expected::Target(self.level(&inner.find(R::value)?, ReadingId(control))?)
            }
            _ => match inner.find(R::expected_order) {
                Some(order) => Expected::Order(Box::new(self.order(&order)?)),
                None => {
                    let rule = self.refer(Kind::Rule, &inner.find(R::name)?)?;
                    Expected::Rule(At::new(RuleId(rule.value), rule.span))
                }
            },
        };
        Some(Expect {
            absent: inner.has(R::absent),
            what,
            at,
            span: node.span(),
        })
    }
}
