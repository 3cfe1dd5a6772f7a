//! Closing shifts, on the command line: figures that add up, faults with their cures, the same whatever the number of threads.

use super::*;
use std::fmt::Write as _;

pub(crate) const SITE: &str = r#"[site]
name = "Quillbrook Yard"
zone = "Europe/Berlin"
[[shift]]
name = "early"
start = "06:00"
end = "14:00"
[[shift]]
name = "night"
start = "22:00"
end = "06:00"
[motor]
rated_kw = 55
start_kwh = 0.5
starts_per_hour = 4
[meter]
error_pct = 1
[mass]
error_pct = 1
[tariff]
currency = "EUR"
per_kwh = 0.25
[baseline]
idle_kw = 14
kwh_per_t = 12
"#;

/// Minutes from a time of UTC on: a quarter of each hour idle at 14 kW, the rest breaking at 50 kW.
pub(crate) fn log(from: &str, minutes: i64) -> String {
    let from: jiff::Timestamp = from.parse().unwrap();
    let mut text = "time,active_w,reactive_var,state,load_pct\n".to_owned();
    for minute in 0..minutes {
        let end = from + jiff::SignedDuration::from_mins(minute + 1);
        let row = if minute % 60 < 15 { "14000,26000,idle,20" } else { "50000,30000,breaking,80" };
        let _ = writeln!(text, "{end},{row}");
    }
    text
}

pub(crate) const TICKETS: &str = "ticket,time,kg,who,entered,corrects,why\n\
    T1,2026-10-24T09:00,9000,Wren,,,\n\
    T2,2026-10-24T23:30,10000,Wren,2026-10-26T08:00,,found in the drawer\n\
    ,,9100,Finch,,T1,tare was forgotten\n";

/// A folder with a site, two days of logs in a folder of their own and tickets.
pub(crate) fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, text: &str| std::fs::write(folder.path().join(name), text).unwrap();
    std::fs::create_dir(folder.path().join("logs")).unwrap();
    write("site.toml", SITE);
    // From 06:00 to 06:00 in legal time: 25 hours, for the clocks go back.
    write("logs/a.csv", &log("2026-10-24T04:00:00Z", 12 * 60));
    write("logs/b.csv", &log("2026-10-24T16:00:00Z", 13 * 60));
    write("tickets.csv", TICKETS);
    folder
}

pub(crate) fn shift(folder: &Path, more: &[&str]) -> Command {
    let mut command = shaftwork(&["shift", "logs", "--site", "site.toml", "--tickets", "tickets.csv"]);
    command.args(more).current_dir(folder);
    command
}

pub(crate) fn document(folder: &Path, more: &[&str]) -> serde_json::Value {
    let (status, out, err) = run(shift(folder, &[&["--json", "-"], more].concat()));
    assert_eq!((status, err.as_str()), (Some(0), ""));
    serde_json::from_str(&out).unwrap()
}

pub(crate) fn near(value: &serde_json::Value, wanted: f64) {
    let found = value.as_f64().unwrap_or_else(|| panic!("{value}, {wanted} wanted"));
    assert!((found - wanted).abs() < 1e-6 * wanted.abs().max(1.0), "{found}, {wanted} wanted");
}

/// By hand: an hour is 3.5 kWh idle and 37.5 breaking. The night has nine hours.
#[test]
fn a_day_adds_up() {
    let folder = folder();
    let found = document(folder.path(), &[]);
    let [early, night] = [&found["shifts"][0], &found["shifts"][1]];
    for (row, hours) in [(early, 8.0), (night, 9.0), (&found["outside"], 8.0), (&found["whole"], 25.0)] {
        near(&row["elapsed_h"], hours);
        near(&row["kwh"], 41.0 * hours);
        near(&row["idle_h"], 0.25 * hours);
        near(&row["breaking_h"], 0.75 * hours);
        near(&row["missing_h"], 0.0);
        near(&row["energy_cost"], 0.25 * 41.0 * hours);
        near(&row["idle_cost"], 0.25 * 3.5 * hours);
    }
    assert_eq!(night["to"], "2026-10-25 06:00 +01:00");
    // 9.1 t as put right: 328 kWh, 104 to 112 by the baseline.
    near(&early["gross_kwh_per_t"], 328.0 / 9.1);
    near(&early["expected_kwh"], 14.0 * 8.0 + 12.0 * 9.1);
    near(&early["net_kwh"], 328.0 - 14.0 * 8.0);
    // Energies: 41 kWh and 29 kvarh an hour.
    near(&early["power_factor"], 41.0 / 41f64.hypot(29.0));
    near(&early["demand_block_kw"], 50.0);
    assert_eq!(
        (&found["late_tickets"][0]["who"], &found["corrections"][0]["why"]),
        (&"Wren".into(), &"tare was forgotten".into())
    );
    near(&found["corrections"][0]["from_kg"], 9_000.0);
    let learnt =
        |found: &serde_json::Value| found["notes"].to_string().contains("set motor.idle_kw to keep net figures");
    assert!(learnt(&found));
    std::fs::write(folder.path().join("site.toml"), SITE.replace("rated_kw = 55", "rated_kw = 55\nidle_kw = 14"))
        .unwrap();
    assert!(!learnt(&document(folder.path(), &[])));
    // A start is worth 2.1 min of idling, four an hour allow 15.
    near(&found["idle"]["stop_after_min"], 15.0);
}

/// Weeks that were closed one by one come to what both come to at once, where shifts leave nights and days out; and so do single days, one
/// without a shift among them.
#[test]
fn closed_weeks_tile() {
    let folder = folder();
    let days = "days = [\"mon\", \"tue\", \"wed\", \"fri\", \"sat\", \"sun\"]\n[motor]";
    let site = SITE
        .replace("start = \"22:00\"\nend = \"06:00\"\n[motor]", &format!("start = \"20:00\"\nend = \"02:00\"\n{days}"));
    let site = site.replace("end = \"14:00\"\n", "end = \"14:00\"\ndays = [\"mon\", \"tue\", \"sat\"]\n");
    std::fs::write(folder.path().join("site.toml"), site).unwrap();
    // Two weeks of legal time from Monday 00:00 on, and an hour at both ends.
    std::fs::remove_dir_all(folder.path().join("logs")).unwrap();
    std::fs::create_dir(folder.path().join("logs")).unwrap();
    std::fs::write(folder.path().join("logs/a.csv"), log("2026-06-07T21:00:00Z", 14 * 1_440 + 300)).unwrap();
    let whole = |from: &str, to: &str| document(folder.path(), &["--from", from, "--to", to])["whole"].clone();
    let both = whole("2026-06-08", "2026-06-21");
    let weeks = [whole("2026-06-08", "2026-06-14"), whole("2026-06-15", "2026-06-21")];
    let days: Vec<_> = (8..22).map(|day| format!("2026-06-{day:02}")).map(|day| whole(&day, &day)).collect();
    for parts in [&weeks[..], &days] {
        for key in ["kwh", "elapsed_h", "idle_kwh", "energy_cost"] {
            near(&both[key], parts.iter().map(|part| part[key].as_f64().unwrap()).sum());
        }
        assert!(parts.windows(2).all(|pair| pair[0]["to"] == pair[1]["from"]));
    }
    // The night of Sunday ends at 02:00; Thursday has no shift. By hand: 41 kWh an hour.
    assert_eq!(
        (&weeks[0]["from"], &weeks[0]["to"]),
        (&"2026-06-08 02:00 +02:00".into(), &"2026-06-15 02:00 +02:00".into())
    );
    near(&weeks[0]["kwh"], 41.0 * 168.0);
    near(&days[3]["elapsed_h"], 22.0);
}

/// The baseline is learnt from its days in all logs, whatever week is shown: by hand a shift takes 14 kW for 8 h and 12 kWh a tonne.
#[test]
fn a_baseline_of_days_that_are_not_shown() {
    let folder = folder();
    let baseline =
        |to: &str| SITE.replace("idle_kw = 14\nkwh_per_t = 12", &format!("from = \"2026-06-01\"\nto = \"{to}\""));
    std::fs::write(folder.path().join("site.toml"), baseline("2026-06-14")).unwrap();
    let (mut logs, mut tickets) = (String::new(), "time,kg,who\n".to_owned());
    for day in 1..=21 {
        let t = 10 + day % 5;
        // A quarter of the time idle at 14 kW; what is broken takes the rest, give or take a little.
        let watts = 14_000 + 2_000 * t + if day % 2 == 0 { 50 } else { -50 };
        let text = log(&format!("2026-06-{day:02}T04:00:00Z"), 480).replace("50000,", &format!("{watts},"));
        logs += if day == 1 { &text } else { text.split_once('\n').unwrap().1 };
        let _ = writeln!(tickets, "2026-06-{day:02}T09:00,{},Wren", 1_000 * t);
    }
    std::fs::remove_file(folder.path().join("logs/b.csv")).unwrap();
    std::fs::write(folder.path().join("logs/a.csv"), logs).unwrap();
    std::fs::write(folder.path().join("tickets.csv"), tickets).unwrap();
    let week = ["--from", "2026-06-15", "--to", "2026-06-21"];
    let found = document(folder.path(), &week);
    let line = &found["baseline"];
    let slope = line["kwh_per_t"][0]["kwh_per_t"].as_f64().unwrap();
    assert!((slope - 12.0).abs() < 0.1 && line["shifts"] == 14, "{line}");
    assert_eq!(&document(folder.path(), &[])["baseline"]["kwh_per_t"], &line["kwh_per_t"]);
    let expected = found["shifts"][0]["expected_kwh"].as_f64().unwrap();
    assert!((expected - (112.0 + 120.0)).abs() < 1.0, "{expected}");
    // Days that the logs do not have.
    std::fs::write(folder.path().join("site.toml"), baseline("2026-06-05")).unwrap();
    let found = document(folder.path(), &week);
    let words = found["no_baseline"].as_str().unwrap();
    assert!(
        words.contains("have 5 shifts") && words.contains("or [baseline] idle_kw and kwh_per_t as given"),
        "{words}"
    );
}

/// Tonnes that nothing tells are not known rather than none, and it is told why.
#[test]
fn tonnes_that_nothing_tells() {
    let folder = folder();
    let noted = |source: &str, more: &[&str], words: &str| {
        std::fs::write(folder.path().join("site.toml"), SITE.replace("[mass]", &format!("[mass]\n{source}"))).unwrap();
        let mut command = shaftwork(&["shift", "logs", "--site", "site.toml", "--json", "-"]);
        let (status, out, err) = run({
            command.args(more).current_dir(folder.path());
            command
        });
        assert_eq!(status, Some(0), "{err}");
        let found: serde_json::Value = serde_json::from_str(&out).unwrap();
        let notes = found["notes"].as_array().unwrap().iter().filter(|note| note.as_str().unwrap().contains(words));
        assert_eq!(notes.count(), 1, "{words}: {}", found["notes"]);
        found["whole"].clone()
    };
    let tickets = ["--tickets", "tickets.csv"];
    let whole = noted("", &[], "no tickets given");
    assert_eq!(
        (&whole["t"], &whole["t_band"], &whole["why"]["t"]),
        (&().into(), &().into(), &"no tickets given".into())
    );
    assert_eq!(whole["why"]["gross_kwh_per_t"], "no tickets given");
    noted("source = \"log\"", &tickets, "no log has a column mass_kg");
    let text = std::fs::read_to_string(folder.path().join("logs/a.csv")).unwrap();
    let mut fed = String::new();
    for line in text.lines() {
        let _ = writeln!(fed, "{line},{}", if line.starts_with("time") { "mass_kg" } else { "5" });
    }
    std::fs::write(folder.path().join("logs/a.csv"), fed).unwrap();
    noted("source = \"log\"", &tickets, "mass.source is \"log\"");
    noted("source = \"none\"", &tickets, "mass.source is \"none\"");
    std::fs::write(folder.path().join("tickets.csv"), "time,kg,who\n2026-09-01T09:00,900,Wren\n").unwrap();
    noted("", &tickets, "no ticket falls into the period");
}

/// What nothing tells is null with its reason, not 0: a day without rows, time without its column, blocks of no shift.
#[test]
fn what_is_not_known_is_not_none() {
    let folder = folder();
    let found = document(folder.path(), &["--to", "2026-10-26"]);
    let [first, dark] = [&found["shifts"][0], &found["shifts"][4]];
    assert_eq!(dark["date"], "2026-10-26");
    near(&dark["unknown_h"], 8.0);
    near(&first["demand_unknown_blocks"], 0.0);
    near(&dark["demand_unknown_blocks"], 32.0);
    near(&first["starts"], 0.0);
    for (row, key, why) in [
        (dark, "starts", "no row tells of this time"),
        (first, "feed_stopped_h", "not every log has feed_stopped_s"),
        (&found["whole"], "demand_unknown_blocks", "for shifts and by month"),
        (&found["outside"], "demand_unknown_blocks", "for shifts and by month"),
    ] {
        assert!(row[key].is_null() && row["why"][key].as_str().unwrap().contains(why), "{key}: {}", row["why"]);
    }
}

/// A period that reaches past the logs says so, and a month of which it has a part.
#[test]
fn a_period_past_the_logs() {
    let folder = folder();
    let found = document(folder.path(), &["--from", "2026-10-01", "--to", "2026-10-31"]);
    let notes = found["notes"].to_string();
    assert!(notes.contains("logs begin on 2026-10-24 06:00 +02:00: 46 shifts before that have no rows"), "{notes}");
    assert!(notes.contains("logs end on 2026-10-25 06:00 +01:00: 14 shifts after that have no rows"), "{notes}");
    // October has 745 hours, the first six of them in a night that began in September.
    let month = &found["months"][0];
    near(&month["days"], 31.0 * 739.0 / 745.0);
    near(&month["days_in_month"], 31.0);
    let (_, out, _) = run(shift(folder.path(), &[]));
    let out = out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(out.contains("of 1.04 of 31 days alone"), "{out}");
}

/// Each long gap of the period has a line of its own, and energy a tonne that may be anything is not told.
#[test]
fn long_gaps_and_vague_figures() {
    let folder = folder();
    std::fs::write(folder.path().join("logs/c.csv"), log("2026-10-25T07:30:00Z", 60)).unwrap();
    std::fs::write(folder.path().join("logs/d.csv"), log("2026-10-25T09:00:00Z", 60)).unwrap();
    let gaps = |found: &serde_json::Value| {
        let notes = found["notes"].as_array().unwrap().iter();
        notes
            .map(|note| note.as_str().unwrap().to_owned())
            .filter(|note| note.starts_with("no rows for"))
            .collect::<Vec<_>>()
    };
    let wanted = "no rows for 2.5 h, 2026-10-25 06:00 +01:00 to 2026-10-25 08:30 +01:00: its energy is missing";
    assert_eq!(gaps(&document(folder.path(), &[])), [wanted]);
    assert!(gaps(&document(folder.path(), &["--to", "2026-10-24"])).is_empty());
    // By hand: 0.9 t on a scale of e = 500 kg, weighed twice, are +- 0.82 t with k = 2.
    std::fs::write(folder.path().join("site.toml"), SITE.replace("[mass]\n", "[mass]\nscale_e_kg = 500\n")).unwrap();
    std::fs::write(folder.path().join("tickets.csv"), TICKETS.replace(",,9100", ",,900")).unwrap();
    let found = document(folder.path(), &["--to", "2026-10-24"]);
    let row = &found["shifts"][0];
    assert!(row["gross_kwh_per_t"].is_null() && row["gross_band_kwh_per_t"].is_null(), "{row}");
    for key in ["gross_kwh_per_t", "net_kwh_per_t"] {
        assert!(row["why"][key].as_str().unwrap().contains("more than half of it"), "{row}");
    }
}

/// Late tickets, corrections and what is odd about a register are told with their own period alone.
#[test]
fn another_period_keeps_its_own_edits() {
    let folder = folder();
    let mut with_register = String::new();
    for (at, line) in log("2026-10-24T04:00:00Z", 25 * 60).lines().enumerate() {
        let cell = if at == 0 { "register_kwh".to_owned() } else { (1_000 + 2 * at).to_string() };
        let _ = writeln!(with_register, "{line},{cell}");
    }
    std::fs::remove_file(folder.path().join("logs/b.csv")).unwrap();
    std::fs::write(folder.path().join("logs/a.csv"), with_register).unwrap();
    std::fs::write(folder.path().join("logs/c.csv"), log("2026-10-26T05:00:00Z", 8 * 60)).unwrap();
    let told = |day: &str| {
        let found = document(folder.path(), &["--from", day, "--to", day]);
        let count = |key: &str| found[key].as_array().unwrap().len();
        (
            count("late_tickets"),
            count("corrections"),
            count("gaps"),
            found["notes"].to_string().contains("the register advanced"),
        )
    };
    assert_eq!(told("2026-10-24"), (1, 1, 0, true));
    assert_eq!(told("2026-10-25"), (0, 0, 1, false));
    assert_eq!(told("2026-10-26"), (0, 0, 0, false));
}

/// All outputs of one reckoning; the page refers to nothing outside of itself, and the table has a row for each shift, one for what is
/// outside of them and the whole.
#[test]
fn a_page_a_table_and_words() {
    let folder = folder();
    let (status, out, err) = run(shift(folder.path(), &["--out", "report", "--csv", "shifts.csv"]));
    assert_eq!((status, err.as_str()), (Some(0), ""));
    assert!(out.is_ascii() && out.lines().all(|line| line.len() <= 80), "{out}");
    assert!(out.contains("2026-10-24 night") && out.contains("No bend was looked for: too few days"), "{out}");
    let page = std::fs::read_to_string(folder.path().join("report/shift.html")).unwrap();
    assert!(page.contains("2026-10-24 night") && page.contains("tare was forgotten") && page.contains("<svg"));
    assert!(!page.contains("http://") && !page.contains("https://") && !page.contains("src="), "nothing is fetched");
    let table = std::fs::read_to_string(folder.path().join("shifts.csv")).unwrap();
    assert_eq!(table.lines().count(), 5);
    assert_eq!(table, std::fs::read_to_string(folder.path().join("report/shifts.csv")).unwrap());
    let (status, out, _) = run(shift(folder.path(), &["--csv", "-"]));
    assert_eq!((status, out), (Some(0), table));
}

/// Names that are markup stay text on the page.
#[test]
fn what_a_file_says_is_no_markup() {
    let folder = folder();
    let site = SITE.replace("Quillbrook Yard", "<script>alert(1)</script>").replace("\"early\"", "\"<b>early\"");
    std::fs::write(folder.path().join("site.toml"), site).unwrap();
    std::fs::write(folder.path().join("tickets.csv"), TICKETS.replace("tare was", "<img src=x> was")).unwrap();
    assert_eq!(run(shift(folder.path(), &["--out", "report"])).0, Some(0));
    let page = std::fs::read_to_string(folder.path().join("report/shift.html")).unwrap();
    assert!(!page.contains("<script>alert") && !page.contains("<b>early") && !page.contains("<img"));
}

/// The same bytes from one processor and from many.
#[test]
fn threads_change_nothing() {
    let folder = folder();
    for hour in 0..20 {
        let text = log(&format!("2026-10-26T{hour:02}:00:00Z"), 60);
        std::fs::write(folder.path().join(format!("logs/c{hour}.csv")), text).unwrap();
    }
    let with = |threads: &str| {
        let mut command = shift(folder.path(), &["--json", "-"]);
        command.env("RAYON_NUM_THREADS", threads);
        let (status, out, err) = run(command);
        assert_eq!(status, Some(0), "{err}");
        out
    };
    let one = with("1");
    assert!(one == with("2") && one == with("7"));
}

/// A replay's folder is a log: what it tells of the demo is booked, trips with their causes among it.
#[test]
fn a_replay_is_a_log() {
    let folder = folder();
    let out = folder.path().join("logs/demo");
    std::fs::remove_file(folder.path().join("logs/a.csv")).unwrap();
    std::fs::remove_file(folder.path().join("logs/b.csv")).unwrap();
    let mut replay = demo(&["--out"]);
    assert_eq!(
        run({
            replay.arg(&out);
            replay
        })
        .0,
        Some(0)
    );
    let whole = |found: &serde_json::Value| found["whole"].clone();
    let found = document(folder.path(), &[]);
    let minutes = whole(&found);
    assert_eq!((&minutes["trips"]["jam"], &minutes["starts"]), (&1.into(), &1.into()), "{found}");
    let kwh = minutes["kwh"].as_f64().unwrap();
    assert!((kwh - 0.7226).abs() < 0.001, "{kwh}");
    // Every interval tells the same, and both at once count once.
    let text = |files: &[&str]| {
        let mut command = shaftwork(&["shift", "--site", "site.toml", "--json", "-"]);
        command.args(files.iter().map(|file| out.join(file))).current_dir(folder.path());
        let (status, text, err) = run(command);
        assert_eq!(status, Some(0), "{err}");
        whole(&serde_json::from_str(&text).unwrap())
    };
    for files in [&["intervals.parquet"][..], &["minutes.csv"], &["minutes.csv", "intervals.parquet"]] {
        let other = text(files);
        assert!((other["kwh"].as_f64().unwrap() / kwh - 1.0).abs() < 1e-5, "{files:?}: {other}");
        assert_eq!((&other["trips"], &other["starts"]), (&minutes["trips"], &minutes["starts"]), "{files:?}");
    }
}

#[test]
fn what_is_wrong_is_told_with_its_cure() {
    let folder = folder();
    let told = |change: &dyn Fn(&Path), more: &[&str], status: i32, parts: &[&str]| {
        let folder = self::folder();
        change(folder.path());
        let (found, out, err) = run(shift(folder.path(), more));
        assert_eq!((found, out.as_str()), (Some(status), ""), "{err}");
        assert!(parts.iter().all(|part| err.contains(part)), "{parts:?}: {err}");
        assert!(!folder.path().join("report").exists(), "{err}");
    };
    let write =
        |name: &'static str, text: String| move |folder: &Path| std::fs::write(folder.join(name), &text).unwrap();
    let nothing = |_: &Path| ();
    told(
        &write("site.toml", SITE.replace("zone = \"E", "zone = \"A")),
        &["--out", "report"],
        1,
        &["site.toml, line 3", "IANA"],
    );
    told(&write("site.toml", SITE.replace("rated_kw", "rated_kv")), &[], 1, &["did you mean rated_kw?"]);
    told(
        &write("tickets.csv", TICKETS.replace("T1,tare", "T9,tare")),
        &["--out", "report"],
        1,
        &["tickets.csv, line 4", "no ticket T9"],
    );
    told(&write("logs/a.csv", "t_s,va_v\n".to_owned()), &[], 1, &["a.csv, line 1", "to mend it"]);
    told(
        &write("logs/c.csv", log("2026-10-24T05:00:00Z", 30).replace("50000", "51000")),
        &[],
        1,
        &["c.csv", "logs that agree"],
    );
    for (column, good, bad, wanted) in [
        ("active_w", "50000,30000", "9e9,30000", "550 kW"),
        ("active_w", "50000,30000", "-1e300,30000", "550 kW"),
        ("reactive_var", "50000,30000", "50000,1e12", "550 kvar"),
        ("load_pct", "breaking,80", "breaking,-2e3", "-300 to 2000 %"),
    ] {
        let text = log("2026-10-24T04:00:00Z", 60).replace(good, bad);
        told(&write("logs/a.csv", text), &[], 1, &["a.csv, line 17, column", column, wanted, "to mend it"]);
    }
    told(&nothing, &["--from", "2026-10-24", "--to", "2026-10-23"], 2, &["--from 2026-10-24 is after --to"]);
    told(&nothing, &["--from", "monday"], 2, &["a date such as"]);
    told(&nothing, &["--json", "-", "--csv", "-"], 2, &["both want standard output"]);
    told(&nothing, &["--csv", "tickets.csv"], 2, &["is an input"]);
    drop(folder);
}

/// A folder that cannot be written leaves nothing half-written.
#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_leaves_no_half_of_a_page() {
    let folder = folder();
    std::fs::create_dir(folder.path().join("report")).unwrap();
    std::os::unix::fs::symlink("/dev/full", folder.path().join("report/shifts.csv")).unwrap();
    let (status, _, err) = run(shift(folder.path(), &["--out", "report"]));
    assert_eq!(status, Some(1));
    assert!(err.contains("/dev/full: cannot be written") && err.contains("make room"), "{err}");
    assert_eq!(names(&folder.path().join("report")).len(), 1, "no page either");
}
