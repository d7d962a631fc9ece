//! A sheet as plain drawing data: shapes, texts and styles in paper millimetres, every decision taken.
//!
//! Paper frame: the origin is the paper's lower left corner, x runs to the right, y up. Printers of any format (page,
//! vector, cutting drawing) only print this; it knows none of them.

use std::sync::Arc;

use super::text;
use crate::geom::{BBox, Point, pt};

/// A colour, red, green and blue, 0 to 255.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Colour(pub u8, pub u8, pub u8);

/// The palette of Okabe and Ito (Color Universal Design, 2008), which people with the common colour-vision deficiencies
/// can tell apart, and greys. Nothing is said by colour alone.
impl Colour {
    /// Black.
    pub const BLACK: Self = Self(0, 0, 0);
    /// White.
    pub const WHITE: Self = Self(255, 255, 255);
    /// Waste.
    pub const PALE: Self = Self(232, 232, 232);
    /// Light lines.
    pub const LIGHT: Self = Self(165, 165, 165);
    /// Secondary lines.
    pub const GREY: Self = Self(95, 95, 95);
    /// Orange.
    pub const ORANGE: Self = Self(230, 159, 0);
    /// Bluish green.
    pub const GREEN: Self = Self(0, 158, 115);
    /// Blue.
    pub const BLUE: Self = Self(0, 114, 178);
    /// Vermillion.
    pub const VERMILLION: Self = Self(213, 94, 0);
    /// Reddish purple.
    pub const PURPLE: Self = Self(204, 121, 167);
}

/// How a line is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stroke {
    /// Its colour.
    pub colour: Colour,
    /// Its width, mm.
    pub width: f64,
    /// Lengths of dashes and gaps in turn, mm; none: solid. A dash of length 0 is a round dot.
    pub dash: &'static [f64],
}

impl Stroke {
    /// A solid line.
    #[must_use]
    pub const fn solid(colour: Colour, width: f64) -> Self {
        Self { colour, width, dash: &[] }
    }

    /// A dashed line.
    #[must_use]
    pub const fn dashed(colour: Colour, width: f64, dash: &'static [f64]) -> Self {
        Self { colour, width, dash }
    }

    /// True if its dashes are dots, which want round ends.
    #[must_use]
    pub fn is_dotted(&self) -> bool {
        self.dash.contains(&0.0)
    }
}

/// What an item is part of. Items are printed in this order, so later layers cover earlier ones.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Layer {
    /// The photograph of the slab.
    Photo,
    /// The slab's outline and waste.
    Slab,
    /// What is left and kept.
    Offcut,
    /// The pieces' outlines.
    Piece,
    /// Zones of the pieces.
    Zone,
    /// Openings.
    Opening,
    /// The direction of the grain.
    Grain,
    /// How near to the slab's outline pieces may lie.
    Trim,
    /// Flaws.
    Flaw,
    /// Front and finished edges.
    Edge,
    /// The lines that positions are measured from.
    Datum,
    /// Dimension lines, centre lines, leaders.
    Dimension,
    /// Numbers and corner marks.
    Mark,
    /// What tools do: cores, saw passes.
    Tool,
    /// Rods and their grooves.
    Rod,
    /// Findings of the judge.
    Finding,
    /// Text on the drawing.
    Label,
    /// Tables, key, title block.
    Margin,
    /// Bars of a known length, to measure the print by.
    Check,
}

impl Layer {
    /// Its name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Photo => "photo",
            Self::Slab => "slab",
            Self::Offcut => "offcut",
            Self::Piece => "piece",
            Self::Zone => "zone",
            Self::Opening => "opening",
            Self::Grain => "grain",
            Self::Trim => "trim",
            Self::Flaw => "flaw",
            Self::Edge => "edge",
            Self::Datum => "datum",
            Self::Dimension => "dimension",
            Self::Mark => "mark",
            Self::Tool => "tool",
            Self::Rod => "rod",
            Self::Finding => "finding",
            Self::Label => "label",
            Self::Margin => "margin",
            Self::Check => "check",
        }
    }
}

/// Which end of a text its place is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// The left end.
    Start,
    /// The middle.
    Middle,
    /// The right end.
    End,
}

/// One line of text.
#[derive(Clone, Debug, PartialEq)]
pub struct Text {
    /// On the baseline, mm.
    pub at: Point,
    /// Which point of the baseline `at` is.
    pub anchor: Anchor,
    /// Font size, mm.
    pub size: f64,
    /// Bold or not.
    pub bold: bool,
    /// Turned a quarter counter-clockwise: reads upwards.
    pub upright: bool,
    /// True if what lies under it is to be blanked.
    pub backed: bool,
    /// Its colour.
    pub colour: Colour,
    /// What it says, cleaned.
    pub content: String,
}

impl Text {
    /// A plain black text.
    #[must_use]
    pub fn new(content: &str, at: Point, anchor: Anchor, size: f64) -> Self {
        let content = text::clean(content);
        Self { at, anchor, size, bold: false, upright: false, backed: false, colour: Colour::BLACK, content }
    }

    /// The same in bold.
    #[must_use]
    pub fn bold(mut self) -> Self {
        self.bold = true;
        self
    }

    /// The room that it takes, by the estimates of [`text::width`].
    #[must_use]
    pub fn bbox(&self) -> BBox {
        let w = text::width(&self.content, self.size, self.bold);
        let x = match self.anchor {
            Anchor::Start => 0.0,
            Anchor::Middle => -w / 2.0,
            Anchor::End => -w,
        };
        let (down, up) = (text::DESCENT * self.size, text::ASCENT * self.size);
        let (min, max) = if self.upright { (pt(-up, x), pt(down, x + w)) } else { (pt(x, -down), pt(x + w, up)) };
        BBox { min: self.at + min, max: self.at + max }
    }
}

/// A picture in JPEG: three channels of 8 bits. Printers hand its bytes on as they are.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Image {
    /// The file.
    pub jpeg: Vec<u8>,
    /// Columns.
    pub width: u32,
    /// Rows.
    pub height: u32,
    /// What it shows, in one line.
    pub title: String,
}

/// What an item looks like.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// A picture.
    Picture {
        /// What is shown.
        image: Arc<Image>,
        /// Where its borders lie.
        area: BBox,
    },
    /// Lines; closed ones may be filled, by the even-odd rule.
    Lines {
        /// Each a polyline of at least two points.
        paths: Vec<Vec<Point>>,
        /// True if the last point joins the first.
        closed: bool,
    },
    /// A circle.
    Disc {
        /// Middle.
        centre: Point,
        /// Radius, mm.
        radius: f64,
    },
    /// A text.
    Text(Text),
}

/// One thing on the sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Item {
    /// What it is part of.
    pub layer: Layer,
    /// The number on the sheet of the piece that it belongs to, if any.
    pub piece: Option<usize>,
    /// Its look.
    pub shape: Shape,
    /// Its line.
    pub stroke: Option<Stroke>,
    /// Its filling.
    pub fill: Option<Colour>,
}

impl Item {
    /// An open line.
    #[must_use]
    pub fn line(layer: Layer, points: Vec<Point>, stroke: Stroke) -> Self {
        Self::lines(layer, vec![points], stroke)
    }

    /// Open lines.
    #[must_use]
    pub fn lines(layer: Layer, paths: Vec<Vec<Point>>, stroke: Stroke) -> Self {
        let shape = Shape::Lines { paths, closed: false };
        Self { layer, piece: None, shape, stroke: Some(stroke), fill: None }
    }

    /// A closed line.
    #[must_use]
    pub fn area(layer: Layer, points: Vec<Point>, stroke: Option<Stroke>, fill: Option<Colour>) -> Self {
        let shape = Shape::Lines { paths: vec![points], closed: true };
        Self { layer, piece: None, shape, stroke, fill }
    }

    /// A circle.
    #[must_use]
    pub const fn disc(layer: Layer, centre: Point, radius: f64, stroke: Option<Stroke>, fill: Option<Colour>) -> Self {
        Self { layer, piece: None, shape: Shape::Disc { centre, radius }, stroke, fill }
    }

    /// A text.
    #[must_use]
    pub const fn text(layer: Layer, text: Text) -> Self {
        Self { layer, piece: None, shape: Shape::Text(text), stroke: None, fill: None }
    }

    /// A picture.
    #[must_use]
    pub const fn picture(layer: Layer, image: Arc<Image>, area: BBox) -> Self {
        Self { layer, piece: None, shape: Shape::Picture { image, area }, stroke: None, fill: None }
    }

    /// The same, belonging to the piece of that number.
    #[must_use]
    pub const fn of_piece(mut self, number: usize) -> Self {
        self.piece = Some(number);
        self
    }

    /// The same, moved.
    #[must_use]
    pub fn moved(mut self, by: Point) -> Self {
        match &mut self.shape {
            Shape::Lines { paths, .. } => {
                for p in paths.iter_mut().flatten() {
                    *p = *p + by;
                }
            }
            Shape::Disc { centre, .. } => *centre = *centre + by,
            Shape::Text(t) => t.at = t.at + by,
            Shape::Picture { area, .. } => *area = BBox { min: area.min + by, max: area.max + by },
        }
        self
    }

    /// The room that it takes, without the width of its line.
    #[must_use]
    pub fn bbox(&self) -> BBox {
        match &self.shape {
            Shape::Lines { paths, .. } => BBox::of(paths.iter().flatten()),
            Shape::Disc { centre, radius } => {
                let r = pt(*radius, *radius);
                BBox { min: *centre - r, max: *centre + r }
            }
            Shape::Text(t) => t.bbox(),
            Shape::Picture { area, .. } => *area,
        }
    }
}

/// A whole sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Scene {
    /// What it shows, in one line.
    pub title: String,
    /// Width and height of the paper, mm.
    pub paper: (f64, f64),
    /// Slab millimetres per paper millimetre.
    pub scale: f64,
    /// Where the slab frame's origin lies on the paper, mm: `paper = origin + slab / scale`.
    pub origin: Point,
    /// Everything on it, in order of printing.
    pub items: Vec<Item>,
    /// How many marks found no room on the drawing (what they say stands in the margin).
    pub left_out: usize,
    /// How many rows of tables found no room on the paper.
    pub rows_left_out: usize,
}

impl Scene {
    /// All texts.
    pub fn texts(&self) -> impl Iterator<Item = &Text> {
        self.items.iter().filter_map(|i| match &i.shape {
            Shape::Text(t) => Some(t),
            _ => None,
        })
    }
}
