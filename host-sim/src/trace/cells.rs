//! Cells of a comma-separated line, taken one after the other from the line's bytes.

use super::number::{self, NoNumber};

/// A plain number up to a comma or the end of the line: value and what follows the comma.
#[inline]
pub(crate) fn quick(cell: &[u8]) -> Option<(f64, Option<&[u8]>)> {
    let mut cell = cell;
    while let [b' ' | b'\t', rest @ ..] = cell {
        cell = rest;
    }
    let (value, used) = number::leading(cell)?;
    let mut rest = &cell[used..];
    while let [b' ' | b'\t', after @ ..] = rest {
        rest = after;
    }
    match rest {
        [] => Some((value, None)),
        [b',', after @ ..] => Some((value, Some(after))),
        _ => None,
    }
}

/// A cell's text and what follows its comma, or why not with the text.
pub(crate) type Parted<'a, T> = Result<(T, Option<&'a [u8]>), (NoNumber, &'a [u8])>;

/// Any cell of figures.
pub(crate) fn slow<T>(bytes: &[u8], parse: fn(&[u8]) -> Result<T, NoNumber>) -> Parted<'_, T> {
    let (text, more) = cell(bytes)?;
    parse(text).map(|value| (value, more)).map_err(|e| (e, text))
}

/// The next cell, trimmed and without its quotes (doubled quotes inside stay doubled).
pub(crate) fn cell(bytes: &[u8]) -> Parted<'_, &[u8]> {
    let bytes = bytes.trim_ascii_start();
    let Some(quoted) = bytes.strip_prefix(b"\"") else {
        return Ok(match memchr::memchr(b',', bytes) {
            Some(at) => (bytes[..at].trim_ascii_end(), Some(&bytes[at + 1..])),
            None => (bytes.trim_ascii_end(), None),
        });
    };
    let mut at = 0;
    while let Some(quote) = memchr::memchr(b'"', &quoted[at..]) {
        at += quote;
        if quoted.get(at + 1) == Some(&b'"') {
            at += 2;
            continue;
        }
        return match quoted[at + 1..].trim_ascii_start() {
            [] => Ok((quoted[..at].trim_ascii(), None)),
            [b',', after @ ..] => Ok((quoted[..at].trim_ascii(), Some(after))),
            _ => Err((NoNumber::Text, bytes)),
        };
    }
    Err((NoNumber::Text, bytes))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_part_at_commas_outside_quotes() {
        // RFC 4180, section 2, points 4 to 7; line ends inside quotes are not taken.
        assert_eq!(cell(b" a ,b"), Ok((&b"a"[..], Some(&b"b"[..]))));
        assert_eq!(cell(b"\"a,\"\"b\" , c"), Ok((&b"a,\"\"b"[..], Some(&b" c"[..]))));
        assert_eq!(cell(b""), Ok((&b""[..], None)));
        assert!(cell(b"\"open").is_err());
        assert!(cell(b"\"a\"b,").is_err());
        assert_eq!(quick(b" 1.5 ,2"), Some((1.5, Some(&b"2"[..]))));
        assert_eq!(quick(b"1.5x,2"), None);
    }
}
