//! The bench page: one table of ratios, measured in one run, against what a user would otherwise use for the same step,
//! and against the machine's own limit, the bandwidth of a memory copy.
//!
//! `cargo bench --bench page`. Aim: no ratio over 1.0, and equality and byte statistics at over 60 % of a copy. Tools that
//! are not there are said in a line. `READPROOF_BENCH_MIB` makes the files smaller than 1024 MiB.

// A bench talks to whoever runs it, and stops when it cannot.
#![allow(clippy::print_stdout, clippy::unwrap_used)]

mod support;

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
use support::shortest;

const RUNS: usize = 3;

/// What stands near the end of the files.
const NEEDLE: &str = "FK-CR8-2047B";

/// The table, and what its rows are measured against.
struct Page {
    /// Bytes per second of a copy in memory.
    copy: f64,
    missing: Vec<&'static str>,
}

impl Page {
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
            "{what:<46} {:>9.1} ms {:>6.2} GB/s {:>4.0} %  {other:<30} {theirs} {ratio}",
            ours.as_secs_f64() * 1e3,
            rate / 1e9,
            100.0 * rate / self.copy,
        );
    }
}

/// The shortest time of a program that succeeds; `None` when it cannot be run.
fn program(program: &str, words: &[&Path], options: &[&str]) -> Option<Duration> {
    let run = || {
        let mut command = Command::new(program);
        command.args(options).args(words).stdout(Stdio::null()).stderr(Stdio::null());
        command.status().ok().filter(std::process::ExitStatus::success)
    };
    run()?;
    Some(shortest(RUNS, run))
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
    let ours = env!("CARGO_BIN_EXE_readproof");
    let cmp = program("cmp", &[a, b], &[]);
    let compare = program(ours, &[a, b], &["compare", "--layout", "none"]);
    page.row("equality: readproof compare", bytes, compare.unwrap(), "cmp", cmp);
    let core = shortest(RUNS, || assert!(Differences::between(&open(a), &open(b)).is_empty()));
    page.row("equality: its core, opening included", bytes, core, "cmp", cmp);

    let grep = program("grep", &[a], &["-c", "-a", "-F", NEEDLE]);
    let typed = format!("0x{}", NEEDLE.bytes().map(|b| format!("{b:02X}")).collect::<String>());
    let found = shortest(RUNS, || assert_eq!(places(&open(a), &typed, &|_| true).unwrap().len(), 1));
    page.row("find: bytes, opening included", bytes, found, "grep -c -a -F", grep);

    let digest = shortest(RUNS, || store::open(a, &mut std::io::empty()).unwrap().sha256().unwrap());
    page.row(
        "digest: SHA-256, opening included",
        bytes,
        digest,
        "sha256sum",
        program("sha256sum", &[a], &[]),
    );
    let cksum = by_name("CRC-32/CKSUM").unwrap();
    let sum = shortest(RUNS, || cksum.compute([open(a).bytes()]));
    page.row("digest: CRC-32/CKSUM, opening included", bytes, sum, "cksum", program("cksum", &[a], &[]));
}

/// The core on bytes in memory, against plain loops and against the crate that does the work called directly.
fn in_memory(page: &mut Page, bytes: &[u8]) {
    let len = bytes.len();
    let (one, two) = (Image::raw(bytes.to_vec()), Image::raw(bytes.to_vec()));
    let equal = shortest(RUNS, || Differences::between(&one, &two));
    let plain = shortest(RUNS, || one.bytes() == two.bytes());
    page.row("equality: in memory", len, equal, "comparing the slices", Some(plain));

    let look = Skyline::of(&one).look(&one).unwrap();
    let statistics = shortest(RUNS, || look.over(|_| true));
    let plain = shortest(RUNS, || {
        let blank = one.bytes().iter().filter(|b| matches!(b, 0x00 | 0xFF)).count();
        let text = one.bytes().iter().filter(|b| matches!(b, 0x20..=0x7E)).count();
        (blank, text)
    });
    page.row(
        "statistics: blank, text and other bytes",
        len,
        statistics,
        "a plain loop for each",
        Some(plain),
    );

    let crc = by_name("CRC-32/ISO-HDLC").unwrap();
    let direct = Crc::<u32, Table<16>>::new(&crc::CRC_32_ISO_HDLC);
    let ours = shortest(RUNS, || crc.compute([bytes]));
    let theirs = shortest(RUNS, || direct.checksum(bytes));
    page.row("check: CRC-32/ISO-HDLC", len, ours, "the crc crate called directly", Some(theirs));
    let crc = by_name("CRC-16/XMODEM").unwrap();
    let direct = Crc::<u16, Table<16>>::new(&crc::CRC_16_XMODEM);
    let ours = shortest(RUNS, || crc.compute([bytes]));
    let theirs = shortest(RUNS, || direct.checksum(bytes));
    page.row("check: CRC-16/XMODEM", len, ours, "the crc crate called directly", Some(theirs));
    let sum = by_name("SUM-8").unwrap();
    let ours = shortest(RUNS, || sum.compute([bytes]));
    let theirs = shortest(RUNS, || bytes.iter().fold(0_u8, |sum, b| sum.wrapping_add(*b)));
    page.row("check: SUM-8", len, ours, "a plain loop", Some(theirs));
    let sum = by_name("SUM-16/16BE").unwrap();
    let ours = shortest(RUNS, || sum.compute([bytes]));
    let words = || bytes.chunks_exact(2).map(|w| u16::from_be_bytes([w[0], w[1]]));
    let theirs = shortest(RUNS, || words().fold(0_u16, u16::wrapping_add));
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

fn main() {
    let mib = std::env::var("READPROOF_BENCH_MIB").ok().and_then(|m| m.parse().ok()).unwrap_or(1024);
    let bytes = support::noise((mib << 20).min(256 << 20), 2);
    let mut target = vec![0; bytes.len()];
    let copy = shortest(5, || target.copy_from_slice(std::hint::black_box(&bytes)));
    let mut page = Page { copy: bytes.len() as f64 / copy.as_secs_f64(), missing: Vec::new() };
    drop(target);
    println!("A copy in memory goes at {:.2} GB/s; per cent are of that.", page.copy / 1e9);
    println!(
        "{:<46} {:>12} {:>11} {:>6}  {:<30} {:>12} {:>6}",
        "", "ours", "", "", "against", "theirs", "ratio"
    );
    in_memory(&mut page, &bytes);
    match files(mib) {
        Some((folder, [a, b])) => {
            on_files(&mut page, [&a, &b], mib << 20);
            let _ = fs::remove_dir_all(folder);
        }
        None => println!("No place for two files of {mib} MiB; nothing was measured on files."),
    }
    for tool in page.missing {
        println!("{tool} is not on this machine.");
    }
}
