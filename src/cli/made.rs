//! A plan with everything that its papers are made from, worked out once.

use std::path::Path;

use super::{photos, quote};
use crate::check;
use crate::craft;
use crate::diag::Remarks;
use crate::model::openings::Openings;
use crate::model::quote::Quote;
use crate::model::{Plan, PlanNumber, Question};
use crate::quote::{Day, Wish};
use crate::report::{self, page};
use crate::units::Shown;

/// A judged plan, the sheets of its openings, and the photographs of its slabs.
pub(super) struct Made<'a> {
    pub(super) question: &'a Question,
    pub(super) plan: &'a Plan,
    /// Plans to be shown beside it.
    pub(super) alternatives: &'a [Plan],
    pub(super) openings: Openings,
    /// What the jobs cost, if the shop says what it charges.
    pub(super) quote: Option<Quote>,
    pub(super) seen: photos::Shown,
}

/// Has a plan judged and its openings worked out, and writes into it what stands against cutting it: from here on the plan says
/// by itself whether it may be cut ([`Plan::may_be_cut`]), and every report tells the same. What it said before is forgotten.
pub(super) fn judged(question: &Question, plan: &mut Plan) -> Openings {
    plan.findings = check::judge(question, plan);
    let openings = craft::sheets(question, Some(plan));
    plan.held = openings.held();
    openings
}

impl<'a> Made<'a> {
    /// A plan and its openings as [`judged`] gives them. Reads the photographs from this folder on; without one they are left out. `date` is
    /// that of the quote.
    ///
    /// # Errors
    /// An amount of the quote beyond all range.
    pub(super) fn of(
        question: &'a Question,
        plan: &'a Plan,
        alternatives: &'a [Plan],
        openings: Openings,
        folder: Option<&Path>,
        date: Option<Day>,
    ) -> Result<Self, Remarks> {
        let wish = Wish { question, plan: Some(plan), openings: &openings, seams: &[], compare: false, date };
        // Without rates there is nothing to say.
        let quote = question.shop.rates.has_any().then(|| quote::make(&wish)).transpose()?;
        let seen = folder.map(|f| photos::of_plan(f, question, plan)).unwrap_or_default();
        Ok(Self { question, plan, alternatives, openings, quote, seen })
    }

    /// The number of the plan, as all its papers bear it.
    pub(super) fn number(&self) -> PlanNumber {
        PlanNumber::of(self.question, self.plan, &self.openings)
    }

    /// The plan as text.
    pub(super) fn summary(&self, shown: Shown) -> String {
        report::numbered_summary(self.question, self.plan, self.number(), shown)
    }

    /// The report as a page for a browser.
    pub(super) fn page(&self, settings: &report::Settings) -> String {
        page::html(&page::Content {
            question: self.question,
            plan: self.plan,
            alternatives: self.alternatives,
            openings: &self.openings,
            backdrops: &self.seen.backdrops,
            quote: self.quote.as_ref(),
            settings,
        })
    }

    /// What the quote lacks, as a warning for the screen. A plan that can be cut can be cut for all that.
    pub(super) fn lacking(&self) -> Option<String> {
        let jobs = self.quote.iter().flat_map(|q| &q.jobs);
        let lacking: Vec<String> =
            jobs.flat_map(|j| j.not_priced.iter().map(|n| format!("  {} ({}): {}", n.what, j.job, n.fix))).collect();
        (!lacking.is_empty())
            .then(|| format!("warning: the quote is not complete; not in its total:\n{}", lacking.join("\n")))
    }
}
