//! The program is killed, and the rack is always whole: as it was before, or as it was to be after.

use std::fs;
use std::process::{Child, Stdio};
use std::thread;
use std::time::{Duration, Instant};

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use scantling::io::Record;

use super::{RACK, Yard};

/// What two hundred kills met.
#[derive(Clone, Copy, Debug, Default)]
struct Met {
    kills: usize,
    /// The program was done before it was killed.
    too_late: usize,
    before: usize,
    after: usize,
    /// A file of an unfinished taking or undoing was left.
    unfinished: usize,
    /// ... and the rack had been written already.
    written: usize,
}

fn start(yard: &Yard, args: &[&str]) -> Child {
    yard.command(args).stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap()
}

/// Kills takings and undoings in turn at random moments, half of them spread over the whole run and half round the writing.
fn kill(seed: u64, times: usize) -> Met {
    let yard = Yard::new();
    let take = Yard::take_args();
    let undo = ["undo", "job.toml", "--quiet"];
    // How long each takes, and what the rack is after.
    let clock = Instant::now();
    yard.take().ends_with(0);
    let taking = clock.elapsed();
    let taken = yard.rack();
    let clock = Instant::now();
    yard.undo().ends_with(0);
    let undoing = clock.elapsed();
    assert_ne!(taken, RACK);

    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut met = Met::default();
    let folder = yard.path().join("rack.toml.takings");
    for round in 0..times {
        let is_taken = yard.rack() == taken;
        let (args, takes) = if is_taken { (&undo[..], undoing) } else { (&take[..], taking) };
        let mut child = start(&yard, args);
        if round % 2 == 0 {
            thread::sleep(takes.mul_f64(rng.random_range(0.0..1.1)));
        } else {
            // The journal comes first: its first file begins the writing, which takes a few milliseconds.
            let begun =
                || fs::read_dir(&folder).is_ok_and(|e| e.flatten().any(|e| is_begun(&e.file_name().to_string_lossy())));
            while !begun() && child.try_wait().unwrap().is_none() {
                thread::yield_now();
            }
            thread::sleep(Duration::from_micros(rng.random_range(0..3000)));
        }
        met.too_late += usize::from(child.try_wait().unwrap().is_some());
        child.kill().unwrap();
        child.wait().unwrap();
        met.kills += 1;

        let rack = yard.rack();
        assert!(rack == RACK || rack == taken, "neither before nor after:\n{rack}");
        met.before += usize::from((rack == taken) == is_taken);
        met.after += usize::from((rack == taken) != is_taken);
        if yard.journal().iter().any(|n| n == "taking.json" || n == "undoing.json") {
            met.unfinished += 1;
            met.written += usize::from((rack == taken) != is_taken);
        }

        // And life goes on: what fits the rack now works, to the byte.
        if rack == taken {
            yard.undo().ends_with(0);
            assert_eq!(yard.rack(), RACK);
            assert_eq!(yard.journal(), [""; 0]);
        } else {
            yard.take().ends_with(0);
            assert_eq!(yard.rack(), taken);
            assert_eq!(yard.journal(), ["0001.json"]);
        }
        let left: Vec<String> = fs::read_dir(yard.path())
            .unwrap()
            .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
            .filter(|n| n.ends_with(".tmp"))
            .collect();
        assert_eq!(left, [""; 0], "no half-written file is left");
    }
    met
}

fn is_begun(name: &str) -> bool {
    name.contains("taking.json") || name.contains("undoing.json")
}

#[test]
fn two_hundred_kills_leave_the_rack_before_or_after() {
    let clock = Instant::now();
    let workers: Vec<_> = (0..2).map(|seed| thread::spawn(move || kill(seed, 100))).collect();
    let met: Vec<Met> = workers.into_iter().map(|w| w.join().unwrap()).collect();
    println!("{met:?} in {:?}", clock.elapsed());
    let sum = |f: fn(&Met) -> usize| met.iter().map(f).sum::<usize>();
    assert_eq!(sum(|m| m.kills), 200);
    // The kills did fall where it matters: not all before or after the run.
    assert!(sum(|m| m.before) >= 20 && sum(|m| m.after) >= 5, "{met:?}");
    assert!(sum(|m| m.unfinished) >= 10, "{met:?}");
}

/// Every state that a kill can leave, made by hand from the files of a whole taking.
#[test]
fn every_unfinished_state_is_finished_or_dropped() {
    let yard = Yard::new();
    yard.take().ends_with(0);
    let taken = yard.rack();
    let record = yard.read("rack.toml.takings/0001.json");
    let turned: Record = serde_json::from_str(&record).unwrap();
    let turned = Record { before: taken.clone(), after: RACK.to_owned(), ..turned }.sealed();
    let turned = serde_json::to_string(&turned).unwrap();
    let (a, b, c) = ("rack.toml.takings/0001.json", "rack.toml.takings/taking.json", "rack.toml.takings/undoing.json");
    let half = "rack.toml.takings/.taking.json.1-0.tmp";
    let edited = |rack: &str| rack.replace("# Yard behind", "# The yard behind");
    // Files of the journal, the rack, and whether the taking stands.
    type State<'t> = (Vec<(&'t str, &'t str)>, String, bool);
    let cases: Vec<State<'_>> = vec![
        (vec![(half, "{\"for")], RACK.to_owned(), false),
        (vec![(b, &record)], RACK.to_owned(), false),
        (vec![(b, &record)], taken.clone(), true),
        (vec![(a, &record)], taken.clone(), true),
        (vec![(a, &record), (c, &turned)], taken.clone(), true),
        (vec![(a, &record), (c, &turned)], RACK.to_owned(), false),
        (vec![(c, &turned)], RACK.to_owned(), false),
        // Edited by hand before anybody mended it: the names on the rack tell.
        (vec![(b, &record)], edited(RACK), false),
        (vec![(b, &record)], edited(&taken), true),
        (vec![(a, &record), (c, &turned)], edited(&taken), true),
        (vec![(a, &record), (c, &turned)], edited(RACK), false),
    ];
    for (files, rack, stands) in cases {
        let yard = Yard::new();
        fs::create_dir_all(yard.path().join("rack.toml.takings")).unwrap();
        files.iter().for_each(|(name, text)| yard.write(name, text));
        yard.write("rack.toml", &rack);
        yard.write(".rack.toml.77-1.tmp", "half of it");
        let names: Vec<&str> = files.iter().map(|f| f.0).collect();
        if stands {
            yard.undo().ends_with(0);
            assert!(yard.rack().contains("\"FS 1\"\n"), "{names:?}");
            assert_eq!(yard.journal(), [""; 0], "{names:?}");
        } else {
            assert!(yard.undo().ends_with(2).err.contains("no taking that is still in effect"), "{names:?}");
            assert_eq!(yard.rack(), rack, "{names:?}");
            yard.take().ends_with(0);
            assert_eq!(yard.journal(), ["0001.json"], "{names:?}");
        }
        assert!(!yard.path().join(".rack.toml.77-1.tmp").exists());
    }
    // A rack that is neither: nothing is touched.
    let yard = Yard::new();
    fs::create_dir_all(yard.path().join("rack.toml.takings")).unwrap();
    yard.write(b, &record);
    let odd = RACK.replace("\"FS 2\"", "\"FS 1 a\"");
    yard.write("rack.toml", &odd);
    let run = yard.take().ends_with(2);
    assert!(
        run.err.contains("a rack that was edited while a taking for \"Lock keeper's house\" was unfinished"),
        "{}",
        run.err
    );
    assert_eq!((yard.rack(), yard.read(b)), (odd, record));
}

#[test]
fn of_two_at_once_one_wins_or_both_in_order() {
    for round in 0..8 {
        // The same plan twice: one wins.
        let yard = Yard::new();
        let pair = [start(&yard, &Yard::take_args()), start(&yard, &Yard::take_args())];
        let mut codes = pair.map(|mut c| c.wait().unwrap().code().unwrap());
        codes.sort_unstable();
        assert_eq!(codes, [0, 2], "round {round}");
        assert_eq!(yard.rack().matches("[[slab]]").count(), 3);
        assert_eq!(yard.journal(), ["0001.json"]);

        // Two plans: both go through, and both can be taken back.
        let yard = Yard::new();
        let pair = [start(&yard, &Yard::take_args()), start(&yard, &Yard::other_args())];
        assert_eq!(pair.map(|mut c| c.wait().unwrap().code().unwrap()), [0, 0], "round {round}");
        let rack = yard.rack();
        for name in ["\"FS 1 a\"", "\"MG 7 a\"", "\"FS 2\"\n"] {
            assert!(rack.contains(name), "{rack}");
        }
        assert_eq!(yard.journal(), ["0001.json", "0002.json"]);
        yard.undo().ends_with(0);
        yard.undo().ends_with(0);
        assert_eq!(yard.rack(), RACK);
    }
}

/// The same, not at random: a tracer kills the program at its first call of a kind that touches files, then at its second,
/// and so on to the last, kind by kind. Needs `strace`; says so where it is skipped.
#[test]
fn a_kill_at_every_system_call_leaves_the_rack_before_or_after() {
    const KINDS: [&str; 8] = ["write", "fsync", "rename", "unlink", "mkdir", "flock", "fchmod", "openat"];
    let yard = Yard::new();
    let traced = |options: &[&str], args: &[&str]| {
        let mut command = std::process::Command::new("strace");
        command.current_dir(yard.path()).args(["-f", "-qq", "-o", "trace"]).args(options);
        command.arg(env!("CARGO_BIN_EXE_scantling")).args(args);
        command.stdout(Stdio::null()).stderr(Stdio::null()).status()
    };
    let take = Yard::take_args();
    let trace = format!("trace={}", KINDS.join(","));
    if !traced(&["-e", &trace], &take).is_ok_and(|s| s.success()) {
        println!("skipped: no strace here, or it may not trace");
        return;
    }
    let taken = yard.rack();
    yard.undo().ends_with(0);
    let (mut before, mut after, mut unfinished) = (0, 0, 0);
    let undo = ["undo", "job.toml", "--quiet"];
    for (args, kind) in [&take[..], &undo].into_iter().flat_map(|a| KINDS.map(|k| (a, k))) {
        for call in 1.. {
            assert!(call < 500, "it ends");
            // Each starts where it would: nothing taken, or taken.
            let is_taking = args[0] == "take";
            if is_taking && yard.rack() == taken {
                yard.undo().ends_with(0);
            } else if !is_taking && yard.rack() == RACK {
                yard.take().ends_with(0);
            }
            // One that is cut short leaves its files to the next, which is the one that is killed.
            let inject = format!("inject={kind}:signal=KILL:when={call}");
            let status = traced(&["-e", &trace, "-e", &inject], args).unwrap();
            let rack = yard.rack();
            assert!(rack == RACK || rack == taken, "{kind} {call}: neither before nor after:\n{rack}");
            if rack == if is_taking { RACK } else { &taken[..] } {
                before += 1
            } else {
                after += 1
            }
            unfinished += usize::from(yard.journal().iter().any(|n| n == "taking.json" || n == "undoing.json"));
            if status.success() {
                break;
            }
        }
    }
    println!("{before} before, {after} after, {unfinished} unfinished");
    assert!(before >= 20 && after >= 4 && unfinished >= 8, "{before} {after} {unfinished}");
    if yard.rack() == taken {
        yard.undo().ends_with(0);
    }
    assert_eq!(yard.rack(), RACK);
    yard.take().ends_with(0);
    assert_eq!((yard.rack(), yard.journal()), (taken, vec!["0001.json".to_owned()]));
}
