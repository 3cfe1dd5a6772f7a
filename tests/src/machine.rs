//! Motors of many kinds for the plant model, and the settings file that their nameplates make.
//!
//! Circuits are given per unit of rated shaft power over 0.8 (efficiency times power factor, about), in the
//! range that is usual for cage motors of 10 to 200 kW (from memory, after no motor in particular).

use shaftwork_sim::plant::circuit::Circuit;
use shaftwork_sim::plant::steady::{Nameplate, Point};
use shaftwork_sim::plant::transducer::Transducer;
use std::fmt::Write as _;

/// Rated shaft power over the base of the per-unit figures.
const RATED_OVER_BASE: f64 = 0.8;

/// A motor with the converter behind which it runs.
#[derive(Debug, Clone)]
pub struct Machine {
    /// What it is called in messages.
    pub name: &'static str,
    /// Its circuit.
    pub circuit: Circuit,
    /// Rated shaft power, W.
    pub rated_w: f64,
    /// Frames a second.
    pub rate_hz: f64,
    /// Converter bits.
    pub bits: u32,
    /// Time to 95 % of synchronous speed that the inertia is chosen for, s.
    pub start_s: f64,
}

/// Per unit: R1, X1 (= X2), Xm, R2; rise of R2 at standstill; core, stray and friction losses.
#[derive(Debug, Clone, Copy)]
pub struct PerUnit {
    /// Stator resistance.
    pub r1: f64,
    /// Leakage reactance of either side.
    pub x: f64,
    /// Magnetising reactance.
    pub xm: f64,
    /// Rotor resistance while running.
    pub r2: f64,
    /// Rise of the rotor resistance at standstill.
    pub deep: f64,
    /// Core, stray and friction loss over rated power.
    pub losses: [f64; 3],
}

impl PerUnit {
    /// The circuit of a motor.
    #[must_use]
    pub fn circuit(&self, kilowatts: f64, line_v: f64, frequency_hz: f64, poles: u32) -> Circuit {
        let rated_w = kilowatts * 1e3;
        let ohm = line_v * line_v / (rated_w / RATED_OVER_BASE);
        let squares = (rated_w / RATED_OVER_BASE / line_v).powi(2);
        let mut circuit = Circuit {
            line_v,
            frequency_hz,
            pole_pairs: f64::from(poles) / 2.0,
            stator_ohm: self.r1 * ohm,
            stator_leakage_ohm: self.x * ohm,
            magnetising_ohm: self.xm * ohm,
            rotor_leakage_ohm: self.x * ohm,
            rotor_ohm: self.r2 * ohm,
            deep_bar: self.deep,
            core_siemens: self.losses[0] * rated_w / (line_v * line_v),
            stray_ohm: self.losses[1] * rated_w / squares,
            friction_w: self.losses[2] * rated_w,
            inertia_kg_m2: 0.0,
        };
        // A motor alone takes about 0.1 s to its speed at rated torque.
        circuit.inertia_kg_m2 = 0.1 * rated_w / circuit.synchronous_rad_s().powi(2);
        circuit
    }
}

/// The textbook's 50 hp machine with the losses that it lacks.
fn textbook() -> Circuit {
    Circuit { core_siemens: 0.0019, stray_ohm: 0.02, friction_w: 250.0, ..Circuit::textbook_50_hp() }
}

/// The spread: sizes, voltages, frequencies, poles, cages, rates, bits, lengths of start.
#[must_use]
pub fn spread() -> Vec<Machine> {
    let unit = |r1, x, xm, r2, deep, losses| PerUnit { r1, x, xm, r2, deep, losses };
    let all = [
        ("50 hp 460 V 60 Hz textbook", textbook(), 35.0, 6_000.0, 16, 2.0),
        (
            "15 kW 400 V 50 Hz",
            unit(0.03, 0.10, 2.5, 0.028, 0.0, [0.018, 0.012, 0.010]).circuit(15.0, 400.0, 50.0, 4),
            15.0,
            2_000.0,
            12,
            1.2,
        ),
        (
            "90 kW 690 V 50 Hz",
            unit(0.018, 0.09, 3.4, 0.014, 1.5, [0.012, 0.010, 0.008]).circuit(90.0, 690.0, 50.0, 4),
            90.0,
            10_000.0,
            24,
            8.0,
        ),
        (
            "110 kW 480 V 60 Hz",
            unit(0.015, 0.085, 3.6, 0.012, 2.0, [0.012, 0.011, 0.007]).circuit(110.0, 480.0, 60.0, 4),
            110.0,
            4_000.0,
            16,
            12.0,
        ),
        (
            "45 kW 6-pole 400 V 50 Hz",
            unit(0.022, 0.11, 2.6, 0.018, 1.0, [0.015, 0.012, 0.006]).circuit(45.0, 400.0, 50.0, 6),
            45.0,
            3_200.0,
            16,
            5.0,
        ),
        (
            "30 kW 2-pole 400 V 50 Hz",
            unit(0.025, 0.095, 3.8, 0.020, 0.8, [0.014, 0.012, 0.018]).circuit(30.0, 400.0, 50.0, 2),
            30.0,
            16_000.0,
            16,
            3.0,
        ),
        (
            "55 kW 230 V 60 Hz 4-pole deep bar",
            unit(0.02, 0.12, 3.0, 0.016, 2.5, [0.014, 0.015, 0.008]).circuit(55.0, 230.0, 60.0, 4),
            55.0,
            7_680.0,
            12,
            4.0,
        ),
        (
            "22 kW 500 V 50 Hz 8-pole single cage",
            unit(0.03, 0.12, 2.5, 0.030, 0.0, [0.02, 0.012, 0.008]).circuit(22.0, 500.0, 50.0, 8),
            22.0,
            5_000.0,
            24,
            2.5,
        ),
    ];
    all.into_iter()
        .map(|(name, circuit, kilowatts, rate_hz, bits, start_s)| Machine {
            name,
            circuit,
            rated_w: kilowatts * 1e3,
            rate_hz,
            bits,
            start_s,
        })
        .collect()
}

/// Six motors more for the wiring check, chosen before any figure of theirs was known; one step of the check was made after they had been
/// counted.
#[must_use]
pub fn fresh() -> Vec<Machine> {
    let unit = |r1, x, xm, r2, deep, losses| PerUnit { r1, x, xm, r2, deep, losses };
    let all = [
        ("7.5 kW 400 V 50 Hz", 7.5, [400.0, 50.0], 4, unit(0.04, 0.10, 2.2, 0.035, 0.5, [0.020, 0.014, 0.012])),
        ("18.5 kW 460 V 60 Hz", 18.5, [460.0, 60.0], 4, unit(0.028, 0.11, 2.8, 0.024, 1.2, [0.016, 0.012, 0.010])),
        ("37 kW 6-pole 400 V 50 Hz", 37.0, [400.0, 50.0], 6, unit(0.024, 0.10, 2.7, 0.020, 1.5, [0.015, 0.012, 0.007])),
        ("45 kW 2-pole 575 V 60 Hz", 45.0, [575.0, 60.0], 2, unit(0.021, 0.10, 3.6, 0.017, 1.0, [0.014, 0.012, 0.016])),
        ("75 kW 400 V 50 Hz", 75.0, [400.0, 50.0], 4, unit(0.018, 0.095, 3.3, 0.015, 1.8, [0.013, 0.011, 0.008])),
        ("132 kW 690 V 50 Hz", 132.0, [690.0, 50.0], 4, unit(0.014, 0.09, 3.7, 0.011, 2.2, [0.011, 0.010, 0.007])),
    ];
    all.into_iter()
        .map(|(name, kilowatts, [line_v, hertz], poles, unit)| Machine {
            name,
            circuit: unit.circuit(kilowatts, line_v, hertz, poles),
            rated_w: kilowatts * 1e3,
            rate_hz: 4_000.0,
            bits: 16,
            start_s: 3.0,
        })
        .collect()
}

/// What of the nameplate the settings leave out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sheet {
    /// Nothing is left out.
    Whole,
    /// Only the rated power factor, no curve.
    PowerFactor,
    /// Only the rated efficiency, no curve.
    Efficiency,
    /// No stator resistance.
    NoResistance,
    /// No locked-rotor current.
    NoLocked,
    /// None of all these but the rated power factor.
    Least,
}

/// What the settings say besides the nameplate.
#[derive(Debug, Clone, Copy)]
pub struct Extra {
    /// What is left out.
    pub sheet: Sheet,
    /// Shaft power of the empty mill, W.
    pub idle_w: Option<f64>,
    /// Jam's, long start's and phase loss's delays, s.
    pub delays_s: [f64; 3],
    /// What the settings correct.
    pub transducers: [Transducer; 6],
}

impl Default for Extra {
    fn default() -> Self {
        Self { sheet: Sheet::Whole, idle_w: None, delays_s: [0.5, 30.0, 1.0], transducers: [Transducer::default(); 6] }
    }
}

impl Machine {
    /// The nameplate.
    ///
    /// # Panics
    ///
    /// When the motor cannot bear 125 % of its rating.
    #[must_use]
    pub fn plate(&self) -> Nameplate {
        self.circuit.nameplate(self.rated_w).expect("the motor bears 125 % of its rating")
    }

    /// Peak voltage and current at full scale: V, A.
    #[must_use]
    pub fn full_scales(&self) -> [f64; 2] {
        let plate = self.plate();
        // Twice the locked-rotor peak, and room for the offset of a start.
        [2.0 * self.circuit.line_v, (2.8 * plate.locked.current_a).ceil()]
    }

    /// All that turns so that the start takes so long against a windage (N m s²): kg m².
    #[must_use]
    pub fn inertia(&self, seconds: f64, windage: f64) -> f64 {
        let sync = self.circuit.synchronous_rad_s();
        let steps = 400;
        let width = 0.95 * sync / f64::from(steps);
        let integral: f64 = (0..steps)
            .map(|n| {
                let w = (f64::from(n) + 0.5) * width;
                width / (self.circuit.at_slip(1.0 - w / sync).shaft_nm - windage * w * w)
            })
            .sum();
        seconds / integral
    }

    /// The windage that takes a share of rated power at the speed that it leads to: N m s².
    ///
    /// # Panics
    ///
    /// When the motor cannot bear the load.
    #[must_use]
    pub fn windage(&self, share: f64) -> f64 {
        let point = self.circuit.at_shaft_w(self.rated_w * share).expect("the motor bears the load");
        let w = point.shaft_w / point.shaft_nm;
        point.shaft_nm / (w * w)
    }

    /// The settings file, with as many digits as a data sheet has.
    #[must_use]
    pub fn settings(&self, extra: &Extra) -> String {
        let (plate, c) = (self.plate(), &self.circuit);
        let [volts, amps] = self.full_scales();
        let mut text = String::new();
        let mut say = |line: std::fmt::Arguments<'_>| {
            let _ = writeln!(text, "{line}"); // into a string: cannot fail
        };
        say(format_args!(
            "[supply]\nfrequency_hz = {}\nline_voltage_v = {}\nwiring = \"four-wire\"",
            c.frequency_hz, c.line_v
        ));
        say(format_args!("[sampling]\nrate_hz = {}\nbits = {}", self.rate_hz, self.bits));
        say(format_args!("voltage_full_scale_v = {volts:.1}\ncurrent_full_scale_a = {amps:.1}"));
        let each = |figure: fn(&Transducer) -> f64| extra.transducers.each_ref().map(figure);
        say(format_args!("gain = {:?}", each(|t| 1.0 / t.output(1.0))));
        say(format_args!("phase_deg = {:?}\nskew_us = {:?}", &each(|t| t.phase_deg)[3..], each(|t| t.skew_us)));
        say(format_args!("[motor]\nrated_power_kw = {:.1}\nrated_voltage_v = {}", self.rated_w / 1e3, c.line_v));
        say(format_args!("rated_current_a = {:.2}\nrated_frequency_hz = {}", plate.rated.current_a, c.frequency_hz));
        say(format_args!("rated_speed_rpm = {:.1}\npoles = {}", plate.rated.speed_rpm, 2.0 * c.pole_pairs));
        if extra.sheet == Sheet::Efficiency {
            say(format_args!("rated_efficiency_pct = {:.2}", 100.0 * plate.rated.efficiency()));
        } else {
            say(format_args!("rated_power_factor_pct = {:.2}", 100.0 * plate.rated.power_factor));
        }
        let curves = !matches!(extra.sheet, Sheet::Efficiency | Sheet::PowerFactor | Sheet::Least);
        if curves {
            say(format_args!("efficiency_pct = {}", curve(&plate, Point::efficiency)));
            say(format_args!("power_factor_pct = {}", curve(&plate, |point| point.power_factor)));
        }
        if !matches!(extra.sheet, Sheet::NoLocked | Sheet::Least) {
            say(format_args!("locked_rotor_current_a = {:.1}", plate.locked.current_a));
        }
        if !matches!(extra.sheet, Sheet::NoResistance | Sheet::Least) {
            say(format_args!("stator_resistance_ohm = {:.5}", c.stator_ohm));
        }
        if let Some(idle_w) = extra.idle_w {
            say(format_args!("[mill]\nidle_power_kw = {:.3}", idle_w / 1e3));
        }
        let [jam_s, start_s, loss_s] = extra.delays_s;
        say(format_args!(
            "[trip.thermal]\nbase_current_a = {:.2}\nheating_time_constant_s = 600.0",
            plate.rated.current_a
        ));
        say(format_args!("[trip.jam]\npickup_pct = 200.0\ndelay_s = {jam_s:?}"));
        say(format_args!("[trip.long_start]\ndelay_s = {start_s:?}"));
        say(format_args!("[trip.phase_loss]\npickup_pct = 60.0\ndelay_s = {loss_s:?}"));
        say(format_args!("[trip.undervoltage]\npickup_pct = 80.0\ndelay_s = 2.0"));
        text
    }
}

/// Pairs of load and value, both in per cent.
fn curve(plate: &Nameplate, value: impl Fn(&Point) -> f64) -> String {
    let pairs: Vec<String> =
        plate.curve.iter().map(|(load, point)| format!("[{load}, {:.2}]", value(point) * 100.0)).collect();
    format!("[{}]", pairs.join(", "))
}
