//! Uncertainty of the totals (JCGM 100, 5.1.6): what errs, what it does to each figure, the root of squares.
//!
//! ```text
//! E: energy, N = R - P0 h: energy while running less what the empty mill takes, m: tonnes
//!
//! error                        on E       on N                on m
//! gain g of meter, transformers  E g      (R - P0 h) g        -       P0 by the same meter: the gain counts once
//!                                         R g                         P0 that was set
//! idle power, its repeating      -        u root(sum h²)      -       h: hours of each shift, from one to the next of which it spreads
//! register's readings            step     step                -       two of a bridge; of a shift, where the register alone tells power
//! share of a bridge              u        -                   -
//! time of which nothing tells    rated x time
//! scale                          -        -                   m s, single weighings w
//! ```
//!
//! Limits count as rectangular (u = a / sqrt 3). Errors of one meter and of one scale are alike from shift to shift: they do not
//! cancel in a total; what idle power does from shift to shift does in part. Bands are expanded with k = 2.

use super::account::{IdlePower, Sums};
use super::site::Site;
use crate::report::uncertainty::{COVERAGE, combined, rectangular};

/// What is needed of a time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Known {
    /// All energy, kWh.
    pub kwh: f64,
    /// Energy while running, kWh.
    pub running_kwh: f64,
    /// Hours running.
    pub running_h: f64,
    /// The root of the sum of the squared hours of each shift.
    pub shifts_h: f64,
    /// Tonnes.
    pub t: f64,
    /// Standard uncertainty of single weighings, t.
    pub weighing_u_t: f64,
    /// Standard uncertainty of energy that was shared out, kWh.
    pub shared_u_kwh: f64,
    /// Readings of a register that energy stands on: of bridges, and of rows that have no other power.
    pub readings: [f64; 2],
    /// Hours of which nothing tells the energy.
    pub missing_h: f64,
}

impl Known {
    /// Of an account's sums.
    pub fn of(sums: &Sums) -> Self {
        Self {
            kwh: sums.total_kwh(),
            running_kwh: sums.running_kwh(),
            running_h: sums.running_h(),
            shifts_h: sums.shifts_h2.sqrt(),
            t: sums.t(),
            weighing_u_t: sums.weighing_u_t,
            shared_u_kwh: sums.estimated_u_kwh,
            readings: [2.0 * f64::from(sums.bridges), sums.readings.into()],
            missing_h: sums.missing_us() as f64 / 3.6e9,
        }
    }
}

/// One error and what it does: standard uncertainties.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Term {
    /// What errs.
    pub source: &'static str,
    /// By how much at most, or as a standard deviation, with its unit.
    pub limit: String,
    /// In energy, kWh.
    pub kwh: f64,
    /// In net energy, kWh.
    pub net_kwh: f64,
    /// In tonnes.
    pub t: f64,
}

/// Half widths of bands, k = 2; `None`: something needed is not said.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Bands {
    /// Of energy, kWh.
    pub kwh: Option<f64>,
    /// Of net energy, kWh.
    pub net_kwh: Option<f64>,
    /// Of tonnes.
    pub t: Option<f64>,
    /// Of energy a tonne, kWh/t.
    pub gross: Option<f64>,
    /// Of net energy a tonne, kWh/t.
    pub net: Option<f64>,
}

/// Net energy: what running took beyond the empty mill.
pub fn net_kwh(known: &Known, idle: IdlePower) -> f64 {
    known.running_kwh - idle.kw * known.running_h
}

/// What errs, one by one.
pub fn terms(known: &Known, idle: Option<IdlePower>, site: &Site) -> Vec<Term> {
    let mut all = Vec::new();
    let net = idle.map_or(0.0, |idle| net_kwh(known, idle));
    // A gain that energy and idle power have in common acts on their difference.
    let gained = if idle.is_some_and(|idle| idle.learnt) { net } else { known.running_kwh };
    let gains = [
        ("meter", site.meter.error_pct.unwrap_or(0.0)),
        ("current transformers", site.meter.current_transformer_pct),
        ("voltage transformers", site.meter.voltage_transformer_pct),
    ];
    for (source, pct) in gains.into_iter().filter(|(_, pct)| *pct > 0.0) {
        let u = rectangular(pct / 100.0);
        all.push(Term { source, limit: format!("{pct} %"), kwh: u * known.kwh, net_kwh: u * gained.abs(), t: 0.0 });
    }
    if let Some(kw) = idle.and_then(|idle| idle.repeat_kw) {
        let limit = format!("{kw:.3} kW (standard deviation)");
        all.push(Term { source: "idle power, repeating", limit, kwh: 0.0, net_kwh: kw * known.shifts_h, t: 0.0 });
    }
    let step = site.meter.register_step_kwh;
    let plain = |source, limit, kwh| Term { source, limit, kwh, net_kwh: 0.0, t: 0.0 };
    let [bridges, rows] = known.readings;
    if bridges + rows > 0.0 {
        let u = |readings: f64| rectangular(step / 2.0) * readings.sqrt();
        // What a bridge tells is no energy of running.
        let (source, limit) = ("register's step", format!("{} kWh", step / 2.0));
        all.push(Term { source, limit, kwh: u(bridges + rows), net_kwh: u(rows), t: 0.0 });
    }
    if known.shared_u_kwh > 0.0 {
        let limit = format!("{:.2} kWh (standard deviation)", known.shared_u_kwh);
        all.push(plain("shares of what a register bridges", limit, known.shared_u_kwh));
    }
    if known.missing_h > 0.0 {
        let most = site.motor.rated_kw * known.missing_h;
        all.push(plain("time of which nothing tells the energy", format!("{most:.2} kWh"), rectangular(most)));
    }
    if let Some(pct) = site.mass.error_pct.filter(|pct| *pct > 0.0) {
        let t = rectangular(pct / 100.0) * known.t;
        all.push(Term { source: "scale", limit: format!("{pct} %"), kwh: 0.0, net_kwh: 0.0, t });
    }
    if known.weighing_u_t > 0.0 {
        let limit = format!("{} kg a weighing and more", site.mass.scale_e_kg.unwrap_or(0.0));
        all.push(Term { source: "single weighings", limit, kwh: 0.0, net_kwh: 0.0, t: known.weighing_u_t });
    }
    all
}

/// Why there is no band of energy; `None` where there is one.
pub fn no_energy_band(site: &Site) -> Option<&'static str> {
    site.meter.error_pct.is_none().then_some("the site's file does not say how good the meter is ([meter] error_pct)")
}

/// Why there is none of tonnes.
pub fn no_mass_band(site: &Site) -> Option<&'static str> {
    (site.mass.error_pct.is_none() && site.mass.scale_e_kg.is_none())
        .then_some("the site's file does not say how good the scale is ([mass] error_pct or scale_e_kg)")
}

/// Why there is none of the net figure, where there is one of energy.
pub fn no_net_band(idle: Option<IdlePower>) -> Option<&'static str> {
    idle.is_none_or(|idle| idle.repeat_kw.is_none())
        .then_some("how well idle power repeats is not known: fewer than five shifts with five minutes of idling, no [motor] idle_repeatability_kw")
}

/// The bands.
pub fn bands(known: &Known, idle: Option<IdlePower>, site: &Site) -> Bands {
    let terms = terms(known, idle, site);
    let root = |of: fn(&Term) -> f64| COVERAGE * combined(terms.iter().map(of));
    let kwh = no_energy_band(site).is_none().then(|| root(|term| term.kwh));
    let t = no_mass_band(site).is_none().then(|| root(|term| term.t));
    let net_kwh = kwh.and(idle).filter(|_| no_net_band(idle).is_none()).map(|_| root(|term| term.net_kwh));
    // Of a ratio: both uncertainties relative (JCGM 100, 5.1.6), written so that a net energy of nothing has a band as well.
    let of_ratio = |figure: f64, band: Option<f64>| {
        let t_band = t?;
        (known.t > 0.0).then_some(()).and(band).map(|band| (band / known.t).hypot(figure / known.t * t_band / known.t))
    };
    let gross = of_ratio(known.kwh, kwh);
    let net = idle.and_then(|idle| of_ratio(self::net_kwh(known, idle), net_kwh));
    Bands { kwh, net_kwh, t, gross, net }
}

#[cfg(test)]
mod tests {
    use super::super::site::tests::good;
    use super::*;

    const SHIFT: Known = Known {
        kwh: 412.0,
        running_kwh: 412.0,
        running_h: 7.5,
        shifts_h: 7.5,
        t: 24.6,
        weighing_u_t: 0.0,
        shared_u_kwh: 0.0,
        readings: [0.0, 0.0],
        missing_h: 0.0,
    };

    fn near(found: Option<f64>, wanted: f64, within: f64) {
        let found = found.unwrap();
        assert!((found - wanted).abs() <= within, "{found}, {wanted} wanted");
    }

    /// Own arithmetic by JCGM 100: 412.0 kWh, 24.6 t, meter, transformers and belt weigher within 1 % each: 16.75 +- 0.33 kWh/t. An empty
    /// mill of 14.0 kW (repeats within 0.4 kW) for 7.5 h by the same meter: 12.48 +- 0.35 kWh/t; with the gains taken as two it would be 0.40.
    #[test]
    fn a_shift_worked_out() {
        let site = good();
        let learnt = IdlePower { kw: 14.0, repeat_kw: Some(0.4), learnt: true };
        let found = bands(&SHIFT, Some(learnt), &site);
        near(found.gross, 0.335, 0.0005);
        near(Some(SHIFT.kwh / SHIFT.t), 16.75, 0.005);
        near(Some(net_kwh(&SHIFT, learnt)), 307.0, 1e-9);
        near(Some(307.0 / 24.6), 12.48, 0.005);
        near(found.net, 0.35, 0.005);
        near(found.net.map(|band| band / 2.0 / (307.0 / 24.6) * 100.0), 1.40, 0.005);
        // One that was set does not share the meter's gain.
        let set = IdlePower { learnt: false, ..learnt };
        assert!(bands(&SHIFT, Some(set), &site).net > found.net);
    }

    /// Own arithmetic: of four shifts of 7.5 h the empty mill of 14.0 kW, repeating within 0.4 kW from one to the next, makes 0.4 x 7.5 x 2 kWh, not
    /// four times one shift's 3 kWh; the gains, alike for all, make four times one shift's.
    #[test]
    fn what_spreads_from_shift_to_shift_adds_up_by_squares() {
        let shift = |seconds: i64| {
            let mut sums = Sums { shifts_h2: 7.5 * 7.5, elapsed_us: seconds * 1_000_000, ..Sums::default() };
            (sums.rows.us, sums.rows.states_us[3], sums.rows.kwh[3]) = (sums.elapsed_us, sums.elapsed_us, 412.0);
            sums
        };
        let mut four = Sums::default();
        (0..4).for_each(|_| four.join(&shift(27_000)));
        let idle = IdlePower { kw: 14.0, repeat_kw: Some(0.4), learnt: true };
        let terms = |sums: &Sums| terms(&Known::of(sums), Some(idle), &good());
        let of = |source: &str, all: Vec<Term>| all.iter().find(|term| term.source == source).map(|term| term.net_kwh);
        near(of("idle power, repeating", terms(&shift(27_000))), 3.0, 1e-9);
        near(of("idle power, repeating", terms(&four)), 6.0, 1e-9);
        let one = of("meter", terms(&shift(27_000))).unwrap();
        near(of("meter", terms(&four)), 4.0 * one, 1e-9);
    }

    /// Own arithmetic: a floor scale of e = 1 kg, 300 kg net of two weighings, in service within 1 kg each: u = 0.82 kg.
    #[test]
    fn weighings_add_up() {
        let mut site = good();
        (site.mass.error_pct, site.mass.scale_e_kg) = (None, Some(1.0));
        let known = Known { t: 0.3, weighing_u_t: 2f64.sqrt() / 3f64.sqrt() / 1e3, ..SHIFT };
        near(bands(&known, None, &site).t.map(|t| t * 1e3 / 2.0), 0.82, 0.005);
        site.mass.scale_e_kg = None;
        assert_eq!(bands(&known, None, &site).t, None);
        assert!(no_mass_band(&site).is_some());
    }

    /// Own arithmetic: a register of 1 kWh a step that alone tells a shift's power is read twice, u = 0.5 / root 3 each; a bridge has two more,
    /// of energy of which nothing is net.
    #[test]
    fn a_registers_step_is_in_every_shift_that_it_tells() {
        let mut site = good();
        (site.meter.error_pct, site.meter.current_transformer_pct, site.meter.register_step_kwh) =
            (Some(0.0), 0.0, 1.0);
        let idle = Some(IdlePower { kw: 14.0, repeat_kw: Some(0.0), learnt: true });
        let one = 2.0 * 0.5 / 3f64.sqrt();
        let found = bands(&Known { readings: [0.0, 2.0], ..SHIFT }, idle, &site);
        near(found.kwh, one * 2f64.sqrt(), 1e-9);
        near(found.net_kwh, one * 2f64.sqrt(), 1e-9);
        let found = bands(&Known { readings: [2.0, 2.0], ..SHIFT }, idle, &site);
        near(found.kwh, one * 2.0, 1e-9);
        near(found.net_kwh, one * 2f64.sqrt(), 1e-9);
    }

    /// What is missing widens a band by all that the motor can have taken: half a hour of 55 kW, rectangular, twice.
    #[test]
    fn what_is_missing_widens() {
        let mut site = good();
        (site.meter.error_pct, site.meter.current_transformer_pct) = (Some(0.0), 0.0);
        let known = Known { missing_h: 0.5, ..SHIFT };
        near(bands(&known, None, &site).kwh, 2.0 * 27.5 / 3f64.sqrt(), 1e-9);
    }
}
