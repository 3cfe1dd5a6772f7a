//! Decimal numbers from bytes, fast and exact, without a `String` a cell.
//!
//! A number of at most 15 digits and 22 decimals is an exact integer over an exact power of ten,
//! so one division rounds it correctly (Clinger 1990). Anything longer goes to the standard
//! library's parser, which rounds correctly as well.

/// 10^0 to 10^22, all exact in f64 (5^22 < 2^53).
const POWERS: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20,
    1e21, 1e22,
];

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
    /// Anything else.
    Text,
}

impl NoNumber {
    /// In words, as the `found` of a fault.
    pub fn found(self, cell: &[u8]) -> String {
        let cell: String = String::from_utf8_lossy(cell).chars().filter(|c| !c.is_control()).take(40).collect();
        match self {
            Self::Empty => "an empty cell".into(),
            Self::NotFinite => format!("'{cell}', which is no finite number"),
            Self::Text => format!("'{cell}', which is no number"),
        }
    }
}

/// Reads a plain number (`-12.5`) at the front of `bytes`: its value and how many bytes it took.
/// `None` when the careful way is needed: long, with an exponent, or no number at all.
#[inline]
pub fn leading(bytes: &[u8]) -> Option<(f64, usize)> {
    let negative = matches!(bytes.first(), Some(b'-'));
    let first = usize::from(negative || matches!(bytes.first(), Some(b'+')));
    let mut at = first;
    let mut digits: u64 = 0;
    while let Some(d) = bytes.get(at).map(|b| b.wrapping_sub(b'0')).filter(|d| *d < 10) {
        // At most 15 digits are believed below, so wrapping here is never seen.
        digits = digits.wrapping_mul(10).wrapping_add(u64::from(d));
        at += 1;
    }
    let mut decimals = 0;
    let mut length = at - first;
    if bytes.get(at) == Some(&b'.') {
        at += 1;
        let point = at;
        while let Some(d) = bytes.get(at).map(|b| b.wrapping_sub(b'0')).filter(|d| *d < 10) {
            digits = digits.wrapping_mul(10).wrapping_add(u64::from(d));
            at += 1;
        }
        decimals = at - point;
        length += decimals;
    }
    if length == 0 || length > 15 || matches!(bytes.get(at), Some(b'e' | b'E')) {
        return None;
    }
    // Below 10^15 < 2^53: exact; one division by an exact power rounds once.
    let value = if decimals == 0 { digits as f64 } else { digits as f64 / POWERS[decimals] };
    Some((if negative { -value } else { value }, at))
}

/// Reads a whole cell, blanks around it allowed.
pub fn number(cell: &[u8]) -> Result<f64, NoNumber> {
    let cell = cell.trim_ascii();
    match leading(cell) {
        Some((value, used)) if used == cell.len() => Ok(value),
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

    proptest! {
        /// Oracle: the standard library's correctly rounded parser.
        #[test]
        fn agrees_with_the_standard_library(v in any::<i64>(), d in 0_usize..20) {
            let text = format!("{:.*}", d, v as f64 / 1e6);
            prop_assert_eq!(number(text.as_bytes()), Ok(text.parse::<f64>().unwrap()));
            let short = format!("{:.*}", d.min(8), (v % 10_000_000) as f64 / 1e3);
            prop_assert_eq!(number(short.as_bytes()), Ok(short.parse::<f64>().unwrap()));
        }

        #[test]
        fn never_panics(bytes in proptest::collection::vec(any::<u8>(), 0..40)) {
            let _ = number(&bytes);
            let _ = printed(&bytes);
            let _ = leading(&bytes);
        }
    }
}
