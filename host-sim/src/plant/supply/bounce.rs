//! Contacts that bounce as the contactor closes.
//!
//! ```text
//! closes --- closed, open --- closed, open --- ... --- closed for good        each pair half as long as the one before
//! ```
//!
//! All poles bounce together. To the starter there is one closing: its clock goes on. The model's contactor acts between
//! steps (`motor::LONGEST_STEP_S`): bounces far shorter than a step are lost.

use serde::{Deserialize, Serialize};

/// How it bounces, at each closing.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Bounce {
    /// How often the contacts part; at most 16 count.
    pub count: u32,
    /// How long after the first touch they stay together, s (2 to 10 ms are usual, common practice).
    pub within_s: f64,
}

impl Bounce {
    /// Whether the contacts are parted so long after the closing.
    pub(super) fn parts(&self, since_s: f64) -> bool {
        if since_s >= self.within_s {
            return false;
        }
        let count = self.count.min(16);
        // Pairs of length 2^(n-1) ... 2, 1 in parts of the whole.
        let (mut pair, mut left) = (f64::from(1_u32 << count) / 2.0, since_s / self.within_s);
        left *= 2.0 * pair - 1.0;
        for _ in 0..count {
            if left < pair {
                return left >= pair / 2.0;
            }
            left -= pair;
            pair /= 2.0;
        }
        false
    }
}

#[cfg(test)]
mod tests;
