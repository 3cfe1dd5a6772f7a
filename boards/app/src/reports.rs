//! Where reports go: a log, a link, a digest; or nowhere.

use shaftwork_report_bits::Report;

/// Takes every report in order.
pub trait Reports {
    /// Takes one. Called from the loop, so it should be quick: queue rather than send.
    fn report(&mut self, report: &Report);
}

/// Nowhere.
impl Reports for () {
    fn report(&mut self, _: &Report) {}
}
