//! A plan through the reduced plant, the judge, the log and the trend.

use super::mill::{LEAD_S, TAIL_S, machine, scenario, settings};
use super::{DAY_S, Happens, Row};
use crate::machine::Machine;
use shaftwork_core::judge::Judge;
use shaftwork_core::judge::restart::Hindrance;
use shaftwork_core::recorder::{Entry, Log, Point, Trend};
use shaftwork_core::settings::JudgeCoefficients;
use shaftwork_core::time::{Instant, Span};
use shaftwork_core::unit::{SquareVolts, Volts};
use shaftwork_core::{EventKind, Feed, HalfCycle, Totals, Window};
use shaftwork_sim::fit;
use shaftwork_sim::plant::Truth;
use shaftwork_sim::plant::reduced::Reduced;
use shaftwork_sim::settings::{self as file, Settings};

/// Half cycles in a window.
const WINDOW: u8 = 20;
/// Half cycles after which the log is read: a second.
const READ: u64 = 100;

/// What became of a plan.
#[derive(Debug)]
pub struct Lived {
    /// The settings that the core had.
    pub settings: Settings,
    /// Frames a second.
    pub rate_hz: f64,
    /// The whole log, as one reads it who asks every second for what is new.
    pub entries: Vec<Entry>,
    /// The core's sums.
    pub totals: Totals,
    /// Why a start was refused just before each closing of the contactor.
    pub permits: Vec<Option<Hindrance>>,
    /// What was answered to each press.
    pub answers: Vec<Result<(), Hindrance>>,
    /// When, though a trip was given and not reset, the core did not hold it: no trip told, a start not refused, feed; s.
    pub let_go: Vec<f64>,
    /// Energy of all records, J at Q20.
    pub energy_q20: i128,
    /// The plant's, J: electrical, and the shaft's while the core saw it run; without what was missing.
    pub plant_j: [f64; 2],
    /// What the plant was fed, kg.
    pub fed_kg: f64,
}

/// Core and recorder, and what they are held against.
struct Ear<'a> {
    c: &'a JudgeCoefficients,
    rate_hz: f64,
    judge: Judge,
    log: Log<'a>,
    trend: Trend<'a>,
    now: Instant,
    /// Half cycles so far; of the window under way, with their length.
    count: u64,
    within: (u8, Span),
    latched: bool,
    lived: Lived,
}

/// Lives through a plan. The contactor does as the plan says: who asks must see that it opens when the core trips.
///
/// # Panics
///
/// When settings or scenarios are refused, or rows overlap: the plan itself is wrong then.
#[must_use]
pub fn lived(plan: &[Row]) -> Lived {
    let machine = machine();
    let (settings, _) = file::parse(&settings(&machine), "day").unwrap_or_else(|faults| panic!("{faults}"));
    let core = fit::core_settings(&settings, machine.rate_hz).unwrap_or_else(|fault| panic!("{fault:#}"));
    let c = core.build().expect("the settings are sound").judge;
    let (mut entries, mut points, mut feeds) = ([None; 64], vec![Point::default(); 2_500], [0; 128]);
    let mut ear = Ear {
        c: &c,
        rate_hz: machine.rate_hz,
        judge: Judge::new(&c),
        log: Log::new(&mut entries, 1),
        trend: Trend::new(&c, &mut points, &mut feeds, 1),
        now: Instant(0),
        count: 0,
        within: (0, Span::ZERO),
        latched: false,
        lived: Lived {
            settings,
            rate_hz: machine.rate_hz,
            entries: Vec::new(),
            totals: Totals::default(),
            permits: Vec::new(),
            answers: Vec::new(),
            let_go: Vec::new(),
            energy_q20: 0,
            plant_j: [0.0; 2],
            fed_kg: 0.0,
        },
    };
    let rest = at_rest(&machine);
    for (number, row) in plan.iter().enumerate() {
        ear.rest(&rest, row.closes_s() - LEAD_S);
        ear.run(&machine, row, number as u64);
        for press in row.presses {
            ear.rest(&rest, row.opens_s() + press.after_s);
            ear.press(press.here);
        }
    }
    ear.rest(&rest, DAY_S);
    ear.read();
    Lived { totals: *ear.judge.totals(), ..ear.lived }
}

/// The record of a motor at rest, the mains being there.
fn at_rest(machine: &Machine) -> HalfCycle {
    let frames = machine.rate_hz / machine.circuit.frequency_hz / 2.0;
    let length = Span((frames * 65_536.0) as u64);
    let volts = machine.circuit.line_v / 3f64.sqrt();
    HalfCycle {
        length,
        cycle: length.plus(length),
        voltage: [SquareVolts((volts * volts * 2f64.powi(32)) as u64); 3],
        voltage_positive: Volts::from_bits((volts * 65_536.0) as i32),
        ..HalfCycle::default()
    }
}

impl Ear<'_> {
    fn seconds(&self, q16: u64) -> f64 {
        q16 as f64 / 65_536.0 / self.rate_hz
    }

    /// Rests until a time of the day.
    fn rest(&mut self, rest: &HalfCycle, until_s: f64) {
        let until = (until_s * self.rate_hz * 65_536.0).round() as u64;
        assert!(self.now.0 <= until, "{} s comes after {until_s} s: rows overlap", self.seconds(self.now.0));
        while self.now.0 < until {
            self.take(*rest);
        }
        assert_eq!(self.now.0, until, "half cycles end at {until_s} s");
    }

    /// Goes through a row: from its lead to its tail.
    fn run(&mut self, machine: &Machine, row: &Row, seed: u64) {
        let scenario = scenario(machine, row);
        let mut plant = Reduced::new(&scenario, seed).unwrap_or_else(|refused| panic!("{refused}"));
        let (begun, fed_kg) = (self.now, self.lived.fed_kg);
        let missing = match row.happens {
            Happens::Gap(from_s, length_s) => (LEAD_S + from_s)..(LEAD_S + from_s + length_s - 1e-6),
            _ => 0.0..0.0,
        };
        let (mut before, mut gap, mut asked) = (Truth::default(), Span::ZERO, false);
        while let Some(step) = plant.half_cycle() {
            let (mut record, truth) = (step.record, step.truth);
            self.lived.fed_kg = fed_kg + truth.mass_kg;
            if missing.contains(&before.t_s) {
                gap = gap.plus(record.length);
                before = truth;
                continue;
            }
            if gap > Span::ZERO {
                self.gap(core::mem::take(&mut gap));
            }
            if !asked && truth.t_s > LEAD_S - 1e-6 {
                asked = true;
                self.lived.permits.push(self.judge.decision().start);
            }
            // The plant's first one has but half a cycle: the rest before it belongs to it.
            record.cycle = record.cycle.max(record.length.plus(record.length));
            self.judge.set_mass((self.lived.fed_kg * 1e6).round() as u64);
            let running = self.take(record);
            let [electrical, shaft] = &mut self.lived.plant_j;
            *electrical += truth.electrical_j - before.electrical_j;
            *shaft += if running { truth.shaft_j - before.shaft_j } else { 0.0 };
            before = truth;
        }
        assert_eq!(self.now.0, begun.0 + ((LEAD_S + row.runs_s + TAIL_S) * self.rate_hz * 65_536.0).round() as u64);
    }

    /// Takes a half cycle; its place in time and in a window is found here. Whether the core sees the motor run.
    fn take(&mut self, record: HalfCycle) -> bool {
        let end = self.now.after(record.length);
        let length = self.within.1.plus(record.length);
        self.within = (self.within.0 + 1, length);
        let closes_window = self.within.0 == WINDOW;
        let half = HalfCycle { end, closes_window, ..record };
        let moment = self.judge.half_cycle(self.c, &half);
        self.lived.energy_q20 += i128::from(half.energy.to_bits());
        self.trend.moment(&moment);
        if closes_window {
            self.trend.interval(&self.judge.window(Window { end, length, ..Window::default() }));
            self.within = (0, Span::ZERO);
        }
        self.now = end;
        self.count += 1;
        self.heed();
        if self.count.is_multiple_of(READ) {
            self.read();
        }
        moment.state.running()
    }

    fn gap(&mut self, length: Span) {
        self.judge.gap(self.c, self.now, length);
        self.now = self.now.after(length);
        self.within = (0, Span::ZERO);
        self.heed();
    }

    fn press(&mut self, here: bool) {
        let answer = self.judge.reset(self.c, self.now, here);
        self.lived.answers.push(answer);
        self.heed();
    }

    /// Logs what happened, and looks whether a trip is held.
    fn heed(&mut self) {
        while let Some(event) = self.judge.pop_event() {
            match event.kind {
                EventKind::Trip { .. } => self.latched = true,
                EventKind::Reset => self.latched = false,
                _ => {}
            }
            let account = self.trend.event(&event);
            self.log.write(event, account);
        }
        let decision = self.judge.decision();
        let held = decision.trip.is_some() && decision.start.is_some() && decision.feed == Feed::Stop;
        if self.latched && !held {
            self.lived.let_go.push(self.seconds(self.now.0));
        }
    }

    fn read(&mut self) {
        let seen = self.lived.entries.last().map_or(0, |entry| entry.sequence);
        self.lived.entries.extend(self.log.after(seen).copied());
    }
}
