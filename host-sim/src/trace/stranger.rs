//! What people hand over that is no trace, told by its first bytes, so that the cure can be told as well.

use crate::error::{Fault, quoted};

/// A fault for a stream that begins with `head`, if that is known to be something else.
pub(super) fn stranger(name: &str, head: &[u8]) -> Option<Fault> {
    let fault = |found: &str, mend: &str| {
        let wanted = "a CSV trace, a COMTRADE .cfg with its .dat, or a .cff";
        Some(Fault::new(name, found).wanted(wanted).mend(mend))
    };
    if is_utf16(head) {
        let mend = format!("save it as CSV in UTF-8, or run: iconv -f UTF-16 -t UTF-8 {} > new.csv", quoted(name));
        return fault("is text in UTF-16", &mend);
    }
    match head {
        // Signatures of ZIP (which newer spreadsheets are), of older office documents, and of gzip (RFC 1952).
        [b'P', b'K', 3, 4, ..] => fault(
            "is a spreadsheet, or an archive in ZIP",
            "save the table as CSV, or unpack the archive and name a file in it",
        ),
        [0xD0, 0xCF, 0x11, 0xE0, ..] => fault("is a document of an office program", "save the table as CSV"),
        [0x1F, 0x8B, ..] => fault("is compressed", "unpack it: gunzip FILE, or gunzip -c FILE | shaftwork ... -"),
        _ if is_configuration(head) => fault(
            "is the configuration of a COMTRADE record, without its data",
            "give both files one name, .cfg and .dat, and name one of them",
        ),
        _ if name.to_ascii_lowercase().ends_with(".cff") => Some(
            Fault::new(name, "does not begin as a record in one file does")
                .at("line 1")
                .wanted("--- file type: CFG ---")
                .mend("copy the file again; if it is a .cfg or .dat under another name, rename it"),
        ),
        _ if ends_in_cr(head) => fault(
            "is a text whose lines end in CR alone",
            &format!("end them in LF, or run: tr '\\r' '\\n' < {} > new.csv", quoted(name)),
        ),
        _ if head.contains(&0) => fault("is neither text nor COMTRADE", "name a COMTRADE record by its .cfg"),
        _ => None,
    }
}

/// Whether there is a CR before more text, and no LF at all.
fn ends_in_cr(head: &[u8]) -> bool {
    let text = head.trim_ascii_end();
    text.contains(&b'\r') && !text.contains(&b'\n') && !text.contains(&0)
}

/// By its mark, or by a zero in every other byte of plain Latin text.
fn is_utf16(head: &[u8]) -> bool {
    let zeros = |from: usize| head.iter().skip(from).step_by(2).take(16).filter(|b| **b == 0).count();
    let [even, odd] = [zeros(0), zeros(1)];
    matches!(head, [0xFF, 0xFE, ..] | [0xFE, 0xFF, ..]) || (head.len() >= 32 && even.abs_diff(odd) >= 15)
}

/// Whether the second line is `TT,##A,##D`.
fn is_configuration(head: &[u8]) -> bool {
    let Some(line) = head.split(|b| *b == b'\n').nth(1) else { return false };
    let line = String::from_utf8_lossy(line).to_ascii_uppercase();
    let fields: Vec<&str> = line.split(',').map(str::trim).collect();
    let whole = |field: &str| !field.is_empty() && field.bytes().all(|b| b.is_ascii_digit());
    match fields.as_slice() {
        [all, analog, digital] => {
            whole(all) && analog.strip_suffix('A').is_some_and(whole) && digital.strip_suffix('D').is_some_and(whole)
        }
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn strangers_are_told_apart() {
        // The marks and signatures of the formats' own standards.
        let utf16: Vec<u8> = "t_s,va_v,vb_v,vc_v,ia_a\n".encode_utf16().flat_map(u16::to_le_bytes).collect();
        let marked = [&[0xFF, 0xFE][..], &utf16].concat();
        for (head, word) in [
            (&utf16[..], "UTF-16"),
            (&marked, "UTF-16"),
            (b"PK\x03\x04rest", "spreadsheet"),
            (b"\xD0\xCF\x11\xE0\xA1", "office"),
            (b"\x1F\x8B\x08", "compressed"),
            (b"S,D,1999\r\n6, 6A, 0D\r\n", "configuration"),
            (b"abc\0", "neither"),
            (b"t_s,va_v\r0,1\r", "CR alone"),
        ] {
            let fault = stranger("t.csv", head).unwrap();
            assert!(fault.found.contains(word) && !fault.mend.is_empty(), "{fault}");
        }
        assert!(stranger("T.CFF", b"x").unwrap().wanted.contains("file type"));
        assert_eq!(stranger("t.csv", b"t_s,va_v\n0,1\n"), None);
        assert_eq!(stranger("t.csv", b"t_s,va_v\n6,6A,0\n"), None);
        assert_eq!(stranger("t.csv", b"t_s,va_v\r"), None, "the LF is not yet there");
        let cure = stranger("my trace's.csv", &marked).unwrap().mend;
        assert!(cure.contains(r#"UTF-8 "my trace's.csv" > new.csv"#), "{cure}");
    }
}
