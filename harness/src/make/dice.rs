//! Chance, at its one place: a stream of numbers that hangs on a name, a seed and a number alone.

/// FNV-1a, 64 bits (Fowler, Noll, Vo): a number that follows from bytes, and differs for such as differ little.
pub(super) fn fnv(bytes: impl Iterator<Item = u8>) -> u64 {
    bytes.fold(0xcbf2_9ce4_8422_2325, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3))
}

/// A stream of numbers: SplitMix64 (Steele, Lea, Flood 2014), started at FNV-1a over name, seed and number, the numbers
/// little-endian.
#[derive(Debug, Clone)]
pub struct Dice(u64);

impl Dice {
    /// The stream of this name, seed and number.
    #[must_use]
    pub fn new(name: &str, seed: u64, number: u32) -> Self {
        Self(fnv(name.bytes().chain(seed.to_le_bytes()).chain(number.to_le_bytes())))
    }

    /// The next 64 bits.
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// From 0 to below `n`; 0 for `n` = 0.
    pub fn below(&mut self, n: u32) -> u32 {
        // The high bits times n: no division, and a bias below 2^-32.
        ((u128::from(self.bits()) * u128::from(n)) >> 64) as u32
    }

    /// From `low` to `high`, both included.
    pub fn within(&mut self, low: i32, high: i32) -> i32 {
        low.saturating_add_unsigned(self.below(high.abs_diff(low).saturating_add(1)))
    }

    /// A time on the grid of 10 ms, from `low` to `high`.
    pub fn ms(&mut self, low: u32, high: u32) -> u32 {
        (low / 10 + self.below((high / 10).saturating_sub(low / 10) + 1)) * 10
    }

    /// So many times of a hundred.
    pub fn chance(&mut self, percent: u32) -> bool {
        self.below(100) < percent
    }

    /// One of these.
    pub fn one<T: Copy, const N: usize>(&mut self, of: [T; N]) -> T {
        const { assert!(N > 0) };
        of[self.below(N as u32) as usize % N]
    }

    /// The numbers below `n` in an order of chance (Fisher and Yates' shuffle).
    pub fn shuffled(&mut self, n: usize) -> Vec<usize> {
        let mut all: Vec<usize> = (0..n).collect();
        for last in (1..n).rev() {
            all.swap(last, self.below(u32::try_from(last + 1).unwrap_or(u32::MAX)) as usize);
        }
        all
    }

    /// The place of one in a list of weights.
    pub fn weighted(&mut self, weights: &[u32]) -> usize {
        let mut at = self.below(weights.iter().sum());
        for (place, &weight) in weights.iter().enumerate() {
            if at < weight {
                return place;
            }
            at -= weight;
        }
        0
    }
}

/// The card at a place of a deal of so many cards: each comes once in a round, and each round is shuffled anew.
#[must_use]
pub fn dealt(name: &str, seed: u64, cards: usize, place: u64) -> Option<usize> {
    let round = place.checked_div(cards as u64)? as u32;
    let shuffled = Dice::new(name, seed, round).shuffled(cards);
    shuffled.get((place % cards as u64) as usize).copied()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    /// From state 0 the first three outputs are those published with the reference implementation of SplitMix64
    /// (prng.di.unimi.it/splitmix64.c, its outputs for seed 0, from memory).
    #[test]
    fn the_stream_is_splitmix64() {
        let mut dice = Dice(0);
        let first = [dice.bits(), dice.bits(), dice.bits()];
        assert_eq!(first, [0xe220_a839_7b1d_cdaf, 0x6e78_9e6a_a1b9_65f4, 0x06c4_5d18_8009_454f]);
    }

    /// The test vectors of the FNV draft (draft-eastlake-fnv, appendix C, from memory).
    #[test]
    fn the_hash_is_fnv_1a() {
        assert_eq!(fnv("".bytes()), 0xcbf2_9ce4_8422_2325);
        assert_eq!(fnv("a".bytes()), 0xaf63_dc4c_8601_ec8c);
        assert_eq!(fnv("foobar".bytes()), 0x8594_4171_f739_67e8);
    }

    #[test]
    fn no_two_seeds_share_a_stream() {
        let first = |seed, number| Dice::new("random", seed, number).bits();
        let all: BTreeSet<u64> = (0..50).flat_map(|seed| (0..50).map(move |number| first(seed, number))).collect();
        assert_eq!(all.len(), 2500);
    }

    /// Shares within four standard deviations over 10,000 throws.
    #[test]
    fn throws_are_even_and_weights_are_kept() {
        let mut dice = Dice::new("a", 1, 2);
        let mut counts = [0_i32; 6];
        (0..10_000).for_each(|_| counts[dice.below(6) as usize] += 1);
        assert!(counts.iter().all(|n| (n - 1667).abs() < 150), "{counts:?}");
        let mut counts = [0_i32; 3];
        (0..10_000).for_each(|_| counts[dice.weighted(&[1, 0, 3])] += 1);
        assert!(counts[1] == 0 && (counts[0] - 2500).abs() < 174, "{counts:?}");
        assert!((0..1000).all(|_| (-3..=4).contains(&dice.within(-3, 4)) && dice.ms(20, 50).is_multiple_of(10)));
    }
}
