//! Missing values of a record: short ones are bridged, long ones are gaps.
//!
//! In each selected channel a run of missing values of up to half a cycle is filled by the line
//! between its neighbours (at an edge of the trace or of a gap by the one neighbour) and counted.
//! A longer run is a gap: a fault, or with `gaps = "split"` its rows are taken out and the trace
//! restarts after it. Rows are held back only until a run is known to be short or long, and those
//! of a gap are dropped as they come, so memory stays flat.

use super::select::Selection;
use super::{BLOCK, Meta, Reader, Rows};
use crate::error::Fault;

/// A reader whose selected channels have no missing values.
pub struct Bridged {
    inner: Box<dyn Reader>,
    columns: Vec<usize>,
    mass: Option<usize>,
    /// Values that may be bridged in a row.
    most: usize,
    rate_hz: f64,
    split: bool,
    filled: u64,
    /// Rows read but not handed out.
    held: Rows,
    fresh: Rows,
    /// Length of the gap just before the held rows, s.
    pending_s: f64,
    /// For each selected column, the last value before the held rows and how many are missing after it.
    carry: Vec<(f64, usize)>,
    /// `carry` is that of a gap after the held rows: they go before more is read.
    ahead: bool,
    /// Frames of the file before the held ones.
    before: u64,
    handed_out: u64,
    ended: bool,
    /// Highest mass so far, kg.
    mass_kg: f64,
}

/// A run of missing values among the held rows.
#[derive(Clone, Copy, Debug)]
struct Run {
    column: usize,
    first: usize,
    end: usize,
    long: bool,
    /// It may go on in the next block.
    open: bool,
}

impl Bridged {
    /// Wraps a reader; half a cycle is `rate_hz / (2 nominal_hz)` values. `gaps_split` takes longer
    /// runs out instead of refusing them.
    pub fn new(
        reader: Box<dyn Reader>,
        selection: &Selection,
        nominal_hz: f64,
        rate_hz: f64,
        gaps_split: bool,
    ) -> Self {
        let half = rate_hz / (2.0 * nominal_hz);
        // At 16 kHz and 50 Hz 160; a nonsensical rate bridges nothing or at most a block.
        let most = if half.is_finite() { (half + 1e-9).clamp(0.0, BLOCK as f64) as usize } else { 0 };
        let columns: Vec<usize> = selection.columns().collect();
        Self {
            inner: reader,
            carry: vec![(f64::NAN, 0); columns.len()],
            ahead: false,
            columns,
            mass: selection.mass,
            most,
            rate_hz,
            split: gaps_split,
            filled: 0,
            held: Rows::new(),
            fresh: Rows::new(),
            pending_s: 0.0,
            before: 0,
            handed_out: 0,
            ended: false,
            mass_kg: f64::NEG_INFINITY,
        }
    }

    /// Values bridged so far, each channel's counted.
    pub fn bridged(&self) -> u64 {
        self.filled
    }

    /// Appends the next block of the file to what is held.
    fn more(&mut self) -> anyhow::Result<()> {
        if self.inner.read(&mut self.fresh)? == 0 {
            self.ended = true;
        }
        let (held, fresh) = (&mut self.held, &mut self.fresh);
        if held.len == 0 {
            std::mem::swap(held, fresh);
            return Ok(());
        }
        let at = held.len;
        for (to, from) in held.columns.iter_mut().zip(&fresh.columns) {
            to.extend_from_slice(from);
        }
        held.marks.extend(fresh.marks.drain(..).map(|(row, text)| (row + at, text)));
        held.restarts.extend(fresh.restarts.drain(..).map(|(row, gap)| (row + at, gap)));
        held.len += fresh.len;
        Ok(())
    }

    /// The runs among the held rows.
    fn runs(&self) -> Vec<Run> {
        let len = self.held.len;
        let mut runs = Vec::new();
        for (column, index) in self.columns.iter().enumerate() {
            let Some(values) = self.held.columns.get(*index) else { continue };
            if !lacks(values) {
                continue;
            }
            let mut at = 0;
            while let Some(first) = values[at..].iter().position(|x| x.is_nan()).map(|p| at + p) {
                let end = values[first..].iter().position(|x| !x.is_nan()).map_or(len, |p| first + p);
                let (left, earlier) = if first == 0 { self.carry[column] } else { (0.0, 0) };
                let alone = left.is_nan() && end == len && self.ended;
                let long = alone || end - first + earlier > self.most;
                runs.push(Run { column, first, end, long, open: end == len && !self.ended });
                at = end;
            }
        }
        runs
    }

    /// Bridges what is short, drops what is long, and returns how many rows from the front can go.
    fn settle(&mut self) -> Result<usize, Fault> {
        let runs = self.runs();
        if runs.is_empty() {
            return Ok(self.held.len);
        }
        if let Some(run) = runs.iter().filter(|r| r.long).min_by_key(|r| r.first)
            && !self.split
        {
            return Err(self.gap_fault(*run));
        }
        // An open run that is still short: wait for its end.
        let waiting = runs.iter().filter(|r| r.open && !r.long).map(|r| r.first).min();
        for run in runs.iter().filter(|r| !r.long && !r.open) {
            if let Some(column) = self.held.columns.get_mut(self.columns[run.column]) {
                let left = match run.first.checked_sub(1) {
                    Some(before) => (column[before], 0),
                    None => self.carry[run.column],
                };
                self.filled += fill(column, run.first, run.end, left);
            }
        }
        let mut gaps: Vec<Run> = runs.iter().filter(|r| r.long).copied().collect();
        gaps.sort_by_key(|r| r.first);
        gaps.dedup_by(|next, kept| {
            let joins = next.first <= kept.end;
            if joins {
                kept.open |= next.open;
                kept.end = kept.end.max(next.end);
            }
            joins
        });
        let mut settled = waiting.unwrap_or(self.held.len);
        // A gap that reaches or follows a run still open is left for the next time.
        let mut droppable = waiting.unwrap_or(usize::MAX);
        if let Some(gap) = gaps.iter().find(|g| g.end >= droppable && g.first < droppable && !g.open) {
            droppable = gap.first;
            settled = settled.min(gap.first);
        }
        for gap in gaps.iter().rev().filter(|g| g.first < droppable) {
            settled = self.drop_gap(*gap, &runs, settled);
        }
        Ok(settled)
    }

    /// Takes the rows of a gap out; returns where `settled` then lies.
    fn drop_gap(&mut self, gap: Run, runs: &[Run], settled: usize) -> usize {
        let Run { first, end, open, .. } = gap;
        let taken = end - first;
        let held = &mut self.held;
        // The last value of each selected column up to the end of the gap.
        let column = |c: &usize| held.columns.get(*c).and_then(|c| c.get(..end));
        let last_value = |c: &usize| column(c).and_then(|c| c.iter().rev().copied().find(|x| !x.is_nan()));
        let last: Vec<Option<f64>> = self.columns.iter().map(last_value).collect();
        for column in &mut held.columns {
            column.drain(first..end.min(column.len()));
        }
        held.len -= taken;
        held.marks.iter_mut().for_each(|(row, _)| *row = if *row >= end { *row - taken } else { (*row).min(first) });
        // A restart inside or at the end of the gap becomes part of it.
        let mut length = taken as f64 / self.rate_hz;
        held.restarts.retain(|(row, gap)| {
            let inside = (first..=end).contains(row);
            length += if inside { *gap } else { 0.0 };
            !inside
        });
        held.restarts.iter_mut().for_each(|(row, _)| *row -= if *row > end { taken } else { 0 });
        self.before += taken as u64;
        if open {
            // It goes on: what is missing at its end is remembered. After a gap that is closed no
            // run is left to be settled, since gaps that reach such a run are held.
            self.ahead = first > 0;
            for (column, carry) in self.carry.iter_mut().enumerate() {
                let trailing = runs.iter().find(|r| r.column == column && r.end == end);
                let missing = trailing.map_or(0, |r| r.end - r.first);
                *carry = match last.get(column).copied().flatten() {
                    Some(value) => (value, missing),
                    None => (carry.0, carry.1 + missing),
                };
            }
        }
        if first == 0 {
            self.pending_s += length;
        } else {
            held.restarts.push((first, length));
            held.restarts.sort_by_key(|(row, _)| *row);
        }
        if settled >= end { settled - taken } else { settled.min(first) }
    }

    /// Moves the first rows out.
    fn hand_out(&mut self, count: usize, rows: &mut Rows) {
        let held = &mut self.held;
        let settled = if self.ahead { 0 } else { count };
        self.ahead &= count < held.len;
        for (carry, index) in self.carry.iter_mut().zip(&self.columns) {
            let last = held.columns.get(*index).and_then(|c| c.get(settled.checked_sub(1)?));
            *carry = last.map_or(*carry, |value| (*value, 0));
        }
        for (to, from) in rows.columns.iter_mut().zip(&mut held.columns) {
            if count == held.len {
                std::mem::swap(to, from);
                from.clear();
            } else {
                to.extend(from.drain(..count));
            }
        }
        if self.pending_s > 0.0 && (count > 0 || self.ended) {
            rows.restarts.push((0, self.pending_s));
            self.pending_s = 0.0;
        }
        rows.marks.extend(held.marks.iter().filter(|(row, _)| *row < count).cloned());
        held.marks.retain(|(row, _)| *row >= count);
        held.marks.iter_mut().for_each(|(row, _)| *row -= count);
        // A restart after the last row goes with the row that will follow it.
        rows.restarts.extend(held.restarts.iter().filter(|(row, _)| *row < count));
        held.restarts.retain(|(row, _)| *row >= count);
        for (row, length) in held.restarts.drain(..) {
            if row == count {
                self.pending_s += length;
            } else {
                self.fresh.restarts.push((row - count, length));
            }
        }
        held.len -= count;
        std::mem::swap(&mut held.restarts, &mut self.fresh.restarts);
        rows.len = count;
        self.before += count as u64;
        self.handed_out += count as u64;
    }

    fn gap_fault(&self, run: Run) -> Fault {
        let meta = self.inner.meta();
        let name = self.columns.get(run.column).and_then(|c| meta.channels.get(*c)).map_or("", |c| c.name.trim());
        let found = format!("'{name}' lacks at least {} values in a row", run.end - run.first);
        Fault::new(&*meta.path, found)
            .at(format!("frame {}", self.before + run.first as u64 + 1))
            .wanted(format!("at most half a cycle of missing values, {} here", self.most))
            .mend("gaps = \"split\" in [sampling] takes gaps out and restarts the metering after each")
    }

    /// A total that was fed never falls; one count of noise is no fall.
    fn check_mass(&mut self, rows: &Rows) -> Result<(), Fault> {
        let Some(index) = self.mass else { return Ok(()) };
        let meta = self.inner.meta();
        let room = meta.channels.get(index).map_or(0.0, |c| c.step) * 1.01;
        for (row, kg) in rows.columns.get(index).into_iter().flatten().enumerate() {
            if *kg < self.mass_kg - room {
                let found = format!("the mass falls from {} kg to {kg} kg", self.mass_kg);
                return Err(Fault::new(&*meta.path, found)
                    .at(format!("frame {}", (self.before + row as u64 + 1).saturating_sub(rows.len as u64)))
                    .wanted("the total fed so far, which never falls"));
            }
            self.mass_kg = self.mass_kg.max(*kg);
        }
        Ok(())
    }
}

/// Whether a value is missing: all are looked at, so that many can be at once.
fn lacks(values: &[f64]) -> bool {
    values.iter().fold(false, |missing, x| missing | x.is_nan())
}

/// Fills a run by the line between its neighbours; the left one is a value and how many are missing
/// between it and the run. Returns how many values it filled.
fn fill(column: &mut [f64], first: usize, end: usize, (left, away): (f64, usize)) -> u64 {
    let left = Some(left).filter(|x| !x.is_nan());
    let right = column.get(end).copied();
    let (Some(from), Some(to)) = (left.or(right), right.or(left)) else { return 0 };
    let steps = (away + end - first + 1) as f64;
    for (k, value) in column[first..end].iter_mut().enumerate() {
        *value = from + (to - from) * ((away + k + 1) as f64 / steps);
    }
    (end - first) as u64
}

impl Reader for Bridged {
    fn meta(&self) -> &Meta {
        self.inner.meta()
    }

    fn read(&mut self, rows: &mut Rows) -> anyhow::Result<usize> {
        rows.reset(self.inner.meta().channels.len());
        loop {
            let drain_first = self.ahead && self.held.len > 0;
            if !self.ended && !drain_first {
                self.more()?;
            }
            let settled = self.settle()?;
            if settled == 0 && !self.ended {
                continue;
            }
            self.hand_out(settled.min(BLOCK), rows);
            if rows.len == 0 && self.handed_out == 0 {
                return Err(Fault::new(&*self.meta().path, "the channels needed hold nothing but missing values")
                    .wanted("at least one whole frame")
                    .into());
            }
            self.check_mass(rows)?;
            return Ok(rows.len);
        }
    }

    fn warnings(&self) -> &[String] {
        self.inner.warnings()
    }

    fn progress(&self) -> (u64, Option<u64>) {
        self.inner.progress()
    }
}

#[cfg(test)]
mod tests;
