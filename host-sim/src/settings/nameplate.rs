//! What a nameplate must be in itself: below synchronous speed, giving less power than it takes; and the
//! conversion of a stator resistance measured cold.

use super::derive::{Derived, product_pu, rated_power_factor_given};
use super::limits;
use super::raw::Table;
use super::validate::Findings;
use super::{Curve, Settings};

/// Copper's resistance is proportional to this constant plus degrees Celsius: IEC 60034-1, from memory.
const COPPER_C: f64 = 235.0;

/// A winding's temperature in service for which a cold resistance is converted, degrees Celsius: common practice
/// for a motor whose temperature rise is that of class B; no source.
const WARM_C: f64 = 75.0;

/// Reads the stator resistance: per phase and warm as given, or from a cold measurement between two terminals.
/// `warm_c` is the temperature that the windings have at rated load, where the file says it.
pub(super) fn stator_resistance(t: &mut Table<'_>, warm_c: Option<f64>) -> Option<f64> {
    let phase = t.number("stator_resistance_ohm", &limits::RESISTANCE_OHM);
    let line = t.number("stator_resistance_line_ohm", &limits::RESISTANCE_OHM);
    let at_c = t.number("stator_resistance_at_c", &limits::WINDING_C);
    let has = |key: &str| t.has(key);
    match (has("stator_resistance_ohm"), has("stator_resistance_line_ohm"), has("stator_resistance_at_c")) {
        (true, true, _) => t.reject(
            "stator_resistance_line_ohm",
            "either stator_resistance_ohm or stator_resistance_line_ohm, not both",
            "keep the one that was measured",
        ),
        (true, false, true) => t.reject(
            "stator_resistance_at_c",
            "no temperature beside stator_resistance_ohm, which is taken as warm",
            "a cold measurement goes into stator_resistance_line_ohm",
        ),
        (false, true, false) => t.reject(
            "stator_resistance_line_ohm",
            "stator_resistance_at_c beside it",
            "write the temperature of the winding when it was measured, for example stator_resistance_at_c = 20",
        ),
        (false, false, true) => t.reject(
            "stator_resistance_at_c",
            "stator_resistance_line_ohm beside it",
            "write the resistance measured between two terminals, or leave the temperature out",
        ),
        _ => {}
    }
    phase.or_else(|| Some(warm_per_phase(line?, at_c?, warm_c.unwrap_or(WARM_C))))
}

/// Per phase of the star equivalent (half of what two terminals show, whatever the connection), warm; ohm.
fn warm_per_phase(line_ohm: f64, at_c: f64, warm_c: f64) -> f64 {
    line_ohm / 2.0 * (COPPER_C + warm_c) / (COPPER_C + at_c)
}

/// The stator's resistance as the settings have it, warm, over what it is at a temperature of its winding.
pub fn warmed(at_c: f64, settings: &Settings) -> f64 {
    let warm_c = settings.winding.map_or(WARM_C, |winding| winding.ambient_c + winding.rise_k);
    (COPPER_C + warm_c) / (COPPER_C + at_c)
}

/// Checks that need several figures of the nameplate.
pub(super) fn check(settings: &Settings, derived: &Derived, findings: &mut Findings<'_>) {
    speed(settings, derived, findings);
    power(settings, derived, findings);
    slip(settings, derived, findings);
    if let Some(curve) = &settings.motor.efficiency_pct {
        losses_rise(curve, findings);
    }
    resistance(settings, derived, findings);
    let motor = &settings.motor;
    let locked = derived.locked_rotor_current_a.value / motor.rated_current_a;
    if locked <= 1.0 {
        findings.fault(
            "motor.locked_rotor_current_a",
            format!("{} A", derived.locked_rotor_current_a.value),
            format!("above rated_current_a, {} A", motor.rated_current_a),
        );
    } else if !(2.0..=12.0).contains(&locked) {
        findings.warn("motor.locked_rotor_current_a", format!("{locked:.1} x rated current; 4 to 8 is usual"));
    }
}

fn speed(settings: &Settings, derived: &Derived, findings: &mut Findings<'_>) {
    let motor = &settings.motor;
    let synchronous = derived.synchronous_speed_rpm.value;
    let arithmetic = format!("120 x {} Hz / {} poles = {synchronous:.0} rpm", motor.rated_frequency_hz, motor.poles);
    let slip = derived.rated_slip_pct.value;
    if slip <= 0.0 {
        findings.fault(
            "motor.rated_speed_rpm",
            format!("{} rpm", motor.rated_speed_rpm),
            format!("below the synchronous speed, {arithmetic}; an induction motor never reaches it"),
        );
    } else if slip > 10.0 {
        findings.warn(
            "motor.rated_speed_rpm",
            format!("{slip:.0} % below the synchronous speed, {arithmetic}: are the poles right?"),
        );
    }
}

/// The rotor loses the slip's share of all that crosses the air gap, so that slip and efficiency together stay
/// below one. What is beyond that in the efficiency alone has been found by then.
fn slip(settings: &Settings, derived: &Derived, findings: &mut Findings<'_>) {
    let (slip, efficiency) = (derived.rated_slip_pct.value, derived.rated_efficiency_pct.value);
    if efficiency < 100.0 && slip < 100.0 && slip + efficiency > 100.0 {
        let (motor, losses) = (&settings.motor, 100.0 - efficiency);
        findings.fault(
            "motor.rated_speed_rpm",
            format!("{} rpm with {} poles, a slip of {slip:.1} %", motor.rated_speed_rpm, motor.poles),
            format!("at most the losses, {losses:.1} % at an efficiency of {efficiency:.1} %: are the poles right?"),
        );
    }
}

/// P = sqrt(3) V I x efficiency x power factor, with both of the last at most one.
fn power(settings: &Settings, derived: &Derived, findings: &mut Findings<'_>) {
    let motor = &settings.motor;
    let (p, va) = (motor.rated_power_kw, motor.rated_apparent_va() / 1e3);
    let arithmetic = format!("1.732 x {} V x {} A = {va:.4} kVA", motor.rated_voltage_v, motor.rated_current_a);
    let product = product_pu(settings);
    let power_factor = rated_power_factor_given(settings).map(|figure| figure.value);
    let efficiency = (motor.rated_efficiency_pct.is_some() || motor.efficiency_pct.is_some())
        .then_some(derived.rated_efficiency_pct.value);
    if product > 1.0 {
        findings.fault(
            "motor.rated_power_kw",
            format!("{p} kW of shaft power from {arithmetic}"),
            format!("less power than volts and amperes: here efficiency x power factor is {:.1} %", product * 100.0),
        );
        return;
    }
    if motor.rated_efficiency_pct.is_none() && motor.efficiency_pct.is_some() && !valid(efficiency) {
        let found = format!("{:.1} % at rated load when its losses are carried on", derived.rated_efficiency_pct.value);
        findings.fault("motor.efficiency_pct", found, limits::SHARE_PCT.to_string());
        return;
    }
    match (efficiency, power_factor) {
        (None, None) => findings.fault(
            "motor.rated_power_factor_pct",
            "neither rated_power_factor_pct nor rated_efficiency_pct nor efficiency_pct is given".to_owned(),
            "at least one of them: the nameplate has the power factor (cos phi)".to_owned(),
        ),
        (None, Some(pf)) if product * 100.0 > pf => findings.fault(
            "motor.rated_power_factor_pct",
            format!("{pf} %, so that the motor takes {arithmetic} x {:.3} = {:.4} kW", pf / 100.0, va * pf / 100.0),
            format!("more than the {p} kW that it gives: here its efficiency is {:.1} %", product * 1e4 / pf),
        ),
        (Some(eff), None) if product * 100.0 > eff => findings.fault(
            "motor.rated_efficiency_pct",
            format!("{eff:.2} %, so that the motor takes {p} / {:.4} = {:.4} kW", eff / 100.0, p * 100.0 / eff),
            format!("at most {arithmetic}: here its power factor is {:.1} %", product * 1e4 / eff),
        ),
        (Some(eff), Some(pf)) => {
            let takes = va * eff * pf / 1e4;
            let off = (takes / p - 1.0) * 100.0;
            if off.abs() > 3.0 {
                let text = format!(
                    "{arithmetic}, times efficiency {eff:.2} % and power factor {pf:.2} % is {takes:.4} kW: {:.1} % {} \
                     the rated {p} kW",
                    off.abs(),
                    if off > 0.0 { "more than" } else { "less than" },
                );
                findings.warn("motor.rated_power_kw", text);
            }
        }
        _ => {}
    }
    for (key, pct) in [
        ("motor.rated_power_factor_pct", motor.rated_power_factor_pct),
        ("motor.rated_efficiency_pct", motor.rated_efficiency_pct),
    ] {
        if let Some(share) = pct.filter(|pct| *pct <= 1.0) {
            findings
                .warn(key, format!("{share} % is next to nothing: per cent are wanted; is {} meant?", share * 100.0));
        }
    }
    if let (Some(rated), Some(curve)) = (motor.rated_efficiency_pct, &motor.efficiency_pct) {
        let at_rated = curve.efficiency_pct(1.0);
        if (at_rated - rated).abs() > 1.0 {
            findings
                .warn("motor.efficiency_pct", format!("{at_rated:.2} % at rated load, rated_efficiency_pct {rated} %"));
        }
    }
}

fn valid(share_pct: Option<f64>) -> bool {
    share_pct.is_some_and(|x| limits::SHARE_PCT.hold(x))
}

/// Losses that fall with load are a slip of the pen: they would make a motor that cools under load.
fn losses_rise(curve: &Curve, findings: &mut Findings<'_>) {
    for pair in curve.points().windows(2) {
        let [low, high] = [pair[0].load_pct, pair[1].load_pct];
        let [less, more] = [low, high].map(|load| curve.losses_pu(load / 100.0) * 100.0);
        if more < less {
            let text = format!(
                "losses fall from {less:.2} % of rated power at {low} % load to {more:.2} % at {high} % load: is a \
                 figure mistyped?"
            );
            findings.warn("motor.efficiency_pct", text);
        }
    }
}

/// Copper losses at rated current must leave something for the rest of the losses.
fn resistance(settings: &Settings, derived: &Derived, findings: &mut Findings<'_>) {
    let copper_kw = 3e-3 * settings.motor.rated_current_a.powi(2) * derived.stator_resistance_ohm.value;
    let losses_kw = derived.rated_losses_kw.value;
    if copper_kw > losses_kw {
        let key = ["motor.stator_resistance_line_ohm", "motor.stator_resistance_ohm"];
        let key = if settings.given.contains_key(key[0]) { key[0] } else { key[1] };
        let text = format!(
            "{:.4} ohm per phase would lose {copper_kw:.3} kW at rated current, more than all rated losses, \
             {losses_kw:.3} kW: is it per phase, in ohms?",
            derived.stator_resistance_ohm.value
        );
        findings.warn(key, text);
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::{MOTOR_RATED, faults, good, parsed, with};
    use super::*;

    /// 0.1 ohm between terminals at 20 degrees: 0.05 x 310 / 255 by the copper rule (own arithmetic).
    #[test]
    fn a_cold_resistance_is_halved_and_warmed() {
        assert!((warm_per_phase(0.1, 20.0, WARM_C) - 0.060_784).abs() < 1e-6);
        let text = with("motor", "stator_resistance_line_ohm = 0.1\nstator_resistance_at_c = 20");
        assert!((parsed(&text).0.motor.stator_resistance_ohm.unwrap() - 0.060_784).abs() < 1e-6);
    }

    #[test]
    fn resistance_keys_go_together_or_not_at_all() {
        for (lines, key) in [
            ("stator_resistance_line_ohm = 0.1", "motor.stator_resistance_line_ohm"),
            ("stator_resistance_at_c = 20", "motor.stator_resistance_at_c"),
            ("stator_resistance_ohm = 0.05\nstator_resistance_at_c = 20", "motor.stator_resistance_at_c"),
            (
                "stator_resistance_ohm = 0.05\nstator_resistance_line_ohm = 0.1\nstator_resistance_at_c = 20",
                "motor.stator_resistance_line_ohm",
            ),
        ] {
            let all = faults(&with("motor", lines));
            assert_eq!(all.len(), 1, "{all:?}");
            assert!(all[0].place.ends_with(key), "{}", all[0]);
        }
    }

    #[test]
    fn more_power_out_than_in_shows_the_arithmetic() {
        let text = good().replace("rated_current_a = 96.55", "rated_current_a = 60");
        let all = faults(&text);
        assert!(all[0].place.contains("key motor.rated_power_kw"), "{}", all[0]);
        assert!(all[0].found.contains("1.732 x 400 V x 60 A = 41.5692 kVA"), "{}", all[0]);
        assert!(all[0].wanted.contains("132.3 %"), "{}", all[0]);
    }

    #[test]
    fn a_power_factor_or_efficiency_that_cannot_be() {
        let low = good().replace(MOTOR_RATED, "rated_power_factor_pct = 60");
        assert!(faults(&low)[0].wanted.contains("137.0 %"), "{}", faults(&low)[0]);
        let low = good().replace(MOTOR_RATED, "rated_efficiency_pct = 60");
        assert!(faults(&low)[0].wanted.contains("power factor is 137.0 %"), "{}", faults(&low)[0]);
        let none = good().replace(MOTOR_RATED, "");
        assert!(faults(&none)[0].found.starts_with("neither"), "{}", faults(&none)[0]);
    }

    #[test]
    fn speeds_at_or_above_synchronous_are_faults() {
        for speed in ["1500", "1520"] {
            let all = faults(&good().replace("1477.3", speed));
            assert!(all[0].wanted.contains("120 x 50 Hz / 4 poles = 1500 rpm"), "{}", all[0]);
        }
        // A slip of 34.7 % would lose more than a third in the rotor, and the efficiency is 93.8 %.
        let all = faults(&good().replace("1477.3", "980"));
        assert!(all[0].found.contains("34.7 %") && all[0].wanted.contains("6.2 %"), "{}", all[0]);
        let lossy = good().replace(MOTOR_RATED, "rated_efficiency_pct = 85").replace("1477.3", "1340");
        assert!(parsed(&lossy).1.iter().any(|w| w.key == "motor.rated_speed_rpm"));
    }

    #[test]
    fn odd_but_possible_figures_warn() {
        let cases = [
            ("rated_efficiency_pct = 85", "motor.rated_power_kw"),
            ("efficiency_pct = [[50, 80], [100, 93.76]]", "motor.efficiency_pct"),
            ("rated_efficiency_pct = 93.7\nefficiency_pct = [[50, 93], [100, 91]]", "motor.efficiency_pct"),
            ("stator_resistance_ohm = 0.5", "motor.stator_resistance_ohm"),
            ("locked_rotor_current_a = 2000", "motor.locked_rotor_current_a"),
        ];
        for (lines, key) in cases {
            let (_, warnings) = parsed(&with("motor", lines));
            assert!(warnings.iter().any(|w| w.key == key), "{lines}: {warnings:?}");
        }
        let share = with("motor", "rated_efficiency_pct = 93.7").replace(MOTOR_RATED, "rated_power_factor_pct = 0.84");
        let (_, warnings) = parsed(&share);
        assert!(warnings.iter().any(|w| w.text.contains("is 84 meant?")), "{warnings:?}");
    }
}
