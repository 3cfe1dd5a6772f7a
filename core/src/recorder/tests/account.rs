//! What a trend of loads and feeds is said to have been. Courses are made here; the judge's own are in the acceptance tests.

use super::*;
use crate::judge::event::{Cause, Figures, State};
use crate::judge::report::{Interval, Moment};
use crate::record::{HalfCycle, Window};
use crate::recorder::{Account, Capture, FeedRise, Lead, Log, Point, Recorder, Shape, Trend};
use crate::time::{Instant, Span};
use crate::unit::{Amps, Ratio, Rpm, SquareAmps, Watts};

/// Half cycles of 50 Hz at 4 kHz.
const HALF: Span = Span(40 << 16);

/// A moment of so many per cent of 55 kW and of 96.5 A.
fn moment((load_pct, current_pct): (f64, f64), state: State) -> Moment {
    let current = [SquareAmps::of(Amps::from_bits((0.965 * current_pct * 131_072.0) as i32)); 3];
    Moment {
        half_cycle: HalfCycle { length: HALF, current, ..HalfCycle::default() },
        shaft: Watts::from_bits((550.0 * load_pct * 65_536.0) as i64),
        speed: Some(Rpm::from_bits(1_480 << 12)),
        thermal: Some(Ratio::from_bits(1 << 23)),
        state,
        ..Moment::default()
    }
}

/// What came before a trip after so many seconds of this load (%) and feed (kg/s).
fn account(seconds: f64, load_pct: impl Fn(f64) -> f64, feed_kg_s: impl Fn(f64) -> Option<f64>, every: u8) -> Account {
    account_of(seconds, |t| (load_pct(t), load_pct(t)), feed_kg_s, every)
}

/// The same with the current (%) beside the load.
fn account_of(
    seconds: f64,
    load_pct: impl Fn(f64) -> (f64, f64),
    feed_kg_s: impl Fn(f64) -> Option<f64>,
    every: u8,
) -> Account {
    let c = settings().build().unwrap().judge;
    let (mut entries, mut points, mut feeds) = ([None; 4], [Point::default(); 3_000], [0; 128]);
    let mut recorder = Recorder {
        log: Log::new(&mut entries, 1),
        trend: Trend::new(&c, &mut points, &mut feeds, every),
        capture: Capture::new(&mut [], &mut [], Shape::whole(16)),
    };
    for _ in 0..200 {
        recorder.moment(&moment((600.0, 600.0), State::Starting)); // a run-up, which is no change of load
    }
    let mut fed_mg = 0.0;
    for half in 0..(seconds * 100.0) as u32 {
        let t = f64::from(half) / 100.0;
        recorder.moment(&moment(load_pct(t), State::Breaking));
        if half % 20 == 19 {
            let fed = feed_kg_s(t);
            fed_mg += fed.unwrap_or_default() * 200_000.0;
            let window = Window { length: Span(800 << 16), ..Window::default() };
            let mass_mg = fed.map(|_| fed_mg as u64);
            recorder.interval(&Interval { window, mass_mg, ..Interval::default() });
        }
    }
    let kind = EventKind::Trip { cause: Cause::Jam, figures: Figures::default() };
    recorder.event(&Event { at: Instant(0), kind }).account.unwrap()
}

fn seconds(span: Span) -> f64 {
    span.0 as f64 / 65_536.0 / 4_000.0
}

/// Strikes of a third of the load, twice a second, that no mean of a second shows.
fn strikes(t: f64) -> f64 {
    if t * 2.0 % 1.0 < 0.3 { 1.3 } else { 0.87 }
}

#[test]
fn feed_rose_power_followed_cut_out() {
    // "feed rose 18 % in 3 s, power followed 2.8 s later, cut-out at 111 %".
    let feed = |t: f64| Some(2.0 * (1.0 + 0.18 * ((t - 12.0) / 3.0).clamp(0.0, 1.0)));
    let load = |t: f64| 80.0 + 31.0 * ((t - 14.8) / 3.0).clamp(0.0, 1.0);
    for every in [1, 2, 4] {
        let told = account(20.0, load, feed, every);
        assert_eq!(told.lead, Lead::Feed, "{told:?}");
        let FeedRise { by_permille, within, ahead } = told.feed.unwrap();
        assert!((170..=182).contains(&by_permille.unwrap()), "{by_permille:?}");
        assert!((seconds(ahead) - 2.8).abs() <= 0.5 && (seconds(within) - 3.0).abs() <= 0.8, "{told:?}");
        assert!((seconds(told.ago) - 5.2).abs() <= 0.5 && (seconds(told.within) - 3.0).abs() <= 0.8, "{told:?}");
        assert!((80..=82).contains(&told.before_pct) && (109..=111).contains(&told.after_pct), "{told:?}");
        assert_eq!(told.last_pct, 111);
    }
    // Under strikes, and coarser: a scale that counts kilograms.
    let told = account(20.0, |t| load(t) * strikes(t), |t| feed(t).map(|f| f * strikes(t + 0.1)), 1);
    assert_eq!(told.lead, Lead::Feed, "{told:?}");
}

#[test]
fn without_a_feed_that_rose_before_the_load_is_what_is_told() {
    let jump = |t: f64| if t < 19.4 { 62.0 } else { 251.0 };
    for feed in [None, Some(2.0)] {
        let told = account(20.0, jump, |_| feed, 1);
        assert_eq!((told.lead, told.before_pct, told.last_pct, told.feed), (Lead::Strike, 62, 251, None));
        assert!((seconds(told.ago) - 0.6).abs() <= 0.11 && seconds(told.within) <= 0.2, "{told:?}");
    }
    let late = account(20.0, jump, |t| Some(if t < 19.7 { 2.0 } else { 3.0 }), 1);
    assert_eq!(late.lead, Lead::Strike, "the feed rose after the load: {late:?}");
    let bolt = account(25.0, |t| if t < 24.4 { 62.0 } else { 251.0 }, |t| Some(if t < 6.0 { 1.0 } else { 2.0 }), 1);
    assert_eq!(bolt.lead, Lead::Strike, "the feed rose long before: {bolt:?}");
    let rise = account(20.0, |t| 60.0 + 10.0 * (t - 13.0).clamp(0.0, 7.0), |_| None, 1);
    assert_eq!(rise.lead, Lead::Rise, "{rise:?}");
    let falls = account(20.0, |t| if t < 15.0 { 40.0 } else { 3.0 }, |_| None, 1);
    assert_eq!((falls.lead, falls.before_pct, falls.after_pct), (Lead::Fall, 40, 3), "a belt is gone");
    assert!((seconds(falls.ago) - 5.0).abs() <= 0.11);
    let stalls = account_of(20.0, |t| if t < 15.0 { (80.0, 80.0) } else { (0.0, 550.0) }, |_| None, 1);
    assert_eq!((stalls.lead, stalls.after_pct), (Lead::Stall, 0));
    let even = account(20.0, |t| 118.0 * strikes(t), |_| Some(2.0), 1);
    assert_eq!(even.lead, Lead::Even, "{even:?}");
    assert!((seconds(even.ago) - 20.0).abs() < 0.11 && (115..=121).contains(&even.before_pct), "{even:?}");
}

#[test]
fn what_is_not_known_is_not_told() {
    assert_eq!(account(0.5, |_| 90.0, |_| None, 1).lead, Lead::Short);
    assert_eq!(account(0.0, |_| 90.0, |_| None, 1).lead, Lead::Start);
    let begun =
        account(20.0, |t| 20.0 + 90.0 * (t - 13.0).clamp(0.0, 2.0), |t| Some(if t < 12.0 { 0.0 } else { 2.0 }), 1);
    assert_eq!((begun.lead, begun.feed.map(|feed| feed.by_permille)), (Lead::Feed, Some(None)), "no feed before");
}
