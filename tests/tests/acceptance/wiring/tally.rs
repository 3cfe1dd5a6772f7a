//! Counts of answers.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use super::LOADS;
use super::classes::{Answer, Called, kinds};
use super::lines::Work;

/// Right ones of all.
#[derive(Default, Debug, Clone, Copy)]
pub struct Share {
    pub right: u32,
    pub of: u32,
}

impl Share {
    pub fn count(&mut self, right: bool) {
        self.right += u32::from(right);
        self.of += 1;
    }

    pub fn percent(self) -> f64 {
        100.0 * f64::from(self.right) / f64::from(self.of.max(1))
    }
}

impl std::ops::AddAssign for Share {
    fn add_assign(&mut self, other: Self) {
        self.right += other.right;
        self.of += other.of;
    }
}

impl std::fmt::Display for Share {
    fn fmt(&self, to: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(to, "{} of {} ({:.2} %)", self.right, self.of, self.percent())
    }
}

/// Answers to one kind of question.
#[derive(Default, Debug, Clone)]
pub struct Tally {
    /// Named by class.
    pub by_class: Share,
    /// Named where every class of docs/wiring.md that is not equal in all figures counts as a miss, and every pair that the
    /// first count leaves out is asked.
    pub strict: Share,
    /// Named and nothing else beside it.
    pub alone: u32,
    /// Called sound though they may not be so: by kind.
    pub silent: BTreeMap<String, u32>,
    /// Called sound, and listed so.
    pub hidden: u32,
    /// By kind, and by load.
    missed: BTreeMap<String, [u32; LOADS.len()]>,
    missed_strictly: BTreeMap<String, u32>,
}

impl Tally {
    /// One answer at one of [`LOADS`]; `apart` are left out of the first count.
    pub fn count(&mut self, load: usize, faults: &[Work], apart: bool, answer: &Answer) {
        self.strict.count(answer.strict);
        if !answer.strict {
            *self.missed_strictly.entry(kinds(faults)).or_default() += 1;
        }
        match answer.called {
            Called::SoundAsListed if !faults.is_empty() => self.hidden += 1,
            Called::Sound => {
                let factors: Vec<f64> = faults.iter().map(|work| work.1).collect();
                let what = format!("{} {factors:.3?} at {}", kinds(faults), LOADS[load]);
                *self.silent.entry(what).or_default() += 1;
            }
            _ => {}
        }
        if apart {
            return;
        }
        self.by_class.count(answer.right);
        self.alone += u32::from(answer.alone);
        if !answer.right {
            self.missed.entry(kinds(faults)).or_default()[load] += 1;
        }
    }

    pub fn add(&mut self, other: &Self) {
        self.by_class += other.by_class;
        self.strict += other.strict;
        self.alone += other.alone;
        self.hidden += other.hidden;
        for (names, count) in &other.silent {
            *self.silent.entry(names.clone()).or_default() += count;
        }
        for (names, counts) in &other.missed {
            let sums = self.missed.entry(names.clone()).or_default();
            sums.iter_mut().zip(counts).for_each(|(sum, count)| *sum += count);
        }
        for (names, count) in &other.missed_strictly {
            *self.missed_strictly.entry(names.clone()).or_default() += count;
        }
    }

    /// A line.
    pub fn line(&self) -> String {
        format!(
            "{} by class, {} alone; {} strictly; {} silent, {} hidden",
            self.by_class,
            self.alone,
            self.strict,
            self.silent.values().sum::<u32>(),
            self.hidden
        )
    }

    /// What is missed.
    pub fn misses(&self) -> String {
        let mut out = String::new();
        for (names, counts) in &self.missed {
            let by_load = counts.map(|count| format!("{count:4}")).concat();
            let _ = writeln!(out, "    missed at {LOADS:?}:{by_load} {names}");
        }
        for (names, count) in &self.silent {
            let _ = writeln!(out, "    silent {count:5} {names}");
        }
        let mut strictly: Vec<_> = self.missed_strictly.iter().collect();
        strictly.sort_by_key(|(_, count)| std::cmp::Reverse(**count));
        for (names, count) in strictly.into_iter().take(24) {
            let _ = writeln!(out, "    strictly {count:5} {names}");
        }
        out
    }
}
