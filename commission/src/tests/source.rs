//! Samples against sines of `f64`.

use super::*;
use core::f64::consts::{SQRT_2, TAU};

/// rms and degrees of phase k.
type Polar = [(f64, f64); 3];

fn vector((milli, degrees): (f64, f64)) -> Vector {
    Vector::milli(milli.round() as u32, (degrees.rem_euclid(360.0) / 360.0 * 4_294_967_296.0) as u32)
}

/// The largest distance of a sample from the sine, in codes, over two seconds.
fn worst(s: &Settings, volts: Polar, amps: Polar) -> f64 {
    let hertz = f64::from(s.supply.nominal.hertz());
    let mut source = Source::new(s);
    source.set(&State { volts: volts.map(vector), amps: amps.map(vector), dead: None }).unwrap();
    let rate = f64::from(s.sampling.rate_mhz) / 1e3;
    // Frequency is nominal but for what is rounded down of 2^-32 turn a frame.
    let hertz = (hertz / rate * 4_294_967_296.0).floor() / 4_294_967_296.0 * rate;
    let full = f64::from((1 << (s.sampling.bits - 1)) - 1);
    let mut worst = 0_f64;
    for n in 0..(2.0 * rate) as usize / BLOCK {
        for (f, frame) in source.block().iter().enumerate() {
            let begin = (n * BLOCK + f) as f64 / rate;
            for (k, code) in frame.0.iter().enumerate() {
                let lead = if k < 3 { 0.0 } else { f64::from(s.sampling.lead_urad[k - 3]) * 1e-6 };
                let angle = TAU * hertz * (begin + f64::from(s.sampling.skew_ns[k]) * 1e-9) + lead;
                let at = |(rms, degrees): (f64, f64)| SQRT_2 * rms * (angle + f64::to_radians(degrees)).cos();
                let ([a, b, c], [x, y, z]) = (volts.map(at), amps.map(at));
                let value = match (s.supply.wiring, k) {
                    (Wiring::FourWire, 0..3) => [a, b, c][k],
                    (Wiring::ThreeWire, 0..3) => [a - b, b - c, c - a][k],
                    (Wiring::TwoElement, 0..3) => [a - b, c - b, 0.0][k],
                    (Wiring::CurrentsOnly, 0..3) => 0.0,
                    _ => match (s.sampling.current_tap, s.supply.wiring) {
                        // Windings whose lines are these: iab - ica is ia.
                        (CurrentTap::DeltaAb, _) => [(x - y) / 3.0, (y - z) / 3.0, (z - x) / 3.0][k - 3],
                        (CurrentTap::DeltaAc, _) => [(x - z) / 3.0, (y - x) / 3.0, (z - y) / 3.0][k - 3],
                        (CurrentTap::Line, Wiring::TwoElement) => [x, 0.0, z][k - 3],
                        (CurrentTap::Line, _) => [x, y, z][k - 3],
                    },
                };
                let scale = if k < 3 { s.sampling.voltage_full_scale_mv } else { s.sampling.current_full_scale_ma };
                let gain = f64::from(s.sampling.gain_ppm[k]) * 1e-6;
                let offset = f64::from(s.sampling.offset_q8[k]) / 256.0;
                let wanted = value * full / f64::from(scale) / gain + offset;
                worst = worst.max((f64::from(*code) - wanted).abs());
            }
        }
    }
    worst
}

#[test]
fn samples_are_sines_within_the_bound_that_is_stated() {
    let volts = [(230_940.0, 0.0), (225_000.0, 238.0), (236_000.0, 121.0)];
    let amps = [(96_500.0, -31.0), (96_500.0, -151.0), (96_500.0, 89.0)];
    for (bits, bound) in [(12, 0.52), (16, 0.52), (24, 0.5 + 0.01 + 3.0 * 0.2 + 3e-8 * 8.4e6)] {
        for wiring in [Wiring::FourWire, Wiring::ThreeWire, Wiring::TwoElement, Wiring::CurrentsOnly] {
            for tap in [CurrentTap::Line, CurrentTap::DeltaAb, CurrentTap::DeltaAc] {
                let mut s = Settings::example();
                (s.supply.wiring, s.sampling.current_tap, s.sampling.bits) = (wiring, tap, bits);
                s.sampling.skew_ns = [0, 3_000, -7_000, 20_000, 20_000, 120_000];
                s.sampling.lead_urad = [900, -40_000, 0];
                s.sampling.gain_ppm = [1_000_000, -1_010_000, 990_000, 1_000_000, 1_002_000, -970_000];
                s.sampling.offset_q8 = [0, 300, -1_000, 77, 2_560, -3];
                let off = worst(&s, volts, amps);
                assert!(off < bound, "{bits} bits, {wiring:?}, {tap:?}: {off} codes");
            }
        }
    }
}

#[test]
fn sixty_hertz_at_the_ends_of_the_rate() {
    for rate_mhz in [2_000_000, 15_999_999] {
        let mut s = Settings::example();
        (s.sampling.rate_mhz, s.supply.nominal) = (rate_mhz, Nominal::Hz60);
        let off = worst(&s, [(200_000.0, 10.0); 3], [(50_000.0, 0.0); 3]);
        assert!(off < 0.52, "{rate_mhz}: {off}");
    }
}

#[test]
fn what_the_converter_cannot_show_is_refused() {
    let s = Settings::example();
    let state = |ma| State { amps: phases(Vector::milli(ma, 0), Vector::ZERO, Vector::ZERO), ..State::default() };
    let mut source = Source::new(&s);
    // 1 400 A peak are 989.9 A rms.
    assert!(source.set(&state(989_800)).is_ok());
    assert!(source.set(&state(990_000)).is_err());
    let codes: Vec<i32> = (0..500).flat_map(|_| source.block()).map(|frame| frame.0[3]).collect();
    assert!(codes.iter().max().unwrap() < &32_767, "what was shown before stays, and clips nothing");
    assert!(codes.iter().max().unwrap() > &32_700);
}
