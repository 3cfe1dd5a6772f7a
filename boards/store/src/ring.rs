//! A ring of records in flash: totals, settings and events are all kept by this.
//!
//! A record is written into cells that have not been touched since their page was erased, part by part, and counts as kept when it reads back. It is
//! never erased before a newer one is kept.
//!
//! ```text
//!             offer                 all written          reads back
//!  nothing ──────────► writing ─────────────────► check ──────────► kept ─► room for another like it?
//!     ▲                   ▲   refused, or reads back otherwise │                │ no
//!     │                   └──── the next cells, the next page ◄┘                ▼
//!     └──────────────────────────────────────────────────────────────── erase the next page
//! ```
//!
//! **One bounded thing a step**: erase a page, write some bytes, read a record back. A page is erased as soon as the one before it has no room left, not when a record waits for it: a
//! board that feels its power fail only has to write.
//!
//! What a power cut may leave, and what becomes of it: cells written in part (not blank: passed over), cells that look blank but may not be
//! written again (refused, or reads back otherwise: passed over), a page erased in part (has no record as new as the newest: erased again
//! before it is used), bits that read so once and otherwise the next time.
//!
//! Because of the last, a record that is found after a power cut may be gone after the next one, and back after the third. So:
//!
//! * Every record tells which one it follows: the last one that was *seen* to be kept. Of several that follow the same one, the first is
//!   the only one that anybody can have been told of; the others were written when power came back. So after a mount the page of the one that is followed and
//!   that of the first that follows it are not erased before there is something better, nor is that of the newest.
//! * The newest record is the one that follows the newest, not the one that lies furthest on.
//! * A mount goes on a whole turn beyond the highest position that it finds. What it cannot read now and a later one can was written before, and follows something that was seen to be
//!   kept, which is found always: so whatever is kept from now on comes after it. The page of that highest one is not erased before a record of
//!   this mount is kept, or a cut right after its erase would take the height with it. Four pages that stay: five at least.
//! * Nobody is told what the newest record says before [`Ring::settle`] has written it anew, twice: the second follows the first, and so comes after all that
//!   was ever cut off.

use embedded_storage::nor_flash::NorFlash;

use crate::grid::{Found, Grid, HEADER, MAX_CELL, Region, RegionError, seal};

/// What a step did.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// Nothing to do.
    Idle,
    /// A page was erased.
    Erased,
    /// A part of a record was written.
    Wrote,
    /// The record at this position reads back: it outlasts a power cut.
    Kept(u64),
    /// The flash refused something, or reads back otherwise: tried again elsewhere.
    Again,
    /// Given up: what was offered last is not kept, and nothing is done until something is offered again.
    Lost,
}

/// Why a record is not taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Refusal {
    /// The one before is not kept yet.
    Busy,
    /// Larger than the ring's largest.
    TooLong,
}

/// A ring of records of at most `MAX` bytes, header included.
#[derive(Debug, Clone)]
pub struct Ring<const MAX: usize> {
    grid: Grid,
    step: usize,
    newest: Option<Found>,
    /// The newest record that was seen to be kept.
    proven: Option<u64>,
    /// The first record that follows it as found by the mount, until two others were seen to be kept.
    first: Option<u64>,
    /// The highest position that the mount found, until a record beyond it is kept.
    highest: Option<u64>,
    /// The version of a record that does not belong here.
    foreign: Option<u8>,
    /// The mount could read no cell at all.
    blind: bool,
    /// Where the next record goes.
    next: u64,
    /// The page of `next` was erased, and nothing from `next` on was touched since.
    ready: bool,
    /// The record that is being kept, its bytes, and how many of them are written.
    image: [u8; MAX],
    length: usize,
    written: usize,
    /// Bytes and layout of its payload.
    payload: (usize, u8),
    /// Refusals in a row.
    again: u32,
    pages: u32,
}

impl<const MAX: usize> Ring<MAX> {
    /// Looks through the region for the newest record. Erases and writes nothing.
    ///
    /// # Errors
    ///
    /// When the flash cannot have such a region.
    pub fn mount<F: NorFlash>(flash: &mut F, region: &Region) -> Result<Self, RegionError> {
        let grid = Grid::new(flash, region, MAX)?;
        let mut ring = Self {
            grid,
            step: region.step as usize,
            newest: None,
            proven: None,
            first: None,
            highest: None,
            foreign: None,
            blind: false,
            next: 0,
            ready: false,
            image: [0; MAX],
            length: 0,
            written: 0,
            payload: (0, 0),
            again: 0,
            pages: region.pages,
        };
        let mut place = 0;
        while place < grid.cells.get() {
            place += match grid.sound(flash, place, &mut ring.image) {
                Some(found) => {
                    if grid.fits(place, &found) {
                        ring.found(found);
                    } else {
                        ring.foreign = Some(found.version);
                    }
                    grid.cells_of(HEADER + found.length)
                }
                None => 1,
            };
        }
        ring.blind = ring.newest.is_none() && !(0..grid.cells.get()).any(|place| grid.readable(flash, place));
        if let Some(newest) = ring.newest {
            let end = newest.position.saturating_add(grid.cells_of(HEADER + newest.length));
            // What a power cut left behind it in the same page is passed over.
            let left = if grid.page(end) == grid.page(newest.position) { grid.left(end) } else { 0 };
            let mut next = end;
            for position in end..end.saturating_add(left) {
                if !grid.blank(flash, position) {
                    next = position.saturating_add(1);
                }
            }
            ring.proven = newest.follows;
            ring.ready = true;
            ring.go(grid.beyond(next, ring.highest.unwrap_or(next)));
        }
        Ok(ring)
    }

    /// Takes a payload, to be kept by the steps that follow.
    ///
    /// # Errors
    ///
    /// [`Refusal`]; what is being kept stays as it is.
    pub fn offer<F: NorFlash>(&mut self, payload: &[u8], version: u8) -> Result<(), Refusal> {
        if self.busy() {
            return Err(Refusal::Busy);
        }
        let length = HEADER + payload.len();
        let Some(room) = self.image.get_mut(HEADER..length) else { return Err(Refusal::TooLong) };
        room.copy_from_slice(payload);
        self.take::<F>(payload.len(), version);
        Ok(())
    }

    /// Writes the newest record anew, see [`Ring::prove`]. Its payload is left in `into`, after [`HEADER`] bytes; `None` where there is none, or where the
    /// flash fails.
    pub fn settle<F: NorFlash>(&mut self, flash: &mut F, into: &mut [u8; MAX]) -> Option<Found> {
        let newest = self.newest?;
        let found = self.grid.record(flash, newest.position, into)?;
        let payload = into.get(HEADER..HEADER + found.length)?;
        self.prove(flash, payload, found.version).then_some(found)
    }

    /// Writes a payload twice and waits until both are kept: before anything else that is to outlast a power cut is written after a mount. Bounded: a few
    /// pages at worst.
    pub fn prove<F: NorFlash>(&mut self, flash: &mut F, payload: &[u8], version: u8) -> bool {
        (0..2).all(|_| self.offer::<F>(payload, version).is_ok() && self.finish(flash))
    }

    /// Steps until what was offered is kept; whether it is.
    pub fn finish<F: NorFlash>(&mut self, flash: &mut F) -> bool {
        loop {
            match self.step(flash) {
                Step::Kept(_) => return true,
                Step::Idle | Step::Lost => return false,
                Step::Erased | Step::Wrote | Step::Again => {}
            }
        }
    }

    /// Does one thing.
    pub fn step<F: NorFlash>(&mut self, flash: &mut F) -> Step {
        if !self.ready {
            return self.erase(flash);
        }
        if !self.busy() {
            return Step::Idle;
        }
        if self.written >= self.length { self.check(flash) } else { self.write(flash) }
    }

    /// Whether something is still to be kept.
    #[must_use]
    pub const fn busy(&self) -> bool {
        self.length > 0
    }

    /// The newest record that is kept.
    #[must_use]
    pub const fn newest(&self) -> Option<Found> {
        self.newest
    }

    /// Whether the mount could read nothing at all: what is kept there is not known.
    #[must_use]
    pub const fn blind(&self) -> bool {
        self.blind
    }

    /// The version of a whole record that the mount found elsewhere than it says: another layout wrote it, or the region was another then.
    #[must_use]
    pub const fn foreign(&self) -> Option<u8> {
        self.foreign
    }

    /// The oldest record from `position` on, its payload in `into` after [`HEADER`] bytes: all that was kept in the order of positions, which leave out a turn
    /// where power came back.
    pub fn from<F: NorFlash>(&self, flash: &mut F, position: u64, into: &mut [u8; MAX]) -> Option<Found> {
        let cells = self.grid.cells.get();
        let at = |place: u64, flash: &mut F, into: &mut [u8; MAX]| {
            self.grid
                .record(flash, place, into)
                .filter(|found| self.newest.is_some_and(|newest| found.position <= newest.position))
        };
        if let Some(found) = at(position, flash, into).filter(|found| found.position == position) {
            return Some(found);
        }
        // Places from the oldest on: the one after those that are written next.
        let oldest = self.next % cells;
        let first = (0..cells).find_map(|n| at(oldest.saturating_add(n), flash, into))?;
        if first.position >= position {
            return Some(first);
        }
        // What lies there may be older, half erased, or given up.
        let begun = (position % cells).saturating_add(cells).saturating_sub(oldest) % cells;
        (begun..cells)
            .find_map(|n| at(oldest.saturating_add(n), flash, into).filter(|found| found.position >= position))
    }

    /// Takes note of a record that the mount found.
    fn found(&mut self, found: Found) {
        self.highest = self.highest.max(Some(found.position));
        let before = self.newest.filter(|newest| newest.follows >= found.follows);
        if before.is_none_or(|newest| found.after(&newest)) {
            self.newest = Some(found);
        }
        match before {
            None => self.first = Some(found.position),
            Some(newest) if newest.follows == found.follows => self.first = self.first.min(Some(found.position)),
            Some(_) => {}
        }
    }

    fn take<F: NorFlash>(&mut self, payload: usize, version: u8) {
        let unit = F::WRITE_SIZE.max(1);
        // A cell is a multiple of what the flash writes, and MAX one of a cell.
        self.length = (HEADER + payload).next_multiple_of(unit).min(MAX);
        if let Some(fill) = self.image.get_mut(HEADER + payload..self.length) {
            fill.fill(0xff);
        }
        self.payload = (payload, version);
        self.again = 0;
        self.begin();
    }

    /// Begins at `next`, or at the page after where the rest of this one is too small.
    fn begin(&mut self) {
        if self.grid.left(self.next) < self.grid.cells_of(self.length) {
            self.go(self.grid.page_after(self.next));
        }
        self.written = 0;
        let record = self.record();
        seal(&mut self.image, &record);
    }

    /// The record that is being kept, as it will be found.
    fn record(&self) -> Found {
        Found { position: self.next, length: self.payload.0, version: self.payload.1, follows: self.proven }
    }

    /// Goes on at a position: a page that is begun has to be erased, and must hold nothing that may be needed.
    fn go(&mut self, to: u64) {
        self.next = to;
        if self.grid.left(to) == self.grid.per_page.get() {
            let newest = self.newest.map(|newest| newest.position);
            let pages = [self.proven, self.first, self.highest, newest]
                .map(|position| position.map(|position| self.grid.page(position)));
            // Four times at most: those are four pages of five or more.
            while pages.contains(&Some(self.grid.page(self.next))) {
                self.next = self.grid.page_after(self.next);
            }
            self.ready = false;
        }
    }

    fn erase<F: NorFlash>(&mut self, flash: &mut F) -> Step {
        if self.again > self.limit() {
            return Step::Idle;
        }
        if self.grid.erase(flash, self.next).is_err() {
            return self.refused(self.grid.page_after(self.next));
        }
        self.ready = true;
        Step::Erased
    }

    fn write<F: NorFlash>(&mut self, flash: &mut F) -> Step {
        let end = self.length.min(self.written.saturating_add(self.step));
        let Some(part) = self.image.get(self.written..end) else { return Step::Idle };
        let at = self.grid.byte(self.next).saturating_add(self.written as u32);
        if flash.write(at, part).is_err() {
            return self.elsewhere();
        }
        self.written = end;
        Step::Wrote
    }

    fn check<F: NorFlash>(&mut self, flash: &mut F) -> Step {
        let mut cell = [0; MAX_CELL];
        let mut at = self.grid.byte(self.next);
        let mut same = true;
        for part in self.image.get(..self.length).unwrap_or(&[]).chunks(MAX_CELL) {
            // Whole cells are read: a flash may read more at a time than it writes.
            let bytes = self.grid.cells_of(part.len()) as usize * self.grid.cell as usize;
            let back = cell.get_mut(..bytes).is_some_and(|back| flash.read(at, back).is_ok());
            same &= back && cell.starts_with(part);
            at = at.saturating_add(MAX_CELL as u32);
        }
        if !same {
            return self.elsewhere();
        }
        let cells = self.grid.cells_of(self.length);
        let kept = self.record();
        // The second since power came: what it follows is proven, and comes after all that was ever cut off.
        if self.newest.is_some_and(|newest| kept.follows == Some(newest.position)) {
            self.first = None;
        }
        self.highest = None;
        self.newest = Some(kept);
        self.proven = Some(self.next);
        self.length = 0;
        self.again = 0;
        let (kept, end) = (self.next, self.next.saturating_add(cells));
        let room = self.grid.page(end) == self.grid.page(kept) && self.grid.left(end) >= cells;
        self.go(if room { end } else { self.grid.page_after(kept) });
        Step::Kept(kept)
    }

    /// These cells are spent: the next ones, after the second time the next page.
    fn elsewhere(&mut self) -> Step {
        let end = self.next.saturating_add(self.grid.cells_of(self.length));
        let page_after = self.grid.page_after(self.next);
        self.refused(if self.again == 0 { end.min(page_after) } else { page_after })
    }

    fn refused(&mut self, to: u64) -> Step {
        self.again += 1;
        self.go(to);
        if self.again > self.limit() {
            self.length = 0;
            return Step::Lost;
        }
        if self.busy() {
            self.begin();
        }
        Step::Again
    }

    /// Every page once, and two more.
    const fn limit(&self) -> u32 {
        self.pages.saturating_add(2)
    }
}
