//! Sensor fault: a channel is stuck, open or missing, or tells what cannot be.
//!
//! | sign | told by |
//! |---|---|
//! | a voltage is missing or stuck | it hardly moves while another does, or while the motor takes current |
//! | a current is missing or stuck | it hardly moves, or is below a tenth of the largest, while negative over positive sequence is between 0.3 and 0.7 |
//! | what cannot be | a voltage above 150 % of nominal, or a running motor that gives back a tenth of its rated power |
//!
//! A line that is lost is no sensor fault: the two currents left are alike and opposite, negative over positive sequence is one;
//! with a dead transformer the two others go on as they did, and it is a half (symmetrical components). A motor on two lines
//! keeps up the third voltage, so one that is gone was its input's. Currents are judged above 15 % of rated. Losing the
//! voltages leaves the elements that look at currents at work. What the timer does is in [`super::timer`].

use super::View;
use super::timer::Level;
use crate::settings::TripCoefficients;
use crate::unit::Ratio;

/// Negative over positive sequence with one current dead is a half: between these, Q24.
const HALF: [Ratio; 2] = [Ratio::from_bits(5_033_165), Ratio::from_bits(11_744_051)];

pub(crate) fn level(c: &TripCoefficients, view: &View) -> Level {
    let flows = view.flows && view.largest > c.floor;
    let impossible = view.half.voltage.into_iter().any(|v| v > c.voltage_most)
        || view.state.running() && view.half.active.to_bits() < -c.backwards.to_bits();
    Level::when(voltage(view, flows) || flows && current(view) || impossible)
}

/// Whether a voltage is missing. All of them at rest are a supply that is off.
const fn voltage(view: &View, flows: bool) -> bool {
    let still = view.half.still & 0b111;
    let used = view.voltages;
    still != 0 && (still != used || flows)
}

/// Whether a current is missing.
fn current(view: &View) -> bool {
    let still = view.half.still & 0b11_1000 != 0;
    let [low, high] = HALF;
    let like_two = view.unbalance.is_some_and(|unbalance| unbalance > low && unbalance < high);
    let small = view.half.current.into_iter().any(|square| square.0 < view.largest.0 / 100);
    like_two && (still || small)
}
