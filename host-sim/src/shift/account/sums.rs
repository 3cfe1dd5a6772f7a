//! Sums over some time, and what follows from them.

use std::collections::BTreeMap;

use super::super::log::Spread;
use crate::minutes::{BREAKING, Bin, IDLE};

/// Sums over some time. Times are µs.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Sums {
    /// All of it.
    pub elapsed_us: i64,
    /// What rows tell; its time by state has also what no row tells, which is unknown, so that states add up to all of it.
    pub rows: Bin,
    /// Of its shifts the running hours squared, h²: what errs by the shift adds up so.
    pub shifts_h2: f64,
    /// How much of it a register bridges.
    pub bridged_us: i64,
    /// How much of it has a share of what a register bridges over a change of shifts.
    pub estimated_us: i64,
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
    /// Energy by band of the tariff, the last for what is in none, kWh.
    pub by_band_kwh: Vec<f64>,
    /// What energy costs.
    pub energy_cost: f64,
    /// What it costs while idle.
    pub idle_cost: f64,
    /// Running time by load.
    pub loads: Spread,
    /// Stopped time that has a reason, µs.
    pub reasons_us: BTreeMap<String, i64>,
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
    /// How often the meter's register began anew.
    pub rollovers: u32,
    /// Trips by cause.
    pub trips: BTreeMap<String, u32>,
    /// Idle spells that a stop would have paid for: how many, their time in h and what it would have saved, kWh.
    pub spells: (u32, f64, f64),
}

impl Sums {
    /// Energy taken in, kWh.
    pub fn total_kwh(&self) -> f64 {
        self.rows.total_kwh() + self.bridged_kwh + self.estimated_kwh
    }

    /// Time of which nothing tells the energy, µs.
    pub fn missing_us(&self) -> i64 {
        self.elapsed_us - self.rows.us - self.bridged_us - self.estimated_us
    }

    /// Hours in a state.
    pub fn hours(&self, state: usize) -> f64 {
        self.rows.states_us[state] as f64 / 3.6e9
    }

    /// Hours idle or breaking.
    pub fn running_h(&self) -> f64 {
        self.hours(IDLE) + self.hours(BREAKING)
    }

    /// Energy while idle or breaking, kWh.
    pub fn running_kwh(&self) -> f64 {
        self.rows.kwh[IDLE] + self.rows.kwh[BREAKING]
    }

    /// Tonnes.
    pub fn t(&self) -> f64 {
        self.tonnes.values().sum()
    }

    /// Those of another time as well.
    pub fn join(&mut self, other: &Self) {
        self.elapsed_us += other.elapsed_us;
        self.rows.join(&other.rows);
        self.shifts_h2 += other.shifts_h2;
        self.bridged_us += other.bridged_us;
        self.estimated_us += other.estimated_us;
        self.bridged_kwh += other.bridged_kwh;
        self.estimated_kwh += other.estimated_kwh;
        self.estimated_u_kwh = self.estimated_u_kwh.hypot(other.estimated_u_kwh);
        self.bridges += other.bridges;
        self.readings += other.readings;
        self.by_band_kwh.resize(self.by_band_kwh.len().max(other.by_band_kwh.len()), 0.0);
        self.by_band_kwh.iter_mut().zip(&other.by_band_kwh).for_each(|(own, more)| *own += more);
        self.energy_cost += other.energy_cost;
        self.idle_cost += other.idle_cost;
        self.loads.join(&other.loads);
        for (reason, us) in &other.reasons_us {
            *self.reasons_us.entry(reason.clone()).or_default() += us;
        }
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
        self.rollovers += other.rollovers;
        self.spells.0 += other.spells.0;
        self.spells.1 += other.spells.1;
        self.spells.2 += other.spells.2;
    }
}
