//! What an audit of a site's energy reckons with: demand, and registers that begin anew.

pub mod demand;
pub mod register;
