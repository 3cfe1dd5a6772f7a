//! What a board captured: made by the board's own order of calls over the jam trace, then turned into a record and replayed.

use shaftwork_core::recorder::{Capture, Log, Point, Recorder, Shape, Trend};
use shaftwork_core::{EventKind, Monitor};
use shaftwork_report_bits::digest::crc32;
use shaftwork_report_bits::frames::HEADER_BYTES;
use shaftwork_report_bits::{Block, Report, capture, each, settings};

use super::*;
use std::sync::LazyLock;

const TRACE: &str = "tests/traces/jam.cfg";

/// Settings of the jam trace without the wedge element, whose warning would be captured before the trip.
pub(super) fn settings_file() -> &'static Path {
    static FILE: LazyLock<tempfile::NamedTempFile> = LazyLock::new(|| {
        let text = std::fs::read_to_string(at("tests/traces/jam.toml")).unwrap();
        let without = text.replacen("[trip.wedge]\n", "[trip.wedge]\nenabled = false\n", 1);
        assert_ne!(without, text);
        let file = tempfile::Builder::new().suffix(".toml").tempfile().unwrap();
        std::fs::write(file.path(), without).unwrap();
        file
    });
    FILE.path()
}

/// What a board's recorder of this shape and size captures of the trace; and when, in s of the capture, the trip was given.
pub(super) fn captured(shape: Shape, size: usize) -> (Vec<u8>, f64) {
    let folder = tempfile::tempdir().unwrap();
    let mut replay = shaftwork(&["replay", "--bits"]);
    replay.arg(folder.path()).arg(at(TRACE)).arg("--settings").arg(settings_file());
    assert_eq!(run(replay).0, Some(0));
    let sent = std::fs::read(folder.path().join("settings.bin")).unwrap();
    let frames = std::fs::read(folder.path().join("frames.bin")).unwrap();

    let settings = settings::decode(&sent).unwrap();
    let (mut entries, mut points, mut feeds) = ([None; 16], [Point::default(); 500], [0; 20]);
    let (mut ring, mut snapshots) = (vec![[0; 6]; size], [None, None]);
    let mut recorder = Recorder {
        log: Log::new(&mut entries, 1),
        trend: Trend::new(&settings.build().unwrap().judge, &mut points, &mut feeds, 1),
        capture: Capture::new(&mut ring, &mut snapshots, shape),
    };
    let mut monitor = Monitor::new(&settings).unwrap();
    let (mut rest, mut trip) = (&frames[HEADER_BYTES..], None);
    loop {
        let (block, used) = Block::decode(rest).unwrap();
        rest = &rest[used..];
        if block.last() {
            break;
        }
        monitor.ingest(&block.frames);
        recorder.block(&block.frames, &monitor);
        each(&mut monitor, &mut |report| {
            shaftwork_report_bits::record(&mut recorder, report);
            if let Report::Event(event) = report
                && matches!(event.kind, EventKind::Trip { .. })
            {
                trip = Some(event.at);
            }
        });
    }
    let record = recorder.capture.record().expect("the trip was captured");
    let mut bytes = Vec::new();
    capture::write(&record, settings.sampling.rate_mhz, crc32(&sent), &mut |some| bytes.extend_from_slice(some));
    (bytes, trip.unwrap().since(record.begin).0 as f64 / 65_536.0 / 4_000.0)
}

/// Writes a capture into a folder and turns it into a record there.
pub(super) fn record(folder: &Path, bytes: &[u8], settings: &Path) -> (Option<i32>, String, String) {
    std::fs::write(folder.join("capture.bin"), bytes).unwrap();
    let mut convert = shaftwork(&["capture"]);
    convert.arg(folder.join("capture.bin")).arg("--settings").arg(settings);
    convert.arg("--out").arg(folder.join("jam.cfg"));
    run(convert)
}

/// Replays the record; what is printed comes as one line.
fn replay(folder: &Path, settings: &Path, expect: &str) -> (Option<i32>, String, String) {
    let mut replay = shaftwork(&["replay", "--expect", expect]);
    replay.arg(folder.join("jam.cfg")).arg("--settings").arg(settings);
    let (status, out, err) = run(replay);
    (status, out.split_whitespace().collect::<Vec<_>>().join(" "), err)
}

#[test]
fn the_decision_is_come_to_again_from_the_middle_of_a_trace() {
    for (shape, size, tolerance) in [(Shape::whole(16), 1_600, "1e-5"), (Shape::thinned(16, 4_000_000), 400, "0.02")] {
        let folder = tempfile::tempdir().unwrap();
        let (bytes, trip_s) = captured(shape, size);
        let (status, out, err) = record(folder.path(), &bytes, settings_file());
        assert_eq!((status, err.as_str()), (Some(0), ""), "{out}");
        assert!(out.contains("0.4000 s at 4000 Hz") && out.contains("to replay it: shaftwork replay"), "{out}");
        assert_eq!(out.contains("means of 4 samples"), shape.halvings > 0, "{out}");
        let (status, out, err) = replay(folder.path(), settings_file(), &format!("trip:jam@{trip_s:.6}+-{tolerance}"));
        assert_eq!((status, err.as_str()), (Some(0), ""), "{out}");
        assert!(out.contains("it goes on from what the board remembered at 0."), "{out}");
        assert!(!out.contains("other settings"), "{out}");
        // The trace begins 0.45 s before its trip: without what was remembered nothing is known of the half cycle.
        std::fs::remove_file(folder.path().join("jam.inf")).unwrap();
        let (_, out, _) = replay(folder.path(), settings_file(), "trip:jam");
        assert!(!out.contains("what the board remembered"), "{out}");
    }
}

#[test]
fn other_settings_show_what_they_would_have_done() {
    let folder = tempfile::tempdir().unwrap();
    let (bytes, _) = captured(Shape::whole(16), 1_600);
    let settings = std::fs::read_to_string(settings_file()).unwrap();
    let slower = folder.path().join("slower.toml");
    std::fs::write(&slower, settings.replacen("delay_s = 0.2", "delay_s = 5.0", 1)).unwrap();
    let (_, out, _) = record(folder.path(), &bytes, &slower);
    assert!(out.contains("the board had other settings than"), "{out}");
    let (status, out, _) = replay(folder.path(), &slower, "quiet");
    assert_eq!(status, Some(0), "{out}");
    assert!(out.contains("this is what these would have done from there on"), "{out}");
}

#[test]
fn what_is_no_capture_is_refused_with_its_cure() {
    let folder = tempfile::tempdir().unwrap();
    let (bytes, _) = captured(Shape::thinned(16, 4_000_000), 400);
    let mut changed = bytes.clone();
    changed[100] ^= 1;
    for (bytes, what) in [
        (&bytes[..bytes.len() - 7], "is cut, or was changed"),
        (&changed[..], "is cut, or was changed"),
        (b"station,device,2013\r\n", "does not start with SWCAPT02"),
    ] {
        let (status, out, err) = record(folder.path(), bytes, settings_file());
        assert_eq!((status, out.as_str()), (Some(1), ""), "{err}");
        assert!(
            err.contains("capture.bin") && err.contains(what) && err.contains("fetch it from the board once more"),
            "{err}"
        );
        assert_eq!(names(folder.path()).len(), 1, "nothing is left");
    }
    let mut wrong = shaftwork(&["capture", "a.bin", "--settings", "b.toml", "--out", "c.csv"]);
    wrong.current_dir(folder.path());
    let (status, _, err) = run(wrong);
    assert_eq!(status, Some(2), "{err}");
    assert!(err.contains("ends in .cfg"), "{err}");
}

#[test]
fn a_state_of_another_version_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let (bytes, _) = captured(Shape::whole(16), 1_600);
    assert_eq!(record(folder.path(), &bytes, settings_file()).0, Some(0));
    let inf = folder.path().join("jam.inf");
    let text = std::fs::read_to_string(&inf).unwrap();
    for (spoiled, why) in [
        (text.replacen("Version=SWCAPT", "Version=SWCAPT9", 1), "its state is that of another version"),
        (text.replacen("State_1=", "State_1=ff", 1), "its state was changed"),
        (text.replacen("State_1=", "State_1=zz", 1), "its state is no row of bytes"),
    ] {
        std::fs::write(&inf, spoiled).unwrap();
        let (_, out, _) = replay(folder.path(), settings_file(), "trip:jam");
        assert!(out.contains(why) && out.contains("as if nothing had been before it"), "{out}");
    }
    std::fs::write(&inf, "[Public Record_Information]\r\nSource=a relay\r\n").unwrap();
    let (_, out, _) = replay(folder.path(), settings_file(), "trip:jam");
    assert!(!out.contains("as if nothing"), "another maker's file is none of ours: {out}");
}

/// A state beside samples that are not its own: cut, changed, or not told which.
#[test]
fn a_state_of_other_samples_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let (bytes, _) = captured(Shape::whole(16), 1_600);
    assert_eq!(record(folder.path(), &bytes, settings_file()).0, Some(0));
    let [data, inf] = ["jam.dat", "jam.inf"].map(|name| folder.path().join(name));
    let (samples, text) = (std::fs::read(&data).unwrap(), std::fs::read_to_string(&inf).unwrap());
    let each = samples.len() / 1_600;
    let mut changed = samples.clone();
    changed[each * 700 + 10] ^= 1;
    let without = text.lines().filter(|line| !line.starts_with("Samples=")).collect::<Vec<_>>().join("\r\n");
    for (samples, text, found, wanted) in [
        (&samples[..each * 1_200], &text, "1200 frames in", "1600 frames in"),
        (&changed[..], &text, "they were changed, or are others", "1600 frames with the check sum"),
        (&samples[..], &without, "nothing says which samples", "Frames and Samples"),
    ] {
        std::fs::write(&data, samples).unwrap();
        std::fs::write(&inf, text).unwrap();
        let mut replay = shaftwork(&["replay", "--accept-short"]);
        replay.arg(folder.path().join("jam.cfg")).arg("--settings").arg(settings_file());
        let (status, _, err) = run(replay);
        assert_eq!(status, Some(1), "{err}");
        for part in ["jam.dat", found, wanted, "jam.inf belongs", "make the record anew", "jam.inf away"] {
            assert!(err.contains(part), "{part}: {err}");
        }
    }
}

/// A board is given frames and begins with nothing: bits of a replay that does not are no bits of its.
#[test]
fn bits_are_refused_where_a_board_s_memory_is_restored() {
    let folder = tempfile::tempdir().unwrap();
    let (bytes, _) = captured(Shape::whole(16), 1_600);
    assert_eq!(record(folder.path(), &bytes, settings_file()).0, Some(0));
    let with_bits = || {
        let mut replay = shaftwork(&["replay", "--bits"]);
        replay
            .arg(folder.path().join("bits"))
            .arg(folder.path().join("jam.cfg"))
            .arg("--settings")
            .arg(settings_file());
        run(replay)
    };
    let (status, _, err) = with_bits();
    assert_eq!(status, Some(1), "{err}");
    for part in ["jam.cfg", "what a board remembered", "begins with nothing", "leave --bits out", ".inf away"] {
        assert!(err.contains(part), "{part}: {err}");
    }
    assert!(!folder.path().join("bits").exists(), "nothing is left");
    std::fs::remove_file(folder.path().join("jam.inf")).unwrap();
    assert_eq!(with_bits().0, Some(0));
}
