//! The harness of the acceptance tests: waveforms from phasors, a converter, a meter run.
//!
//! The truth is always computed here in `f64` from the phasors themselves, never by the code under
//! test. x(t) = sqrt2 X sin(h w t + angle); S = V conj(I), so Q > 0 lags.

pub mod clock;
pub mod day;
pub mod drawn;
pub mod estimate_grid;
pub mod feed;
pub mod figures;
pub mod hear;
pub mod machine;
pub mod modelled;
pub mod numbers;
pub mod rig;
pub mod shaft_grid;
pub mod tally;
pub mod twin;
pub mod wave;
pub mod wedge;

use shaftwork_core::meter::Meter;
use shaftwork_core::settings::{Nominal, Settings, Wiring};
use shaftwork_core::{BLOCK, Frame, Window};
use wave::Wave;

/// A converter and a wiring: what a meter run needs besides its waves.
#[derive(Debug, Clone, Copy)]
pub struct Bench {
    /// What is measured.
    pub wiring: Wiring,
    /// Nominal frequency.
    pub nominal: Nominal,
    /// Frames a second.
    pub rate_hz: f64,
    /// Converter bits.
    pub bits: u8,
    /// Peak voltage at full scale, V.
    pub full_volts: f64,
    /// Peak current at full scale, A.
    pub full_amps: f64,
    /// Nominal line voltage, V.
    pub line_volts: f64,
}

impl Default for Bench {
    fn default() -> Self {
        Self {
            wiring: Wiring::FourWire,
            nominal: Nominal::Hz50,
            rate_hz: 6400.0,
            bits: 16,
            full_volts: 800.0,
            full_amps: 200.0,
            line_volts: 400.0,
        }
    }
}

impl Bench {
    /// The core's settings: the example's motor and trips behind this converter.
    #[must_use]
    pub fn settings(&self) -> Settings {
        let mut s = Settings::example();
        s.supply.wiring = self.wiring;
        s.supply.nominal = self.nominal;
        s.supply.line_voltage_mv = (self.line_volts * 1e3) as u32;
        s.sampling.rate_mhz = (self.rate_hz * 1e3) as u32;
        s.sampling.bits = self.bits;
        s.sampling.voltage_full_scale_mv = (self.full_volts * 1e3) as u32;
        s.sampling.current_full_scale_ma = (self.full_amps * 1e3) as u32;
        s.motor.rated_frequency_mhz = self.nominal.hertz() * 1000;
        s
    }

    /// One frame of the converter at frame number `k`: rounded to codes, clipped at full scale.
    #[must_use]
    pub fn frame(&self, waves: &[Wave; 6], hertz: f64, k: u64) -> Frame {
        let full = f64::from((1i32 << (self.bits - 1)) - 1);
        let t = k as f64 / self.rate_hz;
        Frame(core::array::from_fn(|c| {
            let scale = if c < 3 { self.full_volts } else { self.full_amps };
            (waves[c].at(hertz, t) / scale * full).round().clamp(-full, full) as i32
        }))
    }

    /// Runs the meter for so many seconds; gives the windows after the first `skip` seconds.
    ///
    /// # Panics
    ///
    /// When the settings are refused: the bench itself is wrong then.
    #[must_use]
    pub fn run(&self, waves: &[Wave; 6], hertz: f64, seconds: f64, skip: f64) -> Vec<Window> {
        self.run_with(&self.settings(), waves, hertz, seconds, skip)
    }

    /// The same with settings of one's own.
    ///
    /// # Panics
    ///
    /// When the settings are refused.
    #[must_use]
    pub fn run_with(&self, settings: &Settings, waves: &[Wave; 6], hertz: f64, seconds: f64, skip: f64) -> Vec<Window> {
        let c = settings.build().expect("the bench's settings are sound").meter;
        let mut meter = Meter::new(&c);
        let blocks = (seconds * self.rate_hz / BLOCK as f64) as u64;
        let mut windows = Vec::new();
        for b in 0..blocks {
            let block: [Frame; BLOCK] = core::array::from_fn(|f| self.frame(waves, hertz, b * BLOCK as u64 + f as u64));
            meter.ingest(&c, &block);
            meter.take_half_cycle();
            windows.extend(meter.take_window());
        }
        windows.retain(|w| w.end.0 as f64 / 65_536.0 / self.rate_hz > skip);
        windows
    }
}
