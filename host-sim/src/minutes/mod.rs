//! Minutes: what a log says, brought to whole minutes of UTC.
//!
//! Shifts, bands of a tariff and blocks of demand begin at whole minutes, so sums over minutes are exact. A row that straddles a
//! minute's end is shared out by time: it is one reading of a meter, within which nothing more is known. Time is counted in whole
//! microseconds, so that times add up to the last one.

mod second;

pub use second::Second;

/// Microseconds in a minute.
pub const MINUTE_US: i64 = 60_000_000;

/// States in the order of the outputs: stopped, starting, idle, breaking, coasting, unknown.
pub const STATES: [&str; 6] = ["stopped", "starting", "idle", "breaking", "coasting", "unknown"];
/// Their places.
pub const STARTING: usize = 1;
/// See [`STARTING`].
pub const IDLE: usize = 2;
/// See [`STARTING`].
pub const BREAKING: usize = 3;
/// See [`STARTING`].
pub const UNKNOWN: usize = 5;

/// What one row of a log says of its time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row {
    /// Its begin, µs of UTC since 1970.
    pub from_us: i64,
    /// Its end.
    pub to_us: i64,
    /// Mean active power taken in, kW; not negative.
    pub kw: f64,
    /// Mean power given back, kW; not negative.
    pub back_kw: f64,
    /// Mean reactive power, kvar; `None`: not told.
    pub kvar: Option<f64>,
    /// Share of its time in each state; they add up to 1.
    pub states: [f64; 6],
    /// Share of its energy in each state; they add up to 1.
    pub energy: [f64; 6],
    /// Load over rated, %; `None`: not told.
    pub load_pct: Option<f64>,
    /// The highest mean over a second that ends in it, %; `None`: there is none, or it is not told.
    pub peak_pct: Option<f64>,
    /// Whether it tells its highest second.
    pub seconds: bool,
    /// The feeder's mean set point, %, and the share of its time at 100 %; `None`: not told.
    pub feed: Option<[f64; 2]>,
    /// Share of its time above rated load.
    pub above: f64,
    /// What was fed, kg.
    pub kg: f64,
    /// Share of its time for which the feed was stopped by the core.
    pub held: f64,
    /// Starts that began in it.
    pub starts: u32,
    /// Trips in it.
    pub trips: u32,
}

/// A minute, or as much of it as is known.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Bin {
    /// How much of it was measured, µs.
    pub us: i64,
    /// Time in each state, µs; together all that was measured.
    pub states_us: [i64; 6],
    /// Energy taken in by state, kWh.
    pub kwh: [f64; 6],
    /// Energy given back, kWh.
    pub back_kwh: f64,
    /// Reactive energy, kvarh.
    pub kvarh: f64,
    /// How much of it has reactive power, µs.
    pub kvar_us: i64,
    /// Load times time, % µs, while it ran, and that time.
    pub load: [f64; 2],
    /// The highest mean load over a second, %.
    pub peak_pct: Option<f64>,
    /// How much of the running time has its seconds told, µs.
    pub seconds_us: f64,
    /// The feeder's set point times time, % µs, while it ran, and that time.
    pub feed: [f64; 2],
    /// Time of it at 100 %, µs.
    pub feed_full_us: f64,
    /// Time above rated load, µs.
    pub above_us: f64,
    /// Fed, kg.
    pub kg: f64,
    /// Time for which the feed was stopped, µs.
    pub held_us: f64,
    /// Starts.
    pub starts: u32,
    /// Trips.
    pub trips: u32,
}

impl Bin {
    /// Energy taken in, kWh.
    pub fn total_kwh(&self) -> f64 {
        self.kwh.iter().sum()
    }

    /// Whether reactive energy is told throughout what is measured, but for 0.5 % of it.
    pub const fn reactive_told(&self) -> bool {
        self.kvar_us > 0 && self.us - self.kvar_us <= self.us / 200
    }

    /// Power factor from energies, where reactive energy is told throughout.
    pub fn power_factor(&self) -> Option<f64> {
        let kwh = self.total_kwh();
        (self.reactive_told() && kwh > 0.0).then(|| kwh / kwh.hypot(self.kvarh))
    }

    /// Takes a part of a row: `us` of it in this minute; counts belong to where the row ends.
    pub fn add(&mut self, row: &Row, us: i64, ends: bool) {
        let whole_us = (row.to_us - row.from_us) as f64;
        let share = us as f64 / whole_us;
        let hours = us as f64 / 3.6e9;
        self.us += us;
        let mut left = us;
        for (at, part) in row.states.iter().enumerate() {
            // What rounding leaves goes to the last state, which is unknown; a row of one state leaves nothing.
            let own = if at == UNKNOWN { left } else { ((us as f64 * part).round() as i64).min(left) };
            left -= own;
            self.states_us[at] += own;
            self.kwh[at] += row.kw * hours * row.energy[at];
        }
        self.back_kwh += row.back_kw * hours;
        if let Some(kvar) = row.kvar {
            self.kvarh += kvar * hours;
            self.kvar_us += us;
        }
        let runs = row.states[IDLE] + row.states[BREAKING];
        let runs_us = runs * us as f64;
        if let Some(mean) = row.load_pct.filter(|_| runs > 0.0) {
            self.load[0] += mean * runs_us;
            self.load[1] += runs_us;
            self.seconds_us += if row.seconds { runs_us } else { 0.0 };
            self.peak_pct = highest(self.peak_pct, row.peak_pct);
        }
        if let Some([mean, full]) = row.feed.filter(|_| runs > 0.0) {
            self.feed[0] += mean * runs_us;
            self.feed[1] += runs_us;
            self.feed_full_us += full * us as f64;
        }
        self.above_us += row.above * us as f64;
        self.held_us += row.held * us as f64;
        self.kg += row.kg * share;
        if ends {
            self.starts += row.starts;
            self.trips += row.trips;
        }
    }

    /// Both together.
    pub fn join(&mut self, other: &Self) {
        self.us += other.us;
        for at in 0..6 {
            self.states_us[at] += other.states_us[at];
            self.kwh[at] += other.kwh[at];
        }
        self.back_kwh += other.back_kwh;
        self.kvarh += other.kvarh;
        self.kvar_us += other.kvar_us;
        self.load[0] += other.load[0];
        self.load[1] += other.load[1];
        self.seconds_us += other.seconds_us;
        self.peak_pct = highest(self.peak_pct, other.peak_pct);
        self.feed[0] += other.feed[0];
        self.feed[1] += other.feed[1];
        self.feed_full_us += other.feed_full_us;
        self.above_us += other.above_us;
        self.held_us += other.held_us;
        self.kg += other.kg;
        self.starts += other.starts;
        self.trips += other.trips;
    }
}

/// The share of time at 100 % of a feeder that is set so.
pub fn full(pct: f64) -> f64 {
    // Set points are told to a tenth of a per cent.
    f64::from(u8::from(pct > 99.95))
}

/// The higher of two, where there are any.
fn highest(a: Option<f64>, b: Option<f64>) -> Option<f64> {
    a.into_iter().chain(b).reduce(f64::max)
}

/// Minutes in order of time, those of which nothing is known among them.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Bins {
    /// The first one, minutes of UTC since 1970.
    pub first: i64,
    /// From the first on.
    pub bins: Vec<Bin>,
}

impl Bins {
    /// Takes a row; rows come in order of time.
    pub fn add(&mut self, row: &Row) {
        let mut from = row.from_us;
        while from < row.to_us {
            let minute = from.div_euclid(MINUTE_US);
            let to = row.to_us.min((minute + 1) * MINUTE_US);
            self.slot(minute).add(row, to - from, to == row.to_us);
            from = to;
        }
    }

    /// The minute, made where it is not there yet.
    fn slot(&mut self, minute: i64) -> &mut Bin {
        if self.bins.is_empty() {
            self.first = minute;
        }
        if minute < self.first {
            let more = (self.first - minute) as usize;
            self.bins.splice(0..0, std::iter::repeat_n(Bin::default(), more));
            self.first = minute;
        }
        let at = (minute - self.first) as usize;
        if at >= self.bins.len() {
            self.bins.resize(at + 1, Bin::default());
        }
        &mut self.bins[at]
    }

    /// Those of another log as well.
    pub fn join(&mut self, other: &Self) {
        for (at, bin) in other.bins.iter().enumerate().filter(|(_, bin)| bin.us > 0) {
            self.slot(other.first + at as i64).join(bin);
        }
    }

    /// What is known of a minute.
    pub fn get(&self, minute: i64) -> Option<&Bin> {
        usize::try_from(minute - self.first).ok().and_then(|at| self.bins.get(at))
    }

    /// One after the last.
    pub fn end(&self) -> i64 {
        self.first + self.bins.len() as i64
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;

    pub(crate) fn row(from_s: f64, to_s: f64, kw: f64, state: usize) -> Row {
        let mut one = [0.0; 6];
        one[state] = 1.0;
        let us = |s: f64| (s * 1e6).round() as i64;
        Row {
            from_us: us(from_s),
            to_us: us(to_s),
            kw,
            back_kw: 0.0,
            kvar: Some(kw / 2.0),
            states: one,
            energy: one,
            load_pct: Some(50.0),
            peak_pct: None,
            seconds: false,
            feed: None,
            above: 0.0,
            kg: 6.0,
            held: 0.0,
            starts: 1,
            trips: 0,
        }
    }

    /// By hand: 90 s at 40 kW from second 30 on are 1 kWh, a third of it in the first minute.
    #[test]
    fn a_row_is_shared_out_by_time() {
        let mut bins = Bins::default();
        bins.add(&row(30.0, 120.0, 40.0, BREAKING));
        assert_eq!((bins.first, bins.bins.len()), (0, 2));
        let [a, b] = [bins.bins[0], bins.bins[1]];
        assert_eq!((a.us, b.us, a.states_us[BREAKING]), (30_000_000, 60_000_000, 30_000_000));
        assert!((a.total_kwh() - 1.0 / 3.0).abs() < 1e-12 && (b.total_kwh() - 2.0 / 3.0).abs() < 1e-12);
        assert!((a.kg - 2.0).abs() < 1e-12 && (b.kg - 4.0).abs() < 1e-12);
        assert_eq!((a.starts, b.starts), (0, 1));
        let mut both = Bins::default();
        both.add(&row(600.0, 660.0, 1.0, IDLE));
        both.join(&bins);
        assert_eq!((both.first, both.end(), both.get(5).unwrap().us), (0, 11, 0));
        assert!(both.get(11).is_none() && both.get(-1).is_none());
    }

    /// Shares that no count of microseconds can keep add up all the same.
    #[test]
    fn states_add_up() {
        let mut bins = Bins::default();
        let third = 1.0 / 3.0;
        let odd = Row { states: [third, third, third, 0.0, 0.0, 0.0], ..row(0.0, 59.999_999, 3.0, IDLE) };
        bins.add(&odd);
        assert_eq!(bins.bins[0].states_us.iter().sum::<i64>(), 59_999_999);
    }
}
