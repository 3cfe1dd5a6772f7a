//! What every setting of an element would have decided, in one pass.
//!
//! A figure that a half cycle brings passes a pick-up or not. An *excursion* lasts from there until the figure is below
//! the drop-out. A setting with a delay decides once an excursion has lasted so long; one with a threshold, once its
//! figure has passed it.

/// Steps of delays, s, and how many.
pub const STEP_S: f64 = 0.010;
/// Delays that are tried: 0 to 0.79 s.
pub const STEPS: usize = 80;
/// What lies this near counts as reached: times are sums of half cycles.
const NEAR: f64 = 1e-6;

/// How often an excursion reached each step, over many runs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Counts(pub [u64; STEPS]);

impl Default for Counts {
    fn default() -> Self {
        Self([0; STEPS])
    }
}

impl Counts {
    /// Adds another's.
    pub fn add(&mut self, other: &Self) {
        self.0.iter_mut().zip(other.0).for_each(|(sum, count)| *sum += count);
    }
}

/// A setting's excursion: how far it has come, in steps.
#[derive(Debug, Clone, Copy, Default)]
pub struct Excursion {
    since_s: Option<f64>,
    /// Steps that have been reached in it.
    reached: usize,
}

impl Excursion {
    /// A figure at a time against pick-up and drop-out; the steps of delay that are reached now for the first time.
    pub fn delayed(&mut self, t_s: f64, figure: f64, pickup: f64, dropout: f64) -> std::ops::Range<usize> {
        if figure < dropout || (self.since_s.is_none() && figure <= pickup) {
            *self = Self::default();
            return 0..0;
        }
        let since_s = *self.since_s.get_or_insert(t_s);
        self.reach((t_s - since_s) / STEP_S + 1.0)
    }

    /// A figure that is its own excursion, over when it is nought: steps of so much each that are reached now.
    pub fn summed(&mut self, figure: f64) -> std::ops::Range<usize> {
        if figure <= 0.0 {
            *self = Self::default();
            return 0..0;
        }
        self.reach(figure / STEP_S)
    }

    fn reach(&mut self, steps: f64) -> std::ops::Range<usize> {
        // Small and not negative.
        let now = ((steps + NEAR) as usize).clamp(self.reached, STEPS);
        std::mem::replace(&mut self.reached, now)..now
    }
}
