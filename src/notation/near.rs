//! The name somebody probably meant.

/// The one of `names` that is nearest to `wrong`, when it is near enough to be a slip of the fingers: at most a
/// third of its letters, and at least one, put wrong, left out, doubled or swapped with a neighbour.
#[must_use]
pub fn nearest<'n>(wrong: &str, names: impl IntoIterator<Item = &'n str>) -> Option<&'n str> {
    const LONGEST: usize = 64;
    let wrong: Vec<char> = wrong.chars().take(LONGEST + 1).flat_map(char::to_lowercase).collect();
    if wrong.len() > LONGEST {
        return None;
    }
    names
        .into_iter()
        .filter(|name| name.len() <= LONGEST)
        .map(|name| {
            let chars: Vec<char> = name.chars().flat_map(char::to_lowercase).collect();
            (distance(&wrong, &chars), chars.len().max(wrong.len()), name)
        })
        .filter(|&(distance, longest, _)| distance <= (longest / 3).max(1) && distance < longest)
        .min_by_key(|&(distance, _, _)| distance)
        .map(|(_, _, name)| name)
}

/// Letters to change, insert, remove or swap with their neighbour to get from `a` to `b`.
fn distance(a: &[char], b: &[char]) -> usize {
    let mut rows = [vec![0; b.len() + 1], (0..=b.len()).collect::<Vec<_>>(), vec![0; b.len() + 1]];
    for (i, &left) in a.iter().enumerate() {
        let [before_last, last, row] = &mut rows;
        row[0] = i + 1;
        for (j, &right) in b.iter().enumerate() {
            let mut best = (last[j] + usize::from(left != right)).min(last[j + 1] + 1).min(row[j] + 1);
            if i > 0 && j > 0 && a[i - 1] == right && left == b[j - 1] {
                best = best.min(before_last[j - 1] + 1);
            }
            row[j + 1] = best;
        }
        rows.rotate_left(1);
    }
    rows[1][b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slips_find_their_name_and_strangers_find_none() {
        let names = ["name", "at", "kind", "stride", "scale", "pattern"];
        for (wrong, right) in [
            ("nmae", Some("name")),
            ("Kind", Some("kind")),
            ("scal", Some("scale")),
            ("patern", Some("pattern")),
            ("colour", None),
            ("x", None),
            ("", None),
        ] {
            assert_eq!(nearest(wrong, names), right, "{wrong}");
        }
    }
}
