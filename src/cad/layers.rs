//! The layers of a cutting drawing, and how each looks.
//!
//! In: nothing. Out: [`Look`]s. Must not know: what lies on a layer, the file format.

/// How a layer looks: told apart by colour on a screen, and by line and weight on paper.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Look {
    /// Name of the layer.
    pub name: &'static str,
    /// Number in the palette of 255 colours of the DXF reference (group code 62): 1 red, 3 green, 5 blue, 7 black or white.
    pub colour: u8,
    /// Kind of line.
    pub line: Line,
    /// Weight of the line, hundredths of a millimetre on paper; one of those that the DXF reference has (group code 370).
    pub weight: u8,
}

/// Kinds of line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Line {
    /// Without a break.
    Solid,
    /// Dashes.
    Dashed,
    /// Long dashes.
    LongDashed,
    /// Short dashes.
    Dotted,
    /// A dash and a short one.
    DashDot,
    /// A dash and two short ones.
    DashDotDot,
}

impl Line {
    /// All with a pattern.
    pub const BROKEN: [Self; 5] = [Self::Dashed, Self::LongDashed, Self::Dotted, Self::DashDot, Self::DashDotDot];

    /// Its name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Solid => "Continuous",
            Self::Dashed => "dashed",
            Self::LongDashed => "long-dashed",
            Self::Dotted => "dotted",
            Self::DashDot => "dash-dot",
            Self::DashDotDot => "dash-dot-dot",
        }
    }

    /// Lengths of stone that are drawn and left out in turn, mm; empty for a solid line. Chosen to be seen both when the slab
    /// fills the screen and when an opening does.
    #[must_use]
    pub const fn pattern(self) -> &'static [f64] {
        match self {
            Self::Solid => &[],
            Self::Dashed => &[18.0, 8.0],
            Self::LongDashed => &[50.0, 12.0],
            Self::Dotted => &[4.0, 7.0],
            Self::DashDot => &[30.0, 7.0, 4.0, 7.0],
            Self::DashDotDot => &[30.0, 7.0, 4.0, 7.0, 4.0, 7.0],
        }
    }
}

const fn look(name: &'static str, colour: u8, line: Line, weight: u8) -> Look {
    Look { name, colour, line, weight }
}

/// Outline of the slab.
pub const SLAB: Look = look("slab", 7, Line::Solid, 50);
/// Line that no piece passes: the trim.
pub const TRIM: Look = look("trim", 8, Line::Dashed, 13);
/// Flaws, by their bodies.
pub const FLAW: Look = look("flaw", 1, Line::Dotted, 35);
/// What is left and worth keeping.
pub const OFFCUT: Look = look("offcut", 3, Line::LongDashed, 25);
/// Outlines of the pieces.
pub const PIECE: Look = look("piece", 5, Line::Solid, 70);
/// Openings that are cut through in the shop.
pub const OPENING: Look = look("opening", 6, Line::Solid, 35);
/// Openings that are only scored in the shop.
pub const OPENING_SCORE: Look = look("opening-score", 30, Line::DashDot, 35);
/// Openings that must not be cut as drawn.
pub const OPENING_STOP: Look = look("opening-stop", 1, Line::DashDotDot, 100);
/// Circles of the core bits.
pub const CORE: Look = look("core", 4, Line::Solid, 25);
/// Saw cuts from the face as they show there: the middle of the blade's path.
pub const SAW: Look = look("saw-pass", 94, Line::Dashed, 18);
/// The stretch of them with the blade at full depth.
pub const SAW_FULL: Look = look("saw-pass-full", 94, Line::Solid, 60);
/// Saw cuts from the back as they show there.
pub const BACK: Look = look("back-pass", 34, Line::Dashed, 18);
/// The stretch of them with the blade at full depth.
pub const BACK_FULL: Look = look("back-pass-full", 34, Line::Solid, 60);
/// Scores from the back as they show there.
pub const SCORE: Look = look("score-pass", 40, Line::Dashed, 18);
/// The stretch of them with the blade at full depth.
pub const SCORE_FULL: Look = look("score-pass-full", 40, Line::Solid, 60);
/// Rows of small cuts at corners that no core suits.
pub const ROW: Look = look("row-cut", 200, Line::Solid, 13);
/// Sides and curves that no saw of the shop can cut.
pub const OTHER: Look = look("other-cut", 200, Line::DashDotDot, 60);
/// Rods.
pub const ROD: Look = look("rod", 14, Line::DashDot, 50);
/// Their grooves in the back, as they show there.
pub const GROOVE: Look = look("groove", 14, Line::Solid, 18);
/// Words.
pub const LABEL: Look = look("label", 7, Line::Solid, 18);

/// All layers, in the order in which a file lists them.
pub const ALL: [Look; 20] = [
    SLAB,
    TRIM,
    FLAW,
    OFFCUT,
    PIECE,
    OPENING,
    OPENING_SCORE,
    OPENING_STOP,
    CORE,
    SAW,
    SAW_FULL,
    BACK,
    BACK_FULL,
    SCORE,
    SCORE_FULL,
    ROW,
    OTHER,
    ROD,
    GROOVE,
    LABEL,
];
