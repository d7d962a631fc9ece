//! The log of a proof: plain data that can be checked again, and its text for people.

use super::rows::Demand;
use crate::model::{Question, Shown};

/// Why some pieces cannot lie together on a slab.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Why {
    /// One of them cannot lie there at all.
    Alone {
        /// Which class.
        class: usize,
    },
    /// Their area with half the gap round each exceeds that of the slab, mm².
    Area {
        /// mm².
        needed: f64,
        /// mm².
        available: f64,
    },
    /// Rectangles inside them, each side measured by a dual feasible function, need more than the whole slab.
    Lengths {
        /// Share of the slab.
        needed: f64,
    },
    /// Every order of rectangles inside them, left of or below one another, was tried and refuted.
    Order {
        /// Bodies in the search.
        bodies: usize,
        /// Work that it took.
        work: u64,
    },
}

/// Pieces that cannot lie together on a slab.
#[derive(Clone, Debug, PartialEq)]
pub struct Impossible {
    /// Index on the rack.
    pub slab: usize,
    /// Classes, ascending, repeated for copies.
    pub load: Vec<usize>,
    /// Why.
    pub why: Why,
}

/// A set of slabs that meets all demands and cannot hold everything: however the pieces are dealt out, some slab gets what
/// cannot lie together on it.
#[derive(Clone, Debug, PartialEq)]
pub struct Refuted {
    /// Ascending.
    pub slabs: Vec<usize>,
    /// Their price.
    pub cost: f64,
}

/// All of a proof. Every set of slabs cheaper than `cost` breaks a demand or is among `sets`; of equal slabs only the first ones
/// are taken, and slabs on which nothing may lie are left out.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Certificate {
    /// Price of slabs that are paid for in any case, because pieces are pinned on them; all else is about what is paid beside.
    pub paid: f64,
    /// No plan that places everything costs less (beside what is paid).
    pub cost: f64,
    /// The argument that decides.
    pub rule: &'static str,
    /// Classes of like pieces: name of the first and number of copies.
    pub classes: Vec<(String, usize)>,
    /// `may[class][slab]`: false where the class provably cannot lie.
    pub may: Vec<Vec<bool>>,
    /// `twin[slab]`: an earlier slab that equals it.
    pub twin: Vec<Option<usize>>,
    /// What every set of slabs must supply.
    pub demands: Vec<Demand>,
    /// What cannot lie together.
    pub impossible: Vec<Impossible>,
    /// Sets refuted, by dealing out the pieces, in order of discovery.
    pub sets: Vec<Refuted>,
}

/// Entries of one kind in the text, at most.
const SHOWN: usize = 60;

impl Certificate {
    /// The proof in words, in the units of the shop's sentences: what was refuted, and by what, in order of cost.
    #[must_use]
    pub fn text(&self, question: &Question) -> String {
        let shown = question.shop.shown;
        let slab = |s: usize| question.rack.get(s).map_or("?", |s| s.name.as_str());
        let slabs = |set: &[usize]| set.iter().map(|&s| slab(s)).collect::<Vec<_>>().join(", ");
        let class = |c: usize| self.classes.get(c).map_or("?", |c| c.0.as_str());
        let mut out = String::new();
        let mut line = |text: String| {
            out += &text;
            out.push('\n');
        };
        line(if self.cost.is_finite() {
            format!("No plan that places everything costs less than {:.2}.", self.cost + self.paid)
        } else {
            "No plan places everything.".to_owned()
        });
        if self.paid > 0.0 {
            line(format!("Of that, {:.2} is for slabs with pinned pieces; below, these cost nothing.", self.paid));
        }
        line(format!("The argument: {}.", self.rule));
        line(String::new());
        line("What every plan needs of its slabs".to_owned());
        for d in &self.demands {
            let most: f64 = d.supply.iter().sum();
            let (least, most) = (d.figure(d.least, shown), d.figure(most, shown));
            line(format!("  {}: {least} needed; all slabs together have {most}", d.rule));
        }
        line(String::new());
        line("Pieces that cannot lie on a slab".to_owned());
        let never: Vec<(usize, Vec<usize>)> = self
            .may
            .iter()
            .enumerate()
            .map(|(c, m)| (c, (0..m.len()).filter(|&s| !m[s]).collect::<Vec<_>>()))
            .filter(|(_, s)| !s.is_empty())
            .collect();
        for (c, s) in never.iter().take(SHOWN) {
            line(format!("  {}: {}", class(*c), slabs(s)));
        }
        more(&mut line, never.len());
        line(String::new());
        line("Pieces that cannot lie together on a slab".to_owned());
        for i in self.impossible.iter().take(SHOWN) {
            let names = i.load.iter().map(|&c| class(c)).collect::<Vec<_>>().join(" + ");
            line(format!("  {}: {names}: {}", slab(i.slab), i.why.text(shown)));
        }
        more(&mut line, self.impossible.len());
        line(String::new());
        line(
            "Sets of slabs that have what is needed, and cannot hold the pieces however these are dealt out".to_owned(),
        );
        let mut sets: Vec<&Refuted> = self.sets.iter().collect();
        sets.sort_by(|a, b| a.cost.total_cmp(&b.cost).then_with(|| a.slabs.cmp(&b.slabs)));
        for set in sets.iter().take(SHOWN) {
            line(format!("  {:10.2}  {}", set.cost, slabs(&set.slabs)));
        }
        more(&mut line, sets.len());
        if self.twin.iter().any(Option::is_some) {
            line("  Of equal slabs only the first ones are listed.".to_owned());
        }
        out
    }
}

fn more(line: &mut impl FnMut(String), all: usize) {
    if all == 0 {
        line("  none".to_owned());
    } else if all > SHOWN {
        line(format!("  and {} more of the kind", all - SHOWN));
    }
}

impl Why {
    fn text(&self, shown: Shown) -> String {
        match self {
            Self::Alone { .. } => "one of them cannot lie there at all".to_owned(),
            Self::Area { needed, available } => {
                format!("{} needed, {} available (gaps included)", shown.area(*needed), shown.area(*available))
            }
            Self::Lengths { needed } => format!("side by side they need {:.1} % of the slab", 100.0 * needed),
            Self::Order { bodies, .. } => format!("none of the orders of these {bodies} has room"),
        }
    }
}
