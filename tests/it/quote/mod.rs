//! Quotes: rounding against decimal arithmetic, measuring, jobs worked by hand, slabs shared, the program from outside.

mod files;
mod fuzz;
mod measure;
mod money;
mod outside;
mod shared;
mod worked;

use rust_decimal::{Decimal, RoundingStrategy};
use scantling::diag::Remarks;
use scantling::io::{Input, read_question_from_texts};
use scantling::model::openings::Openings;
use scantling::model::quote::{JobQuote, Line, Quote};
use scantling::model::{Layout, Money, Placed, Plan, PlanLimits, Question, Yield};
use scantling::quote::{TooLarge, Wish, quote};

/// Two slabs of which one is enough, of stone that needs no rods at the widths of these jobs.
pub const RACK: &str = "[[slab]]\nname = \"FS-1\"\nmaterial = \"Fell slate\"\nstone = \"granite\"\nthickness = 30\n\
    price = 500.0\noutline.rectangle = [3000, 1500]\ngrain = \"none\"\n\
    [[slab]]\nname = \"FS-2\"\nmaterial = \"Fell slate\"\nstone = \"granite\"\nthickness = 30\nprice = 740.5\n\
    outline.rectangle = [3000, 2000]\ngrain = \"none\"\n";

/// Reads a question; the pieces of the job follow its head.
pub fn read(pieces: &str, rack: &str, shop: &str) -> Result<Input, Remarks> {
    jobs(&[("Tide Hall", pieces)], rack, shop)
}

/// Reads a question of several jobs.
pub fn jobs(jobs: &[(&str, &str)], rack: &str, shop: &str) -> Result<Input, Remarks> {
    let text = |name: &str, body: &str| (name.to_owned(), body.to_owned());
    let jobs: Vec<_> = jobs
        .iter()
        .map(|(name, pieces)| {
            let head = format!("name = \"{name}\"\nrack = \"rack.toml\"\nmaterial = \"Fell slate\"\nthickness = 30\n");
            text("job.toml", &(head + pieces))
        })
        .collect();
    read_question_from_texts(&jobs, text("rack.toml", rack), Some(text("shop.toml", shop)))
}

#[track_caller]
pub fn question(pieces: &str, rack: &str, shop: &str) -> Question {
    read(pieces, rack, shop).unwrap_or_else(|e| panic!("{e}")).question
}

/// A plan that puts pieces on slabs; where they lie does not matter to a quote.
pub fn plan(question: &Question, slabs: &[(&str, &[(&str, &str)])]) -> Plan {
    let placed = |(job, piece): &(&str, &str)| Placed {
        job: (*job).to_owned(),
        piece: (*piece).to_owned(),
        turn: 0.0,
        shift: [0.0, 0.0],
        pinned: false,
        outline: Vec::new(),
        openings: Vec::new(),
    };
    let layouts = slabs
        .iter()
        .map(|(slab, pieces)| Layout {
            slab_print: None,
            slab: (*slab).to_owned(),
            placed: pieces.iter().map(placed).collect(),
            yields: Yield::default(),
            offcuts: Vec::new(),
        })
        .collect();
    Plan {
        format: Plan::FORMAT.to_owned(),
        jobs: question.jobs.iter().map(|j| j.name.clone()).collect(),
        seed: 1,
        goal: Default::default(),
        effort: None,
        limits: PlanLimits::of(&question.shop.limits, 0.0, 0.0),
        layouts,
        unplaced: Vec::new(),
        cost: 0.0,
        cost_bound: 0.0,
        bound_rule: None,
        proven: false,
        offcut_worth: None,
        flaw_margin: None,
        findings: Vec::new(),
        held: Vec::new(),
    }
}

/// The quote, with openings as they are worked out.
pub fn priced(question: &Question, plan: Option<&Plan>, seams: &[u32]) -> Result<Quote, TooLarge> {
    let openings: Openings = scantling::craft::sheets(question, plan);
    quote(&Wish { question, plan, openings: &openings, seams, compare: plan.is_some(), date: None })
}

/// The line about something.
#[track_caller]
pub fn line<'q>(job: &'q JobQuote, what: &str) -> &'q Line {
    let names = || job.lines.iter().map(|l| l.what.clone()).collect::<Vec<_>>();
    job.lines.iter().find(|l| l.what == what).unwrap_or_else(|| panic!("no line {what} in {:?}", names()))
}

/// Quantity, rate and amount of a line as they are shown.
pub fn figures(line: &Line) -> [String; 3] {
    [
        line.quantity.to_string(),
        line.rate.map(|r| r.to_string()).unwrap_or_default(),
        line.amount.map(|m| m.shown(2)).unwrap_or_default(),
    ]
}

/// Decimal arithmetic's own half up: away from zero.
pub fn half_up(value: Decimal, digits: u32) -> Decimal {
    value.round_dp_with_strategy(digits, RoundingStrategy::MidpointAwayFromZero)
}

/// Checks every amount and every sum of a quote in decimal arithmetic.
#[track_caller]
pub fn adds_up(quote: &Quote) {
    let digits = quote.minor_digits;
    let decimal = |m: Money| Decimal::new(m.minor, digits);
    for job in &quote.jobs {
        let mut sum = Decimal::ZERO;
        for line in &job.lines {
            let (Some(rate), Some(amount)) = (line.rate, line.amount) else {
                assert!(line.amount.is_none() && job.not_priced.iter().any(|n| n.what == line.what), "{line:?}");
                continue;
            };
            // The figures as shown are those that are multiplied.
            let product =
                line.quantity.to_string().parse::<Decimal>().unwrap() * rate.to_string().parse::<Decimal>().unwrap();
            if line.note.contains("shared") || line.what.starts_with("offcut") {
                // A part of a larger amount may differ by what rounding leaves.
                assert!((decimal(amount) - product).abs() < Decimal::ONE_HUNDRED, "{line:?}");
            } else {
                assert_eq!(decimal(amount), half_up(product, digits), "{line:?}");
            }
            assert_eq!(amount.amount.to_string().parse::<Decimal>().unwrap(), decimal(amount), "{amount:?}");
            sum += decimal(amount);
        }
        assert_eq!(decimal(job.subtotal), sum);
        sum += job.to_minimum.map_or(Decimal::ZERO, decimal);
        if let Some(tax) = &job.tax {
            let percent: Decimal = tax.percent.to_string().parse().unwrap();
            assert_eq!(decimal(tax.amount), half_up(sum * percent / Decimal::ONE_HUNDRED, digits));
            sum += decimal(tax.amount);
        }
        assert_eq!(decimal(job.total), sum);
    }
}
