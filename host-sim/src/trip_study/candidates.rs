//! The settings that are compared: every combination of the varied values, checked as a settings file is, and as the core takes them.

use std::path::Path;

use anyhow::Context as _;
use rayon::prelude::*;
use shaftwork_core::Cause;
use toml_edit::DocumentMut;

use super::idle::{idle, table};
use super::vary::{Key, Vary};
use crate::error::{Fault, Usage};
use crate::fit;
use crate::settings::{self, Faults, Settings};

/// A rate to try settings at whose traces tell theirs.
pub(super) const USUAL_HZ: f64 = 4_000.0;

/// A combination of values that makes settings.
#[derive(Debug, Clone)]
pub struct Candidate {
    /// Which value each key has.
    pub picks: Vec<usize>,
    /// The settings.
    pub settings: Settings,
}

/// All that are compared.
#[derive(Debug)]
pub struct Candidates {
    /// The settings as they are set.
    pub base: Settings,
    /// What is varied.
    pub vary: Vary,
    /// The combinations, in order.
    pub all: Vec<Candidate>,
    /// What a person should know.
    pub notes: Vec<String>,
}

impl Candidates {
    /// Reads both files and makes the combinations.
    ///
    /// # Errors
    /// One of them is at fault; or a value makes no settings, whatever the others.
    pub fn load(settings: &Path, vary: &Path) -> anyhow::Result<Self> {
        if settings == Path::new("-") {
            let words = "trip-study reads the settings twice: give them as a file, not '-'";
            return Err(Usage(words.to_owned()).into());
        }
        let (base, _) = settings::load(settings)?;
        let name = settings.display().to_string();
        let text = std::fs::read_to_string(settings).with_context(|| format!("cannot read {name}"))?;
        Self::new(base, &text, Vary::load(vary)?)
    }

    /// The same of settings with their text.
    ///
    /// # Errors
    /// As [`Candidates::load`].
    pub fn new(base: Settings, text: &str, vary: Vary) -> anyhow::Result<Self> {
        base.need_samples("a study of trips")?;
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let document: DocumentMut = text.parse().context("the settings cannot be changed")?;
        let made: Vec<(Vec<usize>, Result<Settings, Fault>)> = (0..vary.count())
            .into_par_iter()
            .map(|n| {
                let picks = vary.picks(n);
                let settings = make(&base.file, &document, &vary, &picks);
                (picks, settings)
            })
            .collect();
        useless(&vary, &made)?;
        let refused: Vec<(&[usize], &Fault)> =
            made.iter().filter_map(|(picks, made)| Some((picks.as_slice(), made.as_ref().err()?))).collect();
        let mut notes = Vec::new();
        if let Some((picks, fault)) = refused.first() {
            let words = fault.to_string().replace('\n', ";");
            notes.push(format!(
                "{} of {} combinations make no sense together and are left out, the first with {}: {words}",
                refused.len(),
                made.len(),
                words_of(&vary, picks)
            ));
        }
        let all: Vec<Candidate> = made
            .into_iter()
            .filter_map(|(picks, settings)| Some(Candidate { picks, settings: settings.ok()? }))
            .collect();
        notes.extend(idle(&vary, &all, &base));
        Ok(Self { base, vary, all, notes })
    }

    /// A combination in words.
    pub fn words(&self, candidate: usize) -> String {
        self.all.get(candidate).map_or_else(String::new, |candidate| words_of(&self.vary, &candidate.picks))
    }

    /// The elements whose nearness counts: those with a varied key; all where the motor or the mill is varied.
    pub fn watched(&self) -> Vec<Cause> {
        let own = |cause: &Cause| {
            let table = format!("trip.{}.", table(*cause));
            self.vary.keys.iter().any(|key| key.name.starts_with(&table))
        };
        let any = self.vary.keys.iter().all(Key::is_trip);
        Cause::ALL.into_iter().filter(|cause| !any || own(cause)).collect()
    }
}

fn make(file: &str, document: &DocumentMut, vary: &Vary, picks: &[usize]) -> Result<Settings, Fault> {
    let mut document = document.clone();
    if !vary.lay(&mut document, picks) {
        return Err(Fault::new(file, "a table of the settings is none")
            .wanted("tables as in docs/formats.md")
            .mend("write what is varied as tables in the settings too: [trip.jam] with its keys below it"));
    }
    let settings = match settings::parse(&document.to_string(), file) {
        Ok((settings, _)) => settings,
        Err(Faults(all)) => {
            return Err(all.into_iter().next().unwrap_or_else(|| Fault::new(file, "the settings are not sound")));
        }
    };
    // What the core does not take is no setting either; ranges that hang on the rate are found once a trace tells it.
    let rate_hz = settings.sampling.rate_hz.unwrap_or(USUAL_HZ);
    match fit::core_settings(&settings, rate_hz) {
        Ok(_) => Ok(settings),
        Err(error) => Err(error.downcast().unwrap_or_else(|error| Fault::new(file, error.to_string()))),
    }
}

/// Refuses a value with which no combination is sound: it is wrong by itself.
fn useless(vary: &Vary, made: &[(Vec<usize>, Result<Settings, Fault>)]) -> Result<(), Fault> {
    for (k, key) in vary.keys.iter().enumerate() {
        for at in 0..key.values.len() {
            let with = || made.iter().filter(|(picks, _)| picks.get(k) == Some(&at));
            if with().any(|(_, made)| made.is_ok()) {
                continue;
            }
            // The fault of this very key, where one of the combinations has it.
            let faults = || with().filter_map(|(_, made)| made.as_ref().err());
            let own = faults().find(|fault| fault.place.ends_with(&format!("key {}", key.name)));
            let Some(fault) = own.or_else(|| faults().next()) else { continue };
            let (found, wanted) = match own {
                Some(own) => (key.shown(at), own.wanted.clone()),
                None => (
                    format!("{} makes no settings: {}: {}", key.shown(at), fault.place, fault.found),
                    fault.wanted.clone(),
                ),
            };
            // A value that suits no other may be the fault of another key's only value, which is told in its turn.
            if own.is_none() && vary.keys.len() > 1 && another(vary, made, k) {
                continue;
            }
            return Err(Fault::new(&*vary.file, found).at(&*key.place).wanted(wanted).mend(fault.mend.clone()));
        }
    }
    Ok(())
}

/// Whether a key beside this one has a fault of its own.
fn another(vary: &Vary, made: &[(Vec<usize>, Result<Settings, Fault>)], k: usize) -> bool {
    let faults = || made.iter().filter_map(|(_, made)| made.as_ref().err());
    vary.keys
        .iter()
        .enumerate()
        .any(|(other, key)| other != k && faults().any(|fault| fault.place.ends_with(&format!("key {}", key.name))))
}

/// A combination as it is written: `trip.jam.delay_s = 0.3, ...`.
pub fn words_of(vary: &Vary, picks: &[usize]) -> String {
    let words = vary.keys.iter().zip(picks).map(|(key, pick)| format!("{} = {}", key.name, key.shown(*pick)));
    words.collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::testing::{good, parsed};

    fn made(vary: &str) -> anyhow::Result<Candidates> {
        Candidates::new(parsed(&good()).0, &good(), Vary::parse("vary.toml", vary)?)
    }

    #[test]
    fn combinations_are_settings() {
        let all = made("[trip.jam]\ndelay_s = [0.2, 0.4]\npickup_pct = [180, 220]\n").unwrap();
        assert_eq!((all.all.len(), all.notes.len()), (4, 0));
        let jam = all.all[2].settings.trips.jam.unwrap();
        assert!((jam.delay_s - 0.4).abs() < 1e-12 && (jam.pickup_pct - 180.0).abs() < 1e-12);
        assert_eq!(all.words(2), "trip.jam.delay_s = 0.4, trip.jam.pickup_pct = 180");
        assert_eq!(all.watched(), [Cause::Jam]);
        let built = all.built(4_000.0, false, 0.2).unwrap();
        assert_eq!((built.meters.len(), built.judges.len()), (1, 5), "the settings as they are set come last");
    }

    /// Rated current says below which current nothing is told of unbalance: another metering.
    #[test]
    fn what_changes_the_meter_makes_another_metering() {
        let all = made("[motor]\nrated_current_a = [95.5, 96.55, 98]\n[trip.jam]\ndelay_s = [0.2, 0.4]").unwrap();
        let built = all.built(4_000.0, false, 0.2).unwrap();
        assert_eq!((built.meters.len(), built.judges.len()), (3, 7));
        assert_eq!(all.watched().len(), Cause::ALL.len(), "all elements depend on the motor");
    }

    #[test]
    fn a_value_out_of_range_is_told_where_it_stands() {
        let fault = made("[trip.jam]\npickup_pct = [180]\ndelay_s = [0.2, 99999]\n").unwrap_err().to_string();
        assert!(
            fault.contains("vary.toml, line 3, key trip.jam.delay_s: 99999") && fault.contains("wanted: 0 to"),
            "{fault}"
        );
        let fault = made("[trip.wedge]\npickup_pct = [150]\n").unwrap_err().to_string();
        assert!(fault.contains("vary.toml, line 2") && fault.contains("window_s"), "{fault}");
    }

    #[test]
    fn what_makes_no_sense_together_is_left_out_and_told() {
        let all = made("[trip.thermal]\nhot_stall_s = [10, 20]\ncold_stall_s = [15, 30]\n").unwrap();
        assert_eq!(all.all.len(), 3);
        assert!(all.notes[0].starts_with("1 of 4 combinations"), "{:?}", all.notes);
    }

    /// A nameplate from which no circuit follows: the locked rotor's current against the power factor, as the core's fit has it.
    #[test]
    fn a_nameplate_that_no_motor_has_is_left_out_and_told() {
        let vary = "[motor]\nrated_power_factor_pct = [86, 87.7]\nlocked_rotor_current_a = [190, 600]\n";
        let all = made(vary).unwrap();
        assert_eq!(all.all.len(), 3);
        let note = &all.notes[0];
        assert!(note.starts_with("1 of 4 combinations") && note.contains("no motor has the figures"), "{note}");
        assert!(note.contains("the first with motor.rated_power_factor_pct = 87.7"), "{note}");
        let fault = made("[motor]\nlocked_rotor_current_a = [97, 600]\n").unwrap_err().to_string();
        let place = "vary.toml, line 2, key motor.locked_rotor_current_a: 97 makes no settings: table motor";
        assert!(fault.contains(place) && fault.contains("compare [motor] with the nameplate"), "{fault}");
    }

    #[test]
    fn what_is_varied_in_vain_is_told() {
        let all = made("[trip.underload]\npickup_pct = [50]\ndelay_s = [1, 2]\n").unwrap();
        assert!(all.notes[0].contains("underload does not trip"), "{:?}", all.notes);
    }
}
