//! Rods that are glued into the back of rails: which rails get them and why, where they lie, how deep, with how much resin.
//!
//! In: a piece, its openings' rails, the slab, the shop's rods, flaws in the piece frame. Out: [`Rodding`]. Must not know: where
//! the piece lies on the slab.

use super::groove::{Clear, resin, steps};
use super::rails::{Facing, falls_short};
use crate::geom::{BBox, Point, Region, Ring, boolean, pt, tol};
use crate::model::openings::{Rail, RailVerdict, Rod, rail_words};
use crate::model::{Flaw, Limits, Opening, Piece, Rods, Shown, Slab, StoneClass};

/// A rail longer than this gets a rod however wide it is, mm. 600 (common practice).
const LONG: f64 = 600.0;

/// Above this use of its strength when it is carried, a piece gets rods in its front and back rails. 0.7 (common practice).
const USE: f64 = 0.7;

/// A rail wider than this gets two rods, mm. 100 (common practice).
const TWO: f64 = 100.0;

/// How far from the opening the first rod of a wide rail lies, mm, and how far from it the second. 25 (common practice: mid-width,
/// or 20 to 25 mm from the opening); 50 more is ours.
const BESIDE: [f64; 2] = [25.0, 75.0];

/// No rod lies nearer to the opening than this, mm. 20 (common practice).
const NEAREST: f64 = 20.0;

/// How far a groove keeps from edges, and so from seams, which are edges of a piece, mm. 25 (common practice).
pub(super) const FROM_EDGE: f64 = 25.0;

/// How far a groove keeps from tap holes, other openings and other grooves, mm. 10 (common practice, for tap holes).
pub(super) const FROM_HOLE: f64 = 10.0;

/// A rod should run on at least this far past the opening, mm, and more than 25 of its diameters (common practice: 100 to 150).
const LEAST_PAST: f64 = 100.0;

/// Polylines may be off by this much, mm, without a groove at mid-width counting as too near to an edge.
const SLACK: f64 = 2.0 * tol::FLATTEN;

/// A rod within this of where one is wanted may serve in its place, mm (ours).
const SAME_LINE: f64 = 15.0;

/// Stone wider than this many rail zones beside an opening is field and no rail (ours).
const FIELD: f64 = 3.0;

/// What is glued into the rails of an opening.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Rodding {
    /// The rods.
    pub rods: Vec<Rod>,
    /// What is to be said: rails that want a rod and get none, rods that are short, flaws that cross a rail.
    pub notes: Vec<String>,
    /// The order of work with its cautions; empty without rods.
    pub steps: Vec<String>,
    /// Sides of the rails that want a rod and can have none, other rods aside. Porcelain is not among them: it is supported instead.
    pub lacking: Vec<String>,
}

/// What the rods of one opening depend on.
#[derive(Clone, Copy, Debug)]
pub struct Setting<'a> {
    /// The piece.
    pub piece: &'a Piece,
    /// The slab that it is cut from: class and thickness count.
    pub slab: &'a Slab,
    /// The shop's limits.
    pub limits: &'a Limits,
    /// The shop's rods.
    pub shop: &'a Rods,
    /// Flaws of the slab, in the piece frame; empty without a plan.
    pub flaws: &'a [Flaw],
    /// The largest use of its strength when the cut piece is carried (1 is the limit), if that is known.
    pub usage: Option<f64>,
    /// The units in which reasons, notes and steps give lengths.
    pub shown: Shown,
}

/// The rods of one opening by itself, whose rails are given as [`super::rails::rails`] makes them.
#[must_use]
pub fn rods(setting: &Setting<'_>, opening: usize, rails: &[Rail]) -> Rodding {
    let mut found = of_opening(setting, opening, rails, &mut []);
    finish(setting, &mut found);
    found
}

/// The rods of all openings of a piece, in their order; `rails` has those of each opening.
///
/// Grooves keep clear of one another. Where an earlier opening's rod lies in the line of a later one's, it runs on and serves
/// both, and is listed with the earlier one; so is the rod in the web between two openings.
#[must_use]
pub fn rods_of_piece(setting: &Setting<'_>, rails: &[Vec<Rail>]) -> Vec<Rodding> {
    let mut all: Vec<Rodding> = Vec::with_capacity(rails.len());
    for (opening, own) in rails.iter().enumerate() {
        let next = of_opening(setting, opening, own, &mut all);
        all.push(next);
    }
    for found in &mut all {
        finish(setting, found);
    }
    all
}

/// Adds the order of work, which needs the final lengths.
fn finish(setting: &Setting<'_>, found: &mut Rodding) {
    if !found.rods.is_empty() {
        found.steps = steps(setting.shop, &found.rods, setting.shown);
        found
            .notes
            .push("rods hold a cracked rail together; they add nothing to its strength before it cracks".to_owned());
    }
}

fn of_opening(setting: &Setting<'_>, opening: usize, rails: &[Rail], earlier: &mut [Rodding]) -> Rodding {
    let mut found = Rodding::default();
    let Some(own) = setting.piece.openings.get(opening) else { return found };
    if own.kind.is_small() {
        return found;
    }
    for rail in rails {
        let Some(strip) = Strip::of(setting, own, rail) else { continue };
        let crossing = flaws_across(setting, &strip, rail, &mut found.notes);
        let mut because = reasons(setting, rail, &strip);
        because.extend(crossing);
        if because.is_empty() {
            continue;
        }
        let words = rail_words(&rail.side);
        if setting.slab.stone == StoneClass::Porcelain {
            let text = "porcelain gets no rods: support it over its whole area".to_owned();
            if !found.notes.contains(&text) {
                found.notes.push(text);
            }
            continue;
        }
        if rail.verdict == RailVerdict::Stop {
            found.notes.push(format!("the {words} is too narrow to be cut at all: no rod makes up for that"));
            continue;
        }
        let other = rail.side.strip_prefix("to ");
        let listed = setting.piece.openings.iter().zip(&*earlier).find(|(o, _)| other == Some(o.name.as_str()));
        if let Some((listed, theirs)) = listed {
            if theirs.lacking.contains(&format!("to {}", own.name)) {
                found.notes.push(format!("no rod in the {words}: \"{}\" says why", listed.name));
                found.lacking.push(rail.side.clone());
            } else {
                found.notes.push(format!("the rod in the {words} is listed with \"{}\"", listed.name));
            }
            continue;
        }
        let (mut has_one, mut lacks_one) = (false, false);
        let wanted: &[Option<f64>] = if rail.least > TWO { &[Some(BESIDE[0]), Some(BESIDE[1])] } else { &[None] };
        for &beside in wanted {
            let wish = Wish { setting, opening, strip: &strip, rail, beside };
            if let Some(note) = wish.shared(earlier, &found.rods) {
                found.notes.push(note);
                has_one = true;
                continue;
            }
            let laid: Vec<&Rod> = earlier.iter().flat_map(|r| &r.rods).chain(&found.rods).collect();
            match wish.lay(&laid) {
                Ok((mut rod, notes)) => {
                    rod.because.clone_from(&because);
                    found.rods.push(rod);
                    found.notes.extend(notes);
                    has_one = true;
                }
                Err(why) => {
                    found.notes.push(format!("no {}rod in the {words}: {why}", ordinal(beside)));
                    // Where only other rods are in the way, those hold the corner.
                    lacks_one |= wish.lay(&[]).is_err();
                }
            }
        }
        if lacks_one && !has_one {
            found.lacking.push(rail.side.clone());
        }
    }
    found
}

fn ordinal(beside: Option<f64>) -> &'static str {
    if beside == Some(BESIDE[1]) { "second " } else { "" }
}

/// Where a rail lies: its side of the opening, along which stretch, from which line on.
struct Strip {
    facing: Facing,
    /// Where the opening begins and ends along the rail.
    along: [f64; 2],
    /// The opening's outermost line on that side.
    edge: f64,
}

impl Strip {
    /// `None` for stone that is no rail: webs to tap holes, and field.
    fn of(setting: &Setting<'_>, own: &Opening, rail: &Rail) -> Option<Self> {
        let facing = match Facing::ALL.into_iter().find(|f| f.name() == rail.side) {
            Some(facing) => facing,
            None => {
                let name = rail.side.strip_prefix("to ")?;
                if setting.piece.openings.iter().any(|o| o.name == name && o.kind.is_small()) {
                    return None;
                }
                Facing::of(Point::from(rail.at[1]) - Point::from(rail.at[0]))
            }
        };
        if rail.least >= FIELD * setting.limits.rail_zone {
            return None;
        }
        let b = own.shape.extent();
        let (along, edge) = match facing {
            Facing::Front => ([b.min.x, b.max.x], b.min.y),
            Facing::Back => ([b.min.x, b.max.x], b.max.y),
            Facing::Left => ([b.min.y, b.max.y], b.min.x),
            Facing::Right => ([b.min.y, b.max.y], b.max.x),
        };
        Some(Self { facing, along, edge })
    }

    /// The point at a place along the rail, so far from the opening.
    fn at(&self, place: f64, from_opening: f64) -> Point {
        let out = self.facing.outwards();
        if self.facing.runs_along_x() {
            pt(place, self.edge + out.y * from_opening)
        } else {
            pt(self.edge + out.x * from_opening, place)
        }
    }

    /// The stone of the rail, as far as it is rail.
    fn region(&self, piece: &Piece, width: f64) -> Region {
        let corners = [self.at(self.along[0], 0.0), self.at(self.along[1], width)];
        let strip = Ring::rectangle(BBox::of(&corners));
        boolean::intersection(&strip.to_region(), &piece.outline.ring.to_region())
    }
}

/// Why a rail gets a rod, its flaws aside.
fn reasons(setting: &Setting<'_>, rail: &Rail, strip: &Strip) -> Vec<String> {
    let said = |mm: f64| setting.shown.said(mm);
    let mut because = Vec::new();
    match rail.rod {
        Some(rod) if falls_short(rail.least, rod) => {
            because.push(format!("{} wide, and narrower than {} wants a rod", said(rail.least), said(rod)));
        }
        None => because.push(format!(
            "every rail of {} of {} wants a rod",
            setting.slab.stone.name(),
            said(setting.slab.thickness)
        )),
        Some(_) => {}
    }
    let span = strip.along[1] - strip.along[0];
    if span > LONG {
        because.push(format!("{} long, and longer than {} wants a rod", said(span), said(LONG)));
    }
    if let Some(usage) = setting.usage
        && usage > USE
        && strip.facing.runs_along_x()
    {
        because.push(format!("{usage:.2} of its strength is used when the piece is carried, more than {USE}"));
    }
    because
}

/// Flaws that cross a rail, each a reason for a rod and a warning.
fn flaws_across(setting: &Setting<'_>, strip: &Strip, rail: &Rail, notes: &mut Vec<String>) -> Vec<String> {
    let width = rail.least.min(setting.limits.rail_zone);
    if setting.flaws.is_empty() || width <= 0.0 {
        return Vec::new();
    }
    let region = strip.region(setting.piece, width);
    let mut because = Vec::new();
    for (i, flaw) in setting.flaws.iter().enumerate() {
        if flaw.distance_to(&region).distance <= 0.0 {
            let (kind, number) = (flaw.kind.name(), i + 1);
            because.push(format!("a {kind} crosses it (flaw {number})"));
            notes.push(format!(
                "a {kind} (flaw {number}) crosses the {}: a rod does not repair it. Lay the piece elsewhere if you can",
                rail_words(&rail.side)
            ));
        }
    }
    because
}

/// A rod that a rail wants.
struct Wish<'a> {
    setting: &'a Setting<'a>,
    opening: usize,
    strip: &'a Strip,
    rail: &'a Rail,
    /// How far from the opening; `None`: at mid-width.
    beside: Option<f64>,
}

impl Wish<'_> {
    /// How far from the opening the rod is wanted.
    fn wanted(&self) -> f64 {
        self.beside.unwrap_or(self.rail.least / 2.0)
    }

    /// How far from the opening it may lie. A narrow rail has its rod in the middle; a wider one leaves some choice.
    fn choice(&self) -> [f64; 2] {
        [NEAREST.min(self.wanted()), (self.rail.least - NEAREST).max(self.wanted())]
    }

    /// Lays the largest rod that keeps the stone above it and has its length past the opening, else the largest that keeps the
    /// stone above it; with what is to be said about it.
    fn lay(&self, laid: &[&Rod]) -> Result<(Rod, Vec<String>), String> {
        let said = |mm: f64| self.setting.shown.said(mm);
        let (shop, thickness) = (self.setting.shop, self.setting.slab.thickness);
        let mut diameters = shop.diameters.clone();
        diameters.sort_by(|a, b| b.total_cmp(a));
        let deepest = Rods::deepest(thickness);
        let Some(&smallest) = diameters.last() else { return Err("the shop lists no rods".to_owned()) };
        diameters.retain(|d| d + shop.cover <= deepest + 1e-9);
        if diameters.is_empty() {
            return Err(format!(
                "the smallest, {}, needs a groove {} deep; {} of stone allow {}, so that {} stay above it",
                said(smallest),
                said(smallest + shop.cover),
                said(thickness),
                said(deepest),
                said(thickness - deepest)
            ));
        }
        diameters.retain(|d| shop.blade.overrun(d + shop.cover).is_some());
        if diameters.is_empty() {
            return Err(format!("the groove blade of {} does not reach so deep", said(shop.blade.diameter)));
        }
        let tried: Vec<Rod> = diameters.iter().filter_map(|&d| self.place(d, laid)).collect();
        let is_long = |rod: &Rod| rod.past.iter().all(|&p| p >= LEAST_PAST && p > 25.0 * rod.diameter);
        let Some(rod) = tried.iter().find(|r| is_long(r)).or_else(|| tried.first()) else {
            return Err(format!(
                "no line along it keeps {} from tap holes, other openings and other grooves, and {} from the edges at both \
                 ends, with the run-out of its groove",
                said(FROM_HOLE),
                said(FROM_EDGE)
            ));
        };
        let mut notes = Vec::new();
        if !is_long(rod) {
            let is_short = |past: f64| past < LEAST_PAST || past <= 25.0 * rod.diameter;
            let ends = if rod.past.iter().all(|&p| is_short(p)) { "both ends" } else { "one end" };
            notes.push(format!(
                "the rod in the {} runs on only {} past the opening at {ends}; {} and more than 25 diameters are usual, so it \\
                 holds less there",
                rail_words(&self.rail.side),
                said(rod.past[0].min(rod.past[1])),
                said(LEAST_PAST)
            ));
        }
        Ok((rod.clone(), notes))
    }

    /// The rod of a diameter, as near to where it is wanted as there is a free line, as long as that is free.
    fn place(&self, diameter: f64, laid: &[&Rod]) -> Option<Rod> {
        let wanted = self.wanted();
        let [low, high] = self.choice();
        let mut offsets = vec![wanted];
        let mut step = 1.0;
        while wanted - step >= low || wanted + step <= high {
            offsets.extend([wanted - step, wanted + step].into_iter().filter(|o| (low..=high).contains(o)));
            step += 1.0;
        }
        offsets.into_iter().find_map(|offset| self.at(offset, diameter, laid))
    }

    /// The rod of a diameter so far from the opening.
    fn at(&self, offset: f64, diameter: f64, laid: &[&Rod]) -> Option<Rod> {
        let (setting, shop, strip) = (self.setting, self.setting.shop, self.strip);
        let (width, depth) = (shop.groove_width(diameter), diameter + shop.cover);
        let run_out = shop.blade.overrun(depth)?;
        let clear = self.clear(offset, width, laid);
        let (start, end) = (strip.at(strip.along[0], offset), strip.at(strip.along[1], offset));
        let span = start.distance(end);
        if span <= 0.0 || !clear.of(start, end) {
            return None;
        }
        let onward = (end - start) * (1.0 / span);
        let centre = start.lerp(end, 0.5);
        let most = shop.length_past(diameter) + run_out;
        // The ramps at both ends hold no rod.
        let grooves = [clear.length(centre, start, -onward, most), clear.length(centre, end, onward, most)];
        let past = grooves.map(|g| g - run_out);
        if past.iter().any(|p| *p <= 0.0) {
            return None;
        }
        let (from, to) = (start - onward * past[0], end + onward * past[1]);
        let resin_g = resin(shop, diameter, width, depth, from.distance(to));
        Some(Rod {
            side: self.rail.side.clone(),
            from: from.into(),
            to: to.into(),
            diameter,
            groove_width: width,
            groove_depth: depth,
            groove_from: (start - onward * grooves[0]).into(),
            groove_to: (end + onward * grooves[1]).into(),
            stone_above: setting.slab.thickness - depth,
            resin_g,
            hardener_g: resin_g * shop.hardener,
            because: Vec::new(),
            past,
            material: shop.material.clone(),
        })
    }

    fn clear<'b>(&'b self, offset: f64, width: f64, laid: &'b [&'b Rod]) -> Clear<'b> {
        let from_edge = (self.rail.least - offset).min(FROM_EDGE) - SLACK;
        Clear { setting: self.setting, opening: self.opening, from_edge, width, laid }
    }

    /// Lets an earlier opening's rod in about the same line run on along this rail too. What is to be said about it then.
    fn shared(&self, earlier: &mut [Rodding], own: &[Rod]) -> Option<String> {
        let strip = self.strip;
        let [low, high] = self.choice();
        let listed: Vec<(usize, usize)> =
            earlier.iter().enumerate().flat_map(|(k, r)| (0..r.rods.len()).map(move |j| (k, j))).collect();
        for (k, j) in listed {
            let rod = earlier[k].rods[j].clone();
            let (from, to) = (Point::from(rod.from), Point::from(rod.to));
            let way = to - from;
            if (way.x.abs() > way.y.abs()) != strip.facing.runs_along_x() {
                continue;
            }
            let offset = (from - strip.at(strip.along[0], 0.0)).dot(strip.facing.outwards());
            if !(low..=high).contains(&offset) || (offset - self.wanted()).abs() > SAME_LINE {
                continue;
            }
            let others: Vec<&Rod> = earlier
                .iter()
                .enumerate()
                .flat_map(|(a, r)| r.rods.iter().enumerate().map(move |(b, rod)| (a, b, rod)))
                .filter(|&(a, b, _)| (a, b) != (k, j))
                .map(|(_, _, rod)| rod)
                .chain(own)
                .collect();
            let Some(mine) = self.at(offset, rod.diameter, &others) else { continue };
            let place = |p: [f64; 2]| if strip.facing.runs_along_x() { p[0] } else { p[1] };
            let is_apart =
                place(mine.groove_from) > place(rod.groove_to) || place(mine.groove_to) < place(rod.groove_from);
            let first = if place(mine.from) < place(rod.from) { &mine } else { &rod };
            let last = if place(mine.to) > place(rod.to) { &mine } else { &rod };
            let clear = self.clear(offset, rod.groove_width, &others);
            if is_apart || !clear.of(first.groove_from.into(), last.groove_to.into()) {
                continue;
            }
            let mut long = rod.clone();
            (long.from, long.groove_from) = (first.from, first.groove_from);
            (long.to, long.groove_to) = (last.to, last.groove_to);
            long.past[0] += place(rod.from) - place(long.from);
            long.past[1] += place(long.to) - place(rod.to);
            let length = Point::from(long.from).distance(long.to.into());
            long.resin_g = resin(self.setting.shop, rod.diameter, rod.groove_width, rod.groove_depth, length);
            long.hardener_g = long.resin_g * self.setting.shop.hardener;
            let names = |i: usize| self.setting.piece.openings.get(i).map_or("", |o| o.name.as_str());
            long.because.push(format!("it serves \"{}\" too", names(self.opening)));
            earlier[k].rods[j] = long;
            return Some(format!(
                "the rod in the {} of \"{}\" runs on along the {} here: one rod for both",
                rail_words(&rod.side),
                names(k),
                rail_words(&self.rail.side)
            ));
        }
        None
    }
}
