//! A model of a mill: supply and contactor, motor, rotor with what falls into it, converters.
//!
//! ```text
//!  supply --- contactor --- motor --- shaft --- rotor, windage, pieces, wedge
//!     |                       |                    |
//!     +---- converters -------+------ scale -------+---> frames [va, vb, vc, ia, ib, ic, mass], with their truth
//! ```
//!
//! [`run`] goes through a [`Scenario`] with a fixed step and hands out one [`Frame`] a sample; nothing is kept, so a
//! trace may be as long as one likes. The same scenario and seed give the same frames on the same machine; another
//! machine's sine may differ in the last bit of an f64, far below a count.

pub mod balance;
pub mod breakage;
pub mod circuit;
mod drive;
mod event;
pub mod fault;
pub mod feeder;
pub mod heating;
pub mod mill;
pub mod motor;
pub mod published;
pub mod reduced;
pub mod seed;
pub mod sensor;
pub mod single_phase;
pub mod steady;
pub mod supply;
pub mod tap;
pub mod terminals;
pub mod transducer;

use balance::Balance;
use circuit::{Circuit, rpm};
use drive::Rotor;
use event::bound;
pub use event::{Event, What};
use fault::Faults;
use feeder::Dropped;
use heating::{Heating, INTERVAL_S, Warmth};
use mill::{Load, Mill};
use motor::{LONGEST_STEP_S, Motor};
use seed::Random;
use sensor::{CurrentTap, Sensor};
use std::sync::Arc;
use supply::{Connection, Remembered, Supply, Thyristors};
use terminals::{Terminals, phases};
use transducer::{Shift, shifts};

/// Everything that decides what a trace shows, but for the seed.
#[derive(Debug, Clone, PartialEq)]
pub struct Scenario {
    /// The motor.
    pub circuit: Circuit,
    /// How it warms up; none keeps the circuit's resistances.
    pub heating: Option<Heating>,
    /// Mains and contactor.
    pub supply: Supply,
    /// Rotor and load.
    pub mill: Mill,
    /// Converters.
    pub sensor: Sensor,
    /// Frames a second.
    pub rate_hz: f64,
    /// Time simulated before the first frame, s. All times of a scenario count from the first frame: what happens
    /// in the lead has a negative time.
    pub lead_s: f64,
    /// Length of the trace, s.
    pub duration_s: f64,
}

/// The 55 kW motor on a clean 400 V supply and an empty mill, at rest and started at once; 10 s at 4 kHz.
impl Scenario {
    /// Makes it so long; the scale of a belt counts as far as that may bring, in the same steps.
    pub fn lasts(&mut self, duration_s: f64) {
        self.duration_s = duration_s;
        if let Some(belt) = &self.mill.belt {
            self.sensor.mass = self.sensor.mass.reaching(belt.full_kg_s() * duration_s);
        }
    }
}

impl Default for Scenario {
    fn default() -> Self {
        Self {
            circuit: Circuit::default(),
            heating: None,
            supply: Supply::default(),
            mill: Mill::default(),
            sensor: Sensor::default(),
            rate_hz: 4000.0,
            lead_s: 0.0,
            duration_s: 10.0,
        }
    }
}

/// The end of what does not end, where a file leaves it out.
fn never() -> f64 {
    f64::INFINITY
}

/// What the model knows and no converter sees. Works count from the first frame.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Truth {
    /// Since the first frame, s.
    pub t_s: f64,
    /// Motor shaft, rpm.
    pub speed_rpm: f64,
    /// The mill's rotor, seen from the motor shaft: another speed than the motor's once the belt is lost, rpm.
    pub mill_rpm: f64,
    /// Torque of the motor's field less its own brakes, N m; what speeds up the rotor is part of it.
    pub shaft_nm: f64,
    /// Torque of windage, pieces and wedge, N m.
    pub load_nm: f64,
    /// Mass fed so far, kg: what was thrown in, and what has passed the belt's scale.
    pub mass_kg: f64,
    /// What lies in the chamber, kg; nothing where there is none.
    pub charge_kg: f64,
    /// Electrical work taken so far, J.
    pub electrical_j: f64,
    /// Work of the shaft so far, J.
    pub shaft_j: f64,
    /// Work of pieces and wedge so far, J.
    pub breaking_j: f64,
    /// Temperatures of the stator's winding and of the cage, degrees C, where they are modelled.
    pub motor_c: Option<[f64; 2]>,
    /// Where the electrical work went; what is stored counts from the first frame as well.
    pub balance: Balance,
}

/// One sample of every channel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frame<'a> {
    /// va, vb, vc (V, phase to neutral), ia, ib, ic (A), mass fed (kg), as the converters give them.
    pub reading: [f64; 7],
    /// What lies behind.
    pub truth: Truth,
    /// What happened since the frame before.
    pub events: &'a [Event],
}

/// Goes through a scenario; `each` takes the frames in order. Returns the truth at the end.
///
/// # Errors
///
/// Only what `each` returns: its first error stops the run.
pub fn run<E>(scenario: &Scenario, seed: u64, mut each: impl FnMut(&Frame<'_>) -> Result<(), E>) -> Result<Truth, E> {
    let mut plant = Plant::new(scenario, seed);
    while let Some(frame) = plant.next_frame() {
        each(&frame)?;
    }
    Ok(plant.truth)
}

/// What whoever watches the plant does to it between two frames.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Answer {
    /// The belt's drive, as a share of full speed, negative for backwards; none leaves it to the scenario.
    pub belt: Option<f64>,
    /// The lamp is not on "feed": a person who sees it waits, a belt that is not told its speed stands.
    pub hold: bool,
    /// Open the contactor: it stays open.
    pub open: bool,
}

/// The plant, frame by frame.
pub struct Plant {
    scenario: Arc<Scenario>,
    /// The frame that comes next, and how many there are.
    at: i64,
    frames: i64,
    motor: Motor,
    warmth: Option<Warmth>,
    /// The frame at which it went on last.
    warmed: i64,
    /// The mill's rotor once the belt is lost.
    rotor: Option<Rotor>,
    load: Load,
    events: Vec<Event>,
    /// Events before this one have been handed out.
    told: usize,
    /// What happened since the last frame.
    happened: Vec<Event>,
    /// Fed, and counted by the scale, when the first frame came, kg.
    begun_kg: [f64; 2],
    truth: Truth,
    /// Of a soft starter.
    thyristors: Thyristors,
    source: Remembered,
    /// What held over the last step.
    connection: Connection,
    /// The balance when the first frame came.
    begun: Balance,
    /// Power of breaking at the last step's end, W.
    breaking_w: f64,
    noise: [Random; 7],
    shifts: Vec<Shift>,
    faults: Faults,
    /// Steps from a frame to the next.
    steps: i64,
}

impl Plant {
    /// The plant of a scenario and a seed, before its first frame.
    pub fn new(scenario: &Scenario, seed: u64) -> Self {
        // Counts of frames are far below 2^53; a negative or absurd length gives no frame.
        let lead = (scenario.lead_s * scenario.rate_hz).round() as i64;
        let mut plant = Self::at_lead(scenario, seed, lead);
        plant.feel_warmth();
        for n in -lead..0 {
            plant.go_on(n);
            plant.warm(n);
        }
        plant.begin();
        plant
    }

    /// The next frame; none when the run is over.
    pub fn next_frame(&mut self) -> Option<Frame<'_>> {
        let n = self.at;
        if n > 0 && n <= self.frames {
            self.go_on(n - 1);
            self.warm(n - 1);
        }
        self.at = n + 1;
        // All of the truth is of one moment: the end of the last frame.
        let over = n >= self.frames;
        let frame = self.frame(n.min(self.frames));
        if over { None } else { Some(frame) }
    }

    /// What lies behind the last frame.
    pub fn truth(&self) -> &Truth {
        &self.truth
    }

    /// What has left the mill through its screen so far, kg.
    pub fn out_kg(&self) -> f64 {
        self.load.out_kg()
    }

    /// Does what is answered to the last frame.
    pub fn answer(&mut self, answer: Answer) {
        self.load.answer(answer);
        let at_s = self.truth.t_s;
        if answer.open && self.scenario.supply.is_closed(at_s) {
            Arc::make_mut(&mut self.scenario).supply.open(at_s);
            event::opened(&mut self.events, at_s, self.told);
        }
    }

    fn at_lead(scenario: &Scenario, seed: u64, lead: i64) -> Self {
        Self {
            at: 0,
            frames: (scenario.duration_s * scenario.rate_hz).round() as i64,
            motor: Motor::new(&scenario.circuit, scenario.mill.inertia_kg_m2).behind(scenario.supply.impedance),
            warmth: scenario.heating.map(Warmth::new),
            warmed: -lead,
            rotor: None,
            load: Load::new(&scenario.mill, seed),
            events: bound(scenario),
            told: 0,
            happened: Vec::new(),
            begun_kg: [0.0; 2],
            truth: Truth::default(),
            thyristors: Thyristors::default(),
            source: Remembered::default(),
            connection: Connection::Open,
            begun: Balance::default(),
            breaking_w: 0.0,
            noise: std::array::from_fn(|n| Random::stream(seed, 1 + n as u64)),
            shifts: shifts(&scenario.sensor.transducers, scenario.circuit.frequency_hz),
            faults: Faults::new(&scenario.sensor.faults, scenario.rate_hz),
            // At least one; small.
            steps: ((1.0 / (scenario.rate_hz * LONGEST_STEP_S)).ceil() as i64).max(1),
            scenario: Arc::new(scenario.clone()),
        }
    }

    /// What was counted in the lead is forgotten.
    fn begin(&mut self) {
        self.truth = Truth { motor_c: self.truth.motor_c, ..Truth::default() };
        self.begun = self.balance();
        self.told = self.events.partition_point(|event| event.t_s < 0.0);
        self.begun_kg = [self.load.fed_kg(), self.load.scale_kg()];
        self.load.dropped();
    }

    /// From frame `n` to the next.
    fn go_on(&mut self, n: i64) {
        let rate = self.scenario.rate_hz * self.steps as f64;
        let h = 1.0 / rate;
        for k in 0..self.steps {
            let t = (n * self.steps + k) as f64 / rate;
            if self.rotor.is_none() && self.scenario.mill.belt_lost_s.is_some_and(|lost_s| t + h / 2.0 >= lost_s) {
                self.rotor = Some(Rotor::new(self.motor.let_go(), self.motor.speed_rad_s()));
            }
            self.load.advance(t, self.mill_speed());
            let (supply, load) = (&self.scenario.supply, &self.load);
            let connection = joined(supply, &mut self.motor, &mut self.thyristors, t, h);
            self.connection = connection;
            let source = &self.source;
            let terminals = |t| source.terminals(supply, t, connection);
            match &mut self.rotor {
                None => self.motor.step(t, h, terminals, |t, speed| load.torque_nm(t, speed)),
                Some(rotor) => {
                    self.motor.step(t, h, terminals, |_, _| 0.0);
                    rotor.step(t, h, |t, speed| load.torque_nm(t, speed));
                }
            }
            self.count(t + h, h);
        }
        self.truth.balance = self.balance() - self.begun;
        self.truth.electrical_j = self.truth.balance.electrical_j;
        self.truth.shaft_j = self.truth.balance.shaft_j();
    }

    /// Lets the motor warm up by what it lost until the end of frame `n`, a few times a second.
    fn warm(&mut self, n: i64) {
        let Some(warmth) = &mut self.warmth else { return };
        // Small.
        let every = ((self.scenario.rate_hz * INTERVAL_S).round() as i64).max(1);
        if n + 1 - self.warmed >= every {
            let balance = self.motor.balance();
            warmth.go_on(every as f64 / self.scenario.rate_hz, [balance.stator_j, balance.rotor_j]);
            self.warmed = n + 1;
            self.feel_warmth();
        }
    }

    /// Gives the motor the resistances that belong to its temperatures.
    fn feel_warmth(&mut self) {
        let Some(warmth) = &self.warmth else { return };
        let (circuit, [stator, rotor]) = (&self.scenario.circuit, warmth.rises());
        self.motor.resist(circuit.stator_ohm * stator, circuit.rotor_ohm * rotor);
        self.truth.motor_c = Some(warmth.now_c);
    }

    /// Speed of the mill's rotor, rad/s.
    fn mill_speed(&self) -> f64 {
        self.rotor.as_ref().map_or_else(|| self.motor.speed_rad_s(), Rotor::speed_rad_s)
    }

    /// Of motor and mill together.
    fn balance(&self) -> Balance {
        let mut all = self.motor.balance();
        if let Some(rotor) = &self.rotor {
            all.load_j += rotor.load_j();
            all.kinetic_j += rotor.kinetic_j();
        }
        all
    }

    /// Adds up the work of breaking by the trapezoidal rule.
    fn count(&mut self, t_s: f64, h_s: f64) {
        let speed = self.mill_speed();
        let now = self.load.breaking_nm(t_s, speed) * speed;
        self.truth.breaking_j += h_s / 2.0 * (self.breaking_w + now);
        self.breaking_w = now;
    }

    /// Voltages of the lines at a time, and currents where they are taken.
    fn lines(&self, motor: &Motor, t_s: f64, connection: Connection, terminals: Terminals) -> [f64; 6] {
        let supply = &self.scenario.supply;
        let [va, vb, vc] = tap::volts(supply, motor, t_s, terminals);
        if self.scenario.sensor.current_tap == CurrentTap::DeltaAb {
            let [ab, bc, ca] = motor.winding_currents(terminals);
            return [va, vb, vc, ab, bc, ca];
        }
        let mut i = motor.phase_currents(terminals);
        if supply.capacitors_kvar != 0.0 {
            let more = phases(supply.capacitor_current(t_s, connection));
            i = std::array::from_fn(|x| i[x] + more[x]);
        }
        [va, vb, vc, i[0], i[1], i[2]]
    }

    /// Voltages and currents of the lines so long after a frame, or before it, with what holds over the step there.
    fn lines_shifted(&self, t_s: f64, by_s: f64) -> [f64; 6] {
        let (supply, mut motor) = (&self.scenario.supply, self.motor.clone());
        let connection = if by_s < 0.0 {
            self.connection
        } else {
            let h = 1.0 / (self.scenario.rate_hz * self.steps as f64);
            joined(supply, &mut motor, &mut self.thyristors.clone(), t_s, h)
        };
        // Speed hardly changes over a shift.
        let load_nm = if self.rotor.is_some() { 0.0 } else { self.load.torque_nm(t_s, motor.speed_rad_s()) };
        motor.step(t_s, by_s, |t| supply.terminals(t, connection), |_, _| load_nm);
        let t_s = t_s + by_s;
        self.lines(&motor, t_s, connection, supply.terminals(t_s, connection))
    }

    fn frame(&mut self, n: i64) -> Frame<'_> {
        let t_s = n as f64 / self.scenario.rate_hz;
        let scenario = Arc::clone(&self.scenario);
        let Scenario { supply, sensor, .. } = &*scenario;
        let connection = match (supply.connection(t_s), supply.firing_rad(t_s)) {
            (Connection::Whole, Some(_)) => self.thyristors.connection(),
            (connection, _) => connection,
        };
        // Before the motor is joined and met as from now on.
        let shifted: Vec<[f64; 6]> = self.shifts.iter().map(|shift| self.lines_shifted(t_s, shift.by_s)).collect();
        self.motor.join(supply.windings(t_s));
        let terminals = self.source.terminals(supply, t_s, connection);
        if let Connection::OneAxis(_) = connection {
            self.motor.meet(terminals);
        }
        let speed = self.mill_speed();
        self.load.advance(t_s, speed);
        self.truth.mass_kg = self.load.fed_kg() - self.begun_kg[0];
        self.truth.charge_kg = self.load.charge_kg();
        self.truth.t_s = t_s;
        self.truth.speed_rpm = rpm(self.motor.speed_rad_s());
        self.truth.mill_rpm = rpm(speed);
        self.truth.shaft_nm = self.motor.shaft_nm(terminals);
        self.truth.load_nm = self.load.torque_nm(t_s, speed);
        let mut lines = self.lines(&self.motor, t_s, connection, terminals);
        for (shift, seen) in self.shifts.iter().zip(shifted) {
            for c in (0..6).filter(|c| shift.channels[*c]) {
                lines[c] = seen[c];
            }
        }
        let scale_kg = self.load.scale_kg() - self.begun_kg[1];
        let input = |c: usize| lines.get(c).map_or(scale_kg, |line| sensor.transducers[c].output(*line));
        let converters = [sensor.voltage, sensor.current, sensor.mass];
        let mut reading = std::array::from_fn(|c| converters[c / 3].read(input(c), &mut self.noise[c]));
        self.faults.spoil(t_s, &mut reading);
        self.happened.clear();
        let due = |event: &&Event| event.t_s <= t_s;
        self.happened.extend(self.events[self.told..].iter().take_while(due));
        self.told += self.happened.len();
        let thrown = |piece: Dropped| Event { t_s: piece.at_s, what: What::Piece(piece.mass_kg) };
        self.happened.extend(self.load.dropped().map(thrown));
        self.happened.sort_by(|a, b| a.t_s.total_cmp(&b.t_s));
        Frame { reading, truth: self.truth, events: &self.happened }
    }
}

/// Joins the motor for a step, and tells what joins it to the source. The contactor acts between steps: half a step is
/// nothing to a rotor.
fn joined(supply: &Supply, motor: &mut Motor, thyristors: &mut Thyristors, t_s: f64, h_s: f64) -> Connection {
    let middle = t_s + h_s / 2.0;
    let mut connection = supply.connection(middle);
    if let (Connection::Whole, Some(alpha)) = (connection, supply.firing_rad(middle)) {
        let i = motor.phase_currents(supply.terminals(t_s, thyristors.connection()));
        connection = thyristors.act(supply.angle_rad(middle), alpha, i);
    }
    motor.join(supply.windings(middle));
    connection
}

#[cfg(test)]
mod tests;
