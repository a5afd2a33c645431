//! Phases.

use super::head::optional;
use super::*;
use crate::quantity::{Duration, Rate};

/// The statements of a phase as they come; each may stand once.
#[derive(Default)]
struct Parts {
    aim: Option<(Option<Aim>, Reason, Span)>,
    end: Option<(Option<End>, Reason, Span)>,
    by: Option<Option<Vec<At<words::Means>>>>,
    never_faster: Option<(Option<Rate>, Reason)>,
    at_least: Option<Option<Rate>>,
    due: Option<Option<Due>>,
    steps: Option<Option<CourseSteps>>,
}

impl<'t> Lowerer<'t> {
    pub(super) fn phase(&mut self, block: &TreeBlock<'t>, head: &Node<'t>) -> Option<Phase> {
        let name = self.named(head)?;
        let title = self.text(head);
        let mut parts = Parts::default();
        for line in &block.statements {
            if let Some(statement) = line.first() {
                self.phase_line(&statement, line, &mut parts);
            }
        }
        if !block.broken {
            self.needs(
                parts.aim.is_some(),
                &name,
                "hold",
                "hold core at 36.5 °C within 0.5 °C",
            );
        }
        let (aim, aim_reason, aim_span) = parts.aim?;
        let aim = aim?;
        let end = self.phase_end(&name, &aim, parts.end, block.broken);
        self.course_needs_rate(&aim, parts.steps.as_ref().and_then(Option::as_ref));
        let (never_faster, never_faster_reason) = match parts.never_faster {
            None => (None, Reason::default()),
            Some((rate, reason)) => (Some(rate?), reason),
        };
        let (end, end_reason, end_span) = end?;
        Some(Phase {
            name,
            title: title?,
            aim,
            aim_span,
            aim_reason,
            end,
            end_span,
            end_reason,
            by: optional(parts.by)?.unwrap_or_default(),
            never_faster,
            never_faster_reason,
            at_least: optional(parts.at_least)?,
            due: optional(parts.due)?,
            steps: optional(parts.steps)?,
            span: block.span,
        })
    }

    fn phase_line(&mut self, statement: &Node<'t>, line: &Node<'t>, parts: &mut Parts) {
        let span = statement.span();
        match statement.rule() {
            R::reach | R::hold | R::keep => {
                self.only_once(parts.aim.is_some(), "what is aimed at", span);
                let aim = self.aim(statement);
                parts.aim = Some((aim, self.reason(line), span));
            }
            R::lasts | R::ends_after | R::ends_awaited => {
                self.only_once(parts.end.is_some(), "the end", span);
                let end = self.end(statement);
                parts.end = Some((end, self.reason(line), span));
            }
            R::by_means => {
                self.only_once(parts.by.is_some(), "by", span);
                let names: Vec<Node<'t>> = statement
                    .all(R::names)
                    .iter()
                    .flat_map(|names| names.all(R::name))
                    .collect();
                let means: Vec<Option<At<words::Means>>> =
                    names.iter().map(|name| self.fixed(name)).collect();
                let means = whole(means);
                self.passive_stands_alone(means.as_deref().unwrap_or_default(), true);
                parts.by = Some(means);
            }
            R::never_faster => {
                self.only_once(parts.never_faster.is_some(), "never faster than", span);
                let rate = statement.find(R::value).and_then(|value| self.rate(&value));
                parts.never_faster = Some((rate, self.reason(line)));
            }
            R::at_least_rate => {
                self.only_once(parts.at_least.is_some(), "at least", span);
                parts.at_least = Some(statement.find(R::value).and_then(|value| self.rate(&value)));
            }
            R::due => {
                self.only_once(parts.due.is_some(), "due within", span);
                parts.due = Some(self.due(statement, line));
            }
            R::moves => {
                self.only_once(parts.steps.is_some(), "target moves", span);
                let values = statement.all(R::value);
                let every = values
                    .first()
                    .and_then(|value| self.interval(value, "move a target"));
                let control = parts
                    .aim
                    .as_ref()
                    .and_then(|(aim, _, _)| aim.as_ref())
                    .map_or(self.first_body(), Aim::reading);
                let step = values
                    .get(1)
                    .and_then(|value| self.change(value, control, false));
                parts.steps =
                    Some(
                        every
                            .zip(step)
                            .map(|(every, step)| CourseSteps { every, step, span }),
                    );
            }
            _ => {}
        }
    }

    fn first_body(&self) -> ReadingId {
        let index = self
            .readings
            .iter()
            .position(|reading| {
                reading
                    .as_ref()
                    .is_some_and(|reading| reading.kind.is_body())
            })
            .unwrap_or(0);
        ReadingId(u32::try_from(index).unwrap_or(0))
    }

    fn aim(&mut self, node: &Node<'t>) -> Option<Aim> {
        let reading = self.temperature_id(&node.find(R::name)?)?;
        let id = reading.value;
        match node.rule() {
            R::reach => {
                let way = match node.find(R::way)?.text() {
                    "cool" => Way::Cool,
                    _ => Way::Warm,
                };
                let from = optional(node.find(R::from_level).map(|from| {
                    let level = self.level(&from.find(R::value)?, id);
                    self.on_scale(level, id)
                }));
                let to = self.level(&node.find(R::value)?, id);
                let to = self.on_scale(to, id);
                let within = optional(
                    node.find(R::within)
                        .map(|within| self.change(&within.find(R::value)?, id, false)),
                );
                let rate = optional(node.find(R::at_rate).map(|rates| {
                    let values = rates.all(R::value);
                    let first = self.rate(values.first()?);
                    let second = optional(values.get(1).map(|value| self.rate(value)));
                    Some(RateRange {
                        first: first?,
                        second: second?,
                    })
                }));
                let (from, to) = (from?, to?);
                self.right_way(way, from.as_ref(), &to)?;
                Some(Aim::Reach {
                    way,
                    reading,
                    from,
                    to,
                    within: within?,
                    rate: rate?,
                })
            }
            R::hold => {
                let values = node.all(R::value);
                let at = self.level(values.first()?, id);
                let at = self.on_scale(at, id);
                let within = self.change(values.get(1)?, id, false);
                Some(Aim::Hold {
                    reading,
                    at: at?,
                    within: within?,
                })
            }
            _ => {
                let (low, high) = if let Some(range) = node.find(R::keep_range) {
                    let found = self.levels(&range, id)?;
                    (Some(found.low), Some(found.high))
                } else if let Some(low) = node.find(R::keep_low) {
                    (Some(self.level(&low.find(R::value)?, id)?), None)
                } else {
                    let high = node.find(R::keep_high)?;
                    (None, Some(self.level(&high.find(R::value)?, id)?))
                };
                let low = optional(low.map(|low| self.on_scale(Some(low), id)))?;
                let high = optional(high.map(|high| self.on_scale(Some(high), id)))?;
                Some(Aim::Keep { reading, low, high })
            }
        }
    }

    /// Cooling goes down, warming goes up.
    fn right_way(
        &mut self,
        way: Way,
        from: Option<&crate::quantity::Level>,
        to: &crate::quantity::Level,
    ) -> Option<()> {
        let from = match from {
            Some(from) => from,
            None => return Some(()),
        };
        let wrong = match way {
            Way::Cool => from.value <= to.value,
            Way::Warm => from.value >= to.value,
        };
        if !wrong {
            return Some(());
        }
        let (word, direction) = match way {
            Way::Cool => ("cool", "down"),
            Way::Warm => ("warm", "up"),
        };
        self.error(
            Diagnostic::error(
                "range-reversed",
                from.span.to(to.span),
                format!("`{word}` does not go {direction} from {from} to {to}"),
            )
            .why("the device would be set to the opposite of what is meant")
            .help("exchange the two values, or the word")
            .source("structural"),
        );
        None
    }

    fn end(&mut self, node: &Node<'t>) -> Option<End> {
        match node.rule() {
            R::lasts => Some(End::Lasts(self.duration(&node.find(R::value)?)?)),
            R::ends_after => {
                let after = self.duration(&node.find(R::value)?);
                let mark = self.mark_ref(&node.find(R::mark)?);
                Some(End::After {
                    after: after?,
                    mark: mark?,
                })
            }
            _ => {
                let trigger = if let Some(at) = node.find(R::ends_at) {
                    EndTrigger::Mark(self.mark_ref(&at.find(R::mark)?)?)
                } else {
                    EndTrigger::When(self.cond(&node.find(R::ends_when)?.find(R::cond)?)?)
                };
                let plan_node = node.find(R::plan_for)?;
                let values = plan_node.all(R::value);
                let first = self.duration(values.first()?)?;
                let last = optional(values.get(1).map(|value| self.duration(value)))?;
                let at_least = optional(
                    node.find(R::at_least_for)
                        .map(|least| self.duration(&least.find(R::value)?)),
                )?;
                let at_most = optional(
                    node.find(R::at_most_for)
                        .map(|most| self.duration(&most.find(R::value)?)),
                )?;
                self.ordered_plan(
                    &first,
                    last.as_ref(),
                    at_least.as_ref(),
                    at_most.as_ref(),
                    node,
                )?;
                Some(End::Awaited {
                    trigger,
                    plan: Planned { first, last },
                    at_least,
                    at_most,
                })
            }
        }
    }

    fn ordered_plan(
        &mut self,
        first: &Duration,
        last: Option<&Duration>,
        at_least: Option<&Duration>,
        at_most: Option<&Duration>,
        node: &Node<'t>,
    ) -> Option<()> {
        let last = last.unwrap_or(first);
        let ordered = first.value <= last.value
            && at_least.is_none_or(|least| least.value <= first.value)
            && at_most.is_none_or(|most| last.value <= most.value);
        if ordered {
            return Some(());
        }
        self.error(
            Diagnostic::error(
                "range-reversed",
                node.span(),
                "the planned length does not lie between `at least` and `at most`",
            )
            .why("the plan would print a time at which the phase cannot end")
            .help(
                "order them: at least, plan for, to, at most, each no shorter than the one before",
            )
            .source("structural"),
        );
        None
    }

    fn due(&mut self, node: &Node<'t>, line: &Node<'t>) -> Option<Due> {
        let within = self.duration(&node.find(R::value)?);
        let of = optional(node.find(R::mark).map(|mark| self.mark_ref(&mark)));
        Some(Due {
            within: within?,
            of: of?,
            reason: self.reason(line),
            span: node.span(),
        })
    }

    /// An end stands only where the aim is to hold or to keep, and always there.
    fn phase_end(
        &mut self,
        name: &Named,
        aim: &Aim,
        end: Option<(Option<End>, Reason, Span)>,
        broken: bool,
    ) -> Option<(End, Reason, Span)> {
        let reaches = matches!(aim, Aim::Reach { .. });
        match end {
            None if reaches => Some((End::Reached, Reason::default(), name.span)),
            None => {
                if !broken {
                    self.error(
                        Diagnostic::error(
                            "missing-statement",
                            name.span,
                            format!("the phase `{}` does not say when it ends", name.name),
                        )
                        .why("nobody could tell when the next phase begins")
                        .help("add `lasts 24 h`, `ends 72 h after MARK`, or `ends when COND, plan for D`")
                        .source("structural"),
                    );
                }
                None
            }
            Some((_, _, span)) if reaches => {
                self.error(
                    Diagnostic::error(
                        "misplaced-statement",
                        span,
                        format!("the phase `{}` ends by arriving, not by the clock", name.name),
                    )
                    .why("it would have two ends")
                    .help("take this line away; for a latest time write `due within`, and a rule for `is overdue`")
                    .source("structural"),
                );
                None
            }
            Some((end, reason, span)) => Some((end?, reason, span)),
        }
    }

    fn course_needs_rate(&mut self, aim: &Aim, steps: Option<&CourseSteps>) {
        if let Some(steps) = steps
            && !matches!(aim, Aim::Reach { rate: Some(_), .. })
        {
            self.error(
                Diagnostic::error(
                    "misplaced-statement",
                    steps.span,
                    "the target moves in steps, but no rate is planned",
                )
                .why("without a rate there is no course to move along")
                .help("add the rate to the aim: `warm core to 36.5 °C at 0.25 °C/h`")
                .source("structural"),
            );
        }
    }
}
