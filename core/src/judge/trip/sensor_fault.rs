//! Sensor fault: a channel is stuck, open or missing, or tells what cannot be.
//!
//! | sign | told by |
//! |---|---|
//! | a voltage is missing or stuck | it hardly moves, or is below a tenth of the largest; all of them, while the motor takes current |
//! | a current is missing or stuck | it hardly moves, or is below a tenth of the largest, while negative over positive sequence is between 0.3 and 0.7 |
//! | what cannot be | a voltage above 150 % of nominal, or a running motor that gives back a tenth of its rated power |
//!
//! A line that is lost is no sensor fault: the two currents left are alike and opposite, negative over positive sequence is one;
//! with a dead transformer the two others go on as they did, and it is a half (symmetrical components). A motor on two lines
//! keeps up the third voltage, so one that is gone was its input's (or one phase of the mains is shorted to earth: the feed had
//! better stop for that as well). A voltage that is missing reads as undervoltage, too, which trips after its own delay. Three dead currents
//! look like a motor at rest: nothing here tells them. Currents are judged above 15 % of rated. Losing the
//! voltages leaves the elements that look at currents at work. What the timer does is in [`super::timer`].

use super::View;
use super::timer::Level;
use crate::settings::TripCoefficients;
use crate::unit::Ratio;

/// Negative over positive sequence with one current dead is a half: between these, Q24.
const HALF: [Ratio; 2] = [Ratio::from_bits(5_033_165), Ratio::from_bits(11_744_051)];

/// `impaired`: a voltage is [`blind`] or a current is [`missing`].
pub(crate) fn level(c: &TripCoefficients, view: &View, impaired: bool) -> Level {
    let impossible =
        view.highest > c.voltage_most || view.state.running() && view.half.active.to_bits() < -c.backwards.to_bits();
    Level::when(impaired || impossible)
}

/// Whether a voltage is missing or stuck. All of them at rest are a supply that is off.
pub(crate) fn blind(c: &TripCoefficients, view: &View) -> bool {
    let still = view.half.still & 0b111;
    if !view.lives || still == view.voltages {
        return view.voltages != 0 && view.flows && view.largest > c.floor;
    }
    still != 0 || small(view.lowest.0, view.highest.0)
}

/// Whether a current is missing or stuck: what is made of all three then is not what flows.
pub(crate) fn missing(c: &TripCoefficients, view: &View) -> bool {
    view.flows && view.largest > c.floor && current(view)
}

/// Whether a current is missing.
fn current(view: &View) -> bool {
    let still = view.half.still & 0b11_1000 != 0;
    let [low, high] = HALF;
    let like_two = view.unbalance.is_some_and(|unbalance| unbalance > low && unbalance < high);
    like_two && (still || view.half.current.into_iter().any(|square| small(square.0, view.largest.0)))
}

/// Whether a square is below a hundredth of another, in whole units: a tenth of what it is the square of.
const fn small(square: u64, of: u64) -> bool {
    // Without a division: of squares, below 2^63, the hundredfold of none that is below saturates.
    square.saturating_add(1).saturating_mul(100) <= of
}
