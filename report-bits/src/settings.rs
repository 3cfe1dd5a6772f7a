//! `settings.bin`: what a board can be sent.
//!
//! | bytes | holds |
//! |---|---|
//! | 8 | magic, `SWSETT01` |
//! | 2 | length of the body, little-endian |
//! | 4 | CRC-32 of the body, little-endian |
//! | | `Settings` in postcard: the body |
//!
//! What follows is blank flash or nothing. The check sum stands in front of what it sums up, so that the CRC-32 of the whole file, which sheets
//! and captures tell, is another for other settings: behind it, it would be the same for all.

use core::fmt;

use shaftwork_core::settings::Settings;

use crate::digest::crc32;

/// The magic: its number is that of the body's layout.
pub const MAGIC: [u8; 8] = *b"SWSETT01";
const LENGTH_BYTES: usize = 2;
const CRC_BYTES: usize = 4;
const HEADER_BYTES: usize = MAGIC.len() + LENGTH_BYTES + CRC_BYTES;
/// What flash holds where nothing was written.
const BLANK: u8 = 0xff;

/// Enough bytes for any settings, by the same count as [`crate::report::MAX_BYTES`].
pub const MAX_BYTES: usize = 1040;
const _: () = assert!(HEADER_BYTES + size_of::<Settings>() * 3 / 2 + 16 <= MAX_BYTES, "settings grew: raise MAX_BYTES");

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
    let (header, room) = buffer.split_at_mut(HEADER_BYTES);
    let body = postcard::to_slice(settings, room).expect("MAX_BYTES holds any settings");
    let length = body.len() as u16; // at most 1 026
    header[..MAGIC.len()].copy_from_slice(&MAGIC);
    header[MAGIC.len()..][..LENGTH_BYTES].copy_from_slice(&length.to_le_bytes());
    header[HEADER_BYTES - CRC_BYTES..].copy_from_slice(&crc32(body).to_le_bytes());
    &buffer[..HEADER_BYTES + usize::from(length)]
}

/// What is wrong with the bytes of settings.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wrong {
    /// They do not start with the magic of this version.
    Magic,
    /// They are cut, or a byte of them has changed.
    Sum,
    /// Something stands behind them.
    Behind,
    /// They are something else.
    Body,
}

impl fmt::Display for Wrong {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Magic => "they do not start with SWSETT01",
            Self::Sum => "they are cut, or were changed: their check sum is another",
            Self::Behind => "something else stands behind them",
            Self::Body => "they are no settings of this version",
        })
    }
}

impl core::error::Error for Wrong {}

/// The settings that `bytes` stand for, blank flash behind them or nothing. Their ranges are checked by the monitor, not here.
///
/// # Errors
///
/// What is wrong with them.
pub fn decode(bytes: &[u8]) -> Result<Settings, Wrong> {
    let rest = bytes.strip_prefix(&MAGIC).ok_or(Wrong::Magic)?;
    let (length, rest) = rest.split_first_chunk::<LENGTH_BYTES>().ok_or(Wrong::Sum)?;
    let (sum, rest) = rest.split_first_chunk::<CRC_BYTES>().ok_or(Wrong::Sum)?;
    let (body, behind) = rest.split_at_checked(u16::from_le_bytes(*length).into()).ok_or(Wrong::Sum)?;
    if crc32(body) != u32::from_le_bytes(*sum) {
        return Err(Wrong::Sum);
    }
    if behind.iter().any(|byte| *byte != BLANK) {
        return Err(Wrong::Behind);
    }
    match postcard::take_from_bytes(body) {
        Ok((settings, [])) => Ok(settings),
        _ => Err(Wrong::Body),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    extern crate std;
    use std::format;
    use std::vec::Vec;

    fn sent(settings: &Settings) -> Vec<u8> {
        encode(settings, &mut [0; MAX_BYTES]).to_vec()
    }

    #[test]
    fn a_cut_and_every_changed_byte_is_seen() {
        let bytes = sent(&Settings::example());
        for length in 0..bytes.len() {
            let wrong = if length < 8 { Wrong::Magic } else { Wrong::Sum };
            assert_eq!(decode(&bytes[..length]), Err(wrong));
            // The same in flash.
            let mut flash = bytes[..length].to_vec();
            flash.resize(MAX_BYTES, BLANK);
            assert_eq!(decode(&flash), Err(wrong));
        }
        for place in 0..bytes.len() {
            for bit in 0..8 {
                let mut changed = bytes.clone();
                changed[place] ^= 1 << bit;
                assert_eq!(decode(&changed), Err(if place < 8 { Wrong::Magic } else { Wrong::Sum }));
            }
        }
    }

    #[test]
    fn behind_them_flash_is_blank() {
        let mut flash = sent(&Settings::example());
        let length = flash.len();
        flash.resize(MAX_BYTES, BLANK);
        assert_eq!(decode(&flash), Ok(Settings::example()));
        for place in length..MAX_BYTES {
            flash[place] = 0;
            assert_eq!(decode(&flash), Err(Wrong::Behind), "what is left of longer ones");
            flash[place] = BLANK;
        }
    }

    #[test]
    fn a_body_with_a_sound_sum_that_is_none_is_refused() {
        let longer = [&sent(&Settings::example())[HEADER_BYTES..], &[0]].concat();
        for body in [&longer[..], &[], &[255; 20]] {
            let (length, sum) = ((body.len() as u16).to_le_bytes(), crc32(body).to_le_bytes());
            assert_eq!(decode(&[&MAGIC[..], &length, &sum, body].concat()), Err(Wrong::Body));
        }
    }

    #[test]
    fn other_settings_have_another_sum_of_the_whole() {
        let mut other = Settings::example();
        other.motor.rated_current_ma += 1;
        assert_eq!(sent(&other).len(), sent(&Settings::example()).len());
        assert_ne!(crc32(&sent(&other)), crc32(&sent(&Settings::example())));
    }

    /// When this fails the layout has changed: raise the number in [`MAGIC`]. Where only a name is another, write down what is found.
    #[test]
    fn the_layout_of_this_version() {
        // Postcard takes bytes of 1 for one everywhere, for the second of several, and for something that is there: so this has every field.
        let (all, rest) = postcard::take_from_bytes::<Settings>(&[1; MAX_BYTES]).unwrap();
        let fields = MAX_BYTES - rest.len();
        let widths = crc32(&sent(&Settings::example())[HEADER_BYTES..]);
        assert_eq!(
            (&MAGIC, fields, crc32(format!("{all:?}").as_bytes()), widths),
            (b"SWSETT01", 175, 1_548_271_623, 2_002_968_030)
        );
    }
}
