//! Run-ups and disturbances of the plant's motor against a solver that others wrote: `scipy` from the Python package
//! registry, over equations written out in Python (`other_solver.py`) in other states than ours; for plain cages also
//! over the machine equations of `gym-electric-motor`. Everything agrees within 0.5 %.
//!
//! `cargo xtask test` installs the packages under `target/python` where it can. Where neither that nor a Python with
//! the package is to be had the test says so on standard error and passes: it has tried nothing.

mod python;

use std::collections::BTreeMap;

use serde_json::{Value, json};
use shaftwork_sim::plant::circuit::{Circuit, rpm};
use shaftwork_sim::plant::motor::{LONGEST_STEP_S, Motor};
use shaftwork_sim::plant::published::textbook;
use shaftwork_sim::plant::supply::{Closed, Loss, Place, Sag, Supply};
use shaftwork_sim::plant::terminals::{Phase, Vector};

/// How far two programs may be apart.
const TOLERANCE: f64 = 0.005;
/// Peaks and their times want fine sampling.
const FINE_S: f64 = 1e-5;
/// Samples of the curves: at every second of the longest steps.
const EVERY_S: f64 = 2.0 * LONGEST_STEP_S;
/// Shares of synchronous speed whose times are compared.
const LEVELS: [(&str, f64); 4] = [("t50_s", 0.5), ("t90_s", 0.9), ("t95_s", 0.95), ("t99_s", 0.99)];

/// A span of time over which nothing changes from outside.
#[derive(Clone, Copy)]
struct Span {
    until_s: f64,
    /// Share of the rated voltage.
    voltage: f64,
    load_nm: f64,
    line_a_open: bool,
}

impl Span {
    fn told(&self) -> Value {
        let Self { until_s, voltage, load_nm, line_a_open } = self;
        json!({ "until_s": until_s, "voltage": voltage, "load_nm": load_nm, "line_a_open": line_a_open })
    }
}

/// A motor started at rest, and what then happens to it.
struct Run {
    name: String,
    circuit: Circuit,
    driven_kg_m2: f64,
    windage_nm_s2: f64,
    spans: Vec<Span>,
}

impl Run {
    /// At full voltage without load.
    fn free(name: &str, circuit: Circuit, until_s: f64) -> Self {
        let spans = vec![Span { until_s, voltage: 1.0, load_nm: 0.0, line_a_open: false }];
        Self { name: name.to_owned(), circuit, driven_kg_m2: 0.0, windage_nm_s2: 0.0, spans }
    }

    fn until_s(&self) -> f64 {
        self.spans.last().map_or(0.0, |span| span.until_s)
    }

    fn at(&self, t_s: f64) -> &Span {
        // Half a fine step lies between rounding and what is meant.
        let current = self.spans.iter().find(|span| t_s < span.until_s - FINE_S / 2.0);
        current.or(self.spans.last()).expect("a run has spans")
    }

    /// The plant's own supply that does the same.
    fn supply(&self) -> Supply {
        let closed = Closed { from_s: 0.0, until_s: f64::INFINITY };
        let mut supply = Supply::new(self.circuit.line_v, self.circuit.frequency_hz, closed);
        let mut from_s = 0.0;
        for span in &self.spans {
            // Between the steps, so that no step sees both sides.
            let [from, until] = [from_s, span.until_s].map(|t| t - FINE_S / 4.0);
            if span.voltage < 1.0 {
                supply.sags.push(Sag { from_s: from, until_s: until, ramp_s: 0.0, depth: 1.0 - span.voltage });
            }
            if span.line_a_open {
                supply.losses.push(Loss { place: Place::Motor, phase: Phase::A, from_s: from, until_s: until });
            }
            from_s = span.until_s;
        }
        supply
    }

    /// The run as the other program is told it.
    fn told(&self) -> Value {
        let Circuit { line_v, frequency_hz, pole_pairs, stator_ohm, stator_leakage_ohm, .. } = self.circuit;
        let Circuit { magnetising_ohm, rotor_leakage_ohm, rotor_ohm, deep_bar, core_siemens, .. } = self.circuit;
        let Circuit { stray_ohm, friction_w, inertia_kg_m2, .. } = self.circuit;
        json!({
            "circuit": {
                "line_v": line_v, "frequency_hz": frequency_hz, "pole_pairs": pole_pairs, "stator_ohm": stator_ohm,
                "stator_leakage_ohm": stator_leakage_ohm, "magnetising_ohm": magnetising_ohm,
                "rotor_leakage_ohm": rotor_leakage_ohm, "rotor_ohm": rotor_ohm, "deep_bar": deep_bar,
                "core_siemens": core_siemens, "stray_ohm": stray_ohm, "friction_w": friction_w,
                "inertia_kg_m2": inertia_kg_m2,
            },
            "driven_kg_m2": self.driven_kg_m2,
            "windage_nm_s2": self.windage_nm_s2,
            "spans": self.spans.iter().map(Span::told).collect::<Vec<_>>(),
            "every_s": EVERY_S,
        })
    }

    /// Goes through it with the plant's motor.
    fn go(&self, step_s: f64) -> Course {
        let supply = self.supply();
        let mut motor = Motor::new(&self.circuit, self.driven_kg_m2);
        let mut course = Course::default();
        let steps = (self.until_s() / step_s).round() as u32;
        let load = |t: f64, w: f64| self.windage_nm_s2 * w * w.abs() + self.at(t).load_nm;
        for n in 0..=steps {
            let t = f64::from(n) * step_s;
            let connection = supply.connection(t);
            let terminals = |t| supply.terminals(t, connection);
            motor.meet(terminals(t));
            let i: Vector = motor.current(terminals(t));
            course.t_s.push(t);
            course.vector_a.push(i[0].hypot(i[1]));
            let [a, b, c] = motor.phase_currents(terminals(t));
            let torque = motor.air_gap_nm(terminals(t));
            for (curve, value) in course.curves.iter_mut().zip([rpm(motor.speed_rad_s()), torque, a, b, c]) {
                curve.push(value);
            }
            motor.step(t, step_s, terminals, load);
        }
        course
    }
}

/// Names of the curves.
const CURVES: [&str; 5] = ["speed_rpm", "torque_nm", "ia_a", "ib_a", "ic_a"];

/// What came of a run.
#[derive(Default)]
struct Course {
    t_s: Vec<f64>,
    /// In the order of their names.
    curves: [Vec<f64>; 5],
    vector_a: Vec<f64>,
}

impl Course {
    fn figures(&self, circuit: &Circuit) -> BTreeMap<String, f64> {
        let [speed, torque, currents @ ..] = &self.curves;
        let most = |curve: &[f64]| {
            let first = (f64::NEG_INFINITY, 0.0);
            curve.iter().zip(&self.t_s).fold(first, |best, (x, t)| if *x > best.0 { (*x, *t) } else { best })
        };
        let against: Vec<f64> = torque.iter().map(|x| -x).collect();
        let (high, low) = (most(torque), most(&against));
        let mut figures = BTreeMap::from([
            ("torque_max_nm", high.0),
            ("torque_max_s", high.1),
            ("torque_min_nm", -low.0),
            ("torque_min_s", low.1),
            ("vector_peak_a", most(&self.vector_a).0),
            ("top_rpm", most(speed).0),
        ]);
        for (name, current) in ["peak_a_a", "peak_b_a", "peak_c_a"].into_iter().zip(currents) {
            figures.insert(name, current.iter().fold(0.0, |peak: f64, x| peak.max(x.abs())));
        }
        for (name, share) in LEVELS {
            let level = share * circuit.synchronous_rpm();
            let k = speed.iter().position(|x| *x >= level).expect("the motor runs up");
            let part = (level - speed[k - 1]) / (speed[k] - speed[k - 1]);
            figures.insert(name, self.t_s[k - 1] + part * (self.t_s[k] - self.t_s[k - 1]));
        }
        figures.into_iter().map(|(name, x)| (name.to_owned(), x)).collect()
    }
}

/// The four published machines, and the mill's motor with all its losses: free, then with what a mill lives through.
fn runs() -> Vec<Run> {
    let lengths = [0.6, 0.8, 1.8, 3.0];
    let mut runs: Vec<Run> = textbook()
        .into_iter()
        .zip(lengths)
        .map(|(machine, until_s)| Run::free(&format!("{} hp", machine.horsepower), machine.circuit, until_s))
        .collect();
    let mill = Run::free("55 kW, all losses", Circuit::mill_55_kw(), 0.6);
    let spans = [
        (1.4, 1.0, 0.0, false),
        (1.8, 1.0, 350.0, false),
        (2.0, 0.7, 350.0, false),
        (2.4, 1.0, 350.0, false),
        (2.7, 1.0, 350.0, true),
        (3.0, 1.0, 350.0, false),
    ];
    let spans = spans.map(|(until_s, voltage, load_nm, line_a_open)| Span { until_s, voltage, load_nm, line_a_open });
    let disturbed = Run {
        name: "55 kW: load step, sag, line lost and back".to_owned(),
        driven_kg_m2: 2.0,
        windage_nm_s2: 1.85e-3,
        spans: spans.to_vec(),
        ..Run::free("", Circuit::mill_55_kw(), 0.0)
    };
    runs.extend([mill, disturbed]);
    runs
}

/// The greatest of a curve's neighbours within a time either way.
fn around(curve: &[f64], samples: usize) -> Vec<f64> {
    let last = curve.len() - 1;
    let span = |k: usize| &curve[k.saturating_sub(samples)..=(k + samples).min(last)];
    (0..curve.len()).map(|k| span(k).iter().fold(0.0, |most, x| x.max(most))).collect()
}

/// Largest share by which two curves are apart.
fn apart(ours: &[f64], theirs: &Value, scale: impl Fn(usize) -> f64) -> f64 {
    let theirs = theirs.as_array().unwrap();
    assert_eq!(ours.len(), theirs.len());
    let one = |(k, (ours, theirs)): (usize, (&f64, &Value))| (ours - theirs.as_f64().unwrap()).abs() / scale(k);
    ours.iter().zip(theirs).enumerate().map(one).fold(0.0, f64::max)
}

/// Krause, Wasynczuk and Sudhoff, *Analysis of Electric Machinery*: the machines and the equations.
#[test]
fn another_solver_finds_what_the_plant_does() {
    let Some(python) = python::with("scipy") else {
        python::skipped("scipy", "no other solver has gone through the motor's runs");
        return;
    };
    let runs = runs();
    let told: Vec<Value> = runs.iter().map(Run::told).collect();
    let found = python::run(&python, "other_solver.py", &[], &Value::from(told));
    let theirs = found["runs"].as_array().unwrap();
    assert_eq!(theirs.len(), runs.len());
    println!("scipy {}, numpy {}", found["scipy"], found["numpy"]);
    if theirs[0]["gym-electric-motor"].is_null() {
        python::skipped("gym_electric_motor", "no other's equations of a motor stand beside ours");
    }

    for (run, theirs) in runs.iter().zip(theirs) {
        // Figures at a fine step; curves at the longest that traces are made with.
        let figures = run.go(FINE_S).figures(&run.circuit);
        let course = run.go(LONGEST_STEP_S);
        let every = (EVERY_S / LONGEST_STEP_S).round() as usize;
        let cycle = (1.0 / (run.circuit.frequency_hz * EVERY_S)).ceil() as usize;
        let thinned = |curve: &[f64]| -> Vec<f64> { curve.iter().copied().step_by(every).collect() };
        let amplitude = around(&thinned(&course.vector_a), cycle);
        for voice in ["written out", "gym-electric-motor"] {
            let theirs = &theirs[voice];
            if theirs.is_null() {
                continue;
            }
            let wanted: BTreeMap<String, f64> = serde_json::from_value(theirs["figures"].clone()).unwrap();
            assert!(figures.keys().eq(wanted.keys()), "{figures:?} {wanted:?}");
            let mut worst = (0.0, "");
            for (name, wanted) in &wanted {
                let off = (figures[name] / wanted - 1.0).abs();
                assert!(off <= TOLERANCE, "{}, {voice}: {name} {}, wanted {wanted}", run.name, figures[name]);
                worst = if off > worst.0 { (off, name) } else { worst };
            }
            let beyond = [figures["top_rpm"], wanted["top_rpm"]].map(|top| top - run.circuit.synchronous_rpm());
            if beyond[1] > 1.0 {
                assert!((beyond[0] / beyond[1] - 1.0).abs() <= TOLERANCE, "{}: overshoot {beyond:?}", run.name);
            }
            // Speed by the synchronous one, torque by its largest, currents by the amplitude within a cycle.
            let shares: Vec<f64> = CURVES
                .iter()
                .zip(&course.curves)
                .map(|(name, curve)| {
                    let scale = |k: usize| match *name {
                        "speed_rpm" => run.circuit.synchronous_rpm(),
                        "torque_nm" => figures["torque_max_nm"],
                        _ => amplitude[k],
                    };
                    let share = apart(&thinned(curve), &theirs["curves"][name], scale);
                    assert!(share <= TOLERANCE, "{}, {voice}: {name} is {:.3} % off", run.name, 100.0 * share);
                    100.0 * share
                })
                .collect();
            println!("{:<42} {voice:<19} {:.4} % ({}); curves {shares:.4?} %", run.name, 100.0 * worst.0, worst.1);
        }
    }
}
