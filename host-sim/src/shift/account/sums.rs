//! Sums over some time, and what follows from them.

use std::collections::BTreeMap;

use super::super::log::bins::{BREAKING, IDLE};

/// Whether reactive energy is told throughout what is measured, but for 0.5 % of it.
pub(super) const fn reactive_told(measured_us: i64, kvar_us: i64) -> bool {
    kvar_us > 0 && measured_us - kvar_us <= measured_us / 200
}

/// Power factor from energies, where there are any.
pub(super) fn power_factor(kwh: f64, kvarh: f64) -> Option<f64> {
    (kwh > 0.0).then(|| kwh / kwh.hypot(kvarh))
}

/// Sums over some time. Times are µs.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Sums {
    /// All of it.
    pub elapsed_us: i64,
    /// By state; together all of it.
    pub states_us: [i64; 6],
    /// Of its shifts the running hours squared, h²: what errs by the shift adds up so.
    pub shifts_h2: f64,
    /// How much of it rows tell.
    pub measured_us: i64,
    /// How much of it a register bridges.
    pub bridged_us: i64,
    /// How much of it has a share of what a register bridges over a change of shifts.
    pub estimated_us: i64,
    /// Energy that rows tell, by state, kWh.
    pub kwh: [f64; 6],
    /// Energy that a register tells.
    pub bridged_kwh: f64,
    /// Energy shared out over a change of shifts.
    pub estimated_kwh: f64,
    /// Standard uncertainty of that share, kWh.
    pub estimated_u_kwh: f64,
    /// Bridges in it: each stands on two readings.
    pub bridges: u32,
    /// Readings that its rows stand on, where a register alone tells power.
    pub readings: u32,
    /// Given back, kWh.
    pub back_kwh: f64,
    /// Reactive, kvarh, and the time and the energy for which it is told.
    pub kvarh: f64,
    /// See `kvarh`.
    pub kvar_us: i64,
    /// Energy by band of the tariff, the last for what is in none, kWh.
    pub by_band_kwh: Vec<f64>,
    /// What energy costs.
    pub energy_cost: f64,
    /// What it costs while idle.
    pub idle_cost: f64,
    /// Load times time while running (% µs), and that time.
    pub load: [f64; 2],
    /// Loads of running minutes with their times.
    pub loads: Vec<(f32, f32)>,
    /// The highest load of a row, %.
    pub load_max: f64,
    /// Time above rated load, µs.
    pub above_us: f64,
    /// Time for which the feed was stopped, µs.
    pub held_us: f64,
    /// Tonnes by material.
    pub tonnes: BTreeMap<String, f64>,
    /// Tonnes by material and screen, where tickets tell them.
    pub pairs: BTreeMap<(String, String), f64>,
    /// Standard uncertainty of single weighings, t: errors of one scale are alike and add up.
    pub weighing_u_t: f64,
    /// Tickets, late ones and corrections among them.
    pub tickets: [u32; 3],
    /// Starts, feed stops, reversals.
    pub counts: [u32; 3],
    /// Trips by cause.
    pub trips: BTreeMap<String, u32>,
    /// Idle spells that a stop would have paid for: how many, their time in h and what it would have saved, kWh.
    pub spells: (u32, f64, f64),
}

impl Sums {
    /// Energy taken in, kWh.
    pub fn total_kwh(&self) -> f64 {
        self.kwh.iter().sum::<f64>() + self.bridged_kwh + self.estimated_kwh
    }

    /// Time of which nothing tells the energy, µs.
    pub fn missing_us(&self) -> i64 {
        self.elapsed_us - self.measured_us - self.bridged_us - self.estimated_us
    }

    /// Hours in a state.
    pub fn hours(&self, state: usize) -> f64 {
        self.states_us[state] as f64 / 3.6e9
    }

    /// Hours idle or breaking.
    pub fn running_h(&self) -> f64 {
        self.hours(IDLE) + self.hours(BREAKING)
    }

    /// Energy while idle or breaking, kWh.
    pub fn running_kwh(&self) -> f64 {
        self.kwh[IDLE] + self.kwh[BREAKING]
    }

    /// Tonnes.
    pub fn t(&self) -> f64 {
        self.tonnes.values().sum()
    }

    /// Power factor from energies, where reactive energy is told throughout.
    pub fn power_factor(&self) -> Option<f64> {
        power_factor(self.kwh.iter().sum(), self.kvarh).filter(|_| reactive_told(self.measured_us, self.kvar_us))
    }

    /// The load not exceeded in 95 % of the running minutes, %.
    pub fn load_p95(&self) -> Option<f64> {
        let mut all = self.loads.clone();
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        let whole: f64 = all.iter().map(|load| f64::from(load.1)).sum();
        let mut sum = 0.0;
        all.iter()
            .find(|load| {
                sum += f64::from(load.1);
                sum >= 0.95 * whole
            })
            .map(|load| f64::from(load.0))
    }

    /// Those of another time as well.
    pub fn join(&mut self, other: &Self) {
        self.elapsed_us += other.elapsed_us;
        self.shifts_h2 += other.shifts_h2;
        self.measured_us += other.measured_us;
        self.bridged_us += other.bridged_us;
        self.estimated_us += other.estimated_us;
        for at in 0..6 {
            self.states_us[at] += other.states_us[at];
            self.kwh[at] += other.kwh[at];
        }
        self.bridged_kwh += other.bridged_kwh;
        self.estimated_kwh += other.estimated_kwh;
        self.estimated_u_kwh = self.estimated_u_kwh.hypot(other.estimated_u_kwh);
        self.bridges += other.bridges;
        self.readings += other.readings;
        self.back_kwh += other.back_kwh;
        self.kvarh += other.kvarh;
        self.kvar_us += other.kvar_us;
        self.by_band_kwh.resize(self.by_band_kwh.len().max(other.by_band_kwh.len()), 0.0);
        self.by_band_kwh.iter_mut().zip(&other.by_band_kwh).for_each(|(own, more)| *own += more);
        self.energy_cost += other.energy_cost;
        self.idle_cost += other.idle_cost;
        self.load[0] += other.load[0];
        self.load[1] += other.load[1];
        self.loads.extend(&other.loads);
        self.load_max = self.load_max.max(other.load_max);
        self.above_us += other.above_us;
        self.held_us += other.held_us;
        for (material, t) in &other.tonnes {
            *self.tonnes.entry(material.clone()).or_default() += t;
        }
        for (pair, t) in &other.pairs {
            *self.pairs.entry(pair.clone()).or_default() += t;
        }
        self.weighing_u_t += other.weighing_u_t;
        for at in 0..3 {
            self.tickets[at] += other.tickets[at];
            self.counts[at] += other.counts[at];
        }
        for (cause, count) in &other.trips {
            *self.trips.entry(cause.clone()).or_default() += count;
        }
        self.spells.0 += other.spells.0;
        self.spells.1 += other.spells.1;
        self.spells.2 += other.spells.2;
    }
}
