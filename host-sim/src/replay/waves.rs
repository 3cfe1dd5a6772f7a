//! Whether a trace holds waves at all: rms values, logged as such, never change sign and mean nothing here.

use crate::trace::Rows;
use crate::trace::select::Selection;

/// Rows that are looked at: a second or so.
const LOOKED_AT: usize = 16_384;

/// Watches the first rows of the electrical channels.
#[derive(Debug, Clone, Copy)]
pub struct Waves {
    rows: usize,
    /// Lowest and highest value of each channel.
    ranges: [(f64, f64); 6],
}

impl Default for Waves {
    fn default() -> Self {
        Self { rows: 0, ranges: [(f64::INFINITY, f64::NEG_INFINITY); 6] }
    }
}

impl Waves {
    /// Takes a block.
    pub fn take(&mut self, rows: &Rows, selection: &Selection) {
        if self.rows >= LOOKED_AT {
            return;
        }
        self.rows += rows.len;
        for (range, column) in self.ranges.iter_mut().zip(selection.electrical) {
            for x in column.and_then(|at| rows.columns.get(at)).into_iter().flatten() {
                *range = (range.0.min(*x), range.1.max(*x));
            }
        }
    }

    /// What there is to say: at least two channels with values of one sign, and none with a wave.
    pub fn warning(&self) -> Option<String> {
        let one_sign = self.ranges.iter().filter(|(low, high)| low.is_finite() && (*low > 0.0 || *high < 0.0)).count();
        let waves = self.ranges.iter().filter(|(low, high)| *low < 0.0 && *high > 0.0).count();
        (one_sign >= 2 && waves == 0).then(|| {
            "no channel ever changes its sign: these seem to be rms values or means, whose figures are wrong as samples of \
             waves. What is needed are 2000 to 16000 samples a second, or a log of 0.1 to 20 rows a second with values = \
             \"rms\" in [sampling]"
                .to_owned()
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(values: [&[f64]; 3]) -> Option<String> {
        let mut rows = Rows::new();
        rows.columns = values.map(<[f64]>::to_vec).to_vec();
        rows.len = rows.columns[0].len();
        let selection = Selection { electrical: [Some(0), Some(1), None, Some(2), None, None], ..Selection::default() };
        let mut waves = Waves::default();
        waves.take(&rows, &selection);
        waves.warning()
    }

    #[test]
    fn rms_values_are_no_waves() {
        assert!(told([&[230.0, 231.0], &[229.5, 230.0], &[40.0, 41.0]]).is_some());
        assert!(told([&[230.0, -231.0], &[229.5, 230.0], &[40.0, 41.0]]).is_none());
        assert!(told([&[0.0, 0.0], &[0.0, 0.0], &[0.0, 0.0]]).is_none(), "a dead trace is another matter");
    }
}
