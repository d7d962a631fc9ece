//! The first part of the page: what the plan comes to, slab by slab, and plans side by side.

use super::markup::Html;
use super::{Head, Page, capital, counted, fact, slab_id, table};
use crate::model::{Grade, Plan};
use crate::report::summary::{figures, flaws_in_drops, percent, why};
use crate::report::{compare, measure};

impl Page<'_> {
    pub(super) fn summary(&self, h: &mut Html) {
        h.within("section", &[("id", "summary"), ("aria-labelledby", "summary-title")], |h| {
            h.within("h1", &[("id", "summary-title")], |h| {
                h.text("Plan for ");
                for (i, job) in self.plan.jobs.iter().enumerate() {
                    if i > 0 {
                        h.text(", ");
                    }
                    h.name(job);
                }
            });
            h.within("p", &[("class", "plan-number")], |h| {
                h.text("Plan ");
                h.leaf("b", &[], &self.number.to_string());
                h.text(": this number stands on all papers of this plan, and on those of no other.");
            });
            self.verdict(h);
            h.within("dl", &[("class", "figures")], |h| {
                for (label, words) in figures(self.question, self.plan, self.shown()) {
                    // What it is first, what there is to say of it below.
                    let (head, rest) = ["  ", "; ", ", "]
                        .iter()
                        .filter_map(|mark| words.split_once(mark))
                        .min_by_key(|(head, _)| head.len())
                        .unwrap_or((&words, ""));
                    fact(h, &capital(label), |h| {
                        h.leaf("b", &[], head);
                        if !rest.is_empty() {
                            h.leaf("small", &[], &format!(" {rest}"));
                        }
                    });
                    if label == "cost" {
                        let (head, rest) = if self.plan.proven {
                            ("yes", "no plan can cost less")
                        } else {
                            ("no", "a plan may cost less")
                        };
                        fact(h, "Proven the cheapest", |h| {
                            h.leaf("b", &[], head);
                            h.leaf("small", &[], &format!(" {rest}"));
                        });
                    }
                }
            });
            self.slab_table(h);
            self.side_by_side(h);
            self.unplaced(h);
            self.in_drops(h);
        });
    }

    /// Whether this may be cut, before all else.
    fn verdict(&self, h: &mut Html) {
        let (broken, warnings) = (self.count(Grade::Broken), self.count(Grade::Warning));
        let unplaced = self.plan.unplaced.len();
        let stops = self.plan.held.iter().filter(|h| h.is_stopped()).count();
        let scores = self.plan.held.len() - stops;
        let mut bad = Vec::new();
        if broken > 0 {
            bad.push(counted(broken, "rule is broken", "rules are broken"));
        }
        if unplaced > 0 {
            bad.push(counted(unplaced, "piece has no place", "pieces have no place"));
        }
        if stops > 0 {
            bad.push(counted(stops, "opening must not be cut as drawn", "openings must not be cut as drawn"));
        }
        let (class, head, rest) = if !bad.is_empty() {
            ("verdict stop", "Do not cut: ", bad.join("; "))
        } else if warnings > 0 || scores > 0 {
            let mut look = Vec::new();
            if warnings > 0 {
                look.push(counted(warnings, "warning", "warnings"));
            }
            if scores > 0 {
                look.push(counted(scores, "opening is only scored", "openings are only scored"));
            }
            ("verdict look", "Look before cutting: ", look.join("; "))
        } else {
            ("verdict good", "All placed: ", "every piece has a place, and the judge found no rule broken".to_owned())
        };
        h.within("p", &[("class", class)], |h| {
            h.leaf("strong", &[], head);
            h.text(&rest);
            h.text(". ");
            if !self.plan.findings.is_empty() || !self.plan.held.is_empty() {
                h.leaf("a", &[("href", "#findings")], "See the findings");
                h.text(".");
            }
        });
    }

    fn slab_table(&self, h: &mut Html) {
        if self.plan.layouts.is_empty() {
            return;
        }
        let numbers = ["Pieces", "Area", "Usable", "Gross yield", "Net yield", "Waste", "Price"];
        let mut heads = vec![Head::Words("Slab")];
        heads.extend(numbers.map(Head::Number));
        let shown = self.shown();
        table(h, "Slabs that are cut", &heads, |h| {
            for (i, layout) in self.plan.layouts.iter().enumerate() {
                h.within("tr", &[], |h| {
                    h.within("th", &[("scope", "row")], |h| {
                        h.within("a", &[("href", &format!("#{}", slab_id(i)))], |h| h.name(&layout.slab));
                    });
                    h.leaf("td", &[], &layout.placed.len().to_string());
                    let Some(slab) = measure::slab(self.question, layout) else {
                        h.leaf("td", &[("colspan", "6")], "not on the rack");
                        return;
                    };
                    let y = measure::yields(self.question, layout, slab);
                    for cell in [
                        shown.area(y.slab_mm2),
                        shown.area(y.usable_mm2),
                        percent(y.gross),
                        percent(y.net),
                        percent(1.0 - y.gross),
                        format!("{:.2}", slab.price),
                    ] {
                        h.leaf("td", &[], &cell);
                    }
                });
            }
        });
        h.leaf(
            "p",
            &[("class", "note")],
            "Gross yield: pieces with their openings filled, over the slab's area. Net yield: pieces without their openings. \
             Usable: the slab less the trim all round.",
        );
    }

    fn side_by_side(&self, h: &mut Html) {
        if self.alternatives.is_empty() {
            return;
        }
        let mut plans: Vec<&Plan> = vec![self.plan];
        plans.extend(self.alternatives);
        let names: Vec<String> = compare::HEADS.iter().map(|w| capital(w)).collect();
        let mut heads: Vec<Head<'_>> = names.iter().map(|n| Head::Number(n)).collect();
        heads.push(Head::Words("On slabs"));
        table(h, "Plans side by side", &heads, |h| {
            for (cells, slabs) in compare::rows(self.question, &plans, self.shown()) {
                h.within("tr", &[], |h| {
                    for (i, cell) in cells.iter().enumerate() {
                        if i == 0 {
                            h.leaf("th", &[("scope", "row")], &capital(cell));
                        } else {
                            h.leaf("td", &[], cell);
                        }
                    }
                    h.leaf("td", &[("class", "words")], &slabs);
                });
            }
        });
    }

    fn unplaced(&self, h: &mut Html) {
        if self.plan.unplaced.is_empty() {
            return;
        }
        h.leaf("h2", &[("id", "unplaced")], "Without a place");
        h.within("ul", &[], |h| {
            for u in &self.plan.unplaced {
                h.leaf("li", &[], &why(u, self.shown()));
            }
        });
    }

    fn in_drops(&self, h: &mut Html) {
        let told = flaws_in_drops(self.question, self.plan);
        if told.is_empty() {
            return;
        }
        h.leaf("h2", &[], "Flaws in drops");
        h.within("ul", &[], |h| {
            for words in &told {
                h.leaf("li", &[], words);
            }
        });
    }
}
