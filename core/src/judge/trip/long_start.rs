//! Long start: from the onset of current to 95 % of synchronous speed, whatever the current.
//!
//! A start may outlast its delay only while a tachometer shows the rotor gaining speed (IEEE C37.96's speed switch, from memory), and
//! never the hot stall time.
//!
//! | from | to | when |
//! |---|---|---|
//! | `Quiet` | `Given` | starting, and the onset lies the delay back, or the hot stall time where it gains speed |
//! | `Given` | `Quiet` | a person resets |

use super::View;
use super::timer::Level;
use crate::settings::LongStartCoefficients;
use crate::time::Span;

pub(crate) fn level(c: &LongStartCoefficients, view: &View) -> Level {
    Level::when(view.onset.is_some_and(|onset| view.now.since(onset) >= allowed(c, view.gaining)))
}

/// How long a start may take.
pub(crate) const fn allowed(c: &LongStartCoefficients, gaining: bool) -> Span {
    if gaining { c.gaining } else { c.delay }
}
