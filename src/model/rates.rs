//! What the shop charges, with the reason and the source of every default.
//!
//! A rate for which no default makes sense (money for a metre of edge) has none. A quote that needs it then says so.

use std::collections::BTreeMap;

use super::job::OpeningKind;
use super::money::Exact;
use crate::units::MM_PER_INCH;

/// By what lengths and areas are charged.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum RateUnit {
    /// By the metre and the square metre.
    #[default]
    Metre,
    /// By the foot and the square foot.
    Foot,
}

impl RateUnit {
    /// Names as written in files.
    pub const NAMES: [(&'static str, Self); 2] = [("metre", Self::Metre), ("foot", Self::Foot)];

    /// Millimetres in one of it.
    #[must_use]
    pub const fn mm(self) -> f64 {
        match self {
            Self::Metre => 1000.0,
            Self::Foot => 12.0 * MM_PER_INCH,
        }
    }

    /// The unit of lengths.
    #[must_use]
    pub const fn length(self) -> &'static str {
        match self {
            Self::Metre => "m",
            Self::Foot => "ft",
        }
    }

    /// The unit of areas.
    #[must_use]
    pub const fn area(self) -> &'static str {
        match self {
            Self::Metre => "m²",
            Self::Foot => "ft²",
        }
    }
}

/// How stone is charged once slabs are chosen.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum SlabCharge {
    /// Every slab that is cut, whole.
    #[default]
    Whole,
    /// The area of the pieces, and the shop's usual waste on top.
    Area,
}

impl SlabCharge {
    /// Names as written in files.
    pub const NAMES: [(&'static str, Self); 2] = [("whole", Self::Whole), ("area", Self::Area)];
}

/// What counts as the area of a piece.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum AreaRule {
    /// The rectangle that bounds each run, the sum of rectangles for an L.
    #[default]
    Rectangles,
    /// The outline itself.
    Outline,
}

impl AreaRule {
    /// Names as written in files.
    pub const NAMES: [(&'static str, Self); 2] = [("rectangles", Self::Rectangles), ("outline", Self::Outline)];
}

/// What an area is rounded up for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum RoundedBy {
    /// Every piece.
    #[default]
    Piece,
    /// The sum of a line.
    Job,
}

impl RoundedBy {
    /// Names as written in files.
    pub const NAMES: [(&'static str, Self); 2] = [("piece", Self::Piece), ("job", Self::Job)];
}

/// A service that every job is taken to want unless the shop leaves it out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Service {
    /// Measuring on site.
    Templating,
    /// Bringing the pieces.
    Delivery,
    /// Setting them.
    Installation,
}

impl Service {
    /// Names as written in files.
    pub const NAMES: [(&'static str, Self); 3] =
        [("templating", Self::Templating), ("delivery", Self::Delivery), ("installation", Self::Installation)];

    /// Its name as written in files.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Templating => "templating",
            Self::Delivery => "delivery",
            Self::Installation => "installation",
        }
    }
}

/// By what an extra of the shop's own is counted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Per {
    /// Once a job.
    #[default]
    Job,
    /// Every piece.
    Piece,
    /// Every opening.
    Opening,
    /// By area of the pieces.
    Area,
}

impl Per {
    /// Names as written in files.
    pub const NAMES: [(&'static str, Self); 4] =
        [("job", Self::Job), ("piece", Self::Piece), ("opening", Self::Opening), ("area", Self::Area)];
}

/// Something of the shop's own that is charged, or taken off if its rate is below zero.
#[derive(Clone, Debug, PartialEq)]
pub struct Extra {
    /// What it is called on the quote.
    pub name: String,
    /// Money for one.
    pub rate: Exact,
    /// One what.
    pub per: Per,
}

/// What the shop charges. The field docs give reason and source of each default; "none" means that there is no sensible one.
#[derive(Clone, Debug, PartialEq)]
pub struct Rates {
    /// Code or sign of the currency. None: amounts then stand without.
    pub currency: Option<String>,
    /// Digits of its minor unit. 2: true of most currencies (ISO 4217).
    pub minor_digits: u32,
    /// By what lengths and areas are charged. The metre; the foot in a file whose `units` are inches (our choice).
    pub per: RateUnit,
    /// How stone is charged. Whole slabs: they are bought whole. Both ways are published by fabricators: whole for special
    /// orders and matched veins, by area for stock colours.
    pub slabs: SlabCharge,
    /// Money for an area of stone. None: the price of the slabs on the rack is taken.
    pub stone: Option<Exact>,
    /// Put on the prices of the rack, percent. 0: they are taken as selling prices (our choice).
    pub markup_percent: Exact,
    /// The part of a slab that usually goes to waste, percent: what is outside the outlines of the pieces. 30 (published: a
    /// US fabricator's long-run average).
    pub waste_percent: Exact,
    /// What a kept offcut gives back to a customer who pays for whole slabs, percent of what its area cost. 0: it stays with
    /// the shop and is worth nothing to the customer (our choice). Shops that sell remnants ask 30 to 70 (common practice).
    pub credit_percent: Exact,
    /// What counts as the area of a piece. Rectangles, openings not deducted (common practice).
    pub area_rule: AreaRule,
    /// Areas are rounded up to this, in square metres or square feet. 0.05 m² or 0.5 ft² (common practice, for each piece);
    /// 0.1 m² or 1 ft² for a job.
    pub area_step: Option<Exact>,
    /// What is rounded up. Every piece (common practice; some shops round the job).
    pub area_rounded_by: RoundedBy,
    /// Lengths of edges and rods are rounded up to this, mm, for each piece and finish and for each rod. 5 mm or 1/8 in
    /// (common practice).
    pub length_step: Option<f64>,
    /// Money for a length of edge, by the name of its finish. None for any finish; raw edges cost nothing unless given.
    pub edges: BTreeMap<String, Exact>,
    /// Money for an opening, in the order of [`OpeningKind::NAMES`]. None.
    pub openings: [Option<Exact>; OpeningKind::NAMES.len()],
    /// On top for an opening that is scored in the shop and finished on site. None.
    pub site_finish: Option<Exact>,
    /// Money for a length of rod, glued in. None.
    pub rods: Option<Exact>,
    /// Money for a seam. None.
    pub seam: Option<Exact>,
    /// Money for a rounded corner of an outline that has a finished side; a curved side is an edge and has none. None.
    pub corner: Option<Exact>,
    /// Money for an area of mesh on the back. None: then there is no mesh.
    pub mesh: Option<Exact>,
    /// Money for an area of sealing. None: then it is not included.
    pub sealing: Option<Exact>,
    /// Money for measuring on site, each job. None.
    pub templating: Option<Exact>,
    /// Money for bringing the pieces, each job. None.
    pub delivery: Option<Exact>,
    /// Money for setting them, each job. None.
    pub installation: Option<Exact>,
    /// ... and by area. None; one of the two is enough.
    pub installation_by_area: Option<Exact>,
    /// Services that the shop does not offer. None left out: a customer expects them (common practice).
    pub without: Vec<Service>,
    /// The least that a job costs, before tax. None: then there is no least charge.
    pub minimum: Option<Exact>,
    /// Tax on the sum of the lines, percent. None.
    pub tax_percent: Option<Exact>,
    /// What the tax is called. "tax".
    pub tax_name: String,
    /// Days for which a quote holds. 30 (common practice).
    pub valid_days: u32,
    /// Extras of the shop's own. None.
    pub extras: Vec<Extra>,
    /// What a quote says that it does not include. Fixtures; plumbing, gas and electrical work; cupboards and supports;
    /// taking out old tops; making good walls (common practice).
    pub not_included: Vec<String>,
    /// Sentences of the shop's own at the end of a quote. None.
    pub terms: Vec<String>,
}

impl Default for Rates {
    fn default() -> Self {
        Self {
            currency: None,
            minor_digits: 2,
            per: RateUnit::Metre,
            slabs: SlabCharge::Whole,
            stone: None,
            markup_percent: Exact::ZERO,
            waste_percent: Exact::new(30, 0),
            credit_percent: Exact::ZERO,
            area_rule: AreaRule::Rectangles,
            area_step: None,
            area_rounded_by: RoundedBy::Piece,
            length_step: None,
            edges: BTreeMap::new(),
            openings: [None; OpeningKind::NAMES.len()],
            site_finish: None,
            rods: None,
            seam: None,
            corner: None,
            mesh: None,
            sealing: None,
            templating: None,
            delivery: None,
            installation: None,
            installation_by_area: None,
            without: Vec::new(),
            minimum: None,
            tax_percent: None,
            tax_name: "tax".to_owned(),
            valid_days: 30,
            extras: Vec::new(),
            not_included: Self::NOT_INCLUDED.map(str::to_owned).to_vec(),
            terms: Vec::new(),
        }
    }
}

impl Rates {
    /// True if the shop says what anything costs: without that a quote has nothing to say.
    #[must_use]
    pub fn has_any(&self) -> bool {
        let single = [
            self.stone,
            self.site_finish,
            self.rods,
            self.seam,
            self.corner,
            self.mesh,
            self.sealing,
            self.templating,
            self.delivery,
            self.installation,
            self.installation_by_area,
            self.minimum,
        ];
        let listed = self.openings.iter().chain(&single).any(Option::is_some);
        listed || !self.edges.is_empty() || !self.extras.is_empty()
    }

    /// What a quote does not include unless the shop's own list says otherwise.
    pub const NOT_INCLUDED: [&'static str; 5] = [
        "sinks, taps, cooktops and other fixtures",
        "plumbing, gas and electrical work",
        "cupboards, and supports below the stone",
        "taking out and disposing of old tops",
        "making good walls, tiles and paint",
    ];

    /// Areas are rounded up to this, in square metres or square feet.
    #[must_use]
    pub fn step_of_area(&self) -> Exact {
        self.area_step.unwrap_or(match (self.per, self.area_rounded_by) {
            (RateUnit::Metre, RoundedBy::Piece) => Exact::new(5, 2),
            (RateUnit::Metre, RoundedBy::Job) => Exact::new(1, 1),
            (RateUnit::Foot, RoundedBy::Piece) => Exact::new(5, 1),
            (RateUnit::Foot, RoundedBy::Job) => Exact::new(1, 0),
        })
    }

    /// Lengths are rounded up to this, mm.
    #[must_use]
    pub fn step_of_length(&self) -> f64 {
        self.length_step.unwrap_or(match self.per {
            RateUnit::Metre => 5.0,
            RateUnit::Foot => MM_PER_INCH / 8.0,
        })
    }
}
