//! A day of a mill with forty starts, through the reduced plant, the judge, the log and the trend.
//!
//! What is laid into the day, and what must be told of it and when, is [`PLAN`]. The log is kept as golden text, and held against the plan
//! beside: a text that is recorded anew says nothing that the plan does not want. No published values here: delays and pick-ups are those of
//! the settings, energies the plant's own.

use shaftwork_acceptance::day::lived::{Lived, lived};
use shaftwork_acceptance::day::mill::{COAST_S, FAIR, left_turning, machine};
use shaftwork_acceptance::day::words::{clock, log};
use shaftwork_acceptance::day::{DAY_S, Due, Happens, Press, Row, Told, due, in_vain, resets};
use shaftwork_acceptance::tally::Tally;
use shaftwork_core::judge::restart::Hindrance;
use shaftwork_core::recorder::Lead;
use shaftwork_core::{Cause, EventKind, Register, State};
use shaftwork_sim::plant::supply::Place;
use std::fs;
use std::path::Path;
use std::sync::LazyLock;

/// Where nothing but the rotor hinders.
const THEN: &[Press] = &[in_vain(10.0, Hindrance::MayTurn), resets(500.0)];

/// The day. Delays are those of the settings ([`shaftwork_acceptance::day::mill`]); to each comes a cycle that shows it and one in
/// which it grows.
#[rustfmt::skip]
const PLAN: [Row; 40] = [
    Row::new([0, 20], 240.0, Happens::Belt(FAIR)),
    Row::new([0, 55], 180.0, Happens::Hand),
    Row::new([1, 30], 93.0, Happens::Wedge(90.0))
        .due(&[due(Told::Warning(Cause::Wedge), 90.1, 90.8), due(Told::Trip(Cause::Jam), 90.6, 92.0).led(Lead::Strike)])
        .then(&[
            Press { after_s: 5.0, here: false, answer: Err(Hindrance::Remote) },
            in_vain(10.0, Hindrance::MayTurn), in_vain(330.0, Hindrance::Rest), resets(500.0),
        ]),
    Row::new([2, 5], 240.0, Happens::Belt(FAIR)),
    Row::new([2, 40], 180.0, Happens::HardPiece { at_s: 90.0, length_s: 0.4, torque: 2.5 })
        .due(&[due(Told::Warning(Cause::Wedge), 90.1, 90.6)]),
    Row::new([3, 15], 240.0, Happens::Belt(FAIR)),
    // Borne: shorter than the delay of undervoltage.
    Row::new([3, 50], 180.0, Happens::Sag { at_s: 90.0, length_s: 0.4, depth: 0.35 }),
    Row::new([4, 25], 92.6, Happens::Sag { at_s: 90.0, length_s: 6.0, depth: 0.3 })
        .due(&[due(Told::Trip(Cause::Undervoltage), 92.0, 92.1)]).then(THEN),
    Row::new([5, 0], 240.0, Happens::Belt(FAIR)),
    Row::new([5, 35], 180.0, Happens::Sag { at_s: 90.0, length_s: 8.0, depth: -0.15 })
        .due(&[due(Told::Warning(Cause::Overvoltage), 91.0, 91.1)]),
    Row::new([6, 10], 180.0, Happens::Hand),
    Row::new([6, 45], 91.6, Happens::LostLine(90.0, Place::Motor))
        .due(&[due(Told::Trip(Cause::PhaseLoss), 91.0, 91.1)]).then(THEN),
    Row::new([7, 20], 240.0, Happens::Belt(FAIR)),
    Row::new([7, 55], 91.6, Happens::LostLine(90.0, Place::Upstream))
        .due(&[due(Told::Trip(Cause::PhaseLoss), 91.0, 91.1)]).then(THEN),
    Row::new([8, 30], 70.0, Happens::LostBelt(60.0))
        .due(&[due(Told::FeedStop(Cause::Underload), 62.0, 62.2).led(Lead::Fall)]),
    Row::new([9, 5], 240.0, Happens::Belt(FAIR)),
    Row::new([9, 40], 6.5, Happens::Held).due(&[due(Told::Trip(Cause::LongStart), 6.0, 6.1).led(Lead::Start)]).then(THEN),
    Row::new([10, 15], 240.0, Happens::Belt(FAIR)),
    // Five starts within an hour are allowed.
    Row::new([10, 50], 60.0, Happens::Idle),
    Row::new([11, 1], 60.0, Happens::Idle),
    Row::new([11, 12], 60.0, Happens::Idle),
    Row::new([11, 23], 60.0, Happens::Idle),
    Row::new([11, 34], 60.0, Happens::Idle),
    Row::new([11, 45], 0.5, Happens::Idle).refused(Hindrance::Starts)
        .due(&[due(Told::Trip(Cause::StartsPerHour), 0.0, 0.1)])
        // Not before 12:01: then the start of 11:01 is an hour old.
        .then(&[in_vain(10.0, Hindrance::MayTurn), in_vain(900.0, Hindrance::Starts), resets(1_000.0)]),
    Row::new([12, 40], 240.0, Happens::Belt(FAIR)),
    Row::new([13, 15], 60.0, Happens::Unbalance(0.02))
        .due(&[due(Told::FeedStop(Cause::CurrentUnbalance), 12.0, 13.5)]),
    Row::new([13, 50], 240.0, Happens::Belt(FAIR)),
    Row::new([14, 25], 240.0, Happens::Gap(90.0, 30.0)).due(&[due(Told::Gap, 89.99, 90.01)]),
    Row::new([15, 0], 180.0, Happens::Hand),
    // The load rises over half a minute: no wedge until it stands at 170 %, which is when it is about to jam.
    Row::new([15, 35], 102.0, Happens::Choke(60.0))
        .due(&[due(Told::Warning(Cause::Wedge), 85.0, 101.0), due(Told::Trip(Cause::Jam), 85.0, 101.0)]).then(THEN),
    Row::new([16, 30], 240.0, Happens::Belt(FAIR)),
    Row::new([17, 5], 700.0, Happens::Overload(60.0))
        .due(&[due(Told::Trip(Cause::ThermalOverload), 610.0, 680.0).led(Lead::Even)])
        .then(&[in_vain(10.0, Hindrance::MayTurn), in_vain(450.0, Hindrance::Hot), resets(1_200.0)]),
    Row::new([18, 10], 240.0, Happens::Belt(FAIR)),
    Row::new([18, 45], 66.0, Happens::Surge(60.0))
        .due(&[due(Told::Warning(Cause::Wedge), 60.8, 63.0), due(Told::Trip(Cause::Jam), 61.0, 65.0).led(Lead::Feed)]).then(THEN),
    Row::new([19, 20], 240.0, Happens::Belt(FAIR)),
    Row::new([20, 0], 180.0, Happens::Hand),
    Row::new([20, 40], 240.0, Happens::Belt(FAIR)),
    Row::new([21, 20], 180.0, Happens::Idle),
    Row::new([22, 0], 240.0, Happens::Belt(FAIR)),
    Row::new([23, 0], 240.0, Happens::Belt(FAIR)),
];

/// What the reduced plant cannot do, and so no day shows.
const LEFT_OUT: [(Cause, &str); 3] = [
    (Cause::PhaseReversal, "its source always turns the same way round"),
    (Cause::ResidualCurrent, "its motor has no neutral and no frame: currents add up to nothing"),
    (
        Cause::SensorFault,
        "its records are of the truth: no channel sticks or dies, no sample is at the converter's end",
    ),
];

static DAY: LazyLock<Lived> = LazyLock::new(|| lived(&PLAN));

/// All that is due, by the time of the day, with its row.
fn all_due() -> impl Iterator<Item = (&'static Row, &'static Due)> {
    PLAN.iter().flat_map(|row| row.due.iter().map(move |due| (row, due)))
}

fn seconds(q16: u64) -> f64 {
    q16 as f64 / 65_536.0 / DAY.rate_hz
}

/// Each trip, alarm and gap of the log is the one that is due, within its time, after what must have led to it; there is no other.
fn as_planned(tally: &mut Tally) {
    let mut due = all_due();
    for entry in &DAY.entries {
        let told = match entry.event.kind {
            EventKind::Trip { cause, .. } => Told::Trip(cause),
            EventKind::Alarm { cause, feed_stop: true, .. } => Told::FeedStop(cause),
            EventKind::Alarm { cause, .. } => Told::Warning(cause),
            EventKind::Gap { .. } => Told::Gap,
            EventKind::Warning(warning) => {
                tally.holds(&format!("{warning:?} is not due"), false);
                continue;
            }
            _ => continue,
        };
        let at_s = seconds(entry.event.at.0);
        let Some((row, due)) = due.next() else {
            tally.holds(&format!("{told:?} at {} is due", clock(at_s)), false);
            continue;
        };
        tally.holds(&format!("{told:?} at {}, due is {:?}", clock(at_s), due.told), told == due.told);
        let what = format!("{:?} at {}, s from closing", due.told, clock(at_s));
        tally.between(&what, at_s - row.closes_s(), due.from_s, due.until_s);
        let lead = entry.account.map(|account| account.lead);
        tally.holds(&format!("{what}: {lead:?} led to it"), due.lead.is_none() || lead == due.lead);
        if matches!(told, Told::Trip(_)) {
            tally.holds(&format!("{what}: before the plan opens the contactor"), at_s < row.opens_s());
        }
    }
    let missing: Vec<_> = due.map(|(row, due)| (row.closes, due.told)).collect();
    tally.holds(&format!("all that is due was told, but for {missing:?}"), missing.is_empty());
    let count = |wanted: fn(&EventKind) -> bool| DAY.entries.iter().filter(|entry| wanted(&entry.event.kind)).count();
    let [begun, ended] = [
        count(|kind| matches!(kind, EventKind::Alarm { .. })),
        count(|kind| matches!(kind, EventKind::AlarmEnds { .. })),
    ];
    tally.holds(&format!("{begun} feed stops and warnings, {ended} of them ended"), begun == ended && begun > 0);
}

#[test]
fn what_is_told_is_what_was_laid_into_the_day() {
    let mut tally = Tally::default();
    as_planned(&mut tally);
    tally.finish();
}

/// The plan itself: starts from rest, the contactor open after each trip's time, every cause in it or left out for a reason.
#[test]
fn the_plan_is_sound() {
    let mut tally = Tally::default();
    let machine = machine();
    for pair in PLAN.windows(2) {
        let rest_s = pair[1].closes_s() - pair[0].opens_s();
        tally.holds(&format!("{:?}: the time for coasting is over", pair[1].closes), rest_s > COAST_S);
        // What is left of the speed is left out.
        tally.between(&format!("{:?}: speed left", pair[1].closes), left_turning(&machine, rest_s), 0.0, 0.05);
    }
    for (row, due) in all_due() {
        tally.holds(&format!("{:?}: {:?} is due while closed", row.closes, due.told), due.until_s <= row.runs_s);
    }
    for cause in Cause::ALL {
        let causes = |told| match told {
            Told::Trip(cause) | Told::FeedStop(cause) | Told::Warning(cause) => Some(cause),
            Told::Gap => None,
        };
        let planned = all_due().any(|(_, due)| causes(due.told) == Some(cause));
        let left_out = LEFT_OUT.iter().find(|(out, _)| *out == cause);
        tally.holds(&format!("{cause:?} is in the plan, or {left_out:?}"), planned != left_out.is_some());
    }
    tally.finish();
}

#[test]
fn forty_starts_are_counted_each_when_the_contactor_closes() {
    let mut tally = Tally::default();
    let starts = DAY.entries.iter().filter(|entry| entry.event.kind == EventKind::Start);
    let starts: Vec<f64> = starts.map(|entry| seconds(entry.event.at.0)).collect();
    tally.holds(&format!("{} starts logged, {} counted", starts.len(), DAY.totals.starts), starts.len() == 40);
    tally.holds("as many are counted", DAY.totals.starts == 40);
    for (at_s, row) in starts.iter().zip(&PLAN) {
        tally.between(&format!("{:?}, s after closing", row.closes), at_s - row.closes_s(), -0.01, 0.02);
    }
    for (place, entry) in DAY.entries.iter().enumerate() {
        tally.holds(&format!("event {} has its number", entry.sequence), entry.sequence as usize == place + 1);
    }
    tally.holds("no event was lost", DAY.totals.lost_events == 0);
    tally.finish();
}

/// From a trip to its reset the core tells the trip, refuses a start and stops the feed, half cycle by half cycle; a reset is refused as
/// planned, and no start is made that is refused but the one for which somebody bridged the contact.
#[test]
fn a_trip_is_held_until_it_is_reset() {
    let mut tally = Tally::default();
    tally.holds(&format!("let go at {:?} s", DAY.let_go), DAY.let_go.is_empty());
    let trips = all_due().filter(|(_, due)| matches!(due.told, Told::Trip(_))).count();
    tally.holds(&format!("{} trips of {trips}", DAY.totals.trips), DAY.totals.trips as usize == trips && trips > 8);
    let answers = PLAN.iter().flat_map(|row| row.presses.iter().map(|press| press.answer));
    tally.holds(&format!("answers {:?}", DAY.answers), answers.eq(DAY.answers.iter().copied()));
    let permits = PLAN.iter().map(|row| row.refused);
    tally.holds(&format!("starts refused {:?}", DAY.permits), permits.eq(DAY.permits.iter().copied()));
    tally.finish();
}

/// Times add up to the day, energies to those of the records and, but for the gap, to the plant's. The shaft's is the model's: a hundredth, as
/// docs/accuracy.md has it.
#[test]
fn times_and_energies_add_up() {
    let mut tally = Tally::default();
    let totals = &DAY.totals;
    let frames: u64 = totals.time.iter().map(|span| span.0).sum();
    tally.within("all states, s off a day", seconds(frames) - DAY_S, 1e-9);
    let time_s =
        |wanted| State::ALL.iter().position(|state| *state == wanted).map(|n| seconds(totals.time[n].0)).unwrap();
    tally.within("nothing known but in the gap, s", time_s(State::Unknown) - 30.0, 0.011);
    let closed_s: f64 = PLAN.iter().map(|row| row.runs_s).sum();
    let on_s = time_s(State::Starting) + seconds(totals.running().0) + 30.0;
    tally.within("current flows while closed, s off for each start", (on_s - closed_s) / 40.0, 0.03);
    let q20 = |r: Register| (i128::from(r.joules) << 20) + i128::from(r.fraction);
    tally.holds("records' energies are the total", DAY.energy_q20 == q20(totals.electrical) - q20(totals.exported));
    let by_state: i128 = totals.energy.iter().map(|register| q20(*register)).sum();
    tally.holds("the states' energies are the total", by_state == q20(totals.electrical));
    let joules = |q20: i128| q20 as f64 / 1_048_576.0;
    let [electrical_j, shaft_j] = DAY.plant_j;
    tally.within("electrical energy, % off the plant's", 100.0 * (joules(DAY.energy_q20) / electrical_j - 1.0), 1e-4);
    tally.within("shaft energy, % off the plant's", 100.0 * (joules(totals.shaft_q20) / shaft_j - 1.0), 1.0);
    let fed_kg = totals.mass_mg.map_or(0.0, |mg| mg as f64 / 1e6);
    tally.within("mass, kg off the plant's", fed_kg - DAY.fed_kg, 1e-6);
    tally.holds(&format!("{fed_kg} kg were fed"), fed_kg > 500.0);
    tally.finish();
}

/// The whole log, line by line. `SHAFTWORK_RECORD=1` records it anew, where it is as planned: another text is a change of plant, core or words,
/// and wants a reason.
#[test]
fn the_log_is_as_recorded() {
    let mut tally = Tally::default();
    as_planned(&mut tally);
    tally.finish();
    let found = log(&DAY);
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("golden/day.txt");
    if std::env::var_os("SHAFTWORK_RECORD").is_some() {
        fs::write(&path, found.join("\n") + "\n").expect("the text can be written");
    }
    let text = fs::read_to_string(&path).expect("tests/golden/day.txt is there");
    let recorded: Vec<&str> = text.lines().collect();
    for (number, (found, recorded)) in found.iter().zip(&recorded).enumerate() {
        assert!(found == recorded, "line {}\nfound    {found}\nrecorded {recorded}", number + 1);
    }
    assert_eq!(found.len(), recorded.len(), "lines");
}
