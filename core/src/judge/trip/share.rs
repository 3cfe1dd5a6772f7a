//! How far an element is on its way to what it does: for whoever compares settings. Nothing decides by it.
//!
//! ```text
//! thermal image     level over the trip level
//! long start        time since the onset over what is allowed: the delay, or more while a tachometer shows the rotor gaining speed
//! starts per hour   starts that count over one more than are allowed
//! wedge             standing work over what decides
//! all others        time since it picked up over the delay; nothing while it has not
//! ```
//!
//! An element that has given is there: 1. Q24, rounded down, so that what has not decided is below 1 but for the image, whose level
//! may stand at the trip level's last bit.

use super::timer::Timer;
use super::{Trips, long_start};
use crate::judge::event::Cause;
use crate::math::scale::ratio_q;
use crate::settings::TripCoefficients;
use crate::time::{Instant, Span};
use crate::unit::Ratio;

impl Trips {
    /// The share of an element, of a start under way since its onset and whether it is seen to gain speed; nothing of one that is not wanted.
    pub(crate) fn share(
        &self,
        c: &TripCoefficients,
        cause: Cause,
        now: Instant,
        onset: Option<Instant>,
        gaining: bool,
    ) -> Ratio {
        let picked = match self.timers.get(cause as usize) {
            Some(Timer::Given) => return Ratio::from_bits(1 << 24),
            Some(Timer::Picked(since)) => now.since(*since),
            _ => Span::ZERO,
        };
        let delay = match cause {
            Cause::ThermalOverload => return self.thermal().unwrap_or_default(),
            Cause::StartsPerHour => return c.starts_per_hour.map_or(Ratio::ZERO, |c| self.starts.share(&c)),
            Cause::Wedge => return c.wedge.as_ref().map_or(Ratio::ZERO, |c| self.standing.share(c)),
            Cause::LongStart => {
                let running = onset.map_or(Span::ZERO, |onset| now.since(onset));
                return c.long_start.as_ref().map_or(Ratio::ZERO, |c| over(running, long_start::allowed(c, gaining)));
            }
            Cause::Undervoltage => {
                c.undervoltage.as_ref().map(|c| if self.starting { c.start_delay } else { c.element.delay })
            }
            Cause::Jam => c.jam.as_ref().map(|c| c.delay),
            Cause::PhaseLoss => c.phase_loss.as_ref().map(|c| c.delay),
            Cause::Overvoltage => c.overvoltage.as_ref().map(|c| c.delay),
            Cause::PhaseReversal => c.phase_reversal.as_ref().map(|c| c.delay),
            Cause::CurrentUnbalance => c.current_unbalance.as_ref().map(|c| c.delay),
            Cause::ResidualCurrent => c.residual_current.as_ref().map(|c| c.delay),
            Cause::Underload => c.underload.as_ref().map(|c| c.delay),
            Cause::SensorFault => c.sensor_fault.as_ref().map(|c| c.delay),
        };
        delay.map_or(Ratio::ZERO, |delay| over(picked, delay))
    }
}

/// Spans are far below 2^63; saturates at 127, nothing over nothing is nothing.
fn over(span: Span, whole: Span) -> Ratio {
    Ratio::from_bits(ratio_q(span.0 as i64, whole.0, 24))
}
