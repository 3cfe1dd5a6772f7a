//! Where reports go: a log, a link, a digest; or nowhere.

use shaftwork_core::recorder::Record;
use shaftwork_core::{BLOCK, Frame, Monitor};
use shaftwork_report_bits::Report;
use shaftwork_store::What;

/// Takes every report in order.
pub trait Reports {
    /// Takes one. Called from the loop, so it should be quick: queue rather than send.
    fn report(&mut self, report: &Report);

    /// A block has been taken: before what is reported of it.
    fn block(&mut self, block: &[Frame; BLOCK], monitor: &Monitor) {
        let _ = (block, monitor);
    }

    /// All reports of a block have been given.
    fn told(&mut self) {}

    /// A capture stands still: whether it has been taken, so that its memory is free again. Asked after every block until it has; what
    /// takes long may go on with a part each time ([`shaftwork_report_bits::capture`] writes it as bytes).
    fn capture(&mut self, record: &Record<'_>) -> bool {
        let _ = record;
        false
    }

    /// An alarm: the store's flash refuses this, so that it would be lost if power went; nothing: it takes it again. Told when it changes. Metering and
    /// trips go on.
    fn failing(&mut self, what: Option<What>) {
        let _ = what;
    }
}

/// Nowhere.
impl Reports for () {
    fn report(&mut self, _: &Report) {}
}
