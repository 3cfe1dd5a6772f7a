//! docs/feed.md and its picture.

use super::choice::{Set, Way};
use super::draw::{CALL_S, GRID, HOURS, KINDS, TRIP_S};
use super::hour::{Outcome, Policy};
use super::stability::{WANTED_DEG, WANTED_MS, map};
use super::study::{FEEDER, Found, Gain, Results, Size, file};
use shaftwork_sim::settings::Feeder;
use shaftwork_sim::svg::{WIDTH, page as drawing};
use std::fmt::Write as _;

/// What the governor is wanted to do: throughput over the best fixed speed, and chokes over its.
const WANTED_RATE: f64 = 1.08;
const WANTED_CHOKES: f64 = 0.2;
/// What had been seen before.
const LOOKS: &str = "**Results are of hours that nothing was chosen or changed by.** The odd hours of the first 400 had been looked at twice. The first look, with ways chosen for\n\
each material by itself on eight hours each and without `peak_pct`, gave +7.5 % tonnes an hour and -42 % chokes. The second, with `peak_pct`, a new law in the core, and ways\n\
chosen for the three materials together on all even hours among those that choked a fifth as often there, gave +11.6 % and -69 %: what is chosen among twenty settings had been lucky\n\
where it was chosen. Now it has to choke a tenth as often on the even hours, and what comes of it is read off 200 fresh hours; the odd ones stand beside.\n\n";

/// What limits the result, read off the tables; and the heading of what follows.
const LIMITS: &str = "\n\
## What limits it\n\
\n\
* **Heavy pieces that coincide.** Appliances trip by half a second above 200 % of rated current, the chamber being far from full. What the feeder does\n\
then no longer matters, only how often it comes to that; and that shows in the load's scatter, not in its mean: toughness and size change from batch to\n\
batch. For the same tonnes an hour a held percentile chokes less often than a held mean (table above); the filter hardly matters. Such chokes\n\
as are left are the jam element's to bear.\n\
* **Energy.** Castings and brackets could be fed faster still: they hardly choke. But the charge in the chamber drags, and a tonne gets dearer (table above).\n\
* **The screen** does not show in the motor's power until the charge drags.\n\
* **The yardstick** has the core's own feed stop already; a fixed speed without it mills less (first rows).\n\
* **Chokes are few** where they are rare: what happens five times in 67 hours of a material may happen three or eight times in others.\n\
\n\
## Stability\n\
";

fn way(way: &Way) -> String {
    match (way.policy, way.set) {
        (Policy::Fixed(permille) | Policy::Stopped(permille), _) => format!("{} % speed", f64::from(permille) / 10.0),
        (Policy::Governed, Some(Set { target, charge, peak: None, .. })) => {
            format!("{target} % load, {charge} % charge")
        }
        (Policy::Governed, Some(Set { peak: Some(peak), charge, filter_s, .. })) => {
            format!("{peak} % peak, {charge} % charge, filter of {filter_s} s")
        }
        (Policy::Governed, None) => "governed".to_owned(),
    }
}

/// Cells of an outcome, counts per hundred hours.
fn cells(one: &Outcome) -> String {
    let often = |count: u32| 100.0 * f64::from(count) / one.hours;
    format!(
        "{:.3} | {:.2} | {:.1} | {:.1} | {:.1} | {:.0} | {:.1} | {:.1} | {:.0}",
        one.rate(),
        one.kwh_t(),
        often(one.chokes),
        often(one.trips),
        often(one.wedged),
        often(one.stops),
        often(one.calls),
        100.0 * one.over_s / 3600.0 / one.hours,
        100.0 * one.thermal,
    )
}

/// The rows of three policies.
fn rows(out: &mut String, results: &Results) {
    for shown in &results.shown {
        for ((one, set), kind) in shown.by_kind.iter().zip(&shown.ways).zip(KINDS) {
            let _ = writeln!(out, "| {} | {} | {} | {} |", shown.name, kind.name, way(set), cells(one));
        }
        let _ = writeln!(out, "| **{}** | all | | {} |", shown.name, cells(&shown.all()));
    }
}

/// What is wanted and what was found.
fn wanted(out: &mut String, results: &Results) {
    let Gain { rate, chokes, dear } = results.gain;
    let trips = |of: &Outcome| f64::from(of.trips) / of.hours;
    let [fixed, governed] = [results.better(), results.governed()].map(|shown| trips(&shown.all()));
    let met = |yes: bool| if yes { "met" } else { "**not met**" };
    let change = |ratio: f64| 100.0 * (ratio - 1.0);
    let _ = write!(
        out,
        "| | wanted | found (95 % interval: the hours drawn anew) | |\n|---|---|---|---|\n\
         | tonnes an hour | {:+.0} % | {:+.1} % ({:+.1} to {:+.1} %) | {} |\n\
         | energy for the same tonnes of each material | no more | {:+.1} % | {} |\n\
         | chokes an hour | {:+.0} % | {:+.0} % ({:+.0} to {:+.0} %) | {} |\n\
         | trips that the fixed speed did not have | none: no more an hour | {:.1} against {:.1} in a hundred hours | {} |\n",
        change(WANTED_RATE),
        change(rate[0]),
        change(rate[1]),
        change(rate[2]),
        met(rate[0] >= WANTED_RATE),
        change(dear),
        met(dear <= 1.0),
        change(WANTED_CHOKES),
        change(chokes[0]),
        change(chokes[1]),
        change(chokes[2]),
        met(chokes[0] <= WANTED_CHOKES),
        100.0 * governed,
        100.0 * fixed,
        met(governed <= fixed),
    );
}

const HEAD: &str = "t/h | kWh/t | chokes | trips | wedges that tripped | feed stops | calls | time over 110 %, % | highest thermal level, % |";

impl Found {
    /// The page.
    #[must_use]
    pub fn page(&self) -> String {
        let Size { tries, hours, full } = self.size;
        let sizes = if self.size == Size::WHOLE {
            String::new()
        } else {
            format!(" --tries {tries} --hours {hours} --full {full}")
        };
        let mut out = format!(
            "# Feeding by the load: the governor against a fixed speed\n\n\
             Made by `cargo run --release -p shaftwork-acceptance --bin feed_study --{sizes} --out docs`; do not edit.\n\n\
             A belt feeds the plant's own mill with three kinds of scrap whose density and toughness change from batch to batch. What falls, what\n\
             is measured and which fixed speeds are tried stands in [draw.rs](../tests/src/feed/draw.rs) and was fixed before the governor was tuned.\n\
             Even hours tune; results are of {hours} other hours for each policy on the reduced plant. A fixed speed is the best of {} for\n\
             each material ({tries} of the tuning hours each), once as it is and once with the core's feed stop. The governor's settings are tried on {hours}\n\
             tuning hours and chosen for the three materials together: the most tonnes an hour of those that in all choke a tenth as often, at most, as the better\n\
             fixed speeds did there, and take no more energy for the same tonnes of each material. A trip costs {:.0} min, a call {:.0} min. Mill and scrap are\n\
             invented; no figure is a promise for another mill.\n\n\
{LOOKS}\
             ![Tonnes an hour and kWh a tonne](feed.svg)\n\n\
             ## Results\n\n\
             Chokes, trips, stops and calls are for a hundred hours. A choke is a chamber more than full for 5 s, or a trip without a wedge.\n\n\
             | policy | material | how | {HEAD}\n|---|---|---|---|---|---|---|---|---|---|---|---|\n",
            GRID.len(),
            TRIP_S / 60.0,
            CALL_S / 60.0,
        );
        let [fresh, odd] = &self.results;
        rows(&mut out, fresh);
        self.verdict(&mut out);
        let _ = write!(
            out,
            "\nThe same ways on the odd hours, which were looked at before:\n\n| policy | material | how | {HEAD}\n|---|---|---|---|---|---|---|---|---|---|---|---|\n"
        );
        rows(&mut out, odd);
        out.push('\n');
        wanted(&mut out, odd);
        self.tried(&mut out);
        self.map(&mut out);
        self.others(&mut out);
        out
    }

    fn verdict(&self, out: &mut String) {
        let fresh = &self.results[0];
        let _ = write!(out, "\nAgainst the {} over the same hours:\n\n", fresh.better().name);
        wanted(out, fresh);
        let _ = write!(
            out,
            "\nPublished trials of automatic feed found about +2 % throughput and -6 % energy on one plant (Sci. Rep. 2025, s41598-025-09263-w); how much there is\n\
             to gain depends on how much the feed varies, and here that is invented.\n\n\
             The first {} fresh hours on both models, of the fixed speed and of the governor:\n\n\
             | policy | plant | {HEAD}\n|---|---|---|---|---|---|---|---|---|---|---|\n",
            self.size.full
        );
        for (name, both) in [(fresh.better().name, &self.full[0]), ("governed", &self.full[1])] {
            for (plant, one) in [("reduced", &both[0]), ("full", &both[1])] {
                let _ = writeln!(out, "| {name} | {plant} | {} |", cells(one));
            }
        }
    }

    fn map(&self, out: &mut String) {
        let _ = write!(
            out,
            "{LIMITS}\n\
             Phase margin and largest sensitivity Ms of the loop, where the mill's gain and delay are so many times what the settings say\n\
             (wanted everywhere: {WANTED_DEG} degrees at least, or Ms of {WANTED_MS} at most). Worked out in [stability.rs](../tests/src/feed/stability.rs), apart\n\
             from the core, for a closed loop as fast as the default has it (three times the delay with half the filter) and each filter that is chosen above:\n"
        );
        let mut feeders: Vec<Feeder> = self.results[0]
            .governed()
            .ways
            .iter()
            .map(|way| file(*way).feeder.expect("the settings have a feeder"))
            .collect();
        feeders.sort_by(|a, b| a.filter_s.total_cmp(&b.filter_s));
        feeders.dedup_by_key(|feeder| feeder.filter_s.to_bits());
        for feeder in &feeders {
            let _ = write!(
                out,
                "\nFilter of {} s: a closed loop of {:.1} s with a delay of {:.1} s.\n\n",
                feeder.filter_s,
                feeder.response_s,
                feeder.whole_delay_s(),
            );
            out.push_str(&map(feeder));
        }
    }

    fn others(&self, out: &mut String) {
        let _ = write!(
            out,
            "\n## Settings\n\n```toml{FEEDER}filter_s = 3         # these by material, see above\ntarget_pct = 80\ncharge_pct = 40\n# peak_pct = 145\n```\n\n\
             Gain, lag and delay are what the model's own figures come to; on a mill a step of the feeder's speed tells them.\n\n\
             ## All that was tried\n\n\
             Fixed speeds, on {} hours of the tuning half (of {} in all):\n\n| way | material | {HEAD}\n|---|---|---|---|---|---|---|---|---|---|---|\n",
            self.size.tries,
            HOURS / 2,
        );
        for tried in &self.tried {
            let stop = if matches!(tried.way.policy, Policy::Stopped(_)) { ", feed stop" } else { "" };
            for (one, kind) in tried.by_kind.iter().zip(KINDS) {
                let _ = writeln!(out, "| {}{stop} | {} | {} |", way(&tried.way), kind.name, cells(one));
            }
        }
    }

    /// What was tried of the governor, on the tuning half.
    fn tried(&self, out: &mut String) {
        let _ = write!(
            out,
            "\n## The governor's settings on the tuning half\n\n\
             On {} even hours in all; a peak is what the load's 95th percentile is held below (`peak_pct`), with a target of 100 %; the filter is of 3 s elsewhere.\n\n\
             | way | material | {HEAD}\n|---|---|---|---|---|---|---|---|---|---|---|\n",
            self.size.hours
        );
        for ((kind, ways), fixed) in KINDS.iter().zip(&self.governed).zip(&self.yardstick) {
            let _ = writeln!(out, "| best fixed speed | {} | {} |", kind.name, cells(fixed));
            for (set, one) in ways {
                let _ = writeln!(out, "| {} | {} | {} |", way(set), kind.name, cells(one));
            }
        }
    }

    /// The picture: kWh a tonne over tonnes an hour.
    #[must_use]
    pub fn picture(&self) -> String {
        let (left, right, top, bottom) = (70.0, WIDTH - 30.0, 60.0, 360.0);
        let x = |rate: f64| left + (right - left) * (rate / 1.6).clamp(0.0, 1.0);
        let y = |kwh_t: f64| bottom - (bottom - top) * ((kwh_t - 25.0) / 40.0).clamp(0.0, 1.0);
        let mut figure = String::new();
        for step in 0..=4 {
            let kwh = 25.0 + 10.0 * f64::from(step);
            let _ = writeln!(
                figure,
                "<line x1=\"{left}\" x2=\"{right}\" y1=\"{0:.1}\" y2=\"{0:.1}\" stroke=\"#ddd\"/><text x=\"{1}\" y=\"{2:.1}\" font-size=\"13\" text-anchor=\"end\">{kwh:.0} kWh/t</text>",
                y(kwh),
                left - 4.0,
                y(kwh) + 4.0
            );
        }
        for step in 0..=4 {
            let rate = 0.4 * f64::from(step);
            let _ = writeln!(
                figure,
                "<text x=\"{:.1}\" y=\"{}\" font-size=\"13\" text-anchor=\"middle\">{rate:.1} t/h</text>",
                x(rate),
                bottom + 20.0
            );
        }
        for (kind, colour) in ["#b3261e", "#0b57d0", "#146c2e"].into_iter().enumerate() {
            let mut points: Vec<(u16, Outcome)> = Vec::new();
            for tried in &self.tried {
                if let Policy::Fixed(permille) = tried.way.policy {
                    points.push((permille, tried.by_kind[kind]));
                }
            }
            points.sort_by_key(|(permille, _)| *permille);
            let line: Vec<String> =
                points.iter().map(|(_, one)| format!("{:.1},{:.1}", x(one.rate()), y(one.kwh_t()))).collect();
            let _ = writeln!(
                figure,
                "<polyline points=\"{}\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"1.5\" stroke-dasharray=\"4 3\"/>",
                line.join(" ")
            );
            for (n, shown) in self.results[0].shown.iter().enumerate() {
                let one = &shown.by_kind[kind];
                let (at, of) = (x(one.rate()), y(one.kwh_t()));
                let mark = if n == 2 {
                    format!(
                        "<rect x=\"{:.1}\" y=\"{:.1}\" width=\"11\" height=\"11\" fill=\"{colour}\"/>",
                        at - 5.5,
                        of - 5.5
                    )
                } else {
                    let fill = if n == 0 { "#fff" } else { colour };
                    format!("<circle cx=\"{at:.1}\" cy=\"{of:.1}\" r=\"4.5\" fill=\"{fill}\" stroke=\"{colour}\"/>")
                };
                let _ = writeln!(figure, "{mark}");
            }
            let _ = writeln!(
                figure,
                "<text x=\"{right}\" y=\"{}\" font-size=\"14\" fill=\"{colour}\" text-anchor=\"end\">{}</text>",
                top + 16.0 + 18.0 * kind as f64,
                KINDS[kind].name
            );
        }
        let words = [
            ("Energy a tonne over tonnes an hour. Lower and further right is better.".to_owned(), true),
            (
                "Squares: governed. Circles: best fixed speed, open; with the feed stop, full. Dashed: all fixed speeds, from slow to fast, as the \
                 tuning half has them."
                    .to_owned(),
                false,
            ),
        ];
        drawing("Feeding", "the feed study", "kWh a tonne over tonnes an hour", bottom + 50.0, &figure, &words)
    }
}
