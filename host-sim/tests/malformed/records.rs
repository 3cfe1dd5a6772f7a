//! COMTRADE data, and records in one file, with one thing wrong.

use crate::comtrade::{pair, with_line};
use crate::harness::Case;
use crate::parts::{self, REPLAY, cell, line, swap};

/// A replay of a record in one file.
fn single(name: &str, cff: impl Into<Vec<u8>>, says: &[&str]) -> Case {
    let words = [&["replay", "r.cff"][..], &REPLAY].concat();
    let case = Case::new(format!("cff: {name}"), &words);
    case.file("r.cff", cff).file("mill.toml", parts::settings()).says(&["r.cff"]).says(says)
}

/// All cases.
pub fn cases() -> Vec<Case> {
    [data(), text(), stamps(), singles(), cuts()].concat()
}

/// Binary data.
fn data() -> Vec<Case> {
    let (cfg, dat) = (parts::cfg, parts::dat);
    let missing = |from: usize, to: usize| {
        let mut dat = dat();
        for record in dat.chunks_exact_mut(22).skip(from).take(to - from) {
            record[8..10].copy_from_slice(&i16::MIN.to_le_bytes());
        }
        dat
    };
    vec![
        pair(
            "empty data",
            cfg(),
            "",
            &["r.dat, byte 0: there are no frames, but the configuration announces 400", "copy the record again"],
        ),
        pair(
            "a record too few",
            cfg(),
            &dat()[..22 * 399],
            &["r.dat, byte 8778: the data end after 399 of the 400 frames", "--accept-short"],
        ),
        pair(
            "text where binary is announced",
            cfg(),
            &parts::dat_text()[..4000],
            &["r.dat, byte 3982: the data are cut inside frame 182", "--accept-short"],
        ),
        pair(
            "wider codes announced than there are",
            cfg().replace("BINARY", "BINARY32"),
            dat(),
            &["r.dat, byte 8772: the data are cut inside frame 259 of 400"],
        ),
        pair(
            "a channel less in the data",
            with_line(2, "8,6A,2D").replace("1,RUN,,,0\r\n", "1,RUN,,,0\r\n2,ON,,,0\r\n").replace("7,6A,1D", "8,6A,2D"),
            &dat()[..8000],
            &["r.dat, byte 7986: the data are cut inside frame 364"],
        ),
        pair(
            "half a cycle and more missing",
            cfg(),
            missing(100, 141),
            &["r.cfg, frame 101: 'VA' lacks at least 41 values in a row", "40 here", "gaps = \"split\""],
        ),
        pair("nothing but missing values", cfg(), missing(0, 400), &["r.cfg, frame 1: 'VA' lacks", "gaps = \"split\""]),
    ]
}

/// Text data.
fn text() -> Vec<Case> {
    let (cfg, dat) = (parts::cfg_text, parts::dat_text);
    let spoilt = |index: usize, new: &str| line(&dat(), 30, |old| cell(old, index, new));
    let at = "r.dat, line 30, byte ";
    let find = "if its .cfg is another record's, find its own";
    vec![
        pair("text: a value in text", cfg(), spoilt(3, "abc"), &[at, "a field is 'abc', which is no number", find]),
        pair("text: a value of nan", cfg(), spoilt(3, "nan"), &[at, "a field is 'nan', which is no finite number"]),
        pair("text: a value beyond all", cfg(), spoilt(3, "1e999"), &[at, "a field is '1e999'"]),
        pair("text: a stamp in text", cfg(), spoilt(1, "noon"), &[at, "a field is 'noon'"]),
        pair("text: a number in text", cfg(), spoilt(0, "thirty"), &[at, "a field is 'thirty'"]),
        pair(
            "text: a value too many",
            cfg(),
            spoilt(7, "1,1"),
            &[at, "a record has 10 fields, not the 9 that the configuration announces"],
        ),
        pair(
            "text: a value too few",
            cfg(),
            line(&dat(), 30, |old| old.rsplit_once(',').unwrap().0.into()),
            &[at, "a record has 8 fields, not the 9"],
        ),
        pair("text: semicolons", cfg(), dat().replace(',', ";"), &["r.dat, line 1, byte 0: a field is '1;0;", find]),
        pair("text: binary data", cfg(), parts::dat(), &["r.dat"]),
        pair(
            "text: a record too few",
            cfg(),
            dat().rsplit_once("400,").unwrap().0,
            &["r.dat, byte", "the data end after 399 of the 400 frames", "--accept-short"],
        ),
        pair("text: empty", cfg(), "", &["r.dat, byte 0: there are no frames"]),
        pair("text: blank lines alone", cfg(), "\r\n\r\n\r\n", &["r.dat, byte 6: there are no frames"]),
        pair(
            "text: a line without end",
            cfg(),
            "1,".repeat(9_000_000),
            &["r.dat", "longer than 16777216 bytes", "lines that end"],
        ),
        pair("text: the trace for data", cfg(), parts::csv(), &["r.dat, line 1, byte 0: a field is 't_s'"]),
        pair(
            "text: missing values beyond half a cycle",
            cfg(),
            dat()
                .lines()
                .enumerate()
                .map(|(n, l)| if (50..120).contains(&n) { cell(l, 2, "99999") } else { l.to_owned() } + "\r\n")
                .collect::<String>(),
            &["r.cfg, frame 51: 'VA' lacks at least 70 values"],
        ),
    ]
}

/// Time from stamps.
fn stamps() -> Vec<Case> {
    let cfg = || swap(&parts::cfg(), "1\r\n4000,400", "0\r\n0,400");
    let stamped = |make: fn(u32) -> u32| {
        let mut dat = parts::dat();
        for (n, record) in dat.chunks_exact_mut(22).enumerate() {
            record[4..8].copy_from_slice(&make(n as u32).to_le_bytes());
        }
        dat
    };
    let cure = "write the rate into the configuration";
    vec![
        pair("stamps: all absent", cfg(), stamped(|_| u32::MAX), &["r.dat, record 1: the stamp is missing", cure]),
        pair(
            "stamps: one absent",
            cfg(),
            stamped(|n| if n == 99 { u32::MAX } else { n * 250 }),
            &["r.dat, record 100: the stamp is missing", cure],
        ),
        pair(
            "stamps: all zero",
            cfg(),
            stamped(|_| 0),
            &["r.dat, record", "all 0 s", "the configuration may give the rate instead"],
        ),
        pair(
            "stamps: uneven",
            cfg(),
            stamped(|n| n * 250 + u32::from(n == 99) * 100),
            &["r.dat, record 100: the stamp", "even place", "resample"],
        ),
        pair(
            "stamps: a jump",
            cfg(),
            stamped(|n| n * 250 + u32::from(n > 99) * 50_000),
            &["r.dat, record 101: the stamps jump", "about 200 samples are missing", "gaps = \"split\""],
        ),
        pair(
            "stamps: backwards",
            cfg(),
            stamped(|n| 1_000_000 - n * 250),
            &["r.dat, record 2: the time runs back", "sort or cut"],
        ),
        pair(
            "stamps: another rate than the settings'",
            cfg(),
            stamped(|n| n * 500),
            &["r.dat, record", "2000.000 Hz", "4000 Hz within 0.1 %"],
        ),
        pair(
            "stamps: a multiplier of 0",
            line(&cfg(), 16, |_| "0".into()),
            parts::dat(),
            &["r.cfg, line 16: the time multiplier is '0'"],
        ),
        pair(
            "stamps: a negative multiplier",
            line(&cfg(), 16, |_| "-1".into()),
            parts::dat(),
            &["r.cfg, line 16: the time multiplier is '-1'", "a number above 0, at most"],
        ),
        pair(
            "stamps: a multiplier in text",
            line(&cfg(), 16, |_| "us".into()),
            parts::dat(),
            &["r.cfg, line 16: the time multiplier is 'us'"],
        ),
        pair(
            "stamps: a multiplier beyond all",
            line(&cfg(), 16, |_| "1e300".into()),
            parts::dat(),
            &["r.cfg, line 16: the time multiplier is '1e300'", "at most 1000000000"],
        ),
    ]
}

/// Records in one file.
fn singles() -> Vec<Case> {
    let (cff, whole) = (parts::cff(), parts::cff_text());
    let starts = cff.len() - parts::dat().len();
    let first = "--- file type: CFG ---\r\n";
    let (front, _) = whole.split_once("--- file type: DAT").unwrap();
    vec![
        single("empty", "", &["is empty", "record or copy it again"]),
        single("no first separator", whole.replace(first, ""), &["is the configuration of a COMTRADE record"]),
        single(
            "another first separator",
            swap(&whole, first, "*** file type: CFG ***\r\n"),
            &["line 1: does not begin as a record in one file does", "--- file type: CFG ---"],
        ),
        single("a trace", parts::csv(), &["line 1: does not begin as a record in one file does"]),
        single(
            "no data",
            front,
            &["byte", "holds no section of data", "--- file type: DAT BINARY: 4214 ---", "copy the file again"],
        ),
        single(
            "no configuration",
            format!(
                "--- file type: INF ---\r\n{}",
                whole.split_once(first).unwrap().1.split_once("--- file").unwrap().1
            ),
            &["r.cff"],
        ),
        single(
            "data before the configuration",
            format!("--- file type: DAT ASCII ---\r\n1,0,1\r\n{whole}"),
            &["byte 0: the data come before the configuration", "put the configuration before the data"],
        ),
        single("a first separator alone", first, &["byte 24: holds no section of data"]),
        single(
            "a separator of data in other words",
            swap(&whole, "--- file type: DAT ASCII ---", "--- data ---"),
            &["holds no section of data", "correct it"],
        ),
        single(
            "marked as text, announced as binary",
            swap(&whole, "\r\nASCII\r\n", "\r\nBINARY\r\n"),
            &["byte", "the data are marked ASCII but the configuration says BINARY", "correct the one that is wrong"],
        ),
        single(
            "marked as binary, announced as text",
            swap(&whole, "DAT ASCII", "DAT BINARY"),
            &["the data are marked BINARY but the configuration says ASCII"],
        ),
        single(
            "cut in the data",
            &cff[..starts + 22 * 7 + 5],
            &["byte", "the data are cut inside frame 8 of 400: only 5 bytes of it are there", "--accept-short"],
        ),
        single("cut before the data", &cff[..starts], &["there are no frames", "copy the record again"]),
        single("cut in the separator of data", &cff[..starts - 10], &["r.cff", "byte"]),
        single(
            "data and then another section",
            format!("{}--- file type: INF ---\r\n", &whole[..whole.rfind("\r\n390,").unwrap() + 2]),
            &["byte", "the data end after 389 of the 400 frames"],
        ),
        single(
            "two configurations",
            swap(&whole, "--- file type: DAT", &format!("{first}x\r\n--- file type: DAT")),
            &["byte", "there is a second configuration", "a file of its own"],
        ),
        single(
            "a configuration without end",
            [first.as_bytes(), &vec![b'x'; 17_000_000]].concat(),
            &["r.cff", "longer than 16777216 bytes", "check that this is a trace"],
        ),
        single(
            "a configuration of twenty megabytes",
            format!("{first}{}", "S,D,2013\r\n".repeat(2_300_000)),
            &["the configuration has more than 16777216 bytes", "check that this is a COMTRADE configuration"],
        ),
    ]
}

/// Cut at many places of the configuration and of both kinds of data.
fn cuts() -> Vec<Case> {
    let (cfg, dat) = (parts::cfg(), parts::dat());
    let lines: Vec<usize> = cfg.match_indices("\r\n").map(|(at, _)| at).collect();
    let mut all = Vec::new();
    // After each line but the last three, where what follows may be absent or is the encoding.
    for (n, at) in lines.iter().enumerate().take(14) {
        let place = format!("r.cfg, line {}: the configuration ends too early", n + 1);
        all.push(pair(
            &format!("configuration cut after line {}", n + 1),
            &cfg[..*at],
            dat.clone(),
            &[&place, "wanted: ", "copy the configuration again"],
        ));
    }
    for at in [1, 3, 7, 8, 9, 21, 22, 23, 4400, 8799] {
        let inside = if at % 22 == 0 { "the data end after" } else { "inside frame" };
        all.push(pair(&format!("data cut at byte {at}"), cfg.clone(), &dat[..at], &["r.dat, byte", inside]));
    }
    for at in [1, 5, 40, 5000] {
        all.push(pair(
            &format!("text data cut at byte {at}"),
            parts::cfg_text(),
            &parts::dat_text()[..at],
            &["r.dat, byte", "inside frame"],
        ));
    }
    all
}
