//! Ctrl-C as a wish that long work looks at.

use std::sync::Arc;
use std::sync::atomic::AtomicBool;

/// Ctrl-C sets a flag for as long as this lives; a second one ends the program as usual.
pub(super) struct Interrupt {
    #[cfg(unix)]
    ids: Vec<signal_hook::SigId>,
}

impl Interrupt {
    #[cfg(unix)]
    pub(super) fn watch(flag: &Arc<AtomicBool>) -> Self {
        use signal_hook::consts::SIGINT;
        use signal_hook::flag;
        // In this order, so that the first interrupt only sets the flag.
        let ids = [
            flag::register_conditional_default(SIGINT, Arc::clone(flag)),
            flag::register(SIGINT, Arc::clone(flag)),
        ];
        Interrupt { ids: ids.into_iter().flatten().collect() }
    }

    #[cfg(not(unix))]
    pub(super) fn watch(_flag: &Arc<AtomicBool>) -> Self {
        Interrupt {}
    }
}

impl Drop for Interrupt {
    fn drop(&mut self) {
        #[cfg(unix)]
        for &id in &self.ids {
            signal_hook::low_level::unregister(id);
        }
    }
}
