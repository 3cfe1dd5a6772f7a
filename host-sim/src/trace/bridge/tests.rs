//! Tests of bridging. That half a cycle is bridged and more is a gap is this project's own format.

use super::super::{Channel, Kind};
use super::*;
use proptest::prelude::*;

/// A reader over columns in memory, some rows a block.
struct Memory {
    meta: Meta,
    columns: Vec<Vec<f64>>,
    at: usize,
    block: usize,
}

impl Reader for Memory {
    fn meta(&self) -> &Meta {
        &self.meta
    }

    fn read(&mut self, rows: &mut Rows) -> anyhow::Result<usize> {
        rows.reset(self.columns.len());
        let end = (self.at + self.block).min(self.columns[0].len());
        for (to, from) in rows.columns.iter_mut().zip(&self.columns) {
            to.extend_from_slice(&from[self.at..end]);
        }
        rows.len = end - self.at;
        self.at = end;
        Ok(rows.len)
    }

    fn warnings(&self) -> &[String] {
        &[]
    }

    fn progress(&self) -> (u64, Option<u64>) {
        (0, None)
    }
}

/// Bridges runs of up to 4 values: 400 Hz at a nominal 50 Hz.
fn bridged(columns: &[Vec<f64>], block: usize, split: bool, mass: bool) -> Bridged {
    let channel = |i: usize| Channel {
        name: format!("c{i}"),
        phase: String::new(),
        unit: "A".into(),
        to_si: 1.0,
        kind: Kind::Current,
        step: 0.0,
        flaw: None,
    };
    let meta = Meta {
        path: "t".into(),
        format: "COMTRADE 1999 BINARY".into(),
        station: String::new(),
        start: None,
        nominal_hz: None,
        rates: vec![],
        stamps_hz: None,
        channels: (0..columns.len()).map(channel).collect(),
        digital: 0,
        frames: None,
    };
    let mut selection = Selection::default();
    for (i, slot) in selection.electrical.iter_mut().enumerate().take(columns.len() - usize::from(mass)) {
        *slot = Some(i);
    }
    selection.mass = mass.then(|| columns.len() - 1);
    Bridged::new(Box::new(Memory { meta, columns: columns.to_vec(), at: 0, block }), &selection, 50.0, 400.0, split)
}

/// Rows, restarts in rows of the whole, values bridged.
type Out = (Vec<Vec<f64>>, Vec<(usize, f64)>, u64);

fn run(columns: &[Vec<f64>], block: usize, split: bool) -> anyhow::Result<Out> {
    let mut reader = bridged(columns, block, split, false);
    let (mut all, mut restarts, mut rows) = (vec![vec![]; columns.len()], vec![], Rows::new());
    loop {
        let count = reader.read(&mut rows)?;
        restarts.extend(rows.restarts.iter().map(|(r, g)| (r + all[0].len(), *g)));
        for (to, from) in all.iter_mut().zip(&rows.columns) {
            assert_eq!(from.len(), count);
            to.extend_from_slice(from);
        }
        if count == 0 {
            return Ok((all, restarts, reader.bridged()));
        }
    }
}

fn column(text: &str) -> Vec<f64> {
    text.split_whitespace().map(|w| if w == "-" { f64::NAN } else { w.parse().unwrap() }).collect()
}

#[test]
fn short_runs_are_lines() {
    for block in 1..20 {
        let (out, restarts, count) =
            run(&[column("0 1 - - - - 6 7 -"), column("- - 5 5 5 5 5 - 9")], block, false).unwrap();
        assert_eq!(out, [column("0 1 2 3 4 5 6 7 7"), column("5 5 5 5 5 5 5 7 9")]);
        assert_eq!((restarts.len(), count), (0, 8));
    }
}

#[test]
fn long_runs_are_gaps() {
    for block in 1..20 {
        let values = [column("0 1 - - - - - 7 8"), column("0 1 2 3 4 5 6 7 8")];
        let error = run(&values, block, false).unwrap_err().to_string();
        assert!(error.contains("'c0' lacks") && error.contains("frame 3"), "{block}: {error}");
        let (out, restarts, count) = run(&values, block, true).unwrap();
        assert_eq!(out, [column("0 1 7 8"), column("0 1 7 8")], "{block}");
        assert!(
            restarts.len() == 1 && restarts[0].0 == 2 && (restarts[0].1 * 400.0 - 5.0).abs() < 1e-9,
            "{block}: {restarts:?}"
        );
        assert_eq!(count, 0);
    }
}

#[test]
fn gaps_at_the_edges() {
    for block in 1..20 {
        let (out, restarts, _) = run(&[column("- - - - - - 1 2 - - - - -")], block, true).unwrap();
        assert_eq!(out, [column("1 2")], "{block}");
        let restarts: Vec<_> = restarts.iter().map(|(row, gap)| (*row, (gap * 400.0).round() as i32)).collect();
        assert_eq!(restarts, [(0, 6), (2, 5)], "{block}");
        assert!(run(&[column("- - - - - - -")], block, true).is_err());
        assert!(run(&[column("- -")], block, true).is_err());
    }
}

#[test]
fn a_falling_mass_is_refused() {
    let values = [column("0 0 0 0"), column("1 2 - 1.5")];
    let error = bridged(&values, 9, false, true).read(&mut Rows::new()).unwrap_err().to_string();
    assert!(error.contains("mass falls"), "{error}");
}

proptest! {
    /// However the rows arrive in blocks, the outcome is the same, nothing is missing, and rows
    /// and gaps add up to the record.
    #[test]
    fn blocks_do_not_matter(
        rows in proptest::collection::vec((prop_oneof![Just(f64::NAN), -9.0..9.0], prop_oneof![3 => Just(f64::NAN), 1 => -9.0..9.0]), 1..80),
        block in 1_usize..40,
    ) {
        let values = [rows.iter().map(|r| r.0).collect(), rows.iter().map(|r| r.1).collect::<Vec<f64>>()];
        let whole = run(&values, 1000, true).map_err(|e| e.to_string());
        let parts = run(&values, block, true).map_err(|e| e.to_string());
        match (whole, parts) {
            (Ok(whole), Ok(parts)) => {
                prop_assert!(parts.0.iter().flatten().all(|x| !x.is_nan()), "{parts:?}");
                let gaps: f64 = parts.1.iter().map(|(_, g)| g * 400.0).sum();
                prop_assert!((gaps + parts.0[0].len() as f64 - rows.len() as f64).abs() < 1e-6, "{parts:?}");
                let total: f64 = whole.1.iter().map(|(_, g)| g * 400.0).sum();
                prop_assert!((gaps - total).abs() < 1e-6, "{whole:?} {parts:?}");
                prop_assert_eq!(whole.0[0].len(), parts.0[0].len());
            }
            (a, b) => prop_assert_eq!(a.is_ok(), b.is_ok()),
        }
    }
}
