//! What the drawings have in common: a page with a heading, a figure and words below it.

use std::fmt::Write as _;

use crate::wiring::words::fill;

/// Width of a drawing.
pub const WIDTH: f64 = 640.0;
/// From a line of words to the next.
const LINE: f64 = 20.0;

/// A document of its own: the figure is `height` high, then come the words, those that are `true` in bold.
pub fn page(title: &str, of: &str, about: &str, height: f64, figure: &str, words: &[(String, bool)]) -> String {
    let rows: Vec<(String, bool)> = words
        .iter()
        .flat_map(|(text, bold)| fill(text, "").lines().map(|row| (row.to_owned(), *bold)).collect::<Vec<_>>())
        .collect();
    let whole = height + LINE * rows.len() as f64;
    let mut out = String::new();
    let _ = write!(
        out,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {whole}\" width=\"{WIDTH}\" height=\"{whole}\" \
         font-family=\"sans-serif\" role=\"img\" aria-labelledby=\"t d\">\n\
         <title id=\"t\">{title} of {}</title>\n<desc id=\"d\">{}</desc>\n\
         <rect width=\"100%\" height=\"100%\" fill=\"#fff\"/>\n\
         <text x=\"16\" y=\"28\" font-size=\"17\" font-weight=\"bold\">{title} of {}</text>\n{figure}",
        escaped(of),
        escaped(about),
        escaped(&short(of)),
    );
    for (n, (row, bold)) in rows.iter().enumerate() {
        let y = height + LINE * n as f64;
        let weight = if *bold { " font-weight=\"bold\"" } else { "" };
        let _ = writeln!(out, "<text x=\"16\" y=\"{y}\" font-size=\"14\"{weight}>{}</text>", escaped(row));
    }
    out.push_str("</svg>\n");
    out
}

/// With a capital letter.
pub fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |first| first.to_uppercase().chain(chars).collect())
}

/// The end of a long path.
fn short(path: &str) -> String {
    const MOST: usize = 60;
    let count = path.chars().count();
    if count <= MOST {
        path.to_owned()
    } else {
        format!("…{}", path.chars().skip(count - MOST + 1).collect::<String>())
    }
}

fn escaped(text: &str) -> String {
    let plain = text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect::<String>();
    plain.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}
