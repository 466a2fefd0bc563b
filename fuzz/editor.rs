//! Any keys on any image at any size: every screen can be drawn and says where one is, and undoing everything gives
//! the first bytes. What the keys ask for outside the editor (files, the clipboard) is not done.
#![no_main]

use std::path::PathBuf;

use libfuzzer_sys::fuzz_target;
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use readproof::image::{Format, Image};
use readproof::tui::app::App;
use readproof::tui::input::{Code, Input, Key, Mouse, MouseAct};
use readproof::tui::player::text;
use readproof::tui::sheet::Sheet;
use readproof::tui::theme::Look;
use readproof::tui::{update, view};

fn input(kind: u8, value: u8) -> Input {
    let key = |code| Input::Key(Key { code, ctrl: kind & 0x10 != 0, alt: kind & 0x20 != 0, shift: kind & 0x40 != 0 });
    match kind & 0x0F {
        0..=3 => key(Code::Char(char::from(value & 0x7F))),
        4 => key(Code::Enter),
        5 => key(Code::Esc),
        6 => key([Code::Up, Code::Down, Code::Left, Code::Right][usize::from(value & 3)]),
        7 => key([Code::PageUp, Code::PageDown, Code::Home, Code::End][usize::from(value & 3)]),
        8 => key([Code::Tab, Code::Enter, Code::Backspace, Code::Delete][usize::from(value & 3)]),
        9 => key(Code::F(value % 13)),
        10 => Input::Size(u16::from(value), u16::from(value) / 3),
        11 => Input::Paste(char::from(value).to_string().repeat(usize::from(value))),
        12 => Input::Mouse(Mouse {
            act: [MouseAct::Press, MouseAct::Drag, MouseAct::WheelUp, MouseAct::WheelDown][usize::from(value & 3)],
            column: u16::from(value),
            row: u16::from(value) / 8,
        }),
        _ => key(Code::Char(['é', '長', '\u{301}', '\u{202E}'][usize::from(value & 3)])),
    }
}

fuzz_target!(|data: &[u8]| {
    let [size, rest @ ..] = data else { return };
    let (bytes, keys) = rest.split_at(rest.len().min(usize::from(*size)));
    let sheet = Sheet::new(PathBuf::from("no such folder/fuzzed.bin"), Image::raw(bytes.to_vec()), Format::Raw);
    let mut app = App::new(sheet, vec![], (80, 24), Look::default());
    app.it_mut().locked = false;
    for pair in keys.chunks_exact(2).take(200) {
        let _ = update::update(&mut app, input(pair[0], pair[1]));
        app.images_mut().iter_mut().for_each(Sheet::judge);
        let mut terminal = Terminal::new(TestBackend::new(app.size.0, app.size.1)).expect("a screen");
        let draw = |frame: &mut ratatui::Frame<'_>| {
            view::draw(&app, frame);
        };
        terminal.draw(draw).expect("a frame");
        assert!(app.it().cursor.at <= app.it().image().len());
        let _ = text(terminal.backend().buffer());
    }
    while let Ok(Some(_)) = app.it_mut().undo() {}
    assert_eq!(app.it().image().bytes(), bytes);
});
