//! Sentences broken at blanks, so that messages and tables fit a terminal.

use std::fmt::Write as _;

/// Columns of a terminal that messages and tables keep to.
pub const WIDTH: usize = 80;

/// Appends a sentence, broken at blanks; `first` stands before its first row, `rest` before the others.
/// A word that is longer than a row has one of its own.
pub fn wrap(out: &mut String, first: &str, rest: &str, sentence: &str) {
    let mut row = first.to_owned();
    let mut empty = true;
    for word in sentence.split_whitespace() {
        if !empty && row.chars().count() + 1 + word.chars().count() > WIDTH {
            let _ = writeln!(out, "{row}");
            rest.clone_into(&mut row);
            empty = true;
        }
        if !empty {
            row.push(' ');
        }
        row.push_str(word);
        empty = false;
    }
    let _ = writeln!(out, "{row}");
}

/// Breaks those lines of a message that are too long; what follows a break stands four columns deeper.
pub fn fold(message: &str) -> String {
    let mut out = String::with_capacity(message.len());
    for line in message.lines() {
        if line.chars().count() <= WIDTH {
            let _ = writeln!(out, "{line}");
            continue;
        }
        let sentence = line.trim_start();
        let indent = &line[..line.len() - sentence.len()];
        wrap(&mut out, indent, &format!("{indent}    "), sentence);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_lines_are_broken_and_short_ones_kept() {
        let lines = format!("a  b\n  wanted: {}\n    key = 1\n{}\n", "word ".repeat(30).trim(), "x".repeat(100));
        let folded = fold(&lines);
        let rows: Vec<&str> = folded.lines().collect();
        let [first, second, third, fourth, key, long] = rows[..] else { panic!("{folded}") };
        assert_eq!((first, key, long), ("a  b", "    key = 1", &*"x".repeat(100)));
        assert!(second.starts_with("  wanted: word") && third.starts_with("      word"), "{folded}");
        assert!([second, third, fourth].iter().all(|row| row.chars().count() <= WIDTH));
        let words: usize = [second, third, fourth].iter().map(|row| row.split_whitespace().count()).sum();
        assert_eq!(words, 31);
    }
}
