//! The bench page: one table of ratios, measured in one run, against what a user would otherwise use for the same step,
//! and against the machine's own limit, the bandwidth of a memory copy.
//!
//! `cargo bench --bench page`. Aim: no ratio over 1.0, and equality and byte statistics at over 60 % of a copy. Tools that
//! are not there are said in a line. `READPROOF_BENCH_MIB` makes the files smaller than 1024 MiB, `READPROOF_BENCH_IMAGES`
//! the images in folders fewer than 10,000.

// A bench talks to whoever runs it, and stops when it cannot.
#![allow(clippy::print_stdout, clippy::unwrap_used)]

mod support;

use std::ffi::OsStr;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Duration;

use crc::{Crc, Table};
use readproof::check::by_name;
use readproof::compare::Differences;
use readproof::image::Image;
use readproof::skyline::Skyline;
use readproof::tui::command::places;
use readproof::{find, store};
use support::{race, shortest};

const RUNS: usize = 5;

const PROGRAM: &str = env!("CARGO_BIN_EXE_readproof");

/// What stands near the end of the files.
const NEEDLE: &str = "FK-CR8-2047B";

/// The table, and what its rows are measured against.
struct Page {
    /// Bytes per second of a copy in memory.
    copy: f64,
    missing: Vec<&'static str>,
}

impl Page {
    /// A row against another program.
    fn against<T>(&mut self, what: &str, bytes: usize, mut ours: impl FnMut() -> T, tool: &Tool<'_>) {
        let (ours, theirs) = match tool.run() {
            true => race(RUNS, ours, || assert!(tool.run())),
            false => (shortest(RUNS, &mut ours), Duration::MAX),
        };
        self.row(what, bytes, ours, tool.0, Some(theirs).filter(|theirs| *theirs != Duration::MAX));
    }

    /// A row: `ours` for `bytes`, and another way to do the same.
    fn row(
        &mut self,
        what: &str,
        bytes: usize,
        ours: Duration,
        other: &'static str,
        theirs: Option<Duration>,
    ) {
        let rate = bytes as f64 / ours.as_secs_f64();
        let (theirs, ratio) = match theirs {
            Some(theirs) => {
                let ratio = ours.as_secs_f64() / theirs.as_secs_f64();
                // What differs by less than machines do from run to run is the same.
                let aim = if ratio <= 1.05 { "met" } else { "MISSED" };
                (format!("{:>9.1} ms", theirs.as_secs_f64() * 1e3), format!("{ratio:>6.2}  {aim}"))
            }
            None => {
                self.missing.push(other);
                ("  not here".into(), String::new())
            }
        };
        println!(
            "{what:<46} {:>9.1} ms {:>6.2} GB/s {:>4.0} %  {other:<32} {theirs} {ratio}",
            ours.as_secs_f64() * 1e3,
            rate / 1e9,
            100.0 * rate / self.copy,
        );
    }
}

/// Another program that does the same step: its name and options, and the files it takes.
struct Tool<'a>(&'static str, &'a [&'a Path]);

impl Tool<'_> {
    /// Whether it ran and succeeded.
    fn run(&self) -> bool {
        let mut words = self.0.split(' ').map(Path::new).chain(self.1.iter().copied());
        run(words.next().unwrap(), words) == Some(0)
    }
}

/// Runs a program, what it prints thrown away, and gives its status.
fn run(program: &Path, words: impl IntoIterator<Item = impl AsRef<OsStr>>) -> Option<i32> {
    let mut command = Command::new(program);
    command.args(words).stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
    command.status().ok()?.code()
}

/// Runs the program itself, which says by status 1 that there is something to look at.
fn ourselves(words: &[&str]) {
    assert!(run(Path::new(PROGRAM), words).is_some_and(|status| status < 2), "{words:?}");
}

/// Two equal files with the needle near their end, in memory where the system has a place for that.
fn files(mib: usize) -> Option<(PathBuf, [PathBuf; 2])> {
    let shared = Path::new("/dev/shm");
    let place = if shared.is_dir() { shared.to_path_buf() } else { std::env::temp_dir() };
    let folder = place.join(format!("readproof-page-{}", std::process::id()));
    let mut bytes = support::noise(mib << 20, 1);
    let at = bytes.len() - 5000;
    bytes[at..at + NEEDLE.len()].copy_from_slice(NEEDLE.as_bytes());
    let paths = ["a.bin", "b.bin"].map(|name| folder.join(name));
    let made = fs::create_dir_all(&folder).and_then(|()| paths.iter().try_for_each(|p| fs::write(p, &bytes)));
    if made.is_err() {
        let _ = fs::remove_dir_all(&folder);
        return None;
    }
    Some((folder, paths))
}

fn open(path: &Path) -> Image {
    store::open(path, &mut std::io::empty()).unwrap().image
}

/// Whole programs, and whole files from opening to the answer.
fn on_files(page: &mut Page, [a, b]: [&Path; 2], bytes: usize) {
    let cmp = Tool("cmp", &[a, b]);
    let compare = || ourselves(&["compare", "--layout", "none", text(a), text(b)]);
    page.against("equality: readproof compare", bytes, compare, &cmp);
    let core = || assert!(Differences::between(&open(a), &open(b)).is_empty());
    page.against("equality: its core, opening included", bytes, core, &cmp);

    let typed = format!("0x{}", NEEDLE.bytes().map(|b| format!("{b:02X}")).collect::<String>());
    let found = || assert_eq!(places(&open(a), &typed, &|_, _| true).unwrap().listed.len(), 1);
    page.against("find: bytes, opening included", bytes, found, &Tool("grep -c -a -F FK-CR8-2047B", &[a]));

    let digest = || store::open(a, &mut std::io::empty()).unwrap().sha256().unwrap();
    page.against("digest: SHA-256, opening included", bytes, digest, &Tool("sha256sum", &[a]));
    let cksum = by_name("CRC-32/CKSUM").unwrap();
    let sum = || cksum.compute([open(a).bytes()]);
    page.against("digest: CRC-32/CKSUM, opening included", bytes, sum, &Tool("cksum", &[a]));
}

/// A text in every way that it may be stored, near misses included. `grep` looks for it in one way of more than twenty.
fn on_text(page: &mut Page, folder: &Path) {
    let (path, mut bytes) = (folder.join("text.bin"), support::noise(16 << 20, 3));
    bytes[5000..5000 + NEEDLE.len()].copy_from_slice(NEEDLE.as_bytes());
    fs::write(&path, &bytes).unwrap();
    let found = || ourselves(&["find", text(&path), NEEDLE]);
    page.against(
        "find: a part number however stored",
        bytes.len(),
        found,
        &Tool("grep -c -a -i -F FK-CR8-2047B", &[&path]),
    );
}

/// Many images in a tree of folders, against a loop of the shell that runs the program on each.
fn on_many(page: &mut Page, folder: &Path, images: usize) {
    /// Images in the loop of the shell; the time of all is worked out from these.
    const ALONE: usize = 100;
    let all = folder.join("many");
    let paths = support::images(&all, images).unwrap();
    let commands: [(&str, &[&str]); 4] =
        [("vet", &["--each"]), ("show", &[]), ("find", &[NEEDLE]), ("survey", &[])];
    for (command, more) in commands {
        let words = |path| [&[command, "--json", text(path)], more].concat();
        let lines = paths.iter().step_by((images / ALONE).max(1)).take(ALONE);
        let lines = lines.map(|path| format!("'{PROGRAM}' '{}'\n", words(path).join("' '")));
        let script = lines.collect::<String>();
        let ours = shortest(1, || ourselves(&words(&all)));
        let theirs = shortest(1, || run(Path::new("sh"), ["-c", &script]));
        let theirs = theirs.mul_f64(images as f64 / ALONE.min(images) as f64);
        let what = format!("{command} --json: {images} images");
        page.row(&what, images << 13, ours, "a loop of the shell", Some(theirs));
    }
}

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// The core on bytes in memory, against plain loops and against the crate that does the work called directly.
fn in_memory(page: &mut Page, bytes: &[u8]) {
    let len = bytes.len();
    let (one, two) = (Image::raw(bytes.to_vec()), Image::raw(bytes.to_vec()));
    let (equal, plain) = race(RUNS, || Differences::between(&one, &two), || one.bytes() == two.bytes());
    page.row("equality: in memory", len, equal, "comparing the slices", Some(plain));

    let look = Skyline::of(&one).look(&one).unwrap();
    let plain = || {
        let blank = one.bytes().iter().filter(|b| matches!(b, 0x00 | 0xFF)).count();
        let text = one.bytes().iter().filter(|b| matches!(b, 0x20..=0x7E)).count();
        (blank, text)
    };
    let (statistics, plain) = race(RUNS, || look.over(|_| true), plain);
    page.row(
        "statistics: blank, text and other bytes",
        len,
        statistics,
        "a plain loop for each",
        Some(plain),
    );

    let crc = by_name("CRC-32/ISO-HDLC").unwrap();
    let direct = Crc::<u32, Table<16>>::new(&crc::CRC_32_ISO_HDLC);
    let (ours, theirs) = race(RUNS, || crc.compute([bytes]), || direct.checksum(bytes));
    page.row("check: CRC-32/ISO-HDLC", len, ours, "the crc crate called directly", Some(theirs));
    let crc = by_name("CRC-16/XMODEM").unwrap();
    let direct = Crc::<u16, Table<16>>::new(&crc::CRC_16_XMODEM);
    let (ours, theirs) = race(RUNS, || crc.compute([bytes]), || direct.checksum(bytes));
    page.row("check: CRC-16/XMODEM", len, ours, "the crc crate called directly", Some(theirs));
    let sum = by_name("SUM-8").unwrap();
    let (ours, theirs) =
        race(RUNS, || sum.compute([bytes]), || bytes.iter().fold(0_u8, |sum, b| sum.wrapping_add(*b)));
    page.row("check: SUM-8", len, ours, "a plain loop", Some(theirs));
    let sum = by_name("SUM-16/16BE").unwrap();
    let words = || bytes.chunks_exact(2).map(|w| u16::from_be_bytes([w[0], w[1]]));
    let (ours, theirs) = race(RUNS, || sum.compute([bytes]), || words().fold(0_u16, u16::wrapping_add));
    page.row("check: SUM-16/16BE", len, ours, "a plain loop", Some(theirs));

    // However it is stored, near misses included: more than twenty readings of the image.
    let part = Image::raw(bytes.get(..len.min(16 << 20)).unwrap_or_default().to_vec());
    let ours = shortest(1, || find::find(&part, NEEDLE));
    let theirs = shortest(1, || naive_find(part.bytes()));
    page.row(
        "find: a part number however stored",
        part.len(),
        ours,
        "plain loops over 22 readings",
        Some(theirs),
    );
}

/// The same readings that `find` makes of an image, each looked through by a plain loop for the text alone.
fn naive_find(bytes: &[u8]) -> usize {
    let wanted = NEEDLE.as_bytes();
    let count =
        |symbols: &[u8]| symbols.windows(wanted.len()).filter(|w| w.eq_ignore_ascii_case(wanted)).count();
    let mut found = 0;
    for change in [|b: u8| b, |b: u8| !b, u8::reverse_bits, |b: u8| b.rotate_left(4), |b: u8| b & 0x7F] {
        found += count(&bytes.iter().map(|&b| change(b)).collect::<Vec<u8>>());
    }
    let swapped: Vec<u8> = bytes.chunks_exact(2).flat_map(|w| [w[1], w[0]]).collect();
    found += count(&swapped);
    for from in [0, 1] {
        found += count(&bytes.iter().skip(from).step_by(2).copied().collect::<Vec<u8>>());
    }
    found += count(&bytes.iter().rev().copied().collect::<Vec<u8>>());
    for phase in 0..12 {
        let code = |i: usize| {
            let at = i * 6 + phase % 6;
            let word = u16::from(bytes[at / 8]) << 8 | u16::from(*bytes.get(at / 8 + 1).unwrap_or(&0));
            ((word >> (10 - at % 8)) & 63) as u8 + b' '
        };
        found += count(&(0..bytes.len() * 8 / 6 - 1).map(code).collect::<Vec<u8>>());
    }
    found
}

/// MiB of the files: 1024, or less where that is asked for or memory is short.
fn mib() -> usize {
    let asked = std::env::var("READPROOF_BENCH_MIB").ok().and_then(|mib| mib.parse().ok());
    let told = fs::read_to_string("/proc/meminfo").unwrap_or_default();
    let free = told.lines().find_map(|line| {
        line.strip_prefix("MemAvailable:")?.trim().strip_suffix(" kB")?.parse::<usize>().ok()
    });
    // Both files and what is computed in memory.
    asked.unwrap_or(1024).min(free.map_or(usize::MAX, |kib| kib / 1024 / 4)).max(1)
}

fn main() {
    let mib = mib();
    let bytes = support::noise((mib << 20).min(256 << 20), 2);
    let mut target = vec![0; bytes.len()];
    let copy = || target.copy_from_slice(std::hint::black_box(&bytes));
    let read = || bytes.as_chunks().0.iter().fold(0, |sum: u64, eight| sum ^ u64::from_ne_bytes(*eight));
    let (copy, read) = race(RUNS, copy, read);
    let rate = |time: Duration| bytes.len() as f64 / time.as_secs_f64();
    let mut page = Page { copy: rate(copy), missing: Vec::new() };
    drop(target);
    println!(
        "The limit of this machine: a copy in memory goes at {:.2} GB/s, reading on one core at {:.2} GB/s; per cent \
         are of the copy.",
        rate(copy) / 1e9,
        rate(read) / 1e9
    );
    println!(
        "{:<46} {:>12} {:>11} {:>6}  {:<32} {:>12} {:>6}",
        "", "ours", "", "", "against", "theirs", "ratio"
    );
    in_memory(&mut page, &bytes);
    drop(bytes);
    match files(mib) {
        Some((folder, [a, b])) => {
            on_files(&mut page, [&a, &b], mib << 20);
            let removed = [a, b].iter().try_for_each(fs::remove_file);
            removed.unwrap();
            on_text(&mut page, &folder);
            let images = std::env::var("READPROOF_BENCH_IMAGES").ok().and_then(|n| n.parse().ok());
            on_many(&mut page, &folder, images.unwrap_or(10_000));
            let _ = fs::remove_dir_all(folder);
        }
        None => println!("No place for two files of {mib} MiB; nothing was measured on files."),
    }
    for tool in page.missing {
        println!("{tool} is not on this machine.");
    }
}
