//! How the parts know each other: reads the source and fails on an arrow against DEVELOPERS.md.
//!
//! What is read is code: comments and unit tests are left out, so documentation may name anything and unit tests
//! may read files.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

use crate::support::{files_below, package};

/// The shell; every other module of `src/` is core.
const SHELL: [&str; 5] = ["platform", "store", "report", "cli", "tui"];

/// One source file without its comments and unit tests.
struct Source {
    /// Path below `src/`, with slashes.
    path: String,
    /// The top module: `layout`; `lib` and `main` for those files.
    module: String,
    code: String,
}

impl Source {
    fn is_core(&self) -> bool {
        !SHELL.contains(&self.module.as_str()) && self.module != "lib" && self.module != "main"
    }

    /// The lines with `word` standing alone (`clap` is not in `clapper`, `std::fs` is not in `std::fsx`).
    fn naming<'a>(&'a self, word: &'a str) -> impl Iterator<Item = String> + 'a {
        self.code
            .lines()
            .enumerate()
            .filter(move |(_, line)| names(line, word))
            .map(move |(i, line)| format!("src/{}:{}: {}", self.path, i + 1, line.trim()))
    }
}

fn names(line: &str, word: &str) -> bool {
    let is_word = |c: char| c.is_alphanumeric() || c == '_';
    line.match_indices(word).any(|(at, _)| {
        let before = line[..at].chars().next_back();
        let after = line[at + word.len()..].chars().next();
        !before.is_some_and(is_word) && !after.is_some_and(is_word)
    })
}

/// `use crate::{image::Image, store}` as `crate::image::Image`, `crate::store`: one path a line, so that a module
/// cannot hide in braces.
fn spread(code: &str) -> String {
    let mut spread = String::new();
    let mut lines = code.lines();
    while let Some(line) = lines.next() {
        spread.push_str(line);
        spread.push('\n');
        let start = line.trim_start();
        if !(start.starts_with("use ") || start.starts_with("pub use ")) {
            continue;
        }
        let mut statement = line.to_owned();
        while !statement.contains(';') {
            let Some(more) = lines.next() else { break };
            statement.push(' ');
            statement.push_str(more.trim());
            spread.push('\n');
        }
        let path =
            statement.trim().trim_start_matches("pub ").trim_start_matches("use ").trim_end_matches(';');
        let paths = unfold(path.trim());
        spread.truncate(spread.trim_end_matches('\n').len());
        for path in paths {
            spread.push_str(&format!(" /*{path}*/"));
        }
        spread.push('\n');
    }
    spread
}

fn unfold(path: &str) -> Vec<String> {
    let Some(open) = path.find('{') else { return vec![path.to_owned()] };
    let (head, inside) = (&path[..open], path[open + 1..].trim_end_matches('}'));
    let (mut depth, mut item, mut items) = (0, String::new(), Vec::new());
    for c in inside.chars() {
        match c {
            '{' => depth += 1,
            '}' => depth -= 1,
            ',' if depth == 0 => {
                items.push(std::mem::take(&mut item));
                continue;
            }
            _ => {}
        }
        item.push(c);
    }
    items.push(item);
    let items = items.iter().map(|i| i.trim()).filter(|i| !i.is_empty());
    items.flat_map(|i| unfold(&format!("{head}{i}"))).collect()
}

fn sources() -> Vec<Source> {
    let root = package().join("src");
    let mut sources = Vec::new();
    for file in files_below(&root) {
        let path = file.strip_prefix(&root).unwrap().to_string_lossy().replace('\\', "/");
        // Unit tests in files of their own may read files and name the shell.
        if !path.ends_with(".rs") || is_unit_test(&file) {
            continue;
        }
        let text = fs::read_to_string(&file).unwrap();
        let code = text.split("#[cfg(test)]\nmod tests").next().unwrap_or_default();
        let code: String =
            code.lines().map(|l| format!("{}\n", l.split("//").next().unwrap_or(""))).collect();
        let module = path.split('/').next().unwrap_or("").trim_end_matches(".rs").to_owned();
        sources.push(Source { path, module, code: spread(&code) });
    }
    assert!(sources.len() > 20, "the source was not found");
    sources
}

/// Whether the file, or the folder it lies in, is declared as a module of tests.
fn is_unit_test(file: &Path) -> bool {
    let declared = |module: &Path| {
        let name = module.file_stem().unwrap_or_default().to_string_lossy();
        let parent = module.parent().map(|p| p.join("mod.rs")).unwrap_or_default();
        let text = fs::read_to_string(parent).unwrap_or_default();
        text.contains(&format!("#[cfg(test)]\nmod {name};"))
    };
    declared(file) || file.parent().is_some_and(declared)
}

/// Fails with every line where a file that `who` picks names one of `words`.
#[track_caller]
fn never(rule: &str, who: impl Fn(&Source) -> bool, words: &[&str]) {
    let sources = sources();
    let mut found = Vec::new();
    for source in sources.iter().filter(|s| who(s)) {
        for word in words {
            found.extend(source.naming(word));
        }
    }
    assert!(found.is_empty(), "{rule}\n{}", found.join("\n"));
}

#[test]
fn core_never_knows_the_shell() {
    never(
        "the core names a part of the shell",
        Source::is_core,
        &["crate::platform", "crate::store", "crate::report", "crate::cli", "crate::tui"],
    );
}

#[test]
fn core_never_knows_a_terminal_or_a_command_line() {
    let words = ["clap", "ratatui", "crossterm", "std::io::stdin", "std::io::stdout", "std::io::stderr"];
    never("the core names the terminal", Source::is_core, &words);
}

#[test]
fn core_never_knows_files_the_clock_the_environment_or_other_processes() {
    let words = [
        "std::fs",
        "std::env",
        "std::process",
        "std::net",
        "SystemTime",
        "Instant",
        "Zoned::now",
        "Timestamp::now",
        "memmap2",
    ];
    never("the core names the world outside", Source::is_core, &words);
}

#[test]
fn only_store_and_platform_know_the_file_system() {
    let others = |s: &Source| !["store", "platform"].contains(&s.module.as_str());
    never("std::fs is used outside store", others, &["std::fs", "memmap2"]);
}

/// In unit tests too; those of what only Unix has stand in one file.
#[test]
fn only_platform_asks_which_system_this_is() {
    const OF_UNIX: &str = "store/tests/";
    let asks = |line: &str| {
        ["target_os", "target_family"].iter().any(|word| names(line, word))
            || names(line, "cfg") && ["unix", "windows"].iter().any(|word| names(line, word))
    };
    let root = package().join("src");
    let mut found = Vec::new();
    for file in files_below(&root) {
        let path = file.strip_prefix(&root).unwrap().to_string_lossy().replace('\\', "/");
        let text = fs::read_to_string(&file).unwrap();
        let asking = text.lines().enumerate().filter(|(_, line)| asks(line));
        found.extend(asking.map(|(i, line)| format!("{path}:{}: {}", i + 1, line.trim())));
    }
    assert!(found.iter().any(|line| line.starts_with("platform/")), "the source was not found");
    found.retain(|line| !line.starts_with("platform/"));
    assert!(matches!(found.as_slice(), [one] if one.starts_with(OF_UNIX)), "{}", found.join("\n"));
}

#[test]
fn platform_never_knows_another_part() {
    never("platform names another part", |s| s.module == "platform", &["crate"]);
}

#[test]
fn store_never_knows_who_asks() {
    let words = ["crate::report", "crate::cli", "crate::tui", "clap", "ratatui", "crossterm"];
    never("store names what stands above it", |s| s.module == "store", &words);
}

#[test]
fn report_never_knows_files_or_who_prints() {
    let words = [
        "crate::platform",
        "crate::store",
        "crate::cli",
        "crate::tui",
        "clap",
        "ratatui",
        "crossterm",
        "std::env",
    ];
    never("report names what stands above or beside it", |s| s.module == "report", &words);
}

#[test]
fn commands_never_know_the_editor() {
    // The settings are the editor's own, and the tour is held in it.
    let commands = |s: &Source| {
        s.module == "cli" && !["cli/mod.rs", "cli/settings.rs", "cli/tour.rs"].contains(&s.path.as_str())
    };
    never("a command names the editor", commands, &["crate::tui", "ratatui"]);
}

#[test]
fn only_the_editor_knows_screens() {
    never("ratatui is used outside tui", |s| s.module != "tui", &["ratatui"]);
}

#[test]
fn only_report_store_and_the_file_form_of_layouts_know_serde() {
    let others = |s: &Source| !["report", "store", "layout"].contains(&s.module.as_str());
    never("serde is used elsewhere", others, &["serde", "serde_json"]);
}

#[test]
fn only_the_memory_map_and_the_handler_of_its_lost_pages_are_unsafe() {
    let others = |s: &Source| !["store/map.rs", "platform/unix.rs"].contains(&s.path.as_str());
    never("unsafe code elsewhere", others, &["unsafe", "unsafe_code"]);
}

#[test]
fn main_knows_only_the_command_line() {
    let words: Vec<String> = ["store", "report", "tui", "image"].map(|m| format!("readproof::{m}")).into();
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    never("main names more than cli", |s| s.module == "main", &words);
}

/// The modules of the core that each one names.
fn core_arrows() -> BTreeMap<String, BTreeSet<String>> {
    let sources = sources();
    let modules: BTreeSet<&str> = sources.iter().filter(|s| s.is_core()).map(|s| s.module.as_str()).collect();
    let mut arrows: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for source in sources.iter().filter(|s| s.is_core()) {
        let known = arrows.entry(source.module.clone()).or_default();
        for &other in modules.iter().filter(|&&m| m != source.module) {
            if source.naming(&format!("crate::{other}")).next().is_some() {
                known.insert(other.to_owned());
            }
        }
    }
    arrows
}

#[test]
fn no_two_modules_of_the_core_know_each_other_in_a_circle() {
    let mut arrows = core_arrows();
    // Take away modules that know nobody who is left; what remains is a circle.
    loop {
        let done: Vec<String> = arrows.iter().filter(|(_, k)| k.is_empty()).map(|(m, _)| m.clone()).collect();
        if done.is_empty() {
            break;
        }
        for module in &done {
            arrows.remove(module);
        }
        for known in arrows.values_mut() {
            known.retain(|m| !done.contains(m));
        }
    }
    assert!(arrows.is_empty(), "modules that know each other in a circle: {arrows:#?}");
}

#[test]
fn places_findings_and_errors_know_nobody_but_each_other() {
    for (module, known) in core_arrows() {
        if ["span", "finding", "error"].contains(&module.as_str()) {
            assert!(known.iter().all(|m| m == "span"), "{module} knows {known:?}");
        }
    }
}

#[test]
fn the_reader_of_arrows_sees_through_braces() {
    let code = spread("use crate::{\n    image::Image,\n    store::{open, save},\n};\nfn f() {}\n");
    assert!(names(&code, "crate::store::open") && names(&code, "crate::image"), "{code}");
    assert!(!names("use crate::storehouse;", "crate::store") && !names("myclap::x", "clap"));
    assert_eq!(code.lines().last(), Some("fn f() {}"));
}
