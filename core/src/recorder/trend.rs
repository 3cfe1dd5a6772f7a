//! Trend: load, current, speed and thermal level of the last seconds, half cycle by half cycle, and the feed beside them.
//!
//! A [`Point`] takes four bytes: 20 s of half cycles at 50 Hz are 8 kB, a minute of two cycles a point 6 kB. Where a point stands for several
//! half cycles it has their mean load, largest current, lowest speed and last thermal level. The feed is kept window by window, two
//! bytes each: 128 of them are 26 s.

use super::account::Account;
use super::point::{Figures, Point};
use super::ring::Ring;
use crate::judge::event::{Event, EventKind, State};
use crate::judge::report::{Interval, Moment};
use crate::math::divide::{by, signed};
use crate::math::root::isqrt;
use crate::math::scale::{Scale, ratio_q};
use crate::settings::JudgeCoefficients;
use crate::time::Span;

/// One at Q24 in millionths: applied by `>> 24`.
const MILLIONTHS: i64 = 1_000_000;
/// No feed is told.
const NO_FEED: u16 = u16::MAX;

/// Q24 in millionths.
#[inline(never)] // in four places
const fn millionths(q24: i64) -> i64 {
    q24.saturating_mul(MILLIONTHS) >> 24
}

/// What makes shares of figures.
#[derive(Debug, Clone, Copy)]
struct Units {
    /// Watts Q16 -> share of rated power, Q24.
    load: Scale,
    /// Three square amps, Q34 -> share of rated current's, Q24.
    square: Scale,
    /// Synchronous speed at rated frequency, bits of `Rpm`, not nothing.
    synchronous: u64,
    /// Half a cycle of rated frequency.
    half: Span,
    seconds_per_frame: Scale,
}

/// What a point that is not whole yet has gathered.
#[derive(Debug, Clone, Copy, Default)]
struct Gathered {
    figures: Figures,
    number: u8,
}

/// The last seconds, in lent memory.
///
/// ```
/// use shaftwork_core::{Moment, Settings, recorder::{Point, Trend}};
/// let c = Settings::example().build().unwrap().judge;
/// let (mut points, mut feeds) = ([Point::default(); 100], [0; 5]);
/// let mut trend = Trend::new(&c, &mut points, &mut feeds, 2);
/// for _ in 0..100 {
///     trend.moment(&Moment::default());
/// }
/// assert_eq!(trend.points().count(), 50);
/// ```
#[derive(Debug)]
pub struct Trend<'a> {
    points: Ring<'a, Point>,
    /// Grams a second.
    feeds: Ring<'a, u16>,
    units: Units,
    every: u8,
    gathered: Gathered,
    /// Total fed at the last window, mg, and how long that was.
    fed: Option<u64>,
    window: Span,
    state: State,
    /// Points since the state was last another of: starting, running, neither.
    even: u32,
}

impl<'a> Trend<'a> {
    /// Empty. A point stands for `every` half cycles, one at least.
    #[must_use]
    pub fn new(c: &JudgeCoefficients, points: &'a mut [Point], feeds: &'a mut [u16], every: u8) -> Self {
        Self {
            points: Ring::new(points),
            feeds: Ring::new(feeds),
            units: Units {
                load: c.motor.load,
                square: c.motor.square_to_unit,
                synchronous: u64::from(c.motor.synchronous_rpm.unsigned_abs().max(1)),
                half: Span(u64::from(c.motor.rated_cycle) / 2),
                seconds_per_frame: c.seconds_per_frame,
            },
            every: if every == 0 { 1 } else { every },
            gathered: Gathered::default(),
            fed: None,
            window: Span::ZERO,
            state: State::Unknown,
            even: 0,
        }
    }

    /// Takes a half cycle.
    pub fn moment(&mut self, moment: &Moment) {
        let largest = moment.half_cycle.current.into_iter().max().unwrap_or_default();
        // Three times a square over three times rated current's: Q24, whose root is Q12.
        let square = self.units.square.apply(i64::try_from(largest.0.saturating_mul(3)).unwrap_or(i64::MAX));
        let square = square.max(0).unsigned_abs().min((1 << 40) - 1);
        let g = &mut self.gathered;
        let before = core::mem::take(&mut g.figures);
        let first = g.number == 0;
        let speed = moment
            .speed
            .map(|rpm| millionths(ratio_q(rpm.to_bits().unsigned_abs().into(), self.units.synchronous, 24).into()));
        g.figures = Figures {
            load: before.load.saturating_add(millionths(self.units.load.apply(moment.shaft.to_bits()))),
            current: before.current.max(millionths(i64::from(isqrt(square << 24)))),
            speed: if first { speed } else { before.speed.zip(speed).map(|(a, b)| a.min(b)) },
            thermal: moment.thermal.map(|level| millionths(level.to_bits().into())),
        };
        g.number += 1;
        let kind = |state: State| (state.running(), state == State::Starting);
        if kind(moment.state) != kind(self.state) {
            self.even = 0;
        }
        self.state = moment.state;
        if g.number < self.every {
            return;
        }
        let Gathered { figures, number } = core::mem::take(&mut self.gathered);
        let load = signed(figures.load, number.into()).unwrap_or_default();
        self.points.push(Point::pack(&Figures { load, ..figures }));
        self.even = self.even.saturating_add(1);
    }

    /// Takes a window: what was fed in it.
    pub fn interval(&mut self, interval: &Interval) {
        let before = core::mem::replace(&mut self.fed, interval.mass_mg);
        let rate = before.zip(interval.mass_mg).map_or(NO_FEED, |(before, now)| {
            let mg = i64::try_from(now.saturating_sub(before)).unwrap_or(i64::MAX);
            // Seconds at Q24. Grams a second from milligrams, rounded.
            let seconds =
                self.units.seconds_per_frame.up(24).apply(i64::try_from(interval.window.length.0 >> 16).unwrap_or(0));
            let rate = signed(mg.min(1 << 38) << 24, seconds).unwrap_or_default().saturating_add(500);
            by(rate, 1_000).max(0).min(i64::from(NO_FEED) - 1) as u16
        });
        self.feeds.push(rate);
        self.window = interval.window.length;
    }

    /// Samples are missing: what was gathered is dropped, and nothing before counts as what led to anything.
    fn gap(&mut self) {
        self.gathered = Gathered::default();
        self.fed = None;
        self.even = 0;
        self.feeds.push(NO_FEED);
    }

    /// Takes an event: what came before it, where it is a decision about the load.
    pub fn event(&mut self, event: &Event) -> Option<Account> {
        match event.kind {
            EventKind::Trip { cause, .. } | EventKind::Alarm { cause, .. } if cause.of_load() => {
                Some(Account::of(self))
            }
            EventKind::Gap { .. } => {
                self.gap();
                None
            }
            _ => None,
        }
    }

    /// The points, oldest first.
    pub fn points(&self) -> impl DoubleEndedIterator<Item = Point> + '_ {
        self.points.iter().copied()
    }

    /// What was fed in the last windows, g/s, oldest first; `None` where it is not known.
    pub fn feeds(&self) -> impl DoubleEndedIterator<Item = Option<u16>> + '_ {
        self.feeds.iter().map(|rate| (*rate != NO_FEED).then_some(*rate))
    }

    /// The state that holds.
    pub(super) const fn state(&self) -> State {
        self.state
    }

    /// Points since it began to start, or to run, or neither.
    pub(super) const fn even(&self) -> usize {
        self.even as usize
    }

    /// How long a window is.
    pub(super) const fn window(&self) -> Span {
        self.window
    }

    /// Ten half cycles, as nearly as points tell: a tenth of a second at 50 Hz.
    pub(super) const fn points_of_a_tenth(&self) -> usize {
        match 10_usize.checked_div(self.every as usize) {
            Some(points @ 1..) => points,
            _ => 1,
        }
    }

    /// How long a point is, at rated frequency.
    pub(super) fn step(&self) -> Span {
        Span(self.units.half.0.saturating_mul(self.every.into()))
    }
}
