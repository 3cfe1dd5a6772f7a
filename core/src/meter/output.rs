//! The last step of a closing: phases -> the figures of a record.

use super::closing::Closing;
use super::pairs::{Slot, crosses, slots};
use super::phases::Phases;
use super::phasor::{Phasor, sequence};
use super::sums::Stretch;
use crate::math::root::isqrt;
use crate::math::scale::{narrow, ratio_q};
use crate::record::{HalfCycle, Window};
use crate::settings::MeterCoefficients;
use crate::time::Span;
use crate::unit::{Amps, Hertz, Ratio, SquareAmps, SquareVolts, Volts, Watts};

/// Active energy of all phases in a half cycle, joules Q20, less what the offsets would add.
pub(super) fn energy(c: &MeterCoefficients, sums: Stretch<'_>) -> i64 {
    let mut total = 0i64;
    let factors = c.energy.iter().skip(slots(c.wiring).len());
    for ((place, pair), factor) in crosses(c.wiring).iter().enumerate().zip(factors) {
        let Some(product) = sums.cross(place).filter(|_| pair.power != 0) else { continue };
        let offset = |slot: Slot| i64::from(c.offset_q8[slot as usize]); // 29 bits
        let code = |slot: Slot| i64::from(sums.code(slot) as i32); // 200 frames at most: 31 bits
        let (oi, oj) = (offset(pair.first), offset(pair.second));
        // sum (x - oi)(y - oj) = sum xy - oi sum y - oj sum x + n oi oj
        let cross = (oi * code(pair.second) + oj * code(pair.first)) >> 8;
        let both = (((oi * oj) >> 20) * i64::from(sums.frames())) >> 12; // 38 + 24 bits; Q16 * Q16 - 20 - 12
        // 46 bits and 8 for the frames, the others two less.
        total = total.saturating_add(factor.apply(product - cross + both));
    }
    total
}

/// The figures of a cycle, of whose voltage the sequences are known; the caller adds what belongs to
/// the half cycle.
#[inline]
pub(super) fn half_cycle(
    half: &mut HalfCycle,
    closing: &Closing,
    sums: Stretch<'_>,
    phases: &Phases,
    (v_positive, v_negative): (Phasor, Phasor),
) {
    let (i_positive, i_negative) = sequence(phases.current_phasor);
    half.cycle = Span(u64::from(sums.frames()));
    half.active = Watts::from_bits(phases.active());
    half.reactive = Watts::from_bits(phases.reactive());
    half.voltage = phases.voltage.map(SquareVolts);
    half.current = phases.current.map(SquareAmps);
    half.voltage_positive = Volts::from_bits(v_positive.magnitude());
    half.voltage_negative = Volts::from_bits(v_negative.magnitude());
    half.current_positive = Amps::from_bits(i_positive.magnitude());
    half.current_negative = Amps::from_bits(i_negative.magnitude());
    half.current_sum = Amps::from_bits(Phasor::sum(phases.current_phasor).magnitude());
    half.still = closing.still;
}

/// Numerator over denominator as a ratio; `None` when the denominator is zero.
fn ratio(numerator: i64, denominator: i64) -> Option<Ratio> {
    if denominator <= 0 { None } else { Some(Ratio::from_bits(ratio_q(numerator, denominator as u64, 24))) }
}

/// Root of (square less fundamental square) over the fundamental.
fn distortion(closing: &Closing, square: u64, fundamental: Phasor) -> Option<Ratio> {
    let rest = square.saturating_sub(closing.fitted_square(fundamental));
    ratio(i64::from(isqrt(rest)), i64::from(fundamental.magnitude()))
}

/// Distortion of three phases, of those that `are` there.
fn distortions(
    closing: &Closing,
    squares: [u64; 3],
    fundamentals: [Phasor; 3],
    are: impl Fn(u64) -> bool,
) -> [Option<Ratio>; 3] {
    let mut all = [None; 3];
    for ((to, square), fundamental) in all.iter_mut().zip(squares).zip(fundamentals) {
        if are(square) {
            *to = distortion(closing, square, fundamental);
        }
    }
    all
}

/// Negative over positive sequence.
fn unbalance(phasors: [Phasor; 3]) -> Option<Ratio> {
    let (positive, negative) = sequence(phasors);
    ratio(i64::from(negative.magnitude()), i64::from(positive.magnitude()))
}

/// Whether there is voltage.
fn lives(c: &MeterCoefficients, phases: &Phases) -> bool {
    phases.voltage.iter().any(|square| *square > c.voltage_gone.0)
}

/// Of a window's voltages.
pub(super) fn voltage_distortion(c: &MeterCoefficients, closing: &Closing, phases: &Phases) -> [Option<Ratio>; 3] {
    let lives = lives(c, phases);
    distortions(closing, phases.voltage, phases.voltage_phasor, |_| lives)
}

/// Of its currents.
pub(super) fn current_distortion(c: &MeterCoefficients, closing: &Closing, phases: &Phases) -> [Option<Ratio>; 3] {
    distortions(closing, phases.current, phases.current_phasor, |square| square > c.current_floor.0)
}

/// A phase step as a frequency.
pub(super) fn frequency(c: &MeterCoefficients, step: Option<u32>) -> Option<Hertz> {
    step.map(|step| Hertz::from_bits(narrow(c.hertz.apply(i64::from(step)))))
}

/// The figures of a window that follow from its phases, but for its distortions.
pub(super) fn window(c: &MeterCoefficients, window: &mut Window, sums: Stretch<'_>, phases: &Phases) {
    let root = |square: u64| narrow(i64::from(isqrt(square)));
    window.length = Span(u64::from(sums.frames()));
    window.clipped = sums.clipped();
    window.voltage = phases.voltage.map(|square| Volts::from_bits(root(square)));
    window.current = phases.current.map(|square| Amps::from_bits(root(square)));
    // volts Q16 * amps Q17 -> Q16, rounded
    let apparent = phases.star.into_iter().zip(window.current).fold(0i64, |sum, (square, amps)| {
        let product = i64::from(root(square)) * i64::from(amps.to_bits());
        sum.saturating_add((product + (1 << 16)) >> 17)
    });
    let active = phases.active();
    window.active = Watts::from_bits(active);
    window.reactive = Watts::from_bits(phases.reactive());
    window.apparent = Watts::from_bits(apparent);
    let flows = phases.current.iter().any(|square| *square > c.current_floor.0);
    // The two are rounded apart: a power factor of one must not come out above it.
    window.power_factor = if flows { ratio(active.max(-apparent).min(apparent), apparent) } else { None };
    window.voltage_unbalance = if lives(c, phases) { unbalance(phases.star_phasor) } else { None };
    window.current_unbalance = if flows { unbalance(phases.current_phasor) } else { None };
}
