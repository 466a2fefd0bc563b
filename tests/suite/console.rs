//! Console sessions as text: commands after `$ `, what they print, and their exit status when it is not 0.
//!
//! ```text
//! $ readproof vet samples/unit7-part-off.bin --expect part_number=FK-CR8-2047B
//! unsound: ...
//! [exit status 1]
//! ```
//!
//! A session is played in a folder of its own; what comes out is a session again, so a golden is compared by
//! comparing texts and rewritten by writing the new one. Of a shell's language it knows quotes, `< FILE`,
//! `> FILE` and `| head -n N`.

use crate::support::Place;

/// How standard error is told apart.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Streams {
    /// As a person sees it: both streams, errors last.
    Seen,
    /// Lines of standard error start with `2> `.
    Marked,
}

/// Plays every command of `session` in `place`; returns the session with what they print now.
pub fn play(place: &Place, session: &str, streams: Streams) -> String {
    let mut played = String::new();
    for command in session.lines().filter_map(|l| l.strip_prefix("$ ")) {
        played.push_str(&format!("$ {command}\n"));
        played.push_str(&play_one(place, command, streams));
    }
    played
}

fn play_one(place: &Place, command: &str, streams: Streams) -> String {
    let line = parse(command);
    let input = line.input.map_or(Vec::new(), |f| place.bytes(&f));
    let run = place.run_with(&line.words, &input, &[]);
    let mut printed = match (&line.output, line.head) {
        (Some(file), _) => {
            place.file(file, run.out());
            String::new()
        }
        (None, Some(lines)) => run.out().lines().take(lines).map(|l| format!("{l}\n")).collect(),
        (None, None) => run.out().to_owned(),
    };
    if !printed.is_empty() && !printed.ends_with('\n') {
        printed.push_str("[no newline]\n");
    }
    for error in run.err().lines() {
        printed.push_str(if streams == Streams::Marked { "2> " } else { "" });
        printed.push_str(error);
        printed.push('\n');
    }
    // Temporary folders differ from run to run; a session never needs their names.
    let printed = printed.replace(&*place.root().to_string_lossy(), "FOLDER");
    match run.status() {
        0 => printed,
        status => format!("{printed}[exit status {status}]\n"),
    }
}

struct Line {
    words: Vec<String>,
    input: Option<String>,
    output: Option<String>,
    head: Option<usize>,
}

fn parse(command: &str) -> Line {
    let (command, head) = match command.split_once(" | head -n ") {
        Some((command, lines)) => (command, Some(lines.trim().parse().expect("a number of lines"))),
        None => (command, None),
    };
    let command = command.strip_prefix("cargo run --release -- ").unwrap_or_else(|| {
        command.strip_prefix("readproof").unwrap_or_else(|| panic!("not a command of ours: {command}"))
    });
    let mut line = Line { words: Vec::new(), input: None, output: None, head };
    let mut words = split(command).into_iter();
    while let Some(word) = words.next() {
        match word.as_str() {
            "<" => line.input = words.next(),
            ">" => line.output = words.next(),
            _ => line.words.push(word),
        }
    }
    line
}

/// Words as a shell splits them, both kinds of quotes known.
fn split(text: &str) -> Vec<String> {
    let (mut words, mut word, mut quote, mut open) = (Vec::new(), String::new(), None, false);
    for c in text.chars() {
        match (quote, c) {
            (Some(q), c) if c == q => quote = None,
            (None, '\'' | '"') => (quote, open) = (Some(c), true),
            (None, ' ') => {
                if open || !word.is_empty() {
                    words.push(std::mem::take(&mut word));
                }
                open = false;
            }
            (_, c) => word.push(c),
        }
    }
    if open || !word.is_empty() {
        words.push(word);
    }
    words
}

#[test]
fn a_session_splits_its_commands_as_a_shell_does() {
    assert_eq!(split(" a 'b c' \"d e\" '' f"), ["a", "b c", "d e", "", "f"]);
    let line = parse("readproof show - < in.bin > out.txt");
    assert_eq!(
        (line.words, line.input.as_deref()),
        (vec!["show".to_owned(), "-".to_owned()], Some("in.bin"))
    );
    assert_eq!(line.output.as_deref(), Some("out.txt"));
}
