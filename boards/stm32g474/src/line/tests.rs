//! A listener at the end of a line that is slow, noisy or dead.

use super::*;
use embedded_hal_nb::nb;
use embedded_hal_nb::serial::{ErrorKind, ErrorType};
use serde::de::DeserializeOwned;
use shaftwork_core::recorder::{Capture, Entry, Point, Recorder, Shape, Trend};
use shaftwork_core::{Cause, Event, EventKind, Figures, Monitor};

/// Takes so many bytes a pump.
#[derive(Default)]
struct Wire {
    room: usize,
    sent: Vec<u8>,
}

impl ErrorType for Wire {
    type Error = ErrorKind;
}

impl Write for Wire {
    fn write(&mut self, byte: u8) -> nb::Result<(), ErrorKind> {
        if self.room == 0 {
            return Err(nb::Error::WouldBlock);
        }
        self.room -= 1;
        self.sent.push(byte);
        Ok(())
    }
    fn flush(&mut self) -> nb::Result<(), ErrorKind> {
        Ok(())
    }
}

/// What a listener makes of bytes: kind, number and payload of every frame that is whole.
fn heard(bytes: &[u8]) -> Vec<(u8, u16, Vec<u8>)> {
    let frame = |stuffed: &[u8]| {
        let mut body = vec![0; stuffed.len()];
        let length = cobs::decode(stuffed, &mut body).ok()?;
        let (rest, sum) = body[..length].split_last_chunk::<4>()?;
        let (&[LAYOUT, kind, low, high], payload) = rest.split_first_chunk::<4>()? else { return None };
        (crc32(rest) == u32::from_le_bytes(*sum)).then(|| (kind, u16::from_le_bytes([low, high]), payload.to_vec()))
    };
    bytes.split(|byte| *byte == 0).filter_map(frame).collect()
}

fn all<T: DeserializeOwned>(heard: &[(u8, u16, Vec<u8>)], kind: Kind) -> Vec<T> {
    let of_kind = heard.iter().filter(|(found, ..)| *found == kind as u8);
    of_kind.map(|(.., payload)| postcard::from_bytes(payload).unwrap()).collect()
}

const WELL: State = State { cause: 0, before: 21, well: true, missed: 0 };
const RATE_MHZ: u32 = 4_000_000;

/// Some seconds of blocks: an event each 16th, an interval each 100th.
fn run(wire: &mut Wire, blocks: u64, room: usize, cause: impl Fn(u64) -> u8) -> u32 {
    let mut memory = [None; 64];
    let (mut log, mut latest) = (Log::new(&mut memory, 1), Latest::default());
    let mut line = Line::new(RATE_MHZ);
    for block in 0..blocks {
        let now = Instant((block * 8) << 16);
        if block % 16 == 0 && block < blocks / 2 {
            log.write(Event { at: now, kind: EventKind::Stop }, None);
        }
        if block % 100 == 0 {
            latest.report(&Report::Interval(Interval { mass_mg: Some(block), ..Interval::default() }));
        }
        line.offer(now, &log, &latest, State { cause: cause(block), ..WELL }, || Totals {
            starts: 7,
            ..Totals::default()
        });
        wire.room = room;
        line.pump(wire);
    }
    log.next()
}

#[test]
fn all_arrives_in_order_over_a_line_that_keeps_up() {
    let mut wire = Wire::default();
    // 23 bytes in a block of 2 ms are what 115 200 bits a second give.
    assert_eq!(BAUD / 10 * 2 / 1_000, 23);
    let next = run(&mut wire, 35_000, 23, |block| if block < 7_000 { 0 } else { 12 });
    let heard = heard(&wire.sent);
    assert!(heard.iter().enumerate().all(|(n, (_, number, _))| n as u16 == *number), "each once");
    let entries: Vec<Entry> = all(&heard, Kind::Entry);
    assert!(entries.iter().map(|entry| entry.sequence).eq(1..next));
    let states: Vec<State> = all(&heard, Kind::State);
    assert_eq!((states[0], states.last().unwrap().cause), (WELL, 12));
    assert_eq!(
        states.len(),
        2 + 6,
        "at 0 s, 10 s, when it changes at 14 s, and each ten seconds from there to 70 s: {states:?}"
    );
    let totals: Vec<Totals> = all(&heard, Kind::Totals);
    assert!(totals.iter().all(|totals| totals.starts == 7) && totals.len() == 2);
    let intervals: Vec<Interval> = all(&heard, Kind::Interval);
    assert!(intervals.len() > 300 && intervals.is_sorted_by(|a, b| a.mass_mg < b.mass_mg), "{}", intervals.len());
}

#[test]
fn a_slow_line_loses_figures_and_tells_which_events() {
    let mut wire = Wire::default();
    run(&mut wire, 40_000, 1, |_| 0);
    let entries: Vec<Entry> = all(&heard(&wire.sent), Kind::Entry);
    assert!(entries.is_sorted_by(|a, b| a.sequence < b.sequence));
    assert!(entries.windows(2).any(|two| two[1].sequence > two[0].sequence + 1), "numbers leap");
    let mut dead = Wire::default();
    assert!(run(&mut dead, 5_000, 0, |_| 0) > 1 && dead.sent.is_empty(), "nobody waits");
}

#[test]
fn a_byte_that_is_lost_or_changed_costs_its_frame_alone() {
    let mut wire = Wire::default();
    run(&mut wire, 200, 23, |_| 0);
    let whole = heard(&wire.sent);
    assert!(whole.len() > 5);
    for at in 0..wire.sent.len() {
        let (mut cut, mut changed) = (wire.sent.clone(), wire.sent.clone());
        cut.remove(at);
        changed[at] ^= 0x10;
        for noisy in [cut, changed] {
            let heard = heard(&noisy);
            // A 0 that is lost joins two.
            assert!(heard.len() + 2 >= whole.len() && heard.iter().all(|frame| whole.contains(frame)), "{at}");
        }
    }
}

/// The largest there can be, all bits set.
#[test]
fn the_largest_payload_fits() {
    let mut line = Line::new(RATE_MHZ);
    line.frame.put(Kind::Totals, &([u64::MAX; 32], [u64::MAX; 32], [u64::MAX; MAX_BYTES / 10 - 64]));
    let mut wire = Wire { room: FRAME, ..Wire::default() };
    line.pump(&mut wire);
    assert!(line.idle());
    assert_eq!(heard(&wire.sent)[0].2.len(), MAX_BYTES / 10 * 10);
    line.frame.put(Kind::Totals, &[[0x55_u8; 24]; MAX_BYTES / 24]);
    wire.room = FRAME;
    line.pump(&mut wire);
    assert_eq!(heard(&wire.sent)[1].2.len(), MAX_BYTES);
}

/// The recorder of this board, which keeps no waveforms: events are numbered, and the capture that has no memory does nothing.
#[test]
fn a_recorder_without_waveforms_numbers_events() {
    let built = crate::settings::example().build().unwrap();
    let mut monitor = Monitor::of(&built);
    let (mut events, mut points, mut feeds) = ([None; 4], [Point::default(); 100], [0; 8]);
    let mut recorder = Recorder {
        log: Log::new(&mut events, 1),
        trend: Trend::new(&built.judge, &mut points, &mut feeds, 1),
        capture: Capture::new(&mut [], &mut [], Shape::whole(16)),
    };
    for block in 0..2_000 {
        let frames = [shaftwork_core::Frame([block % 7; 6]); 8];
        monitor.ingest(&frames);
        recorder.block(&frames, &monitor);
        if block % 500 == 0 {
            recorder.event(&Event {
                at: monitor.now(),
                kind: EventKind::Trip { cause: Cause::Jam, figures: Figures::default() },
            });
        }
    }
    assert!(recorder.log.entries().map(|entry| entry.sequence).eq(1..=4));
    assert!(recorder.capture.record().is_none_or(|record| record.frames().len() == 0));
}

/// A listener that begins anywhere has the whole sheet after one round.
#[test]
fn a_sheet_is_put_together_from_its_parts() {
    let bytes: Vec<u8> = (0..1_300_u32).map(|n| (n % 251) as u8).collect();
    let (mut sheets, mut wire) = (Sheets::new(&bytes), Wire::default());
    for _ in 0..400 {
        wire.room = 23;
        sheets.pump(&mut wire);
    }
    let heard = heard(&wire.sent[700..]);
    let (mut whole, mut got) = (vec![0; bytes.len()], 0);
    for (kind, _, payload) in &heard[..3] {
        let part: Part<'_> = postcard::from_bytes(payload).unwrap();
        assert_eq!((*kind, usize::from(part.whole)), (Kind::Sheet as u8, bytes.len()));
        let from = usize::from(part.from);
        whole[from..from + part.bytes.len()].copy_from_slice(part.bytes);
        got += part.bytes.len();
    }
    assert_eq!((got, whole), (bytes.len(), bytes));
}

#[test]
fn the_page_has_the_kinds() {
    let page = include_str!("../../../../docs/board-stm32g474.md");
    for line in [
        format!("| {} | [`Interval`]", Kind::Interval as u8),
        format!("| {} | [`Totals`]", Kind::Totals as u8),
        format!("| {} | [`Entry`]", Kind::Entry as u8),
        format!("| {} | `cause`", Kind::State as u8),
        format!("| {} | a part of `sheet.bin`", Kind::Sheet as u8),
        format!("{BAUD} bits a second"),
        format!("layout ({LAYOUT})"),
    ] {
        assert!(page.contains(&line), "docs/board-stm32g474.md lacks: {line}");
    }
}
