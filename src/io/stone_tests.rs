//! Reads `[slab.tests]` of `rack.toml`: the test values of a slab or its lot.
//!
//! In: the table of a slab. Out: [`StoneTests`], and remarks. Must not know: what is made of the values.

use super::reader::{Keys, Table, Value};
use crate::diag::Kind;
use crate::model::{StoneTests, TestedStrength};

/// The keys of the table.
pub(super) const TESTS: &[&str] =
    &["density", "strength", "strength_mean", "strength_deviation", "specimens", "source"];

/// Stone lies within this, kg/m³.
const DENSITIES: [f64; 2] = [1000.0, 4000.0];

/// Bending strengths of stone and of what is sold as stone lie within this, MPa.
const STRENGTHS: [f64; 2] = [0.1, 400.0];

/// Reads the table `tests` of a slab: outside `None` after an error, inside `None` if there is none.
#[expect(clippy::option_option, reason = "\"wrong\" and \"not given\" are two things")]
pub(super) fn read(slab: &Table<'_>, all: &'static Keys) -> Option<Option<Box<StoneTests>>> {
    let Some(value) = slab.get("tests") else { return Some(None) };
    let before = slab.desk.errors();
    let table = value.table(TESTS, all)?;
    let density = table.get("density").and_then(|v| v.number_within(DENSITIES[0], DENSITIES[1]));
    let strength = read_strength(&table);
    let source = table.get("source").and_then(|v| v.name());
    if slab.desk.errors() > before {
        return None;
    }
    if density.is_none() && strength.is_none() {
        let fix = "add density (kg/m³), or strength = [...] (MPa, one value a specimen)";
        value.warning(Kind::MissingKey, "no test value", "\"density\", \"strength\" or \"strength_mean\"", fix);
        return Some(None);
    }
    if source.is_none() {
        let fix = "add for example source = \"laboratory report 17-204, EN 12372, wet, across the rift\"";
        value.note(Kind::Assumed, "no source", "which tests these are", fix);
    }
    Some(Some(Box::new(StoneTests { density, strength, source })))
}

/// The strength, as values or as a summary; `None` if there is none, or after an error.
fn read_strength(table: &Table<'_>) -> Option<TestedStrength> {
    let summary: Vec<(&'static str, Value<'_>)> = ["strength_mean", "strength_deviation", "specimens"]
        .into_iter()
        .filter_map(|key| table.get(key).map(|v| (key, v)))
        .collect();
    if let Some(values) = table.get("strength") {
        if let Some((key, value)) = summary.first() {
            let given = format!("\"{key}\" with \"strength\"");
            value.error(Kind::Conflict, given, "the value of every specimen, or a summary", "take one of them out");
            return None;
        }
        return read_values(&values);
    }
    if summary.is_empty() {
        return None;
    }
    let fix = "a summary has strength_mean, strength_deviation (both MPa) and specimens (how many)";
    let mean = table.need("strength_mean", "the mean of the strengths, MPa", fix);
    let deviation = table.need("strength_deviation", "their standard deviation, MPa", fix);
    let specimens = table.need("specimens", "how many specimens were tested", fix);
    let mean = mean.and_then(|v| v.number_within(STRENGTHS[0], STRENGTHS[1]));
    let deviation_value = deviation.and_then(|v| v.number_within(0.0, STRENGTHS[1]).map(|x| (v, x)));
    let specimens = specimens.and_then(|v| enough(&v, v.integer()?));
    let (mean, (value, deviation), specimens) = (mean?, deviation_value?, specimens?);
    if deviation > mean {
        let expected = format!("a standard deviation below the mean of {mean} MPa");
        value.error(Kind::OutOfRange, value.as_written(), expected, "check the values");
        return None;
    }
    Some(TestedStrength::Summary { mean, deviation, specimens })
}

fn read_values(list: &Value<'_>) -> Option<TestedStrength> {
    let entries = list.list("a list of strengths, MPa, one a specimen")?;
    enough(list, i64::try_from(entries.len()).unwrap_or(i64::MAX))?;
    let values: Vec<Option<f64>> = entries.iter().map(|e| e.number_within(STRENGTHS[0], STRENGTHS[1])).collect();
    let values: Option<Vec<f64>> = values.into_iter().collect();
    values.map(TestedStrength::Values)
}

/// The number of specimens, if they are enough for a statement.
fn enough(value: &Value<'_>, specimens: i64) -> Option<usize> {
    let number = usize::try_from(specimens).ok().filter(|&n| (TestedStrength::FEWEST..=100_000).contains(&n));
    if number.is_none() {
        let given = format!("{specimens} specimens");
        let expected = format!("{} specimens or more", TestedStrength::FEWEST);
        let fix =
            "fewer say too little about a stone: leave the strength out, and the least value of its class is taken";
        value.error(Kind::WrongCount, given, expected, fix);
    }
    number
}
