//! A belt feeder: a drive with a lag, a bed that is never quite even, a way from the hopper to the mill, a scale.
//!
//! ```text
//!  hopper                 scale        head
//!    |___bed: depth x width x density____|           d v / dt = (set - v) / lag
//!    o=========>=====v=====|======>======o           a place on the belt is at the head `length / v` after the hopper
//!    0                length - scale   length        mass on the scale is counted `scale / v` before it falls
//!                                        v mill
//! ```
//!
//! m, kg, s. The bed's depth wanders between its bounds over half a metre of belt, and the belt carries it along: what
//! falls now was laid when the belt was elsewhere. Material falls as pieces of the sizes that the material has. At
//! the first moment the whole belt lies loaded.

use super::super::mill::Chamber;
use super::super::seed::{Random, Span};
use super::{Material, Piece};
use serde::{Deserialize, Serialize};

/// A belt feeder.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Belt {
    /// Speed of the belt at full drive, m/s.
    pub speed_m_s: f64,
    /// Time constant of the drive, s.
    pub lag_s: f64,
    /// Way from hopper to head, m.
    pub length_m: f64,
    /// From the scale to the head, m.
    pub scale_m: f64,
    /// By how much the scale shows too much, as a share.
    #[serde(default)]
    pub scale_error: f64,
    /// Width of the bed, m.
    pub width_m: f64,
    /// Depth of the bed, m.
    pub depth_m: Span,
    /// Bulk density, kg/m³.
    pub bulk_kg_m3: f64,
    /// When the hopper runs empty, s; infinity for never.
    #[serde(default = "crate::plant::never")]
    pub hopper_until_s: f64,
    /// What the drive is set to, in order of time; before the first the belt stands.
    pub drive: Vec<Drive>,
    /// What lies on it.
    pub material: Material,
    /// What falls instead from a time on, in order of time.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub batches: Vec<Batch>,
}

/// Other material.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Batch {
    /// From when on it falls, s.
    pub from_s: f64,
    /// Bulk density, kg/m³.
    pub bulk_kg_m3: f64,
    /// What it is.
    pub material: Material,
}

/// A setting of the drive.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Drive {
    /// From when on, s.
    pub at_s: f64,
    /// Share of full speed, 0 to 1.
    pub share: f64,
}

impl Belt {
    /// What the belt brings at full drive, in the mean, kg/s.
    pub fn full_kg_s(&self) -> f64 {
        self.speed_m_s * self.width_m * self.depth_m.at(0.5) * self.bulk_kg_m3
    }

    /// What falls at a time.
    fn falls(&self, t_s: f64) -> (f64, &Material) {
        let batch = self.batches.iter().take_while(|batch| batch.from_s <= t_s).last();
        batch.map_or((self.bulk_kg_m3, &self.material), |batch| (batch.bulk_kg_m3, &batch.material))
    }

    fn share(&self, t_s: f64) -> f64 {
        self.drive.iter().take_while(|drive| drive.at_s <= t_s).last().map_or(0.0, |drive| drive.share)
    }
}

/// Belt that the depth takes to change, m.
const UNEVEN_M: f64 = 0.5;

/// The depth along the belt: straight between drawn depths.
#[derive(Debug, Clone)]
struct Bed {
    random: Random,
    place: u64,
    ends: [f64; 2],
}

impl Bed {
    fn new(depth_m: Span, mut random: Random) -> Self {
        let ends = [random.within(depth_m), random.within(depth_m)];
        Self { random, place: 0, ends }
    }

    /// Depth at a place; places never go back.
    fn depth(&mut self, at_m: f64, depth_m: Span) -> f64 {
        let place = at_m / UNEVEN_M;
        while place >= (self.place + 1) as f64 {
            self.place += 1;
            self.ends = [self.ends[1], self.random.within(depth_m)];
        }
        let along = place - self.place as f64;
        self.ends[0] + (self.ends[1] - self.ends[0]) * along
    }
}

/// A belt that runs.
#[derive(Debug, Clone)]
pub struct Carrying {
    belt: Belt,
    /// As it lies under the scale and at the head: the same bed, seen at two places.
    scale: Bed,
    head: Bed,
    random: Random,
    /// Set from outside.
    set: Option<f64>,
    /// How far it has run backwards: so much of it at the head is bare, m.
    back_m: f64,
    speed_m_s: f64,
    /// How far the belt has run, m.
    run_m: f64,
    /// From where on nothing lies on the belt: how far it has run when that place is at the head, m.
    bare_m: f64,
    /// What has reached the head and not fallen as a piece, kg.
    loose_kg: f64,
    /// Mass of the piece that falls next, kg.
    next_kg: f64,
}

impl Carrying {
    /// The belt of a seed, loaded and at rest.
    pub fn new(belt: Belt, seed: u64) -> Self {
        let bed = Bed::new(belt.depth_m, Random::stream(seed, 16));
        let mut random = Random::stream(seed, 17);
        let next_kg = random.within(belt.material.mass_kg);
        Self {
            scale: bed.clone(),
            head: bed,
            random,
            set: None,
            back_m: 0.0,
            speed_m_s: 0.0,
            run_m: 0.0,
            bare_m: f64::INFINITY,
            loose_kg: 0.0,
            next_kg,
            belt,
        }
    }

    /// Sets the drive from outside; negative runs backwards.
    pub fn set(&mut self, share: f64) {
        self.set = Some(share.clamp(-1.0, 1.0));
    }

    /// Sets the drive from outside, or leaves it to the programme.
    pub fn answer(&mut self, share: Option<f64>) {
        self.set = share.map(|share| share.clamp(-1.0, 1.0));
    }

    /// How much more the scale shows than there is.
    pub fn scale_gain(&self) -> f64 {
        1.0 + self.belt.scale_error
    }

    /// A tick of `h_s` that ends at `t_s`; what passes the scale meanwhile, kg.
    pub fn tick(&mut self, t_s: f64, h_s: f64) -> f64 {
        let set = self.set.unwrap_or_else(|| self.belt.share(t_s)) * self.belt.speed_m_s;
        let kept = if self.belt.lag_s > 0.0 { (-h_s / self.belt.lag_s).exp() } else { 0.0 };
        self.speed_m_s = set + (self.speed_m_s - set) * kept;
        let mut moved_m = self.speed_m_s * h_s;
        // What has run back from the head comes there again first; nothing falls meanwhile.
        self.back_m -= moved_m;
        moved_m = if self.back_m > 0.0 { 0.0 } else { -core::mem::take(&mut self.back_m) };
        self.run_m += moved_m;
        let bulk_kg_m3 = self.belt.falls(t_s).0;
        let Belt { width_m, depth_m, scale_m, length_m, hopper_until_s, .. } = self.belt;
        if t_s >= hopper_until_s && self.bare_m.is_infinite() {
            self.bare_m = self.run_m + length_m;
        }
        // A place on the belt is known by how far the belt has to run until it falls.
        let mass = |bed: &mut Bed, place_m: f64| {
            let depth_m = if place_m < self.bare_m { bed.depth(place_m, depth_m) } else { 0.0 };
            depth_m * width_m * bulk_kg_m3 * moved_m
        };
        self.loose_kg += mass(&mut self.head, self.run_m);
        mass(&mut self.scale, self.run_m + scale_m)
    }

    /// The next piece, if enough has come to the head by a time.
    pub fn next(&mut self, t_s: f64, chamber: Option<&Chamber>) -> Option<Piece> {
        if self.loose_kg < self.next_kg {
            return None;
        }
        self.loose_kg -= self.next_kg;
        let material = self.belt.falls(t_s).1;
        let piece = material.draw_of(t_s, self.next_kg, chamber, &mut self.random);
        self.next_kg = self.random.within(material.mass_kg);
        Some(piece)
    }
}

#[cfg(test)]
mod tests {
    use super::super::Work;
    use super::*;

    fn belt(drive: Vec<Drive>) -> Belt {
        Belt {
            speed_m_s: 0.5,
            lag_s: 1.0,
            length_m: 4.0,
            scale_m: 2.0,
            scale_error: 0.0,
            width_m: 0.4,
            depth_m: Span(0.04, 0.08),
            bulk_kg_m3: 100.0,
            hopper_until_s: f64::INFINITY,
            drive,
            material: Material {
                mass_kg: Span(0.05, 0.2),
                work: Work::PerTonne(Span(20.0, 40.0)),
                burst_s: Span(0.2, 1.0),
            },
            batches: Vec::new(),
        }
    }

    /// What passes the scale and what falls, kg by the end of each tick.
    fn carried(belt: Belt, seconds: u32) -> Vec<[f64; 2]> {
        let mut carrying = Carrying::new(belt, 5);
        let (mut weighed, mut fallen) = (0.0, 0.0);
        let tick = |n: u32| {
            let t = f64::from(n) * 0.01;
            weighed += carrying.tick(t, 0.01);
            while let Some(piece) = carrying.next(t, None) {
                fallen += piece.mass_kg;
            }
            [weighed, fallen]
        };
        (0..100 * seconds).map(tick).collect()
    }

    /// Depth, width, density and speed make the mean rate (0.5 x 0.4 x 0.06 x 100 = 1.2 kg/s).
    #[test]
    fn brings_what_lies_on_it() {
        let full = belt(vec![Drive { at_s: 0.0, share: 1.0 }]);
        assert!((full.full_kg_s() - 1.2).abs() < 1e-12);
        let seconds = 600;
        let [weighed, fallen] = *carried(full, seconds).last().unwrap();
        // The drive's lag costs one time constant.
        let wanted = 1.2 * (f64::from(seconds) - 1.0);
        assert!((weighed / wanted - 1.0).abs() < 0.03, "weighed {weighed}, wanted {wanted}");
        assert!((fallen / wanted - 1.0).abs() < 0.03, "fallen {fallen}");
    }

    /// What the scale has counted falls when the belt has carried it from the scale to the head: 2 m at 0.5 m/s.
    #[test]
    fn what_is_weighed_falls_later() {
        let all = carried(belt(vec![Drive { at_s: 0.0, share: 1.0 }]), 120);
        let ahead = all[500][0];
        for n in 600..11_000 {
            // Weighed since the fifth second falls 4 s later, but for a piece that waits until it is whole and the
            // 2 m that lay past the scale at first.
            let (weighed, fallen) = (all[n][0] - ahead, all[n + 400][1] - all[900][1]);
            assert!((weighed - fallen).abs() < 0.3, "at {n}: {weighed} against {fallen}");
        }
    }

    /// An empty hopper shows at the scale after 2 m, at the mill after 4 m.
    #[test]
    fn an_empty_hopper_shows_later() {
        let mut belt = belt(vec![Drive { at_s: 0.0, share: 1.0 }]);
        belt.hopper_until_s = 60.0;
        let all = carried(belt, 100);
        let at = |t: usize| all[100 * t];
        assert!(at(63)[0] > at(62)[0] && (at(90)[0] - at(65)[0]).abs() < 1e-9, "the scale");
        assert!(at(67)[1] > at(66)[1] && (at(90)[1] - at(69)[1]).abs() < 1e-9, "the mill");
    }

    /// What a batch changes it changes from its time on: half the density, half the rate.
    #[test]
    fn a_batch_falls_from_its_time_on() {
        let mut belt = belt(vec![Drive { at_s: 0.0, share: 1.0 }]);
        belt.batches = vec![Batch { from_s: 300.0, bulk_kg_m3: 50.0, material: belt.material.clone() }];
        let all = carried(belt, 600);
        let rate = |from: usize, to: usize| (all[100 * to - 1][1] - all[100 * from][1]) / (to - from) as f64;
        assert!((rate(10, 300) / 1.2 - 1.0).abs() < 0.05 && (rate(310, 600) / 0.6 - 1.0).abs() < 0.05);
    }

    /// What has run back comes to the head again first, and nothing falls meanwhile.
    #[test]
    fn backwards_nothing_falls_until_it_is_made_up() {
        let mut carrying = Carrying::new(Belt { lag_s: 0.0, ..belt(Vec::new()) }, 5);
        let mut go = |share: f64, seconds: u32, from: u32| {
            carrying.answer(Some(share));
            (0..100 * seconds).map(|n| carrying.tick(f64::from(from) + f64::from(n) * 0.01, 0.01)).sum::<f64>()
        };
        assert!(go(1.0, 10, 0) > 1.0);
        assert!(go(-0.5, 4, 10).abs() < 1e-12, "2 s of full speed back");
        assert!(go(1.0, 2, 14) < 0.02, "and forth");
        assert!(go(1.0, 4, 16) > 1.0);
    }

    /// First order: 63.2 % of the way after one time constant.
    #[test]
    fn the_drive_lags() {
        let mut carrying = Carrying::new(belt(vec![Drive { at_s: 0.0, share: 0.5 }]), 5);
        for n in 0..100 {
            carrying.tick(f64::from(n) * 0.01, 0.01);
        }
        assert!((carrying.speed_m_s - 0.25 * (1.0 - (-1.0_f64).exp())).abs() < 1e-9);
        carrying.set(0.0);
        for n in 0..1000 {
            carrying.tick(1.0 + f64::from(n) * 0.01, 0.01);
        }
        assert!(carrying.speed_m_s < 1e-4, "what is set from outside wins: {}", carrying.speed_m_s);
    }

    #[test]
    fn the_bed_stays_within_its_bounds_and_wanders() {
        let span = Span(0.04, 0.08);
        let mut bed = Bed::new(span, Random::new(4));
        let depths: Vec<f64> = (0..10_000).map(|n| bed.depth(f64::from(n) * 0.02, span)).collect();
        assert!(depths.iter().all(|d| (0.04..=0.08).contains(d)));
        assert!(depths.windows(2).all(|pair| (pair[0] - pair[1]).abs() <= 0.04 * 0.02 / UNEVEN_M + 1e-12));
        let mean = depths.iter().sum::<f64>() / depths.len() as f64;
        assert!((mean - 0.06).abs() < 0.002, "{mean}");
    }
}
