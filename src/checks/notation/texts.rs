//! Every text that is printed, and the thing that it belongs to.
//!
//! Citations, paths, the name of the time zone and fingerprints are left out:
//! they are not for the bedside. So are scenarios and comments: never printed.

use crate::model::*;
use std::collections::BTreeSet;

pub struct Printed<'a> {
    pub text: &'a Text,
    /// The name of what it belongs to.
    pub about: Option<&'a str>,
}

pub fn printed(protocol: &Protocol) -> Vec<Printed<'_>> {
    let mut gather = Gather::default();
    gather.head(protocol);
    for (_, reading) in protocol.readings() {
        gather.named(&reading.name, &reading.title, Some(&reading.reason));
    }
    for (_, phase) in protocol.phases() {
        let about = Some(phase.name.name.as_str());
        gather.text(&phase.title, about);
        gather.reason(&phase.aim_reason, about);
        gather.reason(&phase.end_reason, about);
        gather.reason(&phase.never_faster_reason, about);
        if let Some(due) = &phase.due {
            gather.reason(&due.reason, about);
        }
    }
    for look in &protocol.looks {
        gather.reason(&look.reason, None);
        match &look.what {
            LookWhat::Do { text, .. } => gather.text(text, None),
            LookWhat::Order(action) => gather.action(action, None),
            LookWhat::Ask { .. } | LookWhat::Give(_) => {}
        }
    }
    for (_, rule) in protocol.rules() {
        let about = Some(rule.name.name.as_str());
        gather.reason(&rule.reason, about);
        for action in &rule.then {
            gather.action(action, about);
        }
    }
    for (_, ladder) in protocol.ladders() {
        gather.ladder(ladder);
    }
    for (_, checklist) in protocol.checklists() {
        let about = Some(checklist.name.name.as_str());
        gather.text(&checklist.title, about);
        for step in &checklist.steps {
            gather.text(&step.text, about);
            gather.reason(&step.reason, about);
        }
    }
    for (_, medication) in protocol.medications() {
        gather.medication(medication);
    }
    for accept in &protocol.accepts {
        gather.text(&accept.because, Some(&accept.finding.name));
        gather.text(&accept.by, Some(&accept.finding.name));
    }
    for measure in &protocol.measures {
        gather.named(&measure.name, &measure.title, None);
    }
    gather.found
}

#[derive(Default)]
struct Gather<'a> {
    found: Vec<Printed<'a>>,
    /// A reason that several statements share is looked at once.
    seen: BTreeSet<crate::source::Span>,
}

impl<'a> Gather<'a> {
    fn text(&mut self, text: &'a Text, about: Option<&'a str>) {
        if self.seen.insert(text.span) {
            self.found.push(Printed { text, about });
        }
    }

    fn reason(&mut self, reason: &'a Reason, about: Option<&'a str>) {
        if let Some(because) = &reason.because {
            self.text(because, about);
        }
    }

    fn named(&mut self, name: &'a Named, title: &'a Text, reason: Option<&'a Reason>) {
        self.text(title, Some(&name.name));
        if let Some(reason) = reason {
            self.reason(reason, Some(&name.name));
        }
    }

    fn head(&mut self, protocol: &'a Protocol) {
        self.text(&protocol.head.title, None);
        self.text(&protocol.head.unit, None);
        self.reason(&protocol.head.patients.reason, None);
        if let Some(start) = &protocol.head.start_within {
            self.reason(&start.reason, None);
        }
        for used in &protocol.lets {
            self.reason(&used.reason, Some(&used.name.name));
        }
        for (_, role) in protocol.roles() {
            self.named(&role.name, &role.title, None);
        }
        for (_, mark) in protocol.marks() {
            self.named(&mark.name, &mark.title, None);
        }
        for criterion in &protocol.criteria {
            self.text(&criterion.text, None);
            self.reason(&criterion.reason, None);
        }
        for limit in &protocol.limits {
            self.reason(&limit.reason, None);
        }
    }

    fn action(&mut self, action: &'a Action, about: Option<&'a str>) {
        for action in action.with_otherwise() {
            self.reason(&action.reason, about);
            if let Order::Do { text, .. } = &action.order {
                self.text(text, about);
            }
        }
    }

    fn ladder(&mut self, ladder: &'a Ladder) {
        let about = Some(ladder.name.name.as_str());
        self.text(&ladder.title, about);
        match &ladder.form {
            LadderForm::Rungs(rungs) => {
                for rung in rungs {
                    self.text(&rung.title, about);
                    self.reason(&rung.reason, about);
                }
            }
            LadderForm::Steps { steps, .. } => {
                for step in steps {
                    self.text(&step.title, about);
                    self.reason(&step.reason, about);
                }
            }
        }
        for (_, action) in ladder.actions() {
            self.action(action, about);
        }
    }

    fn medication(&mut self, medication: &'a Medication) {
        let about = Some(medication.name.name.as_str());
        self.text(&medication.title, about);
        for line in &medication.doses {
            self.reason(&line.reason, about);
        }
        if let Some(infusion) = &medication.infusion {
            self.reason(&infusion.reason, about);
        }
        if let Some(ceiling) = &medication.ceiling {
            self.reason(&ceiling.reason, about);
        }
        for (text, reason) in &medication.avoid {
            self.text(text, about);
            self.reason(reason, about);
        }
    }
}
