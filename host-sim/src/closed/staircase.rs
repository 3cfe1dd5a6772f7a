//! The person of a step test: lets the mill run empty for a while, then sets the feeder by hand, faster step by step, until the feed
//! stops by itself. What is set is noted in the trace, as a person would note it: `run: feeder_pct=40`.

use std::collections::VecDeque;

use shaftwork_core::FeedMode;

/// Speeds one after the other, each held for so long; the empty mill comes first.
#[derive(Debug, Clone, PartialEq)]
pub struct Staircase {
    /// Permille of full speed.
    speeds: Vec<u16>,
    hold_s: f64,
    place: Place,
    /// Since the place was reached, s.
    since_s: f64,
    notes: VecDeque<String>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Place {
    /// The mill does not run yet.
    Before,
    /// It runs empty.
    Empty,
    /// On this step.
    Step(usize),
    /// All steps are done, or the feed stopped by itself.
    Over,
}

/// What the core shows of mill and feed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shown {
    /// The mill runs.
    pub runs: bool,
    /// The feed is let through.
    pub feeds: bool,
}

impl Staircase {
    /// Of speeds in per cent.
    pub fn new(speeds_pct: &[f64], hold_s: f64) -> Self {
        let speeds = speeds_pct.iter().map(|pct| (pct * 10.0).round() as u16).collect();
        Self { speeds, hold_s, place: Place::Before, since_s: 0.0, notes: VecDeque::new() }
    }

    /// How long it takes once the mill runs, s.
    pub fn length_s(&self) -> f64 {
        self.hold_s * (self.speeds.len() as f64 + 1.0)
    }

    /// Some time, and what the core shows at its end.
    pub fn pass(&mut self, length_s: f64, shown: Shown) {
        self.since_s += length_s;
        match self.place {
            Place::Before if shown.runs => self.go(Place::Empty),
            Place::Empty if shown.feeds => self.go(Place::Step(0)),
            Place::Step(_) if !shown.feeds || !shown.runs => self.go(Place::Over),
            Place::Step(at) if self.since_s >= self.hold_s => {
                let next = at + 1;
                self.go(if next < self.speeds.len() { Place::Step(next) } else { Place::Over });
            }
            _ => {}
        }
    }

    fn go(&mut self, place: Place) {
        let speed = |at: usize| self.speeds.get(at).copied().unwrap_or(0);
        let pct = |permille: u16| f64::from(permille) / 10.0;
        self.notes.extend(match place {
            Place::Before => None,
            Place::Empty => Some("run: feeder_pct=0".to_owned()),
            Place::Step(at) => Some(format!("run: feeder_pct={}", pct(speed(at)))),
            Place::Over => Some("run end".to_owned()),
        });
        (self.place, self.since_s) = (place, 0.0);
    }

    /// What the knob is set to.
    pub fn mode(&self) -> FeedMode {
        let at = if let Place::Step(at) = self.place { at } else { 0 };
        FeedMode::Manual(self.speeds.get(at).copied().unwrap_or(0))
    }

    /// Whether the person releases the feed now.
    pub fn releases(&self) -> bool {
        self.place == Place::Empty && self.since_s >= self.hold_s
    }

    /// Whether the test is at its end.
    pub fn over(&self) -> bool {
        self.place == Place::Over
    }

    /// What is noted next.
    pub fn note(&mut self) -> Option<String> {
        self.notes.pop_front()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn passed(feeds_until: usize) -> (Vec<String>, usize) {
        let mut stairs = Staircase::new(&[20.0, 42.5], 3.0);
        let (mut notes, mut feeds) = (Vec::new(), false);
        for second in 0..20 {
            stairs.pass(1.0, Shown { runs: second >= 2, feeds });
            feeds = (feeds || stairs.releases()) && second < feeds_until;
            notes.extend(std::iter::from_fn(|| stairs.note()).map(|note| format!("{second} {note}")));
            if stairs.over() {
                return (notes, second);
            }
        }
        panic!("it never ends: {notes:?}")
    }

    #[test]
    fn the_empty_mill_then_step_by_step() {
        let wanted = ["2 run: feeder_pct=0", "6 run: feeder_pct=20", "9 run: feeder_pct=42.5", "12 run end"];
        assert_eq!(passed(100).0, wanted);
        let stairs = Staircase::new(&[20.0, 42.5], 3.0);
        assert_eq!((stairs.mode(), stairs.releases()), (FeedMode::Manual(200), false));
        assert!((stairs.length_s() - 9.0).abs() < 1e-12);
    }

    /// What the mill would not take is not fed any faster.
    #[test]
    fn it_ends_where_the_feed_stops() {
        let (notes, second) = passed(10);
        assert_eq!((notes.last().map(String::as_str), second), (Some("11 run end"), 11));
    }
}
