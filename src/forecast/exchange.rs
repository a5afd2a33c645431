//! What the classes of method can move, and how fast they were seen to be.
//!
//! Powers are those that were measured or that follow from a measured coefficient, in W for
//! an adult of 1.81 m²; a smaller patient has them by surface. They are never made from the
//! rates below: those stand beside, as a second opinion.

use super::body::Span;
use crate::model::Way;
use crate::model::words::Means;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Site {
    Core,
    Periphery,
}

/// Heat taken from the patient or given to them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Exchange {
    pub site: Site,
    pub watts: Span,
    pub source: &'static str,
}

/// A rate of the core that was published for a class, °C/h.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Published {
    pub low: f64,
    pub mean: f64,
    pub high: f64,
    pub source: &'static str,
}

const KALASBAIL: &str = "Kalasbail et al., Anesth Analg 2018;126:1190-1195";
const TAGUCHI: &str = "Taguchi et al., Anesthesiology 2004;100:1058-1064";
const ENGLISH: &str = "coefficient 109.8 W/m²/°C of English and Hemmerling, Eur J Anaesthesiol 2008;25:531-537, over 0.7 m² at an assumed 1 to 2 °C from skin to water";
const IMMERSED: &str = "coefficient 107.1 W/m²/°C of English and Hemmerling, Eur J Anaesthesiol 2008;25:531-537, over 85 % of the surface at an assumed 3 to 12 °C from skin to water";
const HOEDEMAEKERS: &str = "Hoedemaekers et al., Crit Care 2007;11:R91";
const TTH48: &str = "De Fazio et al., Crit Care 2019;23:61, whole time to target";
const SINCLAIR: &str =
    "Sinclair et al., Med Sci Sports Exerc 2009;41:1984-1990, first 20 min, overheated volunteers";

/// `None` where no power was found that could be cited.
pub fn exchange(means: Means, way: Way) -> Option<Exchange> {
    let (site, watts, source) = match (means, way) {
        (Means::Esophageal, Way::Cool) => (Site::Core, Span::new(48.0, 53.0, 59.0), KALASBAIL),
        (Means::Esophageal, Way::Warm) => (Site::Core, Span::new(16.0, 18.0, 20.0), KALASBAIL),
        (Means::Intravascular, _) => (
            Site::Core,
            Span::new(100.0, 125.0, 150.0),
            "from memory, unconfirmed; more than 53 W by Kalasbail et al. 2018",
        ),
        (Means::Surface, Way::Cool) => (Site::Periphery, Span::new(76.9, 115.3, 153.7), ENGLISH),
        (Means::Surface, Way::Warm) => (Site::Periphery, Span::new(75.5, 87.7, 99.9), TAGUCHI),
        (Means::ForcedAir, Way::Warm) => (
            Site::Periphery,
            Span::new(75.5, 77.8, 80.0),
            "Taguchi et al. 2004; about 80 W quoted by Kalasbail et al. 2018",
        ),
        (Means::Immersion, Way::Cool) => {
            (Site::Periphery, Span::new(494.0, 1236.0, 1977.0), IMMERSED)
        }
        (Means::Passive, _) => (Site::Periphery, Span::new(0.0, 0.0, 0.0), "none"),
        _ => return None,
    };
    Some(Exchange {
        site,
        watts,
        source,
    })
}

/// Every rate that was published for the class; two studies of one class need not agree,
/// since one gives the steepest part and the other the whole way.
pub fn published(means: Means, way: Way) -> &'static [Published] {
    const fn seen(mean: f64, spread: f64, source: &'static str) -> Published {
        Published {
            low: if mean > spread { mean - spread } else { 0.0 },
            mean,
            high: mean + spread,
            source,
        }
    }
    match (means, way) {
        (Means::Esophageal, Way::Cool) => {
            const {
                &[
                    seen(0.9, 0.9, KALASBAIL),
                    seen(1.12, 0.62, "Am J Emerg Med 2016, with cold saline"),
                ]
            }
        }
        (Means::Esophageal, Way::Warm) => const { &[seen(0.5, 0.6, KALASBAIL)] },
        (Means::Surface, Way::Cool) => {
            const {
                &[
                    seen(1.33, 0.63, HOEDEMAEKERS),
                    seen(1.04, 0.14, HOEDEMAEKERS),
                    seen(0.4, 0.2, TTH48),
                ]
            }
        }
        (Means::Intravascular, Way::Cool) => {
            const { &[seen(1.46, 0.42, HOEDEMAEKERS), seen(0.4, 0.4, TTH48)] }
        }
        (Means::ForcedAir, Way::Cool) => const { &[seen(0.18, 0.2, HOEDEMAEKERS)] },
        (Means::IcePacks, Way::Cool) => {
            const { &[seen(0.31, 0.23, HOEDEMAEKERS), seen(4.2, 0.0, SINCLAIR)] }
        }
        (Means::ColdFluids, Way::Cool) => {
            const { &[seen(0.31, 0.23, HOEDEMAEKERS), seen(4.8, 0.0, SINCLAIR)] }
        }
        (Means::Evaporative, Way::Cool) => const { &[seen(5.4, 0.0, SINCLAIR)] },
        (Means::Immersion, Way::Cool) => {
            const {
                &[seen(
                    13.2,
                    6.6,
                    "DeMartini et al., Med Sci Sports Exerc 2015;47:240-245, heat stroke",
                )]
            }
        }
        _ => &[],
    }
}
