//! What was found, for people.

use std::fmt::Write as _;
use std::path::Path;

use super::outcome::is_its_own;
use super::{FILES, Found};
use crate::error::quoted;
use crate::report::event::cause_name;
use crate::report::words::{counted, plain, span, stamp};
use crate::settings::Starter;
use crate::terminal::Screen;

/// The recorded motor's energy may come out so much otherwise, share: beyond it the study is not believed.
const OFF: f64 = 0.03;
/// Warming times for which a log should last: by then a first-order image has come to 95 %.
const WARMED: f64 = 3.0;

/// The whole text.
pub fn text(found: &Found, out: Option<&Path>) -> String {
    let screen = Screen::stdout();
    let mut text = String::new();
    let mut say = |indent: usize, words: &str| {
        for line in screen.lines(indent, words) {
            let _ = writeln!(text, "{line}"); // writing to a string cannot fail
        }
    };
    say(2, &verdict(found));
    say(2, &format!("  {}", recorded(found)));
    say(0, "");
    say(
        0,
        &format!(
            "{:<20} {:>5} {:>5} {:>5} {:>5} {:>7} {:>5} {:>5} {:>6}  {}",
            "% of rating", "rms", "95 %", "10 s", "1 s", "thermal", "start", "trips", "kWh/t", "does it"
        ),
    );
    for n in 0..found.motors.len() {
        let name: String = found.motors[n].name.chars().take(20).collect();
        let [rms, p95, long, short, thermal, start, trips, energy] = cells(found, n);
        let does = does(found, n);
        say(
            0,
            &format!(
                "{name:<20} {rms:>5} {p95:>5} {long:>5} {short:>5} {thermal:>7} {start:>5} {trips:>5} {energy:>6}  {does}"
            ),
        );
    }
    let against: Vec<usize> =
        (0..found.motors.len()).filter(|n| found.untold().is_none() && !found.outcomes[*n].does()).collect();
    if !against.is_empty() {
        say(0, "");
        say(0, "Why not");
        for n in against {
            say(4, &format!("  {}: {}", found.motors[n].name, reasons(found, n).join("; ")));
        }
    }
    if !found.notes.is_empty() {
        say(0, "");
        say(0, "To know");
        found.notes.iter().for_each(|note| say(4, &format!("  {note}")));
    }
    if let Some(out) = out {
        say(0, "");
        say(2, &format!("All of it in {}", quoted(&out.join(FILES[0]).display().to_string())));
    }
    text
}

/// Figures of a row of the table: rms, 95 %, peaks of 10 s and 1 s, thermal, longest start, trips, kWh/t.
pub fn cells(found: &Found, n: usize) -> [String; 8] {
    let figures = &found.figures[n];
    let pct = |share: Option<f64>| share.map_or("-".to_owned(), |share| format!("{:.0}", 100.0 * share));
    let [short, long] = figures.peaks;
    [
        pct(figures.rms()),
        pct(figures.p95()),
        pct(long),
        pct(short),
        pct(figures.hottest.map(|(level, _)| level)),
        figures.longest_run_up_s.map_or("-".to_owned(), |s| format!("{s:.1}")),
        figures.trips.len().to_string(),
        found.kwh_per_t(n).map_or("-".to_owned(), |x| format!("{x:.1}")),
    ]
}

/// In one line.
pub fn verdict(found: &Found) -> String {
    if let Some(why) = found.untold() {
        return format!("Which motor would do cannot be told: {why}");
    }
    let Some(n) = found.smallest() else { return "None of these motors would have done it".to_owned() };
    let share = |share: Option<f64>| share.map_or("-".to_owned(), |share| format!("{:.0} %", 100.0 * share));
    let figures = &found.figures[n];
    let trips = match found.figures[n].trips.len() as u64 {
        0 => "no trip".to_owned(),
        trips => format!("{} that the load gave, as the recorded motor had", counted(trips, "trip")),
    };
    format!(
        "{} would have done it, the smallest of {}: rms load {}, thermal image at most {}, {trips}",
        found.motors[n].name,
        counted(found.motors.len() as u64, "motor"),
        share(figures.rms()),
        share(figures.hottest.map(|(level, _)| level)),
    )
}

/// What was recorded, and how well it is come to again.
pub fn recorded(found: &Found) -> String {
    let recorded = &found.recorded;
    let rms = recorded.rms_w().map_or(String::new(), |w| format!(", {:.1} kW rms at the shaft", w / 1e3));
    let off = found.off().map_or(String::new(), |off| {
        let off = 100.0 * off;
        format!("; the recorded motor's energy comes out {off:+.1} % of what was recorded")
    });
    format!("{} at work of {}{rms}{off}", span(recorded.running_s), span(recorded.length_s))
}

/// Whether a motor would have done it, in a word.
pub fn does(found: &Found, n: usize) -> &'static str {
    match (found.untold(), found.outcomes[n].does()) {
        (Some(_), _) => "-",
        (None, true) => "yes",
        (None, false) => "no",
    }
}

/// A time, with its log where there are several.
fn moment(found: &Found, t_s: f64) -> String {
    if found.logs.len() < 2 {
        return stamp(t_s);
    }
    let (log, t_s) = found.place(t_s);
    format!("{} of {}", stamp(t_s), found.logs[log].display())
}

/// Why a motor would not have done it.
pub fn reasons(found: &Found, n: usize) -> Vec<String> {
    let outcome = &found.outcomes[n];
    let mut out = Vec::new();
    if outcome.never {
        out.push("was never at speed".to_owned());
    }
    if outcome.not_up > 0 {
        out.push(format!("does not come to speed after {}", counted(outcome.not_up.into(), "start")));
    }
    if let Some(first) = outcome.pulled_out_s.first() {
        out.push(format!("stalls {}, first at {}", times(outcome.pulled_out_s.len()), moment(found, *first)));
    }
    if let Some((t_s, cause)) = outcome.trips.first() {
        out.push(format!(
            "trips {}, first at {} by {}",
            times(outcome.trips.len()),
            moment(found, *t_s),
            plain(cause_name(*cause))
        ));
    }
    if let Some(share) = outcome.overloaded {
        out.push(format!("rms load {:.0} % of its rating", 100.0 * share));
    }
    out
}

fn times(n: usize) -> String {
    if n == 1 { "once".to_owned() } else { format!("{n} times") }
}

/// What there is to say beside.
pub fn notes(found: &Found) -> Vec<String> {
    let mut out = Vec::new();
    let recorded = &found.recorded;
    if let Some(off) = found.off().filter(|off| off.abs() > OFF) {
        out.push(format!(
            "the recorded motor's energy comes out {:+.1} % of what was recorded: what is told of others is off as much; to mend it, compare nameplate, inertia and idle power with the mill",
            100.0 * off
        ));
    }
    if recorded.stalled_s > 0.0 {
        out.push(format!(
            "for {} the recorded motor was too slow for its speed to be told: the load is taken as the last that was known; a larger motor might have met more, or less",
            span(recorded.stalled_s)
        ));
    }
    let warming =
        found.motors.iter().filter_map(|motor| motor.settings.trips.thermal).map(|t| t.heating_time_constant_s);
    let longest = warming.fold(0.0, f64::max);
    if recorded.running_s < WARMED * longest {
        out.push(format!(
            "{} at work warm no motor up ({} would): of a shift go by the rms load, the thermal image is of this log alone",
            span(recorded.running_s),
            span(WARMED * longest)
        ));
    }
    if recorded.loose {
        out.push("the logs do not all tell when they begin (a table of CSV does not): the motors have not cooled between them".to_owned());
    }
    let starter = found.motors.iter().find(|motor| motor.settings.motor.starter != Starter::Direct);
    if let Some(motor) = starter {
        out.push(format!("{} is started otherwise: all starts are reckoned as direct on line", motor.name));
    }
    let own = &found.figures[0];
    if own.trips.iter().any(|(_, cause)| !is_its_own(*cause)) || !own.pulled_out_s.is_empty() {
        out.push(
            "a trip or stall within 2 s of one of the recorded motor is the load's: no reason against another motor"
                .to_owned(),
        );
    }
    if recorded.tripped_s() > 0.0 {
        out.push(format!(
            "{} after trips of the recorded motor, until it was off or within its rating, count for no motor: a mill would have been stopped",
            span(recorded.tripped_s())
        ));
    }
    if recorded.mass_kg.is_none() {
        out.push("the logs tell no mass: kWh/t is not given".to_owned());
    }
    out
}
