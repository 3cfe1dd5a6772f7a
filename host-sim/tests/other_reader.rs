//! Records that we write, opened by a reader that others wrote: `comtrade` from the Python package registry.
//!
//! `cargo xtask test` installs it under `target/python` where it can. Where neither that nor a Python with the
//! package is to be had the test says so on standard error and passes: it has tried nothing.

mod python;

use std::path::{Path, PathBuf};

use serde_json::Value;
use shaftwork_sim::trace::write::{ComtradeWriter, WriteChannel, WriteEncoding};
use shaftwork_sim::trace::{self, Options, Rows};

const RATE_HZ: f64 = 4800.0;
const FRAMES: usize = 1000;
/// The frame in which the second channel is missing.
const MISSING: usize = 7;

fn channels(a: [f64; 3], b: f64) -> Vec<WriteChannel> {
    let kinds = [("VA", "A", "V"), ("IA, line", "A", "A"), ("MASS", "", "kg")];
    kinds
        .iter()
        .zip(a)
        .map(|((name, phase, unit), a)| WriteChannel {
            name: (*name).into(),
            phase: (*phase).into(),
            unit: (*unit).into(),
            a,
            b,
        })
        .collect()
}

/// What is written: volts, amperes with a missing one, kilograms.
fn values(k: usize) -> [f64; 3] {
    let angle = k as f64 * 50.0 / RATE_HZ * std::f64::consts::TAU;
    let amps = if k == MISSING { f64::NAN } else { 130.7 * (angle - 0.5).sin() };
    [325.27 * angle.sin(), amps, k as f64 * 0.013]
}

fn write(path: &Path, encoding: WriteEncoding, a: [f64; 3], b: f64) -> PathBuf {
    let mut writer = ComtradeWriter::create(path, "Mühle 1", &channels(a, b), 50.0, RATE_HZ, encoding).unwrap();
    writer.set_device("LOGGER");
    writer.set_start("24/11/2026,06:07:08.901234");
    (0..FRAMES).for_each(|k| writer.frame(&values(k)).unwrap());
    assert_eq!(writer.clipped(), 0);
    writer.finish().unwrap()
}

/// All columns by our own reader.
fn ours(path: &Path) -> Vec<Vec<f64>> {
    let mut reader = trace::open(&path.to_string_lossy(), &Options::default()).unwrap();
    let (mut rows, mut all) = (Rows::new(), vec![Vec::new(); reader.meta().channels.len()]);
    while reader.read(&mut rows).unwrap() > 0 {
        all.iter_mut().zip(&rows.columns).for_each(|(to, from)| to.extend(from));
    }
    assert_eq!(reader.warnings(), [""; 0]);
    all
}

#[test]
fn another_reader_finds_what_was_written() {
    let Some(python) = python::with("comtrade") else {
        python::skipped("comtrade", "no other reader has opened our records");
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let codes = ([0.0125, 0.005, 0.001], 0.25);
    let plain = ([1.0, 1.0, 1.0], 0.0);
    let records = [
        ("a.cfg", WriteEncoding::Binary1999, codes, "1999", "BINARY"),
        ("b.cfg", WriteEncoding::Binary2013, codes, "2013", "BINARY"),
        ("c.cfg", WriteEncoding::Float2013, plain, "2013", "FLOAT32"),
        ("d.cff", WriteEncoding::Binary2013, codes, "2013", "BINARY"),
        ("e.cff", WriteEncoding::Float2013, plain, "2013", "FLOAT32"),
    ];
    let paths: Vec<PathBuf> = records
        .iter()
        .map(|(name, encoding, (a, b), ..)| write(&folder.path().join(name), *encoding, *a, *b))
        .collect();
    let theirs = python::run(&python, "other_reader.py", &paths, &Value::Null);
    let theirs = theirs.as_array().unwrap();
    assert_eq!(theirs.len(), records.len());

    for ((theirs, path), (name, _, (a, _), revision, encoding)) in theirs.iter().zip(&paths).zip(records) {
        let text = |key: &str| theirs[key].as_str().unwrap().to_owned();
        assert_eq!((text("station"), text("device")), ("Mühle 1".to_owned(), "LOGGER".to_owned()), "{name}");
        assert_eq!((text("revision"), text("encoding")), (revision.to_owned(), encoding.to_owned()), "{name}");
        assert_eq!(text("start"), "2026-11-24T06:07:08.901234", "{name}");
        assert_eq!(theirs["nominal_hz"], 50.0, "{name}");
        assert_eq!(theirs["rates"], serde_json::json!([[RATE_HZ, FRAMES]]), "{name}");
        let described =
            serde_json::json!([["VA", "A", "V", "P"], ["IA  line", "A", "A", "P"], ["MASS", "", "kg", "P"]]);
        assert_eq!(theirs["channels"], described, "{name}");
        for (k, t) in theirs["time"].as_array().unwrap().iter().enumerate() {
            assert!((t.as_f64().unwrap() - k as f64 / RATE_HZ).abs() < 1e-12, "{name}, frame {k}: {t}");
        }
        let ours = ours(path);
        for (c, (ours, theirs)) in ours.iter().zip(theirs["values"].as_array().unwrap()).enumerate() {
            let theirs: Vec<Option<f64>> =
                theirs.as_array().unwrap().iter().map(Value::as_u64).map(|bits| bits.map(f64::from_bits)).collect();
            assert_eq!((ours.len(), theirs.len()), (FRAMES, FRAMES), "{name}");
            for (k, (ours, theirs)) in ours.iter().zip(&theirs).enumerate() {
                let place = format!("{name}, channel {c}, frame {k}");
                // The other reader and ours agree in every bit; a missing value is missing in both.
                let bits = (!ours.is_nan()).then(|| ours.to_bits());
                assert_eq!(theirs.map(f64::to_bits), bits, "{place}");
                let put = values(k)[c];
                assert_eq!(theirs.is_none(), put.is_nan(), "{place}");
                // Half a code, or the rounding to 24 bits of mantissa.
                let error = if encoding == "BINARY" { a[c] * 0.500_001 } else { put.abs() * 2_f64.powi(-24) };
                assert!(put.is_nan() || (theirs.unwrap() - put).abs() <= error, "{place}: {theirs:?}, {put} put");
            }
        }
    }
}
