//! The schema of what `--json` prints: what is printed is as it says, and what it says is printed.

use std::collections::{BTreeMap, BTreeSet};
use std::ffi::OsString;
use std::path::Path;

use jsonschema::Validator;
use readproof::finding::{Code, Verdict};
use serde_json::{Value, json};

use crate::support::{Place, package, run};

fn schema() -> Value {
    let text = std::fs::read_to_string(package().join("docs/readproof.schema.json")).unwrap();
    serde_json::from_str(&text).unwrap()
}

/// The validator of one definition, or of the whole.
fn validator(schema: &Value, definition: Option<&str>) -> Validator {
    let mut schema = schema.clone();
    if let Some(name) = definition {
        schema.as_object_mut().unwrap().remove("oneOf");
        schema["$ref"] = json!(format!("#/$defs/{name}"));
    }
    jsonschema::draft202012::new(&schema).unwrap_or_else(|e| panic!("no schema of draft 2020-12: {e}"))
}

/// The definitions that are objects of `command`; `error` for none.
fn of_command(schema: &Value, command: Option<&str>) -> Vec<String> {
    let Some(command) = command else { return vec!["error".to_owned()] };
    let definitions = schema["$defs"].as_object().unwrap();
    let wanted = json!(command);
    let of = |(_, definition): &(&String, &Value)| definition["properties"]["command"]["const"] == wanted;
    definitions.iter().filter(of).map(|(name, _)| name.clone()).collect()
}

/// A name that is neither clean nor, where the system allows that, text.
fn odd(ending: &str) -> OsString {
    #[cfg(unix)]
    {
        use std::os::unix::ffi::OsStringExt as _;
        OsString::from_vec([b"o d'd\n\x1b[2J\xff".as_slice(), ending.as_bytes()].concat())
    }
    #[cfg(not(unix))]
    OsString::from(format!("o d'd{ending}"))
}

/// Everything that the program is asked, and what it reads.
struct Asked {
    place: Place,
    objects: Vec<(String, Value)>,
}

impl Asked {
    /// Runs it with `--json` and keeps each object that it prints.
    fn ask_os(&mut self, words: Vec<OsString>) {
        let shown = words.iter().map(|w| w.to_string_lossy()).collect::<Vec<_>>().join(" ");
        let run = self.place.run(words.into_iter().chain(["--json".into()]));
        assert!(run.status() <= 2, "{run}");
        let before = self.objects.len();
        match serde_json::from_str::<Value>(run.out()) {
            Ok(one) => self.objects.push((shown.clone(), one)),
            Err(_) => {
                for line in run.out().lines() {
                    let object = serde_json::from_str(line).unwrap_or_else(|e| panic!("{e}: {line}\n{run}"));
                    self.objects.push((shown.clone(), object));
                }
            }
        }
        assert!(self.objects.len() > before, "nothing was printed\n{run}");
    }

    /// The same; `@` and an ending stand for an odd name, `~` for a space.
    fn ask(&mut self, line: &str) {
        let word = |word: &str| match (word.strip_prefix("lay/@"), word.strip_prefix('@')) {
            (Some(ending), _) => Path::new("lay").join(odd(ending)).into_os_string(),
            (_, Some(ending)) => odd(ending),
            _ => OsString::from(word.replace('~', " ")),
        };
        self.ask_os(line.split(' ').map(word).collect());
    }
}

/// Reads that are wrong in one way each, made of the sample.
fn spoil(place: &Place) {
    let good = place.bytes("samples/unit7-read1.bin");
    let each = |change: &dyn Fn(usize) -> u8| (0..good.len()).map(change).collect::<Vec<u8>>();
    place.file("blank.bin", vec![0xFF; 8192]);
    place.file("line.bin", each(&|i| good[i & !0x400]));
    place.file("stuck.bin", each(&|i| good[i] | 0x10));
    place.file("swapped.bin", each(&|i| good[i ^ 1]));
    place.file("mirrored.bin", each(&|i| good[i].reverse_bits()));
    place.file("inverted.bin", each(&|i| !good[i]));
    place.file("shifted.bin", each(&|i| good[i] << 1 | good.get(i + 1).map_or(0, |next| next >> 7)));
    place.file("tail.bin", each(&|i| if i < 5000 { good[i] } else { 0xFF }));
    place.file("cut.bin", &good[..4096]);
    place.file("header.bin", [&[0; 16], &good[..]].concat());
    place.file("mailed.bin", good.iter().map(|&byte| char::from(byte)).collect::<String>());
    place.file("listing.txt", "46 4B 43 52 38 03 20 00\n".repeat(1024));
    for n in 0..3u8 {
        place.file(&format!("torn{n}.bin"), each(&|i| if i == 0x1000 { n } else { good[i] }));
    }
    let with = |at: usize, bytes: &[u8]| {
        let mut changed = good.clone();
        changed[at..at + bytes.len()].copy_from_slice(bytes);
        changed
    };
    place.file("reserved.bin", with(5, &[9]));
    place.file("loose.bin", with(0x0010, &[0x12]));
    place.file("copies.bin", with(0x00A0, &[0x55]));
    place.file("range.bin", with(0x0100, &[0x7F, 0x7F]));
    place.file("odd-digits.bin", with(0x0050, &[0xAB, 0xCD]));
    // Writes that did not take: a block that is protected, a burst that wrapped, one bit, all of a page.
    let approved = place.bytes("samples/unit7-serviced.bin");
    place.file("block.bin", [&vec![0xFF; 4096][..], &good[4096..]].concat());
    place.file("half.bin", [&approved[..0x1000], &good[0x1000..]].concat());
    place.file("bit.bin", with(0x0300, &[good[0x0300] ^ 4]));
    let mut wrapped = good.clone();
    wrapped[0x0240..0x0250].copy_from_slice(&good[0x0250..0x0260]);
    place.file("wrapped.bin", wrapped);
    for (from, to) in [("unit7-read1", "small-a"), ("unit9", "small-b"), ("unit12", "small-c")] {
        let bytes = place.bytes(&format!("samples/{from}.bin"));
        place.file(&format!("{to}.bin"), &bytes[0x40..0x80]);
    }
    std::fs::write(place.root().join(odd("a.bin")), place.bytes("small-a.bin")).unwrap();
    let layout = String::from_utf8(place.bytes("layouts/frostkeel-cr8.ron")).unwrap();
    place.file("twins/one.ron", &layout);
    place.file("twins/two.ron", &layout);
    place.file("twins/spoilt.ron", "(layout: \"x\", fields: [(name: 1)])");
    place.file("no-end.s19", "S1060000010203F3\n");
    place.file("starts.hex", ":0400000001020304F2\n:0400000500007F80F8\n:0400000500000001F6\n:00000001FF\n");
    place.file("gaps.hex", ":0200000001 02FB\n");
    place.file("holes.hex", ":020000000102FB\n:020010000304E7\n:0400000300003800C1\n:00000001FF\n");
    std::fs::write(place.root().join(odd(".bin")), &good).unwrap();
    std::fs::write(place.root().join(odd("2.bin")), place.bytes("samples/unit9.bin")).unwrap();
    // Aside, so that they are at hand only where they are named.
    std::fs::create_dir(place.path("lay")).unwrap();
    std::fs::write(place.path("lay").join(odd(".ron")), &layout).unwrap();
    let small = "(layout: \"x\", format: 1, source: \"invented\", fields: [\n\
        (name: \"a\", at: 0, kind: Text(bytes: 16), role: Identity),\n\
        (name: \"r\", at: 16, kind: Bytes(bytes: 2), role: Reserved, rest: 0xFF)])";
    std::fs::write(place.path("lay").join(odd("small.ron")), small).unwrap();
    place.file("more/over.ron", small.replace("at: 16", "at: 8"));
    // Contents that moved; a memory of labels; a record file that a stricter program refuses.
    let (head, tail) = (&good[..0x100], &good[0x100..]);
    place.file(
        "moved.bin",
        [head, &[0x5A; 40], &tail[0x400..0x800], &tail[..0x400], &tail[0x900..], &tail[..0x200]].concat(),
    );
    let mut labels = vec![0xFF; 1024];
    for (at, text) in
        [(0x10, "1M8GDM9AXKP042788"), (0x40, "2024-05-01"), (0x60, "SN00123456"), (0xA0, "1M8GDM9A1KP042788")]
    {
        labels[at..at + text.len()].copy_from_slice(text.as_bytes());
    }
    labels[0x120..0x128].copy_from_slice(&[0x01, 0x23, 0x45, 0x67, 0x89, 0x01, 0x23, 0x45]);
    place.file("labels.bin", labels);
    place.file("loose.hex", ":020000000102fb\n:00000001FF\n");
}

fn asked() -> Asked {
    let place = Place::with_samples();
    spoil(&place);
    let mut asked = Asked { place, objects: Vec::new() };
    let s = "samples/unit7-read1.bin";
    let mut lines: Vec<String> = [
        // Good and spoilt reads.
        "vet S samples/unit7-read2.bin --expect part_number=FK-CR8-2047B --chip 24C64",
        "vet S samples/unit7-read3-poor.bin --expect part_number=FK-CR8-2O47B",
        "vet S samples/unit9.bin",
        "vet header.bin mailed.bin listing.txt --each",
        "vet torn0.bin torn1.bin torn2.bin --majority @most.bin",
        "vet samples/unit7-wrong-size.bin --chip 24C64",
        "vet blank.bin line.bin stuck.bin swapped.bin mirrored.bin inverted.bin shifted.bin tail.bin --each",
        "vet cut.bin --layout frostkeel-cr8",
        "vet S --layouts twins",
        "vet samples copies.bin reserved.bin range.bin odd-digits.bin loose.bin no-end.s19 starts.hex gaps.hex absent.bin --each",
        "vet @.bin",
        // Proofs of a write.
        "vet samples/unit7-read2.bin --must-equal S",
        "vet half.bin --must-equal samples/unit7-serviced.bin --before S --chip 24C64",
        "vet S --must-equal samples/unit7-serviced.bin --before S",
        "vet block.bin --must-equal S",
        "vet bit.bin --must-equal S --chip 24C64",
        "vet wrapped.bin --must-equal S --chip 24C64",
        "vet @.bin --must-equal @.bin",
        // What the bytes mean.
        "show S",
        "show samples/unit7-broken-check.bin",
        "show cut.bin --layout layouts/frostkeel-cr8.ron",
        "show blank.bin",
        "show blank.bin --layout frostkeel-cr8",
        "show copies.bin reserved.bin range.bin odd-digits.bin",
        "show small-a.bin --layout lay/@small.ron",
        "show @.bin --field serial --layout lay/@.ron",
        "find samples/unit7-part-off.bin FK-CR8-2047B",
        "find S 2207140312",
        "find S ZZTOPQ99",
        "find S 220",
        "find @.bin FK-C",
        "nearest samples/unit7-read3-poor.bin samples",
        "nearest blank.bin S",
        "nearest samples/unit7-wrong-size.bin S",
        "nearest @.bin @2.bin",
        // Two sides.
        "compare S samples/unit9.bin",
        "compare S samples/unit7-read2.bin",
        "compare S samples/unit9.bin samples/unit7-read3-poor.bin --units 7,9,7",
        "compare S cut.bin --aligned",
        "compare S swapped.bin --layout none --aligned",
        "compare S moved.bin samples/unit9.bin --aligned --layout none",
        "compare @.bin @2.bin --layout lay/@.ron",
        "audit S samples/unit7-returned.bin",
        "audit S samples/unit7-serviced.bin",
        "audit samples/unit7-serviced.bin S",
        "audit S samples/unit7-read3-poor.bin",
        "audit S samples/unit7-part-off.bin --layout none",
        "audit S reserved.bin",
        "audit S cut.bin",
        "audit small-a.bin small-b.bin --layout lay/@small.ron",
        "audit blank.bin labels.bin",
        "audit S samples/unit9.bin --layout none",
        "audit @.bin @2.bin",
        "amend samples/unit7-broken-check.bin --reseal --dry-run",
        "amend S -o out.bin --set setpoint=3.5 --rest lockouts --reseal --save-changes kept.ron",
        "amend S -o out2.bin --rest all-records",
        "amend blank.bin -o out3.bin --bytes 0x10=41",
        "amend S --dry-run --set serial=2207140347",
        "amend @.bin -o @3.bin --set setpoint=3.5 --reseal --save-changes @kept.ron",
        // Unknown memories.
        "survey S",
        "survey S samples/unit9.bin samples/unit12.bin --layout none",
        "survey S samples/unit7-serviced.bin --pairs --layout none",
        "survey S samples/unit7-serviced.bin --in-time --layout none",
        "survey cut.bin S --layout none",
        "survey labels.bin",
        "survey @.bin @2.bin",
        "survey @a.bin --draft @draft.ron",
        "survey samples --each",
        "hunt small-a.bin small-b.bin small-c.bin",
        "hunt small-a.bin",
        "hunt blank.bin",
        "hunt @a.bin small-b.bin small-c.bin --into lay/@small.ron",
        // Files, tables, lists.
        "convert samples/unit7.hex out.s19",
        "convert holes.hex holes.s19",
        "convert loose.hex tight.bin",
        "convert samples/unit7.s19 out.hex --base 0x10000",
        "convert starts.hex starts.bin --fill 0xFF",
        "convert @.bin @.s19",
        "chips",
        "chips 564",
        "chips 24C64",
        "chips --bytes 8192",
        "checks",
        "checks CRC-16/XMODEM",
        "checks CRC-16/XMODEM S --over 0x100..0x1FE",
        "checks CRC-16/XMODEM @.bin",
        "checks CRC-16/XMODEM --text 123456789 --order big",
        "checks VIN",
        "checks VIN --text 1M8GDM9AXKP042788",
        "checks VIN --text 1M8GDM9A1KP042788",
        "checks VIN --text x",
        "layouts",
        "layouts --layouts twins",
        "layouts --layouts lay",
        "layouts layouts/frostkeel-cr8.ron twins/spoilt.ron lay/@.ron",
        "layouts more/over.ron",
        "layouts --explain",
        "layouts --explain Text",
        "settings",
        "settings mine.ron --start",
        "settings twins/spoilt.ron",
        "settings @s.ron --start",
        "samples new",
        "samples @new",
        // Records of jobs.
        "docket new job.ron --job store~3 --unit CR8 --part FK-CR8-2047B --serial 2207140312 --chip 24C64",
        "docket note job.ron pressure~switch~replaced",
        "docket label job.ron --serial 1",
        "docket image job.ron S --as read~1",
        "docket image job.ron out.bin --as gone",
        "docket image job.ron tail.bin --as changed",
        "vet S --docket job.ron",
        "docket new @job.ron --job x",
        "docket image @job.ron @.bin --as before",
        "docket check @job.ron",
        // What cannot be done.
        "show absent.bin",
        "show @absent",
        "tour",
        "manual",
        "completions bash",
        "layouts --print frostkeel-cr8",
        "vet --josn",
    ]
    .map(|line| line.replace("S ", &format!("{s} ")).replace(" S", &format!(" {s}")))
    .to_vec();
    for line in lines.drain(..) {
        asked.ask(&line);
    }
    std::fs::remove_file(asked.place.path("out.bin")).unwrap();
    asked.place.file("tail.bin", "other");
    let damaged = [asked.place.bytes("job.ron"), b"(at: \"x\", note: \n".to_vec()].concat();
    asked.place.file("job.ron", damaged);
    asked.ask("docket check job.ron");
    let streamed = asked.place.run_with(["vet", "-", "--docket", "s.ron", "--json"], b"few bytes", &[]);
    asked.objects.push(("vet -".to_owned(), streamed.json()));
    asked.ask("docket check s.ron");
    asked
}

/// What is stated at a place of the schema: each key of an object, each word of an enumeration.
fn stated(schema: &Value) -> BTreeSet<String> {
    fn walk(node: &Value, name: &str, stated: &mut BTreeSet<String>) {
        for (key, inner) in node["properties"].as_object().into_iter().flatten() {
            stated.insert(format!("{name}.{key}"));
            walk(inner, &format!("{name}.{key}"), stated);
        }
        for word in node["enum"].as_array().into_iter().flatten() {
            stated.insert(format!("{name} = {}", word.as_str().unwrap()));
        }
        if node["items"].is_object() {
            walk(&node["items"], name, stated);
        }
        for one in node["anyOf"].as_array().into_iter().flatten() {
            walk(one, name, stated);
        }
    }
    let mut stated = BTreeSet::new();
    for (name, definition) in schema["$defs"].as_object().unwrap() {
        walk(definition, name, &mut stated);
    }
    stated
}

/// Notes in `seen` what of the schema `value` uses.
fn see(schema: &Value, node: &Value, name: &str, value: &Value, seen: &mut BTreeSet<String>) {
    if let Some(to) = node["$ref"].as_str() {
        let name = to.rsplit('/').next().unwrap();
        return see(schema, &schema["$defs"][name], name, value, seen);
    }
    if let Some(word) = value.as_str().filter(|_| node["enum"].is_array()) {
        seen.insert(format!("{name} = {word}"));
    }
    for (key, inner) in value.as_object().into_iter().flatten() {
        if node["properties"].get(key).is_some() {
            seen.insert(format!("{name}.{key}"));
            see(schema, &node["properties"][key], &format!("{name}.{key}"), inner, seen);
        }
    }
    for item in value.as_array().into_iter().flatten().filter(|_| node["items"].is_object()) {
        see(schema, &node["items"], name, item, seen);
    }
    for one in node["anyOf"].as_array().into_iter().flatten() {
        see(schema, one, name, value, seen);
    }
}

/// What is stated but seen in none of the outputs above, and why; each must stay unseen, or it leaves the list.
const RARE: &[(&str, &str)] = &[
    (
        "byte-order = little",
        "the samples store what they check with the high byte first; tests/suite/hunt.rs",
    ),
    ("code = limit-reached", "needs a layout that unfolds into more fields than are kept; src/layout"),
    ("own-bytes = erased", "the samples have no such check; tests/suite/hunt.rs"),
    ("own-bytes = zeroed", "as that"),
    ("reach = a section, its value elsewhere", "the samples have no such check; src/hunt"),
    ("shift.kind = copied", "needs contents of which nothing else is a better match; src/compare"),
    ("survey.order = low byte first", "the samples store the high byte first; tests/suite/surveying.rs"),
    ("survey.regions.kind = date", "what memories hold that these are not; tests/suite/survey_truth.rs"),
    ("survey.regions.kind = digits", "as that"),
    ("survey.regions.kind = layout", "as that"),
    ("survey.regions.kind = length", "as that"),
    ("survey.regions.kind = pointer", "as that"),
    ("survey.regions.kind = records", "as that"),
    ("survey.regions.kind = vin-like", "as that"),
    ("survey.stretches.class = counter-like", "needs many units, or reads over time; src/survey"),
    ("survey.stretches.class = some-pairs", "needs several pairs; src/survey"),
];

#[test]
fn everything_that_is_printed_is_as_the_schema_says_and_everything_it_says_is_printed() {
    let schema = schema();
    let whole = validator(&schema, None);
    let asked = asked();
    let mut validators: BTreeMap<String, Validator> = BTreeMap::new();
    let (mut seen, mut wrong) = (BTreeSet::new(), Vec::new());
    for (line, object) in &asked.objects {
        let names = of_command(&schema, object["command"].as_str());
        let fitting = names.iter().find(|name| {
            let one = validators.entry((*name).clone()).or_insert_with(|| validator(&schema, Some(name)));
            one.is_valid(object)
        });
        match fitting {
            Some(name) => see(&schema, &json!({"$ref": format!("#/$defs/{name}")}), "", object, &mut seen),
            None => {
                let told = names.iter().flat_map(|name| {
                    let errors = validators[name].iter_errors(object);
                    errors
                        .take(4)
                        .map(|e| format!("  {name}{}: {e:.300}", e.instance_path()))
                        .collect::<Vec<_>>()
                });
                wrong.push(format!("readproof {line}\n{}", told.collect::<Vec<_>>().join("\n")));
            }
        }
        assert!(
            fitting.is_none() || whole.is_valid(object),
            "more than one kind of object: readproof {line}"
        );
    }
    assert!(wrong.is_empty(), "not as the schema says:\n{}", wrong.join("\n"));

    let rare: BTreeSet<String> = RARE.iter().map(|(what, _)| (*what).to_owned()).collect();
    let missing: Vec<_> =
        stated(&schema).difference(&seen).filter(|what| !rare.contains(*what)).cloned().collect();
    assert!(missing.is_empty(), "stated and never printed:\n{}", missing.join("\n"));
    let known = stated(&schema);
    let idle: Vec<_> = rare.iter().filter(|what| seen.contains(*what) || !known.contains(*what)).collect();
    assert!(idle.is_empty(), "not rare any more, or not stated: {idle:?}");

    refuses_what_is_broken(&schema, &whole, &asked.objects);
}

/// One output of each kind, broken in every place: a key too many, a key too few, a value of another type.
fn refuses_what_is_broken(schema: &Value, whole: &Validator, objects: &[(String, Value)]) {
    let mut tried = BTreeSet::new();
    let mut breaks = 0;
    for (_, object) in objects {
        let names = of_command(schema, object["command"].as_str());
        let name = names.iter().find(|name| validator(schema, Some(name)).is_valid(object)).unwrap();
        if !tried.insert(name.clone()) {
            continue;
        }
        for place in places(object) {
            let at = object.pointer(&place).unwrap();
            let mut broken: Vec<Value> = Vec::new();
            if let Some(inner) = at.as_object() {
                let mut more = inner.clone();
                more.insert("surprise".to_owned(), json!(1));
                broken.push(Value::Object(more));
                for key in inner.keys().filter(|key| !key.ends_with("_bytes")) {
                    let mut fewer = inner.clone();
                    fewer.remove(key);
                    // Entries of a docket have one of these each, a value has either.
                    if !["text", "label", "run", "summary", "set"].contains(&key.as_str()) {
                        broken.push(Value::Object(fewer));
                    }
                }
            }
            let anything = place.ends_with("/value") || place.contains("/value/");
            if !anything {
                broken.push(json!([[[1]]]));
            }
            for one in broken {
                let mut spoilt = object.clone();
                *spoilt.pointer_mut(&place).unwrap() = one;
                breaks += 1;
                assert!(!whole.is_valid(&spoilt), "passes although it is broken at {place:?}: {name}");
            }
        }
    }
    assert!(breaks > 500, "only {breaks} ways to break it were tried");
    for (at, wrong) in
        [("/verdict", "fine"), ("/findings/0/code", "made-up"), ("/findings/0/weight", "grave")]
    {
        let mut spoilt =
            objects.iter().find(|(line, _)| line.starts_with("vet samples/unit7-wrong")).unwrap().1.clone();
        *spoilt.pointer_mut(at).unwrap() = json!(wrong);
        assert!(!whole.is_valid(&spoilt), "{wrong:?} passes at {at}");
    }
}

/// Pointers to every object and value inside, of lists only to the first item.
fn places(value: &Value) -> Vec<String> {
    let mut all = vec![String::new()];
    let mut inner =
        |key: &str, value: &Value| all.extend(places(value).into_iter().map(|p| format!("/{key}{p}")));
    match value {
        Value::Object(object) => object.iter().for_each(|(key, value)| inner(key, value)),
        Value::Array(items) => items.iter().take(1).for_each(|item| inner("0", item)),
        _ => {}
    }
    all
}

#[test]
fn the_schema_lists_what_the_program_lists() {
    let schema = schema();
    let words = |name: &str| -> Vec<String> {
        let words = schema["$defs"][name]["enum"].as_array().unwrap();
        words.iter().map(|word| word.as_str().unwrap().to_owned()).collect()
    };
    assert_eq!(words("code"), Code::ALL.iter().map(|code| code.word()).collect::<Vec<_>>());
    let verdicts = [Verdict::Sound, Verdict::Doubtful, Verdict::Unsound];
    assert_eq!(words("verdict"), verdicts.map(Verdict::word));
    let told: BTreeSet<&str> = schema["$defs"]
        .as_object()
        .unwrap()
        .values()
        .filter_map(|d| d["properties"]["command"]["const"].as_str())
        .collect();
    let list = run(["manual", "--list"]).expect(0);
    let without = ["tour", "completions", "manual"];
    let commands: BTreeSet<&str> = list.out().lines().filter(|name| !without.contains(name)).collect();
    assert_eq!(told, commands);
    for (name, definition) in schema["$defs"].as_object().unwrap() {
        assert_eq!(
            definition["type"] == "object",
            definition["additionalProperties"] == false,
            "{name} is not strict"
        );
    }
}

#[test]
fn the_program_prints_the_schema_that_is_in_the_documentation() {
    let printed = run(["manual", "--schema"]).expect(0);
    assert_eq!(printed.out(), std::fs::read_to_string(package().join("docs/readproof.schema.json")).unwrap());
    let page = std::fs::read_to_string(package().join("docs/json.md")).unwrap();
    assert!(page.contains("readproof.schema.json") && page.contains("readproof manual --schema"));
}
