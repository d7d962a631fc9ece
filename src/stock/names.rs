//! Names for offcuts.

use std::collections::BTreeSet;

use crate::model::{Slab, letters};

/// A name for an offcut of a slab, and puts it among those that are taken.
///
/// Offcuts of a slab "GG-17/2" are "GG-17/2 a", "GG-17/2 b" and so on. Offcuts of these take numbers and letters in turn:
/// "GG-17/2 a1", then "GG-17/2 a1a". The first name that is free is taken, so the same rack and plan give the same names.
pub(super) fn for_offcut(slab: &Slab, taken: &mut BTreeSet<String>) -> String {
    /// Rack files take names of 200 characters; this leaves room for what is added.
    const MOST: usize = 180;
    let stem: String = slab.name.chars().take(MOST).collect();
    let name = |n: usize| {
        if slab.from.is_none() {
            format!("{stem} {}", letters(n))
        } else if stem.ends_with(|c: char| c.is_ascii_digit()) {
            format!("{stem}{}", letters(n))
        } else {
            format!("{stem}{}", n + 1)
        }
    };
    let mut n = 0;
    while !taken.insert(name(n)) {
        n += 1;
    }
    name(n)
}

#[cfg(test)]
mod tests {
    use super::letters;

    #[test]
    fn letters_go_on_after_z() {
        assert_eq!([0, 25, 26, 27, 51, 52, 701, 702].map(letters), ["a", "z", "aa", "ab", "az", "ba", "zz", "aaa"]);
    }
}
