use super::*;
use crate::report::sums::Flow;
use crate::report::uncertainty::Idle;
use crate::settings::Sizes;

fn field() -> Field {
    let idle = Idle { kw: 6.0, learnt: true, spread_kw: Some(0.1) };
    Field {
        accuracy: None,
        estimate: None,
        pulse_kg: None,
        step_kg: None,
        model: crate::check::model::model(&crate::report::testing::settings()),
        rated_kw: 55.0,
        efficiency_pct: 94.0,
        stalled_share: 1.0,
        idle: Some(idle),
        whole: Sums::default(),
    }
}

/// So many kWh taken in during half an hour of breaking, nine tenths of them at the shaft.
fn part(kwh: f64, mass_kg: Option<f64>, material: &str) -> Part {
    let running = Flow { hours: 0.5, active_kwh: kwh, reactive_kvarh: kwh, shaft_kwh: 0.9 * kwh };
    let time_s = [0.0, 0.0, 0.0, 1_800.0, 0.0, 0.0];
    Part {
        about: About { material: Some(material.to_owned()), ..About::default() },
        limits_s: Some((0.0, 1_800.0)),
        sums: Sums { taken_kwh: kwh, running, time_s, ..Sums::default() },
        mass_kg,
        counted: Counted::default(),
        no_mass: "no mass was given",
    }
}

fn runs(parts: &[Part]) -> Runs {
    let nothing = Part { no_mass: "no mass was given", ..Part::default() };
    Runs::new(parts, &nothing, &nothing, &field(), |_| false)
}

/// Own arithmetic: 60 kWh for 5 t and 20 kWh for 0.1 t are 15.69 kWh/t; the mean of both ratios, 106, is wrong.
/// Net: 0.9 x 80 - 6 x 1 = 66 kWh.
#[test]
fn a_ratio_of_sums() {
    let all = runs(&[part(60.0, Some(5_000.0), "sheet"), part(20.0, Some(100.0), "sheet")]);
    let [sheet] = all.by_material.as_slice() else { panic!("{:?}", all.by_material) };
    assert!((sheet.gross_kwh_per_t.unwrap() - 15.69).abs() < 0.005);
    assert!((sheet.net_kwh_per_t.unwrap() - 66.0 / 5.1).abs() < 1e-6);
    assert_eq!((sheet.runs, sheet.material.as_deref(), all.runs.len()), (2, Some("sheet"), 3));
    assert!((all.runs[1].gross_kwh_per_t.unwrap() - 200.0).abs() < 1e-9);
    assert!(all.by_screen.is_empty() && all.by_batch.is_empty());
}

/// Belt pulses of 10 kg, runs of 100 and 300 kg, 10 kWh each. By hand: each run alone, and all of them without a break, are
/// known to 5 kg at two ends, 10 / root 6 = 4.0825 kg; with a break between them to 10 / root 3 = 5.7735 kg; where the
/// second was weighed apart, by the first alone. In gross, k = 2: 2 u / m of E / m. The scale itself is right here.
#[test]
fn runs_share_the_pulses_between_them() {
    let accuracy = crate::settings::Accuracy {
        current: Some(crate::settings::accuracy::Transformer::Figures(crate::settings::accuracy::Limit {
            ratio_pct: 0.0,
            phase_min: 0.0,
        })),
        current_rated_a: None,
        voltage: None,
        converter_gain_pct: 0.0,
        scale_error_pct: Some(0.0),
        efficiency_points: Some(0.0),
        idle_repeatability_kw: None,
    };
    let field = Field { accuracy: Some(accuracy), pulse_kg: Some(10.0), ..field() };
    let run = |from_s: f64, to_s: f64, kg: f64| Part {
        limits_s: Some((from_s, to_s)),
        counted: Counted::of(from_s, to_s),
        ..part(10.0, Some(kg), "sheet")
    };
    let (first, next, later) = (run(0.0, 900.0, 100.0), run(900.0, 1_800.0, 300.0), run(1_000.0, 1_900.0, 300.0));
    let apart = Part { counted: Counted::default(), ..next.clone() };
    let band = |rows: &[RunRow]| rows[0].gross_field_band_kwh_per_t.unwrap();
    for (second, u_kg) in [(next, 4.0825), (later, 5.7735), (apart, 4.0825)] {
        let all = Runs::new(&[first.clone(), second], &Part::default(), &Part::default(), &field, |_| false);
        let wanted = 2.0 * u_kg / 400.0 * 20.0 / 0.4;
        assert!((band(&all.by_material) / wanted - 1.0).abs() < 1e-4, "{} {wanted}", band(&all.by_material));
        assert!((band(&all.runs) / (2.0 * 4.0825 / 100.0 * 10.0 / 0.1) - 1.0).abs() < 1e-4);
    }
    // The net figure's band is missing where idle power's repeating is not known: the table's last line says so.
    let words = |spread_kw: Option<f64>| {
        let field = Field { idle: Some(Idle { kw: 2.0, learnt: false, spread_kw }), ..field };
        Runs::new(std::slice::from_ref(&first), &Part::default(), &Part::default(), &field, |_| false).about_bands()
    };
    assert!(words(None).contains("no band of net: how well idle power repeats"), "{}", words(None));
    assert!(words(None).contains("idle_repeatability_kw") && !words(Some(0.1)).contains("no band"));
}

#[test]
fn a_run_without_mass_gives_no_energy_a_tonne_to_its_material() {
    let all = runs(&[part(60.0, Some(5_000.0), "sheet"), part(20.0, None, "sheet"), part(2.0, Some(0.9), "wire")]);
    assert_eq!(all.by_material[0].gross_kwh_per_t, None);
    assert_eq!(all.by_material[0].why["gross_kwh_per_t"], "the mass of one of its runs is not known");
    assert_eq!(all.by_material[1].why["gross_kwh_per_t"], "less than 1 kg fed");
    assert!((all.by_material[0].electrical_kwh - 80.0).abs() < 1e-9);
}

#[test]
fn nulls_have_reasons() {
    for part in
        [part(60.0, Some(5_000.0), "sheet"), part(60.0, None, "sheet"), Part { no_mass: "none", ..Part::default() }]
    {
        for idle in [field().idle, None] {
            let json = serde_json::to_value(RunRow::new("1".into(), &part, &Field { idle, ..field() })).unwrap();
            let labels = ["batch", "material", "screen", "from_s", "to_s"];
            for (key, value) in json.as_object().unwrap().iter().filter(|(key, _)| !labels.contains(&key.as_str())) {
                assert_eq!(value.is_null(), json["why"].get(key).is_some(), "{key}: {json}");
            }
        }
    }
}

/// 27 kWh at the shaft for 1.8 t are 15 kWh/t: with 100 and 12 mm 251.4 (own arithmetic, see the law).
#[test]
fn a_work_index_only_with_sizes() {
    let mut run = part(30.0, Some(1_800.0), "sheet");
    assert_eq!(RunRow::new("1".into(), &run, &field()).operating_work_index_kwh_per_t, None);
    run.about.sizes = Some(Sizes { f80_mm: 100.0, p80_mm: 12.0 });
    let index = RunRow::new("1".into(), &run, &field()).operating_work_index_kwh_per_t.unwrap();
    assert!((index - 251.4).abs() < 0.05, "{index}");
}
