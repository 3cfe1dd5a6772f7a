//! The test source: sines as a converter would give them, from phasors, in integers.
//!
//! `code = offset + sqrt 2 (re cos wt - im sin wt) full code / (full scale x gain)`, at nominal frequency (2^-32 turn a frame short of it at
//! most), with what the wiring makes of phases (line to line, windings inside the delta), and each channel's skew and lead as the
//! settings have them.
//!
//! Error of a sample: half a code for rounding; 0.01 code and 3e-8 of the amplitude for amplitude and angle; and what a step of
//! [`Vector`] is in codes (0.2 at 24 bits of 800 V, else less than 0.001).

use crate::vector::{STEPS, Vector};
use shaftwork_core::math::divide::wide;
use shaftwork_core::math::phase::cos_sin;
use shaftwork_core::math::root::isqrt;
use shaftwork_core::settings::{CHANNELS, CurrentTap, Sampling, Settings, Wiring};
use shaftwork_core::{BLOCK, Frame};

/// Fraction bits of an amplitude in codes: 23 bits and these make 30.
const Q: u32 = 7;
/// The square root of two, Q28.
const ROOT_TWO_Q28: u128 = 379_625_062;

/// What the motor's terminals see, steady.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct State {
    /// Phase voltages to the star point.
    pub volts: [Vector; 3],
    /// Line currents, into the motor.
    pub amps: [Vector; 3],
    /// A channel that gives nothing, as if its wire had come off.
    pub dead: Option<u8>,
}

/// A state that the converter cannot show: a sample would lie at its end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Reach;

/// The source.
#[derive(Debug, Clone)]
pub struct Source {
    sampling: Sampling,
    wiring: Wiring,
    hertz: u32,
    /// Amplitudes, codes at Q7.
    real: [i64; CHANNELS],
    imaginary: [i64; CHANNELS],
    /// Codes at zero input, Q7.
    zero: [i64; CHANNELS],
    angle: u32,
    step: u32,
}

impl Source {
    /// Nothing on any channel. The settings must be such as [`Settings::build`] takes.
    #[must_use]
    pub fn new(settings: &Settings) -> Self {
        let (sampling, hertz) = (settings.sampling, settings.supply.nominal.hertz());
        // 2^32 f / rate: 6 + 10 + 32 bits over at least 21.
        let step = wide(u128::from(hertz * 1_000) << 32, sampling.rate_mhz.into()).unwrap_or(0) as u32;
        let zero = sampling.offset_q8.map(|offset| i64::from(offset) >> (8 - Q));
        let (real, imaginary) = ([0; CHANNELS], [0; CHANNELS]);
        Self { sampling, wiring: settings.supply.wiring, hertz, real, imaginary, zero, angle: 0, step }
    }

    /// Shows this from the next frame on; the sines go on where they are.
    ///
    /// # Errors
    ///
    /// The converter cannot show it; then what was shown before stays.
    pub fn set(&mut self, state: &State) -> Result<(), Reach> {
        let full = (1_i64 << (self.sampling.bits.clamp(12, 24) - 1)) - 1;
        let (mut real, mut imaginary) = ([0; CHANNELS], [0; CHANNELS]);
        for ((k, vector), (re, im)) in
            self.channels(state).into_iter().enumerate().zip(real.iter_mut().zip(&mut imaginary))
        {
            if state.dead.is_some_and(|dead| usize::from(dead) == k) {
                continue;
            }
            let scale = if k < 3 { self.sampling.voltage_full_scale_mv } else { self.sampling.current_full_scale_ma };
            let gain = self.sampling.gain_ppm.get(k).copied().unwrap_or(1_000_000);
            let vector = vector.turned(self.ahead(k));
            // 32 + 29 + 23 + 20 + 7 bits over 34 + 25 + 27.
            let den = (u128::from(scale) * u128::from(gain.unsigned_abs()) * STEPS.unsigned_abs() as u128) << 28;
            let codes = |x: i64| {
                let num = u128::from(x.unsigned_abs()) * ROOT_TWO_Q28 * full.unsigned_abs() as u128 * 1_000_000;
                let codes = wide((num << Q) + den / 2, den).unwrap_or(u128::MAX).min(1 << 40) as i64;
                if (x < 0) == (gain < 0) { codes } else { -codes }
            };
            (*re, *im) = (codes(vector.re), codes(vector.im));
            let square = |x: i64| x.unsigned_abs().min(1 << 31) * x.unsigned_abs().min(1 << 31);
            let peak = i64::from(isqrt(square(*re).saturating_add(square(*im))));
            let zero = self.zero.get(k).map_or(0, |zero| zero.abs());
            // A code short of the end, which would count as clipped; one more for rounding.
            if peak + zero > (full - 2) << Q {
                return Err(Reach);
            }
        }
        (self.real, self.imaginary) = (real, imaginary);
        Ok(())
    }

    /// The next eight frames.
    pub fn block(&mut self) -> [Frame; BLOCK] {
        let mut frames = [Frame::default(); BLOCK];
        for frame in &mut frames {
            let (cosine, sine) = cos_sin(self.angle);
            let parts = self.real.iter().zip(&self.imaginary).zip(&self.zero);
            for (code, ((re, im), zero)) in frame.0.iter_mut().zip(parts) {
                // 30 + 30 bits, twice, and the offset below 2^28 at Q30.
                let x = re * i64::from(cosine) - im * i64::from(sine) + (zero << 30);
                *code = ((x + (1 << (29 + Q))) >> (30 + Q)) as i32;
            }
            self.angle = self.angle.wrapping_add(self.step);
        }
        frames
    }

    /// What each channel measures of it.
    fn channels(&self, state: &State) -> [Vector; CHANNELS] {
        let [a, b, c] = state.volts;
        let volts = match self.wiring {
            Wiring::FourWire => [a, b, c],
            Wiring::ThreeWire => [a.less(b), b.less(c), c.less(a)],
            Wiring::TwoElement => [a.less(b), c.less(b), Vector::ZERO],
            Wiring::CurrentsOnly => [Vector::ZERO; 3],
        };
        let [a, b, c] = state.amps;
        // A line's current is the difference of two windings', whose sum is taken to be nothing.
        let amps = match (self.sampling.current_tap, self.wiring) {
            (CurrentTap::DeltaAb, _) => [a.less(b).third(), b.less(c).third(), c.less(a).third()],
            (CurrentTap::DeltaAc, _) => [a.less(c).third(), b.less(a).third(), c.less(b).third()],
            (CurrentTap::Line, Wiring::TwoElement) => [a, Vector::ZERO, c],
            (CurrentTap::Line, _) => [a, b, c],
        };
        let ([va, vb, vc], [ia, ib, ic]) = (volts, amps);
        [va, vb, vc, ia, ib, ic]
    }

    /// How far a channel's samples are ahead of what is measured: taken later, and through a transformer that leads.
    fn ahead(&self, k: usize) -> u32 {
        let skew = i64::from(self.sampling.skew_ns.get(k).copied().unwrap_or(0)); // at most a millisecond
        let lead = k.checked_sub(3).and_then(|k| self.sampling.lead_urad.get(k)).map_or(0, |lead| i64::from(*lead));
        // ns x Hz are billionths of a turn: 4.294967296 steps of 2^-32 turn; a microradian is 683.565276.
        let skew = skew * i64::from(self.hertz) * 4_294_967 / 1_000_000;
        (skew + lead * 683_565_276 / 1_000_000) as u32
    }
}
