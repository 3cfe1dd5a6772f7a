//! All that a board keeps, in one flash: three rings, and what to do next.

use embedded_storage::nor_flash::NorFlash;
use heapless::Deque;
use serde::Serialize;
use serde::de::DeserializeOwned;
use shaftwork_core::judge::saved::Saved;
use shaftwork_core::settings::Settings;
use shaftwork_core::time::{Instant, Span};
use shaftwork_core::{Cause, Event, Monitor, SettingsError, Totals};

use crate::grid::{Grid, HEADER, Region, RegionError};
use crate::kept::{ENTRY_BYTES, Entry, KEPT_BYTES, Kept, Read, SETTINGS_BYTES, VERSION, joined, read, write};
use crate::ring::{Ring, Step};

/// Where everything lies. Regions must not overlap.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Places {
    /// Totals, thermal image, latches, starts: as many pages as [`crate::wear::Part::pages`] says.
    pub kept: Region,
    /// Settings: five pages.
    pub settings: Region,
    /// Event log: as many pages as one likes to keep, and four.
    pub events: Region,
}

/// Why a store is not mounted. Nothing was written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MountError {
    /// The flash cannot have such places.
    Region(RegionError),
    /// What is kept was written by a firmware with another layout or for other places, or makes no sense: it is left as it is.
    ///
    /// The ways out, both a person's: run the firmware that wrote it, and read the totals off; or [`Store::forget`], after which the board is as new: registers
    /// begin at nought, no trip is latched and the thermal image is cold, so let the motor cool first.
    Layout {
        /// Of what.
        what: What,
        /// By which version it was written.
        version: u8,
    },
}

impl From<RegionError> for MountError {
    fn from(why: RegionError) -> Self {
        Self::Region(why)
    }
}

impl core::fmt::Display for MountError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Region(why) => why.fmt(f),
            Self::Layout { what, version } => {
                let what = match what {
                    What::Kept => "totals",
                    What::Settings => "settings",
                    What::Entry => "events",
                };
                write!(
                    f,
                    "{what} were kept in layout {version} or elsewhere, this firmware has layout {VERSION}: run the one that wrote them, or have all forgotten"
                )
            }
        }
    }
}

impl core::error::Error for MountError {}

/// Why new settings are not taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Refused {
    /// Others are being kept.
    Busy,
    /// They cannot be used.
    Settings(SettingsError),
}

/// What became of the settings that were given last.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Change {
    /// None were given since the power came.
    #[default]
    None,
    /// They are being kept.
    Busy,
    /// Acknowledged: they hold when power comes again.
    Kept,
    /// The flash refused them: the old ones hold.
    Lost,
}

/// What was there when power came.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Begun {
    /// What the monitor must remember, and the totals, which go on by themselves.
    pub kept: Read<Kept>,
    /// For [`Monitor::new`].
    pub settings: Read<Settings>,
}

/// Why not all is forgotten.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Forgotten<E> {
    /// The flash cannot have such places.
    Region(RegionError),
    /// It refused an erase.
    Flash(E),
}

/// What is kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum What {
    /// Totals and what the monitor must remember.
    Kept,
    /// Settings.
    Settings,
    /// An entry of the event log.
    Entry,
}

/// All of it, what matters most first.
const ALL: [What; 3] = [What::Kept, What::Settings, What::Entry];

/// What a step of a store did.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Done {
    /// Nothing to do.
    Nothing,
    /// Something that is not complete yet.
    Some,
    /// This reads back: it outlasts a power cut.
    Kept(What),
    /// The flash fails: this is not kept. Totals are tried again soon; an entry is missed.
    Lost(What),
}

/// What is kept at once when it changes, so that no power cut clears a trip, grants a start or cools a motor by more than an eighth of the trip level.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Pressing {
    trip: Option<Cause>,
    called: bool,
    /// Since the power came.
    starts: u32,
    /// What a start adds to the thermal image: another figure tells that the motor has run up.
    start_heat: i64,
    /// Eighths of the trip level.
    eighths: i64,
}

impl Pressing {
    const fn of(saved: &Saved, since: &Totals) -> Self {
        let Saved { trip, called, start_heat_q32: start_heat, thermal_q32, .. } = *saved;
        Self { trip, called, starts: since.starts, start_heat, eighths: thermal_q32 >> 29 }
    }

    /// Whether it has to be kept after `kept` was. An image that cools does not press.
    fn after(&self, kept: &Self) -> bool {
        let Self { eighths, .. } = *self;
        eighths > kept.eighths || *self != Self { eighths, ..*kept }
    }
}

/// The keeper of a board's flash.
#[derive(Debug)]
pub struct Store<F> {
    flash: F,
    kept: Ring<KEPT_BYTES>,
    settings: Ring<SETTINGS_BYTES>,
    events: Ring<ENTRY_BYTES>,
    before: Totals,
    every: Span,
    due: Instant,
    /// As it was kept last.
    pressing: Pressing,
    waiting: Deque<Event, 16>,
    missed: u32,
    change: Change,
    /// What was given up and not kept since, in the order of [`ALL`].
    failing: [bool; 3],
}

impl Begun {
    /// Whether there is something that the flash does not give: heat, latches and starts of before are not known, nor may the settings be those of the motor.
    #[must_use]
    pub const fn failed(&self) -> bool {
        matches!(self.kept, Read::Failed) || matches!(self.settings, Read::Failed)
    }

    /// For [`Monitor::resume`], always: the rest begins anew. Where the flash does not give what was kept, the motor is taken for nearly as hot as trips it, and a person has to release the
    /// feed; the rotor's heat and the starts of before are not known then.
    #[must_use]
    pub fn saved(&self) -> Saved {
        match self.kept {
            Read::Here(kept) => kept.saved,
            Read::Nothing | Read::Other(_) => Saved::default(),
            Read::Failed => Saved { thermal_q32: (1 << 32) - 1, called: true, ..Saved::default() },
        }
    }
}

impl<F: NorFlash> Store<F> {
    /// Finds what was kept and makes sure of it ([`Ring::settle`]): before the converter is started, for it takes as long as a few records do. `every` is
    /// how often totals are kept: [`crate::wear::Policy::every`].
    ///
    /// # Errors
    ///
    /// When the flash cannot have such places, or holds what this firmware cannot read: then nothing is written. Lend the flash (`&mut`) to have it
    /// afterwards.
    pub fn mount(mut flash: F, places: &Places, every: Span) -> Result<(Self, Begun), MountError> {
        let mut kept = Ring::mount(&mut flash, &places.kept)?;
        let mut settings = Ring::mount(&mut flash, &places.settings)?;
        let mut events = Ring::mount(&mut flash, &places.events)?;
        // All of them before the first is written to.
        known::<F, Kept, KEPT_BYTES>(&kept, &mut flash, What::Kept)?;
        known::<F, Settings, SETTINGS_BYTES>(&settings, &mut flash, What::Settings)?;
        known::<F, Entry, ENTRY_BYTES>(&events, &mut flash, What::Entry)?;
        let begun = Begun { kept: settled(&mut kept, &mut flash), settings: settled(&mut settings, &mut flash) };
        if let Some(entry) = write(&Entry::PowerUp, &mut [0; ENTRY_BYTES]) {
            events.prove(&mut flash, entry, VERSION);
        }
        let before = begun.kept.here().map_or_else(Totals::default, |kept| kept.totals);
        let saved = begun.kept.here().map(|kept| kept.saved).unwrap_or_default();
        let pressing = Pressing::of(&saved, &Totals::default());
        let due = Instant::default();
        let (waiting, missed) = (Deque::new(), 0);
        let failing = [begun.failed(), false, false];
        let store = Self {
            flash,
            kept,
            settings,
            events,
            before,
            every,
            due,
            pressing,
            waiting,
            missed,
            change: Change::None,
            failing,
        };
        Ok((store, begun))
    }

    /// Erases all that is kept, whatever wrote it: the way out of [`MountError::Layout`] where nobody wants it any more. It takes as long as all erases do; where
    /// power goes meanwhile, what is left may still be found.
    ///
    /// # Errors
    ///
    /// When the flash cannot have such places, or refuses an erase.
    pub fn forget(flash: &mut F, places: &Places) -> Result<(), Forgotten<F::Error>> {
        for (region, max) in
            [(&places.kept, KEPT_BYTES), (&places.settings, SETTINGS_BYTES), (&places.events, ENTRY_BYTES)]
        {
            let grid = Grid::new(flash, region, max).map_err(Forgotten::Region)?;
            grid.erase_all(flash).map_err(Forgotten::Flash)?;
        }
        Ok(())
    }

    /// Does one bounded thing: erases a page, writes a part of a record or reads one back. To be called when no block waits.
    ///
    /// Totals are kept when their time has come, and at once when a trip is latched or reset, a person is called, a start has begun or ended or the thermal image has risen by
    /// an eighth; they go before settings, settings before events.
    pub fn step(&mut self, monitor: &Monitor) -> Done {
        let done = self.one(monitor);
        match done {
            Done::Kept(what) | Done::Lost(what) if what == What::Settings => {
                self.change = if matches!(done, Done::Kept(_)) { Change::Kept } else { Change::Lost };
            }
            Done::Lost(What::Entry) => self.missed = self.missed.saturating_add(1),
            _ => {}
        }
        for (what, failing) in ALL.into_iter().zip(&mut self.failing) {
            *failing = done == Done::Lost(what) || *failing && done != Done::Kept(what);
        }
        if done == Done::Lost(What::Kept) {
            self.due = monitor.now().after(Span(self.every.0 / 8)); // no sooner: attempts wear too
        }
        done
    }

    fn one(&mut self, monitor: &Monitor) -> Done {
        let now = monitor.now();
        if !self.kept.busy() {
            let saved = monitor.saved();
            if now >= self.due || Pressing::of(&saved, monitor.totals()).after(&self.pressing) {
                self.keep(monitor);
            }
        }
        let done = done(self.kept.step(&mut self.flash), What::Kept);
        if done != Done::Nothing {
            return done;
        }
        let done = self::done(self.settings.step(&mut self.flash), What::Settings);
        if done != Done::Nothing {
            return done;
        }
        if !self.events.busy()
            && let Some(event) = self.waiting.pop_front()
        {
            offer::<F, ENTRY_BYTES>(&mut self.events, &Entry::Event(event));
        }
        self::done(self.events.step(&mut self.flash), What::Entry)
    }

    /// Something happened. When more waits than the queue holds, the oldest is missed and counted.
    pub fn event(&mut self, event: &Event) {
        if self.waiting.is_full() {
            self.waiting.pop_front();
            self.missed = self.missed.saturating_add(1);
        }
        let _ = self.waiting.push_back(*event); // there is room
    }

    /// New settings, for when power comes again. They are acknowledged when [`Store::change`] is [`Change::Kept`]: until then, and when power goes, the old ones
    /// hold, whole.
    ///
    /// # Errors
    ///
    /// When they cannot be used, and while others are being kept.
    pub fn set(&mut self, settings: &Settings) -> Result<(), Refused> {
        settings.build().map_err(Refused::Settings)?;
        if self.settings.busy() || !offer::<F, SETTINGS_BYTES>(&mut self.settings, settings) {
            return Err(Refused::Busy); // the buffer is as large as the largest
        }
        self.change = Change::Busy;
        Ok(())
    }

    /// What became of the settings that were given last.
    pub const fn change(&self) -> Change {
        self.change
    }

    /// What the flash refused, until it takes the like: a person should know. Metering and trips go on, what was kept before stays kept, and the next are tried.
    pub fn failing(&self) -> Option<What> {
        ALL.into_iter().zip(self.failing).find_map(|(what, failing)| failing.then_some(what))
    }

    /// Power fails, and what is left lasts for [`crate::wear::Part::hold_up_us`]: keeps what is newest, and nothing else, before it returns. Whether it is kept.
    pub fn power_fails(&mut self, monitor: &Monitor) -> bool {
        if self.kept.busy() {
            self.kept.finish(&mut self.flash);
        }
        self.keep(monitor);
        self.kept.finish(&mut self.flash)
    }

    /// Totals since the board was made.
    pub fn totals(&self, monitor: &Monitor) -> Totals {
        joined(&self.before, monitor.totals())
    }

    /// The oldest entry of the event log at or after a position, and the position to ask for next. After each power-up its entry stands twice.
    pub fn entry(&mut self, position: u64) -> Option<(Read<Entry>, u64)> {
        let mut into = [0; ENTRY_BYTES];
        let found = self.events.from(&mut self.flash, position, &mut into)?;
        let bytes = into.get(HEADER..HEADER + found.length)?;
        Some((read(found.version, bytes), found.position.saturating_add(1)))
    }

    /// Events that were missed because too many waited, or because the flash refused them.
    pub const fn missed(&self) -> u32 {
        self.missed
    }

    /// The flash.
    pub const fn flash(&self) -> &F {
        &self.flash
    }

    /// The flash, when the loop is over.
    pub fn into_flash(self) -> F {
        self.flash
    }

    fn keep(&mut self, monitor: &Monitor) {
        let kept = Kept { saved: monitor.saved(), totals: self.totals(monitor) };
        if offer::<F, KEPT_BYTES>(&mut self.kept, &kept) {
            self.pressing = Pressing::of(&kept.saved, monitor.totals());
            self.due = monitor.now().after(self.every);
        }
    }
}

/// Whether a ring takes something: the buffers are as large as the largest.
fn offer<F: NorFlash, const MAX: usize>(ring: &mut Ring<MAX>, it: &impl Serialize) -> bool {
    write(it, &mut [0; MAX]).is_some_and(|bytes| ring.offer::<F>(bytes, VERSION).is_ok())
}

/// Whether this firmware can read the newest record of a ring. What the flash does not give cannot be told apart from what it lost: that is found when it is settled.
fn known<F: NorFlash, T: DeserializeOwned, const MAX: usize>(
    ring: &Ring<MAX>,
    flash: &mut F,
    what: What,
) -> Result<(), MountError> {
    if let Some(version) = ring.foreign() {
        return Err(MountError::Layout { what, version });
    }
    let mut into = [0; MAX];
    let found = ring.newest().and_then(|newest| ring.from(flash, newest.position, &mut into));
    let Some(found) = found else { return Ok(()) };
    match read::<T>(found.version, into.get(HEADER..HEADER + found.length).unwrap_or(&[])) {
        Read::Other(version) => Err(MountError::Layout { what, version }),
        Read::Here(_) | Read::Nothing | Read::Failed => Ok(()),
    }
}

fn settled<F: NorFlash, T: DeserializeOwned, const MAX: usize>(ring: &mut Ring<MAX>, flash: &mut F) -> Read<T> {
    let mut into = [0; MAX];
    let found = ring.settle(flash, &mut into);
    let failed = ring.newest().is_some() || ring.blind();
    let Some(found) = found else { return if failed { Read::Failed } else { Read::Nothing } };
    read(found.version, into.get(HEADER..HEADER + found.length).unwrap_or(&[]))
}

const fn done(step: Step, what: What) -> Done {
    match step {
        Step::Idle => Done::Nothing,
        Step::Erased | Step::Wrote | Step::Again => Done::Some,
        Step::Kept(_) => Done::Kept(what),
        Step::Lost => Done::Lost(what),
    }
}
