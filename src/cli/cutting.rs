//! The cutting drawings of a plan as files: one DXF a slab, beside its SVG.

use super::{is_of_slab, slab_file};
use crate::cad::{cutting, layers};
use crate::io::dxf::write;
use crate::model::openings::Openings;
use crate::model::{Plan, Question};
use crate::units::Shown;

/// The ending of their names.
const ENDING: &str = ".dxf";

/// Names and contents of the cutting drawings of all slabs of a plan, coordinates and labels in the given unit. `openings` are
/// the sheets for this plan, as `craft::sheets(question, Some(plan))` gives them.
pub(super) fn files(question: &Question, plan: &Plan, openings: &Openings, shown: Shown) -> Vec<(String, Vec<u8>)> {
    let file = |i: usize| {
        let drawing = cutting::drawing(question, plan, i, openings, shown);
        write::write(&drawing, &layers::ALL, shown)
    };
    plan.layouts.iter().enumerate().map(|(i, on)| (slab_file(i, on, ENDING), file(i))).collect()
}

/// True for the names that we give to cutting drawings: `slab-07-name.dxf`. Other files of the folder are the user's.
pub(super) fn is_cutting(name: &str) -> bool {
    is_of_slab(name, ENDING)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{Goal, Layout, Limits, PlanLimits, Shop, Yield};

    fn plan(slabs: &[&str]) -> Plan {
        let on = |slab: &&str| Layout {
            slab: (*slab).to_owned(),
            slab_print: None,
            placed: Vec::new(),
            yields: Yield::default(),
            offcuts: Vec::new(),
        };
        Plan {
            format: Plan::FORMAT.to_owned(),
            jobs: Vec::new(),
            seed: 1,
            goal: Goal::Cost,
            effort: None,
            limits: PlanLimits::of(&Limits::default(), 50.0, 70.0),
            layouts: slabs.iter().map(on).collect(),
            unplaced: Vec::new(),
            cost: 0.0,
            cost_bound: 0.0,
            bound_rule: None,
            proven: false,
            offcut_worth: None,
            flaw_margin: None,
            findings: Vec::new(),
            held: Vec::new(),
        }
    }

    #[test]
    fn names_of_cutting_drawings_are_known_again() {
        let question = Question { jobs: Vec::new(), rack: Vec::new(), shop: Shop::default() };
        let openings = Openings { format: Openings::FORMAT.to_owned(), openings: Vec::new() };
        let files = files(&question, &plan(&["Nero 12/b", "...", "\u{fc}ber"]), &openings, Shown::Mm);
        let names: Vec<&str> = files.iter().map(|f| f.0.as_str()).collect();
        assert_eq!(names, ["slab-01-nero-12-b.dxf", "slab-02-x.dxf", "slab-03-\u{fc}ber.dxf"]);
        for name in names {
            assert!(is_cutting(name), "{name}");
            assert!(!is_of_slab(name, ".svg"), "{name}");
        }
        for other in
            ["slab-01.dxf", "slab-1-x.dxf", "slab-01-X.dxf", "kitchen.dxf", "slab-01-x.svg", "slab-01-x.dxf.bak"]
        {
            assert!(!is_cutting(other), "{other}");
        }
    }
}
