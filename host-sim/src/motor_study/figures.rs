//! Figures of a motor under a recorded load.

use std::collections::VecDeque;

use shaftwork_core::judge::event::Cause;

use crate::plant::steady::Point;

/// A step of the histogram of loads, %.
const STEP_PCT: f64 = 0.1;
/// Loads of the histogram, in steps: 0 to 500 %.
const STEPS: usize = 5_000;
/// Lengths of the peaks that are kept, s.
pub const PEAKS_S: [f64; 2] = [1.0, 10.0];

/// Sums over a log.
#[derive(Debug, Clone)]
pub struct Figures {
    rated_w: f64,
    h_s: f64,
    /// Half cycles at speed.
    running: u64,
    /// Shares of rated power over them, summed, and their squares.
    load: f64,
    square: f64,
    histogram: Vec<u64>,
    /// Shares of the last half cycles, and their sums over each of [`PEAKS_S`].
    last: VecDeque<f64>,
    sums: [f64; 2],
    /// Highest means over each of [`PEAKS_S`], share of rated.
    pub peaks: [Option<f64>; 2],
    /// Highest current at speed, A.
    pub peak_a: f64,
    /// Taken in, J.
    pub electrical_j: f64,
    /// Of it while it came to speed, J.
    pub start_j: f64,
    /// Of it while the mill was empty, J.
    pub idle_j: f64,
    /// For so long, s.
    pub idle_s: f64,
    /// Reactive, var s.
    pub reactive_vars: f64,
    /// Given at the shaft at speed, J.
    pub shaft_j: f64,
    /// Starts that were broken off before it was at speed.
    pub failed: u32,
    /// Those that came to speed, and the longest, s.
    pub starts: u32,
    /// See `starts`.
    pub longest_run_up_s: Option<f64>,
    /// Times at which it was pulled out, s.
    pub pulled_out_s: Vec<f64>,
    /// Trips with their times, s.
    pub trips: Vec<(f64, Cause)>,
    /// The highest thermal level, 1 is the trip level, and when, s.
    pub hottest: Option<(f64, f64)>,
    /// Highest thermal level of each stretch of the picture, where there is one, and how long each is, s.
    pub course: Vec<Option<f64>>,
    /// See `course`.
    pub every_s: f64,
}

/// Length of a stretch of the picture to begin with, s; stretches are joined in pairs when there are too many.
const COURSE_S: f64 = 1.0;
/// Stretches at most.
const MOST: usize = 1_200;

impl Figures {
    /// Of a motor by its rating, W, in half cycles of a length, s.
    pub fn new(rated_w: f64, h_s: f64) -> Self {
        Self {
            rated_w,
            h_s,
            running: 0,
            load: 0.0,
            square: 0.0,
            histogram: vec![0; STEPS + 1],
            last: VecDeque::new(),
            sums: [0.0; 2],
            peaks: [None; 2],
            peak_a: 0.0,
            electrical_j: 0.0,
            start_j: 0.0,
            idle_j: 0.0,
            idle_s: 0.0,
            reactive_vars: 0.0,
            shaft_j: 0.0,
            failed: 0,
            starts: 0,
            longest_run_up_s: None,
            pulled_out_s: Vec::new(),
            trips: Vec::new(),
            hottest: None,
            course: Vec::new(),
            every_s: COURSE_S,
        }
    }

    /// A half cycle: at a point, after it came to speed or before, with the mill empty or not.
    pub fn add(&mut self, point: &Point, up: bool, idle: bool) {
        let joules = point.input_w * self.h_s;
        self.electrical_j += joules;
        self.reactive_vars += reactive_var(point) * self.h_s;
        if !up {
            self.start_j += joules;
            self.breaks();
            return;
        }
        if idle {
            self.idle_j += joules;
            self.idle_s += self.h_s;
        }
        let share = point.shaft_w / self.rated_w;
        self.shaft_j += point.shaft_w * self.h_s;
        self.running += 1;
        self.load += share;
        self.square += share * share;
        self.peak_a = self.peak_a.max(point.current_a);
        // What is negative is none, what is beyond is the last; the cast saturates.
        self.histogram[((share * 100.0 / STEP_PCT).floor().max(0.0) as usize).min(STEPS)] += 1;
        self.last.push_back(share);
        for ((sum, peak), length_s) in self.sums.iter_mut().zip(&mut self.peaks).zip(PEAKS_S) {
            // At least one; small.
            let n = (length_s / self.h_s).round().max(1.0) as usize;
            *sum += share;
            if self.last.len() > n {
                *sum -= self.last[self.last.len() - 1 - n];
            }
            if self.last.len() >= n {
                let mean = *sum / n as f64;
                *peak = Some(peak.map_or(mean, |peak| peak.max(mean)));
            }
        }
        let most = (PEAKS_S[1] / self.h_s).round() as usize + 1;
        if self.last.len() > most {
            self.last.pop_front();
        }
    }

    /// Time is broken: means do not reach over it.
    pub fn breaks(&mut self) {
        self.last.clear();
        self.sums = [0.0; 2];
    }

    /// The thermal level at a time, s; every half cycle.
    pub fn see(&mut self, t_s: f64, thermal: Option<f64>) {
        let Some(level) = thermal else { return };
        if self.hottest.is_none_or(|(most, _)| level > most) {
            self.hottest = Some((level, t_s));
        }
        while t_s >= self.every_s * MOST as f64 {
            self.every_s *= 2.0;
            let highest = |pair: &[Option<f64>]| pair.iter().flatten().copied().reduce(f64::max);
            self.course = self.course.chunks(2).map(highest).collect();
        }
        let at = (t_s / self.every_s) as usize;
        if self.course.len() <= at {
            self.course.resize(at + 1, None);
        }
        self.course[at] = Some(self.course[at].map_or(level, |most| most.max(level)));
    }

    /// Time at speed, s.
    pub fn running_s(&self) -> f64 {
        self.running as f64 * self.h_s
    }

    /// Mean load at speed, share of rated.
    pub fn mean(&self) -> Option<f64> {
        (self.running > 0).then(|| self.load / self.running as f64)
    }

    /// Root of the mean square of the load at speed, share of rated: what sizes a motor (usual rule of duty cycles,
    /// P_rms = root of sum P² t over sum t).
    pub fn rms(&self) -> Option<f64> {
        (self.running > 0).then(|| (self.square / self.running as f64).sqrt())
    }

    /// The load below which it is 95 % of the time at speed, share of rated; to 0.1 %.
    pub fn p95(&self) -> Option<f64> {
        let wanted = 0.95 * self.running as f64;
        let mut below = 0;
        let at = self.histogram.iter().position(|n| {
            below += n;
            below as f64 >= wanted
        })?;
        (self.running > 0).then(|| (at as f64 + 0.5) * STEP_PCT / 100.0)
    }

    /// Active over apparent, by energies.
    pub fn power_factor(&self) -> Option<f64> {
        let apparent = self.electrical_j.hypot(self.reactive_vars);
        (apparent > 0.0).then(|| self.electrical_j / apparent)
    }

    /// Shares of the time at speed by load: the upper end of each step, share of rated, and how much of the time lies above.
    pub fn above(&self) -> Vec<(f64, f64)> {
        let all = self.running.max(1) as f64;
        let mut left = self.running;
        let mut out = vec![(0.0, 1.0)];
        for (at, n) in self.histogram.iter().enumerate().filter(|(_, n)| **n > 0) {
            left -= n;
            out.push(((at + 1) as f64 * STEP_PCT / 100.0, left as f64 / all));
        }
        out
    }
}

/// Reactive power of a point, var.
pub fn reactive_var(point: &Point) -> f64 {
    let apparent = if point.power_factor == 0.0 { 0.0 } else { point.input_w / point.power_factor };
    (apparent * apparent - point.input_w * point.input_w).max(0.0).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plant::circuit::Circuit;

    fn at(shaft_w: f64) -> Point {
        Point { shaft_w, ..Circuit::mill_55_kw().at_slip(0.01) }
    }

    /// The rule of duty cycles, P_rms = root of sum P² t over sum t: 60 kW for 10 s, 20 kW for 30 s: 34.6 kW (by hand).
    #[test]
    fn rms_of_a_duty_cycle() {
        let mut figures = Figures::new(40e3, 0.01);
        for n in 0..4_000 {
            figures.add(&at(if n < 1_000 { 60e3 } else { 20e3 }), true, false);
        }
        assert!((figures.rms().unwrap() * 40.0 - 1_200f64.sqrt()).abs() < 1e-9);
        assert!((figures.mean().unwrap() * 40.0 - 30.0).abs() < 1e-9);
        assert!((figures.p95().unwrap() - 1.5005).abs() < 1e-9, "{:?}", figures.p95());
        assert!(figures.peaks.iter().all(|peak| (peak.unwrap() - 1.5).abs() < 1e-9));
        let above = figures.above();
        assert!((above[1].1 - 0.25).abs() < 1e-9 && above[2].1.abs() < 1e-9, "{above:?}");
    }

    /// A peak of a second is a mean over a second, one of ten over ten; a break in time ends both.
    #[test]
    fn peaks_are_means() {
        let mut figures = Figures::new(10e3, 0.01);
        for n in 0..2_000 {
            figures.add(&at(if (1_000..1_050).contains(&n) { 20e3 } else { 0.0 }), true, true);
        }
        assert!((figures.peaks[0].unwrap() - 1.0).abs() < 1e-9 && (figures.peaks[1].unwrap() - 0.1).abs() < 1e-9);
        let mut short = Figures::new(10e3, 0.01);
        for n in 0..300 {
            if n % 60 == 0 {
                short.breaks();
            }
            short.add(&at(20e3), true, true);
        }
        assert_eq!(short.peaks, [None; 2]);
    }
}
