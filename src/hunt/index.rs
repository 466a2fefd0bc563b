//! Which positions have a number.

/// One bit for each of some hashes: most look-ups end here.
const BITMAP_BITS: u32 = 17;

/// Positions by their numbers.
pub(super) struct Index {
    bitmap: Box<[u64; 1 << (BITMAP_BITS - 6)]>,
    /// Bits of the hash that name a bucket.
    bits: u32,
    /// Where each bucket begins, and the end of the last.
    buckets: Vec<u32>,
    /// Numbers with their positions, bucket by bucket.
    numbers: Vec<(u64, u32)>,
}

impl Index {
    /// `hash` spreads numbers over 64 bits.
    pub(super) fn new(
        hash: impl Fn(u64) -> u64,
        positions: impl Iterator<Item = (u32, u64)> + Clone,
    ) -> Self {
        let count = positions.clone().count();
        let bits = count.max(2).next_power_of_two().ilog2();
        let bucket = |number: u64| (hash(number) >> (64 - bits)) as usize;
        let mut bitmap = Box::new([0; 1 << (BITMAP_BITS - 6)]);
        let mut buckets = vec![0; (1 << bits) + 1];
        for (_, number) in positions.clone() {
            let bit = (hash(number) >> (64 - BITMAP_BITS)) as usize;
            bitmap[bit / 64] |= 1 << (bit % 64);
            buckets[bucket(number) + 1] += 1;
        }
        let mut sum = 0;
        for end in &mut buckets {
            sum += *end;
            *end = sum;
        }
        let mut free = buckets.clone();
        let mut numbers = vec![(0, 0); count];
        for (position, number) in positions {
            let slot = &mut free[bucket(number)];
            numbers[*slot as usize] = (number, position);
            *slot += 1;
        }
        Index { bitmap, bits, buckets, numbers }
    }

    /// False when no position has a number with that hash; quicker than to look for them.
    #[inline]
    pub(super) fn may_have(&self, hash: u64) -> bool {
        let bit = (hash >> (64 - BITMAP_BITS)) as usize;
        self.bitmap[bit / 64] >> (bit % 64) & 1 == 1
    }

    /// The positions with that number, whose hash is given.
    pub(super) fn find(&self, number: u64, hash: u64) -> impl Iterator<Item = usize> {
        let bucket = (hash >> (64 - self.bits)) as usize;
        let range = match self.may_have(hash) {
            true => self.buckets[bucket] as usize..self.buckets[bucket + 1] as usize,
            false => 0..0,
        };
        let of_bucket = self.numbers[range].iter();
        of_bucket.filter(move |(known, _)| *known == number).map(|(_, position)| *position as usize)
    }
}
