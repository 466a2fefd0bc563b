//! The editor's own work: to the first frame, and from a key to its frame, as ratios to a frame that shows nothing
//! and to a start of the program that does nothing.
//!
//! `cargo bench --bench editor`. Targets: first frame of an 8 KiB image under 20 ms after the start; a key to a
//! drawn frame at 140 columns by 45 rows, and at 200 by 60 where every pane has its place, under 2 ms.

#![allow(clippy::print_stdout, clippy::unwrap_used)] // a bench prints what it measured, and stops when it cannot

use std::hint::black_box;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use portable_pty::{CommandBuilder, PtySize, native_pty_system};
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use readproof::image::{Format, Image};
use readproof::layout;
use readproof::tui::annotate::{InForce, Kept};
use readproof::tui::app::App;
use readproof::tui::player::Player;
use readproof::tui::script::script;
use readproof::tui::sheet::Sheet;
use readproof::tui::theme::Look;

/// Columns and rows.
const SIZES: [(u16, u16); 2] = [(140, 45), (200, 60)];

/// The middle of many times of one call.
fn median(mut call: impl FnMut()) -> Duration {
    let mut times: Vec<Duration> = (0..200)
        .map(|_| {
            let start = Instant::now();
            call();
            start.elapsed()
        })
        .collect();
    times.sort();
    times[times.len() / 2]
}

fn sample() -> Vec<u8> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples/unit7-read1.bin");
    std::fs::read(path).unwrap()
}

fn open(bytes: &[u8], size: (u16, u16)) -> Player {
    let mut sheet = Sheet::new(PathBuf::from("unit.bin"), Image::raw(bytes.to_vec()), Format::Raw);
    let text = layout::SHIPPED.iter().find(|(name, _)| name.starts_with("frostkeel")).unwrap().1;
    sheet.follow(InForce::of_text("frostkeel-cr8".into(), Kept::Shipped, text).unwrap());
    sheet.locked = false;
    Player::new(App::new(sheet, vec![], size, Look::default()))
}

fn told(what: &str, time: Duration, baseline: Duration, target_ms: f64) {
    let ms = time.as_secs_f64() * 1e3;
    let ratio = time.as_secs_f64() / baseline.as_secs_f64();
    let verdict = if ms < target_ms { "met" } else { "MISSED" };
    println!("{what:<52} {ms:>8.3} ms {ratio:>8.1} x   target {target_ms} ms: {verdict}");
}

/// From the start of the program in a terminal to the end of its first frame.
fn start_to_first_frame() -> Duration {
    let pair = native_pty_system().openpty(PtySize { rows: 45, cols: 140, ..PtySize::default() }).unwrap();
    let mut command = CommandBuilder::new(env!("CARGO_BIN_EXE_readproof"));
    command.args(["samples/unit7-read1.bin"]);
    command.cwd(env!("CARGO_MANIFEST_DIR"));
    command.env("TERM", "xterm-256color");
    let mut reader = pair.master.try_clone_reader().unwrap();
    let start = Instant::now();
    let mut child = pair.slave.spawn_command(command).unwrap();
    drop(pair.slave);
    let (mut seen, mut buffer): (Vec<u8>, _) = (Vec::new(), [0u8; 65536]);
    // The end of the first synchronized update.
    while !seen.windows(8).any(|w| w == b"\x1b[?2026l") {
        let n = reader.read(&mut buffer).unwrap();
        seen.extend(&buffer[..n]);
    }
    let time = start.elapsed();
    child.kill().unwrap();
    child.wait().unwrap();
    time
}

fn start_to_nothing() -> Duration {
    let start = Instant::now();
    let output =
        std::process::Command::new(env!("CARGO_BIN_EXE_readproof")).arg("--version").output().unwrap();
    black_box(output);
    start.elapsed()
}

fn middle(mut times: Vec<Duration>) -> Duration {
    times.sort();
    times[times.len() / 2]
}

fn main() {
    let nothing = middle((0..15).map(|_| start_to_nothing()).collect());
    println!("baseline: a start that only tells the version      {:>8.3} ms", nothing.as_secs_f64() * 1e3);
    let first = middle((0..15).map(|_| start_to_first_frame()).collect());
    told("start to first frame, 8 KiB with its layout", first, nothing, 20.0);

    let bytes = sample();
    let large: Vec<u8> = bytes.iter().copied().cycle().take(4 << 20).collect();
    for size in SIZES {
        let (columns, rows) = size;
        let mut blank = Terminal::new(TestBackend::new(columns, rows)).unwrap();
        let baseline = median(|| {
            black_box(blank.draw(|_| {}).unwrap());
        });
        let ms = baseline.as_secs_f64() * 1e3;
        println!("baseline: a frame of {columns}x{rows} that shows nothing        {ms:>8.3} ms");
        let first = median(|| {
            black_box(open(&bytes, size).draw_at_once());
        });
        told("bytes to first frame, 8 KiB with its layout", first, baseline, 20.0);
        for (what, bytes) in [("8 KiB", &bytes), ("4 MiB", &large)] {
            for (doing, keys) in [("move", "Down"), ("page", "PgDn"), ("type", "5"), ("undo", "Ctrl-Z")] {
                let inputs = script(keys).unwrap();
                let mut player = open(bytes, size);
                player.play("\"77665544332211\" Ctrl-Home").unwrap();
                player.draw();
                let time = median(|| {
                    inputs.iter().for_each(|input| player.input(input.clone()));
                    black_box(player.draw_at_once());
                });
                told(&format!("key to frame at {columns}x{rows}: {doing}, {what}"), time, baseline, 2.0);
            }
        }
    }
}
