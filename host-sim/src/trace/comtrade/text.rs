//! Text of a configuration, whatever encoding it was written in.
//!
//! The 2013 revision asks for UTF-8; older recorders write their country's code page without
//! saying so. Names alone depend on the guess: commas, digits and line ends are ASCII in all of
//! them.

use encoding_rs::{Encoding, GB18030, WINDOWS_1251, WINDOWS_1252};

/// Decodes the text; what follows a 0x1A (an old end-of-file mark) is cut off.
pub(super) fn decode(bytes: &[u8]) -> String {
    if let Some((encoding, mark)) = Encoding::for_bom(bytes) {
        return clean(&encoding.decode_without_bom_handling(&bytes[mark..]).0);
    }
    match std::str::from_utf8(bytes) {
        Ok(text) => clean(text),
        Err(_) => clean(&guess(bytes).decode_without_bom_handling(bytes).0),
    }
}

/// Cuts at the first end-of-file mark and drops NULs.
fn clean(text: &str) -> String {
    let text = text.split('\u{1a}').next().unwrap_or("");
    text.replace('\0', "")
}

/// Which code page the bytes above ASCII look like.
///
/// GB 2312 text comes in pairs, both bytes 0xA1 and up, mostly of the frequent characters
/// (lead 0xB0 to 0xD7). Cyrillic words are runs of 0xC0 to 0xFF; Latin letters stand alone.
fn guess(bytes: &[u8]) -> &'static Encoding {
    let (mut pairs, mut frequent, mut odd) = (0, 0, 0);
    let (mut in_words, mut high, mut lower) = (0, 0, 0);
    for run in bytes.split(u8::is_ascii).filter(|run| !run.is_empty()) {
        high += run.len();
        let letters = run.iter().filter(|b| **b >= 0xC0 || matches!(**b, 0xA8 | 0xB8)).count();
        lower += run.iter().filter(|b| **b >= 0xE0).count();
        if run.len() > 2 && letters == run.len() {
            in_words += run.len();
        }
        if run.len() % 2 == 1 {
            odd += 1;
            continue;
        }
        for pair in run.chunks_exact(2) {
            if pair[0] >= 0xA1 && pair[1] >= 0xA1 {
                pairs += 1;
                frequent += usize::from((0xB0..=0xD7).contains(&pair[0]));
            } else {
                odd += 1;
            }
        }
    }
    // Lower-case Cyrillic is 0xE0 and up, where frequent GB leads are not.
    if odd == 0 && pairs > 0 && frequent * 3 >= pairs * 2 && lower * 2 < high {
        GB18030
    } else if in_words * 2 >= high {
        WINDOWS_1251
    } else {
        WINDOWS_1252
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_in_four_encodings() {
        // Oracle: the encoder of the same tables; the words are ordinary ones.
        for (text, encoding) in [
            ("Estação de Medição,Oscilógrafo", WINDOWS_1252),
            ("Umspannwerk Süd,Mühle", WINDOWS_1252),
            ("11,Вермиана версия 101110", WINDOWS_1251),
            ("1,ОМП пуск,,,1\n2,Реле Отказ", WINDOWS_1251),
            ("25,装置动作,0\n26,线路保护,0\nUa线路,A", GB18030),
        ] {
            let bytes = encoding.encode(text).0;
            assert_eq!(decode(&bytes), text);
        }
        assert_eq!(decode("Mühle ⚙".as_bytes()), "Mühle ⚙");
        assert_eq!(decode(b"\xef\xbb\xbfa"), "a");
    }

    #[test]
    fn end_of_file_marks_are_cut() {
        // IEEE C37.111-1991 and -1999: the ASCII files may end with the mark 1A hex.
        assert_eq!(decode(b"B,3\x1a\x1a\x1a"), "B,3");
    }
}
