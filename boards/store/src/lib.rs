#![no_std]
#![forbid(unsafe_code)]
//! What a board keeps over a power cut, in any flash or FRAM with the traits of `embedded-storage`: no allocation, no unsafe.
//!
//! | what | how often | lost at a power cut |
//! |---|---|---|
//! | totals ([`shaftwork_core::Totals`]) and, of the same moment, thermal image, rotor heat, latches, starts, idle power ([`shaftwork_core::judge::saved::Saved`]) | FRAM 0.9 s, flash 59 s; at once when a trip is latched or reset, a person is called, a start has begun or ended, the thermal image has risen by an eighth; when an input tells that power fails | FRAM, or flash with that input and hold-up: 1 s of energy; flash alone: 60 s; an eighth of the thermal trip level |
//! | settings | when they are changed | nothing that was acknowledged: old or new, whole |
//! | events | as they happen | those that were not kept yet: 16 wait at most; the log holds its last pages but four for sure |
//!
//! How long the power was off is not known: no motor cools meanwhile, starts of the last hour count as long as they did, the rest begins anew
//! ([`shaftwork_core::Monitor::resume`]). A mass that is fed counts from nothing at each power-up: the store adds.
//!
//! One mechanism keeps all three: [`ring`], records of [`grid`]. The power may go at any step, and again and again while what it left is put right:
//! no register goes back, nothing that was acknowledged is lost. `tests/power_cuts.rs` tries it with a flash that obeys physics, at every step, twice in a row at every pair
//! of steps, and by chance up to five times in a row: of 24 million such cuts (50 seeds each at write sizes of 1, 4 and 8 bytes, with several records a page and with one)
//! none lost a kept record or mixed two.
//!
//! # Where the flash fails
//!
//! What cannot be written after a try in every page is given up: [`Store::failing`] tells it, metering and trips go on, what was acknowledged before stays. Totals are tried again soon, settings are
//! told as lost ([`Store::change`]), an event counts as missed. Where nothing can be read when power comes, [`Begun::failed`] tells it: the board has to wait for a person, and takes
//! the motor for hot ([`Begun::saved`]).
//!
//! # Wear, and what a queue must hold
//!
//! Ten years with a hundred thousand starts, a record of 264 bytes (what ten years of a busy mill make of it; the second figure is for the largest there can be, 524). Queue: the `N` of the
//! queue of blocks, at 2 ms a block, with which no step costs a sample. Hold-up: how long power must last after its input tells.
//! The figures of the flashes are **from memory of data sheets**: put in those of your part ([`wear::Part`]), all this is computed when it is compiled.
//!
//! | flash | every | pages | years | queue | hold-up |
//! |---|---|---|---|---|---|
//! | STM32G4, alone or with hold-up | 59000 ms | 85 (170 KiB), 199 | 10 | 14 | 31 ms |
//! | serial NOR, alone or with hold-up | 59000 ms | 5 (20 KiB), 9 | 12 | 202 | 502 ms |
//! | FRAM | 900 ms | 5 (10 KiB), 5 | 8541168 | 3 | 3 ms |
//!
//! Each power-up writes four more records and two entries. Settings and events have rings of their own, five pages at least.
//!
//! * STM32G4: 2 KiB pages, 8 bytes a write with a code for error correction, 10 000 erases, 24.5 ms an erase at most. A dual-bank part must run from the other bank, or its interrupt
//!   and queue from RAM, because a bank that is erased cannot be read. A driver must turn the code's fault (a non-maskable interrupt) into a read error.
//! * Serial NOR: 4 KiB sectors, 1 byte a write at least (here 16 a step), 100 000 erases, 400 ms an erase at most. No queue of a small board holds 400 ms: let the driver's `erase` and `write`
//!   return when the chip has begun, and give the store no step while the chip is busy; then the queue needs 2, and an erase that was begun has to end within the hold-up.
//! * FRAM: nothing needs erasing. Its driver takes any page size and fills a page with ones to "erase" it.
//!
//! # The loop
//!
//! [`Store::mount`] before the converter is started; what it found goes to [`shaftwork_core::Monitor::new`] (settings) and
//! [`shaftwork_core::Monitor::resume`] ([`Begun::saved`]), *before* the first step, which writes what the monitor then remembers. [`Store::step`] when no block waits: it erases a page, or writes
//! [`Region::step`] bytes, or reads a record back. Settings are acknowledged when [`Store::change`] tells that they are kept.
//!
//! A firmware with another layout ([`kept::VERSION`]) is refused by [`Store::mount`] before anything is written ([`MountError::Layout`] tells the ways out): it must not go on as if
//! nothing were there.

mod bytes;
pub mod grid;
pub mod kept;
pub mod ring;
pub mod store;
pub mod wear;

pub use grid::{Found, HEADER, Region, RegionError};
pub use kept::{Entry, Kept, Read, joined};
pub use ring::{Refusal, Ring, Step};
pub use store::{Begun, Change, Done, Forgotten, MountError, Places, Refused, Store, What};
