//! `settings.bin`: what a board can be sent, as postcard bytes.

use shaftwork_core::settings::Settings;

/// Enough bytes for any settings, by the same count as [`crate::report::MAX_BYTES`].
pub const MAX_BYTES: usize = 1024;
const _: () = assert!(size_of::<Settings>() * 3 / 2 + 16 <= MAX_BYTES, "settings grew: raise MAX_BYTES");

/// The bytes of settings, written to the front of `buffer`.
///
/// # Panics
///
/// Never: the size of the buffer is checked when this is compiled.
///
/// ```
/// use shaftwork_core::settings::Settings;
/// use shaftwork_report_bits::settings::{MAX_BYTES, decode, encode};
/// let mut buffer = [0; MAX_BYTES];
/// assert_eq!(decode(encode(&Settings::example(), &mut buffer)), Ok(Settings::example()));
/// ```
pub fn encode<'a>(settings: &Settings, buffer: &'a mut [u8; MAX_BYTES]) -> &'a [u8] {
    postcard::to_slice(settings, buffer).expect("MAX_BYTES holds any settings")
}

/// The settings that `bytes` stand for. Their ranges are checked by the monitor, not here.
///
/// # Errors
///
/// When they are no settings.
pub fn decode(bytes: &[u8]) -> postcard::Result<Settings> {
    postcard::from_bytes(bytes)
}
