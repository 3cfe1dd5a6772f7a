//! The verb `commission`: every element tried by injection, on this computer or on a board, and the as-left sheet.
//!
//! ```text
//! settings ─ fit ─ what a board is sent ─┬─ injection here ─┐
//!                        sheet.bin of a board ──────────────┴─ document ─ text, JSON, page
//! ```

mod document;
mod page;
mod words;

use std::path::Path;
use std::process::ExitCode;

use shaftwork_commission::Sheet;
use shaftwork_core::Settings as CoreSettings;
use shaftwork_report_bits::digest::crc32;
use shaftwork_report_bits::settings::{MAX_BYTES, encode};
use shaftwork_report_bits::sheet;

use crate::cli::{Commission, show};
use crate::error::Fault;
use crate::replay::source::clock_hz;
use crate::settings::{self, Settings};
use crate::{clash, fit, whole};

use document::{Document, Tried};

/// Exit status where an element was not proven.
const NOT_PROVEN: u8 = 3;

/// Tries the elements, or reads what a board did, and shows the sheet.
///
/// # Errors
/// Settings or sheet are at fault, or nothing can be written.
pub fn run(args: &Commission) -> anyhow::Result<ExitCode> {
    let inputs: Vec<_> = [&args.settings].into_iter().chain(&args.sheet).cloned().collect();
    let mut outputs: Vec<_> = clash::json(args.json.as_deref()).into_iter().collect();
    outputs.extend(args.out.clone().map(|out| ("--out", out)));
    outputs.extend(
        args.bits
            .iter()
            .flat_map(|folder| ["settings.bin", "sheet-host.bin"].map(|name| ("--bits", folder.join(name)))),
    );
    clash::refuse(&inputs, &outputs)?;
    let (settings, warnings) = settings::load(&args.settings)?;
    let name = args.settings.display().to_string();
    let (sheet, tried) = if let Some(path) = &args.sheet {
        of_board(path, &name, &settings)?
    } else {
        (here(&sent(&settings, rate_hz(&name, &settings)?)?), Tried::Here)
    };
    if let Some(folder) = &args.bits {
        whole::folder(folder)?;
        let sent = sent(&settings, f64::from(sheet.rate_mhz) / 1e3)?;
        whole::write(&folder.join("settings.bin"), encode(&sent, &mut [0; MAX_BYTES]))?;
        whole::write(&folder.join("sheet-host.bin"), sheet::encode(&sheet, &mut [0; sheet::MAX_BYTES]))?;
    }
    let mut lines = crate::check::lines(&settings, &[]);
    lines.extend(warnings.into_iter().map(crate::check::Line::Warning));
    let document = Document::new(&name, &sheet, tried);
    let text = words::text(&document, &lines);
    if let Some(out) = &args.out {
        let page = out.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("html"));
        let whole_text = if page { page::page(&document, &lines)? } else { text.clone() };
        whole::write(out, whole_text.as_bytes())?;
    }
    show::show(&text, &document.json(&lines), args.json.as_deref())?;
    Ok(if document.proven { ExitCode::SUCCESS } else { ExitCode::from(NOT_PROVEN) })
}

/// What a board is sent.
fn sent(settings: &Settings, rate_hz: f64) -> anyhow::Result<CoreSettings> {
    fit::core_settings(settings, rate_hz)
}

/// The rate of the board's converter.
fn rate_hz(name: &str, settings: &Settings) -> Result<f64, Fault> {
    let rate = settings.sampling.rate_hz.map(|rows_hz| clock_hz(settings.sampling.values, rows_hz));
    rate.ok_or_else(|| {
        Fault::new(name, "no rate is given")
            .at("key sampling.rate_hz")
            .wanted(
                "the rate of the board's converter: injected waves are made of it, and times are counted in its frames",
            )
            .mend("add rate_hz to [sampling]")
    })
}

/// Tried on this computer.
fn here(sent: &CoreSettings) -> Sheet {
    let sum = crc32(encode(sent, &mut [0; MAX_BYTES]));
    shaftwork_commission::run(sent, sum, &mut || true)
}

/// What a board wrote, which must be of these settings; and whether this computer comes to the same.
fn of_board(path: &Path, name: &str, settings: &Settings) -> anyhow::Result<(Sheet, Tried)> {
    let shown = path.display().to_string();
    let wanted = "what a board's injection wrote, sheet.bin";
    let bytes = std::fs::read(path).map_err(|error| Fault::unreadable(&*shown, &error, wanted))?;
    let sheet = sheet::read(&bytes).map_err(|wrong| {
        Fault::new(&*shown, wrong.to_string())
            .wanted(wanted)
            .mend("fetch it from the board once more, and read it with the version that the board has")
    })?;
    // Beyond what a converter has, a rate is no sheet's.
    let own = sent(settings, f64::from(sheet.rate_mhz) / 1e3)?;
    let sum = crc32(encode(&own, &mut [0; MAX_BYTES]));
    if sum != sheet.settings {
        return Err(Fault::new(&*shown, format!("tried with settings of check sum {:08x}", sheet.settings))
            .wanted(format!("{sum:08x}, that of {name}"))
            .mend("give --settings the file that the board was sent, or send it this one and let it try once more")
            .into());
    }
    // Only a board has outputs.
    let own = Sheet { outputs: sheet.outputs.clone(), ..here(&own) };
    let tried = if own.version != sheet.version {
        Tried::OtherVersion(shown)
    } else if own == sheet {
        Tried::Board(shown)
    } else {
        Tried::Otherwise(shown)
    };
    Ok((sheet, tried))
}
