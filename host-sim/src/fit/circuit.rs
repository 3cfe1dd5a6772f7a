//! The equivalent circuit and the losses that a nameplate implies.
//!
//! A phase of the star, rotor referred to the stator, rotor figures constant. With I the line current,
//! P and Q the powers of all three phases:
//!
//! ```text
//! X1 = X2 = X/2,  X = sqrt((V / I locked)² - (R1 + R2)²)      locked rotor
//! Pe = P - 3 R1 I²   Qe = Q - 3 X1 I²   3 E² = (Pe² + Qe²) / (3 I²)
//! Xm: such that Qe - 3 E²/Xm = 3 X2 I2²                        power factors
//! R2 = slip Pg / (3 I2²)                                       rated speed
//! losses - 3 R1 I² - slip Pg = constant + stray 3 I²           efficiencies, least squares
//! T locked w = 3 R2 (1 + d) I2²                                deep bars, from the locked rotor's torque
//! ```
//!
//! The same relations are in the core, in fixed point; what is fitted here is what it is fed.

use crate::error::Fault;
use crate::plant::circuit as steady;
use crate::settings::derive::derive;
use crate::settings::{Settings, StrayLoadLoss};

/// Core's share of the losses that do not change with load; the rest is friction and windage
/// (common practice for fan-cooled motors of this size, no source).
pub const CORE_SHARE: f64 = 0.6;
/// The least share of all rated losses that is taken as constant when there is but one efficiency; 0.25 to 0.45 is usual (common
/// practice, no source). The stray load loss that a standard assigns is on the safe side: it may leave less than any motor has.
const LEAST_CONSTANT: f64 = 0.2;

/// Rounds that bring the locked rotor to its figures: each leaves a tenth of the error.
const ROUNDS: usize = 12;
/// The most by which deep bars are believed to raise the rotor's resistance.
const MOST_DEEP: f64 = 10.0;

/// Stray load loss that a standard assigns where it is not measured, W at rated load (both from memory): IEC 60034-2-1 as
/// a share of the power taken in, for 1 kW to 10 MW; IEEE 112 as a share of rated output, by size.
fn assigned_stray(standard: StrayLoadLoss, rated_kw: f64, input_w: f64) -> f64 {
    match standard {
        StrayLoadLoss::Iec => (0.025 - 0.005 * rated_kw.clamp(1.0, 10_000.0).log10()) * input_w,
        StrayLoadLoss::Ieee => {
            let share = match rated_kw / KW_PER_HP {
                ..126.0 => 0.018,
                ..501.0 => 0.015,
                ..2_500.0 => 0.012,
                _ => 0.009,
            };
            share * rated_kw * 1e3
        }
    }
}

/// The same over the sum of three squared currents, Ω.
pub fn assigned_stray_ohm(settings: &Settings) -> f64 {
    let motor = &settings.motor;
    let input_w = motor.rated_power_kw * 1e3 + derive(settings).rated_losses_kw.value * 1e3;
    let standard = motor.stray_load_loss.unwrap_or(StrayLoadLoss::Iec);
    assigned_stray(standard, motor.rated_power_kw, input_w) / (3.0 * motor.rated_current_a.powi(2))
}

const KW_PER_HP: f64 = 0.7457;

/// What the core is told of the motor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Circuit {
    /// Stator resistance, Ω a phase.
    pub stator_resistance_ohm: f64,
    /// Stator leakage reactance at rated frequency, Ω.
    pub stator_leakage_ohm: f64,
    /// Rotor leakage reactance, Ω.
    pub rotor_leakage_ohm: f64,
    /// Magnetising reactance, Ω.
    pub magnetising_ohm: f64,
    /// Rotor resistance, Ω.
    pub rotor_resistance_ohm: f64,
    /// By how much the rotor's resistance has risen at standstill.
    pub deep_bar: f64,
    /// Core loss at rated voltage, W.
    pub core_loss_w: f64,
    /// Friction and windage, W.
    pub friction_loss_w: f64,
    /// Stray load loss over the sum of three squared currents, Ω.
    pub stray_ohm: f64,
    /// The stray load loss that a standard assigns leaves too little for the constant losses: they are the least share, and it is what
    /// they leave.
    pub least_constant: bool,
    /// The largest amount by which the fitted losses miss a given efficiency, W.
    pub worst_loss_error_w: f64,
}

/// A point of operation at rated voltage.
#[derive(Debug, Clone, Copy)]
struct Point {
    /// Power taken in, W.
    power: f64,
    losses: f64,
    /// Sum of the three squared currents, A².
    squares: f64,
    /// Reactive power, var.
    reactive: f64,
    load: f64,
}

/// What the circuit says of a point.
struct Inside {
    air_gap: f64,
    /// Sum of the three squared voltages at the air gap, V².
    emf: f64,
    past_leakage: f64,
    /// Sum of the three squared rotor currents, A².
    rotor: f64,
}

impl Circuit {
    /// The same as the steady-state solver takes it, without inertia. Where the locked rotor's torque is known its current and torque
    /// are come to exactly: the fit leaves out what the magnetising branch and the bars' rise make of them, a few per cent.
    pub fn solved(&self, settings: &Settings) -> steady::Circuit {
        let motor = &settings.motor;
        let mut circuit = steady::Circuit {
            line_v: motor.rated_voltage_v,
            frequency_hz: motor.rated_frequency_hz,
            pole_pairs: f64::from(motor.poles) / 2.0,
            stator_ohm: self.stator_resistance_ohm,
            stator_leakage_ohm: self.stator_leakage_ohm,
            magnetising_ohm: self.magnetising_ohm,
            rotor_leakage_ohm: self.rotor_leakage_ohm,
            rotor_ohm: self.rotor_resistance_ohm,
            deep_bar: self.deep_bar,
            // Three phases at rated voltage: loss = V² g.
            core_siemens: self.core_loss_w / motor.rated_voltage_v.powi(2),
            stray_ohm: self.stray_ohm,
            friction_w: self.friction_loss_w,
            inertia_kg_m2: 0.0,
        };
        let Some(torque_pct) = motor.locked_rotor_torque_pct else { return circuit };
        let derived = derive(settings);
        let torque_nm = torque_pct / 100.0 * derived.rated_torque_nm.value;
        for _ in 0..ROUNDS {
            let locked = circuit.at_slip(1.0);
            let leakage = (locked.current_a / derived.locked_rotor_current_a.value).clamp(0.5, 2.0);
            circuit.stator_leakage_ohm *= leakage;
            circuit.rotor_leakage_ohm *= leakage;
            let risen = (1.0 + circuit.deep_bar) * (torque_nm / circuit.at_slip(1.0).shaft_nm).clamp(0.5, 2.0);
            circuit.deep_bar = (risen - 1.0).clamp(0.0, MOST_DEEP);
        }
        circuit
    }

    fn inside(&self, p: &Point) -> Inside {
        let past_stator = p.power - self.stator_resistance_ohm * p.squares;
        let past_leakage = p.reactive - self.stator_leakage_ohm * p.squares;
        let emf = (past_stator.powi(2) + past_leakage.powi(2)) / p.squares;
        let air_gap = past_stator - self.core_loss_w;
        // Near rated load the rotor's leakage is a small part: first without it, then with it.
        let resistive = air_gap.powi(2) / emf;
        let rotor = (air_gap.powi(2) + (self.rotor_leakage_ohm * resistive).powi(2)) / emf;
        Inside { air_gap, emf, past_leakage, rotor }
    }
}

/// Fits the circuit to everything the settings say of the motor.
///
/// # Errors
///
/// A nameplate that no motor can have.
pub fn fit(settings: &Settings) -> anyhow::Result<Circuit> {
    let motor = &settings.motor;
    let derived = derive(settings);
    let rated_w = motor.rated_power_kw * 1e3;
    let slip = derived.rated_slip_pct.value / 100.0;
    let phase_v = motor.rated_voltage_v / 3f64.sqrt();
    let rated_losses = derived.rated_losses_kw.value * 1e3;
    let rated = Point {
        power: rated_w + rated_losses,
        losses: rated_losses,
        squares: 3.0 * motor.rated_current_a.powi(2),
        reactive: (motor.rated_apparent_va().powi(2) - (rated_w + rated_losses).powi(2)).max(0.0).sqrt(),
        load: 1.0,
    };
    let mut c = Circuit {
        stator_resistance_ohm: derived.stator_resistance_ohm.value,
        stator_leakage_ohm: 0.0,
        rotor_leakage_ohm: 0.0,
        magnetising_ohm: 3.0 * phase_v.powi(2) / rated.reactive.max(1.0),
        rotor_resistance_ohm: slip * rated.power / rated.squares,
        core_loss_w: CORE_SHARE * LEAST_CONSTANT * rated_losses,
        friction_loss_w: (1.0 - CORE_SHARE) * LEAST_CONSTANT * rated_losses,
        deep_bar: 0.0,
        stray_ohm: 0.0,
        least_constant: false,
        worst_loss_error_w: 0.0,
    };
    let impedance = phase_v / derived.locked_rotor_current_a.value;
    // Each figure leans on the others but little: a dozen rounds settle all digits.
    for _ in 0..12 {
        let resistances = c.stator_resistance_ohm + c.rotor_resistance_ohm;
        let leakage = (impedance.powi(2) - resistances.powi(2)).max((0.5 * impedance).powi(2)).sqrt();
        c.stator_leakage_ohm = leakage / 2.0;
        c.rotor_leakage_ohm = leakage / 2.0;
        let points = points(settings, &c, rated);
        c.magnetising_ohm = magnetising(&c, &points, rated);
        let inside = c.inside(&rated);
        c.rotor_resistance_ohm = slip * inside.air_gap / inside.rotor;
        losses(&mut c, &points, rated_losses, settings);
    }
    if let Some(torque_pct) = motor.locked_rotor_torque_pct {
        let torque_nm = torque_pct / 100.0 * derived.rated_torque_nm.value;
        let synchronous = motor.synchronous_speed_rpm() / 60.0 * std::f64::consts::TAU;
        // The rotor's part of the locked current: what the magnetising branch leaves.
        let rotor_a =
            derived.locked_rotor_current_a.value * c.magnetising_ohm / (c.magnetising_ohm + c.rotor_leakage_ohm);
        let standing_ohm = torque_nm * synchronous / (3.0 * rotor_a.powi(2));
        c.deep_bar = (standing_ohm / c.rotor_resistance_ohm - 1.0).clamp(0.0, MOST_DEEP);
    }
    let figures = [c.stator_leakage_ohm, c.magnetising_ohm, c.rotor_resistance_ohm, c.core_loss_w, c.friction_loss_w];
    if figures.iter().any(|x| !x.is_finite() || *x < 0.0) || c.magnetising_ohm < c.stator_leakage_ohm {
        return Err(Fault::new(&*settings.file, "no motor has the figures of [motor] together")
            .at("table motor")
            .wanted("power, voltage, current, speed, efficiency and power factor of one and the same nameplate")
            .mend("compare [motor] with the nameplate; look at locked_rotor_current_a and stator_resistance_ohm too")
            .into());
    }
    Ok(c)
}

/// The points that the efficiency curve gives, or the rated one. Where no power factor is known the
/// circuit so far tells the current.
fn points(settings: &Settings, c: &Circuit, rated: Point) -> Vec<Point> {
    let motor = &settings.motor;
    let Some(curve) = &motor.efficiency_pct else { return vec![rated] };
    curve
        .points()
        .iter()
        .map(|point| {
            let load = point.load_pct / 100.0;
            let shaft = motor.rated_power_kw * 1e3 * load;
            let power = shaft * 100.0 / point.value_pct;
            let known = motor.power_factor_pct.as_ref().map(|pf| pf.value_pct(load));
            let (squares, reactive) = match known {
                Some(pf) => {
                    let apparent = power * 100.0 / pf;
                    ((apparent / motor.rated_voltage_v).powi(2), (apparent.powi(2) - power.powi(2)).max(0.0).sqrt())
                }
                None if point.load_pct.to_bits() == 100f64.to_bits() => (rated.squares, rated.reactive),
                None => current_of(c, power, motor.rated_voltage_v),
            };
            Point { power, losses: power - shaft, squares, reactive, load }
        })
        .collect()
}

/// Squared currents and reactive power at a power taken in, from the circuit.
pub(super) fn current_of(c: &Circuit, power: f64, line_v: f64) -> (f64, f64) {
    let mut reactive = line_v.powi(2) / c.magnetising_ohm;
    let mut squares = 0.0;
    for _ in 0..20 {
        squares = (power.powi(2) + reactive.powi(2)) / line_v.powi(2);
        let inside = c.inside(&Point { power, losses: 0.0, squares, reactive, load: 0.0 });
        reactive = c.stator_leakage_ohm * squares + inside.emf / c.magnetising_ohm + c.rotor_leakage_ohm * inside.rotor;
    }
    (squares, reactive)
}

/// The magnetising reactance: the mean of what the points up to rated load ask for.
fn magnetising(c: &Circuit, points: &[Point], rated: Point) -> f64 {
    let admittance = |p: &Point| {
        let inside = c.inside(p);
        (inside.past_leakage - c.rotor_leakage_ohm * inside.rotor) / inside.emf
    };
    let known: Vec<f64> = points.iter().filter(|p| p.load <= 1.0).map(admittance).collect();
    let mean = if known.is_empty() { admittance(&rated) } else { known.iter().sum::<f64>() / known.len() as f64 };
    1.0 / mean
}

/// Constant and stray losses: what a no-load test has told stands; the rest by least squares over what copper and slip
/// leave.
fn losses(c: &mut Circuit, points: &[Point], rated_losses: f64, settings: &Settings) {
    let motor = &settings.motor;
    let rest = |p: &Point| {
        let inside = c.inside(p);
        p.losses - c.stator_resistance_ohm * p.squares - c.rotor_resistance_ohm * inside.rotor
    };
    // The stray loss brakes, in proportion to speed: its power goes with the square of speed.
    let stray_squares = |p: &Point| {
        let inside = c.inside(p);
        p.squares * (1.0 - c.rotor_resistance_ohm * inside.rotor / inside.air_gap).powi(2)
    };
    let mut least_constant = false;
    let n = points.len() as f64;
    let (sum_x, sum_y) = points.iter().fold((0.0, 0.0), |(x, y), p| (x + stray_squares(p), y + rest(p)));
    let (mean_x, mean_y) = (sum_x / n, sum_y / n);
    let (xx, xy) = points.iter().fold((0.0, 0.0), |(xx, xy), p| {
        let dx = stray_squares(p) - mean_x;
        (xx + dx * dx, xy + dx * (rest(p) - mean_y))
    });
    let curve = xx > 1e-6 * mean_x * mean_x;
    let (constant, stray) = if let (Some(core), Some(friction)) = (motor.core_loss_w, motor.friction_loss_w) {
        // Through the constant: stray alone is fitted.
        let constant = core + friction;
        let (squares, products) = points.iter().fold((0.0, 0.0), |(xx, xy), p| {
            let x = stray_squares(p);
            (xx + x.powi(2), xy + x * (rest(p) - constant))
        });
        (constant, products / squares)
    } else if curve {
        let stray = xy / xx;
        (mean_y - stray * mean_x, stray)
    } else {
        let input = points.iter().map(|p| p.power).sum::<f64>() / n;
        let standard = motor.stray_load_loss.unwrap_or(StrayLoadLoss::Iec);
        let left = mean_y - assigned_stray(standard, motor.rated_power_kw, input);
        let constant = left.clamp(LEAST_CONSTANT * rated_losses, rated_losses);
        least_constant = left < constant;
        (constant, (mean_y - constant) / mean_x)
    };
    let worst = points.iter().map(|p| (rest(p) - constant - stray * stray_squares(p)).abs()).fold(0.0, f64::max);
    let constant = constant.max(0.0);
    c.core_loss_w = match (motor.core_loss_w, motor.friction_loss_w) {
        (Some(core), _) => core,
        (None, Some(friction)) => (constant - friction).max(0.0),
        (None, None) => CORE_SHARE * constant,
    };
    c.friction_loss_w = motor.friction_loss_w.unwrap_or((constant - c.core_loss_w).max(0.0));
    c.stray_ohm = stray;
    c.least_constant = least_constant;
    c.worst_loss_error_w = worst;
}
