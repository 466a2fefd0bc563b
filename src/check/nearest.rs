//! The nearest of some names, for a suggestion beside "no such name".

/// The name that is nearest to `text` by letters and digits alone, if any is near enough to suggest.
#[must_use]
pub fn nearest<'a>(text: &str, names: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let wanted = letters(text);
    names
        .into_iter()
        .map(|name| (distance(&wanted, &letters(name)), name))
        .filter(|&(steps, name)| steps <= (name.len().min(wanted.len()) / 3).max(1))
        .min_by_key(|&(steps, _)| steps)
        .map(|(_, name)| name)
}

fn letters(text: &str) -> Vec<char> {
    // Names are short; what is typed may be anything.
    text.chars().filter(|c| c.is_alphanumeric()).map(|c| c.to_ascii_uppercase()).take(64).collect()
}

/// Letters to insert, take out or exchange to make one of the other (Levenshtein).
fn distance(a: &[char], b: &[char]) -> usize {
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.iter().enumerate() {
        let mut corner = i;
        let mut left = i + 1;
        for (cell, y) in row.iter_mut().skip(1).zip(b) {
            let above = *cell;
            *cell = (corner + usize::from(x != y)).min(above + 1).min(left + 1);
            corner = above;
            left = *cell;
        }
        if let Some(first) = row.first_mut() {
            *first = i + 1;
        }
    }
    row.last().copied().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::nearest;

    #[test]
    fn a_slip_of_the_fingers_is_understood_and_a_strange_word_is_not() {
        let names = ["CRC-16/XMODEM", "CRC-16/MODBUS", "SUM-8"];
        assert_eq!(nearest("crc16 xmoden", names), Some("CRC-16/XMODEM"));
        assert_eq!(nearest("CRC16MODBUS", names), Some("CRC-16/MODBUS"));
        assert_eq!(nearest("sum8", names), Some("SUM-8"));
        assert_eq!(nearest("temperature", names), None);
        assert_eq!(nearest("", names), None);
    }
}
