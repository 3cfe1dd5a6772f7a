//! The first lines of a CSV trace: comments and the names of the columns.

use crate::error::Fault;
use crate::trace::{Channel, Kind};

/// What a column of the file is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Column {
    /// `t_s`.
    Time,
    /// `note`.
    Note,
    /// A numeric channel.
    Number,
    /// Not one of ours and without a unit: skipped.
    Skipped,
}

/// The ends of column names: unit as shown, kind, factor to SI.
const ENDINGS: [(&str, &str, Kind, f64); 10] = [
    ("_kg_s", "kg/s", Kind::FeedRate, 1.0),
    ("_t_h", "t/h", Kind::FeedRate, 1.0 / 3.6),
    ("_kv", "kV", Kind::Voltage, 1e3),
    ("_mv", "mV", Kind::Voltage, 1e-3),
    ("_ka", "kA", Kind::Current, 1e3),
    ("_ma", "mA", Kind::Current, 1e-3),
    ("_kg", "kg", Kind::Mass, 1.0),
    ("_rpm", "rpm", Kind::Speed, 1.0),
    ("_v", "V", Kind::Voltage, 1.0),
    ("_a", "A", Kind::Current, 1.0),
];

/// The columns of a trace.
pub(super) struct Header {
    /// In the file's order.
    pub columns: Vec<Column>,
    /// Names in the file's order, for faults.
    pub names: Vec<String>,
    /// The numeric ones among them.
    pub channels: Vec<Channel>,
    /// Names of the skipped ones.
    pub skipped: Vec<String>,
}

/// Reads the line of names.
pub(super) fn header(file: &str, line: &[u8], place: &str) -> Result<Header, Fault> {
    let text = String::from_utf8_lossy(line);
    let fault = |found: String| Fault::new(file, found).at(place);
    let mut header = Header { columns: vec![], names: vec![], channels: vec![], skipped: vec![] };
    for name in text.split(',') {
        let name = name.trim().trim_matches('"').trim().to_owned();
        if name.is_empty() {
            return Err(fault("a column has no name".into())
                .wanted("a name for each column")
                .mend("remove the spare comma"));
        }
        if header.names.iter().any(|n| n.eq_ignore_ascii_case(&name)) {
            return Err(fault(format!("the column '{name}' is there twice")).wanted("each name once"));
        }
        let column = kind(&name);
        match &column {
            (Column::Number, Some((unit, kind, to_si))) => header.channels.push(Channel {
                phase: phase(&name),
                name: name.clone(),
                unit: (*unit).into(),
                to_si: *to_si,
                kind: *kind,
                step: 0.0,
                flaw: None,
            }),
            (Column::Skipped, _) => header.skipped.push(name.clone()),
            _ => {}
        }
        header.columns.push(column.0);
        header.names.push(name);
    }
    if !header.columns.contains(&Column::Time) {
        let shown: String = text.chars().filter(|c| !c.is_control()).take(80).collect();
        let mend = if text.contains(';') {
            "separate the columns by commas and write decimals with a point"
        } else if text.split(',').any(|cell| cell.trim().parse::<f64>().is_ok()) {
            "put a line with the names above the figures"
        } else {
            "name the column of time t_s, in seconds"
        };
        return Err(fault(format!("no column t_s among '{shown}'"))
            .wanted("a first line of names such as t_s,va_v,vb_v,vc_v,ia_a,ib_a,ic_a")
            .mend(mend));
    }
    if header.channels.is_empty() {
        let names = header.names.join(",");
        return Err(fault(format!("no column of figures among '{names}'")).wanted("columns such as va_v or ia_a"));
    }
    Ok(header)
}

fn kind(name: &str) -> (Column, Option<(&'static str, Kind, f64)>) {
    let name = name.to_ascii_lowercase();
    match name.as_str() {
        "t_s" => (Column::Time, None),
        "note" => (Column::Note, None),
        _ => match ENDINGS.iter().find(|(end, ..)| name.ends_with(end)) {
            Some(&(_, unit, kind, to_si)) => (Column::Number, Some((unit, kind, to_si))),
            None => (Column::Skipped, None),
        },
    }
}

/// The phase in a name such as `vab_v` or `ia_a`; empty for others.
fn phase(name: &str) -> String {
    let stem = name.split('_').next().unwrap_or("");
    crate::trace::units::phase_of_name(stem).to_owned()
}

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
    fn names_give_units() {
        // Names by this project's format for traces.
        let h = header("t", b"t_s, va_v,ib_a ,vcb_v,mass_kg,feed_kg_s,speed_rpm,note,temp_c", "line 1").unwrap();
        let found: Vec<_> = h.channels.iter().map(|c| (c.name.as_str(), c.phase.as_str(), c.unit.as_str())).collect();
        let want = [
            ("va_v", "A", "V"),
            ("ib_a", "B", "A"),
            ("vcb_v", "CB", "V"),
            ("mass_kg", "", "kg"),
            ("feed_kg_s", "", "kg/s"),
            ("speed_rpm", "", "rpm"),
        ];
        assert_eq!(found, want);
        assert_eq!(h.skipped, ["temp_c"]);
        assert_eq!((h.columns[0], h.columns[7], h.columns[8]), (Column::Time, Column::Note, Column::Skipped));
    }

    #[test]
    fn bad_names_are_told_with_a_cure() {
        for (line, word) in [
            ("va_v,ia_a", "t_s"),
            ("t_s;va_v;ia_a", "commas"),
            ("0.0,1.0,2.0", "names above"),
            ("t_s,va_v,va_v", "twice"),
            ("t_s,va_v,", "no name"),
            ("t_s,note", "no column of figures"),
        ] {
            let error = header("t", line.as_bytes(), "line 1").err().unwrap().to_string();
            assert!(error.contains(word), "{line}: {error}");
        }
    }

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
