//! Following the frequency: 42.5 to 57.5 Hz and 51 to 69 Hz (the ranges of IEC 61000-4-30, class A, from
//! memory), through harmonics, sags and lost phases; running on when all voltage is gone.

use shaftwork_acceptance::Bench;
use shaftwork_acceptance::figures::{Figure, near};
use shaftwork_acceptance::wave::{Wave, balanced};
use shaftwork_core::meter::Meter;
use shaftwork_core::settings::Nominal;
use shaftwork_core::{BLOCK, Frame, Window};

fn distorted() -> [Wave; 6] {
    // 20 % of distortion in all: fifth and seventh.
    let v = Wave::new(&[(1, 230.0, 0.0), (5, 230.0 * 0.16, 100.0), (7, 230.0 * 0.12, -30.0)]);
    let i = Wave::new(&[(1, 60.0, -40.0), (5, 9.0, 20.0), (7, 6.0, 70.0)]);
    balanced(&v, &i)
}

fn bench(nominal: Nominal, rate_hz: f64) -> Bench {
    Bench { nominal, rate_hz, ..Bench::default() }
}

#[test]
fn whole_range_at_the_ends_of_the_sampling_rates() {
    for (nominal, range) in
        [(Nominal::Hz50, [42.5, 46.1, 50.0, 53.9, 57.5]), (Nominal::Hz60, [51.0, 55.7, 60.0, 64.4, 69.0])]
    {
        for rate_hz in [2_000.0, 3_200.0, 16_000.0] {
            for hertz in range {
                let windows = bench(nominal, rate_hz).run(&distorted(), hertz, 1.5, 0.8);
                assert!(windows.len() >= 2);
                for w in &windows {
                    let what = format!("{rate_hz} Hz sampling, {hertz} Hz");
                    near(&what, w.frequency.unwrap().value(), hertz, 0.005);
                    near(&what, w.voltage[0].value(), 230.0 * 1.04f64.sqrt(), 0.03 / 100.0 * 240.0);
                    near(&what, w.active.value(), distorted()[0].active(&distorted()[3]) * 3.0, 3e-4 * 45e3);
                    let cycles = f64::from(nominal.half_cycles()) / 2.0;
                    near(&what, w.length.0 as f64 / 65_536.0 / rate_hz, cycles / hertz, 1e-5);
                }
            }
        }
    }
}

/// Runs with voltages that change by a factor a phase over time.
fn run_with(factor: impl Fn(f64) -> [f64; 3], hertz: f64, seconds: f64) -> Vec<(f64, Window)> {
    let bench = bench(Nominal::Hz50, 4_000.0);
    let c = bench.settings().build().unwrap().meter;
    let mut meter = Meter::new(&c);
    let waves = distorted();
    let mut windows = Vec::new();
    for b in 0..(seconds * bench.rate_hz / BLOCK as f64) as u64 {
        let block: [Frame; BLOCK] = core::array::from_fn(|f| {
            let k = b * BLOCK as u64 + f as u64;
            let mut frame = bench.frame(&waves, hertz, k);
            let part = factor(k as f64 / bench.rate_hz);
            for (code, part) in frame.0.iter_mut().zip(part) {
                *code = (f64::from(*code) * part).round() as i32;
            }
            frame
        });
        meter.ingest(&c, &block);
        meter.take_half_cycle();
        windows.extend(meter.take_window().map(|w| (w.end.0 as f64 / 65_536.0 / bench.rate_hz, w)));
    }
    windows
}

#[test]
fn a_sag_and_a_lost_phase_change_nothing() {
    for (what, factors) in [
        ("sag", [0.3, 0.3, 0.3]),
        ("one phase lost", [1.0, 0.0, 1.0]),
        ("two lost", [1.0, 0.0, 0.0]),
        ("only b left", [0.0, 1.0, 0.0]),
        ("only c left", [0.0, 0.0, 1.0]),
    ] {
        let windows = run_with(|t| if (1.0..2.0).contains(&t) { factors } else { [1.0; 3] }, 48.7, 3.0);
        for (t, w) in windows.iter().filter(|(t, _)| *t > 0.8) {
            // A window that holds the step of a single phase's loss sees the phasor jump.
            let bound = if (1.0..1.25).contains(t) || (2.0..2.25).contains(t) { 0.2 } else { 0.005 };
            near(what, w.frequency.unwrap().value(), 48.7, bound);
        }
    }
}

#[test]
fn with_all_voltage_gone_it_runs_on_and_comes_back() {
    let hertz = 51.9;
    let windows = run_with(|t| if (1.0..2.0).contains(&t) { [0.0; 3] } else { [1.0; 3] }, hertz, 3.5);
    let mut gone = 0;
    for (t, w) in windows.iter().filter(|(t, _)| *t > 0.8) {
        let length = w.length.0 as f64 / 65_536.0 / 4_000.0;
        near("windows stay ten cycles long", length, 10.0 / hertz, 2e-4);
        if (1.25..2.0).contains(t) {
            assert_eq!((w.frequency, w.power_factor), (None, None), "at {t} s nothing is made up");
            assert_eq!((w.voltage_unbalance, w.voltage_distortion), (None, [None; 3]));
            gone += 1;
        } else if *t > 2.6 {
            near("back", w.frequency.unwrap().value(), hertz, 0.005);
        }
    }
    assert!(gone >= 3);
}

/// One line open at a standing motor: va = -vb, vc = 0. Both sequences are then equal, and a little noise
/// must not make the frequency jump from one to the other.
#[test]
fn an_open_line_with_both_sequences_equal() {
    let bench = bench(Nominal::Hz50, 4_000.0);
    let c = bench.settings().build().unwrap().meter;
    let mut meter = Meter::new(&c);
    let (v, i) = (Wave::sine(200.0, 20.0), Wave::sine(50.0, -20.0));
    let waves = [v.clone(), v.scaled(-1.0), Wave::default(), i.clone(), i.scaled(-1.0), Wave::default()];
    let mut noise = 12_345u32;
    let mut seen = 0;
    for b in 0..1_500u64 {
        let block: [Frame; BLOCK] = core::array::from_fn(|f| {
            let mut frame = bench.frame(&waves, 50.3, b * BLOCK as u64 + f as u64);
            for code in &mut frame.0 {
                noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223); // Numerical Recipes' constants
                *code += (noise >> 30) as i32 - 1;
            }
            frame
        });
        meter.ingest(&c, &block);
        meter.take_half_cycle();
        if let Some(w) = meter.take_window()
            && w.end.0 >> 16 > 3_200
        {
            near("one line open", w.frequency.unwrap().value(), 50.3, 0.005);
            seen += 1;
        }
    }
    assert!(seen > 8);
}

/// Wherever a steady trace ends, its last, short half cycle tells the same currents as the others.
#[test]
fn a_ragged_end_makes_no_peak() {
    let bench = bench(Nominal::Hz50, 4_000.0);
    let waves = balanced(&Wave::sine(230.0, 10.0), &Wave::sine(60.0, -20.0));
    for frames in 4_000..4_080usize {
        let all: Vec<Frame> = (0..frames as u64).map(|k| bench.frame(&waves, 50.0, k)).collect();
        let mut monitor = shaftwork_core::Monitor::new(&bench.settings()).unwrap();
        let (blocks, rest) = all.as_chunks::<BLOCK>();
        for block in blocks {
            monitor.ingest(block);
        }
        monitor.finish(rest);
        near("peak", monitor.totals().peak_current.value(), 60.0, 0.05);
        let energy = monitor.totals().electrical.q20() as f64 / 1_048_576.0;
        near("energy", energy, 3.0 * waves[0].active(&waves[3]) * frames as f64 / 4_000.0, 150.0);
    }
}
