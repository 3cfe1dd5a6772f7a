//! Dates and zones of a configuration, turned into ISO 8601.
//!
//! 1991 writes `mm/dd/yy`, later revisions `dd/mm/yyyy`; the fraction of a second has six digits,
//! in 2013 up to nine, and more than six mean that stamps count nanoseconds.

/// A point in time as a configuration has it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Stamp {
    /// `YYYY-MM-DDThh:mm:ss[.f]` without zone.
    pub iso: String,
    /// Digits of the fraction.
    pub digits: usize,
}

/// Reads `dd/mm/yyyy,hh:mm:ss.ssssss` (or month first). Blanks anywhere, a short or missing
/// fraction and a missing point are allowed. `None` when it is no date.
pub(super) fn stamp(text: &str, month_first: bool) -> Option<Stamp> {
    let text: String = text.chars().filter(|c| !c.is_whitespace()).collect();
    let (date, time) = text.split_once(',')?;
    let mut parts = date.split(['/', '-', '.']).map(|p| p.parse::<u32>().ok());
    let (first, second, year) = (parts.next()??, parts.next()??, parts.next()??);
    let (mut day, mut month) = if month_first { (second, first) } else { (first, second) };
    if month > 12 && day <= 12 {
        // Written the other way round: only one reading makes sense.
        std::mem::swap(&mut day, &mut month);
    }
    let year = match year {
        0..70 => year + 2000,
        70..100 => year + 1900,
        _ => year,
    };
    if !(1..=12).contains(&month) || !(1..=31).contains(&day) || year > 9999 {
        return None;
    }
    let mut parts = time.trim_end_matches(',').splitn(3, ':');
    let (hour, minute) = (parts.next()?.parse::<u32>().ok()?, parts.next()?.parse::<u32>().ok()?);
    let seconds = parts.next().unwrap_or("0");
    let whole = seconds.bytes().take(2).take_while(u8::is_ascii_digit).count();
    let second: u32 = seconds.get(..whole)?.parse().ok()?;
    let fraction = seconds.get(whole..)?.trim_start_matches(['.', ',']);
    if hour > 23 || minute > 59 || second > 60 || !fraction.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    let mut iso = format!("{year:04}-{month:02}-{day:02}T{hour:02}:{minute:02}:{second:02}");
    if !fraction.is_empty() {
        iso.push('.');
        iso.push_str(fraction.get(..9).unwrap_or(fraction));
    }
    Some(Stamp { iso, digits: fraction.len() })
}

/// The zone of a time code such as `-5h30`, `+9` or `0`, as ISO 8601 has it; `None` for `x`.
pub(super) fn zone(code: &str) -> Option<String> {
    let code = code.trim().to_ascii_lowercase();
    let (hours, minutes) = code.split_once('h').unwrap_or((&code, "0"));
    let number: i32 = hours.parse().ok()?;
    let minutes: u32 = if minutes.is_empty() { 0 } else { minutes.parse().ok()? };
    if number.abs() > 14 || minutes > 59 {
        return None;
    }
    let sign = if hours.starts_with('-') { '-' } else { '+' };
    Some(match (number, minutes) {
        (0, 0) => "Z".into(),
        _ => format!("{sign}{:02}:{minutes:02}", number.abs()),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn stamps_of_the_revisions() {
        // IEEE C37.111-1991 (mm/dd/yy), -1999 (dd/mm/yyyy) and -2013 (nanoseconds); the sloppy ones are common practice.
        for (text, month_first, want, digits) in [
            ("09/17/15,10:52:52.987545", true, "2015-09-17T10:52:52.987545", 6),
            ("01/02/2026,06:00:00.000000", false, "2026-02-01T06:00:00.000000", 6),
            ("17/02/2021,17:37:12.422969065", false, "2021-02-17T17:37:12.422969065", 9),
            ("1/ 2/2026, 6: 0: 0.5", false, "2026-02-01T06:00:00.5", 1),
            ("01/02/2026,06:00:00", false, "2026-02-01T06:00:00", 0),
            ("01/02/99,06:00:07123", false, "1999-02-01T06:00:07.123", 3),
        ] {
            assert_eq!(stamp(text, month_first), Some(Stamp { iso: want.into(), digits }), "{text}");
        }
        for bad in
            ["", ",", "a/b/c,1:2:3", "32/01/2026,06:00:00", "01/01/2026", "01/01/2026,25:00:00", "01/01/2026,06:00:é"]
        {
            assert_eq!(stamp(bad, false), None, "{bad}");
        }
    }

    #[test]
    fn zones() {
        // IEEE C37.111-2013: time_code, for instance -5h30, +9 or 0.
        for (code, want) in [
            ("-5h30", Some("-05:30")),
            ("+9", Some("+09:00")),
            ("0", Some("Z")),
            ("-0h30", Some("-00:30")),
            ("x", None),
        ] {
            assert_eq!(zone(code).as_deref(), want, "{code}");
        }
    }

    proptest! {
        #[test]
        fn never_panics(text in "\\PC{0,40}") {
            let _ = stamp(&text, true);
            let _ = zone(&text);
        }
    }
}
