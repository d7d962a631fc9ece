//! The verdict on an opening in the making: which reasons were given, which of them decide, what is to be done about those.
//!
//! In: reasons with what they ask for. Out: a verdict with its sentences. Must not know: how the reasons were found.

use crate::model::openings::Verdict;

/// A reason that asks for more than to cut the opening in the shop.
struct Heavy {
    to: Verdict,
    why: String,
    to_do: String,
}

/// The verdict so far.
pub(super) struct Ruling {
    verdict: Verdict,
    because: Vec<String>,
    heavy: Vec<Heavy>,
}

/// The verdict.
pub(super) struct Settled {
    pub(super) verdict: Verdict,
    /// All reasons, in the order in which they were given.
    pub(super) because: Vec<String>,
    /// Those that made it *score* or *stop*.
    pub(super) decided_by: Vec<String>,
    /// What to do about them.
    pub(super) to_do: Vec<String>,
}

impl Ruling {
    pub(super) const fn new() -> Self {
        Self { verdict: Verdict::Fine, because: Vec::new(), heavy: Vec::new() }
    }

    /// What it has come to.
    pub(super) const fn verdict(&self) -> Verdict {
        self.verdict
    }

    /// Something that is to be said, each once.
    pub(super) fn say(&mut self, why: String) {
        if !self.because.contains(&why) {
            self.because.push(why);
        }
    }

    /// A reason for a verdict that is this one at least.
    pub(super) fn raise(&mut self, to: Verdict, why: String) {
        self.verdict = self.verdict.max(to);
        self.say(why);
    }

    /// The same for one that keeps the opening from being cut through in the shop, with what is to be done.
    pub(super) fn hold(&mut self, to: Verdict, why: String, to_do: impl Into<String>) {
        self.decide(to, why.clone(), to_do);
        self.say(why);
    }

    /// The same, where the sentences that led to it are said in full elsewhere.
    pub(super) fn decide(&mut self, to: Verdict, why: String, to_do: impl Into<String>) {
        self.verdict = self.verdict.max(to);
        self.heavy.push(Heavy { to, why, to_do: to_do.into() });
    }

    /// The end of it. Reasons for less than what it comes to do not decide.
    pub(super) fn settled(self) -> Settled {
        let (mut decided_by, mut to_do) = (Vec::new(), Vec::new());
        for heavy in self.heavy.into_iter().filter(|h| h.to == self.verdict) {
            for (line, lines) in [(heavy.why, &mut decided_by), (heavy.to_do, &mut to_do)] {
                if !lines.contains(&line) {
                    lines.push(line);
                }
            }
        }
        Settled { verdict: self.verdict, because: self.because, decided_by, to_do }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_decides_is_told_as_deciding() {
        let mut ruling = Ruling::new();
        ruling.say("a".to_owned());
        ruling.raise(Verdict::Rods, "b".to_owned());
        ruling.hold(Verdict::Score, "c".to_owned(), "C");
        ruling.hold(Verdict::Stop, "d".to_owned(), "D");
        ruling.decide(Verdict::Stop, "e".to_owned(), "D");
        let settled = ruling.settled();
        assert_eq!(settled.verdict, Verdict::Stop);
        assert_eq!(settled.because, ["a", "b", "c", "d"]);
        assert_eq!(settled.decided_by, ["d", "e"]);
        assert_eq!(settled.to_do, ["D"]);
    }

    #[test]
    fn what_may_be_cut_has_nothing_to_do() {
        let mut ruling = Ruling::new();
        ruling.raise(Verdict::Rods, "b".to_owned());
        let settled = ruling.settled();
        assert_eq!((settled.verdict, settled.decided_by.len(), settled.to_do.len()), (Verdict::Rods, 0, 0));
    }
}
