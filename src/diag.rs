//! What is wrong with an input, and where.
//!
//! In: places and plain words from whoever reads. Out: remarks that a user can act on, in file order.
//! Must not know: file formats, the model, or how remarks are shown other than as text.

use std::fmt;

/// How bad a remark is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Severity {
    /// The input cannot be used.
    Error,
    /// The input can be used, but is probably not what was meant.
    Warning,
    /// Something was mended or assumed.
    Note,
}

impl Severity {
    /// As printed.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Error => "error",
            Self::Warning => "warning",
            Self::Note => "note",
        }
    }
}

/// What a remark is about. Tests and programs match this; people read the words.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Kind {
    /// The file is not there.
    FileMissing,
    /// The path is a directory.
    FileIsDirectory,
    /// The file may not be opened.
    FileForbidden,
    /// The file could not be read for another reason.
    FileUnreadable,
    /// The file could not be written.
    FileNotWritten,
    /// The file is larger than we read.
    FileTooLarge,
    /// The bytes are not UTF-8.
    NotUtf8,
    /// Tables, arrays or dotted keys are nested too deeply.
    TooDeep,
    /// Not TOML, or not JSON.
    Syntax,
    /// There are more mistakes than are listed.
    AndMore,
    /// A key that the table does not have.
    UnknownKey,
    /// A key that must be there is not.
    MissingKey,
    /// Keys that exclude one another, or a key that does not go with another.
    Conflict,
    /// Text where a number is wanted, and the like.
    WrongType,
    /// A list with too few or too many entries.
    WrongCount,
    /// A word that is none of those known.
    UnknownWord,
    /// Not a finite number, or not a whole one.
    BadNumber,
    /// A text that is no length.
    BadLength,
    /// Zero or negative where only positive values make sense.
    NotPositive,
    /// Negative where zero or more is wanted.
    Negative,
    /// Outside the range that makes sense.
    OutOfRange,
    /// A size that looks like a wrong unit.
    UnlikelySize,
    /// An empty name, or one with control characters.
    BadName,
    /// Two things of one name.
    DuplicateName,
    /// Too few corners for an outline, or all on one line.
    TooFewCorners,
    /// More corners than we accept.
    TooManyCorners,
    /// An outline that crosses or touches itself.
    SelfCrossing,
    /// A rounding that does not fit its corner.
    RoundingMisfit,
    /// Not one finish per side.
    EdgeCount,
    /// An outline that was mended: direction, repeated or needless corners.
    Tidied,
    /// An outline that was moved to the origin.
    Moved,
    /// A value that was not given and that the result leans on.
    Assumed,
    /// An opening that leaves its piece.
    OpeningOutside,
    /// Two openings that overlap or touch.
    OpeningsOverlap,
    /// A trace whose end is far from its start.
    TraceOpen,
    /// A trace with points that no line of sides and arcs comes near.
    TraceScattered,
    /// A fixture for which no hole works.
    NoCutOut,
    /// A rim that leaves its piece.
    RimOutside,
    /// Two rims that overlap, or a rim over another opening.
    RimsOverlap,
    /// A drawing that is no DXF file, or a broken one.
    BrokenDrawing,
    /// A drawing without a unit, or in one that differs from what was said.
    DrawingUnit,
    /// Something on a drawing that is not understood and may be part of an outline.
    NotRead,
    /// What a drawing holds and what was left out.
    LeftOut,
    /// Lines that do not close.
    OpenOutline,
    /// More than two ends of lines that meet, or outlines that overlap.
    Tangled,
    /// Gaps between lines that were closed.
    GapsClosed,
    /// A curve that stands as a polyline.
    Approximated,
    /// No closed outline where one is wanted, or more than are wanted.
    OutlineCount,
    /// Outlines within an outline of which nobody said what they are.
    InnerOutlines,
    /// An outline that no text names, or several do.
    NoNameInside,
    /// A flaw that does not touch its slab.
    FlawOutside,
    /// Marks of a photograph that are nearly in a line.
    MarksInLine,
    /// Marks of a photograph that no camera sees as they are, or mirrored.
    MarksDisordered,
    /// Marks of a photograph that do not agree.
    MarksOff,
    /// How well the marks of a photograph agree.
    PhotoFit,
    /// A mark outside its picture.
    MarkOutside,
    /// A slab that its photograph shows in part.
    SlabUnseen,
    /// A slab that was taken off the rack.
    SlabTaken,
    /// A picture of a format that is not read.
    PictureUnknown,
    /// A picture that is broken, breaks off or is empty.
    PictureBroken,
    /// A picture that is larger than we decode.
    PictureTooLarge,
    /// The gap between pieces is below the kerf.
    GapBelowKerf,
    /// A job without pieces.
    NoPieces,
    /// More pieces, or more points in all, than we plan.
    TooMany,
    /// No job was given.
    NoJobs,
    /// A rack without slabs.
    NoSlabs,
    /// No slab of the job's material and thickness.
    NoMatchingSlab,
    /// No rack was named.
    NoRack,
    /// Jobs that name different racks.
    RacksDiffer,
    /// Jobs that name different shops.
    ShopsDiffer,
    /// An earlier plan that is not one for these jobs and this rack.
    OtherPlan,
    /// A pinned placement that breaks a rule.
    PinBroken,
    /// A slab of a plan that is no longer on the rack.
    SlabGone,
    /// A slab that has changed since the plan was made.
    SlabChanged,
    /// A plan that does not say what its slabs were like.
    SlabUnmarked,
    /// A rack that another process is changing.
    RackBusy,
    /// A rack that was edited where it should not have been.
    RackChanged,
    /// A record of the journal of takings that cannot be read.
    JournalBroken,
    /// No taking that could be taken back.
    NothingTaken,
    /// A file that is there already and must not be overwritten.
    FileThere,
}

/// One thing to say about an input.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Remark {
    /// How bad it is.
    pub severity: Severity,
    /// The file, as the user named it.
    pub file: String,
    /// Line, from 1; 0 means the whole file.
    pub line: usize,
    /// Column in characters, from 1; 0 means the whole line or file.
    pub column: usize,
    /// The key, such as `piece[2].opening[0].corner_radius`; entries count from 0. May be empty.
    pub key: String,
    /// What it is about.
    pub what: Kind,
    /// What was given.
    pub given: String,
    /// What was expected.
    pub expected: String,
    /// How to mend it. Empty where there is nothing to do.
    pub fix: String,
    /// The line of the file, or the part of it round the place; empty if there is none.
    pub text: String,
}

impl Remark {
    /// A remark about a whole file.
    #[must_use]
    pub fn about_file(
        severity: Severity,
        what: Kind,
        file: impl Into<String>,
        given: impl Into<String>,
        expected: impl Into<String>,
        fix: impl Into<String>,
    ) -> Self {
        Self {
            severity,
            file: file.into(),
            line: 0,
            column: 0,
            key: String::new(),
            what,
            given: given.into(),
            expected: expected.into(),
            fix: fix.into(),
            text: String::new(),
        }
    }
}

impl fmt::Display for Remark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.severity.name(), self.file)?;
        if self.line > 0 {
            write!(f, ":{}", self.line)?;
            if self.column > 0 {
                write!(f, ":{}", self.column)?;
            }
        }
        if !self.key.is_empty() {
            write!(f, ": {}", self.key)?;
        }
        for (label, words) in
            [("line", &self.text), ("given", &self.given), ("expected", &self.expected), ("fix", &self.fix)]
        {
            if !words.is_empty() {
                write!(f, "\n  {label:<8}  {words}")?;
            }
        }
        Ok(())
    }
}

/// Remarks in order of file, line and column.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Remarks(pub Vec<Remark>);

impl Remarks {
    /// The remarks in order of file, line and column. Remarks of one place keep their order.
    #[must_use]
    pub fn sorted(mut remarks: Vec<Remark>) -> Self {
        remarks.sort_by(|a, b| (&a.file, a.line, a.column).cmp(&(&b.file, b.line, b.column)));
        Self(remarks)
    }

    /// True if one of them is an error.
    #[must_use]
    pub fn has_errors(&self) -> bool {
        self.0.iter().any(|r| r.severity == Severity::Error)
    }

    /// True if there are none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The remarks, in order.
    pub fn iter(&self) -> std::slice::Iter<'_, Remark> {
        self.0.iter()
    }
}

impl From<Remark> for Remarks {
    fn from(remark: Remark) -> Self {
        Self(vec![remark])
    }
}

impl fmt::Display for Remarks {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, remark) in self.0.iter().enumerate() {
            if i > 0 {
                f.write_str("\n\n")?;
            }
            write!(f, "{remark}")?;
        }
        Ok(())
    }
}

impl std::error::Error for Remarks {}
