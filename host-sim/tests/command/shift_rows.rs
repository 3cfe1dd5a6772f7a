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
