//! Transformer lead, sampling skew, gain and offset: the error each makes, and that settings undo it.
//!
//! Power error from a current transformer's phase error d (its output leading, load lagging):
//! e = cos(phi - d) / cos(phi) - 1 (plain trigonometry; angles of IEC 61869-2 classes).

use shaftwork_acceptance::Bench;
use shaftwork_acceptance::figures::{Figure, near};
use shaftwork_acceptance::wave::{Wave, balanced, three_wire, two_element};
use shaftwork_core::Window;
use shaftwork_core::settings::{Settings, Wiring};

fn power_error_pct(windows: &[Window], truth: f64) -> f64 {
    assert!(!windows.is_empty());
    windows.iter().map(|w| (w.active.value() / truth - 1.0) * 100.0).sum::<f64>() / windows.len() as f64
}

/// 10, 30 and 60 minutes of arc at power factors 1, 0.8 and 0.5.
#[test]
fn transformer_lead() {
    for (minutes, pf, error) in
        [(10.0, 0.8, 0.2177), (30.0, 1.0, -0.0038), (30.0, 0.8, 0.6507), (30.0, 0.5, 1.5077), (60.0, 0.5, 3.0076)]
    {
        let (bench, lag) = (Bench::default(), f64::acos(pf).to_degrees());
        // The line current lags by `lag`; what the converter sees leads it.
        let seen = balanced(&Wave::sine(230.0, 0.0), &Wave::sine(100.0, minutes / 60.0 - lag));
        let truth = 3.0 * 230.0 * 100.0 * pf;
        let plain = bench.run(&seen, 50.0, 1.2, 0.8);
        near("error", power_error_pct(&plain, truth), error, 0.01);
        let mut settings: Settings = bench.settings();
        settings.sampling.lead_urad = [(minutes / 60.0f64).to_radians() * 1e6; 3].map(|x| x.round() as i32);
        let mended = bench.run_with(&settings, &seen, 50.0, 1.2, 0.8);
        near("mended", power_error_pct(&mended, truth), 0.0, 0.01);
        near(
            "mended energy and power agree",
            mended[0].reactive.value(),
            truth * (1.0 / pf.powi(2) - 1.0).sqrt(),
            25.0,
        );
    }
}

/// Channels sampled one after another, 12 µs apart, in all wirings: without the setting the power is
/// wrong, with it right. Frequency off nominal, so that the angle must follow it.
#[test]
fn sampling_skew() {
    let hertz = 47.0;
    let truth = 3.0 * 230.0 * 80.0 * 0.5;
    let phases = balanced(&Wave::sine(230.0, 0.0), &Wave::sine(80.0, -60.0));
    for (wiring, waves) in [
        (Wiring::FourWire, phases.clone()),
        (Wiring::ThreeWire, three_wire(&phases)),
        (Wiring::TwoElement, two_element(&phases)),
    ] {
        let bench = Bench { wiring, ..Bench::default() };
        let mut settings = bench.settings();
        let mut seen = waves;
        for (k, wave) in seen.iter_mut().enumerate() {
            settings.sampling.skew_ns[k] = 12_000 * k as i32;
            *wave = wave.delayed(-12e-6 * k as f64 * hertz * 360.0);
        }
        let plain = power_error_pct(&bench.run(&seen, hertz, 1.2, 0.8), truth);
        assert!(plain.abs() > 0.5, "{wiring:?}: 36 µs at power factor 0.5 are worth more: {plain}");
        let mended = bench.run_with(&settings, &seen, hertz, 1.2, 0.8);
        near("mended", power_error_pct(&mended, truth), 0.0, 0.02);
    }
}

/// A converter with its own zero and gain on each channel.
#[test]
fn gain_and_offset() {
    let bench = Bench::default();
    let truth = 3.0 * 230.0 * 80.0;
    let mut settings = bench.settings();
    let full =
        [bench.full_volts, bench.full_volts, bench.full_volts, bench.full_amps, bench.full_amps, bench.full_amps];
    let mut seen = balanced(&Wave::sine(230.0, 0.0), &Wave::sine(80.0, 0.0));
    for k in 0..6 {
        let gain = [1.02, 0.97, -1.0, 1.01, 0.99, -1.03][k];
        let counts = [120.0, -80.5, 33.25, -410.0, 200.0, 15.75][k];
        settings.sampling.gain_ppm[k] = (gain * 1e6) as i32;
        settings.sampling.offset_q8[k] = (counts * 256.0) as i32;
        seen[k] = seen[k].scaled(1.0 / gain);
        seen[k].direct = counts / 32_767.0 * full[k];
    }
    for window in bench.run_with(&settings, &seen, 50.0, 1.2, 0.8) {
        near("P", window.active.value(), truth, truth * 3e-4);
        for k in 0..3 {
            near("V", window.voltage[k].value(), 230.0, 0.046);
            near("I", window.current[k].value(), 80.0, 0.016);
        }
    }
}
