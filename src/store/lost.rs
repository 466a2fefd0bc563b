//! Pages of a map that the system cannot give: an empty page instead of the end of the process.

use std::io;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use memmap2::MmapMut;

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
        handler::install()?;
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

#[cfg(unix)]
mod handler {
    //! SIGBUS: what a process gets that reads a page of a map behind the end of its file, or on a bad disk.

    use std::ffi::c_void;
    use std::io;
    use std::ptr;
    use std::sync::OnceLock;
    use std::sync::atomic::Ordering;

    use super::SLOTS;

    /// What was there before us (the standard library watches for stack overflows), and the size of a page.
    static BEFORE: OnceLock<(libc::sigaction, usize)> = OnceLock::new();

    /// Installs the handler, once.
    #[allow(unsafe_code, reason = "signals are reached through libc only")]
    pub(super) fn install() -> io::Result<()> {
        static INSTALLED: OnceLock<Result<(), i32>> = OnceLock::new();
        let installed = INSTALLED.get_or_init(|| {
            let code = || io::Error::last_os_error().raw_os_error().unwrap_or(0);
            // SAFETY: both structures are plain data for which zero is valid; the calls only read and write them.
            // The handler has the signature that SA_SIGINFO asks for, and keeps to what a handler may do.
            unsafe {
                let mut before: libc::sigaction = std::mem::zeroed();
                if libc::sigaction(libc::SIGBUS, ptr::null(), &mut before) != 0 {
                    return Err(code());
                }
                let page = usize::try_from(libc::sysconf(libc::_SC_PAGESIZE)).map_err(|_| code())?;
                BEFORE.get_or_init(|| (before, page));
                let mut ours: libc::sigaction = std::mem::zeroed();
                ours.sa_sigaction = on_bus_error as *const () as usize;
                // On the stack that the standard library set aside, as its own handler runs.
                ours.sa_flags = libc::SA_SIGINFO | libc::SA_ONSTACK;
                if libc::sigaction(libc::SIGBUS, &ours, ptr::null_mut()) != 0 {
                    return Err(code());
                }
            }
            Ok(())
        });
        installed.map_err(io::Error::from_raw_os_error)
    }

    /// Puts an empty page where one is missing; hands everything else to who was here before.
    #[allow(unsafe_code, reason = "the body of a signal handler")]
    extern "C" fn on_bus_error(signal: libc::c_int, info: *mut libc::siginfo_t, context: *mut c_void) {
        let Some((before, page)) = BEFORE.get() else { return };
        // SAFETY: the system gives a valid structure to a handler with SA_SIGINFO. Inside, only atomics, `mmap` and
        // `sigaction` are used, which take no lock and allocate nothing. The new page is put into one of our own
        // maps, which is writable and private as the page is, so for the code that was interrupted the bytes there
        // are still bytes; a map of ours is given up in `Watched` before its addresses can become somebody else's.
        unsafe {
            let address = (*info).si_addr() as usize;
            for slot in &SLOTS {
                let start = slot.start.load(Ordering::Acquire);
                let len = slot.len.load(Ordering::Acquire);
                if start == 0 || address < start || address - start >= len {
                    continue;
                }
                let got = libc::mmap(
                    (address & !(page - 1)) as *mut c_void,
                    *page,
                    libc::PROT_READ | libc::PROT_WRITE,
                    libc::MAP_FIXED | libc::MAP_PRIVATE | libc::MAP_ANON,
                    -1,
                    0,
                );
                if got != libc::MAP_FAILED {
                    slot.lost.store(true, Ordering::Release);
                    return;
                }
            }
            // Not ours: what was there before is put back, and when we return the same thing happens again to it.
            libc::sigaction(signal, before, ptr::null_mut());
        }
        let _ = context;
    }
}

/// Elsewhere a file that is mapped cannot be cut.
#[cfg(not(unix))]
mod handler {
    pub(super) fn install() -> std::io::Result<()> {
        Ok(())
    }
}
