//! How a finding is put together and worded. It must not know any rule.

use crate::geom::Point;
use crate::model::{Finding, Grade, Job, Piece, Rule, Slab};

/// A finding in the making.
pub(super) struct Draft(Finding);

impl Draft {
    fn new(rule: Rule, grade: Grade, message: String) -> Self {
        Self(Finding {
            rule,
            grade,
            job: None,
            piece: None,
            opening: None,
            slab: None,
            at: None,
            found: None,
            needed: None,
            message,
        })
    }

    pub(super) fn broken(rule: Rule, message: String) -> Self {
        Self::new(rule, Grade::Broken, message)
    }

    pub(super) fn warning(rule: Rule, message: String) -> Self {
        Self::new(rule, Grade::Warning, message)
    }

    pub(super) fn note(rule: Rule, message: String) -> Self {
        Self::new(rule, Grade::Note, message)
    }

    pub(super) fn piece(self, job: &Job, piece: &Piece) -> Self {
        self.names(&job.name, &piece.name)
    }

    /// Job and piece as a plan names them, whether they exist or not.
    pub(super) fn names(mut self, job: &str, piece: &str) -> Self {
        (self.0.job, self.0.piece) = (Some(job.to_owned()), Some(piece.to_owned()));
        self
    }

    pub(super) fn opening(mut self, name: &str) -> Self {
        self.0.opening = Some(name.to_owned());
        self
    }

    pub(super) fn slab(self, slab: &Slab) -> Self {
        self.slab_name(&slab.name)
    }

    pub(super) fn slab_name(mut self, name: &str) -> Self {
        self.0.slab = Some(name.to_owned());
        self
    }

    pub(super) fn at(mut self, p: Point) -> Self {
        self.0.at = p.is_finite().then(|| p.into());
        self
    }

    /// Numbers that are not finite are left out, because files cannot hold them.
    pub(super) fn measured(mut self, found: f64, needed: f64) -> Self {
        let plain = |v: f64| v.is_finite().then_some(if v == 0.0 { 0.0 } else { v });
        (self.0.found, self.0.needed) = (plain(found), plain(needed));
        self
    }

    pub(super) fn into(self) -> Finding {
        self.0
    }
}

/// Found and needed as text without units, with the fewest decimals (1 to 4) that tell them apart.
pub(super) fn pair(found: f64, needed: f64) -> (String, String) {
    let mut texts = (number(found, 1), number(needed, 1));
    for decimals in 2..=4 {
        if texts.0 != texts.1 {
            break;
        }
        texts = (number(found, decimals), number(needed, decimals));
    }
    texts
}

/// A number with at most the given decimals, without trailing zeros and minus zero.
pub(super) fn number(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// A place as text, whole millimetres.
pub(super) fn place(p: Point) -> String {
    format!("({}, {})", number(p.x, 0), number(p.y, 0))
}

/// Words as an enumeration: `a`, `a and b`, `a, b and c`.
pub(super) fn listed(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}
