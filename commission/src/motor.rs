//! The motor at a load: current and its phase, from the settings' equivalent circuit, forwards.
//!
//! ```text
//! Zr = Rr (1 + d s²) / s + j X     Z = Rs + j X + Zr jXm / (Zr + jXm)     I = V / Z + core loss
//! Pg = 3 I2² Re Zr                 shaft = (Pg - (friction + stray) (1 - s)) (1 - s)
//! ```
//!
//! (Textbook theory of the induction motor; losses segregated as in IEC 60034-2-1.) The core goes the other way, from what the terminals
//! show to the shaft: here the slip is looked for at which the shaft gives what is wanted. Warming of the windings is left
//! out: it moves shaft power by less than 1 %.

use crate::vector::{STEPS, Vector};
use shaftwork_core::math::divide::wide;
use shaftwork_core::settings::Settings;

/// One at Q24: a slip.
pub(crate) const ONE: i64 = 1 << 24;
/// No impedance is taken to be above this, µΩ: so that three of them make 121 bits.
const MOST: i128 = 1 << 40;

/// A working point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Point {
    /// Current of phase A; its voltage is the real axis.
    pub(crate) amps: Vector,
    /// Shaft power, mW.
    pub(crate) shaft_mw: i64,
}

/// A complex number.
#[derive(Clone, Copy)]
struct Complex(i128, i128);

impl Complex {
    const fn plus(self, other: Self) -> Self {
        Self(self.0 + other.0, self.1 + other.1)
    }

    const fn times(self, other: Self) -> Self {
        Self(self.0 * other.0 - self.1 * other.1, self.0 * other.1 + self.1 * other.0)
    }

    const fn square(self) -> i128 {
        self.0 * self.0 + self.1 * self.1
    }

    /// Over another one that is not nothing.
    fn over(self, other: Self) -> Self {
        let Self(re, im) = self.times(Self(other.0, -other.1));
        let square = other.square().unsigned_abs();
        Self(over(re, square), over(im, square))
    }
}

fn over(num: i128, den: u128) -> i128 {
    let quotient = wide(num.unsigned_abs(), den).unwrap_or(0) as i128; // below the numerator's 127 bits
    if num < 0 { -quotient } else { quotient }
}

/// The working point at a phase voltage (1/64 mV) and a slip (Q24, above nothing).
pub(crate) fn at(settings: &Settings, volts: i64, slip: i64) -> Point {
    let (m, hertz) = (&settings.motor, settings.supply.nominal.hertz());
    let (s, volts) = (i128::from(slip.max(1)), i128::from(volts.clamp(0, 1 << 31)));
    // Reactances are those of rated frequency, 40 to 72 Hz: 32 + 16 bits.
    let reactance =
        |uohm: u32| over(i128::from(uohm) * i128::from(hertz) * 1_000, m.rated_frequency_mhz.into()).min(MOST);
    let leakage = reactance(m.stator_leakage_uohm);
    // d s² at Q24: 24 + 48 bits; a resistance of 32 times one below 2^28.
    let risen = i128::from(ONE) + over((i128::from(m.deep_bar_ppm) * s * s) >> 24, 1_000_000);
    let rotor_resistance = over(i128::from(m.rotor_resistance_uohm) * risen, s.unsigned_abs()).min(MOST);
    let (rotor, magnetising) = (Complex(rotor_resistance, leakage), Complex(0, reactance(m.magnetising_uohm)));
    let both = rotor.plus(magnetising);
    let stator = Complex(m.stator_resistance_uohm.into(), leakage);
    let all = stator.plus(rotor.times(magnetising).over(both));
    // mV over µΩ are kA: a million to mA.
    let current = Complex(volts * 1_000_000, 0).over(all);
    let limited = Complex(current.0.clamp(-1 << 31, 1 << 31), current.1.clamp(-1 << 31, 1 << 31));
    let rotor_current = limited.times(magnetising).over(both);
    // mA² µΩ are 10^-9 mW; squares of 64ths.
    let milliwatts = |square: i128, uohm: i128| over(3 * square * uohm, 4_096_000_000_000);
    let turning = i128::from(ONE) - s;
    let air_gap = milliwatts(rotor_current.square(), rotor_resistance);
    let lost = i128::from(m.friction_loss_mw) + milliwatts(limited.square(), m.stray_uohm.into());
    let shaft = ((air_gap - ((lost * turning) >> 24)) * turning) >> 24;
    // P V / Vr²: mW over mV are A.
    let rated = u128::from(m.rated_voltage_mv) * u128::from(m.rated_voltage_mv);
    let core = over(i128::from(m.core_loss_mw) * volts * 1_000, rated);
    let amps = Vector { re: (limited.0 + core) as i64, im: limited.1 as i64 };
    Point { amps, shaft_mw: shaft.clamp(i64::MIN.into(), i64::MAX.into()) as i64 }
}

/// The working point at which the shaft gives so much; `None`: the motor cannot.
pub(crate) fn loaded(settings: &Settings, volts: i64, shaft_mw: i64) -> Option<Point> {
    let gives = |slip: i64| at(settings, volts, slip).shaft_mw >= shaft_mw;
    // 0.006 % of slip, and on by a quarter until it gives so much: at 30 % any motor is past its pull-out.
    let (mut low, mut high) = (0, ONE >> 14);
    while !gives(high) {
        (low, high) = (high, high + high / 4);
        if high > ONE * 3 / 10 {
            return None;
        }
    }
    while high - low > 1 {
        let middle = low + (high - low) / 2;
        if gives(middle) {
            high = middle;
        } else {
            low = middle;
        }
    }
    Some(at(settings, volts, high))
}

/// A line voltage, mV, as a phase voltage in 1/64 mV.
pub(crate) fn phase_volts(line_mv: u32) -> i64 {
    // 2^28 over the square root of three: 154 981 282.67.
    (i64::from(line_mv.min(32_000_000)) * STEPS * 154_981_283) >> 28 // 25 + 6 + 28 bits
}
