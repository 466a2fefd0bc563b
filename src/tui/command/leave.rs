//! Leaving the editor: what is not saved is asked about, one thing after the other.
//!
//! Discard answers for one image or layout. It counts only when the program ends: whoever cancels over another one has
//! discarded nothing.

use super::{Command, USUAL, file, layouts, review};
use crate::tui::app::App;
use crate::tui::dialog::{About, Dialog, Question, Reply};
use crate::tui::effect::Effect;
use crate::tui::sheet::Sheet;
use crate::tui::theme::Tone;

/// The row of the table.
pub(super) const QUIT: Command = Command {
    name: "quit",
    keys: &["Ctrl-Q"],
    hint: "quit",
    doc: "Leave; asks first when something is not saved",
    act: |app, _| {
        app.given_up = GivenUp::default();
        leave(app)
    },
    ..USUAL
};

/// What need not be saved should the program end now: index and revision of each image. What is changed after the
/// answer, while another image is being saved, is asked about again.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct GivenUp {
    bytes: Vec<(usize, u64)>,
    layouts: Vec<(usize, u64)>,
}

/// Leaves, or asks about the first thing that is neither saved nor given up.
pub fn leave(app: &mut App) -> Effect {
    if app.images().iter().any(|i| i.contents.is_being_saved) {
        app.tell(Tone::Doubt, "The image is being saved; {leave} stops that");
        return Effect::None;
    }
    let first = |is: fn(&Sheet) -> bool, given_up: &[(usize, u64)]| {
        let mut open = app.images().iter().enumerate();
        open.find(|(i, sheet)| is(sheet) && !given_up.contains(&(*i, sheet.revision()))).map(|(i, _)| i)
    };
    let bytes = first(Sheet::is_modified, &app.given_up.bytes);
    let layout = first(Sheet::layout_is_modified, &app.given_up.layouts);
    let (index, whose, replies) = match (bytes, layout) {
        (Some(index), _) => (index, "", BYTES),
        (None, Some(index)) => (index, "The layout of ", LAYOUT),
        (None, None) => {
            let given_up = std::mem::take(&mut app.given_up);
            for (index, sheet) in app.images_mut().iter_mut().enumerate() {
                if given_up.bytes.contains(&(index, sheet.revision())) {
                    sheet.contents.history.mark_saved();
                }
                if given_up.layouts.contains(&(index, sheet.revision())) {
                    sheet.layout_given_up();
                }
            }
            return Effect::Quit;
        }
    };
    app.turn_to(index);
    app.dialog = Some(Dialog::Question(Question {
        title: format!("{whose}{} has changes that are not saved", app.it().file.name()),
        about: About::default(),
        remarks: if bytes.is_some() { review::warnings(app) } else { Vec::new() },
        replies,
        chosen: 0,
    }));
    Effect::None
}

const BYTES: &[Reply] = &[
    Reply { key: 's', word: "Save", act: |app, _| file::open_save(app, "", true) },
    Reply {
        key: 'd',
        word: "Discard",
        act: |app, _| {
            let discarded = (app.current(), app.it().revision());
            app.given_up.bytes.push(discarded);
            leave(app)
        },
    },
    Reply::CANCEL,
];

const LAYOUT: &[Reply] = &[
    Reply { key: 's', word: "Save", act: |app, _| layouts::open(app, "", true) },
    Reply {
        key: 'd',
        word: "Discard",
        act: |app, _| {
            let revision = |i: usize| app.images().get(i).map_or(0, |s| s.revision());
            let discarded: Vec<(usize, u64)> = app.sharing().into_iter().map(|i| (i, revision(i))).collect();
            app.given_up.layouts.extend(discarded);
            leave(app)
        },
    },
    Reply::CANCEL,
];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::author::begin;
    use crate::image::{Format, Image};
    use crate::tui::player::Player;
    use crate::tui::theme::Look;

    /// Two images with a change in each, and a layout of the second that is not saved.
    fn two() -> Player {
        let sheet = |name: &str| {
            let mut sheet = Sheet::new(name.into(), Image::raw(vec![0; 16]), Format::Raw);
            sheet.locked = false;
            sheet
        };
        let mut player =
            Player::new(App::new(sheet("a.bin"), vec![sheet("b.bin")], (80, 24), Look::default()));
        player.play("\"11\" Ctrl-O \"22\"").unwrap();
        player.app.write_layout("began", &begin("board")).unwrap();
        player
    }

    fn unsaved(player: &Player) -> Vec<(bool, bool)> {
        player.app.images().iter().map(|s| (s.is_modified(), s.layout_is_modified())).collect()
    }

    #[test]
    fn who_discards_one_image_and_cancels_over_another_has_discarded_nothing() {
        let mut player = two();
        let before = unsaved(&player);
        for keys in ["Ctrl-Q d c", "Ctrl-Q d d c", "Ctrl-Q d d Esc", "Ctrl-Q d s Esc"] {
            player.play(keys).unwrap();
            assert_eq!(unsaved(&player), before, "{keys}");
            assert!(!player.is_over && player.app.dialog.is_none(), "{keys}");
        }
        // And it is asked about all of it again.
        player.play("Ctrl-Q").unwrap();
        assert!(player.screen().contains("a.bin has changes"), "{}", player.screen());
    }

    #[test]
    fn what_is_discarded_is_given_up_when_the_program_ends() {
        let mut player = two();
        player.play("Ctrl-Q d d").unwrap();
        assert!(!player.is_over);
        player.play("d").unwrap();
        assert!(player.is_over);
        assert!(unsaved(&player).iter().all(|&(bytes, layout)| !bytes && !layout));
    }
}
