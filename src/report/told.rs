//! Findings that differ only in the copy of a piece, told once. In: findings. Out: entries that name all their copies.
//! Leaves no finding out: every one is in exactly one entry.

use crate::model::{Finding, Grade, Rule};

/// Findings that are told together.
#[derive(Clone, Debug, PartialEq)]
pub struct Told<'a> {
    /// The findings, in their order.
    pub findings: Vec<&'a Finding>,
    /// What they say, all copies named.
    pub message: String,
    /// Job, piece with its copies and opening, as far as they are given.
    pub place: Vec<String>,
}

impl Told<'_> {
    /// How bad they are.
    #[must_use]
    pub fn grade(&self) -> Grade {
        self.findings.first().map_or(Grade::Note, |f| f.grade)
    }

    /// The rule that they are about.
    #[must_use]
    pub fn rule(&self) -> Option<Rule> {
        self.findings.first().map(|f| f.rule)
    }

    /// Behind the message, where there are several: how many.
    #[must_use]
    pub fn times(&self) -> String {
        if self.findings.len() > 1 { format!(" ({} findings)", self.findings.len()) } else { String::new() }
    }
}

/// What is the same in findings that are told together.
#[derive(Clone, Debug, PartialEq)]
struct Key<'a> {
    rule: Rule,
    grade: Grade,
    job: Option<&'a str>,
    head: Option<&'a str>,
    opening: Option<&'a str>,
    slab: Option<&'a str>,
    /// The message without the name of the copy.
    message: Vec<&'a str>,
}

/// The name before " #", and the number of the copy behind it.
fn copy(name: &str) -> Option<(&str, usize)> {
    let (head, number) = name.rsplit_once(" #")?;
    Some((head, number.parse().ok()?))
}

/// Entries in the order of their first findings.
#[must_use]
pub fn together<'a>(findings: impl IntoIterator<Item = &'a Finding>) -> Vec<Told<'a>> {
    let mut groups: Vec<(Key<'a>, &'a Finding, Vec<&'a Finding>)> = Vec::new();
    for finding in findings {
        let key = key(finding);
        // Only copies are told together: two findings that are alike without one stay two.
        match groups.iter_mut().find(|(k, ..)| k.head.is_some() && *k == key) {
            Some((_, _, rest)) => rest.push(finding),
            None => groups.push((key, finding, Vec::new())),
        }
    }
    groups.into_iter().map(|(key, first, rest)| told(&key, first, rest)).collect()
}

fn key(f: &Finding) -> Key<'_> {
    let named = f.piece.as_deref().and_then(|name| copy(name).map(|(head, _)| (name, head)));
    let message = match named {
        // The quotes tell copy 1 from copy 12.
        Some((name, _)) => f.message.split(&format!("\"{name}\"")).collect(),
        None => vec![f.message.as_str()],
    };
    Key {
        rule: f.rule,
        grade: f.grade,
        job: f.job.as_deref(),
        head: named.map(|(_, head)| head),
        opening: f.opening.as_deref(),
        slab: f.slab.as_deref(),
        message,
    }
}

fn told<'a>(key: &Key<'a>, first: &'a Finding, rest: Vec<&'a Finding>) -> Told<'a> {
    let findings: Vec<&Finding> = std::iter::once(first).chain(rest).collect();
    let mut piece = first.piece.clone();
    let mut message = first.message.clone();
    if let (Some(head), true) = (key.head, findings.len() > 1) {
        let mut numbers: Vec<usize> = findings.iter().filter_map(|f| Some(copy(f.piece.as_deref()?)?.1)).collect();
        numbers.sort_unstable();
        numbers.dedup();
        let all = format!("{head} {}", ranges(&numbers, "#"));
        message = key.message.join(&format!("\"{all}\""));
        piece = Some(all);
    }
    let place = [first.slab.clone(), first.job.clone(), piece, first.opening.clone()].into_iter().flatten().collect();
    Told { findings, message, place }
}

/// Sorted numbers in words, each with a mark before it: 1 to 5, 8.
pub fn ranges(numbers: &[usize], mark: &str) -> String {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for &n in numbers {
        match runs.last_mut() {
            Some((_, last)) if *last + 1 == n => *last = n,
            _ => runs.push((n, n)),
        }
    }
    let words = |&(a, b): &(usize, usize)| match b - a {
        0 => format!("{mark}{a}"),
        1 => format!("{mark}{a}, {mark}{b}"),
        _ => format!("{mark}{a} to {mark}{b}"),
    };
    runs.iter().map(words).collect::<Vec<_>>().join(", ")
}
