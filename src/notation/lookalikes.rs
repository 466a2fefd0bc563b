//! Characters that word processors put in the place of the ones a layout needs.

/// A typographic quotation mark or a prime that stands for `"`.
pub fn is_curly_quote(c: char) -> bool {
    matches!(c, '“' | '”' | '„' | '‟' | '«' | '»' | '‘' | '’' | '‚' | '′' | '″' | '`' | '´')
}

/// What to type instead of a character that cannot stand outside a string.
pub fn instead_of(c: char) -> Option<&'static str> {
    Some(match c {
        '–' | '—' | '−' => "write the minus sign of the keyboard, -",
        '，' | '、' => "write a plain comma",
        '：' => "write a plain colon",
        '=' => "a name and its value are parted by a colon",
        ';' => "values are parted by commas",
        '$' => "a hexadecimal number begins with 0x",
        '#' => "a remark begins with //",
        '\u{a0}' | '\u{200b}' | '\u{2009}' | '\u{202f}' | '\u{3000}' | '\u{feff}' => {
            "an invisible character stands here; delete it and type a space"
        }
        _ => return None,
    })
}
