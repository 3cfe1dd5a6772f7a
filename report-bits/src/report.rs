//! A report: one of the four things a monitor says, with its kind and its bytes.

use shaftwork_core::recorder::Recorder;
use shaftwork_core::{Event, Interval, Moment, Monitor, Totals};

/// Enough bytes for any report.
///
/// A varint takes at most 19 bytes for 16, 10 for 8, 5 for 4 and 3 for 2: never more than one and a
/// half times the bytes in memory. The 16 on top are for tags of options that memory keeps in a niche.
pub const MAX_BYTES: usize = 768;
const _: () = assert!(size_of::<Report>() * 3 / 2 + 16 <= MAX_BYTES, "a report grew: raise MAX_BYTES");

/// Which kind a report is: the byte in front of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum Kind {
    /// A half cycle's record and what it means.
    Moment = 1,
    /// A window's figures.
    Interval = 2,
    /// Something that happened.
    Event = 3,
    /// The sums at the end.
    Totals = 4,
}

impl Kind {
    /// The kind that a byte stands for.
    #[must_use]
    pub const fn from_byte(byte: u8) -> Option<Self> {
        match byte {
            1 => Some(Self::Moment),
            2 => Some(Self::Interval),
            3 => Some(Self::Event),
            4 => Some(Self::Totals),
            _ => None,
        }
    }
}

/// One report. It lives for one call, so that the difference in size between the kinds costs nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(clippy::large_enum_variant)]
pub enum Report {
    /// A half cycle's record and what it means.
    Moment(Moment),
    /// A window's figures.
    Interval(Interval),
    /// Something that happened.
    Event(Event),
    /// The sums at the end.
    Totals(Totals),
}

impl Report {
    /// Its kind.
    #[must_use]
    pub const fn kind(&self) -> Kind {
        match self {
            Self::Moment(_) => Kind::Moment,
            Self::Interval(_) => Kind::Interval,
            Self::Event(_) => Kind::Event,
            Self::Totals(_) => Kind::Totals,
        }
    }

    /// Its bytes, written to the front of `buffer`.
    ///
    /// # Panics
    ///
    /// Never: the size of the buffer is checked against the largest report when this is compiled.
    pub fn encode<'a>(&self, buffer: &'a mut [u8; MAX_BYTES]) -> &'a [u8] {
        let written = match self {
            Self::Moment(report) => postcard::to_slice(report, buffer),
            Self::Interval(report) => postcard::to_slice(report, buffer),
            Self::Event(report) => postcard::to_slice(report, buffer),
            Self::Totals(report) => postcard::to_slice(report, buffer),
        };
        written.expect("MAX_BYTES holds any report")
    }

    /// The report that `bytes` stand for.
    ///
    /// # Errors
    ///
    /// When they do not make a report of this kind.
    pub fn decode(kind: Kind, bytes: &[u8]) -> postcard::Result<Self> {
        Ok(match kind {
            Kind::Moment => Self::Moment(postcard::from_bytes(bytes)?),
            Kind::Interval => Self::Interval(postcard::from_bytes(bytes)?),
            Kind::Event => Self::Event(postcard::from_bytes(bytes)?),
            Kind::Totals => Self::Totals(postcard::from_bytes(bytes)?),
        })
    }
}

/// Hands on all that a monitor has to say after a call of `ingest`, `finish` or `gap`: half cycle, interval,
/// then events.
pub fn each(monitor: &mut Monitor, sink: &mut impl FnMut(&Report)) {
    while let Some(moment) = monitor.take_moment() {
        sink(&Report::Moment(moment));
    }
    while let Some(interval) = monitor.take_interval() {
        sink(&Report::Interval(interval));
    }
    while let Some(event) = monitor.pop_event() {
        sink(&Report::Event(event));
    }
}

/// Hands a report on to a recorder.
pub fn record(recorder: &mut Recorder<'_>, report: &Report) {
    match report {
        Report::Moment(moment) => recorder.moment(moment),
        Report::Interval(interval) => recorder.interval(interval),
        Report::Event(event) => {
            recorder.event(event);
        }
        Report::Totals(_) => {}
    }
}

/// Like [`each`], but as kind and bytes: what [`crate::Digest::add`] and `reports.bin` take.
pub fn drain(monitor: &mut Monitor, sink: &mut impl FnMut(Kind, &[u8])) {
    let mut buffer = [0; MAX_BYTES];
    each(monitor, &mut |report| sink(report.kind(), report.encode(&mut buffer)));
}

#[cfg(test)]
mod tests {
    use super::*;
    use shaftwork_core::HalfCycle;
    use shaftwork_core::time::{Instant, Span};
    use shaftwork_core::unit::Watts;

    #[test]
    fn reports_come_back_as_they_were() {
        let half = HalfCycle {
            end: Instant(u64::MAX),
            length: Span(40 << 16),
            active: Watts::from_bits(i64::MIN),
            ..HalfCycle::default()
        };
        let totals = Totals { shaft_q20: i128::MIN, clipped: u64::MAX, ..Totals::default() };
        let mut buffer = [0; MAX_BYTES];
        for report in [
            Report::Moment(Moment { half_cycle: half, ..Moment::default() }),
            Report::Interval(Interval::default()),
            Report::Totals(totals),
        ] {
            let bytes = report.encode(&mut buffer);
            assert_eq!(Report::decode(report.kind(), bytes), Ok(report));
            assert_eq!(Kind::from_byte(report.kind() as u8), Some(report.kind()));
        }
    }

    #[test]
    fn bytes_of_another_kind_are_refused() {
        assert!(Report::decode(Kind::Totals, &[1]).is_err());
        assert_eq!(Kind::from_byte(0), None);
        assert_eq!(Kind::from_byte(5), None);
    }
}
