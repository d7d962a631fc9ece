//! What the judge found, each linked to its place.

use super::markup::Html;
use super::{Page, slab_id};
use crate::model::{Grade, Rule};
use crate::report::held;
use crate::report::summary::GRADES;
use crate::report::told::Told;
use crate::units::Decimal;

impl Page<'_> {
    pub(super) fn findings(&self, h: &mut Html) {
        h.within("section", &[("id", "findings"), ("aria-labelledby", "findings-title")], |h| {
            h.leaf("h2", &[("id", "findings-title")], "Findings");
            if self.told.is_empty() && self.plan.held.is_empty() {
                h.leaf("p", &[], "The judge found nothing to say.");
                return;
            }
            self.held(h);
            for (grade, heading) in GRADES {
                let all: Vec<&Told<'_>> = self.told.iter().filter(|t| t.grade() == grade).collect();
                if all.is_empty() {
                    continue;
                }
                let count: usize = all.iter().map(|t| t.findings.len()).sum();
                h.leaf("h3", &[], &format!("{heading}: {count}"));
                h.within("ul", &[("class", "findings")], |h| {
                    for told in all {
                        self.finding(h, told);
                    }
                });
            }
        });
    }

    /// Openings that must not be cut as drawn, and those that are only scored, each with a link to its sheet.
    fn held(&self, h: &mut Html) {
        let groups = held::groups(&self.plan.held);
        for (verdict, heading) in held::KINDS {
            let own: Vec<_> = groups.iter().filter(|g| g.held.verdict == verdict).collect();
            if own.is_empty() {
                continue;
            }
            let count: usize = own.iter().map(|g| g.pieces.len()).sum();
            h.leaf("h3", &[], &format!("{heading}: {count}"));
            h.within("ul", &[("class", "findings")], |h| {
                for group in own {
                    h.within("li", &[], |h| {
                        let class = if group.held.is_stopped() { "grade broken" } else { "grade warning" };
                        h.leaf("span", &[("class", class)], group.word());
                        h.text(" ");
                        h.name(&group.name());
                        h.text(&format!(": {}", group.words()));
                        h.leaf("span", &[("class", "where")], &format!(" [{}]", group.held.job));
                        let held = group.held;
                        if let Some((id, _)) = self.sheet_of(&held.job, &held.piece, &held.opening) {
                            h.text(" ");
                            h.leaf("a", &[("href", &format!("#{id}"))], "Sheet of the opening");
                        }
                    });
                }
            });
        }
    }

    fn finding(&self, h: &mut Html, told: &Told<'_>) {
        let (class, word) = match told.grade() {
            Grade::Broken => ("grade broken", "broken"),
            Grade::Warning => ("grade warning", "warning"),
            Grade::Note => ("grade", "note"),
        };
        h.within("li", &[], |h| {
            h.leaf("span", &[("class", class)], word);
            h.text(" ");
            h.leaf("code", &[], &told.rule().map(Rule::name).unwrap_or_default());
            h.text(&format!(" {}{}", told.message, told.times()));
            if !told.place.is_empty() {
                h.leaf("span", &[("class", "where")], &format!(" [{}]", told.place.join(" / ")));
            }
            h.within("span", &[("class", "places")], |h| {
                for finding in &told.findings {
                    let Some(place) = self.place(finding) else { continue };
                    let slab = self.plan.layouts.get(place.layout).map(|l| l.slab.clone()).unwrap_or_default();
                    let tag = self.tag(place.layout, finding).map_or_else(String::new, |t| format!(", {t}"));
                    let piece = match (&finding.piece, told.findings.len()) {
                        (Some(piece), 2..) => format!("{piece} "),
                        _ => String::new(),
                    };
                    let (href, number) = (format!("#{}", slab_id(place.layout)), (place.layout + 1).to_string());
                    let [x, y] = [place.at.x, place.at.y].map(|v| Decimal(v, 2).to_string());
                    let part = place.piece.map(|n| n.to_string()).unwrap_or_default();
                    let attributes = [
                        ("class", "place"),
                        ("href", href.as_str()),
                        ("data-slab", &number),
                        ("data-x", &x),
                        ("data-y", &y),
                        ("data-piece", &part),
                    ];
                    h.text(" ");
                    h.leaf("a", &attributes, &format!("Show {piece}on slab {slab}{tag}"));
                }
            });
        });
    }
}
