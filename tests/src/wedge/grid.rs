//! Ways to tell a wedge from a piece, each with every setting, in one pass.
//!
//! A way looks at a figure against a pick-up. Those with a delay decide once the figure has been beyond it for so long;
//! those that sum decide once what lies beyond it has added up to so many seconds of rated power. What stands has no
//! pick-up but a window.

use super::pass::Half;

/// A step of a delay, s, and of a sum, s of rated power.
pub const STEP_S: f64 = 0.010;
/// Steps that are tried: 0 to 0.79 s.
pub const STEPS: usize = 80;
/// Pick-ups that are tried, and windows.
pub const PICKUPS: usize = 22;
/// Half cycles of the longest window.
const HALVES: usize = 27;
/// No load is heavier, over rated power: the element's own rule.
const HEAVIEST: f64 = 5.0;
/// What lies this near counts as reached: times are sums of half cycles.
const NEAR: f64 = 1e-6;
/// A jam drops out at this share of its pick-up.
const DROPOUT: f64 = 0.97;

/// What is looked at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Way {
    /// Largest phase's one-cycle rms over rated current, with a delay: the jam element.
    Current,
    /// Work that stands: the wedge element.
    Standing(Source),
    /// Work of the load beyond the pick-up; the sum may not fall below nothing: Page's test for a change that stays (E. S. Page,
    /// "Continuous inspection schemes", Biometrika 41, 1954).
    Surplus,
    /// The same, forgotten as soon as the load is below the pick-up.
    Unbroken,
    /// How long the load's power has been beyond the pick-up.
    Lasting,
}

/// Where the load is taken from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Source {
    /// As the core has it.
    Core,
    /// As the core has it with an inertia that is set 30 % too small.
    Small,
    /// As the core has it with an inertia that is set 30 % too large.
    Large,
    /// Shaft work alone, for an inertia that is not known.
    Shaft,
    /// As the model knows it: no motor model, no lag.
    Model,
}

impl Source {
    const ALL: [Self; 5] = [Self::Core, Self::Small, Self::Large, Self::Shaft, Self::Model];

    /// What kinetic energy is multiplied by.
    const fn factor(self) -> f64 {
        match self {
            Self::Core | Self::Model => 1.0,
            Self::Small => 0.7,
            Self::Large => 1.3,
            Self::Shaft => 0.0,
        }
    }
}

impl Way {
    /// The pick-up of a number: over rated current, or over rated power; a window, s.
    #[must_use]
    pub fn pickup(self, number: usize) -> f64 {
        match self {
            Self::Current => (15 + number) as f64 / 10.0,
            Self::Standing(_) => (1 + number) as f64 / 100.0,
            _ => (8 + number) as f64 / 10.0,
        }
    }
}

/// A setting of a way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Setting {
    /// What it looks at.
    pub way: Way,
    /// Beyond what, over rated; over which window, s.
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
    /// What stands by each source over so many half cycles, s of rated power.
    standing_s: [[f64; HALVES]; Source::ALL.len()],
}

/// From half cycles to what they show.
#[derive(Debug, Clone, Copy)]
pub struct Showing {
    rated_w: f64,
    inertia_kg_m2: f64,
    /// Kinetic energy at the last half cycle, s of rated power.
    kinetic_s: Option<f64>,
    /// The least work since each of the last half cycles by each source, the newest first.
    least_s: [[f64; HALVES]; Source::ALL.len()],
}

impl Showing {
    /// For a mill.
    #[must_use]
    pub const fn new(rated_w: f64, inertia_kg_m2: f64) -> Self {
        Self { rated_w, inertia_kg_m2, kinetic_s: None, least_s: [[0.0; HALVES]; Source::ALL.len()] }
    }

    /// The next half cycle; none where the element is not armed.
    pub fn next(&mut self, half: &Half<'_>) -> Option<Shown> {
        let rad_s = |rpm: f64| rpm * std::f64::consts::PI / 30.0;
        let kinetic_s = half.moment.speed.map(|speed| {
            let w = rad_s(f64::from(speed.to_bits()) / 4_096.0);
            0.5 * self.inertia_kg_m2 * w * w / self.rated_w
        });
        let before = std::mem::replace(&mut self.kinetic_s, kinetic_s);
        if !half.moment.state.running() {
            self.least_s = [[0.0; HALVES]; Source::ALL.len()];
            return None;
        }
        let shaft = half.moment.shaft.to_bits() as f64 / 65_536.0 / self.rated_w;
        let lost_s = before.zip(kinetic_s).map(|(before, now)| before - now);
        let load = half.truth.load_nm * rad_s(half.truth.speed_rpm) / self.rated_w;
        let mut standing_s = self.least_s;
        for ((source, least_s), standing_s) in Source::ALL.into_iter().zip(&mut self.least_s).zip(&mut standing_s) {
            // The element's own rule where speed is not told: the load is no less than it was.
            let work_s = match (source, lost_s) {
                (Source::Model, _) => load * half.length_s,
                (Source::Shaft, _) => shaft * half.length_s,
                (_, Some(lost_s)) => shaft * half.length_s + source.factor() * lost_s,
                (_, None) => (shaft * half.length_s).max(least_s[0]),
            };
            let work_s = work_s.clamp(0.0, HEAVIEST * half.length_s);
            least_s.rotate_right(1);
            least_s[0] = work_s;
            let mut sum_s = 0.0;
            for (least_s, standing_s) in least_s.iter_mut().zip(standing_s) {
                *least_s = least_s.min(work_s);
                sum_s += *least_s;
                *standing_s = sum_s;
            }
        }
        Some(Shown { t_s: half.t_s, length_s: half.length_s, current: half.current, shaft, lost_s, standing_s })
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
        let beyond_s = (shown.shaft - pickup) * shown.length_s;
        // Where speed is not told nothing drains.
        let work_s = shown.lost_s.map_or(beyond_s.max(0.0), |lost_s| beyond_s + lost_s);
        let work_s = work_s.min((HEAVIEST - pickup) * shown.length_s);
        match way {
            Way::Current => self.lasting(shown.t_s, shown.current, pickup, DROPOUT * pickup),
            Way::Lasting => self.lasting(shown.t_s, work_s, 0.0, 0.0),
            Way::Standing(source) => {
                // Tens.
                let halves = (pickup / shown.length_s).round() as usize;
                self.stand(shown.standing_s[source as usize][halves.clamp(1, HALVES) - 1])
            }
            Way::Surplus => self.sum(work_s),
            Way::Unbroken => self.sum(if work_s < 0.0 { f64::NEG_INFINITY } else { work_s }),
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

    /// A step that is reached drops out below half of it.
    fn stand(&mut self, standing_s: f64) -> std::ops::Range<usize> {
        let steps = standing_s / STEP_S + NEAR;
        // Small and not negative.
        self.reached = self.reached.min((2.0 * steps) as usize);
        self.reach(steps)
    }

    fn reach(&mut self, steps: f64) -> std::ops::Range<usize> {
        // Small and not negative.
        let now = ((steps + NEAR) as usize).clamp(self.reached, STEPS);
        std::mem::replace(&mut self.reached, now)..now
    }
}
