//! What a study decides is what a replay decides, to the half cycle; what is kept on disk is trusted only where it is whole.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc;
use std::time::Duration;

use shaftwork_core::judge::event::{Event, EventKind};
use shaftwork_core::time::Instant;
use shaftwork_core::{Cause, Monitor};

use super::cache::Cache;
use super::candidates::Candidates;
use super::decided::decide;
use super::records::{Records, meter, open};
use super::score::Rules;
use super::study::{Order, Work};
use super::vary::Vary;
use crate::convert::Converter;
use crate::fit;
use crate::replay::drive::{Core, Listener, drive};
use crate::replay::side::Side;
use crate::replay::source::Source;
use crate::settings::{self, Settings};
use crate::synth::story::Story;
use crate::synth::testing::csv;

/// The first trip that a replay tells.
#[derive(Default)]
struct First(Option<(Instant, Cause)>);

impl Listener for First {
    fn event(&mut self, event: &Event) -> anyhow::Result<()> {
        if let EventKind::Trip { cause, .. } = event.kind {
            self.0.get_or_insert((event.at, cause));
        }
        Ok(())
    }
}

/// As the verb `replay` goes through a trace.
fn replayed(path: &Path, settings: &Settings) -> Option<(Instant, Cause)> {
    let mut source = Source::open(&path.display().to_string(), settings, false).unwrap();
    let made = if source.estimates { fit::estimating_settings } else { fit::core_settings };
    let core = made(settings, source.rate_hz).unwrap();
    let (mut side, _) = Side::new(&source.selection, settings.mass, false, source.rows_hz);
    let converter = Converter::new(&settings.sampling);
    let mut first = First::default();
    let core = Core::Samples(Box::new(Monitor::new(&core).unwrap()), &converter);
    drive(&mut source, &mut side, core, None, &mut first).unwrap();
    first.0
}

/// A trace with its settings, in a folder of its own.
struct Case {
    _folder: tempfile::TempDir,
    path: PathBuf,
    settings: String,
}

impl Case {
    fn new(trace: &str, settings: String) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.csv");
        std::fs::write(&path, trace).unwrap();
        Self { _folder: folder, path, settings }
    }

    fn candidates(&self, vary: &str) -> Candidates {
        let (base, _) = settings::parse(&self.settings, "mill.toml").unwrap();
        Candidates::new(base, &self.settings, Vary::parse("vary.toml", vary).unwrap()).unwrap()
    }

    /// Each combination by study and by replay; there must be so many different decisions at least.
    #[track_caller]
    fn agrees(&self, vary: &str, least: usize) {
        let candidates = self.candidates(vary);
        let source = open(&self.path, &candidates.base, false).unwrap().source;
        let built = candidates.built(source.rate_hz, source.estimates, 0.2).unwrap();
        let metered = |c| meter(&mut open(&self.path, &candidates.base, false).unwrap(), &candidates.base, c).unwrap();
        let records: Vec<Records> = built.meters.iter().map(metered).collect();
        let settings = candidates.all.iter().map(|candidate| &candidate.settings).chain([&candidates.base]);
        let mut different = Vec::new();
        for (n, settings) in settings.enumerate() {
            let judges = &built.judges[n];
            let decided = decide(&judges.own, &records[judges.meter], &candidates.watched(), Instant(u64::MAX)).trip;
            assert_eq!(decided, replayed(&self.path, settings), "{}", candidates.words(n));
            if !different.contains(&decided) {
                different.push(decided);
            }
        }
        assert!(different.len() >= least, "{different:?}");
    }
}

/// A mill that is fed by hand until a piece wedges.
fn wedge() -> Story {
    let text = "about = \"a\"\nlike = \"hand-fed\"\nduration_s = 7.0\nlead_s = 8.0\nrate_hz = 2000.0\nmill.hand.from_s = 0.5\n\
                mill.wedge = { at_s = 4.0, rise_s = 0.3, torque_nm = 900.0 }";
    Story::parse("wedge", text).unwrap()
}

const TRIPS: &str = "[trip.jam]\npickup_pct = [150, 250]\ndelay_s = [0.0, 0.203, 0.8]\n\
                     [trip.wedge]\npickup_pct = [150, 300]\nwindow_s = [0.1, 0.22]\n";

#[test]
fn a_study_decides_as_a_replay_does() {
    let story = wedge();
    let case = Case::new(&csv(&story, 1, |_, _| {}), story.settings());
    case.agrees(TRIPS, 5);
}

/// Rated current and inertia are other records and another judge.
#[test]
fn so_it_does_where_the_motor_is_another() {
    let story = wedge();
    let settings = story.settings() + "\n[trip.wedge]\npickup_pct = 170\nwindow_s = 0.2\n";
    let case = Case::new(&csv(&story, 1, |_, _| {}), settings);
    case.agrees("[motor]\nservice_factor = [1.0, 1.15]\nfriction_loss_w = [200, 600]\n[mill]\nrotor_inertia_kg_m2 = [8, 12, 17]", 2);
}

/// A gap of 0.34 s before the jam, a tachometer; rates that leave fragments of blocks.
#[test]
fn so_it_does_with_gaps_and_a_tachometer() {
    let story = wedge();
    let mut trace = String::new();
    for (n, line) in csv(&story, 3, |_, _| {}).lines().enumerate() {
        let t_s = (n as f64 - 1.0) / 2_000.0;
        let rpm = if (2.0..4.5).contains(&t_s) {
            1_470.0
        } else if t_s < 2.0 {
            1_480.0
        } else {
            900.0
        };
        match n {
            0 => writeln!(trace, "{line},speed_rpm").unwrap(),
            _ if (2.061..2.4).contains(&t_s) => {}
            _ => writeln!(trace, "{line},{rpm}").unwrap(),
        }
    }
    let settings = story.settings().replace("[sampling]\n", "[sampling]\ngaps = \"split\"\n");
    assert!(settings.contains("gaps"));
    Case::new(&trace, settings).agrees(TRIPS, 3);
}

/// Currents alone: the judge fills power in by each settings' own curve.
#[test]
fn so_it_does_of_currents_alone() {
    let story = wedge();
    let blind = |line: &str| {
        let cells: Vec<&str> = line.split(',').collect();
        [cells[0], cells[4], cells[5], cells[6]].join(",")
    };
    let trace = csv(&story, 1, |_, _| {}).lines().map(blind).collect::<Vec<_>>().join("\n") + "\n";
    let settings = story.settings().replace("\"four-wire\"", "\"currents-only\"");
    Case::new(&trace, settings).agrees(TRIPS, 4);
}

/// Transformers inside the delta of a star-delta starter: the meter is told how the windings are joined.
#[test]
fn so_it_does_inside_the_delta() {
    let text = "about = \"a\"\nlike = \"star-delta-inside\"\nduration_s = 16.0\nrate_hz = 2000.0\n\
                mill.wedge = { at_s = 13.5, rise_s = 0.3, torque_nm = 1100.0 }";
    let story = Story::parse("inside", text).unwrap();
    let case = Case::new(&csv(&story, 1, |_, _| {}), story.settings());
    let vary = "[trip.jam]\npickup_pct = [150, 250]\ndelay_s = [0.1, 0.5]\n[trip.long_start]\ndelay_s = [3, 30]";
    case.agrees(vary, 3);
}

/// What is kept gives the same records; what is not whole is none; another meter, trace or setting of the converter has a place of its own.
#[test]
fn what_is_kept_is_whole_or_nothing() {
    let story = wedge();
    let case = Case::new(&csv(&story, 1, |_, _| {}), story.settings());
    let candidates = case.candidates("[motor]\nrated_current_a = [94.9, 95]\n");
    let built = candidates.built(2_000.0, false, 0.2).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let cache = Cache::new(Some(folder.path().join("records"))).unwrap();
    let place = |settings: &Settings, c| cache.place(&case.path, settings, false, c, None).unwrap();
    let here = place(&candidates.base, &built.meters[0]);
    assert_eq!(Cache::read(here.as_deref()), None);
    let records =
        meter(&mut open(&case.path, &candidates.base, false).unwrap(), &candidates.base, &built.meters[0]).unwrap();
    Cache::write(here.as_deref(), &records).unwrap();
    assert_eq!(Cache::read(here.as_deref()).as_ref(), Some(&records));
    assert_eq!(place(&candidates.base, &built.meters[0]), here);

    assert!(built.meters.len() > 1);
    assert_ne!(place(&candidates.base, &built.meters[1]), here);
    let mut other = candidates.base.clone();
    other.sampling.gain[0] = 1.01;
    assert_ne!(place(&other, &built.meters[0]), here);

    let path = here.clone().unwrap();
    let bytes = std::fs::read(&path).unwrap();
    for broken in
        [&bytes[..0], &bytes[..5], &bytes[..bytes.len() - 1], &[&bytes[..100], &[!bytes[100]], &bytes[101..]].concat()]
    {
        std::fs::write(&path, broken).unwrap();
        assert_eq!(Cache::read(here.as_deref()), None, "{} bytes", broken.len());
    }
    let trace = std::fs::read_to_string(&case.path).unwrap();
    std::fs::write(&case.path, trace.replacen('7', "8", 1)).unwrap();
    assert_ne!(place(&candidates.base, &built.meters[0]), here);
    assert_eq!(
        Cache::new(None).unwrap().place(&case.path, &candidates.base, false, &built.meters[0], None).unwrap(),
        None
    );
}

/// Threads that wait for what the core makes of the settings do not wait for themselves: of several rates on more threads than there
/// are processors.
#[test]
fn many_threads_come_to_an_end() {
    let settings = wedge().settings();
    let vary =
        "[trip.jam]\npickup_pct = { from = 150, to = 250, step = 5 }\ndelay_s = { from = 0.1, to = 1, step = 0.05 }";
    let vary = Vary::parse("vary.toml", vary).unwrap();
    let order = Order {
        folder: String::new(),
        rules: Rules { early_s: 0.1, allowed_s: 0.1, margin: 0.2 },
        accept_short: false,
        records: None,
    };
    let (done, end) = mpsc::channel();
    std::thread::spawn(move || {
        let (base, _) = settings::parse(&settings, "mill.toml").unwrap();
        let candidates = Candidates::new(base, &settings, vary).unwrap();
        let cache = Cache::new(None).unwrap();
        let work = Work::new(&order, &candidates, &cache, 1);
        let made = AtomicUsize::new(0);
        // Work from outside of the pool comes last: who has nothing to do helps with what is being made, and who waits for that help takes more.
        rayon::ThreadPoolBuilder::new().num_threads(8).build().unwrap().in_place_scope(|scope| {
            for n in 0..200 {
                let (work, made) = (&work, &made);
                scope.spawn(move |_| {
                    let built = work.built(2_000.0 + f64::from(n / 2), false).unwrap();
                    made.fetch_add(built.judges.len(), Ordering::Relaxed);
                });
            }
        });
        let _ = done.send(made.into_inner());
    });
    assert_eq!(end.recv_timeout(Duration::from_mins(1)), Ok(200 * (21 * 19 + 1)));
}
