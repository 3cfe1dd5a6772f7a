//! Tests of configurations. Layouts: IEEE C37.111-1991, -1999 and -2013, clause on the
//! configuration file; sloppy forms are common practice without a source.

use super::*;
use proptest::prelude::*;

const C1999: &str = "STATION,DEVICE,1999\r\n3,2A,1D\r\n1,VA,A,,V,0.5,0,0,-32767,32767,1,1,P\r\n2,IA,A,,A,0.25,0,0,-32767,32767,1,1,P\r\n\
    1,RUN,,,0\r\n50\r\n1\r\n4000,1200\r\n01/02/2026,06:00:00.000000\r\n01/02/2026,06:00:00.000000\r\nBINARY\r\n1\r\n";

fn error(text: &str) -> String {
    parse("t.cfg", text).unwrap_err().to_string()
}

#[test]
fn a_configuration_of_1999() {
    let c = parse("t.cfg", C1999).unwrap();
    assert_eq!((c.station.as_str(), c.revision, c.encoding), ("STATION", Revision::Y1999, Encoding::Binary));
    assert_eq!((c.analogs.len(), c.digital, c.nominal_hz, c.frames), (2, 1, Some(50.0), 1200));
    assert_eq!(c.rates, [Rate { hz: 4000.0, last_frame: 1200 }]);
    assert_eq!(c.start.as_deref(), Some("2026-02-01T06:00:00.000000"));
    assert_eq!(c.tick_s.to_bits(), 1e-6_f64.to_bits());
    assert!(c.warnings.is_empty());
}

#[test]
fn a_configuration_of_1991_and_of_2013() {
    let old = "S,D\n1,1A,0D\n1,Ia,A,,A,0.1,0,0,-99,99\n60\n1\n1200,40\n09/17/15,10:52:52.98\n09/17/15,10:52:53\nascii";
    let c = parse("t.cfg", old).unwrap();
    assert_eq!((c.revision, c.encoding), (Revision::Y1991, Encoding::Ascii));
    assert_eq!(c.start.as_deref(), Some("2015-09-17T10:52:52.98"));
    let new = "S,D,2013\n1,1A,0D\n1,Ia,A,,A,0.1,0,0,-9.5,9.5,1,1,P\n0.0\n1\n100.0,301\n17/02/2021,17:37:12.422969065\n\
        17/02/2021,17:37:13.422969065\nfloat32\n2.0\n-5h30,-5h30\nB,3";
    let c = parse("t.cfg", new).unwrap();
    assert_eq!((c.revision, c.encoding, c.nominal_hz), (Revision::Y2013, Encoding::Float32, None));
    assert_eq!(c.start.as_deref(), Some("2021-02-17T17:37:12.422969065-05:30"));
    assert!((c.tick_s - 2e-9).abs() < 1e-18);
}

#[test]
fn no_rates_means_time_from_stamps() {
    let c = parse("t.cfg", &C1999.replace("\r\n1\r\n4000,1200", "\r\n0\r\n0,1200")).unwrap();
    assert!(c.rates.is_empty());
    assert_eq!(c.frames, 1200);
    assert!(error(&C1999.replace("4000,1200", "0,1200")).contains("the rate is 0"));
}

#[test]
fn sloppy_but_understood() {
    for text in [
        C1999.replace("\r\n", "\r\n\r\n"),
        C1999.replace("\r\n", "\n"),
        C1999.replace("\r\n", "\r"),
        C1999.replace("1200\r\n", "1200.000\r\n").replace("50\r\n", "50.000000\r\n"),
        C1999.replace("1,RUN,,,0", "7,RUN,,0").replace("2,IA", "9,IA"),
        C1999.replace("1999", "1997"),
        C1999.replace("1999", "2000"),
        C1999.replace("1999", "2001"),
        // Repeated last frames, channel numbers that skip, commas in a name, no fraction of a second.
        C1999.replace("\r\n1\r\n4000,1200", "\r\n2\r\n4000,1200\r\n4000,1200"),
        C1999.replace("1,VA", "5,VA").replace("1,RUN", "40,RUN"),
        C1999.replace("VA,A", "VA, bus 1,A"),
        C1999.replace(".000000", ""),
        C1999.replace("BINARY\r\n1\r\n", "binary \r\n"),
        C1999.replace("01/02/2026", "yesterday"),
    ] {
        let c = parse("t.cfg", &text).unwrap_or_else(|e| panic!("{e}\n{text}"));
        assert_eq!((c.analogs.len(), c.frames), (2, 1200));
    }
    assert_eq!(
        parse("t.cfg", &C1999.replace("4000,1200", "4000,600\r\n2000,1200").replace("\r\n1\r\n4000", "\r\n2\r\n4000"))
            .unwrap()
            .rates
            .len(),
        2
    );
}

#[test]
fn bad_ones_name_their_line() {
    for (from, to, words) in [
        ("0.5,0,0", "0,0,0", "line 3: the multiplier a of channel 'VA' is 0"),
        ("3,2A,1D", "3,3A,0D", "line 5: '1,RUN,,,0' has only 5 of the fields"),
        ("3,2A,1D", "2,1A,1D", "line 5: the line frequency is"),
        ("3,2A,1D", "4,2A,2D", "line 6: '50' is no status channel"),
        ("3,2A,1D", "x", "line 2"),
        ("3,2A,1D", "1,0A,1D", "no analog"),
        ("4000,1200", "4000,0", "no frames"),
        ("4000,1200", "-1,1200", "line 8"),
        ("BINARY", "MORSE", "line 11: the encoding is 'MORSE'"),
        ("BINARY\r\n1", "", "ends too early"),
        (
            "3,2A,1D",
            "18446744073709551615,18446744073709551615A,1D",
            "line 2: the record announces 18446744073709551615",
        ),
        ("3,2A,1D", "99999,2A,99999D", "line 6"),
    ] {
        let error = error(&C1999.replacen(from, to, 1));
        assert!(error.contains(words), "{to}: {error}");
    }
}

proptest! {
    #[test]
    fn random_text_never_panics(text in "[0-9A-D,./: \r\n-]{0,400}") {
        let _ = parse("t.cfg", &text);
    }

    #[test]
    fn damage_never_panics(at in 0_usize..400, with in "\\PC{0,3}", cut in 0_usize..400) {
        let mut text = C1999.to_owned();
        text.truncate(cut.min(text.len()));
        text.insert_str(at.min(text.len()), &with);
        let _ = parse("t.cfg", &text);
    }
}
