//! Citations, people, marks, readings, limits, looks, rules, ladders, checklists.

use super::head::optional;
use super::names::Kind;
use super::*;
use crate::quantity::{Exact, unit_named};

/// No scale that is scored at a bedside goes so far.
const HIGHEST_SCORE: i64 = 1000;

fn score_too_high(span: Span) -> Diagnostic {
    Diagnostic::error(
        "bad-number",
        span,
        format!("a score goes to {HIGHEST_SCORE} at most"),
    )
    .why("each of its values stands on the sheet as a number to choose")
    .help("write it as `score of shivering 0 to 3`, or as an `amount`, if it is measured")
    .source("structural")
}

impl<'t> Lowerer<'t> {
    pub(super) fn reading_id(&mut self, node: &Node<'t>) -> Option<At<ReadingId>> {
        let found = self.refer(Kind::Reading, node)?;
        Some(At::new(ReadingId(found.value), found.span))
    }

    pub(super) fn phase_id(&mut self, node: &Node<'t>) -> Option<At<PhaseId>> {
        let found = self.refer(Kind::Phase, node)?;
        Some(At::new(PhaseId(found.value), found.span))
    }

    /// A control reading: only temperatures are cooled, warmed, held or kept.
    pub(super) fn temperature_id(&mut self, node: &Node<'t>) -> Option<At<ReadingId>> {
        let found = self.reading_id(node)?;
        let reading = self.readings.get(found.value.index())?.as_ref()?;
        if !reading.kind.is_temperature() {
            let (name, span) = (reading.name.name.clone(), reading.name.span);
            self.error(
                Diagnostic::error(
                    "unit-mismatch",
                    found.span,
                    format!("`{name}` is no temperature"),
                )
                .also(span, "declared here")
                .why("only a temperature can be cooled, warmed, held or kept")
                .help("name the temperature reading that is controlled")
                .source("structural"),
            );
            return None;
        }
        Some(found)
    }

    pub(super) fn mark_ref(&mut self, node: &Node<'t>) -> Option<At<MarkRef>> {
        let name = node.find(R::name)?;
        if let Some(part) = node.find(R::mark_part) {
            let phase = self.phase_id(&name)?.value;
            let mark = match part.text() {
                "start" => MarkRef::PhaseStart(phase),
                _ => MarkRef::PhaseEnd(phase),
            };
            return Some(At::new(mark, node.span()));
        }
        if name.text() == "start" {
            return Some(At::new(MarkRef::Start, node.span()));
        }
        if self.names.kind_of(name.text()) == Some(Kind::Phase) {
            let text = name.text();
            self.error(
                Diagnostic::error(
                    "unknown-name",
                    name.span(),
                    format!("`{text}` is a phase, which has two moments"),
                )
                .why("a time counted from its start is not one counted from its end")
                .help(format!("write `{text}.start` or `{text}.end`"))
                .source("structural"),
            );
            return None;
        }
        let found = self.refer(Kind::Mark, &name)?;
        Some(At::new(MarkRef::Named(MarkId(found.value)), node.span()))
    }

    pub(super) fn during(&mut self, node: &Node<'t>) -> Option<Vec<At<PhaseId>>> {
        let Some(during) = node.find(R::during) else {
            return Some(Vec::new());
        };
        let names: Vec<Node<'t>> = during
            .all(R::names)
            .iter()
            .flat_map(|names| names.all(R::name))
            .collect();
        let phases: Vec<Option<At<PhaseId>>> =
            names.iter().map(|name| self.phase_id(name)).collect();
        phases.into_iter().collect()
    }

    pub(super) fn let_line(&mut self, node: &Node<'t>, line: &Node<'t>) -> Option<Let> {
        let value = node.find(R::value)?;
        // As every other quantity keeps it: one space, and the unit by its printed name.
        let written = match (value.find(R::number), value.find(R::unit)) {
            (Some(number), Some(unit)) => {
                let name = unit_named(unit.text()).map_or(unit.text(), |unit| unit.name);
                format!("{} {name}", number.text())
            }
            _ => value.text().to_owned(),
        };
        Some(Let {
            name: self.named(node)?,
            written,
            reason: self.reason(line),
            span: node.span(),
        })
    }

    pub(super) fn cite(&mut self, node: &Node<'t>) -> Option<Cite> {
        Some(Cite {
            name: self.named(node)?,
            text: self.text(node)?,
            span: node.span(),
        })
    }

    pub(super) fn mark_line(&mut self, node: &Node<'t>) -> Option<Mark> {
        Some(Mark {
            name: self.named(node)?,
            title: self.text(node)?,
            span: node.span(),
        })
    }

    pub(super) fn criterion(&mut self, node: &Node<'t>, line: &Node<'t>) -> Option<Criterion> {
        let kind = match node.find(R::criterion_kind)?.text() {
            "include" => CriterionKind::Include,
            "exclude" => CriterionKind::Exclude,
            _ => CriterionKind::Caution,
        };
        let reason = self.reason(line);
        Some(Criterion {
            kind,
            text: self.text(node)?,
            covers: self.covers(node),
            reason,
            span: node.span(),
        })
    }

    pub(super) fn role(&mut self, node: &Node<'t>) -> Option<Role> {
        let no_reply = node.find(R::no_reply).map(|clause| {
            let wait = self.duration(&clause.find(R::value)?);
            let next = self.refer(Kind::Role, &clause.find(R::name)?);
            Some((wait?, RoleId(next?.value)))
        });
        Some(Role {
            name: self.named(node)?,
            title: self.text(node)?,
            no_reply: optional(no_reply)?,
            span: node.span(),
        })
    }

    pub(super) fn limit(&mut self, node: &Node<'t>, line: &Node<'t>) -> Option<Limit> {
        let reading = self.reading_id(&node.find(R::name)?)?.value;
        let level = self.level(&node.find(R::value)?, reading);
        let level = self.on_scale(level, reading)?;
        Some(Limit {
            reading,
            side: side(&node.find(R::side)?),
            level,
            reason: self.reason(line),
            span: node.span(),
        })
    }

    pub(super) fn reading(&mut self, node: &Node<'t>, line: &Node<'t>) -> Option<Reading> {
        let name = self.named(node)?;
        let title = self.text(node);
        let kind = node.children().find_map(|child| match child.rule() {
            R::temperature_kind | R::score_kind | R::amount_kind | R::choice_kind => Some(child),
            _ => None,
        })?;
        let kind = self.kind(&kind)?;
        // The clauses take their unit from the kind, through the table.
        let mut reading = Reading {
            name,
            title: title?,
            kind,
            continuous: node.has(R::continuous),
            shown_to: None,
            accurate_to: None,
            reads: None,
            good_for: None,
            reason: self.reason(line),
            span: node.span(),
        };
        self.readings.push(Some(reading.clone()));
        let id = ReadingId(u32::try_from(self.readings.len() - 1).ok()?);
        let mut good = true;
        for clause in node.children() {
            let value = clause.find(R::value);
            match (clause.rule(), value) {
                (R::shown_to, Some(value)) => {
                    reading.shown_to = self.change(&value, id, false);
                    good &= reading.shown_to.is_some();
                }
                (R::accurate_to, Some(value)) => {
                    reading.accurate_to = self.change(&value, id, false);
                    good &= reading.accurate_to.is_some();
                }
                (R::reads, Some(_)) => {
                    reading.reads = self.levels(&clause, id);
                    good &= reading.reads.is_some();
                }
                (R::good_for, Some(value)) => {
                    reading.good_for = self.duration(&value);
                    good &= reading.good_for.is_some();
                }
                _ => {}
            }
        }
        self.readings.pop();
        self.enough(&reading);
        good.then_some(reading)
    }

    /// M4: temperatures and amounts need their display step, those of the body
    /// their accuracy, amounts their range.
    fn enough(&mut self, reading: &Reading) {
        let amount = matches!(reading.kind, ReadingKind::Amount { .. });
        let measured = amount || reading.kind.is_temperature();
        let mut missing = Vec::new();
        if measured && reading.shown_to.is_none() {
            missing.push((
                "shown to",
                "the step that the display shows, such as `shown to 0.1 °C`",
            ));
        }
        if reading.kind.is_body() && reading.accurate_to.is_none() {
            missing.push((
                "accurate to",
                "the thermometer's accuracy, such as `accurate to 0.2 °C`",
            ));
        }
        if amount && reading.reads.is_none() {
            missing.push((
                "reads",
                "the values that can be shown, such as `reads 1.0 mmol/L to 10.0 mmol/L`",
            ));
        }
        if let Some(step) = &reading.shown_to
            && reading.kind.is_temperature()
            && step.written.unit.starts_with("°F")
            && !(Exact::ratio(160, 9) / step.value).is_integer()
        {
            // Steps are counted from 0 °F, which has to be a step from 0 °C too.
            self.error(
                Diagnostic::error(
                    "reading-incomplete",
                    step.span,
                    format!(
                        "the reading `{}` is shown to {step}, which does not go into 32 °F a whole number of times",
                        reading.name.name
                    ),
                )
                .why("whether two rules can hold at one value is decided on the values that can be shown")
                .help("write the step of the display, such as `shown to 0.1 °F`")
                .source("structural"),
            );
        }
        for (word, help) in missing {
            self.error(
                Diagnostic::error(
                    "reading-incomplete",
                    reading.name.span,
                    format!("the reading `{}` does not say what it is `{word}`", reading.name.name),
                )
                .why("whether two rules can hold at one value is decided on the values that can be shown")
                .help(format!("add {help}"))
                .source("structural"),
            );
        }
    }

    fn kind(&mut self, node: &Node<'t>) -> Option<ReadingKind> {
        let of = node.find(R::of_what).and_then(|of| of.find(R::name));
        match node.rule() {
            R::temperature_kind => {
                if let Some(site) = node.find(R::body_site) {
                    return Some(ReadingKind::Body(self.fixed(&site.find(R::name)?)?));
                }
                let medium = node.find(R::medium)?.find(R::name)?;
                Some(ReadingKind::Medium(self.fixed(&medium)?))
            }
            R::score_kind => {
                let of = optional(of.map(|of| self.fixed(&of)))?;
                let counts: Vec<i64> = node
                    .all(R::count)
                    .iter()
                    .filter_map(|count| count.text().parse().ok())
                    .collect();
                match counts.as_slice() {
                    [low, high] if low < high && *high <= HIGHEST_SCORE => {
                        Some(ReadingKind::Score {
                            of,
                            low: *low,
                            high: *high,
                        })
                    }
                    // What has too many digits to be counted is missing here.
                    counts if counts.len() < 2 || counts.iter().any(|one| *one > HIGHEST_SCORE) => {
                        self.error(score_too_high(node.span()));
                        None
                    }
                    _ => {
                        self.error(
                            Diagnostic::error(
                                "range-reversed",
                                node.span(),
                                "a score must run from a lower to a higher whole number",
                            )
                            .why("no value lies in it")
                            .help("write it as `score of shivering 0 to 3`")
                            .source("structural"),
                        );
                        None
                    }
                }
            }
            R::amount_kind => {
                let of = optional(of.map(|of| self.fixed(&of)))?;
                let unit = optional(node.find(R::unit).map(|unit| self.unit(&unit)))?;
                Some(ReadingKind::Amount { of, unit })
            }
            _ => {
                let of = optional(of.map(|of| self.fixed(&of)))?;
                let words = node
                    .all(R::name)
                    .iter()
                    .map(|word| Named {
                        name: word.text().to_owned(),
                        span: word.span(),
                    })
                    .collect();
                Some(ReadingKind::Choice { of, words })
            }
        }
    }

    pub(super) fn ask(&mut self, node: &Node<'t>) -> Option<(AskWay, Vec<At<ReadingId>>)> {
        let way = match node.find(R::ask_way)?.text() {
            "score" => AskWay::Score,
            "test" => AskWay::Test,
            _ => AskWay::Record,
        };
        let names: Vec<Node<'t>> = node
            .all(R::names)
            .iter()
            .flat_map(|names| names.all(R::name))
            .collect();
        let readings: Vec<Option<At<ReadingId>>> =
            names.iter().map(|name| self.reading_id(name)).collect();
        Some((way, readings.into_iter().collect::<Option<_>>()?))
    }

    pub(super) fn every_line(&mut self, node: &Node<'t>, line: &Node<'t>) -> Option<Look> {
        let interval = self.interval(&node.find(R::value)?, "look");
        let during = self.during(node);
        let what = if let Some(give) = node.find(R::give_every) {
            let medication = self.refer(Kind::Medication, &give.find(R::name)?)?;
            Some(LookWhat::Give(At::new(
                MedicationId(medication.value),
                medication.span,
            )))
        } else if let Some(order) = node.find(R::do_order) {
            self.text(&order).map(|text| LookWhat::Do {
                text,
                covers: self.covers(&order),
            })
        } else {
            let ask = self.ask(&node.find(R::ask)?);
            let then_follow = node.find(R::name).map(|name| {
                let ladder = self.refer(Kind::Ladder, &name)?;
                Some(At::new(LadderId(ladder.value), ladder.span))
            });
            let (way, readings) = ask?;
            Some(LookWhat::Ask {
                way,
                readings,
                then_follow: optional(then_follow)?,
            })
        };
        Some(Look {
            when: LookWhen::Every {
                interval: interval?,
                during: during?,
            },
            what: what?,
            reason: self.reason(line),
            span: node.span(),
        })
    }

    pub(super) fn at_line(&mut self, node: &Node<'t>, line: &Node<'t>) -> Option<Look> {
        let when = node.first()?;
        let duration = when.find(R::value).map(|value| self.duration(&value));
        let duration = optional(duration)?;
        let when = match when.rule() {
            R::at_before => LookWhen::Before {
                before: duration?,
                phase: self.phase_id(&when.find(R::name)?)?,
            },
            _ => LookWhen::At {
                after: duration,
                mark: self.mark_ref(&when.find(R::mark)?)?,
            },
        };
        let what = if let Some(order) = node.find(R::order) {
            LookWhat::Order(self.action(&order, line)?)
        } else {
            let (way, readings) = self.ask(&node.find(R::ask)?)?;
            LookWhat::Ask {
                way,
                readings,
                then_follow: None,
            }
        };
        Some(Look {
            when,
            what,
            reason: self.reason(line),
            span: node.span(),
        })
    }

    pub(super) fn accept(&mut self, node: &Node<'t>) -> Option<Accept> {
        let names = node.all(R::name);
        let texts = node.all(R::text);
        let named = |name: &Node<'t>| Named {
            name: name.text().to_owned(),
            span: name.span(),
        };
        Some(Accept {
            finding: named(names.first()?),
            on: names.get(1).map(named),
            because: self.text(texts.first()?)?,
            by: self.text(texts.get(1)?)?,
            until: self.date(&node.find(R::date)?)?,
            span: node.span(),
        })
    }

    pub(super) fn measure(&mut self, node: &Node<'t>) -> Option<Measure> {
        let name = self.named(node)?;
        let title = self.text(node);
        let during = self.during(node);
        let what = if let Some(time) = node.find(R::measure_time) {
            let cond = self.cond(&time.find(R::cond)?)?;
            match time.find(R::measure_form)?.text() {
                "share" => MeasureWhat::Share(cond),
                _ => MeasureWhat::Length(cond),
            }
        } else {
            let area = node.find(R::measure_area)?;
            let reading = self.reading_id(&area.find(R::name)?)?.value;
            MeasureWhat::Area {
                reading,
                side: side(&area.find(R::side)?),
                level: self.level(&area.find(R::value)?, reading)?,
            }
        };
        let goal = match node.find(R::measure_goal) {
            Some(goal) => Some(self.measure_goal(&goal, &what)?),
            None => None,
        };
        Some(Measure {
            name,
            title: title?,
            what,
            during: during?,
            goal,
            span: node.span(),
        })
    }
}

pub(super) fn side(node: &Node<'_>) -> Side {
    match node.text() {
        "above" => Side::Above,
        _ => Side::Below,
    }
}
