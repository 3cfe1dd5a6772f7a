//! What a trace says beside volts and amperes: mass fed and speed.
//!
//! Mass comes from a column of kg fed so far, from a column of kg/s that is summed up, or from pulses; it is counted from
//! the trace's first reading, so that energy and mass belong to the same time. That a total never falls is
//! seen to where the trace is read; a count of noise is held here. What a belt scale counted falls into the mill a
//! while later: with a delay only what has fallen is fed.

use std::collections::VecDeque;
use std::ops::Range;

use shaftwork_core::unit::Rpm;

use super::pulses::{self, Bad};
use crate::report::Reason;
use crate::settings;
use crate::settings::MassSource;
use crate::trace::Rows;
use crate::trace::select::Selection;

/// Where mass comes from in one trace.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Mass {
    /// A column of kg fed so far.
    Total(usize),
    /// A column of kg/s.
    Rate(usize),
    /// A column of pulses, of so many kg each.
    Pulse(usize, f64),
    /// Nowhere.
    Nothing,
}

/// Follows mass and speed row by row.
#[derive(Debug)]
pub struct Side {
    mass: Mass,
    pulses: Option<pulses::Pulses>,
    speed: Option<usize>,
    seconds_per_frame: f64,
    /// The first reading of a total, kg.
    first_kg: Option<f64>,
    /// The latest reading of a total, and its smallest step so far, kg.
    last_kg: f64,
    step_kg: Option<f64>,
    /// The latest reading less the first, or the sum of the rate, kg.
    sum_kg: f64,
    /// Fed since the trace began, kg: the highest `sum_kg`.
    fed_kg: f64,
    belt: Belt,
    /// Frames with a negative feed rate.
    backwards: u64,
    rpm: Option<f64>,
}

impl Side {
    /// Finds the columns; gives back why there is no mass, where there is none.
    pub fn new(selection: &Selection, settings: settings::Mass, batch: bool, rate_hz: f64) -> (Self, Reason) {
        let column = match (selection.mass, selection.feed) {
            (Some(at), _) => Mass::Total(at),
            (None, Some(at)) => Mass::Rate(at),
            (None, None) => Mass::Nothing,
        };
        let (mass, no_mass) = match settings.source {
            _ if batch => (Mass::Nothing, "a weighed batch is known only as a whole"),
            None if column == Mass::Nothing && selection.pulse.is_some() => (
                column,
                "the trace has pulses, but the settings do not say what one stands for: [mass] source = \"pulse\"",
            ),
            None if column == Mass::Nothing => (column, "no mass is in the trace, nor --mass-kg given"),
            Some(MassSource::Trace) if column == Mass::Nothing => {
                (column, "the trace has no channel of mass or feed rate")
            }
            None | Some(MassSource::Trace) => (column, "the mass is not known yet"),
            Some(MassSource::Pulse) => match selection.pulse.zip(settings.pulses) {
                Some((at, pulses)) => (Mass::Pulse(at, pulses.kg), "the mass is not known yet"),
                None => (Mass::Nothing, "the trace has no channel of pulses (mass_pulse, or PULSE in a record)"),
            },
            Some(MassSource::Batch) => {
                (Mass::Nothing, "no batch was given with --mass-kg, nor a mass_kg for every run")
            }
            Some(MassSource::Nothing) => (Mass::Nothing, "the settings say that there is no mass"),
        };
        let counts = matches!(mass, Mass::Pulse(..));
        let side = Self {
            mass,
            pulses: settings.pulses.filter(|_| counts).map(|pulses| pulses::Pulses::new(pulses.form, rate_hz)),
            speed: selection.speed,
            seconds_per_frame: 1.0 / rate_hz,
            first_kg: None,
            last_kg: f64::NAN,
            step_kg: None,
            sum_kg: 0.0,
            fed_kg: 0.0,
            belt: Belt { delay_s: settings.delay_s, ..Belt::default() },
            backwards: 0,
            rpm: None,
        };
        (side, no_mass)
    }

    /// Takes some rows of a block.
    ///
    /// # Errors
    /// A reading of the column of pulses is none.
    pub fn take(&mut self, rows: &Rows, taken: Range<usize>) -> Result<(), Bad> {
        let values = |column: usize| rows.columns.get(column).and_then(|c| c.get(taken.clone())).unwrap_or_default();
        let known = |x: &&f64| x.is_finite();
        match self.mass {
            Mass::Nothing => {}
            Mass::Pulse(column, kg) => {
                if let Some(pulses) = &mut self.pulses {
                    for reading in values(column) {
                        self.sum_kg = pulses.take(*reading)? * kg;
                    }
                    self.fed_kg = self.fed_kg.max(self.sum_kg);
                }
            }
            // A missing reading is passed over: the next one holds what came in between.
            Mass::Total(column) => {
                for kg in values(column).iter().filter(known) {
                    let step_kg = kg - self.last_kg;
                    if step_kg > 0.0 {
                        self.step_kg = Some(self.step_kg.map_or(step_kg, |least| least.min(step_kg)));
                    }
                    self.last_kg = *kg;
                    self.sum_kg = kg - *self.first_kg.get_or_insert(*kg);
                    self.fed_kg = self.fed_kg.max(self.sum_kg);
                }
            }
            // A weigher that reads a little below zero when empty must not add up to a feed.
            Mass::Rate(column) => {
                for rate in values(column).iter().filter(known) {
                    self.sum_kg += rate * self.seconds_per_frame;
                    self.backwards += u64::from(*rate < 0.0);
                    self.fed_kg = self.fed_kg.max(self.sum_kg);
                }
            }
        }
        self.belt.pass(taken.len() as f64 * self.seconds_per_frame);
        self.belt.count(self.fed_kg);
        if let Some(column) = self.speed {
            self.rpm = values(column).last().filter(known).copied();
        }
        Ok(())
    }

    /// The smallest step of a column of kg fed so far: a reading is known no better.
    pub fn step_kg(&self) -> Option<f64> {
        self.step_kg
    }

    /// Time without rows: what was on the belt goes on.
    pub fn gap(&mut self, length_s: f64) {
        self.belt.pass(length_s);
        if let Some(pulses) = &mut self.pulses {
            pulses.gap();
        }
    }

    /// Mass fed since the trace began, mg; `None` without a channel of mass.
    pub fn mass_mg(&self) -> Option<u64> {
        // Held at 2^64 - 1 mg by the cast.
        (self.mass != Mass::Nothing).then(|| (self.belt.fallen_kg * 1e6).round() as u64)
    }

    /// What a person should know about the mass.
    pub fn warnings(&self) -> Vec<String> {
        let mut out = Vec::new();
        if self.belt.delay_s > 0.0 && self.mass != Mass::Nothing {
            out.push(format!(
                "what the scale counts is fed {} s later: what lay on the belt when the trace began is not in it",
                self.belt.delay_s
            ));
        }
        if let Some(kg) = self.first_kg.filter(|kg| *kg != 0.0) {
            out.push(format!("the mass begins at {kg} kg: only what was fed after that is counted"));
        }
        out.extend(self.pulses.iter().flat_map(pulses::Pulses::warnings));
        if self.backwards > 0 {
            out.push(format!("the feed rate is negative in {} frames; the mass fed never falls", self.backwards));
        }
        out
    }

    /// Whether there is a tachometer.
    pub fn has_speed(&self) -> bool {
        self.speed.is_some()
    }

    /// Speed by the tachometer.
    pub fn speed(&self) -> Option<Rpm> {
        // Q12 of at most 524 287 rpm, held by the cast.
        self.rpm.map(|rpm| Rpm::from_bits((rpm * 4096.0).round() as i32))
    }
}

/// What is on its way from the scale to the mill.
#[derive(Debug, Default)]
struct Belt {
    delay_s: f64,
    now_s: f64,
    /// When a count will have fallen, s, and the count, kg.
    way: VecDeque<(f64, f64)>,
    counted_kg: f64,
    fallen_kg: f64,
}

impl Belt {
    /// Counts within so much of each other travel as one, with the earlier of them: memory stays flat.
    const STEP_S: f64 = 0.01;

    fn pass(&mut self, length_s: f64) {
        self.now_s += length_s;
        self.fall();
    }

    fn count(&mut self, kg: f64) {
        if kg <= self.counted_kg {
            return;
        }
        self.counted_kg = kg;
        let due_s = self.now_s + self.delay_s;
        match self.way.back_mut().filter(|last| due_s - last.0 < Self::STEP_S) {
            Some(last) => last.1 = kg,
            None => self.way.push_back((due_s, kg)),
        }
        self.fall();
    }

    fn fall(&mut self) {
        while let Some((_, kg)) = self.way.pop_front_if(|first| first.0 <= self.now_s) {
            self.fallen_kg = kg;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::{PulseForm, Pulses};

    fn selection(mass: Option<usize>, feed: Option<usize>, speed: Option<usize>) -> Selection {
        Selection { electrical: [None; 6], mass, feed, speed, ..Selection::default() }
    }

    fn by(source: Option<MassSource>, delay_s: f64) -> settings::Mass {
        settings::Mass { source, delay_s, pulses: None }
    }

    fn side(selection: &Selection, values: &[f64]) -> Side {
        let (mut side, _) = Side::new(selection, by(None, 0.0), false, 2_000.0);
        let rows = Rows { columns: vec![values.to_vec()], len: values.len(), ..Rows::new() };
        side.take(&rows, 0..rows.len).unwrap();
        side
    }

    /// By hand.
    #[test]
    fn a_total_is_counted_from_its_first_reading() {
        let side = side(&selection(Some(0), None, None), &[100.0, 100.0, f64::NAN, 101.5, 101.499]);
        assert_eq!(side.mass_mg(), Some(1_500_000));
        assert!(side.warnings()[0].contains("begins at 100 kg"));
    }

    /// 4 kg/s for three frames at 2 kHz are 6 g; then one frame back.
    #[test]
    fn a_rate_is_summed_up_and_never_falls() {
        let side = side(&selection(None, Some(0), None), &[4.0, 4.0, 4.0, -4.0]);
        assert_eq!(side.mass_mg(), Some(6_000));
        assert_eq!(side.warnings().len(), 1);
    }

    /// 2 kg/s for 3 s with a way of 1.5 s: by hand 3 kg at the end; a gap lets another 2 kg fall.
    #[test]
    fn what_is_on_the_belt_is_not_fed_yet() {
        let (mut side, _) = Side::new(&selection(None, Some(0), None), by(None, 1.5), false, 2_000.0);
        let rows = Rows { columns: vec![vec![2.0; 8]], len: 8, ..Rows::new() };
        let mut fed = Vec::new();
        for _ in 0..750 {
            side.take(&rows, 0..8).unwrap();
            fed.push(side.mass_mg().unwrap());
        }
        assert_eq!(fed[374], 0, "1.5 s");
        assert!((fed[749] as f64 / 1e6 - 3.0).abs() <= 2.0 * Belt::STEP_S, "{}", fed[749]);
        assert!(fed.is_sorted() && side.belt.way.len() <= 151);
        side.gap(1.0);
        assert!((side.mass_mg().unwrap() as f64 / 1e6 - 5.0).abs() <= 2.0 * Belt::STEP_S);
        side.gap(9.0);
        assert_eq!(side.mass_mg(), Some(6_000_000));
        assert!((side.warnings()[0]).contains("1.5 s"), "{:?}", side.warnings());
    }

    /// A count goes from 40 to 43, 2.5 kg each, with a way of 1 s: by hand nothing after 1 ms, 7.5 kg after 1 s more.
    #[test]
    fn a_pulse_counts_at_its_moment_and_falls_later() {
        let selection = Selection { pulse: Some(0), ..selection(Some(1), None, None) };
        let pulses = Some(Pulses { kg: 2.5, form: PulseForm::Count { bits: None } });
        for (delay_s, at_once) in [(0.0, 7_500_000), (1.0, 0)] {
            let by = settings::Mass { source: Some(MassSource::Pulse), delay_s, pulses };
            let (mut side, _) = Side::new(&selection, by, false, 2_000.0);
            let columns = vec![vec![40.0, 41.0, f64::NAN, 43.0], vec![9.0; 4]];
            side.take(&Rows { columns, len: 4, ..Rows::new() }, 0..4).unwrap();
            assert_eq!(side.mass_mg(), Some(at_once));
            side.gap(1.0);
            assert_eq!(side.mass_mg(), Some(7_500_000));
        }
    }

    /// A reading that is missing, and one that does not move, are no steps.
    #[test]
    fn a_column_is_known_to_its_smallest_step() {
        let total = |kg: &[f64]| side(&selection(Some(0), None, None), kg).step_kg();
        assert_eq!(total(&[7.0, 7.0, 10.0, f64::NAN, 11.5, 11.5]), Some(1.5));
        assert_eq!(total(&[7.0, 7.0]), None);
        assert_eq!(side(&selection(None, Some(0), None), &[1.0, 2.0]).step_kg(), None, "a rate");
    }

    #[test]
    fn odd_figures_stay_inside() {
        assert_eq!(side(&selection(None, Some(0), None), &[f64::MAX]).mass_mg(), Some(u64::MAX));
        assert_eq!(side(&selection(None, None, Some(0)), &[f64::MAX]).speed(), Some(Rpm::from_bits(i32::MAX)));
        assert_eq!(side(&selection(None, None, Some(0)), &[f64::NAN]).speed(), None);
        assert_eq!(side(&selection(None, None, None), &[1.0]).mass_mg(), None);
    }

    #[test]
    fn the_settings_and_a_batch_decide() {
        let both = selection(Some(0), Some(1), None);
        let none = selection(None, None, None);
        let pulses = Selection { pulse: Some(0), ..none };
        for (selection, source, batch, mass, words) in [
            (&both, None, false, true, "not known yet"),
            (&both, None, true, false, "only as a whole"),
            (&both, Some(MassSource::Nothing), false, false, "settings"),
            (&both, Some(MassSource::Pulse), false, false, "no channel of pulses"),
            (&pulses, None, false, false, "[mass] source"),
            (&both, Some(MassSource::Batch), false, false, "--mass-kg"),
            (&none, Some(MassSource::Trace), false, false, "no channel"),
            (&none, None, false, false, "no mass is in"),
        ] {
            let (side, reason) = Side::new(selection, by(source, 0.0), batch, 4_000.0);
            assert_eq!(side.mass_mg().is_some(), mass);
            assert!(reason.contains(words), "{reason}");
        }
    }
}
