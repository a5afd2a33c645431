//! Orders, rules and ladders.

use super::condition::cmp;
use super::head::optional;
use super::names::Kind;
use super::*;

/// The parts of a `when` line; `None` where one could not be made.
struct When {
    cond: Option<Cond>,
    during: Option<Vec<At<PhaseId>>>,
    reason: Reason,
    span: Span,
}

impl<'t> Lowerer<'t> {
    /// An order with the reason of its line.
    pub(super) fn action(&mut self, node: &Node<'t>, line: &Node<'t>) -> Option<Action> {
        let reason = self.reason(line);
        Some(Action {
            order: self.order(node)?,
            reason,
            span: node.span(),
        })
    }

    fn medication_of(&mut self, node: &Node<'t>) -> Option<At<MedicationId>> {
        let found = self.refer(Kind::Medication, &node.find(R::name)?)?;
        Some(At::new(MedicationId(found.value), found.span))
    }

    fn otherwise(&mut self, node: &Node<'t>) -> Option<Option<Box<Action>>> {
        optional(node.find(R::otherwise).map(|otherwise| {
            let order = otherwise.find(R::order)?;
            Some(Box::new(Action {
                order: self.order(&order)?,
                reason: Reason::default(),
                span: order.span(),
            }))
        }))
    }

    /// The temperature that targets are set for.
    fn control(&mut self, span: Span) -> Option<ReadingId> {
        let found = self.readings.iter().position(|reading| {
            reading
                .as_ref()
                .is_some_and(|reading| reading.kind.is_body())
        });
        match found {
            Some(index) => Some(ReadingId(u32::try_from(index).ok()?)),
            None => {
                self.error(
                    Diagnostic::error("unknown-name", span, "no body temperature is declared to set a target for")
                        .why("a target needs a thermometer")
                        .help("declare one: `reading core \"Core temperature\" temperature at bladder, …`")
                        .source("structural"),
                );
                None
            }
        }
    }

    /// An `order` or `expected_order` node.
    pub(super) fn order(&mut self, node: &Node<'t>) -> Option<Order> {
        let inner = node.first()?;
        let value = inner.find(R::value);
        match inner.rule() {
            R::ask_order => {
                let (way, readings) = self.ask(&inner.find(R::ask)?)?;
                let after = optional(value.map(|value| self.duration(&value)))?;
                Some(Order::Ask {
                    way,
                    readings,
                    after,
                })
            }
            R::follow_order => self.follow(&inner.find(R::name)?),
            R::call_order => {
                let role = self.refer(Kind::Role, &inner.find(R::name)?);
                let within = optional(value.map(|value| self.duration(&value)))?;
                let role = role?;
                Some(Order::Call {
                    role: At::new(RoleId(role.value), role.span),
                    within,
                })
            }
            R::do_order => Some(Order::Do {
                text: self.text(&inner)?,
                covers: self.covers(&inner),
            }),
            R::continue_order => Some(Order::Continue),
            R::begin_order => Some(Order::Begin(self.phase_id(&inner.find(R::name)?)?)),
            R::set_target => {
                let control = self.control(inner.span())?;
                let level = self.level(&value?, control);
                Some(Order::SetTarget(self.on_scale(level, control)?))
            }
            R::raise_target | R::lower_target => {
                let control = self.control(inner.span())?;
                let values = inner.all(R::value);
                let by = self.change(values.first()?, control, false);
                let bound = self.level(values.get(1)?, control);
                let bound = self.on_scale(bound, control);
                Some(if inner.rule() == R::raise_target {
                    Order::RaiseTarget {
                        by: by?,
                        at_most: bound?,
                    }
                } else {
                    Order::LowerTarget {
                        by: by?,
                        at_least: bound?,
                    }
                })
            }
            R::keep_target => Some(Order::KeepTarget(self.until(&inner.find(R::until)?)?)),
            R::set_rate => Some(Order::SetRate(self.rate(&value?)?)),
            R::pause_order => Some(Order::Pause(self.until(&inner.find(R::until)?)?)),
            R::stop_control => Some(Order::Stop),
            R::give_order => {
                let medication = self.medication_of(&inner);
                let otherwise = self.otherwise(&inner)?;
                Some(Order::Give {
                    medication: medication?,
                    otherwise,
                })
            }
            R::raise_rate => {
                let medication = self.medication_of(&inner);
                let otherwise = self.otherwise(&inner)?;
                Some(Order::RaiseRate {
                    medication: medication?,
                    otherwise,
                })
            }
            R::lower_rate => {
                let medication = self.medication_of(&inner);
                let otherwise = self.otherwise(&inner)?;
                Some(Order::LowerRate {
                    medication: medication?,
                    otherwise,
                })
            }
            R::withhold_order => {
                let medication = self.medication_of(&inner);
                let until = self.until(&inner.find(R::until)?);
                Some(Order::Withhold {
                    medication: medication?,
                    until: until?,
                })
            }
            R::stop_medication => Some(Order::StopMedication(self.medication_of(&inner)?)),
            // A scenario names these orders without their UNTIL (M36).
            R::expected_pause => Some(Order::Pause(unsaid(inner.span()))),
            R::expected_keep => Some(Order::KeepTarget(unsaid(inner.span()))),
            R::expected_withhold => Some(Order::Withhold {
                medication: self.medication_of(&inner)?,
                until: unsaid(inner.span()),
            }),
            _ => None,
        }
    }

    fn follow(&mut self, name: &Node<'t>) -> Option<Order> {
        match self
            .names
            .find(&[Kind::Ladder, Kind::Checklist], name.text(), name.span())
        {
            Ok((Kind::Checklist, index)) => Some(Order::FollowChecklist(At::new(
                ChecklistId(index),
                name.span(),
            ))),
            Ok((_, index)) => Some(Order::FollowLadder(At::new(LadderId(index), name.span()))),
            Err(problem) => {
                self.unknown(problem, name.text());
                None
            }
        }
    }

    pub(super) fn rule(&mut self, block: &TreeBlock<'t>, head: &Node<'t>) -> Option<Rule> {
        let name = self.named(head)?;
        let mut when: Option<When> = None;
        let mut then = Vec::new();
        let mut ready_again: Option<Option<Cond>> = None;
        let mut again_after: Option<Option<crate::quantity::Duration>> = None;
        let mut overrides = Vec::new();
        for line in &block.statements {
            let Some(statement) = line.first() else {
                continue;
            };
            match statement.rule() {
                R::when_line => {
                    let cond = statement.find(R::cond).and_then(|cond| self.cond(&cond));
                    let during = self.during(&statement);
                    let reason = self.reason(line);
                    self.only_once(when.is_some(), "when", statement.span());
                    when = Some(When {
                        cond,
                        during,
                        reason,
                        span: statement.span(),
                    });
                }
                R::then_line => {
                    let action = statement
                        .find(R::order)
                        .and_then(|order| self.action(&order, line));
                    then.push(action);
                }
                R::ready_again => {
                    self.only_once(ready_again.is_some(), "ready again", statement.span());
                    ready_again = Some(statement.find(R::cond).and_then(|cond| self.cond(&cond)));
                }
                R::again_after => {
                    self.only_once(again_after.is_some(), "again after", statement.span());
                    again_after = Some(
                        statement
                            .find(R::value)
                            .and_then(|value| self.interval(&value, "follow a rule again")),
                    );
                }
                R::overrides => {
                    for rule in statement
                        .all(R::names)
                        .iter()
                        .flat_map(|names| names.all(R::name))
                    {
                        let found = self.refer(Kind::Rule, &rule);
                        overrides.push(found.map(|found| At::new(RuleId(found.value), found.span)));
                    }
                }
                _ => {}
            }
        }
        if !block.broken {
            self.needs(when.is_some(), &name, "when", "when core above 38.0 °C");
            self.needs(
                !then.is_empty(),
                &name,
                "then",
                "then call doctor within 15 min",
            );
        }
        let when = when?;
        Some(Rule {
            name,
            when: when.cond?,
            during: when.during?,
            then: whole(then)?,
            ready_again: optional(ready_again)?,
            again_after: optional(again_after)?,
            overrides: whole(overrides)?,
            reason: when.reason,
            span: block.span,
            when_span: when.span,
        })
    }

    pub(super) fn only_once(&mut self, again: bool, word: &str, span: Span) {
        if again {
            self.error(
                Diagnostic::error(
                    "stated-twice",
                    span,
                    format!("`{word}` is stated twice in one block"),
                )
                .why("only one of the two could be followed")
                .help("keep one; for either of two conditions, write `or`")
                .source("structural"),
            );
        }
    }

    pub(super) fn needs(&mut self, there: bool, name: &Named, word: &str, example: &str) {
        if !there {
            self.error(
                Diagnostic::error(
                    "missing-statement",
                    name.span,
                    format!("`{}` has no line that begins with `{word}`", name.name),
                )
                .why("half an instruction would be printed")
                .help(format!("add one, such as `{example}`"))
                .source("structural"),
            );
        }
    }

    pub(super) fn ladder(&mut self, block: &TreeBlock<'t>, head: &Node<'t>) -> Option<Ladder> {
        let names = head.all(R::name);
        let name = self.named(head)?;
        let title = self.text(head);
        let reading = self.reading_id(names.get(1)?)?;
        let goal = optional(
            head.find(R::goal)
                .map(|goal| self.goal(&goal, reading.value)),
        );
        let goal = goal?;
        if block.blocks.is_empty() && !block.broken {
            self.needs(false, &name, "rung", "rung 0 \"None\" { continue }");
            return None;
        }
        let mut rungs = Vec::new();
        let mut steps = Vec::new();
        for inner in &block.blocks {
            let Some(inner_head) = inner.head.first() else {
                continue;
            };
            let is_step = inner_head.rule() == R::step_head;
            if is_step != goal.is_some() {
                self.error(
                    Diagnostic::error(
                        "misplaced-statement",
                        inner_head.span(),
                        "rungs and steps are mixed up",
                    )
                    .also(head.span(), "the ladder")
                    .why("a rung is chosen by the value, a step is tried until a goal is met")
                    .help("a ladder with `until GOAL` has steps, one without has rungs")
                    .source("structural"),
                );
                continue;
            }
            let (actions, recheck) = self.rung_lines(inner);
            let title = self.text(&inner_head);
            let reason = self.reason(&inner.head);
            if is_step {
                steps.push(title.zip(actions).map(|(title, actions)| LadderStep {
                    title,
                    actions,
                    recheck,
                    reason,
                    span: inner.span,
                }));
            } else {
                let band = self.band(&inner_head, reading.value);
                rungs.push(
                    band.zip(title.zip(actions))
                        .map(|(band, (title, actions))| Rung {
                            band,
                            title,
                            actions,
                            recheck,
                            reason,
                            span: inner.span,
                        }),
                );
            }
        }
        let form = match goal {
            Some(goal) => LadderForm::Steps {
                goal,
                steps: whole(steps)?,
            },
            None => LadderForm::Rungs(whole(rungs)?),
        };
        Some(Ladder {
            name,
            title: title?,
            reading,
            form,
            span: block.span,
        })
    }

    fn goal(&mut self, node: &Node<'t>, reading: ReadingId) -> Option<Goal> {
        if let Some(word) = node.find(R::name) {
            let index = self.choice_word(reading, &word)?;
            return Some(Goal::Is(At::new(index, word.span())));
        }
        Some(Goal::Compare {
            cmp: cmp(&node.find(R::cmp)?),
            level: self.level(&node.find(R::value)?, reading)?,
        })
    }

    fn band(&mut self, head: &Node<'t>, reading: ReadingId) -> Option<RungBand> {
        let values = head.all(R::value);
        if let Some(way) = head.find(R::cmp) {
            return Some(RungBand::Compare {
                cmp: cmp(&way),
                level: self.level(values.first()?, reading)?,
            });
        }
        if values.len() == 1 {
            let low = self.level(values.first()?, reading)?;
            return Some(RungBand::Values {
                high: low.clone(),
                low,
            });
        }
        let range = self.levels(head, reading)?;
        Some(RungBand::Values {
            low: range.low,
            high: range.high,
        })
    }

    fn rung_lines(
        &mut self,
        block: &TreeBlock<'t>,
    ) -> (Option<Vec<Action>>, Option<crate::quantity::Duration>) {
        let mut actions = Vec::new();
        let mut recheck = None;
        for line in &block.statements {
            let Some(statement) = line.first() else {
                continue;
            };
            if statement.rule() == R::recheck {
                self.only_once(recheck.is_some(), "recheck", statement.span());
                recheck = statement
                    .find(R::value)
                    .and_then(|value| self.interval(&value, "look again"));
            } else {
                actions.push(self.action(&statement, line));
            }
        }
        if actions.is_empty() && recheck.is_none() && !block.broken {
            self.error(
                Diagnostic::error(
                    "missing-statement",
                    block.head.span(),
                    "a rung or step says nothing",
                )
                .why("the nurse would find an empty box where an instruction is expected")
                .help("write `continue` where nothing is to be done")
                .source("structural"),
            );
        }
        (whole(actions), recheck)
    }
}

fn unsaid(span: Span) -> Until {
    Until::Mark(At::new(MarkRef::Start, span))
}
