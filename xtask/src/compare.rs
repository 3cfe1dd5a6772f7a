//! Holds the board's reports against the host's, bit by bit.

use std::fmt::Write;

use anyhow::{Context, Result};
use shaftwork_report_bits::{Kind, Report, Stream};

/// What came of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Verdict {
    /// Reports that the host gave.
    pub reports: usize,
    /// Bits that differ; a report that only one side has counts with all its bits.
    pub bits: u64,
    /// The first report that differs, in words.
    pub first: Option<String>,
}

/// Compares two streams of reports.
pub fn compare(host: &[u8], board: &[u8]) -> Result<Verdict> {
    let host = split(host).context("the host's reports")?;
    let board = split(board).context("the board's reports")?;
    let mut verdict = Verdict { reports: host.len(), bits: 0, first: None };
    for at in 0..host.len().max(board.len()) {
        let (ours, theirs) = (host.get(at), board.get(at));
        if ours == theirs {
            continue;
        }
        verdict.bits += differing(ours, theirs);
        if verdict.first.is_none() {
            verdict.first = Some(describe(at, ours, theirs));
        }
    }
    Ok(verdict)
}

type Item<'a> = (Kind, &'a [u8]);

fn split(bytes: &[u8]) -> Result<Vec<Item<'_>>> {
    Ok(Stream::new(bytes).collect::<Result<Vec<_>, _>>()?)
}

/// Bits that differ, the kind counting as a byte; never 0, because the two are not equal.
fn differing(ours: Option<&Item<'_>>, theirs: Option<&Item<'_>>) -> u64 {
    let bytes = |item: Option<&Item<'_>>| item.map_or(Vec::new(), |(kind, bytes)| [&[*kind as u8], *bytes].concat());
    let (ours, theirs) = (bytes(ours), bytes(theirs));
    let common = ours.iter().zip(&theirs).map(|(a, b)| u64::from((a ^ b).count_ones())).sum::<u64>();
    common + 8 * ours.len().abs_diff(theirs.len()) as u64
}

fn describe(at: usize, ours: Option<&Item<'_>>, theirs: Option<&Item<'_>>) -> String {
    let words = |item: Option<&Item<'_>>| match item {
        None => "nothing".to_owned(),
        Some((kind, bytes)) => match Report::decode(*kind, bytes) {
            Ok(report) => format!("{report:?}"),
            Err(_) => format!("{kind:?} of {} bytes that cannot be read", bytes.len()),
        },
    };
    let mut text = format!("report {} is the first that differs", at + 1);
    let _ = write!(text, "\n  host:  {}\n  board: {}", words(ours), words(theirs));
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equal_streams_differ_in_nothing() {
        let stream = [3, 2, 0, 10, 11, 1, 0, 0];
        assert_eq!(compare(&stream, &stream).unwrap(), Verdict { reports: 2, bits: 0, first: None });
    }

    #[test]
    fn a_flipped_bit_is_one_bit_and_named() {
        let verdict = compare(&[3, 1, 0, 10, 3, 1, 0, 8], &[3, 1, 0, 10, 3, 1, 0, 9]).unwrap();
        assert_eq!((verdict.reports, verdict.bits), (2, 1));
        assert!(verdict.first.unwrap().starts_with("report 2 is the first"));
    }

    #[test]
    fn a_missing_report_counts_with_all_its_bits() {
        let verdict = compare(&[1, 0, 0, 3, 2, 0, 1, 2], &[1, 0, 0]).unwrap();
        assert_eq!((verdict.reports, verdict.bits), (2, 24));
        assert!(verdict.first.unwrap().contains("board: nothing"));
        let verdict = compare(&[], &[1, 0, 0]).unwrap();
        assert_eq!((verdict.reports, verdict.bits), (0, 8));
    }

    #[test]
    fn a_broken_stream_names_its_side() {
        let error = format!("{:#}", compare(&[], &[1, 9]).unwrap_err());
        assert!(error.contains("board") && error.contains("byte 0"), "{error}");
    }
}
