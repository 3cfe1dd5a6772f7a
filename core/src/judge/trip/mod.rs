//! The trips: one file each, each an element that sees a [`View`] once a half cycle.

mod jam;
mod long_start;
mod phase_loss;
mod thermal;
mod timer;
mod undervoltage;

use super::event::{Cause, State};
use crate::settings::TripCoefficients;
use crate::time::{Instant, Span};
use crate::unit::{Amps, Ratio, SquareAmps, SquareVolts};
use thermal::Image;
use timer::Timer;
use undervoltage::Undervoltage;

/// What an element may look at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct View {
    pub(crate) now: Instant,
    /// Since the view before.
    pub(crate) length: Span,
    pub(crate) state: State,
    /// Onset of the start under way.
    pub(crate) onset: Option<Instant>,
    /// Whether current flows.
    pub(crate) flows: bool,
    /// Largest phase's mean square current.
    pub(crate) largest: SquareAmps,
    /// Lowest phase's mean square voltage.
    pub(crate) lowest: SquareVolts,
    /// Negative sequence of the currents.
    pub(crate) current_negative: Amps,
    /// Negative over positive sequence of the currents.
    pub(crate) unbalance: Option<Ratio>,
}

/// All elements' memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Trips {
    thermal: Option<Image>,
    jam: Timer,
    long_start: Timer,
    phase_loss: Timer,
    undervoltage: Undervoltage,
    /// The first that was given and not reset.
    latched: Option<Cause>,
}

impl Trips {
    pub(crate) fn new(c: &TripCoefficients) -> Self {
        Self {
            thermal: c.thermal.as_ref().map(Image::new),
            jam: Timer::Quiet,
            long_start: Timer::Quiet,
            phase_loss: Timer::Quiet,
            undervoltage: Undervoltage::default(),
            latched: None,
        }
    }

    /// Shows the view to every element; `given` is called with the cause and the thermal level for
    /// each trip that is given now.
    pub(crate) fn update(&mut self, c: &TripCoefficients, view: &View, mut given: impl FnMut(Cause, Option<Ratio>)) {
        let overload = match (&c.thermal, &mut self.thermal) {
            (Some(c), Some(image)) => image.update(c, view),
            _ => false,
        };
        let (latched, level) = (&mut self.latched, self.thermal.as_ref().map(Image::level));
        let mut give = |cause| {
            latched.get_or_insert(cause);
            given(cause, level);
        };
        if overload {
            give(Cause::ThermalOverload);
        }
        if let Some(c) = &c.jam
            && jam::update(c, &mut self.jam, view)
        {
            give(Cause::Jam);
        }
        if let Some(c) = c.long_start
            && long_start::update(c, &mut self.long_start, view)
        {
            give(Cause::LongStart);
        }
        if let Some(c) = &c.phase_loss
            && phase_loss::update(c, &mut self.phase_loss, view)
        {
            give(Cause::PhaseLoss);
        }
        if let Some(c) = &c.undervoltage
            && undervoltage::update(c, &mut self.undervoltage, view)
        {
            give(Cause::Undervoltage);
        }
    }

    /// Thermal level, where the image is wanted.
    pub(crate) fn thermal(&self) -> Option<Ratio> {
        self.thermal.as_ref().map(Image::level)
    }

    pub(crate) const fn latched(&self) -> Option<Cause> {
        self.latched
    }

    /// Samples are missing: what was picked up but not latched is forgotten.
    pub(crate) fn gap(&mut self) {
        for timer in self.timers() {
            timer.forget();
        }
    }

    fn timers(&mut self) -> [&mut Timer; 4] {
        [&mut self.jam, &mut self.long_start, &mut self.phase_loss, &mut self.undervoltage.timer]
    }

    /// Lets go of all latches. The thermal image keeps its level: it trips again while that is high.
    pub(crate) fn reset(&mut self) {
        for timer in self.timers() {
            *timer = Timer::Quiet;
        }
        if let Some(image) = &mut self.thermal {
            image.reset();
        }
        self.latched = None;
    }
}
