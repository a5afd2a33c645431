//! The body as two compartments, and the constants that it is made of.
//!
//! Every constant is a range, because the sources differ; what stands between its ends is
//! "likely". None is fitted to the cooling times that the forecast is compared with.
//!
//! | constant | value | source |
//! |---|---|---|
//! | specific heat | 2.98 to 3.47 kJ/kg/°C | tissue-weighted, Xu et al., Temperature 2022;10:235-239; customary value of handbooks |
//! | heat at rest at 37 °C | 46.5 W/m², give or take 10 % | handbooks, from memory, unconfirmed; at 34 °C it gives 68 W, where Taguchi et al., Anesthesiology 2004;100:1058-1064 found about 60 kcal/h (69.7 W) |
//! | its fall with cooling | 7 % for each °C, compound | Polderman, Crit Care Med 2009;37(7 Suppl):S186-202 (6 % to 10 %), from memory, unconfirmed |
//! | share of the core | 0.50 to 0.70 of the mass | trunk and head as in Matsukawa et al., Anesthesiology 1995;82:662-673; the share from memory, unconfirmed |
//! | conductance core to periphery | 9.5 to 22.8 W/°C at 1.81 m² | 5.28 W/m²/°C, and with 6.3 L/h/m² of blood through the skin: Gagge's two-node model, from memory, unconfirmed |
//! | loss to the room | 52.3 W at 1.81 m², core 34 °C | about 45 kcal/h before warming, Taguchi 2004; spread over the 12 °C from a periphery at 32 °C to a room at 20 °C |
//! | core above periphery at the start | 1 to 4 °C | assumption |
//! | heat made in the core | 0.8 of all | assumption |
//! | surface | Haycock et al. 1978 at 170 cm, or a height that goes with the weight | assumption |

use crate::model::words::Population;

/// A constant with the room that its sources leave.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    pub low: f64,
    pub likely: f64,
    pub high: f64,
}

impl Span {
    pub const fn new(low: f64, likely: f64, high: f64) -> Span {
        Span { low, likely, high }
    }
}

/// J/kg/°C
pub const SPECIFIC_HEAT: Span = Span::new(2980.0, 3225.0, 3470.0);
/// W/m² at 37 °C
pub const HEAT_AT_REST: Span = Span::new(41.85, 46.5, 51.15);
/// For each °C below 37.
pub const HEAT_LEFT_PER_DEGREE: f64 = 0.93;
pub const CORE_SHARE: Span = Span::new(0.50, 0.66, 0.70);
/// W/m²/°C
pub const CONDUCTANCE: Span = Span::new(5.28, 8.9, 12.6);
/// W/m²/°C, from the periphery to the room.
pub const LOSS: f64 = 52.3 / 1.81 / 12.0;
pub const ROOM: f64 = 20.0;
pub const GAP: Span = Span::new(1.0, 2.0, 4.0);
pub const HEAT_IN_CORE: f64 = 0.8;
/// The adult whose exchange powers were measured, m².
pub const MEASURED_ON: f64 = 1.81;

/// One choice of all constants, for one weight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Body {
    pub mass: f64,
    pub area: f64,
    pub specific_heat: f64,
    pub heat_at_rest: f64,
    pub core_share: f64,
    pub conductance: f64,
    pub gap: f64,
    /// How much more than at rest is made, 1 without shivering.
    pub shivering: f64,
}

impl Body {
    pub fn likely(mass: f64, population: Population) -> Body {
        Body {
            mass,
            area: area(mass, population),
            specific_heat: SPECIFIC_HEAT.likely,
            heat_at_rest: HEAT_AT_REST.likely,
            core_share: CORE_SHARE.likely,
            conductance: CONDUCTANCE.likely,
            gap: GAP.likely,
            shivering: 1.0,
        }
    }

    /// Every choice of the ends of the ranges.
    pub fn corners(mass: f64, population: Population) -> Vec<Body> {
        let ends = |span: Span| [span.low, span.high];
        let mut found = Vec::new();
        for specific_heat in ends(SPECIFIC_HEAT) {
            for heat_at_rest in ends(HEAT_AT_REST) {
                for core_share in ends(CORE_SHARE) {
                    for conductance in ends(CONDUCTANCE) {
                        for gap in ends(GAP) {
                            found.push(Body {
                                specific_heat,
                                heat_at_rest,
                                core_share,
                                conductance,
                                gap,
                                ..Body::likely(mass, population)
                            });
                        }
                    }
                }
            }
        }
        found
    }

    /// J/°C
    pub fn core_capacity(&self) -> f64 {
        self.mass * self.core_share * self.specific_heat
    }

    pub fn periphery_capacity(&self) -> f64 {
        self.mass * (1.0 - self.core_share) * self.specific_heat
    }

    /// W
    pub fn heat(&self, core: f64) -> f64 {
        self.heat_at_rest * self.area * self.shivering * HEAT_LEFT_PER_DEGREE.powf(37.0 - core)
    }

    pub fn loss(&self, periphery: f64) -> f64 {
        LOSS * self.area * (periphery - ROOM)
    }

    pub fn flow(&self, core: f64, periphery: f64) -> f64 {
        self.conductance * self.area * (core - periphery)
    }
}

/// Net power for a change of a body as a whole, W: mass × specific heat × rate.
pub fn power_for(mass: f64, specific_heat: f64, degrees_per_hour: f64) -> f64 {
    mass * specific_heat * degrees_per_hour / 3600.0
}

/// Haycock 1978, with the height that goes with the weight: 170 cm for an adult, and from
/// 50 cm at 3.5 kg on for the others.
pub fn area(mass: f64, population: Population) -> f64 {
    let height = match population {
        Population::Adult => 170.0,
        Population::Child | Population::Newborn => 50.0 * (mass / 3.5).powf(0.4085),
    };
    haycock(height, mass)
}

pub fn haycock(height: f64, mass: f64) -> f64 {
    0.024265 * height.powf(0.3964) * mass.powf(0.5378)
}

/// The temperature after fluid has been mixed with a body, without any other exchange.
pub fn mixed(mass: f64, specific_heat: f64, body: f64, litres: f64, fluid: f64) -> f64 {
    let (held, added) = (mass * specific_heat, litres * WATER);
    (held * body + added * fluid) / (held + added)
}

/// J/kg/°C of water, and of crystalloid fluid.
pub const WATER: f64 = 4180.0;
