//! Completions for shells and manual pages, made from the definition of the command line itself.

use std::io::Write as _;
use std::path::Path;
use std::process::ExitCode;

use anyhow::Context as _;
use clap::CommandFactory as _;
use clap_mangen::Man;

use super::show::print;
use super::{Cli, Completions, ManPages};
use crate::report::Whole;
use crate::whole;

/// `completions`: the script for a shell, on standard output.
///
/// # Errors
/// It cannot be written.
pub fn completions(args: &Completions) -> anyhow::Result<ExitCode> {
    let mut script = Vec::new();
    clap_complete::generate(args.shell, &mut Cli::command(), "shaftwork", &mut script);
    print(&script)?;
    Ok(ExitCode::SUCCESS)
}

/// `man`: the command's page on standard output, or all pages into a folder.
///
/// # Errors
/// They cannot be written.
pub fn man(args: &ManPages) -> anyhow::Result<ExitCode> {
    let pages = pages()?;
    if let Some(folder) = &args.out {
        whole::folder(folder)?;
        let write = |(name, page): &(String, Vec<u8>)| -> anyhow::Result<Whole> {
            let mut file = Whole::create(&folder.join(name))?;
            file.write_all(page).with_context(|| format!("cannot write {}", Path::new(name).display()))?;
            Ok(file)
        };
        let files: Vec<Whole> = pages.iter().map(write).collect::<Result<_, _>>()?;
        files.into_iter().try_for_each(Whole::commit)?;
    } else if let Some((_, page)) = pages.first() {
        print(page)?;
    }
    Ok(ExitCode::SUCCESS)
}

/// The pages by their file names: the command's first, then one a verb.
fn pages() -> anyhow::Result<Vec<(String, Vec<u8>)>> {
    let mut command = Cli::command();
    command.build();
    let verbs = command.get_subcommands().filter(|verb| verb.get_name() != "help");
    let page = |command: &clap::Command| -> anyhow::Result<(String, Vec<u8>)> {
        let name = command.get_display_name().unwrap_or_else(|| command.get_name()).to_owned();
        let mut page = Vec::new();
        Man::new(command.clone().disable_help_subcommand(true)).render(&mut page).context("cannot make a page")?;
        Ok((format!("{name}.1"), page))
    };
    std::iter::once(&command).chain(verbs).map(page).collect()
}
