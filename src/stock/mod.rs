//! The rack as a living list: what becomes of it when a plan is cut.
//!
//! Comes in: a question and a plan that the judge has not faulted. Goes out: which slabs leave the rack, and which offcuts
//! come on it as slabs. Must not know: how a rack is kept in a file, and what day it is.
//!
//! An offcut has a frame of its own: the lower left corner of its bounding box is the origin. It is moved and never turned,
//! so its grain runs as it ran; [`CameFrom::at`] says where its origin lay.

mod names;
mod offcut;
mod print;
mod size;

use std::collections::BTreeSet;

use crate::geom::{Region, boolean};
use crate::model::{CameFrom, Layout, Plan, Question, Slab};

pub use print::{Print, is_same_stone, mark, prints, slab_print};
pub use size::holds_rectangle;

/// What taking a plan does to the rack.
#[derive(Clone, Debug, PartialEq)]
pub struct Taking {
    /// The slabs that are cut, in the order of the plan. A slab that the plan names but lays nothing on stays where it is.
    pub cut: Vec<Cut>,
}

/// One slab that leaves the rack.
#[derive(Clone, Debug, PartialEq)]
pub struct Cut {
    /// Its place on the rack, from 0.
    pub slab: usize,
    /// What comes on the rack in its place, the largest rectangle first.
    pub offcuts: Vec<Slab>,
    /// What is left after pieces and offcuts, the kerf included, mm².
    pub waste: f64,
}

impl Taking {
    /// Every offcut, slab by slab.
    pub fn offcuts(&self) -> impl Iterator<Item = &Slab> {
        self.cut.iter().flat_map(|c| &c.offcuts)
    }
}

/// Works out what taking a plan does to the rack. `date` is written on the offcuts as it is.
///
/// Layouts whose slab is not on the rack are passed over, as are pieces that the jobs do not have and offcuts without a
/// size: the judge tells them.
#[must_use]
pub fn taking(question: &Question, plan: &Plan, date: Option<&str>) -> Taking {
    let used: Vec<(usize, &Layout)> = plan
        .layouts
        .iter()
        .filter(|l| !l.placed.is_empty())
        .filter_map(|l| question.rack.iter().position(|s| s.name == l.slab).map(|k| (k, l)))
        .collect();
    // Names of slabs that leave are not given again: papers of the same day would name two stones alike.
    let mut names: BTreeSet<String> = question.rack.iter().map(|s| s.name.clone()).collect();
    let cut = used
        .into_iter()
        .map(|(k, layout)| {
            let slab = &question.rack[k];
            let pieces: Vec<Region> = layout.placed.iter().filter_map(|p| offcut::stone(question, p)).collect();
            let kept = offcut::kept(layout, slab, &pieces, question.shop.limits.kerf);
            let gone: Vec<Region> = kept.iter().map(|k| k.outline.to_region()).chain(pieces).collect();
            let waste = boolean::difference(&slab.outline.to_region(), &boolean::union_all(&gone)).area();
            let offcuts = kept
                .iter()
                .map(|k| {
                    let name = names::for_offcut(slab, &mut names);
                    let at = k.outline.bbox().min;
                    let from =
                        CameFrom { slab: slab.name.clone(), jobs: jobs_of(layout), at, date: date.map(str::to_owned) };
                    k.as_slab(slab, name, from, &question.shop.limits)
                })
                .collect();
            Cut { slab: k, offcuts, waste }
        })
        .collect();
    Taking { cut }
}

/// The jobs whose pieces lie on a slab, each once, in the order in which they lie.
fn jobs_of(layout: &Layout) -> Vec<String> {
    let mut jobs: Vec<String> = Vec::new();
    for placed in &layout.placed {
        if !jobs.contains(&placed.job) {
            jobs.push(placed.job.clone());
        }
    }
    jobs
}
