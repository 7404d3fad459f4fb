//! Whose turn it is: the order in which the kinds of drives and the families of manoeuvres follow one another.

/// Where a drive comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Origin {
    /// A saved drive or one of a manoeuvre.
    Named(usize),
    /// A random drive.
    Random(u32),
    /// An event order.
    Order(usize),
    /// One bred by the search.
    Search(u32),
}

/// Random drives that come before other manoeuvres: each holds many trials, so what shows on nearly every drive shows here.
const FIRST: usize = 16;

/// A random drive and two of rich manoeuvres by turns, and more random ones until there are some. Then two random ones and
/// another manoeuvre's by turns, until each manoeuvre has had its first. Then, of eleven drives in a row, four are
/// manoeuvres', four are random, two are the search's, one is an event order; when one kind has come to its end, the
/// others go on.
///
/// Random drives find most faults first, manoeuvres those that random ones hardly find; the search has nothing to breed
/// from before, and single events, which orders start with, are in nearly every random drive.
pub(super) fn by_turns(
    rich: &[Vec<usize>],
    families: &[Vec<usize>],
    random: u32,
    orders: usize,
    search: u32,
) -> Vec<Origin> {
    let mut rich = in_step(rich, <[usize]>::to_vec).into_iter().map(Origin::Named).peekable();
    let mut manoeuvres = in_step(families, spread).into_iter().map(Origin::Named);
    let mut random = (0..random).map(Origin::Random);
    let mut orders = (0..orders).map(Origin::Order);
    let mut search = (0..search).map(Origin::Search);
    let mut all = Vec::new();
    let mut drawn = 0;
    while rich.peek().is_some() {
        all.extend(random.next());
        all.extend(rich.by_ref().take(2));
        drawn += 1;
    }
    all.extend(random.by_ref().take(FIRST.saturating_sub(drawn)));
    for _ in families {
        all.extend(random.by_ref().take(2));
        all.extend(manoeuvres.next());
    }
    loop {
        let before = all.len();
        for _ in 0..2 {
            all.extend(manoeuvres.next());
            all.extend(random.next());
            all.extend(manoeuvres.next());
            all.extend(random.next());
            all.extend(search.next());
        }
        all.extend(orders.next());
        if all.len() == before {
            return all;
        }
    }
}

/// One drive of each family, then each family at the pace of its length, so that all end together; a family's drives in
/// this order.
fn in_step(families: &[Vec<usize>], order: fn(&[usize]) -> Vec<usize>) -> Vec<usize> {
    let mut all: Vec<(usize, usize)> = families
        .iter()
        .flat_map(|family| {
            order(family).into_iter().enumerate().map(|(at, index)| (at * 1_000_000 / family.len(), index))
        })
        .collect();
    // A stable sort: what is due at once keeps the order of the families.
    all.sort_by_key(|(due, _)| *due);
    all.into_iter().map(|(_, index)| index).collect()
}

/// A family's drives in an order in which its first few lie far apart, as neighbours are much alike: by the bits of
/// their places, the last bit first.
fn spread(family: &[usize]) -> Vec<usize> {
    let bits = usize::BITS - family.len().saturating_sub(1).leading_zeros();
    let mut places: Vec<usize> = (0..family.len()).collect();
    places.sort_by_key(|place| place.reverse_bits() >> (usize::BITS - bits.max(1)));
    places.into_iter().filter_map(|place| family.get(place).copied()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: places 0 to 5 in binary, read backwards, are 0, 4, 2, 6, 1, 5.
    #[test]
    fn the_first_of_a_family_lie_far_apart() {
        assert_eq!(spread(&[10, 11, 12, 13, 14, 15]), [10, 14, 12, 11, 15, 13]);
        assert_eq!(spread(&[7]), [7]);
        assert_eq!(spread(&[]), Vec::<usize>::new());
    }

    /// By hand: of four and of two, dues 0, 1/4, 1/2, 3/4 and 0, 1/2; spread, four are 0, 2, 1, 3.
    #[test]
    fn families_end_together() {
        assert_eq!(in_step(&[vec![0, 1, 2, 3], vec![8, 9]], spread), [0, 8, 2, 1, 9, 3]);
        assert_eq!(in_step(&[vec![0, 1, 2, 3], vec![8, 9]], <[usize]>::to_vec), [0, 8, 1, 2, 9, 3]);
        assert_eq!(in_step(&[vec![], vec![5]], spread), [5]);
    }

    #[test]
    fn kinds_take_turns_until_each_is_at_its_end() {
        use Origin::{Named, Order, Random, Search};
        let first = (0..16).map(Random);
        let one_of_each = [Random(16), Random(17), Named(0), Random(18), Random(19), Named(3)];
        let then = [Named(2), Random(20), Named(1), Random(21), Search(0), Search(1), Order(0), Search(2)];
        let all: Vec<Origin> = first.chain(one_of_each).chain(then).collect();
        assert_eq!(by_turns(&[], &[vec![0, 1, 2], vec![3]], 22, 1, 3), all);
        assert_eq!(by_turns(&[], &[], 0, 2, 0), [Order(0), Order(1)]);
    }

    #[test]
    fn rich_manoeuvres_come_first_two_to_a_random_drive() {
        use Origin::{Named, Random};
        let first = [Random(0), Named(0), Named(3), Random(1), Named(1), Named(2)];
        let then = (2..16).map(Random).chain([Random(16), Random(17), Named(7), Random(18)]);
        let all: Vec<Origin> = first.into_iter().chain(then).collect();
        assert_eq!(by_turns(&[vec![0, 1, 2], vec![3]], &[vec![7]], 19, 0, 0), all);
        assert_eq!(by_turns(&[vec![4, 5, 6]], &[], 0, 0, 0), [Named(4), Named(5), Named(6)]);
    }
}
