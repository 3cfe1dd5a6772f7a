//! Long start: from the onset of current to 95 % of synchronous speed, whatever the current.
//!
//! | from | to | when |
//! |---|---|---|
//! | quiet | latched | starting, and the onset lies the delay back |
//! | latched | quiet | a person resets |

use super::View;
use super::timer::Timer;
use crate::settings::LongStartCoefficients;

pub(crate) fn update(c: LongStartCoefficients, timer: &mut Timer, view: &View) -> bool {
    if *timer == Timer::Latched {
        return false;
    }
    let over = view.onset.is_some_and(|onset| view.now.since(onset) >= c.delay);
    if over {
        *timer = Timer::Latched;
    }
    over
}
