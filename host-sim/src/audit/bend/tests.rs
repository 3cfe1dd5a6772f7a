use super::*;
use crate::plant::seed::Random;

fn series(seed: u64, n: u32, of: impl Fn(f64) -> f64, noise: f64, alike: f64) -> Vec<[f64; 2]> {
    let mut random = Random::new(seed);
    let mut before = 0.0;
    let one = |day: u32| {
        let fresh = (1.0 - alike * alike).sqrt() * random.normal();
        before = alike * before + fresh;
        [f64::from(day), of(f64::from(day)) + noise * before]
    };
    (0..n).map(one).collect()
}

/// Without noise the places are those that the series was made with.
#[test]
fn places_are_found() {
    let kink = series(1, 60, |day| 2.0 + 0.01 * day + 0.5 * (day - 30.25).max(0.0), 0.0, 0.0);
    let found = bends(&kink);
    assert_eq!((found.len(), found[0].kind), (1, Kind::Kink));
    assert!((found[0].at - 30.25).abs() < 1e-9 && (found[0].size - 0.5).abs() < 1e-6, "{found:?}");
    let saw = |day: f64| if day < 40.0 { 0.1 * day } else { 0.1 * (day - 40.0) };
    let found = bends(&series(2, 80, saw, 0.05, 0.0));
    assert_eq!((found.len(), found[0].kind), (1, Kind::Step), "{found:?}");
    assert!((found[0].at - 39.5).abs() < 1e-9 && (found[0].size + 4.0).abs() < 0.1, "{found:?}");
    assert!((39.0..=40.0).contains(&found[0].to) && found[0].from >= 38.9, "{found:?}");
    assert!(bends(&kink[..19]).is_empty());
}

/// Noise alone bends in few series, whether neighbours are alike or not; a slope that holds is no bend.
#[test]
fn noise_is_no_bend() {
    for (alike, most) in [(0.0, 6), (0.4, 16)] {
        let told = (0..200).filter(|seed| !bends(&series(*seed, 120, |day| 0.02 * day, 1.0, alike)).is_empty()).count();
        eprintln!("noise, correlation {alike}: {told} of 200");
        assert!(told <= most, "{told} of 200 at a correlation of {alike}");
    }
}

/// What leaves nothing has no bend; the end of an interval at the last place that is tried is open.
#[test]
fn nothing_is_no_bend_and_ends_are_open() {
    assert_eq!(bends(&series(1, 60, |_| 0.0, 0.0, 0.0)), []);
    assert_eq!(bends(&series(1, 60, |day| 3.0 + 0.25 * day, 0.0, 0.0)), []);
    let step = |at: f64| move |day: f64| if day < at { 0.0 } else { 3.0 };
    for (at, open) in [(4.0, [true, false]), (30.0, [false, false]), (56.0, [false, true])] {
        let found = bends(&series(3, 60, step(at), 0.3, 0.0));
        assert_eq!((found.len(), found[0].open), (1, open), "{found:?}");
    }
}

/// The intervals hold what they promise, 90 %, within what 200 series can tell (2.1 points of standard deviation).
#[test]
fn intervals_cover() {
    for (kind, alike) in [(Kind::Kink, 0.0), (Kind::Kink, 0.4), (Kind::Step, 0.0), (Kind::Step, 0.4)] {
        let truth = 70.3;
        let of = |day: f64| match kind {
            Kind::Kink => 0.12 * (day - truth).max(0.0),
            Kind::Step => {
                if day >= truth {
                    2.0
                } else {
                    0.0
                }
            }
        };
        let (mut covered, mut found, mut width) = (0, 0, 0.0);
        let (mut by_largest, mut told) = (0, 0);
        for seed in 0..200 {
            let all = bends(&series(1_000 + seed, 140, of, 1.0, alike));
            // Who does not know the truth looks at the largest, whatever its kind.
            if let Some(largest) = all.iter().max_by(|a, b| a.gain.total_cmp(&b.gain)) {
                told += 1;
                by_largest += u32::from((largest.from..=largest.to).contains(&truth));
            }
            let Some(bend) = all
                .iter()
                .filter(|bend| bend.kind == kind)
                .min_by(|a, b| (a.at - truth).abs().total_cmp(&(b.at - truth).abs()))
            else {
                continue;
            };
            found += 1;
            covered += u32::from((bend.from..=bend.to).contains(&truth));
            width += bend.to - bend.from;
        }
        let share = f64::from(covered) / f64::from(found);
        eprintln!(
            "{kind:?}, correlation {alike}: {covered} of {found}, the largest {by_largest} of {told}, {:.1} days wide",
            width / f64::from(found)
        );
        assert!(found >= 150 && share >= 0.85, "{kind:?} {alike}: {covered} of {found}");
        let share = f64::from(by_largest) / f64::from(told);
        assert!(share >= 0.85, "{kind:?} {alike}, the largest: {by_largest} of {told}");
        assert!(width / f64::from(found) < 40.0, "{kind:?} {alike}: {width} in all");
    }
}
