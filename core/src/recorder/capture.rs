//! Waveform capture: the frames before and after a decision, in memory that the caller lends.
//!
//! Fed the same blocks as the meter and apart from it. The lent frames are split into rings; one of them runs and always
//! holds the latest frames, until [`Capture::trigger`] lets it run on for a number of frames and then stand still, to be read
//! ([`Capture::record`]) and given back ([`Capture::release`]). Then the next free ring runs.
//!
//! | from | to | when |
//! |---|---|---|
//! | `Free` | `Running` | no other ring runs |
//! | `Running` | `Ending` | `trigger` |
//! | `Ending` | `Ending` | `trigger`: noted, and the frames after it go on in the next ring if they do not fit |
//! | `Ending` | `Still` | the frames after the trigger are in, or frames are missing |
//! | `Running` | `Running` | frames are missing: from there on, empty |
//! | `Still` | `Free` | `release` |
//!
//! **Snapshots.** So that a captured decision can be come to again, what the monitor remembered is copied twice a ring's length; the
//! older of the two in a ring that stands still is kept with it. With two snapshots or more it lies in the older half, and the trigger in the newer one.
//!
//! **Thinned.** A frame that is kept is the mean of [`Shape::every`] frames, which takes `1 - sinc(every f / rate)` off a sine: 0.4 % of 50 Hz
//! at 1 kHz left, and shows what is above half the rate that is left as something below it. No decision hangs on it: the monitor
//! sees every frame. Unthinned frames of up to 16 bits come to the same decision in every bit, ones thinned to
//! 1 kHz or more to the same within a cycle.

use super::ring::Ring;
use crate::frame::{BLOCK, Frame};
use crate::monitor::Monitor;
use crate::settings::CHANNELS;
use crate::snapshot::Snapshot;
use crate::time::Instant;
use heapless::Vec;

/// The most rings.
pub const RINGS: usize = 4;
/// The most events that are noted in a ring; the log has them all.
const NOTES: usize = 4;
/// The most halvings of the rate: 2^6 codes of 24 bits fit 30.
const MOST: u8 = 6;

/// What is kept of the frames.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Shape {
    /// The converter's bits: of codes wider than 16 bits the upper 16 are kept, rounded down.
    pub bits: u8,
    /// Halvings of the rate: a kept frame is the mean of 2^this frames, 0 to 6.
    pub halvings: u8,
    /// The part of a ring that lies after the trigger, in 256ths; up to a half.
    pub after: u8,
}

impl Shape {
    /// Every frame, a quarter of them after the trigger.
    #[must_use]
    pub const fn whole(bits: u8) -> Self {
        Self { bits, halvings: 0, after: 64 }
    }

    /// Thinned to 1 to 2 kHz, a quarter of it after the trigger: in 32 kB are 2.7 s at 1 kHz, in one ring or in several.
    ///
    /// ```
    /// use shaftwork_core::recorder::Shape;
    /// assert_eq!(Shape::thinned(16, 4_000_000).every(), 4);
    /// assert_eq!(Shape::thinned(16, 16_000_000).every(), 16);
    /// ```
    #[must_use]
    pub const fn thinned(bits: u8, rate_mhz: u32) -> Self {
        let times = rate_mhz / 1_000_000;
        let halvings = if times == 0 { 0 } else { times.ilog2() as u8 };
        Self { halvings: if halvings < MOST { halvings } else { MOST }, ..Self::whole(bits) }
    }

    /// How many frames a kept one is the mean of.
    #[must_use]
    pub const fn every(&self) -> u32 {
        1 << if self.halvings < MOST { self.halvings } else { MOST }
    }
}

/// An event that a capture was made for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Note {
    /// Its number in the log.
    pub sequence: u32,
    /// When.
    pub at: Instant,
}

/// A ring that stands still.
#[derive(Debug)]
pub struct Record<'r> {
    ring: &'r Ring<'r, [i16; CHANNELS]>,
    /// What was kept.
    pub shape: Shape,
    /// Where the first frame's time begins.
    pub begin: Instant,
    /// What it was captured for; the first four.
    pub notes: &'r [Note],
    /// What the monitor remembered in the older half; `None` where there was no room, or frames were missing since.
    pub snapshot: Option<&'r Snapshot>,
}

impl Record<'_> {
    /// The frames, oldest first.
    pub fn frames(&self) -> impl ExactSizeIterator<Item = [i16; CHANNELS]> + '_ {
        let mut left = self.ring.iter();
        (0..self.ring.len()).map(move |_| left.next().copied().unwrap_or_default())
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Mode {
    Free,
    Running,
    /// So many frames are still to come.
    Ending {
        left: usize,
    },
    Still,
}

#[derive(Debug)]
struct Segment<'a> {
    ring: Ring<'a, [i16; CHANNELS]>,
    mode: Mode,
    /// End of the last frame's time, in frames.
    end: u64,
    notes: Vec<Note, NOTES>,
    /// The snapshot that is kept with it.
    kept: Option<usize>,
}

impl Segment<'_> {
    /// Whether frames go into it.
    const fn runs(&self) -> bool {
        matches!(self.mode, Mode::Running | Mode::Ending { .. })
    }

    /// Where the first frame's time begins.
    fn begin(&self, shape: Shape) -> Instant {
        let length = self.ring.len() as u64 * u64::from(shape.every());
        Instant(self.end.saturating_sub(length) << 16)
    }
}

/// The latest frames, in lent memory.
///
/// ```
/// use shaftwork_core::{Frame, Monitor, Settings, recorder::{Capture, Note, Shape}};
/// let mut frames = [[0; 6]; 16];
/// let mut snapshots = [None, None];
/// let mut capture = Capture::new(&mut frames, &mut snapshots, Shape::whole(16));
/// let mut monitor = Monitor::new(&Settings::example()).unwrap();
/// for code in 1..=3 {
///     let block = [Frame([code; 6]); 8];
///     monitor.ingest(&block);
///     capture.push(&block, &monitor);
/// }
/// capture.trigger(Note { sequence: 1, at: monitor.now() });
/// assert!(capture.record().is_none(), "four more are to come");
/// capture.push(&[Frame([4; 6]); 8], &monitor);
/// let record = capture.record().unwrap();
/// assert_eq!((record.frames().next(), record.frames().last()), (Some([2; 6]), Some([4; 6])));
/// ```
#[derive(Debug)]
pub struct Capture<'a> {
    segments: Vec<Segment<'a>, RINGS>,
    snapshots: &'a mut [Option<Snapshot>],
    shape: Shape,
    after: usize,
    /// Sums of the frames that make the next kept one, and how many are in.
    sums: [i32; CHANNELS],
    summed: u32,
    /// Frames kept since the last snapshot; none taken yet in this ring.
    since: Option<usize>,
    /// How many frames of the latest event's are to come when the ring that ends stands still.
    owed: Option<(usize, Note)>,
}

impl<'a> Capture<'a> {
    /// Runs at once. There is a ring fewer than there are snapshots, one at least and four at most: two snapshots serve one
    /// ring, three serve two, so that an event soon after another is captured as well. Without snapshots waveforms are captured all the same.
    #[must_use]
    pub fn new(frames: &'a mut [[i16; CHANNELS]], snapshots: &'a mut [Option<Snapshot>], shape: Shape) -> Self {
        let shape = Shape { halvings: shape.halvings.min(MOST), after: shape.after.min(128), ..shape };
        let rings = snapshots.len().saturating_sub(1).clamp(1, RINGS);
        let size = frames.len().checked_div(rings).unwrap_or_default();
        let mut segments = Vec::new();
        let mut rest = frames;
        for _ in 0..rings {
            let Some((first, others)) = rest.split_at_mut_checked(size) else { break };
            rest = others;
            let segment = Segment { ring: Ring::new(first), mode: Mode::Free, end: 0, notes: Vec::new(), kept: None };
            let _ = segments.push(segment); // there is room for four
        }
        snapshots.fill(None);
        let after = (size * usize::from(shape.after)) >> 8;
        Self { segments, snapshots, shape, after, sums: [0; CHANNELS], summed: 0, since: None, owed: None }
    }

    /// Takes a block; `monitor` has taken it just before.
    pub fn push(&mut self, block: &[Frame; BLOCK], monitor: &Monitor) {
        let mut end = (monitor.now().0 >> 16).saturating_sub(BLOCK as u64);
        for frame in block {
            end += 1;
            for (sum, code) in self.sums.iter_mut().zip(frame.0) {
                *sum = sum.saturating_add(code);
            }
            self.summed += 1;
            if self.summed < self.shape.every() {
                continue;
            }
            let narrow = self.shape.bits.clamp(16, 32) - 16 + self.shape.halvings;
            let kept = self.sums.map(|sum| (sum >> narrow).max(i16::MIN.into()).min(i16::MAX.into()) as i16);
            self.drop_sums();
            self.keep(kept, end);
        }
        // Only between kept frames, so that a replay goes on with whole ones.
        if self.summed == 0 {
            self.remember(monitor);
        }
    }

    const fn drop_sums(&mut self) {
        self.sums = [0; CHANNELS];
        self.summed = 0;
    }

    /// The ring that runs, or the next free one, which runs from now on.
    fn running(&mut self) -> Option<&mut Segment<'a>> {
        let place = if let Some(place) = self.segments.iter().position(Segment::runs) {
            place
        } else {
            self.since = None;
            self.segments.iter().position(|segment| segment.mode == Mode::Free)?
        };
        let segment = self.segments.get_mut(place)?;
        if segment.mode == Mode::Free {
            segment.mode = Mode::Running;
        }
        Some(segment)
    }

    fn keep(&mut self, frame: [i16; CHANNELS], end: u64) {
        let Some(segment) = self.running() else { return };
        segment.ring.push(frame);
        segment.end = end;
        match segment.mode {
            Mode::Ending { left: left @ 2.. } => segment.mode = Mode::Ending { left: left - 1 },
            Mode::Ending { .. } => self.stand_still(),
            _ => self.since = self.since.map(|since| since.saturating_add(1)),
        }
    }

    /// The ring that ends stands still from now on, with the oldest snapshot that lies in it.
    fn stand_still(&mut self) {
        let Some(segment) = self.segments.iter_mut().find(|s| matches!(s.mode, Mode::Ending { .. })) else { return };
        segment.mode = Mode::Still;
        let begin = segment.begin(self.shape);
        let within = self.snapshots.iter().enumerate().filter_map(|(place, slot)| Some((place, slot.as_ref()?.at())));
        segment.kept = within.filter(|(_, at)| *at >= begin).min_by_key(|(_, at)| *at).map(|(place, _)| place);
        if let Some((left @ 1.., note)) = self.owed.take()
            && let Some(next) = self.running()
        {
            next.mode = Mode::Ending { left };
            let _ = next.notes.push(note); // it is the first
        }
    }

    /// Copies what the monitor remembers where it is due: as a ring begins, and twice in its length.
    fn remember(&mut self, monitor: &Monitor) {
        let Some(running) = self.segments.iter().find(|segment| segment.runs()) else { return };
        let due = match (running.mode, self.since) {
            (_, None) => true,
            (Mode::Running, Some(since)) => since >= running.ring.capacity() / 2,
            _ => false,
        };
        if !due {
            return;
        }
        let (segments, slots) = (&self.segments, self.snapshots.iter_mut().enumerate());
        let free = slots.filter(|(place, _)| !segments.iter().any(|segment| segment.kept == Some(*place)));
        // One that was never filled, or the oldest.
        if let Some((_, slot)) = free.min_by_key(|(_, slot)| slot.as_ref().map(Snapshot::at)) {
            *slot = Some(monitor.snapshot());
            self.since = Some(0);
        }
    }

    /// The moment to keep.
    pub fn trigger(&mut self, note: Note) {
        let after = self.after;
        let Some(segment) = self.running() else { return };
        let _ = segment.notes.push(note); // the log has those for which there is no room
        if let Mode::Ending { left } = segment.mode {
            self.owed = Some((after.saturating_sub(left), note));
        } else {
            segment.mode = Mode::Ending { left: after };
            if after == 0 {
                self.stand_still();
            }
        }
    }

    /// Frames are missing: what runs begins anew, what ends stands still as it is.
    pub fn gap(&mut self) {
        self.drop_sums();
        self.owed = None;
        self.stand_still();
        self.since = None;
        if let Some(segment) = self.segments.iter_mut().find(|s| s.mode == Mode::Running) {
            segment.ring.clear();
        }
    }

    /// The oldest one that stands still.
    #[must_use]
    pub fn record(&self) -> Option<Record<'_>> {
        let segment = self.segments.iter().filter(|s| s.mode == Mode::Still).min_by_key(|s| s.end)?;
        Some(Record {
            ring: &segment.ring,
            shape: self.shape,
            begin: segment.begin(self.shape),
            notes: &segment.notes,
            snapshot: segment.kept.and_then(|place| self.snapshots.get(place)?.as_ref()),
        })
    }

    /// The oldest one that stands still has been read: its ring is free again.
    pub fn release(&mut self) {
        let still = self.segments.iter_mut().filter(|s| s.mode == Mode::Still);
        if let Some(segment) = still.min_by_key(|s| s.end) {
            segment.ring.clear();
            segment.notes.clear();
            segment.kept = None;
            segment.mode = Mode::Free;
        }
    }
}
