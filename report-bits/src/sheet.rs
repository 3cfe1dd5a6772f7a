//! `sheet.bin`: what commissioning by injection came to, for a laptop to read and to print.
//!
//! | bytes | holds |
//! |---|---|
//! | 8 | magic, `SWSHEET2` |
//! | | a [`Sheet`] in postcard |
//! | 4 | CRC-32 of all of it, little-endian |

use core::fmt;

use shaftwork_commission::Sheet;

use crate::digest::CRC;

/// The magic: its number is that of the sheet's layout.
pub const MAGIC: [u8; 8] = *b"SWSHEET2";
const CRC_BYTES: usize = 4;
/// Enough bytes for any sheet: by the same count as [`crate::report::MAX_BYTES`].
pub const MAX_BYTES: usize = 4096;
const _: () =
    assert!(size_of::<Sheet>() * 3 / 2 + 16 + MAGIC.len() + CRC_BYTES <= MAX_BYTES, "a sheet grew: raise MAX_BYTES");

/// The bytes of a sheet, written to the front of `buffer`.
///
/// # Panics
///
/// Never: the size of the buffer is checked when this is compiled.
pub fn encode<'a>(sheet: &Sheet, buffer: &'a mut [u8; MAX_BYTES]) -> &'a [u8] {
    buffer[..MAGIC.len()].copy_from_slice(&MAGIC);
    let body = &mut buffer[MAGIC.len()..MAX_BYTES - CRC_BYTES];
    let end = MAGIC.len() + postcard::to_slice(sheet, body).expect("MAX_BYTES holds any sheet").len();
    let sum = CRC.checksum(&buffer[..end]).to_le_bytes();
    buffer[end..end + CRC_BYTES].copy_from_slice(&sum);
    &buffer[..end + CRC_BYTES]
}

/// What is wrong with a sheet's bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wrong {
    /// It does not start with the magic of this version.
    Magic,
    /// It is cut, or a byte of it has changed.
    Sum,
    /// It holds something else.
    Body,
}

impl fmt::Display for Wrong {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Magic => "the file does not start with SWSHEET2",
            Self::Sum => "the file is cut, or was changed: its check sum is another",
            Self::Body => "it holds no sheet of this version",
        })
    }
}

impl core::error::Error for Wrong {}

/// The sheet that `bytes` stand for.
///
/// # Errors
///
/// What is wrong with it.
pub fn read(bytes: &[u8]) -> Result<Sheet, Wrong> {
    let rest = bytes.strip_prefix(&MAGIC).ok_or(Wrong::Magic)?;
    let (body, sum) = rest.split_last_chunk::<CRC_BYTES>().ok_or(Wrong::Sum)?;
    if CRC.checksum(&bytes[..bytes.len() - CRC_BYTES]) != u32::from_le_bytes(*sum) {
        return Err(Wrong::Sum);
    }
    match postcard::take_from_bytes(body) {
        Ok((sheet, [])) => Ok(sheet),
        _ => Err(Wrong::Body),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    extern crate std;
    use shaftwork_commission::{Output, run};
    use shaftwork_core::Settings;
    use std::vec::Vec;

    #[test]
    fn a_sheet_comes_back_as_it_was() {
        let mut sheet = run(&Settings::example(), 0x1234_5678, &mut || false);
        for (name, seen) in [("trip relay", Some(true)), ("an output's longest name", Some(false)), ("", None)] {
            sheet.outputs.push(Output { name: name.try_into().unwrap(), seen }).unwrap();
        }
        let mut buffer = [0; MAX_BYTES];
        let bytes: Vec<u8> = encode(&sheet, &mut buffer).to_vec();
        assert_eq!(read(&bytes), Ok(sheet));
        for length in 0..bytes.len() {
            assert_eq!(read(&bytes[..length]), Err(if length < 8 { Wrong::Magic } else { Wrong::Sum }));
        }
        for place in 8..bytes.len() {
            let mut changed = bytes.clone();
            changed[place] ^= 1;
            assert_eq!(read(&changed), Err(Wrong::Sum));
        }
        // Something else with a sound sum.
        let mut other = MAGIC.to_vec();
        other.extend([255; 3]);
        other.extend(CRC.checksum(&other).to_le_bytes());
        assert_eq!(read(&other), Err(Wrong::Body));
    }
}
