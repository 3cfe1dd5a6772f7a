//! What can be wrong with settings. Nothing else in the core can fail: the sample path is total.

/// A setting that cannot be used: the first one found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum SettingsError {
    /// The sampling rate is not within 2 000 to 16 000 Hz.
    Rate,
    /// The converter has not 12 to 24 bits.
    Bits,
    /// A full scale is zero, above 32 000 V or above 16 000 A.
    FullScale,
    /// A gain is zero or its magnitude above 100.
    Gain,
    /// An offset is larger than a quarter of the converter's range.
    Offset,
    /// A skew of more than a millisecond, or a phase error of more than 0.2 rad.
    Timing,
    /// Current transformers inside the delta, but not three of them.
    CurrentTap,
    /// The nominal line voltage is not within 50 to 15 000 V.
    LineVoltage,
    /// A rated figure of the motor is zero or outside the fixed-point range.
    Motor,
    /// A resistance, reactance or loss of the motor is outside the fixed-point range.
    Circuit,
    /// A temperature, rise or time constant of the windings.
    Winding,
    /// The inertia is zero or above 1 000 000 kg m², or not there where the rotor's heat wants it.
    Inertia,
    /// A point of the curve that tells power from current.
    Curve,
    /// The idle power is more than the motor's rated power times four.
    Idle,
    /// A pick-up, factor or time constant of the thermal image.
    Thermal,
    /// A pick-up of another trip, or a delay above ten hours.
    Trip,
    /// A level, a speed or a time of the feed.
    Feed,
}

impl core::fmt::Display for SettingsError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(match self {
            Self::Rate => "the sampling rate must be 2 000 to 16 000 Hz",
            Self::Bits => "the converter must have 12 to 24 bits",
            Self::FullScale => "full scale must be above 0 and at most 32 000 V or 16 000 A",
            Self::Gain => "a gain must not be zero nor above 100 in magnitude",
            Self::Offset => "an offset must be at most a quarter of the converter's range",
            Self::Timing => "skew must be at most 1 ms, phase error at most 0.2 rad",
            Self::CurrentTap => "current transformers inside the delta must be three",
            Self::LineVoltage => "the line voltage must be 50 to 15 000 V",
            Self::Motor => {
                "the motor's rated power, current, voltage and speed must be above zero and inside the stated ranges"
            }
            Self::Circuit => {
                "a resistance, reactance or loss of the motor is outside the range that can be computed with"
            }
            Self::Winding => {
                "the windings need a rise of 1 to 300 K, an ambient of -50 to 100 degrees, a start from that to 300 degrees and \
                 a time constant above zero, at most 10 h"
            }
            Self::Inertia => "the inertia must be at least 1 g m2 and at most 1 000 000 kg m2",
            Self::Curve => "the currents of the power curve must rise to at most 15 times rated, each power be at most its current",
            Self::Idle => "the idle power must be at most four times the rated power",
            Self::Thermal => "the thermal image needs a base current, k and time constants above zero, at most 10 h",
            Self::Trip => "a pick-up must be above zero and at most 100 times, a delay at most 10 h",
            Self::Feed => {
                "a level, speed or time of the feed is outside its range, or levels are out of order: resume, stop, surge; least, most"
            }
        })
    }
}

impl core::error::Error for SettingsError {}
