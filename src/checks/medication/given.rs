//! The ways in which a medication comes to be given, and how often.

use super::super::facts::{self, Origin};
use crate::model::*;
use crate::quantity::Exact;
use crate::source::Span;

/// One way in which a medication is given.
pub struct Way {
    /// `every 6 h`, `the rung 2 to 3 of …`
    pub words: String,
    pub span: Span,
    /// The least time between two doses of this way; `None` where it is given
    /// once, zero where nothing keeps two apart.
    pub apart: Option<Exact>,
    /// What is done instead when a dose cannot be given.
    pub has_otherwise: bool,
    pub raises: bool,
}

pub fn ways(protocol: &Protocol, medication: MedicationId) -> Vec<Way> {
    let mut ways = Vec::new();
    for look in &protocol.looks {
        if let (LookWhen::Every { interval, .. }, LookWhat::Give(given)) = (&look.when, &look.what)
            && given.value == medication
        {
            ways.push(Way {
                words: format!("every {interval}"),
                span: look.span,
                apart: Some(interval.value),
                has_otherwise: false,
                raises: false,
            });
        }
    }
    for order in facts::orders(protocol) {
        let (given, otherwise, raises) = match &order.action.order {
            Order::Give {
                medication,
                otherwise,
            } => (medication, otherwise, false),
            Order::RaiseRate {
                medication,
                otherwise,
            } => (medication, otherwise, true),
            _ => continue,
        };
        if given.value != medication {
            continue;
        }
        let name = order.name.map_or("", |name| name.name.as_str());
        let (words, apart) = match order.origin {
            Origin::Look => ("a statement with `at`".to_owned(), None),
            // A rule may fire again as soon as it is ready: nothing keeps two apart.
            Origin::Rule(_) => (format!("the rule `{name}`"), Some(Exact::ZERO)),
            Origin::Ladder(ladder, at) => (
                format!("the ladder `{name}`"),
                Some(ladder_apart(protocol, ladder, at)),
            ),
        };
        ways.push(Way {
            words,
            span: order.action.span,
            apart,
            has_otherwise: otherwise.is_some(),
            raises,
        });
    }
    ways
}

/// A rung is chosen anew by the first record from three quarters of `recheck` on
/// (M26); what is given once in a row of steps may be given anew after rest.
fn ladder_apart(protocol: &Protocol, ladder: LadderId, at: usize) -> Exact {
    let recheck = match &protocol[ladder].form {
        LadderForm::Rungs(rungs) => rungs.get(at).and_then(|rung| rung.recheck.as_ref()),
        LadderForm::Steps { steps, .. } => steps.get(at).and_then(|step| step.recheck.as_ref()),
    };
    recheck.map_or(Exact::ZERO, |recheck| recheck.value * Exact::ratio(3, 4))
}

/// How many doses can be begun within `window`, two of them at least `apart`:
/// one begun exactly `window` ago no longer counts (M28). `None` where nothing
/// keeps them apart.
pub fn doses_within(window: Exact, apart: Exact) -> Option<Exact> {
    (apart > Exact::ZERO).then(|| (window / apart).ceil())
}
