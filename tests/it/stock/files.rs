//! What takings do to rack files.

use std::fs;

use fs4::FileExt;
use scantling::io;
use scantling::photo::Fit;

use super::{RACK, Yard};
use crate::cli::run;

/// The rack above after its first slate was taken: nothing else has moved.
const TAKEN: &str = r#"# Yard behind the office.
# Ask Ines before taking the slates.

units = "mm"   # as on the labels

# --- granite ---

[[slab]]
name = "MG 7"
material = "Moss granite"
stone = "granite"
thickness = 30
price_per_m2 = 150
outline = { rectangle = [1800, 0.9e3] }
grain = "none"

[[slab]]   # the spare one
name = "FS 2"
material = "Fell slate"
stone = "slate"
thickness = 30
price = 900
outline.rectangle = [2000, 1000]
grain = 0
# End of the list.

"#;

#[test]
fn comments_and_order_stay_and_the_offcut_comes_last() {
    let yard = Yard::new();
    let run = yard.take().ends_with(0);
    assert!(run.out.starts_with("Off the rack: FS 1 (2000 × 1000 mm, 2.000 m², 400.00)\n"), "{}", run.out);
    let rack = yard.rack();
    let rest = rack.strip_prefix(TAKEN).unwrap_or_else(|| panic!("{rack}"));
    assert!(rest.starts_with("[[slab]]\nname = \"FS 1 a\"\nmaterial = \"Fell slate\"\nstone = \"slate\"\nthickness = 30\nlot = \"FS\"\nnumber = 1\nprice = "), "{rest}");
    assert!(rest.contains("from = { slab = \"FS 1\", jobs = [\"Lock keeper's house\"], at = ["), "{rest}");
    assert!(rest.contains("\ndate = \"2026-11-26\" }\n") || rest.contains(", date = \"2026-11-26\" }\n"), "{rest}");
    assert!(rest.contains("[[slab.flaw]]\nkind = \"fissure\"\nline = "), "{rest}");
    assert!(rest.contains("width = 2\nallow = [\"rail\", \"edge\", \"hidden\", \"field\"]\n"), "{rest}");
    assert!(rest.ends_with('\n') && !rest.ends_with("\n\n"), "{rest}");
    assert_eq!(yard.journal(), ["0001.json"]);
}

#[test]
fn undo_gives_back_every_byte_and_a_second_one_the_taking_before() {
    let yard = Yard::new();
    yard.take().ends_with(0);
    let first = yard.rack();
    yard.take_other().ends_with(0);
    assert_eq!(yard.journal(), ["0001.json", "0002.json"]);
    let run = yard.undo().ends_with(0);
    assert_eq!(
        run.out,
        "Taken back: the taking of 2026-11-26 for \"Pump house\"\nOn the rack again: \"MG 7\"\nOff the rack: \"MG 7 a\"\n\
         The rack file is what it was before, byte for byte.\n"
    );
    assert_eq!(yard.rack(), first);
    yard.undo().ends_with(0);
    assert_eq!(yard.rack(), RACK);
    assert_eq!(yard.journal(), [""; 0]);
    let run = yard.undo().ends_with(2);
    assert_eq!(
        run.err,
        "error: rack.toml\n  given     no taking that is still in effect\n  expected  one to take back\n  \
         fix       takings are kept beside the rack, the last 200 of them\n"
    );
}

#[test]
fn line_ends_and_a_mark_of_byte_order_stay() {
    let yard = Yard::new();
    let odd = format!("\u{feff}{}", RACK.replace('\n', "\r\n"));
    yard.write("rack.toml", &odd);
    yard.take().ends_with(0);
    let taken = yard.rack();
    assert_eq!(taken.matches('\n').count(), taken.matches("\r\n").count());
    let plain = taken.strip_prefix('\u{feff}').unwrap().replace("\r\n", "\n");
    assert!(plain.starts_with(TAKEN), "{plain}");
    yard.undo().ends_with(0);
    assert_eq!(yard.rack(), odd);
}

#[test]
fn a_rack_in_inches_gets_its_offcuts_in_inches() {
    let yard = Yard::new();
    // The same stones, which the fingerprints confirm.
    let inches = RACK.replace("units = \"mm\"", "units = \"in\"");
    let inches = inches
        .replace("[2000, 1000]", "[\"2000 mm\", \"1000 mm\"]")
        .replace("[1800, 0.9e3]", "[\"1800 mm\", \"900 mm\"]");
    let inches = inches
        .replace("thickness = 30.0\n", "thickness = 1.1811023622\n")
        .replace("thickness = 30\n", "thickness = \"30 mm\"\n");
    let inches = inches.replace("[[100, 900], [1900, 400]]", "[[\"100 mm\", \"900 mm\"], [\"1900 mm\", \"400 mm\"]]");
    let inches = inches.replace("width = 2\n", "width = \"2 mm\"\n");
    let in_mm = {
        yard.take().ends_with(0);
        let slabs = io::read_rack_from_text("rack", &yard.rack()).unwrap().0;
        yard.undo().ends_with(0);
        slabs
    };
    yard.write("rack.toml", &inches);
    yard.take().ends_with(0);
    let slabs = io::read_rack_from_text("rack", &yard.rack()).unwrap().0;
    assert_eq!(slabs.len(), in_mm.len());
    let (a, b) = (slabs.last().unwrap(), in_mm.last().unwrap());
    assert_eq!(a.name, "FS 1 a");
    for (p, q) in a.outline.points().iter().zip(b.outline.points()) {
        assert!(p.distance(*q) <= 1e-6, "{p:?} {q:?}");
    }
    assert_eq!(a.flaws.len(), 1);
    let text = yard.rack();
    let number = text.split("\nthickness = ").last().unwrap().lines().next().unwrap();
    assert_eq!(number, "1.18110236");
    yard.undo().ends_with(0);
    assert_eq!(yard.rack(), inches);
}

#[test]
fn an_offcut_keeps_the_photograph_of_its_slab() {
    let yard = Yard::new();
    let photo = "grain = 0\nphoto.file = \"slates \\\"FS\\\".jpg\"\nphoto.marks = [[310.5, 2204], [3690, 2175.25], [3560, 402], [402, 385]]\n\
                 photo.at = [[50, 40], [1950, 45], [1940, 960], [55, 970]]\n";
    let rack = RACK.replacen("grain = 0\n", photo, 1);
    yard.write("rack.toml", &rack);
    yard.take().ends_with(0);
    let text = yard.rack();
    let slabs = io::read_rack_from_text("rack", &text).unwrap().0;
    let (parent, offcut) =
        (io::read_rack_from_text("rack", &rack).unwrap().0.remove(0), slabs.into_iter().last().unwrap());
    let [old, new] = [&parent, &offcut].map(|s| s.photo.as_deref().unwrap_or_else(|| panic!("{text}")));
    assert_eq!((&new.file, &new.marks), (&old.file, &old.marks));
    // What the photograph shows of a point of the offcut is what it showed there before the cut.
    let [before, after] = [old, new].map(|p| Fit::of(p).unwrap());
    let at = offcut.from.as_ref().unwrap().at;
    for &p in offcut.outline.points() {
        let (was, is) = (before.to_picture.apply(p + at).unwrap(), after.to_picture.apply(p).unwrap());
        assert!(was.distance(is) < 1e-6, "{was:?} {is:?}");
    }
    yard.undo().ends_with(0);
    assert_eq!(yard.rack(), rack);
}

#[test]
fn hand_edits_since_the_taking_stay_when_it_is_taken_back() {
    let yard = Yard::new();
    yard.take().ends_with(0);
    let edited = yard
        .rack()
        .replace("price = 900", "price = 950   # dearer now")
        .replace("# --- granite ---", "# --- stone ---");
    yard.write("rack.toml", &edited);
    let run = yard.undo().ends_with(0);
    assert!(run.out.ends_with("The rack file has been edited since; what was edited stays.\n"), "{}", run.out);
    let expected =
        RACK.replace("price = 900", "price = 950   # dearer now").replace("# --- granite ---", "# --- stone ---");
    let rack = yard.rack();
    // The slab is in its old place with its comments, and the edits are there.
    assert_eq!(rack.trim_end(), expected.trim_end());
    assert_eq!(yard.journal(), [""; 0]);
}

#[test]
fn an_undo_that_is_not_clear_is_refused_and_changes_nothing() {
    type Edit = fn(&str) -> String;
    let cases: [(&str, Edit, &str); 4] = [
        (
            "offcut edited",
            |r| r.replace("name = \"FS 1 a\"\n", "name = \"FS 1 a\"\n# chipped\n"),
            "the offcut \"FS 1 a\", edited since the taking",
        ),
        (
            "offcut renamed",
            |r| r.replace("name = \"FS 1 a\"", "name = \"sold\""),
            "a rack without the offcut \"FS 1 a\", edited since the taking",
        ),
        (
            "slab back",
            |r| r.replace("\"FS 2\"", "\"FS 1\""),
            "the slab \"FS 1\", which is on the rack although it was taken",
        ),
        (
            "other units",
            |r| r.replace("units = \"mm\"", "units = \"cm\""),
            "a rack on which \"FS 1\" would not be what it was, edited since the taking",
        ),
    ];
    for (name, edit, given) in cases {
        let yard = Yard::new();
        yard.take().ends_with(0);
        let edited = edit(&yard.rack());
        assert_ne!(edited, yard.rack(), "{name}");
        yard.write("rack.toml", &edited);
        let run = yard.undo().ends_with(2);
        let expected = format!(
            "error: rack.toml\n  given     {given}\n  expected  the offcuts of that taking as they were written, and none of its slabs\n  \
             fix       bring the slab named to what it was, or edit the rack by hand\n"
        );
        assert_eq!(run.err, expected, "{name}");
        assert_eq!(yard.rack(), edited, "{name}");
        assert_eq!(yard.journal(), ["0001.json"], "{name}");
    }
}

/// Every refusal of a taking: exit code, message, nothing written.
#[test]
fn refusals_say_why_and_write_nothing() {
    let refused = |yard: &Yard, args: &[&str], code: i32, err: &str| {
        let (rack, journal) = (yard.rack(), yard.journal());
        let run = yard.run(args).ends_with(code);
        assert_eq!(run.err, err);
        assert_eq!((yard.rack(), yard.journal()), (rack, journal));
        run.out
    };
    let take = Yard::take_args();

    let yard = Yard::new();
    yard.write("rack.toml", &RACK.replace("[1900, 400]", "[1900, 401]"));
    refused(
        &yard,
        &take,
        2,
        "error: plan/plan.json\n  given     the slab \"FS 1\", which has been edited since the plan was made\n  \
         expected  slabs that are as they were when the plan was made\n  \
         fix       plan again, or go on from this plan with scantling plan --from\n",
    );

    let yard = Yard::new();
    yard.take().ends_with(0);
    refused(
        &yard,
        &take,
        2,
        "error: plan/plan.json\n  given     the slab \"FS 1\", which was taken on 2026-11-26 for \"Lock keeper's house\"\n  \
         expected  slabs that are on the rack\n  \
         fix       plan again with what is on the rack, or take that taking back with scantling undo\n",
    );

    let yard = Yard::new();
    yard.write("rack.toml", &RACK.replace("\"FS 1\"", "\"FS 3\""));
    refused(
        &yard,
        &take,
        2,
        "error: plan/plan.json\n  given     the slab \"FS 1\", which is not on the rack\n  \
         expected  slabs that are on the rack\n  \
         fix       plan again with what is on the rack, or take that taking back with scantling undo\n",
    );

    // A plan without fingerprints: refused, unless someone vouches for it.
    let yard = Yard::new();
    let plan: String =
        yard.read("plan/plan.json").lines().filter(|l| !l.contains("slab_print")).map(|l| format!("{l}\n")).collect();
    yard.write("plan/plan.json", &plan);
    refused(
        &yard,
        &take,
        2,
        "error: plan/plan.json\n  given     a plan without the fingerprint of \"FS 1\"\n  \
         expected  slabs that are as they were when the plan was made\n  \
         fix       look whether the slabs are still what they were, then add --unmarked; or plan again\n",
    );
    // Whoever vouches does not overrule the checker.
    let vouched = [&take[..], &["--unmarked"]].concat();
    yard.write("rack.toml", &RACK.replace("price = 400 ", "price = 410 "));
    let out = refused(&yard, &vouched, 1, "nothing was taken: the checker finds fault with the plan\n");
    assert!(out.contains("figure-wrong"), "{out}");
    yard.write("rack.toml", RACK);
    yard.run(&vouched).ends_with(0);

    // A piece moved by hand over the edge of the slab.
    let yard = Yard::new();
    let mut plan: serde_json::Value = serde_json::from_str(&yard.read("plan/plan.json")).unwrap();
    plan["layouts"][0]["placed"][0]["shift"][0] = serde_json::json!(-5.0);
    yard.write("plan/plan.json", &plan.to_string());
    let out = refused(&yard, &take, 1, "nothing was taken: the checker finds fault with the plan\n");
    assert!(out.contains("outside-slab"), "{out}");

    // Slabs in one list have no text of their own.
    let yard = Yard::new();
    let list = "slab = [{ name = \"FS 1\", material = \"Fell slate\", stone = \"slate\", thickness = 30, lot = \"FS\", number = 1, \
                price = 400, outline.rectangle = [2000, 1000], grain = 0, flaw = [{ kind = \"fissure\", \
                line = [[100, 900], [1900, 400]], width = 2, allow = [\"field\", \"hidden\", \"rail\", \"edge\"] }] }]\n";
    yard.write("rack.toml", list);
    refused(
        &yard,
        &take,
        2,
        "error: rack.toml\n  given     slabs written as one list\n  \
         expected  every slab under a header [[slab]] of its own\n  \
         fix       write them so; only then can slabs be taken out and put in\n",
    );
}

#[test]
fn a_rack_that_is_held_is_waited_for_and_then_given_up() {
    let yard = Yard::new();
    fs::create_dir(yard.path().join("rack.toml.takings")).unwrap();
    let held = fs::File::create(yard.path().join("rack.toml.takings/lock")).unwrap();
    FileExt::lock(&held).unwrap();
    let args = [&Yard::take_args()[..], &["--wait", "0.2"]].concat();
    let run = yard.run(&args).ends_with(2);
    assert_eq!(
        run.err,
        "error: rack.toml\n  given     a rack that another run of scantling has held for 0.2 s\n  expected  a rack that nobody is changing\n  \
         fix       wait until it is done, then run this again; --wait says for how long to wait\n"
    );
    assert_eq!(yard.rack(), RACK);
    let mut waiting = yard.command(&Yard::take_args()).stdout(std::process::Stdio::null()).spawn().unwrap();
    std::thread::sleep(std::time::Duration::from_millis(300));
    assert_eq!(yard.rack(), RACK);
    assert!(waiting.try_wait().unwrap().is_none(), "it waits");
    FileExt::unlock(&held).unwrap();
    assert!(waiting.wait().unwrap().success());
    assert!(yard.rack().starts_with(TAKEN));
}

/// Broken racks, journals and plans, cut off at every place: no panic, and nothing is overwritten.
#[test]
fn broken_files_are_told_and_left_alone() {
    let whole = Yard::new();
    whole.take().ends_with(0);
    let taken = whole.rack();
    let journal = whole.read("rack.toml.takings/0001.json");
    let plan = whole.read("plan/plan.json");
    let cuts = |text: &str| -> Vec<String> {
        let at = |k: usize| (0..=text.len() * k / 12).rev().find(|&i| text.is_char_boundary(i)).unwrap();
        (0..12).map(|k| text[..at(k)].to_owned()).collect()
    };
    for cut in
        cuts(&taken).into_iter().chain(["\u{1b}[[slab]]".to_owned(), "slab = 3".to_owned(), "[[slab]]\n".repeat(3)])
    {
        whole.write("rack.toml", &cut);
        for run in [whole.take(), whole.undo(), whole.run(&["rack", "job.toml", "--quiet"])] {
            assert!(matches!(run.code, 0 | 2), "{} {}", run.code, run.err);
            assert!(!run.err.contains("panicked"), "{}", run.err);
        }
        // A cut may leave a rack that is in order; then undoing may be in order too. It never is here, for the offcut is gone.
        assert_eq!(whole.rack(), cut);
        assert_eq!(whole.journal(), ["0001.json"]);
    }
    whole.write("rack.toml", &taken);
    for cut in
        cuts(&journal).into_iter().chain(["{}".to_owned(), "[]".to_owned(), journal.replace("taking/1", "taking/2")])
    {
        whole.write("rack.toml.takings/0001.json", &cut);
        let run = whole.undo().ends_with(2);
        assert!(run.err.starts_with("error: ") && run.err.contains("0001.json\n  given     "), "{}", run.err);
        assert_eq!((whole.rack(), whole.read("rack.toml.takings/0001.json")), (taken.clone(), cut.clone()));
        // An unfinished taking that cannot be read stops everything, for nobody knows what it was.
        fs::rename(
            whole.path().join("rack.toml.takings/0001.json"),
            whole.path().join("rack.toml.takings/taking.json"),
        )
        .unwrap();
        for run in [whole.undo(), whole.take_other()] {
            assert!(run.ends_with(2).err.contains("taking.json\n  given     "));
        }
        assert_eq!((whole.rack(), whole.read("rack.toml.takings/taking.json")), (taken.clone(), cut));
        fs::remove_file(whole.path().join("rack.toml.takings/taking.json")).unwrap();
    }
    whole.write("rack.toml.takings/0001.json", &journal);
    for cut in cuts(&plan) {
        whole.write("plan/plan.json", &cut);
        assert!(whole.take().ends_with(2).err.contains("plan.json"));
        assert_eq!(whole.rack(), taken);
    }
    whole.undo().ends_with(0);
    assert_eq!(whole.rack(), RACK);
}

#[cfg(unix)]
/// An invoice is written, and papers are printed again, when the stone is cut already.
#[test]
fn a_plan_can_be_judged_priced_and_printed_after_its_slabs_were_taken() {
    let yard = Yard::new();
    yard.write("shop.toml", "[limits]\nkeep_area = 0.2\nkeep_side = 200\n[rates]\nslabs = \"whole\"\nwithout = [\"templating\", \"delivery\", \"installation\"]\nextra = [{ name = \"visit\", rate = 5 }]\n");
    let ask = || {
        let quote = run(yard.path(), &["quote", "job.toml", "--plan", "plan/plan.json", "--format", "json"]);
        let check = run(yard.path(), &["check", "job.toml", "--plan", "plan/plan.json"]);
        let papers = run(yard.path(), &["papers", "job.toml", "--plan", "plan/plan.json", "--out", "papers"]);
        [quote, check, papers]
    };
    let before = ask();
    yard.take().ends_with(0);
    let after = ask();
    for (a, b) in before.iter().zip(&after) {
        assert_eq!(a.code, b.code, "{}", b.err);
        assert_eq!(a.out, b.out);
        assert!(b.err.contains("\"FS 1\", taken on 2026-11-26 for \"Lock keeper's house\""), "{}", b.err);
    }
    // Once the taking is forgotten nothing can be said of the slab.
    fs::remove_dir_all(yard.path().join("rack.toml.takings")).unwrap();
    assert!(ask()[1].err.contains("not on the rack") || ask()[1].out.contains("not on the rack"));
}

/// A record with a digit changed would put another rack in place of the old one.
#[test]
fn a_damaged_record_is_not_taken_back() {
    let yard = Yard::new();
    yard.take().ends_with(0);
    let (taken, record) = (yard.rack(), yard.read("rack.toml.takings/0001.json"));
    for (from, to) in [("price = 400", "price = 40"), ("FS 1 a", "FS 1 b"), ("Lock keeper", "Lock Keeper")] {
        let damaged = record.replacen(from, to, 1);
        assert_ne!(damaged, record, "{from}");
        yard.write("rack.toml.takings/0001.json", &damaged);
        let run = yard.undo().ends_with(2);
        assert!(run.err.contains("damaged or changed since it was written"), "{}", run.err);
        assert_eq!(yard.rack(), taken);
    }
    yard.write("rack.toml.takings/0001.json", &record);
    yard.undo().ends_with(0);
    assert_eq!(yard.rack(), RACK);
}

#[test]
fn a_link_to_the_rack_stays_a_link() {
    let yard = Yard::new();
    fs::create_dir(yard.path().join("store")).unwrap();
    fs::rename(yard.path().join("rack.toml"), yard.path().join("store/real.toml")).unwrap();
    std::os::unix::fs::symlink("store/real.toml", yard.path().join("rack.toml")).unwrap();
    yard.take().ends_with(0);
    assert!(yard.path().join("rack.toml").symlink_metadata().unwrap().is_symlink());
    assert!(yard.read("store/real.toml").starts_with(TAKEN));
    assert!(yard.path().join("store/real.toml.takings/0001.json").is_file());
    yard.undo().ends_with(0);
    assert_eq!(yard.read("store/real.toml"), RACK);
}

/// Whoever may write the rack before may write it after.
#[cfg(unix)]
#[test]
fn permissions_stay() {
    use std::os::unix::fs::PermissionsExt;
    let yard = Yard::new();
    let rack = yard.path().join("rack.toml");
    let mode = || fs::metadata(&rack).unwrap().permissions().mode() & 0o777;
    fs::set_permissions(&rack, fs::Permissions::from_mode(0o664)).unwrap();
    yard.take().ends_with(0);
    assert_eq!(mode(), 0o664);
    yard.undo().ends_with(0);
    assert_eq!(mode(), 0o664);
}

/// The last slab of a rack goes, and nothing of it is worth keeping: the rack is empty, and lives on.
#[test]
fn a_rack_may_be_emptied_and_filled_again() {
    let yard = Yard::new();
    yard.write("shop.toml", "[limits]\nkeep_area = 50\n");
    let lone = format!("# Only one left.\n\n{}", &RACK[RACK.find("[[slab]]   # the").unwrap()..]);
    yard.write("rack.toml", &lone);
    yard.run(&["plan", "job.toml", "--effort", "1", "--quiet", "--out", "plan"]).ends_with(0);
    yard.take().ends_with(0);
    assert_eq!(yard.rack(), "# Only one left.\n");
    assert!(yard.take().ends_with(2).err.contains("the slab \"FS 2\", which was taken on 2026-11-26"));
    assert_eq!(yard.run(&["rack", "job.toml", "--quiet"]).ends_with(0).out, "0 slabs, 0.000 m², 0.00\n");
    yard.undo().ends_with(0);
    assert_eq!(yard.rack(), lone);
}
