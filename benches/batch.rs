//! Many images in one run, as ratios to reading all the files once and to a process for each file.
//!
//! 10,000 images of 8 KiB are made from the samples with a fixed seed, in a temporary folder. The targets: `nearest`
//! below a second where all files are in the cache of the system, every core at work, and memory that is the same
//! for 1,000 and for 10,000 images. `cargo bench --bench batch -- 2000` makes fewer.

#![allow(clippy::print_stdout)] // a bench prints what it measured

mod support;

use std::fs;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};

const PROGRAM: &str = env!("CARGO_BIN_EXE_readproof");

/// Files that are done by a process each; the time of all is worked out from these.
const ALONE: usize = 100;

/// What one run took.
#[derive(Default)]
struct Taken {
    wall: Duration,
    /// Seconds of processor time, all cores together, where the system tells.
    cpu: Option<f64>,
    /// The most memory in KiB, where the system tells.
    peak: Option<u64>,
}

/// Runs the program, its output thrown away, and looks at it while it runs.
fn run(words: &[&str]) -> std::io::Result<Taken> {
    let began = Instant::now();
    let mut command = Command::new(PROGRAM);
    let mut child =
        command.args(words).stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null()).spawn()?;
    let mut taken = Taken::default();
    while child.try_wait()?.is_none() {
        look_at(&child, &mut taken);
        thread::sleep(Duration::from_millis(2));
    }
    taken.wall = began.elapsed();
    Ok(taken)
}

/// Linux tells both in files; the last look before the end is nearly all.
fn look_at(child: &Child, taken: &mut Taken) {
    let of = |name: &str| fs::read_to_string(format!("/proc/{}/{name}", child.id())).unwrap_or_default();
    let peak =
        of("status").lines().find_map(|l| l.strip_prefix("VmHWM:")?.trim().strip_suffix(" kB")?.parse().ok());
    taken.peak = peak.or(taken.peak);
    let stat = of("stat");
    let ticks = stat
        .rsplit(')')
        .next()
        .map(|rest| rest.split_whitespace().skip(11).take(2).filter_map(|t| t.parse::<f64>().ok()));
    let ticks: Vec<f64> = ticks.into_iter().flatten().collect();
    if let [user, system] = ticks[..] {
        taken.cpu = Some((user + system) / 100.0);
    }
}

fn main() -> std::io::Result<()> {
    let images = std::env::args().skip(1).find_map(|a| a.parse().ok()).unwrap_or(10_000);
    let package = Path::new(env!("CARGO_MANIFEST_DIR"));
    let folder = tempfile::tempdir()?;
    let (all, tenth, edids) =
        (folder.path().join("all"), folder.path().join("tenth"), folder.path().join("edids"));
    let paths = support::images(&all, images)?;
    support::images(&tenth, images / 10)?;
    fs::create_dir_all(&edids)?;
    for number in 0..images {
        fs::write(edids.join(format!("{number:05}.bin")), edid())?;
    }
    let read_all = || -> std::io::Result<Duration> {
        let began = Instant::now();
        for path in &paths {
            std::hint::black_box(fs::read(path)?);
        }
        Ok(began.elapsed())
    };
    read_all()?;
    let reading = read_all()?.min(read_all()?);
    println!("{images} images of 8 KiB; reading them all once: {reading:.2?}");
    println!(
        "{:<34} {:>9} {:>10} {:>12} {:>6} {:>10} {:>10}",
        "", "time", "/ reading", "/ a process", "cores", "peak KiB", "of a tenth"
    );
    let read = package.join("samples/unit7-read3-poor.bin");
    let text = |path: &Path| path.to_string_lossy().into_owned();
    let (all, tenth, edids, read) = (text(&all), text(&tenth), text(&edids), text(&read));
    let rows: [(&str, Vec<&str>, Vec<&str>); 7] = [
        ("nearest", vec!["nearest", &read, "IT"], vec![]),
        ("vet", vec!["vet", "IT"], vec![]),
        ("vet --json", vec!["vet", "IT", "--json"], vec!["--each"]),
        ("find FK-CR8-2047B", vec!["find", "IT", "FK-CR8-2047B"], vec![]),
        ("show --json", vec!["show", "IT", "--json"], vec![]),
        ("survey --json", vec!["survey", "IT", "--json"], vec![]),
        ("show --json of 256-byte images", vec!["show", "EDID", "--json"], vec![]),
    ];
    for (name, words, more) in rows {
        let on = |it: &str| -> Vec<String> {
            let place = |w: &&str| match *w {
                "IT" => it.to_owned(),
                "EDID" if it.ends_with(".bin") => format!("{edids}/00000.bin"),
                "EDID" => edids.clone(),
                word => word.to_owned(),
            };
            words.iter().map(place).chain(more.iter().map(|w| (*w).to_owned())).collect()
        };
        let run_on = |it: &str| run(&on(it).iter().map(String::as_str).collect::<Vec<_>>());
        let (few, many) = (run_on(&tenth)?, run_on(&all)?);
        let alone: Duration = paths
            .iter()
            .step_by((images / ALONE).max(1))
            .take(ALONE)
            .map(|path| run_on(&text(path)).map(|taken| taken.wall))
            .sum::<Result<_, _>>()?;
        let alone = alone.as_secs_f64() / ALONE.min(images) as f64 * images as f64;
        let told = |value: Option<String>| value.unwrap_or_else(|| "-".to_owned());
        println!(
            "{name:<34} {:>9.2?} {:>10.1} {:>12.3} {:>6} {:>10} {:>10}",
            many.wall,
            many.wall.as_secs_f64() / reading.as_secs_f64(),
            many.wall.as_secs_f64() / alone,
            told(many.cpu.map(|cpu| format!("{:.1}", cpu / many.wall.as_secs_f64()))),
            told(many.peak.map(|peak| peak.to_string())),
            told(few.peak.map(|peak| peak.to_string())),
        );
    }
    Ok(())
}

/// A display's identification of two blocks: the header, a made-up maker, zeros and the sums.
fn edid() -> Vec<u8> {
    let mut bytes = vec![0; 256];
    bytes[..8].copy_from_slice(&[0, 255, 255, 255, 255, 255, 255, 0]);
    (bytes[8], bytes[9], bytes[18], bytes[19], bytes[126], bytes[128], bytes[129]) =
        (0x19, 0x6C, 1, 4, 1, 2, 3);
    for block in bytes.chunks_mut(128) {
        block[127] = block.iter().fold(0_u8, |sum, byte| sum.wrapping_sub(*byte));
    }
    bytes
}
