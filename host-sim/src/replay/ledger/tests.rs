//! Runs of a whole replay: they are cut where they should be, and add up to the totals.

use std::path::Path;

use serde_json::Value;

use super::super::run;
use super::super::tests::{arguments, folder, json, trace};
use super::*;

/// A sine of 8.64 kW for six seconds, fed with 500 g/s, with lines added to its settings and notes at times.
fn prepare(settings: &str, notes: &[(f64, &str)]) -> tempfile::TempDir {
    let mut lines: Vec<String> = trace(6.0, Some(("feed_kg_s", 0.5))).lines().map(str::to_owned).collect();
    for (at, line) in lines.iter_mut().enumerate() {
        let said = notes.iter().find(|(t_s, _)| at == 1 + (t_s * 4_000.0) as usize).map(|(_, note)| *note);
        line.push_str(if at == 0 { ",note" } else { "," });
        line.push_str(said.unwrap_or_default());
    }
    let folder = folder(&(lines.join("\n") + "\n"));
    let path = folder.path().join("mill.toml");
    let file = std::fs::read_to_string(&path).unwrap().replace("[mill]\n", "[mill]\nidle_power_kw = 2\n");
    std::fs::write(&path, format!("{file}\n{settings}\n")).unwrap();
    folder
}

/// Replays it, with all outputs.
fn replay(settings: &str, notes: &[(f64, &str)]) -> Value {
    let folder = prepare(settings, notes);
    let args = crate::cli::Replay { out: Some(folder.path().join("out")), ..arguments(folder.path()) };
    run(&args).unwrap();
    let document = json(folder.path());
    same_in_csv(&folder.path().join("out/runs.csv"), &document);
    document
}

/// Every figure of the document stands in the table, under the same name.
fn same_in_csv(path: &Path, document: &Value) {
    let mut reader = csv::Reader::from_path(path).unwrap();
    let names = reader.headers().unwrap().clone();
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    let lists = ["runs", "by_batch", "by_material", "by_screen"];
    let mut wanted: Vec<&Value> = lists.iter().flat_map(|list| document[list].as_array().unwrap()).collect();
    wanted.push(&document["whole"]);
    assert_eq!(rows.len(), wanted.len());
    for (row, wanted) in rows.iter().zip(wanted) {
        for (name, cell) in names.iter().zip(row).filter(|(name, _)| *name != "table") {
            let value = wanted.get(name).unwrap_or(&Value::Null);
            let text =
                value.as_str().map_or_else(|| value.as_f64().map(|x| x.to_string()), |text| Some(text.to_owned()));
            assert_eq!(cell, text.unwrap_or_default(), "{name}: {wanted}");
        }
    }
}

fn near(json: &Value, want: f64, within: f64) {
    let got = json.as_f64().unwrap_or_else(|| panic!("{json} is no number"));
    assert!((got - want).abs() <= within, "{got}, {want} wanted");
}

/// What adds up.
const SUMS: [&str; 10] = [
    "time_s",
    "idle_s",
    "breaking_s",
    "electrical_kwh",
    "exported_kwh",
    "reactive_kvarh",
    "start_kwh",
    "shaft_kwh",
    "net_kwh",
    "mass_t",
];

/// The rows of `runs` add up to the totals, as does the row of the whole trace; times are told to the microsecond, all
/// else to nine digits.
fn adds_up(json: &Value) {
    for name in SUMS {
        let sum: f64 = json["runs"].as_array().unwrap().iter().filter_map(|row| row[name].as_f64()).sum();
        let total = if name == "time_s" { &json["trace"]["duration_s"] } else { &json["totals"][name] };
        let Some(total) = total.as_f64() else {
            assert!(name == "mass_t" && json["whole"][name].is_null(), "{name}");
            continue;
        };
        let within = if name.ends_with("_s") { 5e-6 } else { 1e-8 * total.abs() };
        near(&json["whole"][name], total, within);
        assert!((sum - total).abs() <= within, "{name}: {sum}, {total} wanted");
    }
}

/// A start, of which the core moves what it counted from one state to another when it ends: cut in its middle, where
/// it ends, and after it.
#[test]
fn a_start_adds_up() {
    let folder = tempfile::tempdir().unwrap();
    let traces = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/traces");
    let settings = std::fs::read_to_string(traces.join("start.toml")).unwrap();
    let first =
        crate::cli::Replay { traces: vec![traces.join("start.cfg").display().to_string()], ..arguments(folder.path()) };
    let with = |runs: &str| {
        std::fs::write(folder.path().join("mill.toml"), format!("{settings}\n{runs}")).unwrap();
        run(&first).unwrap();
        json(folder.path())
    };
    let events = with("")["events"].clone();
    let up = events.as_array().unwrap().iter().find(|row| row["event"] == "run_up").expect("it runs up");
    let up_s = up["t_s"].as_f64().unwrap();
    let half = 0.5 * up_s;
    let document = with(&format!("[[run]]\nfrom_s = {half}\nto_s = {up_s}\n[[run]]\nfrom_s = {}", up_s + 0.2));
    adds_up(&document);
    assert!(document["totals"]["start_kwh"].as_f64().unwrap() > 0.0);
}

/// By hand: of six seconds two in the first run, three in the second, one outside; half a kilogram a second; 8.64 kW.
#[test]
fn the_settings_cut_a_trace() {
    let text = "[[run]]\nfrom_s = 1\nto_s = 3\nmaterial = \"sheet\"\nscreen = \"25\"\n\
                [[run]]\nfrom_s = 3\nmaterial = \"sheet\"\nscreen = \"30\"\nbatch = \"B1\"";
    let json = replay(text, &[(2.0, "run: material=wire")]);
    adds_up(&json);
    let [first, second, outside] = json["runs"].as_array().unwrap().as_slice() else { panic!("{}", json["runs"]) };
    // Within half a cycle, and a block of eight frames.
    for (row, seconds) in [(first, 2.0), (second, 3.0), (outside, 1.0)] {
        near(&row["time_s"], seconds, 0.01);
        near(&row["electrical_kwh"], 8.635 * seconds / 3_600.0, 8.635 * 0.01 / 3_600.0);
        near(&row["mass_t"], 0.5e-3 * seconds, 0.5e-3 * 0.002);
    }
    assert_eq!(
        (&outside["run"], &outside["why"]["gross_kwh_per_t"]),
        (&"outside".into(), &"less than 1 kg fed".into())
    );
    let [sheet] = json["by_material"].as_array().unwrap().as_slice() else { panic!() };
    let sum = first["electrical_kwh"].as_f64().unwrap() + second["electrical_kwh"].as_f64().unwrap();
    let tonnes = first["mass_t"].as_f64().unwrap() + second["mass_t"].as_f64().unwrap();
    near(&sheet["gross_kwh_per_t"], sum / tonnes, 1e-6);
    assert_eq!(json["by_screen"].as_array().unwrap().len(), 2);
    assert_eq!(json["by_batch"][0]["batch"], "B1");
    assert!(json["warnings"].to_string().contains("notes that name them do not count"));
}

#[test]
fn notes_cut_a_trace() {
    let notes = [(1.0, "run: material=sheet"), (2.0, "a lump"), (3.0, "run: mass_kg=2"), (5.0, "run end")];
    let json = replay("", &notes);
    let [first, second, outside] = json["runs"].as_array().unwrap().as_slice() else { panic!("{}", json["runs"]) };
    for (row, from_s, to_s) in [(first, 1.0, 3.0), (second, 3.0, 5.0)] {
        near(&row["from_s"], from_s, 1e-6);
        near(&row["to_s"], to_s, 1e-6);
        near(&row["time_s"], to_s - from_s, 0.01);
    }
    near(&outside["time_s"], 2.0, 0.02);
    // Its own mass goes before the column's.
    near(&second["mass_t"], 0.002, 1e-9);
    assert!(outside["mass_t"].is_null() && outside["why"]["mass_t"].as_str().unwrap().contains("of their own"));
    assert_eq!(json["marks"].as_array().unwrap().len(), 4);
}

/// Mass from batches: the whole is the sum of the runs.
#[test]
fn batches_are_the_mass() {
    let text = "[mass]\nsource = \"batch\"\n[[run]]\nto_s = 3\nmass_kg = 2\n[[run]]\nfrom_s = 3\nmass_kg = 4";
    let json = replay(text, &[]);
    adds_up(&json);
    near(&json["totals"]["mass_t"], 0.006, 1e-9);
    near(&json["whole"]["gross_kwh_per_t"], json["totals"]["electrical_kwh"].as_f64().unwrap() / 0.006, 1e-6);
}

/// Without runs: no row but that of the whole trace, which is that of the totals; its bands are the model's, and the
/// field's with what the settings say. By hand: 0.2 % of the converter, 1 % of scale and transformers, all rectangular.
#[test]
fn the_whole_trace_has_its_bands() {
    let json = replay("", &[]);
    assert_eq!(json["runs"].as_array().unwrap().len(), 0);
    for name in ["gross_kwh_per_t", "net_kwh_per_t"] {
        near(&json["whole"][name], json["totals"][name].as_f64().unwrap(), 1e-4);
    }
    assert_eq!(json["whole"]["why"]["gross_band_kwh_per_t"], "the settings have no [accuracy] table");
    let gross = json["whole"]["gross_kwh_per_t"].as_f64().unwrap();
    near(&json["whole"]["gross_model_band_kwh_per_t"], 2.0 * 0.0003 / 3f64.sqrt() * gross, 1e-6);

    let text = "[accuracy]\ncurrent_transformer_ratio_pct = 1\ncurrent_transformer_phase_min = 0\nscale_class = \"1\"\n\
                idle_repeatability_kw = 0.1";
    let json = replay(text, &[]);
    let u = ((1.0_f64 + 1.0 + 0.2 * 0.2) / 3.0).sqrt() / 100.0;
    near(&json["whole"]["gross_field_band_kwh_per_t"], 2.0 * u * gross, 1e-5);
    assert!(json["whole"]["net_band_kwh_per_t"].as_f64().unwrap() > 0.0);
    let terms = json["uncertainty"]["field"].as_array().unwrap();
    assert_eq!(terms.len(), 5, "{terms:?}");
    assert_eq!(json["uncertainty"]["assumed"].as_array().unwrap().len(), 3);
}

#[test]
fn what_cannot_be_a_run_is_told() {
    for (settings, notes, parts) in [
        ("[[run]]\nfrom_s = 6.5", &[][..], ["key run[1].from_s: 6.5 s, but", "ends at 6.000 s"]),
        ("[[run]]\nto_s = 6.02", &[], ["key run[1].to_s: 6.02 s, but", "line "]),
        ("", &[(1.0, "run end")], ["note at 1.000 s: a run ends, but none has begun", "[[run]]"]),
        ("", &[(1.0, "run: mass_kg=x")], ["note at 1.000 s: mass_kg=x", "a number, above 0"]),
    ] {
        // Without outputs: those of tests beside this one would be taken for unfinished ones of this replay.
        let folder = prepare(settings, notes);
        let args = crate::cli::Replay { json: None, ..arguments(folder.path()) };
        let error = format!("{:#}", run(&args).unwrap_err());
        assert!(parts.iter().all(|part| error.contains(part)), "{error}");
    }
    // Half a cycle too long is typed, not meant.
    replay("[[run]]\nto_s = 6.009", &[]);
}

/// A colon left out is a slip that would give a run's mass to the one before.
#[test]
fn a_note_that_is_all_but_a_run_is_told() {
    let (mut settings, _) = crate::settings::parse(&crate::settings::testing::good(), "a.toml").unwrap();
    settings.runs.clear();
    let mut ledger = Ledger::new(&settings, "a.csv", 4_000.0);
    for note in ["run: material=iron", "run material=copper", "lump", "run 3"] {
        ledger.mark(Instant(8_000 << 16), note).unwrap();
    }
    let words = ledger.warnings();
    assert!(words.len() == 1 && ledger.runs.len() == 1, "{words:?}");
    for part in ["2 notes begin", "at 2.000 s, is \"run material=copper\"", "run: with a colon"] {
        assert!(words[0].contains(part), "{words:?}");
    }
}

/// A gap of a second from the second second on, cut by a run that begins in it.
#[test]
fn a_gap_is_unknown_time_of_the_runs_that_it_covers() {
    let (mut settings, _) = crate::settings::parse(&crate::settings::testing::good(), "a.toml").unwrap();
    settings.runs = vec![crate::settings::Run { from_s: 2.25, ..crate::settings::Run::default() }];
    let mut ledger = Ledger::new(&settings, "a.csv", 4_000.0);
    ledger.passes(Span(8_000 << 16), None);
    ledger.gap(Span(4_000 << 16));
    assert!((ledger.outside.time_s(State::Unknown) - 0.25).abs() < 1e-9);
    assert!((ledger.runs[0].sums.time_s(State::Unknown) - 0.75).abs() < 1e-9);
}
