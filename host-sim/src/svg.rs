//! What the drawings have in common: a page with a heading, a figure and words below it.

use std::fmt::{Display, Write as _};

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

/// Two axes from zero, with a name each.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Axes {
    /// Left, top, right, bottom.
    pub place: [f64; 4],
    /// Where x and y begin and end.
    pub x: [f64; 2],
    /// See `x`.
    pub y: [f64; 2],
}

impl Axes {
    /// Where an x lies.
    pub fn x(&self, x: f64) -> f64 {
        let [left, _, right, _] = self.place;
        left + (x - self.x[0]) / (self.x[1] - self.x[0]) * (right - left)
    }

    /// Where a y lies.
    pub fn y(&self, y: f64) -> f64 {
        let [_, top, _, bottom] = self.place;
        bottom - (y - self.y[0]) / (self.y[1] - self.y[0]) * (bottom - top)
    }

    /// A line across at a y, with its figure at the left; drawn as a page's own style has it.
    pub fn across(&self, y: f64, figure: impl Display) -> String {
        let [left, _, right, _] = self.place;
        let at = tenth(self.y(y));
        format!(
            "<path class=\"grid\" d=\"M{left} {at}H{right}\"/><text x=\"{}\" y=\"{}\" text-anchor=\"end\">{figure}</text>",
            left - 6.0,
            at + 4.0
        )
    }

    /// A line upright at an x, with its figure below.
    pub fn upright(&self, x: f64, figure: impl Display) -> String {
        let [_, top, _, bottom] = self.place;
        let at = tenth(self.x(x));
        format!(
            "<path class=\"grid\" d=\"M{at} {top}V{bottom}\"/><text x=\"{at}\" y=\"{}\" text-anchor=\"middle\">{figure}</text>",
            bottom + 17.0
        )
    }

    /// The axes with round figures and their names.
    pub fn frame(&self, x_name: &str, y_name: &str) -> String {
        let [left, top, right, bottom] = self.place;
        let mut out =
            format!("<path d=\"M{left} {top}V{bottom}H{right}\" fill=\"none\" stroke=\"#000\"/><g font-size=\"12\">\n");
        for x in ticks(self.x) {
            let at = self.x(x);
            let _ = writeln!(
                out,
                "<path d=\"M{at:.1} {bottom}v5\" stroke=\"#000\"/><text x=\"{at:.1}\" y=\"{}\" text-anchor=\"middle\">{x}</text>",
                bottom + 18.0
            );
        }
        for y in ticks(self.y) {
            let at = self.y(y);
            let _ = writeln!(
                out,
                "<path d=\"M{left} {at:.1}H{right}\" stroke=\"#ddd\"/><text x=\"{}\" y=\"{:.1}\" text-anchor=\"end\">{y}</text>",
                left - 8.0,
                at + 4.0
            );
        }
        let _ = writeln!(
            out,
            "</g><g font-size=\"13\"><text x=\"{right}\" y=\"{}\" text-anchor=\"end\">{}</text>\
             <text x=\"16\" y=\"{}\">{}</text></g>",
            bottom + 36.0,
            escaped(x_name),
            top - 12.0,
            escaped(y_name)
        );
        out
    }
}

/// Round figures of an axis, five or so.
pub fn ticks([from, to]: [f64; 2]) -> impl Iterator<Item = f64> {
    let rough = (to - from) / 5.0;
    let power = 10_f64.powf(rough.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0].into_iter().map(|k| k * power).find(|step| *step >= rough).unwrap_or(rough);
    let round = move |x: f64| (x / power).round() * power * 1e6;
    (((from / step).ceil() as i64)..=((to / step).floor() as i64)).map(move |k| round(k as f64 * step).round() / 1e6)
}

/// A place in a drawing: a tenth of a unit is finer than a screen.
pub fn tenth(x: f64) -> f64 {
    (x * 10.0).round() / 10.0
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

/// As text of a drawing or a page.
pub fn escaped(text: &str) -> String {
    let plain = text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect::<String>();
    plain.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}
