//! How a finding is put together and worded. It must not know any rule.

use crate::geom::Point;
use crate::model::{Finding, Grade, Job, Piece, Rule, Shown, Slab};

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
    told_apart(found, needed, 1)
}

fn told_apart(found: f64, needed: f64, least: usize) -> (String, String) {
    let mut texts = (number(found, least), number(needed, least));
    for decimals in least + 1..=least + 3 {
        if texts.0 != texts.1 {
            break;
        }
        texts = (number(found, decimals), number(needed, decimals));
    }
    texts
}

/// Two lengths (mm) with their unit, with the fewest decimals that tell them apart.
pub(super) fn lengths(shown: Shown, found: f64, needed: f64) -> (String, String) {
    let (found, needed) = told_apart(shown.of_mm(found), shown.of_mm(needed), 1 + shown.more_decimals());
    (format!("{found} {}", shown.unit()), format!("{needed} {}", shown.unit()))
}

/// A length (mm) with its unit, with at most the given decimals of a millimetre.
pub(super) fn length(shown: Shown, mm: f64, decimals: usize) -> String {
    format!("{} {}", number(shown.of_mm(mm), decimals + shown.more_decimals()), shown.unit())
}

/// A number with at most the given decimals, without trailing zeros and minus zero.
pub(super) fn number(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// A place as text, without its unit: whole millimetres, or hundredths of an inch.
pub(super) fn place(shown: Shown, p: Point) -> String {
    let along = |mm: f64| number(shown.of_mm(mm), shown.more_decimals());
    format!("({}, {})", along(p.x), along(p.y))
}

/// Words as an enumeration: `a`, `a and b`, `a, b and c`.
pub(super) fn listed(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}
