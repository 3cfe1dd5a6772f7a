//! Tests of whole records, from files made here. Layouts: IEEE C37.111-1991, -1999, -2013; what a
//! short or overlong record leads to is this project's own format.

use super::*;
use proptest::prelude::*;
use std::path::PathBuf;

const CFG: &str = "STATION,DEVICE,1999\r\n2,2A,0D\r\n1,VA,A,,kV,0.5,0,0,-32767,32767,10,1,S\r\n2,IA,A,,A,0.25,1,0,-32767,32767,1,1,P\r\n\
    50\r\n1\r\n4000,3\r\n01/02/2026,06:00:00.000000\r\n01/02/2026,06:00:00.000000\r\nBINARY\r\n1\r\n";

fn records(count: u32) -> Vec<u8> {
    let mut out = Vec::new();
    for n in 0..count {
        out.extend((n + 1).to_le_bytes());
        out.extend((n * 250).to_le_bytes());
        out.extend((n as i16).to_le_bytes());
        out.extend((-(n as i16)).to_le_bytes());
    }
    out
}

/// A record in a folder of its own.
struct Pair(tempfile::TempDir);

impl Pair {
    fn new(cfg: &str, dat: &[u8]) -> Self {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join("r.cfg"), cfg).unwrap();
        std::fs::write(folder.path().join("r.dat"), dat).unwrap();
        Self(folder)
    }

    fn path(&self) -> PathBuf {
        self.0.path().join("r.dat")
    }

    fn read(&self, options: &Options) -> anyhow::Result<(Meta, Rows, Vec<String>)> {
        drain(crate::trace::open(&self.path().to_string_lossy(), options)?)
    }
}

fn drain(mut reader: Box<dyn Reader>) -> anyhow::Result<(Meta, Rows, Vec<String>)> {
    let (mut all, mut rows) = (Rows::new(), Rows::new());
    all.reset(reader.meta().channels.len());
    while reader.read(&mut rows)? > 0 {
        for (to, from) in all.columns.iter_mut().zip(&rows.columns) {
            assert_eq!(from.len(), rows.len);
            to.extend_from_slice(from);
        }
        all.restarts.extend(rows.restarts.iter().map(|(r, g)| (r + all.len, *g)));
        all.len += rows.len;
    }
    Ok((reader.meta().clone(), all, reader.warnings().to_vec()))
}

fn stream(bytes: &[u8], options: &Options) -> anyhow::Result<(Meta, Rows, Vec<String>)> {
    let source = Source::new("t.cff", Box::new(std::io::Cursor::new(bytes.to_vec())), None);
    drain(crate::trace::from_source(source, options, false)?)
}

fn short() -> Options {
    Options { accept_short: true, ..Options::default() }
}

#[test]
fn a_binary_pair_in_primary_si() {
    let (meta, rows, warnings) = Pair::new(CFG, &records(3)).read(&Options::default()).unwrap();
    // 0.5 kV a count, secondary, ratio 10: 5000 V primary; a x + b for the current.
    assert_eq!(rows.columns, [vec![0.0, 5000.0, 10_000.0], vec![1.0, 0.75, 0.5]]);
    assert_eq!(
        (meta.format.as_str(), meta.frames, meta.start.as_deref()),
        ("COMTRADE 1999 BINARY", Some(3), Some("2026-02-01T06:00:00.000000"))
    );
    assert!((crate::trace::require_single_rate(&meta).unwrap() - 4000.0).abs() < 1e-9);
    assert!(warnings.is_empty(), "{warnings:?}");
}

#[test]
fn too_few_records_name_the_byte() {
    for (bytes, words) in [
        (36, None),
        (24, Some("byte 24: the data end after 2 of the 3")),
        (30, Some("byte 24: the data are cut inside frame 3")),
    ] {
        let pair = Pair::new(CFG, &records(3)[..bytes]);
        match (pair.read(&Options::default()), words) {
            (Ok(_), None) => {}
            (Err(error), Some(words)) => {
                assert!(error.to_string().contains(words), "{error}");
                let (meta, rows, warnings) = pair.read(&short()).unwrap();
                assert_eq!((rows.len, meta.frames, warnings.len()), (2, Some(2), 1));
            }
            (result, _) => panic!("{bytes}: {:?}", result.map(|r| r.1.len)),
        }
    }
    assert!(Pair::new(CFG, b"").read(&short()).is_err());
    assert!(Pair::new(CFG, &records(3)[..11]).read(&short()).is_err());
}

#[test]
fn further_records_are_left_out_with_a_word() {
    let (_, rows, warnings) = Pair::new(CFG, &records(5)).read(&Options::default()).unwrap();
    assert_eq!(rows.len, 3);
    assert!(warnings[0].contains("further records"), "{warnings:?}");
    let marked = [records(3), vec![0x1A]].concat();
    assert!(Pair::new(CFG, &marked).read(&Options::default()).unwrap().2.is_empty());
}

#[test]
fn text_with_blank_lines_missing_values_and_no_last_line_end() {
    let cfg = CFG.replace("BINARY", "ASCII");
    let dat = b"1,0,0,4\r\n\r\n2,250,99999,8\r\n\r\n3,500,,-4";
    let (_, rows, _) = Pair::new(&cfg, dat).read(&Options::default()).unwrap();
    assert_eq!(rows.columns[1], [2.0, 3.0, 0.0]);
    assert!(rows.columns[0][1].is_nan() && rows.columns[0][2].is_nan());
    let pair = Pair::new(&cfg, b"1,0,0,4\r\n2,250,5,8");
    assert!(pair.read(&Options::default()).unwrap_err().to_string().contains("byte 9"));
    assert_eq!(pair.read(&short()).unwrap().1.len, 1);
    let error = Pair::new(&cfg, b"1,0,0,4\n2,250,x,8\n3,500,1,1\n").read(&short()).unwrap_err().to_string();
    assert!(error.contains("line 2, byte 8"), "{error}");
}

#[test]
fn a_single_file_from_a_pipe() {
    let cfg = CFG.replace("1999", "2013");
    let head =
        format!("--- file type: CFG ---\r\n{cfg}--- file type: INF ---\r\n\r\n--- file type: DAT BINARY: 36 ---\r\n");
    let bytes = [head.as_bytes(), &records(3)].concat();
    let (meta, rows, warnings) = stream(&bytes, &Options::default()).unwrap();
    assert_eq!((rows.len, meta.format.as_str(), warnings.len()), (3, "COMTRADE 2013 BINARY", 0));
    let error = stream(&bytes[..bytes.len() - 3], &Options::default()).unwrap_err().to_string();
    assert!(error.contains("cut inside frame 3"), "{error}");
    let text = format!(
        "--- file type: CFG ---\n{}--- file type: DAT ASCII ---\n1,0,1,1\n2,0,1,1\n3,0,1,1\n",
        cfg.replace("BINARY", "ASCII")
    );
    assert_eq!(stream(text.as_bytes(), &Options::default()).unwrap().1.len, 3);
}

#[test]
fn time_from_stamps_is_measured_and_held_to_be_even() {
    let cfg = CFG.replace("1\r\n4000,3", "0\r\n0,400");
    let (meta, _, _) = Pair::new(&cfg, &records(400)).read(&Options::default()).unwrap();
    assert!((crate::trace::require_single_rate(&meta).unwrap() - 4000.0).abs() < 1e-6);
    let pair = Pair::new(&cfg, &records(400));
    let reader = crate::trace::open(&pair.path().to_string_lossy(), &Options::default()).unwrap();
    assert!((reader.meta().stamps_hz.unwrap() - 4000.0).abs() < 1e-6);
    // A jump of 50 ms before record 201.
    let mut dat = records(400);
    for record in dat.chunks_exact_mut(12).skip(200) {
        let stamp = u32::from_le_bytes([record[4], record[5], record[6], record[7]]) + 50_000;
        record[4..8].copy_from_slice(&stamp.to_le_bytes());
    }
    let pair = Pair::new(&cfg, &dat);
    let error = pair.read(&Options::default()).unwrap_err().to_string();
    assert!(error.contains("record 201"), "{error}");
    let (_, rows, _) = pair.read(&Options { gaps_split: true, ..Options::default() }).unwrap();
    assert_eq!(rows.restarts.len(), 1);
    assert!(rows.restarts[0].0 == 200 && (rows.restarts[0].1 - 0.05).abs() < 1e-6);
}

#[test]
fn stamps_do_not_matter_where_the_rate_is_given() {
    // IEEE C37.111-1999, 6: with rates the time follows from the number; recorders then write what they like.
    for stamp in [0, u32::MAX, 0x8000_0000] {
        let mut dat = records(3);
        dat.chunks_exact_mut(12).for_each(|record| record[4..8].copy_from_slice(&stamp.to_le_bytes()));
        let (_, rows, warnings) = Pair::new(CFG, &dat).read(&Options::default()).unwrap();
        assert_eq!((rows.len, warnings.len()), (3, 0), "{stamp}");
    }
    let cfg = CFG.replace("BINARY", "ASCII");
    for stamps in [["", "", ""], ["-72500", "-72250", "-72000"], ["0", "0", "0"], [" 5 ", "3", "9"]] {
        let [first, second, third] = stamps;
        let dat = format!("1,{first},1,1\n2,{second},1,1\n3,{third},1,1\n");
        assert_eq!(Pair::new(&cfg, dat.as_bytes()).read(&Options::default()).unwrap().1.len, 3, "{stamps:?}");
    }
}

#[test]
fn records_in_the_code_pages_of_their_countries() {
    // Oracle: the encoders of the same tables. Line ends of both kinds, end-of-file marks behind.
    for (name, encoding) in [
        ("Mühle ⚙", encoding_rs::UTF_8),
        ("Moagem São João, nº 2", encoding_rs::WINDOWS_1252),
        ("Дробилка", encoding_rs::WINDOWS_1251),
        ("锤片粉碎机", encoding_rs::GB18030),
    ] {
        for text in [CFG.replace("STATION", name), CFG.replace("STATION", name).replace("\r\n", "\n")] {
            let bytes = [&encoding.encode(&text).0, &b"\x1a\x1a"[..]].concat();
            let pair = Pair::new("", &records(3));
            std::fs::write(pair.0.path().join("r.cfg"), bytes).unwrap();
            let (meta, rows, warnings) = pair.read(&Options::default()).unwrap();
            let first = name.split(',').next().unwrap();
            assert_eq!((meta.station.as_str(), rows.len, warnings.len()), (first, 3, 0), "{}", encoding.name());
        }
    }
}

#[test]
fn two_configurations_in_one_file_are_not_glued_together() {
    let text = format!("--- file type: CFG ---\n{CFG}--- file type: CFG ---\n{CFG}--- file type: DAT BINARY ---\n");
    let error = stream(&[text.as_bytes(), &records(3)].concat(), &Options::default()).unwrap_err().to_string();
    assert!(error.contains("a second configuration"), "{error}");
}

#[test]
fn several_rates_are_read_but_no_single_one_is_found() {
    let cfg = CFG.replace("1\r\n4000,3", "2\r\n4000,2\r\n1000,3");
    let (meta, rows, _) = Pair::new(&cfg, &records(3)).read(&Options::default()).unwrap();
    assert_eq!(rows.len, 3);
    let error = crate::trace::require_single_rate(&meta).unwrap_err().to_string();
    assert!(error.contains("2 stretches"), "{error}");
}

#[test]
fn the_settings_rate_must_agree() {
    let at = |hz| Options { rate_hz: Some(hz), ..Options::default() };
    let pair = Pair::new(CFG, &records(3));
    assert!(pair.read(&at(4003.0)).is_ok());
    assert!(pair.read(&at(3200.0)).unwrap_err().to_string().contains("rate_hz"));
}

#[test]
fn a_huge_claim_neither_aborts_nor_allocates() {
    let cfg = CFG.replace("2,2A,0D", "4000000000000,2000000000000A,2000000000000D");
    assert!(Pair::new(&cfg, &records(3)).read(&Options::default()).is_err());
    let cfg = CFG.replace("4000,3", "4000,18446744073709551615");
    let error = Pair::new(&cfg, &records(3)).read(&Options::default()).unwrap_err().to_string();
    assert!(error.contains("after 3 of"), "{error}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Any damage to a single file: a fault or rows, never a panic.
    #[test]
    fn damage_never_panics(at in 0_usize..600, with in any::<[u8; 2]>(), cut in 0_usize..600, accept in any::<bool>(), text in any::<bool>()) {
        let cfg = if text { CFG.replace("BINARY", "ASCII") } else { CFG.to_owned() };
        let kind = if text { "ASCII" } else { "BINARY: 36" };
        let data = if text { b"1,0,1,1\n2,0,1,1\n3,0,1,1\n".to_vec() } else { records(3) };
        let mut bytes = [format!("--- file type: CFG ---\n{cfg}--- file type: DAT {kind} ---\n").as_bytes(), &data].concat();
        for (to, from) in bytes.iter_mut().skip(at).zip(with) {
            *to = from;
        }
        bytes.truncate(cut.max(20));
        let _ = stream(&bytes, &Options { accept_short: accept, ..Options::default() });
    }

    #[test]
    fn random_data_never_panics(data in proptest::collection::vec(any::<u8>(), 0..200), none in any::<bool>()) {
        let cfg = if none { CFG.replace("1\r\n4000,3", "0\r\n0,9") } else { CFG.replace("4000,3", "4000,9") };
        for word in ["ASCII", "BINARY", "BINARY32", "FLOAT32"] {
            let _ = Pair::new(&cfg.replace("BINARY", word), &data).read(&short());
        }
    }
}

/// Status channels by hand: 18 of them, two words a record; the 18th is bit 1 of the second word (IEEE C37.111-1999, 8.6).
#[test]
fn one_status_channel_is_handed_out_where_it_is_wanted() {
    use std::fmt::Write as _;
    let lines = (1..=18).fold(String::new(), |mut lines, n| {
        let name = if n == 18 { "Pulse".to_owned() } else { format!("S{n}") };
        let _ = write!(lines, "{n},{name},,,0\r\n");
        lines
    });
    let cfg = CFG.replace("2,2A,0D", "20,2A,18D").replace("1,1,P\r\n", &format!("1,1,P\r\n{lines}"));
    let wave = [0_u16, 2, 2];
    let mut dat = Vec::new();
    for (record, state) in records(3).chunks(12).zip(wave) {
        dat.extend(record);
        dat.extend(0xfffd_u16.to_le_bytes());
        dat.extend(state.to_le_bytes());
    }
    let text: String = wave.iter().enumerate().fold(String::new(), |mut text, (n, state)| {
        let _ = writeln!(text, "{},{},5,6,{}{}", n + 1, n * 250, "1,".repeat(17), state / 2);
        text
    });
    for (cfg, dat) in [(cfg.clone(), dat), (cfg.replace("BINARY", "ASCII"), text.into_bytes())] {
        let pair = Pair::new(&cfg, &dat);
        for (name, seen) in [("PULSE", true), ("S19", false)] {
            let mut reader = crate::trace::open(&pair.path().to_string_lossy(), &Options::default()).unwrap();
            reader.want_status(name);
            let (meta, rows, _) = drain(reader).unwrap();
            assert_eq!(meta.channels.len(), if seen { 3 } else { 2 });
            assert!(!seen || (meta.channels[2].kind, rows.columns[2].as_slice()) == (Kind::Pulse, &[0.0, 1.0, 1.0]));
        }
    }
    let bad = Pair::new(&cfg.replace("BINARY", "ASCII"), format!("1,0,5,6,{}2\n", "1,".repeat(17)).as_bytes());
    let mut reader = crate::trace::open(&bad.path().to_string_lossy(), &Options::default()).unwrap();
    reader.want_status("pulse");
    let fault = drain(reader).unwrap_err().to_string();
    assert!(fault.contains("a status value is '2'"), "{fault}");
}
