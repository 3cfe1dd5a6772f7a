//! METER: blocks of frames -> [`HalfCycle`] and [`Window`] records. Knows nothing of motors.
//!
//! ```text
//! frames ─ accumulate ─┬─ running totals ─ as they were at boundaries ─┬─ closing of the cycle ── HalfCycle
//!          (8 a block) │                                               └─ closing of the window ─ Window
//!               basis ─┘ track: phase accumulator, corrected each half cycle or window
//! ```
//!
//! What closes a half cycle or a window is a list of steps, a few a block, counted by blocks and so
//! by frames: results never depend on how frames arrive.
//!
//! Formulas: P = mean(v i), Q1 = sum Im(V1 conj I1), S = sum V I (arithmetic), THD referred to the
//! fundamental: IEEE 1459-2010. Windows of 10 or 12 cycles: IEC 61000-4-30.

mod accumulate;
mod closing;
mod delta;
mod fit;
mod mean;
mod output;
pub(crate) mod pairs;
mod phases;
mod phasor;
mod sums;
mod track;

use crate::frame::{BLOCK, Frame};
use crate::record::{HalfCycle, Phasors, Window};
use crate::settings::{MAX_PAIRS, MeterCoefficients, Wiring};
use crate::time::{Instant, Span};
use crate::unit::Joules;
pub(crate) use accumulate::Range;
use accumulate::{Block, amend, inside};
use closing::{Closing, Direct, STEPS};
use phases::Phases;
use sums::{Stretch, Sums};
use track::Track;

/// Closing steps a block, so that a half cycle of 72 Hz is closed before the next one ends.
pub(crate) const fn steps_per_block(rate_mhz: u32) -> u8 {
    // rate / 144 frames a half cycle, 8 a block; one block less, to hand out the record. One step more than the list, to begin,
    // and one that is left for the window, which has at least twenty half cycles.
    let (steps, blocks) = (STEPS + 2, (rate_mhz / 144_000 / BLOCK as u32).saturating_sub(1));
    match (steps + blocks).saturating_sub(1).checked_div(blocks) {
        Some(steps) => steps as u8,
        None => steps as u8,
    }
}

/// A half cycle that is being closed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
enum Pending {
    Nothing,
    /// Ended, not looked at yet.
    Ended,
    /// Being closed.
    Closing,
    /// Closed, not handed out yet.
    Closed,
}

/// What is known of a half cycle when it ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
struct Mark {
    end: Instant,
    length: Span,
    closes_window: bool,
    /// Whether it ended by itself, not because the trace did.
    whole: bool,
    energy: i64,
}

impl Mark {
    const NONE: Self = Self { end: Instant(0), length: Span(0), closes_window: false, whole: true, energy: 0 };
}

/// What is done next for a window: the frequency is followed, its sums are closed in steps, then its figures are made, a part a block:
/// roots and quotients are dear.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
enum Part {
    Frequency,
    Sums,
    Powers,
    VoltageDistortion,
    CurrentDistortion,
}

/// A window that is being closed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
struct WindowMark {
    part: Part,
    end: Instant,
    /// The frequency as a phase step, where it is known.
    step: Option<u32>,
}

/// The meter's memory. Configuration is passed in.
///
/// ```
/// use shaftwork_core::{Frame, meter::Meter, settings::Settings};
/// let c = Settings::example().build().unwrap().meter;
/// let mut meter = Meter::new(&c);
/// for _ in 0..100 {
///     meter.ingest(&c, &[Frame::default(); 8]); // 0.2 s of nothing
/// }
/// assert!(meter.take_half_cycle().is_some());
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Meter {
    track: Track,
    /// Whether windings that are joined in delta otherwise are in star just now.
    star: bool,
    /// End of the last whole cell that was accumulated, frames.
    frames: u64,
    /// The totals of all frames.
    total: Sums,
    /// What they were where the last three half cycles ended, in turn.
    ends: [Sums; 3],
    turn: u8,
    /// Where the half cycle that is being gathered began.
    began: Instant,
    cycle: Closing,
    pending: Pending,
    mark: Mark,
    half_cycles: u8,
    /// The totals where the last window ended, and where it began.
    window: [Sums; 2],
    window_closing: Closing,
    window_mark: Option<WindowMark>,
    /// The last half cycle that was closed, and whether it waits to be taken. A fragment at the end of a trace has the figures
    /// of the one before.
    last: Option<HalfCycle>,
    fresh: bool,
    /// The last window that was closed, or is under way, and whether it waits to be taken.
    window_out: Option<Window>,
    window_fresh: bool,
}

impl Meter {
    /// Nothing seen yet; the frequency is taken as nominal.
    #[must_use]
    #[inline(never)]
    pub const fn new(c: &MeterCoefficients) -> Self {
        Self {
            track: Track::new(c),
            star: false,
            frames: 0,
            total: Sums::ZERO,
            ends: [Sums::ZERO; 3],
            turn: 0,
            began: Instant(0),
            cycle: Closing::new(Direct::Kept),
            pending: Pending::Nothing,
            mark: Mark::NONE,
            half_cycles: 0,
            window: [Sums::ZERO; 2],
            window_closing: Closing::new(Direct::Removed),
            window_mark: None,
            last: None,
            fresh: false,
            window_out: None,
            window_fresh: false,
        }
    }

    /// Starts anew at a later moment, as after missing samples: `frames` is the count of the next. One by one where they lie: a whole
    /// meter made beside this one would be the deepest that a board's stack goes. The totals run on, whatever they are: all that is
    /// taken of them is differences.
    pub fn restart(&mut self, c: &MeterCoefficients, frames: u64) {
        // All of them by name: one that is added must not be forgotten here.
        let Self {
            track,
            star,
            frames: count,
            total,
            ends,
            turn,
            began,
            cycle,
            pending,
            mark,
            half_cycles,
            window,
            window_closing,
            window_mark,
            last,
            fresh,
            window_out,
            window_fresh,
        } = self;
        (*track, *star) = (Track::new(c), false);
        (*count, *began) = (frames, Instant(frames << 16));
        ends.fill(*total);
        window.fill(*total);
        *turn = 0;
        cycle.begin();
        window_closing.begin();
        (*pending, *mark, *half_cycles) = (Pending::Nothing, Mark::NONE, 0);
        *window_mark = None;
        (*last, *fresh) = (None, false);
        (*window_out, *window_fresh) = (None, false);
    }

    /// Whether the windings are in star from the next block on: with transformers inside the delta a winding's current is then
    /// the line's. Delta at first, and after [`Meter::restart`].
    pub const fn in_star(&mut self, star: bool) {
        self.star = star;
    }

    /// Takes eight frames. Bounded work: the sums of a block, and a few steps of closing or a record to hand out, for which
    /// others have work to do then.
    pub fn ingest(&mut self, c: &MeterCoefficients, frames: &[Frame; BLOCK]) {
        if self.pending == Pending::Closed {
            self.hand_out_half_cycle(c);
        } else if self.pending != Pending::Nothing || self.window_mark.is_some() {
            self.work(c);
        }
        self.gather(c, frames, BLOCK);
    }

    /// The steps of a block. A window has time for twenty half cycles: where a half cycle has blocks to spare, each step of a window
    /// waits for a block in which nothing else is closed, for half that time.
    #[inline]
    fn work(&mut self, c: &MeterCoefficients) {
        let most = c.steps_per_block;
        let patient = most <= 4 && self.half_cycles < c.half_cycles / 2;
        let mut done = 0;
        while done < most {
            let window = matches!(self.pending, Pending::Nothing | Pending::Closed);
            if window && patient && done > 0 || !self.step(c) {
                break;
            }
            // A figure of a window is dear.
            done += if window && (patient || self.makes_figures()) { most } else { 1 };
        }
    }

    /// Takes the last 0 to 7 frames of a trace and closes what is open; further frames beyond 7 are
    /// left out.
    ///
    /// Call [`Meter::take_half_cycle`] before: this hands out the half cycle that was being closed,
    /// if any, and [`Meter::flush`] the last, short one.
    pub fn finish(&mut self, c: &MeterCoefficients, rest: &[Frame]) {
        self.close(c);
        let mut block = [Frame::default(); BLOCK];
        let count = rest.len().min(BLOCK - 1);
        for (to, from) in block.iter_mut().zip(rest) {
            *to = *from;
        }
        self.gather(c, &block, count);
    }

    /// Closes the last, short half cycle. Call until it gives nothing.
    pub fn flush(&mut self, c: &MeterCoefficients) -> Option<HalfCycle> {
        if self.close_last(c) { self.take_half_cycle() } else { None }
    }

    /// The same, left to be taken; whether there was one.
    pub(crate) fn close_last(&mut self, c: &MeterCoefficients) -> bool {
        self.close(c);
        if !self.fresh && self.gathering().frames() > 0 {
            self.end_half_cycle(c, Instant(self.frames << 16), false);
            *newest_end(&mut self.ends, self.turn) = self.total;
            self.close(c);
        }
        self.fresh
    }

    /// The half cycle that was closed since the last call. At most one a block.
    pub const fn take_half_cycle(&mut self) -> Option<HalfCycle> {
        if let Some(half) = self.newest() { Some(*half) } else { None }
    }

    /// The same where it lies: a copy of a record costs as much as its sums.
    pub(crate) const fn newest(&mut self) -> Option<&mut HalfCycle> {
        if !self.fresh {
            return None;
        }
        self.fresh = false;
        self.last.as_mut()
    }

    /// Whether the next block may hand out a half cycle: then [`Meter::last`] is another. Where a block takes all steps, the one in
    /// which the next half cycle ends closes this one and hands it out.
    pub(crate) const fn may_hand_out(&self, c: &MeterCoefficients) -> bool {
        match self.pending {
            Pending::Nothing => false,
            Pending::Ended | Pending::Closing => c.steps_per_block as u32 > STEPS,
            Pending::Closed => true,
        }
    }

    /// The half cycle that was closed last, taken or not.
    pub(crate) const fn last(&self) -> Option<&HalfCycle> {
        self.last.as_ref()
    }

    /// The window that was closed since the last call.
    pub fn take_window(&mut self) -> Option<Window> {
        self.made_window().copied()
    }

    /// The same where it lies.
    #[inline]
    pub(crate) const fn made_window(&mut self) -> Option<&Window> {
        if !self.window_fresh {
            return None;
        }
        self.window_fresh = false;
        self.window_out.as_ref()
    }

    /// Whether a window's figures are being made.
    #[inline]
    fn makes_figures(&self) -> bool {
        self.window_mark.is_some_and(|mark| !matches!(mark.part, Part::Frequency | Part::Sums))
    }

    /// The channels' fundamentals in the window that was closed last, while nothing newer is being closed: read them
    /// together with [`Meter::take_window`].
    #[must_use]
    pub fn phasors(&self) -> Phasors {
        Phasors(self.window_closing.phasor.map(|x| (x.re, x.im)))
    }

    /// The frames taken so far.
    #[must_use]
    pub const fn frames(&self) -> u64 {
        self.frames
    }

    /// What was gathered since the last half cycle ended.
    const fn gathering(&self) -> Stretch<'_> {
        let [begin, ..] = in_turn(&self.ends, self.turn);
        Stretch { end: &self.total, begin }
    }

    fn gather(&mut self, c: &MeterCoefficients, frames: &[Frame; BLOCK], count: usize) {
        // Codes that are at the converter's end, or are those of windings, become others.
        let (mut own, clipped);
        let frames = if c.delta.is_none() && inside(frames, c.range) {
            clipped = 0;
            frames
        } else {
            own = *frames;
            clipped = amend(c, self.star, &mut own);
            &own
        };
        let block = Block::new(frames, self.track.turning());
        let cut = self.track.first_cut(count);
        self.track.advance();
        let clipped = self.total.clipped.wrapping_add(clipped);
        if let Some((f, weight)) = cut {
            let end = Instant(((self.frames + f as u64) << 16) + u64::from(weight));
            self.end_half_cycle(c, end, true);
            let ended = newest_end(&mut self.ends, self.turn);
            block.cut(c, f, weight, count, &mut self.total, ended);
            ended.clipped = clipped;
        } else if count == BLOCK {
            block.add(c, &mut self.total);
        } else {
            let mut nowhere = Sums::ZERO;
            block.cut(c, count, 0, count, &mut self.total, &mut nowhere);
        }
        if count < BLOCK {
            self.track.take_back(BLOCK - count);
        }
        self.total.clipped = clipped;
        self.frames += count as u64;
    }

    /// Ends the half cycle that was gathered; the totals at its end are the caller's to note. `whole`: it ended by itself, not
    /// because the trace did.
    fn end_half_cycle(&mut self, c: &MeterCoefficients, end: Instant, whole: bool) {
        // By the schedule the one before is closed by now; if not, that comes first.
        self.close_half_cycle(c);
        self.turn = if self.turn < 2 { self.turn + 1 } else { 0 };
        self.half_cycles += u8::from(whole);
        let closes_window = whole && self.half_cycles >= c.half_cycles;
        if closes_window {
            self.half_cycles = 0;
        }
        self.mark = Mark { end, length: end.since(self.began), closes_window, whole, energy: 0 };
        self.pending = Pending::Ended;
        self.began = end;
    }

    /// Closes all that is open.
    #[cold]
    fn close(&mut self, c: &MeterCoefficients) {
        self.close_half_cycle(c);
        while self.step_window(c) {}
    }

    /// Closes the half cycle that has ended and hands it out.
    fn close_half_cycle(&mut self, c: &MeterCoefficients) {
        while matches!(self.pending, Pending::Ended | Pending::Closing) {
            self.step(c);
        }
        if self.pending == Pending::Closed {
            self.hand_out_half_cycle(c);
        }
    }

    /// One step, of the half cycle first; false when there was none to do.
    fn step(&mut self, c: &MeterCoefficients) -> bool {
        match self.pending {
            Pending::Ended => self.begin(c),
            Pending::Closing => {
                let cycle = cycle(&self.ends, self.turn);
                if self.cycle.advance(c, cycle, self.track.step()) {
                    self.pending = Pending::Closed;
                }
            }
            Pending::Nothing | Pending::Closed => return self.step_window(c),
        }
        true
    }

    /// One step of closing a window; false when there was none to do.
    fn step_window(&mut self, c: &MeterCoefficients) -> bool {
        let Some(mark) = &mut self.window_mark else { return false };
        if mark.part == Part::Frequency {
            mark.step = self.track.close_window(c);
            mark.part = Part::Sums;
            return true;
        }
        let [end, begin] = &self.window;
        let sums = Stretch { end, begin };
        if mark.part == Part::Sums {
            if self.window_closing.advance(c, sums, self.track.step()) {
                mark.part = Part::Powers;
            }
            return true;
        }
        let closing = &self.window_closing;
        let phases = Phases::derive(c.wiring, &closing.product, &closing.phasor);
        let window = self.window_out.get_or_insert_default();
        match mark.part {
            Part::VoltageDistortion => {
                window.voltage_distortion = output::voltage_distortion(c, closing, &phases);
                mark.part = Part::CurrentDistortion;
            }
            Part::CurrentDistortion => {
                window.current_distortion = output::current_distortion(c, closing, &phases);
                self.window_fresh = true;
                self.window_mark = None;
            }
            _ => {
                (window.end, window.frequency) = (mark.end, output::frequency(c, mark.step));
                output::window(c, window, sums, &phases);
                mark.part = Part::VoltageDistortion;
            }
        }
        true
    }

    /// The first step of a half cycle: its energy, and the window's ends.
    fn begin(&mut self, c: &MeterCoefficients) {
        self.mark.energy = output::energy(c, half_cycle(&self.ends, self.turn));
        self.cycle.begin();
        if self.mark.closes_window {
            // By the schedule the window before is closed by now: it had twenty half cycles.
            while self.step_window(c) {}
            let [end, begin] = &mut self.window;
            *begin = *end;
            *end = *newest_end(&mut self.ends, self.turn);
            self.window_closing.begin();
        }
        self.pending = Pending::Closing;
    }

    #[inline(never)]
    fn hand_out_half_cycle(&mut self, c: &MeterCoefficients) {
        let mark = self.mark;
        let phases = Phases::derive(c.wiring, &self.cycle.product, &self.cycle.phasor);
        let sequences = phasor::sequence(phases.star_phasor);
        // Half a cycle and a fragment of one is no cycle: rms over it is off by up to a tenth.
        let fragment = !mark.whole && self.last.is_some();
        let half = self.last.get_or_insert_default();
        if !fragment {
            output::half_cycle(half, &self.cycle, cycle(&self.ends, self.turn), &phases, sequences);
        }
        let mut energy = mark.energy;
        if self.cycle.power_change != 0 {
            let change = crate::unit::Watts::from_bits(self.cycle.power_change);
            energy = energy.saturating_add(mark.length.energy(change, c.seconds_per_frame).to_bits());
        }
        half.end = mark.end;
        half.length = mark.length;
        half.energy = Joules::from_bits(energy);
        half.clipped = half_cycle(&self.ends, self.turn).clipped();
        half.closes_window = mark.closes_window;
        let followed =
            if c.wiring == Wiring::CurrentsOnly { phasor::sequence(phases.current_phasor) } else { sequences };
        self.track.observe(c, followed, mark.closes_window);
        if mark.closes_window {
            self.window_mark = Some(WindowMark { part: Part::Frequency, end: mark.end, step: None });
        }
        self.fresh = true;
        self.pending = Pending::Nothing;
    }
}

/// The totals where the half cycles ended: the newest, the one before, and the one before that.
const fn in_turn([a, b, c]: &[Sums; 3], turn: u8) -> [&Sums; 3] {
    match turn {
        0 => [a, c, b],
        1 => [b, a, c],
        _ => [c, b, a],
    }
}

const fn newest_end([a, b, c]: &mut [Sums; 3], turn: u8) -> &mut Sums {
    match turn {
        0 => a,
        1 => b,
        _ => c,
    }
}

/// The half cycle that ended last.
const fn half_cycle(ends: &[Sums; 3], turn: u8) -> Stretch<'_> {
    let [end, begin, _] = in_turn(ends, turn);
    Stretch { end, begin }
}

/// The cycle that ended with it.
const fn cycle(ends: &[Sums; 3], turn: u8) -> Stretch<'_> {
    let [end, _, begin] = in_turn(ends, turn);
    Stretch { end, begin }
}

const _: () = assert!(MAX_PAIRS == 15, "the widest wiring has 15 products");

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::Settings;

    /// Nothing of what was before a gap is left: it gives what a new meter gives.
    #[test]
    fn a_meter_that_restarts_is_a_new_one_at_a_later_moment() {
        let c = Settings::example().build().unwrap().meter;
        let block = |n: i32, by: i32| core::array::from_fn(|k| Frame([by * ((n * 8 + k as i32) % 80 - 40); 6]));
        let mut meter = Meter::new(&c);
        meter.in_star(true);
        for n in 0..317 {
            meter.ingest(&c, &block(n, 300));
        }
        assert!(meter.window_out.is_some() && meter.half_cycles > 0 && meter.pending != Pending::Nothing);
        meter.restart(&c, 5_000);
        let mut new = Meter { frames: 5_000, began: Instant(5_000 << 16), ..Meter::new(&c) };
        let (mut halves, mut windows) = (0, 0);
        for n in 0..400 {
            for meter in [&mut meter, &mut new] {
                meter.ingest(&c, &block(n, 211));
            }
            let (half, window) = (meter.take_half_cycle(), meter.take_window());
            assert_eq!((half, window), (new.take_half_cycle(), new.take_window()), "block {n}");
            assert_eq!(window.map(|_| meter.phasors()), window.map(|_| new.phasors()));
            (halves, windows) = (halves + u32::from(half.is_some()), windows + u32::from(window.is_some()));
        }
        assert!(halves > 70 && windows > 2, "{halves} half cycles, {windows} windows");
    }
}
