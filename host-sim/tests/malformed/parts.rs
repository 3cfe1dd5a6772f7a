//! Sound inputs, each to be spoiled in one place.

use std::f64::consts::TAU;
use std::fmt::Write as _;

/// What is typed after the trace.
pub const REPLAY: [&str; 6] = ["--settings", "mill.toml", "--out", "out", "--json", "out.json"];

/// Frames of each trace.
const FRAMES: u32 = 400;

/// Settings of a 55 kW motor, sound throughout.
pub fn settings() -> String {
    "[supply]
frequency_hz = 50
line_voltage_v = 400
wiring = \"four-wire\"
voltage_tap = \"line\"

[sampling]
rate_hz = 4000
gaps = \"error\"
bits = 16
voltage_full_scale_v = 800
current_full_scale_a = 1600
gain = [1, 1, 1, 1, 1, 1]
offset_counts = [0, 0, 0, 0, 0, 0]
skew_us = [0, 0, 0, 0, 0, 0]
phase_deg = [0, 0, 0]

[motor]
rated_power_kw = 55.0
rated_voltage_v = 400
rated_current_a = 96.55
rated_frequency_hz = 50
rated_speed_rpm = 1477.3
poles = 4
rated_power_factor_pct = 87.7
rated_efficiency_pct = 93.76
efficiency_pct = [[50, 93.5], [100, 93.76]]
power_factor_pct = [[50, 77], [100, 87.7]]
service_factor = 1.15
locked_rotor_current_a = 560
stator_resistance_line_ohm = 0.08
stator_resistance_at_c = 20

[transmission]
efficiency_pct = 97
speed_ratio = 2

[mill]
rotor_inertia_kg_m2 = 3
idle_power_kw = 7
coast_down_s = 120

[mass]
source = \"none\"

[trip.thermal]
enabled = true
base_current_a = 96.55
k = 1.05
heating_time_constant_s = 600.0
cooling_time_constant_s = 2400
initial_pct = 0
negative_sequence_factor = 0

[trip.jam]
pickup_pct = 200
delay_s = 0.5

[trip.long_start]
delay_s = 15

[trip.phase_loss]
pickup_pct = 60
delay_s = 1.0

[trip.undervoltage]
pickup_pct = 80
delay_s = 2
start_delay_s = 15
"
    .to_owned()
}

/// Volts and amperes of frame `k` at 4 kHz.
fn values(k: u32) -> [f64; 6] {
    std::array::from_fn(|c| {
        let (peak, late) = if c < 3 { (325.0, 0.0) } else { (130.0, 0.5) };
        peak * (TAU * (f64::from(k) / 80.0 - (c % 3) as f64 / 3.0) - late).sin()
    })
}

/// The line of names and a line a frame.
pub fn csv() -> String {
    let mut text = String::from("t_s,va_v,vb_v,vc_v,ia_a,ib_a,ic_a,mass_kg\n");
    for k in 0..FRAMES {
        let _ = write!(text, "{:.6}", f64::from(k) / 4000.0);
        for value in values(k) {
            let _ = write!(text, ",{value:.3}");
        }
        let _ = writeln!(text, ",{:.2}", f64::from(k) * 0.01);
    }
    text
}

/// A configuration of revision 1999 for [`dat`].
pub fn cfg() -> String {
    let mut text = String::from("STATION,DEVICE,1999\r\n7,6A,1D\r\n");
    for (n, name) in ["VA", "VB", "VC", "IA", "IB", "IC"].iter().enumerate() {
        let unit = if n < 3 { "V" } else { "A" };
        let _ = write!(text, "{},{name},{},,{unit},0.05,0,0,-32767,32767,1,1,P\r\n", n + 1, &name[1..]);
    }
    let stamp = "02/03/2026,06:00:00.000000";
    let _ = write!(text, "1,RUN,,,0\r\n50\r\n1\r\n4000,{FRAMES}\r\n{stamp}\r\n{stamp}\r\nBINARY\r\n1\r\n");
    text
}

/// The configuration for data as text.
pub fn cfg_text() -> String {
    cfg().replace("BINARY", "ASCII")
}

fn codes(k: u32) -> [i16; 6] {
    values(k).map(|value| (value / 0.05) as i16)
}

/// Binary data: 22 bytes a record.
pub fn dat() -> Vec<u8> {
    let mut out = Vec::new();
    for k in 0..FRAMES {
        out.extend((k + 1).to_le_bytes());
        out.extend((k * 250).to_le_bytes());
        out.extend(codes(k).into_iter().flat_map(i16::to_le_bytes));
        out.extend([1, 0]);
    }
    out
}

/// The same as text.
pub fn dat_text() -> String {
    let mut text = String::new();
    for k in 0..FRAMES {
        let _ = write!(text, "{},{}", k + 1, k * 250);
        for code in codes(k) {
            let _ = write!(text, ",{code}");
        }
        text.push_str(",1\r\n");
    }
    text
}

/// All in one file.
pub fn cff() -> Vec<u8> {
    let data = dat();
    let head = cfg().replace("1999", "2013");
    let head = format!("--- file type: CFG ---\r\n{head}--- file type: DAT BINARY: {} ---\r\n", data.len());
    [head.into_bytes(), data].concat()
}

/// The same with text data.
pub fn cff_text() -> String {
    let head = cfg_text().replace("1999", "2013");
    format!("--- file type: CFG ---\r\n{head}--- file type: DAT ASCII ---\r\n{}", dat_text())
}

/// `a0b a1b a2b …` without the blanks.
pub fn numbered(count: u32, before: &str, after: &str) -> String {
    let mut text = String::new();
    for n in 0..count {
        let _ = write!(text, "{before}{n}{after}");
    }
    text
}

/// A text with one piece replaced, which must be there.
pub fn swap(text: &str, from: &str, to: &str) -> String {
    assert!(text.contains(from), "no '{from}' to spoil");
    text.replacen(from, to, 1)
}

/// A text with line `number`, from 1, made anew; the same ends are kept.
pub fn line(text: &str, number: usize, make: impl Fn(&str) -> String) -> String {
    let mut lines: Vec<String> = text.split('\n').map(str::to_owned).collect();
    let old = lines[number - 1].trim_end_matches('\r').to_owned();
    let end = if lines[number - 1].ends_with('\r') { "\r" } else { "" };
    lines[number - 1] = make(&old) + end;
    lines.join("\n")
}

/// A line with cell `index` replaced.
pub fn cell(line: &str, index: usize, new: &str) -> String {
    let mut cells: Vec<&str> = line.split(',').collect();
    cells[index] = new;
    cells.join(",")
}
