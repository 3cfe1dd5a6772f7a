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
pub fn field(number: usize, index: usize, new: &str) -> String {
    line(&parts::cfg(), number, |old| cell(old, index, new))
}

/// Line 3 has the first channel; these follow the seven channels.
const HZ: usize = 10;
const ENCODING: usize = 15;

/// The configuration with a line replaced.
pub fn with_line(number: usize, new: &str) -> String {
    line(&parts::cfg(), number, |_| new.to_owned())
}

/// All cases.
pub fn cases() -> Vec<Case> {
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
