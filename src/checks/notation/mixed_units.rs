//! °C and °F for one reading.

use super::super::facts;
use super::super::{Check, Context, Family, Run};
use crate::diag::{Diagnostic, Level as Weight};
use crate::model::*;
use crate::quantity::Quantity;
use crate::source::Span;

pub const CHECK: Check = Check {
    name: "mixed-units",
    family: Family::Notation,
    level: Weight::Error,
    since: "0.1.0",
    summary: "one reading is written in °C here and in °F there",
    catches: "A reading of temperature whose targets, thresholds, limits or differences are written in °C in one \
              statement and in °F in another. What is written is what is printed, so the sheet would show both.",
    why: "The nurse would have to convert at the bedside. 36.5 read against a line of 97.7 is taken for deep \
          hypothermia, or the line is not used at all.",
    fires: "\
rule too-cold {
  when core below 90.5 °F during hold
  then call doctor within 15 min
  again after 1 h
}
",
    passes: "\
rule too-cold {
  when core below 32.5 °C during hold
  then call doctor within 15 min
  again after 1 h
}
",
    source: "common practice, no source",
    run: Run::Over(run),
};

struct Use {
    unit: &'static str,
    span: Span,
    in_words: String,
}

fn run(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let mut found = Vec::new();
    for (id, reading) in protocol.readings() {
        if !reading.kind.is_temperature() {
            continue;
        }
        let uses = uses(protocol, id);
        let celsius = uses.iter().find(|used| is_celsius(used.unit));
        let fahrenheit: Vec<&Use> = uses
            .iter()
            .filter(|used| is_fahrenheit(used.unit))
            .collect();
        let (Some(celsius), Some(first)) = (celsius, fahrenheit.first()) else {
            continue;
        };
        let many = uses.iter().filter(|used| is_celsius(used.unit)).count();
        // The rarer unit is the one to mend.
        let (odd, usual) = if fahrenheit.len() <= many {
            (*first, celsius)
        } else {
            (celsius, *first)
        };
        found.push(
            CHECK
                .found(
                    odd.span,
                    format!("`{}` is written in °C and in °F", reading.name.name),
                )
                .here(odd.in_words.clone())
                .also(usual.span, usual.in_words.clone())
                .why(
                    "the sheet would show both units for one thermometer, and the nurse would have to convert \
                     before comparing",
                )
                .help("write every value of this reading in the unit that its thermometer shows")
                .about(&reading.name.name),
        );
    }
    found
}

fn is_celsius(unit: &str) -> bool {
    unit.starts_with("°C")
}

fn is_fahrenheit(unit: &str) -> bool {
    unit.starts_with("°F")
}

fn uses(protocol: &Protocol, reading: ReadingId) -> Vec<Use> {
    let mut gather = Gather {
        reading,
        uses: Vec::new(),
    };
    let own = &protocol[reading];
    gather.option(own.shown_to.as_ref());
    gather.option(own.accurate_to.as_ref());
    if let Some(range) = &own.reads {
        gather.quantity(&range.low);
        gather.quantity(&range.high);
    }
    for (of, range) in &protocol.head.patients.on_arrival {
        if *of == reading {
            gather.quantity(&range.low);
            gather.quantity(&range.high);
        }
    }
    for limit in &protocol.limits {
        if limit.reading == reading {
            gather.quantity(&limit.level);
        }
    }
    for measure in &protocol.measures {
        gather.measure(measure);
    }
    for (_, phase) in protocol.phases() {
        if phase.aim.reading() == reading {
            gather.aim(&phase.aim);
            gather.option(phase.never_faster.as_ref());
            gather.option(phase.at_least.as_ref());
            gather.option(phase.steps.as_ref().map(|steps| &steps.step));
        }
    }
    for waiting in facts::conditions(protocol) {
        for test in waiting.cond.tests() {
            gather.test(&test.kind);
        }
    }
    for (_, ladder) in protocol.ladders() {
        if ladder.reading.value == reading {
            gather.ladder(&ladder.form);
        }
    }
    for order in facts::orders(protocol) {
        let here = order
            .phases
            .iter()
            .any(|phase| protocol[*phase].aim.reading() == reading);
        if here {
            gather.order(&order.action.order);
        }
    }
    gather.uses
}

struct Gather {
    reading: ReadingId,
    uses: Vec<Use>,
}

impl Gather {
    fn quantity<K>(&mut self, quantity: &Quantity<K>) {
        self.uses.push(Use {
            unit: quantity.written.unit,
            span: quantity.span,
            in_words: format!("{quantity} here"),
        });
    }

    fn option<K>(&mut self, quantity: Option<&Quantity<K>>) {
        if let Some(quantity) = quantity {
            self.quantity(quantity);
        }
    }

    fn aim(&mut self, aim: &Aim) {
        match aim {
            Aim::Reach {
                from,
                to,
                within,
                rate,
                ..
            } => {
                self.option(from.as_ref());
                self.quantity(to);
                self.option(within.as_ref());
                if let Some(rate) = rate {
                    self.quantity(&rate.first);
                    self.option(rate.second.as_ref());
                }
            }
            Aim::Hold { at, within, .. } => {
                self.quantity(at);
                self.quantity(within);
            }
            Aim::Keep { low, high, .. } => {
                self.option(low.as_ref());
                self.option(high.as_ref());
            }
        }
    }

    fn measure(&mut self, measure: &Measure) {
        match &measure.what {
            MeasureWhat::Share(cond) | MeasureWhat::Length(cond) => {
                for test in cond.tests() {
                    self.test(&test.kind);
                }
            }
            MeasureWhat::Area { reading, level, .. } if *reading == self.reading => {
                self.quantity(level);
                if let Some(GoalValue::Area(_, area)) =
                    measure.goal.as_ref().map(|goal| &goal.value)
                {
                    self.quantity(area);
                }
            }
            MeasureWhat::Area { .. } => {}
        }
    }

    fn test(&mut self, test: &TestKind) {
        if !test.readings().contains(&self.reading) {
            return;
        }
        match test {
            TestKind::Compare { level, .. } => self.quantity(level),
            TestKind::Outside { low, high, .. } => {
                self.quantity(low);
                self.quantity(high);
            }
            TestKind::OffTarget { by, .. }
            | TestKind::Differ { by, .. }
            | TestKind::Trend { by, .. } => self.quantity(by),
            TestKind::NearTarget { within, .. } => self.quantity(within),
            TestKind::Is { .. }
            | TestKind::NotRecorded { .. }
            | TestKind::LastsLonger { .. }
            | TestKind::Overdue { .. }
            | TestKind::PausedLonger { .. } => {}
        }
    }

    fn ladder(&mut self, form: &LadderForm) {
        match form {
            LadderForm::Rungs(rungs) => {
                for rung in rungs {
                    match &rung.band {
                        RungBand::Values { low, high } => {
                            self.quantity(low);
                            self.quantity(high);
                        }
                        RungBand::Compare { level, .. } => self.quantity(level),
                    }
                }
            }
            LadderForm::Steps { goal, .. } => {
                if let Goal::Compare { level, .. } = goal {
                    self.quantity(level);
                }
            }
        }
    }

    fn order(&mut self, order: &Order) {
        match order {
            Order::SetTarget(level) => self.quantity(level),
            Order::RaiseTarget { by, at_most } => {
                self.quantity(by);
                self.quantity(at_most);
            }
            Order::LowerTarget { by, at_least } => {
                self.quantity(by);
                self.quantity(at_least);
            }
            Order::SetRate(rate) => self.quantity(rate),
            _ => {}
        }
    }
}
