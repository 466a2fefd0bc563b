//! The command line: streams, exit statuses, colour, help.

use crate::support::{Place, package, run};

/// The commands that `readproof help` lists.
pub fn commands() -> Vec<String> {
    let help = run(["--help"]).expect(0);
    let list = help.out().split("Commands:\n").nth(1).unwrap().split("\n\n").next().unwrap();
    let names = list.lines().filter(|l| l.starts_with("  ") && !l.starts_with("   "));
    let names = names.filter_map(|l| l.split_whitespace().next());
    names.filter(|n| *n != "help").map(str::to_owned).collect()
}

#[test]
fn help_and_version_go_to_standard_output_and_are_no_failure() {
    run(["--help"]).expect(0).says("Exit status");
    run(["--version"]).expect(0).says("readproof ");
    for command in commands() {
        let help = run([command.as_str(), "--help"]).expect(0).says("Usage: readproof");
        assert!(help.err().is_empty(), "{help}");
    }
}

#[test]
fn help_fits_80_columns_and_ends_no_line_in_space() {
    for command in commands() {
        let help = run([command.as_str(), "--help"]);
        for line in help.out().lines() {
            assert!(line.chars().count() <= 80, "{command}: too wide: {line:?}");
            assert_eq!(line.trim_end(), line, "{command}: space at the end of {line:?}");
        }
    }
}

#[test]
fn every_command_is_in_the_readme() {
    let readme = std::fs::read_to_string(package().join("README.md")).unwrap();
    for command in commands() {
        let is_named =
            readme.contains(&format!("| `{command}")) || readme.contains(&format!("readproof {command}"));
        assert!(is_named, "README.md has neither a row nor an example of {command}");
    }
}

#[test]
fn a_mistyped_command_or_option_is_told_on_standard_error_with_what_was_likely_meant() {
    let run = run(["show", "--jsn", "x.bin"]).expect(2).complains("--json");
    assert!(run.out().is_empty(), "{run}");
    self::run(["shwo", "x.bin"]).expect(2).complains("Did you mean `readproof show`?");
}

#[test]
#[cfg(unix)]
fn a_reader_that_goes_away_ends_the_program_quietly() {
    use std::io::Read as _;
    use std::process::{Command, Stdio};
    let mut command = Command::new(env!("CARGO_BIN_EXE_readproof"));
    command.arg("--help").stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut child = command.spawn().unwrap();
    drop(child.stdout.take());
    let mut said = String::new();
    child.stderr.take().unwrap().read_to_string(&mut said).unwrap();
    let status = child.wait().unwrap();
    assert_eq!((status.code(), said.as_str()), (Some(0), ""));
}

#[test]
#[cfg(target_os = "linux")]
fn a_full_disk_is_an_error() {
    use std::process::{Command, Stdio};
    let full = std::fs::File::options().write(true).open("/dev/full").unwrap();
    let mut command = Command::new(env!("CARGO_BIN_EXE_readproof"));
    let output = command.arg("--help").stdout(full).stderr(Stdio::piped()).output().unwrap();
    assert_eq!(output.status.code(), Some(2), "{}", String::from_utf8_lossy(&output.stderr));
}

#[test]
fn an_error_is_told_once_and_with_json_also_as_the_object_on_standard_output() {
    let place = Place::empty();
    let text = place.run(["show", "absent.bin"]).expect(2).complains("absent.bin");
    assert!(text.out().is_empty(), "{text}");
    assert_eq!(text.err().matches("absent.bin").count(), 1, "{text}");
    let json = place.run(["show", "absent.bin", "--json"]).expect(2).complains("absent.bin");
    let object = json.json();
    assert_eq!(object["schema"], 1, "{json}");
    assert_eq!(object["error"]["place"], "absent.bin", "{json}");
}

#[test]
fn colour_is_used_when_asked_for_and_carries_nothing_that_the_words_do_not() {
    let place = Place::empty();
    let plain = place.run(["show", "absent.bin"]).expect(2);
    let forced = place.run_with(["show", "absent.bin"], b"", &[("CLICOLOR_FORCE", "1")]).expect(2);
    assert!(!plain.err().contains('\u{1b}') && forced.err().contains('\u{1b}'), "{plain}{forced}");
    let never = place.run_with(["show", "absent.bin", "--color=never"], b"", &[("CLICOLOR_FORCE", "1")]);
    assert_eq!(never.err(), plain.err());
    let environment = [("CLICOLOR_FORCE", "1"), ("NO_COLOR", "1")];
    assert_eq!(place.run_with(["show", "absent.bin"], b"", &environment).err(), plain.err());
}

#[test]
#[cfg(unix)]
fn a_file_that_may_not_be_read_is_named_with_what_to_do() {
    use std::os::unix::fs::PermissionsExt as _;
    let place = Place::empty();
    let file = place.file("locked.bin", [0; 16]);
    std::fs::set_permissions(&file, std::fs::Permissions::from_mode(0o000)).unwrap();
    if std::fs::read(&file).is_ok() {
        eprintln!("skipped: this user may read every file");
        return;
    }
    place.run(["show", "locked.bin"]).expect(2).complains("locked.bin").complains("permi");
}
