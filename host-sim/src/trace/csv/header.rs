//! The line of names of a CSV trace.

use std::collections::BTreeSet;

use crate::error::{Fault, quoted};
use crate::trace::units::{self, bare, phase_of_name};
use crate::trace::{Channel, Kind};

/// Columns that a trace may have; what has more is something else by mistake.
const MOST: usize = 10_000;

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

/// Whole names of a logger's columns; of other names with these endings nothing is known.
const NAMES: [(&str, &str, Kind, f64); 6] = [
    ("active_w", "W", Kind::Active, 1.0),
    ("active_kw", "kW", Kind::Active, 1e3),
    ("reactive_var", "var", Kind::Reactive, 1.0),
    ("reactive_kvar", "kvar", Kind::Reactive, 1e3),
    ("frequency_hz", "Hz", Kind::Frequency, 1.0),
    ("mass_pulse", "", Kind::Pulse, 1.0),
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
    let mut taken = BTreeSet::new();
    for name in text.split(',') {
        let name = name.trim().trim_matches('"').trim().to_owned();
        if name.is_empty() {
            return Err(fault("a column has no name".into())
                .wanted("a name for each column")
                .mend("remove the spare comma"));
        }
        if !taken.insert(name.to_lowercase()) {
            let found = format!("the column '{}' is there twice", shown(&name));
            return Err(fault(found).wanted("each name once").mend("remove or rename one of them"));
        }
        if taken.len() > MOST {
            return Err(fault(format!("there are more than {MOST} columns"))
                .wanted("a first line of names such as t_s,va_v,vb_v,vc_v,ia_a,ib_a,ic_a")
                .mend("check that this is a trace"));
        }
        let what = what(&name);
        match &what {
            What::Number(channel) => header.channels.push(channel.clone()),
            What::Skipped => header.skipped.push(name.clone()),
            What::Time | What::Note => {}
        }
        header.columns.push(match what {
            What::Time => Column::Time,
            What::Note => Column::Note,
            What::Number(_) => Column::Number,
            What::Skipped => Column::Skipped,
        });
        header.names.push(name);
    }
    if !header.columns.contains(&Column::Time) {
        return Err(fault(format!("no column t_s among '{}'", shown(&text)))
            .wanted("a first line of names such as t_s,va_v,vb_v,vc_v,ia_a,ib_a,ic_a")
            .mend(without_time(file, &text)));
    }
    if header.channels.is_empty() {
        return Err(fault(format!("no column of figures among '{}'", shown(&header.names.join(","))))
            .wanted("columns such as va_v or ia_a")
            .mend("name each column by its quantity and unit"));
    }
    Ok(header)
}

/// The cure for a line of names without `t_s`.
fn without_time(file: &str, text: &str) -> String {
    let translate = |from: &str| {
        format!(
            "export it with commas between the columns and points in the figures, or run: tr '{from}' ',.' < {} > \
             new.csv",
            quoted(file)
        )
    };
    if text.contains(';') {
        translate(";,")
    } else if text.contains('\t') {
        translate("\\t,")
    } else if text.split(',').any(|cell| cell.trim().parse::<f64>().is_ok()) {
        "put a line with the names above the figures".to_owned()
    } else if !text.contains(',') && text.split_whitespace().count() > 1 {
        "separate the columns by commas".to_owned()
    } else {
        "name the column of time t_s, in seconds".to_owned()
    }
}

/// As much of a text as a message can bear.
fn shown(text: &str) -> String {
    let mut shown: String = text.chars().filter(|c| !c.is_control()).take(60).collect();
    if text.chars().nth(60).is_some() {
        shown.push_str(" ...");
    }
    shown
}

/// What a name means.
enum What {
    Time,
    Note,
    Number(Channel),
    Skipped,
}

/// `va_v` and the like have their unit as an ending, `UL1 [V]` in brackets; a name such as `Ua` tells what is
/// measured but not in what unit: only `[channels]` in the settings makes it serve, then in V or A.
fn what(name: &str) -> What {
    let lower = name.to_ascii_lowercase();
    match lower.as_str() {
        "t_s" => return What::Time,
        "note" => return What::Note,
        _ => {}
    }
    if let Some((_, unit, kind, to_si)) = NAMES.into_iter().find(|(known, ..)| lower == *known) {
        let (name, unit) = (name.to_owned(), unit.to_owned());
        return What::Number(Channel { name, phase: String::new(), unit, to_si, kind, step: 0.0, flaw: None });
    }
    let ending = ENDINGS.iter().find(|(end, ..)| lower.ends_with(end));
    let ending = ending.map(|&(end, unit, kind, to_si)| (&name[..name.len() - end.len()], unit, kind, to_si));
    let (stem, unit, kind, to_si) = match ending.or_else(|| bracketed(name)) {
        // `v_a` is a voltage of phase a, whatever its ending: its unit is not known.
        Some((stem, _, kind, _)) if electrical(kind) && told(name, stem).is_some_and(|t| t != kind) => {
            (stem, "", told(name, stem).unwrap_or(kind), 1.0)
        }
        Some(found) => found,
        None => match told(name, name) {
            Some(kind) => (name, "", kind, 1.0),
            None => return What::Skipped,
        },
    };
    let phase = [stem, name].map(phase_of_name).into_iter().find(|p| !p.is_empty()).unwrap_or("");
    let (name, phase, unit) = (name.to_owned(), phase.to_owned(), unit.to_owned());
    What::Number(Channel { name, phase, unit, to_si, kind, step: 0.0, flaw: None })
}

fn electrical(kind: Kind) -> bool {
    matches!(kind, Kind::Voltage | Kind::Current)
}

/// `UL1` and its unit in `UL1 [V]` or `UL1 (V)`.
fn bracketed(name: &str) -> Option<(&str, &str, Kind, f64)> {
    let inner = name.strip_suffix([']', ')'])?;
    let (stem, unit) = inner.rsplit_once(['[', '('])?;
    let (kind, to_si) = units::unit(unit)?;
    Some((stem.trim_end(), unit.trim(), kind, to_si))
}

/// What a name such as `Ua`, `v_b` or `IL3` says that it measures; nothing for other names.
fn told(name: &str, stem: &str) -> Option<Kind> {
    let phased = [stem, name].into_iter().find(|n| !phase_of_name(n).is_empty())?;
    Some(if bare(phased).starts_with('I') { Kind::Current } else { Kind::Voltage })
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
    fn names_of_other_loggers_tell_what_they_can() {
        // Spellings as loggers export them; common practice, no source.
        let names = "t_s,v_a,v_b,i_a,UL3 [kV],IL1 (A),Ua,ib,va_a,valve,vibration_a";
        let h = header("t", names.as_bytes(), "line 1").unwrap();
        let found: Vec<_> =
            h.channels.iter().map(|c| (c.name.as_str(), c.phase.as_str(), c.unit.as_str(), c.kind)).collect();
        let want = [
            ("v_a", "A", "", Kind::Voltage),
            ("v_b", "B", "", Kind::Voltage),
            ("i_a", "A", "A", Kind::Current),
            ("UL3 [kV]", "C", "kV", Kind::Voltage),
            ("IL1 (A)", "A", "A", Kind::Current),
            ("Ua", "A", "", Kind::Voltage),
            ("ib", "B", "", Kind::Current),
            ("va_a", "A", "", Kind::Voltage),
            ("vibration_a", "", "A", Kind::Current),
        ];
        assert_eq!(found, want);
        assert_eq!(h.skipped, ["valve"]);
    }

    #[test]
    fn bad_names_are_told_with_a_cure() {
        for (line, word) in [
            ("va_v,ia_a", "t_s"),
            ("t_s;va_v;ia_a", "tr ';,' ',.' < t > new.csv"),
            ("t_s\tva_v\tia_a", "tr '\\t,' ',.' < t > new.csv"),
            ("t_s va_v ia_a", "separate the columns by commas"),
            ("time,va_v", "name the column of time t_s"),
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
    fn a_cure_can_be_typed_whatever_the_file_is_called() {
        let error = header("a; b.csv", b"t_s;va_v", "line 1").err().unwrap().to_string();
        assert!(error.contains("< 'a; b.csv' > new.csv"), "{error}");
    }
}
