//! Slips at the command line and in files: each error names file and place, quotes what was wrong, and says what to do.

use std::fs;

use crate::support::{Place, files_below, package};

/// What is typed, and what the error must name: the file, the bad value, what would be right.
const SLIPS: &[(&str, &[&str])] = &[
    // Files that are not there, or are something else.
    ("show absent.bin", &["absent.bin", "no such file", "Check the name"]),
    ("vet absent.bin", &["absent.bin", "no such file"]),
    ("vet G absent.bin", &["absent.bin", "no such file"]),
    ("vet G --must-equal absent.bin", &["absent.bin", "no such file"]),
    ("vet G --must-equal samples/unit7-read2.bin --before absent.bin", &["absent.bin"]),
    ("find absent.bin FK-CR8", &["absent.bin"]),
    ("nearest absent.bin samples", &["absent.bin"]),
    ("nearest G absent.bin", &["absent.bin"]),
    ("compare G absent.bin", &["absent.bin"]),
    ("audit absent.bin G", &["absent.bin"]),
    ("amend absent.bin -o new.bin --reseal", &["absent.bin"]),
    ("survey absent.bin", &["absent.bin"]),
    ("hunt absent.bin", &["absent.bin"]),
    ("convert absent.bin new.hex", &["absent.bin"]),
    ("checks CRC-16/XMODEM absent.bin", &["absent.bin"]),
    ("docket check absent.ron", &["absent.ron", "docket new"]),
    ("docket image job.ron absent.bin --as before", &["absent.bin"]),
    ("layouts absent.ron", &["absent.ron"]),
    ("compare G samples", &["samples", "folder", "Name a file in it"]),
    ("convert samples new.hex", &["samples", "folder"]),
    ("show G/inside.bin", &["unit7-read1.bin/inside.bin", "not a folder"]),
    ("show empty.bin", &["empty.bin", "no bytes", "Read the chip again"]),
    ("vet empty", &["empty", "no image in it", "folder"]),
    ("show spoilt.hex", &["spoilt.hex:2:", "hexadecimal"]),
    ("show short.s19", &["short.s19:1:"]),
    // Layouts.
    ("show G --layout absent", &["\"absent\"", "`readproof layouts`"]),
    ("show G --layout frostkel-cr8", &["\"frostkel-cr8\"", "Did you mean frostkeel-cr8?"]),
    ("show G --layout spoilt.ron", &["spoilt.ron:1:", "expected"]),
    ("show G --layouts absent", &["absent", "Check the name"]),
    ("layouts --print frostkel-cr8", &["Did you mean frostkeel-cr8?"]),
    ("layouts --explain Bdc", &["\"Bdc\"", "Did you mean Bcd?"]),
    ("layouts no-text.ron", &["no-text.ron:2", "0xFF", "UTF-8"]),
    ("hunt G --layout absent", &["absent"]),
    ("hunt G --into absent.ron", &["absent.ron", "readproof survey"]),
    // Fields, values, addresses.
    ("show G --field serail", &["\"serail\"", "Did you mean serial?"]),
    ("show G --field cause", &["\"cause\"", "lockouts[0].cause"]),
    ("show blank.bin --layout none --field serial", &["\"serial\""]),
    ("vet G --expect serail=1", &["\"serail\"", "Did you mean serial?"]),
    ("vet G --expect serial", &["\"serial\"", "FIELD=VALUE"]),
    ("vet G --chip 24C65", &["\"24C65\"", "24C64"]),
    ("vet G --chip nothing", &["\"nothing\"", "readproof chips"]),
    ("audit G G --allow serail", &["\"serail\"", "serial"]),
    ("audit G G --allow 0x9000..0x9010", &["0x9000..0x9010", "0x0000..0x2000"]),
    ("audit blank.bin blank.bin --allow serial", &["\"serial\"", "--layout"]),
    ("amend G -o new.bin", &["nothing to do", "--set"]),
    ("amend G -o new.bin --set setpoint", &["\"setpoint\"", "FIELD=VALUE"]),
    ("amend G -o new.bin --set setpiont=3", &["setpiont", "setpoint"]),
    ("amend G -o new.bin --set setpoint=much", &["much", "setpoint"]),
    ("amend G -o new.bin --set setpoint=99999", &["99999", "setpoint"]),
    ("amend G -o new.bin --set serial=12AB", &["12AB"]),
    ("amend G -o new.bin --rest nothing", &["\"nothing\"", "lists it, with the groups"]),
    ("amend G -o new.bin --copy nothing --from G", &["nothing"]),
    ("amend G -o new.bin --bytes 0x9000=00", &["0x9000", "0x0000..0x2000"]),
    ("amend G -o new.bin --bytes 0x10=0", &["\"0\"", "0x1F0=4B0431"]),
    ("amend G -o new.bin --bytes 1F0=00", &["\"1F0\"", "0x1F0"]),
    ("amend G -o new.bin --bytes 00", &["\"00\"", "0x1F0=4B0431"]),
    ("amend G -o new.bin --apply G", &["unit7-read1.bin"]),
    ("amend G -o new.bin --apply job.ron", &["job.ron:", "--save-changes"]),
    ("amend G --reseal", &["--output"]),
    ("checks CRC-16/XMODME", &["\"CRC-16/XMODME\"", "CRC-16/XMODEM"]),
    ("checks CRC-16/XMODEM G --over 5", &["\"5\"", "0x40..0x1FE"]),
    ("checks CRC-16/XMODEM G --over 0x20..0x10", &["0x20..0x10", "end"]),
    ("checks CRC-16/XMODEM G --over 0x0..0x9000", &["unit7-read1.bin", "0x0000..0x9000", "0x0000..0x2000"]),
    ("checks CRC-16/XMODEM holes.hex", &["holes.hex", "gap", "--over"]),
    ("checks VIN G", &["VIN", "--text"]),
    ("compare G G --units 7", &["--units", "2 images", "one for each"]),
    ("survey G G G --pairs", &["--pairs", "3 images", "two for each unit"]),
    ("vet samples --majority new.bin", &["--majority", "name the reads"]),
    ("vet G --worst-first", &["--worst-first", "--each"]),
    ("vet G samples/unit9.bin --must-equal G", &["--must-equal", "one read"]),
    ("vet G P --majority new.bin", &["three", "read the chip again"]),
    ("hunt G --chance none", &["none", "0.01"]),
    ("hunt G --page 4", &["4"]),
    ("chips --bytes many", &["many", "0x1F0"]),
    ("convert G new.bin --fill 256", &["\"256\"", "0xFF"]),
    ("convert G new.bin --base zero", &["\"zero\"", "0x1F0"]),
    ("convert G new.xyz", &["new.xyz", "\"xyz\"", "intel-hex"]),
    ("convert G new", &["new", "--to"]),
    ("convert holes.hex new.bin", &["holes.hex", "--fill"]),
    ("convert G - --to raw --json", &["standard output", "--json"]),
    // Files that are there already, or cannot be written.
    ("convert G P", &["unit7-read3-poor.bin", "another name"]),
    ("convert G absent/new.hex", &["absent", "no such folder", "Make it first"]),
    ("amend G -o G --reseal --set setpoint=3.5", &["unit7-read1.bin", "another name"]),
    ("amend G -o new.bin --reseal --set setpoint=3.5 --save-changes job.ron", &["job.ron", "another name"]),
    ("survey G --draft spoilt.ron", &["spoilt.ron", "another name"]),
    ("docket new job.ron", &["job.ron", "another name"]),
    ("docket report job.ron --html spoilt.ron", &["spoilt.ron", "another name"]),
    ("samples samples", &["samples", "new folder"]),
    ("tour --folder samples", &["samples", "new folder"]),
    ("settings spoilt.ron --start", &["spoilt.ron"]),
    // Dockets and settings.
    ("docket label job.ron", &["job.ron", "--part"]),
    ("docket note absent.ron x", &["absent.ron", "docket new"]),
    ("docket check job.ron --docket job.ron", &["--docket"]),
    ("vet samples --docket job.ron", &["samples", "name the images"]),
    ("settings samples", &["samples", "name a"]),
    // The command line itself.
    ("shwo G", &["\"shwo\"", "readproof show"]),
    ("show", &["<IMAGE>", "--help"]),
    ("show G --jsn", &["--jsn", "--json"]),
    ("show G --color sometimes", &["sometimes", "auto"]),
    ("compare G", &["2", "--help"]),
    ("find G", &["<TEXT>", "--help"]),
    ("vet G -q -v", &["--quiet", "--verbose"]),
    ("completions basch", &["basch", "bash"]),
    ("manual vett", &["\"vett\"", "Did you mean vet?"]),
    ("manual xyzzy", &["\"xyzzy\"", "readproof manual --list"]),
    ("tour --json", &["--json", "leave"]),
];

fn place() -> Place {
    let place = Place::with_samples();
    place.file("empty.bin", "");
    fs::create_dir(place.path("empty")).unwrap();
    place.file("blank.bin", vec![0xFF; 256]);
    place.file("spoilt.hex", ":0200000001 02FB\n:02000000zz02FB\n:00000001FF\n".replace(' ', ""));
    place.file("short.s19", "S1060000\n");
    place.file("spoilt.ron", "(layout: \"x\", fields: [(name: 1)])");
    place.file("no-text.ron", b"(layout: \"x\",\n \xff)");
    place.file("holes.hex", ":020000000102FB\n:020010000304E7\n:00000001FF\n");
    place.run(["docket", "new", "job.ron", "--job", "store 3"]).expect(0);
    place
}

#[test]
fn every_slip_is_told_once_with_its_place_what_was_typed_and_what_to_do() {
    assert!(SLIPS.len() >= 60);
    let place = place();
    let mut wrong = Vec::new();
    for (line, wanted) in SLIPS {
        let word = |word: &str| match word {
            "G" => "samples/unit7-read1.bin".to_owned(),
            "P" => "samples/unit7-read3-poor.bin".to_owned(),
            other => other.replace("G/", "samples/unit7-read1.bin/"),
        };
        let run = place.run(line.split(' ').map(word));
        let told = run.err().split_whitespace().collect::<Vec<_>>().join(" ");
        let lower = told.to_lowercase();
        let missing: Vec<_> = wanted.iter().filter(|word| !lower.contains(&word.to_lowercase())).collect();
        let ours = run.err().starts_with("readproof: ");
        // Of the program's own errors what to do stands on lines of its own; the others point to the help.
        let leads_on = match ours {
            true => run.err().lines().skip(1).any(|l| l.starts_with("  ") && !l.starts_with("   ")),
            false => told.contains("--help") || told.contains("tip:"),
        };
        let kept = !place.path("new.bin").exists();
        // The object that --json prints says the same; a search goes on without what it cannot read.
        let silent = run.out().is_empty() || line.contains("--json") || line.starts_with("nearest G absent");
        if run.status() != 2 || !silent || !missing.is_empty() || !leads_on || !kept {
            wrong.push(format!("readproof {line}: status {}, without {missing:?}, leads on: {leads_on}, nothing written: {kept}\n{}{}", run.status(), run.out(), run.err()));
        }
    }
    assert!(wrong.is_empty(), "{} of {}:\n{}", wrong.len(), SLIPS.len(), wrong.join("\n"));
}

/// An error in the source that says nothing of what to do: `Error::new(…)` without `.advice(…)` up to where it is
/// handed on.
#[test]
fn no_error_is_made_without_saying_what_to_do() {
    let mut without = Vec::new();
    for file in files_below(&package().join("src")) {
        let text = fs::read_to_string(&file).unwrap_or_default();
        let code = text.split("#[cfg(test)]").next().unwrap_or_default();
        let path = file.strip_prefix(package()).unwrap().to_string_lossy().into_owned();
        if path == "src/error.rs" || path.contains("tests") || !path.ends_with(".rs") {
            continue;
        }
        for (at, _) in code.match_indices("Error::new(") {
            let before = &code[..at];
            // Those that are dressed further down in the same function, or by every caller.
            let ahead: String = code[at..].chars().take(700).collect();
            let until = ahead.split("\n}\n").next().unwrap_or_default();
            if !until.contains(".advice(") && !until.contains("advice:") {
                without.push(format!("{path}:{}", before.lines().count()));
            }
        }
    }
    assert!(without.is_empty(), "errors that lead nowhere:\n{}", without.join("\n"));
}

#[test]
fn one_of_anything_is_told_as_one() {
    // Every run of the program is asked for `1 bytes` and the like; these have one of each.
    let place = Place::with_samples();
    place.file("one.bin", [0x41]);
    place.file("other.bin", [0x42]);
    place.file("gap.hex", ":01000000AA55\n:01000200BB42\n:00000001FF\n");
    place.file("short.hex", ":00\n");
    place.file("short.s19", "S1\nS10\nS9030000FC\n");
    place.file(
        "one.ron",
        "(layout: \"One\", format: 1, source: \"a test\", fits: (bytes: [1, 9], marks: [(at: 0, hex: \"41\")]),\n\
         fields: [(name: \"a\", at: 0, kind: Text(bytes: 1)), (name: \"b\", at: 1, kind: Int(bits: 8))])",
    );
    let mut nine = vec![0x55; 72];
    (0..9).for_each(|n| nine[n * 8] = 0);
    place.file("nine.bin", nine);
    place.file("none.bin", vec![0x55; 72]);
    let told = |line: &str| {
        let run = place.run(line.split(' '));
        format!("{}{}", run.out(), run.err())
    };
    let wanted = "and 1 more place\n";
    assert!(
        told("vet none.bin --must-equal nine.bin").contains(wanted),
        "{}",
        told("vet none.bin --must-equal nine.bin")
    );
    assert!(told("amend one.bin --layout one.ron --set a=AB -o x.bin").ends_with("At most 1.\n"));
    assert!(told("convert gap.hex x.bin").contains("the image has 1 byte that is not mapped"));
    for line in [
        "show one.bin --layout one.ron",
        "show other.bin --layout one.ron",
        "survey one.bin other.bin",
        "survey gap.hex",
        "hunt one.bin",
        "compare one.bin other.bin",
        "compare one.bin gap.hex",
        "audit one.bin other.bin --layout one.ron",
        "nearest one.bin other.bin",
        "find one.bin FK-CR8-2047B",
        "show short.hex",
        "show short.s19",
        "layouts one.ron",
    ] {
        told(line);
    }
}
