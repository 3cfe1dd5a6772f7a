//! When a CSV trace began: a comment before the names.

use crate::error::Fault;

/// The time in a comment `# start = 2026-03-02T06:00:00+01:00`, if the comment is that; a fault
/// when it is no ISO 8601 time.
pub(super) fn start(file: &str, comment: &[u8], place: &str) -> Result<Option<String>, Fault> {
    let text = String::from_utf8_lossy(comment);
    let text = text.trim_start_matches('#').trim();
    let Some((key, value)) = text.split_once('=') else { return Ok(None) };
    if !key.trim().eq_ignore_ascii_case("start") {
        return Ok(None);
    }
    let value = value.trim().trim_matches('"').trim();
    if is_iso(value) {
        return Ok(Some(value.to_owned()));
    }
    let shown: String = value.chars().filter(|c| !c.is_control()).take(60).collect();
    Err(Fault::new(file, format!("the start is '{shown}'"))
        .at(place)
        .wanted("a time such as 2026-03-02T06:00:00+01:00")
        .mend("write it so, or remove the line"))
}

/// `YYYY-MM-DDThh:mm[:ss[.f]][Z|±hh[:mm]]`, with figures in their ranges.
fn is_iso(text: &str) -> bool {
    let two = |s: Option<&str>, low: u32, high: u32| {
        s.filter(|s| s.len() == 2 && s.bytes().all(|b| b.is_ascii_digit()))
            .and_then(|s| s.parse::<u32>().ok())
            .is_some_and(|n| (low..=high).contains(&n))
    };
    let fits = |pattern: &[(usize, u8)]| pattern.iter().all(|(at, b)| text.as_bytes().get(*at) == Some(b));
    let date = text.get(0..4).is_some_and(|y| y.bytes().all(|b| b.is_ascii_digit()))
        && fits(&[(4, b'-'), (7, b'-'), (13, b':')])
        && two(text.get(5..7), 1, 12)
        && two(text.get(8..10), 1, 31)
        && matches!(text.as_bytes().get(10), Some(b'T' | b't' | b' '))
        && two(text.get(11..13), 0, 23)
        && two(text.get(14..16), 0, 59);
    if !date {
        return false;
    }
    let mut rest = text.get(16..).unwrap_or("");
    if rest.starts_with(':') {
        if !two(rest.get(1..3), 0, 60) {
            return false;
        }
        rest = rest.get(3..).unwrap_or("");
        if let Some(fraction) = rest.strip_prefix('.') {
            rest = fraction.trim_start_matches(|c: char| c.is_ascii_digit());
            if rest.len() == fraction.len() {
                return false;
            }
        }
    }
    let zone = rest.strip_prefix(['+', '-']).map(|z| z.replace(':', ""));
    match (rest, zone) {
        ("" | "Z" | "z", _) => true,
        (_, Some(z)) => two(z.get(0..2), 0, 23) && (z.len() == 2 || (z.len() == 4 && two(z.get(2..4), 0, 59))),
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_start_is_a_time_or_a_fault() {
        // ISO 8601 calendar date and time, extended format.
        for good in
            ["2026-03-02T06:00:00+01:00", "2026-03-02T06:00:00.25Z", "2026-03-02 06:00", "2026-03-02T06:00:00-0530"]
        {
            let comment = format!("# start = {good}");
            assert_eq!(start("t", comment.as_bytes(), "line 1").unwrap().as_deref(), Some(good));
        }
        assert_eq!(start("t", b"# a = b", "line 1").unwrap(), None);
        for bad in [
            "2026-13-02T06:00:00",
            "yesterday",
            "2026-03-02",
            "2026-03-02T06:00:00+1",
            "2026-03-02T06:00:00.",
            "é026-03-02T06:00",
        ] {
            assert!(start("t", format!("# start = {bad}").as_bytes(), "line 1").is_err(), "{bad}");
        }
    }
}
