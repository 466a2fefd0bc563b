//! What a script relies on: exit statuses, quiet and verbose, standard input and output, a reader that goes away.

use std::io::Read as _;
use std::process::{Command, Stdio};

use crate::support::{Place, Run, package, run};

const GOOD: &str = "samples/unit7-read1.bin";
const POOR: &str = "samples/unit7-read3-poor.bin";

/// Uses of every command and the exit status that they must have. A case that writes names its file `new…`.
const USES: &[(&str, i32)] = &[
    ("vet G samples/unit7-read2.bin", 0),
    ("vet G P", 1),
    ("vet G absent.bin", 2),
    ("vet G --must-equal samples/unit7-read2.bin", 0),
    ("vet G --must-equal G", 2),
    ("vet P --must-equal G", 1),
    ("vet G --each", 0),
    ("vet samples", 1),
    ("vet G absent.bin --each", 2),
    ("show G", 0),
    ("show samples/unit7-broken-check.bin", 1),
    ("show G --field nothing", 2),
    ("show G P", 1),
    ("find G FK-CR8-2047B", 0),
    ("find samples/unit7-part-off.bin FK-CR8-2047B", 1),
    ("find samples ZZTOPQ99", 1),
    ("find absent.bin FK-CR8-2047B", 2),
    ("nearest P G", 0),
    ("nearest samples/unit9.bin samples/unit12.bin", 1),
    ("nearest G absent.bin", 2),
    ("compare G samples/unit7-read2.bin", 0),
    ("compare G samples/unit9.bin", 1),
    ("compare G absent.bin", 2),
    ("audit G samples/unit7-serviced.bin", 0),
    ("audit G samples/unit7-returned.bin", 1),
    ("audit G G --allow nothing", 2),
    ("amend G --set setpoint=3.5 --reseal --dry-run", 0),
    ("amend G --copy serial --from samples/unit9.bin --dry-run", 1),
    ("amend G --set setpoint=much --dry-run", 2),
    ("survey G", 0),
    ("survey absent.bin", 2),
    ("hunt small-a.bin small-b.bin small-c.bin", 0),
    ("hunt blank.bin", 1),
    ("hunt absent.bin", 2),
    ("convert samples/unit7.hex new.bin", 0),
    ("convert no-end.s19 new.bin", 1),
    ("convert G new.xyz", 2),
    ("chips", 0),
    ("chips 9x9", 1),
    ("checks", 0),
    ("checks VIN --text 1M8GDM9A1KP042788", 1),
    ("checks nothing", 2),
    ("layouts", 0),
    ("layouts spoilt.ron", 1),
    ("layouts absent.ron", 2),
    ("docket check job.ron", 0),
    ("docket report job.ron", 0),
    ("docket check gone.ron", 1),
    ("docket check absent.ron", 2),
    ("settings", 0),
    ("settings spoilt.ron", 1),
    ("settings samples", 2),
    ("samples new", 0),
    ("samples samples", 2),
    ("tour --json", 2),
    ("completions bash", 0),
    ("completions basch", 2),
    ("manual", 0),
    ("manual vet", 0),
    ("manual --schema", 0),
    ("manual vett", 2),
];

/// Commands whose product is no report: `--quiet` leaves it.
fn is_product(line: &str) -> bool {
    line.starts_with("completions") || line.starts_with("manual")
}

fn place() -> Place {
    let place = Place::with_samples();
    for (from, to) in [("unit7-read1", "small-a"), ("unit9", "small-b"), ("unit12", "small-c")] {
        let bytes = place.bytes(&format!("samples/{from}.bin"));
        place.file(&format!("{to}.bin"), &bytes[0x40..0x80]);
    }
    place.file("blank.bin", vec![0xFF; 256]);
    place.file("no-end.s19", "S1060000010203F3\n");
    place.file("spoilt.ron", "(layout: \"x\", fields: [(name: 1)])");
    place.file("gone.bin", "once");
    for docket in ["job.ron", "gone.ron"] {
        place.run(["docket", "new", docket, "--job", "store 3"]).expect(0);
    }
    place.run(["docket", "image", "gone.ron", "gone.bin", "--as", "before"]).expect(0);
    std::fs::remove_file(place.path("gone.bin")).unwrap();
    place
}

fn words(line: &str) -> Vec<String> {
    let word = |word: &str| match word {
        "G" => GOOD.to_owned(),
        "P" => POOR.to_owned(),
        other => other.to_owned(),
    };
    line.split(' ').map(word).collect()
}

/// Runs a use with more options and takes away what it wrote.
fn ask(place: &Place, line: &str, more: &[&str]) -> Run {
    let all = words(line).into_iter().chain(more.iter().map(|word| (*word).to_owned()));
    let run = place.run(all);
    clear(place);
    run
}

fn clear(place: &Place) {
    let _ = std::fs::remove_file(place.path("new.bin"));
    let _ = std::fs::remove_dir_all(place.path("new"));
}

#[test]
fn every_command_has_the_exit_statuses_of_the_table_with_and_without_json() {
    let list = run(["manual", "--list"]).expect(0);
    for command in list.out().lines() {
        let of = |status: i32| {
            USES.iter().any(|(line, s)| line.split(' ').next() == Some(command) && *s == status)
        };
        // These do the same thing whatever comes of it, or are held in a terminal.
        let always = ["completions", "manual", "samples", "tour", "survey"].contains(&command);
        assert!(
            (of(0) || command == "tour") && (of(1) || always) && (of(2) || command == "chips"),
            "{command} is not walked"
        );
    }
    let place = place();
    for (line, status) in USES {
        let told = ask(&place, line, &[]).expect(*status);
        // Among many, what is wrong with one image is told in its place.
        assert!(
            line.contains("--each") || told.err().is_empty() == (*status != 2),
            "errors are for status 2\n{told}"
        );
        let product = is_product(line) && *status == 0 && !line.contains("--schema");
        if !line.contains("--json") {
            ask(&place, line, &["--json"]).expect(if product { 2 } else { *status });
        }
    }
}

#[test]
fn the_table_of_exit_statuses_names_every_command() {
    let page = std::fs::read_to_string(package().join("docs/scripts.md")).unwrap();
    let list = run(["manual", "--list"]).expect(0);
    for command in list.out().lines() {
        assert!(page.contains(&format!("| `{command}` |")), "docs/scripts.md has no row for {command}");
    }
}

#[test]
fn quiet_says_nothing_when_all_is_well_and_one_thing_otherwise() {
    let place = place();
    for (line, status) in USES.iter().filter(|(line, _)| !line.contains("--json")) {
        let plain = ask(&place, line, &[]);
        let quiet = ask(&place, line, &["--quiet"]).expect(*status);
        let short = quiet.out().lines().count();
        match status {
            0 if is_product(line) => assert_eq!(quiet.out(), plain.out()),
            0 => assert_eq!((quiet.out(), quiet.err()), ("", ""), "{quiet}"),
            1 => {
                assert!(short >= 1 && quiet.err().is_empty(), "{quiet}");
                assert!(short < plain.out().lines().count() || short == 1, "not shorter\n{quiet}\n{plain}");
            }
            // One image could not be done, another is well.
            _ if line.contains("--each") => assert!(quiet.out().contains("unreadable"), "{quiet}"),
            _ if line.starts_with("nearest G absent") => assert_eq!(short, 1, "{quiet}"),
            _ => assert!(quiet.out().is_empty() && quiet.err() == plain.err(), "{quiet}\n{plain}"),
        }
    }
    let folder = place.run(["vet", "-q", "samples"]).expect(1);
    assert!(
        folder.out().contains("unit7-broken-check.bin") && !folder.out().contains("unit7-read1.bin"),
        "{folder}"
    );
    let shown = place.run(["show", "-q", "samples"]).expect(1);
    assert!(shown.out().contains("unit7-broken-check.bin: unsound") && shown.err().is_empty(), "{shown}");
    place.run(["vet", "-q", "-v", GOOD]).expect(2).complains("cannot be used with");
}

#[test]
fn verbose_changes_no_status_and_leaves_nothing_shortened() {
    let place = place();
    for (line, status) in USES.iter().filter(|(line, _)| !line.contains("--json")) {
        let plain = ask(&place, line, &[]);
        let verbose = ask(&place, line, &["--verbose"]).expect(*status);
        assert!(verbose.out().len() >= plain.out().len(), "{verbose}");
        assert!(!verbose.out().contains("--all prints"), "{verbose}");
    }
    let digest = "42460e99e8873bb78117a927f0109d43967ae6f616dba83ec07bb8b7d696c14e";
    for line in ["vet G", "show G", "convert samples/unit7.hex new.bin"] {
        ask(&place, line, &["-v"]).says(digest);
    }
    for line in ["vet G", "show G", "compare G P", "audit G P", "nearest G P"] {
        ask(&place, line, &["-v"]).says("layouts considered").says("taken: the mark at 0x0000");
    }
    let rows = ask(&place, "show G", &["-v"]);
    assert_eq!(
        rows.out().split("\nlayouts considered").next(),
        Some(ask(&place, "show G", &["--all"]).out())
    );
    ask(&place, "vet samples", &["-v"]).says("check-broken");
}

/// Standard output is a pipe that nobody reads any more: no word on standard error, and the status is the one that was
/// found, so that nobody takes an unsound read for a sound one. Of many images the rest is not looked at, and that is
/// not "all sound" either.
#[test]
#[cfg(unix)]
fn a_reader_that_goes_away_changes_no_status_and_makes_no_noise() {
    let place = place();
    for (line, status) in USES {
        for more in [&[][..], &["--json"]] {
            let told = ask(&place, line, more);
            let mut command = Command::new(env!("CARGO_BIN_EXE_readproof"));
            command.args(words(line)).args(more).current_dir(place.root());
            command.env("HOME", place.root()).env("XDG_CONFIG_HOME", place.path("config"));
            command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped());
            let mut child = command.spawn().unwrap();
            drop(child.stdout.take());
            let mut said = String::new();
            child.stderr.take().unwrap().read_to_string(&mut said).unwrap();
            let ended = child.wait().unwrap().code();
            clear(&place);
            let many = line.contains("samples") || line.contains("--each") || line.starts_with("show G P");
            assert!(
                ended == Some(told.status()) || many && ended == Some(2),
                "{line} {more:?}: {ended:?}, not {status}\n{said}"
            );
            assert!(said == told.err() || many, "{line} {more:?}\n{said}");
            assert!(!said.contains("panicked") && !said.contains("could not be written"), "{line}\n{said}");
        }
    }
}

#[test]
#[cfg(target_os = "linux")]
fn an_output_that_cannot_be_written_is_status_2_for_every_command() {
    let place = place();
    for (line, status) in USES.iter().filter(|(line, status)| *status != 2 || line.contains("--each")) {
        let full = std::fs::File::options().write(true).open("/dev/full").unwrap();
        let mut command = Command::new(env!("CARGO_BIN_EXE_readproof"));
        command.args(words(line)).current_dir(place.root()).stdin(Stdio::null());
        command.env("HOME", place.root()).env("XDG_CONFIG_HOME", place.path("config"));
        let output = command.stdout(full).stderr(Stdio::piped()).output().unwrap();
        clear(&place);
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(2), "{line}, {status} otherwise\n{said}");
        assert!(said.contains("could not be written"), "{line}\n{said}");
    }
}

#[test]
fn every_command_that_reads_an_image_reads_standard_input_once() {
    let place = place();
    let good = place.bytes(GOOD);
    let once = [
        "vet -",
        "vet - --each",
        "vet - G",
        "vet - --must-equal G",
        "vet G --must-equal -",
        "vet P --must-equal G --before -",
        "show -",
        "find - FK-CR8-2047B",
        "nearest - samples",
        "nearest P -",
        "compare - samples/unit9.bin",
        "compare G -",
        "audit - G",
        "audit G -",
        "amend - --set setpoint=3.5 --reseal --dry-run",
        "amend samples/unit9.bin --copy setpoint --from - --dry-run",
        "survey -",
        "convert - - --to s-record",
        "checks CRC-16/XMODEM -",
    ];
    for line in once {
        let run = place.run_with(words(line), &good, &[]);
        assert!(run.status() < 2, "{run}");
    }
    place.run_with(["hunt", "-"], &good[0x40..0x80], &[]);
    for line in [
        "vet - -",
        "vet - - --each",
        "show - -",
        "find - - ABC123",
        "nearest - -",
        "compare - -",
        "audit - -",
        "survey - -",
        "hunt - -",
        "vet - --must-equal -",
        "amend - --copy setpoint --from - --dry-run",
    ] {
        let run = place.run_with(words(line), &good, &[]).expect(2);
        let run =
            run.complains("standard input").complains("more than one image").complains("Save it to a file");
        assert!(run.out().is_empty(), "{run}");
    }
    for line in ["vet -", "show -", "survey -"] {
        place.run_with(words(line), b"", &[]).expect(2).complains("standard input: there are no bytes in it");
    }
}

#[test]
fn a_file_that_is_written_to_standard_output_has_it_for_itself() {
    let place = place();
    let amended = ["amend", GOOD, "-o", "-", "--set", "setpoint=3.5", "--reseal"];
    place.run(["amend", GOOD, "-o", "new.bin", "--set", "setpoint=3.5", "--reseal"]).expect(0);
    let file = place.bytes("new.bin");
    let streamed =
        place.run(amended).expect(0).complains("safe to write").complains("Written to standard output.");
    assert_eq!(streamed.bytes(), file);
    let piped = place.run_with(["vet", "-", "--must-equal", "new.bin"], streamed.bytes(), &[]).expect(0);
    assert!(piped.out().starts_with("written exactly"), "{piped}");
    let hushed = place.run(amended.into_iter().chain(["-q"])).expect(0);
    assert_eq!((hushed.bytes(), hushed.err()), (&*file, ""));
    place.run(amended.into_iter().chain(["--json"])).expect(2).complains("standard output");
    let refused =
        place.run(["amend", GOOD, "-o", "-", "--copy", "serial", "--from", "samples/unit9.bin"]).expect(1);
    assert!(refused.bytes().is_empty(), "{refused}");
    let kept = place.run(["amend", GOOD, "-o", "-", "--reseal", "--save-changes", "-"]);
    kept.expect(2).complains("only written to one");
    let most = place.run(["vet", GOOD, POOR, "samples/unit7-read2.bin", "--majority", "-"]).expect(1);
    assert_eq!(most.bytes(), place.bytes(GOOD));
    let draft = place.run(["survey", GOOD, "--draft", "-"]).expect(0);
    place.file("draft.ron", draft.out());
    place.run(["layouts", "draft.ron"]).expect(0);
    let page = place.run(["docket", "report", "job.ron", "--html", "-"]).expect(0).says("</html>");
    assert!(page.err().starts_with("sound"), "{page}");
}

/// How far it is, is told to somebody who watches, and to nobody else.
#[test]
#[cfg(unix)]
fn progress_is_told_on_a_terminal_only() {
    use portable_pty::CommandBuilder;

    use crate::session::Session;

    let place = place();
    let good = place.bytes(GOOD);
    for (folder, images) in [("many", 48), ("few", 8)] {
        for n in 0..images {
            place.file(&format!("{folder}/{n}.bin"), &good);
        }
    }
    let session = |line: &str| {
        let mut shell = CommandBuilder::new("sh");
        let program = env!("CARGO_BIN_EXE_readproof");
        shell.args(["-c", &format!("{program} {line}; echo all done")]);
        Session::of(shell, place.root(), &[]).patient()
    };
    let told = session("survey many >told.txt");
    told.wait("progress", |output| output.screen().contains(", Ctrl-C stops"));
    told.wait("the end", |output| output.screen().contains("all done"));
    told.wait("a clean line", |output| !output.screen().contains("Ctrl-C stops"));
    for line in
        ["survey few --json >told.txt", "survey few --quiet >told.txt", "survey few >told.txt 2>said.txt"]
    {
        let told = session(line);
        told.wait("the end", |output| output.screen().contains("all done"));
        told.wait("no progress", |output| !String::from_utf8_lossy(&output.raw).contains("Ctrl-C"));
    }
    assert!(!String::from_utf8_lossy(&place.bytes("said.txt")).contains("Ctrl-C"));
    let piped = place.run(["survey", "few"]).expect(0);
    assert!(!piped.err().contains("Ctrl-C"), "{piped}");
}
