//! How good the instruments are: the table `[accuracy]`, and what their classes allow.
//!
//! A class or a figure is a limit of error, +-a; what lies between is taken as equally likely (u = a / sqrt 3,
//! JCGM 100, 4.3.7). All classes are from memory of the standards named beside them.

use super::limits;
use super::raw::Table;

/// What `[accuracy]` says; `None` is what the file does not say.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Accuracy {
    /// The current transformers, all of one kind.
    pub current: Option<Transformer>,
    /// Rated primary current of the current transformers, A: below it a class allows more.
    pub current_rated_a: Option<f64>,
    /// The voltage transformers; without one voltage is measured directly.
    pub voltage: Option<Transformer>,
    /// Gain of converter and wiring in power, +- %.
    pub converter_gain_pct: f64,
    /// The scale, +- % of the load.
    pub scale_error_pct: Option<f64>,
    /// Efficiency at rated load, +- points; `None`: the tolerance of IEC 60034-1.
    pub efficiency_points: Option<f64>,
    /// How well idle power repeats, standard deviation, kW; `None`: its spread in the trace.
    pub idle_repeatability_kw: Option<f64>,
}

/// Gain of the converter where it is not given, +- % of power: 0.1 % each of voltage and current; no source.
const CONVERTER_GAIN_PCT: f64 = 0.2;

/// A kind of transformer by its class or by figures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Transformer {
    /// A class of current transformers.
    Class(&'static CurrentClass),
    /// Limits that hold at any load.
    Figures(Limit),
}

/// Limits of a transformer's error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limit {
    /// Ratio error, +- %.
    pub ratio_pct: f64,
    /// Phase displacement, +- minutes of arc.
    pub phase_min: f64,
}

impl Transformer {
    /// The limit at a current over the rated one.
    pub fn at(&self, share: f64) -> Limit {
        match self {
            Self::Figures(limit) => *limit,
            Self::Class(class) => class.at(share),
        }
    }
}

/// A class of current transformers.
#[derive(Debug, PartialEq)]
pub struct CurrentClass {
    name: &'static str,
    /// Share of rated current, ratio error %, phase displacement in minutes; shares rising.
    points: &'static [(f64, f64, f64)],
}

impl CurrentClass {
    /// On the straight line between the points of the standard; below the first as at the first.
    fn at(&self, share: f64) -> Limit {
        let after = self.points.partition_point(|point| point.0 <= share);
        let [low, high] = [after.saturating_sub(1), after.min(self.points.len() - 1)].map(|at| self.points[at]);
        let part = if high.0 > low.0 { (share - low.0) / (high.0 - low.0) } else { 0.0 };
        Limit { ratio_pct: low.1 + part * (high.1 - low.1), phase_min: low.2 + part * (high.2 - low.2) }
    }
}

/// IEC 61869-2, measuring current transformers: at 5, 20 and 100 % of rated current, S classes from 1 % on.
const CURRENT_CLASSES: [CurrentClass; 6] = [
    CurrentClass { name: "0.1", points: &[(0.05, 0.4, 15.0), (0.2, 0.2, 8.0), (1.0, 0.1, 5.0)] },
    CurrentClass { name: "0.2", points: &[(0.05, 0.75, 30.0), (0.2, 0.35, 15.0), (1.0, 0.2, 10.0)] },
    CurrentClass { name: "0.2S", points: &[(0.01, 0.75, 30.0), (0.05, 0.35, 15.0), (0.2, 0.2, 10.0)] },
    CurrentClass { name: "0.5", points: &[(0.05, 1.5, 90.0), (0.2, 0.75, 45.0), (1.0, 0.5, 30.0)] },
    CurrentClass { name: "0.5S", points: &[(0.01, 1.5, 90.0), (0.05, 0.75, 45.0), (0.2, 0.5, 30.0)] },
    CurrentClass { name: "1", points: &[(0.05, 3.0, 180.0), (0.2, 1.5, 90.0), (1.0, 1.0, 60.0)] },
];

/// IEC 61869-3, measuring voltage transformers, from 80 to 120 % of rated voltage.
const VOLTAGE_CLASSES: [(&str, Limit); 4] = [
    ("0.1", Limit { ratio_pct: 0.1, phase_min: 5.0 }),
    ("0.2", Limit { ratio_pct: 0.2, phase_min: 10.0 }),
    ("0.5", Limit { ratio_pct: 0.5, phase_min: 20.0 }),
    ("1", Limit { ratio_pct: 1.0, phase_min: 40.0 }),
];

/// OIML R 50, belt weighers in service: % of the totalised load.
const SCALE_CLASSES: [(&str, f64); 4] = [("0.2", 0.2), ("0.5", 0.5), ("1", 1.0), ("2", 2.0)];

/// Reads `[accuracy]`.
pub(super) fn read(t: &mut Table<'_>) -> Accuracy {
    let current_class: Vec<_> = CURRENT_CLASSES.iter().map(|class| (class.name, class)).collect();
    let current = t.word("current_transformer_class", &current_class).map(Transformer::Class);
    let figures = [
        t.number("current_transformer_ratio_pct", &limits::RATIO_ERROR_PCT),
        t.number("current_transformer_phase_min", &limits::PHASE_MIN),
    ];
    let keys = ["current_transformer_class", "current_transformer_ratio_pct", "current_transformer_phase_min"];
    let current = transformer(t, keys, current, figures);
    let current_rated_a = t.number("current_transformer_rated_a", &limits::RATED_CURRENT_A);
    let voltage = t.word("voltage_transformer_class", &VOLTAGE_CLASSES).map(Transformer::Figures);
    let figures = [
        t.number("voltage_transformer_ratio_pct", &limits::RATIO_ERROR_PCT),
        t.number("voltage_transformer_phase_min", &limits::PHASE_MIN),
    ];
    let keys = ["voltage_transformer_class", "voltage_transformer_ratio_pct", "voltage_transformer_phase_min"];
    let voltage = transformer(t, keys, voltage, figures);
    let converter_gain_pct = t.number("converter_gain_pct", &limits::RATIO_ERROR_PCT).unwrap_or(CONVERTER_GAIN_PCT);
    let class = t.word("scale_class", &SCALE_CLASSES);
    let figure = t.number("scale_error_pct", &limits::SCALE_ERROR_PCT);
    if t.has("scale_class") && figure.is_some() {
        t.reject("scale_error_pct", "scale_class or scale_error_pct, not both", "");
    }
    Accuracy {
        current,
        current_rated_a,
        voltage,
        converter_gain_pct,
        scale_error_pct: class.or(figure),
        efficiency_points: t.number("efficiency_tolerance_points", &limits::EFFICIENCY_POINTS),
        idle_repeatability_kw: t.number("idle_repeatability_kw", &limits::REPEATABILITY_KW),
    }
}

/// A class, or both figures.
fn transformer(
    t: &Table<'_>,
    [class_key, ratio_key, phase_key]: [&'static str; 3],
    class: Option<Transformer>,
    figures: [Option<f64>; 2],
) -> Option<Transformer> {
    for key in [ratio_key, phase_key] {
        let other = if key == ratio_key { phase_key } else { ratio_key };
        if t.has(class_key) {
            t.reject(key, format!("{class_key} or figures, not both"), "");
        } else if !t.has(other) {
            t.reject(key, format!("{other} beside it"), "");
        }
    }
    let [ratio_pct, phase_min] = figures;
    let figures = ratio_pct.zip(phase_min).map(|(ratio_pct, phase_min)| Limit { ratio_pct, phase_min });
    class.or(figures.map(Transformer::Figures))
}

/// What a rated efficiency may be less than promised, points: 15 % of the losses up to 150 kW, 10 % above
/// (IEC 60034-1, from memory).
pub fn efficiency_points(rated_power_kw: f64, efficiency_pct: f64) -> f64 {
    let share = if rated_power_kw > 150.0 { 0.10 } else { 0.15 };
    share * (100.0 - efficiency_pct)
}

#[cfg(test)]
mod tests {
    use super::super::testing::{faults, good, parsed};
    use super::*;

    fn with(lines: &str) -> String {
        format!("{}\n[accuracy]\n{lines}\n", good())
    }

    /// IEC 61869-2 table of limits, from memory; half-way between its points by hand.
    #[test]
    fn a_class_allows_more_below_rated_current() {
        let current = parsed(&with("current_transformer_class = \"1\"")).0.accuracy.unwrap().current.unwrap();
        for (share, ratio_pct, phase_min) in [
            (1.2, 1.0, 60.0),
            (1.0, 1.0, 60.0),
            (0.6, 1.25, 75.0),
            (0.2, 1.5, 90.0),
            (0.05, 3.0, 180.0),
            (0.0, 3.0, 180.0),
        ] {
            assert_eq!(current.at(share), Limit { ratio_pct, phase_min }, "{share}");
        }
    }

    /// Efficiency 94 % of a motor of 55 kW: 0.15 x 6 = 0.9 points (IEC 60034-1, from memory).
    #[test]
    fn tolerance_of_efficiency() {
        assert!((efficiency_points(55.0, 94.0) - 0.9).abs() < 1e-12);
        assert!((efficiency_points(200.0, 95.0) - 0.5).abs() < 1e-12);
    }

    #[test]
    fn figures_stand_for_a_class_and_not_beside_it() {
        let figures = "current_transformer_ratio_pct = 0.3\ncurrent_transformer_phase_min = 12";
        let current = parsed(&with(figures)).0.accuracy.unwrap().current.unwrap();
        assert_eq!(current.at(0.01), Limit { ratio_pct: 0.3, phase_min: 12.0 });
        for (lines, part) in [
            ("current_transformer_class = \"1\"\ncurrent_transformer_ratio_pct = 0.3", "not both"),
            ("voltage_transformer_ratio_pct = 0.3", "voltage_transformer_phase_min beside it"),
            ("scale_class = \"1\"\nscale_error_pct = 1", "not both"),
            ("scale_class = 1", "\"0.2\" or \"0.5\" or \"1\" or \"2\""),
            ("current_transformer_class = \"3\"", "\"0.5S\" or \"1\""),
            ("converter_gain_pct = 11", "0 to 10 %"),
            ("colour = 1", "not known"),
        ] {
            let all = faults(&with(lines));
            assert_eq!(all.len(), 1, "{lines}: {all:?}");
            assert!(all[0].to_string().contains(part), "{}", all[0]);
        }
    }

    #[test]
    fn without_the_table_nothing_is_assumed() {
        assert_eq!(parsed(&good()).0.accuracy, None);
        let given = parsed(&with("scale_class = \"0.5\"")).0.accuracy.unwrap();
        assert_eq!((given.scale_error_pct, given.current, given.converter_gain_pct), (Some(0.5), None, 0.2));
    }
}
