//! From volts and amperes at the mill to what the core reads: the whole chain, in `f64`, against the settings.
//!
//! Filter and converters as they are meant to be: 12 bits without noise, an offset of half a step (codes are rounded down), both channels
//! of a converter one after the other. Parts of the bin, noise and temperature are not in it.

use shaftwork_core::settings::CHANNELS;
use shaftwork_core::{BLOCK, Frame, Monitor, Settings};

use crate::{front, settings, timing};

const HZ: f64 = 50.0;
/// A third of a turn.
const THIRD: f64 = core::f64::consts::TAU / 3.0;

/// What comes out of the filter for a sine of amplitude 1: gain, and lag in rad.
fn filtered() -> (f64, f64) {
    let (ohm, feedback, ground) = (
        f64::from(front::FILTER_OHM),
        f64::from(front::FILTER_FEEDBACK_PF) * 1e-12,
        f64::from(front::FILTER_GROUND_PF) * 1e-12,
    );
    // 1 / (1 + 2 s R C2 + s² R² C1 C2), C2 to ground.
    let w = core::f64::consts::TAU * HZ;
    let (re, im) = (1.0 - w * w * ohm * ohm * feedback * ground, 2.0 * w * ohm * ground);
    (1.0 / re.hypot(im), im.atan2(re))
}

/// The code for a sine of `peak` volts at the converter, `phase` at time zero, whose conversions begin at `from`.
fn sampled(peak: f64, phase: f64, from: f64, power: u8) -> i32 {
    let conversion = f64::from(timing::CONVERSION_CYCLES) / f64::from(timing::CONVERTER_HZ);
    let reference = f64::from(front::REFERENCE_MV) * 1e-3;
    let (gain, lag) = filtered();
    let sum: u32 = (0..1_u32 << power)
        .map(|k| {
            let time = from + f64::from(k) * conversion;
            let volts = reference / 2.0 + peak * gain * (core::f64::consts::TAU * HZ * time + phase - lag).sin();
            (volts / reference * 4_096.0).clamp(0.0, 4_095.0) as u32
        })
        .sum();
    timing::code((sum >> (power - 4)) as u16)
}

/// The last interval of a second at these line-to-neutral volts and amperes, rms, the current lagging by `lag`.
fn metered(rate: u32, volts: f64, amps: f64, lag: f64) -> shaftwork_core::record::Window {
    let own = Settings { sampling: settings::sampling(rate * 1_000), ..settings::example() };
    let mut monitor = Monitor::new(&own).unwrap();
    let (power, later) = (timing::oversampling(rate * 1_000), f64::from(timing::adds_up_ns(rate * 1_000)) * 1e-9);
    let divider = f64::from(front::DIVIDER_FOOT_OHM) / f64::from(front::DIVIDER_HEAD_OHM + front::DIVIDER_FOOT_OHM);
    let burden = f64::from(front::BURDEN_RESISTOR_MOHM) * 1e-3 / f64::from(front::BURDEN_RESISTORS);
    let transformer = burden / f64::from(front::TRANSFORMER_RATIO) / f64::from(front::LEVEL_SHIFT);
    let root2 = core::f64::consts::SQRT_2;
    let (mut last, mut block) = (None, [Frame([0; CHANNELS]); BLOCK]);
    for n in 0..rate {
        let begins = f64::from(n) / f64::from(rate);
        let frame = core::array::from_fn(|channel| {
            let phase = channel % 3;
            let from = if phase == 1 { begins + later } else { begins };
            let angle = [0.0, -THIRD, -2.0 * THIRD][phase];
            if channel < 3 {
                sampled(volts * root2 * divider, angle, from, power)
            } else {
                sampled(amps * root2 * transformer, angle - lag, from, power)
            }
        });
        block[n as usize % BLOCK] = Frame(frame);
        if n as usize % BLOCK == BLOCK - 1 {
            monitor.ingest(&block);
            last = monitor.take_interval().map(|interval| interval.window).or(last);
        }
    }
    last.unwrap()
}

/// Rated current, and that of a motor that turns empty: how far the core's figures are off, and that phase B, which is sampled
/// later, is no unbalance.
#[test]
fn the_core_reads_what_is_at_the_mill() {
    for rate in [4_000, 8_000, 16_000] {
        for (amps, lag, limits) in [(96.5, 0.54_f64, [0.02, 0.04, 0.05]), (35.0, 1.37, [0.02, 0.07, 0.05])] {
            let window = metered(rate, 230.0, amps, lag);
            let off = |read: f64, truth: f64| (read / truth - 1.0) * 100.0;
            let volts = window.voltage.map(|volts| off(f64::from(volts.to_bits()) / 65_536.0, 230.0));
            let current = window.current.map(|amps_| off(f64::from(amps_.to_bits()) / 131_072.0, amps));
            // In whole watts, of 4.8 kW and more.
            let active = off(f64::from((window.active.to_bits() >> 16) as i32), 3.0 * 230.0 * amps * lag.cos());
            let unbalance = [window.voltage_unbalance, window.current_unbalance]
                .map(|ratio| ratio.map_or(f64::NAN, |ratio| f64::from(ratio.to_bits()) / f64::from(1 << 24)) * 100.0);
            println!(
                "{rate} Hz, {amps} A: V {volts:.3?} %, I {current:.3?} %, P {active:.3} %, unbalances {unbalance:.3?} %"
            );
            assert!(volts.iter().all(|off| off.abs() < limits[0]), "{volts:?}");
            assert!(current.iter().all(|off| off.abs() < limits[1]), "{current:?}");
            assert!(active.abs() < limits[2], "{active}");
            assert!(unbalance.iter().all(|off| off.abs() < 0.05), "{unbalance:?}");
            assert_eq!(window.clipped, 0);
        }
    }
}
