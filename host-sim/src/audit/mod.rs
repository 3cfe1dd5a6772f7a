//! What an audit of a site's energy reckons with: registers that begin anew, models of energy, and when something changed.

pub mod bend;
pub mod model;
pub mod register;
