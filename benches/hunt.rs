//! How long the hunt takes, how much less than trying every range, and whether chance gives what it is said to.
//! Targets on 2 cores: three images of 8 KiB, free placement, under 2 s; one of 8 KiB under 100 ms; one of 64 KiB
//! under 2 s; at 2 KiB at least 1000 times faster than trying every range.

// A bench talks to whoever runs it.
#![allow(clippy::print_stdout, clippy::unwrap_used)]

mod support;
#[path = "../tests/suite/unsealed.rs"]
mod unsealed;

use std::path::Path;
use std::sync::atomic::AtomicBool;
use std::time::{Duration, Instant};

use readproof::check::{Algorithm, by_name, catalogue};
use readproof::hunt::{Answer, LIMIT, Question, hunt};
use readproof::image::Image;
use support::{ratio, shortest};
use unsealed::Numbers;

fn ask(images: &[Image]) -> Answer {
    let question = Question { images: images.iter().collect(), bounds: Vec::new(), limit: LIMIT };
    hunt(&question, &|_| {}, &AtomicBool::new(false))
}

/// Time that the processor has spent on this program so far, all threads together, where the system tells: the
/// clock on the wall counts what else the machine does.
fn processor() -> Option<Duration> {
    let stat = std::fs::read_to_string("/proc/self/stat").ok()?;
    let mut fields = stat.rsplit(')').next()?.split_whitespace();
    let (user, system): (u64, u64) = (fields.nth(11)?.parse().ok()?, fields.next()?.parse().ok()?);
    Some(Duration::from_millis(10 * (user + system)))
}

/// The shortest time of some runs, and what one run costs on each of two cores.
struct Cost {
    shortest: Duration,
    per_core: Option<Duration>,
}

fn cost(runs: u32, work: impl FnMut() -> Answer) -> Cost {
    let before = processor();
    // One more run warms up.
    let shortest = shortest(runs as usize, work);
    let per_core = processor().zip(before).map(|(now, before)| (now - before) / (2 * (runs + 1)));
    Cost { shortest, per_core }
}

fn noise(seed: u64, len: usize) -> Vec<u8> {
    let mut numbers = Numbers::new(seed);
    (0..len).map(|_| numbers.next() as u8).collect()
}

/// Images with one check over a quarter of them, the rest noise.
fn sealed(len: usize, count: u64) -> Vec<Vec<u8>> {
    let algorithm = by_name("CRC-16/XMODEM").unwrap();
    (1..=count)
        .map(|seed| {
            let mut bytes = noise(seed, len);
            let crc = algorithm.compute([&bytes[5..len / 4]]) as u16;
            bytes[len / 2 + 3..len / 2 + 5].copy_from_slice(&crc.to_le_bytes());
            bytes
        })
        .collect()
}

/// What trying every range costs for one algorithm over `images`: every start, every end, the computation carried
/// on from end to end, every place compared in both byte orders. Tells how many hits there were, so that nothing is
/// optimised away.
fn every_range(images: &[Vec<u8>], by: &Algorithm) -> usize {
    let (len, bytes) = (images[0].len(), by.bytes());
    let number = |image: &[u8], at: usize, little: bool| {
        let join = |number: u64, byte: &u8| number << 8 | u64::from(*byte);
        match little {
            true => image[at..at + bytes].iter().rev().fold(0, join),
            false => image[at..at + bytes].iter().fold(0, join),
        }
    };
    let stored: Vec<[Vec<u64>; 2]> = images
        .iter()
        .map(|image| {
            [false, true].map(|little| (0..=len - bytes).map(|at| number(image, at, little)).collect())
        })
        .collect();
    let mut hits = 0;
    for start in 0..len {
        let mut running = vec![by.start(); images.len()];
        for end in start..len {
            let mut values = Vec::new();
            for (running, image) in running.iter_mut().zip(images) {
                running.update(&image[end..=end]);
                values.push(running.clone().finish() as u64);
            }
            for order in 0..2 {
                // Most places end with the first image; its loop is one that the compiler makes quick.
                let first = &stored[0][order];
                if first.iter().fold(false, |any, &stored| any | (stored == values[0])) {
                    let all =
                        |at: usize| (0..images.len()).all(|image| stored[image][order][at] == values[image]);
                    hits += (0..first.len()).filter(|&at| all(at)).count();
                }
            }
        }
    }
    hits
}

fn speed() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples");
    let read = |name: &&str| Image::raw(std::fs::read(folder.join(name)).unwrap());
    let three: Vec<Image> = ["unit7-read1.bin", "unit9.bin", "unit12.bin"].iter().map(read).collect();
    let tell = |what: &str, runs: u32, target: f64, images: &[Image]| {
        let answer = ask(images);
        let cost = cost(runs, || ask(images));
        let first: Vec<String> =
            answer.hits.iter().take(3).map(|hit| format!("{} {}", hit.way.by, hit.way.over)).collect();
        println!(
            "{what}: {:.0?} at best, {:.0?} of each core, {:.2} of the target; {} hits: {}",
            cost.shortest,
            cost.per_core.unwrap_or_default(),
            cost.per_core.unwrap_or(cost.shortest).as_secs_f64() / target,
            answer.hits.len(),
            first.join(", ")
        );
    };
    tell("three samples of 8 KiB, free", 2, 2.0, &three);
    tell("one sample of 8 KiB", 20, 0.1, &three[..1]);
    tell("one image of 8 KiB of noise", 10, 0.1, &[Image::raw(noise(5, 8192))]);
    tell("one image of 64 KiB of noise", 2, 2.0, &[Image::raw(noise(7, 65_536))]);
}

fn against_every_range() {
    println!("\nagainst trying every range, three images of noise with one check:");
    let mut before: Option<(Duration, Duration)> = None;
    for len in [64, 128, 256, 512, 1024, 2048] {
        let bytes = sealed(len, 3);
        let images: Vec<Image> = bytes.iter().cloned().map(Image::raw).collect();
        let ours = cost(2, || ask(&images));
        let ours = ours.per_core.filter(|time| time.as_millis() > 100).unwrap_or(ours.shortest);
        // Up to here the whole catalogue; beyond, one algorithm of each width times how many there are.
        let whole = len <= 128;
        let mut every = Duration::ZERO;
        for (width, count) in widths() {
            let mut of_width =
                catalogue().iter().map(|listed| &listed.algorithm).filter(|by| by.bits() == width);
            let tried: Vec<&Algorithm> = of_width.by_ref().take(if whole { usize::MAX } else { 1 }).collect();
            let began = (Instant::now(), processor());
            tried.iter().for_each(|by| {
                std::hint::black_box(every_range(&bytes, by));
            });
            let spent = processor().zip(began.1).map(|(now, before)| now - before);
            let spent = spent.filter(|time| time.as_millis() > 200).unwrap_or(began.0.elapsed());
            every += spent * count / tried.len() as u32;
        }
        // Shared between both cores, as ours is.
        let every = every / 2;
        let growth = before.map_or(String::new(), |(a, b)| {
            format!(
                "; doubled, ours takes {:.1} and every range {:.1} times as long",
                ratio(ours, a),
                ratio(every, b)
            )
        });
        println!(
            "{len:>5} bytes: ours {ours:.1?}, every range {every:.1?}, {:.0} times{growth}",
            ratio(every, ours)
        );
        before = Some((ours, every));
    }
}

/// How many algorithms of each width the hunt tries in three images of 2 KiB: those of which chance does not give
/// more hits than it is asked for.
fn widths() -> Vec<(u32, u32)> {
    let mut widths: Vec<(u32, u32)> = Vec::new();
    for by in catalogue().iter().map(|listed| &listed.algorithm).filter(|by| (16..=64).contains(&by.bits())) {
        match widths.iter_mut().find(|(width, _)| *width == by.bits()) {
            Some((_, count)) => *count += 1,
            None => widths.push((by.bits(), 1)),
        }
    }
    widths
}

/// Where no check holds, how many hits there are against how many chance is said to give.
fn chance() {
    const SETS: u64 = 200;
    const LEN: usize = 256;
    println!("\nwhat chance gives where no check holds, {LEN} bytes:");
    let mut groups: Vec<(String, Vec<Vec<Vec<u8>>>)> = (1..=3)
        .map(|count| {
            let sets = (1..=SETS).map(|seed| unsealed::generated(seed, LEN, count)).collect();
            (format!("generated, {count} images"), sets)
        })
        .collect();
    let corpus = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/corpus");
    if corpus.is_dir() {
        let kinds = unsealed::kinds(&corpus);
        groups.extend((1..=3).map(|count| {
            let set = |seed: u64| {
                let (images, stored) = &kinds[seed as usize % kinds.len()];
                unsealed::shuffled(&images[..count], LEN / 2, stored, seed)
            };
            (format!("published, out of order, {count} images"), (0..SETS).map(set).collect())
        }));
    }
    for (name, sets) in groups {
        let hits: Vec<(f64, String)> = sets
            .iter()
            .enumerate()
            .flat_map(|(number, set)| {
                let images: Vec<Image> = set.iter().cloned().map(Image::raw).collect();
                ask(&images).hits.into_iter().map(move |hit| {
                    let place = hit.way.stored_at.start;
                    (
                        hit.expected,
                        format!(
                            "{:.0e} {} {} at {place:#x} in {number}",
                            hit.expected, hit.way.by, hit.way.over
                        ),
                    )
                })
            })
            .collect();
        let below = |limit: f64| hits.iter().filter(|(expected, _)| *expected <= limit).count();
        let told: Vec<String> = [1.0, 0.1, 0.01, 0.001]
            .map(|limit| format!("below {limit}: {} ({:.1})", below(limit), limit * sets.len() as f64))
            .into();
        println!("{name}: {}", told.join(", "));
        let mut worst: Vec<&(f64, String)> = hits.iter().filter(|(expected, _)| *expected < 0.002).collect();
        worst.sort_by(|a, b| a.0.total_cmp(&b.0));
        worst.iter().take(8).for_each(|(_, told)| println!("    {told}"));
    }
}

/// All parts, or those that are named: `cargo bench --bench hunt -- speed`.
fn main() {
    let named: Vec<String> = std::env::args().skip(1).filter(|word| !word.starts_with('-')).collect();
    let parts: [(&str, fn()); 3] = [("speed", speed), ("chance", chance), ("growth", against_every_range)];
    let is_wanted = |name: &str| named.is_empty() || named.iter().any(|word| word == name);
    parts.iter().filter(|(name, _)| is_wanted(name)).for_each(|(_, part)| part());
}
