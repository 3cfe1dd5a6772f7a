//! Decimal numbers from bytes, fast and exact, without a `String` a cell.
//!
//! A number of at most 15 digits and 22 decimals is an exact integer over an exact power of ten,
//! so one division rounds it correctly (Clinger 1990). Anything longer goes to the standard
//! library's parser, which rounds correctly as well.

use std::num::NonZero;

/// 10^0 to 10^22, all exact in f64 (5^22 < 2^53).
const POWERS: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20,
    1e21, 1e22,
];

/// The same as whole numbers, as far as they are needed.
const TENS: [u64; MOST + 1] = {
    let mut tens = [1; MOST + 1];
    let mut n = 1;
    while n <= MOST {
        tens[n] = tens[n - 1] * 10;
        n += 1;
    }
    tens
};

/// A number as it was printed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Printed {
    /// Its value, always finite.
    pub value: f64,
    /// Decimal places: the last printed digit is worth `10^-decimals`. Negative after `1e3`.
    pub decimals: i32,
    /// Digits before the point, leading zeros not counted; of `0.05` it is -1.
    pub whole: i32,
}

/// Why a cell is no number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoNumber {
    /// Nothing but blanks.
    Empty,
    /// `nan`, `inf` or a value beyond f64.
    NotFinite,
    /// Beyond what a column can hold.
    TooLarge,
    /// Anything else.
    Text,
}

impl NoNumber {
    /// In words, as the `found` of a fault.
    pub fn found(self, cell: &[u8]) -> String {
        let shown = |c: char| if c.is_control() { format!("\\x{:02x}", u32::from(c)) } else { c.to_string() };
        let cell: String = String::from_utf8_lossy(cell).chars().take(40).map(shown).collect();
        match self {
            Self::Empty => "an empty cell".into(),
            Self::NotFinite => format!("'{cell}', which is no finite number"),
            Self::TooLarge => format!("'{cell}', which nobody can have measured"),
            Self::Text => format!("'{cell}', which is no number"),
        }
    }
}

/// A number of digits and at most one point, not many of them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Plain {
    negative: bool,
    /// Below 10^15: exact in f64.
    digits: u64,
    decimals: usize,
}

/// Digits in a [`Plain`] number at most, leading zeros counted.
const MOST: usize = 15;

impl Plain {
    /// Its value, correctly rounded.
    pub fn value(self) -> f64 {
        let size = exact(self.digits, self.decimals);
        if self.negative { -size } else { size }
    }

    /// It with the worth of its last printed digit.
    pub fn printed(self) -> Printed {
        let decimals = self.decimals as i32; // at most 15
        let whole = self.digits.checked_ilog10().map_or(0, |last| last as i32 + 1 - decimals);
        Printed { value: self.value(), decimals, whole }
    }
}

/// The value of digits below 10^15 < 2^53: an exact number, of which one division by an exact power is correctly
/// rounded.
#[inline]
fn exact(digits: u64, decimals: usize) -> f64 {
    // Signed on the way: for that there is an instruction everywhere.
    digits as i64 as f64 / POWERS[decimals]
}

/// Reads a plain number (`-12.5`) at a place of a line; gives it and the place behind it. `None` when the careful
/// way is needed: many digits, or no number at all. Whether an exponent follows is for the caller to see.
pub fn plain(line: &[u8], from: usize) -> Option<(Plain, usize)> {
    let sign = line.get(from);
    let negative = sign == Some(&b'-');
    let first = from + usize::from(negative || sign == Some(&b'+'));
    let (whole, before) = run(line, first);
    let mut end = first + before;
    let (mut part, mut decimals) = (0, 0);
    if line.get(end) == Some(&b'.') {
        (part, decimals) = run(line, end + 1);
        end += 1 + decimals;
    }
    // What has more digits may have wrapped around.
    if !(1..=MOST).contains(&(before + decimals)) {
        return None;
    }
    Some((Plain { negative, digits: whole * TENS[decimals] + part, decimals }, end))
}

/// The quick way of [`plain`] for a number of seven characters and a `-` at most: its value and the place behind
/// it. `None` says nothing. All stays in registers: what takes the way over memory waits there.
#[expect(clippy::inline_always, reason = "a call costs as much as the work")]
#[inline(always)]
pub fn short(line: &[u8], from: usize) -> Option<(f64, usize)> {
    // Two ways, so that the place of the digits is guessed with the sign and not waited for.
    match line.get(from) {
        Some(b'-') => unsigned(line, from + 1).map(|(value, end)| (-value, end)),
        _ => unsigned(line, from),
    }
}

/// The same without a sign.
#[expect(clippy::inline_always, reason = "a call costs as much as the work")]
#[inline(always)]
fn unsigned(line: &[u8], first: usize) -> Option<(f64, usize)> {
    let word = word(line, first);
    let (values, others) = parted(word);
    let end = NonZero::new(others)?;
    let before = end.trailing_zeros() - 7; // bits, eight a character
    if (word >> before) as u8 != b'.' {
        let place = first + before as usize / 8;
        return (before > 0).then(|| (joined(values, before) as i64 as f64, place));
    }
    let end = NonZero::new(others & (others - 1))?;
    let length = end.trailing_zeros() - 7; // at most 56
    if length == 8 {
        return None; // a point alone
    }
    // The digits before the point move up by one, over it; a zero comes in at the front.
    let digits = (values & !(u64::MAX << before)) << 8 | values & (!0xFF << before);
    let decimals = (length - before) as usize / 8 - 1;
    Some((exact(joined(digits, length), decimals), first + length as usize / 8))
}

/// A run of digits: its number, which wraps around where it is longer than any that is believed, and its length.
fn run(line: &[u8], from: usize) -> (u64, usize) {
    let (mut number, mut length) = (0_u64, 0);
    loop {
        let (values, others) = parted(word(line, from + length));
        let bits = others.trailing_zeros() & !7; // 64 where all are digits
        if bits == 0 {
            return (number, length);
        }
        number = number.wrapping_mul(TENS[bits as usize / 8]).wrapping_add(joined(values, bits));
        length += bits as usize / 8;
        if bits < 64 {
            return (number, length);
        }
    }
}

/// The eight bytes at a place of a line, the first lowest; 0 beyond its end.
#[expect(clippy::inline_always, reason = "a call costs as much as the work")]
#[inline(always)]
fn word(line: &[u8], from: usize) -> u64 {
    let load = |at: usize| line.get(at..).and_then(|rest| rest.first_chunk()).map(|bytes| u64::from_le_bytes(*bytes));
    if let Some(word) = load(from) {
        return word;
    }
    // The last eight of the line, and those before `from` moved out.
    match line.len().checked_sub(8).and_then(|last| Some((load(last)?, from - last))) {
        Some((word, before @ ..8)) => word >> (8 * before),
        Some(_) => 0,
        None => line.iter().skip(from).rev().fold(0, |word, byte| word << 8 | u64::from(*byte)),
    }
}

// Eight bytes go at once (SWAR).

/// Digits of a word as 0 to 9, and the high bit of each byte that is none; right as far as the bytes are ASCII, for
/// others may carry into the next.
#[expect(clippy::inline_always, reason = "a call costs as much as the work")]
#[inline(always)]
fn parted(word: u64) -> (u64, u64) {
    let values = word ^ 0x3030_3030_3030_3030;
    (values, (values.wrapping_add(0x7676_7676_7676_7676) | values) & 0x8080_8080_8080_8080)
}

/// The number that the values in so many bits at the front make, 8 to 64: neighbours add up to pairs, fours and the
/// whole.
#[expect(clippy::inline_always, reason = "a call costs as much as the work")]
#[inline(always)]
fn joined(values: u64, bits: u32) -> u64 {
    let ones = values << (64 - bits);
    let pairs = ones.wrapping_mul(10).wrapping_add(ones >> 8);
    let low = (pairs & 0x0000_00FF_0000_00FF).wrapping_mul(100 + (1_000_000 << 32));
    let high = (pairs >> 16 & 0x0000_00FF_0000_00FF).wrapping_mul(1 + (10_000 << 32));
    low.wrapping_add(high) >> 32
}

/// 10^n.
#[inline]
pub fn power(n: i32) -> f64 {
    match (POWERS.get(n.unsigned_abs() as usize), n) {
        (Some(power), 0..) => *power,
        (Some(power), _) => 1.0 / power,
        (None, _) => 10_f64.powi(n),
    }
}

/// Reads a whole cell, blanks around it allowed.
pub fn number(cell: &[u8]) -> Result<f64, NoNumber> {
    let cell = cell.trim_ascii();
    match plain(cell, 0) {
        Some((plain, end)) if end == cell.len() => Ok(plain.value()),
        _ => careful(cell),
    }
}

/// Any decimal or exponent form, by the standard library, but no names such as `nan`.
fn careful(cell: &[u8]) -> Result<f64, NoNumber> {
    if cell.is_empty() {
        return Err(NoNumber::Empty);
    }
    let text = std::str::from_utf8(cell).map_err(|_| NoNumber::Text)?;
    match text.parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(value),
        Ok(_) => Err(NoNumber::NotFinite),
        Err(_) => Err(NoNumber::Text),
    }
}

/// Reads a cell with the worth of its last printed digit.
pub fn printed(cell: &[u8]) -> Result<Printed, NoNumber> {
    let cell = cell.trim_ascii();
    let value = number(cell)?;
    let (mantissa, exponent) = match cell.iter().position(|b| matches!(b, b'e' | b'E')) {
        Some(at) => (&cell[..at], number(&cell[at + 1..]).unwrap_or(0.0) as i32),
        None => (cell, 0),
    };
    let point = mantissa.iter().position(|b| *b == b'.').unwrap_or(mantissa.len());
    let decimals = (mantissa.len() - point).saturating_sub(1) as i32;
    let leading = mantissa.iter().position(|b| (b'1'..=b'9').contains(b)).unwrap_or(point);
    // Digits between the first that counts and the point; beyond the point it goes negative.
    let whole = if leading <= point { point as i32 - leading as i32 } else { point as i32 + 1 - leading as i32 };
    Ok(Printed { value, decimals: decimals.saturating_sub(exponent), whole: whole.saturating_add(exponent) })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn cells_as_people_write_them() {
        // Common practice, no source.
        for (text, want) in
            [("1", 1.0), (" -2.50 ", -2.5), ("+3.", 3.0), (".5", 0.5), ("1e3", 1000.0), ("-000001", -1.0)]
        {
            assert_eq!(number(text.as_bytes()), Ok(want), "{text}");
        }
        for (text, want) in [
            ("", NoNumber::Empty),
            ("  ", NoNumber::Empty),
            ("nan", NoNumber::NotFinite),
            ("inf", NoNumber::NotFinite),
            ("1e999", NoNumber::NotFinite),
            ("1,5", NoNumber::Text),
            ("-", NoNumber::Text),
            (".", NoNumber::Text),
            ("1.2.3", NoNumber::Text),
            ("0x10", NoNumber::Text),
        ] {
            assert_eq!(number(text.as_bytes()), Err(want), "{text}");
        }
    }

    #[test]
    fn the_last_printed_digit_is_known() {
        // By the definition of a decimal place.
        for (text, decimals, whole) in [
            ("0.000250", 6, -3),
            ("12.5", 1, 2),
            ("100", 0, 3),
            ("2.5e-4", 5, -3),
            ("0", 0, 0),
            ("0.0", 1, 0),
            ("1e3", -3, 4),
        ] {
            let p = printed(text.as_bytes()).unwrap();
            assert_eq!((p.decimals, p.whole), (decimals, whole), "{text}");
        }
    }

    #[test]
    fn powers_are_those_of_the_standard_library() {
        for n in -40..40 {
            assert_eq!(power(n).to_bits(), 10_f64.powi(n).to_bits(), "{n}");
        }
    }

    proptest! {
        /// Oracle: the standard library's correctly rounded parser.
        #[test]
        fn agrees_with_the_standard_library(v in any::<i64>(), d in 0_usize..20) {
            let text = format!("{:.*}", d, v as f64 / 1e6);
            prop_assert_eq!(number(text.as_bytes()), Ok(text.parse::<f64>().unwrap()));
            let short = format!("{:.*}", d.min(8), (v % 10_000_000) as f64 / 1e3);
            prop_assert_eq!(number(short.as_bytes()), Ok(short.parse::<f64>().unwrap()));
        }

        /// Wherever a number stands in a line, it is what it is alone: value, digits, and the place behind it.
        #[test]
        fn a_number_in_a_line_is_the_number_alone(
            before in "[0-9,.x]{0,12}", sign in "[-+]?", whole in "[0-9]{0,9}", part in "(\\.[0-9]{0,7})?",
            after in "(,[0-9,.e]{0,12})?",
        ) {
            let alone = format!("{sign}{whole}{part}");
            let line = format!("{before}{alone}{after}");
            let found = plain(line.as_bytes(), before.len());
            let digits = alone.bytes().filter(u8::is_ascii_digit).count();
            prop_assert_eq!(found.is_some(), (1..=15).contains(&digits));
            if let Some((plain, end)) = found {
                prop_assert_eq!(end, before.len() + alone.len());
                prop_assert_eq!(plain.value().to_bits(), alone.parse::<f64>().unwrap().to_bits());
                prop_assert_eq!(Ok(plain.printed()), printed(alone.as_bytes()));
            }
            if let Some((value, end)) = short(line.as_bytes(), before.len()) {
                prop_assert_eq!(end, before.len() + alone.len());
                prop_assert_eq!(value.to_bits(), alone.parse::<f64>().unwrap().to_bits());
            } else {
                prop_assert!(digits == 0 || digits + usize::from(!part.is_empty()) > 7 || sign == "+");
            }
        }

        #[test]
        fn never_panics(bytes in proptest::collection::vec(any::<u8>(), 0..40)) {
            let _ = number(&bytes);
            let _ = printed(&bytes);
            let _ = (plain(&bytes, 3), short(&bytes, 3));
        }
    }
}
