//! The only loop: a trace's rows become frames, the core takes them in blocks of eight, and whatever it
//! reports is handed on at once and in order.
//!
//! The core's clock is the count of frames; a gap lets it pass on without them. Rows of rms values are no frames: they
//! go to the judge alone, through [`super::rms`].

use std::ops::Range;

use shaftwork_core::judge::event::{Event, EventKind};
use shaftwork_core::judge::report::{Interval, Moment, Totals};
use shaftwork_core::record::{Phasors, Window};
use shaftwork_core::time::{Instant, Span};
use shaftwork_core::unit::Rpm;
use shaftwork_core::{BLOCK, FeedInputs, Frame, Monitor};

use super::progress::Progress;
use super::pulses::Bad;
use super::rms::{Rms, Row};
use super::side::Side;
use super::source::Source;
use super::waves::Waves;
use crate::capture::state::Begin;
use crate::closed::hands::Hands;
use crate::convert::Converter;
use crate::error::Fault;
use crate::report::number::{frames_s, seconds};
use crate::report::{MARKS, Mark};
use crate::trace::{Reader as _, Rows};

/// One frame, Q16.
const FRAME: u64 = 1 << 16;

/// Takes what the core is given and what it reports, in order.
pub trait Listener {
    /// What the core is given: a block of eight frames, or fewer at the end, and what is new beside them.
    ///
    /// # Errors
    /// It cannot be written.
    fn frames(&mut self, _frames: &[Frame], _news: &News) -> anyhow::Result<()> {
        Ok(())
    }
    /// How long that is, and what is new beside it; a row of rms values is told so as well.
    fn passes(&mut self, _length: Span, _news: &News) {}
    /// The trace has a note here.
    ///
    /// # Errors
    /// It cannot be what it seems to be.
    fn mark(&mut self, _now: Instant, _note: &str) -> anyhow::Result<()> {
        Ok(())
    }
    /// The core is told of a gap.
    ///
    /// # Errors
    /// There must be none.
    fn gap(&mut self, _length: Span) -> anyhow::Result<()> {
        Ok(())
    }
    /// The phasors of the interval that follows.
    fn phasors(&mut self, _window: &Window, _phasors: &Phasors) {}
    /// A half cycle is over.
    ///
    /// # Errors
    /// It cannot be written.
    fn moment(&mut self, _moment: &Moment) -> anyhow::Result<()> {
        Ok(())
    }
    /// The core's sums, after the half cycles that are over.
    fn totals(&mut self, _totals: &Totals) {}
    /// An interval is over.
    ///
    /// # Errors
    /// It cannot be written.
    fn interval(&mut self, _interval: &Interval) -> anyhow::Result<()> {
        Ok(())
    }
    /// Something happened.
    ///
    /// # Errors
    /// It cannot be written.
    fn event(&mut self, _event: &Event) -> anyhow::Result<()> {
        Ok(())
    }
    /// The core's clock stands here now, and all that it had to say is said.
    ///
    /// # Errors
    /// What waited for this moment cannot be written.
    fn clock(&mut self, _now: Instant) -> anyhow::Result<()> {
        Ok(())
    }
}

/// What is new beside the frames of a block.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct News {
    /// Mass fed so far, mg, where it changed.
    pub mass_mg: Option<u64>,
    /// Speed by the tachometer where that changed: `Some(None)` when it says nothing any more.
    pub speed: Option<Option<Rpm>>,
    /// What the inputs of the feed tell, where that changed.
    pub feed: Option<FeedInputs>,
}

/// What is known at the end of a trace.
#[derive(Debug, Clone, PartialEq)]
pub struct End {
    /// Frames read.
    pub frames: u64,
    /// All time, gaps included.
    pub clock: Instant,
    /// The core's sums.
    pub totals: Totals,
    /// The first markers of the trace.
    pub marks: Vec<Mark>,
    /// What there is to say of channels without waves, or of a log's power.
    pub waves: Option<String>,
}

/// What the rows of a trace go to.
pub enum Core<'a> {
    /// Samples, as converter codes: meter and judge.
    Samples(Box<Monitor>, &'a Converter),
    /// rms values: the judge alone.
    Rms(Box<Rms>),
}

/// The core with the block that is being filled.
struct Loop<'a> {
    core: Core<'a>,
    side: &'a mut Side,
    listener: &'a mut dyn Listener,
    block: [Frame; BLOCK],
    filled: usize,
    frames: u64,
    clock: Instant,
    /// What the core was told last.
    told: News,
    /// Frames before the snapshot that the core began with, and the first frame of the trace by the core's own count.
    skip: u64,
    base: Instant,
    /// Whether the mill runs.
    runs: bool,
    /// What the decisions go to, where the trace is made while it is replayed.
    hands: Option<&'a Hands>,
}

/// Replays a trace from where it stands to its end.
///
/// # Errors
/// The trace is at fault, or the listener refuses.
pub fn drive(
    source: &mut Source,
    side: &mut Side,
    core: Core<'_>,
    begin: Option<&Begin>,
    listener: &mut dyn Listener,
) -> anyhow::Result<End> {
    let mut progress = (!source.silent).then(|| Progress::new(&source.path));
    let hands = source.hands.clone();
    let (mut rows, mut frames, mut marks) = (Rows::new(), Vec::new(), Vec::new());
    let mut waves = Waves::default();
    let block = [Frame::default(); BLOCK];
    let mut run = Loop {
        core,
        side,
        listener,
        block,
        filled: 0,
        frames: 0,
        clock: Instant::default(),
        told: News::default(),
        skip: 0,
        base: Instant::default(),
        runs: false,
        hands: hands.as_ref(),
    };
    if let Some(begin) = begin {
        run.begin(begin);
    }
    loop {
        let count = source.reader.read(&mut rows)?;
        if let Core::Samples(_, converter) = run.core {
            waves.take(&rows, &source.selection);
            let column = |at: Option<usize>| at.and_then(|at| rows.columns.get(at)).map_or(&[][..], Vec::as_slice);
            frames.resize(count, Frame::default());
            converter.frames(source.selection.electrical.map(column), &mut frames);
        }
        let mut gaps = rows.restarts.iter().peekable();
        let mut notes = rows.marks.iter().peekable();
        let mut done = 0;
        while done < count {
            while let Some((_, length_s)) = gaps.next_if(|(at, _)| *at <= done) {
                run.gap(*length_s, source.rate_hz)?;
            }
            while let Some((_, note)) = notes.next_if(|(at, _)| *at <= done) {
                run.listener.mark(run.clock, note)?;
                if marks.len() < MARKS {
                    marks.push(Mark { t_s: seconds(frames_s(run.clock.0, source.rate_hz)), note: note.clone() });
                }
            }
            // As far as nothing has to be told in between.
            let next = [gaps.peek().map(|(at, _)| *at), notes.peek().map(|(at, _)| *at)];
            let until = next.into_iter().flatten().fold(count, usize::min);
            match run.core {
                Core::Samples(..) => run.frames(&rows, &frames, source, done..until)?,
                Core::Rms(_) => run.rms(&rows, source, done..until)?,
            }
            done = until;
        }
        for (_, length_s) in gaps {
            run.gap(*length_s, source.rate_hz)?;
        }
        if count == 0 {
            break;
        }
        if let Some(progress) = &mut progress {
            progress.at(source.reader.progress());
        }
    }
    run.finish()?;
    let waves = match &run.core {
        Core::Samples(..) => waves.warning(),
        Core::Rms(rms) => rms.warning(),
    };
    Ok(End { frames: run.frames, clock: run.clock, totals: *run.core.totals(), marks, waves })
}

impl Loop<'_> {
    /// Begins where a board's monitor was.
    fn begin(&mut self, begin: &Begin) {
        if let Core::Samples(monitor, _) = &mut self.core {
            begin.restore(monitor);
            (self.skip, self.base) = (begin.skip(), begin.base());
        }
    }

    /// A moment of the core's by the trace's clock.
    const fn ours(&self, at: Instant) -> Instant {
        Instant(at.since(self.base).0)
    }

    /// Takes some rows, already converted: whole blocks go to the core, what is left waits.
    fn frames(&mut self, rows: &Rows, frames: &[Frame], source: &Source, taken: Range<usize>) -> anyhow::Result<()> {
        let mut done = taken.start;
        if self.skip > 0 {
            let skipped = usize::try_from(self.skip).unwrap_or(usize::MAX).min(taken.len());
            self.skip -= skipped as u64;
            self.frames += skipped as u64;
            self.clock = self.clock.after(Span(skipped as u64 * FRAME));
            self.listener.passes(Span(skipped as u64 * FRAME), &News::default());
            done += skipped;
        }
        while done < taken.end {
            let until = taken.end.min(done + BLOCK - self.filled);
            let count = until - done;
            self.side.take(rows, done..until).map_err(|bad| no_pulse(source, self.frames + 1, bad))?;
            self.block[self.filled..self.filled + count].copy_from_slice(&frames[done..until]);
            self.filled += count;
            self.frames += count as u64;
            self.clock = self.clock.after(Span(count as u64 * FRAME));
            if self.filled == BLOCK {
                self.filled = 0;
                let news = self.news();
                self.listener.frames(&self.block, &news)?;
                self.listener.passes(Span(BLOCK as u64 * FRAME), &news);
                if let Core::Samples(monitor, _) = &mut self.core {
                    monitor.ingest(&self.block);
                    if let Some(hands) = self.hands {
                        hands.take(&monitor.decision(), self.runs, BLOCK);
                    }
                }
                self.drain()?;
            }
            done = until;
        }
        Ok(())
    }

    /// Takes some rows of rms values, half cycle by half cycle.
    fn rms(&mut self, rows: &Rows, source: &Source, taken: Range<usize>) -> anyhow::Result<()> {
        for at in taken {
            let row = Row::at(rows, &source.selection, at);
            if let Core::Rms(rms) = &self.core
                && let Some((found, wanted, mend)) = rms.fault(&row)
            {
                let t_s = self.frames as f64 / source.rows_hz;
                let fault = Fault::new(&*source.path, found).at(format!("row {}, {t_s:.3} s", self.frames + 1));
                return Err(fault.wanted(wanted).mend(mend).into());
            }
            self.side.take(rows, at..at + 1).map_err(|bad| no_pulse(source, self.frames + 1, bad))?;
            let news = self.news();
            self.frames += 1;
            if let Core::Rms(rms) = &mut self.core {
                self.listener.passes(rms.row_length(), &news);
                rms.take(&row);
            }
            while let Core::Rms(rms) = &mut self.core
                && rms.advance()
            {
                self.clock = rms.now();
                self.drain()?;
            }
        }
        Ok(())
    }

    /// Tells the core what changed with the block that follows.
    fn news(&mut self) -> News {
        let mass_mg = self.side.mass_mg().filter(|mg| self.told.mass_mg != Some(*mg));
        if let Some(mg) = mass_mg {
            match &mut self.core {
                Core::Samples(monitor, _) => monitor.set_mass(mg),
                Core::Rms(rms) => rms.set_mass(mg),
            }
            self.told.mass_mg = mass_mg;
        }
        let speed = self.side.has_speed().then(|| self.side.speed()).filter(|rpm| self.told.speed != Some(*rpm));
        if let Some(rpm) = speed {
            match &mut self.core {
                Core::Samples(monitor, _) => monitor.set_speed(rpm),
                Core::Rms(rms) => rms.set_speed(rpm),
            }
            self.told.speed = speed;
        }
        let feed = self.hands.map(Hands::inputs).filter(|inputs| self.told.feed != Some(*inputs));
        if let (Some(inputs), Core::Samples(monitor, _)) = (feed, &mut self.core) {
            monitor.set_feed(inputs);
            self.told.feed = feed;
        }
        News { mass_mg, speed, feed }
    }

    /// What was begun is closed; then the core's clock passes over the gap, in whole frames.
    fn gap(&mut self, length_s: f64, rate_hz: f64) -> anyhow::Result<()> {
        self.finish()?;
        // A cast holds what is no number at 0; 2^40 frames are two years at 16 kHz.
        let length = Span(((length_s * rate_hz).round() as u64).min(1 << 40) * FRAME);
        self.listener.gap(length)?;
        self.side.gap(length_s);
        match &mut self.core {
            Core::Samples(monitor, _) => monitor.gap(length),
            Core::Rms(rms) => rms.gap(length),
        }
        self.clock = self.clock.after(length);
        self.drain()
    }

    fn finish(&mut self) -> anyhow::Result<()> {
        let news = self.news();
        let count = std::mem::take(&mut self.filled);
        self.listener.passes(Span(count as u64 * FRAME), &news);
        if let Core::Samples(monitor, _) = &mut self.core {
            self.listener.frames(&self.block[..count], &news)?;
            monitor.finish(&self.block[..count]);
        }
        self.drain()
    }

    fn drain(&mut self) -> anyhow::Result<()> {
        while let Some(mut m) = self.core.take_moment() {
            self.runs = m.state.running();
            m.half_cycle.end = self.ours(m.half_cycle.end);
            self.listener.moment(&m)?;
        }
        self.listener.totals(self.core.totals());
        while let Some(mut i) = self.core.take_interval() {
            i.window.end = self.ours(i.window.end);
            if let Core::Samples(monitor, _) = &self.core {
                self.listener.phasors(&i.window, &monitor.phasors());
            }
            self.listener.interval(&i)?;
        }
        while let Some(mut e) = self.core.pop_event() {
            e.at = self.ours(e.at);
            if let EventKind::RunUp { onset, .. } = &mut e.kind {
                *onset = self.ours(*onset);
            }
            self.listener.event(&e)?;
        }
        self.listener.clock(self.clock)
    }
}

/// A fault of the column of pulses, in this row or one of the seven after it.
fn no_pulse(source: &Source, row: u64, (found, wanted): Bad) -> Fault {
    let place = format!("row {row} or soon after, {:.3} s of rows", (row - 1) as f64 / source.rows_hz);
    Fault::new(&*source.path, found)
        .at(place)
        .wanted(wanted)
        .mend("see [mass] pulses in docs/formats.md, or correct the column")
}

impl Core<'_> {
    fn totals(&self) -> &Totals {
        match self {
            Self::Samples(monitor, _) => monitor.totals(),
            Self::Rms(rms) => rms.totals(),
        }
    }

    fn take_moment(&mut self) -> Option<Moment> {
        match self {
            Self::Samples(monitor, _) => monitor.take_moment(),
            Self::Rms(rms) => rms.take_moment(),
        }
    }

    fn take_interval(&mut self) -> Option<Interval> {
        match self {
            Self::Samples(monitor, _) => monitor.take_interval(),
            Self::Rms(rms) => rms.take_interval(),
        }
    }

    fn pop_event(&mut self) -> Option<Event> {
        match self {
            Self::Samples(monitor, _) => monitor.pop_event(),
            Self::Rms(rms) => rms.pop_event(),
        }
    }
}
