//! Pictures of the page: energy a tonne by shift, the cumulative sum with its bends, the days' deviation. Each is drawn twice, for a wide
//! window and a narrow one; colours are the page's.

use std::fmt::Write as _;

use jiff::Timestamp;
use jiff::civil::Date;

use super::report::Report;

/// A picture's place: its size, and where its axes lie.
#[derive(Clone, Copy)]
struct Frame {
    width: f64,
    height: f64,
    from: f64,
    to: f64,
    low: f64,
    high: f64,
}

const LEFT: f64 = 62.0;
const TOP: f64 = 14.0;
const BELOW: f64 = 30.0;
const RIGHT: f64 = 14.0;
const DAY_S: f64 = 86_400.0;

impl Frame {
    fn x(&self, x: f64) -> f64 {
        LEFT + (x - self.from) / (self.to - self.from).max(1e-9) * (self.width - LEFT - RIGHT)
    }

    fn y(&self, y: f64) -> f64 {
        let bottom = self.height - BELOW;
        bottom - (y - self.low) / (self.high - self.low).max(1e-9) * (bottom - TOP)
    }

    /// Both sizes of a picture; its name tells what it is to those who cannot see it.
    fn both(of: [f64; 4], name: &str, draw: impl Fn(&Self, &mut String)) -> String {
        let [from, to, low, high] = of;
        let mut out = format!("<figure><figcaption>{name}</figcaption>");
        for (class, width, height) in [("wide-picture", 1_100.0, 300.0), ("slim", 420.0, 280.0)] {
            let frame = Self { width, height, from, to, low, high };
            let _ = write!(
                out,
                "<svg class=\"picture {class}\" viewBox=\"0 0 {width} {height}\" role=\"img\" aria-label=\"{name}\">"
            );
            frame.grid(&mut out);
            draw(&frame, &mut out);
            out.push_str("</svg>\n");
        }
        out + "</figure>\n"
    }

    fn grid(&self, out: &mut String) {
        let bottom = self.height - BELOW;
        let step = step((self.high - self.low) / 4.0);
        let mut y = (self.low / step).ceil() * step;
        while y <= self.high + 1e-9 {
            let at = self.y(y);
            // As many as the step has, so that nothing is rounded to no minus nothing.
            let places = (-step.log10().floor()).clamp(0.0, 9.0) as usize;
            // Steps that add up to nothing are no minus nothing.
            let nothing = y.abs() < 1e-6 * step;
            let (class, y_told) = if nothing { ("axis", 0.0) } else { ("grid", y) };
            let _ = write!(
                out,
                "<path class=\"{class}\" d=\"M{LEFT} {at:.1}H{}\"/><text x=\"{}\" y=\"{:.1}\" text-anchor=\"end\">{y_told:.places$}</text>",
                self.width - RIGHT,
                LEFT - 8.0,
                at + 4.0
            );
            y += step;
        }
        // Dates: as many as have room.
        let room = ((self.width - LEFT - RIGHT) / 92.0).floor().max(1.0);
        let days = (self.to - self.from) / DAY_S;
        let every = [1.0, 2.0, 7.0, 14.0, 28.0, 56.0, 91.0, 182.0, 365.0]
            .into_iter()
            .find(|d| days / d <= room)
            .unwrap_or(365.0);
        let mut at = (self.from / DAY_S).ceil();
        while at * DAY_S <= self.to {
            let x = self.x(at * DAY_S);
            let date = super::drift::date(at);
            if x < self.width - RIGHT - 30.0 {
                let _ = write!(
                    out,
                    "<path class=\"axis\" d=\"M{x:.1} {bottom}v5\"/><text x=\"{x:.1}\" y=\"{}\" text-anchor=\"middle\">{date}</text>",
                    bottom + 20.0
                );
            }
            at += every;
        }
        let _ = write!(out, "<path class=\"axis\" d=\"M{LEFT} {bottom}H{}\"/>", self.width - RIGHT);
    }

    /// An upright over the whole height, its name at the top.
    fn upright(&self, out: &mut String, class: &str, at: f64, name: &str) {
        let (x, bottom) = (self.x(at), self.height - BELOW);
        let _ = write!(out, "<path class=\"{class}\" d=\"M{x:.1} {TOP}V{bottom}\"/>");
        if !name.is_empty() {
            let (anchor, x) = if x > self.width - 180.0 { ("end", x - 5.0) } else { ("start", x + 5.0) };
            let _ = write!(
                out,
                "<text class=\"{class}-name\" x=\"{x:.1}\" y=\"{}\" text-anchor=\"{anchor}\">{name}</text>",
                TOP + 12.0
            );
        }
    }
}

/// A round step.
fn step(rough: f64) -> f64 {
    let power = 10f64.powf(rough.max(1e-9).log10().floor());
    [1.0, 2.0, 5.0, 10.0].into_iter().map(|k| k * power).find(|step| *step >= rough).unwrap_or(power)
}

fn seconds(utc: &str) -> f64 {
    utc.parse::<Timestamp>().map_or(0.0, |at| at.as_second() as f64)
}

fn day_s(date: &str) -> f64 {
    date.parse::<Date>().map_or(0.0, |date| super::drift::day(date) * DAY_S)
}

fn ends(values: impl Iterator<Item = f64> + Clone) -> [f64; 2] {
    let (low, high) = values.fold((0.0f64, 0.0f64), |(low, high), y| (low.min(y), high.max(y)));
    let room = (high - low).max(1e-6) * 0.12;
    [if low < 0.0 { low - room } else { 0.0 }, high + room]
}

/// Bends with the stretch that holds each, and known changes.
fn marks(report: &Report, frame: &Frame, out: &mut String) {
    for bend in &report.bends {
        let [from, to] = [&bend.from, &bend.to].map(|date| frame.x(day_s(date).clamp(frame.from, frame.to)));
        let _ = write!(
            out,
            "<rect class=\"zone\" x=\"{from:.1}\" y=\"{TOP}\" width=\"{:.1}\" height=\"{}\"/>",
            (to - from).max(1.0),
            frame.height - TOP - BELOW
        );
        frame.upright(out, "bend", day_s(&bend.date), &format!("bend {}", bend.date));
    }
    for change in &report.changes {
        let at = change.at.get(..10).map_or(0.0, day_s);
        if (frame.from..=frame.to).contains(&at) {
            frame.upright(out, "change", at, change.what);
        }
    }
}

/// The cumulative sum over time.
pub fn cusum(report: &Report) -> String {
    let points: Vec<[f64; 2]> =
        report.shifts.iter().filter_map(|row| Some([seconds(&row.to_utc), row.cusum_kwh?])).collect();
    let (Some(first), Some(last)) = (points.first(), points.last()) else { return String::new() };
    let [low, high] = ends(points.iter().map(|point| point[1]));
    Frame::both([first[0], last[0], low, high], "Cumulative sum of actual less expected energy, kWh", |frame, out| {
        marks(report, frame, out);
        let place = |point: &[f64; 2]| format!("{:.1} {:.1}", frame.x(point[0]), frame.y(point[1]));
        let _ = write!(out, "<path class=\"line\" d=\"M{}\"/>", points.iter().map(place).collect::<Vec<_>>().join("L"));
    })
}

/// What a tonne took more than it should, by day.
pub fn deviation(report: &Report) -> String {
    let points: Vec<[f64; 2]> = report.days_pct.iter().map(|(date, pct)| [day_s(date), *pct]).collect();
    let (Some(first), Some(last)) = (points.first(), points.last()) else { return String::new() };
    let fit: Vec<[f64; 2]> = report.fit_pct.iter().map(|(date, pct)| [day_s(date), *pct]).collect();
    let [low, high] = ends(points.iter().map(|point| point[1]));
    Frame::both([first[0], last[0], low, high], "Net energy a tonne against the baseline, % by day", |frame, out| {
        marks(report, frame, out);
        for [x, y] in &points {
            let _ =
                write!(out, "<circle class=\"dot\" r=\"2.5\" cx=\"{:.1}\" cy=\"{:.1}\"/>", frame.x(*x), frame.y(*y));
        }
        let place = |point: &[f64; 2]| format!("{:.1} {:.1}", frame.x(point[0]), frame.y(point[1]));
        if fit.len() > 1 {
            let _ = write!(out, "<path class=\"fit\" d=\"M{}\"/>", fit.iter().map(place).collect::<Vec<_>>().join("L"));
        }
    })
}

/// Energy a tonne by shift, gross with its band, the net part of it darker.
pub fn bars(report: &Report) -> String {
    let rows: Vec<_> = report.shifts.iter().filter(|row| row.gross_kwh_per_t.is_some()).collect();
    if rows.len() < 2 {
        return String::new();
    }
    let (from, to) = (seconds(&rows[0].from_utc), seconds(&rows[rows.len() - 1].to_utc));
    let tops = rows.iter().filter_map(|row| Some(row.gross_kwh_per_t? + row.gross_band_kwh_per_t.unwrap_or(0.0)));
    let mut tops: Vec<f64> = tops.collect();
    tops.sort_by(f64::total_cmp);
    // A shift of a few kilograms has a figure that would hide all others.
    let high = tops[tops.len() - 1].min(1.8 * tops[tops.len() / 2]) * 1.08;
    Frame::both(
        [from, to, 0.0, high],
        "Energy a tonne by shift, kWh/t: net of the empty mill (dark) and gross, with its band",
        |frame, out| {
            for row in &rows {
                let (x, end) = (frame.x(seconds(&row.from_utc)), frame.x(seconds(&row.to_utc)));
                let width = ((end - x) * 0.8).max(0.6);
                let bottom = frame.y(0.0);
                for (class, kwh) in [("bar-2", row.gross_kwh_per_t), ("bar-1", row.net_kwh_per_t)] {
                    let top = frame.y(kwh.unwrap_or(0.0).clamp(0.0, high));
                    let _ = write!(
                        out,
                        "<rect class=\"{class}\" x=\"{x:.1}\" y=\"{top:.1}\" width=\"{width:.1}\" height=\"{:.1}\"/>",
                        bottom - top
                    );
                }
                // Where bars are thinner than a line bands would hide them.
                if let (Some(kwh), Some(band), true) = (row.gross_kwh_per_t, row.gross_band_kwh_per_t, width > 3.0) {
                    let [low, high] = [kwh - band, kwh + band].map(|kwh| frame.y(kwh.clamp(0.0, high)));
                    let _ = write!(out, "<path class=\"whisker\" d=\"M{:.1} {low:.1}V{high:.1}\"/>", x + width / 2.0);
                }
            }
        },
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Nothing has no sign, and neighbours of an axis differ, however small the steps.
    #[test]
    fn axes_tell_their_steps() {
        for [low, high] in [[-0.04, 0.05], [-3.0, 7.0], [-0.4, 0.0], [0.0, 1_200.0], [-0.000_7, 0.000_2]] {
            let drawn = Frame::both([0.0, DAY_S, low, high], "", |_, _| ());
            let told: Vec<&str> =
                drawn.split("text-anchor=\"end\">").skip(1).filter_map(|rest| rest.split('<').next()).collect();
            assert!(told.len() >= 4, "two steps at least in each of two pictures: {told:?}");
            let nought = |text: &&str| text.starts_with('-') && text.parse::<f64>().is_ok_and(|x| x == 0.0);
            assert!(!told.iter().any(nought), "{told:?}");
            assert!(told[..told.len() / 2].windows(2).all(|pair| pair[0] != pair[1]), "{told:?}");
        }
    }
}
