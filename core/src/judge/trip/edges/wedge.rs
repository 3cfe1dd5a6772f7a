//! The wedge element among the others: what its action does, what blinds it, its pick-up itself.

use super::*;
use crate::settings::{Trips as TripSettings, Wedge};

/// The example with the wedge element alone, by shaft work: 150 % of 55 kW over ten half cycles.
fn only(action: Action) -> TripCoefficients {
    let mut settings = Settings::example();
    settings.mill.inertia_gm2 = None;
    let wedge = Some(Wedge { pickup_ppm: 1_500_000, window_ms: 100, action });
    settings.trips = TripSettings { wedge, ..TripSettings::default() };
    settings.build().unwrap().judge.trips
}

/// Shows a load, W, with channels that stand still; gives what is told.
fn takes(trips: &mut Trips, c: &TripCoefficients, load: f64, still: u8) -> Option<Told> {
    let half = HalfCycle { still, ..sound() };
    // As with one current dead (Fortescue).
    let unbalance = Some(Ratio::from_bits(1 << 23));
    let view = View { shaft: Watts::from_bits((load * 65_536.0) as i64), unbalance, ..view(&half) };
    let mut found = None;
    trips.update(c, &view, |told, _| assert_eq!(found.replace(told), None, "there is no other element"));
    found
}

#[test]
fn it_does_what_its_action_says() {
    for action in [Action::Trip, Action::FeedStop, Action::Warning] {
        let c = only(action);
        let mut trips = Trips::new(&c);
        let mut at = |load| (takes(&mut trips, &c, load, 0), trips.feed_stop(), trips.latched());
        let told = |turn| Some(Told { cause: Cause::Wedge, action, turn });
        let (feed, latch) = (action == Action::FeedStop, (action == Action::Trip).then_some(Cause::Wedge));
        assert_eq!(at(30e3), (None, false, None));
        // 165 kW are twice the pick-up: half of the window.
        for _ in 0..4 {
            assert_eq!(at(165e3), (None, false, None), "{action:?}");
        }
        assert_eq!(at(165e3), (told(Turn::Given), feed, latch));
        assert_eq!(at(165e3), (None, feed, latch), "once");
        let ended = if latch.is_some() { None } else { told(Turn::Ended) };
        assert_eq!(at(0.0), (ended, false, latch));
    }
}

/// With a current or a voltage missing the shaft's power is not what it seems: what stood is forgotten, and the load has to fall before
/// it is judged again.
#[test]
fn it_is_blind_while_a_channel_is_missing() {
    let c = only(Action::Trip);
    for (still, sees) in [(0, true), (0b00_0001, false), (0b00_1000, false)] {
        let mut trips = Trips::new(&c);
        assert_eq!(takes(&mut trips, &c, 30e3, 0), None);
        let mut told = 0;
        for n in 0..12 {
            told += usize::from(takes(&mut trips, &c, 165e3, if n == 2 { still } else { 0 }).is_some());
            assert_eq!(trips.impaired(), n == 2 && !sees, "{n}");
        }
        assert_eq!(told, usize::from(sees), "{still:b}");
    }
}

/// 82.5 kW are the pick-up; work is kept to a thousandth of a joule, a tenth of a watt over 10 ms.
#[test]
fn a_load_at_the_pickup_stands_but_arms_nothing() {
    let c = only(Action::Warning);
    let when = |first: f64, then: f64| {
        let mut trips = Trips::new(&c);
        (0..30).find(|n| takes(&mut trips, &c, if *n == 0 { first } else { then }, 0).is_some())
    };
    let (at, below) = (82_500.05, 82_499.95);
    assert_eq!(when(at, at), None, "not below the pick-up: not armed");
    assert_eq!(when(below, at), Some(10), "the window's end");
    assert_eq!(when(below, below), None);
}
