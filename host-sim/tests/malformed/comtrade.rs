//! COMTRADE configurations with one thing wrong.

use crate::harness::Case;
use crate::parts::{self, REPLAY, cell, line, swap};

/// A replay of a record in two files.
pub fn pair(name: &str, cfg: impl Into<Vec<u8>>, dat: impl Into<Vec<u8>>, says: &[&str]) -> Case {
    let words = [&["replay", "r.cfg"][..], &REPLAY].concat();
    Case::new(format!("comtrade: {name}"), &words)
        .file("r.cfg", cfg)
        .file("r.dat", dat)
        .file("mill.toml", parts::settings())
        .says(says)
}

/// A look at a record in two files.
fn info(name: &str, cfg: impl Into<Vec<u8>>, dat: impl Into<Vec<u8>>, says: &[&str]) -> Case {
    let case = Case::new(format!("comtrade info: {name}"), &["info", "r.cfg"]);
    case.file("r.cfg", cfg).file("r.dat", dat).says(says)
}

/// The configuration with a field of a line replaced.
fn field(number: usize, index: usize, new: &str) -> String {
    line(&parts::cfg(), number, |old| cell(old, index, new))
}

/// Line 3 has the first channel; these follow the seven channels.
const HZ: usize = 10;
const RATES: usize = 11;
const RATE: usize = 12;
const ENCODING: usize = 15;

/// The configuration with a line replaced.
pub fn with_line(number: usize, new: &str) -> String {
    line(&parts::cfg(), number, |_| new.to_owned())
}

/// All cases.
pub fn cases() -> Vec<Case> {
    [configurations(), channels(), rates()].concat()
}

fn configurations() -> Vec<Case> {
    let (cfg, dat) = (parts::cfg, parts::dat);
    let many = |count: &str, line: &str, times: usize| {
        swap(&cfg(), "7,6A,1D\r\n", &format!("{count}\r\n{}", line.repeat(times)))
    };
    vec![
        pair(
            "empty configuration",
            "",
            dat(),
            &["r.cfg, line", "ends too early", "TT,##A,##D", "copy the configuration again"],
        ),
        pair("blank configuration", "\r\n\r\n\r\n", dat(), &["r.cfg, line", "ends too early"]),
        pair(
            "one line",
            "STATION,DEVICE,1999\r\n",
            dat(),
            &["r.cfg, line 1: the configuration ends too early", "TT,##A,##D"],
        ),
        pair("the data as configuration", dat(), dat(), &["r.cfg, line"]),
        pair(
            "a trace as configuration",
            parts::csv(),
            dat(),
            &[
                "r.cfg, line 2: '0.000000,",
                "tells no counts of channels",
                "check that this is a COMTRADE configuration",
            ],
        ),
        pair(
            "settings as configuration",
            parts::settings(),
            dat(),
            &["r.cfg, line 2: 'frequency_hz = 50' tells no counts"],
        ),
        pair("no counts", with_line(2, "x"), dat(), &["r.cfg, line 2: 'x' tells no counts of channels", "6,6A,0D"]),
        pair("counts without letters", with_line(2, "7,6,1"), dat(), &["r.cfg, line 2: '7,6,1' tells no counts"]),
        pair("negative counts", with_line(2, "7,-6A,1D"), dat(), &["r.cfg, line 2: '7,-6A,1D' tells no counts"]),
        pair(
            "no analog channels",
            with_line(2, "1,0A,1D"),
            dat(),
            &["r.cfg, line 2: the record has no analog channels", "with its waveforms"],
        ),
        pair(
            "an analog channel too many announced",
            with_line(2, "8,7A,1D"),
            dat(),
            &["r.cfg, line 9: '1,RUN,,,0' has only 5 of the fields", "correct the line, or the counts in line 2"],
        ),
        pair(
            "an analog channel too few announced",
            with_line(2, "6,5A,1D"),
            dat(),
            &["r.cfg, line 9: the line frequency is '1,RUN,,,0'", "the counts in line 2"],
        ),
        pair(
            "a status channel too many announced",
            with_line(2, "8,6A,2D"),
            dat(),
            &["r.cfg, line 10: '50' is no status channel", "as many channel lines must follow"],
        ),
        pair(
            "a huge count",
            with_line(2, "999999,999999A,0D"),
            dat(),
            &["r.cfg, line 2: the record announces 999999 analog channels", "at most 50000"],
        ),
        pair(
            "a count beyond all",
            with_line(2, "1,18446744073709551615A,0D"),
            dat(),
            &["r.cfg, line 2: the record announces 18446744073709551615"],
        ),
        pair(
            "a count beyond that",
            with_line(2, "1,99999999999999999999A,0D"),
            dat(),
            &["r.cfg, line 2", "tells no counts"],
        ),
        pair(
            "a huge count of status channels",
            with_line(2, "999999,6A,999993D"),
            dat(),
            &["r.cfg, line 10: '50' is no status channel"],
        ),
        info(
            "fifty thousand channels without data",
            many("50007,50006A,1D", "1,VA,A,,V,1,0,0,-1,1,1,1,P\r\n", 50_000),
            "",
            &["r.cfg, line 2: the record announces 50006"],
        ),
        info(
            "a million status channels",
            swap(&many("1000000,6A,999994D", "", 0), "1,RUN,,,0\r\n", &"1,R,0\r\n".repeat(999_994)),
            dat(),
            &["r.dat, byte 0: ", "frame 1", "copy the record again"],
        ),
        info(
            "sixteen megabytes of line ends",
            [vec![b'\n'; 16_000_000], b"x".to_vec()].concat(),
            dat(),
            &["r.cfg, line 16000001: the configuration ends too early"],
        ),
        info(
            "a configuration of twenty megabytes",
            "S,D,1999\n".repeat(2_300_000),
            dat(),
            &["r.cfg: the configuration has more than 16777216 bytes", "check that this is a COMTRADE configuration"],
        ),
        info(
            "a name of a megabyte",
            swap(&cfg(), "VA,A", &"V".repeat(1_000_000)),
            b"",
            &["r.cfg, line 3: the multiplier a of channel 'VVV"],
        ),
        pair(
            "no line frequency but text",
            with_line(HZ, "fifty"),
            dat(),
            &["r.cfg, line 10: the line frequency is 'fifty'", "50 or 60"],
        ),
        pair(
            "no encoding",
            with_line(ENCODING, ""),
            dat(),
            &["r.cfg, line 15: the encoding is ''", "ASCII, BINARY, BINARY32 or FLOAT32"],
        ),
        pair(
            "another encoding",
            with_line(ENCODING, "DOUBLE64"),
            dat(),
            &["r.cfg, line 15: the encoding is 'DOUBLE64'", "write the one in which the data are"],
        ),
        pair(
            "a multiplier of time of 0",
            with_line(16, "0"),
            dat(),
            &["r.cfg, line 16: the time multiplier is '0'", "write 1 where the stamps count microseconds"],
        ),
        pair(
            "in UTF-16, cut short",
            cfg()[..60].encode_utf16().flat_map(u16::to_le_bytes).collect::<Vec<u8>>(),
            dat(),
            &["r.cfg, line"],
        ),
    ]
}

fn channels() -> Vec<Case> {
    let dat = parts::dat;
    let mut all = Vec::new();
    for (name, index, new, says) in [
        ("a multiplier of 0", 5, "0", "line 3: the multiplier a of channel 'VA' is 0"),
        ("no multiplier", 5, "", "line 3: the multiplier a of channel 'VA' is an empty cell"),
        ("a multiplier in text", 5, "x", "line 3: the multiplier a of channel 'VA' is 'x', which is no number"),
        (
            "a multiplier beyond all",
            5,
            "1e999",
            "line 3: the multiplier a of channel 'VA' is '1e999', which is no finite number",
        ),
        ("no number for a multiplier", 5, "nan", "line 3: the multiplier a of channel 'VA' is 'nan'"),
        ("an offset in text", 6, "zero", "line 3: the offset b of channel 'VA' is 'zero'"),
        ("an infinite offset", 6, "inf", "line 3: the offset b of channel 'VA' is 'inf'"),
        ("decimal commas", 5, "0,05", "no channel was found for va"),
        ("another unit", 4, "W", "no channel was found for va"),
        ("a current for a voltage", 4, "A", "no channel was found for va"),
    ] {
        all.push(pair(name, field(3, index, new), dat(), &["r.cfg", says]));
    }
    let twice = line(&field(3, 2, "B"), 3, |old| cell(old, 1, "VB"));
    all.push(pair(
        "two channels of one name",
        twice,
        dat(),
        &["r.cfg: no channel was found for va", "[channels]", "\"VB\" phase B in V"],
    ));
    all.push(pair("two channels of one phase", field(4, 2, "A"), dat(), &["r.cfg: no channel was found for vb"]));
    all.push(pair(
        "secondary without a ratio",
        line(&parts::cfg(), 3, |old| old.replace(",1,1,P", ",100,0,S")),
        dat(),
        &[
            "r.cfg: the channel 'VA' is marked secondary with a ratio of 100/0",
            "put the transformer's ratio into the configuration",
        ],
    ));
    all.push(pair(
        "secondary with a negative ratio",
        line(&parts::cfg(), 3, |old| old.replace(",1,1,P", ",100,-1,s")),
        dat(),
        &["the channel 'VA' is marked secondary with a ratio of 100/-1"],
    ));
    all.push(pair(
        "a channel line cut short",
        line(&parts::cfg(), 3, |_| "1,VA,A".into()),
        dat(),
        &["r.cfg, line 3: '1,VA,A' has only 3 of the fields", "n,id,ph,ccbm,uu,a,b"],
    ));
    all.push(pair(
        "a blank channel line",
        with_line(5, ""),
        dat(),
        &["r.cfg, line 5: '' has only 1 of the fields", "correct the line"],
    ));
    all.push(pair(
        "names that say nothing",
        parts::cfg()
            .replace(",V", ",X")
            .replace(",I", ",Y")
            .replace(",A,", ",,")
            .replace(",B,", ",,")
            .replace(",C,", ",,"),
        dat(),
        &["r.cfg: no channel was found for va", "[channels]"],
    ));
    all
}

fn rates() -> Vec<Case> {
    let dat = parts::dat;
    let two = |lines: &str| swap(&parts::cfg(), "\r\n1\r\n4000,400\r\n", &format!("\r\n2\r\n{lines}\r\n"));
    vec![
        pair(
            "a rate of 0",
            with_line(RATE, "0,400"),
            dat(),
            &["r.cfg, line 12: the rate is 0", "write 0 in the line above if the time is to come from the stamps"],
        ),
        pair(
            "a negative rate",
            with_line(RATE, "-4000,400"),
            dat(),
            &["r.cfg, line 12: '-4000,400' is no rate with its last frame", "4000,180000"],
        ),
        pair("a rate in text", with_line(RATE, "fast,400"), dat(), &["r.cfg, line 12: 'fast,400' is no rate"]),
        pair("a rate of nan", with_line(RATE, "nan,400"), dat(), &["r.cfg, line 12: 'nan,400' is no rate"]),
        pair(
            "an absurd rate",
            with_line(RATE, "4e9,400"),
            dat(),
            &["r.cfg: the record has 4000000000 Hz", "4000 Hz within 0.1 %"],
        ),
        pair("a rate beyond all", with_line(RATE, "1e400,400"), dat(), &["r.cfg, line 12: '1e400,400' is no rate"]),
        pair("a slow rate", with_line(RATE, "100,400"), dat(), &["r.cfg: the record has 100 Hz", "leave rate_hz out"]),
        pair(
            "no last frame",
            with_line(RATE, "4000"),
            dat(),
            &["r.cfg, line 12: '4000' is no rate with its last frame"],
        ),
        pair(
            "a last frame of 0",
            with_line(RATE, "4000,0"),
            dat(),
            &["r.cfg, line 12: the record announces no frames", "write how many frames the data have"],
        ),
        pair("a negative last frame", with_line(RATE, "4000,-400"), dat(), &["r.cfg, line 12: '4000,-400' is no rate"]),
        pair(
            "a last frame beyond all",
            with_line(RATE, "4000,18446744073709551615"),
            dat(),
            &["r.dat, byte 8800: the data end after 400 of the 18446744073709551615 frames", "--accept-short"],
        ),
        pair(
            "a last frame beyond that",
            with_line(RATE, "4000,1e300"),
            dat(),
            &["r.dat, byte 8800: the data end after 400 of the"],
        ),
        pair(
            "no count of rates",
            with_line(RATES, "one"),
            dat(),
            &["r.cfg, line 11: the number of rates is 'one'", "a whole number, 0 when time comes from the stamps"],
        ),
        pair(
            "a negative count of rates",
            with_line(RATES, "-1"),
            dat(),
            &["r.cfg, line 11: the number of rates is '-1'"],
        ),
        pair(
            "more rates announced than there are",
            with_line(RATES, "3"),
            dat(),
            &["r.cfg, line 13: '02/03/2026,06:00:00.000000' is no rate", "as many such lines"],
        ),
        pair(
            "a huge count of rates",
            with_line(RATES, "18446744073709551615"),
            dat(),
            &["r.cfg, line 13", "is no rate"],
        ),
        pair(
            "two rates",
            two("4000,200\r\n2000,400"),
            dat(),
            &[
                "r.cfg: the record is in 2 stretches with their own rates, 2000 to 4000 Hz",
                "export the record again at one rate",
                "info",
            ],
        ),
        pair(
            "two stretches at one rate",
            two("4000,200\r\n4000,400"),
            dat(),
            &["r.cfg: the record is in 2 stretches of 4000 Hz, and time may be missing", "info"],
        ),
        pair(
            "last frames that fall",
            two("4000,400\r\n2000,200"),
            dat(),
            &["r.cfg, line 13: the last frame 200 lies before the one above, 400", "from the start of the record"],
        ),
        pair(
            "rates announced as none",
            with_line(RATES, "0").replace("4000,400", "0,0"),
            dat(),
            &["r.cfg, line 12: the record announces no frames"],
        ),
    ]
}
