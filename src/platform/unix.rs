//! Linux, macOS and what else is a Unix.

use std::ffi::{OsStr, c_void};
use std::fs::{DirBuilder, File, Metadata, OpenOptions};
use std::io;
use std::os::unix::ffi::OsStrExt as _;
use std::os::unix::fs::{
    DirBuilderExt as _, FileTypeExt as _, MetadataExt as _, OpenOptionsExt as _, fchown,
};
use std::path::{Path, PathBuf};
use std::ptr;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, OnceLock};

use signal_hook::SigId;
use signal_hook::consts::{SIGCONT, SIGHUP, SIGINT, SIGQUIT, SIGTERM, SIGTSTP};
use signal_hook::low_level::{emulate_default_handler, unregister};

use super::{Signal, UserFolder};

/// The folder of the user's settings.
pub const SETTINGS: UserFolder = ("HOME", ".config");
/// The folder of what sessions leave for later ones.
pub const STATES: UserFolder = ("HOME", ".local/state");

/// A file that is made with these is its user's alone.
pub fn for_us_alone(options: &mut OpenOptions) {
    options.mode(0o600);
}

/// A folder that is made with this is its user's alone.
pub fn folder_for_us_alone(builder: &mut DirBuilder) {
    builder.mode(0o700);
}

/// Gives `file` the owner, the group and the mode that `like` has.
pub fn make_alike(file: &File, like: &Metadata) -> io::Result<()> {
    let ours = file.metadata()?;
    let differing = |ours: u32, theirs: u32| (ours != theirs).then_some(theirs);
    let (user, group) = (differing(ours.uid(), like.uid()), differing(ours.gid(), like.gid()));
    if user.is_some() || group.is_some() {
        fchown(file, user, group)?;
    }
    // Last, because a change of owner can take bits of the mode away.
    file.set_permissions(like.permissions())
}

/// Gives `file` the extended attributes of the file `like`, as far as the system lets us.
#[cfg(any(target_os = "linux", target_os = "macos"))]
pub fn keep_attributes(like: &Path, file: &File) {
    use rustix::fs::{XattrFlags, fsetxattr, getxattr, listxattr};
    /// The most that the system takes for the names, and for one value.
    const MOST: usize = 64 << 10;
    let (mut names, mut value) = (vec![0; MOST], vec![0; MOST]);
    // Some are the system's own and cannot be set by us; those are not ours to keep.
    let Ok(length) = listxattr(like, &mut names[..]) else { return };
    for name in names.get(..length).unwrap_or_default().split(|&b| b == 0).filter(|n| !n.is_empty()) {
        if let Ok(length) = getxattr(like, name, &mut value[..]) {
            let _ = fsetxattr(file, name, value.get(..length).unwrap_or_default(), XattrFlags::empty());
        }
    }
}

/// Others have them under names of their own, or not at all.
#[cfg(not(any(target_os = "linux", target_os = "macos")))]
pub fn keep_attributes(_like: &Path, _file: &File) {}

/// Gives the file `from` the name `to`, which must be free.
#[cfg(any(target_os = "linux", target_os = "macos"))]
pub fn publish(from: &Path, to: &Path) -> io::Result<()> {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    use rustix::io::Errno;
    match renameat_with(CWD, from, CWD, to, RenameFlags::NOREPLACE) {
        Ok(()) => Ok(()),
        Err(Errno::INVAL | Errno::NOSYS | Errno::NOTSUP) => super::publish_by_link(from, to),
        Err(error) => Err(error.into()),
    }
}

/// Gives the file `from` the name `to`, which must be free.
#[cfg(not(any(target_os = "linux", target_os = "macos")))]
pub fn publish(from: &Path, to: &Path) -> io::Result<()> {
    super::publish_by_link(from, to)
}

/// Gives the file `from` the name `to` in one step, in the place of the file that has it.
pub fn replace(from: &Path, to: &Path) -> io::Result<()> {
    std::fs::rename(from, to)
}

/// Waits until the names in `folder` are on the disk.
pub fn sync_folder(folder: &Path) -> io::Result<()> {
    match File::open(folder)?.sync_all() {
        // Some file systems have no such thing; there is nothing more to be had from them.
        Err(e) if matches!(e.kind(), io::ErrorKind::InvalidInput | io::ErrorKind::Unsupported) => Ok(()),
        done => done,
    }
}

/// How many names (hard links) a file has.
pub fn names_of(about: &Metadata) -> u64 {
    about.nlink()
}

/// What tells a file from all others whatever it is called: its disk, and its number there.
pub fn number_on_disk(about: &Metadata) -> Option<(u64, u64)> {
    Some((about.dev(), about.ino()))
}

/// True for what is neither a file nor a folder nor a pipe.
pub fn is_device(about: &Metadata) -> bool {
    let kind = about.file_type();
    kind.is_char_device() || kind.is_block_device() || kind.is_socket()
}

/// The path with these encoded bytes; `None` where the system has no such path.
pub fn path_of_bytes(bytes: &[u8]) -> Option<PathBuf> {
    Some(PathBuf::from(OsStr::from_bytes(bytes)))
}

/// The name of this machine; empty where it has none.
pub fn host() -> String {
    rustix::system::uname().nodename().to_string_lossy().into_owned()
}

/// Heeds what the system asks of the program in a thread of its own, until `heed` says no or the program ends.
pub fn on_signals(mut heed: impl FnMut(Signal) -> bool + Send + 'static) -> io::Result<()> {
    let mut signals = signal_hook::iterator::Signals::new([SIGTERM, SIGHUP, SIGQUIT, SIGTSTP, SIGCONT])?;
    std::thread::Builder::new().name("signals".into()).spawn(move || {
        for signal in signals.forever() {
            let goes_on = match signal {
                SIGTSTP => heed(Signal::Suspend),
                SIGCONT => heed(Signal::Resume),
                deadly => {
                    heed(Signal::End);
                    let _ = emulate_default_handler(deadly);
                    std::process::exit(2);
                }
            };
            if !goes_on {
                break;
            }
        }
    })?;
    Ok(())
}

/// Stops the program until the user brings it back.
pub fn stop() {
    // A program that cannot be stopped goes on.
    let _ = emulate_default_handler(SIGTSTP);
}

/// Ctrl-C sets a flag for as long as this lives; a second one ends the program as usual.
pub struct Interrupts(Vec<SigId>);

impl Interrupts {
    pub fn set(flag: &Arc<AtomicBool>) -> Self {
        use signal_hook::flag;
        // In this order, so that the first interrupt only sets the flag.
        let ids = [
            flag::register_conditional_default(SIGINT, Arc::clone(flag)),
            flag::register(SIGINT, Arc::clone(flag)),
        ];
        Interrupts(ids.into_iter().flatten().collect())
    }
}

impl Drop for Interrupts {
    fn drop(&mut self) {
        for &id in &self.0 {
            unregister(id);
        }
    }
}

/// Says to whose map an address belongs: gives the mark that is set for ever once a page of that map was missing. It is
/// asked in a signal handler, so it may take no lock and allocate nothing.
type MapAt = fn(usize) -> Option<&'static AtomicBool>;

/// What the handler needs: who knows the maps, what was there before us (the standard library watches for stack
/// overflows), and the size of a page.
static LOST_PAGES: OnceLock<(MapAt, libc::sigaction, usize)> = OnceLock::new();

/// From now on a page of a map that the system cannot give, because the file was cut or the disk is bad (SIGBUS), is
/// taken as an empty one, and the map is marked. Counts once for the program, whoever asks.
#[allow(unsafe_code, reason = "signals are reached through libc only")]
pub fn mend_lost_pages(map_at: MapAt) -> io::Result<()> {
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
            LOST_PAGES.get_or_init(|| (map_at, before, page));
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
extern "C" fn on_bus_error(signal: libc::c_int, info: *mut libc::siginfo_t, _context: *mut c_void) {
    let Some((map_at, before, page)) = LOST_PAGES.get() else { return };
    // SAFETY: the system gives a valid structure to a handler with SA_SIGINFO. Inside, only atomics, `mmap` and
    // `sigaction` are used, which take no lock and allocate nothing. The new page is put into one of our own
    // maps, which is writable and private as the page is, so for the code that was interrupted the bytes there
    // are still bytes; a map of ours is given up by who knows the maps before its addresses can become somebody
    // else's.
    unsafe {
        let address = (*info).si_addr() as usize;
        if let Some(lost) = map_at(address) {
            let got = libc::mmap(
                (address & !(page - 1)) as *mut c_void,
                *page,
                libc::PROT_READ | libc::PROT_WRITE,
                libc::MAP_FIXED | libc::MAP_PRIVATE | libc::MAP_ANON,
                -1,
                0,
            );
            if got != libc::MAP_FAILED {
                lost.store(true, Ordering::Release);
                return;
            }
        }
        // Not ours: what was there before is put back, and when we return the same thing happens again to it.
        libc::sigaction(signal, before, ptr::null_mut());
    }
}
