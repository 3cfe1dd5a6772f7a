//! Where the pulses of a scale were counted, and how many ends that has.
//!
//! ```text
//! m = K (N + b - a)                N pulses of K kg between two moments; a, b: what the scale had of a pulse at each, 0 to 1
//! u(K a) = u(K b) = K / (2 √3)     half a pulse to either side, rectangular (JCGM 100, 4.3.7)
//! u(m) = K / (2 √3) √ends          ends that are apart err each by itself (5.1.2)
//! ```
//!
//! Where one run ends and the next one begins, b of the one is a of the other: what the first is told too little the
//! second is told too much, and their sum errs by its two outer ends alone (5.2.2, correlation). Runs with others, or with
//! a break, between them have ends of their own. If nothing was fed in the break they have not quite, and the band is a
//! little too wide.

/// Moments so near to each other are one, s: times are typed, and half a cycle is the measure of all.
const SAME_S: f64 = 0.01;

/// Stretches of a trace in which pulses told the mass, from and to, s; those of one run, or of several.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Counted(Vec<(f64, f64)>);

impl Counted {
    /// One stretch.
    pub fn of(from_s: f64, to_s: f64) -> Self {
        Self(vec![(from_s, to_s)])
    }

    /// Those of another run as well.
    pub fn and(&mut self, other: &Self) {
        self.0.extend(&other.0);
    }

    /// What they leave of a trace.
    #[must_use]
    pub fn rest(&self, duration_s: f64) -> Self {
        let joined = self.joined();
        let from = std::iter::once(0.0).chain(joined.iter().map(|(_, to_s)| *to_s));
        let to = joined.iter().map(|(from_s, _)| *from_s).chain([duration_s]);
        Self(from.zip(to).filter(|(from_s, to_s)| to_s - from_s > SAME_S).collect())
    }

    /// How many ends err by themselves.
    pub fn ends(&self) -> usize {
        2 * self.joined().len()
    }

    /// In order of time, those that follow on one another as one.
    fn joined(&self) -> Vec<(f64, f64)> {
        let mut all = self.0.clone();
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut joined: Vec<(f64, f64)> = Vec::new();
        for (from_s, to_s) in all {
            match joined.last_mut() {
                Some(last) if from_s <= last.1 + SAME_S => last.1 = last.1.max(to_s),
                _ => joined.push((from_s, to_s)),
            }
        }
        joined
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all(stretches: &[(f64, f64)]) -> Counted {
        let mut counted = Counted::default();
        for (from_s, to_s) in stretches {
            counted.and(&Counted::of(*from_s, *to_s));
        }
        counted
    }

    /// By hand; in any order.
    #[test]
    fn ends_that_two_share_are_none() {
        for (stretches, ends) in [
            (&[][..], 0),
            (&[(0.0, 60.0)], 2),
            (&[(60.0, 90.0), (0.0, 60.0)], 2),
            (&[(0.0, 59.995), (60.0, 90.0)], 2),
            (&[(0.0, 60.0), (70.0, 90.0)], 4),
            (&[(0.0, 60.0), (90.0, 95.0), (60.0, 70.0), (80.0, 90.0)], 4),
        ] {
            assert_eq!(all(stretches).ends(), ends, "{stretches:?}");
        }
    }

    #[test]
    fn what_is_left_has_the_ends_of_its_neighbours() {
        assert_eq!(
            all(&[(10.0, 20.0), (20.0, 30.0), (40.0, 50.0)]).rest(60.0),
            all(&[(0.0, 10.0), (30.0, 40.0), (50.0, 60.0)])
        );
        assert_eq!(all(&[(0.0, 30.0)]).rest(30.005).ends(), 0);
        assert_eq!(Counted::default().rest(30.0), Counted::of(0.0, 30.0));
    }
}
