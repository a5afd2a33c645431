//! How long skin bears contact with something warm.
//!
//! Moritz and Henriques' data, regression in PLoS ONE 2021, doi
//! 10.1371/journal.pone.0254790: injury after exp(116.4 - 28.3 ln T) seconds,
//! safety line exp(113.4 - 28.3 ln T), T in °C; natural logarithms (ours: with
//! them 45 °C gives the 290 s of the figure). Exponentials are no exact numbers,
//! so the whole seconds below were worked out once, with 40 digits, and rounded
//! down. The data begin at about 43 °C; below that the lines are not drawn out.

use crate::quantity::Exact;

/// Lowest temperature of the table, in tenths of °C.
const FROM: i64 = 430;

/// Seconds to injury and seconds to the safety line, from 43.0 °C in steps of 0.1 °C.
#[rustfmt::skip]
const SECONDS: &[(u32, u32)] = &[
    (21121, 1051), (19777, 984), (18521, 922), (17348, 863), (16252, 809), (15227, 758),
    (14269, 710), (13373, 665), (12536, 624), (11752, 585), (11019, 548), (10333, 514), (9692, 482),
    (9091, 452), (8529, 424), (8003, 398), (7511, 373), (7049, 350), (6617, 329), (6213, 309),
    (5833, 290), (5478, 272), (5145, 256), (4833, 240), (4541, 226), (4267, 212), (4010, 199),
    (3769, 187), (3543, 176), (3331, 165), (3132, 155), (2945, 146), (2770, 137), (2605, 129),
    (2451, 122), (2306, 114), (2170, 108), (2042, 101), (1922, 95), (1810, 90), (1704, 84),
    (1604, 79), (1511, 75), (1423, 70), (1340, 66), (1263, 62), (1190, 59), (1121, 55), (1056, 52),
    (996, 49), (939, 46), (885, 44), (834, 41), (787, 39), (742, 36), (700, 34), (660, 32),
    (623, 31), (588, 29), (555, 27), (523, 26), (494, 24), (466, 23), (440, 21), (416, 20),
    (393, 19), (371, 18), (350, 17), (331, 16), (313, 15), (295, 14), (279, 13), (264, 13),
    (249, 12), (236, 11), (223, 11), (211, 10), (199, 9), (188, 9), (178, 8), (168, 8), (159, 7),
    (151, 7), (143, 7), (135, 6), (128, 6), (121, 6), (114, 5), (108, 5), (102, 5), (97, 4),
    (92, 4), (87, 4), (82, 4), (78, 3), (74, 3), (70, 3), (66, 3), (63, 3), (59, 2), (56, 2),
    (53, 2), (51, 2), (48, 2), (45, 2), (43, 2), (41, 2), (39, 1), (37, 1), (35, 1), (33, 1),
    (31, 1), (30, 1), (28, 1), (27, 1), (25, 1), (24, 1), (23, 1), (22, 1), (20, 1), (19, 0),
    (18, 0), (17, 0), (17, 0), (16, 0), (15, 0), (14, 0), (13, 0), (13, 0), (12, 0), (11, 0),
    (11, 0), (10, 0), (10, 0), (9, 0), (9, 0), (8, 0), (8, 0), (8, 0), (7, 0), (7, 0), (6, 0),
    (6, 0), (6, 0), (5, 0), (5, 0), (5, 0), (5, 0), (4, 0), (4, 0), (4, 0), (4, 0), (4, 0), (3, 0),
    (3, 0), (3, 0), (3, 0), (3, 0), (3, 0), (2, 0), (2, 0), (2, 0), (2, 0), (2, 0), (2, 0), (2, 0),
    (2, 0), (1, 0), (1, 0), (1, 0), (1, 0),
];

/// Minutes to injury and to the safety line at that temperature; `None` below the
/// table. Between two steps and above the table the hotter one counts.
pub fn at(celsius: Exact) -> Option<(Exact, Exact)> {
    let tenths = (celsius * Exact::int(10)).ceil().to_i64_floor()?;
    let index = usize::try_from(tenths - FROM).ok()?;
    let (injury, safety) = SECONDS.get(index).or(SECONDS.last())?;
    let minutes = |seconds: u32| Exact::ratio(i64::from(seconds), 60);
    Some((minutes(*injury), minutes(*safety)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn minutes(text: &str) -> (Exact, Exact) {
        at(Exact::parse(text).expect("a number")).expect("in the table")
    }

    /// The values that the source's figure and text print.
    #[test]
    fn published_values_are_met() {
        // 43 °C 5.9 h, 44 °C 3.1 h, 47 °C 0.47 h, 50 °C 296 s to injury.
        let hours = |text: &str| minutes(text).0 / Exact::int(60);
        let near = |hours: Exact, text: &str, by: (i64, i64)| {
            (hours - Exact::parse(text).expect("a number")).abs() <= Exact::ratio(by.0, by.1)
        };
        assert!(near(hours("43"), "5.9", (1, 20)));
        assert!(near(hours("44"), "3.1", (1, 20)));
        assert!(near(hours("47"), "0.47", (1, 200)));
        // The source rounds to 296 s; rounded down it is 295 s.
        assert_eq!(minutes("50").0, Exact::ratio(295, 60));
        // 45 °C: 300 s is the last point of the safety line, and it gives 290 s.
        assert_eq!(minutes("45").1, Exact::ratio(290, 60));
    }

    #[test]
    fn between_two_steps_the_hotter_counts() {
        assert_eq!(minutes("44.95"), minutes("45"));
        assert_eq!(at(Exact::parse("42.9").expect("a number")), None);
        assert_eq!(minutes("75"), minutes("60"));
    }
}
