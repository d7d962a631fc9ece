//! Bounds and proofs against brute force, and certificates checked again from their plain data.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use scantling::geom::curve::Corner;
use scantling::geom::{Pose, Ring, pt};
use scantling::model::{Finish, GrainWish, Outline, Piece, Plan, Question, Shape, Slab};
use scantling::search::{Answer, Certificate, Settings, Unwatched, solve};

use crate::make;

/// Side of a cell, mm. Pieces are whole cells less the gap, so that cells filled exactly are gaps kept exactly.
const CELL: f64 = 100.0;
const GAP: f64 = 6.0;
const TRIM: f64 = 20.0;

/// Cells of a piece: a rectangle, or an L that lacks `notch` cells at its upper right corner.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Tile {
    size: [usize; 2],
    notch: [usize; 2],
}

impl Tile {
    fn piece(self, name: &str) -> Piece {
        let cells = |n: usize| n as f64 * CELL;
        let [w, h] = [cells(self.size[0]) - GAP, cells(self.size[1]) - GAP];
        let mut piece = make::piece(name, w, h);
        if self.notch[0] > 0 {
            let [x, y] = [w - cells(self.notch[0]), h - cells(self.notch[1])];
            let corners = [[0.0, 0.0], [w, 0.0], [w, y], [x, y], [x, h], [0.0, h]];
            let corners = corners.iter().map(|&at| Corner { at: at.into(), radius: 0.0 }).collect();
            piece.outline = Outline::new(Shape::Polygon(corners), vec![Finish::Raw; 6]);
        }
        piece.grain = GrainWish::Towards(0.0);
        piece
    }

    /// Its cells at (x, y) on a sheet of that width, one bit a cell.
    fn bits(self, at: [usize; 2], turned: bool, width: usize) -> u64 {
        let [w, h] = self.size;
        let mut bits = 0;
        for y in 0..h {
            for x in 0..w {
                if x < w - self.notch[0] || y < h - self.notch[1] {
                    let (x, y) = if turned { (w - 1 - x, h - 1 - y) } else { (x, y) };
                    bits |= 1 << ((at[1] + y) * width + at[0] + x);
                }
            }
        }
        bits
    }

    fn places(self, sheet: [usize; 2]) -> Vec<u64> {
        let mut out = Vec::new();
        for turned in [false, true] {
            for y in 0..(sheet[1] + 1).saturating_sub(self.size[1]) {
                for x in 0..(sheet[0] + 1).saturating_sub(self.size[0]) {
                    out.push(self.bits([x, y], turned, sheet[0]));
                }
            }
        }
        out.sort_unstable();
        out.dedup();
        out
    }
}

#[derive(Clone, Debug)]
struct Tiny {
    tiles: Vec<Tile>,
    sheets: Vec<([usize; 2], f64)>,
}

impl Tiny {
    fn draw(seed: u64) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let tiles = (0..rng.random_range(3..=6))
            .map(|_| {
                let size = [rng.random_range(1..=4), rng.random_range(1..=3)];
                let ell = size[0] > 1 && size[1] > 1 && rng.random_range(0..3) == 0;
                let notch = if ell { [rng.random_range(1..size[0]), rng.random_range(1..size[1])] } else { [0, 0] };
                Tile { size, notch }
            })
            .collect();
        let sheets = (0..rng.random_range(2..=4))
            .map(|_| {
                // Priced by area, so that the cheapest sets are those that are all but full.
                let size = [rng.random_range(3..=6), rng.random_range(2..=5)];
                (size, (10 * size[0] * size[1] + rng.random_range(0..25)) as f64)
            })
            .collect();
        Self { tiles, sheets }
    }

    fn question(&self) -> Question {
        let pieces = self.tiles.iter().enumerate().map(|(i, t)| t.piece(&format!("p{i}"))).collect();
        let rack = self
            .sheets
            .iter()
            .enumerate()
            .map(|(i, (size, price))| {
                let side = |n: usize| n as f64 * CELL - GAP + 2.0 * TRIM;
                let mut slab = make::slab(&format!("s{i}"), side(size[0]), side(size[1]), *price);
                slab.grain = Some(0.0);
                slab
            })
            .collect();
        make::question(pieces, rack)
    }

    /// Can these tiles lie on these sheets?
    fn packs(&self, tiles: &[usize], sheets: &[usize], taken: &mut Vec<u64>) -> bool {
        let Some((&tile, rest)) = tiles.split_first() else { return true };
        for (i, &s) in sheets.iter().enumerate() {
            for bits in self.tiles[tile].places(self.sheets[s].0) {
                if taken[i] & bits == 0 {
                    taken[i] |= bits;
                    let done = self.packs(rest, sheets, taken);
                    taken[i] &= !bits;
                    if done {
                        return true;
                    }
                }
            }
        }
        false
    }

    fn holds(&self, tiles: &[usize], sheets: &[usize]) -> bool {
        let cells = |t: &usize| {
            let Tile { size, notch } = self.tiles[*t];
            size[0] * size[1] - notch[0] * notch[1]
        };
        let room: usize = sheets.iter().map(|&s| self.sheets[s].0[0] * self.sheets[s].0[1]).sum();
        if tiles.iter().map(cells).sum::<usize>() > room {
            return false;
        }
        let mut tiles = tiles.to_vec();
        tiles.sort_by_key(|&t| std::cmp::Reverse(self.tiles[t].size[0] * self.tiles[t].size[1]));
        self.packs(&tiles, sheets, &mut vec![0; sheets.len()])
    }

    /// Least cost by trying everything; `None` if not even all sheets hold the tiles.
    fn least(&self) -> Option<f64> {
        let all: Vec<usize> = (0..self.tiles.len()).collect();
        subsets(self.sheets.len())
            .filter(|set| self.holds(&all, set))
            .map(|set| set.iter().map(|&s| self.sheets[s].1).sum())
            .reduce(f64::min)
    }
}

fn subsets(n: usize) -> impl Iterator<Item = Vec<usize>> {
    (0..1usize << n).map(move |bits| (0..n).filter(|i| bits >> i & 1 == 1).collect())
}

fn answer(question: &Question, rounds: u64) -> Answer {
    solve(question, &Settings { seed: 1, rounds: Some(rounds), ..Settings::default() }, &Unwatched)
}

/// The number of cases: `SCANTLING_CASES`, or this.
fn cases(default: u64) -> u64 {
    std::env::var("SCANTLING_CASES").ok().and_then(|v| v.parse().ok()).unwrap_or(default)
}

/// The logic of a certificate, from its data alone: every cheaper set of slabs breaks a demand or is refuted; and a refuted set
/// holds the pieces in no way, by what it says cannot lie together.
fn recheck(certificate: &Certificate, prices: &[f64]) {
    for set in subsets(prices.len()) {
        let cost: f64 = set.iter().map(|&s| prices[s]).sum();
        let again = set.iter().any(|&s| certificate.twin[s].is_some_and(|t| !set.contains(&t)));
        let idle = set.iter().any(|&s| certificate.may.iter().all(|m| !m[s]));
        if cost > certificate.cost - 0.005 || again || idle {
            continue;
        }
        let unmet = certificate.demands.iter().any(|d| !d.met_by(&set));
        assert!(unmet || certificate.sets.iter().any(|r| r.slabs == set), "{set:?} is not refuted: {certificate:?}");
    }
    let pieces: Vec<usize> = certificate
        .classes
        .iter()
        .enumerate()
        .filter(|(c, _)| certificate.may[*c].contains(&true))
        .flat_map(|(c, class)| vec![c; class.1])
        .collect();
    for set in &certificate.sets {
        let cost: f64 = set.slabs.iter().map(|&s| prices[s]).sum();
        assert!((cost - set.cost).abs() < 1e-6);
        let mut loads = vec![vec![0usize; certificate.classes.len()]; set.slabs.len()];
        assert!(!deals(certificate, &pieces, &set.slabs, &mut loads), "{set:?} can be dealt out: {certificate:?}");
    }
}

fn deals(certificate: &Certificate, pieces: &[usize], slabs: &[usize], loads: &mut [Vec<usize>]) -> bool {
    let Some((&class, rest)) = pieces.split_first() else { return true };
    for (i, &slab) in slabs.iter().enumerate() {
        if !certificate.may[class][slab] {
            continue;
        }
        loads[i][class] += 1;
        let refuted = certificate.impossible.iter().any(|p| {
            p.slab == slab && (0..loads[i].len()).all(|c| loads[i][c] >= p.load.iter().filter(|&&l| l == c).count())
        });
        let done = !refuted && deals(certificate, rest, slabs, loads);
        loads[i][class] -= 1;
        if done {
            return true;
        }
    }
    false
}

/// Random tiles on random sheets: no bound above the true least cost, nothing "impossible" that brute force can do, every
/// certificate complete; and nearly all bounds are the least cost itself.
#[test]
fn bounds_against_brute_force() {
    let (mut solvable, mut tight, mut refuted, mut loads) = (0, 0, 0, 0);
    for seed in 0..cases(150) {
        let tiny = Tiny::draw(seed);
        let question = tiny.question();
        let Answer { plan, certificate, .. } = answer(&question, 5);
        let tile = |class: usize| -> usize {
            tiny.tiles.iter().enumerate().position(|(i, _)| format!("p{i}") == certificate.classes[class].0).unwrap()
        };
        for (class, may) in certificate.may.iter().enumerate() {
            for (sheet, may) in may.iter().enumerate() {
                assert!(*may || !tiny.holds(&[tile(class)], &[sheet]), "case {seed}: class {class} on {sheet}");
            }
        }
        for p in &certificate.impossible {
            let tiles: Vec<usize> = p.load.iter().map(|&c| tile(c)).collect();
            assert!(!tiny.holds(&tiles, &[p.slab]), "case {seed}: {p:?} is possible: {tiny:?}");
            loads += 1;
        }
        let Some(least) = tiny.least() else {
            assert!(!plan.unplaced.is_empty(), "case {seed}: {tiny:?}");
            continue;
        };
        assert!(
            plan.cost_bound <= least + 0.005,
            "case {seed}: {} > {least}: {certificate:?} {tiny:?}",
            plan.cost_bound
        );
        assert!(!plan.unplaced.is_empty() || plan.cost >= least - 0.005, "case {seed}: cheaper than brute force");
        let prices: Vec<f64> = tiny.sheets.iter().map(|s| s.1).collect();
        recheck(&certificate, &prices);
        solvable += 1;
        tight += usize::from(plan.cost_bound >= least - 0.005);
        refuted += certificate.sets.len();
    }
    println!("{solvable} solvable, {tight} tight, {refuted} sets and {loads} loads refuted");
    assert!(tight * 100 >= solvable * 95, "{tight} of {solvable} bounds are tight");
    assert!(refuted * 5 >= solvable && loads > refuted, "the cases ask for refutation: {refuted} sets, {loads} loads");
}

/// The same with pieces that turn freely, on slabs that lie askew: brute force knows plans at quarter turns along the slab's
/// sides, so its least cost is an upper limit of the bound, and what it packs is possible.
#[test]
fn free_turns_against_brute_force() {
    let mut loads = 0;
    for seed in 0..cases(150) {
        let mut tiny = Tiny::draw(seed);
        tiny.tiles.truncate(4);
        for tile in &mut tiny.tiles {
            tile.notch = [0, 0];
        }
        let mut question = tiny.question();
        for piece in &mut question.jobs[0].pieces {
            piece.grain = GrainWish::Any;
        }
        for (i, slab) in question.rack.iter_mut().enumerate() {
            let pose = Pose::new(17.0 * seed as f64 + 40.0 * i as f64, pt(0.0, 0.0));
            slab.outline = slab.outline.map(|p| pose.apply(p));
            slab.grain = (i % 2 == 0).then_some(0.0);
        }
        let Answer { plan, certificate, .. } = answer(&question, 3);
        for p in &certificate.impossible {
            let of =
                |c: &usize| (0..tiny.tiles.len()).position(|i| format!("p{i}") == certificate.classes[*c].0).unwrap();
            let tiles: Vec<usize> = p.load.iter().map(of).collect();
            // Every tile may stand or lie.
            for bits in 0..1usize << tiles.len() {
                let mut turned = tiny.clone();
                for (k, &t) in tiles.iter().enumerate() {
                    if bits >> k & 1 == 1 {
                        turned.tiles[t].size.reverse();
                    }
                }
                assert!(!turned.holds(&tiles, &[p.slab]), "case {seed}: {p:?} is possible: {turned:?}");
            }
            loads += 1;
        }
        if let Some(least) = tiny.least() {
            assert!(plan.cost_bound <= least + 0.005, "case {seed}: {} > {least}", plan.cost_bound);
        }
    }
    println!("{loads} loads refuted");
    assert!(loads >= 10, "{loads} loads refuted");
}

fn along(mut piece: Piece) -> Piece {
    piece.grain = GrainWish::Towards(0.0);
    piece
}

fn grained(name: &str, length: f64, depth: f64, price: f64) -> Slab {
    let mut slab = make::slab(name, length, depth, price);
    slab.grain = Some(0.0);
    slab
}

/// One slab at 100 that is in question, and two large ones at 80 each that do for certain.
fn one_or_two(pieces: Vec<Piece>, first: Slab) -> Question {
    make::question(
        pieces,
        vec![first, grained("large 1", 6000.0, 3000.0, 80.0), grained("large 2", 6000.0, 3000.0, 80.0)],
    )
}

fn bound_of(question: &Question) -> Plan {
    answer(question, 3).plan
}

/// Depths and gap add up exactly to the usable depth: not refuted. Beyond the slack of proofs: refuted.
#[test]
fn exact_fits_are_never_refuted() {
    for (short, bound) in [(0.0, 50.0), (1.5, 50.0), (4.0, 80.0)] {
        let pieces = vec![along(make::piece("a", 2000.0, 650.0)), along(make::piece("b", 1900.0, 650.0))];
        let mut slab = grained("s", 2040.0, 650.0 + GAP + 650.0 + 2.0 * TRIM - short, 50.0);
        slab.price = 50.0;
        let plan = bound_of(&one_or_two(pieces, slab));
        assert!(
            (plan.cost_bound - bound).abs() < 0.01 || (short == 1.5 && plan.cost_bound <= 80.0),
            "{short}: {plan:?}"
        );
        assert_eq!(plan.cost, if short == 0.0 { 50.0 } else { 80.0 });
    }
}

/// Two pieces at a slant to one another may be nearer than the gap along both axes.
#[test]
fn a_slant_is_not_refuted() {
    let pieces = || vec![along(make::piece("a", 1000.0, 600.0)), along(make::piece("b", 1000.0, 600.0))];
    // dx = dy = 45 and 45: 63.6 mm apart.
    let mut question = one_or_two(pieces(), grained("s", 2045.0 + 40.0, 1245.0 + 40.0, 50.0));
    question.shop.limits.gap = 60.0;
    let plan = bound_of(&question);
    assert!(plan.cost_bound <= 50.0 && plan.cost == 50.0 && plan.proven, "{} {}", plan.cost, plan.cost_bound);
    // dx = dy = 38: 53.7 mm apart.
    let mut question = one_or_two(pieces(), grained("s", 2038.0 + 40.0, 1238.0 + 40.0, 50.0));
    question.shop.limits.gap = 60.0;
    let plan = bound_of(&question);
    assert!(plan.cost_bound == 80.0 && plan.proven, "{}", plan.cost_bound);
}

/// Three runs across need more depth than the slab has, also where their turn is not quite fixed.
#[test]
fn three_runs_across() {
    for tolerance in [0.0, 1.0, 2.0] {
        let runs = || {
            (0..3)
                .map(|i| {
                    let mut run = along(make::piece(&format!("run {i}"), 2600.0 - f64::from(i), 600.0));
                    run.grain_tolerance = tolerance;
                    run
                })
                .collect::<Vec<_>>()
        };
        let plan = bound_of(&one_or_two(runs(), grained("s", 3000.0, 1700.0, 50.0)));
        assert!(plan.cost_bound == 80.0 && plan.proven, "tolerance {tolerance}: {}", plan.cost_bound);
        let plan = bound_of(&one_or_two(runs(), grained("s", 3000.0, 1800.0 + 2.0 * GAP + 2.0 * TRIM, 50.0)));
        assert!(plan.cost_bound == 50.0 && plan.proven, "tolerance {tolerance}: {}", plan.cost_bound);
    }
}

/// A slab that lies askew to its grain, filled exactly by pieces that may be turned as far.
#[test]
fn a_turn_within_the_tolerance_is_not_refuted() {
    let mut slab = grained("askew", 3000.0, 1300.0, 50.0);
    let pose = Pose::new(1.5, pt(0.0, 0.0));
    slab.outline = Ring::rectangle(slab.outline.bbox()).map(|p| pose.apply(p));
    let pieces: Vec<Piece> = (0..2)
        .map(|i| {
            let mut piece = along(make::piece(&format!("run {i}"), 2960.0 - f64::from(i), 627.0));
            piece.grain_tolerance = 2.0;
            piece
        })
        .collect();
    let plan = bound_of(&one_or_two(pieces, slab));
    assert!(plan.cost_bound <= 50.0, "{}", plan.cost_bound);
    assert_eq!(plan.cost, 50.0);
}

/// Equal slabs are listed once: of ten that hold one run each, three are needed, and the log stays short.
#[test]
fn equal_slabs_are_listed_once() {
    let runs = (0..3).map(|i| along(make::piece(&format!("run {i}"), 2000.0 - f64::from(i), 700.0))).collect();
    let rack: Vec<Slab> = (0..10).map(|i| grained(&format!("s{i}"), 2600.0, 1400.0, 50.0)).collect();
    let question = make::question(runs, rack);
    let Answer { plan, certificate, .. } = answer(&question, 3);
    assert!(plan.proven && plan.cost == 150.0, "{} {}", plan.cost, plan.cost_bound);
    assert!(certificate.sets.len() <= 3, "{:?}", certificate.sets);
    recheck(&certificate, &[50.0; 10]);
}

/// The same work, the same log, for any number of threads.
#[test]
fn the_log_repeats() {
    let question = Tiny::draw(5).question();
    let with = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| answer(&question, 4))
    };
    let (one, two) = (with(1), with(2));
    assert_eq!(one.certificate, two.certificate);
    assert_eq!(one.plan, two.plan);
}
