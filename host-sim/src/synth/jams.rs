//! A folder of small traces of jams and of honest work, with their verdicts: what `trip-study` is tried on.
//!
//! One mill, the catalogue's, running as each trace begins; the recipe of each is a scenario of a few words. Names sort so that every
//! second one of each kind is of another make than its neighbour. A jam's time is that of its recipe, as a person would mark it.

use std::fmt::Write as _;
use std::path::Path;

use anyhow::Context as _;
use rayon::prelude::*;

use super::record::Record;
use super::story::{Story, lay};
use crate::plant::{Frame, run as simulate};
use crate::whole;

/// A trace: name, when it jams, and what is laid over [`COMMON`].
type Recipe = (&'static str, Option<f64>, &'static str);

/// What all have in common: a mill that runs and is fed by hand.
const COMMON: &str = "about = \"a trace to choose trip settings by\"\nlike = \"hand-fed\"\nduration_s = 10.0\nlead_s = 8.0\nmill.hand.from_s = 0.5\n";

/// Jams of several kinds, then honest work of several kinds.
#[rustfmt::skip] // a line each
pub const ALL: [Recipe; 24] = [
    ("jam-01-hard.cfg", Some(6.0), "mill.wedge = { at_s = 6.0, rise_s = 0.1, torque_nm = 1250.0 }\n"),
    ("jam-02-slow.cfg", Some(6.0), "mill.wedge = { at_s = 6.0, rise_s = 0.8, torque_nm = 1000.0 }\n"),
    ("jam-03-empty.cfg", Some(5.0), "mill.hand.until_s = 1.0\nmill.wedge = { at_s = 5.0, rise_s = 0.3, torque_nm = 1080.0 }\n"),
    ("jam-04-held.cfg", Some(5.5), "mill.wedge = { at_s = 5.5, rise_s = 0.3, torque_nm = 760.0 }\n"),
    ("jam-05-loose.cfg", Some(6.0), "mill.wedge = { at_s = 6.0, rise_s = 0.2, torque_nm = 1100.0, until_s = 8.5 }\n"),
    ("jam-06-low-mains.cfg", Some(6.0), "supply.sags = [{ from_s = -20.0, until_s = 99.0, ramp_s = 0.1, depth = 0.07 }]\nmill.wedge = { at_s = 6.0, rise_s = 0.3, torque_nm = 950.0 }\n"),
    ("jam-07-after-lumps.cfg", Some(6.5), "mill.lumps = [{ at_s = 3.5, length_s = 0.15, edge_s = 0.04, torque_nm = 700.0 }, { at_s = 4.5, length_s = 0.12, edge_s = 0.03, torque_nm = 900.0 }]\nmill.wedge = { at_s = 6.5, rise_s = 0.2, torque_nm = 1150.0 }\n"),
    ("jam-08-rough-mains.cfg", Some(6.0), "supply.impedance = { ohm = 0.012, henry = 3e-5 }\nsupply.unbalance = { share = 0.008, phase_rad = 0.6 }\nsupply.harmonics = [{ order = 5, share = 0.025, phase_rad = 1.0 }]\nmill.wedge = { at_s = 6.0, rise_s = 0.3, torque_nm = 1080.0 }\n"),
    ("jam-09-creeping.cfg", Some(6.0), "mill.wedge = { at_s = 6.0, rise_s = 1.5, torque_nm = 1100.0 }\n"),
    ("jam-10-sudden.cfg", Some(4.0), "mill.wedge = { at_s = 4.0, rise_s = 0.05, torque_nm = 1500.0 }\n"),
    ("jam-11-hardly.cfg", Some(6.0), "mill.wedge = { at_s = 6.0, rise_s = 0.4, torque_nm = 720.0 }\n"),
    ("jam-12-late.cfg", Some(7.0), "mill.wedge = { at_s = 7.0, rise_s = 0.3, torque_nm = 1080.0 }\n"),
    ("work-01-scrap.cfg", None, ""),
    ("work-02-heavy-lump.cfg", None, "mill.lumps = [{ at_s = 5.0, length_s = 0.16, edge_s = 0.04, torque_nm = 800.0 }]\n"),
    ("work-03-burst.cfg", None, "mill.hand = { interval_s = [0.3, 0.5] }\n"),
    ("work-04-sag.cfg", None, "supply.sags = [{ from_s = 5.0, until_s = 5.3, ramp_s = 0.01, depth = 0.3 }]\n"),
    ("work-05-start.cfg", None, "lead_s = 0.0\nsupply.closed = [{ from_s = 1.0 }]\nmill.hand.from_s = 8.0\n"),
    ("work-06-empty.cfg", None, "mill.hand.until_s = 0.6\n"),
    ("work-07-lumps.cfg", None, "mill.lumps = [{ at_s = 3.0, length_s = 0.12, edge_s = 0.03, torque_nm = 900.0 }, { at_s = 3.6, length_s = 0.15, edge_s = 0.03, torque_nm = 700.0 }, { at_s = 4.3, length_s = 0.2, edge_s = 0.05, torque_nm = 500.0 }, { at_s = 7.0, length_s = 0.1, edge_s = 0.03, torque_nm = 1100.0 }]\n"),
    ("work-08-heavy-lump.cfg", None, "mill.lumps = [{ at_s = 6.0, length_s = 0.14, edge_s = 0.04, torque_nm = 900.0 }]\n"),
    ("work-09-burst.cfg", None, "mill.hand = { interval_s = [0.35, 0.5] }\n"),
    ("work-10-dip-in-a-lump.cfg", None, "supply.sags = [{ from_s = 5.0, until_s = 5.15, ramp_s = 0.01, depth = 0.25 }]\nmill.lumps = [{ at_s = 5.0, length_s = 0.15, edge_s = 0.05, torque_nm = 500.0 }]\n"),
    ("work-11-start.cfg", None, "lead_s = 0.0\nsupply.closed = [{ from_s = 0.5 }]\nmill.hand.from_s = 7.0\n"),
    ("work-12-rough-mains.cfg", None, "supply.impedance = { ohm = 0.012, henry = 3e-5 }\nsupply.unbalance = { share = 0.008, phase_rad = 0.6 }\nmill.lumps = [{ at_s = 5.0, length_s = 0.15, edge_s = 0.04, torque_nm = 850.0 }]\n"),
];

/// The element that the settings of the catalogue leave off.
const WEDGE: &str = "\n[trip.wedge]\npickup_pct = 160.0\nwindow_s = 0.2\n";

/// Makes the traces of some recipes, `verdicts.toml` and `settings.toml` in a folder, which is made; at a rate in Hz, and of a length in s
/// where it is not the recipe's.
///
/// # Errors
/// Something cannot be written.
pub fn make<N: AsRef<str> + Sync>(
    folder: &Path,
    recipes: &[(N, Option<f64>, &str)],
    rate_hz: f64,
    length_s: Option<f64>,
) -> anyhow::Result<()> {
    whole::folder(folder)?;
    let all: Vec<(u64, _)> = (1..).zip(recipes).collect();
    let made = all.into_par_iter().map(|(seed, (name, _, text))| {
        let mut story = told(name.as_ref(), text)?;
        story.scenario.rate_hz = rate_hz;
        story.scenario.duration_s = length_s.unwrap_or(story.scenario.duration_s);
        trace(folder, &story, seed)
    });
    made.collect::<anyhow::Result<()>>()?;
    let mut verdicts = String::from("# What each trace holds; s from its first row.\n");
    for (name, jam_s, _) in recipes {
        let verdict = jam_s.map_or_else(|| "honest".to_owned(), |t_s| format!("jam at {t_s} s"));
        let _ = writeln!(verdicts, "\"{}\" = \"{verdict}\"", name.as_ref());
    }
    whole::write(&folder.join("verdicts.toml"), verdicts.as_bytes())?;
    let mut story = told("settings", "")?;
    story.scenario.rate_hz = rate_hz;
    whole::write(&folder.join("settings.toml"), (story.settings() + WEDGE).as_bytes())
}

fn told(name: &str, text: &str) -> anyhow::Result<Story> {
    let mut whole: toml::Table = COMMON.parse()?;
    lay(&mut whole, text.parse()?);
    Ok(Story::parse(name, &toml::to_string(&whole)?)?)
}

fn trace(folder: &Path, story: &Story, seed: u64) -> anyhow::Result<()> {
    let mut record = Record::create(&folder.join(&story.name), &story.scenario)?;
    simulate(&story.scenario, seed, |frame: &Frame<'_>| record.frame(frame)).with_context(|| story.name.clone())?;
    record.finish()?;
    Ok(())
}
