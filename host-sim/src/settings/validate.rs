//! Checks across keys: what cannot be together is a fault, what may be meant is a warning with figures.

mod feed;
mod trips;

use std::collections::BTreeMap;
use std::f64::consts::SQRT_2;

use super::derive::{Derived, derive};
use super::{CurrentTap, Settings, Values, Warning, Wiring, nameplate, run};
use crate::error::Fault;

/// Faults and warnings while they are found.
pub(super) struct Findings<'a> {
    file: &'a str,
    given: &'a BTreeMap<String, usize>,
    faults: Vec<Fault>,
    warnings: Vec<Warning>,
}

impl Findings<'_> {
    /// Notes a fault at a key.
    pub(super) fn fault(&mut self, key: &str, found: String, wanted: String) {
        let place = self.given.get(key).map_or_else(|| format!("key {key}"), |line| format!("line {line}, key {key}"));
        self.faults.push(Fault::new(self.file, found).at(place).wanted(wanted));
    }

    /// The cure of the fault that was noted last.
    fn mend(&mut self, mend: &str) {
        if let Some(fault) = self.faults.last_mut() {
            mend.clone_into(&mut fault.mend);
        }
    }

    /// Notes a warning at a key.
    pub(super) fn warn(&mut self, key: &str, text: String) {
        self.warnings.push(Warning { line: self.given.get(key).copied(), key: key.to_owned(), text });
    }
}

/// First peak of a start over its steady amplitude: the offset of an R-L circuit of low power factor reaches 1.8
/// (IEC 60909-0 calls it the peak factor, from memory).
const START_PEAK_FACTOR: f64 = 1.8;

/// Runs all cross-checks.
pub(super) fn check(settings: &Settings, file: &str) -> (Vec<Fault>, Vec<Warning>) {
    let mut findings = Findings { file, given: &settings.given, faults: Vec::new(), warnings: Vec::new() };
    let derived = derive(settings);
    nameplate::check(settings, &derived, &mut findings);
    run::check(&settings.runs, &mut findings);
    if settings.sampling.values == Values::Rms && settings.supply.wiring == Wiring::TwoElement {
        let found = "two-element, with [sampling] values = \"rms\"".to_owned();
        let wanted = "three voltages and three currents: a third does not follow from two rms values".to_owned();
        let mend =
            "log all three and say \"four-wire\" or \"three-wire\"; with three currents alone say \"currents-only\"";
        findings.fault("supply.wiring", found, wanted);
        findings.mend(mend);
    }
    current_tap(settings, &mut findings);
    if findings.faults.is_empty() {
        supply(settings, &mut findings);
        full_scale(settings, &derived, &mut findings);
        mill(settings, &mut findings);
        trips::check(settings, &derived, &mut findings);
        feed::check(settings, &mut findings);
    }
    (findings.faults, findings.warnings)
}

/// Transformers inside the delta: all three windings, and samples of them.
fn current_tap(settings: &Settings, findings: &mut Findings<'_>) {
    let supply = &settings.supply;
    if supply.current_tap == CurrentTap::Line {
        return;
    }
    let key = "supply.current_tap";
    let mend = "put the transformers into the lines and say \"line\", or measure what is wanted";
    if supply.wiring == Wiring::TwoElement {
        let wanted = "three transformers: a line's current is the difference of two windings'".to_owned();
        findings.fault(key, "transformers inside the delta, with wiring \"two-element\"".to_owned(), wanted);
        findings.mend(mend);
    }
    if settings.sampling.values == Values::Rms {
        let wanted = "samples: a line's current does not follow from the rms values of two windings".to_owned();
        findings.fault(key, "transformers inside the delta, with [sampling] values = \"rms\"".to_owned(), wanted);
        findings.mend(mend);
    }
}

/// Supply against nameplate: zone A of IEC 60034-1 (5 % of voltage, 2 % of frequency), from memory.
fn supply(settings: &Settings, findings: &mut Findings<'_>) {
    let (supply, motor) = (&settings.supply, &settings.motor);
    let off = (motor.rated_voltage_v / supply.line_voltage_v - 1.0) * 100.0;
    if off.abs() > 5.0 {
        let text = format!(
            "the motor is rated for {} V, {off:+.1} % against the supply's {} V",
            motor.rated_voltage_v, supply.line_voltage_v
        );
        findings.warn("motor.rated_voltage_v", text);
    }
    if (motor.rated_frequency_hz / supply.frequency_hz - 1.0).abs() > 0.02 {
        let text = format!(
            "the motor is rated for {} Hz, the supply has {} Hz",
            motor.rated_frequency_hz, supply.frequency_hz
        );
        findings.warn("motor.rated_frequency_hz", text);
    }
}

fn full_scale(settings: &Settings, derived: &Derived, findings: &mut Findings<'_>) {
    let (supply, sampling) = (&settings.supply, &settings.sampling);
    let (rms, what) = if supply.wiring.is_phase_to_neutral() {
        (supply.line_voltage_v / 3f64.sqrt(), "phase-to-neutral")
    } else {
        (supply.line_voltage_v, "line-to-line")
    };
    let peak = 1.1 * SQRT_2 * rms;
    if sampling.voltage_full_scale_v < peak {
        let text = format!(
            "{} V peak is less than 1.1 x 1.414 x {rms:.1} V {what} = {peak:.1} V: voltage may clip",
            sampling.voltage_full_scale_v
        );
        findings.warn("sampling.voltage_full_scale_v", text);
    }
    let locked = derived.locked_rotor_current_a.value / supply.line_over_measured();
    let peak = START_PEAK_FACTOR * SQRT_2 * locked;
    if sampling.current_full_scale_a < peak {
        let of = if supply.current_tap == CurrentTap::Line { "" } else { " in a winding" };
        let text = format!(
            "{} A peak is less than 1.8 x 1.414 x {locked:.1} A locked-rotor current{of} = {peak:.0} A: starts will clip",
            sampling.current_full_scale_a
        );
        findings.warn("sampling.current_full_scale_a", text);
    }
}

fn mill(settings: &Settings, findings: &mut Findings<'_>) {
    let rated = settings.motor.rated_power_kw;
    let Some(idle) = settings.mill.idle_power_kw else { return };
    if idle >= rated {
        findings.fault("mill.idle_power_kw", format!("{idle} kW"), format!("below rated_power_kw, {rated} kW"));
    } else if idle > 0.6 * rated {
        let text = format!("{idle} kW is {:.0} % of rated power, much for an empty mill", idle / rated * 100.0);
        findings.warn("mill.idle_power_kw", text);
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::{faults, good, parsed, with};

    fn warned(text: &str) -> Vec<String> {
        parsed(text).1.into_iter().map(|warning| warning.key).collect()
    }

    #[test]
    fn a_sound_file_has_no_warning() {
        assert_eq!(parsed(&good()).1, []);
    }

    #[test]
    fn a_motor_for_another_supply_warns() {
        let text = good()
            .replace("line_voltage_v = 400", "line_voltage_v = 480")
            .replace("frequency_hz = 50\nline", "frequency_hz = 60\nline");
        assert_eq!(warned(&text), ["motor.rated_voltage_v", "motor.rated_frequency_hz"]);
        assert_eq!(parsed(&text).1[0].line, Some(14));
    }

    /// 1.8 x 1.414 x 579.3 A = 1475 A; 1.1 x 1.414 x 400 / 1.732 = 359 V, in three-wire 622 V (own arithmetic).
    #[test]
    fn full_scales_warn_on_either_side_of_their_bound() {
        let current = |a: u32| good().replace("current_full_scale_a = 1600", &format!("current_full_scale_a = {a}"));
        assert_eq!(warned(&current(1475)), [""; 0]);
        assert_eq!(warned(&current(1474)), ["sampling.current_full_scale_a"]);
        // Inside the delta 579.3 A / sqrt(3) = 334.5 A: 851 A.
        let inside = |a: u32| current(a).replace("[sampling]", "current_tap = \"delta-ac\"\n\n[sampling]");
        assert_eq!(warned(&inside(852)), [""; 0]);
        assert_eq!(warned(&inside(851)), ["sampling.current_full_scale_a"]);
        let voltage = |v: u32| good().replace("voltage_full_scale_v = 800", &format!("voltage_full_scale_v = {v}"));
        assert_eq!(warned(&voltage(360)), [""; 0]);
        assert_eq!(warned(&voltage(359)), ["sampling.voltage_full_scale_v"]);
        assert_eq!(warned(&voltage(622).replace("four-wire", "three-wire")), ["sampling.voltage_full_scale_v"]);
        assert_eq!(warned(&voltage(623).replace("four-wire", "three-wire")), [""; 0]);
    }

    #[test]
    fn elements_that_trip_at_once_or_never_warn() {
        // At half the base current a start of 15 s is cut off as well.
        let half = ["trip.thermal.base_current_a", "trip.thermal.heating_time_constant_s"];
        assert_eq!(warned(&with("trip.thermal", "base_current_a = 50")), half);
        let jam = |pct: u32| good().replace("pickup_pct = 200", &format!("pickup_pct = {pct}"));
        assert_eq!(warned(&jam(90)), ["trip.jam.pickup_pct"]);
        assert_eq!(warned(&jam(1500)), ["trip.jam.pickup_pct"]);
        assert_eq!(warned(&with("trip.undervoltage", "start_delay_s = 1")), ["trip.undervoltage.start_delay_s"]);
        let slow = good().replace("heating_time_constant_s = 600", "heating_time_constant_s = 9001");
        assert_eq!(warned(&slow), ["trip.thermal.cooling_time_constant_s"]);
        assert_eq!(warned(&with("mill", "idle_power_kw = 40")), ["mill.idle_power_kw"]);
        assert_eq!(faults(&with("mill", "idle_power_kw = 55"))[0].wanted, "below rated_power_kw, 55 kW");
    }
}
