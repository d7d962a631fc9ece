//! Strips of fixed width and least length, on open instances.
//!
//! `cargo bench --bench strip -- [--seconds S] [--seed N] [--threads T] [--out DIR] FILE.json...`
#![allow(
    missing_docs,
    clippy::unwrap_used,
    clippy::print_stdout,
    clippy::print_stderr,
    clippy::disallowed_methods,
    reason = "a bench"
)]

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use clap::Parser;
use scantling::geom::{Ring, pt};
use scantling::search::strip::{Kind, Strip, pack};
use serde::{Deserialize, Serialize};

/// Lays the items of strip instances on a strip of fixed width and least length.
#[derive(Debug, Parser)]
struct Args {
    /// Seconds for each instance.
    #[arg(long, default_value_t = 10.0)]
    seconds: f64,
    /// Seed of all random streams.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Threads; 0: all cores.
    #[arg(long, default_value_t = 0)]
    threads: usize,
    /// Directory for NAME.layout.json.
    #[arg(long)]
    out: Option<PathBuf>,
    /// Lay on the nominal width also where the instance gives a width for solvers.
    #[arg(long)]
    nominal: bool,
    /// Say when a shorter layout is found, on standard error.
    #[arg(long)]
    verbose: bool,
    /// Given by `cargo bench`.
    #[arg(long, hide = true)]
    bench: bool,
    /// Instances.
    files: Vec<PathBuf>,
}

#[derive(Debug, Deserialize)]
struct Instance {
    name: String,
    strip_width: f64,
    solver_strip_width: Option<f64>,
    total_item_area: f64,
    best_published_density: Option<f64>,
    items: Vec<Item>,
}

#[derive(Debug, Deserialize)]
struct Item {
    id: u64,
    demand: usize,
    rotations_deg: Vec<f64>,
    outline: Vec<[f64; 2]>,
}

#[derive(Debug, Serialize)]
struct Written {
    name: String,
    strip_width: f64,
    length: f64,
    placed: Vec<WrittenItem>,
}

#[derive(Debug, Serialize)]
struct WrittenItem {
    id: u64,
    turn: f64,
    shift: [f64; 2],
}

/// Instances come in units of their own; the search works in mm, on strips about as wide as slabs.
const WIDTH_MM: f64 = 2000.0;

fn main() {
    let args = Args::parse();
    rayon::ThreadPoolBuilder::new().num_threads(args.threads).build_global().unwrap();
    println!(
        "{:<12} {:>5} {:>12} {:>9} {:>9} {:>7} {:>8} {:>10}",
        "instance", "items", "length", "density", "published", "ratio", "seconds", "evals/s"
    );
    for file in &args.files {
        run(&args, file);
    }
}

fn run(args: &Args, file: &Path) {
    let instance: Instance = serde_json::from_str(&std::fs::read_to_string(file).unwrap()).unwrap();
    let width =
        if args.nominal { instance.strip_width } else { instance.solver_strip_width.unwrap_or(instance.strip_width) };
    let scale = WIDTH_MM / width;
    let kinds = instance
        .items
        .iter()
        .map(|i| Kind {
            outline: Ring::tidy(&i.outline.iter().map(|p| pt(p[0] * scale, p[1] * scale)).collect::<Vec<_>>())
                .unwrap()
                .0,
            turns: i.rotations_deg.clone(),
            count: i.demand,
        })
        .collect();
    let strip = Strip { width: WIDTH_MM, kinds };
    let start = Instant::now();
    let end = Duration::from_secs_f64(args.seconds);
    let last = std::sync::Mutex::new(f64::INFINITY);
    let density = |length: f64| instance.total_item_area / (width * length / scale);
    let stop = |best: Option<f64>, evaluations: u64| {
        if let Some(best) = best {
            let mut last = last.lock().unwrap();
            if best < *last {
                *last = best;
                if args.verbose {
                    eprintln!("{:8.2} s  {:.3} %  {evaluations}", start.elapsed().as_secs_f64(), 100.0 * density(best));
                }
            }
        }
        start.elapsed() >= end
    };
    let layout = pack(&strip, args.seed, None, &stop).unwrap();
    let seconds = start.elapsed().as_secs_f64();
    let items: usize = instance.items.iter().map(|i| i.demand).sum();
    let (length, d) = (layout.length / scale, density(layout.length));
    let published = instance.best_published_density;
    println!(
        "{:<12} {items:>5} {length:>12.4} {:>9.3} {:>9} {:>7} {seconds:>8.1} {:>10.0}",
        instance.name,
        100.0 * d,
        published.map_or("-".to_owned(), |p| format!("{:.3}", 100.0 * p)),
        published.map_or("-".to_owned(), |p| format!("{:.4}", d / p)),
        layout.evaluations as f64 / seconds,
    );
    if let Some(dir) = &args.out {
        let placed = layout
            .laid
            .iter()
            .map(|l| WrittenItem {
                id: instance.items[l.kind].id,
                turn: l.turn,
                shift: [l.shift.x / scale, l.shift.y / scale],
            })
            .collect();
        let written = Written { name: instance.name.clone(), strip_width: width, length, placed };
        std::fs::create_dir_all(dir).unwrap();
        std::fs::write(dir.join(format!("{}.layout.json", instance.name)), serde_json::to_string(&written).unwrap())
            .unwrap();
    }
}
