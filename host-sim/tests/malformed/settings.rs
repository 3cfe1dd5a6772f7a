//! Settings with one thing wrong; every key with a value out of its range and one of a wrong type.

use crate::harness::Case;
use crate::parts::{self, swap};

/// A check of this text as `mill.toml`.
fn check(name: &str, text: impl Into<Vec<u8>>, says: &[&str]) -> Case {
    Case::new(format!("settings: {name}"), &["check-settings", "mill.toml"])
        .file("mill.toml", text)
        .says(&["mill.toml"])
        .says(says)
}

/// The sound settings with the line of a key in a table replaced.
fn with(table: &str, key: &str, line: &str) -> String {
    let text = parts::settings();
    let (front, rest) = text.split_once(&format!("[{table}]\n")).unwrap();
    let (body, after) = rest.split_once("\n[").map_or((rest, ""), |(body, after)| (body, after));
    let start = format!("{key} = ");
    let old = body.lines().find(|l| l.starts_with(&start)).unwrap_or_else(|| panic!("no {key} in [{table}]"));
    let body = body.replacen(old, line, 1);
    format!("{front}[{table}]\n{body}\n{}{after}", if after.is_empty() { "" } else { "[" })
}

/// All cases.
pub fn cases() -> Vec<Case> {
    [ranges(), types(), keys(), nameplates(), files()].concat()
}

/// Table, key, a value outside its range, what is wanted.
const RANGES: &[(&str, &str, &str, &str)] = &[
    ("supply", "frequency_hz", "55", "50 or 60 Hz"),
    ("supply", "line_voltage_v", "49.9", "50 to 15000 V"),
    ("supply", "wiring", "\"five-wire\"", "\"four-wire\" or \"three-wire\" or \"two-element\""),
    ("supply", "voltage_tap", "\"mid\"", "\"line\" or \"motor\""),
    ("sampling", "rate_hz", "1999", "2000 to 16000 Hz"),
    ("sampling", "gaps", "\"ignore\"", "\"error\" or \"split\""),
    ("sampling", "bits", "11", "12 to 24 bits"),
    ("sampling", "voltage_full_scale_v", "0", "1 to 32000 V peak"),
    ("sampling", "current_full_scale_a", "-1600", "0.1 to 16000 A peak"),
    ("sampling", "gain", "[1, 1, 1, 1, 1, 0]", "0.5 to 2"),
    ("sampling", "offset_counts", "[0, 0, 0, 0, 0, 9000]", "-8191 to 8191 counts"),
    ("sampling", "skew_us", "[0, 0, 0, 0, 0, 501]", "-500 to 500 us"),
    ("sampling", "phase_deg", "[0, 0, -11]", "-10 to 10 degrees"),
    ("motor", "rated_power_kw", "0", "0.05 to 15000 kW"),
    ("motor", "rated_voltage_v", "-400", "50 to 15000 V"),
    ("motor", "rated_current_a", "1e999", "0.1 to 8000 A"),
    ("motor", "rated_frequency_hz", "400", "40 to 72 Hz"),
    ("motor", "rated_speed_rpm", "0", "above 0, at most 4320 rpm"),
    ("motor", "poles", "50", "2 to 48 poles"),
    ("motor", "rated_power_factor_pct", "101", "above 0, at most 100 %"),
    ("motor", "rated_efficiency_pct", "0", "above 0, at most 100 %"),
    ("motor", "efficiency_pct", "[[0, 93]]", "above 0, at most 400 % load"),
    ("motor", "power_factor_pct", "[[100, 100.1]]", "above 0, at most 100 %"),
    ("motor", "service_factor", "0.99", "1 to 2"),
    ("motor", "locked_rotor_current_a", "nan", "0.1 to 96000 A"),
    ("motor", "stator_resistance_line_ohm", "0", "above 0, at most 1000 ohm"),
    ("motor", "stator_resistance_at_c", "-41", "-40 to 150 degrees Celsius"),
    ("transmission", "efficiency_pct", "120", "above 0, at most 100 %"),
    ("transmission", "speed_ratio", "0", "0.01 to 100"),
    ("mill", "rotor_inertia_kg_m2", "-3", "above 0, at most 1000000 kg m2"),
    ("mill", "idle_power_kw", "0", "above 0, at most 15000 kW"),
    ("mill", "coast_down_s", "36001", "0 to 36000 s"),
    ("mass", "source", "\"scale\"", "\"trace\" or \"pulse\" or \"batch\" or \"none\""),
    ("trip.thermal", "base_current_a", "0", "0.1 to 8000 A"),
    ("trip.thermal", "k", "0.4", "0.5 to 2"),
    ("trip.thermal", "heating_time_constant_s", "0", "0.1 to 36000 s"),
    ("trip.thermal", "cooling_time_constant_s", "-1", "0.1 to 36000 s"),
    ("trip.thermal", "initial_pct", "101", "0 to 100 % of the trip level"),
    ("trip.thermal", "negative_sequence_factor", "-0.1", "0 to 10"),
    ("trip.jam", "pickup_pct", "9", "10 to 2000 % of rated current"),
    ("trip.jam", "delay_s", "-0.5", "0 to 36000 s"),
    ("trip.long_start", "delay_s", "inf", "0 to 36000 s"),
    ("trip.phase_loss", "pickup_pct", "0", "1 to 100 % negative over positive sequence"),
    ("trip.phase_loss", "delay_s", "99999999999999999999999999999", "0 to 36000 s"),
    ("trip.undervoltage", "pickup_pct", "101", "1 to 100 % of line_voltage_v"),
    ("trip.undervoltage", "delay_s", "-1", "0 to 36000 s"),
    ("trip.undervoltage", "start_delay_s", "1e9", "0 to 36000 s"),
];

fn ranges() -> Vec<Case> {
    let one = |(table, key, value, wanted): &(&str, &str, &str, &str)| {
        let place = format!("key {table}.{key}: ");
        check(
            &format!("{table}.{key} = {value}"),
            with(table, key, &format!("{key} = {value}")),
            &["line ", &place, "wanted: ", wanted],
        )
    };
    RANGES.iter().map(one).collect()
}

/// The same keys with a value of a type that they cannot have.
fn types() -> Vec<Case> {
    let one = |(table, key, value, _): &(&str, &str, &str, &str)| {
        let (wrong, found) = if value.starts_with('[') { ("\"none\"", "(a text)") } else { ("[true]", "(a list)") };
        let place = format!("key {table}.{key}: {wrong} {found}");
        check(
            &format!("{table}.{key} of a wrong type"),
            with(table, key, &format!("{key} = {wrong}")),
            &["line ", &place, "wanted: "],
        )
    };
    let mut all: Vec<Case> = RANGES.iter().map(one).collect();
    for (table, key, line, says) in [
        ("supply", "line_voltage_v", "line_voltage_v = \"400 V\"", "without quotation marks or unit"),
        ("supply", "frequency_hz", "frequency_hz = 2026-03-02", "(a date)"),
        ("supply", "frequency_hz", "frequency_hz = { a = 1 }", "(a table)"),
        ("trip.thermal", "enabled", "enabled = \"no\"", "wanted: true or false"),
        ("sampling", "bits", "bits = 16.5", "a whole number, 12 to 24 bits"),
        ("sampling", "gain", "gain = [1, 1]", "a list of 6 numbers, for va_v, vb_v, vc_v, ia_a, ib_a, ic_a"),
        ("sampling", "gain", "gain = [1, 1, 1, 1, 1, \"x\"]", "a list of 6 numbers"),
        ("motor", "efficiency_pct", "efficiency_pct = 93", "rated_efficiency_pct takes a single figure"),
        ("motor", "efficiency_pct", "efficiency_pct = [[50, 92, 1]]", "a list of pairs"),
        ("motor", "efficiency_pct", "efficiency_pct = []", "at least one, loads rising"),
        ("motor", "efficiency_pct", "efficiency_pct = [[100, 93], [50, 92]]", "loads rising"),
    ] {
        all.push(check(line, with(table, key, line), &["line ", &format!("key {table}.{key}"), says]));
    }
    all
}

fn keys() -> Vec<Case> {
    let text = parts::settings();
    let mut all = vec![
        check(
            "pulses that say nothing",
            swap(&text, "source = \"none\"", "source = \"pulse\""),
            &["key mass.kg_per_pulse: the key is missing", "key mass.pulses: the key is missing"],
        ),
        check(
            "a pulse of nothing",
            swap(&text, "source = \"none\"", "source = \"pulse\"\nkg_per_pulse = 0\npulses = \"egde\""),
            &["kg_per_pulse: 0", "above 0, at most 1000000 kg", "did you mean \"edge\"?"],
        ),
        check(
            "an unknown key",
            swap(&text, "idle_power_kw", "idle_power_kW"),
            &["line 40, column 1, key mill.idle_power_kW: this key is not known", "did you mean idle_power_kw?"],
        ),
        check(
            "a key in another table",
            swap(&text, "[mill]\n", "[mill]\npoles = 4\n"),
            &["key mill.poles: this key is not known", "poles belongs under [motor]"],
        ),
        check(
            "an unknown table",
            format!("{text}\n[colour]\nred = 1\n"),
            &["key colour: this table is not known", "wanted: supply, sampling"],
        ),
        check(
            "an unknown trip",
            format!("{text}\n[trip.shear_pin]\ndelay_s = 1\n"),
            &["key trip.shear_pin: this table is not known"],
        ),
        check(
            "an unknown key of a megabyte",
            format!("{} = 1\n{text}", "k".repeat(900_000)),
            &["line 1, column 1", "is not known"],
        ),
        check(
            "a hundred thousand unknown keys",
            parts::numbered(100_000, "k", "=1\n") + &text,
            &["line 1, column 1, key k0: this key is not known", "more faults"],
        ),
        check(
            "a key twice",
            swap(&text, "poles = 4", "poles = 4\npoles = 4"),
            &["line 25, column 1", "duplicate key", "wanted: TOML"],
        ),
        check("a table twice", format!("{text}\n[motor]\n"), &["duplicate", "wanted: TOML"]),
        check(
            "tables in brackets twice",
            swap(&text, "[supply]", "[[supply]]"),
            &["key supply", "(a list)", "wanted: a table"],
        ),
        check(
            "a number for a table",
            format!("mill = 3\n{}", swap(&text, "[mill]\n", "[mass.x]\n")),
            &["key mill: 3", "write [mill] on a line of its own"],
        ),
    ];
    for (table, key) in [
        ("supply", "wiring"),
        ("sampling", "current_full_scale_a"),
        ("motor", "poles"),
        ("trip.jam", "delay_s"),
        ("trip.undervoltage", "pickup_pct"),
    ] {
        let says = [&format!("key {table}.{key}: the key is missing"), "wanted: "];
        all.push(check(&format!("{table}.{key} missing"), with(table, key, ""), &says));
    }
    for table in ["supply", "sampling", "motor", "trip.jam", "trip.thermal"] {
        let other = swap(&text, &format!("[{table}]\n"), "[mill.x]\n");
        all.push(check(
            &format!("[{table}] missing"),
            other,
            &[&format!("the table [{table}] is missing"), "to mend it: write", &format!("[{table}]")],
        ));
    }
    let named = |lines: &str| format!("{text}\n[channels]\n{lines}\n");
    all.push(check(
        "a channel of another wiring",
        named("vab = \"U12\""),
        &["key channels.vab", "wiring \"four-wire\" has: va, vb, vc"],
    ));
    all.push(check("a channel twice", named("ia = \"I\"\nib = \"I\""), &["key channels.ib", "ia has this one"]));
    all.push(check(
        "a channel without a name",
        named("ia = \"\""),
        &["key channels.ia", "a name between quotation marks"],
    ));
    all
}

fn nameplates() -> Vec<Case> {
    let motor = |key: &str, value: &str| with("motor", key, &format!("{key} = {value}"));
    let without =
        |lines: &[&str]| lines.iter().fold(parts::settings(), |text, line| swap(&text, &format!("{line}\n"), ""));
    vec![
        check(
            "synchronous speed for rated speed",
            motor("rated_speed_rpm", "1500"),
            &["key motor.rated_speed_rpm: 1500 rpm", "below the synchronous speed, 120 x 50 Hz / 4 poles = 1500 rpm"],
        ),
        check(
            "pairs for poles",
            motor("poles", "3"),
            &["key motor.poles: 3", "an even number", "count poles, not pairs"],
        ),
        check("too many poles for the speed", motor("poles", "6"), &["key motor.rated_speed_rpm", "= 1000 rpm"]),
        check(
            "more power than volts and amperes",
            motor("rated_power_kw", "75"),
            &["key motor.rated_power_kw: 75 kW of shaft power", "less power than volts and amperes"],
        ),
        check(
            "hundred times the current",
            motor("rated_current_a", "0.9655"),
            &["key motor.rated_power_kw", "less power than volts and amperes"],
        ),
        check(
            "locked rotor below rated",
            motor("locked_rotor_current_a", "90"),
            &["key motor.locked_rotor_current_a: 90 A", "above rated_current_a, 96.55 A"],
        ),
        check(
            "idle above rated",
            with("mill", "idle_power_kw", "idle_power_kw = 55"),
            &["key mill.idle_power_kw: 55 kW", "below rated_power_kw, 55 kW"],
        ),
        check(
            "neither efficiency nor power factor",
            without(&[
                "rated_power_factor_pct = 87.7",
                "rated_efficiency_pct = 93.76",
                "efficiency_pct = [[50, 93.5], [100, 93.76]]",
                "power_factor_pct = [[50, 77], [100, 87.7]]",
            ]),
            &["motor.rated_power_factor_pct: neither", "cos phi"],
        ),
        check(
            "a resistance without its temperature",
            without(&["stator_resistance_at_c = 20"]),
            &[
                "key motor.stator_resistance_line_ohm",
                "stator_resistance_at_c beside it",
                "for example stator_resistance_at_c = 20",
            ],
        ),
        check(
            "a temperature without its resistance",
            without(&["stator_resistance_line_ohm = 0.08"]),
            &["key motor.stator_resistance_at_c", "stator_resistance_line_ohm beside it"],
        ),
        check(
            "two resistances",
            swap(&parts::settings(), "stator_resistance_at_c = 20", "stator_resistance_ohm = 0.04"),
            &["key motor.stator_resistance_line_ohm", "not both"],
        ),
        check(
            "a slip that would eat the power",
            motor("rated_speed_rpm", "1390"),
            &["key motor.rated_speed_rpm: 1390 rpm with 4 poles, a slip of 7.3 %", "at most the losses, 6.2 %"],
        ),
        check(
            "no motor has these figures",
            motor("locked_rotor_current_a", "97"),
            &["table motor: no motor has the figures of [motor] together", "compare [motor] with the nameplate"],
        ),
    ]
}

fn files() -> Vec<Case> {
    let text = parts::settings();
    let latin: Vec<u8> =
        swap(&text, "[mill]", "# M\u{7f}hle\n[mill]").bytes().map(|b| if b == 0x7F { 0xFC } else { b }).collect();
    vec![
        check("empty", "", &["key supply: the table [supply] is missing", "[supply] frequency_hz = 50"]),
        check("in another code page", latin, &["byte ", "bytes that are no UTF-8 text", "save it as UTF-8"]),
        check("in UTF-16", text.encode_utf16().flat_map(u16::to_le_bytes).collect::<Vec<u8>>(), &["line 1"]),
        check("zeros", vec![0; 1000], &["line 1, column 1", "wanted: TOML"]),
        check(
            "no TOML",
            swap(&text, "poles = 4", "poles: 4"),
            &["line 24, column", "wanted: TOML: [table] lines and key = value lines"],
        ),
        check("an equals sign too many", swap(&text, "poles = 4", "poles = = 4"), &["line 24, column 9"]),
        check("a decimal comma", swap(&text, "96.55", "96,55"), &["line 21, column", "wanted: TOML"]),
        check("quotes not closed", swap(&text, "\"four-wire\"", "\"four-wire"), &["line 4, column", "wanted: TOML"]),
        check("a bracket not closed", swap(&text, "[motor]", "[motor"), &["line 18, column", "wanted: TOML"]),
        check(
            "cut inside a line",
            &text.as_bytes()[..text.find("poles =").unwrap() + 7],
            &["line 24, column", "wanted: TOML"],
        ),
        check(
            "cut after a table",
            &text.as_bytes()[..text.find("[trip.jam]").unwrap()],
            &["the table [trip.jam] is missing"],
        ),
        check("a hundred thousand brackets", "[".repeat(100_000), &["line 1, column", "wanted: TOML"]),
        check(
            "a hundred thousand lists in lists",
            format!("a = {}", "[".repeat(100_000)),
            &["line 1, column", "wanted: TOML"],
        ),
        check("two megabytes", "# long\n".repeat(300_000), &["longer than 1 MiB", "wanted: a settings file in TOML"]),
    ]
}
