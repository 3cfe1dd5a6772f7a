use super::*;
use crate::plant::feeder::belt::Drive;
use crate::plant::feeder::hand::Heed;
use crate::plant::feeder::{J_PER_KG, Material, Work};
use crate::plant::seed::Span;

fn scrap() -> Material {
    Material { mass_kg: Span(0.15, 0.6), work: Work::PerTonne(Span(20.0, 40.0)), burst_s: Span(0.2, 1.5) }
}

fn hand_fed() -> Mill {
    let hand =
        Hand { from_s: 1.0, until_s: 61.0, interval_s: Span(0.6, 1.4), lamp: Heed::default(), material: scrap() };
    Mill { inertia_kg_m2: 15.0, windage_nm_s2: 2e-3, working_rad_s: 155.0, hand: Some(hand), ..Mill::default() }
}

fn belt_fed(share: f64) -> Mill {
    let belt = Belt {
        speed_m_s: 0.5,
        lag_s: 0.5,
        length_m: 4.0,
        scale_m: 1.0,
        scale_error: 0.01,
        width_m: 0.4,
        depth_m: Span(0.05, 0.07),
        batches: Vec::new(),
        bulk_kg_m3: 100.0,
        hopper_until_s: f64::INFINITY,
        drive: vec![Drive { at_s: 0.0, share }],
        material: scrap(),
    };
    let chamber = Chamber { full_kg: 6.0, opening_mm: 25.0, passing_s: 1.5, capacity_kg_s: 0.8, drag_nm: 250.0 };
    Mill { belt: Some(belt), chamber: Some(chamber), working_rad_s: 155.0, ..Mill::default() }
}

/// At the working speed the strikes take just what the pieces need.
#[test]
fn strikes_do_the_work_of_the_pieces() {
    let mill = hand_fed();
    let mut load = Load::new(&mill, 3);
    let mut needed = 0.0;
    let mut throwing = Throwing::new(mill.hand.clone().unwrap(), 3);
    while let Some(piece) = throwing.next(65.0, None) {
        needed += piece.work_j;
    }
    let h = 1e-4;
    let mut done = 0.0;
    for n in 0..650_000 {
        let t = f64::from(n) * h;
        load.advance(t, mill.working_rad_s);
        done += load.breaking_nm(t, mill.working_rad_s) * mill.working_rad_s * h;
    }
    assert!((done / needed - 1.0).abs() < 1e-5, "done {done}, needed {needed}");
}

/// Means over half cycles lose nothing of what the moments add up to.
#[test]
fn means_over_half_cycles_are_the_whole_load() {
    let mill = belt_fed(0.5);
    let wedge = Wedge { at_s: 9.0, rise_s: 0.2, torque_nm: 400.0, until_s: 12.0 };
    for mill in [Mill { wedge: Some(wedge), ..hand_fed() }, Mill { wedge: Some(wedge), ..mill }] {
        let (mut moments, mut means) = (Load::new(&mill, 3), Load::new(&mill, 3));
        let w = mill.working_rad_s;
        let (mut fine, mut coarse) = (0.0, 0.0);
        for n in 0..2000 {
            let from = f64::from(n) * 0.01;
            means.advance(from, w);
            coarse += means.mean_breaking_nm(from, from + 0.01, w) * 0.01;
            for k in 0..100 {
                let t = from + (f64::from(k) + 0.5) * 1e-4;
                moments.advance(t, w);
                fine += moments.breaking_nm(t, w) * 1e-4;
            }
        }
        assert!(fine > 100.0 && (coarse / fine - 1.0).abs() < 1e-4, "moments {fine}, means {coarse}");
        assert!((moments.fed_kg() - means.fed_kg()).abs() < 1e-12);
    }
}

#[test]
fn pieces_are_as_asked_for() {
    let mut throwing = Throwing::new(hand_fed().hand.unwrap(), 3);
    let (mut last, mut count) = (1.0 - 0.6, 0);
    while let Some(piece) = throwing.next(1e9, None) {
        assert!((0.15..0.6).contains(&piece.mass_kg));
        let work = piece.work_j / piece.mass_kg / J_PER_KG;
        assert!((20.0..40.0).contains(&work));
        assert!(piece.at_s - last > 0.6 - 1e-9 && piece.at_s <= 61.0);
        last = piece.at_s;
        count += 1;
    }
    assert!((50..75).contains(&count));
}

/// The charge after some minutes on a belt at a drive.
fn charged(share: f64) -> Load {
    let mill = belt_fed(share);
    let mut load = Load::new(&mill, 8);
    for n in 0..30_000 {
        load.advance(f64::from(n) * 0.01, mill.working_rad_s);
    }
    load
}

/// A belt that brings less than the screen passes keeps a steady charge; one that brings more chokes the mill.
#[test]
fn a_belt_may_choke_the_mill() {
    let steady = charged(0.5);
    assert!(steady.charge_kg() < 2.0, "{}", steady.charge_kg());
    assert!((steady.fed_kg() - steady.out_kg()).abs() < 5.0, "what lies between scale and screen");
    assert!((steady.scale_kg() / steady.fed_kg() - 1.01).abs() < 1e-9, "the scale's error");
    let choked = charged(0.9);
    assert!(choked.charge_kg() > 20.0, "{}", choked.charge_kg());
    assert!(choked.breaking_nm(300.0, 155.0) > 2.0 * steady.breaking_nm(300.0, 155.0));
}

/// How often one asks does not change what is fed.
#[test]
fn steps_do_not_change_the_feed() {
    let mill = belt_fed(0.6);
    let fed = |steps: u32| {
        let mut load = Load::new(&mill, 8);
        for n in 0..=20 * steps {
            load.advance(f64::from(n) / f64::from(steps), 150.0);
        }
        (load.fed_kg(), load.charge_kg())
    };
    assert_eq!(fed(100), fed(3000));
    assert_eq!(fed(100), fed(50));
}

#[test]
fn a_seed_gives_the_same_load_and_another_seed_another() {
    let draw = |seed| {
        let mut load = Load::new(&hand_fed(), seed);
        for n in 0..600 {
            load.advance(f64::from(n) * 0.1, 150.0);
        }
        load.dropped().collect::<Vec<_>>()
    };
    assert_eq!(draw(8), draw(8));
    assert_ne!(draw(8), draw(9));
}

#[test]
fn a_wedge_holds_but_does_not_turn_back() {
    let wedge = Wedge { at_s: 2.0, rise_s: 0.2, torque_nm: 900.0, until_s: 200.0 };
    let load = Load::new(&Mill { wedge: Some(wedge), ..Mill::default() }, 1);
    assert!((load.breaking_nm(9.0, 150.0) - 900.0).abs() < 1e-9);
    assert!(load.breaking_nm(9.0, 0.0).abs() < 1e-9, "a stopped rotor is not turned back");
}

#[test]
fn windage_opposes_the_motion() {
    let mill = Mill { windage_nm_s2: 2e-3, ..Mill::default() };
    assert!((mill.windage_nm(100.0) - 20.0).abs() < 1e-9);
    assert!((mill.windage_nm(-100.0) + 20.0).abs() < 1e-9);
}

/// A rotor that stands breaks nothing: what fell in is broken when it turns again.
#[test]
fn a_stopped_rotor_breaks_nothing() {
    let mill = hand_fed();
    let work = |stands: fn(f64) -> bool| {
        let mut load = Load::new(&mill, 3);
        let mut done = 0.0;
        for n in 0..120_000 {
            let t = f64::from(n) * 1e-3;
            let speed = if stands(t) { 0.0 } else { mill.working_rad_s };
            load.advance(t, speed);
            done += load.breaking_nm(t, speed) * speed * 1e-3;
        }
        done
    };
    let (whole, held) = (work(|_| false), work(|t| (20.0..90.0).contains(&t)));
    assert!(whole > 1e4 && (held / whole - 1.0).abs() < 0.01, "{whole} J, held meanwhile {held} J");
}
