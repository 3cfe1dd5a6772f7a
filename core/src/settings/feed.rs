//! The feed: when it stops and goes on, and how a feeder's speed is governed.

/// When the feed is told to stop, and when it may go on.
///
/// ```
/// use shaftwork_core::settings::{Feed, Feeder, Settings};
/// let governed = Feed { feeder: Some(Feeder::default()), ..Feed::default() };
/// assert!(Settings { feed: governed, ..Settings::example() }.build().is_ok());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Feed {
    /// Stop above this share of rated shaft power, ppm: 1 to 100 000 000.
    pub stop_ppm: u32,
    /// ... held for this long, ms.
    pub stop_delay_ms: u32,
    /// Stop when the mean of a window (0.2 s) is above this share, ppm: not below `stop_ppm`.
    pub surge_ppm: u32,
    /// Go on below this share, ppm: not above `stop_ppm`.
    pub resume_ppm: u32,
    /// ... held for this long, ms.
    pub resume_delay_ms: u32,
    /// The feeder whose speed is governed; `None` where a person feeds by the lamp.
    pub feeder: Option<Feeder>,
}

impl Feed {
    /// 110 % for 1 s, 150 % at once, 70 % for 5 s, fed by hand: common practice, no source.
    pub const BY_HAND: Self = Self {
        stop_ppm: 1_100_000,
        stop_delay_ms: 1_000,
        surge_ppm: 1_500_000,
        resume_ppm: 700_000,
        resume_delay_ms: 5_000,
        feeder: None,
    };
}

/// [`Feed::BY_HAND`].
impl Default for Feed {
    fn default() -> Self {
        Self::BY_HAND
    }
}

/// A feeder: its speed as a share of full speed follows the load.
///
/// Gain and integral time follow from a step test (gain K, lag tau, delay theta) by the rule of Skogestad (*Simple analytic rules for
/// model reduction and PID controller tuning*, J. Process Control 13, 2003; from memory): Kc = tau / (K (lambda + theta)),
/// Ti = min(tau, 4 (lambda + theta)), where lambda is how fast the closed loop shall be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Feeder {
    /// Load to be held, share of rated shaft power, ppm: 1 to 2 000 000.
    pub target_ppm: u32,
    /// Lumpy material: the load's 95th percentile is held below this share of rated power, ppm: 1 to 10 000 000. The target falls as far
    /// as that takes, to a quarter of `target_ppm` at most. `None`: the target stays.
    pub peak_ppm: Option<u32>,
    /// Within this much of the target nothing is changed, ppm: at most 500 000.
    pub deadband_ppm: u32,
    /// Kc: share of feeder speed for a share of load, ppm: 1 to 16 000 000.
    pub gain_ppm: u32,
    /// Ti, 200 to 36 000 000 ms.
    pub integral_ms: u32,
    /// Time constant with which the load is smoothed, ms: at most 60 000.
    pub filter_ms: u32,
    /// How long it takes from the feeder to the load, ms: at most 120 000.
    pub delay_ms: u32,
    /// Faster by at most this share a second, ppm: 1 to 10 000 000.
    pub up_ppm_s: u32,
    /// Slower by at most this share a second, ppm: 1 to 10 000 000.
    pub down_ppm_s: u32,
    /// Slowest speed while feeding, ppm of full speed: 10 000 at least.
    pub least_ppm: u32,
    /// Fastest, ppm of full speed: not below `least_ppm`, at most 1 000 000.
    pub most_ppm: u32,
    /// After a stop it begins with this share of the last good speed, ppm: at most 1 000 000.
    pub restart_ppm: u32,
    /// How long the sounder sounds before the feeder moves by itself (ISO 14118), 1 000 to 600 000 ms.
    pub sounder_ms: u32,
    /// Override: the largest current is held below this share of rated current, ppm.
    pub current_ppm: u32,
    /// Override: from this thermal level on (ppm of the trip level, below 1 000 000) the target falls, to nothing at the trip level.
    pub thermal_ppm: u32,
    /// Override: charge in the mill shows as load that the feed does not account for; it is held below this share of the load
    /// that it does account for, ppm. `None`: not looked at.
    pub charge_ppm: Option<u32>,
    /// What is done about a jam.
    pub jam: FeedJam,
    /// The search for the set point of least energy; `None`: the target stays as it is set.
    pub search: Option<Search>,
}

impl Default for Feeder {
    /// Starting points (common practice, no source): hold 80 %, 2.5 % of deadband, 2 % a second up, 20 % down, restart at half. Gain
    /// and integral time are those of a step test with gain 1.2, lag 4 s, delay 3 s, for a closed loop of 12 s.
    fn default() -> Self {
        Self {
            target_ppm: 800_000,
            peak_ppm: None,
            deadband_ppm: 25_000,
            gain_ppm: 222_222,
            integral_ms: 4_000,
            filter_ms: 1_000,
            delay_ms: 3_000,
            up_ppm_s: 20_000,
            down_ppm_s: 200_000,
            least_ppm: 50_000,
            most_ppm: 1_000_000,
            restart_ppm: 500_000,
            sounder_ms: 3_000,
            current_ppm: 1_000_000,
            thermal_ppm: 900_000,
            charge_ppm: Some(400_000),
            jam: FeedJam::default(),
            search: None,
        }
    }
}

/// A jam: the feed has stopped and the load does not fall. Never the mill is reversed, only the feeder.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct FeedJam {
    /// The load is still above the stop level this long after the feed has stopped, ms.
    pub delay_ms: u32,
    /// How long the feeder runs backwards, ms; 0: it cannot.
    pub reverse_ms: u32,
    /// So often within `within_ms`, then a person is called: 1 to 20.
    pub tries: u8,
    /// See `tries`, ms: long enough for one try more, each with delay, sounder and reversal.
    pub within_ms: u32,
}

impl Default for FeedJam {
    /// 3 s, no reversal, three tries within ten minutes: common practice, no source.
    fn default() -> Self {
        Self { delay_ms: 3_000, reverse_ms: 0, tries: 3, within_ms: 600_000 }
    }
}

/// A search for the target with the least energy for what is fed: small steps, each held and measured, always within its bounds and
/// as far below the stop level as the 95th percentile of the load lies above its mean.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Search {
    /// Lowest target, ppm.
    pub lowest_ppm: u32,
    /// Highest target, ppm: not below `lowest_ppm`.
    pub highest_ppm: u32,
    /// A step of the target, ppm: 1 000 to 100 000.
    pub step_ppm: u32,
    /// How long a target is held and measured, 10 000 to 36 000 000 ms.
    pub dwell_ms: u32,
}
