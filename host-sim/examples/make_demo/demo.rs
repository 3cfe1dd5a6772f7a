//! The demo: a small mill at an invented yard, from rest through a start, a bin of scrap and a wedge to a stop.

use crate::Artefact;
use crate::story::{Story, table, tell};
use shaftwork_sim::plant::seed::Span;
use shaftwork_sim::plant::sensor::CurrentTap;
use shaftwork_sim::plant::supply::Tap;
use shaftwork_sim::plant::{Scenario, What};
use shaftwork_sim::synth::catalogue;
use shaftwork_sim::synth::plate::Plate;

const FOLDER: &str = "examples/demo";
const SEED: u64 = 20_260_302;
const RATED_W: f64 = 55_000.0;
// As the scenario has them; the page below tells them.
const CLOSES_S: f64 = 2.0;
const FEED_S: Span = Span(14.0, 43.6);
const WEDGE_S: f64 = 45.0;
const OPENS_S: f64 = 49.5;
const LOOSE_S: f64 = 49.8;
const J_PER_KWH: f64 = 3.6e6;

/// The demo's files.
pub fn files() -> Vec<Artefact> {
    let told = catalogue::find("demo").expect("it is in the catalogue");
    let scenario = &told.scenario;
    let sensor = &scenario.sensor;
    let idle = scenario.circuit.settle(|speed| scenario.mill.windage_nm(speed)).expect("the empty mill runs");
    let plate = Plate {
        about: &[
            "The mill of the demo: an invented 55 kW motor on an invented mill. Replay it with",
            "  shaftwork replay examples/demo/mill.cfg --settings examples/demo/settings.toml",
            "The nameplate is what the model's own circuit gives; see README.md for the story and the true figures.",
        ],
        circuit: &scenario.circuit,
        rated_w: told.rated_w,
        wiring: "four-wire",
        tap: Tap::Line,
        current_tap: CurrentTap::Line,
        bits: 16,
        rate_hz: scenario.rate_hz,
        volts: sensor.voltage.full_scale,
        amps: sensor.current.full_scale,
        inertia_kg_m2: Some(scenario.circuit.inertia_kg_m2 + scenario.mill.inertia_kg_m2),
        idle_w: Some(idle.shaft_w),
        starter: "direct",
        mass: true,
        trips: Some(told.trips),
    };
    let story = tell(scenario, SEED, 7, "MILL 1");
    let rated_a = plate.nameplate().rated.current_a;
    let readme = readme(scenario, &story, rated_a, idle.shaft_w);
    vec![
        Artefact::new(FOLDER, "settings.toml", plate.text()),
        Artefact::new(FOLDER, "README.md", readme),
        Artefact::new(FOLDER, "mill.cfg", story.cfg),
        Artefact::new(FOLDER, "mill.dat", story.dat),
    ]
}

/// The story with its true figures.
fn readme(scenario: &Scenario, story: &Story, rated_a: f64, idle_w: f64) -> String {
    let run_up = story.run_up.expect("the mill starts");
    let stopped = story.at(OPENS_S);
    let running_s = OPENS_S - run_up.t_s;
    let shaft = (stopped.shaft_j - run_up.shaft_j) / J_PER_KWH;
    let net = shaft - idle_w * running_s / 3600.0 / 1000.0;
    let (end, mass_t) = (&story.end, story.end.mass_kg / 1000.0);
    let electrical = end.electrical_j / J_PER_KWH;
    let broken = story.at(WEDGE_S).breaking_j / J_PER_KWH;
    let pieces = story.events.iter().filter(|event| matches!(event.what, What::Piece(_))).count();
    let crosses = story.crosses_for_good(2.0 * rated_a, OPENS_S - 0.1, scenario.rate_hz).expect("the wedge jams");
    let loads = loads(story);
    let frame = |t_s: f64| (t_s * scenario.rate_hz) as usize;
    let surge = story.current_a[frame(FEED_S.0)..frame(WEDGE_S)].iter().fold(0.0, |most: f64, x| most.max(*x));
    let rows = [
        ("contactor closes (onset of the start)", format!("{CLOSES_S:.1} s")),
        ("start: onset to 95 % of synchronous speed", format!("{:.2} s", run_up.t_s - CLOSES_S)),
        ("energy of the start, electrical", format!("{:.4} kWh", run_up.electrical_j / J_PER_KWH)),
        ("highest one-cycle rms current", format!("{:.0} A", story.peak_a())),
        ("idle power at the shaft", format!("{:.2} kW", idle_w / 1000.0)),
        ("fed, first to last piece", format!("{:.1} s to {:.1} s", FEED_S.0, last_piece(story))),
        ("pieces and mass", format!("{pieces}, {:.2} kg", end.mass_kg)),
        ("load while fed, one-second means: least, mean, most", loads),
        ("highest one-cycle rms while fed, of rated current", format!("{:.0} %", surge / rated_a * 100.0)),
        ("wedge begins to hold", format!("{WEDGE_S:.1} s")),
        ("one-cycle rms passes 200 % of rated and stays", format!("{crosses:.2} s")),
        ("a jam trip with 0.5 s delay is due", format!("{:.2} s", crosses + 0.5)),
        ("speed when the contactor opens", format!("{:.0} rpm at {OPENS_S:.1} s", stopped.speed_rpm)),
        ("wedge comes loose", format!("{LOOSE_S:.1} s")),
        ("speed at the end, coasting", format!("{:.0} rpm at {:.0} s", end.speed_rpm, scenario.duration_s)),
        ("electrical energy, whole trace", format!("{electrical:.4} kWh")),
        ("shaft energy, run-up to opening", format!("{shaft:.4} kWh")),
        ("less idle power over that time (net)", format!("{net:.4} kWh")),
        ("work of the hammers in the pieces, up to the wedge", format!("{broken:.4} kWh")),
        ("gross: electrical over mass", format!("{:.1} kWh/t", electrical / mass_t)),
        ("net over mass (the wedge's work included)", format!("{:.1} kWh/t", net / mass_t)),
        ("work in the pieces over mass", format!("{:.1} kWh/t", broken / mass_t)),
    ];
    let table = table(&rows);
    format!(
        "# A shift's worst minute\n\n\
         `mill.cfg` and `mill.dat` are a COMTRADE record of {} s at {} samples a second: three phase voltages, three\n\
         line currents, and the mass fed so far. Yard, mill, motor and scrap are all invented, and the record comes\n\
         from a model, not from a machine; so its true figures are known.\n\n\
         At Quillbrook Yard a 55 kW motor drives a small hammer mill. The mill rests for two seconds, is started\n\
         directly on the line, and idles. From 14 s on somebody feeds castings and small windings by hand, a few\n\
         hundred grams at a time. At 45 s a piece wedges between rotor and casing: the current goes past twice its\n\
         rating and stays, the speed falls. Whoever stands there presses stop at {OPENS_S} s; the piece\n\
         comes loose, and the rotor coasts to the end.\n\n\
         ```\n\
         shaftwork replay examples/demo/mill.cfg --settings examples/demo/settings.toml\n\
         ```\n\n\
         What the model knows (a replay should come close, from voltages and currents alone):\n\n\
         {table}\n\
         The one-cycle rms here is taken at every sample; a relay that renews it each half cycle sees a crossing up\n\
         to half a cycle later. The settings' nameplate is the model's own at rated load. Both files are written by\n\
         `cargo run -p shaftwork-sim --example make_demo` and are the same each time.\n\n\
         Would a smaller motor have done it? `motors.toml` has nameplates of 45, 75 and 90 kW to put the same load on:\n\n\
         ```\n\
         shaftwork replay examples/demo/mill.cfg --settings examples/demo/settings.toml --out target/demo\n\
         shaftwork motor-study target/demo --settings examples/demo/settings.toml --motors examples/demo/motors.toml\n\
         ```\n",
        scenario.duration_s, scenario.rate_hz
    )
}

fn last_piece(story: &Story) -> f64 {
    let fed = |event: &&shaftwork_sim::plant::Event| matches!(event.what, What::Piece(_));
    story.events.iter().rfind(fed).map_or(0.0, |event| event.t_s)
}

/// Least, mean and most of the shaft power's one-second means while fed, as per cent of rated.
fn loads(story: &Story) -> String {
    let (first, last) = (FEED_S.0 as usize + 1, FEED_S.1 as usize);
    let joules = |s: usize| story.at(s as f64).shaft_j;
    let loads: Vec<f64> = (first..last).map(|s| (joules(s + 1) - joules(s)) / RATED_W * 100.0).collect();
    let mean = loads.iter().sum::<f64>() / loads.len() as f64;
    let least = loads.iter().fold(f64::INFINITY, |a, b| a.min(*b));
    let most = loads.iter().fold(0.0_f64, |a, b| a.max(*b));
    format!("{least:.0} %, {mean:.0} %, {most:.0} %")
}
