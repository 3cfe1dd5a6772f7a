//! Relations that physics demands, over random settings and waveforms; and that nothing panics.

use proptest::prelude::*;
use shaftwork_acceptance::Bench;
use shaftwork_acceptance::figures::{Figure, near};
use shaftwork_acceptance::wave::{Wave, three_wire, two_element};
use shaftwork_core::settings::{Action, Element, Nominal, Settings, StartsPerHour, Trips, Watch, Wedge, Wiring};
use shaftwork_core::time::Span;
use shaftwork_core::{BLOCK, Frame, Monitor, Totals, Window};

fn wirings() -> impl Strategy<Value = Wiring> {
    prop_oneof![Just(Wiring::FourWire), Just(Wiring::ThreeWire), Just(Wiring::TwoElement)]
}

fn actions() -> impl Strategy<Value = Action> {
    prop_oneof![Just(Action::Trip), Just(Action::FeedStop), Just(Action::Warning)]
}

/// An element with a pick-up within bounds, at once or later, or none.
fn element(least_ppm: u32, most_ppm: u32) -> impl Strategy<Value = Option<Element>> {
    let pickup = prop_oneof![Just(least_ppm), Just(most_ppm), least_ppm..=most_ppm];
    let some = (pickup, 0u32..=200, actions());
    prop::option::of(some.prop_map(|(pickup_ppm, delay_ms, action)| Element { pickup_ppm, delay_ms, action }))
}

fn watch() -> impl Strategy<Value = Option<Watch>> {
    prop::option::of((0u32..=200, actions()).prop_map(|(delay_ms, action)| Watch { delay_ms, action }))
}

prop_compose! {
    /// The elements that are off unless they are given, beside those of the example.
    fn further()(
        overvoltage in element(1, 100_000_000), current_unbalance in element(1, 100_000_000),
        residual_current in element(200_000, 100_000_000), underload in element(1, 850_000),
        phase_reversal in watch(), sensor_fault in watch(),
        most in prop::option::of((1u8..=15, actions())),
        stands in prop::option::of((prop_oneof![Just(1), Just(100_000_000), 1u32..=100_000_000], 20u32..=220, actions())),
    ) -> Trips {
        Trips {
            overvoltage, current_unbalance, residual_current, underload, phase_reversal, sensor_fault,
            starts_per_hour: most.map(|(most, action)| StartsPerHour { most, action }),
            wedge: stands.map(|(pickup_ppm, window_ms, action)| Wedge { pickup_ppm, window_ms, action }),
            ..Settings::example().trips
        }
    }
}

prop_compose! {
    /// Valid settings of any kind, those at the ends of their ranges among them.
    fn settings()(
        wiring in wirings(), sixty in any::<bool>(),
        rate_mhz in prop_oneof![Just(2_000_000u32), Just(16_000_000), 2_000_000u32..=16_000_000],
        bits in 12u8..=24,
        volts in prop_oneof![Just(1u32), Just(32_000_000), 1u32..=32_000_000],
        amps in prop_oneof![Just(1u32), Just(16_000_000), 1u32..=16_000_000],
        gain in prop::array::uniform6(prop_oneof![Just(-100_000_000i32), Just(1_000_000), 1i32..=100_000_000]),
        offset in prop::array::uniform6(-511 * 256..=511 * 256i32),
        skew in prop::array::uniform6(-1_000_000..=1_000_000i32), lead in prop::array::uniform3(-200_000..=200_000i32),
        power in 50_000u64..=15_000_000_000, current in 100u32..=8_000_000, voltage in 50_000u32..=15_000_000,
        idle in prop::option::of(0u64..=200_000), inertia in prop::option::of(1u32..=100_000_000), trips in further(), circuit in prop::array::uniform5(1u32..=10_000_000),
    ) -> Settings {
        let mut s = Settings::example();
        s.supply.wiring = wiring;
        s.supply.nominal = if sixty { Nominal::Hz60 } else { Nominal::Hz50 };
        s.supply.line_voltage_mv = voltage;
        s.sampling.rate_mhz = rate_mhz;
        s.sampling.bits = bits;
        s.sampling.voltage_full_scale_mv = volts;
        s.sampling.current_full_scale_ma = amps;
        s.sampling.gain_ppm = gain;
        s.sampling.offset_q8 = offset;
        s.sampling.skew_ns = skew;
        s.sampling.lead_urad = lead;
        s.motor.rated_power_mw = power;
        s.motor.rated_current_ma = current;
        s.motor.rated_voltage_mv = voltage;
        s.mill.idle_power_mw = idle;
        s.mill.inertia_gm2 = inertia;
        s.trips = trips;
        [s.motor.stator_resistance_uohm, s.motor.stator_leakage_uohm, s.motor.magnetising_uohm,
         s.motor.rotor_resistance_uohm, s.motor.core_loss_mw] = circuit;
        s
    }
}

/// Codes of any kind: noise, both ends, beyond them, silence.
fn codes() -> impl Strategy<Value = Vec<[i32; 6]>> {
    let code = prop_oneof![
        3 => -40_000..40_000i32,
        2 => -9_000_000..9_000_000i32,
        1 => Just(i32::MIN), 1 => Just(i32::MAX), 1 => Just(0), 1 => Just(8_388_607), 1 => Just(-8_388_608),
        1 => any::<i32>()
    ];
    prop::collection::vec(prop::array::uniform6(code), 1..2_000)
}

fn drain(monitor: &mut Monitor) {
    while monitor.take_moment().is_some() {}
    monitor.take_interval();
    while monitor.pop_event().is_some() {}
}

fn feed(monitor: &mut Monitor, frames: &[Frame]) {
    let (blocks, _) = frames.as_chunks::<BLOCK>();
    for block in blocks {
        monitor.ingest(block);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    /// Any counts at all: nothing overflows (checks are on in tests), nothing panics, no frame is lost.
    #[test]
    fn any_counts(settings in settings(), codes in codes(), repeat in 1usize..4, gap in 0u64..1 << 40) {
        // Refused settings are drawn anew: two hundred get here, or it fails.
        let Ok(mut monitor) = Monitor::new(&settings) else { return Err(TestCaseError::reject("refused")) };
        let frames: Vec<Frame> = codes.iter().cycle().take(codes.len() * repeat).map(|c| Frame(*c)).collect();
        let (blocks, rest) = frames.as_chunks::<BLOCK>();
        for (n, block) in blocks.iter().enumerate() {
            if n % 7 == 3 {
                monitor.set_mass(n as u64 * 1_000_003);
            }
            monitor.ingest(block);
            if n % 3 == 0 {
                drain(&mut monitor);
            }
        }
        monitor.finish(rest);
        drain(&mut monitor);
        let time = monitor.totals().time.iter().fold(0, |sum, span| sum + span.0);
        prop_assert_eq!(time, (frames.len() as u64) << 16, "every frame belongs to a state");
        monitor.gap(Span(gap));
        monitor.ingest(&[Frame::default(); BLOCK]);
        let _ = (monitor.reset(true), monitor.reset(false), monitor.foretold());
        monitor.resume(&monitor.saved());
        drain(&mut monitor);
    }
}

/// Phase waves: voltage near nominal with unbalance and harmonics, current of any angle.
fn waves() -> impl Strategy<Value = [Wave; 6]> {
    let voltage = (200.0..260.0f64, -4.0..4.0f64, 0.0..20.0f64, -180.0..180.0f64);
    let current = (5.0..90.0f64, -89.0..89.0f64, 0.0..0.3f64, -180.0..180.0f64);
    (prop::array::uniform3(voltage), prop::array::uniform3(current)).prop_map(|(v, i)| {
        core::array::from_fn(|k| {
            let base = -120.0 * (k % 3) as f64;
            if k < 3 {
                let (rms, turn, fifth, angle) = v[k];
                Wave::new(&[(1, rms, base + turn), (5, fifth, angle)])
            } else {
                let (rms, lag, part, angle) = i[k - 3];
                Wave::new(&[(1, rms, base - lag), (7, rms * part, angle)])
            }
        })
    })
}

fn last(bench: &Bench, waves: &[Wave; 6], hertz: f64) -> Window {
    *bench.run(waves, hertz, 1.0, 0.6).last().expect("a second has five windows")
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// Against the f64 truth, in all wirings (no neutral current, so that all three hold).
    #[test]
    fn truth_in_all_wirings(waves in waves(), hertz in 43.0..57.0f64) {
        let mut phases = waves;
        phases[4] = phases[3].plus(&phases[5], 1.0).scaled(-1.0);
        // To the virtual star point, so that the phases' own powers are the same in all wirings.
        let mean = phases[0].plus(&phases[1], 1.0).plus(&phases[2], 1.0).scaled(1.0 / 3.0);
        for v in &mut phases[..3] {
            *v = v.plus(&mean, -1.0);
        }
        let p: f64 = (0..3).map(|k| phases[k].active(&phases[k + 3])).sum();
        let q: f64 = (0..3).map(|k| phases[k].reactive(&phases[k + 3])).sum();
        let s: f64 = (0..3).map(|k| phases[k].rms() * phases[k + 3].rms()).sum();
        for (wiring, seen) in [(Wiring::FourWire, phases.clone()), (Wiring::ThreeWire, three_wire(&phases)), (Wiring::TwoElement, two_element(&phases))] {
            let bench = Bench { wiring, full_amps: 400.0, ..Bench::default() };
            let window = last(&bench, &seen, hertz);
            near("P", window.active.value(), p, 3e-4 * s);
            near("Q", window.reactive.value(), q, 5e-4 * s);
            near("S", window.apparent.value(), s, 5e-4 * s);
            near("Ib", window.current[1].value(), phases[4].rms(), 5e-4 * phases[4].rms() + 0.005);
            near("f", window.frequency.unwrap().value(), hertz, 0.005);
        }
    }

    /// Twice the full scale for the same codes is twice the volts and amps, four times the power.
    #[test]
    fn scaling(waves in waves()) {
        let one = Bench::default();
        let two = Bench { full_volts: 1600.0, full_amps: 400.0, line_volts: 800.0, ..one };
        let doubled: [Wave; 6] = core::array::from_fn(|k| waves[k].scaled(2.0));
        let (a, b) = (last(&one, &waves, 50.0), last(&two, &doubled, 50.0));
        near("V", b.voltage[0].value(), 2.0 * a.voltage[0].value(), 1e-3);
        near("I", b.current[1].value(), 2.0 * a.current[1].value(), 1e-3);
        near("P", b.active.value(), 4.0 * a.active.value(), 1e-6 * a.apparent.value() + 0.01);
        // Reactive power is the fundamentals', on a basis whose steps of 2^-16 come anew every cycle, and which the two need not begin at
        // the same phase: 2^-16 / sqrt(12) over 80 values is 7e-7 rms of each phasor, 6e-7 of Q for three phases, 8e-7 of the difference;
        // five times that.
        near("Q", b.reactive.value(), 4.0 * a.reactive.value(), 4e-6 * b.apparent.value() + 0.01);
    }

    /// All six channels turned round: the same powers; the currents alone: powers of the other sign.
    #[test]
    fn signs(waves in waves()) {
        let bench = Bench::default();
        let turned = |from: usize| -> [Wave; 6] { core::array::from_fn(|k| if k >= from { waves[k].scaled(-1.0) } else { waves[k].clone() }) };
        let (a, both, currents) = (last(&bench, &waves, 50.0), last(&bench, &turned(0), 50.0), last(&bench, &turned(3), 50.0));
        let bound = 1e-5 * a.apparent.value();
        near("P both", both.active.value(), a.active.value(), bound);
        near("Q both", both.reactive.value(), a.reactive.value(), bound);
        near("P", currents.active.value(), -a.active.value(), bound);
        near("Q", currents.reactive.value(), -a.reactive.value(), bound);
        near("S", currents.apparent.value(), a.apparent.value(), bound);
    }

    /// Phases b and c swapped, voltage with current: their figures swap, sums stay.
    #[test]
    fn swapped_phases(waves in waves()) {
        let bench = Bench::default();
        let [a, b, c, ia, ib, ic] = waves.clone();
        let (x, y) = (last(&bench, &waves, 50.0), last(&bench, &[a, c, b, ia, ic, ib], 50.0));
        let bound = 1e-5 * x.apparent.value();
        near("Vb", y.voltage[1].value(), x.voltage[2].value(), 1e-3);
        near("Ic", y.current[2].value(), x.current[1].value(), 1e-3);
        near("P", y.active.value(), x.active.value(), bound);
        near("Q", y.reactive.value(), x.reactive.value(), bound);
        near("S", y.apparent.value(), x.apparent.value(), bound);
        let (u, v) = (x.voltage_unbalance.unwrap().value(), y.voltage_unbalance.unwrap().value());
        near("unbalance is turned over", u * v, 1.0, 0.05 * (1.0 + v));
    }

    /// A whole number of cycles later nothing has changed, in no bit.
    #[test]
    fn shifted_by_cycles(waves in waves(), cycles in 1u64..50) {
        let bench = Bench::default();
        let settings = bench.settings();
        let per_cycle = 128; // 6400 Hz at 50 Hz
        let frames: Vec<Frame> = (0..per_cycle).map(|k| bench.frame(&waves, 50.0, k)).collect();
        let run = |from: u64| -> Totals {
            let mut monitor = Monitor::new(&settings).unwrap();
            let seen: Vec<Frame> = (from..from + 4_096).map(|k| frames[(k % per_cycle) as usize]).collect();
            feed(&mut monitor, &seen);
            monitor.finish(&[]);
            *monitor.totals()
        };
        prop_assert_eq!(run(0), run(cycles * per_cycle));
    }

    /// A stream that is broken off at any block and taken up again goes on as if it had not been.
    #[test]
    fn split_at_any_block(waves in waves(), at in 1usize..400) {
        let bench = Bench::default();
        let frames: Vec<Frame> = (0..3_205).map(|k| bench.frame(&waves, 51.3, k)).collect();
        let (blocks, rest) = frames.as_chunks::<BLOCK>();
        let mut whole = Monitor::new(&bench.settings()).unwrap();
        let mut parts = whole.clone();
        let (mut first, mut second) = (Vec::new(), Vec::new());
        for block in blocks {
            whole.ingest(block);
            first.extend(whole.take_moment());
        }
        whole.finish(rest);
        first.extend(std::iter::from_fn(|| whole.take_moment()));
        for block in &blocks[..at] {
            parts.ingest(block);
            second.extend(parts.take_moment());
        }
        let mut later = parts.clone(); // another day, another place
        drop(parts);
        for block in &blocks[at..] {
            later.ingest(block);
            second.extend(later.take_moment());
        }
        later.finish(rest);
        second.extend(std::iter::from_fn(|| later.take_moment()));
        prop_assert_eq!(whole.totals(), later.totals());
        let lengths: u64 = first.iter().map(|moment| moment.half_cycle.length.0).sum();
        prop_assert_eq!(lengths, 3_205 << 16, "half cycles leave no gap");
        prop_assert_eq!(first, second);
    }
}
