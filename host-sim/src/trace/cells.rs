//! Cells of a comma-separated line, taken one after the other from the line's bytes.

use super::number::{self, NoNumber, Plain};

/// A line and how much of it is taken.
pub(crate) struct Cells<'a> {
    line: &'a [u8],
    /// Where the next cell begins: at the end of the line an empty one, beyond it none.
    at: usize,
}

/// What is in a cell, or why not with its text.
pub(crate) type Found<'a, T> = Result<T, (NoNumber, &'a [u8])>;

impl<'a> Cells<'a> {
    /// All of a line; an empty one has an empty cell.
    #[inline]
    pub(crate) fn new(line: &'a [u8]) -> Self {
        Self { line, at: 0 }
    }

    /// What is not taken yet: `None` after the last cell.
    #[inline]
    pub(crate) fn rest(&self) -> Option<&'a [u8]> {
        self.line.get(self.at..)
    }

    /// Takes a plain number; `None`, and nothing taken, where it has to be looked at with more care.
    #[expect(clippy::inline_always, reason = "a call costs as much as the work")]
    #[inline(always)]
    pub(crate) fn number(&mut self) -> Option<f64> {
        match number::short(self.line, self.at) {
            Some((value, end)) if matches!(self.line.get(end), None | Some(b',')) => {
                self.at = end + 1;
                Some(value)
            }
            _ => self.plain().map(Plain::value),
        }
    }

    /// The same with the number as it is printed, and blanks around it.
    #[inline(never)]
    pub(crate) fn plain(&mut self) -> Option<Plain> {
        let (plain, end) = number::plain(self.line, self.past_blanks(self.at))?;
        let end = self.past_blanks(end);
        match self.line.get(end) {
            None | Some(b',') => self.at = end + 1,
            Some(_) => return None,
        }
        Some(plain)
    }

    /// Takes a cell of figures.
    pub(crate) fn figure<T>(&mut self, parse: fn(&[u8]) -> Result<T, NoNumber>) -> Found<'a, T> {
        let text = self.text()?;
        parse(text).map_err(|e| (e, text))
    }

    /// Takes a cell, trimmed and without its quotes (doubled quotes inside stay doubled).
    pub(crate) fn text(&mut self) -> Found<'a, &'a [u8]> {
        let (text, more) = cell(self.rest().unwrap_or_default())?;
        self.at = more.map_or(self.line.len() + 1, |more| self.line.len() - more.len());
        Ok(text)
    }

    fn past_blanks(&self, from: usize) -> usize {
        let mut at = from;
        while let Some(b' ' | b'\t') = self.line.get(at) {
            at += 1;
        }
        at
    }
}

/// The next cell and what follows its comma.
fn cell(bytes: &[u8]) -> Found<'_, (&[u8], Option<&[u8]>)> {
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
    }

    #[test]
    fn a_line_is_taken_cell_by_cell() {
        let mut cells = Cells::new(b" 1.5 ,\t-2,x,3e2,\"a,b\",");
        assert_eq!(cells.number(), Some(1.5));
        assert_eq!(cells.number(), Some(-2.0));
        assert_eq!((cells.number(), cells.text()), (None, Ok(&b"x"[..])));
        assert_eq!((cells.number(), cells.figure(number::number)), (None, Ok(300.0)));
        assert_eq!(cells.text(), Ok(&b"a,b"[..]));
        assert_eq!(cells.rest(), Some(&b""[..]));
        assert_eq!(cells.figure(number::number), Err((NoNumber::Empty, &b""[..])));
        assert_eq!(Cells::new(b"").rest(), Some(&b""[..]));
        let mut last = Cells::new(b"1 ");
        assert_eq!((last.number(), last.rest()), (Some(1.0), None));
    }
}
