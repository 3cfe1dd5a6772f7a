//! A synthetic day of a mill: what is laid down beforehand, and what plant, core and recorder make of it.
//!
//! ```text
//! Row ── mill ─► Scenario ─► reduced plant ─┐ half cycles                ┌─ Decision
//!                rests, made by hand ───────┴─► Judge ── Event ─► Log, Trend
//! ```
//!
//! One row a start. The plan closes the contactor and opens it: [`lived`] tells what the core did meanwhile, and who tests holds both against
//! each other.

pub mod lived;
pub mod mill;
pub mod words;

use shaftwork_core::Cause;
use shaftwork_core::judge::restart::Hindrance;
use shaftwork_core::recorder::Lead;
use shaftwork_sim::plant::supply::Place;

/// A day, s.
pub const DAY_S: f64 = 86_400.0;

/// A start, and what comes of it.
#[derive(Debug, Clone, Copy)]
pub struct Row {
    /// When the contactor closes: hours and minutes.
    pub closes: [u32; 2],
    /// How long it stays closed, s.
    pub runs_s: f64,
    /// What is laid into it.
    pub happens: Happens,
    /// What the core must tell of it, in order of time.
    pub due: &'static [Due],
    /// Who presses the reset button afterwards, in order of time.
    pub presses: &'static [Press],
    /// Why the core refuses this very start, which is made all the same: somebody has bridged the contact.
    pub refused: Option<Hindrance>,
}

/// What is laid into a run. Times count from the closing of the contactor, s; torques are over rated torque.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Happens {
    /// Nothing: an empty mill.
    Idle,
    /// The belt feeds at this share of its full drive.
    Belt(f64),
    /// A person feeds.
    Hand,
    /// A piece is stuck from then on.
    Wedge(f64),
    /// A hard piece: torque for a time, after which it is broken.
    HardPiece {
        /// When.
        at_s: f64,
        /// How long.
        length_s: f64,
        /// How hard.
        torque: f64,
    },
    /// The belt brings more than the screen passes from then on.
    Choke(f64),
    /// The belt brings a little too much for the motor from then on.
    Overload(f64),
    /// The belt runs away from then on.
    Surge(f64),
    /// The voltage sags by a share, or swells where that is below nothing, while the belt feeds.
    Sag {
        /// When.
        at_s: f64,
        /// How long.
        length_s: f64,
        /// By which share.
        depth: f64,
    },
    /// A line is lost from then on, while the belt feeds.
    LostLine(f64, Place),
    /// The belt between motor and mill is lost.
    LostBelt(f64),
    /// The mill was stopped full: the rotor is held.
    Held,
    /// The voltages are unbalanced by this share throughout.
    Unbalance(f64),
    /// The belt feeds; samples are missing from a time on, for so long.
    Gap(f64, f64),
}

/// What the core must tell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Told {
    /// A trip.
    Trip(Cause),
    /// A feed stop.
    FeedStop(Cause),
    /// A warning of an element.
    Warning(Cause),
    /// Missing samples.
    Gap,
}

/// Something that is due.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Due {
    /// What.
    pub told: Told,
    /// Not before that, s from closing.
    pub from_s: f64,
    /// Nor after that.
    pub until_s: f64,
    /// What must be told to have come first, where the cause leaves no doubt.
    pub lead: Option<Lead>,
}

impl Due {
    /// The same after that.
    #[must_use]
    pub const fn led(self, lead: Lead) -> Self {
        Self { lead: Some(lead), ..self }
    }
}

/// A press on the reset button.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Press {
    /// When, s from the opening of the contactor.
    pub after_s: f64,
    /// Whether by a person at the mill.
    pub here: bool,
    /// What the core must answer.
    pub answer: Result<(), Hindrance>,
}

impl Row {
    /// A start of which nothing needs telling.
    #[must_use]
    pub const fn new(closes: [u32; 2], runs_s: f64, happens: Happens) -> Self {
        Self { closes, runs_s, happens, due: &[], presses: &[], refused: None }
    }

    /// The same with what is due.
    #[must_use]
    pub const fn due(self, due: &'static [Due]) -> Self {
        Self { due, ..self }
    }

    /// The same with who resets.
    #[must_use]
    pub const fn then(self, presses: &'static [Press]) -> Self {
        Self { presses, ..self }
    }

    /// The same, but refused.
    #[must_use]
    pub const fn refused(self, why: Hindrance) -> Self {
        Self { refused: Some(why), ..self }
    }

    /// When the contactor closes, s of the day.
    #[must_use]
    pub fn closes_s(&self) -> f64 {
        let [hours, minutes] = self.closes;
        f64::from(hours) * 3_600.0 + f64::from(minutes) * 60.0
    }

    /// When it opens, s of the day.
    #[must_use]
    pub fn opens_s(&self) -> f64 {
        self.closes_s() + self.runs_s
    }
}

/// What is due between two times from closing.
#[must_use]
pub const fn due(told: Told, from_s: f64, until_s: f64) -> Due {
    Due { told, from_s, until_s, lead: None }
}

/// A press at the mill that resets.
#[must_use]
pub const fn resets(after_s: f64) -> Press {
    Press { after_s, here: true, answer: Ok(()) }
}

/// A press at the mill in vain.
#[must_use]
pub const fn in_vain(after_s: f64, why: Hindrance) -> Press {
    Press { after_s, here: true, answer: Err(why) }
}
