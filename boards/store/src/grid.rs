//! Where records lie in a flash, and what makes bytes a record.
//!
//! A region of whole pages is divided into cells; a record takes as many cells as it needs, in one page. A position counts cells and never
//! goes down: its remainder is the place, the rest is the turn, which is raised when the region was gone round and at every mount. A record holds its own position, so a
//! copy that an erase left half behind is older than what came after it, whatever else it says.
//!
//! ```text
//!  byte    0        4          9      13       15        16
//!          CRC-32   position   back   length   version   payload ... (0xff up to the flash's write size)
//! ```
//!
//! `back` is how many cells before this one lies the record that it follows: the last one that was seen to be kept when this one was begun
//! (nothing: none was). [`crate::ring`] says what for.
//!
//! Integers are little-endian. The CRC is CRC-32/ISO-HDLC over all that follows it, payload included.

use core::num::NonZeroU64;

use crc::{CRC_32_ISO_HDLC, Crc, Table};
use embedded_storage::nor_flash::NorFlash;

/// What stands in front of a payload.
pub const HEADER: usize = 16;
/// Largest cell.
pub(crate) const MAX_CELL: usize = 64;

static CRC: Crc<u32, Table<1>> = Crc::<u32, Table<1>>::new(&CRC_32_ISO_HDLC);

/// Where a ring of records lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Region {
    /// First byte: a page's.
    pub first: u32,
    /// Pages: 5 to 256.
    pub pages: u32,
    /// Bytes of a cell: 16, 32 or 64, a multiple of what the flash writes and reads. Small cells waste less, large ones are looked through faster.
    pub cell: u32,
    /// Bytes that are written in one step: a multiple of what the flash writes, as many as it takes in a time that the loop can spare.
    pub step: u32,
}

/// A region that a flash cannot have, or that a record cannot have.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RegionError {
    /// It does not begin with a page, or ends beyond the flash.
    Place,
    /// Less than 5 pages, or more than 256.
    Pages,
    /// Cells that are not 16, 32 or 64 bytes, or no multiple of what the flash writes and reads.
    Cell,
    /// A step that is nothing, or no multiple of what the flash writes.
    Step,
    /// The largest record is no multiple of a cell, or does not fit a page.
    Record,
}

impl core::fmt::Display for RegionError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(match self {
            Self::Place => "a region must begin with a page of the flash and end inside the flash",
            Self::Pages => {
                "a region must have 5 to 256 pages: four that may hold what is needed after a power cut, one to write to"
            }
            Self::Cell => "a cell must have 16, 32 or 64 bytes, a multiple of what the flash writes and reads",
            Self::Step => "a step must write a multiple of what the flash writes, not nothing",
            Self::Record => "the largest record must be a multiple of a cell and fit a page",
        })
    }
}

impl core::error::Error for RegionError {}

/// A region as it lies in a flash.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Grid {
    first: u32,
    erase: u32,
    pub cell: u32,
    pub per_page: NonZeroU64,
    /// Cells of all pages.
    pub cells: NonZeroU64,
}

impl Grid {
    /// The region in `F`, for records of at most `max` bytes, header included.
    pub fn new<F: NorFlash>(flash: &F, region: &Region, max: usize) -> Result<Self, RegionError> {
        let Region { first, pages, cell, step } = *region;
        let multiple = |of: u32, unit: usize| unit > 0 && (of as usize).is_multiple_of(unit);
        let erase = F::ERASE_SIZE as u32;
        let end = u64::from(first) + u64::from(pages) * u64::from(erase);
        if !multiple(first, F::ERASE_SIZE) || end > (flash.capacity() as u64).min(1 << 32) {
            return Err(RegionError::Place);
        }
        if !(5..=256).contains(&pages) {
            return Err(RegionError::Pages);
        }
        if !matches!(cell, 16 | 32 | 64) || !multiple(cell, F::WRITE_SIZE) || !multiple(cell, F::READ_SIZE) {
            return Err(RegionError::Cell);
        }
        if step == 0 || !multiple(step, F::WRITE_SIZE) {
            return Err(RegionError::Step);
        }
        if max < HEADER || max > F::ERASE_SIZE || !max.is_multiple_of(cell as usize) {
            return Err(RegionError::Record);
        }
        let per_page = u64::from(erase / cell);
        let numbers = (NonZeroU64::new(per_page), NonZeroU64::new(per_page * u64::from(pages)));
        let (Some(per_page), Some(cells)) = numbers else {
            return Err(RegionError::Cell); // a page smaller than a cell
        };
        Ok(Self { first, erase, cell, per_page, cells })
    }

    /// Cells that `bytes` take.
    pub const fn cells_of(&self, bytes: usize) -> u64 {
        // A cell is 16, 32 or 64.
        ((bytes + self.cell as usize - 1) >> self.cell.trailing_zeros()) as u64
    }

    /// The page that holds a position.
    pub fn page(&self, position: u64) -> u64 {
        (position % self.cells) / self.per_page
    }

    /// Cells from a position to the end of its page.
    pub fn left(&self, position: u64) -> u64 {
        self.per_page.get() - position % self.per_page
    }

    /// The first position of the page after.
    pub fn page_after(&self, position: u64) -> u64 {
        position.saturating_add(self.left(position))
    }

    /// The first position at the same place that lies a whole turn after `highest`, or more.
    pub fn beyond(&self, position: u64, highest: u64) -> u64 {
        let cells = self.cells.get();
        let turns = highest.saturating_add(cells).saturating_sub(position).div_ceil(self.cells.get());
        position.saturating_add(turns.saturating_mul(cells))
    }

    /// The byte at which a position lies.
    pub fn byte(&self, position: u64) -> u32 {
        // Inside the region, which ends below 2^32.
        let within = (position % self.per_page) as u32 * self.cell;
        self.first + self.page(position) as u32 * self.erase + within
    }

    /// Erases the page that holds a position.
    pub fn erase<F: NorFlash>(&self, flash: &mut F, position: u64) -> Result<(), F::Error> {
        let from = self.first + self.page(position) as u32 * self.erase;
        flash.erase(from, from.saturating_add(self.erase))
    }

    /// Erases every page.
    pub fn erase_all<F: NorFlash>(&self, flash: &mut F) -> Result<(), F::Error> {
        let page = self.per_page.get();
        (0..self.cells.get() / self.per_page).try_for_each(|n| self.erase(flash, n.saturating_mul(page)))
    }

    /// Whether a cell can be read.
    pub fn readable<F: NorFlash>(&self, flash: &mut F, position: u64) -> bool {
        let mut cell = [0; MAX_CELL];
        cell.get_mut(..self.cell as usize).is_some_and(|cell| flash.read(self.byte(position), cell).is_ok())
    }

    /// Whether a cell is as an erase leaves it.
    pub fn blank<F: NorFlash>(&self, flash: &mut F, position: u64) -> bool {
        let mut cell = [0; MAX_CELL];
        cell.get_mut(..self.cell as usize)
            .is_some_and(|cell| flash.read(self.byte(position), cell).is_ok() && cell.iter().all(|&byte| byte == 0xff))
    }

    /// The record in the cells from `place` on, whatever its turn: its position and the bytes of its payload, after the header in `into`. A cell that
    /// cannot be read holds none: a flash with a code for error correction refuses what a power cut left.
    pub fn record<F: NorFlash>(&self, flash: &mut F, place: u64, into: &mut [u8]) -> Option<Found> {
        self.sound(flash, place, into).filter(|found| self.fits(place, found))
    }

    /// Whether a record says that it is where it was found.
    pub fn fits(&self, place: u64, found: &Found) -> bool {
        found.position % self.cells == place % self.cells
    }

    /// Like [`Grid::record`], but wherever it says that it is: one that says otherwise was written by another layout, or for other places.
    pub fn sound<F: NorFlash>(&self, flash: &mut F, place: u64, into: &mut [u8]) -> Option<Found> {
        let cell = self.cell as usize;
        flash.read(self.byte(place), into.get_mut(..cell)?).ok()?;
        let head = Head::of(into)?;
        let bytes = self.cells_of(HEADER + head.length) as usize * cell;
        if self.cells_of(bytes) > self.left(place) {
            return None;
        }
        let whole = into.get_mut(..bytes)?;
        if let Some(rest) = whole.get_mut(cell..)
            && !rest.is_empty()
        {
            flash.read(self.byte(place).saturating_add(self.cell), rest).ok()?;
        }
        let covered = whole.get(4..HEADER + head.length)?;
        (CRC.checksum(covered) == head.crc).then_some(Found {
            position: head.position,
            length: head.length,
            version: head.version,
            follows: head.follows,
        })
    }
}

/// A record that was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Found {
    /// Where, counted in cells since the first ever.
    pub position: u64,
    /// Bytes of its payload.
    pub length: usize,
    /// By which layout the payload was written.
    pub version: u8,
    /// The position of the record that was seen to be kept before.
    pub(crate) follows: Option<u64>,
}

impl Found {
    /// Which of two records was begun later. Not the one with the larger position: what was cut off twice in a row may lie further on, be no record at one
    /// time and one again the next time.
    pub(crate) fn after(&self, other: &Self) -> bool {
        (self.follows, self.position) > (other.follows, other.position)
    }
}

/// Bytes of a position and of the way back from it.
const POSITION: usize = 5;
const BACK: usize = 4;

struct Head {
    crc: u32,
    position: u64,
    follows: Option<u64>,
    length: usize,
    version: u8,
}

impl Head {
    fn of(bytes: &[u8]) -> Option<Self> {
        let (crc, rest) = bytes.split_first_chunk::<4>()?;
        let (position, rest) = rest.split_first_chunk::<POSITION>()?;
        let (back, rest) = rest.split_first_chunk::<BACK>()?;
        let (length, rest) = rest.split_first_chunk::<2>()?;
        let (&version, _) = rest.split_first()?;
        let (position, back) = (number(position), number(back));
        Some(Self {
            crc: u32::from_le_bytes(*crc),
            position,
            follows: if back > 0 { position.checked_sub(back) } else { None },
            length: usize::from(u16::from_le_bytes(*length)),
            version,
        })
    }
}

fn number(bytes: &[u8]) -> u64 {
    bytes.iter().rev().fold(0, |number, &byte| (number << 8) | u64::from(byte))
}

/// Writes a header in front of the payload that lies in `image` already. Positions of 40 bits last for 17 million mounts of the largest region (65 536 cells), and
/// the way back for as many that are cut off in a row, one by one, right after their first record.
pub(crate) fn seal(image: &mut [u8], found: &Found) {
    let put = |image: &mut [u8], at: usize, bytes: &[u8]| {
        for (to, from) in image.iter_mut().skip(at).zip(bytes) {
            *to = *from;
        }
    };
    let back = found.follows.map_or(0, |follows| found.position.saturating_sub(follows).min((1 << (8 * BACK)) - 1));
    let [position, back] = [found.position, back].map(u64::to_le_bytes);
    put(image, 4, position.get(..POSITION).unwrap_or(&[]));
    put(image, 4 + POSITION, back.get(..BACK).unwrap_or(&[]));
    put(image, 4 + POSITION + BACK, &(found.length as u16).to_le_bytes());
    put(image, HEADER - 1, &[found.version]);
    let crc = CRC.checksum(image.get(4..HEADER + found.length).unwrap_or(&[]));
    put(image, 0, &crc.to_le_bytes());
}
