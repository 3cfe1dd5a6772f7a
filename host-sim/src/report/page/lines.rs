//! The lines that a page draws across its pictures: what the motor and the trips are set to.

use serde::Serialize;

use crate::fit;
use crate::settings::Settings;
use crate::settings::derive::derive;

/// A level across a picture.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Level {
    /// In the picture's unit.
    pub value: f64,
    /// What it is.
    pub label: String,
    /// Whether a trip acts there.
    pub trip: bool,
}

/// The levels of each picture.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "named after the pictures")]
pub struct Levels {
    pub load: Vec<Level>,
    pub current: Vec<Level>,
    pub voltage: Vec<Level>,
    pub thermal: Vec<Level>,
    pub speed: Vec<Level>,
    pub torque: Vec<Level>,
    pub unbalance: Vec<Level>,
    pub frequency: Vec<Level>,
}

/// The levels that settings and a learnt or set idle power give.
pub fn levels(settings: &Settings, idle_kw: Option<f64>) -> Levels {
    let (motor, trips) = (&settings.motor, &settings.trips);
    let derived = derive(settings);
    let level = |value: f64, label: &str| Level { value, label: label.to_owned(), trip: false };
    let trip = |value: f64, label: String| Level { value, label, trip: true };

    let mut load = vec![level(motor.rated_power_kw, "rated")];
    load.extend(idle_kw.map(|kw| level(kw, "idle")));
    load.extend(settings.feeder.map(|f| level(motor.rated_power_kw * f.target_pct / 100.0, "target of the feed")));
    if motor.service_factor > 1.0 {
        load.push(level(motor.rated_power_kw * motor.service_factor, "service factor"));
    }
    let mut current = vec![level(motor.rated_current_a, "rated")];
    let power_at = power_at_current(settings);
    if let Some(t) = &trips.thermal {
        let amps = t.k * t.base_current_a;
        current.push(trip(amps, "thermal".to_owned()));
        load.extend(power_at(amps).map(|kw| trip(kw, "≈ thermal".to_owned())));
    }
    if let Some(t) = &trips.jam {
        let amps = t.pickup_pct / 100.0 * motor.rated_current_a;
        current.push(trip(amps, format!("jam, {} s", t.delay_s)));
        load.extend(power_at(amps).map(|kw| trip(kw, format!("≈ jam, {} s", t.delay_s))));
    }

    let to_neutral = settings.supply.wiring.is_phase_to_neutral();
    let nominal = settings.supply.line_voltage_v / if to_neutral { 3f64.sqrt() } else { 1.0 };
    let mut voltage = vec![level(nominal, "nominal")];
    voltage.extend(
        trips.undervoltage.map(|t| trip(nominal * t.pickup_pct / 100.0, format!("undervoltage, {} s", t.delay_s))),
    );
    Levels {
        load,
        current,
        voltage,
        thermal: trips.thermal.iter().map(|_| trip(100.0, "trip".to_owned())).collect(),
        speed: vec![level(derived.synchronous_speed_rpm.value, "synchronous"), level(motor.rated_speed_rpm, "rated")],
        torque: vec![level(derived.rated_torque_nm.value, "rated")],
        unbalance: trips
            .phase_loss
            .iter()
            .map(|t| trip(t.pickup_pct, format!("phase loss, {} s", t.delay_s)))
            .collect(),
        frequency: vec![level(settings.supply.frequency_hz, "nominal")],
    }
}

/// The shaft power in kW at a steady current in A and rated voltage, by the fitted circuit; `None` beyond the
/// motor's breakdown, where no steady power belongs to a current.
fn power_at_current(settings: &Settings) -> impl Fn(f64) -> Option<f64> {
    let circuit = fit::circuit::fit(settings).ok().map(|circuit| circuit.solved(settings));
    move |amps| {
        let circuit = circuit.as_ref()?;
        // Up to breakdown the current rises with slip.
        let (mut low, mut high) = (0.0, circuit.breakdown().slip);
        let inside = circuit.at_slip(low).current_a < amps && amps < circuit.at_slip(high).current_a;
        for _ in 0..50 {
            let middle = f64::midpoint(low, high);
            if circuit.at_slip(middle).current_a < amps { low = middle } else { high = middle }
        }
        inside.then(|| circuit.at_slip(low).shaft_w / 1000.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::testing::settings;

    /// At rated current the fitted circuit gives rated power: it is what it was fitted to.
    #[test]
    fn power_at_rated_current_is_rated_power() {
        let s = crate::settings::parse(&crate::settings::testing::good(), "a.toml").unwrap().0;
        let kw = power_at_current(&s)(s.motor.rated_current_a).unwrap();
        assert!((kw / s.motor.rated_power_kw - 1.0).abs() < 0.02, "{kw}");
        assert_eq!(power_at_current(&s)(1e6), None);
        assert_eq!(power_at_current(&s)(0.0), None);
    }

    /// By hand: 200 % of 100 A; 80 % of 400 V over the root of three; 1.05 x 96.55 A.
    #[test]
    fn trips_are_in_the_units_of_their_pictures() {
        let levels = levels(&settings(), Some(6.5));
        let find = |list: &[Level], word: &str| list.iter().find(|l| l.label.contains(word)).map(|l| l.value);
        assert_eq!(find(&levels.current, "jam"), Some(200.0));
        assert!((find(&levels.voltage, "undervoltage").unwrap() - 184.752).abs() < 1e-3);
        assert!((find(&levels.current, "thermal").unwrap() - 101.3775).abs() < 1e-9);
        assert_eq!(find(&levels.load, "idle"), Some(6.5));
    }
}
