//! Notes outlive the session that wrote them, and no session takes another one's.

use super::sessions::stems;
use super::*;
use crate::edit::{Change, Edit, Turn};

struct Scene {
    folder: tempfile::TempDir,
}

impl Scene {
    fn new() -> Scene {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("unit.bin"), [1]).unwrap();
        Scene { folder }
    }

    fn file(&self) -> PathBuf {
        self.folder.path().join("unit.bin")
    }

    /// The notes as a new session finds them.
    fn session(&self) -> Unsaved {
        Unsaved::within(self.folder.path().join("states").join("unsaved"))
    }

    fn notes(&self) -> usize {
        fs::read_dir(self.folder.path().join("states/unsaved")).map_or(0, Iterator::count)
    }
}

fn works(left: &[Left]) -> Vec<&[u8]> {
    left.iter().map(|l| l.work.as_slice()).collect()
}

#[test]
fn what_a_session_kept_is_left_when_it_ends_without_a_word_and_is_found_by_any_name_of_the_file() {
    let scene = Scene::new();
    let mut first = scene.session();
    first.keep(&scene.file(), "4 bytes", "layout", "board.ron", b"one\n\ntwo").unwrap();
    first.keep(&scene.file(), "4 bytes", "layout", "board\n.ron", b"three\n\n\xFF").unwrap();
    // As long as it lives, its work is nobody else's.
    assert!(scene.session().left(&scene.file(), "4 bytes", "layout").is_empty());
    drop(first);
    let other_name = scene.folder.path().join("states").join("..").join("unit.bin");
    let mut second = scene.session();
    assert!(second.left(&other_name, "4 bytes", "bytes").is_empty());
    let left = second.left(&other_name, "4 bytes", "layout");
    assert_eq!(works(&left), [b"three\n\n\xFF"]);
    assert_eq!(left[0].about, "board .ron");
    assert!(left[0].written.starts_with("20"), "{}", left[0].written);
    // Undecided, it is offered again.
    drop(second);
    let mut third = scene.session();
    let left = third.left(&scene.file(), "4 bytes", "layout");
    third.keep(&scene.file(), "4 bytes", "layout", "", b"mine").unwrap();
    third.discard(&left[0].note);
    drop(third);
    assert_eq!(works(&scene.session().left(&scene.file(), "4 bytes", "layout")), [b"mine"]);
}

#[test]
fn what_is_saved_or_given_up_leaves_nothing_behind() {
    let scene = Scene::new();
    let mut session = scene.session();
    session.forget(&scene.file(), "layout");
    session.keep(&scene.file(), "4 bytes", "layout", "", b"work").unwrap();
    assert_eq!(scene.notes(), 2);
    session.forget(&scene.file(), "layout");
    assert_eq!(scene.notes(), 0);
}

#[test]
fn two_sessions_on_one_file_keep_their_work_apart() {
    let scene = Scene::new();
    let (mut first, mut second) = (scene.session(), scene.session());
    first.keep(&scene.file(), "4 bytes", "layout", "", b"first").unwrap();
    second.keep(&scene.file(), "4 bytes", "layout", "", b"second").unwrap();
    second.forget(&scene.file(), "layout");
    second.keep(&scene.file(), "4 bytes", "layout", "", b"again").unwrap();
    drop((first, second));
    let mut left = scene.session().left(&scene.file(), "4 bytes", "layout");
    left.sort_by(|a, b| a.work.cmp(&b.work));
    assert_eq!(works(&left), [&b"again"[..], b"first"]);
}

#[test]
fn what_is_no_note_is_passed_over_and_stays() {
    let scene = Scene::new();
    let mut session = scene.session();
    session.keep(&scene.file(), "4 bytes", "layout", "", b"work").unwrap();
    let note = session.notes[0].path.clone();
    drop(session);
    for other in [&b""[..], b"something else\n\nof somebody", &[0xFF; 40]] {
        fs::write(&note, other).unwrap();
        assert!(scene.session().left(&scene.file(), "4 bytes", "layout").is_empty());
        assert_eq!(fs::read(&note).unwrap(), other);
    }
}

fn done(n: u8) -> Done {
    let edit = Edit { at: usize::from(n), before: vec![0], after: vec![n] };
    Done { turn: Turn::Made, change: Change { label: format!("step {n}"), edits: vec![edit] } }
}

fn told_by(left: &[Left]) -> Vec<Done> {
    let [left] = left else { panic!("{} notes", left.len()) };
    read_steps(&left.work).steps.into_iter().map(|s| s.done).collect()
}

#[test]
fn steps_are_added_to_a_journal_that_is_left_when_the_session_ends_without_a_word() {
    let scene = Scene::new();
    let mut session = scene.session();
    assert!(session.add(&scene.file(), "bytes", "1 byte", &[done(1), done(2)]).unwrap());
    assert!(!session.add(&scene.file(), "bytes", "other", &[done(3)]).unwrap());
    session.sync().unwrap();
    drop(session);
    let mut next = scene.session();
    let left = next.left(&scene.file(), "4 bytes", "bytes");
    assert_eq!((told_by(&left), left[0].about.as_str()), (vec![done(1), done(2), done(3)], "1 byte"));
    // What is saved is forgotten, and a new journal begins.
    next.discard(&left[0].note);
    next.add(&scene.file(), "bytes", "", &[done(4)]).unwrap();
    next.forget(&scene.file(), "bytes");
    next.add(&scene.file(), "bytes", "", &[done(5)]).unwrap();
    drop(next);
    assert_eq!(told_by(&scene.session().left(&scene.file(), "4 bytes", "bytes")), [done(5)]);
}

#[test]
fn work_on_a_file_that_was_moved_is_found_by_what_it_holds_and_work_on_another_one_is_not() {
    let scene = Scene::new();
    let holds = |path: &Path| Identity::of(path).unwrap().in_a_line();
    let was = holds(&scene.file());
    let mut session = scene.session();
    session.add(&scene.file(), "bytes", &was, &[done(1)]).unwrap();
    session.keep(&scene.file(), &was, "layout", "new board.ron", b"text").unwrap();
    drop(session);
    let [copy, moved, other] = ["copy.bin", "moved.bin", "other.bin"].map(|n| scene.folder.path().join(n));
    fs::copy(scene.file(), &copy).unwrap();
    fs::write(&other, [2]).unwrap();
    let left = |of: &Path, kind: &str| scene.session().left(of, &holds(of), kind);
    // As long as the file is where it was, a copy of it is another one.
    assert_eq!(left(&copy, "bytes"), []);
    let first = fs::canonicalize(scene.file()).unwrap();
    fs::rename(scene.file(), &moved).unwrap();
    for kind in ["bytes", "layout"] {
        let found = left(&moved, kind);
        assert!(matches!(found.as_slice(), [one] if one.of.as_ref() == Some(&first)), "{kind}: {found:?}");
        assert_eq!(left(&other, kind), [], "{kind}: it holds something else");
    }
    // Another file has taken the name: it is asked about by its name, and the moved one by what it holds.
    fs::write(scene.file(), [2]).unwrap();
    assert_eq!(left(&moved, "bytes").len(), 1);
    assert!(matches!(left(&scene.file(), "bytes").as_slice(), [one] if one.of.is_none()));
    // What is taken up is discarded by its note, wherever that came from.
    let mut session = scene.session();
    let note = session.left(&moved, &was, "bytes").remove(0).note;
    session.discard(&note);
    assert_eq!(left(&moved, "bytes"), []);
}

#[test]
fn editors_on_one_file_are_told_of_each_other_as_long_as_they_live() {
    let scene = Scene::new();
    let (mut first, mut second) = (scene.session(), scene.session());
    assert!(first.announce(&scene.file()).is_empty());
    assert!(first.announce(&scene.file()).is_empty(), "not of itself");
    let told = second.announce(&scene.file());
    let me = format!("process {}", std::process::id());
    assert!(matches!(told.as_slice(), [one] if one.starts_with(&me) && one.contains("since 20")), "{told:?}");
    assert_eq!(first.others(&scene.file()).len(), 1);
    drop(second);
    assert!(first.others(&scene.file()).is_empty());
    // A lock that a dead session left is nobody.
    fs::write(
        scene.folder.path().join("states/unsaved").join(format!("{}-9.lock", stems(&scene.file())[0])),
        "process 1",
    )
    .unwrap();
    assert!(first.others(&scene.file()).is_empty());
}
