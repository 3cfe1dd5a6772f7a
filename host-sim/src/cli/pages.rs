//! Completions for shells and manual pages, made from the definition of the command line itself.

use std::io::Write as _;
use std::process::ExitCode;

use anyhow::Context as _;
use clap::{Command, CommandFactory as _};
use clap_mangen::Man;
use clap_mangen::roff::{Roff, roman};

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
            file.write_all(page)?;
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
    let mut command = Cli::command().disable_help_subcommand(true);
    command.build();
    let all = std::iter::once(&command).chain(command.get_subcommands());
    all.map(|command| page(command).context("cannot make a page")).collect()
}

fn page(command: &Command) -> std::io::Result<(String, Vec<u8>)> {
    let name = command.get_display_name().unwrap_or_else(|| command.get_name());
    let man = Man::new(command.clone())
        .date("")
        .source(concat!("Shaftwork ", env!("CARGO_PKG_VERSION")))
        .manual("Shaftwork manual");
    let mut page = Vec::new();
    man.render_title(&mut page)?;
    // Ragged right and no hyphens: options and commands stay as they are typed.
    let mut roff = Roff::new();
    roff.control("ad", ["l"]).control("nh", []).to_writer(&mut page)?;
    man.render_name_section(&mut page)?;
    man.render_synopsis_section(&mut page)?;
    man.render_description_section(&mut page)?;
    man.render_options_section(&mut page)?;
    if command.has_subcommands() {
        man.render_subcommands_section(&mut page)?;
    }
    let after = command.get_after_help().map(ToString::to_string).unwrap_or_default();
    after.split("\n\n").try_for_each(|paragraph| section(paragraph, &mut page))?;
    Ok((format!("{name}.1"), page))
}

/// A paragraph of the help under the heading that manual pages have for it (man-pages(7)).
fn section(paragraph: &str, page: &mut Vec<u8>) -> std::io::Result<()> {
    let heading = match paragraph {
        examples if examples.contains("\n  shaftwork") => "EXAMPLES",
        status if status.starts_with("Exit status") => "EXIT STATUS",
        _ => "NOTES",
    };
    let mut roff = Roff::new();
    roff.control("SH", [heading]);
    if heading == "EXAMPLES" {
        roff.control("nf", []);
    }
    paragraph.lines().for_each(|line| {
        roff.text([roman(line)]);
    });
    roff.control("fi", []).to_writer(page)
}
