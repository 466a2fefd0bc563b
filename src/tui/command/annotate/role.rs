//! Roles: choosing one, and showing only the fields of one.

use crate::layout::Role;
use crate::report::text;
use crate::tui::app::App;
use crate::tui::dialog::{Ask, Choice, Prompt, Remark};
use crate::tui::effect::Effect;
use crate::tui::panes::Pane;
use crate::tui::theme::Tone;

fn roles(typed: &str) -> Vec<Role> {
    let typed = typed.trim().to_lowercase();
    Role::ALL.into_iter().filter(|r| r.word().to_lowercase().starts_with(&typed)).collect()
}

/// The role that was typed, by as much of it as only it has.
pub(super) fn role(typed: &str) -> Option<Role> {
    match roles(typed)[..] {
        [role] => Some(role),
        _ => None,
    }
}

/// What each role means, for choosing one.
pub(super) const fn meaning(role: Role) -> &'static str {
    match role {
        Role::Identity => "says which unit this is",
        Role::Calibration => "measured for this very unit",
        Role::Setting => "may be chosen",
        Role::Record => "what the unit wrote down",
        Role::Check => "a stored check value",
        Role::Reserved => "the maker's own; never changed",
        Role::Filler => "holds nothing",
    }
}

pub(super) fn role_choices(typed: &str) -> Vec<Choice> {
    roles(typed).into_iter().map(|role| Choice::new(role.word(), meaning(role))).collect()
}

/// What is said beside the line of a role.
pub(super) fn beside(typed: &str) -> Remark {
    match role(typed) {
        Some(role) => (role.into(), meaning(role).into()),
        None => {
            let words: Vec<&str> = Role::ALL.iter().map(|r| r.word()).collect();
            (Tone::Bad, format!("one of {}", words.join(", ")))
        }
    }
}

/// Asks for the role whose fields are shown.
pub(super) fn ask_only(app: &mut App, typed: &str) -> Effect {
    app.dialog = Some(Prompt::open(app, &ONLY_ROLE, typed));
    Effect::None
}

/// The role whose fields are shown.
static ONLY_ROLE: Ask = Ask {
    title: "Show only fields of the role",
    remarks: |_, _| vec![(Tone::Quiet, "an empty line shows all fields again".into())],
    options: |_, typed| role_choices(typed),
    submit: |app, prompt| {
        let typed = prompt.answer().trim().to_owned();
        match role(&typed) {
            Some(role) => {
                app.it_mut().show_only(Some(role));
                app.panes.give_keys(Pane::Fields);
                let many = text::count(app.it().described.fields.listed.len(), "field");
                app.say(Tone::Plain, format!("{many} of the role {}", role.word()));
            }
            None if typed.is_empty() => {
                app.it_mut().show_only(None);
                app.say(Tone::Plain, "All fields are shown");
            }
            None => return None,
        }
        Some(Effect::None)
    },
};
