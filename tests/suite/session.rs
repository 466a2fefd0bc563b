//! A program in a pseudo-terminal of its own: what it shows, what it sends, how it ends.
//!
//! Nothing here waits for a time; it waits for a text on the screen, until a deadline.

#![cfg(unix)]

use std::io::{Read, Write};
use std::path::Path;
use std::process::Command;
use std::sync::{Arc, Condvar, Mutex, MutexGuard};
use std::time::{Duration, Instant};

use portable_pty::{Child, CommandBuilder, ExitStatus, MasterPty, PtySize, native_pty_system};

use crate::support::DEADLINE;

/// What came out so far.
pub struct Output {
    pub parser: vt100::Parser,
    pub raw: Vec<u8>,
    is_over: bool,
}

/// A program in a terminal of its own.
pub struct Session {
    master: Option<Box<dyn MasterPty + Send>>,
    writer: Option<Box<dyn Write + Send>>,
    child: Box<dyn Child + Send + Sync>,
    output: Arc<(Mutex<Output>, Condvar)>,
    termios: String,
    deadline: Duration,
}

impl Output {
    /// What the screen shows.
    pub fn screen(&self) -> String {
        self.parser.screen().contents()
    }

    /// Whether the screen is one that the program meant to be seen: no frame is half drawn. Frames stand between the
    /// sequences of a synchronized update (private mode 2026).
    fn is_whole(&self) -> bool {
        let mut marks = self.raw.windows(8).rev().filter(|w| w.starts_with(b"\x1b[?2026"));
        self.is_over || marks.next().is_none_or(|mark| mark.ends_with(b"l"))
    }
}

impl Session {
    pub fn of(mut command: CommandBuilder, folder: &Path, environment: &[(&str, &str)]) -> Session {
        let (rows, cols) = (24, 80);
        let pair = native_pty_system().openpty(PtySize { rows, cols, ..PtySize::default() }).unwrap();
        command.cwd(folder);
        command.env_clear();
        command.env("TERM", "xterm-256color");
        command.env("PATH", std::env::var("PATH").unwrap_or_default());
        command.env("HOME", folder);
        for (name, value) in environment {
            command.env(name, value);
        }
        let termios = format!("{:?}", pair.master.get_termios());
        let child = pair.slave.spawn_command(command).unwrap();
        // The end is seen only when nobody else holds the other side.
        drop(pair.slave);
        let output = Arc::new((
            Mutex::new(Output { parser: vt100::Parser::new(rows, cols, 0), raw: vec![], is_over: false }),
            Condvar::new(),
        ));
        let mut reader = pair.master.try_clone_reader().unwrap();
        let shared = Arc::clone(&output);
        std::thread::spawn(move || {
            let mut buffer = [0; 4096];
            loop {
                let n = reader.read(&mut buffer).unwrap_or(0);
                let mut output = shared.0.lock().unwrap();
                output.parser.process(&buffer[..n]);
                output.raw.extend(&buffer[..n]);
                output.is_over = n == 0;
                shared.1.notify_all();
                if n == 0 {
                    break;
                }
            }
        });
        let writer = pair.master.take_writer().unwrap();
        Session {
            master: Some(pair.master),
            writer: Some(writer),
            child,
            output,
            termios,
            deadline: DEADLINE,
        }
    }

    /// Waits longer for what must come.
    pub fn patient(mut self) -> Session {
        self.deadline *= 3;
        self
    }

    pub fn pid(&self) -> u32 {
        self.child.process_id().unwrap()
    }

    pub fn editor(folder: &Path, words: &[&str], environment: &[(&str, &str)]) -> Session {
        let mut command = CommandBuilder::new(env!("CARGO_BIN_EXE_readproof"));
        command.args(words);
        Session::of(command, folder, environment)
    }

    pub fn keys(&mut self, bytes: &[u8]) {
        let writer = self.writer.as_mut().unwrap();
        writer.write_all(bytes).unwrap();
        writer.flush().unwrap();
    }

    /// What came out so far.
    pub fn output(&self) -> MutexGuard<'_, Output> {
        self.output.0.lock().unwrap()
    }

    /// Gives the terminal another size.
    pub fn resize(&self, rows: u16, cols: u16) {
        self.output().parser.screen_mut().set_size(rows, cols);
        self.master.as_ref().unwrap().resize(PtySize { rows, cols, ..PtySize::default() }).unwrap();
    }

    /// Waits until `wanted` holds for what came out, at the end of a frame.
    #[track_caller]
    pub fn wait(&self, what: &str, wanted: impl Fn(&Output) -> bool) {
        let end = Instant::now() + self.deadline;
        let mut output = self.output.0.lock().unwrap();
        while !(wanted(&output) && output.is_whole()) {
            let left = end.saturating_duration_since(Instant::now());
            assert!(!left.is_zero(), "never came: {what}\n{}", output.parser.screen().contents());
            assert!(!output.is_over, "ended before: {what}\n{}", String::from_utf8_lossy(&output.raw));
            output = self.output.1.wait_timeout(output, left).unwrap().0;
        }
    }

    #[track_caller]
    pub fn shows(&self, text: &str) {
        self.wait(text, |o| o.parser.screen().contents().contains(text));
    }

    /// Types and waits for what must show then.
    #[track_caller]
    pub fn type_until(&mut self, bytes: &[u8], text: &str) {
        self.keys(bytes);
        self.shows(text);
    }

    pub fn signal(&self, name: &str) {
        let pid = self.child.process_id().unwrap().to_string();
        assert!(Command::new("kill").args([name, &pid]).status().unwrap().success());
    }

    #[track_caller]
    pub fn end(&mut self) -> ExitStatus {
        let end = Instant::now() + DEADLINE;
        loop {
            if let Some(status) = self.child.try_wait().unwrap() {
                // The last bytes can still be under way.
                let mut output = self.output.0.lock().unwrap();
                while !output.is_over && Instant::now() < end {
                    output = self.output.1.wait_timeout(output, Duration::from_millis(100)).unwrap().0;
                }
                return status;
            }
            assert!(Instant::now() < end, "it never ended\n{}", self.screen());
            std::thread::yield_now();
        }
    }

    pub fn screen(&self) -> String {
        self.output.0.lock().unwrap().parser.screen().contents()
    }

    pub fn raw(&self) -> Vec<u8> {
        self.output.0.lock().unwrap().raw.clone()
    }

    /// Fails unless the terminal is as it was before the program started.
    #[track_caller]
    pub fn is_as_before(&self) {
        let now = || format!("{:?}", self.master.as_ref().unwrap().get_termios());
        // It is given back after the last byte was written, which can have come here already.
        let end = Instant::now() + DEADLINE;
        while now() != self.termios && Instant::now() < end {
            std::thread::yield_now();
        }
        assert_eq!(now(), self.termios, "echo, line editing or the like differ");
        self.wait_quietly(|screen| {
            !screen.alternate_screen()
                && !screen.hide_cursor()
                && !screen.bracketed_paste()
                && screen.mouse_protocol_mode() == vt100::MouseProtocolMode::None
        });
    }

    /// Fails unless the program stands still, as the shell sees it; where the system does not tell, nothing is asked.
    #[track_caller]
    pub fn is_stopped(&self) {
        let stat = format!("/proc/{}/stat", self.child.process_id().unwrap());
        let end = Instant::now() + DEADLINE;
        // Field 3 of proc(5): T for stopped.
        while std::fs::read_to_string(&stat)
            .is_ok_and(|s| !s.rsplit(") ").next().unwrap_or("").starts_with('T'))
        {
            assert!(Instant::now() < end, "it goes on");
            std::thread::sleep(Duration::from_millis(2));
        }
    }

    #[track_caller]
    fn wait_quietly(&self, wanted: impl Fn(&vt100::Screen) -> bool) {
        let end = Instant::now() + DEADLINE;
        let mut output = self.output.0.lock().unwrap();
        while !(wanted(output.parser.screen()) && output.is_whole()) {
            let left = end.saturating_duration_since(Instant::now());
            assert!(!left.is_zero() && !output.is_over, "the screen was left as the editor's");
            output = self.output.1.wait_timeout(output, left).unwrap().0;
        }
    }
}

impl Drop for Session {
    fn drop(&mut self) {
        let _ = self.child.kill();
    }
}
