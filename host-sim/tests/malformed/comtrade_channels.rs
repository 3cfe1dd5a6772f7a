//! COMTRADE configurations with one thing wrong about a channel or a rate.

use crate::comtrade::{field, pair, with_line};
use crate::harness::Case;
use crate::parts::{self, cell, line, swap};

const RATES: usize = 11;
const RATE: usize = 12;

/// All cases.
pub fn cases() -> Vec<Case> {
    [channels(), rates()].concat()
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
