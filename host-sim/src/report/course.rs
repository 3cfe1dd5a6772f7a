//! The load over time in bounded memory, and its picture in two lines of characters.
//!
//! Time is cut into slots of equal length; when a trace is longer than all of them, two become one and the
//! length doubles. Each slot keeps the mean and the highest, so that a peak never vanishes.

use shaftwork_core::judge::report::Interval;

use super::number::{frames_s, pct};

/// Slots at most; a picture has a tenth of the columns at most.
const SLOTS: usize = 1_024;
/// Length of a slot at first, s: half an interval.
const FIRST_S: f64 = 0.1;
/// Nothing to full, in eighths.
const BLOCKS: [char; 9] = [' ', '▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];
/// The same where the locale has no block characters.
const ASCII: [char; 9] = [' ', '.', ':', '-', '=', '+', '*', '#', '@'];
/// What a full block may stand for, % of rated: each eighth is a round figure.
const SCALES_PCT: [f64; 3] = [80.0, 120.0, 160.0];
/// Where nothing is known.
const UNKNOWN: char = '?';

/// What is known of a slot.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
struct Slot {
    time_s: f64,
    /// Load times time, % s.
    sum: f64,
    highest: f64,
}

impl Slot {
    fn join(self, other: Self) -> Self {
        let highest = match (self.time_s > 0.0, other.time_s > 0.0) {
            (true, true) => self.highest.max(other.highest),
            (false, _) => other.highest,
            (true, false) => self.highest,
        };
        Self { time_s: self.time_s + other.time_s, sum: self.sum + other.sum, highest }
    }
}

/// The load over time.
#[derive(Debug, Clone)]
pub struct Course {
    slot_s: f64,
    slots: Vec<Slot>,
    /// End of the last interval, s.
    end_s: f64,
}

impl Default for Course {
    fn default() -> Self {
        Self { slot_s: FIRST_S, slots: Vec::new(), end_s: 0.0 }
    }
}

/// A picture: a character a column.
#[derive(Debug, Clone, PartialEq)]
pub struct Picture {
    /// The highest load in each column.
    pub highest: String,
    /// The mean load in each column.
    pub mean: String,
    /// What a full block stands for, % of rated, or more.
    pub full_pct: f64,
    /// Time of a column, s.
    pub column_s: f64,
}

impl Course {
    /// Takes an interval, at a rate in Hz.
    pub fn interval(&mut self, interval: &Interval, rate_hz: f64) {
        let end_s = frames_s(interval.window.end.0, rate_hz);
        self.take(end_s - frames_s(interval.window.length.0, rate_hz), end_s, pct(interval.load));
    }

    fn take(&mut self, from_s: f64, to_s: f64, load_pct: f64) {
        while to_s > self.slot_s * SLOTS as f64 {
            self.slots = self.slots.chunks(2).map(|two| two.iter().fold(Slot::default(), |a, b| a.join(*b))).collect();
            self.slot_s *= 2.0;
        }
        self.end_s = to_s;
        let mut at_s = from_s.max(0.0);
        // A sliver shorter than a microsecond is the rounding of a boundary.
        while to_s - at_s > 1e-6 {
            let slot = ((at_s + 1e-6) / self.slot_s) as usize;
            let until_s = to_s.min((slot + 1) as f64 * self.slot_s);
            if slot >= self.slots.len() {
                self.slots.resize(slot + 1, Slot::default());
            }
            let time_s = until_s - at_s;
            self.slots[slot] = self.slots[slot].join(Slot { time_s, sum: load_pct * time_s, highest: load_pct });
            at_s = until_s;
        }
    }

    /// The picture of a trace of this length in so many columns at most; `None` where a few figures say it all.
    pub fn picture(&self, duration_s: f64, columns: usize, blocks: bool) -> Option<Picture> {
        const LEAST: usize = 8;
        // What is left of a trace after its last whole interval is no column of its own.
        let duration_s = if duration_s - self.end_s < 3.0 * FIRST_S { self.end_s } else { duration_s };
        // A column is as long as an interval at least.
        let columns = columns.min((duration_s / (2.0 * FIRST_S)) as usize);
        if columns < LEAST {
            return None;
        }
        let column_s = duration_s / columns as f64;
        let mut drawn = vec![Slot::default(); columns];
        for (slot, known) in self.slots.iter().enumerate() {
            // A slot belongs where its middle lies.
            let column = ((slot as f64 + 0.5) * self.slot_s / column_s) as usize;
            let column = &mut drawn[column.min(columns - 1)];
            *column = column.join(*known);
        }
        let highest = drawn.iter().map(|slot| slot.highest).fold(0.0, f64::max);
        let [.., most] = SCALES_PCT;
        let full_pct = SCALES_PCT.into_iter().find(|full| highest <= *full).unwrap_or(most);
        let set = if blocks { BLOCKS } else { ASCII };
        let draw = |load: fn(&Slot) -> f64| {
            let level = |slot: &Slot| match load(slot) {
                _ if slot.time_s <= 0.0 => UNKNOWN,
                // Whatever is more than nothing can be seen.
                x if x > 1.0 => set[((x / full_pct * 8.0).round() as usize).clamp(1, 8)],
                _ => set[0],
            };
            drawn.iter().map(level).collect()
        };
        let mean = draw(|slot| slot.sum / slot.time_s);
        Some(Picture { highest: draw(|slot| slot.highest), mean, full_pct, column_s })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// So many seconds of a load by its time, in intervals of 0.2 s.
    fn of(seconds: u32, load: impl Fn(f64) -> f64) -> Course {
        let mut course = Course::default();
        for i in 0..seconds * 5 {
            let from = f64::from(i) * 0.2;
            course.take(from, from + 0.2, load(from));
        }
        course
    }

    /// A peak of one interval in a day shows in its column, and nowhere else.
    #[test]
    fn a_peak_never_vanishes() {
        let day = of(86_400, |t| if (t - 43_900.1).abs() < 0.15 { 200.0 } else { 40.0 });
        assert!(day.slots.len() <= SLOTS);
        let picture = day.picture(86_400.0, 60, true).unwrap();
        let at: Vec<usize> = picture.highest.chars().enumerate().filter(|(_, c)| *c == '█').map(|(at, _)| at).collect();
        assert_eq!(at, [30]);
        assert_eq!(picture.mean, "▂".repeat(60), "40 of 160 %");
    }

    #[test]
    fn stopped_and_unknown_look_different() {
        let mut course = of(10, |t| if t < 4.95 { 0.0 } else { 79.0 });
        course.take(15.0, 20.0, 40.0);
        let picture = course.picture(20.0, 40, false).unwrap();
        assert_eq!(picture.mean, format!("{}{}{}{}", " ".repeat(10), "@".repeat(10), "?".repeat(10), "=".repeat(10)));
        assert!((picture.full_pct - 80.0).abs() < 1e-9 && (picture.column_s - 0.5).abs() < 1e-9);
    }

    #[test]
    fn a_short_trace_has_as_many_columns_as_intervals() {
        assert_eq!(of(2, |_| 50.0).picture(2.0, 60, false).unwrap().mean, "+".repeat(10));
        assert_eq!(of(1, |_| 50.0).picture(1.0, 60, false), None);
        assert_eq!(Course::default().picture(0.0, 60, false), None);
    }

    /// The mean over all slots is the mean of what went in, however often slots were joined.
    #[test]
    fn joining_keeps_sums() {
        let course = of(2_000, |t| t / 20.0);
        let (time, sum) = course.slots.iter().fold((0.0, 0.0), |(t, s), slot| (t + slot.time_s, s + slot.sum));
        assert!((time - 2_000.0_f64).abs() < 1e-6 && (sum / time - 49.995_f64).abs() < 1e-6);
    }
}
