//! Counts of answers.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use super::LOADS;
use super::classes::{Answer, kinds};
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

/// Whether a fault is seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Seen {
    /// It is told, and no sound motor shows it.
    Told,
    /// It is told, though a sound motor may show it at some load.
    ToldThough,
    /// It is called sound, as it is equal in every figure at every load; so is a sound one.
    Equal,
    /// It is called sound, as a sound motor may show it; at light or at full load it is told.
    Silent,
    /// It is called sound, and a sound motor does not show it, or neither light nor full load tells it.
    Accepted,
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
    /// Silent: by kind.
    pub silent: BTreeMap<String, u32>,
    /// Accepted: by kind.
    pub accepted: BTreeMap<String, u32>,
    /// Told of those whose figures a sound motor may show; without those that are equal in every figure.
    pub told: Share,
    /// By kind, and by load.
    missed: BTreeMap<String, [u32; LOADS.len()]>,
    missed_strictly: BTreeMap<String, u32>,
}

impl Tally {
    /// One answer at one of [`LOADS`]; `apart` are left out of the first count.
    pub fn count(&mut self, load: usize, faults: &[Work], apart: bool, answer: &Answer, seen: Seen) {
        self.strict.count(answer.strict);
        if !answer.strict {
            *self.missed_strictly.entry(kinds(faults)).or_default() += 1;
        }
        let factors: Vec<f64> = faults.iter().map(|work| work.1).collect();
        let what = format!("{} {factors:.3?} at {}", kinds(faults), LOADS[load]);
        match seen {
            Seen::ToldThough => self.told.count(true),
            Seen::Silent => {
                self.told.count(false);
                *self.silent.entry(what).or_default() += 1;
            }
            Seen::Accepted => *self.accepted.entry(what).or_default() += 1,
            Seen::Told | Seen::Equal => {}
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
        self.told += other.told;
        for (sums, counts) in [(&mut self.silent, &other.silent), (&mut self.accepted, &other.accepted)] {
            for (names, count) in counts {
                *sums.entry(names.clone()).or_default() += count;
            }
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
            "{} by class, {} alone; {} strictly; invisible at one load {} told, silent {}, accepted {}",
            self.by_class,
            self.alone,
            self.strict,
            self.told,
            self.silent.values().sum::<u32>(),
            self.accepted.values().sum::<u32>()
        )
    }

    /// What is missed.
    pub fn misses(&self) -> String {
        let mut out = String::new();
        for (names, counts) in &self.missed {
            let by_load = counts.map(|count| format!("{count:4}")).concat();
            let _ = writeln!(out, "    missed at {LOADS:?}:{by_load} {names}");
        }
        for (word, counts) in [("silent", &self.silent), ("ACCEPTED", &self.accepted)] {
            for (names, count) in counts {
                let _ = writeln!(out, "    {word} {count:5} {names}");
            }
        }
        let mut strictly: Vec<_> = self.missed_strictly.iter().collect();
        strictly.sort_by_key(|(_, count)| std::cmp::Reverse(**count));
        for (names, count) in strictly.into_iter().take(24) {
            let _ = writeln!(out, "    strictly {count:5} {names}");
        }
        out
    }
}
