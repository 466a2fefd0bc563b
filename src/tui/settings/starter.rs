//! The file to start from: every setting with what is in force without it, commented out.

use std::fmt::Write as _;

use super::VERSION;
use crate::tui::command::TABLE;
use crate::tui::theme::{Ground, Tone};
use crate::tui::tones;

/// Its text.
#[must_use]
pub fn text() -> String {
    let mut text = format!(
        "// Settings of the editor of readproof. What stands behind // is not in force: it shows what holds without it.\n\
         // `readproof settings` tells every slip with its place, and which keys collide.\n\
         (\n    settings: {VERSION},\n\n\
         \x20   // Background of the terminal, for the colours: Any, Dark or Light\n\
         \x20   // ground: Any,\n\n\
         \x20   // What is drawn with: All, or Ascii only\n\
         \x20   // glyphs: All,\n\n\
         \x20   // Whether the mouse places the cursor, selects and scrolls; the terminal then selects text with Shift\n\
         \x20   // mouse: false,\n\n\
         \x20   // Colours: \"#RRGGBB\", the name of one of the terminal's sixteen (Red, BrightRed), or None\n\
         \x20   theme: (\n"
    );
    for tone in Tone::ALL {
        let colour = match tones::row(tone).rgb(Ground::Any) {
            Some((r, g, b)) => format!("\"#{r:02X}{g:02X}{b:02X}\""),
            None => "None".to_owned(),
        };
        let entry = format!("{}: {colour},", tone.name());
        let _ = writeln!(text, "        // {entry:<26} // {}", tone.doc());
    }
    text.push_str(
        "    ),\n\n    // Keys by command, all of them: \"find\": [\"Ctrl-F\", \"F3\"]; an empty list takes every key away\n    keys: {\n",
    );
    for (heading, rows) in TABLE {
        let _ = writeln!(text, "\n        // {heading}");
        for row in *rows {
            let keys: Vec<String> = row.keys.iter().map(|k| format!("\"{k}\"")).collect();
            let entry = format!("\"{}\": [{}],", row.name, keys.join(", "));
            let _ = writeln!(text, "        // {entry:<40} // {}", row.doc);
        }
    }
    text.push_str("    },\n)\n");
    text
}
