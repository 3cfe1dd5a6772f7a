//! Start and stop: release, sounder, jam, call, lamp.

use super::*;
use crate::settings::FeedJam;

/// After a stop it begins with half of the last good speed.
#[test]
fn begins_again_with_half_of_the_last_good_speed() {
    let mut bench = Bench::new(plain()).released();
    let mut toy = Toy::new(1.2, 4.0, 3.0);
    bench.with(&mut toy, 200.0);
    let good = bench.feed.drive().permille;
    bench.may = Err(FeedCause::Element);
    assert_eq!(bench.window(0.3).permille, 0);
    assert_eq!(bench.feed.feed(), Feed::Stop);
    bench.may = Ok(());
    while bench.feed.drive().permille == 0 {
        bench.window(0.12);
    }
    let again = bench.feed.drive().permille;
    assert!(again.abs_diff(good / 2) <= 8, "{good}, then {again}");
}

/// The order of things before a feeder moves: released, low for its delay, sounder for its time (ISO 14118: no unexpected start-up).
#[test]
fn nothing_moves_before_release_low_load_and_sounder() {
    let mut bench = Bench::new(plain());
    bench.inputs(Some(true), FeedMode::Automatic, false);
    for _ in 0..100 {
        assert_eq!(bench.window(0.12), Feeder::default(), "not released");
    }
    bench.inputs(Some(true), FeedMode::Automatic, true);
    let mut silent = 0;
    while !bench.window(0.12).sounder {
        silent += 1;
    }
    assert!((24..=25).contains(&silent), "5 s of low load first: {silent} windows");
    let mut sounds = 1;
    while bench.feed.drive().sounder {
        assert_eq!((bench.feed.drive().permille, bench.feed.feed()), (0, Feed::Wait));
        bench.window(0.12);
        sounds += 1;
    }
    assert!((15..=16).contains(&sounds), "3 s of sounder: {sounds} windows");
    assert!(bench.feed.drive().permille > 0);
    assert_eq!(bench.events, [EventKind::FeedBegins]);
}

/// After each of these a person has to release the feed anew; with the load low all the while it would begin by itself otherwise.
#[test]
fn what_wants_a_person_is_not_resumed() {
    let locked = |what: &str, disturb: fn(&mut Bench), cause: Option<FeedCause>| {
        let mut bench = Bench::new(plain()).released();
        bench.with(&mut Toy::new(1.2, 4.0, 3.0), 60.0);
        assert!(bench.feed.drive().permille > 0, "{what}");
        disturb(&mut bench);
        bench.window(0.12);
        bench.may = Ok(());
        bench.inputs(Some(true), FeedMode::Automatic, false);
        for _ in 0..500 {
            assert_eq!(bench.window(0.12), Feeder::default(), "{what}");
        }
        assert_eq!(bench.feed.feed(), Feed::Stop, "{what}");
        if let Some(cause) = cause {
            assert!(bench.events.contains(&EventKind::FeedStops { cause, locked: true }), "{what}: {:?}", bench.events);
        }
        bench = bench.released();
        bench.with(&mut Toy::new(1.2, 4.0, 3.0), 20.0);
        assert!(bench.feed.drive().permille > 0, "{what}: released");
    };
    locked("a trip", |b| b.may = Err(FeedCause::Trip), Some(FeedCause::Trip));
    locked("the mill stops", |b| b.may = Err(FeedCause::Mill), Some(FeedCause::Mill));
    locked("a guard opens", |b| b.inputs(Some(false), FeedMode::Automatic, false), Some(FeedCause::Permit));
    locked("the permit's wire breaks", |b| b.inputs(None, FeedMode::Automatic, false), Some(FeedCause::Permit));
    locked("samples are missing", |b| b.feed.gap(), Some(FeedCause::Input));
    locked(
        "set to nothing",
        |b| {
            b.inputs(Some(true), FeedMode::Manual(0), false);
            for _ in 0..30 {
                b.window(0.12);
            }
        },
        Some(FeedCause::Mode),
    );
    locked(
        "the permit is away between two half cycles",
        |b| {
            b.inputs(Some(false), FeedMode::Automatic, false);
            b.inputs(Some(true), FeedMode::Automatic, false);
        },
        Some(FeedCause::Permit),
    );
    locked(
        "the mode changes while it waits",
        |b| {
            b.may = Err(FeedCause::Element);
            b.window(0.12);
            b.may = Ok(());
            b.inputs(Some(true), FeedMode::Manual(300), false);
        },
        Some(FeedCause::Mode),
    );
}

/// A release that is held down counts once, and none without a permit counts.
#[test]
fn a_release_is_a_press_under_a_permit() {
    let mut bench = Bench::new(plain());
    bench.inputs(Some(false), FeedMode::Automatic, true);
    bench.inputs(Some(true), FeedMode::Automatic, true);
    for _ in 0..100 {
        assert_eq!(bench.window(0.12), Feeder::default(), "pressed before the permit came");
    }
    bench.inputs(Some(true), FeedMode::Automatic, false);
    bench.inputs(Some(true), FeedMode::Automatic, true);
    bench.with(&mut Toy::new(1.2, 4.0, 3.0), 20.0);
    assert!(bench.feed.drive().permille > 0);
    bench.may = Err(FeedCause::Trip);
    bench.window(0.12);
    bench.may = Ok(());
    for _ in 0..100 {
        assert_eq!(bench.window(0.12), Feeder::default(), "held down over a trip");
    }
}

/// Stop the feed, wait, reverse the feeder, so often; then a person is called, and stays called (practice: two or three tries in
/// ten minutes; no source).
#[test]
fn a_jam_is_tried_so_often_then_a_person_is_called() {
    let jam = FeedJam { delay_ms: 3_000, reverse_ms: 2_000, tries: 2, within_ms: 600_000 };
    let mut bench = Bench::new(SetFeeder { jam, ..plain() }).released();
    bench.with(&mut Toy::new(1.2, 4.0, 3.0), 60.0);
    bench.events.clear();
    let (mut reversed, mut sounded) = (0, 0);
    for _ in 0..400 {
        let told = bench.window(1.3);
        assert!(!(told.reverse && told.permille > 0));
        reversed += u32::from(told.reverse);
        sounded += u32::from(told.sounder && !told.reverse);
    }
    let reverses = |jams| EventKind::FeedReverses { jams };
    let stop = EventKind::FeedStops { cause: FeedCause::Load, locked: false };
    assert_eq!(bench.events, [stop, reverses(1), reverses(2), EventKind::FeedCalls]);
    assert!(reversed.abs_diff(20) <= 2 && sounded.abs_diff(30) <= 2, "twice 2 s and 3 s: {reversed}, {sounded}");
    for _ in 0..200 {
        let told = bench.window(0.12);
        assert!(told.call && told.permille == 0 && !told.reverse, "low again, and called still");
    }
    bench = bench.released();
    bench.with(&mut Toy::new(1.2, 4.0, 3.0), 20.0);
    assert!(!bench.feed.drive().call && bench.feed.drive().permille > 0);
}

/// A load that stays between the resume and the stop level is neither low nor a jam: a person is called after a while.
#[test]
fn a_mill_that_drags_calls_a_person() {
    let mut bench = Bench::new(plain()).released();
    bench.with(&mut Toy::new(1.2, 4.0, 3.0), 60.0);
    bench.window(1.6);
    for n in 0..3_200 {
        let told = bench.window(0.9);
        // Ten minutes are 3 000 windows.
        assert!(!told.call || n > 2_990);
    }
    assert!(bench.feed.drive().call);
}

/// A button that is down from the first, or comes with the permit, is no press; nor is one while nothing may be fed.
#[test]
fn a_release_that_is_down_from_the_first_is_none() {
    let quiet = |bench: &mut Bench| {
        for _ in 0..100 {
            assert_eq!(bench.window(0.12), Feeder::default());
        }
    };
    let mut bench = Bench::new(plain());
    bench.inputs(Some(true), FeedMode::Automatic, true);
    quiet(&mut bench);
    bench.inputs(None, FeedMode::Automatic, false);
    bench.inputs(Some(true), FeedMode::Automatic, true);
    quiet(&mut bench);
    bench.may = Err(FeedCause::Element);
    bench.window(0.12);
    bench = bench.released();
    bench.may = Ok(());
    quiet(&mut bench);
}

/// The lamp is as it was before there were feeders, whatever the inputs say, and a surge puts it on wait.
#[test]
fn the_lamp_needs_no_release() {
    let mut bench = Bench::new(plain());
    bench.c.feeder = None;
    for _ in 0..26 {
        bench.window(0.12);
    }
    assert_eq!((bench.feed.feed(), bench.feed.drive().permille), (Feed::Feed, 0));
    bench.window(1.6);
    bench.window(0.8);
    assert_eq!(bench.feed.feed(), Feed::Wait);
    bench.may = Err(FeedCause::Input);
    bench.window(0.12);
    assert_eq!(bench.feed.feed(), Feed::Stop);
    assert!(bench.events.is_empty());
}
