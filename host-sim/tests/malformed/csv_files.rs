//! CSV traces that are wrong as a whole: something else, or cut.

use crate::csv::{FIRST, replay};
use crate::harness::Case;
use crate::parts::{self, line};

/// All cases.
pub fn cases() -> Vec<Case> {
    [shapes(), cuts()].concat()
}

/// Files as a whole.
fn shapes() -> Vec<Case> {
    let csv = parts::csv();
    let utf16 = |mark: u16, bytes: fn(u16) -> [u8; 2]| {
        std::iter::once(mark).chain(csv.encode_utf16()).flat_map(bytes).collect::<Vec<u8>>()
    };
    vec![
        replay("empty", "", &["t.csv: is empty", "record or copy it again"]),
        replay("blank lines alone", "\n\r\n  \n", &["line 3: ends before the line of names", FIRST]),
        replay("comments alone", "# a\n# b\n", &["line 2: ends before the line of names"]),
        replay("a mark alone", "\u{feff}", &["ends before the line of names"]),
        replay(
            "names alone",
            csv.lines().next().unwrap(),
            &["line 1: holds no frames", "at least one line of figures"],
        ),
        replay("names and comments", "t_s,va_v,vb_v,vc_v,ia_a,ib_a,ic_a\n# none\n", &["line 2: holds no frames"]),
        replay(
            "UTF-16, low byte first",
            utf16(0xFEFF, u16::to_le_bytes),
            &["is text in UTF-16", "iconv -f UTF-16 -t UTF-8 t.csv"],
        ),
        replay("UTF-16, high byte first", utf16(0xFEFF, u16::to_be_bytes), &["is text in UTF-16"]),
        replay("UTF-16 without a mark", utf16(u16::from(b't'), u16::to_le_bytes), &["is text in UTF-16"]),
        replay(
            "a spreadsheet",
            b"PK\x03\x04\x14\0\x06\0".to_vec(),
            &["is a spreadsheet, or an archive", "save the table as CSV"],
        ),
        replay(
            "an old spreadsheet",
            b"\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1".to_vec(),
            &["office program", "save the table as CSV"],
        ),
        replay("compressed", b"\x1F\x8B\x08\0\0\0\0\0".to_vec(), &["is compressed", "gunzip"]),
        replay("zeros", vec![0; 100_000], &["is neither text nor COMTRADE", "name a COMTRADE record by its .cfg"]),
        replay("all bytes", (0..=255).cycle().take(50_000).collect::<Vec<u8>>(), &["is neither text nor COMTRADE"]),
        replay(
            "a page of the net",
            "<!DOCTYPE html>\n<html><body>404</body></html>\n",
            &["line 1: no column t_s among '<!DOCTYPE html>'"],
        ),
        replay("JSON", "{\"t_s\": [0, 1]}\n", &["line 1: no column t_s among", FIRST]),
        replay("settings for a trace", parts::settings(), &["line 1: no column t_s among '[supply]'"]),
        replay(
            "a configuration for a trace",
            parts::cfg(),
            &["is the configuration of a COMTRADE record", "name one of them"],
        ),
        replay(
            "old Mac line ends",
            csv.replace('\n', "\r"),
            &["lines end in CR alone", "tr '\\r' '\\n' < t.csv > new.csv"],
        ),
        replay(
            "the end of DOS behind a figure",
            format!("{}\x1a", csv.trim_end()),
            &["line 401: mass_kg is '", "\\x1a'"],
        ),
        replay(
            "the end of DOS in the middle",
            line(&csv, 9, |old| format!("\x1a\n{old}")),
            &[r"line 9: t_s is '\x1a'"],
        ),
    ]
}

/// Cut at many places: inside the names, inside a line, inside a figure.
fn cuts() -> Vec<Case> {
    let csv = parts::csv();
    let mut all = Vec::new();
    let ten: usize = csv.split_inclusive('\n').take(10).map(str::len).sum();
    for (at, says) in [
        (1, "line 1: no column t_s"),
        (4, "line 1"),
        (9, "line 1: a column has no name"),
        (ten + 3, "line 11: the time runs back"),
        (ten + 9, "line 11: 2 cells"),
        (ten + 20, "line 11"),
        (ten + 30, "line 11"),
        (ten + 50, "line 11"),
    ] {
        let cure =
            if at > ten { "the file ends inside this line: remove it, or use --accept-short" } else { "to mend it: " };
        all.push(replay(&format!("cut at byte {at}"), &csv.as_bytes()[..at], &[says, cure]));
    }
    all
}
