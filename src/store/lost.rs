//! Pages of a map that the system cannot give: an empty page instead of the end of the process.

use std::io;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use memmap2::MmapMut;

use crate::platform;

/// Maps at one time: a few for each open image, one for each thread that looks at it.
const MOST: usize = 256;

/// One map that is watched. Written by ordinary code, read by the signal handler, hence atomics only.
struct Slot {
    /// First address; 0 while the slot is free.
    start: AtomicUsize,
    /// Bytes; set before `start`.
    len: AtomicUsize,
    /// Set for ever once a page was missing: such a slot is not used again, so its mark stays true.
    lost: AtomicBool,
}

static SLOTS: [Slot; MOST] =
    [const { Slot { start: AtomicUsize::new(0), len: AtomicUsize::new(0), lost: AtomicBool::new(false) } };
        MOST];

/// Keeps a map watched as long as it lives.
pub(super) struct Watched(&'static Slot);

/// Says whether a page of a map was missing; equal for the same map only, as long as it is watched.
#[derive(Clone, Copy)]
pub(super) struct Mark(&'static Slot);

impl PartialEq for Mark {
    fn eq(&self, other: &Self) -> bool {
        std::ptr::eq(self.0, other.0)
    }
}

impl Watched {
    /// Watches `map` from now on.
    pub(super) fn over(map: &mut MmapMut) -> io::Result<Self> {
        platform::mend_lost_pages(map_at)?;
        let (start, len) = (map.as_mut_ptr() as usize, map.len());
        for slot in &SLOTS {
            if slot.lost.load(Ordering::Acquire) {
                continue;
            }
            // The handler looks at `len` only where `start` is not 0, so a taken slot is set up under a start that
            // no address can have: the last one.
            let free = slot.start.compare_exchange(0, usize::MAX, Ordering::AcqRel, Ordering::Acquire);
            if free.is_ok() {
                slot.len.store(len, Ordering::Release);
                slot.start.store(start, Ordering::Release);
                return Ok(Watched(slot));
            }
        }
        Err(io::Error::other(format!("more than {MOST} large images are open at one time")))
    }

    pub(super) fn mark(&self) -> Mark {
        Mark(self.0)
    }
}

impl Drop for Watched {
    fn drop(&mut self) {
        self.0.start.store(0, Ordering::Release);
    }
}

impl Mark {
    pub(super) fn is_set(self) -> bool {
        self.0.lost.load(Ordering::Acquire)
    }
}

/// The mark of the map that an address lies in. Asked in a signal handler, hence atomics only.
fn map_at(address: usize) -> Option<&'static AtomicBool> {
    let holds = |slot: &&Slot| {
        let start = slot.start.load(Ordering::Acquire);
        let len = slot.len.load(Ordering::Acquire);
        start != 0 && start <= address && address - start < len
    };
    SLOTS.iter().find(holds).map(|slot| &slot.lost)
}
