//! Prints `docs/accuracy.md`: the meter against an `f64` truth over a grid of waveforms.
//!
//! Exit status 1 when a promised bound is broken: V and I within 0.02 % of reading and P within
//! 0.03 % of apparent power, from 5 % of full scale on, at 16 bits.

use std::process::ExitCode;

use shaftwork_acceptance::figures::Figure;
use shaftwork_acceptance::wave::{Wave, unbalance};
use shaftwork_acceptance::{Bench, estimate_grid, shaft_grid};
use shaftwork_core::Window;

const HERTZ: [f64; 7] = [45.0, 47.3, 50.0, 52.6, 55.0, 60.0, 65.0];
const LEVELS: [f64; 9] = [1.0, 2.0, 5.0, 8.0, 20.0, 50.0, 80.0, 100.0, 120.0];
const POWER_FACTORS: [f64; 4] = [0.25, 0.5, 0.8, 1.0];
const DISTORTIONS: [f64; 3] = [0.0, 10.0, 30.0];
const UNBALANCES: [f64; 3] = [0.0, 3.0, 10.0];
const BITS: [u8; 3] = [12, 16, 24];

/// rms of level 100 %, as a share of the peak at full scale: 120 % with 30 % of distortion and 10 % of
/// unbalance stays below the converter's end.
const LEVEL_100: f64 = 0.40;
/// The level whose sine's peak is 5 % of full scale.
const PROMISED_FROM: f64 = 5.0 / std::f64::consts::SQRT_2 / LEVEL_100;

/// The worst errors of a row.
#[derive(Debug, Clone, Copy, Default)]
struct Worst {
    voltage_pct: f64,
    current_pct: f64,
    active_pct: f64,
    reactive_pct: f64,
    apparent_pct: f64,
    distortion_points: f64,
    unbalance_points: f64,
    hertz: f64,
    windows: usize,
}

/// One point of the grid.
#[derive(Debug, Clone, Copy)]
struct Point {
    hertz: f64,
    power_factor: f64,
    distortion: f64,
    unbalance: f64,
}

impl Point {
    fn waves(&self, bench: &Bench, voltage_pct: f64, current_pct: f64) -> [Wave; 6] {
        let v = bench.full_volts * LEVEL_100 * voltage_pct / 100.0;
        let i = bench.full_amps * LEVEL_100 * current_pct / 100.0;
        let lag = self.power_factor.acos().to_degrees();
        // Two harmonics share the distortion; voltage has a quarter of it.
        let share = self.distortion / 100.0 / 2f64.sqrt();
        core::array::from_fn(|k| {
            let base = -120.0 * (k % 3) as f64;
            // One phase off by three times the wanted share gives about that share of unbalance.
            let off = if k % 3 == 1 { 1.0 - 0.03 * self.unbalance } else { 1.0 };
            if k < 3 {
                let (v, part) = (v * (1.0 + (off - 1.0) / 4.0), share / 4.0);
                Wave::new(&[(1, v, base), (5, v * part, 40.0 + 5.0 * base), (7, v * part, 7.0 * base - 80.0)])
            } else {
                let i = i * off;
                Wave::new(&[(1, i, base - lag), (5, i * share, 5.0 * base + 130.0), (7, i * share, 7.0 * base)])
            }
        })
    }
}

impl Worst {
    fn take(&mut self, waves: &[Wave; 6], hertz: f64, windows: &[Window]) {
        let apparent: f64 = (0..3).map(|k| waves[k].rms() * waves[k + 3].rms()).sum();
        let active: f64 = (0..3).map(|k| waves[k].active(&waves[k + 3])).sum();
        let reactive: f64 = (0..3).map(|k| waves[k].reactive(&waves[k + 3])).sum();
        let pct = |got: f64, want: f64, of: f64| (got - want).abs() / of * 100.0;
        let most = |slot: &mut f64, x: f64| *slot = slot.max(x);
        self.windows += windows.len();
        for w in windows {
            for k in 0..3 {
                let (v, i) = (waves[k].rms(), waves[k + 3].rms());
                most(&mut self.voltage_pct, pct(w.voltage[k].value(), v, v));
                most(&mut self.current_pct, pct(w.current[k].value(), i, i));
                let thd = w.current_distortion[k].map_or(f64::INFINITY, Figure::value);
                most(&mut self.distortion_points, (thd - waves[k + 3].distortion()).abs() * 100.0);
            }
            most(&mut self.active_pct, pct(w.active.value(), active, apparent));
            most(&mut self.reactive_pct, pct(w.reactive.value(), reactive, apparent));
            most(&mut self.apparent_pct, pct(w.apparent.value(), apparent, apparent));
            let u = w.current_unbalance.map_or(f64::INFINITY, Figure::value);
            let truth = unbalance([&waves[3], &waves[4], &waves[5]]);
            most(&mut self.unbalance_points, (u - truth).abs() * 100.0);
            most(&mut self.hertz, (w.frequency.map_or(f64::INFINITY, Figure::value) - hertz).abs());
        }
    }

    fn row(&self, bits: u8, level: f64) -> String {
        format!(
            "| {bits} | {level} | {:.4} | {:.4} | {:.4} | {:.4} | {:.4} | {:.3} | {:.3} | {:.2} |",
            self.voltage_pct,
            self.current_pct,
            self.active_pct,
            self.reactive_pct,
            self.apparent_pct,
            self.distortion_points,
            self.unbalance_points,
            self.hertz * 1e3
        )
    }

    fn keeps_promise(&self) -> bool {
        self.windows > 0 && self.voltage_pct <= 0.02 && self.current_pct <= 0.02 && self.active_pct <= 0.03
    }
}

fn points() -> impl Iterator<Item = Point> {
    HERTZ.into_iter().flat_map(|hertz| {
        POWER_FACTORS.into_iter().flat_map(move |power_factor| {
            DISTORTIONS.into_iter().flat_map(move |distortion| {
                UNBALANCES.into_iter().map(move |unbalance| Point { hertz, power_factor, distortion, unbalance })
            })
        })
    })
}

/// All points at one converter width and one level of the current (or of the voltage).
fn sweep(bits: u8, level: f64, of_voltage: bool) -> Worst {
    let mut worst = Worst::default();
    for point in points() {
        let mut bench = Bench { bits, rate_hz: 4000.0, full_amps: 400.0, ..Bench::default() };
        let (v, i) = if of_voltage { (level, 100.0) } else { (100.0, level) };
        let nominal = bench.full_volts * LEVEL_100 * 3f64.sqrt() * v / 100.0;
        bench.line_volts = nominal.max(50.0);
        let waves = point.waves(&bench, v, i);
        let mut settings = bench.settings();
        // The floor below which nothing is given is 0.2 % of rated: here far below every level.
        settings.motor.rated_current_ma = 20_000;
        let windows = bench.run_with(&settings, &waves, point.hertz, 1.05, 0.75);
        worst.take(&waves, point.hertz, &windows);
    }
    worst
}

fn main() -> ExitCode {
    let head =
        "| bits | level % | V % | I % | P % of S | Q % of S | S % | THD(I) points | unbalance(I) points | f mHz |";
    let rule = "|---|---|---|---|---|---|---|---|---|---|";
    println!("# Accuracy of the meter\n");
    println!("Made by `cargo xtask accuracy`; do not edit. Worst error over every combination of");
    println!("{HERTZ:?} Hz,");
    println!(
        "power factor {POWER_FACTORS:?}, distortion {DISTORTIONS:?} % (fifth and seventh; the voltage a quarter of"
    );
    println!("it), unbalance {UNBALANCES:?} % (the voltage a quarter of it), at 4 kHz in four-wire connection,");
    println!("against an `f64` sum of the same phasors. Level 100 % is {LEVEL_100} of full scale's peak as rms;");
    println!("5 % of full scale is level {PROMISED_FROM:.1} %. V and I in per cent of reading. The converter is");
    println!("ideal but for its rounding: transformers and noise come on top.\n");
    let mut kept = true;
    for (of_voltage, title) in
        [(false, "Current from 1 % to 120 %, voltage at 100 %"), (true, "Voltage from 8 % to 120 %, current at 100 %")]
    {
        println!("## {title}\n\n{head}\n{rule}");
        for bits in BITS {
            for level in LEVELS.into_iter().filter(|level| !of_voltage || *level >= 8.0) {
                let worst = sweep(bits, level, of_voltage);
                println!("{}", worst.row(bits, level));
                if bits == 16 && level >= PROMISED_FROM - 1.0 {
                    kept &= worst.keeps_promise();
                }
            }
        }
        println!();
    }
    println!("Promise: at 16 bits and from 5 % of full scale on, V and I within 0.02 % of reading and P within");
    println!("0.03 % of apparent power: {}.", if kept { "kept" } else { "BROKEN" });
    let (page, shaft) = shaft_grid::section();
    print!("\n{page}");
    let (page, estimate) = estimate_grid::section();
    print!("\n{page}");
    if kept && shaft && estimate { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
