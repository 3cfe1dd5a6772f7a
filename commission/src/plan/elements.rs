//! The elements but the thermal image.

use super::{Maker, Stage, Test, as_long, balanced, narrow, on, part, trip, until};
use crate::motor::{ONE, at};
use crate::sheet::{Figure, Way, Why};
use crate::source::{Source, State};
use crate::vector::{STEPS, Vector, phases};
use shaftwork_core::settings::{CurrentTap, Element, Starter, Wiring};

/// Short of a pick-up, and beyond it.
const SHORT_PPM: u32 = 950_000;
const BEYOND_PPM: u32 = 1_050_000;

impl Maker<'_> {
    pub(super) fn jam(&self) -> Result<Test, Why> {
        let jam = on(self.all.trips.jam)?;
        let set = part(self.all.motor.rated_current_ma.into(), jam.pickup_ppm);
        let [short, beyond] = [SHORT_PPM, BEYOND_PPM].map(|ppm| part(set, ppm));
        let [running, ..] = self.running().amps;
        let states = [short, beyond].map(|ma| self.with(as_long(running, ma)));
        Ok(self.definite(states, jam.delay_ms).figures(Figure::Milliamps, set, short, beyond))
    }

    /// A rotor that is held; then, in time, the motor runs.
    pub(super) fn long_start(&self) -> Result<Test, Why> {
        let delay_ms = on(self.all.trips.long_start)?.delay_ms;
        let delay = self.frames(delay_ms);
        // The current is seen half a cycle late, or early by what is left of the one under way.
        let wanted = [delay.saturating_sub(self.half_cycles(1)), delay + self.allowance()];
        let short = delay.saturating_sub((delay / 20).max(self.allowance()));
        let stalled = self.stalled();
        let ms = |frames: u64| frames.saturating_mul(1_000_000) / u64::from(self.all.sampling.rate_mhz.max(1));
        let test = Test {
            before: self.before(self.rest()),
            held: [
                Stage { state: stalled, frames: short },
                Stage { state: self.running(), frames: self.frames(1_000) },
            ],
            step: until(stalled, wanted),
            wanted,
            ..self.definite([stalled; 2], delay_ms)
        };
        Ok(test.figures(Figure::Milliseconds, delay_ms.into(), ms(short), ms(delay + self.allowance())))
    }

    /// The rotor held: voltage and current as much smaller as the converter wants.
    fn stalled(&self) -> State {
        let State { volts: [volts, ..], .. } = self.rest();
        let amps = at(self.all, self.volts, ONE).amps;
        let parts = [1_000_000, 700_000, 500_000, 350_000, 250_000];
        let states =
            parts.map(|ppm| State { volts: balanced(volts.ppm(ppm)), amps: balanced(amps.ppm(ppm)), dead: None });
        let shows = |state: &State| Source::new(self.all).set(state).is_ok();
        states.iter().copied().find(shows).unwrap_or_default()
    }

    pub(super) fn phase_loss(&self) -> Result<Test, Why> {
        let loss = on(self.all.trips.phase_loss)?;
        Ok(self.unbalance(trip(loss.pickup_ppm, loss.delay_ms)))
    }

    pub(super) fn current_unbalance(&self) -> Result<Test, Why> {
        Ok(self.unbalance(on(self.all.trips.current_unbalance)?))
    }

    /// A negative sequence beside the running motor's current, in phase with it in A.
    fn unbalance(&self, e: Element) -> Test {
        let running = self.running();
        let [positive, ..] = running.amps;
        let [short, beyond] = [SHORT_PPM, BEYOND_PPM].map(|ppm| part(e.pickup_ppm.into(), ppm));
        let states = [short, beyond]
            .map(|ppm| State { amps: phases(positive, positive.ppm(narrow(ppm)), Vector::ZERO), ..running });
        self.definite(states, e.delay_ms).figures(Figure::Unbalance, e.pickup_ppm.into(), short, beyond).doing(e.action)
    }

    /// Voltages of so many ppm of nominal, as the wiring measures them, mV.
    fn measured(&self, ppm: u64) -> u64 {
        let line = self.all.supply.wiring != Wiring::FourWire;
        let nominal =
            if line { u64::from(self.all.supply.line_voltage_mv) } else { (self.volts / STEPS).unsigned_abs() };
        part(nominal, narrow(ppm))
    }

    /// All voltages at these parts of nominal; 95 and 105 % of the pick-up, and the pick-up.
    fn voltages(&self, pickup_ppm: u32) -> ([State; 2], [u64; 3]) {
        let [low, high] = [SHORT_PPM, BEYOND_PPM].map(|ppm| part(pickup_ppm.into(), ppm));
        let running = self.running();
        let State { volts: [volts, ..], .. } = running;
        let states = [low, high].map(|ppm| State { volts: balanced(volts.ppm(narrow(ppm))), ..running });
        (states, [low, high, pickup_ppm.into()].map(|ppm| self.measured(ppm)))
    }

    fn sees_volts(&self) -> Result<(), Why> {
        if self.all.supply.wiring == Wiring::CurrentsOnly { Err(Why::Wiring) } else { Ok(()) }
    }

    pub(super) fn undervoltage(&self, way: Way) -> Result<Test, Why> {
        let u = on(self.all.trips.undervoltage)?;
        self.sees_volts()?;
        let ([low, high], [beyond, short, set]) = self.voltages(u.pickup_ppm);
        let test = if way == Way::Starting {
            let amps = self.stalled().amps;
            let states = [high, low].map(|state| State { amps, ..state });
            Test { before: self.before(self.rest()), ..self.definite(states, u.start_delay_ms) }
        } else {
            self.definite([high, low], u.delay_ms)
        };
        Ok(test.figures(Figure::Millivolts, set, short, beyond))
    }

    pub(super) fn overvoltage(&self) -> Result<Test, Why> {
        let o = on(self.all.trips.overvoltage)?;
        self.sees_volts()?;
        let (states, [short, beyond, set]) = self.voltages(o.pickup_ppm);
        Ok(self.definite(states, o.delay_ms).figures(Figure::Millivolts, set, short, beyond).doing(o.action))
    }

    /// B and C exchanged, voltages and currents alike.
    pub(super) fn phase_reversal(&self) -> Result<Test, Why> {
        let watch = on(self.all.trips.phase_reversal)?;
        let running = self.running();
        let turned = |[a, b, c]: [Vector; 3]| [a, c, b];
        let reversed = State { volts: turned(running.volts), amps: turned(running.amps), dead: None };
        Ok(self.definite([running, reversed], watch.delay_ms).doing(watch.action))
    }

    /// A zero sequence beside the running motor's current.
    pub(super) fn residual_current(&self) -> Result<Test, Why> {
        let e = on(self.all.trips.residual_current)?;
        let three = self.all.supply.wiring != Wiring::TwoElement && self.all.sampling.current_tap == CurrentTap::Line;
        if !three {
            return Err(Why::Wiring);
        }
        let set = part(self.all.motor.rated_current_ma.into(), e.pickup_ppm);
        let [short, beyond] = [SHORT_PPM, BEYOND_PPM].map(|ppm| part(set, ppm));
        let running = self.running();
        let [positive, ..] = running.amps;
        let states = [short, beyond].map(|ma| {
            let zero = Vector::milli(narrow(ma), 0).third();
            State { amps: phases(positive, Vector::ZERO, zero), ..running }
        });
        Ok(self.definite(states, e.delay_ms).figures(Figure::Milliamps, set, short, beyond).doing(e.action))
    }

    fn measures_power(&self) -> Result<(), Why> {
        if self.all.curve.is_some() { Err(Why::PowerEstimated) } else { Ok(()) }
    }

    pub(super) fn underload(&self) -> Result<Test, Why> {
        let e = on(self.all.trips.underload)?;
        self.measures_power()?;
        let set = part(self.all.mill.idle_power_mw.ok_or(Why::IdleLearnt)?, e.pickup_ppm);
        // Idle losses are as large as what is told: their circuit leaves 1 % or two open.
        let [short, beyond] = [1_100_000, 900_000].map(|ppm| part(set, ppm));
        let states = [self.giving(short).ok_or(Why::Motor)?, self.giving(beyond).ok_or(Why::Motor)?];
        Ok(self.definite(states, e.delay_ms).figures(Figure::Milliwatts, set, short, beyond).doing(e.action))
    }

    /// A voltage gone; a current gone, while the two others go on.
    pub(super) fn sensor_fault(&self, way: Way) -> Result<Test, Why> {
        let watch = on(self.all.trips.sensor_fault)?;
        let running = self.running();
        let dead = if way == Way::Current {
            // Of two currents the third is made; of windings all three lines are.
            let three = !matches!(self.all.supply.wiring, Wiring::TwoElement);
            if !three || self.all.sampling.current_tap != CurrentTap::Line {
                return Err(Why::Wiring);
            }
            3
        } else {
            self.sees_volts()?;
            1
        };
        let broken = State { dead: Some(dead), ..running };
        Ok(self.definite([running, broken], watch.delay_ms).doing(watch.action))
    }

    /// As many starts as are allowed, and one more.
    pub(super) fn starts_per_hour(&self) -> Result<Test, Why> {
        let starts = on(self.all.trips.starts_per_hour)?;
        // A star-delta starter's pause of half a second is no stop.
        let pause = self.frames(if self.all.motor.starter == Starter::StarDelta { 800 } else { 300 });
        let rest = Stage { state: self.rest(), frames: pause };
        let stalled = self.stalled();
        let wanted = [0, self.allowance()];
        let test = Test {
            cycles: starts.most,
            cycle: [rest, Stage { state: stalled, frames: self.half_cycles(12) }],
            before: rest,
            held: [rest, Stage::default()],
            step: until(stalled, wanted),
            wanted,
            ..self.definite([stalled; 2], 0)
        };
        let most = u64::from(starts.most);
        Ok(test.figures(Figure::Starts, most, most, most + 1).doing(starts.action))
    }

    /// A load that comes up at once and stands: a heavier one than the pick-up decides sooner than after the window.
    pub(super) fn wedge(&self) -> Result<Test, Why> {
        let w = on(self.all.trips.wedge)?;
        self.measures_power()?;
        let set = part(self.all.motor.rated_power_mw, w.pickup_ppm);
        let [short, beyond] = [SHORT_PPM, BEYOND_PPM].map(|ppm| part(set, ppm));
        let states = [self.giving(short).ok_or(Why::Motor)?, self.giving(beyond).ok_or(Why::Motor)?];
        let window = self.frames(w.window_ms);
        // 1 / 1.05 of the window, less half a cycle that it is rounded by.
        let wanted = [part(window, 952_380).saturating_sub(self.half_cycles(1)), window + self.allowance()];
        let calm = part(set / 2, 1_000_000).min(self.all.motor.rated_power_mw / 10 * 6);
        let test = Test {
            before: self.before(self.giving(calm).ok_or(Why::Motor)?),
            held: [Stage { state: states[0], frames: self.frames(1_000) }, Stage::default()],
            step: until(states[1], wanted),
            wanted,
            ..self.definite(states, w.window_ms)
        };
        Ok(test.figures(Figure::Milliwatts, set, short, beyond).doing(w.action))
    }
}
