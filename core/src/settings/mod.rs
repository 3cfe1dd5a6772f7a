//! Settings as a board can be sent them: integers only, in mV, mA, µΩ, ppm and ms.
//!
//! [`Settings::build`] checks every range and turns them into the coefficients that the sample path
//! uses. What a nameplate implies (the equivalent circuit, the losses) is fitted by the host and
//! arrives here as numbers, so that a board needs neither floating point nor a fit.

mod build;
mod coefficients;
mod feed;
mod trips;

pub(crate) use coefficients::{MAX_CROSS, MAX_PAIRS, STANDING_HALVES};

pub use coefficients::{
    Coefficients, CurveCoefficients, DeltaCoefficients, ElementCoefficients, FeedCoefficients, FeederCoefficients,
    JudgeCoefficients, LongStartCoefficients, MeterCoefficients, MotorCoefficients, RestartCoefficients,
    RotorCoefficients, SearchCoefficients, StartsCoefficients, ThermalCoefficients, TripCoefficients,
    UndervoltageCoefficients, WatchCoefficients, WedgeCoefficients, WindingCoefficients,
};
pub use feed::{Feed, FeedJam, Feeder, Search};
pub use trips::{
    Action, Element, Jam, LongStart, PhaseLoss, Restart, RotorHeat, StartsPerHour, Thermal, Trips, Undervoltage, Watch,
    Wedge,
};

use crate::error::SettingsError;

/// How many converter channels a frame has: three voltages, then three currents.
pub const CHANNELS: usize = 6;

/// How voltages and currents are taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Wiring {
    /// va, vb, vc to neutral; ia, ib, ic.
    #[default]
    FourWire,
    /// vab, vbc, vca; ia, ib, ic.
    ThreeWire,
    /// vab, vcb, unused; ia, unused, ic (Blondel's theorem); ib = -(ia + ic).
    TwoElement,
    /// ia, ib, ic alone: power is estimated ([`PowerCurve`]), the frequency is followed by the currents.
    CurrentsOnly,
}

/// Where the three current transformers sit, of a motor whose windings are joined in delta.
///
/// In a winding's lead a transformer shows the winding's current: in delta the line's over the square root of three, turned by 30
/// degrees; in star, as a star-delta starter begins, the line's own. Line currents are differences of two windings' (Kirchhoff's
/// first law), sample by sample: the sum of all three, harmonics of order three that run round in the delta among it, is no part of them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum CurrentTap {
    /// In the lines, before whatever joins the windings.
    #[default]
    Line,
    /// In the windings' leads at the lines A, B and C; from there the windings go to B, C and A in delta.
    DeltaAb,
    /// The same, but the windings go to C, A and B.
    DeltaAc,
}

/// The supply's nominal frequency.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Nominal {
    /// 50 Hz: windows of 10 cycles.
    #[default]
    Hz50,
    /// 60 Hz: windows of 12 cycles.
    Hz60,
}

impl Nominal {
    /// In hertz.
    #[must_use]
    pub const fn hertz(self) -> u32 {
        match self {
            Self::Hz50 => 50,
            Self::Hz60 => 60,
        }
    }

    /// Half cycles in a window of about 200 ms (IEC 61000-4-30).
    #[must_use]
    pub const fn half_cycles(self) -> u8 {
        match self {
            Self::Hz50 => 20,
            Self::Hz60 => 24,
        }
    }
}

/// Everything that the core is told. All figures are checked by [`Settings::build`].
///
/// ```
/// use shaftwork_core::settings::Settings;
/// let coefficients = Settings::example().build().unwrap();
/// assert_eq!(coefficients.meter.full_code, 32_767);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Settings {
    /// The supply.
    pub supply: Supply,
    /// The converters and transformers.
    pub sampling: Sampling,
    /// The motor.
    pub motor: Motor,
    /// How power follows from the current; `None`: it is measured.
    pub curve: Option<PowerCurve>,
    /// What the motor drives.
    pub mill: Mill,
    /// The trips; `None` is one that is not wanted.
    pub trips: Trips,
    /// When a start and a reset are refused.
    pub restart: Restart,
    /// The feed decision.
    pub feed: Feed,
}

/// The supply.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Supply {
    /// Nominal frequency.
    pub nominal: Nominal,
    /// Nominal line-to-line voltage, 50 000 to 15 000 000 mV.
    pub line_voltage_mv: u32,
    /// What is measured.
    pub wiring: Wiring,
}

/// The converters, and what lies between the line and them. Arrays are in the order of a frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Sampling {
    /// Frames a second, 2 000 000 to 16 000 000 mHz.
    pub rate_mhz: u32,
    /// Converter bits, 12 to 24; full scale is code 2^(bits-1) - 1.
    pub bits: u8,
    /// Peak voltage at the full-scale code, at most 32 000 000 mV.
    pub voltage_full_scale_mv: u32,
    /// Where the current transformers sit; inside the delta there must be three.
    pub current_tap: CurrentTap,
    /// Peak current at the full-scale code, where it is measured, at most 16 000 000 mA.
    pub current_full_scale_ma: u32,
    /// Factor on (code - offset), ppm; negative turns a channel round.
    pub gain_ppm: [i32; CHANNELS],
    /// Code at zero input, 1/256 of a code.
    pub offset_q8: [i32; CHANNELS],
    /// How much later than the frame's first a channel is sampled, ns.
    pub skew_ns: [i32; CHANNELS],
    /// How far a current transformer's output leads the line current (IEC 61869), µrad.
    pub lead_urad: [i32; 3],
}

/// The motor: its nameplate and its equivalent circuit (a phase of the equivalent star, rotor
/// referred to the stator, rotor resistance and reactance constant).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Motor {
    /// Rated shaft power, mW.
    pub rated_power_mw: u64,
    /// Rated line-to-line voltage, mV.
    pub rated_voltage_mv: u32,
    /// Rated line current, mA.
    pub rated_current_ma: u32,
    /// Speed of the rotating field at nominal frequency, 1/1000 rpm.
    pub synchronous_mrpm: u32,
    /// Nominal frequency that belongs to `synchronous_mrpm`, mHz.
    pub rated_frequency_mhz: u32,
    /// Stator resistance, µΩ.
    pub stator_resistance_uohm: u32,
    /// Stator leakage reactance at rated frequency, µΩ.
    pub stator_leakage_uohm: u32,
    /// Magnetising reactance at rated frequency, µΩ.
    pub magnetising_uohm: u32,
    /// Rotor resistance while running, µΩ.
    pub rotor_resistance_uohm: u32,
    /// By how much the rotor's resistance has risen at standstill (deep bars), ppm: 0 to 15 000 000.
    pub deep_bar_ppm: u32,
    /// How the windings warm up; `None`: their resistances hold always.
    pub winding: Option<Winding>,
    /// Core loss at rated voltage, mW; goes with the square of the voltage.
    pub core_loss_mw: u32,
    /// Friction and windage at synchronous speed, mW.
    pub friction_loss_mw: u32,
    /// Stray load loss over the sum of the three squared currents, µΩ; may be negative where the
    /// stator resistance was given too high.
    pub stray_uohm: i32,
    /// How it is started.
    pub starter: Starter,
}

/// How a motor is started.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Starter {
    /// On the line at once.
    #[default]
    Direct,
    /// In star, then in delta: up to half a second without current in between is no stop.
    StarDelta,
    /// By thyristors that raise the voltage: less current for longer, without a pause. Distorted currents are metered as they are; what
    /// [`Starter::Direct`] does not interrupt, this does not either.
    Soft,
}

/// How the windings warm up: stator (copper) and cage (aluminium) alike, to `rise` above `ambient` at rated current, with
/// the square of the current. The motor's resistances are those at that temperature.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Winding {
    /// Time constant, 1 to 36 000 000 ms.
    pub time_constant_ms: u32,
    /// Rise at rated current, 1 000 to 300 000 mK.
    pub rise_mk: u32,
    /// Temperature of the surroundings, -50 000 to 100 000 m°C.
    pub ambient_mc: i32,
    /// Temperature at the first frame, from ambient to 300 000 m°C.
    pub start_mc: i32,
}

/// Points of a [`PowerCurve`].
pub const CURVE_POINTS: usize = 16;

/// How active power follows from the current where it is not measured: what the motor's circuit takes at rated voltage.
/// It is scaled to the voltage that is measured, or to the nominal one with [`Wiring::CurrentsOnly`].
///
/// ```
/// use shaftwork_core::settings::{CURVE_POINTS, PowerCurve, Settings};
/// // A power factor of 0.9 at any current, which no motor has.
/// let points = core::array::from_fn::<_, CURVE_POINTS, _>(|k| {
///     let ma = 400_000 * (k as u32 + 1);
///     (ma, ma / 10 * 9)
/// });
/// let curve = Some(PowerCurve { points });
/// assert!(Settings { curve, ..Settings::example() }.build().is_ok());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct PowerCurve {
    /// Current over rated current, rising, 1 to 15 000 000 ppm; and active power over the square root of three times
    /// rated voltage and current, ppm, at most the current.
    pub points: [(u32, u32); CURVE_POINTS],
}

/// What the motor drives.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Mill {
    /// Motor shaft power with nothing in the mill, mW; `None`: it is learnt.
    pub idle_power_mw: Option<u64>,
    /// How long the rotor may turn after the current has gone, ms.
    pub coast_down_ms: u32,
    /// Inertia of all that turns, seen from the motor's shaft, 1 to 1 000 000 000 g m²; `None`: not known.
    pub inertia_gm2: Option<u32>,
}

impl Settings {
    /// A 55 kW, 400 V, 50 Hz, 4-pole motor sampled at 4 kHz with 16 bits; the five trips that every
    /// mill must speak of set. For
    /// examples and tests; no real machine.
    #[must_use]
    pub const fn example() -> Self {
        Self {
            supply: Supply { nominal: Nominal::Hz50, line_voltage_mv: 400_000, wiring: Wiring::FourWire },
            sampling: Sampling {
                rate_mhz: 4_000_000,
                bits: 16,
                voltage_full_scale_mv: 800_000,
                current_full_scale_ma: 1_400_000,
                current_tap: CurrentTap::Line,
                gain_ppm: [1_000_000; CHANNELS],
                offset_q8: [0; CHANNELS],
                skew_ns: [0; CHANNELS],
                lead_urad: [0; 3],
            },
            motor: Motor {
                rated_power_mw: 55_000_000,
                rated_voltage_mv: 400_000,
                rated_current_ma: 96_500,
                synchronous_mrpm: 1_500_000,
                rated_frequency_mhz: 50_000,
                stator_resistance_uohm: 53_500,
                stator_leakage_uohm: 221_000,
                magnetising_uohm: 6_780_000,
                rotor_resistance_uohm: 37_400,
                deep_bar_ppm: 0,
                winding: None,
                core_loss_mw: 600_000,
                friction_loss_mw: 600_000,
                stray_uohm: 0,
                starter: Starter::Direct,
            },
            curve: None,
            mill: Mill { idle_power_mw: Some(6_700_000), coast_down_ms: 300_000, inertia_gm2: Some(10_000) },
            trips: Trips {
                thermal: Some(Thermal {
                    base_current_ma: 96_500,
                    k_ppm: 1_050_000,
                    heating_ms: 600_000,
                    cooling_ms: 2_400_000,
                    initial_ppm: 0,
                    negative_sequence_ppm: 0,
                    running_ppm: 1_000_000,
                }),
                jam: Some(Jam { pickup_ppm: 2_000_000, delay_ms: 500 }),
                long_start: Some(LongStart { delay_ms: 15_000, gaining_ms: None }),
                phase_loss: Some(PhaseLoss { pickup_ppm: 600_000, delay_ms: 1_000 }),
                undervoltage: Some(Undervoltage { pickup_ppm: 800_000, delay_ms: 2_000, start_delay_ms: 15_000 }),
                ..Trips::NONE
            },
            restart: Restart::AT_THREE_QUARTERS,
            feed: Feed::BY_HAND,
        }
    }

    /// Checks every figure and makes the coefficients.
    ///
    /// # Errors
    ///
    /// The first figure that is out of its range.
    #[inline(never)] // once in the image
    pub fn build(&self) -> Result<Coefficients, SettingsError> {
        build::build(self)
    }
}
