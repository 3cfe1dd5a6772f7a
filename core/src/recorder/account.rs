//! Account: what came before a decision, from the trend, in a few bytes.
//!
//! The load's last 25 s, in means of a tenth of a second, are searched for a change of level ([`super::change`]), and the feed's windows likewise.
//!
//! | lead | when, first that holds |
//! |---|---|
//! | `Start` | the motor has not run up |
//! | `Short` | less than a second is known since it ran up, or since samples were missing |
//! | `Even` | the load has no change of 10 % of rated power |
//! | `Stall` | it fell, and the current has been above twice rated current since: nothing turns |
//! | `Fall` | it fell |
//! | `Strike` | it rose within 0.6 s: no feed does that |
//! | `Feed` | it rose, and the feed had risen by a twentieth within the 15 s before it |
//! | `Rise` | else |
//!
//! An account tells what came first. That is no proof of a cause: a person has to look.

use super::change::{ALIKE, Change, INDEPENDENT, MOST, find, mean};
use super::trend::Trend;
use crate::judge::event::State;
use crate::math::divide::{signed, unsigned};
use crate::time::Span;

/// What came first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum Lead {
    /// The motor was starting.
    Start,
    /// Too little is known.
    Short,
    /// The load was even.
    Even,
    /// The load fell, for the rotor stalled.
    Stall,
    /// The load fell.
    Fall,
    /// The feed rose, and then the load.
    Feed,
    /// The load rose at once.
    Strike,
    /// The load rose, and no feed is known to have risen before.
    Rise,
}

/// How the feed rose.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct FeedRise {
    /// By how many thousandths of what it was; `None` where there was none before.
    pub by_permille: Option<u16>,
    /// Within this time, a window more or less.
    pub within: Span,
    /// How long before the load it began.
    pub ahead: Span,
}

/// What came before a decision. Loads are shaft power over rated power, %; times count half cycles of rated frequency.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Account {
    /// What came first.
    pub lead: Lead,
    /// Mean load before the change; where there was none, of all that is known.
    pub before_pct: i16,
    /// Mean load after it, up to the decision.
    pub after_pct: i16,
    /// Mean load of the last tenth of a second.
    pub last_pct: i16,
    /// How long before the decision the change began; of a start, when the current came; where the load was even, for how long.
    pub ago: Span,
    /// How long the change took.
    pub within: Span,
    /// How the feed rose; with [`Lead::Feed`] alone.
    pub feed: Option<FeedRise>,
}

/// A change of so many tenths of a per cent is one.
const LEAST_CHANGE: u32 = 100;
/// The feed has risen where it is a twentieth more, thousandths.
const LEAST_RISE: i64 = 50;
/// Windows, of 0.2 s, between a feed's rise and the load's: belt and chamber pass it on within seconds (common practice, no source).
const LONGEST_LEAD: usize = 75;
/// Bins of 0.1 s in which a strike rises.
const STRIKE: usize = 6;
/// With less load than before, a current above this is that of a rotor that does not turn.
const STALLED_PCT: u16 = 200;
/// Bins that must be known.
const LEAST_KNOWN: usize = 10;

/// The latest values of a series, oldest first.
struct Series {
    values: [i32; MOST],
    number: usize,
}

impl Series {
    /// From values that come newest first.
    fn of(newest_first: impl Iterator<Item = i32>) -> Self {
        let mut series = Self { values: [0; MOST], number: 0 };
        for (place, value) in series.values.iter_mut().rev().zip(newest_first) {
            *place = value;
            series.number += 1;
        }
        series
    }

    fn get(&self) -> &[i32] {
        self.values.get(MOST.saturating_sub(self.number)..).unwrap_or_default()
    }
}

const fn times(span: Span, number: usize) -> Span {
    Span(span.0.saturating_mul(number as u64))
}

impl Account {
    /// Of a decision that is taken now.
    pub(super) fn of(trend: &Trend<'_>) -> Self {
        let step = trend.step();
        let per = trend.points_of_a_tenth();
        let bin = times(step, per);
        let known = trend.points().rev().take(trend.even());
        let mut load = known.map(|point| i32::from(point.load_pct()) * 10);
        let load = Series::of(core::iter::from_fn(|| {
            let mut sum = 0;
            for _ in 0..per {
                sum += load.next()?;
            }
            sum.checked_div(per as i32)
        }));
        let values = load.get();
        let percent = |tenths: i32| (tenths / 10) as i16;
        let account = Self {
            lead: Lead::Even,
            before_pct: percent(mean(values)),
            after_pct: percent(mean(values)),
            last_pct: percent(values.last().copied().unwrap_or_default()),
            ago: times(step, trend.even()),
            within: Span::ZERO,
            feed: None,
        };
        if trend.state() == State::Starting {
            return Self { lead: Lead::Start, ..account };
        }
        if values.len() < LEAST_KNOWN {
            return Self { lead: Lead::Short, ..account };
        }
        let Some(change) = find(values, ALIKE).filter(|change| change.from.abs_diff(change.to) >= LEAST_CHANGE) else {
            return Self { ago: times(bin, values.len()), ..account };
        };
        let (ago, length) = (times(bin, values.len() - change.begins), change.ends - change.begins + 1);
        let account = Self {
            before_pct: percent(change.from),
            after_pct: percent(change.to),
            ago,
            within: times(bin, length),
            ..account
        };
        if change.to < change.from {
            let since = per.saturating_mul(values.len() - change.ends);
            let held = trend.points().rev().take(since).all(|point| point.current_pct() > STALLED_PCT);
            return Self { lead: if held { Lead::Stall } else { Lead::Fall }, ..account };
        }
        if length <= STRIKE {
            return Self { lead: Lead::Strike, ..account };
        }
        let feed = rise(trend, times(step, trend.even()), ago);
        Self { lead: if feed.is_some() { Lead::Feed } else { Lead::Rise }, feed, ..account }
    }
}

/// How the feed rose within the time that is known, in a window that began before the load rose, so long `ago`.
fn rise(trend: &Trend<'_>, known: Span, ago: Span) -> Option<FeedRise> {
    let window = trend.window();
    let windows = unsigned(known.0, window.0)?;
    let feeds = trend.feeds().rev().map_while(|rate| rate).take(usize::try_from(windows).unwrap_or(usize::MAX));
    // Down to twelve bits: the search is of that width.
    let most = trend.feeds().flatten().max().unwrap_or_default();
    let drop = (u16::BITS - most.leading_zeros()).saturating_sub(12);
    let feed = Series::of(feeds.map(|rate| i32::from(rate >> drop)));
    let Change { from, to, begins, ends } = find(feed.get(), INDEPENDENT)?;
    let (rise, began) = (i64::from(to) - i64::from(from), times(window, feed.number - begins));
    if rise * 1_000 < i64::from(from) * LEAST_RISE
        || rise <= 0
        || began < ago
        || began.less(ago) > times(window, LONGEST_LEAD)
    {
        return None;
    }
    let by_permille = signed(rise * 1_000, from.into()).map(|by| by.min(u16::MAX.into()) as u16);
    Some(FeedRise { by_permille, within: times(window, ends - begins + 1), ahead: began.less(ago) })
}
