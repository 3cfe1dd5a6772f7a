//! What a trace is known to hold: a jam at a time, or honest work alone.
//!
//! ```text
//! # verdict = jam at 25.4 s        a comment before the line of names of a CSV trace
//! "wedge-07.cfg" = "honest"        a line of verdicts.toml in the folder, for any trace
//! ```

use std::fmt;
use std::io::{BufRead as _, BufReader, Read as _};
use std::path::Path;

use toml::de::{DeTable, DeValue};

use crate::error::Fault;
use crate::settings::nearest;

/// The file that tells verdicts.
pub const FILE: &str = "verdicts.toml";
/// A longer one is something else, bytes.
const LONGEST: u64 = 1 << 20;
/// Comments are looked for in so many bytes of a trace.
const HEAD: u64 = 1 << 16;
/// The latest jam, s: a year.
const LATEST_S: f64 = 3.2e7;

/// What a person who knows the trace says of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Verdict {
    /// The mill jams, s after the first row; all before is honest.
    Jam(f64),
    /// Nothing in it deserves a trip.
    Honest,
}

impl fmt::Display for Verdict {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Jam(t_s) => write!(f, "jam at {t_s} s"),
            Self::Honest => f.write_str("honest"),
        }
    }
}

impl Verdict {
    /// From its words.
    fn read(words: &str) -> Option<Self> {
        let words = words.trim();
        if words.eq_ignore_ascii_case("honest") {
            return Some(Self::Honest);
        }
        let rest = words.get(..7).filter(|head| head.eq_ignore_ascii_case("jam at ")).map(|_| &words[7..])?;
        let figure = rest.trim().trim_end_matches(['s', 'S']).trim();
        let t_s: f64 = figure.parse().ok()?;
        (0.0..=LATEST_S).contains(&t_s).then_some(Self::Jam(t_s))
    }
}

const WANTED: &str = "\"honest\", or \"jam at 25.4 s\" with the time after the first row";

/// The verdicts of a folder's file; none where there is no such file.
///
/// # Errors
/// It cannot be read, is no TOML, or has a line that is no verdict or is of no trace; `names` are the traces.
pub fn file(folder: &Path, names: &[String]) -> Result<Vec<(String, Verdict)>, Fault> {
    let path = folder.join(FILE);
    let name = path.display().to_string();
    let wanted = "lines such as \"jam-1.cfg\" = \"jam at 25.4 s\"";
    let text = match std::fs::File::open(&path) {
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(Vec::new()),
        file => {
            let mut text = String::new();
            let read = file.and_then(|file| file.take(LONGEST).read_to_string(&mut text));
            read.map_err(|error| Fault::unreadable(&*name, &error, wanted))?;
            text
        }
    };
    let line = |offset: usize| format!("line {}", text[..offset.min(text.len())].matches('\n').count() + 1);
    let root = DeTable::parse(&text).map_err(|error| {
        let place = line(error.span().map_or(0, |span| span.start));
        let found = error.message().lines().collect::<Vec<_>>().join(", ");
        Fault::new(&*name, found).at(place).wanted(wanted).mend("put names with a point between quotation marks")
    })?;
    let mut out = Vec::new();
    for (key, value) in root.get_ref() {
        let at = format!("{}, key {}", line(key.span().start), key.get_ref());
        if matches!(value.get_ref(), DeValue::Table(_)) {
            return Err(Fault::new(&*name, "a table")
                .at(at)
                .wanted(wanted)
                .mend("put names with a point between quotation marks"));
        }
        let Some(of) = names.iter().find(|name| is(name, key.get_ref())) else {
            let near = nearest(key.get_ref(), names.iter().map(String::as_str));
            let mend = near.map_or("remove the line, or copy the trace into the folder".to_owned(), |near| {
                format!("did you mean {near}?")
            });
            return Err(Fault::new(&*name, "there is no such trace")
                .at(at)
                .wanted("a trace of this folder")
                .mend(mend));
        };
        let words = value.get_ref().as_str().unwrap_or_default();
        let Some(verdict) = Verdict::read(words) else {
            let found = text.get(value.span()).unwrap_or_default().lines().next().unwrap_or_default();
            return Err(Fault::new(&*name, found).at(at).wanted(WANTED).mend("write one of the two"));
        };
        if out.iter().any(|(known, _)| known == of) {
            return Err(Fault::new(&*name, format!("{of} has a verdict already"))
                .at(at)
                .wanted("a line for each trace")
                .mend("remove one of the two"));
        }
        out.push((of.clone(), verdict));
    }
    Ok(out)
}

/// Whether a trace's name is meant, with its ending or without.
fn is(name: &str, key: &str) -> bool {
    name == key || Path::new(name).file_stem().is_some_and(|stem| stem == key)
}

/// The verdict in the comments that a CSV trace begins with, if there is one.
///
/// # Errors
/// It is no verdict.
pub fn comment(path: &Path) -> Result<Option<Verdict>, Fault> {
    // What cannot be read is told of where the trace is.
    let Ok(file) = std::fs::File::open(path) else { return Ok(None) };
    for (at, line) in BufReader::new(file.take(HEAD)).split(b'\n').enumerate() {
        let Ok(line) = line else { break };
        let line = String::from_utf8_lossy(&line);
        let line = line.trim_start_matches('\u{feff}').trim();
        let Some(words) = line.strip_prefix('#') else {
            if line.is_empty() {
                continue;
            }
            break;
        };
        let Some((key, words)) = words.split_once('=').or_else(|| words.split_once(':')) else { continue };
        if !key.trim().eq_ignore_ascii_case("verdict") {
            continue;
        }
        let words = words.trim().trim_matches('"');
        return Verdict::read(words).map(Some).ok_or_else(|| {
            Fault::new(path.display().to_string(), format!("verdict = {words}"))
                .at(format!("line {}", at + 1))
                .wanted(WANTED)
                .mend("write, for example: # verdict = jam at 25.4 s")
        });
    }
    Ok(None)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verdicts_are_read_and_what_is_none_is_refused() {
        for (words, wanted) in [
            ("honest", Some(Verdict::Honest)),
            (" Honest ", Some(Verdict::Honest)),
            ("jam at 25.4 s", Some(Verdict::Jam(25.4))),
            ("jam at 0", Some(Verdict::Jam(0.0))),
            ("Jam at 7s", Some(Verdict::Jam(7.0))),
            ("jam", None),
            ("jam at -1 s", None),
            ("jam at soon", None),
            ("jam at nan s", None),
            ("jams at 3 s", None),
            ("", None),
        ] {
            assert_eq!(Verdict::read(words), wanted, "{words}");
        }
    }

    #[test]
    fn the_file_names_traces_with_or_without_their_ending() {
        let folder = tempfile::tempdir().unwrap();
        let names = ["a.cfg", "b.csv"].map(String::from);
        assert_eq!(file(folder.path(), &names), Ok(Vec::new()));
        for (text, wanted) in [
            ("\"a.cfg\" = \"honest\"\nb = \"jam at 2 s\"\n", Ok(2)),
            ("\n\"c.cfg\" = \"honest\"\n", Err(["line 2, key c.cfg", "did you mean a.cfg?"])),
            ("a = \"maybe\"", Err(["line 1, key a: \"maybe\"", "jam at 25.4 s"])),
            ("a = 3", Err(["line 1, key a: 3", "honest"])),
            ("a.cfg = \"honest\"", Err(["line 1, key a: a table", "quotation marks"])),
            ("a = \"honest\"\n\"a.cfg\" = \"honest\"", Err(["line 2, key a.cfg", "has a verdict already"])),
            ("a = ", Err(["line 1", "lines such as"])),
        ] {
            std::fs::write(folder.path().join(FILE), text).unwrap();
            match (file(folder.path(), &names), wanted) {
                (Ok(all), Ok(count)) => assert_eq!(all.len(), count),
                (Err(fault), Err(parts)) => {
                    let fault = fault.to_string();
                    assert!(parts.iter().all(|part| fault.contains(part)), "{fault}");
                }
                (found, wanted) => panic!("{text}: {found:?}, {wanted:?} wanted"),
            }
        }
    }

    #[test]
    fn a_comment_tells_it_before_the_line_of_names() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.csv");
        for (text, wanted) in [
            ("# start = 2026-01-01\n# verdict = jam at 3.5 s\nt_s,ia_a\n", Some(Verdict::Jam(3.5))),
            ("#verdict: honest\r\nt_s,ia_a\r\n", Some(Verdict::Honest)),
            ("t_s,ia_a\n# verdict = honest\n", None),
            ("# verdict\nt_s,ia_a\n", None),
        ] {
            std::fs::write(&path, text).unwrap();
            assert_eq!(comment(&path), Ok(wanted), "{text}");
        }
        std::fs::write(&path, "# logger\n# verdict = jammed\n").unwrap();
        let fault = comment(&path).unwrap_err().to_string();
        assert!(fault.contains("line 2: verdict = jammed") && fault.contains("to mend it"), "{fault}");
    }
}
