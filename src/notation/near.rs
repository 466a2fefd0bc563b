//! The name somebody probably meant.

use strsim::osa_distance;

/// The one of `names` that is nearest to `wrong`, when it is near enough to be a slip of the fingers: at most a
/// third of its letters, and at least one, put wrong, left out, doubled or swapped with a neighbour.
#[must_use]
pub fn nearest<'n>(wrong: &str, names: impl IntoIterator<Item = &'n str>) -> Option<&'n str> {
    // Comparing takes time by the product of both lengths, and no name is longer.
    const LONGEST: usize = 64;
    let wrong = wrong.to_lowercase();
    let letters = wrong.chars().count();
    if letters > LONGEST {
        return None;
    }
    names
        .into_iter()
        .filter(|name| name.len() <= LONGEST)
        .map(|name| (osa_distance(&wrong, &name.to_lowercase()), name.chars().count().max(letters), name))
        .filter(|&(distance, longest, _)| distance <= (longest / 3).max(1) && distance < longest)
        .min_by_key(|&(distance, _, _)| distance)
        .map(|(_, _, name)| name)
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
