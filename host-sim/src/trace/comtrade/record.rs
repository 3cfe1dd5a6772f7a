//! Records of the data (.dat): how long they are, which codes are missing values.
//!
//! Binary, little endian: u32 number, u32 stamp, an i16, i32 or f32 for each analog channel, a
//! u16 for each sixteen status channels.

use super::channel::Analog;
use super::config::Revision;

/// How values are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Encoding {
    Ascii,
    Binary,
    Binary32,
    Float32,
}

impl Encoding {
    /// By its name in a file, in any case.
    pub fn named(text: &str) -> Option<Self> {
        let text = text.trim().trim_end_matches(',').trim();
        [Self::Ascii, Self::Binary, Self::Binary32, Self::Float32]
            .into_iter()
            .find(|e| e.name().eq_ignore_ascii_case(text))
    }

    /// Its name in the standard.
    pub fn name(self) -> &'static str {
        match self {
            Self::Ascii => "ASCII",
            Self::Binary => "BINARY",
            Self::Binary32 => "BINARY32",
            Self::Float32 => "FLOAT32",
        }
    }

    /// Bytes of an analog value; 0 for text.
    fn width(self) -> usize {
        match self {
            Self::Ascii => 0,
            Self::Binary => 2,
            Self::Binary32 | Self::Float32 => 4,
        }
    }
}

/// Bytes of a binary record, `None` for text or a size beyond the machine's.
pub(super) fn size(encoding: Encoding, analogs: usize, digital: usize) -> Option<usize> {
    let values = match encoding.width() {
        0 => return None,
        width => analogs.checked_mul(width)?,
    };
    values.checked_add(digital.div_ceil(16).checked_mul(2)?)?.checked_add(8)
}

/// The missing stamp.
pub(super) const NO_STAMP: u32 = u32::MAX;

/// Number and stamp of a binary record.
pub(super) fn head(record: &[u8]) -> (u32, u32) {
    let word = |at: usize| record.get(at..at + 4).and_then(|b| b.try_into().ok()).map_or(NO_STAMP, u32::from_le_bytes);
    (word(0), word(4))
}

/// Appends the values of whole records to the columns, NaN where missing.
pub(super) fn values(
    records: &[u8],
    size: usize,
    encoding: Encoding,
    revision: Revision,
    analogs: &[Analog],
    columns: &mut [Vec<f64>],
) {
    // The 1991 revision marks a missing value by FFFF, which is also the code -1 of an honest sample: it
    // counts where the channel's stated range leaves it out. Later revisions use 8000.
    let outside =
        |analog: &Analog, code: i16| analog.range.is_some_and(|(low, high)| !(low..=high).contains(&f64::from(code)));
    for (index, (analog, column)) in analogs.iter().zip(columns).enumerate() {
        let (slope, offset) = (analog.slope, analog.offset);
        let scale = move |x: f64| finite(x * slope + offset);
        let at = 8 + index * encoding.width();
        match encoding {
            Encoding::Ascii => {}
            Encoding::Binary => {
                let old = revision == Revision::Y1991;
                // Where a code marks nothing, one that cannot be.
                let code = |marks: bool, code: i16| if marks { i32::from(code) } else { i32::MAX };
                let first = code(old && outside(analog, -1), -1);
                let second = code(!old || outside(analog, i16::MIN), i16::MIN);
                decode(column, records, size, at, move |b| {
                    let x = i32::from(i16::from_le_bytes(b));
                    let value = scale(f64::from(x));
                    if x == first || x == second { f64::NAN } else { value }
                });
            }
            Encoding::Binary32 => decode(column, records, size, at, move |b| {
                let x = i32::from_le_bytes(b);
                let value = scale(f64::from(x));
                if x == i32::MIN { f64::NAN } else { value }
            }),
            Encoding::Float32 => decode(column, records, size, at, move |b| {
                let x = f32::from_le_bytes(b);
                let value = scale(f64::from(x));
                if is_missing(x) { f64::NAN } else { value }
            }),
        }
    }
}

/// Appends a status channel of whole records, 0 or 1: bit by bit after the analog values, sixteen a word.
pub(super) fn states(
    records: &[u8],
    size: usize,
    encoding: Encoding,
    analogs: usize,
    status: usize,
    column: &mut Vec<f64>,
) {
    let at = 8 + analogs * encoding.width() + status / 16 * 2;
    decode(column, records, size, at, move |word| f64::from(u16::from_le_bytes(word) >> (status % 16) & 1));
}

/// Appends the values of one channel, which stands at byte `at` of each record. What does not depend on the
/// record is in the closure by value, so that nothing is looked up and several values can be made at once.
#[inline]
fn decode<const N: usize>(
    column: &mut Vec<f64>,
    records: &[u8],
    size: usize,
    at: usize,
    value: impl Fn([u8; N]) -> f64,
) {
    column.extend(records.chunks_exact(size).map(move |record| value(bytes(record, at))));
}

/// Missing values of FLOAT32: the lowest number (FF7FFFFF), the smallest normal one that some
/// writers put instead, and whatever is no number.
fn is_missing(x: f32) -> bool {
    !x.is_finite() || x.to_bits() == f32::MIN.to_bits() || x.to_bits() == f32::MIN_POSITIVE.to_bits()
}

/// A value beyond f64 is no value.
pub(super) fn finite(x: f64) -> f64 {
    // One comparison, for which no jump is needed.
    if x.abs() < f64::INFINITY { x } else { f64::NAN }
}

fn bytes<const N: usize>(record: &[u8], at: usize) -> [u8; N] {
    record.get(at..at + N).and_then(|b| b.try_into().ok()).unwrap_or([0; N])
}

#[cfg(test)]
mod tests {
    use super::super::channel::analog;
    use super::*;

    fn column(encoding: Encoding, revision: Revision, words: &[&[u8]]) -> Vec<f64> {
        in_range("-32767,32767", encoding, revision, words)
    }

    fn in_range(range: &str, encoding: Encoding, revision: Revision, words: &[&[u8]]) -> Vec<f64> {
        let channel = analog(&format!("1,IA,A,,A,2,1,0,{range},1,1,P"), false).unwrap();
        let mut records = Vec::new();
        for word in words {
            records.extend([1, 0, 0, 0, 0, 0, 0, 0]);
            records.extend(*word);
        }
        let mut columns = vec![Vec::new()];
        values(&records, 8 + words[0].len(), encoding, revision, &[channel], &mut columns);
        columns.remove(0)
    }

    #[test]
    fn records_have_the_standards_size() {
        // IEEE C37.111-1999, 6.8: 8 + 2 A + 2 ceil(D/16); BINARY32 and FLOAT32 of 2013: 4 A.
        assert_eq!(size(Encoding::Binary, 4, 16), Some(18));
        assert_eq!(size(Encoding::Float32, 1, 1), Some(14));
        assert_eq!(size(Encoding::Binary32, 6, 17), Some(36));
        assert_eq!(size(Encoding::Binary, usize::MAX, 1), None);
        assert_eq!(size(Encoding::Ascii, 1, 1), None);
    }

    #[test]
    fn missing_values_of_each_encoding() {
        // IEEE C37.111: 8000 hex in BINARY (FFFF in 1991), 80000000 in BINARY32; FLOAT32 from memory.
        let show = |v: Vec<f64>| v.iter().map(ToString::to_string).collect::<Vec<_>>().join(" ");
        let words: [&[u8]; 3] = [&[5, 0], &[0, 0x80], &[0xFF, 0xFF]];
        assert_eq!(show(column(Encoding::Binary, Revision::Y1999, &words)), "11 NaN -1");
        // FFFF is -1 as well: missing only where the range of the channel leaves -1 out.
        assert_eq!(show(column(Encoding::Binary, Revision::Y1991, &words)), "11 NaN -1");
        let unsigned = |words| in_range("0,32767", Encoding::Binary, Revision::Y1991, words);
        assert_eq!(show(unsigned(&words)), "11 NaN NaN");
        let words: [&[u8]; 2] = [&[0xFF; 4], &[0, 0, 0, 0x80]];
        assert_eq!(show(column(Encoding::Binary32, Revision::Y2013, &words)), "-1 NaN");
        let words = [1.5_f32, f32::MIN, f32::MIN_POSITIVE, f32::NAN, f32::INFINITY, -0.5].map(f32::to_le_bytes);
        let words = [&words[0][..], &words[1], &words[2], &words[3], &words[4], &words[5]];
        assert_eq!(show(column(Encoding::Float32, Revision::Y2013, &words)), "4 NaN NaN NaN NaN 0");
    }
}
