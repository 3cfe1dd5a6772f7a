//! docs/wedge.md and its picture.

use super::draw::MOST_S;
use super::grid::{STEP_S, Setting, Source, Way};
use super::study::{Choice, Exposure, Row, Size, Tried, choose, poisson_upper, results};
use shaftwork_sim::svg::{WIDTH, page as drawing};
use std::fmt::Write as _;

/// Hours of feeding in a month of work: 40 h a week (common practice, no source).
pub const MONTH_H: f64 = 173.0;

/// The element, and the same with a load that is known.
const ELEMENT: Way = Way::Standing(Source::Core);
const KNOWN: Way = Way::Standing(Source::Model);
/// Wrong decisions a month beyond which a setting is of no use to anybody: neither drawn nor listed.
const MOST_A_MONTH: f64 = 10_000.0;

/// Steps that a setting gets more than the half of the seeds that chose it asks for.
const MORE: usize = 2;

/// What the study found.
#[derive(Debug, Clone)]
pub struct Found {
    size: Size,
    choice: Choice,
    exposure: Exposure,
    rows: Vec<Row>,
    /// When a wedge has taken what a piece's hard strikes may.
    taken: Row,
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
    // What was quiet in one half is near its edge in the other: the element gets some steps more, the overcurrent none.
    let more = |way: Way| {
        let best = best(way);
        Setting { step: best.step + MORE, ..best }
    };
    let element = more(Way::Standing(Source::Core));
    let wide = more(Way::Standing(Source::Large));
    let with = |source: Source| Setting { way: Way::Standing(source), ..wide };
    let rows = vec![
        Row::new("overcurrent", best(Way::Current), false),
        Row::new("wedge element, inertia known", element, true),
        Row::new("the same, worked out by the study", element, false),
        Row::new("for an inertia within 30 %: it is right", with(Source::Core), false),
        Row::new("... it is set 30 % too small", with(Source::Small), false),
        Row::new("... it is set 30 % too large", with(Source::Large), false),
        Row::new("without an inertia", more(Way::Standing(Source::Shaft)), false),
        Row::new("another way: a sum that drains", more(Way::Surplus), false),
        Row::new("another way: a sum that is forgotten when the load dips", more(Way::Unbroken), false),
        Row::new("another way: load beyond the pick-up for so long", more(Way::Lasting), false),
    ];
    let (exposure, rows, taken) = results(size, rows);
    Found { size, choice, exposure, rows, taken }
}

fn setting(setting: &Setting) -> String {
    let percent = setting.pickup * 100.0;
    let value = setting.value_s();
    match setting.way {
        Way::Current => format!("{percent:.0} % of rated current, {value:.2} s"),
        Way::Lasting => format!("{percent:.0} % of rated power, {value:.2} s"),
        Way::Standing(_) => {
            format!("{:.0} % of rated power over {:.2} s", 100.0 * value / setting.pickup, setting.pickup)
        }
        _ => format!("{percent:.0} % of rated power, {value:.2} s of it"),
    }
}

fn way(way: Way) -> &'static str {
    match way {
        Way::Current => "overcurrent: current beyond the pick-up for so long",
        Way::Standing(Source::Core | Source::Small) => "work that stands (the element)",
        Way::Standing(Source::Large) => "work that stands, inertia set 30 % too large",
        Way::Standing(Source::Shaft) => "shaft work that stands",
        Way::Standing(Source::Model) => "work that stands of the load as the model knows it, without any lag",
        Way::Surplus => "work beyond the pick-up, a sum that drains (Page's)",
        Way::Unbroken => "work beyond the pick-up, a sum that is forgotten when the load dips",
        Way::Lasting => "load beyond the pick-up for so long",
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

    /// Settings of a way that may be of use.
    fn front(&self, way: Way) -> Vec<Tried> {
        let months = self.choice.exposure.hours / MONTH_H;
        let mut front = self.choice.front(way);
        // What stands at a load that the motor may carry is no setting: it would decide once and never drop out.
        let carried = |tried: &Tried| matches!(way, Way::Standing(_)) && tried.setting.value_s() < tried.setting.pickup;
        front.retain(|tried| tried.wrong as f64 <= MOST_A_MONTH * months && !carried(tried));
        front
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

    /// What was wanted of the element before it was written, and whether it is so.
    fn targets(&self, out: &mut String) {
        let [over, wedge] = [self.row(0), self.row(1)];
        let (share, most) = (wedge.mean_s() / over.mean_s(), poisson_upper(wedge.wrong) / self.months());
        let [soon, late] = [wedge, over].map(|row| 100.0 * (1.0 - row.late()));
        out.push_str("\n| wanted of the element, its inertia known | found | |\n|---|---|---|\n");
        for (wanted, found, met) in [
            ("half of the overcurrent's time to the decision", format!("{:.0} %", 100.0 * share), share <= 0.5),
            (
                "no more wrong decisions than it",
                format!("{} against {}", wedge.wrong, over.wrong),
                wedge.wrong <= over.wrong,
            ),
            ("below one a month, with 95 % confidence", format!("at most {most:.2}"), most < 1.0),
            (
                "always before half of the margin is used",
                format!("{soon:.1} % of the wedges, the overcurrent {late:.1} %"),
                wedge.late() <= 0.0 && wedge.missed == 0,
            ),
        ] {
            let _ = writeln!(out, "| {wanted} | {found} | {} |", if met { "met" } else { "not met" });
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
        let fronts = [Way::Current, ELEMENT].map(|way| self.front(way));
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
        let Exposure { pieces, hours, halved } = self.exposure;
        let Size { pieces: half, wedges } = self.size;
        let sizes = if self.size == Size::WHOLE {
            String::new()
        } else {
            format!(" --pieces {} --wedges {}", 2 * half, 2 * wedges)
        };
        let lower = self.choice.best(KNOWN).map_or(f64::NAN, |tried| tried.mean_s);
        let mut out = format!(
            "# Wedges and honest pieces: what tells them apart\n\n\
             Made by `cargo run --release -p shaftwork-acceptance --bin wedge_study --{sizes} --out docs`; do not edit.\n\n\
             A strike may be as hard as a wedge. What a piece takes is bounded, a wedge stays. The study lets honest pieces and wedges\n\
             into reduced models of six mills (30 to 110 kW, 50 and 60 Hz, supply within 10 %) and asks the overcurrent (`[trip.jam]`)\n\
             and the [wedge element](../core/src/judge/trip/wedge.rs) (`[trip.wedge]`) which is which. What falls into the mills, and\n\
             why, stands in [draw.rs](../tests/src/wedge/draw.rs) and [mills.rs](../tests/src/wedge/mills.rs), and was fixed before\n\
             the element was written. Even seeds choose the settings: the fewest wrong decisions at which every wedge is caught, of those\n\
             the soonest in the mean; what is quiet in one half is near its edge in the other, so that all but the overcurrent get {:.0} ms of rated power\n\
             (or of delay) more. Odd seeds give the results. Motor, mill and scrap are invented; no figure is a promise for another mill.\n\n\
             ![What each setting costs](wedge.svg)\n\n\
             ## Results\n\n\
             {pieces} honest pieces in {hours:.0} h of feeding ({:.1} months of {MONTH_H:.0} h) and {} wedges. Times count from a wedge's beginning; it\n\
             takes 0.1 to 0.4 s to rise. The margin is that from rated slip to breakdown slip. *At most* is the upper end of the 95 % band\n\
             of a Poisson mean (Garwood 1936; the rule of three where none was seen).\n\n",
            MORE as f64 * STEP_S * 1e3,
            self.months(),
            wedges,
        );
        self.table(&mut out);
        self.targets(&mut out);
        out.push_str(
            "\nWhere the inertia is known to 30 % only, the rows *for an inertia within 30 %* hold: a setting chosen with one that is set too large,\n\
             and what becomes of it.\n\n\
             ## What limits it\n\n\
             Settings of the other half of the seeds, each way at its best:\n",
        );
        self.tries(&mut out);
        let _ = write!(
            out,
            "\n* **The pieces.** A piece's hard strikes take up to {MOST_S} s of rated power, with any torque up to a wedge's and for up to 150 ms. The load known\n\
             exactly, and when the wedge begins, it has taken as much {taken:.3} s after its beginning in the mean (last {last:.3} s). Until then neither\n\
             height nor work tells it from a strike, only how long it lasts and how it rises. Half of the overcurrent's time is {half:.3} s.\n\
             * **The beginning** is not known, and a piece's blows go before many a strike. Were the load known at once and without error (the last row),\n\
             the best mean would be {lower:.3} s.\n\
             * **Measuring** a cycle's mean and its slip costs {later:.3} s beside that.\n\
             * **The margin.** A light rotor, a piece under the hammers when the wedge begins: {spent:.1} % of the wedges had used more than half of\n\
             the margin before they had taken {MOST_S} s of rated power. The pieces alone did so {halved} times in {hours:.0} h ({often:.1} a month of work). *Always* before half\n\
             of the margin is not to be had by work.\n\
             * **A load that does not vary** decides beyond the pick-up only: an even overload below that is the thermal image's to judge.\n\
             * **Smaller pieces** allow less standing work, and it decides sooner by so much. The settings are those of these mills: with a logged\n\
             trace of honest work, find the smallest `pickup_pct` that stays quiet.\n\n\
             ## The whole trade-off\n\n\
             Settings than which none is both sooner and less often wrong, in {tuned} pieces (steps of 10 ms, and of 10 % or of 10 ms of window), up to\n\
             {MOST_A_MONTH:.0} wrong decisions a month:\n",
            taken = self.taken.mean_s(),
            last = quantile(&self.taken.times_s, 1.0),
            half = 0.5 * self.row(0).mean_s(),
            later = self.choice.best(ELEMENT).map_or(f64::NAN, |tried| tried.mean_s) - lower,
            often = halved as f64 / self.months(),
            spent = 100.0 * self.taken.late(),
            tuned = self.choice.exposure.pieces,
        );
        self.curve(&mut out);
        out
    }

    /// The picture: mean time over wrong decisions a month.
    #[must_use]
    pub fn picture(&self) -> String {
        let months = self.choice.exposure.hours / MONTH_H;
        let (left, right, top, bottom) = (70.0, WIDTH - 30.0, 60.0, 320.0);
        // None is drawn at the left end, a tenth to ten thousand a month.
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
            (ELEMENT, "#0b57d0", "", "wedge element", 1.0),
            (KNOWN, "#555", "6 4", "load known without lag", 2.0),
        ] {
            let points: Vec<String> =
                self.front(kind).iter().map(|tried| format!("{:.1},{:.1}", x(tried.wrong), y(tried.mean_s))).collect();
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
