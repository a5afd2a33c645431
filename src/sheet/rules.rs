//! If … then: every rule in bedside words, the most urgent first.

use super::Sheet;
use crate::document::{Block, Cell, Column, Field, List, Rich, Row, Table, Width, text};
use crate::model::{Action, Ladder, LadderId, Order, PhaseId, RoleId, Rule, RuleId};
use crate::quantity::Exact;

/// How soon somebody is called.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Urgency {
    Now,
    Within(Exact),
    Nobody,
}

/// Fewer are no log.
const LOG_ROWS: usize = 3;

impl Sheet<'_> {
    pub(super) fn rules(&self) -> Vec<Block> {
        let mut blocks = Vec::new();
        let mut rows = Vec::new();
        let mut group = None;
        for (index, (_, rule)) in self.in_order().into_iter().enumerate() {
            let call = first_call(rule);
            if group.replace(call) != Some(call) {
                let head = self.call_words(call);
                rows.push(Row::Section {
                    text: Rich::bold(head.clone()),
                    fields: Vec::new(),
                    again: format!("{head} (continued)").into(),
                });
            }
            rows.push(self.rule_row(index + 1, rule));
        }
        if rows.is_empty() {
            return blocks;
        }
        blocks.push(Block::Paragraph(text::inline(
            "From the top, after every entry. **Call**: whom the grey line above names, by then, \
             whatever else is to do. Do it once; again when the rule is true anew, or has stayed \
             true for as long as **Again** says.",
        )));
        blocks.extend(self.by_column());
        blocks.push(Block::Table(Table {
            caption: Rich::default(),
            columns: vec![
                Column::new("No.", Width::Mm(8)).middle(),
                Column::new("If", Width::Share(11)),
                Column::new("Phase", Width::Mm(12)).middle(),
                Column::new("Then, in this order", Width::Share(10)),
                Column::new("Again", Width::Mm(12)).middle(),
            ],
            rows,
            row_height: 0,
            fill: false,
        }));
        blocks
    }

    /// Which rules, and which steps, look at which column of the record.
    fn by_column(&self) -> Option<Block> {
        let order = self.in_order();
        let mut line = Rich::default();
        for (id, _) in self.protocol.readings() {
            let numbers: Vec<String> = order
                .iter()
                .enumerate()
                .filter(|(_, (_, rule))| rule.when.readings().contains(&id))
                .map(|(index, _)| (index + 1).to_string())
                .collect();
            let mut places: Vec<Rich> = Vec::new();
            if !numbers.is_empty() {
                places.push(numbers.join(", ").into());
            }
            let follows = |(ladder, stated): (LadderId, &Ladder)| {
                stated.reading.value == id && self.followed_at(ladder).is_some()
            };
            if self.protocol.ladders().any(follows) {
                places.push("the steps".into());
            }
            if places.is_empty() {
                continue;
            }
            if !line.is_empty() {
                line = line.then("; ");
            }
            let name = text::inline(self.words.reading(id)).all_bold();
            line = line.then(name);
            for (index, place) in places.into_iter().enumerate() {
                line = line
                    .then(if index == 0 { ": " } else { " and " })
                    .then(place);
            }
        }
        if line.is_empty() {
            return None;
        }
        let start = Rich::from("By column: ");
        Some(Block::Paragraph(start.then(line).then(".")))
    }

    /// The most urgent first; among equals those that stop something, then as written.
    fn in_order(&self) -> Vec<(RuleId, &Rule)> {
        let mut rules: Vec<(RuleId, &Rule)> = self.protocol.rules().collect();
        rules.sort_by_key(|(id, rule)| (first_call(rule), !halts(rule), *id));
        rules
    }

    /// The number under which a rule is printed.
    fn number_of(&self, id: RuleId) -> usize {
        self.in_order()
            .iter()
            .position(|(other, _)| *other == id)
            .map_or(0, |index| index + 1)
    }

    /// The numbers of several, as one goes down the table to find them.
    fn numbers_of(&self, rules: impl Iterator<Item = RuleId>) -> Vec<String> {
        let mut numbers: Vec<usize> = rules.map(|id| self.number_of(id)).collect();
        numbers.sort_unstable();
        numbers.iter().map(usize::to_string).collect()
    }

    fn rule_row(&self, number: usize, rule: &Rule) -> Row {
        let during: Vec<PhaseId> = rule.during.iter().map(|at| at.value).collect();
        let mut when = Rich::bold(format!("{}: ", self.words.name(&rule.name.name)))
            .then(text::inline(&self.words.condition(&rule.when, &during)));
        if let Some(time) = self.rule_time(rule) {
            when = when.then(" (").then(text::inline(&time)).then(")");
        }
        let over = self
            .protocol
            .rules()
            .filter(|(_, other)| {
                other
                    .overrides
                    .iter()
                    .any(|at| self.protocol[at.value].name == rule.name)
            })
            .map(|(id, _)| id);
        let over = self.numbers_of(over);
        if !over.is_empty() {
            let list = crate::words::listed(&over, "or");
            when = when.then(format!("; not while {list} is true"));
        }
        if let Some(cond) = &rule.ready_again {
            let again = self.words.condition(cond, &during);
            when = when.then(text::inline(&format!("; true anew only once {again}")));
        }
        let silenced = self.numbers_of(rule.overrides.iter().map(|at| at.value));
        if !silenced.is_empty() {
            let list = crate::words::listed(&silenced, "and");
            when = when.then(format!("; while it is true leave {list} aside"));
        }
        let orders = self.orders(rule, &during);
        Row::cells(vec![
            Cell::Text(Rich::bold(number.to_string())),
            Cell::Text(when),
            Cell::text(self.phase_numbers(&during)),
            match <[Rich; 1]>::try_from(orders) {
                Ok([one]) => Cell::Text(one),
                Err(orders) => Cell::List(List::of(true, orders)),
            },
            Cell::text(match &rule.again_after {
                Some(after) => after.to_string(),
                None => "–".to_string(),
            }),
        ])
    }

    /// What is done, in order. A call that is the last of them and stands over the group is not
    /// spelled out again.
    fn orders(&self, rule: &Rule, during: &[PhaseId]) -> Vec<Rich> {
        let calls = rule.then.iter().filter(|action| called(action).is_some());
        let last = rule.then.last().and_then(called);
        let said_above = calls.count() == 1 && last.is_some();
        let spelled = match (said_above, rule.then.split_last()) {
            (true, Some((_, before))) => before,
            _ => &rule.then,
        };
        let mut orders: Vec<Rich> = spelled
            .iter()
            .map(|action| text::inline(&self.words.order(action, during)))
            .collect();
        if said_above {
            match orders.last_mut() {
                Some(order) => {
                    let before = std::mem::take(order);
                    *order = before.then("; ").then(Rich::bold("call"));
                }
                None => orders.push(Rich::bold("call")),
            }
        }
        orders
    }

    /// What stands over the rules with that call.
    fn call_words(&self, (urgency, role): (Urgency, Option<RoleId>)) -> String {
        let who = role.map_or_else(String::new, |role| {
            format!(": {}", text::inline(self.words.role(role)).plain())
        });
        match urgency {
            Urgency::Now => format!("Call now{who}"),
            Urgency::Within(minutes) => {
                format!("Call within {}{who}", crate::words::minutes(minutes))
            }
            Urgency::Nobody => "Do it yourself; nobody is called by the rule itself".to_string(),
        }
    }

    /// `2`, `1 to 4`, `1, 3`, `all`.
    pub(super) fn phase_numbers(&self, during: &[PhaseId]) -> String {
        let mut numbers: Vec<usize> = during.iter().map(|id| id.index() + 1).collect();
        numbers.sort_unstable();
        numbers.dedup();
        match (numbers.first(), numbers.last()) {
            (None, _) | (_, None) => "all".to_string(),
            _ if numbers.len() == self.protocol.phases().count() => "all".to_string(),
            (Some(first), Some(last)) if numbers.len() > 2 && last - first + 1 == numbers.len() => {
                format!("{first} to {last}")
            }
            _ => {
                let each: Vec<String> = numbers.iter().map(ToString::to_string).collect();
                each.join(", ")
            }
        }
    }

    /// Room to write down what was done.
    pub(super) fn log(&self) -> Vec<Block> {
        vec![Block::Table(Table {
            caption: "What was found and done".into(),
            columns: vec![
                Column::new("Day, time", Width::Mm(28)),
                Column::new("No.", Width::Mm(12)).middle(),
                Column::new("Call by", Width::Mm(18)),
                Column::new("Done; who was called and when", Width::Share(1)),
                Column::new("Initials", Width::Mm(16)).middle(),
            ],
            rows: vec![Row::cells(vec![Cell::Empty; 5]); LOG_ROWS],
            row_height: 70,
            fill: true,
        })]
    }

    /// Who is called, who next, and room for the number.
    pub(super) fn people(&self) -> Option<Block> {
        let rows: Vec<Row> = self
            .protocol
            .roles()
            .map(|(_, role)| {
                let mut who = text::inline(&role.title.markdown).all_bold();
                if let Some((after, next)) = &role.no_reply {
                    let next = self.words.role(*next);
                    let words = format!("no reply in {after}: call {next}");
                    who = who.then("\n").then(text::inline(&words));
                }
                Row::cells(vec![
                    Cell::Text(who),
                    Cell::WriteIn(Field::open("", "", 28)),
                ])
            })
            .collect();
        (!rows.is_empty()).then(|| {
            Block::Table(Table {
                caption: Rich::default(),
                columns: vec![
                    Column::new("Whom to call", Width::Share(1)),
                    Column::new("Telephone or bleep", Width::Mm(34)),
                ],
                rows,
                row_height: 75,
                fill: false,
            })
        })
    }
}

/// The most urgent call of a rule: when, and whom.
fn first_call(rule: &Rule) -> (Urgency, Option<RoleId>) {
    rule.then
        .iter()
        .filter_map(called)
        .min()
        .map_or((Urgency::Nobody, None), |(urgency, role)| {
            (urgency, Some(role))
        })
}

fn called(action: &Action) -> Option<(Urgency, RoleId)> {
    match &action.order {
        Order::Call { role, within } => Some(match within {
            None => (Urgency::Now, role.value),
            Some(within) => (Urgency::Within(within.value), role.value),
        }),
        _ => None,
    }
}

fn halts(rule: &Rule) -> bool {
    rule.then
        .iter()
        .any(|action| matches!(action.order, Order::Pause(_) | Order::Stop))
}
