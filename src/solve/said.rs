//! What a rule orders, ladders followed through (M26, M33).

use super::frame::Frame;
use super::question::Goal;
use crate::model::Goal as LadderGoal;
use crate::model::*;
use crate::quantity::Exact;

/// One order of a rule, and what the ladders' readings must be for it.
#[derive(Debug, Clone)]
pub struct Said<'p> {
    pub action: &'p Action,
    /// Two orders of one `give … otherwise …` are never both given.
    pub instead_of: Option<&'p Action>,
    /// Rungs and steps on the way to it.
    pub through: Vec<(LadderId, usize)>,
}

/// All orders of a rule.
pub fn said<'p>(protocol: &'p Protocol, rule: &'p Rule) -> Vec<Said<'p>> {
    let mut found = Vec::new();
    for action in &rule.then {
        follow(protocol, action, &mut Vec::new(), &mut found);
    }
    found
}

fn follow<'p>(
    protocol: &'p Protocol,
    action: &'p Action,
    through: &mut Vec<(LadderId, usize)>,
    found: &mut Vec<Said<'p>>,
) {
    let mut next = Some(action);
    while let Some(this) = next {
        found.push(Said {
            action: this,
            instead_of: (!std::ptr::eq(this, action)).then_some(action),
            through: through.clone(),
        });
        if let Order::FollowLadder(ladder) = &this.order
            && !through.iter().any(|(known, _)| *known == ladder.value)
        {
            let id = ladder.value;
            for (at, action) in protocol[id].actions() {
                through.push((id, at));
                follow(protocol, action, through, found);
                through.pop();
            }
        }
        next = crate::eval::same::otherwise(&this.order);
    }
}

/// What the reading of a ladder must be for that rung or step. Where nobody records
/// it in the phase it is asked for by the ladder itself, and can be anything.
pub fn rung_goals<'a>(
    protocol: &Protocol,
    frame: &Frame,
    (ladder, at): (LadderId, usize),
) -> Vec<Goal<'a>> {
    let ladder = &protocol[ladder];
    let reading = ladder.reading.value;
    if !frame
        .samples_of(reading)
        .iter()
        .any(|sample| sample.at >= frame.begins)
    {
        return Vec::new();
    }
    let is = |cmp: Cmp, value: Exact| Goal::Value {
        reading,
        cmp,
        value,
    };
    match &ladder.form {
        LadderForm::Rungs(rungs) => match rungs.get(at).map(|rung| &rung.band) {
            Some(RungBand::Values { low, high }) => vec![
                is(Cmp::AtOrAbove, low.value),
                is(Cmp::AtOrBelow, high.value),
            ],
            Some(RungBand::Compare { cmp, level }) => vec![is(*cmp, level.value)],
            None => Vec::new(),
        },
        LadderForm::Steps { goal, .. } => match goal {
            LadderGoal::Compare { cmp, level } => vec![is(opposite(*cmp), level.value)],
            LadderGoal::Is(_) => Vec::new(),
        },
    }
}

fn opposite(cmp: Cmp) -> Cmp {
    match cmp {
        Cmp::Below => Cmp::AtOrAbove,
        Cmp::Above => Cmp::AtOrBelow,
        Cmp::AtOrBelow => Cmp::Above,
        Cmp::AtOrAbove => Cmp::Below,
    }
}
