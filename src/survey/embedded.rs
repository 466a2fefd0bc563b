//! Known memories inside a larger one: a display's identification in a firmware image, a module's in a dump.

use super::watch::Watch;
use super::{Kind, Region};
use crate::image::Image;
use crate::layout::{self, Layout};
use crate::span::{Span, ending_behind};

/// Blocks begin at multiples of this.
const STEP: usize = 16;
/// Places tried at most; larger images are tried at wider steps.
const MOST_PLACES: usize = 16 << 10;
/// The bytes that a layout is shown at each place.
const WINDOW: usize = 4096;

/// Chance from which on marks are none.
const MOST_CHANCE: f64 = 1e-3;

/// Places other than the first byte at which a layout's marks fit; each ends at a gap, if not before.
pub(super) fn embedded(bytes: &[u8], gaps: &[Span], layouts: &[Layout], watch: Watch<'_>) -> Vec<Region> {
    let step = bytes.len().div_ceil(MOST_PLACES).next_multiple_of(STEP).max(STEP);
    let tries = (bytes.len() / step * layouts.len()) as f64;
    // What gives less evidence is explained by so many tries.
    let least = (tries / MOST_CHANCE).max(1.0).log2() as u32;
    let mut found: Vec<Region> = Vec::new();
    for at in (step..bytes.len()).step_by(step) {
        if (at / step).is_multiple_of(256) && !watch.goes_on(at as f64 / bytes.len() as f64) {
            break;
        }
        let gap = ending_behind(gaps, at).first();
        let end = gap.map_or(bytes.len(), |gap| gap.start).min(at + WINDOW);
        // What lies inside a hit is its own.
        if end <= at
            || found.iter().any(|r| r.at.contains(at))
            || bytes[at..].iter().take(STEP).all(|&b| b == bytes[at])
        {
            continue;
        }
        let window = &bytes[at..end];
        // Nearly nowhere; reading a whole layout there is what takes its time.
        if !layouts.iter().any(|layout| layout::may_begin(layout, window, least)) {
            continue;
        }
        let image = Image::raw(window.to_vec());
        let Some(fit) = layout::fits(layouts, &image).into_iter().max_by_key(|f| f.bits) else { continue };
        let chance = tries * (-f64::from(fit.bits)).exp2();
        let Some(layout) = layouts.get(fit.index).filter(|_| chance < MOST_CHANCE) else { continue };
        let decoded = layout::decode(layout, &image);
        let len = decoded.fields.iter().map(|f| f.cover().end).max().unwrap_or(0).min(image.len());
        found.push(Region {
            at: Span::of(at, len),
            kind: Kind::Layout(layout.title.clone()),
            evidence: fit.why,
            chance,
        });
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_display_s_identification_is_found_inside_a_larger_memory() {
        let layouts: Vec<Layout> =
            layout::SHIPPED.iter().filter_map(|(_, text)| layout::read(text).ok()).collect();
        let mut bytes = vec![0x5A; 4096];
        // The header of VESA E-EDID, release A.2, section 3.3.
        bytes[0x640..0x648].copy_from_slice(&[0, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0]);
        let found = embedded(&bytes, &[], &layouts, Watch::nobody());
        assert_eq!(found.len(), 1, "{found:?}");
        assert_eq!(found[0].at.start, 0x640);
        assert!(matches!(&found[0].kind, Kind::Layout(title) if title.contains("EDID")));
    }

    #[test]
    fn what_is_passed_over_at_once_would_not_be_told() {
        let layouts: Vec<Layout> =
            layout::SHIPPED.iter().filter_map(|(_, text)| layout::read(text).ok()).collect();
        // Few values, so that short marks often fit.
        let bytes: Vec<u8> = (0..6000_u32).map(|i| (i.wrapping_mul(2_654_435_761) >> 28) as u8 % 4).collect();
        for at in (0..bytes.len() - WINDOW).step_by(5 * STEP) {
            let window = &bytes[at..at + WINDOW];
            let image = Image::raw(window.to_vec());
            let best = layout::fits(&layouts, &image).into_iter().map(|fit| fit.bits).max().unwrap_or(0);
            let may = |least| layouts.iter().any(|layout| layout::may_begin(layout, window, least));
            assert!((1..=best).all(may), "at {at}: {best} bits");
        }
    }
}
