//! What a shift's row tells beside energy and mass: stopped time by reason, hammers, feed, load, registers and clocks.

use std::fmt::Write as _;
use std::path::Path;

use crate::shift::{SITE, document, folder, near};

/// Writes a file of the folder.
fn write(folder: &Path, name: &str, text: &str) {
    std::fs::write(folder.join(name), text).unwrap();
}

/// Rows of a minute from 06:00 on, a word for each: what the mill does.
fn minutes(states: &[(&str, i64)]) -> String {
    let from: jiff::Timestamp = "2026-10-24T04:00:00Z".parse().unwrap();
    let mut text = "time,active_w,state\n".to_owned();
    let mut end = from;
    for (state, count) in states {
        for _ in 0..*count {
            end += jiff::SignedDuration::from_mins(1);
            let w = if *state == "stopped" { 0 } else { 50_000 };
            let _ = writeln!(text, "{end},{w},{state}");
        }
    }
    text
}

/// By hand: of 60 min stopped 10 are a late start, 4.5 greasing and 15 of 25 the screen's; 30.5 min are left without a reason.
#[test]
fn stopped_time_has_its_reasons() {
    let folder = folder();
    let folder = folder.path();
    std::fs::remove_file(folder.join("logs/b.csv")).unwrap();
    write(folder, "logs/a.csv", &minutes(&[("stopped", 30), ("breaking", 60), ("stopped", 30)]));
    let text = "from,to,reason,who\n\
        2026-10-24T06:20:30,2026-10-24T06:25,greasing,Finch\n\
        2026-10-24T06:00,2026-10-24T06:10,late start,Wren\n\
        2026-10-24T07:20,2026-10-24T07:45,screen,Wren\n\
        2026-10-24T07:00,2026-10-24T07:10,lunch,Wren\n\
        2026-10-22T07:00,2026-10-22T07:10,lunch,Wren\n";
    // Beside the logs it is no log.
    write(folder, "logs/stoppages.csv", text);
    let found = document(folder, &["--stoppages", "./logs/stoppages.csv"]);
    let early = &found["shifts"][0];
    let reasons = &early["stopped_by_reason_h"];
    for (reason, minutes) in [("late start", 10.0), ("greasing", 4.5), ("screen", 15.0), ("no reason given", 30.5)] {
        near(&reasons[reason], minutes / 60.0);
        near(&found["whole"]["stopped_by_reason_h"][reason], minutes / 60.0);
    }
    let sum: f64 = reasons.as_object().unwrap().values().map(|h| h.as_f64().unwrap()).sum();
    near(&early["stopped_h"], sum);
    near(&found["stoppages"][2]["stopped_h"], 0.0);
    assert_eq!(found["stoppages"][3]["who"], "Wren");
    let notes = found["notes"].to_string();
    assert!(
        notes.contains(
            "\\\"lunch\\\", 2026-10-24 07:00 +02:00 to 2026-10-24 07:10 +02:00: the mill stood for 0.00 h of 0.17 h"
        ),
        "{notes}"
    );
    assert!(notes.contains("1 stoppages lie outside"), "{notes}");
    std::fs::remove_file(folder.join("logs/stoppages.csv")).unwrap();
    let none = document(folder, &[]);
    assert!(none["whole"]["stopped_by_reason_h"].is_null());
}

/// By hand: hammers changed at 06:30, 90 min of running since then and 9.1 t at 09:00; a change before the logs has no age.
#[test]
fn the_age_of_hammers() {
    let folder = folder();
    let folder = folder.path();
    std::fs::remove_file(folder.join("logs/b.csv")).unwrap();
    write(folder, "logs/a.csv", &minutes(&[("breaking", 60), ("stopped", 30), ("idle", 60)]));
    let change = |at: &str| {
        format!("{SITE}[[change]]\nat = \"{at}\"\nwhat = \"hammers\"\nnote = \"set 7, turned once\"\nwho = \"Wren\"\n")
    };
    write(folder, "site.toml", &change("2026-10-24T06:30"));
    let found = document(folder, &[]);
    for row in [&found["shifts"][0], &found["whole"]] {
        near(&row["hammers_run_h"], 1.5);
        near(&row["hammers_t"], 9.1);
        assert_eq!(row["hammers"], "set 7, turned once");
        assert_eq!(row["hammers_since"], "2026-10-24 06:30 +02:00");
        let why = row["why"]["hammers_run_h"].as_str().unwrap();
        assert!(why.contains("5.50 h since the change have no rows"), "{why}");
    }
    write(folder, "site.toml", &change("2026-10-24T05:30"));
    let early = document(folder, &[])["shifts"][0].clone();
    assert!(early["hammers_run_h"].is_null() && early["hammers_t"].is_null());
    assert!(early["why"]["hammers_t"].as_str().unwrap().contains("begin after the hammers were changed"));
    write(folder, "site.toml", SITE);
    let early = document(folder, &[])["shifts"][0].clone();
    assert!(early["hammers"].is_null() && early["why"]["hammers"].as_str().unwrap().contains("[[change]]"), "{early}");
}

/// A clock that was five minutes fast for an hour, told in the site's file: all comes to what a right clock gives, and the correction is told.
#[test]
fn a_clock_that_was_wrong_is_put_right() {
    let folder = folder();
    let folder = folder.path();
    std::fs::remove_file(folder.join("logs/b.csv")).unwrap();
    let right = minutes(&[("breaking", 120), ("idle", 60), ("stopped", 60)]);
    write(folder, "logs/a.csv", &right);
    let wanted = document(folder, &[]);
    let mut wrong = String::new();
    for (at, line) in right.lines().enumerate() {
        let (time, rest) = line.split_once(',').unwrap();
        let fast = (31..=90).contains(&at);
        let time =
            time.parse::<jiff::Timestamp>().map(|time| time + jiff::SignedDuration::from_mins(5 * i64::from(fast)));
        let _ = writeln!(wrong, "{},{rest}", time.map_or_else(|_| "time".to_owned(), |time| time.to_string()));
    }
    write(folder, "logs/a.csv", &wrong);
    let change = |log: &str| {
        format!(
            "{SITE}[[change]]\nat = \"2026-10-24T06:30\"\nto = \"2026-10-24T07:30\"\nwhat = \"clock\"\nfast_s = 300\n\
             log = \"{log}\"\nwho = \"Finch\"\nwhy = \"set by hand\"\n"
        )
    };
    write(folder, "site.toml", &change("a.csv"));
    let found = document(folder, &[]);
    let told = &found["clock_corrections"][0];
    assert_eq!((&told["rows"], &told["who"], &told["why"]), (&60.into(), &"Finch".into(), &"set by hand".into()));
    assert_eq!(
        (&found["shifts"][0]["clock_corrections"], &wanted["shifts"][0]["clock_corrections"]),
        (&1.into(), &0.into())
    );
    let mut row = found["shifts"][0].clone();
    row["clock_corrections"] = 0.into();
    assert_eq!(row, wanted["shifts"][0]);
    // Another logger's clock: the rows step back, and the cure is told.
    write(folder, "site.toml", &change("b.csv"));
    let (status, _, err) = crate::run(crate::shift::shift(folder, &[]));
    assert_eq!(status, Some(1));
    assert!(err.contains("line 92") && err.contains("what = \"clock\""), "{err}");
}

/// A logger on UTC that says so is read as UTC, and a reader is told; one whose start has another offset must say which zone it is.
#[test]
fn a_log_of_another_zone() {
    let folder = folder();
    let folder = folder.path();
    std::fs::remove_file(folder.join("logs/b.csv")).unwrap();
    let right = minutes(&[("breaking", 120)]);
    write(folder, "logs/a.csv", &right);
    let wanted = document(folder, &[])["shifts"][0].clone();
    write(folder, "logs/a.csv", &format!("# zone = UTC\n{}", right.replace("Z,", ",")));
    let found = document(folder, &[]);
    assert_eq!(found["shifts"][0], wanted);
    assert!(
        found["notes"]
            .to_string()
            .contains("read as those of UTC, the zone that it states; the site's is Europe/Berlin")
    );
    write(folder, "logs/a.csv", &format!("# start = 2026-10-24T04:00:00+00:00\n{}", right.replace("Z,", ",")));
    let (status, _, err) = crate::run(crate::shift::shift(folder, &[]));
    let err = err.split_whitespace().collect::<Vec<_>>().join(" ");
    assert_eq!(status, Some(1));
    assert!(err.contains("a.csv, line 3") && err.contains("had +02") && err.contains("# zone = UTC"), "{err}");
}

/// The log of `minutes` with a register that starts at a reading and counts so much of what was taken.
fn with_register(states: &[(&str, i64)], from_kwh: f64, share: f64) -> String {
    let mut kwh = from_kwh;
    let mut text = String::new();
    for line in minutes(states).lines() {
        let w: f64 = line.split(',').nth(1).unwrap().parse().unwrap_or(f64::NAN);
        if w.is_nan() {
            let _ = writeln!(text, "{line},register_kwh,humidity_pct,loadpct");
            continue;
        }
        kwh = (kwh + share * w / 60_000.0) % 1e6;
        let _ = writeln!(text, "{line},{kwh:.3},40,80");
    }
    text
}

/// A register of six digits that begins anew counts; by hand two hours of 50 kW are 100 kWh, from 999 950 on once. Where it counts 5 % more
/// than a meter of 1 % may, the headline says so; and columns that nothing looks at are named.
#[test]
fn registers_and_odd_columns() {
    let folder = folder();
    let folder = folder.path();
    std::fs::remove_file(folder.join("logs/b.csv")).unwrap();
    let states = [("breaking", 120)];
    write(folder, "logs/a.csv", &with_register(&states, 999_950.0, 1.0));
    let found = document(folder, &[]);
    assert_eq!(
        (&found["shifts"][0]["register_rollovers"], &found["whole"]["register_rollovers"]),
        (&1.into(), &1.into())
    );
    assert!(found["register_off"].as_array().unwrap().is_empty());
    let notes = found["notes"].to_string();
    let wanted = "logs/a.csv: columns that are not looked at: humidity_pct, loadpct; was loadpct meant to be load_pct?";
    assert!(notes.contains(wanted), "{notes}");
    write(folder, "logs/a.csv", &with_register(&states, 500.0, 1.05));
    let found = document(folder, &["--out", "report"]);
    near(&found["register_off"][0]["register_kwh"], 105.0 * 119.0 / 120.0);
    near(&found["register_off"][0]["rows_kwh"], 100.0 * 119.0 / 120.0);
    assert_eq!(found["shifts"][0]["register_rollovers"], 0);
    let page = std::fs::read_to_string(folder.join("report/shift.html")).unwrap();
    let verdict = page.lines().find(|line| line.contains("class=\"verdict\"")).unwrap();
    assert!(
        verdict.contains("NOT settled") && verdict.contains("104.1 kWh") && verdict.contains("99.2 kWh (+5.0 %)"),
        "{verdict}"
    );
    assert!(page.contains(found["files"][1]["crc32"].as_str().unwrap()));
    std::fs::write(folder.join("logs/a.csv"), minutes(&states)).unwrap();
    let none = document(folder, &[]);
    assert!(none["whole"]["register_rollovers"].is_null());
    assert_eq!(none["whole"]["why"]["register_rollovers"], "no log has register_kwh");
}

/// Every file that was read has its length and the CRC-32 of its bytes as they lie there; another digit in a log gives another.
#[test]
fn files_have_their_check_sums() {
    let folder = folder();
    let folder = folder.path();
    let sums = || {
        let found = document(folder, &[]);
        let files = found["files"].as_array().unwrap().clone();
        let kinds: Vec<_> = files.iter().map(|file| file["kind"].as_str().unwrap().to_owned()).collect();
        assert_eq!(kinds, ["site", "log", "log", "tickets"]);
        for file in &files {
            let bytes = std::fs::read(folder.join(file["file"].as_str().unwrap())).unwrap();
            assert_eq!(file["bytes"], bytes.len());
            assert_eq!(file["crc32"], format!("{:08x}", shaftwork_report_bits::digest::crc32(&bytes)));
        }
        files
    };
    let before = sums();
    let text = std::fs::read_to_string(folder.join("logs/a.csv")).unwrap();
    write(folder, "logs/a.csv", &text.replacen("50000", "50001", 1));
    let after = sums();
    assert_ne!(before[1]["crc32"], after[1]["crc32"]);
    assert_eq!((&before[2], &before[1]["rows"]), (&after[2], &720.into()));
}

/// A table among the logs would be a log the next time; `shifts.csv` and a report's folder are none, and closing again gives the same.
#[test]
fn no_table_among_the_logs() {
    let folder = folder();
    let folder = folder.path();
    std::fs::create_dir(folder.join("logs/week")).unwrap();
    for csv in ["logs/closed.csv", "logs/week/closed.csv", "./logs/../logs/closed.csv"] {
        let (status, _, err) = crate::run(crate::shift::shift(folder, &["--csv", csv]));
        assert_eq!(status, Some(2), "{csv}: {err}");
        assert!(err.contains("would be read as one the next time") && !folder.join(csv).exists(), "{err}");
    }
    let first = document(folder, &["--out", "logs/report", "--csv", "logs/week/shifts.csv"]);
    assert!(folder.join("logs/report/shifts.csv").exists());
    assert_eq!(document(folder, &[]), first);
}

/// A signal while a log is still being read: it ends with 130 and leaves nothing.
#[cfg(unix)]
#[test]
fn a_signal_while_logs_are_read() {
    use std::io::Write as _;
    if crate::signals::ignored_here(2) {
        eprintln!("*** SKIPPED: SIGINT is ignored by whoever runs these tests, and so by what they start");
        return;
    }
    let folder = folder();
    let folder = folder.path();
    let pipe = folder.join("logs/c.csv");
    assert!(std::process::Command::new("mkfifo").arg(&pipe).status().unwrap().success());
    let mut command = crate::shift::shift(folder, &["--out", "report", "--json", "a.json"]);
    let mut child = crate::Running(command.stdout(std::process::Stdio::null()).spawn().unwrap());
    // It is open once it is read.
    let mut file = std::fs::OpenOptions::new().write(true).open(&pipe).unwrap();
    file.write_all(b"time,active_w,state\n2026-10-26T06:00:00Z,1,idle\n").unwrap();
    let line = format!("kill -INT {}", child.0.id());
    assert!(std::process::Command::new("sh").arg("-c").arg(line).status().unwrap().success());
    let begun = std::time::Instant::now();
    let status = loop {
        if let Some(status) = child.0.try_wait().unwrap() {
            break status;
        }
        assert!(begun.elapsed() < std::time::Duration::from_secs(20), "it goes on");
        std::thread::sleep(std::time::Duration::from_millis(5));
    };
    assert_eq!(status.code(), Some(130));
    assert!(!folder.join("report").exists() && !folder.join("a.json").exists());
}
