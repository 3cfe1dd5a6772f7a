//! The last step of a closing: phases -> the figures of a record.

use super::closing::Closing;
use super::pairs::{crosses, slots};
use super::phases::Phases;
use super::phasor::{Phasor, sequence};
use super::sums::Stretch;
use crate::math::root::isqrt;
use crate::math::scale::{narrow, ratio_q};
use crate::record::{HalfCycle, Window};
use crate::settings::MeterCoefficients;
use crate::time::{Instant, Span};
use crate::unit::{Amps, Hertz, Ratio, SquareAmps, SquareVolts, Volts, Watts};

/// Active energy of all phases in a stretch, joules Q20, less what the offsets would add.
pub(super) fn energy(c: &MeterCoefficients, sums: Stretch<'_>) -> i64 {
    let mut total = 0i64;
    let factors = c.energy.iter().skip(slots(c.wiring).len());
    for ((place, pair), factor) in crosses(c.wiring).iter().enumerate().zip(factors) {
        let Some(product) = sums.cross(place).filter(|_| pair.power != 0) else { continue };
        let (i, j) = (pair.first as usize, pair.second as usize);
        let at = |x: &[i32; 6], k: usize| x.get(k).map_or(0, |x| i64::from(*x));
        let (oi, oj) = (at(&c.offset_q8, i), at(&c.offset_q8, j)); // 29 bits
        // sum (x - oi)(y - oj) = sum xy - oi sum y - oj sum x + n oi oj
        let cross = (oi * sums.code(j) + oj * sums.code(i)) >> 8; // codes of a half cycle: 31 bits
        let both = (((oi * oj) >> 20) * i64::from(sums.frames())) >> 12; // 38 + 24 bits; Q16 * Q16 - 20 - 12
        total = total.saturating_add(factor.apply(product.saturating_sub(cross).saturating_add(both)));
    }
    total
}

/// The figures of a cycle, of whose voltage the sequences are known; the caller adds what belongs to
/// the half cycle.
#[inline]
pub(super) fn half_cycle(
    closing: &Closing,
    sums: Stretch<'_>,
    phases: &Phases,
    (v_positive, v_negative): (Phasor, Phasor),
) -> HalfCycle {
    let (i_positive, i_negative) = sequence(phases.current_phasor);
    HalfCycle {
        cycle: Span(u64::from(sums.frames())),
        active: Watts::from_bits(phases.active()),
        reactive: Watts::from_bits(phases.reactive()),
        voltage: phases.voltage.map(SquareVolts),
        current: phases.current.map(SquareAmps),
        voltage_positive: Volts::from_bits(v_positive.magnitude()),
        voltage_negative: Volts::from_bits(v_negative.magnitude()),
        current_positive: Amps::from_bits(i_positive.magnitude()),
        current_negative: Amps::from_bits(i_negative.magnitude()),
        current_sum: Amps::from_bits(Phasor::sum(phases.current_phasor).magnitude()),
        still: closing.still,
        ..HalfCycle::default()
    }
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

/// The figures of a window.
pub(super) fn window(
    c: &MeterCoefficients,
    closing: &Closing,
    sums: Stretch<'_>,
    phases: &Phases,
    end: Instant,
    step: Option<u32>,
) -> Window {
    let root = |square: u64| narrow(i64::from(isqrt(square)));
    let current = phases.current.map(|square| Amps::from_bits(root(square)));
    // volts Q16 * amps Q17 -> Q16, rounded
    let apparent = phases.star.into_iter().zip(current).fold(0i64, |sum, (square, amps)| {
        let product = i64::from(root(square)) * i64::from(amps.to_bits());
        sum.saturating_add((product + (1 << 16)) >> 17)
    });
    let active = phases.active();
    let flows = phases.current.iter().any(|square| *square > c.current_floor.0);
    let lives = phases.voltage.iter().any(|square| *square > c.voltage_gone.0);
    Window {
        end,
        length: Span(u64::from(sums.frames())),
        frequency: step.map(|step| Hertz::from_bits(narrow(c.hertz.apply(i64::from(step))))),
        voltage: phases.voltage.map(|square| Volts::from_bits(root(square))),
        current,
        active: Watts::from_bits(active),
        reactive: Watts::from_bits(phases.reactive()),
        apparent: Watts::from_bits(apparent),
        // The two are rounded apart: a power factor of one must not come out above it.
        power_factor: if flows { ratio(active.max(-apparent).min(apparent), apparent) } else { None },
        voltage_unbalance: if lives { unbalance(phases.star_phasor) } else { None },
        current_unbalance: if flows { unbalance(phases.current_phasor) } else { None },
        voltage_distortion: distortions(closing, phases.voltage, phases.voltage_phasor, |_| lives),
        current_distortion: distortions(closing, phases.current, phases.current_phasor, |square| {
            square > c.current_floor.0
        }),
        clipped: sums.clipped(),
    }
}
