//! The heat balance of a body, half a minute after the other.
//!
//! ```text
//! core       heat made there − flow to the periphery ± exchange in the core
//! periphery  heat made there + flow from the core − loss to the room ± exchange at the skin
//! ```

use super::body::{Body, HEAT_IN_CORE, WATER};
use crate::model::Way;

/// Seconds.
const STEP: f64 = 30.0;
/// Beyond, "not reached" is said.
pub const LONGEST_HOURS: f64 = 72.0;

/// Cold or warm fluid into the core, all of it over that time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fluid {
    pub litres: f64,
    pub celsius: f64,
    pub minutes: f64,
}

/// What is done to the body; cooling powers are negative.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Treatment {
    pub core_watts: f64,
    pub periphery_watts: f64,
    pub fluid: Option<Fluid>,
    /// °C/h that the core may not go beyond.
    pub cap: Option<f64>,
}

/// The state of a body that runs on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct State {
    pub core: f64,
    pub periphery: f64,
    pub seconds: f64,
}

impl State {
    pub fn begin(body: &Body, core: f64) -> State {
        State {
            core,
            periphery: core - body.gap,
            seconds: 0.0,
        }
    }

    /// Half a minute on.
    pub fn step(&mut self, body: &Body, treatment: &Treatment) {
        let heat = body.heat(self.core);
        let flow = body.flow(self.core, self.periphery);
        let fluid = treatment
            .fluid
            .filter(|fluid| self.seconds < fluid.minutes * 60.0)
            .map_or(0.0, |fluid| {
                let per_second = fluid.litres / (fluid.minutes * 60.0);
                per_second * WATER * (fluid.celsius - self.core)
            });
        let core_watts = HEAT_IN_CORE * heat - flow + treatment.core_watts + fluid;
        let periphery_watts = (1.0 - HEAT_IN_CORE) * heat + flow - body.loss(self.periphery)
            + treatment.periphery_watts;
        let mut change = core_watts * STEP / body.core_capacity();
        if let Some(cap) = treatment.cap {
            let most = cap * STEP / 3600.0;
            change = change.clamp(-most, most);
        }
        self.core += change;
        self.periphery += periphery_watts * STEP / body.periphery_capacity();
        self.seconds += STEP;
    }
}

/// Hours until the core is there; `None` where it is not within [`LONGEST_HOURS`].
pub fn hours_to(body: &Body, treatment: &Treatment, way: Way, from: f64, to: f64) -> Option<f64> {
    let mut state = State::begin(body, from);
    let there = |core: f64| match way {
        Way::Cool => core <= to,
        Way::Warm => core >= to,
    };
    while !there(state.core) {
        if state.seconds >= LONGEST_HOURS * 3600.0 {
            return None;
        }
        state.step(body, treatment);
    }
    Some(state.seconds / 3600.0)
}
