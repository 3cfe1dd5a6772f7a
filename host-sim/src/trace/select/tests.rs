//! Tests of the choice of channels. Phase letters: IEEE C37.111 leaves the field free; the
//! spellings are common practice without a source.

use super::*;

fn meta(format: &str, channels: &[(&str, &str, &str)]) -> Meta {
    let channel = |(name, phase, unit): &(&str, &str, &str)| {
        let (kind, to_si) = super::super::units::unit(unit).unwrap_or((Kind::Other, 1.0));
        let (name, phase, unit) = ((*name).to_owned(), (*phase).to_owned(), (*unit).to_owned());
        Channel { name, phase, unit, to_si, kind, step: 0.0, flaw: None }
    };
    Meta {
        path: "t".into(),
        format: format.into(),
        station: String::new(),
        start: None,
        nominal_hz: None,
        rates: vec![],
        stamps_hz: None,
        channels: channels.iter().map(channel).collect(),
        digital: 0,
        frames: None,
    }
}

fn pick(meta: &Meta, wiring: Wiring, overrides: &[(&str, &str)]) -> Result<Selection, String> {
    let overrides = overrides.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect();
    select(meta, wiring, &overrides).map_err(|e| e.to_string())
}

const FOUR: [Option<usize>; 6] = [Some(0), Some(1), Some(2), Some(3), Some(4), Some(5)];

#[test]
fn phases_in_every_spelling() {
    for [a, b, c] in [["A", "B", "C"], ["L1", "L2", "L3"], ["R", "S", "T"], ["a", "b", "c"], ["L1-N", "L2-N", "L3-N"]] {
        let m = meta(
            "COMTRADE 1999 BINARY",
            &[
                ("x", a, "V"),
                ("y", b, "kV"),
                ("z", c, "V"),
                ("p", a, "A"),
                ("q", b, "A"),
                ("r", c, "kA"),
                ("Mass", "", "t"),
                ("3U0", "N", "V"),
            ],
        );
        let s = pick(&m, Wiring::FourWire, &[]).unwrap();
        assert_eq!((s.electrical, s.mass), (FOUR, Some(6)));
    }
}

#[test]
fn names_where_phases_are_blank() {
    for names in [
        ["VA", "Vb", "UC", "IA", "IB", "IC"],
        ["UL1", "UL2", "UL3", "IL1", "IL2", "IL3"],
        ["Va-n", "Vb-n", "Vc-n", "I1", "I2", "I3"],
    ] {
        let channels: Vec<_> = names.iter().enumerate().map(|(i, n)| (*n, "", if i < 3 { "V" } else { "A" })).collect();
        assert_eq!(
            pick(&meta("COMTRADE 2013 ASCII", &channels), Wiring::FourWire, &[]).unwrap().electrical,
            FOUR,
            "{names:?}"
        );
    }
}

#[test]
fn line_voltages() {
    let m = meta(
        "COMTRADE 1999 BINARY",
        &[
            ("VAB", "AB", "V"),
            ("VBC", "BC", "V"),
            ("VCA", "CA", "V"),
            ("IA", "A", "A"),
            ("IB", "B", "A"),
            ("IC", "C", "A"),
        ],
    );
    assert_eq!(pick(&m, Wiring::ThreeWire, &[]).unwrap().electrical, FOUR);
    assert!(pick(&m, Wiring::FourWire, &[]).unwrap_err().contains("no channel was found for va"));
    let m = meta("COMTRADE 1999 BINARY", &[("U12", "", "V"), ("U32", "", "V"), ("I1", "", "A"), ("I3", "", "A")]);
    assert_eq!(pick(&m, Wiring::TwoElement, &[]).unwrap().electrical, [Some(0), Some(1), None, Some(2), None, Some(3)]);
    // A line voltage that is marked with one letter is no phase voltage.
    let m = meta(
        "COMTRADE 1999 BINARY",
        &[
            ("VAB", "A", "V"),
            ("VA", "A", "V"),
            ("VB", "B", "V"),
            ("VC", "C", "V"),
            ("IA", "A", "A"),
            ("IB", "B", "A"),
            ("IC", "C", "A"),
        ],
    );
    assert_eq!(pick(&m, Wiring::FourWire, &[]).unwrap().electrical[0], Some(1));
}

#[test]
fn csv_columns_by_their_names() {
    let m = meta(
        "CSV",
        &[
            ("va_v", "A", "V"),
            ("vb_v", "B", "V"),
            ("vc_v", "C", "V"),
            ("ia_a", "A", "A"),
            ("ib_a", "B", "A"),
            ("ic_a", "C", "A"),
            ("mass_kg", "", "kg"),
            ("speed_rpm", "", "rpm"),
        ],
    );
    let s = pick(&m, Wiring::FourWire, &[]).unwrap();
    assert_eq!((s.electrical, s.mass, s.feed, s.speed), (FOUR, Some(6), None, Some(7)));
    let error = pick(&m, Wiring::TwoElement, &[]).unwrap_err();
    assert!(error.contains("vab_v,vcb_v,ia_a,ic_a"), "{error}");
}

#[test]
fn csv_columns_without_a_unit_serve_only_by_name() {
    // `v_a` is no current, though it ends like one; and whether a bare name counts V or kV nobody knows.
    let mut m = meta("CSV", &[("v_a", "A", ""), ("va_a", "A", ""), ("ia_a", "A", "A")]);
    m.channels[0].kind = Kind::Voltage;
    m.channels[1].kind = Kind::Voltage;
    let error = pick(&m, Wiring::FourWire, &[]).unwrap_err();
    for words in ["no channel was found for va", "va = \"v_a\"", "ia = \"ia_a\"", "\"v_a\" phase A in no unit"] {
        assert!(error.contains(words), "{words}: {error}");
    }
    let error = pick(&m, Wiring::FourWire, &[("va", "v_a")]).unwrap_err();
    assert!(error.contains("no channel was found for vb"), "{error}");
}

#[test]
fn what_is_not_unique_is_decided_by_the_settings() {
    let m = meta(
        "COMTRADE 1991 ASCII",
        &[
            ("Ua1", "A", "V"),
            ("Ub1", "B", "V"),
            ("Uc1", "C", "V"),
            ("Ia1", "A", "A"),
            ("Ib1", "B", "A"),
            ("Ic1", "C", "A"),
            ("Ia2", "A", "A"),
        ],
    );
    let error = pick(&m, Wiring::FourWire, &[]).unwrap_err();
    for words in ["2 channels could be ia: 'Ia1', 'Ia2'", "[channels]", "ia = \"Ia1\"", "\"Ia2\" phase A in A"] {
        assert!(error.contains(words), "{words}: {error}");
    }
    assert_eq!(pick(&m, Wiring::FourWire, &[("ia", "Ia2")]).unwrap().electrical[3], Some(6));
    for (key, name, words) in [
        ("ia", "Ix", "not among"),
        ("ia", "Ua1", "is in 'V'"),
        ("vab", "Ua1", "names 'vab'"),
        ("ia", "Ib1", "two quantities"),
    ] {
        let error = pick(&m, Wiring::FourWire, &[(key, name)]).unwrap_err();
        assert!(error.contains(words), "{error}");
    }
}

#[test]
fn a_secondary_channel_without_ratio_is_refused() {
    let mut m = meta("COMTRADE 1999 BINARY", &[("U12", "", "V"), ("U32", "", "V"), ("I1", "", "A"), ("I3", "", "A")]);
    m.channels[2].flaw = Some("is marked secondary with a ratio of 933/0".into());
    assert!(pick(&m, Wiring::TwoElement, &[]).unwrap_err().contains("'I1' is marked secondary"));
}
