//! Following the supply's frequency, and cutting half cycles.
//!
//! A phase accumulator runs with an estimated step a frame; half cycles end where it passes half a
//! turn, to a fraction of a frame. How the voltage's phasor turns against it tells how wrong the
//! step is: from one half cycle to the next while acquiring; once locked, from the first half of a
//! window to its second, 5 or 6 cycles later (f = step (1 + turn / cycles)). The positive sequence is
//! watched, or the negative one where it is clearly larger (phases in reverse order). With all voltage gone
//! the accumulator runs on as it was.
//!
//! Without voltages the currents are followed instead. Their angle turns with the load, up to an eighth of a turn from idle
//! to rated; a window's correction is taken by an eighth then, so that the frequency swings by 0.4 % at most and comes
//! back. At standstill the accumulator runs on at the frequency that was last, at first the nominal one.

use super::phasor::Phasor;
use crate::frame::BLOCK;
use crate::math::divide::signed;
use crate::math::phase::Turning;
use crate::settings::MeterCoefficients;

/// While acquiring: half cycles in a row that must agree before the step counts as locked.
const AGREE: u8 = 4;
/// ... within this turn of the phasor from one to the next, 2^-32 turns: 0.2 % of the frequency.
const CLOSE: u32 = 1 << 22;
/// Once locked: half cycles in a row that turn by more than an angle whose tangent is 2^-[`FAR`] (1/100 of a turn, 2 % of the
/// frequency) start acquisition anew.
const LOST: u8 = 6;
const FAR: u32 = 4;

/// What is known about the frequency.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
enum Mode {
    /// Half cycles correct the step; so many in a row have agreed, and so many more must pass until
    /// nothing of the step before is left in what is measured.
    Acquiring { agreed: u8, wait: u8 },
    /// Each window corrects the step; so many half cycles in a row did not agree.
    Locked { strayed: u8 },
}

/// The accumulator and what it is corrected by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) struct Track {
    /// Angle at the start of the next frame's cell; 2^32 is a turn.
    phase: u32,
    step: u32,
    /// The basis from the middle of the next frame's cell on, that of its sample.
    turning: Turning,
    mode: Mode,
    /// The phasor a half cycle ago.
    last: Option<Phasor>,
    /// Sums of the phasors of the window's two halves, and whether all of them were locked.
    halves: [(i64, i64); 2],
    counted: u8,
    sound: bool,
    /// The same sums of the window that ended last and is still to correct the step, if it was sound.
    ended: Option<[(i64, i64); 2]>,
    /// Whether the negative sequence is followed.
    reversed: bool,
}

impl Track {
    pub(super) const fn new(c: &MeterCoefficients) -> Self {
        Self {
            phase: 0,
            step: c.nominal_step,
            turning: Turning::new(c.nominal_step / 2, c.nominal_step),
            mode: Mode::Acquiring { agreed: 0, wait: 0 },
            last: None,
            halves: [(0, 0); 2],
            counted: 0,
            sound: false,
            ended: None,
            reversed: false,
        }
    }

    pub(super) const fn step(&self) -> u32 {
        self.step
    }

    /// The basis of the next block, to be turned on by it.
    pub(super) const fn turning(&mut self) -> &mut Turning {
        &mut self.turning
    }

    /// Begins the basis anew where the accumulator stands: after each change of the step, and often enough for it not to stray.
    const fn aim(&mut self) {
        self.turning = Turning::new(self.phase.wrapping_add(self.step / 2), self.step);
    }

    /// The first of the next `frames` cells in which a half cycle ends, and how much of the cell
    /// comes before the end: Q16, above zero, one when the cell's own end is meant.
    pub(super) fn first_cut(&self, frames: usize) -> Option<(usize, u32)> {
        let step = self.step.max(1);
        // To the next multiple of half a turn: 1 to 2^31.
        let to_go = (1 << 31) - (self.phase & 0x7fff_ffff);
        let whole = (to_go - 1) / step;
        if whole as usize >= frames {
            return None;
        }
        let mut rest = to_go - whole * step; // 1 ..= step
        // The share of a step at Q16, four bits at a time: a step is below 2^28 (72 Hz at 2 kHz).
        let mut weight = 0;
        for _ in 0..4 {
            rest <<= 4;
            let digit = rest / step; // 16 where the rest is all of the step
            weight = (weight << 4) + digit;
            rest -= digit * step;
        }
        Some((whole as usize, weight))
    }

    /// Moves on by a block.
    pub(super) const fn advance(&mut self) {
        self.phase = self.phase.wrapping_add(self.step.wrapping_mul(BLOCK as u32));
    }

    /// Takes the last frames of a block back.
    pub(super) const fn take_back(&mut self, frames: usize) {
        self.phase = self.phase.wrapping_sub(self.step.wrapping_mul(frames as u32));
        self.aim();
    }

    /// Takes the voltage's (without voltages the current's) positive and negative sequence of the last cycle, once a half cycle.
    /// After a window's last one [`Track::close_window`] is due.
    pub(super) fn observe(&mut self, c: &MeterCoefficients, sequences: (Phasor, Phasor), closes_window: bool) {
        let step = self.step;
        self.follow(c, sequences);
        if self.step != step {
            self.aim();
        }
        if closes_window {
            self.ended = self.sound.then_some(self.halves);
            self.halves = [(0, 0); 2];
            self.counted = 0;
            self.sound = matches!(self.mode, Mode::Locked { .. }) && self.last.is_some();
        }
    }

    /// Corrects the step by the window that has ended; gives the frequency as a step, where it is known. By itself, since angles are
    /// dear: it may come some blocks later.
    pub(super) fn close_window(&mut self, c: &MeterCoefficients) -> Option<u32> {
        let halves = self.ended.take();
        if let Some(halves) = halves {
            self.window(c, halves);
        }
        self.aim();
        halves.map(|_| self.step)
    }

    fn follow(&mut self, c: &MeterCoefficients, (positive, negative): (Phasor, Phasor)) {
        // With one line open the two are equal: keep to one, or noise would choose each time.
        let (p, n) = (positive.square(), negative.square());
        let (own, other) = if self.reversed { (n, p) } else { (p, n) };
        if (other >> 2) * 2 > (own >> 2) * 3 {
            self.reversed = !self.reversed;
            self.last = None;
            self.sound = false;
        }
        let larger = if self.reversed { negative } else { positive };
        if larger.square() < c.followed_gone {
            self.last = None;
            self.sound = false;
        } else {
            if let Some(last) = self.last {
                self.half_cycle(c, larger, last);
            } else {
                self.sound = false;
            }
            self.last = Some(larger);
            self.collect(c, larger);
        }
    }

    /// Holds a phasor against the one of half a cycle ago: how far it turned against the accumulator.
    fn half_cycle(&mut self, c: &MeterCoefficients, now: Phasor, last: Phasor) {
        match &mut self.mode {
            Mode::Acquiring { agreed, wait } => {
                let turn = now.angle_from(last);
                *agreed = if turn.unsigned_abs() < CLOSE { *agreed + 1 } else { 0 };
                if *agreed >= AGREE {
                    self.mode = Mode::Locked { strayed: 0 };
                } else if *wait > 0 {
                    *wait -= 1;
                } else {
                    // Two cycles, half a cycle apart, reach back three half cycles.
                    *wait = 2;
                    self.correct(c, i64::from(turn) * 2); // f = step (1 + 2 turn)
                }
            }
            Mode::Locked { strayed } => {
                let (along, across) = (now.dot(last), now.cross(last));
                *strayed = if across.saturating_abs() > along >> FAR { *strayed + 1 } else { 0 };
                if *strayed >= LOST {
                    self.mode = Mode::Acquiring { agreed: 0, wait: 0 };
                    self.sound = false;
                }
            }
        }
    }

    fn collect(&mut self, c: &MeterCoefficients, p: Phasor) {
        let half = usize::from(self.counted >= c.half_cycles / 2);
        if let Some((re, im)) = self.halves.get_mut(half) {
            *re += i64::from(p.re); // at most 12 of 2^31
            *im += i64::from(p.im);
        }
        self.counted = self.counted.saturating_add(1);
    }

    /// Corrects the step so that a window's two halves agree.
    fn window(&mut self, c: &MeterCoefficients, halves: [(i64, i64); 2]) {
        let [first, second] = halves.map(|(re, im)| Phasor { re: (re >> 4) as i32, im: (im >> 4) as i32 }); // 12 < 2^4
        let turn = second.angle_from(first);
        // From centre to centre there are a quarter of the half cycles, in cycles.
        let by = signed(i64::from(turn) * 4, c.half_cycles.into()).unwrap_or(0);
        self.correct(c, by >> c.follow_halvings.min(31));
    }

    /// `step *= 1 + by / 2^32`, within the followed range.
    fn correct(&mut self, c: &MeterCoefficients, by: i64) {
        // 2^28 * 2^32
        let change = (i64::from(self.step) * by) >> 32;
        let step = i64::from(self.step) + change;
        // Not `clamp`, which panics where the ends are crossed.
        self.step = step.max(i64::from(c.lowest_step)).min(i64::from(c.highest_step)) as u32;
    }
}
