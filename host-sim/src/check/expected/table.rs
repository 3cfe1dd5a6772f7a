//! Changes a figure, fits the motor anew and asks the core again.

use super::{Figure, LOADS};
use crate::fit::told::{Teller, Terminals};
use crate::settings::{Motor, Settings};

/// A change of the motor's figures.
pub(super) type Change<'a> = Box<dyn Fn(&mut Motor) + 'a>;

/// The figures so far, and what they are changed from.
pub(super) struct Table {
    pub plain: Settings,
    rated_w: f64,
    teller: Teller,
    pub terminals: [Terminals; 2],
    pub figures: Vec<Figure>,
}

impl Table {
    /// None yet.
    pub fn new(plain: Settings, rated_w: f64) -> anyhow::Result<Self> {
        let teller = Teller::new(&plain)?;
        let terminals = LOADS.map(|load| teller.terminals(load * rated_w));
        Ok(Self { plain, rated_w, teller, terminals, figures: Vec::new() })
    }

    /// Shaft power less what it was, % of rated, at both loads.
    fn moved(&self, teller: &Teller, terminals: &[Terminals; 2]) -> [f64; 2] {
        [0, 1].map(|k| {
            let was = self.teller.shaft_w(&self.terminals[k]);
            100.0 * (teller.shaft_w(&terminals[k]) - was) / self.rated_w
        })
    }

    fn push(&mut self, mut figure: Figure, moved: impl IntoIterator<Item = [f64; 2]>) {
        for [full, quarter] in moved {
            let most = |old: Option<f64>, new: f64| Some(old.map_or(new.abs(), |old| old.max(new.abs())));
            figure.full_load_pct = most(figure.full_load_pct, full);
            figure.quarter_load_pct = most(figure.quarter_load_pct, quarter);
        }
        self.figures.push(figure);
    }

    /// A figure of the motor, changed in these ways; a change that makes no motor tells nothing.
    pub fn motor(&mut self, figure: Figure, changes: &[Change<'_>]) {
        let told = |change: &Change<'_>| {
            let mut changed = self.plain.clone();
            change(&mut changed.motor);
            Some(self.moved(&Teller::new(&changed).ok()?, &self.terminals))
        };
        let moved: Vec<[f64; 2]> = changes.iter().filter_map(told).collect();
        self.push(figure, moved);
    }

    /// An error of the instruments, by its limit at each load.
    pub fn seen(&mut self, figure: Figure, limits: [f64; 2], act: impl Fn(&Terminals, f64) -> Terminals) {
        let moved = [1.0, -1.0].map(|sign| {
            let seen = [0, 1].map(|k| act(&self.terminals[k], sign * limits[k]));
            self.moved(&self.teller, &seen)
        });
        self.push(figure, moved);
    }
}
