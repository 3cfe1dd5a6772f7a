//! The elements' settings: what each compares with, how long, and what it does then.

/// The trips. `None` is one that is not wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Trips {
    /// Thermal image, IEC 60255-149.
    pub thermal: Option<Thermal>,
    /// Overcurrent while running.
    pub jam: Option<Jam>,
    /// A start that takes too long.
    pub long_start: Option<LongStart>,
    /// A line is missing.
    pub phase_loss: Option<PhaseLoss>,
    /// Too low a voltage while current flows; blocked with [`super::Wiring::CurrentsOnly`].
    pub undervoltage: Option<Undervoltage>,
    /// Too high a voltage, over nominal; blocked with [`super::Wiring::CurrentsOnly`].
    pub overvoltage: Option<Element>,
    /// The phases come in reverse order.
    pub phase_reversal: Option<Watch>,
    /// Negative over positive sequence of the currents: below [`Trips::phase_loss`], for longer.
    pub current_unbalance: Option<Element>,
    /// Sum of the three currents over rated current, at least 20 %; blocked with [`super::Wiring::TwoElement`] and with current
    /// transformers inside the delta, which do not measure it, and while starting. It protects nobody from touching a live part: it is no residual-current device.
    pub residual_current: Option<Element>,
    /// Shaft power over idle power, at most 85 %: belt or coupling gone.
    pub underload: Option<Element>,
    /// A channel is stuck, open or missing, or tells what cannot be.
    pub sensor_fault: Option<Watch>,
    /// More starts within an hour than the motor bears.
    pub starts_per_hour: Option<StartsPerHour>,
    /// A piece is stuck between rotor and casing.
    pub wedge: Option<Wedge>,
}

impl Trips {
    /// None is wanted.
    pub const NONE: Self = Self {
        thermal: None,
        jam: None,
        long_start: None,
        phase_loss: None,
        undervoltage: None,
        overvoltage: None,
        phase_reversal: None,
        current_unbalance: None,
        residual_current: None,
        underload: None,
        sensor_fault: None,
        starts_per_hour: None,
        wedge: None,
    };
}

/// What an element does once its delay is over.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Action {
    /// The contactor opens; latched until a person resets it.
    #[default]
    Trip,
    /// The feed stops until the element drops out.
    FeedStop,
    /// It is told, and told again when the element drops out.
    Warning,
}

/// An element that compares a figure with its pick-up; drop-out is at 97 % of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Element {
    /// Pick-up, ppm of what the element's place says.
    pub pickup_ppm: u32,
    /// Delay, ms.
    pub delay_ms: u32,
    /// What it does.
    pub action: Action,
}

/// An element that looks for something that is so, or is not.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Watch {
    /// Delay, ms.
    pub delay_ms: u32,
    /// What it does.
    pub action: Action,
}

/// More starts within an hour than the motor bears.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct StartsPerHour {
    /// So many are allowed, 1 to 15.
    pub most: u8,
    /// What it does at the next one.
    pub action: Action,
}

/// A piece is stuck: a load that stands. It wants the rotor's inertia; without one it judges by shaft work alone, which is later.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Wedge {
    /// Load that decides once it has stood over the window, ppm of rated power; a heavier one decides sooner.
    pub pickup_ppm: u32,
    /// The window, ms; 20 to 220.
    pub window_ms: u32,
    /// What it does.
    pub action: Action,
}

/// Thermal image: first order, IEC 60255-149.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Thermal {
    /// Base current, mA.
    pub base_current_ma: u32,
    /// k, ppm: k x base current, held for ever, just reaches the trip level.
    pub k_ppm: u32,
    /// Time constant with current flowing, ms.
    pub heating_ms: u32,
    /// Time constant without current, ms.
    pub cooling_ms: u32,
    /// Thermal level at the first frame, ppm of the trip level.
    pub initial_ppm: u32,
    /// Factor on the squared negative-sequence current, ppm.
    pub negative_sequence_ppm: u32,
    /// Share of the level that a current below the trip's leads to, ppm: one less the hot stall time over the cold one, so
    /// that a hot restart is judged by the hot stall time; 1 000 000 is the plain image.
    pub running_ppm: u32,
}

/// Overcurrent while running.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Jam {
    /// Pick-up over rated current, ppm.
    pub pickup_ppm: u32,
    /// Delay, ms.
    pub delay_ms: u32,
}

/// A start that takes too long.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct LongStart {
    /// Allowed from the onset of current to run-up, ms.
    pub delay_ms: u32,
    /// Allowed while a tachometer shows the rotor gaining speed, ms: the hot stall time at most; `None`: as without.
    pub gaining_ms: Option<u32>,
}

/// A line is missing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct PhaseLoss {
    /// Pick-up: negative over positive sequence of the currents, ppm.
    pub pickup_ppm: u32,
    /// Delay, ms.
    pub delay_ms: u32,
}

/// Too low a voltage while current flows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Undervoltage {
    /// Pick-up of the lowest phase over nominal, ppm.
    pub pickup_ppm: u32,
    /// Delay, ms.
    pub delay_ms: u32,
    /// Delay while starting, ms.
    pub start_delay_ms: u32,
}

/// When a start and a reset are refused, beside what the elements and the rotor say.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Restart {
    /// Rest after a stop, ms.
    pub rest_ms: u32,
    /// Thermal level above which both are refused, ppm of the trip level, 1 to 1 000 000.
    pub reset_level_ppm: u32,
    /// What the rotor's bars bear; `None`: no start is refused for them.
    pub rotor: Option<RotorHeat>,
}

/// What the rotor's bars bear.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct RotorHeat {
    /// Starts one after another from cold, ppm: 1 000 001 to 10 000 000, each with the kinetic energy of all that turns: the inertia must be known.
    /// NEMA MG 1-12.54 has two, with a load that adds to it.
    pub starts_ppm: u32,
    /// Time constant with which they cool, ms.
    pub cooling_ms: u32,
}

impl Restart {
    /// No rest; 75 % of the trip level: common practice, no source.
    pub const AT_THREE_QUARTERS: Self = Self { rest_ms: 0, reset_level_ppm: 750_000, rotor: None };
}

/// [`Restart::AT_THREE_QUARTERS`].
impl Default for Restart {
    fn default() -> Self {
        Self::AT_THREE_QUARTERS
    }
}
