//! Drawings and text. In: a question and a plan. Out: strings. Decides nothing about the plan, and knows no file, screen
//! or clock.
//!
//! A sheet is first built as a [`scene::Scene`] ([`sheet`]): plain shapes and texts in paper millimetres, every decision
//! taken. [`svg`] prints a scene and decides nothing. Figures (areas, yields, rails, positions) are measured on the
//! geometry of the question at the poses of the plan, so that a drawing cannot disagree with its own numbers.

mod compare;
mod datum;
mod edges;
mod flow;
mod hatch;
mod held;
mod measure;
pub mod opening;
pub mod page;
pub mod papers;
pub mod pdf;
mod placer;
pub mod quote;
pub mod rack;
pub mod scene;
pub mod sheet;
mod summary;
pub mod svg;
pub mod template;
pub mod text;
mod told;

pub use compare::comparison;
pub use held::held;
pub use summary::{findings, numbered_summary, summary};

use std::sync::Arc;

use crate::geom::BBox;
use crate::model::{Plan, PlanNumber, Question};
use crate::units::{MM_PER_INCH, Shown};

/// Paper sizes, landscape.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Paper {
    /// ISO 216 A4, 297 x 210 mm.
    #[default]
    A4,
    /// ISO 216 A3, 420 x 297 mm.
    A3,
    /// 11 x 8 1/2 in.
    Letter,
    /// 17 x 11 in.
    Tabloid,
}

impl Paper {
    /// Names with what each means.
    pub const NAMES: [(&'static str, Self); 4] =
        [("A4", Self::A4), ("A3", Self::A3), ("Letter", Self::Letter), ("Tabloid", Self::Tabloid)];

    /// Its name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::A4 => "A4",
            Self::A3 => "A3",
            Self::Letter => "Letter",
            Self::Tabloid => "Tabloid",
        }
    }

    /// Width and height, mm, landscape.
    #[must_use]
    pub const fn size(self) -> (f64, f64) {
        match self {
            Self::A4 => (297.0, 210.0),
            Self::A3 => (420.0, 297.0),
            Self::Letter => (11.0 * MM_PER_INCH, 8.5 * MM_PER_INCH),
            Self::Tabloid => (17.0 * MM_PER_INCH, 11.0 * MM_PER_INCH),
        }
    }
}

/// How results are shown to people.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Settings {
    /// Units of all numbers on the sheet.
    pub shown: Shown,
    /// The paper.
    pub paper: Paper,
}

/// The photograph of a slab, straight, to lie under its drawing. It should be pale: black lines and words stand on it.
#[derive(Clone, Debug, PartialEq)]
pub struct Backdrop {
    /// The picture.
    pub image: Arc<scene::Image>,
    /// Where its borders lie, slab frame, mm.
    pub area: BBox,
}

/// What lies under the drawings of a plan: for each layout (counted from 0) its photograph, if there is one.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Backdrops(pub Vec<Option<Backdrop>>);

impl Backdrops {
    /// That of a layout.
    #[must_use]
    pub fn of(&self, layout: usize) -> Option<&Backdrop> {
        self.0.get(layout).and_then(Option::as_ref)
    }
}

/// The drawing of one slab of the plan (`layout` counts from 0) as an SVG document to scale on the paper.
///
/// Every input gives a well-formed document: a layout that the plan does not have, a slab that the rack does not have, and
/// pieces that cannot be drawn are said on the sheet.
#[must_use]
pub fn layout_svg(question: &Question, plan: &Plan, layout: usize, settings: &Settings) -> String {
    svg::print(&sheet::scene(question, plan, layout, settings))
}

/// The same on a photograph of the slab, if there is one, and with the number of the plan.
#[must_use]
pub fn layout_svg_on(
    question: &Question,
    plan: &Plan,
    layout: usize,
    settings: &Settings,
    backdrop: Option<&Backdrop>,
    number: Option<PlanNumber>,
) -> String {
    svg::print(&sheet::numbered_scene(question, plan, layout, settings, backdrop, number))
}
