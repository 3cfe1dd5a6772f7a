//! What keeps things over a power cut, as the loop sees it.
//!
//! What is lost at most when power goes is [`shaftwork_store::wear::Policy::lost_s`] of energy: 1 s in FRAM or with an input that tells of it
//! in time ([`App::power_fails`]), else 60 s. Where the flash refuses what is to be kept, metering and trips go on, the alarm is told ([`Reports::failing`]), what was acknowledged
//! before stays, and the next is tried.

use embedded_storage::nor_flash::NorFlash;
use shaftwork_core::{Event, Monitor};
use shaftwork_store::{Begun, Store, What};

use crate::{Actuators, App, Fault, FrameSource, Probe, Reports};

/// Keeps what must outlast a power cut.
pub trait Keeper {
    /// Something happened. Quick: it is only taken note of.
    fn event(&mut self, event: &Event);

    /// No block waits: does one bounded thing. The queue of blocks must hold what comes in meanwhile ([`shaftwork_store::wear::Part::queue`]).
    fn step(&mut self, monitor: &Monitor);

    /// Power fails: keeps what is newest before it returns.
    fn power_fails(&mut self, monitor: &Monitor);

    /// What could not be kept, until the like can be again.
    fn failing(&self) -> Option<What> {
        None
    }
}

/// Nothing is kept.
impl Keeper for () {
    fn event(&mut self, _: &Event) {}
    fn step(&mut self, _: &Monitor) {}
    fn power_fails(&mut self, _: &Monitor) {}
}

impl<F: NorFlash> Keeper for Store<F> {
    fn event(&mut self, event: &Event) {
        self.event(event);
    }
    fn step(&mut self, monitor: &Monitor) {
        self.step(monitor);
    }
    fn power_fails(&mut self, monitor: &Monitor) {
        self.power_fails(monitor);
    }
    fn failing(&self) -> Option<What> {
        self.failing()
    }
}

impl<S, O, R, P, K> App<'_, S, O, R, P, K>
where
    S: FrameSource,
    O: Actuators,
    R: Reports,
    P: Probe,
    K: Keeper,
{
    /// Begins with what a store found, for a keeper that has one inside: see [`App::kept`]. To be called before the first [`App::poll`].
    #[must_use]
    pub fn remembering(self, begun: &Begun) -> Self {
        let mut app = self.resumed(&begun.saved());
        if begun.failed() {
            app.fail(Fault::Forgotten);
        }
        app
    }
}

impl<'m, S, O, R, P, F> App<'m, S, O, R, P, Store<F>>
where
    S: FrameSource,
    O: Actuators,
    R: Reports,
    P: Probe,
    F: NorFlash,
{
    /// Begins with what a store kept: thermal image, latches, starts; totals go on in [`Store::totals`]. The monitor is one with the
    /// settings that were kept, or a new board's own: `begun.settings.here().unwrap_or(factory)`.
    ///
    /// Mount the store before the converter is started. Where its flash fails, the outputs stay in the safe state until a person comes ([`Fault::Forgotten`]).
    pub fn kept(
        store: Store<F>,
        begun: &Begun,
        monitor: &'m mut Monitor,
        (source, outputs, reports, probe): (S, O, R, P),
    ) -> Self {
        App::new(monitor, source, outputs, reports, probe).with_keeper(store).remembering(begun)
    }
}

#[cfg(test)]
mod tests;
