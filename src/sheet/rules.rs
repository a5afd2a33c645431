//! If … then: every rule in bedside words, the most urgent first.

use super::Sheet;
use crate::document::{Block, Cell, Column, Field, List, Rich, Row, Table, Width, text};
use crate::model::{Action, Order, PhaseId, ReadingId, Rule, RuleId};
use crate::quantity::Exact;

/// How soon somebody is called.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Urgency {
    Now,
    Within(Exact),
    Nobody,
}

impl Sheet<'_> {
    pub(super) fn rules(&self) -> Vec<Block> {
        let mut blocks = Vec::new();
        blocks.extend(self.people());
        let mut rows = Vec::new();
        let mut group = None;
        for (index, (_, rule)) in self.in_order().into_iter().enumerate() {
            let urgency = urgency(rule);
            if group.replace(urgency) != Some(urgency) {
                rows.push(Row::Band {
                    text: urgency_words(urgency).into(),
                    tick: false,
                    initials: 0,
                    divider: true,
                });
            }
            rows.push(self.rule_row(index + 1, rule));
        }
        if rows.is_empty() {
            return blocks;
        }
        blocks.push(Block::paragraph(
            "Go through these after every entry, from the top. A box is the entry of that column at \
             that time; the numbers stand in the column heads of the record.",
        ));
        blocks.push(Block::Table(Table {
            caption: Rich::default(),
            columns: vec![
                Column::new("", Width::Mm(9)).middle(),
                Column::new("If", Width::Share(1)),
                Column::new("Then, in this order", Width::Share(1)),
            ],
            rows,
            row_height: 0,
        }));
        blocks.push(Block::Table(self.log()));
        blocks
    }

    /// The most urgent first; among equals those that stop something, then as written.
    fn in_order(&self) -> Vec<(RuleId, &Rule)> {
        let mut rules: Vec<(RuleId, &Rule)> = self.protocol.rules().collect();
        rules.sort_by_key(|(id, rule)| (urgency(rule), !halts(rule), *id));
        rules
    }

    /// The number under which a rule is printed.
    fn number_of(&self, id: RuleId) -> usize {
        self.in_order()
            .iter()
            .position(|(other, _)| *other == id)
            .map_or(0, |index| index + 1)
    }

    /// Numbers of the rules that look at a reading in a phase.
    pub(super) fn rules_on(&self, reading: ReadingId, phase: PhaseId) -> Vec<usize> {
        self.in_order()
            .iter()
            .enumerate()
            .filter(|(_, (_, rule))| {
                let here = rule.during.is_empty() || rule.during.iter().any(|at| at.value == phase);
                here && rule.when.readings().contains(&reading)
            })
            .map(|(index, _)| index + 1)
            .collect()
    }

    fn rule_row(&self, number: usize, rule: &Rule) -> Row {
        let during: Vec<PhaseId> = rule.during.iter().map(|at| at.value).collect();
        let mut when = Rich::bold(format!("{}: ", self.words.name(&rule.name.name)))
            .then(text::inline(&self.words.condition(&rule.when, &during)));
        if !during.is_empty() {
            when = when.then(format!(" – only in {}", self.words.phases(&during)));
        }
        let over: Vec<String> = self
            .protocol
            .rules()
            .filter(|(_, other)| {
                other
                    .overrides
                    .iter()
                    .any(|at| self.protocol[at.value].name == rule.name)
            })
            .map(|(id, _)| self.number_of(id).to_string())
            .collect();
        if !over.is_empty() {
            let list = crate::words::listed(&over, "or");
            when = when.then(format!(" – not while {list} is true"));
        }
        if let Some(again) = self.again(rule, &during) {
            when = when.then(" ").then(again);
        }
        let orders: Vec<Rich> = rule
            .then
            .iter()
            .map(|action| text::inline(&self.words.order(action, &during)))
            .collect();
        Row::cells(vec![
            Cell::Text(Rich::bold(number.to_string())),
            Cell::Text(when),
            Cell::List(List::of(orders.len() > 1, orders)),
        ])
    }

    /// When the rule counts again, and which others it silences.
    fn again(&self, rule: &Rule, during: &[PhaseId]) -> Option<Rich> {
        let mut parts = Vec::new();
        match (&rule.ready_again, &rule.again_after) {
            (None, None) => {}
            (Some(cond), None) => {
                parts.push(format!("again once {}", self.words.condition(cond, during)))
            }
            (None, Some(after)) => parts.push(format!("again: when true anew, or after {after}")),
            (Some(cond), Some(after)) => parts.push(format!(
                "again: once {}, or after {after}",
                self.words.condition(cond, during)
            )),
        }
        let silenced: Vec<String> = rule
            .overrides
            .iter()
            .map(|at| self.number_of(at.value).to_string())
            .collect();
        if !silenced.is_empty() {
            parts.push(format!(
                "while it is true leave {} aside",
                crate::words::listed(&silenced, "and")
            ));
        }
        if parts.is_empty() {
            return None;
        }
        Some(text::inline(&format!("({})", parts.join("; "))))
    }

    /// Room to write down what was done.
    fn log(&self) -> Table {
        Table {
            caption: "What was found and done".into(),
            columns: vec![
                Column::new("Day, time", Width::Mm(28)),
                Column::new("No.", Width::Mm(12)).middle(),
                Column::new("Done; who was called and when", Width::Share(1)),
                Column::new("Initials", Width::Mm(16)).middle(),
            ],
            rows: vec![Row::cells(vec![Cell::Empty; 4]); 8],
            row_height: 80,
        }
    }

    /// Who is called, who next, and room for the number.
    fn people(&self) -> Option<Block> {
        let rows: Vec<Row> = self
            .protocol
            .roles()
            .map(|(_, role)| {
                let next = match &role.no_reply {
                    Some((after, next)) => {
                        format!("no reply in {after}: call {}", self.words.role(*next))
                    }
                    None => String::new(),
                };
                Row::cells(vec![
                    Cell::Text(text::inline(&role.title.markdown)),
                    Cell::Text(text::inline(&next)),
                    Cell::Fields(vec![Field::open("", "", 44)]),
                ])
            })
            .collect();
        (!rows.is_empty()).then(|| {
            Block::Table(Table {
                caption: "Whom to call".into(),
                columns: vec![
                    Column::new("Who", Width::Share(4)),
                    Column::new("If nobody answers", Width::Share(6)),
                    Column::new("Telephone or bleep", Width::Mm(52)),
                ],
                rows,
                row_height: 75,
            })
        })
    }
}

fn urgency(rule: &Rule) -> Urgency {
    rule.then
        .iter()
        .filter_map(called)
        .min()
        .unwrap_or(Urgency::Nobody)
}

fn called(action: &Action) -> Option<Urgency> {
    match &action.order {
        Order::Call { within, .. } => Some(match within {
            None => Urgency::Now,
            Some(within) => Urgency::Within(within.value),
        }),
        _ => None,
    }
}

fn halts(rule: &Rule) -> bool {
    rule.then
        .iter()
        .any(|action| matches!(action.order, Order::Pause(_) | Order::Stop))
}

fn urgency_words(urgency: Urgency) -> String {
    match urgency {
        Urgency::Now => "Call now".to_string(),
        Urgency::Within(minutes) => format!("Call within {}", crate::words::minutes(minutes)),
        Urgency::Nobody => "Do it yourself; nobody is called by the rule itself".to_string(),
    }
}
