//! The reduced plant model against the full one: the same runs, through the plant and through the core.
//!
//! No published values here: the full model is checked against those in its own tests. The bounds are from measurement;
//! each is at most some three times the worst of the runs.

use shaftwork_acceptance::machine::{Extra, spread};
use shaftwork_acceptance::twin::{Seen, twins};
use shaftwork_core::{Register, Totals};
use shaftwork_sim::plant::Scenario;
use shaftwork_sim::plant::heating::Heating;
use shaftwork_sim::plant::motor::Impedance;
use shaftwork_sim::plant::supply::{Closed, Drift, Sag, Unbalance};
use shaftwork_sim::synth::catalogue;

/// A scenario with its settings.
struct Run {
    name: String,
    scenario: Scenario,
    settings: String,
    rated_a: f64,
}

/// One of the catalogue, changed a little.
fn named(name: &str, what: &str, change: impl Fn(&mut Scenario)) -> Run {
    let mut story = catalogue::find(name).expect("it is in the catalogue");
    change(&mut story.scenario);
    let rated_a = story.scenario.circuit.nameplate(story.rated_w).expect("a motor of its rating").rated.current_a;
    Run { name: format!("{name}{what}"), settings: story.settings(), scenario: story.scenario, rated_a }
}

/// A motor of the spread that starts against windage and is stopped and started again.
fn started(name: &str) -> Run {
    let machine = spread().into_iter().find(|machine| machine.name == name).expect("it is in the spread");
    let windage = machine.windage(0.15);
    let stops_s = 1.5 + machine.start_s;
    let mut scenario = machine.scenario(windage, machine.start_s, 0.5, 4.0 + machine.start_s);
    scenario.supply.closed[0].until_s = stops_s;
    scenario.supply.closed.push(Closed { from_s: stops_s + 0.7, until_s: f64::INFINITY });
    let rated_a = machine.plate().rated.current_a;
    Run { name: name.to_owned(), scenario, settings: machine.settings(&Extra::default()), rated_a }
}

/// The largest differences that are borne, and were found.
#[derive(Debug, Default, Clone, Copy)]
struct Off {
    /// Energy taken, work of the shaft, work of breaking: per cent.
    works_pct: f64,
    /// Speed at any half cycle, mean over the run: per cent of synchronous speed.
    speed_pct: f64,
    mean_speed_pct: f64,
    /// Time of a start, of passing twice the rated current, of a trip: s.
    start_s: f64,
    passes_s: f64,
    trip_s: f64,
    /// The core's energy, also while starting, and its shaft work: per cent of the energy.
    totals_pct: f64,
    /// The core's time in each state, s.
    state_s: f64,
    /// Largest one-cycle current, per cent; thermal level, per cent of the trip level.
    peak_pct: f64,
    thermal_pct: f64,
    /// What is missing from the reduced model's own balance, per cent.
    rest_pct: f64,
}

fn pct(found: f64, wanted: f64) -> f64 {
    if wanted.abs() > 0.0 { 100.0 * (found / wanted - 1.0).abs() } else { 100.0 * found.abs() }
}

fn joules(totals: &Totals) -> [f64; 3] {
    let register = |r: Register| r.joules as f64;
    [register(totals.electrical), register(totals.energy[1]), totals.shaft_q20 as f64 / 1_048_576.0]
}

/// Largest difference of two lists of times.
fn apart(full: &[f64], reduced: &[f64]) -> f64 {
    assert_eq!(full.len(), reduced.len(), "{full:?}, {reduced:?}");
    full.iter().zip(reduced).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max)
}

impl Off {
    fn of(run: &Run, [full, reduced]: &[Seen; 2]) -> Self {
        let (f, r) = (&full.end, &reduced.end);
        let works = [(r.electrical_j, f.electrical_j), (r.shaft_j, f.shaft_j), (r.breaking_j, f.breaking_j)];
        let sync = run.scenario.circuit.synchronous_rpm();
        let speeds: Vec<f64> =
            reduced.truths.iter().map(|t| 100.0 * (t.speed_rpm - full.speed_rpm(t.t_s)).abs() / sync).collect();
        let trips = |seen: &Seen| seen.trips().into_iter().unzip::<_, _, Vec<_>, Vec<f64>>();
        let ((causes, at), (same, when)) = (trips(full), trips(reduced));
        assert_eq!(causes, same, "{}: the same trips", run.name);
        let (mine, theirs) = (joules(&reduced.totals), joules(&full.totals));
        let totals = mine.iter().zip(theirs).map(|(a, b)| 100.0 * (a - b).abs() / theirs[0]);
        let time = |seen: &Seen| seen.totals.time.map(|span| seen.seconds(span.0));
        let amps = |seen: &Seen| f64::from(seen.totals.peak_current.to_bits());
        let level = |seen: &Seen| seen.totals.max_thermal.map_or(0.0, |x| f64::from(x.to_bits()) / 16_777_216.0);
        let passes = |seen: &Seen| seen.passes_s(2.0 * run.rated_a).into_iter().collect::<Vec<_>>();
        Self {
            works_pct: works.map(|(a, b)| pct(a, b)).into_iter().fold(0.0, f64::max),
            speed_pct: speeds.iter().copied().fold(0.0, f64::max),
            mean_speed_pct: speeds.iter().sum::<f64>() / speeds.len() as f64,
            start_s: apart(&full.starts_s(), &reduced.starts_s()),
            passes_s: apart(&passes(full), &passes(reduced)),
            trip_s: apart(&at, &when),
            totals_pct: totals.fold(0.0, f64::max),
            state_s: apart(&time(full), &time(reduced)),
            peak_pct: pct(amps(reduced), amps(full)),
            thermal_pct: 100.0 * (level(reduced) - level(full)).abs(),
            rest_pct: 100.0 * (r.balance.rest_j() / r.balance.electrical_j).abs(),
        }
    }

    fn figures(&self) -> [f64; 11] {
        [
            self.works_pct,
            self.speed_pct,
            self.mean_speed_pct,
            self.start_s,
            self.passes_s,
            self.trip_s,
            self.totals_pct,
            self.state_s,
            self.peak_pct,
            self.thermal_pct,
            self.rest_pct,
        ]
    }
}

/// The bounds, for all runs.
const BOUNDS: Off = Off {
    works_pct: 0.05,
    speed_pct: 0.1,
    mean_speed_pct: 0.02,
    start_s: 0.021,
    passes_s: 0.021,
    trip_s: 0.021,
    totals_pct: 0.1,
    state_s: 0.021,
    peak_pct: 3.0,
    thermal_pct: 0.5,
    rest_pct: 0.001,
};

fn agrees(run: &Run) {
    let seen = twins(&run.scenario, &run.settings, 5);
    let [full, reduced] = &seen;
    let off = Off::of(run, &seen);
    println!("{}: {off:?}", run.name);
    for (found, bound) in off.figures().into_iter().zip(BOUNDS.figures()) {
        assert!(found <= bound, "{}: {off:#?}, borne {BOUNDS:#?}", run.name);
    }
    assert_eq!(full.totals.starts, reduced.totals.starts, "{}", run.name);
    assert_eq!(full.told, reduced.told, "{}: the same happened", run.name);
    // The last frame lies a little before the end: a belt brings some more, at most twice its mean for three ticks of 10 ms.
    let more_kg = 0.06 * full.end.mass_kg / run.scenario.duration_s;
    let bound_kg = if run.scenario.mill.belt.is_some() { more_kg } else { 1e-9 };
    for (warm, wanted) in reduced.end.motor_c.into_iter().flatten().zip(full.end.motor_c.into_iter().flatten()) {
        assert!((warm - wanted).abs() < 0.1, "{}: {warm} C, wanted {wanted} C", run.name);
    }
    let mill_pct = 100.0 * (full.end.mill_rpm - reduced.end.mill_rpm).abs() / run.scenario.circuit.synchronous_rpm();
    assert!(mill_pct < BOUNDS.speed_pct, "{}: the mill's rotor", run.name);
    assert!((full.end.mass_kg - reduced.end.mass_kg).abs() <= bound_kg, "{}", run.name);
}

#[test]
fn starts() {
    agrees(&named("cold-start", "", |_| {}));
    agrees(&named("star-delta-start", "", |_| {}));
    for name in ["50 hp 460 V 60 Hz textbook", "15 kW 400 V 50 Hz", "110 kW 480 V 60 Hz", "30 kW 2-pole 400 V 50 Hz"] {
        agrees(&started(name));
    }
}

#[test]
fn running() {
    agrees(&named("hot-restart", "", |_| {}));
    agrees(&named("idle", "", |_| {}));
    agrees(&named("hand-fed", "", |_| {}));
    agrees(&named("worn-hammers", "", |_| {}));
    agrees(&named("wedge", "", |_| {}));
    agrees(&named("belt-fed", "", |_| {}));
    agrees(&named("choke", "", |_| {}));
    agrees(&named("hand-fed", ", lost belt", |s| s.mill.belt_lost_s = Some(20.0)));
    agrees(&named("hot-restart", ", warming up", |s| s.heating = Some(Heating::default())));
    agrees(&named("hand-fed", ", light rotor", |s| s.mill.inertia_kg_m2 = 1.5));
}

#[test]
fn mains() {
    agrees(&named("sag", "", |_| {}));
    agrees(&named("hand-fed", ", swell and drift", |s| {
        s.supply.sags.push(Sag { from_s: 10.0, until_s: 20.0, ramp_s: 0.05, depth: -0.08 });
        s.supply.drifts.push(Drift { from_s: 15.0, until_s: 40.0, by_hz: -0.6 });
    }));
    agrees(&named("cold-start", ", weak and unbalanced", |s| {
        s.supply.impedance = Impedance { ohm: 0.01, henry: 60e-6 };
        s.supply.unbalance = Some(Unbalance { share: 0.02, phase_rad: 1.0 });
    }));
    agrees(&named("lost-phase", "", |_| {}));
    agrees(&named("lost-phase", ", for a second", |s| s.supply.losses[0].until_s = 11.0));
    agrees(&named("lost-phase-upstream", "", |_| {}));
}
