//! Windings' currents and line currents of one waveform, through two meters.

extern crate std;

use crate::frame::{BLOCK, Frame};
use crate::meter::Meter;
use crate::record::HalfCycle;
use crate::settings::{CurrentTap, Settings, Wiring};
use core::f64::consts::{SQRT_2, TAU};
use proptest::prelude::*;
use std::vec::Vec;

const AMPS: f64 = 1400.0;
const VOLTS: f64 = 800.0;
/// Peak of 400 V line to line, to neutral.
const PEAK: f64 = 326.6;
const THIRD: f64 = TAU / 3.0;

/// The currents of three windings: their fundamentals (A, rad), a fifth harmonic of each and a third that runs round.
#[derive(Debug, Clone, Copy)]
struct Windings {
    fundamental: [(f64, f64); 3],
    fifth: f64,
    round: f64,
}

impl Windings {
    fn at(&self, angle: f64) -> [f64; 3] {
        core::array::from_fn(|k| {
            let (amps, lag) = self.fundamental[k];
            let own = angle - THIRD * k as f64;
            amps * (own - lag).cos() + self.fifth * (5.0 * own).cos() + self.round * (3.0 * angle).cos()
        })
    }
}

/// Line currents of windings, by Kirchhoff's first law at the terminals.
fn lines(tap: CurrentTap, star: bool, [x, y, z]: [f64; 3]) -> [f64; 3] {
    match tap {
        CurrentTap::DeltaAb if !star => [x - z, y - x, z - y],
        CurrentTap::DeltaAc if !star => [x - y, y - z, z - x],
        _ => [x, y, z],
    }
}

/// Half a second of what a meter makes of three currents beside a clean supply of 400 V; the first two cycles left out.
fn metered(settings: &Settings, star: bool, currents: impl Fn(f64) -> [f64; 3]) -> Vec<HalfCycle> {
    let c = settings.build().unwrap().meter;
    let (s, full) = (&settings.sampling, f64::from(c.full_code));
    let mut meter = Meter::new(&c);
    meter.in_star(star);
    let mut halves = Vec::new();
    for block in 0..250 {
        let frames: [Frame; BLOCK] = core::array::from_fn(|f| {
            let angle = TAU * 50.0 * (block * BLOCK + f) as f64 / 4000.0;
            let i = currents(angle);
            Frame(core::array::from_fn(|k| {
                let volts = PEAK * (angle - THIRD * k as f64).cos();
                let share = if k < 3 { volts / VOLTS } else { i[k - 3] / AMPS };
                let gain = f64::from(s.gain_ppm[k]) / 1e6;
                (share / gain * full + f64::from(s.offset_q8[k]) / 256.0).round() as i32
            }))
        });
        meter.ingest(&c, &frames);
        halves.extend(meter.take_half_cycle());
    }
    halves.split_off(4)
}

fn settings(tap: CurrentTap, bits: u8) -> Settings {
    let mut settings = Settings::example();
    settings.sampling.bits = bits;
    settings.sampling.current_full_scale_ma = 1_400_000;
    settings.sampling.voltage_full_scale_mv = 800_000;
    settings.sampling.current_tap = tap;
    settings
}

fn amps(x: crate::unit::Amps) -> f64 {
    f64::from(x.to_bits()) / 131_072.0
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Whatever flows in the windings, with gains and offsets of their own: the records are those of a meter in the lines,
    /// within two counts of the windings' converter.
    #[test]
    fn windings_read_as_lines(
        peaks in prop::array::uniform3(0.0..200.0_f64),
        lags in prop::array::uniform3(-3.0..3.0_f64),
        (fifth, round) in (0.0..30.0_f64, 0.0..60.0_f64),
        gains in prop::array::uniform3(prop_oneof![600_000..1_400_000_i32, -1_400_000..-600_000_i32]),
        offsets in prop::array::uniform3(-2000..2000_i32),
        bits in 14..=24_u8,
        forward: bool,
        star: bool,
    ) {
        let windings = Windings { fundamental: core::array::from_fn(|k| (peaks[k], lags[k])), fifth, round };
        let tap = if forward { CurrentTap::DeltaAb } else { CurrentTap::DeltaAc };
        let mut inside = settings(tap, bits);
        inside.sampling.gain_ppm[3..].copy_from_slice(&gains);
        inside.sampling.offset_q8[3..].copy_from_slice(&offsets);
        let found = metered(&inside, star, |angle| windings.at(angle));
        // The voltages have the same width, so that nothing but the currents differs.
        let same = settings(CurrentTap::Line, bits);
        let wanted = metered(&same, star, |angle| lines(tap, star, windings.at(angle)));
        prop_assert_eq!(found.len(), wanted.len());
        let count = 2.0 * 1.4 * AMPS / f64::from((1_i32 << (bits - 1)) - 1) + 1e-3;
        for (found, wanted) in found.iter().zip(&wanted) {
            for k in 0..3 {
                let (a, b) = (amps(found.current[k].root()), amps(wanted.current[k].root()));
                prop_assert!((a - b).abs() < count, "line {}: {} A for {}", k, a, b);
            }
            let sequences = |half: &HalfCycle| [half.current_positive, half.current_negative].map(amps);
            for (a, b) in sequences(found).into_iter().zip(sequences(wanted)) {
                prop_assert!((a - b).abs() < count, "sequence {} A for {}", a, b);
            }
            let watts = |bits: i64| bits as f64 / 65_536.0;
            let most = 3.0 * PEAK * count;
            for (a, b) in [(found.active, wanted.active), (found.reactive, wanted.reactive)] {
                let (a, b) = (watts(a.to_bits()), watts(b.to_bits()));
                prop_assert!((a - b).abs() < most, "{} W or var for {}", a, b);
            }
            let joules = |half: &HalfCycle| half.energy.to_bits() as f64 / 1_048_576.0;
            let (a, b) = (joules(found), joules(wanted));
            prop_assert!((a - b).abs() < most * 0.01, "{} J for {}", a, b);
        }
    }

    /// Any codes at all: nothing overflows, whatever the width.
    #[test]
    fn any_codes(
        codes in prop::array::uniform6(any::<i32>()),
        bits in 12..=24_u8,
        gain in 1..=100_000_000_i32,
        offset: i32,
        star: bool,
    ) {
        let mut inside = settings(CurrentTap::DeltaAc, bits);
        inside.supply.wiring = Wiring::ThreeWire;
        let most = (((1 << (bits - 1)) - 1) / 4) << 8;
        inside.sampling.gain_ppm[3..].copy_from_slice(&[gain, -gain, 1]);
        inside.sampling.offset_q8[3..].fill(offset.clamp(-most, most));
        let c = inside.build().unwrap().meter;
        let mut meter = Meter::new(&c);
        meter.in_star(star);
        let mut halves = 0;
        for n in 0..40 {
            meter.ingest(&c, &[Frame(codes.map(|x| if n % 3 == 0 { x } else { x.wrapping_neg() })); BLOCK]);
            halves += u32::from(meter.take_half_cycle().is_some());
        }
        prop_assert!(halves > 0);
    }
}

/// A line that is lost: windings 1 : 1 : 2 are lines 0 : 1 : 1, negative over positive sequence is one. An open winding: lines
/// 1 : 1 : root of three, and a half (symmetrical components, own arithmetic).
#[test]
fn a_lost_line_and_an_open_winding() {
    let peak = 100.0 * SQRT_2;
    let ab = settings(CurrentTap::DeltaAb, 16);
    // Line A lost: BC has two thirds of what flows from B to C, the other two in series the rest.
    let lost = metered(&ab, false, |angle| [-1.0, 2.0, -1.0].map(|share| share / 3.0 * peak * angle.cos()));
    let open = metered(&ab, false, |angle| [0.0, peak * (angle - THIRD).cos(), peak * (angle + THIRD).cos()]);
    for (halves, wanted, ratio) in [(lost, [0.0, 100.0, 100.0], 1.0), (open, [100.0, 100.0, 100.0 * 3f64.sqrt()], 0.5)]
    {
        let half = halves.last().unwrap();
        let found = half.current.map(|square| amps(square.root()));
        for (found, wanted) in found.into_iter().zip(wanted) {
            assert!((found - wanted).abs() < 0.05, "{found} A for {wanted}");
        }
        let found = amps(half.current_negative) / amps(half.current_positive);
        assert!((found - ratio).abs() < 1e-3, "unbalance {found} for {ratio}");
    }
}

/// Leads that differ by 0.2 degrees from their mean, which is undone: power of unlike windings errs by less than that times their apparent
/// power, that of like ones not at all; negative sequence by less than that of the current.
#[test]
fn leads_that_differ_leave_little() {
    let spread = 0.2_f64.to_radians();
    let mean = 0.5_f64.to_radians();
    let leads = [mean - spread, mean, mean + spread];
    for (unlike, most) in [(0.0, 1e-5), (0.3, 0.3 * spread)] {
        let peaks = [100.0 * (1.0 + unlike), 100.0, 100.0 * (1.0 - unlike)];
        let windings = |lead: [f64; 3]| Windings {
            fundamental: core::array::from_fn(|k| (peaks[k], 0.8 - TAU / 12.0 - lead[k])),
            fifth: 0.0,
            round: 0.0,
        };
        let mut inside = settings(CurrentTap::DeltaAb, 24);
        inside.sampling.lead_urad = leads.map(|lead| (lead * 1e6).round() as i32);
        let found = metered(&inside, false, |angle| windings(leads).at(angle));
        let line = settings(CurrentTap::Line, 24);
        let wanted = metered(&line, false, |angle| lines(CurrentTap::DeltaAb, false, windings([0.0; 3]).at(angle)));
        let (found, wanted) = (found.last().unwrap(), wanted.last().unwrap());
        let watts = |half: &HalfCycle| half.active.to_bits() as f64 / 65_536.0;
        // 400 V times a winding's current, three times.
        let apparent = 3.0 * 400.0 * 100.0 / SQRT_2;
        let off = (watts(found) - watts(wanted)).abs() / apparent;
        assert!(off < most, "{off} of apparent power with windings unlike by {unlike}");
        let negative = (amps(found.current_negative) - amps(wanted.current_negative)).abs();
        assert!(negative < spread * amps(wanted.current_positive), "{negative} A");
    }
}
