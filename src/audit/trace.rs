//! The course of a reading, small enough to draw however many records there are.
//!
//! Up to [`MOST`] points are kept as they are. Then each run of neighbours becomes its
//! lowest and its highest, so that no peak is lost, and so on again. A stretch in which
//! the reading was unknown breaks the line.

use crate::quantity::Exact;

const MOST: usize = 4096;

/// Minutes from the start and the value; `broken` where no line leads to it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Point {
    pub at: Exact,
    pub value: Exact,
    pub broken: bool,
}

#[derive(Debug, Clone, Default)]
pub struct Trace {
    points: Vec<Point>,
    /// How many records go into one pair of points; 0 while all are kept.
    group: usize,
    waiting: Vec<Point>,
}

impl Trace {
    pub fn add(&mut self, point: Point) {
        if self.group == 0 {
            self.points.push(point);
        } else {
            if point.broken {
                self.close();
            }
            self.waiting.push(point);
            if self.waiting.len() >= self.group {
                self.close();
            }
        }
        if self.points.len() > MOST {
            self.halve();
        }
    }

    pub fn points(mut self) -> Vec<Point> {
        self.close();
        self.points
    }

    fn close(&mut self) {
        let waiting = std::mem::take(&mut self.waiting);
        extremes(&waiting, &mut self.points);
    }

    fn halve(&mut self) {
        let points = std::mem::take(&mut self.points);
        let mut run: Vec<Point> = Vec::new();
        for point in points {
            if run.len() == 4 || (point.broken && !run.is_empty()) {
                extremes(&run, &mut self.points);
                run.clear();
            }
            run.push(point);
        }
        extremes(&run, &mut self.points);
        // Many gaps: then the line is broken into points that cannot be joined, and the
        // shortest pieces are drawn as joined rather than left out.
        if self.points.len() > MOST / 4 * 3 {
            for point in self.points.iter_mut().step_by(2) {
                point.broken = false;
            }
        }
        self.group = (self.group * 2).max(4);
    }
}

/// The lowest and the highest of a run, in order of time.
fn extremes(run: &[Point], into: &mut Vec<Point>) {
    let broken = run.first().is_some_and(|first| first.broken);
    let low = run.iter().min_by_key(|point| point.value);
    let high = run.iter().max_by_key(|point| point.value);
    let (Some(low), Some(high)) = (low, high) else {
        return;
    };
    let mut pair = [*low, *high];
    pair.sort_by_key(|point| point.at);
    let [first, second] = pair;
    into.push(Point { broken, ..first });
    if second.at != first.at {
        into.push(Point {
            broken: false,
            ..second
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_peak_is_lost_and_the_size_is_bounded() {
        let mut trace = Trace::default();
        for minute in 0..100_000i64 {
            let value = if minute == 77_777 {
                40
            } else {
                33 + minute % 2
            };
            trace.add(Point {
                at: Exact::int(minute),
                value: Exact::int(value),
                broken: minute % 1000 == 0,
            });
        }
        let points = trace.points();
        assert!(points.len() <= MOST + 2, "{}", points.len());
        assert!(points.is_sorted_by_key(|point| point.at));
        assert!(points.iter().any(|point| point.value == Exact::int(40)));
        assert_eq!(points.iter().filter(|point| point.broken).count(), 100);
    }
}
