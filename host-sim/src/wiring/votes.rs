//! Each window in which current flows has a vote; what most of them say counts.

use std::collections::BTreeMap;

use shaftwork_core::Window;
use shaftwork_core::record::Phasors;
use shaftwork_core::wiring::{Diagnosis, Expected, Faults, diagnose};

/// Windows that are needed: a second.
pub const LEAST: u32 = 5;
/// Above this multiple of rated current a motor starts or is stuck: such windows are asked only where there are no others.
const CALM: f64 = 2.5;
/// Different opinions that are kept; there are rarely more than a handful.
const OPINIONS: usize = 64;
/// Different sets of faults that are counted.
const SETS: usize = 512;

/// An opinion of windows.
#[derive(Debug, Clone, Copy)]
pub struct Opinion {
    /// What they say.
    pub diagnosis: Diagnosis,
    /// How many of them.
    pub windows: u32,
    /// The last of them.
    pub window: Window,
    /// Its phasors.
    pub phasors: Phasors,
}

/// The windows' opinions.
#[derive(Debug, Clone)]
pub struct Votes {
    expected: Expected,
    rated_a: f64,
    /// In calm, and at starting currents.
    opinions: [Vec<Opinion>; 2],
    /// In how many calm windows a set of faults is among the explanations, whatever else is.
    sets: BTreeMap<Faults, u32>,
    idle: u32,
}

impl Votes {
    /// None yet.
    pub fn new(expected: Expected, rated_a: f64) -> Self {
        Self { expected, rated_a, opinions: [Vec::new(), Vec::new()], sets: BTreeMap::new(), idle: 0 }
    }

    /// Asks a window; tells what it says.
    pub fn window(&mut self, window: &Window, phasors: &Phasors) -> Diagnosis {
        let diagnosis = diagnose(&self.expected, window, phasors);
        if diagnosis == Diagnosis::Idle {
            self.idle += 1;
            return diagnosis;
        }
        let highest = window.current.into_iter().map(|a| a.0.to_num::<f64>()).fold(0.0, f64::max);
        let starting = highest > CALM * self.rated_a;
        if let Diagnosis::Explained(class) = diagnosis
            && !starting
        {
            for set in class.sets() {
                if self.sets.len() < SETS || self.sets.contains_key(set) {
                    *self.sets.entry(*set).or_default() += 1;
                }
            }
        }
        let opinions = &mut self.opinions[usize::from(starting)];
        let (window, phasors) = (*window, *phasors);
        if let Some(one) = opinions.iter_mut().find(|one| one.diagnosis == diagnosis) {
            *one = Opinion { windows: one.windows + 1, window, phasors, ..*one };
        } else if opinions.len() < OPINIONS {
            opinions.push(Opinion { diagnosis, windows: 1, window, phasors });
        }
        diagnosis
    }

    /// The opinions that count.
    fn counted(&self) -> &[Opinion] {
        let [calm, starting] = &self.opinions;
        let all = |opinions: &[Opinion]| opinions.iter().map(|one| one.windows).sum::<u32>();
        if all(calm) >= LEAST || all(starting) < LEAST { calm } else { starting }
    }

    /// Windows whose opinion counts.
    pub fn windows(&self) -> u32 {
        self.counted().iter().map(|one| one.windows).sum()
    }

    /// Whether they are windows at starting currents.
    pub fn starting(&self) -> bool {
        self.windows() > 0 && std::ptr::eq(self.counted(), self.opinions[1].as_slice())
    }

    /// Windows without current.
    pub fn idle(&self) -> u32 {
        self.idle
    }

    /// The sets of faults that explain more than a share of the calm windows, those that explain the most first. At another
    /// load another set may fit as well: what is there all the time fits always.
    pub fn held(&self, share: f64) -> Vec<Faults> {
        let least = share * f64::from(self.windows());
        let mut held: Vec<_> = self.sets.iter().filter(|(_, windows)| f64::from(**windows) > least).collect();
        held.sort_by_key(|(set, windows)| (std::cmp::Reverse(**windows), set.count()));
        held.into_iter().map(|(set, _)| *set).collect()
    }

    /// Windows that faults alone explain.
    pub fn faulty(&self) -> u32 {
        let faulty = |one: &&Opinion| matches!(one.diagnosis, Diagnosis::Explained(class) if !class.sets().contains(&Faults::NONE));
        self.counted().iter().filter(faulty).map(|one| one.windows).sum()
    }

    /// What most of them say; `None` where there are too few.
    pub fn verdict(&self) -> Option<&Opinion> {
        let most = self.counted().iter().max_by_key(|one| one.windows);
        most.filter(|_| self.windows() >= LEAST)
    }
}
