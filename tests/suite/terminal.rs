//! The editor in a real pseudo-terminal: what it shows, and that the terminal is given back as it was found.

#![cfg(unix)]

use std::io::Read;
use std::time::{Duration, Instant};

use portable_pty::{CommandBuilder, PtySize, native_pty_system};

use crate::session::Session;
use crate::support::{DEADLINE, Place};

fn unit7(place: &Place, environment: &[(&str, &str)]) -> Session {
    let session = Session::editor(place.root(), &["samples/unit7-read1.bin"], environment);
    session.shows("? help");
    session
}

#[test]
fn the_whole_job_in_a_terminal_open_find_edit_reseal_undo_save_quit() {
    let place = Place::with_samples();
    let original = place.bytes("samples/unit7-read1.bin");
    let mut session = unit7(&place, &[]);
    session.shows("LOCKED");
    session.type_until(b"\x07", "Go to");
    session.type_until(b"settings.setpoint\r", "settings.setpoint  2.0 \u{b0}C");
    session.type_until(b"\x05", "press Ctrl-U to unlock");
    session.type_until(b"\x15", "unlocked");
    session.type_until(b"\x05", "New value");
    session.type_until(b"\x1599", "lies above 15");
    session.type_until(b"\x154\r", "checks broken");
    session.type_until(b"\x12", "modified");
    session.wait("every check sealed", |o| !o.parser.screen().contents().contains("broken"));
    session.type_until(b"\x1a", "Taken back");
    session.shows("broken");
    session.type_until(b"\x19", "Done again");
    session.type_until(b"\x13", "unit7-read1-changed.bin");
    session.type_until(b"\r", "Saved samples/unit7-read1-changed.bin: 8192 bytes");
    session.keys(b"\x11");
    assert!(session.end().success());
    session.is_as_before();

    assert_eq!(place.bytes("samples/unit7-read1.bin"), original, "the original is never touched");
    let saved = place.bytes("samples/unit7-read1-changed.bin");
    assert_eq!(saved[0x100..0x102], [0, 40], "4.0 degrees in tenths, most significant byte first");
    let shown = place.run(["show", "samples/unit7-read1-changed.bin", "--json"]).json();
    let sealed = shown["checks"].as_array().unwrap().iter().all(|c| c["sealed"] == true);
    assert!(sealed, "{shown:#}");
}

#[test]
fn a_signal_that_ends_the_program_leaves_the_terminal_as_it_was() {
    let place = Place::with_samples();
    // The numbers are those of POSIX (IEEE Std 1003.1, kill utility).
    for (name, word) in [("-TERM", "Terminated"), ("-HUP", "Hangup"), ("-QUIT", "Quit")] {
        let mut session = unit7(&place, &[]);
        session.type_until(b"m", "Mouse on");
        session.signal(name);
        let status = session.end();
        assert!(!status.success(), "{name}");
        let told = status.signal().unwrap_or_default().to_owned();
        assert!(told.contains(word), "{name} ended it by {told:?}");
        session.is_as_before();
    }
}

/// An editor that is in the middle of something: a prompt, a question, a page, work beside the keys.
///
/// What each shows comes with it.
fn busy(place: &Place) -> Vec<(&'static str, Session)> {
    let in_prompt = |keys: &[u8], shows: &str| {
        let mut session = unit7(place, &[]);
        session.type_until(keys, shows);
        session
    };
    let mut asked = unit7(place, &[]);
    asked.type_until(b"\x15", "unlocked");
    asked.type_until(b"5A", "*5A");
    asked.type_until(b"\x11", "not saved");
    // A text that is searched for in every way takes its time over so many bytes.
    std::fs::File::create(place.path("vast.bin")).unwrap().set_len(4 << 30).unwrap();
    let mut searching = Session::editor(place.root(), &["vast.bin"], &[]).patient();
    searching.shows("byte 1 of");
    searching.type_until(b"\x06\x15FK-CR8-2047B\r", "searching");
    vec![
        ("Go to", in_prompt(b"\x07", "Go to")),
        ("Esc", in_prompt(b"?", "Esc")),
        ("not saved", asked),
        ("byte 1 of", searching),
    ]
}

#[test]
fn signals_are_heeded_in_the_middle_of_a_prompt_a_page_a_question_and_of_work() {
    for name in ["-TERM", "-HUP"] {
        // What the sessions before left would be asked about.
        let place = Place::with_samples();
        for (what, mut session) in busy(&place) {
            session.signal(name);
            assert!(!session.end().success(), "{what}");
            session.is_as_before();
        }
    }
    let place = Place::with_samples();
    for (shows, session) in busy(&place) {
        session.signal("-TSTP");
        session.wait("the screen before", |o| !o.parser.screen().alternate_screen());
        session.is_as_before();
        session.is_stopped();
        session.signal("-CONT");
        session.wait("the screen as it was", |o| {
            o.parser.screen().alternate_screen() && o.screen().contains(shows)
        });
    }
}

#[test]
fn a_panic_leaves_the_terminal_as_it_was_and_tells_what_happened() {
    let place = Place::empty();
    // In the thread that draws, and in one that works beside it.
    for whose in ["own", "worker"] {
        let mut command = CommandBuilder::new(std::env::current_exe().unwrap());
        command.args(["--ignored", "--exact", "terminal::panics_in_a_terminal_when_asked_to", "--nocapture"]);
        let mut session = Session::of(command, place.root(), &[("READPROOF_TEST_PANIC", whose)]);
        let status = session.end();
        assert_eq!(status.exit_code(), 101, "{whose}");
        session.is_as_before();
        let raw = String::from_utf8_lossy(&session.raw()).into_owned();
        for off in ["\u{1b}[?1049l", "\u{1b}[?2004l", "\u{1b}[?1006l", "\u{1b}[?25h"] {
            assert!(raw.contains(off), "{whose}: {off:?} is missing");
        }
        let told = raw.rfind("asked to panic").expect("the message");
        assert!(told > raw.rfind("\u{1b}[?1049l").unwrap(), "the message is on the screen that was left");
    }
}

/// Not a test: the program that the test above runs in a terminal.
#[test]
#[ignore = "run by another test"]
fn panics_in_a_terminal_when_asked_to() {
    let Some(whose) = std::env::var_os("READPROOF_TEST_PANIC") else { return };
    readproof::tui::terminal::heed_panics();
    let mut terminal = readproof::tui::terminal::Terminal::take().unwrap();
    terminal.set_mouse(true).unwrap();
    if whose == "worker" {
        let worker = std::thread::spawn(|| panic!("asked to panic"));
        let _ = worker.join();
        std::thread::sleep(DEADLINE);
    }
    panic!("asked to panic");
}

/// The window is closed for good: nobody holds the other side any more, and the system sends the hang-up itself. Under
/// `nohup` the program begins with that signal ignored.
#[test]
fn a_closed_terminal_ends_the_program() {
    let place = Place::with_samples();
    for ignored in ["", "trap '' HUP; "] {
        let pair = native_pty_system().openpty(PtySize { rows: 24, cols: 80, ..PtySize::default() }).unwrap();
        let mut command = CommandBuilder::new("sh");
        let program = env!("CARGO_BIN_EXE_readproof");
        command.args(["-c", &format!("{ignored}exec '{program}' samples/unit7-read1.bin")]);
        command.cwd(place.root());
        command.env("TERM", "xterm-256color");
        command.env("HOME", place.root());
        let mut child = pair.slave.spawn_command(command).unwrap();
        drop(pair.slave);
        let mut reader = pair.master.try_clone_reader().unwrap();
        let (mut seen, mut buffer) = (String::new(), [0; 4096]);
        while !seen.contains("FKCR8") {
            let n = reader.read(&mut buffer).unwrap();
            assert!(n > 0, "it ended: {seen}");
            seen.push_str(&String::from_utf8_lossy(&buffer[..n]));
        }
        drop(reader);
        drop(pair.master);
        let end = Instant::now() + DEADLINE;
        while child.try_wait().unwrap().is_none() {
            if Instant::now() >= end {
                let _ = child.kill();
                panic!("it goes on without a terminal ({ignored:?})");
            }
            std::thread::sleep(Duration::from_millis(5));
        }
    }
}

#[test]
fn suspending_gives_the_terminal_back_and_resuming_paints_everything_again() {
    let place = Place::with_samples();
    let mut session = unit7(&place, &[]);
    session.keys(b"\x0bsuspend\r");
    session.wait("the screen before", |o| !o.parser.screen().alternate_screen());
    session.is_as_before();
    session.is_stopped();
    // The shell would do this.
    session.signal("-CONT");
    session.wait("the screen of the editor", |o| o.parser.screen().alternate_screen());
    session.shows("FKCR8");
    session.type_until(b"\x07", "Go to");
    session.keys(b"\x1b");
    session.wait("no dialog", |o| !o.parser.screen().contents().contains("Go to ─"));
    session.keys(b"\x11");
    assert!(session.end().success());
    session.is_as_before();
}

#[test]
fn a_stop_from_outside_gives_the_terminal_back_too_and_what_was_typed_is_there_afterwards() {
    let place = Place::with_samples();
    let mut session = unit7(&place, &[]);
    session.type_until(b"m", "Mouse on");
    session.type_until(b"\x15", "unlocked");
    session.type_until(b"c0ffee", "*C0*FF*EE");
    session.signal("-TSTP");
    session.wait("the screen before", |o| !o.parser.screen().alternate_screen());
    session.is_as_before();
    session.is_stopped();
    session.signal("-CONT");
    session.wait("the editor with its mouse", |o| {
        let screen = o.parser.screen();
        screen.alternate_screen()
            && screen.mouse_protocol_mode() != vt100::MouseProtocolMode::None
            && screen.bracketed_paste()
            && screen.contents().contains("*C0*FF*EE")
    });
    session.type_until(b"\x11", "not saved");
    session.keys(b"d");
    assert!(session.end().success());
    session.is_as_before();
}

#[test]
fn a_screen_that_something_else_wrote_on_is_painted_again() {
    let place = Place::with_samples();
    let mut session = unit7(&place, &[]);
    session.shows("FKCR8");
    let before = session.screen();
    session.output().parser.process(b"\x1b[1;1H\x1b[2Jsomething else");
    assert!(!session.screen().contains("FKCR8"));
    session.keys(b"\x0c");
    session.wait("every cell as it was", |o| o.parser.screen().contents() == before);
}

#[test]
fn without_colour_the_cursor_stays_visible_and_no_colour_is_sent() {
    let place = Place::with_samples();
    let session = unit7(&place, &[("NO_COLOR", "1"), ("COLORTERM", "truecolor")]);
    let output = session.output();
    let screen = output.parser.screen();
    let (row, column) = screen.cursor_position();
    assert!(screen.cell(row, column).unwrap().inverse(), "the byte under the cursor is not marked");
    assert!(!screen.hide_cursor());
    let raw = String::from_utf8_lossy(&output.raw).into_owned();
    for code in sgr_codes(&raw) {
        assert!(!matches!(code, 30..=38 | 40..=48 | 90..=107), "a colour was sent: {code}");
    }
}

/// The codes of every `CSI … m` (ECMA-48, SELECT GRAPHIC RENDITION).
fn sgr_codes(raw: &str) -> Vec<u32> {
    let sequences = raw.split("\u{1b}[").skip(1).filter_map(|s| {
        let end = s.find(|c: char| c.is_ascii_alphabetic())?;
        s[end..].starts_with('m').then(|| &s[..end])
    });
    sequences.flat_map(|s| s.split([';', ':'])).filter_map(|c| c.parse().ok()).collect()
}

#[test]
fn full_colour_is_sent_only_where_the_terminal_has_it_and_nothing_is_asked_of_it() {
    let place = Place::with_samples();
    for (environment, full) in [(&[("COLORTERM", "truecolor")][..], true), (&[][..], false)] {
        let session = unit7(&place, environment);
        let raw = String::from_utf8_lossy(&session.raw()).into_owned();
        assert_eq!(raw.contains("38;2;"), full);
        assert!(sgr_codes(&raw).contains(&38), "no colour at all");
        for (question, what) in [
            ("\u{1b}[6n", "where the cursor is"),
            ("\u{1b}]11;?", "the background"),
            ("\u{1b}[?u", "the keyboard protocol"),
            ("\u{1b}[>", "the keyboard protocol or version"),
            ("\u{1b}[c", "what it is"),
            ("\u{1b}[?1000h", "the mouse"),
        ] {
            assert!(!raw.contains(question), "the terminal was asked for {what}");
        }
    }
}

#[test]
fn an_idle_editor_sends_nothing_and_costs_nothing() {
    let place = Place::with_samples();
    let session = unit7(&place, &[]);
    let pid = session.pid();
    // Fields 14 and 15 of proc(5): user and system time in ticks.
    let Ok(stat) = std::fs::read_to_string(format!("/proc/{pid}/stat")) else {
        println!("skipped: this system tells no times of processes in /proc");
        return;
    };
    let ticks = |stat: &str| -> u64 {
        let fields = stat.rsplit(") ").next().unwrap_or("");
        fields.split(' ').skip(11).take(2).filter_map(|f| f.parse::<u64>().ok()).sum()
    };
    let spent = || ticks(&std::fs::read_to_string(format!("/proc/{pid}/stat")).unwrap());
    // What is worked out beside the keys ends at some time; it changes nothing that is shown of this image, so that
    // nothing is sent from the first frame on.
    let (end, first) = (Instant::now() + DEADLINE, session.raw().len());
    loop {
        let before = spent();
        std::thread::sleep(Duration::from_millis(1500));
        let (used, sent) = (spent() - before, session.raw().len() - first);
        println!("idle for 1.5 s: {used} ticks, {sent} bytes; at the start {} ticks", ticks(&stat));
        assert_eq!(sent, 0, "bytes were sent");
        if used <= 1 {
            break;
        }
        assert!(Instant::now() < end, "never idle: {used} ticks in 1.5 s");
    }
}

#[test]
fn a_key_sends_little_over_a_slow_line() {
    let place = Place::with_samples();
    let mut session = unit7(&place, &[]);
    session.type_until(b"\x1b[C", "0x0001");
    let before = session.raw().len();
    session.type_until(b"\x1b[C", "0x0002");
    let sent = session.raw().len() - before;
    println!("one step of the cursor: {sent} bytes");
    assert!(sent < 1500, "{sent} bytes");
}

#[test]
fn another_size_of_the_terminal_is_followed() {
    let place = Place::with_samples();
    let mut session = unit7(&place, &[]);
    for (rows, cols, text) in [(45, 140, "Findings"), (5, 20, "is needed"), (24, 80, "? help")] {
        session.resize(rows, cols);
        session.shows(text);
    }
    session.keys(b"\x11");
    assert!(session.end().success());
}

#[test]
fn pasted_text_is_data_whatever_it_holds() {
    let place = Place::with_samples();
    let mut session = unit7(&place, &[]);
    session.type_until(b"\x15", "unlocked");
    session.type_until(b"\x14", "Letters");
    session.type_until(b"\x1b[200~q:wq?\x1b[201~", "Pasted 5 bytes");
    session.type_until(b"\x1a", "Taken back");
    session.keys(b"\x11");
    assert!(session.end().success());
}

#[test]
fn an_image_from_standard_input_leaves_the_keys_to_the_terminal() {
    let place = Place::with_samples();
    let mut command = CommandBuilder::new("sh");
    let program = env!("CARGO_BIN_EXE_readproof");
    command.args(["-c", &format!("cat samples/unit7-read1.bin | '{program}' -")]);
    let mut session = Session::of(command, place.root(), &[]);
    session.shows("FKCR8");
    session.keys(b"\x11");
    assert!(session.end().success());
}

#[test]
fn what_cannot_be_opened_is_told_without_touching_the_terminal() {
    let place = Place::empty();
    let mut session = Session::editor(place.root(), &["none.bin"], &[]);
    session.wait("the error", |o| String::from_utf8_lossy(&o.raw).contains("none.bin"));
    assert_eq!(session.end().exit_code(), 2);
    assert!(!String::from_utf8_lossy(&session.raw()).contains("\u{1b}[?1049h"));
}

/// Vet, compare, amend, audit, the proof of the write, the record and its report, each in a terminal.
#[test]
fn the_whole_job_runs_in_a_terminal() {
    let place = Place::with_samples();
    let before = std::fs::read(place.path("samples/unit7-read1.bin")).unwrap();
    let read = "samples/unit7-read1.bin";
    let steps: [(&[&str], u32, &str); 10] = [
        (&["docket", "new", "job.ron", "--job", "Cold store 3"], 0, "job.ron"),
        (&["vet", read, "samples/unit7-read2.bin", "--docket", "job.ron"], 0, "sound"),
        (&["compare", read, "samples/unit7-returned.bin", "--docket", "job.ron"], 1, "serial"),
        (&["audit", read, "samples/unit7-returned.bin", "--docket", "job.ron"], 1, "not safe to write"),
        (
            &["amend", read, "--rest", "lockouts", "--reseal", "-o", "approved.bin", "--docket", "job.ron"],
            0,
            "safe to write",
        ),
        (&["audit", read, "approved.bin", "--docket", "job.ron"], 0, "safe to write"),
        // What was written is read back: here a copy of the approved file stands for the chip.
        (&["convert", "approved.bin", "read-back.bin"], 0, "read-back.bin"),
        (
            &["vet", "read-back.bin", "--must-equal", "approved.bin", "--docket", "job.ron"],
            0,
            "written exactly",
        ),
        (&["docket", "check", "job.ron"], 0, "as recorded"),
        (&["docket", "report", "job.ron"], 0, "Cold store 3"),
    ];
    for (words, status, says) in steps {
        let mut session = Session::editor(place.root(), words, &[("NO_COLOR", "1")]);
        let ended = session.end();
        let said = String::from_utf8_lossy(&session.raw()).split_whitespace().collect::<Vec<_>>().join(" ");
        assert_eq!(ended.exit_code(), status, "{words:?}\n{said}");
        assert!(said.contains(says), "{words:?} never said {says:?}\n{said}");
        session.is_as_before();
    }
    assert_eq!(std::fs::read(place.path(read)).unwrap(), before, "the original is as it was");
}

#[test]
fn an_unknown_memory_becomes_a_layout_in_a_terminal() {
    let place = Place::with_samples();
    std::fs::copy(place.path("samples/unit7-read1.bin"), place.path("unknown.bin")).unwrap();
    let mut session = Session::editor(place.root(), &["unknown.bin", "--layout", "none"], &[]).patient();
    session.shows("no layout");
    // The mark, by which images of this kind are known from now on.
    session.type_until(b"\x07", "Go to");
    session.type_until(b"0+5\ri", "Describe 0x0000, 5 bytes");
    session.type_until(b"mark\r", "Named mark at 0x0000");
    session.type_until(b"\x07", "Go to");
    session.type_until(b"0+5\r\x0bmark-layout\r", "a mark of the layout");
    // A proposal of the survey is looked over, those that are sure are accepted.
    session.type_until(b"v", "things proposed");
    session.type_until(b"i", "Describe");
    session.keys(b"\x1b");
    session.wait("the form closes", |o| !o.parser.screen().contents().contains("Describe"));
    session.type_until(b"A", "Accepted");
    session.type_until(b"\x07", "Go to");
    session.type_until(b"200+32\rg", "first row");
    session.type_until(b"lockouts\t16\t\tcause:1 2 hours:4\r", "Made the table lockouts of 16 rows");
    session.type_until(b"I", "The layout as a whole");
    session.type_until(b"Cold-room board\r", "Changed the title");
    session.type_until(b"\x0bsave-layout\r", "Save the layout as");
    session.type_until(b"\r", "Saved the layout as unknown.ron");
    session.keys(b"\x11");
    assert!(session.end().success());
    session.is_as_before();

    place.run(["layouts", "unknown.ron"]).says("no problems");
    // It lies beside the image and is found by its mark.
    let shown = place.run(["show", "unknown.bin", "--json"]).json();
    assert_eq!(shown["layout"]["title"], "Cold-room board", "{shown:#}");
    let values: Vec<String> =
        shown["fields"].as_array().unwrap().iter().map(|f| f["text"].to_string()).collect();
    assert!(values.iter().any(|v| v.contains("FK-CR8-2047B")), "{values:?}");
    place.run(["show", "unknown.bin"]).says("lockouts");
}

#[test]
fn work_on_a_layout_survives_a_kill_and_is_offered_the_next_time() {
    let place = Place::with_samples();
    std::fs::copy(place.path("samples/unit7-read1.bin"), place.path("unknown.bin")).unwrap();
    let words = ["unknown.bin", "--layout", "none"];
    let notes = place.path(".local/state/readproof/unsaved");
    let kept = || {
        let files = std::fs::read_dir(&notes).into_iter().flatten().flatten();
        let mut notes = files.filter(|f| f.path().extension().is_some_and(|e| e == "unsaved"));
        notes.any(|f| std::fs::read_to_string(f.path()).is_ok_and(|note| note.contains("serial_number")))
    };
    let mut session = Session::editor(place.root(), &words, &[]);
    session.shows("no layout");
    session.type_until(b"\x07", "Go to");
    session.type_until(b"50+5\ri", "Describe");
    session.type_until(b"serial_number\r", "Named serial_number");
    let end = Instant::now() + DEADLINE;
    while !kept() {
        assert!(Instant::now() < end, "nothing was kept");
        std::thread::yield_now();
    }
    session.signal("-KILL");
    session.end();

    let mut session = Session::editor(place.root(), &words, &[]);
    session.shows("Work on the layout of unknown.bin was not saved");
    session.type_until(b"t", "Taken up");
    session.shows("serial_number");
    session.type_until(b"\x0bsave-layout\r", "Save the layout as");
    session.type_until(b"\r", "Saved the layout");
    session.keys(b"\x11");
    assert!(session.end().success());
    assert_eq!(std::fs::read_dir(&notes).unwrap().count(), 0, "nothing is left to be offered");
    let saved = String::from_utf8(place.bytes("unknown.ron")).unwrap();
    assert!(saved.contains("serial_number"), "{saved}");
}
