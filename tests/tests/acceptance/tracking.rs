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
    for (nominal, range) in [(Nominal::Hz50, [42.5, 46.1, 50.0, 53.9, 57.5]), (Nominal::Hz60, [51.0, 55.7, 60.0, 64.4, 69.0])] {
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
    for (what, factors) in [("sag", [0.3, 0.3, 0.3]), ("one phase lost", [1.0, 0.0, 1.0]), ("two lost", [1.0, 0.0, 0.0])] {
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
