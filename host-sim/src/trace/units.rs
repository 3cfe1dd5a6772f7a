//! Units and phases as files write them.
//!
//! A unit gives the kind of a channel and the factor to SI (V, A, kg, kg/s, rpm); a phase is
//! brought to `A`, `B`, `C`, `N`, `AB`, `BC`, `CA` or `CB`.

/// What a channel measures.
#[derive(Clone, Copy, PartialEq, Eq, Debug, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// Voltage, V.
    Voltage,
    /// Current, A.
    Current,
    /// Mass fed so far, kg.
    Mass,
    /// Feed rate, kg/s.
    FeedRate,
    /// Speed of rotation, rpm.
    Speed,
    /// Active power, W.
    Active,
    /// Reactive power, var.
    Reactive,
    /// Frequency, Hz.
    Frequency,
    /// Pulses of a belt weigher: a running count, or a level that is high during each.
    Pulse,
    /// Anything else, as the file has it.
    Other,
}

/// The kind and the factor to SI of a unit as written in a file; `None` when it is not known.
pub fn unit(text: &str) -> Option<(Kind, f64)> {
    let text = text.trim();
    // Only between milli and mega does the case of the letter matter.
    match text {
        "mV" | "mv" => return Some((Kind::Voltage, 1e-3)),
        "MV" => return Some((Kind::Voltage, 1e6)),
        "mA" | "ma" => return Some((Kind::Current, 1e-3)),
        "MA" => return Some((Kind::Current, 1e6)),
        _ => {}
    }
    let known = match text.to_ascii_lowercase().as_str() {
        "v" | "volt" | "volts" => (Kind::Voltage, 1.0),
        "kv" => (Kind::Voltage, 1e3),
        "a" | "amp" | "amps" | "ampere" | "amperes" => (Kind::Current, 1.0),
        "ka" => (Kind::Current, 1e3),
        "kg" => (Kind::Mass, 1.0),
        "t" => (Kind::Mass, 1e3),
        "kg/s" => (Kind::FeedRate, 1.0),
        "kg/h" => (Kind::FeedRate, 1.0 / 3600.0),
        "t/h" => (Kind::FeedRate, 1.0 / 3.6),
        "rpm" | "r/min" | "1/min" | "min-1" => (Kind::Speed, 1.0),
        "w" | "watt" | "watts" => (Kind::Active, 1.0),
        "kw" => (Kind::Active, 1e3),
        "var" => (Kind::Reactive, 1.0),
        "kvar" => (Kind::Reactive, 1e3),
        "hz" => (Kind::Frequency, 1.0),
        "pulse" | "pulses" => (Kind::Pulse, 1.0),
        _ => return None,
    };
    Some(known)
}

/// The kind that a name suggests where the unit is blank: `VA`, `Ua1`, `IL2`.
pub fn kind_of_name(name: &str) -> Kind {
    let mut letters = name.trim().chars().map(|c| c.to_ascii_uppercase());
    match (letters.next(), letters.next()) {
        (Some('V' | 'U'), Some('A' | 'B' | 'C' | 'L' | 'R' | 'S' | 'T' | '1' | '2' | '3')) => Kind::Voltage,
        (Some('I'), Some('A' | 'B' | 'C' | 'L' | 'R' | 'S' | 'T' | '1' | '2' | '3')) => Kind::Current,
        _ => Kind::Other,
    }
}

/// Letters and digits in upper case: `Va-n` becomes `VAN`.
pub fn bare(text: &str) -> String {
    text.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_uppercase).collect()
}

/// A phase as files write it, brought to `A`, `B`, `C`, `N`, `AB`, `BC`, `CA`, `CB`, `BA`, `AC`;
/// empty when it is none of these.
pub fn phase(text: &str) -> &'static str {
    match bare(text).as_str() {
        "A" | "L1" | "R" | "AN" | "L1N" | "RN" => "A",
        "B" | "L2" | "S" | "BN" | "L2N" | "SN" => "B",
        "C" | "L3" | "T" | "CN" | "L3N" | "TN" => "C",
        "N" => "N",
        "AB" | "L1L2" | "L12" | "RS" => "AB",
        "BC" | "L2L3" | "L23" | "ST" => "BC",
        "CA" | "L3L1" | "L31" | "TR" => "CA",
        "CB" | "L3L2" | "L32" | "TS" => "CB",
        "BA" | "L2L1" | "L21" | "SR" => "BA",
        "AC" | "L1L3" | "L13" | "RT" => "AC",
        _ => "",
    }
}

/// The phase that a name carries after its `V`, `U` or `I`: `UL1` is `A`, `Vab` is `AB`, `IA` is `A`.
/// Digits alone count too: `U12` is `AB`, `I1` is `A`.
pub fn phase_of_name(name: &str) -> &'static str {
    let name = bare(name);
    let Some(rest) = name.strip_prefix(['V', 'U', 'I']) else { return "" };
    match rest {
        "1" | "1N" => "A",
        "2" | "2N" => "B",
        "3" | "3N" => "C",
        "12" => "AB",
        "23" => "BC",
        "31" => "CA",
        "32" => "CB",
        _ => phase(rest),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_in_the_trades_spelling() {
        // IEEE C37.111-1999: unit field `uu`, for instance kV, V, kA, A; the others are common practice, no source.
        assert_eq!(unit(" kV"), Some((Kind::Voltage, 1e3)));
        assert_eq!(unit("KV"), Some((Kind::Voltage, 1e3)));
        assert_eq!(unit("mA"), Some((Kind::Current, 1e-3)));
        assert_eq!(unit("MV"), Some((Kind::Voltage, 1e6)));
        assert_eq!(unit("t"), Some((Kind::Mass, 1e3)));
        assert_eq!(unit("none"), None);
        assert_eq!(unit(""), None);
    }

    #[test]
    fn phases_in_the_trades_spelling() {
        // Letters, IEC 60445 line names and the older R, S, T; common practice, no source.
        for (text, want) in
            [("A", "A"), ("l1", "A"), ("T", "C"), ("A-B", "AB"), ("L3-L2", "CB"), ("RS", "AB"), ("x", "")]
        {
            assert_eq!(phase(text), want, "{text}");
        }
        for (name, want) in
            [("Va", "A"), ("UL2", "B"), ("IL3", "C"), ("VAB", "AB"), ("U31", "CA"), ("3U0", ""), ("IA ", "A")]
        {
            assert_eq!(phase_of_name(name), want, "{name}");
        }
    }
}
