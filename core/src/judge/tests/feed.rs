//! The feed after a power cut, and after going back to what was remembered.

use super::*;
use crate::settings::{Feed, FeedJam, Feeder as SetFeeder};
use crate::{FeedMode, Feeder};

/// A feeder with short waits: the rated load is too much, two jams call a person.
fn governed() -> Bench {
    let jam = FeedJam { delay_ms: 500, tries: 1, ..FeedJam::default() };
    let feeder = SetFeeder { filter_ms: 0, sounder_ms: 1_000, charge_ppm: None, jam, ..SetFeeder::default() };
    let levels = Feed { stop_ppm: 900_000, stop_delay_ms: 200, resume_delay_ms: 500, ..Feed::default() };
    Bench::new(&Settings { feed: Feed { feeder: Some(feeder), ..levels }, ..Settings::example() })
}

impl Bench {
    fn feeder(&self) -> Feeder {
        self.judge.decision().feeder
    }

    fn permit(&mut self, permit: Option<bool>, release: bool) {
        self.judge.set_feed(&self.c, self.now, FeedInputs { permit, mode: FeedMode::Automatic, release });
    }

    /// A person presses the button under a permit, and feeding begins.
    fn release(&mut self) -> &mut Self {
        self.permit(Some(true), false);
        self.hold(&record(IDLE), 1.0);
        self.permit(Some(true), true);
        self.permit(Some(true), false);
        self.hold(&record(IDLE), 5.0);
        assert!(self.feeder().permille > 0, "{:?}", self.feeder());
        self
    }

    /// The power goes and comes back, without or with a core that was told of the inputs before.
    fn power_cut(&mut self, forgets: bool) {
        let saved = self.judge.saved(self.now);
        if forgets {
            self.judge = Judge::new(&self.c);
        }
        self.judge.resume(&self.c, self.now, &saved);
    }
}

#[test]
fn a_call_outlasts_a_power_cut_until_it_is_released_by_hand() {
    let mut b = governed();
    b.release().hold(&record(RATED), 10.0);
    let called = Feeder { call: true, ..Feeder::default() };
    assert_eq!(b.feeder(), called, "tried in vain");
    for forgets in [true, false, true] {
        b.power_cut(forgets);
        b.hold(&record(REST), 1.0).hold(&record(IDLE), 30.0);
        b.permit(Some(true), false);
        b.hold(&record(IDLE), 30.0);
        assert_eq!(b.feeder(), called, "nobody came");
    }
    b.release();
    assert!(!b.feeder().call);
    b.power_cut(true);
    assert_eq!(b.feeder(), Feeder::default(), "who came is not called again");
    // By the lamp nobody is called, whatever was saved under other settings.
    let mut lamp = Bench::new(&Settings::example());
    lamp.judge.resume(&lamp.c, lamp.now, &saved::Saved { called: true, ..saved::Saved::default() });
    assert_eq!(lamp.feeder(), Feeder::default());
}

/// No unexpected start-up (ISO 14118): the permit and the release from before a power cut are gone.
#[test]
fn a_power_cut_forgets_permit_and_release() {
    for forgets in [true, false] {
        let mut b = governed();
        b.release();
        b.power_cut(forgets);
        let stands = |b: &mut Bench, why| {
            b.hold(&record(IDLE), 20.0);
            assert_eq!((b.feeder(), b.judge.decision().feed), (Feeder::default(), report::Feed::Stop), "{why}");
        };
        stands(&mut b, "nothing is known of a permit");
        b.permit(Some(true), true);
        stands(&mut b, "a button that is down from the first");
        b.permit(Some(true), false);
        stands(&mut b, "not released");
        b.release();
    }
}

/// A snapshot is for doing again what was done: the feeder goes on under the permit of then, and stops where it stopped.
#[test]
fn a_snapshot_goes_on_with_the_inputs_of_then() {
    let mut b = governed();
    b.release();
    let mut again = governed();
    again.judge.restore(&b.c, b.judge.memory());
    again.now = b.now;
    b.events.clear();
    for (point, seconds_held) in [(IDLE, 2.0), (RATED, 1.0), (IDLE, 5.0), (RATED, 10.0)] {
        b.hold(&record(point), seconds_held);
        again.hold(&record(point), seconds_held);
        assert_eq!((again.judge.decision(), &again.events), (b.judge.decision(), &b.events));
    }
    let stops = b.events.iter().filter(|(_, kind)| matches!(kind, EventKind::FeedStops { .. })).count();
    assert!(stops == 2 && b.feeder().call, "{:?}", b.events);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    /// Whatever happens, a call ends by a person's press alone, and after a power cut nothing moves before one.
    #[test]
    fn a_call_stays(
        called in any::<bool>(),
        steps in prop::collection::vec((0usize..3, 1u32..800, 0u8..8), 1..40),
    ) {
        let mut b = governed();
        b.release();
        if called {
            b.hold(&record(RATED), 10.0);
        }
        let (mut calls, mut released) = (called, true);
        for (what, half_cycles, act) in steps {
            let mut pressed = false;
            match act {
                0 => b.permit(None, false),
                1 => b.permit(Some(false), true),
                2 | 3 => b.permit(Some(true), false),
                4 | 5 => {
                    b.permit(Some(true), false);
                    b.permit(Some(true), true);
                    (pressed, released) = (true, true);
                }
                6 => b.judge.gap(&b.c, b.now, Span(4_000 << 16)),
                _ => {
                    b.power_cut(half_cycles % 2 == 0);
                    released = false;
                }
            }
            prop_assert!(pressed || b.feeder().call == calls);
            b.hold(&record([REST, IDLE, RATED][what]), f64::from(half_cycles) / 100.0);
            prop_assert!(b.feeder().call || pressed || !calls);
            prop_assert!(released || b.feeder().permille == 0 && !b.feeder().sounder);
            calls = b.feeder().call;
            prop_assert_eq!(b.judge.saved(b.now).called, calls);
        }
    }
}
