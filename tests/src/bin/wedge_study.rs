//! explore
use shaftwork_acceptance::wedge::grid::{Counts, Excursion, STEPS};
use shaftwork_acceptance::wedge::{mills, pass};
const PICK: usize = 36;
const SHARE: usize = 20;
const INERT: [f64; 4] = [1.0, 3.0, 100.0, -1.0];
fn pick(n: usize) -> f64 {
    1.5 + 0.1 * n as f64
}
fn share(n: usize) -> f64 {
    0.6 + 0.1 * n as f64
}
struct Out {
    pieces: u32,
    hours: f64,
    over: Vec<Counts>,
    sum: Vec<Counts>,
    // per setting first time and margin
    over_t: Vec<[f32; STEPS]>,
    sum_t: Vec<[f32; STEPS]>,
    margin: Vec<(f32, f32)>,
}
fn go(
    case: &mills::Case,
    motors: &[mills::Motor],
    cores: &[shaftwork_core::settings::Settings],
    wedge: Option<f64>,
) -> Out {
    let m = &motors[case.motor];
    let c = pass::coefficients(&cores[case.motor], Some(case.inertia_kg_m2));
    let mut o = Out {
        pieces: case.pieces,
        hours: case.scenario.duration_s / 3600.0,
        over: vec![Counts::default(); PICK],
        sum: vec![Counts::default(); SHARE * 4],
        over_t: if wedge.is_some() { vec![[f32::NAN; STEPS]; PICK] } else { vec![] },
        sum_t: if wedge.is_some() { vec![[f32::NAN; STEPS]; SHARE * 4] } else { vec![] },
        margin: vec![],
    };
    let mut ex = vec![Excursion::default(); PICK];
    let mut exs = vec![Excursion::default(); SHARE * 4];
    let mut a = vec![0.0_f64; SHARE * 4];
    let mut before: Option<f64> = None;
    let sync = m.machine.circuit.synchronous_rpm();
    pass::case(case, m, &c, |h, _| {
        let shaft = h.moment.shaft.to_bits() as f64 / 65_536.0 / m.rating.watts;
        let e = h.moment.speed.map(|s| {
            let w = f64::from(s.to_bits()) / 4096.0 * std::f64::consts::PI / 30.0;
            0.5 * case.inertia_kg_m2 * w * w / m.rating.watts
        });
        let lost = match (before, e) {
            (Some(b), Some(n)) => b - n,
            _ => 0.0,
        };
        before = e;
        let running = h.moment.state.running() && h.t_s > 0.5;
        let on = wedge.is_none_or(|at| h.t_s > at);
        if let Some(at) = wedge {
            if on {
                let slip = 1.0 - h.truth.speed_rpm / sync;
                o.margin.push(((h.t_s - at) as f32, ((slip - m.slips[0]) / (m.slips[1] - m.slips[0])) as f32));
            }
        }
        if !running || !on {
            return;
        }
        for p in 0..PICK {
            for d in ex[p].delayed(h.t_s, h.current, pick(p), 0.97 * pick(p)) {
                o.over[p].0[d] += 1;
                if let Some(at) = wedge {
                    if o.over_t[p][d].is_nan() {
                        o.over_t[p][d] = (h.t_s - at) as f32;
                    }
                }
            }
        }
        for (f, factor) in INERT.into_iter().enumerate() {
            for k in 0..SHARE {
                let n = f * SHARE + k;
                let mut step = shaft * h.length_s + lost - share(k) * h.length_s;
                if factor > 0.0 {
                    if step < 0.0 {
                        step *= factor;
                    }
                } else {
                    step = if step > 0.0 { h.length_s } else { -100.0 }
                }
                if e.is_none() {
                    step = step.max(0.0);
                }
                a[n] = (a[n] + step).max(0.0);
                for d in exs[n].summed(a[n]) {
                    o.sum[n].0[d] += 1;
                    if let Some(at) = wedge {
                        if o.sum_t[n][d].is_nan() {
                            o.sum_t[n][d] = (h.t_s - at) as f32;
                        }
                    }
                }
            }
        }
    });
    o
}
fn main() {
    let pieces: u64 = std::env::args().nth(1).unwrap().parse().unwrap();
    let wedges: u64 = std::env::args().nth(2).unwrap().parse().unwrap();
    let motors = mills::motors();
    let cores: Vec<_> = motors.iter().map(pass::core_settings).collect();
    let mut over = vec![Counts::default(); PICK];
    let mut sum = vec![Counts::default(); SHARE * 4];
    let (mut n, mut hours) = (0u64, 0.0);
    let t0 = std::time::Instant::now();
    pass::all(
        pieces / 369 + 1,
        |i| go(&mills::honest(&motors, 2 * i), &motors, &cores, None),
        |o| {
            n += u64::from(o.pieces);
            hours += o.hours;
            for (x, y) in over.iter_mut().zip(&o.over) {
                x.add(y);
            }
            for (x, y) in sum.iter_mut().zip(&o.sum) {
                x.add(y);
            }
        },
    );
    println!("{n} pieces {hours:.1} h in {:?}", t0.elapsed());
    let mut ot: Vec<Vec<[f32; STEPS]>> = vec![];
    let mut st = vec![];
    let mut mg = vec![];
    pass::all(
        wedges,
        |i| {
            let c = mills::wedged(&motors, 2 * i);
            let at = c.scenario.mill.wedge.unwrap().at_s;
            go(&c, &motors, &cores, Some(at))
        },
        |o| {
            ot.push(o.over_t);
            st.push(o.sum_t);
            mg.push(o.margin);
        },
    );
    let show = |name: &str,
                counts: &Vec<Counts>,
                t: &Vec<Vec<[f32; STEPS]>>,
                range: std::ops::Range<usize>,
                label: &dyn Fn(usize) -> f64| {
        for false_max in [0u64, 1, 3, 10, 100] {
            let mut best = (f64::INFINITY, 0, 0);
            for p in range.clone() {
                for d in 0..STEPS {
                    if counts[p].0[d] > false_max {
                        continue;
                    }
                    let times: Vec<f64> = t.iter().map(|w| f64::from(w[p][d])).collect();
                    if times.iter().any(|x| x.is_nan()) {
                        continue;
                    }
                    let mean = times.iter().sum::<f64>() / times.len() as f64;
                    if mean < best.0 {
                        best = (mean, p, d);
                    }
                }
            }
            let (mean, p, d) = best;
            if mean.is_infinite() {
                println!("{name} false<={false_max}: none");
                continue;
            }
            let mut times: Vec<f64> = t.iter().map(|w| f64::from(w[p][d])).collect();
            let late: Vec<f32> = times
                .iter()
                .zip(&mg)
                .map(|(at, m)| m.iter().filter(|(x, _)| f64::from(*x) <= *at + 1e-6).map(|x| x.1).fold(0.0, f32::max))
                .collect();
            let mut l = late.clone();
            l.sort_by(f32::total_cmp);
            times.sort_by(f64::total_cmp);
            let q = |x: f64| times[((times.len() - 1) as f64 * x) as usize];
            println!(
                "{name} false<={false_max}: set {:.2} step {d} mean {mean:.3} med {:.3} p95 {:.3} max {:.3}; margin med {:.2} p95 {:.2} max {:.2} share>0.5 {:.3}",
                label(p),
                q(0.5),
                q(0.95),
                q(1.0),
                l[l.len() / 2],
                l[l.len() * 95 / 100],
                l[l.len() - 1],
                late.iter().filter(|x| **x > 0.5).count() as f64 / l.len() as f64
            );
        }
    };
    show("over", &over, &ot, 0..PICK, &pick);
    for (f, factor) in INERT.into_iter().enumerate() {
        show(&format!("sum J{factor}"), &sum, &st, f * SHARE..(f + 1) * SHARE, &|n| share(n - f * SHARE));
    }
}
