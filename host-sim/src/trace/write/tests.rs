//! Records that are written, read back.

use super::super::{Options, Rows, open};
use super::*;

fn channels(a: f64) -> Vec<WriteChannel> {
    let channel = |name: &str, phase: &str, unit: &str| WriteChannel {
        name: name.into(),
        phase: phase.into(),
        unit: unit.into(),
        a,
        b: 0.0,
    };
    vec![channel("VA, bus", "A", "V"), channel("IA", "A", "A")]
}

fn begin(folder: &Path, a: f64) -> anyhow::Result<ComtradeWriter> {
    ComtradeWriter::create(folder.join("a"), "S", &channels(a), 50.0, 4000.0, WriteEncoding::Binary1999)
}

#[test]
fn what_is_written_is_read_back() {
    // Oracle: this crate's reader, which is tested against the standard's layout.
    let folder = tempfile::tempdir().unwrap();
    for (name, encoding, a, error) in [
        ("a", WriteEncoding::Binary1999, 0.025, 0.0125),
        ("b.dat", WriteEncoding::Binary2013, 0.025, 0.0125),
        ("c.cfg", WriteEncoding::Float2013, 1.0, 1e-4),
        ("d.cff", WriteEncoding::Binary2013, 0.025, 0.0125),
        ("E.CFF", WriteEncoding::Float2013, 1.0, 1e-4),
    ] {
        let mut w =
            ComtradeWriter::create(folder.path().join(name), "S,1", &channels(a), 50.0, 4000.0, encoding).unwrap();
        w.set_start("01/02/2026,06:00:00.000000");
        let value = |k: usize| 325.0 * (k as f64 * 0.0785).sin();
        for k in 0..5000 {
            let missing = if k == 7 { f64::NAN } else { -value(k) };
            w.frame(&[value(k), missing]).unwrap();
        }
        let cfg = w.finish().unwrap();
        let mut reader = open(&cfg.to_string_lossy(), &Options::default()).unwrap();
        assert_eq!(reader.meta().frames, Some(5000));
        assert_eq!(reader.meta().start.as_deref(), Some("2026-02-01T06:00:00.000000"));
        assert_eq!(reader.meta().channels[0].name, "VA  bus");
        let (mut rows, mut at) = (Rows::new(), 0);
        while reader.read(&mut rows).unwrap() > 0 {
            for row in 0..rows.len {
                assert!((rows.columns[0][row] - value(at)).abs() <= error + 1e-9);
                assert_eq!(rows.columns[1][row].is_nan(), at == 7);
                at += 1;
            }
        }
        assert!(at == 5000 && reader.warnings().is_empty());
    }
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 8, "no temporary file is left");
}

#[test]
fn values_beyond_the_codes_are_clipped_and_counted() {
    let folder = tempfile::tempdir().unwrap();
    let mut w = begin(folder.path(), 1.0).unwrap();
    w.frame(&[-32768.0, 32767.0]).unwrap();
    assert_eq!(w.clipped(), 1);
    assert!(w.frame(&[1.0]).is_err());
}

#[test]
fn an_unfinished_record_leaves_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let mut w = begin(folder.path(), 1.0).unwrap();
    w.frame(&[1.0, 2.0]).unwrap();
    drop(w);
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
    assert!(begin(folder.path(), 0.0).is_err());
    let (path, c) = (folder.path().join("a.cff"), channels(1.0));
    assert!(ComtradeWriter::create(&path, "S", &c, 50.0, 4000.0, WriteEncoding::Binary1999).is_err());
    let mut w = ComtradeWriter::create(&path, "S", &c, 50.0, 4000.0, WriteEncoding::Binary2013).unwrap();
    w.frame(&[1.0, 2.0]).unwrap();
    drop(w);
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
}
