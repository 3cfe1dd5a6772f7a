//! The elements at their edges: what is exactly at a limit, and each condition alone. The limits are the settings'; that a limit itself is not
//! beyond it is our own rule.

mod wedge;

use super::*;
use crate::math::scale::Scale;
use crate::settings::{Settings, ThermalCoefficients};
use crate::unit::{Amps, Volts};

const RATED_A: i32 = 96;

fn coefficients() -> TripCoefficients {
    Settings::example().build().unwrap().judge.trips
}

fn amps(a: i32) -> SquareAmps {
    SquareAmps::of(Amps::from_bits(a << 17))
}

/// A sound half cycle of the example's motor at work.
fn sound() -> HalfCycle {
    HalfCycle {
        active: Watts::from_bits(40_000 << 16),
        voltage: [SquareVolts::of(Volts::from_bits(231 << 16)); 3],
        current: [amps(RATED_A); 3],
        voltage_positive: Volts::from_bits(231 << 16),
        current_positive: Amps::from_bits(RATED_A << 17),
        ..HalfCycle::default()
    }
}

fn view(half: &HalfCycle) -> View<'_> {
    View {
        now: Instant(0),
        length: Span(40 << 16),
        half,
        state: State::Breaking,
        onset: None,
        flows: true,
        lives: true,
        voltages: 0b111,
        largest: half.current.into_iter().max().unwrap(),
        lowest: half.voltage.into_iter().min().unwrap(),
        highest: half.voltage.into_iter().max().unwrap(),
        unbalance: Some(Ratio::ZERO),
        shaft: Watts::from_bits(38_000 << 16),
        speed: None,
        gaining: false,
        at_speed: true,
        idle: None,
    }
}

#[test]
fn no_sequence_is_judged_at_the_floor() {
    let c = coefficients();
    let element = c.phase_loss.unwrap();
    let half = sound();
    let at = |largest, unbalance| phase_loss::level(&element, c.floor, &View { largest, unbalance, ..view(&half) });
    let beyond = Some(Ratio::from_bits(element.pickup.to_bits() + 1));
    assert_eq!(at(c.floor, beyond), Level::Short);
    assert_eq!(at(SquareAmps(c.floor.0 + 1), beyond), Level::Beyond);
    assert_eq!(at(SquareAmps(c.floor.0 + 1), Some(element.pickup)), Level::Between);
    assert_eq!(at(SquareAmps(c.floor.0 + 1), None), Level::Short);
}

#[test]
fn reversal_is_more_than_twice_and_needs_something_to_look_at() {
    let volts = |positive: i32, negative: i32| HalfCycle {
        voltage_positive: Volts::from_bits(positive),
        voltage_negative: Volts::from_bits(negative),
        ..sound()
    };
    assert!(!phase_reversal::voltages(&volts(100 << 16, 200 << 16)), "twice as much is not more");
    assert!(phase_reversal::voltages(&volts(100 << 16, (200 << 16) + 2)));
    let currents =
        HalfCycle { current_negative: Amps::from_bits(RATED_A << 17), current_positive: Amps::ZERO, ..volts(0, 0) };
    let level = |lives, flows| phase_reversal::level(&View { flows, lives, ..view(&currents) });
    assert_eq!(level(false, true), Level::Beyond, "without a voltage the currents tell it");
    assert_eq!(level(false, false), Level::Short, "while they flow");
    assert_eq!(level(true, true), Level::Short, "with a voltage it alone does");
}

#[test]
fn what_cannot_be() {
    let c = coefficients();
    let level = |half: HalfCycle, state| {
        let view = View { state, ..view(&half) };
        sensor_fault::level(&c, &view, sensor_fault::missing(&c, &view) || sensor_fault::blind(&c, &view))
    };
    let volts = |square| HalfCycle {
        voltage: [SquareVolts::of(Volts::from_bits(231 << 16)), square, SquareVolts::of(Volts::from_bits(231 << 16))],
        ..sound()
    };
    assert_eq!(level(volts(c.voltage_most), State::Breaking), Level::Short);
    assert_eq!(level(volts(SquareVolts(c.voltage_most.0 + 1)), State::Breaking), Level::Beyond);
    let power = |bits| HalfCycle { active: Watts::from_bits(bits), ..sound() };
    let tenth = c.backwards.to_bits();
    for (bits, state, wanted) in [
        (-tenth, State::Breaking, Level::Short),
        (-tenth - 1, State::Breaking, Level::Beyond),
        (-tenth - 1, State::Starting, Level::Short),
        (0, State::Idle, Level::Short),
        (tenth - 1, State::Idle, Level::Short),
    ] {
        assert_eq!(level(power(bits), state), wanted, "{bits} {state:?}");
    }
}

#[test]
fn a_voltage_is_missing_or_stuck() {
    let c = coefficients();
    let half = |still, lowest: i32| {
        let volts = |v: i32| SquareVolts::of(Volts::from_bits(v));
        HalfCycle { still, voltage: [volts(230 << 16), volts(lowest), volts(230 << 16)], ..sound() }
    };
    let blind = |half: HalfCycle, change: fn(View<'_>) -> View<'_>| sensor_fault::blind(&c, &change(view(&half)));
    assert!(!blind(half(0, 230 << 16), |v| v));
    for bit in 0..3 {
        assert!(blind(half(1 << bit, 230 << 16), |v| v), "channel {bit} is stuck");
        assert!(!blind(half(8 << bit, 230 << 16), |v| v), "a current is none");
    }
    // A tenth of the largest: 23 V.
    assert!(!blind(half(0, 23 << 16), |v| v));
    assert!(blind(half(0, (23 << 16) - 1), |v| v));
    // All of them, or none that lives: only while the motor takes more current than the floor.
    for still in [0b111, 0] {
        let lives = still != 0;
        let all = |change: fn(View<'_>) -> View<'_>| {
            let half = half(still, 230 << 16);
            let all = View { lives, ..view(&half) };
            sensor_fault::blind(&c, &change(all))
        };
        assert!(all(|v| v));
        assert!(!all(|v| View { flows: false, ..v }));
        assert!(!all(|v| View { largest: coefficients().floor, ..v }));
        assert!(all(|v| View { largest: SquareAmps(coefficients().floor.0 + 1), ..v }));
    }
    // Where the wiring has no voltage, or two: those that it has.
    let none = half(0, 230 << 16);
    assert!(!sensor_fault::blind(&c, &View { voltages: 0, lives: false, ..view(&none) }));
    let two = half(0b011, 230 << 16);
    assert!(!sensor_fault::blind(&c, &View { voltages: 0b011, flows: false, ..view(&two) }));
}

#[test]
fn a_current_is_missing_or_stuck() {
    let c = coefficients();
    // Q24: 0.3 and 0.7.
    let between = [5_033_166, 8_388_608, 11_744_050];
    let outside = [5_033_165, 11_744_051, 0];
    let half =
        |still, first: SquareAmps| HalfCycle { still, current: [first, amps(RATED_A), amps(RATED_A)], ..sound() };
    let missing = |half: HalfCycle, ratio: Option<i32>, flows: bool| {
        sensor_fault::missing(&c, &View { unbalance: ratio.map(Ratio::from_bits), flows, ..view(&half) })
    };
    let hundredth = amps(RATED_A).0 / 100;
    for ratio in between {
        for bit in [8, 16, 32] {
            assert!(missing(half(bit, amps(RATED_A)), Some(ratio), true), "{bit} {ratio}");
        }
        assert!(missing(half(0, SquareAmps(hundredth - 1)), Some(ratio), true));
        assert!(!missing(half(0, SquareAmps(hundredth)), Some(ratio), true), "a tenth is not below it");
        assert!(!missing(half(0, amps(RATED_A)), Some(ratio), true), "neither stuck nor small");
        assert!(!missing(half(1, amps(RATED_A)), Some(ratio), true), "a voltage is none");
        assert!(!missing(half(8, amps(RATED_A)), Some(ratio), false), "at rest all are still");
    }
    for ratio in outside.map(Some).into_iter().chain([None]) {
        assert!(!missing(half(8, SquareAmps(0)), ratio, true), "{ratio:?}: a lost line, or none");
    }
    let small = HalfCycle { still: 8, current: [SquareAmps(0), c.floor, c.floor], ..sound() };
    assert!(!missing(small, Some(between[1]), true), "at the floor nothing is judged");
}

/// Half of 8 kW, and a drop-out at 60 % of it: at speed only, and while the motor runs.
#[test]
fn underload_is_judged_at_speed() {
    let (pickup, dropout) = (Ratio::from_bits(1 << 23), Ratio::from_bits(10_066_330));
    let c = ElementCoefficients { pickup, dropout, delay: Span::ZERO, action: Action::Trip };
    let half = sound();
    let idle = Some(Watts::from_bits(8_000 << 16));
    let level = |shaft, change: fn(View<'_>) -> View<'_>| {
        underload::level(&c, &change(View { idle, shaft: Watts::from_bits(shaft), ..view(&half) }))
    };
    let pickup = 4_000 << 16;
    assert_eq!([level(pickup - 1, |v| v), level(pickup, |v| v)], [Level::Beyond, Level::Between]);
    assert_eq!([level(4_799 << 16, |v| v), level(4_801 << 16, |v| v)], [Level::Between, Level::Short]);
    assert_eq!(level(0, |v| View { at_speed: false, ..v }), Level::Short, "not at speed");
    assert_eq!(level(0, |v| View { state: State::Starting, ..v }), Level::Short);
    assert_eq!(level(0, |v| View { idle: None, ..v }), Level::Short);
}

#[test]
fn long_starts_at_the_last_moment() {
    let c = coefficients().long_start.unwrap();
    let half = sound();
    let level = |since: u64, gaining| {
        let now = Instant(since + 7);
        long_start::level(&c, &View { now, onset: Some(Instant(7)), gaining, ..view(&half) })
    };
    assert_eq!([level(c.delay.0 - 1, false), level(c.delay.0, false)], [Level::Short, Level::Beyond]);
    assert_eq!(long_start::level(&c, &view(&half)), Level::Short, "no start");
}

#[test]
fn timers_at_their_edges() {
    let delay = Span(100);
    for action in [Action::Trip, Action::FeedStop, Action::Warning] {
        let mut timer = Timer::default();
        let mut at = |now, level| timer.update(Instant(now), level, delay, action);
        assert_eq!(at(10, Level::Between), None, "between it does not pick up");
        assert_eq!(at(20, Level::Beyond), None);
        assert_eq!(at(60, Level::Between), None, "but stays so");
        assert_eq!(at(119, Level::Beyond), None);
        assert_eq!(at(120, Level::Beyond), Some(Turn::Given));
        assert_eq!(at(130, Level::Between), None);
        let ended = at(140, Level::Short);
        assert_eq!(ended, if action == Action::Trip { None } else { Some(Turn::Ended) });
        assert_eq!(at(150, Level::Short), None, "each once");
    }
    assert_eq!(Level::above(&5, &5, &4), Level::Between);
    assert_eq!(Level::above(&4, &5, &4), Level::Between);
    assert_eq!(Level::above(&3, &5, &4), Level::Short);
    assert_eq!(Level::below(&5, &5, &6), Level::Between);
    assert_eq!(Level::below(&6, &5, &6), Level::Between);
    assert_eq!(Level::below(&7, &5, &6), Level::Short);
}

/// A level that follows at once: the current's own, of which a half stays below k Ib. A square of 2^32 is k Ib's.
#[test]
fn k_base_itself_may_stay() {
    let one = Scale::from_q(1, 0);
    let c = ThermalCoefficients { level: one, heating: one, ..coefficients().thermal.unwrap() };
    let half = sound();
    let at = |running, square| {
        let c = ThermalCoefficients { running, ..c };
        let mut image = Image::new(&c);
        let level = image.update(&c, &View { largest: SquareAmps(square), ..view(&half) });
        (level, image.q32(), image.time_to_trip(&c).is_some())
    };
    let trip = 1 << 32;
    assert_eq!(at(Scale::from_q(1, 1), trip), (Level::Short, 1 << 31, false), "as a load that may stay");
    assert_eq!(at(Scale::from_q(1, 1), trip + 1), (Level::Beyond, trip as i64 + 1, true));
    assert_eq!(at(one, trip), (Level::Beyond, trip as i64, false), "the trip level is reached; nothing is above it");
}

#[test]
fn a_level_saturates_where_its_ratio_ends() {
    let c = coefficients().thermal.unwrap();
    let level = |initial| Image::new(&ThermalCoefficients { initial, ..c }).level();
    assert_eq!(level((128 << 32) - 256), Ratio::from_bits(i32::MAX));
    assert_eq!(level((128 << 32) - 512), Ratio::from_bits(i32::MAX - 1));
    assert_eq!(level(128 << 32), Ratio::from_bits(i32::MAX));
}
