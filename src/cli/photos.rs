//! Photographs of slabs: read where a plan uses the slab, straightened, made into backdrops of drawings and pictures of
//! pieces.

use std::path::Path;
use std::sync::Arc;

use super::file_word;
use crate::diag::{Kind, Remark, Remarks, Severity};
use crate::io;
use crate::model::{Layout, Photo, Plan, Question, Slab};
use crate::photo::{self, Fault, Fit, PiecePicture, Raster, Seen};
use crate::report::scene::Image;
use crate::report::{Backdrop, Backdrops};
use crate::units::{self, Decimal};

/// A backdrop takes no more than this, bytes: ten slabs in base64 are then 2 MB of a page.
const BACKDROP_BYTES: usize = 150_000;
/// A picture of a piece takes no more than this, bytes.
const PIECE_BYTES: usize = 250_000;
/// Pixels along the longer side and qualities of JPEG, best first; the first picture that is small enough is taken.
const BACKDROP_STEPS: Steps = Steps { sides: &[1400, 1120, 900, 720, 560, 400], qualities: &[80, 70, 60] };
const PIECE_STEPS: Steps = Steps { sides: &[1600, 1280, 1024, 800, 640], qualities: &[85, 75] };

/// A slab of which more than this share is not in its photograph is told.
const MOST_UNSEEN: f64 = 0.01;

struct Steps {
    sides: &'static [usize],
    qualities: &'static [u8],
}

/// What photographs add to the files of a plan.
#[derive(Default)]
pub(super) struct Shown {
    /// What lies under its drawings.
    pub(super) backdrops: Backdrops,
    /// Names and bytes of the pictures of its pieces.
    pub(super) pieces: Vec<(String, Vec<u8>)>,
    /// What is to be said; an error means that a photograph was left out.
    pub(super) remarks: Vec<Remark>,
}

/// Reads the photographs of all slabs that a job may use, so that a mistake is told before the search and before anything is written. One
/// after the other, for a large one takes hundreds of megabytes.
///
/// # Errors
/// Every photograph that cannot be used.
pub(super) fn check(folder: &Path, question: &Question) -> Result<(), Remarks> {
    let mut remarks = Vec::new();
    for slab in question.rack.iter().filter(|s| question.jobs.iter().any(|j| j.accepts(s))) {
        let Some(photo) = &slab.photo else { continue };
        let name = name_of(folder, photo);
        let read = open(folder, slab, photo).and_then(|bytes| about(slab, io::read_picture(&name, &bytes)));
        remarks.extend(read.err().into_iter().flat_map(|found| found.0));
    }
    let remarks = Remarks::sorted(remarks);
    if remarks.has_errors() { Err(remarks) } else { Ok(()) }
}

/// Reads the photographs of the slabs of a plan. Where one cannot be read, the rest is made without it.
pub(super) fn of_plan(folder: &Path, question: &Question, plan: &Plan) -> Shown {
    let mut shown = Shown::default();
    for (i, layout) in plan.layouts.iter().enumerate() {
        let slab = question.rack.iter().find(|s| s.name == layout.slab);
        let backdrop = match slab.and_then(|s| Some((s, s.photo.as_ref()?))) {
            None => None,
            Some((slab, photo)) => match of_layout(folder, question, i, layout, slab, photo) {
                Ok(found) => {
                    shown.pieces.extend(found.pieces);
                    shown.remarks.extend(found.remarks);
                    found.backdrop
                }
                Err(found) => {
                    shown.remarks.extend(found.0);
                    None
                }
            },
        };
        shown.backdrops.0.push(backdrop);
    }
    shown
}

struct OfLayout {
    backdrop: Option<Backdrop>,
    pieces: Vec<(String, Vec<u8>)>,
    remarks: Vec<Remark>,
}

fn of_layout(
    folder: &Path,
    question: &Question,
    index: usize,
    layout: &Layout,
    slab: &Slab,
    photo: &Photo,
) -> Result<OfLayout, Remarks> {
    let bytes = open(folder, slab, photo)?;
    let name = name_of(folder, photo);
    let photograph = about(slab, io::read_picture(&name, &bytes))?;
    drop(bytes);
    let fit = Fit::of(photo).map_err(|fault| unfit(&name, slab, fault))?;
    let parts = photo::pieces(question, layout);
    let slab_picture = |most| photo::slab_picture(&photograph, &fit, slab, &parts, most);
    let mut out = OfLayout { backdrop: None, pieces: Vec::new(), remarks: Vec::new() };
    if let Some((seen, jpeg)) = smallest(&name, &BACKDROP_STEPS, BACKDROP_BYTES, slab_picture)? {
        out.remarks.extend(words(&name, slab, photo, &fit, &seen, &photograph, question.shop.shown));
        let title = format!("Photograph of slab {}, straightened", slab.name);
        let (width, height) = (size(seen.raster.width()), size(seen.raster.height()));
        let image = Arc::new(Image { jpeg, width, height, title });
        out.backdrop = Some(Backdrop { image, area: seen.grid.bbox() });
    }
    for part in &parts {
        let piece_picture = |most| photo::piece_picture(&photograph, &fit, part, most);
        if let Some((_, jpeg)) = smallest(&name, &PIECE_STEPS, PIECE_BYTES, piece_picture)? {
            out.pieces.push((piece_file(index, part), jpeg));
        }
    }
    Ok(out)
}

/// The bytes of a photograph whose head is good and in which all marks lie.
fn open(folder: &Path, slab: &Slab, photo: &Photo) -> Result<Vec<u8>, Remarks> {
    let name = name_of(folder, photo);
    let bytes = about(slab, io::picture_bytes(&folder.join(&photo.file)))?;
    let (w, h) = about(slab, io::picture_size(&name, &bytes))?;
    let outside: Vec<Remark> = photo
        .marks
        .iter()
        .enumerate()
        .filter(|(_, m)| !(m.x <= f64::from(w) && m.y <= f64::from(h)))
        .map(|(i, m)| {
            let given =
                format!("mark {} at [{}, {}] lies outside the picture", i + 1, Decimal(m.x, 1), Decimal(m.y, 1));
            let expected = format!("marks within {w} × {h} pixels: the picture as viewers show it, upright");
            let fix = "check the mark, and that it was read from this very picture and not from one that was scaled";
            Remark::about_file(Severity::Error, Kind::MarkOutside, name.clone(), given, expected, fix)
        })
        .collect();
    if outside.is_empty() { Ok(bytes) } else { about(slab, Err(Remarks(outside))) }
}

fn name_of(folder: &Path, photo: &Photo) -> String {
    folder.join(&photo.file).display().to_string()
}

/// Says in every remark which slab the picture is of, and how to do without.
fn about<T>(slab: &Slab, result: Result<T, Remarks>) -> Result<T, Remarks> {
    result.map_err(|mut remarks| {
        for remark in &mut remarks.0 {
            remark.key = format!("photograph of slab \"{}\"", slab.name);
            remark.fix.push_str("; --plain leaves photographs out");
        }
        remarks
    })
}

/// The reader of the rack has refused such marks; a question made by hand may have them.
fn unfit(name: &str, slab: &Slab, fault: Fault) -> Remarks {
    let given = format!("marks that do not straighten it: {fault:?}");
    let remark =
        Remark::about_file(Severity::Error, Kind::MarksDisordered, name, given, "good marks", "check the marks");
    Remark { key: format!("photograph of slab \"{}\"", slab.name), ..remark }.into()
}

/// The best picture that takes no more than so many bytes; the least one if all take more.
fn smallest(
    name: &str,
    steps: &Steps,
    most: usize,
    picture: impl Fn(usize) -> Option<Seen>,
) -> Result<Option<(Seen, Vec<u8>)>, Remarks> {
    let mut last = None;
    for &side in steps.sides {
        let Some(seen) = picture(side) else { return Ok(None) };
        for &quality in steps.qualities {
            let jpeg = io::jpeg(name, &seen.raster, quality)?;
            if jpeg.len() <= most {
                return Ok(Some((seen, jpeg)));
            }
            last = Some(jpeg);
        }
        if Some(&side) == steps.sides.last() {
            return Ok(last.map(|jpeg| (seen, jpeg)));
        }
    }
    Ok(None)
}

/// What is said of a photograph, in the units of the shop's sentences: how well its marks agree, and what it does not show.
fn words(
    name: &str,
    slab: &Slab,
    photo: &Photo,
    fit: &Fit,
    seen: &Seen,
    photograph: &Raster,
    units: units::Shown,
) -> Vec<Remark> {
    let key = format!("photograph of slab \"{}\"", slab.name);
    let mut out = Vec::new();
    let (worst, off) = fit.worst();
    let left = if photo.marks.len() == 4 {
        "4 marks, which always agree: a fifth would show a mistake".to_owned()
    } else {
        format!(
            "{} marks, off by {} (root of the mean square), mark {} by {}",
            photo.marks.len(),
            units.said(fit.rms()),
            worst + 1,
            units.said(off)
        )
    };
    let play = photo::play(photo, &slab.outline).map_or_else(String::new, |mm| {
        format!("; if every mark may be a pixel off, a corner of the slab may be {} off", units.said(mm))
    });
    let given = format!(
        "{} × {} pixels, straightened to {} a pixel by {left}{play}",
        photograph.width(),
        photograph.height(),
        units.said(seen.grid.mm_per_pixel)
    );
    out.push(Remark::about_file(Severity::Note, Kind::PhotoFit, name, given, "", ""));
    if seen.unseen > MOST_UNSEEN {
        let given = format!("a photograph that does not show {} % of the slab", Decimal(100.0 * seen.unseen, 1));
        let fix = "check the marks, or take another photograph; what is not seen is grey";
        out.push(Remark::about_file(Severity::Warning, Kind::SlabUnseen, name, given, "the whole slab", fix));
    }
    for remark in &mut out {
        remark.key.clone_from(&key);
    }
    out
}

fn size(pixels: usize) -> u32 {
    u32::try_from(pixels).unwrap_or(u32::MAX)
}

/// `piece-01-03-NAME.jpg`: of the first slab of the plan, number 3 on its sheet.
fn piece_file(layout: usize, part: &PiecePicture<'_>) -> String {
    format!("piece-{:02}-{:02}-{}.jpg", layout + 1, part.number, file_word(&part.piece.name))
}

/// True for the names that we give to pictures of pieces. Other files of the folder are the user's.
pub(super) fn is_piece_file(name: &str) -> bool {
    let number = |n: &str| n.len() >= 2 && n.bytes().all(|b| b.is_ascii_digit());
    let middle = name.strip_prefix("piece-").and_then(|rest| rest.strip_suffix(".jpg"));
    let parts = middle.and_then(|m| {
        let (slab, rest) = m.split_once('-')?;
        let (piece, word) = rest.split_once('-')?;
        Some((slab, piece, word))
    });
    parts.is_some_and(|(slab, piece, word)| number(slab) && number(piece) && file_word(word) == word)
}

#[cfg(test)]
mod tests {
    use super::is_piece_file;

    #[test]
    fn only_our_own_pictures_are_ours() {
        assert!(is_piece_file("piece-01-02-bar-front.jpg") && is_piece_file("piece-10-100-x.jpg"));
        let others =
            ["piece-1-02-x.jpg", "piece-01-x.jpg", "piece-01-02-X.jpg", "piece-01-02-x.png", "piece-01-02-.jpg"];
        assert!(!others.iter().any(|name| is_piece_file(name)));
    }
}
