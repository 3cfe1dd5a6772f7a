//! The reduced model: the same plant half cycle by half cycle, for studies of hundreds of hours.
//!
//! ```text
//! source, contactor -> field (flux and currents in closed form)        -> mean torque -> speed
//!                        |                                                 mean load over the step
//!                        +-> sums -> HalfCycle, as the core's meter would make it, with truth and events beside it
//! ```
//!
//! At one speed and voltage the field's equations are linear, so that a step needs no small ones: flux and currents
//! go exponentially to where they settle, and means of currents, powers and torque are known in closed form (`course`,
//! `field`). A half cycle takes two to eight steps, more for a light rotor or after switching. Load and feed are the full model's own,
//! with the same pieces for the same seed; strikes count by their integrals.
//!
//! Left out: harmonics, soft starters, bouncing contacts, capacitors, transducers and channels that err, and the voltage
//! behind an open line, which are refused in words; what converters do to the readings (noise, counts, clipping), which
//! no record shows; and the direct component that losing a line leaves for some cycles. What turns against the source
//! settles at once. Records are cut at half turns of the source from the first frame on; the core's meter, which has to
//! find the frequency first, cuts a fraction of a frame beside.
//!
//! Against the full model and through the core, over starts, restarts, feeding, a wedge, a choke, sags, drift,
//! unbalance, warmth, a lost belt and lost lines (asserted in the acceptance tests): energies 0.05 %, speed 0.1 % of
//! synchronous at worst, starts and trips two half cycles, the core's energies 0.1 %, its largest one-cycle current 3 %,
//! its thermal level 0.5 % of the trip level. Its own balance closes to a ten-thousandth; where a line is lost near standstill some
//! thousandths can be missing.

mod course;
mod field;
mod mains;
mod one_axis;
mod record;
mod refused;
mod step;
mod whole;

use super::balance::Balance;
use super::circuit::{Circuit, rpm};
use super::drive::Rotor as Mill;
use super::event::{Event, What, bound, opened};
use super::feeder::Dropped;
use super::heating::{INTERVAL_S, Warmth};
use super::mill::Load;
use super::motor::Impedance;
use super::terminals::Windings;
use super::{Answer, Scenario, Truth};
use field::{Field, State};
use mains::breaks;
use record::Records;
pub use refused::Refused;
use shaftwork_core::record::HalfCycle;
use std::sync::Arc;
use step::Half;

/// Times are the same within this, s.
const SAME_S: f64 = 1e-9;

/// What a half cycle brought.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step<'a> {
    /// The record.
    pub record: HalfCycle,
    /// What lies behind, at its end; torques are means over the half cycle.
    pub truth: Truth,
    /// What happened in it.
    pub events: &'a [Event],
}

/// Goes through a scenario; `each` takes the half cycles in order. Returns the truth at the end.
///
/// # Errors
///
/// What the model cannot do; else only what `each` returns: its first error stops the run.
pub fn run<E: From<Refused>>(
    scenario: &Scenario,
    seed: u64,
    mut each: impl FnMut(&Step<'_>) -> Result<(), E>,
) -> Result<Truth, E> {
    let mut plant = Reduced::new(scenario, seed)?;
    while let Some(step) = plant.half_cycle() {
        each(&step)?;
    }
    Ok(plant.truth)
}

/// The plant, half cycle by half cycle.
#[derive(Debug, Clone)]
pub struct Reduced {
    scenario: Arc<Scenario>,
    /// With the resistances that belong to its temperatures.
    circuit: Circuit,
    warmth: Option<Warmth>,
    /// When it went on last, s.
    warmed_s: f64,
    /// The mill's rotor once the belt is lost.
    mill: Option<Mill>,
    /// For running and for starting in star.
    fields: [Field; 2],
    load: Load,
    events: Vec<Event>,
    told: usize,
    /// What happened in the last half cycle.
    happened: Vec<Event>,
    /// Fed when the first frame came, kg.
    begun_kg: f64,
    /// When something changes at once: no step goes over it.
    breaks: Vec<f64>,
    passed: usize,
    /// The longest step, as a share of a half cycle.
    steps: f64,
    inertia_kg_m2: f64,
    t_s: f64,
    field: State,
    /// Whether a direct component is still there.
    transient: bool,
    speed_rad_s: f64,
    /// Change of speed over the last step, rad/s².
    slope: f64,
    /// Mean torque of strikes, wedge and drag over the last step, N m.
    breaking_nm: f64,
    /// Energy of the field, J.
    field_j: f64,
    works: Balance,
    begun: Balance,
    breaking_j: f64,
    records: Records,
    truth: Truth,
    ended: bool,
}

impl Reduced {
    /// At the first frame: the lead is over.
    ///
    /// # Errors
    ///
    /// What the model cannot do.
    pub fn new(scenario: &Scenario, seed: u64) -> Result<Self, Refused> {
        refused::check(scenario)?;
        let (circuit, supply) = (&scenario.circuit, &scenario.supply);
        let inertia_kg_m2 = circuit.inertia_kg_m2 + scenario.mill.inertia_kg_m2;
        let mut breaks = breaks(supply);
        breaks.extend(scenario.mill.belt_lost_s);
        breaks.sort_by(f64::total_cmp);
        let mut plant = Self {
            fields: fields(circuit, supply.impedance),
            circuit: circuit.clone(),
            warmth: scenario.heating.map(Warmth::new),
            warmed_s: -scenario.lead_s.max(0.0),
            mill: None,
            events: bound(scenario),
            load: Load::new(&scenario.mill, seed),
            told: 0,
            happened: Vec::new(),
            begun_kg: 0.0,
            breaks,
            passed: 0,
            steps: steps(circuit, inertia_kg_m2),
            inertia_kg_m2,
            t_s: -scenario.lead_s.max(0.0),
            field: State::default(),
            transient: false,
            speed_rad_s: 0.0,
            slope: 0.0,
            breaking_nm: 0.0,
            field_j: 0.0,
            works: Balance::default(),
            begun: Balance::default(),
            breaking_j: 0.0,
            records: Records::new(scenario.rate_hz, supply.frequency_hz),
            truth: Truth::default(),
            ended: scenario.duration_s <= 0.0,
            scenario: Arc::new(scenario.clone()),
        };
        plant.feel_warmth();
        while plant.t_s < -SAME_S {
            let until = plant.half_from(plant.t_s);
            plant.go(if until > -SAME_S { 0.0 } else { until }, &mut Half::default());
            plant.warm();
        }
        plant.begin();
        Ok(plant)
    }

    /// The next half cycle; none when the run is over.
    pub fn half_cycle(&mut self) -> Option<Step<'_>> {
        if self.ended {
            return None;
        }
        let (from, end) = (self.t_s, self.scenario.duration_s);
        let until = self.half_from(from);
        let whole = until < end + SAME_S;
        self.ended = until > end - SAME_S;
        let until = until.min(end);
        let mut half = Half::default();
        self.go(until, &mut half);
        self.warm();
        let record = self.records.close(&half.sums, until, whole);
        self.tell(&half, until - from);
        Some(Step { record, truth: self.truth, events: &self.happened })
    }

    /// The load, so that whoever regulates the feed can set it between half cycles.
    pub fn load(&mut self) -> &mut Load {
        &mut self.load
    }

    /// Does what is answered to the last half cycle.
    pub fn answer(&mut self, answer: Answer) {
        self.load.answer(answer);
        let at_s = self.t_s;
        if answer.open && self.scenario.supply.is_closed(at_s) {
            Arc::make_mut(&mut self.scenario).supply.open(at_s);
            opened(&mut self.events, at_s, self.told);
        }
    }

    /// What is known so far.
    pub fn truth(&self) -> &Truth {
        &self.truth
    }

    /// What was counted in the lead is forgotten.
    fn begin(&mut self) {
        self.begun = self.balance();
        self.breaking_j = 0.0;
        self.told = self.events.partition_point(|event| event.t_s < 0.0);
        self.begun_kg = self.load.fed_kg();
        self.load.dropped();
    }

    /// The end of a half cycle that begins at a time.
    fn half_from(&self, t_s: f64) -> f64 {
        let first = t_s + 0.5 / self.scenario.supply.hertz(t_s);
        if self.scenario.supply.drifts.is_empty() {
            return first;
        }
        t_s + 0.5 / self.scenario.supply.hertz(f64::midpoint(t_s, first))
    }

    /// Goes on to a time.
    fn go(&mut self, until_s: f64, half: &mut Half) {
        let longest = 0.5 / self.scenario.supply.frequency_hz / self.steps;
        while self.t_s < until_s - SAME_S {
            while self.breaks.get(self.passed).is_some_and(|at| *at < self.t_s + SAME_S) {
                self.passed += 1;
            }
            if self.mill.is_none() && self.scenario.mill.belt_lost_s.is_some_and(|at| at < self.t_s + SAME_S) {
                self.part();
            }
            let stop = self.breaks.get(self.passed).map_or(until_s, |at| at.min(until_s));
            let left = stop - self.t_s;
            // Steps of one length, so that none is a splinter.
            let longest = if self.transient { longest / 2.0 } else { longest };
            let h = left / (left / longest - 1e-6).ceil().max(1.0);
            self.step(h, half);
            self.t_s = if stop - self.t_s - h < SAME_S { stop } else { self.t_s + h };
        }
    }

    /// Of motor and mill together.
    fn balance(&self) -> Balance {
        let mut kinetic_j = 0.5 * self.inertia_kg_m2 * self.speed_rad_s * self.speed_rad_s;
        let mut load_j = self.works.load_j;
        if let Some(mill) = &self.mill {
            kinetic_j += mill.kinetic_j();
            load_j += mill.load_j();
        }
        Balance { magnetic_j: self.field_j, kinetic_j, load_j, ..self.works }
    }

    /// Speed of the mill's rotor, rad/s.
    fn mill_speed(&self) -> f64 {
        self.mill.as_ref().map_or(self.speed_rad_s, Mill::speed_rad_s)
    }

    /// The belt is lost: the motor turns alone from now on.
    fn part(&mut self) {
        self.mill = Some(Mill::new(self.scenario.mill.inertia_kg_m2, self.speed_rad_s));
        self.inertia_kg_m2 = self.circuit.inertia_kg_m2;
        self.steps = steps(&self.circuit, self.inertia_kg_m2);
    }

    /// Lets the motor warm up by what it lost, a few times a second.
    fn warm(&mut self) {
        let seconds = self.t_s - self.warmed_s;
        if let Some(warmth) = &mut self.warmth
            && seconds > INTERVAL_S - SAME_S
        {
            warmth.go_on(seconds, [self.works.stator_j, self.works.rotor_j]);
            self.warmed_s = self.t_s;
            self.feel_warmth();
        }
    }

    /// Gives the motor the resistances that belong to its temperatures.
    fn feel_warmth(&mut self) {
        let Some(warmth) = &self.warmth else { return };
        let [stator, rotor] = warmth.rises();
        let Circuit { stator_ohm, rotor_ohm, .. } = self.scenario.circuit;
        (self.circuit.stator_ohm, self.circuit.rotor_ohm) = (stator_ohm * stator, rotor_ohm * rotor);
        self.fields = fields(&self.circuit, self.scenario.supply.impedance);
    }

    /// Brings truth and events up to now.
    fn tell(&mut self, half: &Half, seconds: f64) {
        self.load.advance(self.t_s, self.mill_speed());
        let balance = self.balance() - self.begun;
        self.truth = Truth {
            t_s: self.t_s,
            speed_rpm: rpm(self.speed_rad_s),
            mill_rpm: rpm(self.mill_speed()),
            shaft_nm: half.shaft_nms / seconds,
            load_nm: half.load_nms / seconds,
            mass_kg: self.load.fed_kg() - self.begun_kg,
            charge_kg: self.load.charge_kg(),
            electrical_j: balance.electrical_j,
            shaft_j: balance.shaft_j(),
            breaking_j: self.breaking_j,
            motor_c: self.warmth.as_ref().map(|warmth| warmth.now_c),
            balance,
        };
        self.happened.clear();
        let due = |event: &&Event| event.t_s <= self.t_s;
        self.happened.extend(self.events[self.told..].iter().take_while(due));
        self.told += self.happened.len();
        let thrown = |piece: Dropped| Event { t_s: piece.at_s, what: What::Piece(piece.mass_kg) };
        self.happened.extend(self.load.dropped().map(thrown));
        self.happened.sort_by(|a, b| a.t_s.total_cmp(&b.t_s));
    }
}

/// For running and for starting in star.
fn fields(circuit: &Circuit, source: Impedance) -> [Field; 2] {
    [Windings::Run, Windings::Star].map(|joined| Field::new(circuit, source, joined))
}

/// Steps in a half cycle: none longer than a quarter of the time in which the torque of a small slip would take the rotor
/// to speed.
fn steps(circuit: &Circuit, inertia_kg_m2: f64) -> f64 {
    let slip = 0.005;
    let stiffness = circuit.at_slip(slip).air_gap_nm / (slip * circuit.synchronous_rad_s());
    let quarter_s = inertia_kg_m2 / stiffness / 4.0;
    (0.5 / circuit.frequency_hz / quarter_s).ceil().clamp(2.0, 8.0)
}

#[cfg(test)]
mod tests;
