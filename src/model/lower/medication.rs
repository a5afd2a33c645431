//! Medications: doses, infusions, ceilings; and checklists.

use super::head::optional;
use super::names::Kind;
use super::values::Raw;
use super::*;
use crate::quantity::{Base, Dimension, Exact};

#[derive(Default)]
struct Parts {
    class: Option<Option<At<words::DrugClass>>>,
    doses: Vec<Option<DoseLine>>,
    infusion: Option<Option<InfusionLine>>,
    concentration: Option<Option<Concentration>>,
    rounded_to: Option<Option<Rounding>>,
    ceiling: Option<Option<Ceiling>>,
    only_with: Vec<Option<At<MedicationId>>>,
    avoid: Vec<Option<(Text, Reason)>>,
}

impl<'t> Lowerer<'t> {
    pub(super) fn medication(
        &mut self,
        block: &TreeBlock<'t>,
        head: &Node<'t>,
    ) -> Option<Medication> {
        let name = self.named(head)?;
        let title = self.text(head);
        let mut parts = Parts::default();
        for line in &block.statements {
            if let Some(statement) = line.first() {
                self.medication_line(&statement, line, &mut parts);
            }
        }
        if parts.doses.is_empty() && parts.infusion.is_none() && !block.broken {
            self.needs(false, &name, "dose", "dose 2 g iv over 30 min");
        }
        let medication = Medication {
            name,
            title: title?,
            class: optional(parts.class)?,
            doses: whole(parts.doses)?,
            infusion: optional(parts.infusion)?,
            concentration: optional(parts.concentration)?,
            rounded_to: optional(parts.rounded_to)?,
            ceiling: optional(parts.ceiling)?,
            only_with: whole(parts.only_with)?,
            avoid: whole(parts.avoid)?,
            span: block.span,
        };
        self.one_base(&medication)?;
        Some(medication)
    }

    fn medication_line(&mut self, node: &Node<'t>, line: &Node<'t>, parts: &mut Parts) {
        let span = node.span();
        match node.rule() {
            R::class => {
                self.only_once(parts.class.is_some(), "class", span);
                parts.class = Some(node.find(R::name).and_then(|name| self.fixed(&name)));
            }
            R::dose => {
                let dose = self.dose_line(node, line);
                parts.doses.push(dose);
            }
            R::infuse => {
                self.only_once(parts.infusion.is_some(), "infuse", span);
                parts.infusion = Some(self.infusion(node, line));
            }
            R::concentration => {
                self.only_once(parts.concentration.is_some(), "concentration", span);
                parts.concentration = Some(self.concentration(node));
            }
            R::rounded_to => {
                self.only_once(parts.rounded_to.is_some(), "rounded to", span);
                parts.rounded_to = Some(self.rounding(node));
            }
            R::ceiling => {
                self.only_once(parts.ceiling.is_some(), "ceiling", span);
                parts.ceiling = Some(self.ceiling(node, line));
            }
            R::only_with => {
                for name in node
                    .all(R::names)
                    .iter()
                    .flat_map(|names| names.all(R::name))
                {
                    let found = self.refer(Kind::Medication, &name);
                    parts
                        .only_with
                        .push(found.map(|found| At::new(MedicationId(found.value), found.span)));
                }
            }
            R::avoid => {
                let text = self.text(node);
                let reason = self.reason(line);
                parts.avoid.push(text.map(|text| (text, reason)));
            }
            _ => {}
        }
    }

    fn raw_positive(&mut self, node: &Node<'t>, place: &'static str) -> Option<Raw> {
        let raw = self.raw(node, place)?;
        if raw.value <= Exact::ZERO {
            self.mismatch(
                &raw,
                &format!("{place} above zero"),
                "write the dose that is meant",
            );
            return None;
        }
        Some(raw)
    }

    fn dose_value(&mut self, node: &Node<'t>) -> Option<Dose> {
        let raw = self.raw_positive(node, "a dose")?;
        let per_kg = match raw.dimension() {
            Some(Dimension::Mass) if raw.written.unit != "kg" => false,
            Some(Dimension::Dose) => false,
            Some(Dimension::DosePerKg) => true,
            _ => {
                self.mismatch(
                    &raw,
                    "a dose",
                    "write it in g, mg, mcg, mmol, mL or units, or one of these /kg",
                );
                return None;
            }
        };
        Some(Dose {
            value: raw.scaled(),
            base: raw.unit.map_or(Base::None, |unit| unit.base),
            per_kg,
            written: raw.written,
            span: raw.span,
        })
    }

    fn dose_line(&mut self, node: &Node<'t>, line: &Node<'t>) -> Option<DoseLine> {
        let dose = self.dose_value(&node.find(R::value)?);
        let route = optional(
            node.find(R::route)
                .map(|route| self.fixed(&route.find(R::name)?)),
        );
        let over = optional(
            node.find(R::over)
                .map(|over| self.duration(&over.find(R::value)?)),
        );
        let at_most = optional(
            node.find(R::at_most_dose)
                .map(|most| self.dose_value(&most.find(R::value)?)),
        );
        let not_again = optional(
            node.find(R::not_again)
                .map(|again| self.duration(&again.find(R::value)?)),
        );
        let mut band = Vec::new();
        for part in node
            .all(R::band)
            .iter()
            .flat_map(|band| band.all(R::band_part))
        {
            let weight = part.find(R::value).and_then(|value| self.weight(&value));
            let way = part.find(R::cmp).map(|way| super::condition::cmp(&way));
            band.push(way.zip(weight).map(|(cmp, weight)| Band { cmp, weight }));
        }
        Some(DoseLine {
            dose: dose?,
            route: route?,
            over: over?,
            at_most: at_most?,
            not_again: not_again?,
            band: whole(band)?,
            reason: self.reason(line),
            span: node.span(),
        })
    }

    fn infusion_rate(&mut self, node: &Node<'t>) -> Option<InfusionRate> {
        let raw = self.raw_positive(node, "an infusion rate")?;
        let per_kg = match raw.dimension() {
            Some(Dimension::Infusion) => false,
            Some(Dimension::InfusionPerKg) => true,
            _ => {
                self.mismatch(
                    &raw,
                    "an infusion rate",
                    "write it in mg/h, mcg/kg/min, mL/h or the like",
                );
                return None;
            }
        };
        Some(InfusionRate {
            per_hour: raw.scaled(),
            base: raw.unit.map_or(Base::None, |unit| unit.base),
            per_kg,
            written: raw.written,
            span: raw.span,
        })
    }

    fn infusion(&mut self, node: &Node<'t>, line: &Node<'t>) -> Option<InfusionLine> {
        let first = self.infusion_rate(&node.find(R::value)?);
        let range = node.find(R::infuse_range);
        let values = range
            .as_ref()
            .map(|range| range.all(R::value))
            .unwrap_or_default();
        let top = optional(values.first().map(|value| self.infusion_rate(value)));
        let step = optional(values.get(1).map(|value| self.infusion_rate(value)));
        let step_every = optional(
            values
                .get(2)
                .map(|value| self.interval(value, "change a rate")),
        );
        let at_most = optional(
            node.find(R::infuse_limit)
                .map(|limit| self.duration(&limit.find(R::value)?)),
        );
        let (first, top, step) = (first?, top?, step?);
        for other in top.iter().chain(&step) {
            if other.per_kg != first.per_kg || other.base != first.base {
                self.error(
                    Diagnostic::error("unit-mismatch", other.span, "the rates of one infusion are of different kinds")
                        .also(first.span, "the first rate")
                        .why("a pump that is stepped from the one to the other would be wrong by the weight, or by more")
                        .help("write all rates of the infusion in one unit")
                        .source("structural"),
                );
                return None;
            }
        }
        if let Some(top) = top.as_ref().filter(|top| top.per_hour < first.per_hour) {
            self.error(
                Diagnostic::error(
                    "range-reversed",
                    top.span,
                    "an infusion runs from a higher to a lower rate",
                )
                .why("it begins at its first rate and is raised from there")
                .help("write the lower rate first")
                .source("structural"),
            );
            return None;
        }
        Some(InfusionLine {
            first,
            top,
            step,
            step_every: step_every?,
            at_most: at_most?,
            reason: self.reason(line),
            span: node.span(),
        })
    }

    fn concentration(&mut self, node: &Node<'t>) -> Option<Concentration> {
        let raw = self.raw_positive(&node.find(R::value)?, "a concentration")?;
        if raw.dimension() != Some(Dimension::Concentration) {
            self.mismatch(
                &raw,
                "a concentration",
                "write it in mg/mL, mcg/mL or the like",
            );
            return None;
        }
        Some(Concentration {
            per_ml: raw.scaled(),
            base: raw.unit.map_or(Base::None, |unit| unit.base),
            written: raw.written,
            span: raw.span,
        })
    }

    fn rounding(&mut self, node: &Node<'t>) -> Option<Rounding> {
        let raw = self.raw_positive(&node.find(R::value)?, "a step of rounding")?;
        let is_rate = match raw.dimension() {
            Some(Dimension::Mass | Dimension::Dose) if raw.written.unit != "kg" => false,
            Some(Dimension::Infusion) if raw.written.unit == "mL/h" => true,
            _ => {
                self.mismatch(
                    &raw,
                    "a dose, a volume or a pump rate",
                    "write it in mg, mL, mL/h or the like",
                );
                return None;
            }
        };
        Some(Rounding {
            value: raw.scaled(),
            base: raw.unit.map_or(Base::None, |unit| unit.base),
            is_rate,
            written: raw.written,
            span: raw.span,
        })
    }

    fn ceiling(&mut self, node: &Node<'t>, line: &Node<'t>) -> Option<Ceiling> {
        let values = node.all(R::value);
        let dose = self.dose_value(values.first()?);
        let per = self.duration(values.get(1)?);
        Some(Ceiling {
            dose: dose?,
            per: per?,
            reason: self.reason(line),
            span: node.span(),
        })
    }

    /// Doses, rates and the ceiling count one substance in one kind of unit; a
    /// volume is turned into it by the concentration.
    fn one_base(&mut self, medication: &Medication) -> Option<()> {
        let counted: Vec<(Base, Span)> = medication
            .doses
            .iter()
            .map(|line| (line.dose.base, line.dose.span))
            .chain(
                medication
                    .doses
                    .iter()
                    .filter_map(|line| line.at_most.as_ref())
                    .map(|dose| (dose.base, dose.span)),
            )
            .chain(
                medication
                    .infusion
                    .iter()
                    .map(|line| (line.first.base, line.first.span)),
            )
            .chain(
                medication
                    .ceiling
                    .iter()
                    .map(|ceiling| (ceiling.dose.base, ceiling.dose.span)),
            )
            .chain(
                medication
                    .concentration
                    .iter()
                    .map(|bag| (bag.base, bag.span)),
            )
            .filter(|(base, _)| *base != Base::Volume)
            .collect();
        // What is counted in mL alone needs nothing else.
        let Some(&(first, first_span)) = counted.first() else {
            return Some(());
        };
        if let Some((_, other)) = counted.iter().find(|(base, _)| *base != first) {
            self.error(
                Diagnostic::error(
                    "unit-mismatch",
                    *other,
                    format!("`{}` is counted in two kinds of unit", medication.name.name),
                )
                .also(first_span, "first counted here")
                .why("whether a ceiling is passed could not be worked out")
                .help("write doses, rates, concentration and ceiling all by mass, all in mmol or all in units")
                .source("structural"),
            );
            return None;
        }
        Some(())
    }

    pub(super) fn checklist(
        &mut self,
        block: &TreeBlock<'t>,
        head: &Node<'t>,
    ) -> Option<Checklist> {
        let name = self.named(head)?;
        let names = head.all(R::name);
        let title = self.text(head);
        let at = self.fixed(names.get(1)?);
        if block.statements.is_empty() && !block.broken {
            self.needs(false, &name, "step", "step \"Check the flow\", covers flow");
        }
        let steps: Vec<Option<CheckStep>> = block
            .statements
            .iter()
            .map(|line| self.check_step(line))
            .collect();
        Some(Checklist {
            name,
            title: title?,
            at: at?,
            steps: whole(steps)?,
            span: block.span,
        })
    }

    fn check_step(&mut self, line: &Node<'t>) -> Option<CheckStep> {
        let node = line.first()?;
        let text = self.text(&node);
        let record = optional(node.find(R::record_field).map(|field| {
            let name = self.named(&field)?;
            let unit = match field.find(R::unit) {
                None => String::new(),
                Some(unit) => self.unit(&unit)?.name.to_owned(),
            };
            Some((name, unit))
        }));
        let covers = self.covers(&node);
        let reason = self.reason(line);
        Some(CheckStep {
            text: text?,
            record: record?,
            two_people: node.has(R::two_people),
            covers,
            reason,
            span: node.span(),
        })
    }
}
