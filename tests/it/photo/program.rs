//! The program from outside, with a rack that has a photograph.

use std::fs;
use std::path::Path;

use scantling::io;
use tempfile::TempDir;

use super::{PICTURE, camera, chess, photograph, slab};
use crate::cli::run;

const JOB: &str = "name = \"Tollbooth\"\nrack = \"stock/rack.toml\"\nmaterial = \"gneiss\"\nthickness = 30\n\
    [[piece]]\nname = \"Counter, left\"\noutline.rectangle = [1200, 600]\n\
    [[piece]]\nname = \"sill\"\ncount = 2\noutline.rectangle = [800, 200]\n";

fn rack(file: &str) -> String {
    let photo = slab(file).photo.unwrap();
    let list = |points: &[scantling::geom::Point]| {
        let all: Vec<String> = points.iter().map(|p| format!("[{:.2}, {:.2}]", p.x, p.y)).collect();
        format!("[{}]", all.join(", "))
    };
    format!(
        "[[slab]]\nname = \"GN/1\"\nmaterial = \"gneiss\"\nstone = \"granite\"\nthickness = 30\nprice = 100\ngrain = \"none\"\n\
         outline.rectangle = [2000, 1200]\nphoto = {{ file = \"{file}\", marks = {}, at = {} }}\n",
        list(&photo.marks),
        list(&photo.at)
    )
}

fn shop(file: &str, picture: &[u8]) -> TempDir {
    let dir = TempDir::new().unwrap();
    let put = |name: &str, bytes: &[u8]| io::write_atomically(&dir.path().join(name), bytes).unwrap();
    put("job.toml", JOB.as_bytes());
    put("stock/rack.toml", rack(file).as_bytes());
    if !picture.is_empty() {
        put(&format!("stock/{file}"), picture);
    }
    dir
}

fn names(dir: &Path) -> Vec<String> {
    let mut out: Vec<String> =
        fs::read_dir(dir).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
    out.sort();
    out
}

fn jpeg() -> Vec<u8> {
    io::jpeg("x", &photograph(&camera(), PICTURE, chess), 85).unwrap()
}

const PICTURES: [&str; 3] = ["piece-01-01-counter-left.jpg", "piece-01-02-sill-1.jpg", "piece-01-03-sill-2.jpg"];

#[test]
fn a_plan_shows_the_photograph_and_writes_a_picture_of_every_piece() {
    let dir = shop("stone.jpg", &jpeg());
    let ran = run(dir.path(), &["plan", "job.toml", "--out", "o", "--effort", "1"]).ends_with(0);
    let note = "900 × 640 pixels, straightened to ";
    assert!(ran.err.contains(note) && ran.err.contains("5 marks, off by 0 mm"), "{}", ran.err);
    let out = dir.path().join("o");
    let mut expected = PICTURES.map(str::to_owned).to_vec();
    expected.extend(["plan.json", "report.html", "report.txt", "slab-01-gn-1.svg"].map(str::to_owned));
    assert_eq!(names(&out), expected);
    let svg = fs::read_to_string(out.join("slab-01-gn-1.svg")).unwrap();
    assert!(svg.contains("data:image/jpeg;base64,"));
    // 150 kB of picture make 200 kB of text.
    assert!(svg.len() < 300_000, "{}", svg.len());
    let counter = io::read_picture("p", &fs::read(out.join(PICTURES[0])).unwrap()).unwrap();
    let shape = counter.width() as f64 / counter.height() as f64;
    assert!((shape - 2.0).abs() < 0.02 && counter.width() > 300, "{shape}");
    // The same again: the same bytes.
    let before: Vec<Vec<u8>> = expected.iter().map(|n| fs::read(out.join(n)).unwrap()).collect();
    run(dir.path(), &["plan", "job.toml", "--out", "o", "--effort", "1", "--quiet"]).ends_with(0);
    let after: Vec<Vec<u8>> = expected.iter().map(|n| fs::read(out.join(n)).unwrap()).collect();
    assert!(before == after);
    // Without photographs: no pictures, those of before are gone, the plan is the same, files of others stay.
    fs::write(out.join("piece-of-mine.jpg"), "x").unwrap();
    let ran = run(dir.path(), &["plan", "job.toml", "--out", "o", "--effort", "1", "--plain"]).ends_with(0);
    assert!(!ran.err.contains("straightened"));
    assert_eq!(names(&out), ["piece-of-mine.jpg", "plan.json", "report.html", "report.txt", "slab-01-gn-1.svg"]);
    assert_eq!(fs::read(out.join("plan.json")).unwrap(), before[3]);
    assert!(!fs::read_to_string(out.join("slab-01-gn-1.svg")).unwrap().contains("data:image"));
}

#[test]
fn a_photograph_that_cannot_be_used_is_told_before_the_search() {
    let jpeg = jpeg();
    let small = io::jpeg("x", &photograph(&camera(), [450, 320], chess), 85).unwrap();
    for (picture, words) in [
        (&[][..], "no such file"),
        (b"II*\0\x08\0\0\0", "a picture of the format Tiff"),
        (&small, "mark 1 at [104.9, 556.5] lies outside the picture"),
        (&jpeg[..200], "a broken picture"),
    ] {
        let dir = shop("stone.jpg", picture);
        let ran = run(dir.path(), &["plan", "job.toml", "--out", "o"]).ends_with(2);
        assert!(ran.err.contains(words) || words.starts_with("mark"), "{}", ran.err);
        if words.starts_with("mark") {
            assert!(
                ran.err.contains("lies outside the picture") && ran.err.contains("within 450 × 320 pixels"),
                "{}",
                ran.err
            );
        }
        assert!(
            ran.err.contains("stone.jpg: photograph of slab \"GN/1\"") && ran.err.contains("--plain"),
            "{}",
            ran.err
        );
        assert!(!dir.path().join("o").exists());
        run(dir.path(), &["plan", "job.toml", "--out", "o", "--effort", "1", "--plain"]).ends_with(0);
        // The other commands do not look at pictures.
        run(dir.path(), &["check", "job.toml", "--plan", "o/plan.json"]).ends_with(0);
    }
    let dir = shop("folder.jpg", &[]);
    fs::create_dir(dir.path().join("stock/folder.jpg")).unwrap();
    let ran = run(dir.path(), &["plan", "job.toml"]).ends_with(2);
    assert!(ran.err.contains("a directory"), "{}", ran.err);
}

#[test]
fn a_photograph_that_breaks_off_stops_all_before_anything_is_written() {
    let jpeg = jpeg();
    let dir = shop("stone.jpg", &jpeg);
    run(dir.path(), &["plan", "job.toml", "--out", "o", "--effort", "1", "--papers"]).ends_with(0);
    let all = || -> Vec<(String, Vec<u8>)> {
        let out = dir.path().join("o");
        names(&out).into_iter().map(|n| (n.clone(), fs::read(out.join(n)).unwrap())).collect()
    };
    let before = all();
    fs::write(dir.path().join("stock/stone.jpg"), &jpeg[..jpeg.len() * 2 / 3]).unwrap();
    for command in [&["plan", "job.toml", "--out", "o"][..], &["papers", "job.toml", "--plan", "o/plan.json"]] {
        let ran = run(dir.path(), command).ends_with(2);
        assert!(ran.err.contains("a picture that breaks off") && ran.err.contains("--plain"), "{}", ran.err);
        assert!(ran.out.is_empty(), "{}", ran.out);
        assert!(all() == before, "{command:?} changed something");
    }
    run(dir.path(), &["papers", "job.toml", "--plan", "o/plan.json", "--plain"]).ends_with(0);
}
