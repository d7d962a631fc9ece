//! The stone of a slab in numbers, each with its source: its own tests, the shop's factors, or its class.
//!
//! In: a slab, the shop's table. Out: density, strength, factor of safety. Must not know: pieces.

use crate::model::openings::Value;
use crate::model::{Handling, Known, Slab, Standing};

/// Density, strength and safety of a slab.
#[derive(Clone, Debug, PartialEq)]
pub struct Stone {
    /// kg/m³.
    pub density: f64,
    /// Bending strength before the factor of safety, MPa.
    pub strength: f64,
    /// Factor of safety on the strength.
    pub safety: f64,
    /// These and what else is known, each with its source.
    pub values: Vec<Value>,
    /// What is to be said about this stone.
    pub remarks: Vec<String>,
}

fn told(what: &str, known: Known, unit: &str) -> Value {
    Value {
        what: what.to_owned(),
        value: known.value,
        unit: unit.to_owned(),
        source: known.source.to_owned(),
        standing: known.standing,
    }
}

impl Stone {
    /// The stone of a slab: its tests stand in place of its class, the shop's factors of safety in place of ours.
    #[must_use]
    pub fn of(slab: &Slab, handling: &Handling) -> Self {
        let class = slab.stone.strength();
        let tests = slab.tests.as_deref();
        let source = tests.and_then(|t| t.source.clone());
        let tested = |what: &str, value: f64, unit: &str, how: String| Value {
            what: what.to_owned(),
            value,
            unit: unit.to_owned(),
            source: source.as_ref().map_or_else(|| how.clone(), |s| format!("{s}: {how}")),
            standing: Standing::Tests,
        };
        let density = tests.and_then(|t| t.density).map_or_else(
            || told("density", class.density, "kg/m³"),
            |d| tested("density", d, "kg/m³", "as tested".to_owned()),
        );
        let strength = tests.and_then(|t| t.strength.as_ref()).map_or_else(
            || told("bending strength", class.bending(), "MPa"),
            |s| {
                let how = format!(
                    "lower expected value of {} specimens with a mean of {:.2} MPa (EN 12372, from memory)",
                    s.specimens(),
                    s.mean()
                );
                tested("bending strength", s.lower_expected(), "MPa", how)
            },
        );
        let safety = handling.safety.get(&slab.stone).map_or_else(
            || told("factor of safety", class.safety, ""),
            |&factor| Value {
                what: "factor of safety".to_owned(),
                value: factor,
                unit: String::new(),
                source: format!("safety of {} in the shop file", slab.stone.name()),
                standing: Standing::Shop,
            },
        );
        let (is_tested, d, s, f) = (strength.standing == Standing::Tests, density.value, strength.value, safety.value);
        let [low, high] = class.modulus;
        let values = vec![
            density,
            strength,
            safety,
            told("elastic modulus, least", low, "GPa"),
            told("elastic modulus, largest", high, "GPa"),
        ];
        let mut remarks = Vec::new();
        if !slab.stone_given {
            remarks.push("The slab's class of stone is not given: taken as granite.".to_owned());
        }
        if !is_tested {
            remarks.push(
                "The strength is what a standard or the trade asks of sound specimens of this class. It is not this slab's: veins, \
                 resin fill, mesh on the back and water make it weaker."
                    .to_owned(),
            );
        }
        if !class.remark.is_empty() && !is_tested {
            remarks.push(class.remark.to_owned());
        }
        Self { density: d, strength: s, safety: f, values, remarks }
    }
}
