//! Tests of the CSV reader. Where no other source is named, what a trace may hold is this
//! project's own format.

use super::*;
use proptest::prelude::*;
use std::fmt::Write as _;

/// All rows of a text as one block.
fn read(text: &[u8], options: &Options) -> anyhow::Result<(Meta, Rows, Vec<String>)> {
    let source = Source::new("t.csv", Box::new(std::io::Cursor::new(text.to_vec())), Some(text.len() as u64));
    let mut reader = Csv::new(source, options, false)?;
    let (mut all, mut rows) = (Rows::new(), Rows::new());
    all.reset(reader.meta().channels.len());
    while reader.read(&mut rows)? > 0 {
        for (to, from) in all.columns.iter_mut().zip(&rows.columns) {
            assert_eq!(from.len(), rows.len);
            to.extend_from_slice(from);
        }
        all.marks.extend(rows.marks.iter().map(|(r, t)| (r + all.len, t.clone())));
        all.restarts.extend(rows.restarts.iter().map(|(r, g)| (r + all.len, *g)));
        all.len += rows.len;
    }
    Ok((reader.meta().clone(), all, reader.warnings().to_vec()))
}

fn at(rate_hz: f64) -> Options {
    Options { rate_hz: Some(rate_hz), ..Options::default() }
}

fn error(text: &str) -> String {
    read(text.as_bytes(), &at(4000.0)).unwrap_err().to_string()
}

#[test]
fn a_tidy_trace() {
    let text = "# start = 2026-03-02T06:00:00+01:00\nt_s,va_v,ia_a\n0.000000,310.741,-72.120\n0.000250,1,2\n";
    let (meta, rows, warnings) = read(text.as_bytes(), &at(4000.0)).unwrap();
    assert_eq!(meta.start.as_deref(), Some("2026-03-02T06:00:00+01:00"));
    assert_eq!(rows.columns, [vec![310.741, 1.0], vec![-72.12, 2.0]]);
    assert_eq!((meta.frames, meta.format.as_str()), (Some(2), "CSV"));
    assert!((meta.stamps_hz.unwrap() - 4000.0).abs() < 1e-6);
    assert!(warnings.is_empty());
}

#[test]
fn an_untidy_trace_reads_the_same() {
    let text = "\u{feff}# a comment\r\n\r\nt_s, va_v, ia_a, note\r\n0.000000, 310.741 ,-72.120,\r\n# midway\r\n\
                0.00025, 1, 2.0e0,\"a \"\"quoted\"\", text\"\r\n0.0005,3,\"4\", plain\r\n0.00075,5,6,";
    let (_, rows, _) = read(text.as_bytes(), &at(4000.0)).unwrap();
    assert_eq!(rows.columns, [vec![310.741, 1.0, 3.0, 5.0], vec![-72.12, 2.0, 4.0, 6.0]]);
    assert_eq!(rows.marks, [(1, "a \"quoted\", text".to_owned()), (2, "plain".to_owned())]);
}

#[test]
fn bad_cells_name_their_line_and_column() {
    for (bad, words) in [
        ("0.0005,,2", "ia_a|va_v is an empty cell"),
        ("0.0005,nan,2", "va_v is 'nan', which is no finite number"),
        ("0.0005,1,inf", "ia_a is 'inf'"),
        ("0.0005,1,1e400", "ia_a is '1e400'"),
        ("0.0005,1,1e300", "ia_a is '1e300', which nobody can have measured"),
        ("0.0005,\"1,5\",2", "write decimals with a point"),
        ("0.0005,12 A,2", "in figures alone"),
        ("0.0005,one,2", "va_v is 'one', which is no number"),
        ("0.0005,1", "take the whole line out and set gaps"),
        ("0.0005,1", "2 cells"),
        ("0.0005,1,2,3", "4 cells"),
        (",1,2", "t_s is an empty cell"),
        ("0.0005,1,\"2", "quote"),
    ] {
        let text = format!("t_s,va_v,ia_a\n0,1,2\n0.00025,1,2\n{bad}\n0.00075,1,2\n");
        let error = error(&text);
        assert!(error.contains("t.csv, line 4:"), "{bad}: {error}");
        assert!(words.split('|').any(|w| error.contains(w)), "{bad}: {error}");
    }
}

#[test]
fn no_frames_is_a_fault() {
    for text in ["t_s,va_v\n", "t_s,va_v", "# c\n", "t_s,va_v\n# only a comment\n\n"] {
        assert!(read(text.as_bytes(), &at(4000.0)).is_err(), "{text}");
    }
}

#[test]
fn mass_never_falls() {
    let error = error("t_s,ia_a,mass_kg\n0,1,5.0\n0.00025,1,5.0\n0.0005,1,4.9\n");
    assert!(error.contains("line 4") && error.contains("mass falls"), "{error}");
}

#[test]
fn gaps_split_the_trace() {
    let mut text = String::from("t_s,ia_a\n");
    for k in 0..200 {
        let t = f64::from(if k < 100 { k } else { k + 400 }) / 4000.0;
        writeln!(text, "{t:.6},{k}").unwrap();
    }
    assert!(error(&text).contains("line 102"), "{}", error(&text));
    let options = Options { gaps_split: true, ..at(4000.0) };
    let (_, rows, _) = read(text.as_bytes(), &options).unwrap();
    assert_eq!((rows.len, rows.restarts.len(), rows.restarts[0].0), (200, 1, 100));
    // 400 intervals are missing: 0.1 s.
    assert!((rows.restarts[0].1 - 0.1).abs() < 1e-6, "{:?}", rows.restarts);
}

#[test]
fn a_cut_last_line_may_be_left_out() {
    let text = b"t_s,va_v,ia_a\n0,1,2\n0.00025,1,2\n0.0005,1";
    assert!(read(text, &at(4000.0)).unwrap_err().to_string().contains("--accept-short"));
    let options = Options { accept_short: true, ..at(4000.0) };
    let (_, rows, warnings) = read(text, &options).unwrap();
    assert_eq!((rows.len, rows.columns[0].len(), warnings.len()), (2, 2, 1));
}

#[test]
fn columns_in_other_units_and_of_no_use() {
    let (_, rows, warnings) = read(b"va_kv,temp_c,t_s\n0.5,warm,0\n-0.5,,0.00025\n", &at(4000.0)).unwrap();
    assert_eq!(rows.columns, [vec![500.0, -500.0]]);
    assert!(warnings[0].contains("temp_c"));
}

/// DOS ended a text with 0x1A and filled a block of 128 bytes with it (common practice, no source).
#[test]
fn the_end_mark_of_dos_is_no_frame() {
    for end in ["\x1a", "\x1a\x1a\x1a"] {
        let text = format!("t_s,va_v\r\n0.00000,1\r\n0.00025,2\r\n{end}");
        let (meta, rows, warnings) = read(text.as_bytes(), &at(4000.0)).unwrap();
        assert_eq!((meta.frames, rows.len, warnings.len()), (Some(2), 2, 0));
    }
    assert!(error("t_s,va_v\n0.00000,1\n\x1a\n0.00025,2\n").contains("line 3"));
    assert!(error("t_s,va_v\n0.00000,1\x1a").contains(r"va_v is '1\x1a', which is no number"));
}

#[test]
fn notes_are_cut_and_it_is_said_once() {
    // 200 characters, of four bytes or written twice, are whole.
    for (unit, shown) in [("x", "x"), ("\u{1f4a5}", "\u{1f4a5}"), ("\"\"", "\"")] {
        for (count, whole) in [(200, true), (201, false), (5_000, false)] {
            let note = unit.repeat(count);
            let text = format!("t_s,va_v,note\n0.00000,1,\"{note}\"\n0.00025,2,\"{note}\"\n");
            let (_, rows, warnings) = read(text.as_bytes(), &at(4000.0)).unwrap();
            assert!(rows.marks.len() == 2 && rows.marks.iter().all(|(_, note)| *note == shown.repeat(200)));
            let want: &[&str] =
                if whole { &[] } else { &["t.csv, line 2: of a note as long as this 200 characters are kept"] };
            assert_eq!(warnings, want, "{count}");
        }
    }
}

#[test]
fn without_a_rate_the_files_own_is_reported() {
    let text: String = std::iter::once("t_s,ia_a\n".to_owned())
        .chain((0..5000).map(|k| format!("{:.9},1\n", f64::from(k) / 3200.0)))
        .collect();
    let (meta, rows, _) = read(text.as_bytes(), &Options::default()).unwrap();
    assert_eq!(rows.len, 5000);
    assert!((meta.stamps_hz.unwrap() - 3200.0).abs() < 1e-3);
}

proptest! {
    #[test]
    fn random_text_never_panics(text in "[t_sva,0-9.\"#\r\n e-]{0,300}") {
        let _ = read(text.as_bytes(), &at(4000.0));
    }

    #[test]
    fn random_bytes_after_a_header_never_panic(bytes in proptest::collection::vec(any::<u8>(), 0..300), short in any::<bool>()) {
        let mut text = b"t_s,va_v,ia_a,note\n0,1,2,x\n".to_vec();
        text.extend(bytes);
        let _ = read(&text, &Options { accept_short: short, gaps_split: short, ..at(4000.0) });
    }

    /// Cut anywhere: a fault or whole rows, never a panic.
    #[test]
    fn truncations_never_panic(cut in 0_usize..90) {
        let text = b"t_s,va_v,ia_a\n0.000000,310.741,-72.120\n0.000250,302.228,-47.025\n0.000500,291.880,-21.599\n";
        let _ = read(&text[..cut.min(text.len())], &at(4000.0));
    }
}
