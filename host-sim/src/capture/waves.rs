//! Thinned frames back at the converter's rate.
//!
//! A kept frame is the mean of some: a moving mean, seen every so often. What that takes off a sine at rated frequency is given back (by
//! `N sin x / sin N x` with x half the angle of a frame; A. V. Oppenheim, R. W. Schafer, "Discrete-Time Signal Processing", the moving
//! average), and between the middles of the means a cubic through four of them runs (Lagrange).

/// Frames at full rate. `every` of them made a kept one; `turns` is a frame's part of a cycle.
pub fn at_full_rate(kept: &[[i16; 6]], every: u32, turns: f64) -> Vec<[f64; 6]> {
    let kept: Vec<[f64; 6]> = kept.iter().map(|frame| frame.map(f64::from)).collect();
    if every == 1 || kept.is_empty() {
        return kept;
    }
    let n = f64::from(every);
    let half = std::f64::consts::PI * turns;
    let gain = n * half.sin() / (n * half).sin();
    (0..kept.len() * every as usize)
        .map(|place| {
            let at = (place as f64 - (n - 1.0) / 2.0) / n;
            cubic(&kept, at).map(|x| x * gain)
        })
        .collect()
}

/// Through the two frames before and the two after; at the ends through the outermost four.
fn cubic(kept: &[[f64; 6]], at: f64) -> [f64; 6] {
    let last = kept.len().saturating_sub(4);
    let first = ((at.floor() - 1.0).max(0.0) as usize).min(last);
    let points = &kept[first..(first + 4).min(kept.len())];
    let mut sum = [0.0; 6];
    for (i, point) in points.iter().enumerate() {
        let mut weight = 1.0;
        for j in (0..points.len()).filter(|j| *j != i) {
            weight *= (at - (first + j) as f64) / (i as f64 - j as f64);
        }
        sum.iter_mut().zip(point).for_each(|(sum, x)| *sum += weight * x);
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A sine of 50 Hz, as the mean of four samples at 4 kHz and rounded, comes back within a thousandth of its height.
    #[test]
    fn a_sine_comes_back() {
        let sine = |n: usize| (n as f64 / 80.0 * std::f64::consts::TAU).sin() * 20_000.0;
        let kept: Vec<[i16; 6]> =
            (0..100).map(|k| [((0..4).map(|i| sine(4 * k + i)).sum::<f64>() / 4.0).floor() as i16; 6]).collect();
        let frames = at_full_rate(&kept, 4, 50.0 / 4_000.0);
        assert_eq!(frames.len(), 400);
        for (n, frame) in frames.iter().enumerate().skip(8).take(384) {
            assert!((frame[0] - sine(n)).abs() < 20.0, "frame {n}: {} for {}", frame[0], sine(n));
        }
    }

    #[test]
    fn whole_frames_stay_as_they_are_and_few_are_no_trouble() {
        assert_eq!(at_full_rate(&[[7; 6], [-9; 6]], 1, 0.01), [[7.0; 6], [-9.0; 6]]);
        assert!(at_full_rate(&[], 4, 0.01).is_empty());
        for few in 1..5 {
            assert_eq!(at_full_rate(&vec![[100; 6]; few], 2, 0.0125).len(), 2 * few);
        }
    }
}
