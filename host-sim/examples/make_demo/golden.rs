//! Small traces for tests: a start and a jam from the model, two exact waveforms, each with its settings.

use crate::Artefact;
use crate::story::{table, tell};
use crate::wave::{Part, Wave, powers};
use shaftwork_sim::plant::Scenario;
use shaftwork_sim::plant::circuit::Circuit;
use shaftwork_sim::plant::sensor::CurrentTap;
use shaftwork_sim::plant::supply::Tap;
use shaftwork_sim::synth::catalogue;
use shaftwork_sim::synth::plate::{Plate, Trips};
use shaftwork_sim::synth::story as synth;
use std::fmt::Write as _;

const FOLDER: &str = "tests/traces";
const RATED_W: f64 = 55_000.0;

/// The traces, their settings, and a page with what is true of them.
pub fn files() -> Vec<Artefact> {
    let mut page = String::from(
        "# Small traces\n\n\
         Written by `cargo run -p shaftwork-sim --example make_demo`; a test compares them with a fresh run. Each\n\
         `NAME.toml` holds the settings for the trace `NAME`. What is true of them:\n",
    );
    let mut files = start(&mut page);
    files.extend(jam(&mut page));
    files.extend(sine(&mut page));
    files.extend(two_element(&mut page));
    files.push(Artefact::new(FOLDER, "README.md", page));
    files
}

fn found(name: &str) -> synth::Story {
    catalogue::find(name).expect("it is in the catalogue")
}

/// The elements that are off unless given: with all of them on, boards are counted and compared. The wedge only warns, so that jam
/// stays the one that trips.
const FURTHER: &str = "
[trip.overvoltage]
pickup_pct = 115
delay_s = 1.0

[trip.phase_reversal]
delay_s = 0.1

[trip.current_unbalance]
pickup_pct = 20
delay_s = 0.5

[trip.residual_current]
pickup_pct = 20
delay_s = 0.2

[trip.underload]
pickup_pct = 50
delay_s = 1.0

[trip.sensor_fault]
delay_s = 0.06

[trip.starts_per_hour]
most = 5

[trip.wedge]
pickup_pct = 170
window_s = 0.2
action = \"warning\"

[restart]
rest_s = 110
";

fn plate_of<'a>(scenario: &'a Scenario, about: &'a [&'a str], trips: Trips) -> Plate<'a> {
    let idle = scenario.circuit.settle(|speed| scenario.mill.windage_nm(speed)).expect("the empty mill runs");
    Plate {
        about,
        circuit: &scenario.circuit,
        rated_w: RATED_W,
        wiring: "four-wire",
        tap: Tap::Line,
        current_tap: CurrentTap::Line,
        bits: 16,
        rate_hz: scenario.rate_hz,
        volts: scenario.sensor.voltage.full_scale,
        amps: scenario.sensor.current.full_scale,
        inertia_kg_m2: Some(scenario.circuit.inertia_kg_m2 + scenario.mill.inertia_kg_m2),
        idle_w: Some(idle.shaft_w),
        starter: "direct",
        mass: false,
        trips: Some(trips),
    }
}

fn start(page: &mut String) -> Vec<Artefact> {
    let synth::Story { scenario, trips, .. } = found("light-start");
    let closes_s = scenario.supply.closed[0].from_s;
    let settings = plate_of(&scenario, &["A light rotor starts: no trip."], trips).text() + FURTHER;
    let story = tell(&scenario, 11, 6, "LIGHT MILL");
    let run_up = story.run_up.expect("the light rotor starts").t_s;
    let (peak, end) = (story.peak_a(), story.end.electrical_j / 3600.0);
    let rows = [
        ("contactor closes", format!("{closes_s} s")),
        ("95 % of synchronous speed", format!("{run_up:.4} s")),
        ("highest one-cycle rms current, at any sample", format!("{peak:.1} A")),
        ("electrical energy", format!("{end:.3} Wh")),
        ("speed at the end", format!("{:.1} rpm", story.end.speed_rpm)),
        ("trips", "none".to_owned()),
    ];
    section(page, "start", "2 s at 2 kHz, 55 kW, 50 Hz, COMTRADE of six channels, from rest", &rows);
    record("start", settings, story.cfg, story.dat)
}

fn jam(page: &mut String) -> Vec<Artefact> {
    let synth::Story { scenario, trips, .. } = found("light-jam");
    let wedge = scenario.mill.wedge.expect("something jams");
    let plate = plate_of(&scenario, &["Running empty, then a wedge: one trip, by jam."], trips);
    let rated_a = plate.nameplate().rated.current_a;
    let story = tell(&scenario, 12, 6, "LIGHT MILL");
    let crosses = story.crosses_for_good(2.0 * rated_a, 2.0, scenario.rate_hz).expect("the wedge jams");
    let rows = [
        ("runs from the first sample; wedge begins", format!("{} s", wedge.at_s)),
        ("one-cycle rms passes 200 % of rated and stays", format!("{crosses:.4} s")),
        ("trip, jam, 0.2 s later; up to 2 half cycles more", format!("{:.3} s", crosses + 0.2)),
        ("speed at the end", format!("{:.1} rpm", story.end.speed_rpm)),
        ("highest one-cycle rms current", format!("{:.1} A", story.peak_a())),
    ];
    section(page, "jam", "2 s at 4 kHz, the same motor, COMTRADE of six channels, running", &rows);
    let settings = plate.text() + FURTHER;
    record("jam", settings, story.cfg, story.dat)
}

fn sine(page: &mut String) -> Vec<Artefact> {
    let (hz, rate_hz, samples) = (51.6, 3200.0, 1920_u32);
    let voltage = Wave {
        positive: Part(229.0, 0.0),
        negative: Part(3.2, 35.0),
        harmonics: &[(5, Part(5.1, 170.0)), (7, Part(3.4, 25.0))],
    };
    let current = Wave {
        positive: Part(81.0, -29.0),
        negative: Part(6.5, 110.0),
        harmonics: &[(5, Part(4.6, 95.0)), (7, Part(2.3, -60.0))],
    };
    let mut csv = String::from("t_s,va_v,vb_v,vc_v,ia_a,ib_a,ic_a\n");
    for n in 0..samples {
        let t = f64::from(n) / rate_hz;
        let (v, i) = (voltage.at(hz * t), current.at(hz * t));
        row(&mut csv, t, &[v[0], v[1], v[2], i[0], i[1], i[2]]);
    }
    let circuit = Circuit::mill_55_kw();
    let about = ["51.6 Hz with fifth and seventh harmonic and unbalance: for metering, every trip off."];
    let settings = bare_plate(&about, &circuit, RATED_W, "four-wire", rate_hz, 600.0, 1500.0).text();
    let what = "0.6 s at 3.2 kHz, four-wire CSV, steady, fifth and seventh harmonic";
    section(page, "sine", what, &figures(hz, &voltage, &voltage, &current));
    vec![Artefact::new(FOLDER, "sine.csv", csv), Artefact::new(FOLDER, "sine.toml", settings)]
}

fn two_element(page: &mut String) -> Vec<Artefact> {
    let (hz, rate_hz, samples) = (60.0, 4000.0, 2600_u32);
    let star = Wave { positive: Part(264.0, 0.0), negative: Part(2.1, -75.0), harmonics: &[] };
    let current = Wave { positive: Part(52.0, -27.0), negative: Part(2.9, 140.0), harmonics: &[] };
    let lines = star.between_lines();
    let mut csv = String::from("t_s,vab_v,vcb_v,ia_a,ic_a\n");
    for n in 0..samples {
        let t = f64::from(n) / rate_hz;
        let (v, i) = (star.at(hz * t), current.at(hz * t));
        row(&mut csv, t, &[v[0] - v[1], v[2] - v[1], i[0], i[2]]);
    }
    let circuit = Circuit::textbook_50_hp();
    let about = ["60 Hz by two voltages and two currents, a little unbalanced: for metering, every trip off."];
    let settings = bare_plate(&about, &circuit, 37_285.0, "two-element", rate_hz, 1000.0, 1200.0).text();
    let what = "0.65 s at 4 kHz, two-element CSV, steady; voltages of the table are line to line";
    section(page, "two-element", what, &figures(hz, &lines, &star, &current));
    vec![Artefact::new(FOLDER, "two-element.csv", csv), Artefact::new(FOLDER, "two-element.toml", settings)]
}

fn bare_plate<'a>(
    about: &'a [&'a str],
    circuit: &'a Circuit,
    rated_w: f64,
    wiring: &'a str,
    rate_hz: f64,
    volts: f64,
    amps: f64,
) -> Plate<'a> {
    Plate {
        about,
        circuit,
        rated_w,
        wiring,
        tap: Tap::Line,
        current_tap: CurrentTap::Line,
        bits: 16,
        rate_hz,
        volts,
        amps,
        inertia_kg_m2: None,
        idle_w: None,
        starter: "direct",
        mass: false,
        trips: None,
    }
}

/// What metering should find. `shown` are the voltages that it shows, `star` those that carry power.
fn figures(hz: f64, shown: &Wave, star: &Wave, current: &Wave) -> [(&'static str, String); 9] {
    let [active, reactive, apparent] = powers(star, current);
    let list = |x: [f64; 3]| x.map(|x| format!("{x:.4}")).join(", ");
    [
        ("frequency, Hz", format!("{hz}")),
        ("voltage, V", list(shown.rms())),
        ("current, A", list(current.rms())),
        ("active power, W", format!("{active:.2}")),
        ("reactive power of the fundamentals, var", format!("{reactive:.2}")),
        ("apparent power, VA; power factor", format!("{apparent:.2}; {:.5}", active / apparent)),
        (
            "unbalance of voltage and current, %",
            format!("{:.4}, {:.4}", shown.unbalance_pct(), current.unbalance_pct()),
        ),
        ("THD of voltage, %", list(shown.thd_pct())),
        ("THD of current, %", list(current.thd_pct())),
    ]
}

fn record(name: &str, settings: String, cfg: String, dat: Vec<u8>) -> Vec<Artefact> {
    vec![
        Artefact::new(FOLDER, &format!("{name}.toml"), settings),
        Artefact::new(FOLDER, &format!("{name}.cfg"), cfg),
        Artefact::new(FOLDER, &format!("{name}.dat"), dat),
    ]
}

fn row(csv: &mut String, t_s: f64, values: &[f64]) {
    // Writing to a string cannot fail.
    let _ = write!(csv, "{t_s:.7}");
    for value in values {
        let _ = write!(csv, ",{value:.3}");
    }
    csv.push('\n');
}

fn section(page: &mut String, name: &str, what: &str, rows: &[(&str, String)]) {
    // Writing to a string cannot fail.
    let _ = write!(page, "\n## {name}\n\n{what}.\n\n{}", table(rows));
}
