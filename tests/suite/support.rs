//! What the promises are checked with: a folder per test, runs of the program, the corpus of real images.

use std::ffi::OsString;
use std::fmt::Write as _;
use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Duration;

use readproof::cli::{self, Console};
use readproof::image::Image;
use readproof::store;
use readproof::tui::annotate::{InForce, Kept};
use readproof::tui::app::App;
use readproof::tui::player::Player;
use readproof::tui::sheet::Sheet;
use readproof::tui::theme::Look;

/// In front of a name: the first KiB of the sample, of which nobody knows what it is.
const UNKNOWN: &str = "unknown ";
/// In front of a name: all of the image, without a layout.
const PLAIN: &str = "plain ";

/// A sample as the editor opens it, named without a folder so that goldens hold on every machine.
fn sheet(place: &Place, name: &str) -> Sheet {
    let is_cut = name.starts_with(UNKNOWN);
    let bare = name.strip_prefix(UNKNOWN).or_else(|| name.strip_prefix(PLAIN));
    let (name, is_known) = bare.map_or((name, true), |name| (name, false));
    let path = place.path("samples").join(name);
    let opened = store::open(&path, &mut std::io::empty()).unwrap();
    let image = if is_cut { Image::raw(opened.image.bytes()[..1024].to_vec()) } else { opened.image };
    let mut sheet = Sheet::new(PathBuf::from("samples").join(name), image, opened.format);
    if is_known {
        sheet.judged.remarks = opened.remarks;
        let text = std::fs::read_to_string(place.path("layouts/frostkeel-cr8.ron")).unwrap();
        let in_force = InForce::of_text(PathBuf::from("frostkeel-cr8"), Kept::Shipped, &text);
        sheet.follow(in_force.unwrap_or_else(|p| panic!("{p:?}")));
    }
    sheet
}

/// What must come has come by then, on a slow machine that does other things too.
pub const DEADLINE: Duration = Duration::from_secs(60);

/// Whether this is a process in which only the test `name` runs; else runs it in such a one. For tests that write to a
/// file while it is mapped: whoever runs a command in the same process is told of it.
pub fn is_alone(name: &str) -> bool {
    const ALONE: &str = "READPROOF_TEST_ALONE";
    if std::env::var_os(ALONE).is_some() {
        return true;
    }
    let mut alone = Command::new(std::env::current_exe().unwrap());
    let run = alone.args(["--exact", name, "--nocapture"]).env(ALONE, "1").output().unwrap();
    let said = String::from_utf8_lossy(&run.stdout) + String::from_utf8_lossy(&run.stderr);
    assert!(run.status.success() && said.contains("1 passed"), "{said}");
    false
}

/// A session on samples, without a terminal.
pub fn player(place: &Place, names: &[&str], size: (u16, u16), look: Look) -> Player {
    let mut sheets: Vec<Sheet> = names.iter().map(|n| sheet(place, n)).collect();
    let first = sheets.remove(0);
    Player::new(App::new(first, sheets, size, look))
}

/// The folder of the package.
pub fn package() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// True when goldens are to be rewritten instead of compared.
pub fn rewriting() -> bool {
    std::env::var_os("READPROOF_REWRITE").is_some_and(|v| !v.is_empty() && v != "0")
}

/// A folder of its own for one test, removed with it.
pub struct Place {
    dir: tempfile::TempDir,
}

impl Place {
    /// An empty folder.
    pub fn empty() -> Self {
        Place { dir: tempfile::tempdir().expect("a temporary folder") }
    }

    /// A folder that holds copies of `samples/` and `layouts/`, as the commands of the README see them.
    pub fn with_samples() -> Self {
        let place = Self::empty();
        for folder in ["samples", "layouts"] {
            copy_folder(&package().join(folder), &place.path(folder));
        }
        place
    }

    /// The folder.
    pub fn root(&self) -> &Path {
        self.dir.path()
    }

    /// A path in the folder.
    pub fn path(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }

    /// Writes a file and returns its path.
    pub fn file(&self, name: &str, bytes: impl AsRef<[u8]>) -> PathBuf {
        let path = self.path(name);
        if let Some(parent) = path.parent() {
            fs::create_dir_all(parent).expect("a folder");
        }
        fs::write(&path, bytes).expect("a file");
        path
    }

    /// The bytes of a file in the folder.
    pub fn bytes(&self, name: &str) -> Vec<u8> {
        fs::read(self.path(name)).unwrap_or_else(|e| panic!("{name}: {e}\n{}", self.listing()))
    }

    /// Runs the real program in the folder, on `words`, with nothing to read.
    pub fn run<I: IntoIterator<Item = S>, S: Into<OsString>>(&self, words: I) -> Run {
        self.run_with(words, b"", &[])
    }

    /// Runs the real program in the folder, on `words`, with `input` to read and more of the environment.
    pub fn run_with<I: IntoIterator<Item = S>, S: Into<OsString>>(
        &self,
        words: I,
        input: &[u8],
        environment: &[(&str, &str)],
    ) -> Run {
        let words: Vec<OsString> = words.into_iter().map(Into::into).collect();
        let mut command = Command::new(env!("CARGO_BIN_EXE_readproof"));
        command.args(&words).current_dir(self.root());
        for variable in ["NO_COLOR", "CLICOLOR", "CLICOLOR_FORCE", "COLUMNS"] {
            command.env_remove(variable);
        }
        command.env("HOME", self.root()).env("XDG_CONFIG_HOME", self.path("config"));
        command.envs(environment.iter().copied());
        command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut child = command.spawn().expect("the program starts");
        // A program that does not read its input may close it early.
        let _ = child.stdin.take().expect("a pipe").write_all(input);
        let output = child.wait_with_output().expect("the program ends");
        Run {
            words,
            cwd: self.root().to_path_buf(),
            listing: self.listing(),
            status: output.status.code(),
            out: output.stdout,
            err: output.stderr,
        }
        .counts_well()
    }

    fn listing(&self) -> String {
        listing(self.root())
    }
}

/// Runs the program inside this process, in the folder of the package, with nothing to read.
pub fn run<I: IntoIterator<Item = S>, S: Into<OsString>>(words: I) -> Run {
    run_with(words, b"")
}

/// Runs the program inside this process, in the folder of the package, with `input` to read.
pub fn run_with<I: IntoIterator<Item = S>, S: Into<OsString>>(words: I, input: &[u8]) -> Run {
    let words: Vec<OsString> = words.into_iter().map(Into::into).collect();
    let (mut out, mut err, mut input) = (Vec::new(), Vec::new(), input);
    let mut console = Console::new(&mut out, &mut err, &mut input);
    let status = cli::run([OsString::from("readproof")].into_iter().chain(words.clone()), &mut console);
    let cwd = std::env::current_dir().expect("a current folder");
    Run { words, cwd, listing: String::new(), status: Some(i32::from(status)), out, err }.counts_well()
}

/// What the program counts, as more than one of it is called.
const COUNTED: &str = "bytes bits images fields places rows checks characters digits parts problems lines layouts columns \
                       records pieces words entries hits files reads gaps changes edits letters values units copies \
                       pages others regions chips layouts samples findings steps keys names";

/// One run of the program and what came of it.
pub struct Run {
    words: Vec<OsString>,
    cwd: PathBuf,
    listing: String,
    status: Option<i32>,
    out: Vec<u8>,
    err: Vec<u8>,
}

impl Run {
    /// Fails the test when one thing is told as many: `1 bytes`, `1 more places`.
    #[track_caller]
    fn counts_well(self) -> Self {
        for text in [&self.out, &self.err].map(|text| String::from_utf8_lossy(text)) {
            let words: Vec<&str> =
                text.split_whitespace().filter(|w| !matches!(*w, "more" | "other")).collect();
            let is_many = |word: &str| COUNTED.split(' ').any(|many| many == word);
            let wrong = words.windows(2).find(|pair| {
                let [number, noun] = [0, 1].map(|n| pair[n].trim_matches(|c: char| !c.is_alphanumeric()));
                // What is quoted is a name, as in the heading of a manual page.
                number == "1" && pair[0].ends_with('1') && is_many(noun) && !pair[1].starts_with('"')
            });
            assert!(wrong.is_none(), "{wrong:?}\n{self}");
        }
        self
    }

    /// The exit status; a death by signal fails the test.
    #[track_caller]
    pub fn status(&self) -> i32 {
        self.status.unwrap_or_else(|| panic!("killed by a signal\n{self}"))
    }

    /// Standard output as it came.
    pub fn bytes(&self) -> &[u8] {
        &self.out
    }

    /// Standard output as text.
    #[track_caller]
    pub fn out(&self) -> &str {
        std::str::from_utf8(&self.out).unwrap_or_else(|e| panic!("output is not UTF-8: {e}\n{self}"))
    }

    /// Standard error as text.
    #[track_caller]
    pub fn err(&self) -> &str {
        std::str::from_utf8(&self.err).unwrap_or_else(|e| panic!("errors are not UTF-8: {e}\n{self}"))
    }

    /// Standard output as one JSON object; anything else fails the test.
    #[track_caller]
    pub fn json(&self) -> serde_json::Value {
        let value = serde_json::from_str(self.out());
        value.unwrap_or_else(|e| panic!("output is not one JSON object: {e}\n{self}"))
    }

    /// Fails the test with everything about the run unless the status is `status`.
    #[track_caller]
    pub fn expect(self, status: i32) -> Self {
        assert!(self.status == Some(status), "expected exit status {status}\n{self}");
        self
    }

    /// Fails the test with everything about the run unless standard output has `text`.
    #[track_caller]
    pub fn says(self, text: &str) -> Self {
        assert!(self.out().contains(text), "expected on standard output: {text:?}\n{self}");
        self
    }

    /// Fails the test with everything about the run unless standard error has `text`.
    #[track_caller]
    pub fn complains(self, text: &str) -> Self {
        assert!(self.err().contains(text), "expected on standard error: {text:?}\n{self}");
        self
    }
}

impl std::fmt::Display for Run {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let words: Vec<_> = self.words.iter().map(|w| w.to_string_lossy()).collect();
        writeln!(f, "command: readproof {}", words.join(" "))?;
        writeln!(f, "in:      {}", self.cwd.display())?;
        f.write_str(&self.listing)?;
        writeln!(f, "status:  {:?}", self.status)?;
        writeln!(f, "--- standard output\n{}", String::from_utf8_lossy(&self.out))?;
        writeln!(f, "--- standard error\n{}", String::from_utf8_lossy(&self.err))
    }
}

fn copy_folder(from: &Path, to: &Path) {
    fs::create_dir_all(to).expect("a folder");
    for entry in fs::read_dir(from).into_iter().flatten() {
        let entry = entry.expect("an entry");
        let target = to.join(entry.file_name());
        if entry.file_type().expect("a file type").is_dir() {
            copy_folder(&entry.path(), &target);
        } else {
            fs::copy(entry.path(), &target).expect("a copy");
        }
    }
}

/// Copies everything in `from` into the folder of a test.
pub fn copy_into(place: &Place, from: &Path) {
    copy_folder(from, place.root());
}

fn listing(root: &Path) -> String {
    let mut text = String::new();
    for path in files_below(root) {
        let bytes = fs::metadata(&path).map_or(0, |m| m.len());
        let name = path.strip_prefix(root).unwrap_or(&path);
        let _ = writeln!(text, "         {bytes:>8}  {}", name.display());
    }
    text
}

/// Every file below `root`, sorted.
pub fn files_below(root: &Path) -> Vec<PathBuf> {
    let mut files = Vec::new();
    let mut folders = vec![root.to_path_buf()];
    while let Some(folder) = folders.pop() {
        let Ok(entries) = fs::read_dir(&folder) else { continue };
        for entry in entries.flatten() {
            let path = entry.path();
            match entry.file_type() {
                Ok(kind) if kind.is_dir() => folders.push(path),
                Ok(_) => files.push(path),
                Err(_) => {}
            }
        }
    }
    files.sort();
    files
}

/// The folder of real images with known facts, beside the package on machines that have it.
/// Where it is absent, says so in one line, and the test that asked goes without.
pub fn corpus() -> Option<PathBuf> {
    let folder = package().join("../shared/corpus");
    if folder.join("facts.json").is_file() {
        return Some(folder);
    }
    eprintln!("skipped: ../shared/corpus is not on this machine, so no real images were tried");
    None
}

/// Fails with a line-by-line difference unless the two texts are the same.
#[track_caller]
pub fn assert_same_text(what: &str, wanted: &str, got: &str) {
    if wanted == got {
        return;
    }
    let mut text = String::new();
    let (wanted_lines, got_lines): (Vec<_>, Vec<_>) = (wanted.lines().collect(), got.lines().collect());
    for at in 0..wanted_lines.len().max(got_lines.len()) {
        match (wanted_lines.get(at), got_lines.get(at)) {
            (Some(a), Some(b)) if a == b => {
                let _ = writeln!(text, "  {a}");
            }
            (a, b) => {
                for (sign, line) in [('-', a), ('+', b)] {
                    if let Some(line) = line {
                        let _ = writeln!(text, "{sign} {line}");
                    }
                }
            }
        }
    }
    panic!("{what}: not as committed (- committed, + now)\n{text}\nREADPROOF_REWRITE=1 rewrites it");
}
