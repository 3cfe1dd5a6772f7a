//! What was found, for people.

use std::fmt::Write as _;
use std::path::Path;

use super::score::{Outcome, Reason, Score};
use super::table::percent;
use super::verdict::Verdict;
use super::{Found, PAGE, Studied};
use crate::error::quoted;
use crate::report::words::counted;
use crate::terminal::Screen;

/// Rows of the front that are shown; the page has them all.
const SHOWN: usize = 10;
/// Traces that are named in a note.
const NAMED: usize = 5;

/// The whole text.
pub fn text(found: &Found, out: Option<&Path>) -> String {
    let screen = Screen::stdout();
    let mut text = String::new();
    let (at, _) = found.recommended;
    let say = |text: &mut String, indent: usize, words: &str| {
        for line in screen.lines(indent, words) {
            let _ = writeln!(text, "{line}");
        }
    };
    let words = if found.recommended.1 == Reason::Nothing {
        String::new()
    } else {
        format!(": {}", found.candidates.words(at))
    };
    say(&mut text, 2, &format!("{}{words}", verdict(found)));
    say(&mut text, 2, &format!("  {}", reason(found)));
    let _ = writeln!(text);
    let _ = writeln!(
        text,
        "{:<10} {:>7} {:>5} {:>6} {:>6} {:>8} {:>8} {:>8} {:>6}",
        "setting",
        "caught",
        "late",
        "missed",
        "false",
        format!("at -{}%", percent(found.rules.margin)),
        "mean, s",
        "worst, s",
        "room"
    );
    for (name, n, part) in [("chosen on", at, 0), ("shown on", at, 1), ("as set", found.base(), 2), ("all", at, 2)] {
        let _ = writeln!(text, "{}", line(name, &found.scores[part][n]));
    }
    let _ = writeln!(
        text,
        "\nWhat no other of {} beats, on the part it is chosen on",
        counted(found.candidates.all.len() as u64, "setting")
    );
    for n in found.front.iter().take(SHOWN) {
        let _ = writeln!(
            text,
            "{}",
            line(&format!("{}{}", n + 1, if found.best() == Some(*n) { " *" } else { "" }), &found.scores[0][*n])
        );
        say(&mut text, 4, &format!("    {}", found.candidates.words(*n)));
    }
    if found.front.len() > SHOWN {
        let _ = writeln!(text, "... and {} more", found.front.len() - SHOWN);
    }
    let wrong: Vec<&Studied> = found.traces.iter().filter(|studied| !studied.rows[at].outcome.right()).collect();
    if !wrong.is_empty() {
        let _ = writeln!(text, "\nNot as it should be");
        for studied in wrong {
            say(
                &mut text,
                4,
                &format!("  {} ({}): {}", studied.trace.name, studied.trace.verdict, decision(studied, at)),
            );
        }
    }
    if !found.notes.is_empty() {
        let _ = writeln!(text, "\nTo know");
        for note in &found.notes {
            say(&mut text, 4, &format!("  {note}"));
        }
    }
    if let Some(out) = out {
        say(&mut text, 2, &format!("\nAll of it in {}", quoted(&out.join(PAGE).display().to_string())));
    }
    text
}

/// What the recommended setting is worth, by the traces that it was not chosen on.
pub fn verdict(found: &Found) -> String {
    let (at, reason) = found.recommended;
    let shown = &found.scores[1][at];
    if reason == Reason::Nothing {
        return "none to recommend: no setting catches a jam".to_owned();
    }
    if shown.jams + shown.honest == 0 {
        return "chosen, but shown on no other trace".to_owned();
    }
    let jams = match shown.jams {
        0 => "no jam to show it on".to_owned(),
        jams => format!(
            "catches {} of {jams} new jams",
            if shown.caught == jams { "all".to_owned() } else { shown.caught.to_string() }
        ),
    };
    let falses = match (shown.falses, shown.honest) {
        (0, 0) => "no honest trace to show it on".to_owned(),
        (0, _) => "no false trip".to_owned(),
        (n, _) => counted(n as u64, "false trip"),
    };
    format!("{jams}, {falses}").replace("all of 1 new jams", "the new jam")
}

/// Why it is the one.
pub fn reason(found: &Found) -> String {
    let (at, reason) = found.recommended;
    let scores = &found.scores[0];
    let score = &scores[at];
    let least = score.mistakes();
    let like = scores[..found.base()].iter().filter(|other| other.mistakes() == least).count();
    let kept =
        scores[..found.base()].iter().filter(|other| other.mistakes() == least && other.touchy == other.falses).count();
    let like = counted(like as u64, "setting");
    let mistakes = match least {
        0 => format!("that caught all {} and tripped on nothing honest", counted(score.jams as u64, "jam")),
        n => format!("with the fewest mistakes, {n} (jams not caught and false trips)"),
    };
    let nearer = nearer(found);
    let touchy = match reason {
        Reason::Quickest => format!(
            "the quickest of the {kept} that would have tripped on no more honest work {nearer}, of {like} {mistakes}"
        ),
        Reason::Nothing => {
            return format!(
                "{} jams, and of {} none caught one; on the traces to choose on",
                score.jams,
                counted(found.base() as u64, "setting")
            );
        }
        Reason::MostRoom => format!(
            "all of {like} {mistakes} would have tripped on honest work {nearer}: this one least, on {}",
            counted(score.touchy as u64, "trace")
        ),
    };
    format!("{touchy}; on the traces it was chosen on")
}

/// What a touchier twin is.
pub fn nearer(found: &Found) -> String {
    format!("with pick-ups and delays {} % nearer", percent(found.rules.margin))
}

fn line(name: &str, score: &Score) -> String {
    let time = |s: Option<f64>| s.map_or("-".to_owned(), |s| format!("{s:.2}"));
    let margin = match score.jams + score.honest {
        0 => "-".to_owned(),
        _ => format!("{:.0} %", score.margin() * 100.0),
    };
    format!(
        "{name:<10} {:>7} {:>5} {:>6} {:>6} {:>8} {:>8} {:>8} {margin:>6}",
        format!("{}/{}", score.caught, score.jams),
        score.late,
        score.missed,
        // Before a jam there may be one as well.
        format!("{}/{}", score.falses, score.jams + score.honest),
        score.touchy,
        time(score.mean_s),
        time(score.longest_s),
    )
}

/// A decision in words.
pub fn decision(studied: &Studied, n: usize) -> String {
    let row = &studied.rows[n];
    let cause = row
        .decided
        .trip
        .map_or(String::new(), |(_, cause)| crate::report::words::plain(crate::report::event::cause_name(cause)));
    let at = row.trip_s.map_or(String::new(), |s| format!("{s:.2} s"));
    let side = |s: f64| if s < 0.0 { "before" } else { "after" };
    let after = row.after_s.map_or(String::new(), |s| format!("{:.2} s {} the jam", s.abs(), side(s)));
    match row.outcome {
        Outcome::Caught => format!("caught {after}, by {cause}"),
        Outcome::Late => format!("late, {after}, by {cause}"),
        Outcome::Missed => "missed".to_owned(),
        Outcome::Quiet => "no trip".to_owned(),
        Outcome::False => format!("false trip at {at}, by {cause}"),
    }
}

/// What there is to say of the folder and of what came out.
pub fn notes(traces: &[Studied], without: &[String], scores: &[Vec<Score>; 3]) -> Vec<String> {
    let mut out = Vec::new();
    if !without.is_empty() {
        let more = if without.len() > NAMED { format!(" and {} more", without.len() - NAMED) } else { String::new() };
        let names = without.iter().take(NAMED).cloned().collect::<Vec<_>>().join(", ");
        out.push(format!(
            "{} left out, which no verdict tells of: {names}{more}",
            counted(without.len() as u64, "trace")
        ));
    }
    let honest = traces.iter().filter(|studied| studied.trace.verdict == Verdict::Honest).count();
    if honest == 0 {
        out.push("no honest trace: only what came before the jams tells of false trips; to mend it, add traces of lumps that the mill broke".to_owned());
    }
    if let Some(shown) = scores[1].first() {
        let alone = |what: &str| {
            format!("one {what} alone, on which the setting was chosen: it is shown on no other; add a second one")
        };
        if shown.honest == 0 && honest > 0 {
            out.push(alone("honest trace"));
        }
        if shown.jams == 0 {
            out.push(alone("jam"));
        } else if shown.jams + shown.honest < 6 {
            out.push(format!(
                "shown on {} only: chance has much to say; more of them say more",
                counted((shown.jams + shown.honest) as u64, "trace")
            ));
        }
    }
    // What is said of many traces is said once.
    let mut warned: Vec<(&str, Vec<&str>)> = Vec::new();
    for studied in traces {
        for warning in &studied.warnings {
            let name = studied.trace.name.as_str();
            match warned.iter_mut().find(|(known, _)| known == warning) {
                Some((_, names)) => names.push(name),
                None => warned.push((warning, vec![name])),
            }
        }
    }
    out.extend(warned.into_iter().map(|(warning, names)| match names.as_slice() {
        [first, rest @ ..] if !rest.is_empty() => {
            format!("{first} and {}: {warning}", counted(rest.len() as u64, "other trace"))
        }
        one => format!("{}: {warning}", one.concat()),
    }));
    out
}
