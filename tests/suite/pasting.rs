//! Commands that reports propose can be pasted into a shell as they stand, whatever the files are called.

#![cfg(unix)]

use std::ffi::{OsStr, OsString};
use std::os::unix::ffi::{OsStrExt as _, OsStringExt as _};
use std::path::Path;
use std::process::{Command, Stdio};

use crate::support::{Place, Run};

/// Names that a shell, a terminal or this program could take for something else.
const NAMES: &[&[u8]] = &[
    b"new\nline  1\x1b[2J \xff7`it's` $HOME\\n",
    b" before  and after ",
    b"it's \"quoted\" \\.bin",
    b"--json",
    b"$HOME `id` *#~!(a);b&c|d<e>f.bin",
    "K\u{fc}hlraum \u{202e}nib\t.".as_bytes(),
];

/// What a run proposes: after `next`, alone on a line, or between backticks.
fn proposed(run: &Run) -> Vec<String> {
    let mut commands = Vec::new();
    for line in run.out().lines().chain(run.err().lines()) {
        let alone = line.strip_prefix("next ").unwrap_or(line).trim_start();
        if alone.starts_with("readproof ") {
            commands.push(alone.to_owned());
        }
        let mut parts = line.split('`');
        while let (Some(_), Some(inside)) = (parts.next(), parts.next()) {
            if inside.starts_with("readproof ") && !inside.ends_with("--help") {
                commands.push(inside.to_owned());
            }
        }
    }
    commands
}

/// Runs a line as typed into `shell`; returns status, output and errors.
fn typed(place: &Place, shell: &str, line: &str) -> (i32, String) {
    let program = Path::new(env!("CARGO_BIN_EXE_readproof")).parent().unwrap();
    let path = format!("{}:{}", program.display(), std::env::var("PATH").unwrap_or_default());
    let mut command = Command::new(shell);
    command.arg("-c").arg(line).current_dir(place.root()).env("PATH", path).env("HOME", place.root());
    let done = command.stdin(Stdio::null()).output().unwrap();
    let told = [done.stdout, done.stderr].concat();
    (done.status.code().unwrap_or(-1), String::from_utf8_lossy(&told).into_owned())
}

fn has(shell: &str) -> bool {
    Command::new(shell).args(["-c", ":"]).status().is_ok()
}

#[test]
fn every_proposed_command_runs_as_printed_whatever_the_files_are_called() {
    if !has("bash") {
        println!("skipped: there is no bash here");
        return;
    }
    for name in NAMES {
        let place = Place::with_samples();
        let file = OsStr::from_bytes(name);
        // A leading `-` would be an option, as for every command.
        let given = if name.starts_with(b"-") { Path::new(".").join(file) } else { file.into() };
        let given = given.into_os_string();
        let beside = |ending: &str| OsString::from_vec([given.as_bytes(), ending.as_bytes()].concat());
        std::fs::write(place.root().join(file), place.bytes("samples/unit7-read1.bin")).unwrap();
        std::fs::write(place.root().join(beside("~2")), place.bytes("samples/unit7-read1.bin")).unwrap();
        std::fs::write(place.root().join(beside("~3")), place.bytes("samples/unit7-read3-poor.bin")).unwrap();
        std::fs::write(place.root().join(beside("~.ron")), "(layout: \"x\", fields: [(name: 1)])").unwrap();
        std::fs::write(
            place.root().join(beside("~small")),
            &place.bytes("samples/unit7-read1.bin")[0x40..0x80],
        )
        .unwrap();
        let word = |text: &str| OsString::from(text);
        let uses: Vec<Vec<OsString>> = vec![
            vec![word("vet"), given.clone()],
            vec![word("vet"), given.clone(), beside("~2")],
            vec![word("vet"), given.clone(), beside("~2"), beside("~3")],
            vec![word("vet"), beside("~3"), word("--must-equal"), given.clone()],
            vec![
                word("amend"),
                given.clone(),
                word("-o"),
                beside("~new"),
                word("--set"),
                word("setpoint=3.5"),
                word("--reseal"),
            ],
            vec![word("audit"), given.clone(), beside("~new")],
            vec![word("survey"), beside("~small"), word("--draft"), beside("~draft.ron")],
            vec![word("nearest"), beside("~3"), given.clone()],
            vec![word("show"), given.clone()],
            vec![word("layouts"), word("--layouts"), word(".")],
            vec![word("samples"), beside("~samples")],
        ];
        // Everything with the oddest name, what is quickest with the others.
        let most = if name == &NAMES[0] { uses.len() } else { 2 };
        let mut tried = 0;
        for words in uses.into_iter().take(most) {
            let run = place.run(words);
            assert!(!run.out().chars().any(|c| c.is_control() && c != '\n'), "{run}");
            for command in proposed(&run) {
                let line = ["READBACK", "READ2", "IMAGE"]
                    .iter()
                    .fold(command.clone(), |line, word| line.replace(word, "samples/unit7-read2.bin"));
                let line =
                    line.replace("--majority OUT", "--majority most.bin").replace("OUT.ron", "first.ron");
                // The editor needs a terminal; that it finds the file is told by what it says of the terminal.
                let (status, told) = typed(&place, "bash", &line);
                let opened = told.contains("terminal");
                assert!(
                    (status == 0 || status == 1 || opened) && !told.contains("no such file"),
                    "{line}\n{status}\n{told}\n{run}"
                );
                if !line.contains("$'") {
                    let (plain, told) = typed(&place, "sh", &line);
                    let again =
                        line.contains("--majority") || line.contains("--draft") || line.contains(" samples ");
                    assert!(plain == status || again, "sh: {line}\n{plain} for {status}\n{told}");
                }
                tried += 1;
            }
        }
        assert!(tried >= most, "{:?}: only {tried} commands were proposed", String::from_utf8_lossy(name));
    }
}

#[test]
fn the_line_that_a_docket_keeps_can_be_typed_again() {
    if !has("bash") {
        println!("skipped: there is no bash here");
        return;
    }
    let place = Place::with_samples();
    let name = OsStr::from_bytes(b"new\nline \xff it's.bin");
    std::fs::write(place.root().join(name), place.bytes("samples/unit7-read1.bin")).unwrap();
    place.run([OsStr::new("vet"), name, OsStr::new("--docket"), OsStr::new("job.ron")]).expect(0);
    let line =
        place.run(["docket", "check", "job.ron", "--json"]).json()["entries"][0]["run"]["line"].clone();
    let line = line.as_str().map_or_else(|| panic!("no line"), str::to_owned);
    assert_eq!(typed(&place, "bash", &line).0, 0, "{line}");
}
