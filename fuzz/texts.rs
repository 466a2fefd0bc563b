//! Texts that people write: key scripts, settings, dockets and change lists are read or refused with a reason. What
//! is read of a change list is written and read again the same.
#![no_main]

use libfuzzer_sys::fuzz_target;
use readproof::store;
use readproof::tui::{script, settings};

fuzz_target!(|data: &[u8]| {
    let Ok(text) = std::str::from_utf8(data) else { return };
    if let Err(why) = script::script(text) {
        assert!(!why.is_empty());
    }
    let _ = settings::read(text);
    let folder = std::env::temp_dir().join(format!("readproof-fuzz-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("a scratch folder");
    let (file, again) = (folder.join("text"), folder.join("again"));
    std::fs::write(&file, data).expect("a scratch file");
    if let Ok(docket) = store::open_docket(&file) {
        assert!(docket.problems.iter().all(|problem| !problem.what.is_empty()));
    }
    if let Ok(list) = store::read_change_list(&file) {
        let _ = std::fs::remove_file(&again);
        store::save_change_list(&again, &list).expect("what was read can be written");
        let back = store::read_change_list(&again).expect("what was written can be read");
        assert_eq!(format!("{back:?}"), format!("{list:?}"));
    }
});
