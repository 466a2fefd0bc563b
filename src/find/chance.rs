//! How many hits chance alone would give.

/// Symbols of a view that are counted; more would not change the answer.
const SAMPLE: usize = 1 << 16;

/// How often each symbol occurs in a view, as a share of all.
pub(super) struct Shares {
    of: [f64; 256],
    places: f64,
}

impl Shares {
    /// Counts a sample spread over `symbols`, which are one of `parts` parts of the view.
    pub(super) fn of(symbols: &[u8], parts: f64) -> Self {
        let mut counts = [0_u32; 256];
        let step = symbols.len().div_ceil(SAMPLE).max(1);
        for &symbol in symbols.iter().step_by(step) {
            counts[usize::from(symbol)] += 1;
        }
        // Half a count for what was not seen: chance is never nothing.
        let all = symbols.len().div_ceil(step) as f64 + 128.0;
        Shares { of: counts.map(|n| (f64::from(n) + 0.5) / all), places: symbols.len() as f64 * parts }
    }

    /// How many places would match `wanted` in all but at most `slips` symbols if the symbols of this view were
    /// shuffled.
    pub(super) fn hits(&self, wanted: &[u8], slips: usize) -> f64 {
        // likely[k]: the chance that exactly k of the symbols so far differ.
        let mut likely = vec![0.0; slips + 1];
        likely[0] = 1.0;
        for &symbol in wanted {
            let share = self.of[usize::from(symbol)];
            for k in (0..=slips).rev() {
                let from_below = if k > 0 { likely[k - 1] * (1.0 - share) } else { 0.0 };
                likely[k] = likely[k] * share + from_below;
            }
        }
        let places = (self.places - wanted.len() as f64 + 1.0).max(0.0);
        places * likely.iter().sum::<f64>()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn even_symbols_give_the_chance_of_the_textbook() {
        let symbols: Vec<u8> = (0..1 << 16).map(|i| (i % 16) as u8).collect();
        let shares = Shares::of(&symbols, 1.0);
        // 65536 places, three symbols of 1/16 each.
        assert!((shares.hits(&[1, 2, 3], 0) - 16.0).abs() < 0.2);
        // One of three may differ: 3 * 15 + 1 times as many.
        assert!((shares.hits(&[1, 2, 3], 1) - 16.0 * 46.0).abs() < 8.0);
        assert_eq!(Shares::of(&[], 1.0).hits(b"A", 0), 0.0);
    }
}
