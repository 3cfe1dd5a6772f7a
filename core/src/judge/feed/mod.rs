//! The feed decision, for a lamp that a person heeds and for a feeder whose speed is governed.
//!
//! | from | to | when |
//! |---|---|---|
//! | any but `Called` | `Locked` | the mill does not run, a trip is latched, samples are missing, the permit is not there; the mode was changed while nothing was fed; the speed was set to nothing |
//! | `Locked`, `Called` | `Waiting` | a person at the mill releases the feed while something may be fed; by the lamp: by itself |
//! | `Feeding`, `Sounding`, `Reversing` | `Waiting` | an element holds the feed, a voltage or a current is missing |
//! | `Waiting` | `Sounding` | the load has been below the resume level for its delay and nothing holds the feed; by the lamp: at once `Feeding` |
//! | `Sounding` | `Feeding`, `Reversing` | the sounder has sounded long enough and the load is still low, or still high, else `Waiting` |
//! | `Feeding` | `Waiting` | the load has been above the stop level for its delay, or a window's mean is above the surge level |
//! | `Waiting` | `Sounding`, then `Reversing` | a jam: above the stop level for the jam's delay though the feed is stopped; where the feeder can be reversed |
//! | `Reversing` | `Waiting` | it has run backwards long enough |
//! | `Waiting` | `Called` | more jams than are tried, or neither low nor a jam for as long as jams are counted: a person is called |
//!
//! **Nothing moves unexpectedly** (ISO 14118): a feeder moves, either way, only under a permit and after the sounder, and after a trip,
//! power-up, an opened guard or missing samples only when a person at the mill has released it anew: a press of a button under a permit, none that is down from the first. After a stop for the
//! load, an element's hold or a missing voltage or current it goes on by itself, after the sounder. Only the feeder is ever reversed.
//! The lamp is dark or on stop where nothing is known; lit it permits nobody to reach in.
//!
//! By the lamp the load is the half cycle's; a feeder goes by the governor's smoothed load.

mod charge;
mod governor;
mod scatter;
mod search;
#[cfg(test)]
mod tests;

use super::event::{EventKind, FeedCause};
use super::report::{Feed, Feeder, Limit};
use super::trip::timer::Timer;
use crate::settings::{FeedCoefficients, FeederCoefficients};
use crate::time::{Instant, Span};
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

/// What a board's inputs tell of the feed. By default nothing is known: a feeder stands still.
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
        /// Since when it waits.
        since: Instant,
        /// The load is low enough.
        low: Timer,
        /// It is too high.
        high: Timer,
        /// An element holds the feed, or an input is missing.
        held: bool,
    },
    Sounding {
        until: Instant,
        reverse: bool,
    },
    Feeding {
        /// The load is too high.
        high: Timer,
    },
    Reversing {
        until: Instant,
    },
    Called,
}

impl Phase {
    const fn waiting(since: Instant) -> Self {
        Self::Waiting { since, low: Timer::Quiet, high: Timer::Quiet, held: false }
    }
}

/// The decision's memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) struct Feeding {
    phase: Phase,
    inputs: FeedInputs,
    /// Nothing may be fed: a release is not heeded.
    barred: bool,
    /// Jams since the first of them.
    jams: u8,
    first_jam: Instant,
    /// A window's mean was above the surge level.
    surge: bool,
    /// What has locked the feed between two half cycles, to be told.
    locked_by: Option<FeedCause>,
    governor: Governor,
}

impl Default for Feeding {
    /// A release that is down from the first is none: it may be stuck.
    fn default() -> Self {
        Self {
            phase: Phase::Locked,
            inputs: FeedInputs { release: true, ..FeedInputs::default() },
            barred: true,
            jams: 0,
            first_jam: Instant(0),
            surge: false,
            locked_by: None,
            governor: Governor::default(),
        }
    }
}

impl Feeding {
    /// After a power cut: no input is known, and who was called stays called.
    pub(super) fn resumed(c: &FeedCoefficients, called: bool) -> Self {
        let phase = if called && c.feeder.is_some() { Phase::Called } else { Phase::Locked };
        Self { phase, ..Self::default() }
    }

    /// A half cycle has ended; `may` tells why nothing may be fed.
    pub(super) fn update(
        &mut self,
        c: &FeedCoefficients,
        now: Instant,
        may: Result<(), FeedCause>,
        load: Ratio,
    ) -> Option<EventKind> {
        let before = self.phase;
        self.barred = may.is_err();
        let Some(feeder) = &c.feeder else {
            self.lamp(c, now, may.is_ok(), load);
            self.surge = false;
            return None;
        };
        if let Some(cause) = self.locked_by.take() {
            return Some(EventKind::FeedStops { cause, locked: true });
        }
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
                if high.held(now, load > c.stop, c.stop_delay) || self.surge {
                    self.phase = Phase::waiting(now);
                }
            }
            Phase::Waiting { low, .. } => {
                if low.held(now, load < c.resume, c.resume_delay) {
                    self.phase = Phase::Feeding { high: Timer::Quiet };
                }
            }
            _ => self.phase = Phase::waiting(now),
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
        match may {
            Err(cause @ (FeedCause::Element | FeedCause::Input)) => {
                if !matches!(self.phase, Phase::Locked | Phase::Called) {
                    self.phase = Phase::Waiting { since: now, low: Timer::Quiet, high: Timer::Quiet, held: true };
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
        let wanted = self.inputs.mode != FeedMode::Manual(0);
        match &mut self.phase {
            Phase::Feeding { high } => {
                let overload = high.held(now, load > c.stop, c.stop_delay);
                if overload || self.surge {
                    self.phase = Phase::waiting(now);
                    return Some(if overload { FeedCause::Load } else { FeedCause::Surge });
                }
                // A feeder that was set to nothing must not set off when a dial is touched.
                if self.governor.permille() == 0 {
                    self.phase = Phase::Locked;
                    return Some(FeedCause::Mode);
                }
            }
            Phase::Waiting { since, low, high, held: holds } => {
                if core::mem::replace(holds, false) {
                    *since = now;
                }
                let jam = high.held(now, load > c.stop, f.jam_delay);
                let late = now.since(*since) > f.within;
                if low.held(now, load < c.resume, c.resume_delay) {
                    if wanted {
                        self.phase = Phase::Sounding { until: now.after(f.sounder), reverse: false };
                    }
                } else if jam {
                    self.jam(f, now);
                } else if late {
                    // Neither low nor a jam, for as long as jams are counted: it drags.
                    self.phase = Phase::Called;
                }
            }
            Phase::Sounding { until, reverse } if now >= *until => {
                self.phase = match reverse {
                    true if load > c.stop => Phase::Reversing { until: now.after(f.reverse) },
                    false if load < c.resume && wanted => {
                        self.governor.begin(f, self.inputs.mode);
                        Phase::Feeding { high: Timer::Quiet }
                    }
                    _ => Phase::waiting(now),
                };
            }
            Phase::Reversing { until } if now >= *until => self.phase = Phase::waiting(now),
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
        } else if f.reverse > Span::ZERO {
            Phase::Sounding { until: now.after(f.sounder), reverse: true }
        } else {
            Phase::waiting(now)
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

    /// Takes the inputs. Without a permit the feed is locked at once. A released feed does not move at once: the load must be low first,
    /// then the sounder sounds. A change between automatic and manual leaves a feed that goes on at its speed; one that does not has to
    /// be released anew.
    pub(super) fn set(&mut self, c: &FeedCoefficients, now: Instant, inputs: FeedInputs) {
        let before = core::mem::replace(&mut self.inputs, inputs);
        if c.feeder.is_none() {
            return;
        }
        if inputs.permit != Some(true) {
            self.lock(FeedCause::Permit);
        } else if inputs.mode.automatic() != before.mode.automatic() && !matches!(self.phase, Phase::Feeding { .. }) {
            self.lock(FeedCause::Mode);
        }
        // A press under a permit that was there before it, while something may be fed.
        let pressed = inputs.release && !before.release && before.permit == Some(true) && inputs.permit == Some(true);
        if pressed && !self.barred && matches!(self.phase, Phase::Locked | Phase::Called) {
            self.phase = Phase::waiting(now);
            self.jams = 0;
        }
    }

    /// A person has to release it; who was called stays called until somebody comes.
    fn lock(&mut self, cause: FeedCause) {
        if !matches!(self.phase, Phase::Locked | Phase::Called) {
            self.phase = Phase::Locked;
            self.locked_by = Some(cause);
        }
    }

    /// Samples are missing: nobody knows the load, so nothing is fed.
    pub(super) fn gap(&mut self) {
        self.lock(FeedCause::Input);
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
