//! A story's trace as CSV, for tests of verbs that measure one.

use std::convert::Infallible;
use std::fmt::Write as _;

use super::story::Story;
use crate::plant;

/// Readings of the six channels, changed by `change` at each time.
pub(crate) fn csv(story: &Story, seed: u64, change: impl Fn(f64, &mut [f64; 6])) -> String {
    let mut text = "t_s,va_v,vb_v,vc_v,ia_a,ib_a,ic_a\n".to_owned();
    let Ok(_) = plant::run(&story.scenario, seed, |frame: &plant::Frame<'_>| -> Result<(), Infallible> {
        let t = frame.truth.t_s;
        let mut r: [f64; 6] = std::array::from_fn(|k| frame.reading[k]);
        change(t, &mut r);
        writeln!(text, "{t:.6},{:.4},{:.4},{:.4},{:.4},{:.4},{:.4}", r[0], r[1], r[2], r[3], r[4], r[5]).unwrap();
        Ok(())
    });
    text
}
