//! The full-size templates of all openings, in one file: each on a sheet of its own size, or over tiles.

use super::{Cut, Work, text};
use crate::geom::pt;
use crate::model::{Opening, Piece};
use crate::report::opening::Alike;
use crate::report::scene::{Anchor, Item, Layer, Scene, Text};
use crate::report::template::Template;
use crate::report::text::LEAST_SIZE;
use crate::report::{Paper, Settings};

/// Distance of the line at the foot from the paper's edge, mm: between what printers leave blank and the template.
const FOOT: f64 = 5.7;

/// The templates, and the names of openings too large for the tiles that are asked for. Openings that are alike but for the copy of
/// the piece share one.
#[must_use]
pub fn templates(work: &Work<'_>, tiles: Option<Paper>) -> (Vec<Scene>, Vec<String>) {
    let (mut pages, mut refused) = (Vec::new(), Vec::new());
    for (job, piece, opening, group) in groups(work) {
        let called = group.name();
        let settings = Settings { paper: tiles.unwrap_or(work.settings.paper), ..work.settings };
        let first = group.pieces.first().map_or("", String::as_str);
        let held = work.plan.held_of(job, first).find(|h| h.opening == opening.name);
        let template = Template { job, called: &called, piece, opening, settings, held };
        match tiles {
            None => pages.push(template.sheet()),
            Some(_) => match template.tiles() {
                Some(scenes) => pages.extend(scenes),
                None => refused.push(format!("{called}, {}", opening.name)),
            },
        }
    }
    let of = pages.len();
    for (i, page) in pages.iter_mut().enumerate() {
        let room = page.paper.0 - 2.0 * (FOOT + 2.0);
        let warning = work.warning().map_or_else(String::new, |w| format!("{w}. "));
        let words = format!("{warning}{}; scale 1:1; page {} of {of}", work.stamp(), i + 1);
        let words = text::shorten(&words, LEAST_SIZE, !warning.is_empty(), room);
        let mut t = Text::new(&words, pt(page.paper.0 / 2.0, FOOT), Anchor::Middle, LEAST_SIZE);
        t.bold = !warning.is_empty();
        page.items.push(Item::text(Layer::Margin, t));
        page.items.sort_by_key(|i| i.layer);
    }
    (pages, refused)
}

/// Every opening of the placed pieces, those of copies together: its job, the first piece that has it, and the names of all.
fn groups<'a>(work: &Work<'a>) -> Vec<(&'a str, &'a Piece, &'a Opening, Alike)> {
    let mut out: Vec<(&str, &Piece, &Opening, Alike)> = Vec::new();
    for cut in work.cuts() {
        for opening in &cut.piece.openings {
            let same = |o: &&mut (&str, &Piece, &Opening, Alike)| {
                o.0 == cut.job.name
                    && o.1.kind == cut.piece.kind
                    && o.1.outline == cut.piece.outline
                    && o.1.openings == cut.piece.openings
                    && o.2 == opening
                    // Copies on different stone may come to different verdicts.
                    && o.3.pieces.first().is_some_and(|first| same_verdict(work, &cut, first, &opening.name))
            };
            match out.iter_mut().find(same) {
                Some(o) => o.3.pieces.push(cut.piece.name.clone()),
                None => {
                    let alike = Alike { first: 0, pieces: vec![cut.piece.name.clone()] };
                    out.push((&cut.job.name, cut.piece, opening, alike));
                }
            }
        }
    }
    out
}

/// True if an opening of a piece is held as that of its copy is.
fn same_verdict(work: &Work<'_>, cut: &Cut<'_>, copy: &str, opening: &str) -> bool {
    let [own, other] = [cut.piece.name.as_str(), copy].map(|piece| {
        let held = work.plan.held_of(&cut.job.name, piece).find(|h| h.opening == opening);
        held.map(|h| (h.verdict, &h.because, &h.to_do))
    });
    own == other
}
