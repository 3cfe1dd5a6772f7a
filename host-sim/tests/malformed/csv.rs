//! CSV traces with one thing wrong in their names or cells.

use crate::harness::Case;
use crate::parts::{self, REPLAY, cell, line, swap};

/// A replay of this text as `t.csv`.
pub fn replay(name: &str, text: impl Into<Vec<u8>>, says: &[&str]) -> Case {
    let words = [&["replay", "t.csv"][..], &REPLAY].concat();
    Case::new(format!("csv: {name}"), &words)
        .file("t.csv", text)
        .file("mill.toml", parts::settings())
        .says(&["t.csv"])
        .says(says)
}

/// Only looked at.
fn info(name: &str, text: impl Into<Vec<u8>>, says: &[&str]) -> Case {
    Case::new(format!("csv info: {name}"), &["info", "t.csv"]).file("t.csv", text).says(&["t.csv"]).says(says)
}

/// The sound trace with the cell of a line replaced; line 1 has the names.
fn with_cell(number: usize, index: usize, new: &str) -> String {
    line(&parts::csv(), number, |old| cell(old, index, new))
}

const HOLE: &str = "fill in the value, or take the whole line out and set gaps = \"split\"";
pub const FIRST: &str = "wanted: a first line of names such as t_s,va_v,vb_v,vc_v,ia_a,ib_a,ic_a";

/// All cases.
pub fn cases() -> Vec<Case> {
    [names(), cells(), stamps(), pulses()].concat()
}

/// A column of pulses that is none, replayed as a count.
fn pulses() -> Vec<Case> {
    let csv = swap(&parts::csv(), ",mass_kg\n", ",mass_pulse\n");
    let whole: String = csv.lines().enumerate().fold(String::new(), |text, (n, row)| match n {
        0 => format!("{text}{row}\n"),
        n => format!("{text}{}\n", cell(row, 7, &(5_000 + n / 100).to_string())),
    });
    let mass = "source = \"pulse\"\nkg_per_pulse = 2\npulses = \"count\"";
    let count = |name: &str, text: String, says: &[&str]| {
        let words = [&["replay", "t.csv"][..], &REPLAY].concat();
        let settings = swap(&parts::settings(), "source = \"none\"", mass);
        Case::new(format!("csv pulses: {name}"), &words)
            .file("t.csv", text)
            .file("mill.toml", settings)
            .says(&["t.csv"])
            .says(says)
    };
    vec![
        count("kilograms", csv.clone(), &["row 1 or soon after", "a count of 0.01 pulses", "pulses = \"edge\""]),
        count(
            "a count that falls",
            line(&whole, 302, |row| cell(row, 7, "4000")),
            &["a count of pulses that falls from 5003 to 4000", "wraps at its end or starts anew at zero"],
        ),
        count("a word", line(&whole, 3, |row| cell(row, 7, "on")), &["line 3", "'on'"]),
        count(
            "a name twice",
            swap(&whole, "mass_pulse\n", "mass_pulse,MASS_PULSE\n"),
            &["the column 'MASS_PULSE' is there twice"],
        ),
    ]
}

/// The first line.
fn names() -> Vec<Case> {
    let csv = parts::csv();
    let first = |new: &str| line(&csv, 1, |_| new.to_owned());
    let all = "t_s,va_v,vb_v,vc_v,ia_a,ib_a,ic_a,mass_kg";
    vec![
        replay(
            "no names",
            csv.split_once('\n').unwrap().1,
            &["line 1: no column t_s", "put a line with the names above"],
        ),
        replay(
            "time by another name",
            swap(&csv, "t_s", "time"),
            &["line 1: no column t_s among 'time,", "name the column of time t_s"],
        ),
        replay(
            "a column twice",
            first(&swap(all, "vb_v", "va_v")),
            &["line 1: the column 'va_v' is there twice", "rename one"],
        ),
        replay(
            "a column twice in another case",
            first(&swap(all, "vb_v", "VA_V")),
            &["line 1: the column 'VA_V' is there twice"],
        ),
        replay(
            "a name too few",
            first("t_s,va_v,vb_v,vc_v,ia_a,ib_a,ic_a"),
            &["line 2: 8 cells", "wanted: 7 cells", "write decimals with a point"],
        ),
        replay(
            "an empty name",
            first(&swap(all, "ib_a", "")),
            &["line 1: a column has no name", "remove the spare comma"],
        ),
        replay(
            "a comma at the end of the names",
            first(&format!("{all},")),
            &["line 1: a column has no name", "remove the spare comma"],
        ),
        replay(
            "no figures",
            "t_s,note\n0,a\n",
            &["line 1: no column of figures among 't_s,note'", "name each column by its quantity and unit"],
        ),
        replay(
            "a phase missing",
            first(&swap(all, "vb_v", "temp_c")),
            &["no channel was found for vb", "the columns of four-wire: va_v,vb_v", "rename the columns"],
        ),
        replay(
            "a volt column that ends like an ampere",
            first(&swap(all, "va_v", "v_a")),
            &["no channel was found for va", "va = \"v_a\"", "ia = \"ia_a\""],
        ),
        replay(
            "no units in the names",
            first("t_s,Ua,Ub,Uc,Ia,Ib,Ic,mass_kg"),
            &["no channel was found for va", "va = \"Ua\"", "ic = \"Ic\"", "without a unit they are in V or A"],
        ),
        replay(
            "units in brackets",
            first("t_s,UL1 [V],UL2 [V],UL3 [V],IL1 (A),IL2 (A),IL3 (A),mass_kg"),
            &["no channel was found for va", "va = \"UL1 [V]\"", "ic = \"IL3 (A)\""],
        ),
        replay(
            "line voltages for phase voltages",
            first("t_s,vab_v,vbc_v,vca_v,ia_a,ib_a,ic_a,mass_kg"),
            &["no channel was found for va", "\"vab_v\" phase AB in V"],
        ),
        replay(
            "voltage columns in amperes",
            first("t_s,va_a,vb_a,vc_a,ia_a,ib_a,ic_a,mass_kg"),
            &["no channel was found for va", "va = \"va_a\""],
        ),
        replay("a quotation mark alone", first(&swap(all, "t_s", "\"")), &["line 1: a column has no name"]),
        replay("semicolons", csv.replace(',', ";"), &["line 1: no column t_s", "tr ';,' ',.' < t.csv > new.csv"]),
        replay(
            "semicolons and decimal commas",
            csv.replace(',', ";").replace('.', ","),
            &["line 1: no column t_s", "tr ';,' ',.' < t.csv > new.csv"],
        ),
        replay("tabs", csv.replace(',', "\t"), &["line 1: no column t_s", "tr '\\t,' ',.' < t.csv > new.csv"]),
        replay(
            "blanks between columns",
            csv.replace(',', " "),
            &["line 1: no column t_s", "separate the columns by commas"],
        ),
        info(
            "ten thousand columns and more",
            parts::numbered(20_000, "c", "_v,") + "t_s\n",
            &["line 1: there are more than 10000 columns", "check that this is a trace"],
        ),
        info("two million columns", "a,b".repeat(2_000_000), &["line 1", "the column 'ba' is there twice"]),
        info(
            "a name of a megabyte",
            format!("{}\n0\n", "x".repeat(1_000_000)),
            &["line 1: no column t_s among 'xxx", FIRST],
        ),
        info(
            "names with control characters",
            "\x1b[31mtime\x07,va_v\n0,1\n",
            &["line 1: no column t_s among '[31mtime,va_v'"],
        ),
        info("names that are no UTF-8", b"\xff\xfez\xe9it,va_v\n0,1\n".to_vec(), &["UTF-16"]),
        info("a name in another code page", b"zeit_\xe4,va_v\n0,1\n".to_vec(), &["line 1: no column t_s"]),
    ]
}

/// Single cells.
fn cells() -> Vec<Case> {
    let mut all = Vec::new();
    for (cell, says) in [
        ("", &["va_v is an empty cell", HOLE][..]),
        ("nan", &["va_v is 'nan', which is no finite number", HOLE]),
        ("-NaN", &["va_v is '-NaN'"]),
        ("inf", &["va_v is 'inf', which is no finite number"]),
        ("-infinity", &["va_v is '-infinity'"]),
        ("1e999", &["va_v is '1e999', which is no finite number"]),
        ("1e300", &["va_v is '1e300', which nobody can have measured", "correct the figure"]),
        ("-9999999999999999", &["va_v is '-9999999999999999', which nobody"]),
        ("abc", &["va_v is 'abc', which is no number", "write it in figures alone"]),
        ("12 V", &["va_v is '12 V', which is no number", "write it in figures alone"]),
        ("1.2.3", &["va_v is '1.2.3', which is no number"]),
        ("0x1F", &["va_v is '0x1F', which is no number"]),
        ("1e", &["va_v is '1e', which is no number"]),
        ("--5", &["va_v is '--5'"]),
        ("#N/A", &["va_v is '#N/A', which is no number"]),
        ("1_000", &["va_v is '1_000'"]),
        ("\"1,5\"", &["va_v is '1,5', which is no number", "write decimals with a point"]),
        ("\"1.5", &["va_v is '\"1.5", "close the quotes"]),
        ("1,5", &["9 cells", "wanted: 8 cells", "write decimals with a point"]),
        ("\u{660}", &["va_v is '\u{660}', which is no number"]),
    ] {
        let mut says = says.to_vec();
        says.insert(0, "line 12:");
        all.push(replay(&format!("a cell {cell:?}"), with_cell(12, 1, cell), &says));
    }
    let broken = line(&parts::csv(), 300, |old| old.replacen(',', ",\u{0}", 1));
    all.push(replay("a NUL in a cell", broken, &["line 300: va_v is '", "no number"]));
    let latin: Vec<u8> = with_cell(12, 1, "~").bytes().map(|b| if b == b'~' { 0xE9 } else { b }).collect();
    all.push(replay("a cell that is no UTF-8", latin, &["line 12: va_v is '", "no number", "figures alone"]));
    all.push(replay(
        "decimal commas",
        parts::csv().replace('.', ","),
        &["line 2: 16 cells", "write decimals with a point"],
    ));
    all.push(replay(
        "mass that falls",
        with_cell(300, 7, "0.5"),
        &["line 300: the mass falls from 2.97 kg to 0.5 kg", "never falls"],
    ));
    all.push(replay(
        "a cell too few",
        line(&parts::csv(), 9, |old| old.rsplit_once(',').unwrap().0.into()),
        &["line 9: 7 cells", HOLE],
    ));
    all.push(replay(
        "a cell too many",
        line(&parts::csv(), 9, |old| format!("{old},1")),
        &["line 9: 9 cells", "quote a note"],
    ));
    all.push(replay("a long line of text", line(&parts::csv(), 9, |_| "x".repeat(100_000)), &["line 9: t_s is 'xxxx"]));
    all.push(replay(
        "commas alone",
        line(&parts::csv(), 9, |_| ",".repeat(7)),
        &["line 9: t_s is an empty cell", HOLE],
    ));
    all
}

/// Time.
fn stamps() -> Vec<Case> {
    let csv = parts::csv();
    let every = |make: fn(usize) -> f64| {
        let mut lines = csv
            .lines()
            .enumerate()
            .map(|(n, l)| if n == 0 { l.to_owned() } else { cell(l, 0, &format!("{:.6}", make(n - 1))) });
        lines.by_ref().collect::<Vec<_>>().join("\n") + "\n"
    };
    let rate = "4000 Hz within 0.1 %";
    vec![
        replay(
            "one stamp late by 60 %",
            with_cell(101, 0, "0.024900"),
            &["line 101: the stamp 0.0249 s lies 60 % of a sample interval after", "resample the trace"],
        ),
        replay(
            "one stamp late by 10 %",
            with_cell(101, 0, "0.024775"),
            &["line 101: the stamp 0.024775 s lies 10.0 % of a sample interval after", "resample"],
        ),
        replay(
            "one stamp early by 40 %",
            with_cell(101, 0, "0.024650"),
            &["line 101: the stamp 0.02465 s lies 40", "before its even place"],
        ),
        replay(
            "time runs back",
            with_cell(101, 0, "0.001"),
            &["line 101: the time runs back from 0.0245 s to 0.001 s", "sort or cut"],
        ),
        replay("a line twice", line(&csv, 50, |old| format!("{old}\n{old}")), &["line 5", "even place", "resample"]),
        replay(
            "first lines at one time",
            with_cell(3, 0, "0.000000"),
            &["line 4: 0 s is the stamp of several samples", "resample"],
        ),
        replay(
            "a line missing",
            line(&csv, 101, |_| "# lost".into()),
            &["line 102: the stamps jump from 0.0245 s to 0.025 s: about 1 sample is missing", "gaps = \"split\""],
        ),
        replay(
            "a minute missing",
            every(|n| n as f64 / 4000.0 + if n > 200 { 60.0 } else { 0.0 }),
            &["line 203: the stamps jump", "about 240000 samples are missing", "gaps = \"split\""],
        ),
        replay("half the rate", every(|n| n as f64 / 2000.0), &["give 2000.000 Hz", rate, "[sampling] rate_hz"]),
        replay("a rate of 1 Hz", every(|n| n as f64), &["give 1.000 Hz", rate]),
        replay("an absurd rate", every(|n| n as f64 / 1e6), &["line ", rate]),
        replay("milliseconds for seconds", every(|n| n as f64 / 4.0), &["give 4.000 Hz", rate]),
        replay("no time at all", every(|_| 0.0), &["line ", "all 0 s", "write the time of each sample"]),
        replay("time downwards", every(|n| -(n as f64) / 4000.0), &["line 3: the time runs back from", "sort or cut"]),
        replay("a rate 0.2 % off", every(|n| n as f64 / 4008.0), &["Hz", rate]),
        replay("a stamp in text", with_cell(101, 0, "06:00:01"), &["line 101: t_s is '06:00:01', which is no number"]),
        replay(
            "a stamp beyond all",
            with_cell(101, 0, "1e300"),
            &["line 101: t_s is '1e300', which nobody can have measured"],
        ),
        replay(
            "a start that is no time",
            format!("# start = yesterday\n{csv}"),
            &["line 1: the start is 'yesterday'", "2026-03-02T06:00:00+01:00", "or remove the line"],
        ),
        replay(
            "a start in month 13",
            format!("# start = 2026-13-02T06:00\n{csv}"),
            &["line 1: the start is '2026-13-02T06:00'"],
        ),
    ]
}
