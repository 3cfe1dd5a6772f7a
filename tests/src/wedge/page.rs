//! docs/wedge.md and its picture.

use super::grid::{STEP_S, Setting, Way};
use super::study::{Choice, Exposure, Row, Size, Tried, choose, poisson_upper, results};
use shaftwork_sim::svg::{WIDTH, page as drawing};
use std::fmt::Write as _;

/// Hours of feeding in a month of work: 40 h a week (common practice, no source).
pub const MONTH_H: f64 = 173.0;

/// What the study found.
#[derive(Debug, Clone)]
pub struct Found {
    size: Size,
    choice: Choice,
    exposure: Exposure,
    rows: Vec<Row>,
}

/// Runs the study.
///
/// # Panics
///
/// When no setting catches every wedge.
#[must_use]
pub fn study(size: Size) -> Found {
    let choice = choose(size);
    let best = |way: Way| choice.best(way).expect("some setting catches every wedge").setting;
    let known = best(Way::Surplus(1.0));
    let wide = best(Way::Surplus(1.3));
    let with = |factor: f64| Setting { way: Way::Surplus(factor), ..wide };
    let rows = vec![
        Row::new("overcurrent", best(Way::Current), false),
        Row::new("wedge element, inertia known", known, true),
        Row::new("the same, worked out by the study", known, false),
        Row::new("for an inertia within 30 %: it is right", with(1.0), false),
        Row::new("... it is set 30 % too small", with(0.7), false),
        Row::new("... it is set 30 % too large", with(1.3), false),
        Row::new("without an inertia", best(Way::Surplus(0.0)), false),
        Row::new("another way: forgotten when the load dips", best(Way::Unbroken), false),
        Row::new("another way: load beyond the pick-up for so long", best(Way::Lasting), false),
    ];
    let (exposure, rows) = results(size, rows);
    Found { size, choice, exposure, rows }
}

fn setting(setting: &Setting) -> String {
    let percent = setting.pickup * 100.0;
    let value = setting.value_s();
    match setting.way {
        Way::Current => format!("{percent:.0} % of rated current, {value:.2} s"),
        Way::Lasting => format!("{percent:.0} % of rated power, {value:.2} s"),
        _ => format!("{percent:.0} % of rated power, {value:.2} s of it"),
    }
}

fn way(way: Way) -> &'static str {
    match way {
        Way::Current => "overcurrent: current beyond the pick-up for so long",
        Way::Surplus(factor) if factor < 0.5 => "surplus of shaft work alone",
        Way::Surplus(factor) if factor > 1.1 => "surplus, inertia set 30 % too large",
        Way::Surplus(_) => "surplus of the load's work (the element)",
        Way::Unbroken => "surplus that is forgotten when the load dips",
        Way::Lasting => "load beyond the pick-up for so long",
        Way::Known => "surplus of the load as the model knows it, without any lag",
    }
}

fn quantile(sorted: &[f64], share: f64) -> f64 {
    // An index below the length.
    sorted.get(((sorted.len() as f64 - 1.0) * share) as usize).copied().unwrap_or(f64::NAN)
}

impl Found {
    fn row(&self, number: usize) -> &Row {
        &self.rows[number]
    }

    fn months(&self) -> f64 {
        self.exposure.hours / MONTH_H
    }

    /// The figures that a small study must give again.
    #[must_use]
    pub fn figures(&self) -> String {
        let mut out = String::new();
        self.table(&mut out);
        self.tries(&mut out);
        out
    }

    fn table(&self, out: &mut String) {
        out.push_str("| | setting | wrong decisions | a month, at most | mean, s | median | 95 % | last | more than half of the margin used | missed |\n");
        out.push_str("|---|---|---|---|---|---|---|---|---|---|\n");
        for row in &self.rows {
            let Row { name, wrong, times_s, missed, .. } = row;
            let most = poisson_upper(*wrong) / self.months();
            let _ = writeln!(
                out,
                "| {name} | {} | {wrong} | {most:.2} | {:.3} | {:.3} | {:.3} | {:.3} | {:.1} % of wedges | {missed} |",
                setting(&row.setting),
                row.mean_s(),
                quantile(times_s, 0.5),
                quantile(times_s, 0.95),
                quantile(times_s, 1.0),
                100.0 * row.late(),
            );
        }
    }

    fn tries(&self, out: &mut String) {
        out.push_str("\n| way | best setting | wrong decisions | mean, s |\n|---|---|---|---|\n");
        for kind in super::study::WAYS {
            if let Some(Tried { setting: best, wrong, mean_s }) = self.choice.best(kind) {
                let _ = writeln!(out, "| {} | {} | {wrong} | {mean_s:.3} |", way(kind), setting(&best));
            }
        }
    }

    fn curve(&self, out: &mut String) {
        out.push_str(
            "\n| overcurrent | wrong | mean, s | wedge element | wrong | mean, s |\n|---|---|---|---|---|---|\n",
        );
        let fronts = [Way::Current, Way::Surplus(1.0)].map(|way| self.choice.front(way));
        let cell = |tried: Option<&Tried>| match tried {
            Some(tried) => format!("{} | {} | {:.3} |", setting(&tried.setting), tried.wrong, tried.mean_s),
            None => " | | |".to_owned(),
        };
        for n in 0..fronts[0].len().max(fronts[1].len()) {
            let _ = writeln!(out, "| {} {}", cell(fronts[0].get(n)), cell(fronts[1].get(n)));
        }
    }

    /// The page.
    #[must_use]
    pub fn page(&self) -> String {
        let Exposure { pieces, hours } = self.exposure;
        let [over, wedge] = [self.row(0), self.row(1)];
        let Size { pieces: half, wedges } = self.size;
        let sizes = if self.size == Size::WHOLE {
            String::new()
        } else {
            format!(" --pieces {} --wedges {}", 2 * half, 2 * wedges)
        };
        let lower = self.choice.best(Way::Known).map_or(f64::NAN, |tried| tried.mean_s);
        let mut out = format!(
            "# Wedges and honest pieces: what tells them apart\n\n\
             Made by `cargo run --release -p shaftwork-acceptance --bin wedge_study --{sizes} --out docs`; do not edit.\n\n\
             A strike may be as hard as a wedge. What a piece takes is bounded, a wedge stays. The study lets honest pieces and wedges\n\
             into reduced models of six mills (30 to 110 kW, 50 and 60 Hz, supply within 10 %) and asks the overcurrent (`[trip.jam]`)\n\
             and the [wedge element](../core/src/judge/trip/wedge.rs) (`[trip.wedge]`) which is which. What falls into the mills, and\n\
             why, stands in [draw.rs](../tests/src/wedge/draw.rs) and [mills.rs](../tests/src/wedge/mills.rs), and was fixed before\n\
             the element was written. Even seeds choose the settings: the fewest wrong decisions at which every wedge is caught, of those\n\
             the soonest in the mean. Odd seeds give the results. Motor, mill and scrap are invented; no figure is a promise for another mill.\n\n\
             ![What each setting costs](wedge.svg)\n\n\
             ## Results\n\n\
             {pieces} honest pieces in {hours:.0} h of feeding ({:.1} months of {MONTH_H:.0} h) and {} wedges. Times count from a wedge's beginning; it\n\
             takes 0.1 to 0.4 s to rise. The margin is that from rated slip to breakdown slip. *At most* is the upper end of the 95 % band\n\
             of a Poisson mean (Garwood 1936; the rule of three where none was seen).\n\n",
            self.months(),
            wedges,
        );
        self.table(&mut out);
        let share = wedge.mean_s() / over.mean_s();
        let _ = write!(
            out,
            "\nThe element takes {:.0} % of the overcurrent's time to the decision (wanted: half), with {} wrong decisions against {}; before half\n\
             of the margin is used it has decided {:.0} % of the wedges (wanted: all), the overcurrent {:.0} %.\n\n\
             Where the inertia is known to 30 % only, the rows *for an inertia within 30 %* hold: a setting chosen with one that is set too large,\n\
             and what becomes of it.\n\n\
             ## What limits it\n\n\
             Settings of the other half of the seeds, each way at its best:\n",
            100.0 * share,
            wedge.wrong,
            over.wrong,
            100.0 * (1.0 - wedge.late()),
            100.0 * (1.0 - over.late()),
        );
        self.tries(&mut out);
        let _ = write!(
            out,
            "\n* **The pieces.** Until a wedge has taken more than the largest honest strike, nothing that judges work can tell it from one. The hard strikes\n\
             of a piece take up to 0.25 s of rated power here. Were the load known at once and without error (the last row), the best mean would still be\n\
             {lower:.3} s. Half of the overcurrent's time is {:.3} s: no setting of a sum that keeps quiet gets there.\n\
             * **Measuring** a cycle's mean and its slip matters little beside that: {:+.3} s against the last row.\n\
             * **Smaller pieces** allow a smaller surplus, and it decides sooner by so much. The settings are those of these mills: with a logged\n\
             trace of honest work, find the smallest `surplus_s` that stays quiet.\n\
             * A light rotor, a low voltage, a piece under the hammers when the wedge begins: each uses up part of the margin before the wedge has\n\
             taken more than a piece may.\n\n\
             ## The whole trade-off\n\n\
             Settings than which none is both sooner and less often wrong, in {} pieces (steps of 10 % and {:.0} ms):\n",
            0.5 * over.mean_s(),
            self.choice.best(Way::Surplus(1.0)).map_or(f64::NAN, |tried| tried.mean_s) - lower,
            self.choice.exposure.pieces,
            STEP_S * 1e3,
        );
        self.curve(&mut out);
        out
    }

    /// The picture: mean time over wrong decisions a month.
    #[must_use]
    pub fn picture(&self) -> String {
        let months = self.choice.exposure.hours / MONTH_H;
        let (left, right, top, bottom) = (70.0, WIDTH - 30.0, 60.0, 320.0);
        // None is drawn at the left end, a thousandth to ten thousand a month.
        let x = |wrong: u64| {
            let log = (wrong as f64 / months).max(0.1).log10().clamp(-1.0, 4.0);
            left + (right - left) * (log + 1.0) / 5.0
        };
        let y = |mean_s: f64| bottom - (bottom - top) * (mean_s / 0.5).clamp(0.0, 1.0);
        let mut figure = String::new();
        for tenth in 0..=5 {
            let s = f64::from(tenth) / 10.0;
            let _ = writeln!(
                figure,
                "<line x1=\"{left}\" x2=\"{right}\" y1=\"{0:.1}\" y2=\"{0:.1}\" stroke=\"#ddd\"/><text x=\"{1}\" y=\"{2:.1}\" font-size=\"13\" text-anchor=\"end\">{s:.1} s</text>",
                y(s),
                left - 8.0,
                y(s) + 4.0
            );
        }
        for (log, text) in [(0, "none seen"), (1, "1"), (2, "10"), (3, "100"), (4, "1000"), (5, "10000")] {
            let at = left + (right - left) * f64::from(log) / 5.0;
            let _ = writeln!(
                figure,
                "<text x=\"{at:.1}\" y=\"{}\" font-size=\"13\" text-anchor=\"middle\">{text}</text>",
                bottom + 20.0
            );
        }
        for (kind, colour, dash, name, line) in [
            (Way::Current, "#b3261e", "", "overcurrent", 0.0),
            (Way::Surplus(1.0), "#0b57d0", "", "wedge element", 1.0),
            (Way::Known, "#555", "6 4", "load known without lag", 2.0),
        ] {
            let points: Vec<String> = self
                .choice
                .front(kind)
                .iter()
                .map(|tried| format!("{:.1},{:.1}", x(tried.wrong), y(tried.mean_s)))
                .collect();
            let _ = writeln!(
                figure,
                "<polyline points=\"{}\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"2\" stroke-dasharray=\"{dash}\"/>\
                 <text x=\"{}\" y=\"{}\" font-size=\"14\" fill=\"{colour}\" text-anchor=\"end\">{name}</text>",
                points.join(" "),
                right,
                top + 16.0 + 18.0 * line
            );
        }
        let words = [
            (
                "Mean time from a wedge's beginning to the decision, over wrong decisions a month of work.".to_owned(),
                true,
            ),
            ("Each point is a setting that catches every wedge. Lower and further left is better.".to_owned(), false),
        ];
        drawing(
            "Settings",
            "the wedge study",
            "Time to the decision over wrong decisions",
            bottom + 50.0,
            &figure,
            &words,
        )
    }
}
