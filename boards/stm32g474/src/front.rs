//! Between the line and the converters: what a volt and an ampere become.
//!
//! ```text
//!  L ─ 4 x 160k ─┬─ isolated amplifier (gain 1) ─ difference amplifier (gain 1, about half the reference) ─ filter ─ converter
//!                1k                                                                       converter: 0 .. reference
//!  N ────────────┴─
//!
//!  conductor through a transformer 200:1 ─ burden 3 x 1 Ω ‖ ─ 10k ─┬─ filter ─ converter
//!                                              reference ─ 10k ────┘  half of the burden's voltage, about half the reference
//! ```
//!
//! The filter is the same for all six: a unity-gain Sallen-Key stage (R. P. Sallen and E. L. Key, IRE Trans. Circuit Theory CT-2, 1955).

/// The converters' reference, mV: a part of its own on the reference pin.
pub const REFERENCE_MV: u32 = 2_500;

/// The divider's head, Ω: four resistors in a row, so that each bears a quarter of the voltage.
pub const DIVIDER_HEAD_OHM: u32 = 4 * 160_000;
/// The divider's foot, Ω.
pub const DIVIDER_FOOT_OHM: u32 = 1_000;

/// Turns of the current transformers, one of the conductor: 200 A to 1 A.
pub const TRANSFORMER_RATIO: u32 = 200;
/// Resistors of the burden, side by side: one that fails open does not open the transformer's secondary.
pub const BURDEN_RESISTORS: u32 = 3;
/// Each of them, mΩ.
pub const BURDEN_RESISTOR_MOHM: u32 = 1_000;
/// Of the burden's voltage this part reaches the converter, one in ...: two equal resistors move it up by half the reference.
pub const LEVEL_SHIFT: u32 = 2;

/// The filter's resistors, Ω: the first is what the stage before has, two of 10 kΩ side by side.
pub const FILTER_OHM: u32 = 5_000;
/// Its capacitor to the output, pF.
pub const FILTER_FEEDBACK_PF: u32 = 33_000;
/// Its capacitor to ground, pF.
pub const FILTER_GROUND_PF: u32 = 15_000;

/// What holds the 4 to 20 mA output at nothing where the converter does not drive it, Ω.
pub const LOOP_PULL_DOWN_OHM: u32 = 470_000;
/// The converter's source without its buffer, Ω at most (data sheet, from memory): with the resistor above a divider.
pub const LOOP_SOURCE_OHM: u32 = 15_000;
/// Leakage of a pin that nothing drives, nA at most (data sheet, from memory).
pub const PIN_LEAKAGE_NA: u32 = 150;
/// Shunt of the 4 to 20 mA output, mΩ: two of 243 Ω side by side. What the divider leaves of the reference is full current.
pub const LOOP_SHUNT_MOHM: u32 = 121_500;

/// Peak voltage at full scale, mV: half the reference, over the divider.
pub const VOLTAGE_FULL_SCALE_MV: u32 = REFERENCE_MV / 2 * (DIVIDER_HEAD_OHM + DIVIDER_FOOT_OHM) / DIVIDER_FOOT_OHM;

/// Peak current at full scale, mA: half the reference at the converter is all of it at the burden.
///
/// Width: 2 500 x 200 x 3 x 1 000 is 1.5e9 of 4.2e9.
pub const CURRENT_FULL_SCALE_MA: u32 =
    REFERENCE_MV / 2 * LEVEL_SHIFT * TRANSFORMER_RATIO * BURDEN_RESISTORS / BURDEN_RESISTOR_MOHM * 1_000;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::timing;
    use shaftwork_core::Settings;

    const PAGE: &str = include_str!("../../../docs/board-stm32g474.md");

    fn says(line: &str) {
        assert!(PAGE.contains(line), "docs/board-stm32g474.md does not say: {line}");
    }

    /// f0 in Hz and Q of the stage with equal resistors: 1 / (2 pi R root(C1 C2)), root(C1 / C2) / 2.
    fn corner(resistor: f64, feedback: f64, ground: f64) -> (f64, f64) {
        let f0 = 1.0 / (core::f64::consts::TAU * resistor * (feedback * ground).sqrt());
        (f0, (feedback / ground).sqrt() / 2.0)
    }

    fn as_drawn() -> (f64, f64) {
        corner(f64::from(FILTER_OHM), f64::from(FILTER_FEEDBACK_PF) * 1e-12, f64::from(FILTER_GROUND_PF) * 1e-12)
    }

    /// Gain and phase (rad, lagging) of 1 / (1 - r² + j r / Q).
    fn filter((f0, q): (f64, f64), hz: f64) -> (f64, f64) {
        let r = hz / f0;
        let (re, im) = (1.0 - r * r, r / q);
        (1.0 / re.hypot(im), im.atan2(re))
    }

    /// The mean over the time that the oversampler adds up: sin(x) / x.
    fn mean(hz: f64, seconds: f64) -> f64 {
        let x = core::f64::consts::PI * hz * seconds;
        x.sin() / x
    }

    fn db(gain: f64) -> f64 {
        20.0 * gain.log10()
    }

    #[test]
    fn full_scale_is_what_the_page_says_and_the_example_motor_needs() {
        let ratio = f64::from(DIVIDER_HEAD_OHM + DIVIDER_FOOT_OHM) / f64::from(DIVIDER_FOOT_OHM);
        assert!((f64::from(VOLTAGE_FULL_SCALE_MV) - 1_250.0 * ratio).abs() < 1.0);
        let burden = f64::from(BURDEN_RESISTOR_MOHM) / 1e3 / f64::from(BURDEN_RESISTORS);
        assert!((f64::from(CURRENT_FULL_SCALE_MA) - 2.5 / burden * f64::from(TRANSFORMER_RATIO) * 1e3).abs() < 1.0);
        assert_eq!((VOLTAGE_FULL_SCALE_MV, CURRENT_FULL_SCALE_MA), (801_250, 1_500_000));
        says("voltage_full_scale_v = 801.25");
        says("current_full_scale_a = 1500");
        // 1.8 x root 2 x locked-rotor current, which is six times the rated one where it is not told: the offset of a start fits.
        let motor = Settings::example().motor;
        let start = 1.8 * core::f64::consts::SQRT_2 * 6.0 * f64::from(motor.rated_current_ma);
        assert!(start < f64::from(CURRENT_FULL_SCALE_MA), "{start}");
        // The other way the amplifiers end it sooner.
        let below = f64::from(-timing::code(timing::LOW_RAW)) / f64::from(0x8000) * f64::from(CURRENT_FULL_SCALE_MA);
        says(&format!("counts as clipped from {:.0} A on", below / 1e3));
        // The highest supply: 690 V from line to line, a fifth too high.
        let high = 690.0 / 3.0_f64.sqrt() * core::f64::consts::SQRT_2 * 1.2;
        assert!(high * 1e3 < f64::from(VOLTAGE_FULL_SCALE_MV) * below / f64::from(CURRENT_FULL_SCALE_MA), "{high}");
    }

    #[test]
    fn burden_and_divider_stay_cool() {
        let burden = f64::from(BURDEN_RESISTOR_MOHM) / 1e3 / f64::from(BURDEN_RESISTORS);
        let secondary = 6.0 * 96.5 / f64::from(TRANSFORMER_RATIO); // the example's motor at standstill
        let each = secondary * secondary * burden / f64::from(BURDEN_RESISTORS);
        says(&format!("{secondary:.2} A, {each:.2} W in each"));
        assert!(each < 3.0 / 2.0, "half of the 3 W of a resistor: {each}");
        // Two of three: what a resistor that fails open leaves.
        assert!(secondary * secondary * 0.5 / 2.0 < 3.0);
        let volts = 690.0 / 3.0_f64.sqrt() * 1.1;
        let chain = volts / f64::from(DIVIDER_HEAD_OHM + DIVIDER_FOOT_OHM);
        let each = chain * chain * 160_000.0;
        says(&format!("{:.0} V and {:.0} mW at each of the head's resistors", volts / 4.0, each * 1e3));
        assert!(each < 0.25 / 2.0, "half of a quarter watt: {each}");
        assert!(volts / 4.0 < 200.0, "what a resistor of that size bears: {volts}");
    }

    /// The table of the page, line by line.
    #[test]
    fn the_filter_is_what_the_page_says() {
        let (f0, q) = as_drawn();
        says(&format!("corner {f0:.0} Hz, Q {q:.2}"));
        for rate in [2_000_u32, 4_000, 8_000, 16_000] {
            let seconds = f64::from(timing::adds_up_ns(rate * 1_000)) * 1e-9;
            let image = f64::from(rate) - 50.0;
            let (analog, added) = (db(filter((f0, q), image).0), db(mean(image, seconds)));
            says(&format!(
                "| {rate} | {} | {:.1} | {:.0} | {:.1} | {:.1} | {:.1} |",
                1_u32 << timing::oversampling(rate * 1_000),
                seconds * 1e6,
                image,
                -analog,
                -added,
                -analog - added
            ));
        }
        for (hz, limit) in [(50.0, 0.002), (60.0, 0.002), (650.0, 0.2), (1_250.0, 2.0)] {
            let droop = -db(filter((f0, q), hz).0 * mean(hz, f64::from(timing::adds_up_ns(4_000_000)) * 1e-9));
            assert!(droop.abs() < limit, "{droop} dB at {hz} Hz");
        }
    }

    /// Voltage and current of a phase pass the same filter, each with parts of its own. Resistors of 0.1 %, capacitors of 1 %: at the worst
    /// corner of them the phase between the two is this, and power at a factor of 0.85 errs by this times the tangent.
    #[test]
    fn parts_of_the_bin_cost_this_much() {
        let bent = |r: f64, c: f64| {
            let (ohm, feedback, ground) =
                (f64::from(FILTER_OHM), f64::from(FILTER_FEEDBACK_PF), f64::from(FILTER_GROUND_PF));
            filter(corner(ohm * r, feedback * 1e-12 * c, ground * 1e-12 * c), 50.0).1
        };
        let between = bent(1.001, 1.01) - bent(0.999, 0.99);
        let power = between * (0.85_f64.acos()).tan();
        says(&format!("{:.3}° at 50 Hz, {:.2} % of power", between.to_degrees(), power * 100.0));
        assert!(power < 0.001, "less than the transformers' own: {power}");
    }

    #[test]
    fn the_loop_is_full_at_the_reference_and_nothing_without_a_processor() {
        let pull = f64::from(LOOP_PULL_DOWN_OHM);
        let full = |source: f64| {
            f64::from(REFERENCE_MV) * pull / (pull + source) / f64::from(LOOP_SHUNT_MOHM) * 1e3 // mA
        };
        let highest = f64::from(LOOP_SOURCE_OHM);
        says(&format!("{:.2} mA", full(highest)));
        // The source is what it is: from the highest to two thirds of it.
        for source in [highest, highest * 2.0 / 3.0] {
            assert!((full(source) / 20.0 - 1.0).abs() < 0.01, "{}", full(source));
        }
        let leaks = pull * f64::from(PIN_LEAKAGE_NA) * 1e-9 / f64::from(LOOP_SHUNT_MOHM) * 1e6; // mA
        says(&format!("{leaks:.2} mA"));
        assert!(leaks < 3.6 / 4.0, "far below where the drive stops: {leaks}");
    }
}
