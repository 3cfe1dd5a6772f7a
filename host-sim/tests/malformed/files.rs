//! Files, folders and arguments that are not what they should be.

use crate::harness::{Case, Input};
use crate::parts::{self, REPLAY};

/// Sound settings and a sound trace, with these words typed.
fn typed(name: &str, words: &[&'static str], says: &[&str]) -> Case {
    Case::new(format!("files: {name}"), words)
        .file("t.csv", parts::csv())
        .file("mill.toml", parts::settings())
        .says(says)
}

/// All cases.
pub fn cases() -> Vec<Case> {
    [inputs(), endless(), outputs(), arguments()].concat()
}

fn inputs() -> Vec<Case> {
    let replay = |trace: &'static str| [&["replay", trace][..], &REPLAY].concat();
    vec![
        typed(
            "an absent trace",
            &replay("none.csv"),
            &["none.csv: there is no such file", "wanted: a CSV trace", "check the path"],
        ),
        typed(
            "an absent record",
            &replay("none.cfg"),
            &["none.cfg: there is no such file", "a .cfg and a .dat of the same name", "check the path"],
        ),
        typed("a folder for a trace", &replay("f"), &["f: is a folder", "name the file in it"])
            .input(Input::Folder("f")),
        typed("a folder for a record", &replay("f.cfg"), &["f.cfg: is a folder"]).input(Input::Folder("f.cfg")),
        typed(
            "data without configuration",
            &replay("r.dat"),
            &["r.dat: no .cfg of the same name lies beside it", "copy the .cfg"],
        )
        .file("r.dat", parts::dat()),
        typed(
            "a configuration without data",
            &replay("r.cfg"),
            &["r.cfg: no .dat of the same name lies beside it", "copy the .dat"],
        )
        .file("r.cfg", parts::cfg()),
        typed("a folder for data", &replay("r.cfg"), &["r.dat: is a folder"])
            .file("r.cfg", parts::cfg())
            .input(Input::Folder("r.dat")),
        typed("a trace below a file", &["info", "t.csv/x"], &["t.csv/x: cannot be", "to mend it: "]),
        typed("an empty name", &["info", ""], &["there is no such file"]),
        typed(
            "absent settings",
            &["replay", "t.csv", "--settings", "none.toml"],
            &["none.toml: there is no such file", "a settings file in TOML", "check the path"],
        ),
        typed("a folder for settings", &["check-settings", "f"], &["f: is a folder", "name the file in it"])
            .input(Input::Folder("f")),
        typed("a trace for settings", &["check-settings", "t.csv"], &["t.csv, line 1", "wanted: TOML"]),
        typed("a record for settings", &["check-settings", "r.dat"], &["r.dat"]).file("r.dat", parts::dat()),
        typed("standard input empty", &["info", "-"], &["-: is empty"]).stdin("", 0),
        typed("standard input a configuration", &["info", "-"], &["-: is the configuration of a COMTRADE record"])
            .stdin(parts::cfg(), 0),
        typed("standard input binary", &["info", "-"], &["-: is neither text nor COMTRADE"]).stdin(parts::dat(), 0),
        typed("standard input cut", &[&["replay", "-"][..], &REPLAY].concat(), &["-, byte", "cut inside frame"])
            .stdin(&parts::cff()[..3000], 0),
        typed(
            "settings from standard input empty",
            &["check-settings", "-"],
            &["-, key supply: the table [supply] is missing", "[supply] frequency_hz = 50"],
        )
        .stdin("", 0),
        typed(
            "two absent traces, and a file for their folders",
            &["replay", "none.csv", "gone.cfg", "--settings", "mill.toml", "--out", "t.csv"],
            &["t.csv: cannot be written: a file is where a folder is wanted", "move that file away"],
        )
        .table(),
    ]
}

/// A gigabyte where a line should be.
fn endless() -> Vec<Case> {
    const GIGABYTE: u64 = 1 << 30;
    let longer = "longer than 16777216 bytes";
    vec![
        typed("a line of a gigabyte", &["info", "-"], &["-, byte 0", longer, "lines that end"])
            .stdin("t_s,va_v,x", GIGABYTE),
        typed("a second line of a gigabyte", &[&["replay", "-"][..], &REPLAY].concat(), &["-, byte 34", longer])
            .stdin("t_s,va_v,vb_v,vc_v,ia_a,ib_a,ic_a\n0,1", GIGABYTE),
        typed("a configuration of a gigabyte", &["info", "-"], &["-, byte", longer])
            .stdin("--- file type: CFG ---\nx", GIGABYTE),
        typed("a file of a gigabyte of zeros", &["info", "big"], &["big: is neither text nor COMTRADE"])
            .input(Input::Sparse("big", vec![], GIGABYTE)),
        typed("names and a gigabyte of zeros", &["info", "big"], &["big, byte 9", longer]).input(Input::Sparse(
            "big",
            [&b"t_s,va_v\n"[..], &[b' '; 5000]].concat(),
            GIGABYTE,
        )),
        typed(
            "a configuration file of a gigabyte",
            &["info", "big.cfg"],
            &["big.cfg: the configuration has more than 16777216 bytes"],
        )
        .input(Input::Sparse("big.cfg", parts::cfg().into_bytes(), GIGABYTE))
        .file("big.dat", ""),
        typed("text data of a gigabyte", &["info", "big.cfg"], &["big.dat", "byte"])
            .file("big.cfg", parts::cfg_text())
            .input(Input::Sparse("big.dat", b"1,0".to_vec(), GIGABYTE)),
        typed(
            "settings of a gigabyte",
            &["check-settings", "big"],
            &["big: longer than 1 MiB", "a settings file in TOML"],
        )
        .input(Input::Sparse("big", vec![], GIGABYTE)),
        typed("settings without end", &["check-settings", "-"], &["-: longer than 1 MiB"]).stdin("#", GIGABYTE),
    ]
}

fn outputs() -> Vec<Case> {
    let replay = |more: &[&'static str]| [&["replay", "t.csv", "--settings", "mill.toml"][..], more].concat();
    let folder = || Input::Folder("f");
    vec![
        typed(
            "a folder for --json",
            &replay(&["--json", "f"]),
            &["f: cannot be written: it is a folder", "name a file in it"],
        )
        .input(folder()),
        typed(
            "a folder for --json of info",
            &["info", "t.csv", "--json", "f"],
            &["f: cannot be written: it is a folder"],
        )
        .input(folder()),
        typed(
            "a folder for --json of check-settings",
            &["check-settings", "mill.toml", "--json", "f"],
            &["f: cannot be written: it is a folder"],
        )
        .input(folder()),
        typed(
            "--json in a folder that is not there",
            &replay(&["--json", "no/out.json"]),
            &["no/out.json: cannot be written: its folder is not there", "make the folder first"],
        ),
        typed(
            "--json below a file",
            &replay(&["--json", "t.csv/out.json"]),
            &["t.csv/out.json: cannot be written: a file is where a folder is wanted", "move that file away"],
        ),
        typed(
            "--out is a file",
            &replay(&["--out", "t.csv"]),
            &["t.csv: cannot be written: a file is where a folder is wanted"],
        ),
        typed(
            "--out below a file",
            &replay(&["--out", "t.csv/out"]),
            &["t.csv/out: cannot be written: a file is where a folder is wanted"],
        ),
        typed(
            "--out in a place where nothing can be",
            &replay(&["--out", "/proc/none/out"]),
            &["/proc/none/out: cannot be written", "to mend it: "],
        ),
        typed(
            "--out in a new folder, and a name too long",
            &replay(&["--out", LONG_BELOW]),
            &["cannot be written", "choose a shorter name"],
        ),
        typed("--bits is a file", &replay(&["--bits", "t.csv"]), &["t.csv", "to mend it: "]),
        typed(
            "a name of a file too long",
            &["info", "t.csv", "--json", LONG],
            &["cannot be written", "choose a shorter name"],
        ),
        typed(
            "one output can be written, the other cannot",
            &replay(&["--json", "out.json", "--out", "t.csv"]),
            &["t.csv: cannot be written"],
        ),
    ]
}

/// More than the 255 bytes that a name may have.
const LONG: &str = LONG_BELOW.split_at(10).1;
/// The same in a folder that is to be made.
const LONG_BELOW: &str = "new/inner/\
    0123456789012345678901234567890123456789012345678901234567890123456789012345678901234567890123456789\
    0123456789012345678901234567890123456789012345678901234567890123456789012345678901234567890123456789\
    0123456789012345678901234567890123456789012345678901234567890123456789";

fn arguments() -> Vec<Case> {
    let usage = |name: &str, words: &[&'static str], says: &[&str]| typed(name, words, says).usage();
    let replay = |more: &[&'static str]| [&["replay", "t.csv", "--settings", "mill.toml"][..], more].concat();
    vec![
        usage("no such verb", &["replya", "t.csv"], &["replya", "replay"]),
        usage("no trace", &["replay", "--settings", "mill.toml"], &["TRACE"]),
        usage("no settings", &["replay", "t.csv"], &["--settings <FILE>"]),
        usage("no such option", &replay(&["--fast"]), &["--fast"]),
        usage("a mass in text", &replay(&["--mass-kg", "ten"]), &["--mass-kg", "a mass in kg"]),
        usage("a negative mass", &replay(&["--mass-kg", "-1"]), &["--mass-kg", "a mass in kg"]),
        usage("a mass of nan", &replay(&["--mass-kg", "nan"]), &["--mass-kg", "a mass in kg"]),
        usage("an expectation of nothing", &replay(&["--expect", ""]), &["--expect"]),
        usage("an unknown cause", &replay(&["--expect", "trip:jams"]), &["--expect", "thermal-overload, jam"]),
        usage("a time that is none", &replay(&["--expect", "trip:jam@noon"]), &["--expect", "SECONDS+-TOLERANCE"]),
        usage(
            "two traces without a folder",
            &["replay", "t.csv", "t.csv", "--settings", "mill.toml"],
            &["2 traces need --out DIR"],
        ),
        usage("a value missing", &["replay", "t.csv", "--settings"], &["--settings <FILE>"]),
    ]
}
