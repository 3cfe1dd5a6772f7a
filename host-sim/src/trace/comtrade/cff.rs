//! The single-file form (.cff): sections, each under a line such as
//! `--- file type: CFG ---` or `--- file type: DAT BINARY: 4214 ---`.

use crate::error::Fault;
use crate::trace::source::Source;

/// Bytes that a configuration may have: more than 200 000 channels.
pub(super) const MOST: usize = 16 * 1024 * 1024;

/// A line between sections.
#[derive(Debug, PartialEq, Eq)]
struct Separator {
    /// `CFG`, `INF`, `HDR`, `DAT` in upper case.
    section: String,
    /// The encoding and the count of bytes as written.
    encoding: String,
    bytes: Option<u64>,
}

/// Whether a stream begins like a .cff.
pub(in crate::trace) fn is_cff(head: &[u8]) -> bool {
    let head = head.strip_prefix(b"\xef\xbb\xbf").unwrap_or(head).trim_ascii_start();
    let line = head.split(|b| *b == b'\n').next().unwrap_or(head);
    separator(line).is_some()
}

/// Reads a separator, in any case and with any blanks.
fn separator(line: &[u8]) -> Option<Separator> {
    let line = line.trim_ascii();
    if line.len() > 200 || !line.starts_with(b"--") {
        return None;
    }
    let text = String::from_utf8_lossy(line).to_ascii_uppercase();
    let text = text.trim_matches('-').trim();
    let text = text.strip_prefix("FILE")?.trim_start().strip_prefix("TYPE")?.trim_start().strip_prefix(':')?;
    let mut parts = text.splitn(2, ':');
    let mut words = parts.next()?.split_whitespace();
    let section = words.next()?.to_owned();
    let encoding = words.next().unwrap_or("").to_owned();
    let bytes = parts.next().and_then(|b| b.trim().parse().ok());
    Some(Separator { section, encoding, bytes })
}

/// Whether a line of text data is in truth the next separator.
pub(super) fn is_separator(line: &[u8]) -> bool {
    separator(line).is_some()
}

/// What precedes the data.
pub(super) struct Front {
    /// The configuration's bytes.
    pub config: Vec<u8>,
    /// The encoding that the separator of the data names.
    pub encoding: String,
    /// The count of bytes that it names.
    pub bytes: Option<u64>,
}

/// Reads up to the data, which the stream then stands at.
pub(super) fn front(source: &mut Source) -> Result<Front, Fault> {
    let file = source.name().to_owned();
    let mut config: Option<Vec<u8>> = None;
    let mut section = String::new();
    while let Some(line) = source.line()? {
        let (offset, bytes) = (line.offset, line.bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(line.bytes));
        if let Some(found) = separator(bytes) {
            match (found.section.as_str(), config.take()) {
                ("DAT", Some(config)) => return Ok(Front { config, encoding: found.encoding, bytes: found.bytes }),
                ("DAT", None) => {
                    return Err(Fault::new(file, "the data come before the configuration")
                        .at(format!("byte {offset}"))
                        .wanted("the sections CFG, INF, HDR, DAT in this order")
                        .mend("put the configuration before the data"));
                }
                ("CFG", None) => config = Some(Vec::new()),
                ("CFG", Some(_)) => {
                    return Err(Fault::new(file, "there is a second configuration")
                        .at(format!("byte {offset}"))
                        .wanted("the sections CFG, INF, HDR, DAT, each once")
                        .mend("put each record into a file of its own"));
                }
                (_, kept) => config = kept,
            }
            section = found.section;
            continue;
        }
        if section == "CFG"
            && let Some(config) = config.as_mut()
        {
            if config.len() + bytes.len() > MOST {
                return Err(too_long(&file).at(format!("byte {offset}")));
            }
            config.extend_from_slice(bytes);
            config.push(b'\n');
        }
    }
    let offset = source.offset();
    Err(Fault::new(file, "holds no section of data")
        .at(format!("byte {offset}"))
        .wanted("a line such as --- file type: DAT BINARY: 4214 --- with the records after it")
        .mend("copy the file again; if that line is there in other words, correct it"))
}

/// The fault of a configuration that is longer than any can be.
pub(super) fn too_long(file: &str) -> Fault {
    Fault::new(file, format!("the configuration has more than {MOST} bytes"))
        .wanted("a line for each channel and a few more")
        .mend("check that this is a COMTRADE configuration")
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn separators_as_they_are_met() {
        // IEEE C37.111-2013, single file; the sloppy ones are common practice, no source.
        for (line, section, encoding, bytes) in [
            ("--- file type: CFG ---", "CFG", "", None),
            ("--- file type: DAT ASCII ---\r", "DAT", "ASCII", None),
            ("--- file type: DAT FLOAT32: 4214 ---", "DAT", "FLOAT32", Some(4214)),
            ("---FILE TYPE:dat binary:12---", "DAT", "BINARY", Some(12)),
            ("-- File  Type : CFG", "CFG", "", None),
            ("---- file type: DAT BINARY 4214 ----", "DAT", "BINARY", None),
        ] {
            let want = Separator { section: section.into(), encoding: encoding.into(), bytes };
            assert_eq!(separator(line.as_bytes()), Some(want), "{line}");
        }
        assert_eq!(separator(b"1,-83,68"), None);
        assert_eq!(separator(b"--- something else ---"), None);
        assert!(is_cff(b"\xef\xbb\xbf\r\n--- file type: CFG ---\r\n") && !is_cff(b"t_s,va_v\n"));
    }

    #[test]
    fn the_configuration_is_parted_from_the_rest() {
        let text = b"--- file type: CFG ---\na\r\nb\n--- file type: INF ---\nx\n--- file type: HDR ---\n\n--- file type: DAT BINARY: 3 ---\n\x01\n\x02";
        let mut source = Source::new("t", Box::new(&text[..]), None);
        let front = front(&mut source).unwrap();
        assert_eq!(
            (front.config.as_slice(), front.encoding.as_str(), front.bytes),
            (&b"a\nb\n"[..], "BINARY", Some(3))
        );
        assert_eq!(source.peek(9).unwrap(), b"\x01\n\x02");
    }

    proptest! {
        #[test]
        fn never_panics(line in proptest::collection::vec(any::<u8>(), 0..60)) {
            let _ = separator(&line);
            let _ = separator(&[&b"--- file type:"[..], &line].concat());
        }
    }
}
