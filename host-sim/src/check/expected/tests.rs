use super::*;
use crate::fit::told::Teller;
use crate::settings::testing::{good, parsed, with};

fn figure<'a>(expected: &'a Expected, name: &str) -> &'a Figure {
    expected.figures.iter().find(|figure| figure.figure == name).unwrap_or_else(|| panic!("no {name}: {expected:?}"))
}

/// What it makes of shaft power at full and at quarter load, %.
fn effects(figure: &Figure) -> [f64; 2] {
    [figure.full_load_pct, figure.quarter_load_pct].map(Option::unwrap)
}

fn of(text: &str) -> Expected {
    expected(&parsed(text).0).unwrap()
}

/// IEC 60034-1, table of tolerances, from memory: -1/6 (1 - cos phi), at least 0.02, at most 0.07; slip 20 %; locked-rotor
/// current + 20 %; efficiency - 15 % of (1 - eta) up to 150 kW, and 10 % above.
#[test]
fn tolerances_of_a_nameplate() {
    for (power_factor, tolerance) in [(0.95, 0.02), (0.88, 0.02), (0.82, 0.03), (0.7, 0.05), (0.5, 0.07)] {
        assert!((power_factor_tolerance(power_factor) - tolerance).abs() < 1e-12, "{power_factor}");
    }
    let told = of(&with("motor", "rated_efficiency_pct = 94\nlocked_rotor_current_a = 600"));
    for (name, limit, both) in
        [("rated_efficiency_pct", -0.9, false), ("rated_slip_pct", 20.0, true), ("locked_rotor_current_a", 20.0, false)]
    {
        let figure = figure(&told, name);
        assert!((figure.limit - limit).abs() < 1e-9 && figure.both == both, "{figure:?}");
        assert_eq!(figure.by, IEC);
    }
    // 20 % of a slip of 1.5133 % of 1500 rpm.
    assert!((told.speed_rpm - 4.54).abs() < 0.01, "{}", told.speed_rpm);
}

/// With core and friction given, the stray load loss takes what they leave of the rated losses: d more friction is
/// d (I / Ir)² / (1 - sr)² less stray loss, and shaft power at a load changes by d (1 - s)² ((I / Ir)² / (1 - sr)² - 1), the
/// closed form of the core's formula `(Pg - (friction + stray I²) (1 - s)) (1 - s)`. 1 % of the change is allowed for the
/// slips, and 0.02 W for the core's rounding (2^-24 of 67 kVA, five times over).
#[test]
fn a_change_of_friction_is_its_derivative() {
    let (settings, _) =
        parsed(&with("motor", "core_loss_w = 700\nfriction_loss_w = 400\nrated_efficiency_pct = 93.755"));
    let told = expected(&settings).unwrap();
    let teller = Teller::new(&pinned(&settings, &derive(&settings))).unwrap();
    let d = 400.0 * FRICTION_TESTED;
    let friction = figure(&told, "friction_loss_w");
    for (load, pct) in LOADS.into_iter().zip(effects(friction)) {
        let terminals = teller.terminals(load * 55_000.0);
        let turning = 1.0 - 0.015_133 * load;
        let current = (terminals.current_a / 96.55).powi(2);
        let wanted = (d * turning.powi(2) * (current / (1.0 - 0.015_133_f64).powi(2) - 1.0)).abs();
        let found = pct / 100.0 * 55_000.0;
        assert!((found - wanted).abs() < 0.01 * d + 0.02, "{load}: {found} W, wanted {wanted} W");
    }
    assert!(effects(friction)[1] > 5.0 * effects(friction)[0], "{friction:?}");
}

/// At full load shaft power is what is taken less the rated losses: 15 % more of them, 0.15 x 3.6637 kW of 55 kW, are 1 %. (The
/// motor that is lossier takes as much and gives less: its losses at that power are up to a twentieth less than rated.)
#[test]
fn efficiency_counts_in_full_at_full_load() {
    let told = of(&with("motor", "rated_efficiency_pct = 93.755"));
    let efficiency = figure(&told, "rated_efficiency_pct");
    let wanted = 0.15 * 3.6637 / 55.0 * 100.0;
    assert!((effects(efficiency)[0] / wanted - 1.0).abs() < 0.08, "{efficiency:?}, {wanted}");
    // With a curve the losses at quarter load are known, and err by as much of themselves: here 0.02 + 0.0466 x² of rated power.
    let losses = |x: f64| 0.02 + 0.0466 * x * x;
    let points =
        [0.25, 0.5, 0.75, 1.0].map(|x| format!("[{}, {:.3}]", x * 100.0, 100.0 * x / (x + losses(x)))).join(", ");
    // With the power factors at these loads, so that the currents there are known as well.
    let power_factors = "power_factor_pct = [[25, 58], [50, 78], [75, 85], [100, 87.7]]";
    let told = of(&with("motor", &format!("efficiency_pct = [{points}]\n{power_factors}")));
    let curve = figure(&told, "rated_efficiency_pct");
    let wanted = LOADS.map(|load| 15.0 * losses(load));
    assert!((effects(curve)[0] / wanted[0] - 1.0).abs() < 0.08, "{curve:?}, {wanted:?}");
    assert!((effects(curve)[1] / wanted[1] - 1.0).abs() < 0.08, "{curve:?}, {wanted:?}");
    // Inferred from a power factor of two digits it is worse: half a point of 0.877 in the last digit.
    let inferred = of(&good());
    let worse = figure(&inferred, "rated_efficiency_pct");
    assert!((worse.limit - efficiency.limit + 93.755 * 0.005 / 0.877).abs() < 1e-3, "{worse:?}");
    assert_eq!((worse.from, efficiency.from), ("inferred", "given"));
}

/// What more is told makes the field's error smaller at quarter load; and the sum is of squares.
#[test]
fn what_is_told_helps() {
    let rated = "rated_efficiency_pct = 93.755";
    let plate = of(&with("motor", rated));
    let tested = of(&with(
        "motor",
        &format!("{rated}\nstator_resistance_ohm = 0.0485\ncore_loss_w = 700\nfriction_loss_w = 400"),
    ));
    assert!(tested.field_quarter_load_pct < plate.field_quarter_load_pct, "{tested:?}\n{plate:?}");
    let squares: f64 = plate.figures.iter().map(|figure| effects(figure)[0].powi(2)).sum();
    assert!((plate.field_full_load_pct - 2.0 * (squares / 3.0).sqrt()).abs() < 1e-12);
}

/// By hand: a phase error d takes Q d of what is taken in; 30 minutes at class 0.5 and rated current, 36.2 kvar at full load. The
/// model's losses move with it by less than a tenth.
#[test]
fn instruments_count_where_they_are_told() {
    let plate = with("motor", "rated_efficiency_pct = 93.755");
    assert!(!of(&plate).instruments);
    let told = of(&format!("{plate}\n[accuracy]\ncurrent_transformer_class = \"0.5\"\n"));
    let phase = figure(&told, "current transformers, phase");
    let reactive = (3f64.sqrt() * 400.0 * 96.55) * (1.0 - 0.877_f64.powi(2)).sqrt();
    let wanted = reactive * 0.5_f64.to_radians() / 55_000.0 * 100.0;
    assert!(told.instruments && (effects(phase)[0] / wanted - 1.0).abs() < 0.1, "{phase:?}, {wanted}");
}
