//! Ways to tell a wedge from a piece, each with every setting, in one pass.
//!
//! A way looks at a figure against a pick-up. Those with a delay decide once the figure has been beyond it for so long;
//! those that sum decide once what lies beyond it has added up to so many seconds of rated power.

use super::pass::Half;

/// A step of a delay, s, and of a sum, s of rated power.
pub const STEP_S: f64 = 0.010;
/// Steps that are tried: 0 to 0.79 s.
pub const STEPS: usize = 80;
/// Pick-ups that are tried.
pub const PICKUPS: usize = 24;
/// What lies this near counts as reached: times are sums of half cycles.
const NEAR: f64 = 1e-6;
/// A jam drops out at this share of its pick-up.
const DROPOUT: f64 = 0.97;

/// What is looked at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Way {
    /// Largest phase's one-cycle rms over rated current, with a delay: the jam element.
    Current,
    /// Work of the load beyond the pick-up, with an inertia that is so many times the right one: the wedge element. Nought is
    /// shaft work alone, for an inertia that is not known.
    Surplus(f64),
    /// The same, forgotten as soon as the load is below the pick-up.
    Unbroken,
    /// How long the load's power has been beyond the pick-up.
    Lasting,
    /// The wedge element's sum of the load as the model knows it: no motor model, no lag.
    Known,
}

impl Way {
    /// The pick-up of a number: over rated current, or over rated power.
    #[must_use]
    pub fn pickup(self, number: usize) -> f64 {
        let first = if self == Self::Current { 15 } else { 8 };
        (first + number) as f64 / 10.0
    }
}

/// A setting of a way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Setting {
    /// What it looks at.
    pub way: Way,
    /// Beyond what, over rated.
    pub pickup: f64,
    /// Of delay, or of sum.
    pub step: usize,
}

impl Setting {
    /// Delay, s, or sum, s of rated power: a sum's first step is reached with one of them, a delay's at once.
    #[must_use]
    pub fn value_s(&self) -> f64 {
        let first = usize::from(!matches!(self.way, Way::Current | Way::Lasting));
        (self.step + first) as f64 * STEP_S
    }
}

/// What a half cycle shows, in units of rated power and current.
#[derive(Debug, Clone, Copy)]
pub struct Shown {
    t_s: f64,
    length_s: f64,
    current: f64,
    shaft: f64,
    /// Kinetic energy lost, s of rated power, where speed is told.
    lost_s: Option<f64>,
    /// The load's power as the model knows it.
    load: f64,
}

/// From half cycles to what they show.
#[derive(Debug, Clone, Copy)]
pub struct Showing {
    rated_w: f64,
    inertia_kg_m2: f64,
    /// Kinetic energy at the last half cycle, s of rated power.
    kinetic_s: Option<f64>,
}

impl Showing {
    /// For a mill.
    #[must_use]
    pub const fn new(rated_w: f64, inertia_kg_m2: f64) -> Self {
        Self { rated_w, inertia_kg_m2, kinetic_s: None }
    }

    /// The next half cycle; none where the element is not armed.
    pub fn next(&mut self, half: &Half<'_>) -> Option<Shown> {
        let rad_s = |rpm: f64| rpm * std::f64::consts::PI / 30.0;
        let kinetic_s = half.moment.speed.map(|speed| {
            let w = rad_s(f64::from(speed.to_bits()) / 4_096.0);
            0.5 * self.inertia_kg_m2 * w * w / self.rated_w
        });
        let before = std::mem::replace(&mut self.kinetic_s, kinetic_s);
        half.moment.state.running().then(|| Shown {
            t_s: half.t_s,
            length_s: half.length_s,
            current: half.current,
            shaft: half.moment.shaft.to_bits() as f64 / 65_536.0 / self.rated_w,
            lost_s: before.zip(kinetic_s).map(|(before, now)| before - now),
            load: half.truth.load_nm * rad_s(half.truth.speed_rpm) / self.rated_w,
        })
    }
}

/// A pick-up of a way at work.
#[derive(Debug, Clone, Copy, Default)]
pub struct Watch {
    since_s: Option<f64>,
    sum_s: f64,
    /// Steps that have been reached since it was last nothing.
    reached: usize,
}

impl Watch {
    /// Takes what a half cycle shows; the steps that are reached now for the first time.
    pub fn take(&mut self, way: Way, pickup: f64, shown: &Shown) -> std::ops::Range<usize> {
        let beyond = shown.shaft - pickup;
        // The element's own rule where speed is not told: nothing drains.
        let work_s = |factor: f64| match shown.lost_s {
            Some(lost_s) => beyond * shown.length_s + factor * lost_s,
            None if factor > 0.0 => (beyond * shown.length_s).max(0.0),
            None => beyond * shown.length_s,
        };
        match way {
            Way::Current => self.lasting(shown.t_s, shown.current, pickup, DROPOUT * pickup),
            Way::Lasting => self.lasting(shown.t_s, work_s(1.0), 0.0, 0.0),
            Way::Surplus(factor) => self.sum(work_s(factor)),
            Way::Unbroken => {
                let step_s = work_s(1.0);
                self.sum(if step_s < 0.0 { f64::NEG_INFINITY } else { step_s })
            }
            Way::Known => self.sum((shown.load - pickup) * shown.length_s),
        }
    }

    fn lasting(&mut self, t_s: f64, figure: f64, pickup: f64, dropout: f64) -> std::ops::Range<usize> {
        if figure < dropout || (self.since_s.is_none() && figure <= pickup) {
            *self = Self::default();
            return 0..0;
        }
        let since_s = *self.since_s.get_or_insert(t_s);
        self.reach((t_s - since_s) / STEP_S + 1.0)
    }

    fn sum(&mut self, step_s: f64) -> std::ops::Range<usize> {
        self.sum_s = (self.sum_s + step_s).max(0.0);
        if self.sum_s <= 0.0 {
            *self = Self::default();
            return 0..0;
        }
        self.reach(self.sum_s / STEP_S)
    }

    fn reach(&mut self, steps: f64) -> std::ops::Range<usize> {
        // Small and not negative.
        let now = ((steps + NEAR) as usize).clamp(self.reached, STEPS);
        std::mem::replace(&mut self.reached, now)..now
    }
}
