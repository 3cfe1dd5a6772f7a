//! What the screen can show: columns, colour, block characters; and lines broken to fit it.

use std::io::{IsTerminal, Write as _};

use terminal_size::{Width, terminal_size_of};
use textwrap::{Options, WordSplitter, WrapAlgorithm};

/// Columns of a line at most, and where there is no terminal.
pub const WIDTH: usize = 80;
/// Columns below which nothing is made narrower.
const NARROWEST: usize = 56;

/// A screen, or a file or pipe in its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Screen {
    /// Columns of a line at most.
    pub width: usize,
    /// Whether a person looks at it: lines are broken for people only.
    pub terminal: bool,
    /// Whether words may be coloured.
    pub colour: bool,
    /// Whether block characters can be shown; else plain ASCII.
    pub blocks: bool,
}

impl Screen {
    /// Standard output.
    pub fn stdout() -> Self {
        Self::of(&std::io::stdout(), terminal_size_of(std::io::stdout()))
    }

    /// Standard error.
    pub fn stderr() -> Self {
        Self::of(&std::io::stderr(), terminal_size_of(std::io::stderr()))
    }

    /// A file or a pipe, in plain ASCII.
    pub const fn plain() -> Self {
        Self { width: WIDTH, terminal: false, colour: false, blocks: false }
    }

    fn of(stream: &impl IsTerminal, size: Option<(Width, terminal_size::Height)>) -> Self {
        let terminal = stream.is_terminal();
        let width = size.filter(|_| terminal).map_or(WIDTH, |(Width(columns), _)| columns.into());
        let variable = |name: &str| std::env::var(name).ok();
        Self {
            width: width.clamp(NARROWEST, WIDTH),
            terminal,
            colour: terminal && colour(variable),
            blocks: cfg!(windows) || utf8(variable),
        }
    }

    /// A text in a colour or weight by its code (ECMA-48, SGR), where that is wanted.
    pub fn paint(self, code: &str, text: &str) -> String {
        if self.colour { format!("\x1b[{code}m{text}\x1b[0m") } else { text.to_owned() }
    }

    /// A text broken at blanks to fit, later lines indented; a word that is too long is broken where the line ends.
    pub fn lines(self, indent: usize, text: &str) -> Vec<String> {
        let indent = " ".repeat(indent);
        let options = Options::new(self.width)
            .subsequent_indent(&indent)
            .word_splitter(WordSplitter::NoHyphenation)
            .wrap_algorithm(WrapAlgorithm::FirstFit);
        textwrap::wrap(text, options).into_iter().map(std::borrow::Cow::into_owned).collect()
    }
}

/// Says something on standard error: broken to fit for a person, each line whole for a script. Where standard error
/// is closed the exit status says what is left to say.
pub fn say(text: &str) {
    let _ = std::io::stderr().lock().write_all(said(Screen::stderr(), text).as_bytes());
}

fn said(screen: Screen, text: &str) -> String {
    let line = |line: &str| {
        let indent = line.len() - line.trim_start().len() + 2;
        if screen.terminal { screen.lines(indent, &printable(line)).join("\n") + "\n" } else { format!("{line}\n") }
    };
    format!("shaftwork: {text}").lines().map(line).collect()
}

/// Whether colour is not refused by `NO_COLOR`, set and not empty, nor by a terminal that says it has none.
fn colour(variable: impl Fn(&str) -> Option<String>) -> bool {
    variable("NO_COLOR").is_none_or(|value| value.is_empty()) && variable("TERM").is_none_or(|value| value != "dumb")
}

/// Whether the locale is UTF-8: the first of these that is set decides (POSIX, 8.2).
fn utf8(variable: impl Fn(&str) -> Option<String>) -> bool {
    let locale = ["LC_ALL", "LC_CTYPE", "LANG"].into_iter().filter_map(variable).find(|value| !value.is_empty());
    locale.is_some_and(|name| name.to_lowercase().replace('-', "").contains("utf8"))
}

/// Nothing that moves the cursor or rings: a name or a note of a file may hold anything.
pub fn printable(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn set<'a>(pairs: &'a [(&str, &str)]) -> impl Fn(&str) -> Option<String> + 'a {
        |name| pairs.iter().find(|(key, _)| *key == name).map(|(_, value)| (*value).to_owned())
    }

    /// no-color.org: set and not empty.
    #[test]
    fn no_color_is_honoured() {
        assert!(colour(set(&[])) && colour(set(&[("NO_COLOR", ""), ("TERM", "xterm")])));
        assert!(!colour(set(&[("NO_COLOR", "0")])) && !colour(set(&[("TERM", "dumb")])));
    }

    /// POSIX.1-2017, 8.2: `LC_ALL` goes before `LC_CTYPE`, that before LANG; an empty one does not count.
    #[test]
    fn the_locale_says_whether_blocks_can_be_shown() {
        assert!(utf8(set(&[("LANG", "de_DE.UTF-8")])) && utf8(set(&[("LC_ALL", ""), ("LC_CTYPE", "C.utf8")])));
        assert!(!utf8(set(&[])) && !utf8(set(&[("LC_ALL", "C"), ("LANG", "de_DE.UTF-8")])));
    }

    #[test]
    fn lines_fit_whatever_the_words() {
        for width in [NARROWEST, 60, WIDTH] {
            let screen = Screen { width, ..Screen::plain() };
            let text =
                format!("  {} {} {}", "word ".repeat(40), "x".repeat(200), "/a-long/path/with-hyphens".repeat(9));
            let lines = screen.lines(4, &text);
            assert!(lines.iter().all(|line| line.chars().count() <= width), "{lines:#?}");
            assert!(lines[0].starts_with("  word") && lines[1..].iter().all(|line| line.starts_with("    ")));
        }
    }

    #[test]
    fn a_person_gets_lines_that_fit_and_a_script_whole_ones() {
        let text = format!("a.csv, line 2: {}\n  wanted: {}", "found ".repeat(20), "wanted ".repeat(20));
        let whole = said(Screen::plain(), &text);
        assert_eq!(whole, format!("shaftwork: {text}\n"));
        let broken = said(Screen { terminal: true, ..Screen::plain() }, &text);
        assert!(broken.lines().all(|line| line.len() <= WIDTH), "{broken}");
        assert!(broken.lines().nth(1).unwrap().starts_with("  found"), "{broken}");
        assert!(broken.lines().last().unwrap().starts_with("    wanted"), "{broken}");
        let words = |text: &str| text.split_whitespace().map(str::to_owned).collect::<Vec<_>>();
        assert_eq!(words(&broken), words(&whole));
    }

    #[test]
    fn escapes_do_not_reach_the_screen() {
        assert_eq!(printable("lump\x1b[2J\u{9b}\n"), "lump [2J  ");
        assert_eq!(Screen::plain().paint("31", "trip"), "trip");
    }
}
