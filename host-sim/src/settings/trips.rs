//! The trip elements: their settings and how these are read.
//!
//! Each of the five tables must be in the file; `enabled = false` says plainly that an element is not wanted.

use super::class::{self, TripClass};
use super::elements::{self, Further};
use super::raw::Table;
use super::{limits, template};

/// Cooling time constant over heating time constant, if only the latter is given: a motor at standstill has no fan.
pub(super) const COOLING_OVER_HEATING: f64 = 4.0;

/// The five elements that every file must speak of; `None`: plainly not wanted (`enabled = false`).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trips {
    /// Thermal overload.
    pub thermal: Option<Thermal>,
    /// Jam.
    pub jam: Option<Jam>,
    /// Long start.
    pub long_start: Option<LongStart>,
    /// Phase loss.
    pub phase_loss: Option<PhaseLoss>,
    /// Undervoltage.
    pub undervoltage: Option<Undervoltage>,
    /// Those that are off unless present.
    pub further: Further,
}

/// Thermal overload: a first-order image (IEC 60255-149) of the equivalent current.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Thermal {
    /// Base current, A.
    pub base_current_a: f64,
    /// The current that may flow for ever, over the base current.
    pub k: f64,
    /// Time constant while current flows, s.
    pub heating_time_constant_s: f64,
    /// Time constant at standstill, s.
    pub cooling_time_constant_s: f64,
    /// The image when the trace begins, % of the trip level.
    pub initial_pct: f64,
    /// Weight q of the squared negative-sequence current.
    pub negative_sequence_factor: f64,
    /// Trip class that the image is to keep, where one is named.
    pub trip_class: Option<TripClass>,
    /// Hot and cold stall times, s, where both are known.
    pub stall_s: Option<[f64; 2]>,
}

impl Thermal {
    /// Time to trip at a steady current after another has flowed for long, s; `None`: never (IEC 60255-149).
    pub fn trip_after_s(&self, current_a: f64, before_a: f64) -> Option<f64> {
        let per_unit = |amps: f64| amps / (self.k * self.base_current_a);
        let level = self.running_share() * per_unit(before_a).powi(2);
        (per_unit(current_a) > 1.0)
            .then(|| self.heating_time_constant_s * class::trip_s(per_unit(current_a), level.min(1.0)))
    }

    /// Share of the level that a current below the trip's leads to: one less hot over cold stall time.
    pub fn running_share(&self) -> f64 {
        running_share(self.stall_s)
    }
}

fn running_share(stall_s: Option<[f64; 2]>) -> f64 {
    stall_s.map_or(1.0, |[hot, cold]| 1.0 - hot / cold)
}

/// Jam: overcurrent while running.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Jam {
    /// Pick-up, % of rated current.
    pub pickup_pct: f64,
    /// Delay, s.
    pub delay_s: f64,
}

/// Long start: the time allowed from the onset of current to run-up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LongStart {
    /// Time allowed, s.
    pub delay_s: f64,
    /// Time allowed while a tachometer shows the rotor gaining speed, s.
    pub gaining_delay_s: Option<f64>,
}

/// Phase loss: negative over positive sequence of the currents.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PhaseLoss {
    /// Pick-up, %.
    pub pickup_pct: f64,
    /// Delay, s.
    pub delay_s: f64,
}

/// Undervoltage: the lowest phase while current flows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Undervoltage {
    /// Pick-up, % of `line_voltage_v`.
    pub pickup_pct: f64,
    /// Delay, s.
    pub delay_s: f64,
    /// Delay while starting, s.
    pub start_delay_s: f64,
}

/// Reads `[trip]`; `rated_current_a` is the default of the base current.
pub(super) fn read(t: &mut Table<'_>, rated_current_a: Option<f64>) -> Trips {
    let thermal = t.need_table("thermal", template::THERMAL, |t| element(t, |t| thermal(t, rated_current_a)));
    let jam = t.need_table("jam", template::JAM, |t| {
        element(t, |t| {
            let pickup_pct = t.need_number("pickup_pct", &limits::JAM_PICKUP_PCT);
            let delay_s = t.need_number("delay_s", &limits::TIME_S);
            Some(Jam { pickup_pct: pickup_pct?, delay_s: delay_s? })
        })
    });
    let long_start = t.need_table("long_start", template::LONG_START, |t| {
        element(t, |t| {
            let gaining_delay_s = t.number("gaining_delay_s", &limits::TIME_S);
            Some(LongStart { delay_s: t.need_number("delay_s", &limits::TIME_S)?, gaining_delay_s })
        })
    });
    let phase_loss = t.need_table("phase_loss", template::PHASE_LOSS, |t| {
        element(t, |t| {
            let pickup_pct = t.number("pickup_pct", &limits::PHASE_LOSS_PICKUP_PCT).unwrap_or(60.0);
            let delay_s = t.need_number("delay_s", &limits::TIME_S);
            Some(PhaseLoss { pickup_pct, delay_s: delay_s? })
        })
    });
    let undervoltage = t.need_table("undervoltage", template::UNDERVOLTAGE, |t| {
        element(t, |t| {
            let pickup_pct = t.need_number("pickup_pct", &limits::UNDERVOLTAGE_PICKUP_PCT);
            let delay_s = t.need_number("delay_s", &limits::TIME_S);
            let start_delay_s = t.number("start_delay_s", &limits::TIME_S).unwrap_or(15.0);
            Some(Undervoltage { pickup_pct: pickup_pct?, delay_s: delay_s?, start_delay_s })
        })
    });
    Trips { thermal, jam, long_start, phase_loss, undervoltage, further: elements::read(t) }
}

/// An element's table: `None` when it is plainly not wanted (its other keys are then not required, only checked),
/// or when it is at fault, which has then been noted.
pub(super) fn element<T>(t: &mut Table<'_>, read: impl FnOnce(&mut Table<'_>) -> Option<T>) -> Option<T> {
    let wanted = t.flag("enabled").unwrap_or(true);
    let element = read(t);
    if !wanted {
        t.require_nothing();
    }
    element.filter(|_| wanted)
}

fn thermal(t: &mut Table<'_>, rated_current_a: Option<f64>) -> Option<Thermal> {
    let base_current_a = t.number("base_current_a", &limits::RATED_CURRENT_A).or(rated_current_a);
    let trip_class = t.word("trip_class", TripClass::WORDS);
    let hot_s = t.number("hot_stall_s", &limits::STALL_S);
    let cold_s = t.number("cold_stall_s", &limits::STALL_S);
    if hot_s.is_some() != cold_s.is_some() {
        let key = if hot_s.is_some() { "hot_stall_s" } else { "cold_stall_s" };
        t.reject(key, "both hot_stall_s and cold_stall_s, or neither", "the motor's data sheet has both");
    }
    let stall_s = hot_s.zip(cold_s).map(|(hot, cold)| [hot, cold]);
    if stall_s.is_some_and(|[hot, cold]| hot >= cold) {
        t.reject("hot_stall_s", "less than cold_stall_s", "the data sheet's two times may be swapped");
    }
    let k = t.number("k", &limits::THERMAL_K).unwrap_or(if trip_class.is_some() { class::K } else { 1.05 });
    let heating = match trip_class {
        Some(class) => t
            .number("heating_time_constant_s", &limits::TIME_CONSTANT_S)
            .or_else(|| Some(class.heating_s(k, running_share(stall_s)))),
        None => t.need_number("heating_time_constant_s", &limits::TIME_CONSTANT_S),
    };
    let cooling = t.number("cooling_time_constant_s", &limits::TIME_CONSTANT_S);
    let initial_pct = t.number("initial_pct", &limits::INITIAL_PCT).unwrap_or(0.0);
    let negative_sequence_factor =
        t.number("negative_sequence_factor", &limits::NEGATIVE_SEQUENCE_FACTOR).unwrap_or(0.0);
    let heating_time_constant_s = heating?;
    Some(Thermal {
        base_current_a: base_current_a?,
        k,
        heating_time_constant_s,
        // A default beyond the bound of the key is cut there; the cross-checks warn of it.
        cooling_time_constant_s: cooling
            .unwrap_or_else(|| (COOLING_OVER_HEATING * heating_time_constant_s).min(limits::LONGEST_S)),
        initial_pct,
        negative_sequence_factor,
        trip_class,
        stall_s,
    })
}

#[cfg(test)]
mod tests {
    use super::super::testing::{faults, good, parsed, with};

    /// Defaults as documented for the settings file.
    #[test]
    fn what_is_left_out_has_its_default() {
        let trips = parsed(&good()).0.trips;
        let thermal = trips.thermal.unwrap();
        let [base, k, cooling] = [thermal.base_current_a, thermal.k, thermal.cooling_time_constant_s];
        assert!((base - 96.55).abs() < 1e-9 && (k - 1.05).abs() < 1e-9 && (cooling - 2400.0).abs() < 1e-9);
        assert!(thermal.initial_pct.abs() < 1e-9 && thermal.negative_sequence_factor.abs() < 1e-9);
        assert!((trips.phase_loss.unwrap().pickup_pct - 60.0).abs() < 1e-9);
        assert!((trips.undervoltage.unwrap().start_delay_s - 15.0).abs() < 1e-9);
    }

    #[test]
    fn each_of_the_five_tables_must_be_there() {
        for table in ["thermal", "jam", "long_start", "phase_loss", "undervoltage"] {
            let text = good().replace(&format!("[trip.{table}]"), "[[mill.nothing]]");
            let all = faults(&text);
            let missing = format!("the table [trip.{table}] is missing");
            let fault = all.iter().find(|fault| fault.found == missing).unwrap();
            assert!(fault.mend.contains(&format!("[trip.{table}]\n    enabled = false")), "{fault}");
        }
    }

    #[test]
    fn an_element_that_is_not_wanted_needs_no_keys() {
        let mut text = good();
        text.truncate(text.find("[trip.thermal]").unwrap());
        for table in ["thermal", "jam", "long_start", "phase_loss", "undervoltage"] {
            text = format!("{text}[trip.{table}]\nenabled = false\n");
        }
        let trips = parsed(&text).0.trips;
        assert!(trips.thermal.is_none() && trips.jam.is_none() && trips.long_start.is_none());
        assert!(trips.phase_loss.is_none() && trips.undervoltage.is_none());
    }

    /// Switching an element off for a day must not hide that its figures are wrong.
    #[test]
    fn an_element_that_is_not_wanted_is_still_checked() {
        assert!(parsed(&with("trip.jam", "enabled = false")).0.trips.jam.is_none());
        assert!(parsed(&with("trip.jam", "enabled = true")).0.trips.jam.is_some());
        let text = with("trip.jam", "enabled = false").replace("pickup_pct = 200", "pickup_pct = -1");
        assert!(faults(&text)[0].place.ends_with("key trip.jam.pickup_pct"));
        let text = with("trip.jam", "enabled = \"no\"");
        assert_eq!(faults(&text)[0].wanted, "true or false");
    }

    #[test]
    fn delays_and_pickups_have_ranges() {
        for (from, to, key) in [
            ("delay_s = 0.5", "delay_s = 36001", "trip.jam.delay_s"),
            ("delay_s = 15", "delay_s = -0.1", "trip.long_start.delay_s"),
            ("heating_time_constant_s = 600.0", "heating_time_constant_s = 0", "trip.thermal.heating_time_constant_s"),
            ("pickup_pct = 80", "pickup_pct = 120", "trip.undervoltage.pickup_pct"),
            ("delay_s = 1.0", "delay_s = 1.0\npickup_pct = 0", "trip.phase_loss.pickup_pct"),
        ] {
            let all = faults(&good().replace(from, to));
            assert!(all.len() == 1 && all[0].place.ends_with(key), "{all:?}");
        }
    }

    #[test]
    fn a_missing_delay_is_named() {
        let all = faults(&good().replace("delay_s = 0.5\n", ""));
        assert_eq!(
            all[0].to_string().lines().next(),
            Some("mill.toml, line 24, column 1, key trip.jam.delay_s: the key is missing")
        );
    }
}
