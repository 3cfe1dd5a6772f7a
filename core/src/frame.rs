//! What a converter gives: one frame is one sample of every channel, taken (nearly) together.

use crate::settings::CHANNELS;

/// Raw converter codes of one instant: three voltages, then three currents.
///
/// In two-element wiring the slots are vab, vcb, unused, ia, unused, ic. Codes at or beyond the
/// converter's end count as clipped; codes beyond it are taken as the end.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Frame(pub [i32; CHANNELS]);

/// Frames in a block: what an interrupt hands over at a time.
pub const BLOCK: usize = 8;
