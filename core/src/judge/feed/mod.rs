//! The feed decision, for a lamp that a person heeds and for a feeder whose speed is governed.
//!
//! | from | to | when |
//! |---|---|---|
//! | any | `Locked` | the mill does not run, a trip is latched, samples are missing, the permit is not there; the mode was changed while nothing was fed |
//! | `Locked`, `Called` | `Waiting` | a person at the mill releases the feed; by the lamp: by itself |
//! | `Feeding`, `Sounding`, `Reversing` | `Waiting` | an element holds the feed, a voltage or a current is missing |
//! | `Waiting` | `Sounding` | the load has been below the resume level for its delay and nothing holds the feed; by the lamp: at once `Feeding` |
//! | `Sounding` | `Feeding` | the sounder has sounded long enough and the load is still low, else `Waiting` |
//! | `Feeding` | `Waiting` | the load has been above the stop level for its delay, or a window's mean is above the surge level |
//! | `Waiting` | `Sounding`, then `Reversing` | a jam: above the stop level for the jam's delay though the feed is stopped; where the feeder can be reversed |
//! | `Reversing` | `Waiting` | it has run backwards long enough |
//! | `Waiting` | `Called` | as many jams as are tried: a person is called |
//!
//! **Nothing moves unexpectedly** (ISO 14118): a feeder moves, either way, only under a permit and after the sounder, and after a trip,
//! power-up, an opened guard or missing samples only when a person at the mill has released it anew. Only the feeder is ever reversed.
//! The lamp is dark or on stop where nothing is known; lit it permits nobody to reach in.
//!
//! By the lamp the load is the half cycle's; a feeder goes by the governor's smoothed load.

mod charge;
mod governor;
mod search;
#[cfg(test)]
mod tests;

use super::event::{EventKind, FeedCause};
use super::report::{Feed, Feeder, Limit};
use crate::settings::{FeedCoefficients, FeederCoefficients};
use crate::time::Instant;
use crate::unit::Ratio;
use governor::Governor;
pub(super) use governor::Reading;

/// How a feeder's speed is set.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum FeedMode {
    /// By the governor.
    #[default]
    Automatic,
    /// By a person, thousandths of full speed; it stops for the load all the same.
    Manual(u16),
}

impl FeedMode {
    const fn automatic(self) -> bool {
        matches!(self, Self::Automatic)
    }
}

/// What a board's inputs tell of the feed. By default nothing is known: a feeder stays where it is.
///
/// ```
/// use shaftwork_core::{FeedInputs, Monitor, Settings};
/// let mut monitor = Monitor::new(&Settings::example()).unwrap();
/// monitor.set_feed(FeedInputs { permit: Some(true), release: true, ..FeedInputs::default() });
/// assert_eq!(monitor.decision().feeder.permille, 0, "the mill does not run");
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct FeedInputs {
    /// Whether a feeder may move: guards closed, local switch on. `None`: the input tells nothing, which stops it.
    pub permit: Option<bool>,
    /// How its speed is set.
    pub mode: FeedMode,
    /// The button with which a person at the mill releases the feed is pressed. It counts when it goes down.
    pub release: bool,
}

/// Where the feed is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
enum Phase {
    #[default]
    Locked,
    Waiting {
        /// Since when the load has been low enough.
        low: Option<Instant>,
        /// Since when it has been too high.
        high: Option<Instant>,
        /// An element holds the feed, or an input is missing.
        held: bool,
    },
    Sounding {
        until: Instant,
        reverse: bool,
    },
    Feeding {
        /// Since when the load has been too high.
        high: Option<Instant>,
    },
    Reversing {
        until: Instant,
    },
    Called,
}

impl Phase {
    const WAITING: Self = Self::Waiting { low: None, high: None, held: false };
}

/// The decision's memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) struct Feeding {
    phase: Phase,
    inputs: FeedInputs,
    /// Jams since the first of them.
    jams: u8,
    first_jam: Instant,
    /// A window's mean was above the surge level.
    surge: bool,
    governor: Governor,
}

impl Feeding {
    /// A half cycle has ended; `may` tells why nothing may be fed.
    pub(super) fn update(
        &mut self,
        c: &FeedCoefficients,
        now: Instant,
        may: Result<(), FeedCause>,
        load: Ratio,
    ) -> Option<EventKind> {
        let before = self.phase;
        let Some(feeder) = &c.feeder else {
            self.lamp(c, now, may.is_ok(), load);
            self.surge = false;
            return None;
        };
        let cause = self.feeder(c, feeder, now, may);
        self.surge = false;
        let moved = |phase: Phase| matches!(phase, Phase::Feeding { .. });
        match (before, self.phase) {
            (Phase::Locked, Phase::Locked) | (Phase::Called, Phase::Called) => None,
            (_, Phase::Locked) => cause.map(|cause| EventKind::FeedStops { cause, locked: true }),
            (_, Phase::Called) => Some(EventKind::FeedCalls),
            (_, Phase::Reversing { .. }) if !matches!(before, Phase::Reversing { .. }) => {
                Some(EventKind::FeedReverses { jams: self.jams })
            }
            (before, after) if moved(before) && !moved(after) => {
                cause.map(|cause| EventKind::FeedStops { cause, locked: false })
            }
            (before, after) if !moved(before) && moved(after) => Some(EventKind::FeedBegins),
            _ => None,
        }
    }

    /// A person feeds by the lamp.
    fn lamp(&mut self, c: &FeedCoefficients, now: Instant, may: bool, load: Ratio) {
        match &mut self.phase {
            _ if !may => self.phase = Phase::Locked,
            Phase::Feeding { high } => {
                if held(high, load > c.stop, now, c.stop_delay) || self.surge {
                    self.phase = Phase::WAITING;
                }
            }
            Phase::Waiting { low, .. } => {
                if held(low, load < c.resume, now, c.resume_delay) {
                    self.phase = Phase::Feeding { high: None };
                }
            }
            _ => self.phase = Phase::WAITING,
        }
    }

    /// A feeder is governed. Why the phase changed.
    fn feeder(
        &mut self,
        c: &FeedCoefficients,
        f: &FeederCoefficients,
        now: Instant,
        may: Result<(), FeedCause>,
    ) -> Option<FeedCause> {
        let permitted = if self.inputs.permit == Some(true) { Ok(()) } else { Err(FeedCause::Permit) };
        match may.and(permitted) {
            Err(cause @ (FeedCause::Element | FeedCause::Input)) => {
                if !matches!(self.phase, Phase::Locked | Phase::Called) {
                    self.phase = Phase::Waiting { low: None, high: None, held: true };
                }
                return Some(cause);
            }
            // Who was called stays called until somebody comes.
            Err(_) if matches!(self.phase, Phase::Called) => return None,
            Err(cause) => {
                self.phase = Phase::Locked;
                return Some(cause);
            }
            Ok(()) => {}
        }
        let load = self.governor.load();
        match &mut self.phase {
            Phase::Feeding { high } => {
                let overload = held(high, load > c.stop, now, c.stop_delay);
                if overload || self.surge {
                    self.phase = Phase::WAITING;
                    return Some(if overload { FeedCause::Load } else { FeedCause::Surge });
                }
            }
            Phase::Waiting { low, high, held: holds } => {
                *holds = false;
                let jam = held(high, load > c.stop, now, f.jam_delay);
                if held(low, load < c.resume, now, c.resume_delay) {
                    self.phase = Phase::Sounding { until: now.after(f.sounder), reverse: false };
                } else if jam {
                    self.jam(f, now);
                }
            }
            Phase::Sounding { until, reverse } if now >= *until => {
                self.phase = match reverse {
                    true => Phase::Reversing { until: now.after(f.reverse) },
                    false if load < c.resume => {
                        self.governor.begin(f, self.inputs.mode);
                        Phase::Feeding { high: None }
                    }
                    false => Phase::WAITING,
                };
            }
            Phase::Reversing { until } if now >= *until => self.phase = Phase::WAITING,
            Phase::Locked | Phase::Called | Phase::Sounding { .. } | Phase::Reversing { .. } => {}
        }
        None
    }

    /// The feed is stopped and the load stays up.
    fn jam(&mut self, f: &FeederCoefficients, now: Instant) {
        if self.jams == 0 || now.since(self.first_jam) > f.within {
            (self.jams, self.first_jam) = (0, now);
        }
        self.jams = self.jams.saturating_add(1);
        self.phase = if self.jams > f.tries {
            Phase::Called
        } else if f.reverse > crate::time::Span::ZERO {
            Phase::Sounding { until: now.after(f.sounder), reverse: true }
        } else {
            Phase::WAITING
        };
    }

    /// A window has closed: the governor goes a step on.
    pub(super) fn step(&mut self, c: &FeedCoefficients, reading: &Reading) {
        self.surge = reading.load > c.surge;
        if let Some(feeder) = &c.feeder {
            let feeding = matches!(self.phase, Phase::Feeding { .. });
            self.governor.step(feeder, self.inputs.mode, reading, feeding);
        }
    }

    /// Takes the inputs. A released feed does not move at once: the load must be low first, then the sounder sounds. A change between
    /// automatic and manual leaves a feed that goes on at its speed; one that does not has to be released anew.
    pub(super) fn set(&mut self, inputs: FeedInputs) {
        let before = core::mem::replace(&mut self.inputs, inputs);
        if inputs.mode.automatic() != before.mode.automatic()
            && !matches!(self.phase, Phase::Feeding { .. } | Phase::Called)
        {
            self.phase = Phase::Locked;
        }
        let pressed = inputs.release && !before.release;
        if pressed && inputs.permit == Some(true) && matches!(self.phase, Phase::Locked | Phase::Called) {
            self.phase = Phase::WAITING;
            self.jams = 0;
        }
    }

    /// Samples are missing: nobody knows the load, so nothing is fed.
    pub(super) fn gap(&mut self) {
        if !matches!(self.phase, Phase::Called) {
            self.phase = Phase::Locked;
        }
        self.governor.forget();
    }

    /// For the lamp.
    pub(super) const fn feed(&self) -> Feed {
        match self.phase {
            Phase::Locked | Phase::Called | Phase::Waiting { held: true, .. } => Feed::Stop,
            Phase::Waiting { .. } | Phase::Sounding { .. } | Phase::Reversing { .. } => Feed::Wait,
            Phase::Feeding { .. } => Feed::Feed,
        }
    }

    /// For the feeder.
    pub(super) const fn drive(&self) -> Feeder {
        let still = Feeder { permille: 0, reverse: false, sounder: false, call: false, limit: Limit::None };
        match self.phase {
            Phase::Feeding { .. } => {
                Feeder { permille: self.governor.permille(), limit: self.governor.limit(), ..still }
            }
            Phase::Sounding { .. } => Feeder { sounder: true, ..still },
            Phase::Reversing { .. } => Feeder { reverse: true, sounder: true, ..still },
            Phase::Called => Feeder { call: true, ..still },
            Phase::Locked | Phase::Waiting { .. } => still,
        }
    }
}

/// Whether something has held for a delay; `since` remembers from when on.
fn held(since: &mut Option<Instant>, holds: bool, now: Instant, delay: crate::time::Span) -> bool {
    if !holds {
        *since = None;
        return false;
    }
    now.since(*since.get_or_insert(now)) >= delay
}
