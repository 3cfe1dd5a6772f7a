//! A board whose power goes at the end of a trace and comes again: what its store kept is what the host found, on every instruction set, byte by byte.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context as _, Result, ensure};
use shaftwork_report_bits::digest::crc32;
use shaftwork_report_bits::{Kind, Stream};

use crate::boards::Board;
use crate::cli::Context;
use crate::emulator;
use crate::firmware::Profile;
use crate::host::read;

/// Runs each image that is flashed twice over the trace in `folder`, the second time with the flash that the first left; `ours` are the host's reports.
pub fn check(context: &Context, images: &[(Board, Profile, PathBuf)], folder: &Path, ours: &[u8]) -> Result<()> {
    let (flash, after) = (folder.join("flash.bin"), folder.join("flash-after.bin"));
    let mut all = None;
    for (board, _, image) in
        images.iter().filter(|(board, profile, _)| *profile == Profile::Release && board.features.is_empty())
    {
        let first = emulator::run(board, image, folder, context.emulator_limit)?;
        fs::copy(&after, &flash)?;
        let second = emulator::run(board, image, folder, context.emulator_limit);
        fs::remove_file(&flash)?;
        let second = second?;

        let name = board.name;
        let [first_said, said] = [&first, &second].map(|run| |key| run.said.get(key));
        ensure!(first_said("found")? == 0, "{name}: a new flash holds something");
        ensure!(
            first_said("kept-totals")? == u64::from(totals(ours)?),
            "{name}: it kept other totals than the host has"
        );
        for (key, wanted) in [("found", 1), ("found-settings", 1), ("store-fails", 0)] {
            ensure!(said(key)? == wanted, "{name}: {key} is {} after a power cut", said(key)?);
        }
        for (found, kept) in [("found-totals", "kept-totals"), ("found-trip", "kept-trip")] {
            ensure!(said(found)? == first_said(kept)?, "{name}: {found} after a power cut is not what was kept");
        }
        // The same frames once more: as much energy again, but for what the fractions of two joules make.
        let twice = 2 * first_said("kept-joules")?;
        let joules = said("kept-joules")?;
        ensure!((twice..=twice + 1).contains(&joules), "{name}: {joules} J after the second run, {twice} wanted");

        let left = (read(&after)?, second.reports);
        let same = all.get_or_insert_with(|| left.clone()) == &left;
        ensure!(same, "{name}: its flash or its reports after a power cut are not those of the others");
    }
    let (bytes, _) = all.context("no image was run")?;
    println!("   power cut: all go on with the totals that the host has, with flashes alike ({:08x})", crc32(&bytes));
    Ok(())
}

/// The check sum of the totals that end a run.
fn totals(reports: &[u8]) -> Result<u32> {
    let last = Stream::new(reports).last().context("no reports")??;
    let (kind, bytes) = last;
    ensure!(kind == Kind::Totals, "the host's reports do not end with totals");
    Ok(crc32(bytes))
}
