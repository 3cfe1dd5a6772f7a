//! Long start: from the onset of current to 95 % of synchronous speed, whatever the current.
//!
//! | from | to | when |
//! |---|---|---|
//! | `Quiet` | `Given` | starting, and the onset lies the delay back |
//! | `Given` | `Quiet` | a person resets |

use super::View;
use super::timer::Level;
use crate::settings::LongStartCoefficients;

pub(crate) fn level(c: LongStartCoefficients, view: &View) -> Level {
    Level::when(view.onset.is_some_and(|onset| view.now.since(onset) >= c.delay))
}
