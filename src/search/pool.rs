//! Layouts of single slabs that were found on the way, put together anew.
//!
//! Every layout that a task brings home is one column of a set covering problem: choose layouts, at most one a slab, so that
//! every piece lies on one of them, at least cost. The good half of one bad plan and the good half of another are so made
//! into a plan that no task has seen. The problem is solved by depth-first branch and bound with a limit on its steps: always
//! on the largest class that is not yet covered, cheapest layouts first.

use super::space::Space;
use super::state::{Cut, State};

/// Layouts kept for one kind of slab.
const A_KIND: usize = 300;

/// Layouts kept in all.
const IN_ALL: usize = 6_000;

/// Cost is compared to half a cent.
const CENT: f64 = 0.005;

/// One layout, as a column.
#[derive(Clone, Debug)]
struct Pattern {
    kind: usize,
    /// How many of each class lie on it, by class, ascending; none with 0.
    counts: Vec<(usize, u32)>,
    price: f64,
    /// Area of what lies on it, mm².
    area: f64,
    cut: Cut,
}

impl Pattern {
    fn count(&self, class: usize) -> u32 {
        self.counts.binary_search_by_key(&class, |c| c.0).map_or(0, |i| self.counts[i].1)
    }

    /// True if everything on `other` lies on this one too.
    fn covers(&self, other: &Self) -> bool {
        other.counts.iter().all(|&(class, n)| self.count(class) >= n)
    }
}

/// All layouts found so far that no other one covers.
#[derive(Clone, Debug)]
pub struct Pool {
    /// By slab: which slabs are the same but for their names.
    kinds: Vec<usize>,
    patterns: Vec<Pattern>,
    changed: bool,
}

impl Pool {
    /// Nothing yet.
    #[must_use]
    pub fn new(space: &Space<'_>) -> Self {
        let rack = &space.question.rack;
        let mut kinds: Vec<usize> = Vec::with_capacity(rack.len());
        for s in 0..rack.len() {
            let free = |t: usize| !space.past.is_open(t);
            let like = (0..s).find(|&t| kinds[t] == t && free(s) && free(t) && rack[s].is_like(&rack[t]));
            kinds.push(like.unwrap_or(s));
        }
        Self { kinds, patterns: Vec::new(), changed: false }
    }

    /// Adds the layouts of a state, but for those that tell nothing new.
    pub fn add(&mut self, space: &Space<'_>, state: &State) {
        // What is pinned belongs to its slab: such a slab is like no other, and paid for in any case.
        for cut in state.cuts.iter().filter(|c| !c.spots.is_empty()) {
            let mut classes: Vec<usize> = cut.spots.iter().map(|s| s.class).collect();
            classes.sort_unstable();
            let counts = classes.chunk_by(|a, b| a == b).map(|c| (c[0], c.len() as u32)).collect();
            self.insert(Pattern {
                kind: self.kinds[cut.slab],
                counts,
                price: if space.past.is_open(cut.slab) { 0.0 } else { space.question.rack[cut.slab].price },
                area: cut.used(space),
                cut: cut.clone(),
            });
        }
    }

    fn insert(&mut self, new: Pattern) {
        if self.patterns.iter().any(|p| p.kind == new.kind && p.covers(&new)) {
            return;
        }
        self.patterns.retain(|p| p.kind != new.kind || !new.covers(p));
        // Where there is no room, the one with least on it goes; it may be the new one.
        let of_kind = self.patterns.iter().filter(|p| p.kind == new.kind).count();
        if of_kind >= A_KIND || self.patterns.len() >= IN_ALL {
            let kind = (of_kind >= A_KIND).then_some(new.kind);
            let least = (0..self.patterns.len())
                .filter(|&i| kind.is_none_or(|k| self.patterns[i].kind == k))
                .min_by(|&a, &b| self.patterns[a].area.total_cmp(&self.patterns[b].area).then(a.cmp(&b)));
            match least {
                Some(i) if self.patterns[i].area < new.area => drop(self.patterns.remove(i)),
                _ => return,
            }
        }
        self.patterns.push(new);
        self.changed = true;
    }

    /// The cheapest plan that these layouts make, if it costs less than `below` and is found within so many steps. `need` says
    /// how many of each class must have a place. `None` too if nothing was added since the last call.
    pub fn cover(&mut self, space: &Space<'_>, need: &[u32], below: f64, steps: u32) -> Option<State> {
        if !std::mem::take(&mut self.changed) {
            return None;
        }
        let mut order: Vec<usize> = (0..need.len()).filter(|&c| need[c] > 0).collect();
        let size = |c: usize| space.classes[c].area * space.classes[c].length;
        order.sort_by(|&a, &b| size(b).total_cmp(&size(a)).then(a.cmp(&b)));
        // For each class the layouts that hold it: those that pay least for what lies on them first.
        let rate = |i: usize| self.patterns[i].price / self.patterns[i].area.max(1.0);
        let holders: Vec<Vec<usize>> = (0..need.len())
            .map(|c| {
                let mut of: Vec<usize> = (0..self.patterns.len()).filter(|&i| self.patterns[i].count(c) > 0).collect();
                of.sort_by(|&a, &b| rate(a).total_cmp(&rate(b)).then(a.cmp(&b)));
                of
            })
            .collect();
        if order.iter().any(|&c| holders[c].is_empty()) {
            return None;
        }
        let cheapest_rate = (0..self.patterns.len()).map(rate).fold(f64::INFINITY, f64::min);
        let mut slabs_left = vec![0u32; self.kinds.len()];
        self.kinds.iter().for_each(|&k| slabs_left[k] += 1);
        let area = order.iter().map(|&c| f64::from(need[c]) * space.classes[c].area).sum();
        let mut search = Search {
            space,
            pool: self,
            order: &order,
            holders: &holders,
            cheapest_rate,
            below,
            steps,
            chosen: Vec::new(),
            best: None,
        };
        search.descend(need.to_vec(), area, 0.0, &mut slabs_left);
        let best = search.best?;
        Some(self.state(need, &best))
    }

    /// The layouts as a state, without the bodies that lie on two of them.
    fn state(&self, need: &[u32], chosen: &[usize]) -> State {
        let mut left = need.to_vec();
        let mut taken = vec![false; self.kinds.len()];
        let mut state = State { cuts: Vec::new(), missing: Vec::new() };
        for &i in chosen {
            let mut cut = self.patterns[i].cut.clone();
            let mut k = 0;
            while k < cut.spots.len() {
                let class = cut.spots[k].class;
                if left[class] > 0 {
                    left[class] -= 1;
                    k += 1;
                } else {
                    cut.take(k);
                }
            }
            // Any slab of the kind will do: its own if it is still there.
            let free = |s: usize| self.kinds[s] == self.patterns[i].kind && !taken[s];
            let slab = if free(cut.slab) { Some(cut.slab) } else { (0..taken.len()).find(|&s| free(s)) };
            let Some(slab) = slab else { continue };
            taken[slab] = true;
            cut.slab = slab;
            state.cuts.push(cut);
        }
        for (class, &n) in left.iter().enumerate() {
            (0..n).for_each(|_| state.miss(class));
        }
        state
    }
}

struct Search<'s, 'q> {
    space: &'s Space<'q>,
    pool: &'s Pool,
    order: &'s [usize],
    holders: &'s [Vec<usize>],
    /// Least price for an area on any layout, per mm².
    cheapest_rate: f64,
    below: f64,
    steps: u32,
    chosen: Vec<usize>,
    best: Option<Vec<usize>>,
}

impl Search<'_, '_> {
    /// `left` must still be covered, `area` of it; `cost` is spent.
    fn descend(&mut self, left: Vec<u32>, area: f64, cost: f64, slabs_left: &mut Vec<u32>) {
        let Some(&class) = self.order.iter().find(|&&c| left[c] > 0) else {
            if cost < self.below - CENT {
                self.below = cost;
                self.best = Some(self.chosen.clone());
            }
            return;
        };
        if cost + area * self.cheapest_rate >= self.below - CENT {
            return;
        }
        for &i in &self.holders[class] {
            if self.steps == 0 {
                return;
            }
            let pattern = &self.pool.patterns[i];
            if slabs_left[pattern.kind] == 0 || cost + pattern.price >= self.below - CENT {
                continue;
            }
            self.steps -= 1;
            let mut rest = left.clone();
            let mut open = area;
            for &(c, n) in &pattern.counts {
                let used = n.min(rest[c]);
                rest[c] -= used;
                open -= f64::from(used) * self.space.classes[c].area;
            }
            slabs_left[pattern.kind] -= 1;
            self.chosen.push(i);
            self.descend(rest, open.max(0.0), cost + pattern.price, slabs_left);
            self.chosen.pop();
            slabs_left[pattern.kind] += 1;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::pt;
    use crate::model::Question;
    use crate::search::state::Spot;
    use proptest::prelude::*;

    /// A job of `classes` rectangles of different length, and slabs with these prices, each a little longer than the last.
    fn question(classes: usize, prices: &[f64]) -> Question {
        use crate::geom::{BBox, Ring};
        use crate::model::{Finish, GrainWish, Hidden, Job, Outline, Piece, Shape, Shop, Slab, StoneClass};
        let piece = |k: usize| Piece {
            name: format!("piece {k}"),
            kind: k,
            outline: Outline::new(Shape::rectangle(100.0 + k as f64, 100.0, 0.0), vec![Finish::Raw; 4]),
            openings: Vec::new(),
            grain: GrainWish::Any,
            grain_tolerance: 0.0,
            one_way: false,
            hidden: Hidden::default(),
        };
        let slab = |(k, &price): (usize, &f64)| Slab {
            name: format!("slab {k}"),
            material: "slate".to_owned(),
            stone: StoneClass::Granite,
            stone_given: true,
            thickness: 30.0,
            lot: None,
            number: None,
            price,
            outline: Ring::rectangle(BBox { min: pt(0.0, 0.0), max: pt(3000.0 + k as f64, 1500.0) }),
            grain: None,
            flaws: Vec::new(),
            tests: None,
            photo: None,
            from: None,
        };
        let pieces = (0..classes).map(piece).collect();
        let job = Job { name: "job".to_owned(), material: "slate".to_owned(), thickness: 30.0, pieces };
        Question { jobs: vec![job], rack: prices.iter().enumerate().map(slab).collect(), shop: Shop::default() }
    }

    fn layout(slab: usize, classes: &[usize]) -> State {
        let mut cut = Cut::empty(slab);
        for (k, &class) in classes.iter().enumerate() {
            cut.place(Spot { class, turn: 0.0, shift: pt(200.0 * k as f64, 50.0) });
        }
        State { cuts: vec![cut], missing: Vec::new() }
    }

    #[test]
    fn two_bad_plans_make_a_good_one() {
        let q = question(4, &[10.0, 10.0, 30.0, 30.0]);
        let space = Space::new(&q, 0.0);
        let mut pool = Pool::new(&space);
        for (slab, classes) in [(0, &[0, 1][..]), (2, &[2, 3]), (1, &[2, 3]), (3, &[0, 1])] {
            pool.add(&space, &layout(slab, classes));
        }
        let mut state = pool.cover(&space, &[1; 4], 60.0, 1000).expect("there is a plan for 20");
        state.tidy(&space);
        assert_eq!(state.cuts.iter().map(|c| c.slab).collect::<Vec<_>>(), [0, 1]);
        assert!(state.missing.is_empty());
        // Nothing new, nothing to be found.
        assert!(pool.cover(&space, &[1; 4], 60.0, 1000).is_none());
    }

    proptest! {
        /// The cheapest cover against all choices of at most one layout a slab.
        #[test]
        fn the_cheapest_plan_of_all_is_found(
            prices in proptest::collection::vec(1u8..9, 4),
            layouts in proptest::collection::vec((0usize..4, proptest::collection::vec(0usize..4, 1..4)), 1..9),
        ) {
            let prices: Vec<f64> = prices.into_iter().map(f64::from).collect();
            let q = question(4, &prices);
            let space = Space::new(&q, 0.0);
            let mut pool = Pool::new(&space);
            for (slab, classes) in &layouts {
                pool.add(&space, &layout(*slab, classes));
            }
            let need = [1, 2, 1, 1];
            let found = pool.cover(&space, &need, f64::INFINITY, 1_000_000);
            let mut best = f64::INFINITY;
            for mask in 0u32..1 << layouts.len() {
                let chosen: Vec<_> = (0..layouts.len()).filter(|k| mask >> k & 1 == 1).map(|k| &layouts[k]).collect();
                let mut slabs: Vec<usize> = chosen.iter().map(|l| l.0).collect();
                slabs.sort_unstable();
                if slabs.windows(2).any(|w| w[0] == w[1]) {
                    continue;
                }
                let count = |c: usize| chosen.iter().flat_map(|l| &l.1).filter(|&&k| k == c).count();
                if (0..4).all(|c| count(c) >= need[c] as usize) {
                    best = best.min(slabs.iter().map(|&s| prices[s]).sum());
                }
            }
            match found {
                Some(state) => {
                    prop_assert_eq!(state.cost(&space), best);
                    prop_assert!(state.missing.is_empty());
                    let all: Vec<usize> = state.cuts.iter().flat_map(|c| c.spots.iter().map(|s| s.class)).collect();
                    for (c, &n) in need.iter().enumerate() {
                        prop_assert_eq!(all.iter().filter(|&&k| k == c).count(), n as usize);
                    }
                }
                None => prop_assert_eq!(best, f64::INFINITY),
            }
        }
    }
}
