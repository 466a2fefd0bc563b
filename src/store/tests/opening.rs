//! Opening and finding files.

use std::fs;
use std::io::{self, Read};
use std::path::Path;

use super::*;
use crate::image::Format;
use crate::store::Difference;

#[test]
fn the_format_is_told_by_content_never_by_the_ending() {
    let dir = tempfile::tempdir().unwrap();
    for (name, text, format) in [
        ("a.bin", ":01000000AA55\n:00000001FF\n", Format::IntelHex),
        ("b.hex", "S1040000AA51\nS9030000FC\n", Format::SRecord),
        ("c.s19", "plain bytes", Format::Raw),
    ] {
        let path = dir.path().join(name);
        fs::write(&path, text).unwrap();
        let opened = open_file(&path).unwrap();
        assert_eq!(opened.format, format, "{name}");
        assert_eq!(opened.sha256().unwrap(), Sha256::of(text.as_bytes()), "{name}");
        assert_eq!(opened.identity.unwrap().bytes, text.len() as u64);
    }
}

#[test]
fn a_large_file_of_records_is_what_it_is_when_it_is_looked_at_again() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("large.s19");
    let image = crate::image::Image::raw(vec![0x5A; 2 << 20]);
    let (text, _) = crate::image::write(&image, Format::SRecord, crate::image::Writing::default()).unwrap();
    fs::write(&path, text).unwrap();
    assert_eq!(open_file(&path).unwrap().identity.unwrap(), Identity::of(&path).unwrap());
}

#[test]
fn what_is_no_image_is_refused_in_words_that_name_it() {
    let dir = tempfile::tempdir().unwrap();
    let empty = dir.path().join("empty.bin");
    fs::write(&empty, "").unwrap();
    assert!(refused(&empty).contains("empty.bin: there are no bytes in it"));
    assert!(refused(dir.path()).contains("this is a folder"));
    assert!(refused(&dir.path().join("absent.bin")).contains("absent.bin: there is no such file"));
    assert!(refused(&empty.join("below")).contains("a part of the path is a file"));
}

#[test]
fn a_dash_reads_standard_input_once_and_has_no_file_to_come_back_to() {
    let opened = open(Path::new("-"), &mut &b":01000000AA55\n:00000001FF\n"[..]).unwrap();
    assert_eq!((opened.format, opened.image.bytes()), (Format::IntelHex, &[0xAA][..]));
    assert_eq!((opened.changed_on_disk(), opened.identity.clone()), (Ok(None), None));
    let error = open(Path::new("-"), &mut io::empty()).unwrap_err();
    assert_eq!(error.place.as_deref(), Some("standard input"));
}

#[test]
fn a_failing_stream_is_an_error() {
    struct Failing;
    impl Read for Failing {
        fn read(&mut self, _: &mut [u8]) -> io::Result<usize> {
            Err(io::Error::other("the cable came off"))
        }
    }
    let error = open(Path::new("-"), &mut Failing).unwrap_err();
    assert!(error.to_string().contains("the cable came off"), "{error}");
}

#[test]
fn a_record_file_with_problems_tells_all_of_them_with_their_places() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("unit7.hex");
    fs::write(&path, ":0100000001FF\n:01000006AA4F\n:00000001FF\n").unwrap();
    let error = open_file(&path).unwrap_err();
    assert_eq!(error.place, Some(format!("{}:1:12", path.display())));
    assert!(error.what.contains("the checksum is 0xFF, but the record's bytes give 0xFE"));
    assert!(error.advice.unwrap().contains("unit7.hex:2:8: the record type is 06"));
}

#[test]
fn a_large_raw_image_is_mapped_and_changing_it_changes_no_file() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("large.bin");
    let bytes = (4u64 << 30) + 3;
    let file = fs::File::create(&path).unwrap();
    file.set_len(bytes).unwrap();
    let mut opened = open_file(&path).unwrap();
    assert_eq!((opened.image.len() as u64, opened.format), (bytes, Format::Raw));
    let mut history = crate::edit::History::new();
    let last = opened.image.len() - 1;
    for at in [5, last] {
        let change = crate::edit::Change::overwrite(&opened.image, "write", at, vec![0x5A]).unwrap();
        history.apply(&mut opened.image, change, crate::edit::Joining::Separate).unwrap();
        assert_eq!(opened.image.bytes()[at], 0x5A);
    }
    let mut copy = opened.image.clone();
    history.undo(&mut opened.image).unwrap();
    assert_eq!((opened.image.bytes()[5], opened.image.bytes()[last]), (0x5A, 0));
    copy.write(5, &[1]);
    copy.write(last, &[2, 3]);
    assert_eq!((copy.bytes()[5], copy.bytes()[last]), (1, 2), "a copy is changed on its own");
    assert_eq!((copy.clone().bytes()[last], opened.image.bytes()[5]), (2, 0x5A));
    let mut head = [0; 8];
    fs::File::open(&path).unwrap().read_exact(&mut head).unwrap();
    assert_eq!(head, [0; 8], "the file on disk is untouched");
    assert_eq!(opened.changed_on_disk(), Ok(None));
}

#[test]
fn a_mapped_image_is_saved_over_its_own_file_and_goes_on() {
    let _asking = asking();
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("own.bin");
    fs::File::create(&path).unwrap().set_len(65 << 20).unwrap();
    let mut opened = open_file(&path).unwrap();
    opened.image.write(64 << 20, &[7]);
    let over = Over { was: opened.identity.as_ref(), keep_original: false, read_only_too: false };
    let saved = save_over(&path, opened.image.bytes(), over).unwrap();
    opened.identity = Some(saved.identity);
    assert_eq!((opened.unchanged(), opened.image.bytes()[64 << 20]), (Ok(()), 7));
    assert_eq!(open_file(&path).unwrap().image.bytes()[64 << 20], 7);
    assert_eq!(still_there(), Ok(()));
}

#[test]
fn a_file_over_the_limit_is_refused_before_it_is_read() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("vast.bin");
    fs::File::create(&path).unwrap().set_len(MAX_RAW_BYTES + 1).unwrap();
    assert!(refused(&path).contains("17179869185 bytes; at most 17179869184"));
}

#[test]
fn a_file_that_changes_after_it_was_opened_is_noticed() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("unit7.bin");
    fs::write(&path, "abc").unwrap();
    let opened = open_file(&path).unwrap();
    assert_eq!(opened.unchanged(), Ok(()));
    fs::write(&path, "abc").unwrap();
    assert_eq!(opened.unchanged(), Ok(()), "the same contents are the same file");
    fs::write(&path, "abd").unwrap();
    assert!(opened.changed_on_disk().unwrap().unwrap().to_string().contains("other contents"));
    fs::remove_file(&path).unwrap();
    assert_eq!(opened.changed_on_disk(), Ok(Some(Difference::Gone)));
    assert!(opened.unchanged().is_err());
}

#[test]
fn layouts_are_found_in_the_named_folder_and_beside_the_image() {
    let dir = tempfile::tempdir().unwrap();
    let (named, beside) = (dir.path().join("named"), dir.path().join("beside"));
    for folder in [&named, &beside] {
        fs::create_dir(folder).unwrap();
    }
    fs::write(named.join("cr8.ron"), "(layout: \"mine\")").unwrap();
    fs::write(beside.join("cr8.ron"), "(layout: \"hidden by the first of its name\")").unwrap();
    fs::write(beside.join("other.ron"), "(layout: \"other\")").unwrap();
    fs::write(beside.join("job.ron"), "(docket: 1)").unwrap();
    fs::write(beside.join("notes.txt"), "layout: no").unwrap();
    let image = beside.join("unit7.bin");
    let found = layouts(Some(&named), &[&image, Path::new("-")]).unwrap();
    let own: Vec<(&str, &str)> = found
        .iter()
        .filter(|l| l.path.as_ref().is_some_and(|p| p.starts_with(dir.path())))
        .map(|l| (l.name.as_str(), l.text.as_str()))
        .collect();
    assert_eq!(own, [("cr8", "(layout: \"mine\")"), ("other", "(layout: \"other\")")]);
    assert_eq!(layout_file(Path::new("other"), &found).unwrap().path, Some(beside.join("other.ron")));
    assert!(layout_file(Path::new("nobody"), &found).is_err());
    assert!(layouts(Some(&dir.path().join("absent")), &[]).is_err(), "a folder that was named must be there");
}

#[test]
fn a_layout_that_is_no_text_is_refused_with_its_line() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("bad.ron");
    fs::write(&path, b"(\n layout: \"\xB0C\")").unwrap();
    let error = layout_file(&path, &[]).unwrap_err();
    assert!(error.to_string().contains("bad.ron:2: the byte 0xB0 is no UTF-8 text"), "{error}");
}
