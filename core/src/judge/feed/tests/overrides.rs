//! What holds the feed back: surge, current, heat, charge.

use super::*;

/// Two minutes of an empty hopper, five of feeding at full speed in vain: then the mill is fed as before, not held back by a ratio
/// that nothing taught.
#[test]
fn an_empty_hopper_holds_nothing_back() {
    for empty_s in [30.0, 120.0, 300.0] {
        let mut bench = Bench::new(SetFeeder::default()).released();
        let mut toy = Toy::new(1.2, 4.0, 3.0);
        bench.with(&mut toy, 200.0);
        toy.gain = 0.0;
        bench.with(&mut toy, empty_s);
        toy.gain = 1.2;
        bench.with(&mut toy, 300.0);
        assert!((toy.load - 0.8).abs() < 0.035, "{empty_s} s empty: {} {:?}", toy.load, bench.feed.drive());
    }
}

/// A window's mean above the surge level stops at once, a load above the stop level after its delay.
#[test]
fn a_surge_stops_at_once() {
    let mut bench = Bench::new(plain()).released();
    bench.with(&mut Toy::new(1.2, 4.0, 3.0), 60.0);
    bench.window(1.6);
    bench.window(0.8);
    assert_eq!(bench.feed.drive().permille, 0);
    assert!(bench.events.contains(&EventKind::FeedStops { cause: FeedCause::Surge, locked: false }));
}

/// Each override holds what it is for below its limit, and says so.
#[test]
fn overrides_take_over_and_say_so() {
    let mut bench = Bench::new(plain()).released();
    let mut toy = Toy::new(1.2, 4.0, 3.0);
    bench.with(&mut toy, 200.0);
    assert!((toy.load - 0.8).abs() < 0.03 && bench.feed.drive().limit == Limit::None);
    // From 90 % on the target falls, to nothing at the trip level: at 95 % it is 0.4.
    bench.thermal = 0.95;
    bench.with(&mut toy, 200.0);
    assert!((toy.load - 0.4).abs() < 0.03 && bench.feed.drive().limit == Limit::Thermal, "{}", toy.load);
    bench.thermal = 0.5;
    bench.with(&mut toy, 200.0);
    // Currents that go with the load but are a fifth larger: held at 100 % of rated current.
    for _ in 0..2_000 {
        bench.current = toy.load * 1.5;
        bench.with(&mut toy, 0.2);
    }
    assert!((toy.load * 1.5 - 1.0).abs() < 0.03 && bench.feed.drive().limit == Limit::Current, "{}", toy.load);
}

/// Where the load that a speed makes has risen by more than the share that is allowed, the charge holds the feed: the mill chokes.
#[test]
fn load_that_the_feed_does_not_account_for_holds_the_feed() {
    let run = |charge_ppm| {
        let mut bench = Bench::new(SetFeeder { charge_ppm, target_ppm: 1_000_000, ..SetFeeder::default() }).released();
        // Light material: the target would need more than the feeder's all.
        let mut toy = Toy::new(0.6, 4.0, 3.0);
        bench.with(&mut toy, 300.0);
        assert!((toy.load - 0.72).abs() < 0.01, "{}", toy.load);
        // It begins to choke: a load of its own, a half of what the feed accounts for.
        toy.idle = 0.12 + 0.3;
        bench.with(&mut toy, 60.0);
        (bench.feed.drive(), toy)
    };
    let (held, toy) = run(Some(400_000));
    assert_eq!(held.limit, Limit::Charge, "{}", toy.load);
    assert!(held.permille < 900, "{held:?}");
    let (left, _) = run(None);
    assert!(left.limit == Limit::None && left.permille > 900, "{left:?}");
}

/// A target of 90 % with a peak of 100 %: an even load comes to the target; of one that scatters a twentieth lies above the peak, which
/// for an even spread of deviation 0.1 is a mean of 100 % less 0.45 of its width (0.156).
#[test]
fn lumpy_material_is_held_lower() {
    let run = |deviation| {
        let set = SetFeeder { target_ppm: 900_000, peak_ppm: Some(1_000_000), ..plain() };
        let mut bench = Bench::new(set).released();
        let (mut toy, mut noise) = (Toy::new(1.2, 4.0, 3.0), Noise(1));
        let (mut mean, mut above) = (0.0, 0);
        for n in 0..20_000 {
            let load = toy.load + if n > 200 { noise.next(deviation) } else { 0.0 };
            let told = bench.window(load);
            toy.step(f64::from(told.permille) / 1_000.0);
            if n >= 10_000 {
                mean += toy.load / 10_000.0;
                above += u32::from(load > 1.0);
            }
        }
        (mean, f64::from(above) / 10_000.0, bench.feed.drive().limit)
    };
    let (mean, above, limit) = run(0.1);
    assert!((mean - 0.844).abs() < 0.03 && (0.03..0.07).contains(&above), "{mean} {above}");
    assert_eq!(limit, Limit::Scatter);
    let (mean, above, limit) = run(0.0);
    assert!((mean - 0.9).abs() < 0.03 && above < 1e-9, "{mean} {above}");
    assert_eq!(limit, Limit::None);
}
