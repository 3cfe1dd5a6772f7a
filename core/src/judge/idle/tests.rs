use super::*;
use crate::settings::Settings;
use proptest::prelude::*;

/// Windows of 0.2 s at 4 kHz, by hand.
struct Bench {
    c: JudgeCoefficients,
    idle: Idle,
    now: Instant,
    running: Span,
}

const WINDOW: Span = Span(800 << 16);
const HOUR: Span = Span((4_000 * 3_600) << 16);

impl Bench {
    fn new(set_w: Option<u64>) -> Self {
        let mut settings = Settings::example();
        settings.mill.idle_power_mw = set_w.map(|w| w * 1_000);
        let c = settings.build().unwrap().judge;
        Self { idle: Idle::new(&c), c, now: Instant(0), running: Span::ZERO }
    }

    /// So many windows of a power, W.
    fn hold(&mut self, watts: i64, windows: u32) -> &mut Self {
        for _ in 0..windows {
            self.now = self.now.after(WINDOW);
            self.running = self.running.plus(WINDOW);
            self.idle.window(&self.c, self.now, Watts::from_bits(watts << 16), true, self.running);
        }
        self
    }

    /// Time in which nothing is idle.
    fn work(&mut self, hours: u64) -> &mut Self {
        self.now = self.now.after(Span(HOUR.0 * hours));
        self.running = self.running.plus(Span(HOUR.0 * hours));
        self
    }

    fn start(&mut self) -> &mut Self {
        self.idle.ran_up(self.now);
        self
    }

    fn power(&self) -> Option<i64> {
        self.idle.power().map(|w| w.to_bits() >> 16)
    }
}

#[test]
fn the_lowest_even_two_seconds_below_half_load_count() {
    let mut b = Bench::new(None);
    b.hold(30_000, 20);
    assert_eq!(b.power(), None, "above half load");
    for _ in 0..10 {
        b.hold(9_000, 1).hold(11_000, 1);
    }
    assert_eq!(b.power(), None, "not even: 2 kW of 55");
    b.hold(9_000, 9).hold(30_000, 1).hold(9_000, 9);
    assert_eq!(b.power(), None, "nine in a row are too few");
    b.hold(9_000, 1);
    assert_eq!(b.power(), Some(9_000));
    b.hold(7_000, 10);
    assert_eq!(b.power(), Some(7_000), "a fall is followed at once");
    b.hold(7_300, 30).hold(9_000, 30);
    assert_eq!(b.power(), Some(7_000), "a rise is not");
    assert_eq!(b.idle.mean(b.running).unwrap().to_bits() >> 16, 7_000, "all along, also before it was known");
}

#[test]
fn what_does_not_show_for_two_days_is_forgotten() {
    let mut b = Bench::new(None);
    b.hold(7_000, 10).work(23).hold(7_500, 10);
    assert_eq!(b.power(), Some(7_000));
    b.work(2).hold(7_500, 10);
    assert_eq!(b.power(), Some(7_000), "the second day remembers the first");
    b.work(25);
    let (before, until) = (7_000.0, b.running);
    b.hold(7_500, 10);
    assert_eq!(b.power(), Some(7_500), "the third does not");
    b.work(10);
    // Time-weighted by hand: the rise came with the last window of the reading.
    let until = (until.0 + 10 * WINDOW.0) as f64;
    let wanted = (before * until + 7_500.0 * (b.running.0 as f64 - until)) / b.running.0 as f64;
    let mean = b.idle.mean(b.running).unwrap().to_bits() as f64 / 65_536.0;
    assert!((mean - wanted).abs() < 0.01, "{mean}, {wanted} wanted");
    b.work(30).hold(9_000, 10).work(30).hold(9_000, 10);
    assert_eq!(b.power(), Some(7_500), "a rise beyond 15 % is not idle without a start");
}

#[test]
fn a_start_decides_anew() {
    let mut b = Bench::new(None);
    b.hold(7_000, 10).hold(10_000, 100);
    assert_eq!(b.power(), Some(7_000), "no start");
    b.start().hold(10_000, 40).hold(30_000, 5).hold(10_000, 40);
    assert_eq!(b.power(), Some(7_000), "eight even seconds and again eight");
    b.start().hold(10_000, 50);
    assert_eq!(b.power(), Some(10_000));
    b.hold(8_000, 10);
    assert_eq!(b.power(), Some(8_000), "the grease gets warm");
    b.start().hold(30_000, 301).hold(10_000, 100);
    assert_eq!(b.power(), Some(8_000), "a minute later it may be material");
}

#[test]
fn a_setting_wins() {
    let mut b = Bench::new(Some(6_700));
    b.hold(6_000, 100).start().hold(9_000, 100);
    assert_eq!(b.power(), Some(6_700));
    assert_eq!(b.idle.mean(b.running), b.idle.power());
    assert!(b.idle.spread().is_some(), "its readings still tell how well it repeats");
}

/// JCGM 100:2008, 4.4.3 and table 1 (from memory): twenty temperatures, s = 1.489. Taken here as tens of watts.
#[test]
fn the_guides_twenty_readings() {
    const TABLE: [i64; 20] = [
        9_690, 9_818, 9_825, 9_861, 9_903, 9_949, 9_956, 9_974, 9_989, 10_007, 10_033, 10_042, 10_068, 10_095, 10_111,
        10_120, 10_157, 10_184, 10_236, 10_272,
    ];
    let mut b = Bench::new(None);
    for (n, reading) in TABLE.into_iter().enumerate() {
        assert_eq!(b.idle.spread().is_some(), n >= usize::from(LEAST));
        b.hold(reading, 10);
        b.idle.cut();
    }
    let spread = b.idle.spread().unwrap().to_bits() as f64 / 65_536.0;
    assert!((spread - 148.9).abs() < 0.2, "{spread}");
}

/// Own arithmetic: 600 readings of 7000 W and 19 400 of 7030 W deviate by 30 x sqrt(600 x 19 400) / 20 000 = 5.118 W.
#[test]
fn a_small_rise_after_a_long_time_is_no_large_spread() {
    let mut b = Bench::new(Some(7_000));
    b.hold(7_000, 6_000).hold(7_030, 194_000);
    let spread = b.idle.spread().unwrap().to_bits() as f64 / 65_536.0;
    assert!((spread - 5.118).abs() < 0.07, "{spread}");
}

proptest! {
    #[test]
    fn any_windows_leave_a_possible_idle_power(
        windows in prop::collection::vec((any::<i64>(), any::<u64>(), any::<u64>(), any::<u8>()), 1..200),
    ) {
        let mut b = Bench::new(None);
        for (power, now, running, what) in windows {
            if what < 20 {
                b.idle.ran_up(Instant(now));
            }
            for _ in 0..what % 64 {
                let power = if what & 128 == 0 { power } else { power.rem_euclid(2 * b.c.motor.rated_power.to_bits()) };
                b.idle.window(&b.c, Instant(now), Watts::from_bits(power), what != 77, Span(running));
            }
            let half = b.c.motor.rated_power.to_bits() / 2;
            prop_assert!(b.idle.power().is_none_or(|w| (1..=half).contains(&w.to_bits())));
            prop_assert!(b.idle.mean(Span(running)).is_none_or(|w| (0..=half).contains(&w.to_bits())));
        }
    }
}
