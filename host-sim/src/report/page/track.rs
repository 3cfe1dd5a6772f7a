//! A track: readings of any length of time in a bounded number of slots, each with the lowest, the mean and the
//! highest of its readings, so that a peak never vanishes.
//!
//! Slots begin about one cycle wide. When there would be too many, neighbours are joined and all become twice as wide:
//! a day ends with slots of some ten seconds, whatever was not known beforehand.

use base64::Engine as _;
use base64::prelude::BASE64_STANDARD;
use serde::Serialize;
use std::collections::BTreeMap;

use super::reading::{QUANTITIES, Reading};

/// Width of a slot in the beginning, s: no half cycle of a supply of 42 Hz or more leaves one empty.
const NARROWEST_S: f64 = 0.024;
const N: usize = QUANTITIES.len();

/// The code of what is not known; figures have those below.
const UNKNOWN: u16 = u16::MAX;

/// One quantity within one slot.
#[derive(Debug, Clone, Copy)]
struct Span {
    low: f32,
    high: f32,
    sum: f64,
    count: u32,
}

impl Span {
    const EMPTY: Self = Self { low: f32::INFINITY, high: f32::NEG_INFINITY, sum: 0.0, count: 0 };

    fn add(&mut self, value: f64) {
        if value.is_finite() {
            self.low = self.low.min(value as f32);
            self.high = self.high.max(value as f32);
            self.sum += value;
            self.count += 1;
        }
    }

    fn join(self, other: Self) -> Self {
        Self {
            low: self.low.min(other.low),
            high: self.high.max(other.high),
            sum: self.sum + other.sum,
            count: self.count + other.count,
        }
    }
}

#[derive(Debug, Clone, Copy)]
struct Slot {
    spans: [Span; N],
    /// Time in each state, s.
    states: [f32; 6],
}

impl Slot {
    const EMPTY: Self = Self { spans: [Span::EMPTY; N], states: [0.0; 6] };

    fn join(mut self, other: &Self) -> Self {
        for (a, b) in self.spans.iter_mut().zip(other.spans) {
            *a = a.join(b);
        }
        for (a, b) in self.states.iter_mut().zip(other.states) {
            *a += b;
        }
        self
    }
}

/// Readings from a moment on.
#[derive(Debug, Clone)]
pub struct Track {
    from_s: f64,
    width_s: f64,
    most: usize,
    slots: Vec<Slot>,
}

impl Track {
    /// An empty track from a moment on, with so many slots at most (an even number).
    pub fn new(from_s: f64, most: usize) -> Self {
        Self { from_s, width_s: NARROWEST_S, most: most.max(2) & !1, slots: Vec::new() }
    }

    /// Takes a reading; one from before the track's beginning is left out.
    pub fn add(&mut self, reading: &Reading) {
        // The middle of the half cycle says where it belongs.
        let at_s = reading.t_s - reading.length_s / 2.0 - self.from_s;
        if at_s.is_nan() || at_s < 0.0 {
            return;
        }
        while at_s / self.width_s >= self.most as f64 {
            self.widen();
        }
        let at = (at_s / self.width_s) as usize; // below `most`
        if at >= self.slots.len() {
            self.slots.resize(at + 1, Slot::EMPTY);
        }
        let slot = &mut self.slots[at];
        for (span, value) in slot.spans.iter_mut().zip(reading.values) {
            span.add(value);
        }
        if let Some(time) = slot.states.get_mut(reading.state) {
            *time += reading.length_s as f32;
        }
    }

    /// Joins neighbours.
    fn widen(&mut self) {
        let joined = self.slots.chunks(2).map(|pair| match pair {
            [a, b] => a.join(b),
            [a] => *a,
            _ => Slot::EMPTY,
        });
        self.slots = joined.collect();
        self.width_s *= 2.0;
    }

    /// The first `quantities` of the track as the page takes them.
    pub fn pack(&self, quantities: usize) -> Packed {
        let mut series = BTreeMap::new();
        for (at, name) in QUANTITIES.iter().enumerate().take(quantities) {
            let spans: Vec<Span> = self.slots.iter().map(|slot| slot.spans[at]).collect();
            if let Some(packed) = Series::new(&spans, self.width_s > NARROWEST_S) {
                series.insert(*name, packed);
            }
        }
        let states: Vec<u8> = self.slots.iter().flat_map(|slot| shares(&slot.states)).collect();
        Packed {
            from_s: self.from_s,
            width_s: self.width_s,
            slots: self.slots.len(),
            series,
            states: BASE64_STANDARD.encode(states),
        }
    }
}

#[cfg(test)]
impl Track {
    /// The slots that know a quantity, with its mean.
    pub(super) fn known(&self, quantity: &str) -> Vec<(usize, f64)> {
        let at = QUANTITIES.iter().position(|name| *name == quantity).unwrap();
        let spans = self.slots.iter().map(|slot| slot.spans[at]).enumerate();
        spans.filter(|(_, span)| span.count > 0).map(|(slot, span)| (slot, span.sum / f64::from(span.count))).collect()
    }
}

/// What is all of a slot's time.
const ALL: f32 = 250.0;

/// The states' shares of the time of a slot, 0 to 250; all 0 when nothing is known.
fn shares(states: &[f32; 6]) -> [u8; 6] {
    let sum: f32 = states.iter().sum();
    // A share lies between 0 and 250; 0 of 0 is no number, which a cast makes 0.
    states.map(|time| (time / sum * ALL).round() as u8)
}

/// A track as it stands in the page.
#[derive(Debug, Serialize)]
pub struct Packed {
    from_s: f64,
    width_s: f64,
    slots: usize,
    series: BTreeMap<&'static str, Series>,
    /// Six bytes a slot: the states' shares of its time, 0 to 250; base64.
    states: String,
}

/// Figures as codes of 16 bits, little endian, base64: `low + code / 65534 x (high - low)`; 65535 is not known.
#[derive(Debug, Serialize)]
struct Series {
    low: f64,
    high: f64,
    min: String,
    max: String,
    /// Left out where slots are about a cycle wide: they hold two or three readings.
    #[serde(skip_serializing_if = "Option::is_none")]
    mean: Option<String>,
}

impl Series {
    /// `None` when nothing is known.
    fn new(spans: &[Span], with_mean: bool) -> Option<Self> {
        let known = || spans.iter().filter(|s| s.count > 0);
        let low = f64::from(known().map(|s| s.low).reduce(f32::min)?);
        let high = f64::from(known().map(|s| s.high).reduce(f32::max)?);
        let step = if high > low { (high - low) / f64::from(UNKNOWN - 1) } else { 1.0 };
        let pack = |value: &dyn Fn(&Span) -> f64| {
            let code = |s: &Span| {
                if s.count == 0 { UNKNOWN } else { ((value(s) - low) / step).round().clamp(0.0, 65_534.0) as u16 }
            };
            BASE64_STANDARD.encode(spans.iter().flat_map(|s| code(s).to_le_bytes()).collect::<Vec<u8>>())
        };
        Some(Self {
            low,
            high: low + step * f64::from(UNKNOWN - 1),
            min: pack(&|s| f64::from(s.low)),
            max: pack(&|s| f64::from(s.high)),
            mean: with_mean.then(|| pack(&|s| s.sum / f64::from(s.count))),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn reading(t_s: f64, value: f64) -> Reading {
        Reading { t_s, length_s: 0.01, values: [value; N], state: 3 }
    }

    /// What the script makes of a series.
    fn unpack(series: &Series, text: &str) -> Vec<Option<f64>> {
        let bytes = BASE64_STANDARD.decode(text).unwrap();
        let codes = bytes.as_chunks::<2>().0.iter().map(|pair| u16::from_le_bytes(*pair));
        let step = (series.high - series.low) / 65_534.0;
        codes.map(|c| (c != UNKNOWN).then(|| series.low + f64::from(c) * step)).collect()
    }

    #[test]
    fn a_day_keeps_its_only_peak_and_its_mean() {
        let mut track = Track::new(0.0, 8_192);
        let count = 24 * 3_600 * 100_u32;
        for k in 1..=count {
            track.add(&reading(f64::from(k) / 100.0, if k == 4_321_000 { 900.0 } else { 100.0 }));
        }
        let packed = track.pack(N);
        assert!(packed.slots <= 8_192 && packed.slots > 4_096, "{}", packed.slots);
        let series = &packed.series["shaft_kw"];
        let highest = unpack(series, &series.max).into_iter().flatten().fold(0.0, f64::max);
        assert!((highest - 900.0).abs() < 1e-3, "{highest}");
        let means = unpack(series, series.mean.as_ref().unwrap());
        assert!(means.iter().flatten().all(|m| (m - 100.0).abs() < 1.5));
    }

    #[test]
    fn states_share_a_slot() {
        assert_eq!(shares(&[0.0, 0.0, 1.0, 3.0, 0.0, 0.0]), [0, 0, 63, 188, 0, 0]);
        assert_eq!(shares(&[0.0; 6]), [0; 6]);
    }

    #[test]
    fn what_is_not_known_stays_so() {
        let mut track = Track::new(0.0, 100);
        track.add(&reading(0.01, 5.0));
        track.add(&reading(1.00, f64::NAN));
        let packed = track.pack(1);
        let series = &packed.series["shaft_kw"];
        let known: Vec<usize> =
            unpack(series, &series.max).iter().enumerate().filter_map(|(k, v)| v.map(|_| k)).collect();
        assert_eq!((known, packed.series.len()), (vec![0], 1));
        assert!(Track::new(0.0, 100).pack(N).series.is_empty());
        let states = BASE64_STANDARD.decode(packed.states).unwrap();
        assert_eq!((&states[..6], &states[6..12]), (&[0, 0, 0, 250, 0, 0][..], &[0; 6][..]));
    }

    proptest! {
        /// However many readings come, the extremes are kept within a step and the slots stay bounded.
        #[test]
        fn extremes_are_kept(values in proptest::collection::vec(-1e3..1e3_f64, 1..600), most in 1_usize..40) {
            let mut track = Track::new(0.0, most);
            for (k, value) in values.iter().enumerate() {
                track.add(&reading((k + 1) as f64 / 100.0, *value));
            }
            let packed = track.pack(1);
            prop_assert!(packed.slots <= most.max(2));
            let series = &packed.series["shaft_kw"];
            let step = (series.high - series.low) / 65_534.0 + 1e-3;
            let high = unpack(series, &series.max).into_iter().flatten().fold(f64::MIN, f64::max);
            let low = unpack(series, &series.min).into_iter().flatten().fold(f64::MAX, f64::min);
            prop_assert!((high - values.iter().copied().fold(f64::MIN, f64::max)).abs() <= step);
            prop_assert!((low - values.iter().copied().fold(f64::MAX, f64::min)).abs() <= step);
        }
    }
}
