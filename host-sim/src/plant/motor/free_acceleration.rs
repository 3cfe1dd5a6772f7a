//! Run-ups from rest at full voltage without load or friction, against an independent solver's.

use super::super::circuit::rpm;
use super::super::published::textbook;
use super::tests::{near, supply};
use super::*;
use std::f64::consts::FRAC_PI_2;

/// What a run-up without load shows.
struct RunUp {
    torque_max: (f64, f64),
    torque_min: (f64, f64),
    torque_max_later: f64,
    peaks: [f64; 3],
    vector_peak: f64,
    /// Times to 50, 90, 95 and 99 % of synchronous speed, s.
    reached: [f64; 4],
    /// Highest speed, rpm.
    top_rpm: f64,
    /// What the motor made of the energy.
    balance: Balance,
}

fn run_up(circuit: &Circuit, phase: f64, driven: f64, h: f64, until: f64) -> RunUp {
    let supply = supply(circuit, phase);
    let mut motor = Motor::new(circuit, driven);
    let mut out = RunUp {
        torque_max: (0.0, 0.0),
        torque_min: (0.0, 0.0),
        torque_max_later: 0.0,
        peaks: [0.0; 3],
        vector_peak: 0.0,
        reached: [f64::NAN; 4],
        top_rpm: 0.0,
        balance: Balance::default(),
    };
    let sync = circuit.synchronous_rad_s();
    for n in 0..(until / h).round() as u32 {
        let t = f64::from(n) * h;
        let before = motor.speed_rad_s() / sync;
        let torque_before = motor.air_gap_nm(supply(t));
        motor.step(t, h, supply, |_, _| 0.0);
        let (t, after) = (t + h, motor.speed_rad_s() / sync);
        for (reached, level) in out.reached.iter_mut().zip([0.5, 0.9, 0.95, 0.99]) {
            if reached.is_nan() && after >= level {
                *reached = t - h * (after - level) / (after - before);
            }
        }
        let terminals = supply(t);
        let torque = motor.air_gap_nm(terminals);
        if torque > out.torque_max.0 {
            out.torque_max = (torque, t);
        }
        if torque < out.torque_min.0 {
            out.torque_min = (torque, t);
        }
        if after > 0.3 {
            // The torque is falling there: the largest value is the one just as 30 % is passed.
            if before <= 0.3 {
                let late = (after - 0.3) / (after - before);
                out.torque_max_later = torque + late * (torque_before - torque);
            }
            out.torque_max_later = out.torque_max_later.max(torque);
        }
        let i = motor.current(terminals);
        for (peak, i) in out.peaks.iter_mut().zip(motor.phase_currents(terminals)) {
            *peak = peak.max(i.abs());
        }
        out.vector_peak = out.vector_peak.max(square(i).sqrt());
        out.top_rpm = out.top_rpm.max(rpm(motor.speed_rad_s()));
    }
    out.balance = motor.balance();
    out
}

/// Free acceleration of the 50 hp machine of Krause, Wasynczuk and Sudhoff from rest at full voltage without load;
/// figures by an independent adaptive solver of eighth order at a relative tolerance of 1e-9.
#[test]
fn free_acceleration() {
    let run = run_up(&Circuit::textbook_50_hp(), 0.0, 0.0, 5e-5, 0.8);
    println!("torque {:.2?} {:.2?} later {:.2}", run.torque_max, run.torque_min, run.torque_max_later);
    println!("peaks {:.2?} vector {:.2} reached {:.5?}", run.peaks, run.vector_peak, run.reached);
    near(run.torque_max.0, 1654.6, 0.1);
    near(run.torque_max.1, 10.9e-3, 0.1e-3);
    near(run.torque_min.0, -569.6, 0.1);
    near(run.torque_min.1, 19.7e-3, 0.1e-3);
    // The reference sampled a torque that falls by 1 N m in 50 us just there: half of that.
    near(run.torque_max_later, 840.3, 0.5);
    for (found, wanted) in run.peaks.iter().zip([607.9, 673.5, 667.3]) {
        near(*found, wanted, 0.1);
    }
    near(run.vector_peak, 694.8, 0.1);
    for (found, wanted) in run.reached.iter().zip([0.2784, 0.4614, 0.5084, 0.6069]) {
        near(*found, wanted, 1e-4);
    }
    assert!(run.top_rpm < 1800.9, "no overshoot");
}

/// The same with five times the inertia (same source), and at the longest step allowed.
#[test]
fn free_acceleration_of_a_heavy_rotor() {
    let circuit = Circuit::textbook_50_hp();
    let run = run_up(&circuit, 0.0, 4.0 * circuit.inertia_kg_m2, LONGEST_STEP_S, 3.2);
    near(run.reached[2], 2.421, 1e-3);
    near(run.reached[3], 2.959, 1e-3);
}

/// Where on the wave the contactor closes changes the phases' peaks (same source) and nothing else.
#[test]
fn the_instant_of_closing_changes_only_the_phases() {
    let circuit = Circuit::textbook_50_hp();
    let cosine = run_up(&circuit, 0.0, 0.0, 5e-5, 0.8);
    let sine = run_up(&circuit, -FRAC_PI_2, 0.0, 5e-5, 0.8);
    for (found, wanted) in sine.peaks.iter().zip([694.8, 628.1, 627.0]) {
        near(*found, wanted, 0.1);
    }
    near(sine.torque_max.0, cosine.torque_max.0, 1e-6);
    near(sine.vector_peak, cosine.vector_peak, 1e-6);
    for (a, b) in sine.reached.iter().zip(cosine.reached) {
        near(*a, b, 1e-9);
    }
}

/// All four machines of Krause, Wasynczuk and Sudhoff, *Analysis of Electric Machinery* (parameters from reproductions
/// of its table, 500 hp from memory) against an independent adaptive solver of eighth order (relative tolerance 1e-9):
/// within 1 %. The worst, 0.5 %, are times of peaks, which are printed to 0.1 ms.
#[test]
fn free_acceleration_of_four_machines() {
    // Largest and least torque, their times; peaks of the three phases and of the vector; times to 50, 90, 95, 99 %.
    let wanted = [
        [132.1, 10.5e-3, -22.1, 19.3e-3, 97.1, 102.6, 101.8, 105.0, 0.1568, 0.2937, 0.3340, 0.4198],
        [1654.6, 10.9e-3, -569.6, 19.7e-3, 607.9, 673.5, 667.3, 694.8, 0.2784, 0.4614, 0.5084, 0.6069],
        [5066.5, 45.7e-3, -3700.2, 71e-3, 854.5, 1160.6, 1152.9, 1219.2, 1.0244, 1.3619, 1.3878, 1.4115],
        [26_007.0, 79.5e-3, -23_368.0, 105e-3, 4623.0, 6736.0, 6705.0, 7124.0, 1.8649, 2.3909, 2.4223, 2.4478],
    ];
    let later = [79.5, 840.3, 4062.0, 19_685.0];
    let overshoot = [None, None, Some(1830.9), Some(1844.0)];
    let lengths = [0.6, 0.8, 1.8, 3.0];
    for (n, machine) in textbook().iter().enumerate() {
        let run = run_up(&machine.circuit, 0.0, 0.0, 5e-5, lengths[n]);
        let (most, least, peaks, reached) = (run.torque_max, run.torque_min, run.peaks, run.reached);
        let mut found = vec![most.0, most.1, least.0, least.1];
        found.extend(peaks);
        found.push(run.vector_peak);
        found.extend(reached);
        let worst = found.iter().zip(wanted[n]).map(|(found, wanted)| (found / wanted - 1.0).abs()).fold(0.0, f64::max);
        println!("{} hp: worst {:.4} %, later {:.1}", machine.horsepower, 100.0 * worst, run.torque_max_later);
        for (found, wanted) in found.into_iter().zip(wanted[n]) {
            near(found / wanted, 1.0, 0.01);
        }
        near(run.torque_max_later / later[n], 1.0, 0.01);
        match overshoot[n] {
            Some(rpm) => near(run.top_rpm - 1800.0, rpm - 1800.0, 0.01 * (rpm - 1800.0)),
            None => assert!(run.top_rpm < 1800.9),
        }
        let b = run.balance;
        near(b.rest_j() / b.electrical_j, 0.0, 1e-6);
    }
}

/// Heat of the rotor over the energy of rotation is 1 for a slow start (the standard result for a start without load);
/// the electromagnetic transient adds to it: 1.130, 1.024, 1.003 for the 50 hp machine with 1, 5 and 20 times its
/// inertia, and 0.46, 0.41, 0.40 for the stator, by the independent solver.
#[test]
fn heat_of_a_start() {
    let circuit = Circuit::textbook_50_hp();
    for (times, until, rotor, stator) in [(1.0, 1.2, 1.130, 0.46), (5.0, 5.0, 1.0243, 0.41), (20.0, 20.0, 1.0032, 0.40)]
    {
        let run = run_up(&circuit, 0.0, (times - 1.0) * circuit.inertia_kg_m2, LONGEST_STEP_S, until);
        let b = run.balance;
        println!("{times}: {:.4} {:.4}", b.rotor_j / b.kinetic_j, b.stator_j / b.kinetic_j);
        near(b.rotor_j / b.kinetic_j, rotor, 0.001);
        near(b.stator_j / b.kinetic_j, stator, 0.005);
    }
}
