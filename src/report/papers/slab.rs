//! Slabs for chalking: a drawing to a round scale with its grid and tables, page by page.

use super::{Draft, Work, grid_step, scales};
use crate::geom::pt;
use crate::report::Settings;
use crate::report::scene::{Anchor, Item, Layer, Scene, Text};
use crate::report::sheet::{Chalk, Desk, chalk};
use crate::report::text;

/// Lines of the grid are at least this far apart on paper, and those with figures, mm.
const FINE: f64 = 5.0;
const COARSE: f64 = 16.0;

/// The pages of all slabs of the plan, in its order.
#[must_use]
pub fn slabs(work: &Work<'_>) -> Vec<Scene> {
    let paper = work.settings.paper.size();
    let room = work.room(paper);
    let count = work.plan.layouts.len();
    let mut drafts = Vec::new();
    for (i, layout) in work.plan.layouts.iter().enumerate() {
        let desk = Desk { room, width: paper.0, scales: scales(work.settings.shown).collect(), steps };
        let title = format!("Slab {} for chalking, slab {} of {count}", layout.slab, i + 1);
        match chalk(work.question, work.plan, i, &work.settings, work.backdrops.of(i), &desk) {
            Ok(Chalk { scale, origin, pages, left_out, rows_left_out }) => {
                for (k, items) in pages.into_iter().enumerate() {
                    let title = if k == 0 { title.clone() } else { format!("{title}: tables, page {}", k + 1) };
                    let first = k == 0;
                    drafts.push(Draft {
                        title,
                        scale: first.then_some(scale),
                        origin,
                        items,
                        left_out: if first { left_out } else { 0 },
                        rows_left_out: if first { rows_left_out } else { 0 },
                    });
                }
            }
            Err(why) => {
                let items = text::wrap(&why, 4.0, true, room.width())
                    .iter()
                    .take(8)
                    .enumerate()
                    .map(|(k, line)| {
                        let at = pt(room.min.x, room.max.y - 6.0 - 5.0 * k as f64);
                        Item::text(Layer::Margin, Text::new(line, at, Anchor::Start, 4.0).bold())
                    })
                    .collect();
                let origin = pt(0.0, 0.0);
                drafts.push(Draft { title, scale: None, origin, items, left_out: 0, rows_left_out: 0 });
            }
        }
    }
    work.dress(paper, drafts)
}

fn steps(settings: &Settings, scale: f64) -> [f64; 2] {
    let fine = grid_step(settings.shown, scale, FINE);
    let mut coarse = grid_step(settings.shown, scale, COARSE);
    // The figures stand on lines of the grid.
    while ((coarse / fine).round() * fine - coarse).abs() > 1e-6 {
        coarse = grid_step(settings.shown, scale, coarse / scale * 1.01);
    }
    [fine, coarse]
}
