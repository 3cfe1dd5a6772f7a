//! A study of trips on the command line: small folders of the plant model's traces.

use super::*;
use shaftwork_sim::synth::jams::{ALL, make};

/// Two jams and two honest traces at 2 kHz, with settings, verdicts and a vary file.
struct Folder(tempfile::TempDir);

impl Folder {
    fn new(vary: &str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let some: Vec<_> = ALL
            .into_iter()
            .filter(|(name, ..)| ["jam-01", "jam-10", "work-02", "work-06"].iter().any(|n| name.starts_with(n)))
            .collect();
        assert_eq!(some.len(), 4);
        make(&folder.path().join("jams"), &some, 2_000.0, None).unwrap();
        std::fs::write(folder.path().join("vary.toml"), vary).unwrap();
        Self(folder)
    }

    fn at(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn study(&self, words: &[&str]) -> Command {
        let mut command = shaftwork(&["trip-study"]);
        command.arg(self.at("jams")).arg("--settings").arg(self.at("jams/settings.toml"));
        command.arg("--vary").arg(self.at("vary.toml")).args(words);
        command
    }

    fn write(&self, name: &str, text: &str) {
        std::fs::write(self.at(name), text).unwrap();
    }
}

const VARY: &str = "[trip.jam]\npickup_pct = [180, 250]\ndelay_s = [0.1, 0.4]\n[trip.wedge]\npickup_pct = { from = 200, to = 300, step = 50 }\n";
const FILES: [&str; 3] = ["study.html", "settings.csv", "decisions.csv"];

/// One thread or two, with records that were kept or without: every byte is the same.
#[test]
fn the_result_is_the_same_whatever_the_number_of_threads() {
    let folder = Folder::new(VARY);
    let run_with = |threads: &str, out: &str| {
        let mut command = folder.study(&["--json", "-", "--out"]);
        command.arg(folder.at(out)).env("RAYON_NUM_THREADS", threads);
        let (status, text, err) = run(command);
        assert_eq!((status, err.as_str()), (Some(0), ""));
        let files = FILES.map(|name| std::fs::read(folder.at(out).join(name)).unwrap());
        (text, files)
    };
    let one = run_with("1", "one");
    let document: serde_json::Value = serde_json::from_str(&one.0).unwrap();
    assert_eq!(document["compared"].as_array().unwrap().len(), 12);
    assert_eq!(document["recommended"]["parts"]["shown_on"]["caught"], 1, "{}", one.0);
    assert_eq!(document["recommended"]["parts"]["shown_on"]["false"], 0);
    assert_eq!(one, run_with("2", "two"));
    assert_eq!(one, run_with("2", "one"), "with what was kept");
    // Without a network, and with every trace.
    let page = String::from_utf8(one.1[0].clone()).unwrap();
    assert!(
        !page.contains("http:")
            && !page.contains("https:")
            && !page.contains("src=")
            && page.contains("jam-10-sudden.cfg")
    );
    let rows = String::from_utf8(one.1[2].clone()).unwrap();
    assert_eq!(rows.lines().count(), 1 + 4 * 13, "each trace under each setting and as it is set");
}

/// What was kept is used, and what was broken is made anew.
#[test]
fn records_are_kept_and_a_broken_one_is_rebuilt() {
    let folder = Folder::new(VARY);
    let study = || {
        let mut command = folder.study(&["--out"]);
        command.arg(folder.at("out"));
        assert_eq!(run(command).0, Some(0));
        std::fs::read(folder.at("out/settings.csv")).unwrap()
    };
    let first = study();
    let kept = names(&folder.at("out/records"));
    assert_eq!(kept.len(), 4);
    let whole = std::fs::read(&kept[0]).unwrap();
    let stamps = || kept.iter().map(|path| path.metadata().unwrap().modified().unwrap()).collect::<Vec<_>>();
    let before = stamps();
    assert_eq!((study(), stamps()), (first.clone(), before.clone()), "nothing is metered twice");
    std::fs::write(&kept[0], &whole[..whole.len() / 2]).unwrap();
    assert_eq!(study(), first);
    assert_eq!(std::fs::read(&kept[0]).unwrap(), whole);
    assert_eq!(stamps()[1..], before[1..], "the others stayed");
}

/// The table for people: what it is worth first, in lines that fit.
#[test]
fn the_table_has_what_it_is_worth_first() {
    let folder = Folder::new(VARY);
    let (status, out, err) = run(folder.study(&[]));
    assert_eq!((status, err.as_str()), (Some(0), ""));
    assert!(out.starts_with("catches the new jam, no false trip: trip.jam.pickup_pct = "), "{out}");
    assert!(out.is_ascii() && out.lines().all(|line| line.len() <= 80), "{out}");
    for part in ["chosen on", "shown on", "as set", "What no other of 12 settings beats"] {
        assert!(out.contains(part), "{part}: {out}");
    }
    // False trips are of all traces: before a jam there may be one as well.
    let shown: Vec<&str> = out.lines().find(|line| line.starts_with("shown on")).unwrap().split_whitespace().collect();
    assert_eq!(shown[2..6], ["1/1", "0", "0", "0/2"], "{out}");
    let (_, csv, _) = run(folder.study(&["--csv", "-"]));
    assert!(
        csv.starts_with("setting,trip.jam.pickup_pct,trip.jam.delay_s,trip.wedge.pickup_pct,front,chosen_on_jams"),
        "{csv}"
    );
    assert_eq!(csv.lines().count(), 1 + 12 + 1);
}

/// Each with its place, cause and cure.
#[test]
fn what_is_wrong_is_told_with_its_cure() {
    let folder = Folder::new(VARY);
    let verdicts = std::fs::read_to_string(folder.at("jams/verdicts.toml")).unwrap();
    let fails = |what: &str, status: i32, parts: &[&str]| {
        let (found, out, err) = run(folder.study(&[]));
        assert_eq!((found, out.as_str()), (Some(status), ""), "{what}: {err}");
        assert!(parts.iter().all(|part| err.contains(part)), "{what}: {err}");
    };
    folder.write("jams/verdicts.toml", &verdicts.replace("jam at 6 s", "jam at 60 s"));
    fails("a jam beyond the end", 1, &["jam-01-hard.cfg", "ends at 10", "first row"]);
    folder.write("jams/verdicts.toml", &verdicts.replace("honest", "fine"));
    fails("no verdict", 1, &["verdicts.toml, line", "\"fine\"", "jam at 25.4 s"]);
    folder.write("jams/verdicts.toml", &verdicts.replace("jam-01-hard", "jam-01-hart"));
    fails("no trace", 1, &["there is no such trace", "did you mean jam-01-hard.cfg?"]);
    folder.write("jams/verdicts.toml", &verdicts.replace("jam at 6 s", "honest").replace("jam at 4 s", "honest"));
    fails("no jam", 1, &["no trace of it holds a jam", "to mend it"]);
    folder.write("jams/verdicts.toml", "");
    fails("none at all", 1, &["no trace of it has a verdict"]);
    folder.write("jams/verdicts.toml", &verdicts);
    folder.write("vary.toml", "[trip.jam]\npickup = [200]\n");
    fails("a key", 1, &["vary.toml, line 2, key trip.jam.pickup", "did you mean trip.jam.pickup_pct?"]);
    folder.write("vary.toml", "[trip.jam]\npickup_pct = [200, 20000]\n");
    fails("a range", 1, &["vary.toml, line 2, key trip.jam.pickup_pct: 20000", "wanted: "]);
    folder.write("vary.toml", "[sampling]\nbits = [14, 16]\n");
    fails("another metering", 1, &["how the trace is measured"]);
    folder.write(
        "vary.toml",
        "[trip.jam]\ndelay_s = { from = 0, to = 1, step = 0.002 }\npickup_pct = { from = 150, to = 250, step = 1 }\n",
    );
    fails("too many", 1, &["50601 settings", "10000 at most", "larger steps"]);
}

#[test]
fn usage_and_paths() {
    let folder = Folder::new(VARY);
    for (words, status, part) in [
        (&["--json", "-", "--csv", "-"][..], 2, "cannot both go to standard output"),
        (&["--allowed-s=-1"], 2, "0 to 3600"),
        (&["--margin-pct", "101"], 2, "a share in %"),
    ] {
        let (found, out, err) = run(folder.study(words));
        assert_eq!((found, out.as_str()), (Some(status), ""), "{words:?}: {err}");
        assert!(err.contains(part), "{words:?}: {err}");
    }
    let mut among = folder.study(&["--out"]);
    among.arg(folder.at("jams/../jams"));
    let (status, _, err) = run(among);
    assert_eq!(status, Some(2));
    assert!(err.contains("--out is the folder of the traces"), "{err}");
    let mut over = folder.study(&["--json"]);
    over.arg(folder.at("vary.toml"));
    let (status, _, err) = run(over);
    assert_eq!(status, Some(2));
    assert!(err.contains("is an input, and --json would write over it"), "{err}");
    let (status, _, err) = run(shaftwork(&["trip-study", "nowhere", "--vary", "v.toml", "--settings", "s.toml"]));
    assert_eq!(status, Some(1));
    assert!(err.contains("there is no such folder"), "{err}");
}

/// A trace that no verdict tells of is left out, and told.
#[test]
fn a_trace_without_a_verdict_is_left_out() {
    let folder = Folder::new(VARY);
    let verdicts = std::fs::read_to_string(folder.at("jams/verdicts.toml")).unwrap();
    let some: Vec<&str> = verdicts.lines().filter(|line| !line.contains("work-02")).collect();
    folder.write("jams/verdicts.toml", &some.join("\n"));
    let (status, out, _) = run(folder.study(&[]));
    assert_eq!(status, Some(0));
    assert!(out.contains("1 trace left out, which no verdict tells of: work-02-heavy-lump.cfg"), "{out}");
    // The other honest one served to choose: nothing is shown on it.
    assert!(out.starts_with("catches the new jam, no honest trace to show it on: trip."), "{out}");
    assert!(out.contains("one honest trace alone, on which the setting was chosen"), "{out}");
}

/// A signal ends it: what is unfinished goes, what was metered stays for the next time.
#[cfg(unix)]
#[test]
fn a_signal_leaves_whole_records_alone() {
    let vary =
        "[trip.jam]\npickup_pct = { from = 150, to = 249, step = 1 }\ndelay_s = { from = 0.01, to = 1, step = 0.01 }\n";
    let folder = Folder::new(vary);
    let mut command = folder.study(&["--out"]);
    command.arg(folder.at("out"));
    let mut child = Running(command.spawn().unwrap());
    let begun = std::time::Instant::now();
    let kept =
        || names(folder.0.path()).into_iter().filter(|path| path.extension().is_some_and(|e| e == "bin")).count();
    while kept() == 0 {
        assert!(begun.elapsed().as_secs() < 60 && child.0.try_wait().unwrap().is_none(), "nothing was kept");
        std::thread::sleep(std::time::Duration::from_millis(2));
    }
    let line = format!("kill -TERM {}", child.0.id());
    assert!(Command::new("sh").arg("-c").arg(line).status().unwrap().success());
    assert_eq!(child.0.wait().unwrap().code(), Some(130));
    let left = names(&folder.at("out"));
    assert!(
        left.iter().all(|path| path.ends_with("records") || path.extension().is_some_and(|e| e == "bin")),
        "{left:?}"
    );
}

/// Of what a board captured each setting is judged from what the board remembered on: as a replay of it does, to the microsecond.
#[test]
fn a_capture_goes_on_from_what_the_board_remembered() {
    let folder = tempfile::tempdir().unwrap();
    let (bytes, trip_s) = capture::captured(shaftwork_core::recorder::Shape::whole(16), 1_600);
    let traces = folder.path().join("jams");
    std::fs::create_dir(&traces).unwrap();
    assert_eq!(capture::record(&traces, &bytes, capture::settings_file()).0, Some(0));
    let settings = std::fs::read_to_string(capture::settings_file()).unwrap();
    let delay =
        settings.lines().skip_while(|line| *line != "[trip.jam]").find(|line| line.starts_with("delay_s")).unwrap();
    std::fs::write(traces.join("verdicts.toml"), "jam = \"jam at 0.1 s\"\n").unwrap();
    std::fs::write(folder.path().join("vary.toml"), "[trip.jam]\ndelay_s = [0.05, 0.1, 0.15, 0.17]\n").unwrap();
    let mut study = shaftwork(&["trip-study"]);
    study
        .arg(&traces)
        .arg("--settings")
        .arg(capture::settings_file())
        .arg("--vary")
        .arg(folder.path().join("vary.toml"));
    study.arg("--out").arg(folder.path().join("out"));
    let (status, out, err) = run(study);
    assert_eq!((status, err.as_str()), (Some(0), ""));
    assert!(out.contains("judged from what the board remembered on"), "{out}");

    let rows = std::fs::read_to_string(folder.path().join("out/decisions.csv")).unwrap();
    let trips: Vec<&str> = rows.lines().skip(1).map(|row| row.split(',').nth(5).unwrap()).collect();
    assert_eq!(trips.len(), 5);
    assert!((trips[4].parse::<f64>().unwrap() - trip_s).abs() < 1e-5, "as the board did: {trips:?}, {trip_s}");
    for (value, trip) in ["0.05", "0.1", "0.15", "0.17"].into_iter().zip(&trips) {
        let own = folder.path().join("own.toml");
        std::fs::write(&own, settings.replacen(delay, &format!("delay_s = {value}"), 1)).unwrap();
        let mut replay = shaftwork(&["replay", "--json", "-"]);
        replay.arg(traces.join("jam.cfg")).arg("--settings").arg(&own);
        let (_, json, _) = run(replay);
        let document: serde_json::Value = serde_json::from_str(&json).unwrap();
        let events = document["events"].as_array().unwrap();
        let told = events
            .iter()
            .find(|event| event["event"] == "trip")
            .map_or(String::new(), |event| event["t_s"].to_string());
        assert_eq!(told, *trip, "delay_s = {value}");
    }
}

/// What catches nothing is not recommended, and what is set now may be better than all that was compared.
#[test]
fn nothing_that_catches_no_jam_is_recommended() {
    let folder = Folder::new("[trip.jam]\nenabled = [false]\n[trip.wedge]\nenabled = [false]\n");
    let (status, text, _) = run(folder.study(&["--json", "-"]));
    assert_eq!(status, Some(0));
    let document: serde_json::Value = serde_json::from_str(&text).unwrap();
    assert!(document["recommended"].is_null() && document["traces"][0]["recommended"].is_null(), "{text}");
    assert!(document["why"]["recommended"].as_str().unwrap().contains("none caught one"), "{text}");
    let notes = document["notes"].to_string();
    assert!(notes.contains("as they are set now make fewer mistakes"), "{notes}");
    let (_, text, _) = run(folder.study(&[]));
    assert!(text.contains("none to recommend: no setting catches a jam"), "{text}");
}

/// A trace that ends before a trip would be too late tells less than it seems to.
#[test]
fn a_trace_that_ends_too_soon_is_told() {
    let folder = Folder::new(VARY);
    let (_, text, _) = run(folder.study(&["--allowed-s", "60", "--json", "-"]));
    assert!(text.contains("ends 4.00 s after the jam, before the 60 s in which a trip counts"), "{text}");
}

/// A table among the traces would be one of them the next time.
#[test]
fn a_table_among_the_traces_is_refused() {
    let folder = Folder::new(VARY);
    let table = folder.at("jams/settings.csv");
    let mut command = folder.study(&["--csv"]);
    command.arg(&table);
    let (status, _, err) = run(command);
    assert_eq!(status, Some(2));
    assert!(err.contains("--csv is in the folder of the traces") && !table.exists(), "{err}");
}
