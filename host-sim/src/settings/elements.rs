//! The elements that are off unless their table is there, and what refuses a start: their settings and how these are read.

use super::limits;
use super::limits::Limits;
use super::raw::Table;
use super::trips::element;

/// What an element does once its delay is over.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Action {
    /// The contactor opens; latched.
    Trip,
    /// The feed stops until it drops out.
    FeedStop,
    /// It is told.
    Warning,
}

impl Action {
    /// The words of `action`.
    pub const WORDS: &'static [(&'static str, Self)] =
        &[("trip", Self::Trip), ("feed-stop", Self::FeedStop), ("warning", Self::Warning)];

    /// As it is written.
    pub fn word(self) -> &'static str {
        Self::WORDS.iter().find(|(_, action)| *action == self).map_or("", |(word, _)| word)
    }
}

/// An element with a pick-up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Element {
    /// Pick-up, %.
    pub pickup_pct: f64,
    /// Delay, s.
    pub delay_s: f64,
    /// What it does.
    pub action: Action,
}

/// An element that looks for something that is so or is not.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Watch {
    /// Delay, s.
    pub delay_s: f64,
    /// What it does.
    pub action: Action,
}

/// More starts within an hour than the motor bears.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct StartsPerHour {
    /// So many are allowed.
    pub most: u32,
    /// What it does at the next one.
    pub action: Action,
}

/// A piece stuck between rotor and casing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wedge {
    /// Load that decides once it has stood over the window, % of rated power; a heavier one decides sooner.
    pub pickup_pct: f64,
    /// The window, s.
    pub window_s: f64,
    /// What it does.
    pub action: Action,
}

/// The elements that are off unless their table is there.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Further {
    /// Highest voltage over nominal.
    pub overvoltage: Option<Element>,
    /// Phases in reverse order.
    pub phase_reversal: Option<Watch>,
    /// Negative over positive sequence of the currents.
    pub current_unbalance: Option<Element>,
    /// Sum of the currents over rated current.
    pub residual_current: Option<Element>,
    /// Shaft power over idle power.
    pub underload: Option<Element>,
    /// A channel stuck, open or missing, or what cannot be.
    pub sensor_fault: Option<Watch>,
    /// Starts within an hour.
    pub starts_per_hour: Option<StartsPerHour>,
    /// A load that stands.
    pub wedge: Option<Wedge>,
}

/// When a start and a reset are refused.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Restart {
    /// Rest after a stop, s.
    pub rest_s: f64,
    /// Thermal level above which both are refused, % of the trip level.
    pub reset_level_pct: f64,
    /// What the rotor's bars bear.
    pub rotor: Option<RotorHeat>,
}

/// What the rotor's bars bear.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RotorHeat {
    /// Starts one after another from cold.
    pub starts: f64,
    /// Time constant with which they cool, s.
    pub cooling_s: f64,
}

/// Reads the further tables of `[trip]`.
pub(super) fn read(t: &mut Table<'_>) -> Further {
    Further {
        overvoltage: with_pickup(t, "overvoltage", &limits::OVERVOLTAGE_PICKUP_PCT, Action::Warning),
        phase_reversal: watch(t, "phase_reversal", 0.1, Action::Trip),
        current_unbalance: with_pickup(t, "current_unbalance", &limits::PHASE_LOSS_PICKUP_PCT, Action::Warning),
        residual_current: with_pickup(t, "residual_current", &limits::RESIDUAL_PICKUP_PCT, Action::Trip),
        underload: with_pickup(t, "underload", &limits::UNDERLOAD_PICKUP_PCT, Action::FeedStop),
        // Five cycles from the fault to the feed stop: a cycle until it shows, three of delay.
        sensor_fault: watch(t, "sensor_fault", 0.06, Action::FeedStop),
        starts_per_hour: present(t, "starts_per_hour", |t| {
            let most = t.need_whole("most", &limits::STARTS_PER_HOUR);
            let action = t.word("action", Action::WORDS).unwrap_or(Action::Warning);
            Some(StartsPerHour { most: most?, action })
        }),
        wedge: present(t, "wedge", |t| {
            let pickup_pct = t.need_number("pickup_pct", &limits::WEDGE_PICKUP_PCT);
            let window_s = t.need_number("window_s", &limits::WEDGE_WINDOW_S);
            let action = t.word("action", Action::WORDS).unwrap_or(Action::Trip);
            Some(Wedge { pickup_pct: pickup_pct?, window_s: window_s?, action })
        }),
    }
}

/// Reads `[restart]`; an absent table is an empty one.
pub(super) fn restart(t: &mut Table<'_>) -> Restart {
    Restart {
        rest_s: t.number("rest_s", &limits::TIME_S).unwrap_or(0.0),
        reset_level_pct: t.number("reset_level_pct", &limits::RESET_LEVEL_PCT).unwrap_or(75.0),
        rotor: rotor(t),
    }
}

/// One needs the other.
fn rotor(t: &mut Table<'_>) -> Option<RotorHeat> {
    if !t.has("rotor_starts") && !t.has("rotor_cooling_s") {
        t.know::<()>("rotor_starts");
        t.know::<()>("rotor_cooling_s");
        return None;
    }
    let starts = t.need_number("rotor_starts", &limits::ROTOR_STARTS);
    let cooling_s = t.need_number("rotor_cooling_s", &limits::TIME_S);
    Some(RotorHeat { starts: starts?, cooling_s: cooling_s? })
}

fn present<T>(t: &mut Table<'_>, key: &'static str, read: impl FnOnce(&mut Table<'_>) -> Option<T>) -> Option<T> {
    // An absent table is not read: its keys would be missing.
    if t.has(key) { t.table(key, |t| element(t, read)) } else { t.know(key) }
}

fn with_pickup(t: &mut Table<'_>, key: &'static str, limits: &Limits, does: Action) -> Option<Element> {
    present(t, key, |t| {
        let pickup_pct = t.need_number("pickup_pct", limits);
        let delay_s = t.need_number("delay_s", &limits::TIME_S);
        let action = t.word("action", Action::WORDS).unwrap_or(does);
        Some(Element { pickup_pct: pickup_pct?, delay_s: delay_s?, action })
    })
}

fn watch(t: &mut Table<'_>, key: &'static str, delay_s: f64, does: Action) -> Option<Watch> {
    present(t, key, |t| {
        let delay_s = t.number("delay_s", &limits::TIME_S).unwrap_or(delay_s);
        Some(Watch { delay_s, action: t.word("action", Action::WORDS).unwrap_or(does) })
    })
}

#[cfg(test)]
mod tests {
    use super::super::testing::{faults, good, parsed};
    use super::*;

    const ALL: &str = "
[trip.overvoltage]
pickup_pct = 110
delay_s = 5
[trip.phase_reversal]
[trip.current_unbalance]
pickup_pct = 15
delay_s = 10
action = \"feed-stop\"
[trip.residual_current]
pickup_pct = 20
delay_s = 0.5
[trip.underload]
pickup_pct = 50
delay_s = 5
[trip.sensor_fault]
[trip.starts_per_hour]
most = 5
[trip.wedge]
pickup_pct = 120
window_s = 0.2
action = \"warning\"
[restart]
rest_s = 110
";

    #[test]
    fn what_the_rotor_bears_needs_both_keys_and_the_inertia() {
        let table = "[restart]\nrotor_starts = 2.5\nrotor_cooling_s = 1800\n";
        let plain = good().lines().filter(|line| !line.starts_with("rotor_inertia")).collect::<Vec<_>>().join("\n");
        let inertia = plain.replace("[mill]\n", "[mill]\nrotor_inertia_kg_m2 = 16\n");
        let rotor = parsed(&format!("{inertia}\n{table}")).0.restart.rotor;
        assert_eq!(rotor, Some(RotorHeat { starts: 2.5, cooling_s: 1_800.0 }));
        for (text, place) in [
            (table.to_owned(), "restart.rotor_starts"),
            (table.replace("rotor_cooling_s = 1800\n", ""), "restart.rotor_cooling_s"),
            (table.replace("2.5", "1.0"), "restart.rotor_starts"),
        ] {
            let all = faults(&format!("{plain}\n{text}"));
            assert!(all.iter().any(|fault| fault.to_string().contains(place)), "{text}: {all:?}");
        }
    }

    #[test]
    fn what_is_given_is_on_and_has_its_action() {
        let settings = parsed(&good()).0;
        assert_eq!(settings.trips.further, Further::default());
        assert_eq!(settings.restart, Restart { rest_s: 0.0, reset_level_pct: 75.0, rotor: None });
        let settings = parsed(&format!("{}{ALL}", good())).0;
        let f = settings.trips.further;
        let of = |pickup_pct, delay_s, action| Some(Element { pickup_pct, delay_s, action });
        assert_eq!(f.overvoltage, of(110.0, 5.0, Action::Warning));
        assert_eq!(f.phase_reversal, Some(Watch { delay_s: 0.1, action: Action::Trip }));
        assert_eq!(f.current_unbalance, of(15.0, 10.0, Action::FeedStop));
        assert_eq!(f.residual_current, of(20.0, 0.5, Action::Trip));
        assert_eq!(f.underload, of(50.0, 5.0, Action::FeedStop));
        assert_eq!(f.sensor_fault, Some(Watch { delay_s: 0.06, action: Action::FeedStop }));
        assert_eq!(f.starts_per_hour, Some(StartsPerHour { most: 5, action: Action::Warning }));
        assert_eq!(f.wedge, Some(Wedge { pickup_pct: 120.0, window_s: 0.2, action: Action::Warning }));
        assert_eq!(settings.restart, Restart { rest_s: 110.0, reset_level_pct: 75.0, rotor: None });
    }

    #[test]
    fn what_is_wrong_is_told_with_its_key() {
        for (right, wrong, key) in [
            ("pickup_pct = 20\n", "pickup_pct = 5\n", "trip.residual_current.pickup_pct"),
            ("pickup_pct = 50\n", "pickup_pct = 90\n", "trip.underload.pickup_pct"),
            ("\"feed-stop\"", "\"stop\"", "trip.current_unbalance.action"),
            ("most = 5", "most = 16", "trip.starts_per_hour.most"),
            ("most = 5", "", "trip.starts_per_hour.most"),
            ("window_s = 0.2", "window_s = 0.3", "trip.wedge.window_s"),
            ("pickup_pct = 120\n", "", "trip.wedge.pickup_pct"),
        ] {
            let text = format!("{}{}", good(), ALL.replace(right, wrong));
            let all = faults(&text);
            assert!(all.len() == 1 && all[0].place.ends_with(&format!("key {key}")), "{all:?}");
        }
        let off = ALL.replace("[trip.underload]", "[trip.underload]\nenabled = false");
        assert_eq!(parsed(&format!("{}{off}", good())).0.trips.further.underload, None);
    }
}
