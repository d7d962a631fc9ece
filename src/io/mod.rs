//! Files to model, plan to file.
//!
//! In: paths or texts. Out: a [`Question`] or a [`Plan`], and remarks that name file, line, column and key; files written
//! whole or not at all. Must not know: how a plan is searched, judged or drawn.
//!
//! Everything that is wrong in all files is told in one run. Only mistakes in the writing (TOML, JSON) hide what follows.

mod disk;
pub mod drawn;
pub mod dxf;
pub mod files;
mod fixture;
mod handling;
mod job;
mod parts;
pub mod paste;
mod photo;
mod picture;
mod plan;
mod rack;
mod rack_text;
mod rates;
mod rates_file;
mod reader;
mod rims;
mod shape;
mod shop;
mod source;
mod stone_tests;
mod take_back;
mod taken;
mod takings;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

pub use disk::{LARGEST_FILE, explain, read_bytes, read_text, remove_files, remove_if_empty, write_atomically};
pub use files::{Schema, schema};
pub use picture::{LARGEST_PICTURE, jpeg, picture_bytes, picture_size, read_picture};
pub use plan::parse_plan;
pub use rack_text::{Put, RackText};
pub use reader::Keys;
pub use take_back::taken_back;
pub use takings::{KEPT, Locked, Record};

use crate::craft;
use crate::diag::{Kind, Remark, Remarks, Severity};
use crate::model::{Job, Plan, Question, Shop, Slab};
use crate::units::Shown;
use drawn::Folder;
use job::JobRead;
use reader::{Table, listed, nearest};
use source::{Desk, Source};

/// The files of a question.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Paths {
    /// The job files.
    pub jobs: Vec<PathBuf>,
    /// The rack file, in place of the one that the jobs name.
    pub rack: Option<PathBuf>,
    /// The shop file, in place of the one that the jobs name.
    pub shop: Option<PathBuf>,
}

/// A question and what is to be said about its files.
#[derive(Clone, Debug, PartialEq)]
pub struct Input {
    /// The question.
    pub question: Question,
    /// Warnings and notes.
    pub remarks: Remarks,
    /// How lengths are shown to people, also in the sentences of [`Shop::shown`]: as they ask, or as the first job writes them.
    pub shown: Shown,
    /// The folder of the rack file, where the files that it names lie.
    pub rack_folder: PathBuf,
}

/// The keys of each table of a file that is read by hand; none for plans.
#[must_use]
pub const fn known_keys(which: Schema) -> &'static Keys {
    match which {
        Schema::Job => job::KEYS,
        Schema::Rack => rack::KEYS,
        Schema::Shop => shop::KEYS,
        Schema::Plan | Schema::Openings | Schema::Quote => &[],
    }
}

/// A file name and its text.
type Text = (String, String);

/// Reads jobs, rack and shop. The rack and the shop are those of `paths`, or else those that the jobs name beside
/// themselves; a shop that nobody names has the built-in defaults.
///
/// # Errors
/// Everything that is wrong in all files.
pub fn load(paths: &Paths) -> Result<Input, Remarks> {
    load_shown(paths, None)
}

/// As [`load`], with the units for people if they ask for some: sentences that are made while reading are in them too.
///
/// # Errors
/// Everything that is wrong in all files.
pub fn load_shown(paths: &Paths, asked: Option<Shown>) -> Result<Input, Remarks> {
    load_for(paths, asked, &[])
}

/// As [`load_shown`], for a plan that cuts these slabs: those that a taking has put off the rack since are read as they were before it, and
/// a note says so. So a plan can be judged, priced and printed again after its slabs are cut.
///
/// # Errors
/// Everything that is wrong in all files.
pub fn load_for(paths: &Paths, asked: Option<Shown>, cut: &[String]) -> Result<Input, Remarks> {
    let mut remarks = Vec::new();
    let mut jobs: Vec<Text> = Vec::new();
    let mut racks: Vec<Named> = Vec::new();
    let mut shops: Vec<Named> = Vec::new();
    let mut all_named = true;
    for path in &paths.jobs {
        match disk::read_text(path) {
            Ok(text) => {
                let name = path.display().to_string();
                match references(&name, &text) {
                    Some((rack, shop)) => {
                        racks.push(Named::new(&name, path, rack));
                        shops.push(Named::new(&name, path, shop));
                    }
                    None => all_named = false,
                }
                jobs.push((name, text));
            }
            Err(found) => {
                remarks.extend(found.0);
                all_named = false;
            }
        }
    }
    let rack_path = chosen(paths.rack.as_ref(), &racks, "rack", &mut remarks);
    let shop_path = chosen(paths.shop.as_ref(), &shops, "shop", &mut remarks);
    if rack_path.is_none() && all_named && !racks.is_empty() && racks.iter().all(|r| r.path.is_none()) {
        remarks.push(no_rack(&racks[0].job));
    }
    let mut read = |path: Option<PathBuf>| {
        let path = path?;
        match disk::read_text(&path) {
            Ok(text) => Some((path.display().to_string(), text)),
            Err(found) => {
                remarks.extend(found.0);
                None
            }
        }
    };
    let (mut rack, shop) = (read(rack_path.clone()), read(shop_path));
    if let (Some(path), Some((name, text))) = (&rack_path, &mut rack) {
        remarks.extend(taken::put_back(path, name, text, cut));
    }
    let folder = rack_path.as_deref().and_then(Path::parent).map(Path::to_owned);
    let input = understand(&jobs, rack.as_ref(), shop.as_ref(), asked, remarks, Folder::beside)?;
    // The path itself, for its name as text may have lost letters.
    Ok(Input { rack_folder: folder.unwrap_or(input.rack_folder), ..input })
}

/// Reads jobs, rack and shop from texts, each with the name of its file. Touches no file.
///
/// # Errors
/// Everything that is wrong in all texts.
pub fn read_question_from_texts(jobs: &[Text], rack: Text, shop: Option<Text>) -> Result<Input, Remarks> {
    understand(jobs, Some(&rack), shop.as_ref(), None, Vec::new(), |_| Folder::nowhere())
}

/// The rack file that some jobs name, unless `paths` names one itself. Of the jobs only that is read.
///
/// # Errors
/// Jobs that cannot be read, that name no rack or different ones.
pub fn rack_path(paths: &Paths) -> Result<PathBuf, Remarks> {
    if let Some(path) = &paths.rack {
        return Ok(path.clone());
    }
    let mut remarks = Vec::new();
    let mut racks: Vec<Named> = Vec::new();
    for path in &paths.jobs {
        let text = disk::read_text(path)?;
        let name = path.display().to_string();
        match references(&name, &text) {
            Some((rack, _)) => racks.push(Named::new(&name, path, rack)),
            // The whole reading says what is wrong with it.
            None => {
                return Err(understand(&[(name, text)], None, None, None, remarks, |_| Folder::nowhere())
                    .err()
                    .unwrap_or_default());
            }
        }
    }
    match chosen(None, &racks, "rack", &mut remarks) {
        Some(path) => Ok(path),
        None => {
            if remarks.is_empty() {
                remarks.push(no_rack(racks.first().map_or("input", |r| &r.job)));
            }
            Err(Remarks(remarks))
        }
    }
}

/// Reads a rack from a text, with the name of its file, beside which drawings are looked for. It may be empty.
///
/// # Errors
/// Everything that is wrong in it.
pub fn read_rack_from_text(name: &str, text: &str) -> Result<(Vec<Slab>, Remarks), Remarks> {
    let source = Source::new(name, text);
    let folder = Folder::beside(name);
    let desk = Desk::beside(&source, &folder);
    let slabs = with_table(&desk, rack::KEYS, rack::read_any).flatten();
    let remarks = Remarks::sorted(desk.into_remarks());
    slabs.map(|s| (s, remarks.clone())).ok_or(remarks)
}

/// Reads a plan file.
///
/// # Errors
/// What the file system says, or the first mistake in the writing.
pub fn read_plan(path: &Path) -> Result<Plan, Remarks> {
    let text = disk::read_text(path)?;
    parse_plan(&path.display().to_string(), &text)
}

/// Which file a job names, as a path from where we are.
struct Named {
    job: String,
    path: Option<PathBuf>,
}

impl Named {
    fn new(job: &str, job_path: &Path, name: Option<String>) -> Self {
        let beside = job_path.parent().unwrap_or_else(|| Path::new(""));
        Self { job: job.to_owned(), path: name.map(|n| beside.join(n)) }
    }

    /// The path in a form that tells whether two are the same file.
    fn real(&self) -> Option<PathBuf> {
        self.path.as_ref().map(|p| p.canonicalize().unwrap_or_else(|_| p.clone()))
    }

    fn told(&self) -> String {
        let path = self.path.as_ref().map_or_else(|| "none".to_owned(), |p| p.display().to_string());
        format!("{} names {path}", self.job)
    }
}

fn no_rack(job: &str) -> Remark {
    let fix = "add rack = \"rack.toml\", or name the rack with --rack";
    let expected = "the file that lists the slabs";
    let remark = Remark::about_file(Severity::Error, Kind::NoRack, job, "nothing", expected, fix);
    Remark { key: "rack".to_owned(), ..remark }
}

/// The rack and the shop that a job names; outside `None` if its text cannot be understood that far.
fn references(name: &str, text: &str) -> Option<(Option<String>, Option<String>)> {
    let source = Source::new(name, text);
    let desk = Desk::new(&source);
    let table = reader::parse(&desk)?;
    let file = Table::of_file(&desk, &table, job::KEYS);
    let mut read = Vec::new();
    for key in ["rack", "shop"] {
        match file.get(key) {
            None => read.push(None),
            Some(value) => read.push(Some(value.name()?)),
        }
    }
    let shop = read.pop().flatten();
    Some((read.pop().flatten(), shop))
}

/// The one file that all jobs name, unless another overrides it.
fn chosen(over: Option<&PathBuf>, named: &[Named], key: &str, remarks: &mut Vec<Remark>) -> Option<PathBuf> {
    if let Some(path) = over {
        return Some(path.clone());
    }
    let first = named.first()?;
    if let Some(other) = named.iter().find(|n| n.real() != first.real()) {
        let what = if key == "rack" { Kind::RacksDiffer } else { Kind::ShopsDiffer };
        let given = format!("{}, {}", first.told(), other.told());
        let expected = format!("one {key} for all jobs that are planned together");
        let fix = format!("name it with --{key}, or plan the jobs one by one");
        let remark = Remark::about_file(Severity::Error, what, other.job.clone(), given, expected, fix);
        remarks.push(Remark { key: key.to_owned(), ..remark });
        return None;
    }
    first.path.clone()
}

/// Reads one text with a reader of its tables. `None` if the text is not TOML.
fn with_table<T>(desk: &Desk<'_>, keys: &'static Keys, read: impl FnOnce(&Table<'_>) -> T) -> Option<T> {
    let table = reader::parse(desk)?;
    Some(read(&Table::of_file(desk, &table, keys)))
}

/// Reads all texts and checks them against one another. Without a rack text, `earlier` says why. `folder` tells where the drawings are that
/// a text of this name speaks of; `asked` are the units for people, if they are not to be those of the first job.
fn understand(
    jobs: &[Text],
    rack: Option<&Text>,
    shop: Option<&Text>,
    asked: Option<Shown>,
    earlier: Vec<Remark>,
    folder: impl Fn(&str) -> Folder,
) -> Result<Input, Remarks> {
    let mut remarks = earlier;
    if jobs.is_empty() && remarks.is_empty() {
        let fix = "name at least one job file";
        remarks.push(Remark::about_file(Severity::Error, Kind::NoJobs, "input", "no job", "a job file", fix));
    }
    let rack_path = rack.map(|(name, _)| Path::new(name));
    let slabs = rack.and_then(|(name, text)| {
        let source = Source::new(name, text);
        let folder = folder(name);
        let desk = Desk::beside(&source, &folder);
        let slabs = with_table(&desk, rack::KEYS, rack::read).flatten();
        remarks.extend(desk.into_remarks());
        slabs
    });
    // Of the rack, not of the jobs: the jobs are read after the shop, since their holes depend on its core bits.
    let thicknesses: Vec<f64> = slabs.iter().flatten().map(|s: &Slab| s.thickness).collect();
    let shop = match shop {
        None => Some(Shop::default()),
        Some((name, text)) => {
            let source = Source::new(name, text);
            let desk = Desk::new(&source);
            let shop = with_table(&desk, shop::KEYS, |t| shop::read(t, &thicknesses)).flatten();
            remarks.extend(desk.into_remarks());
            shop
        }
    };
    // With a shop that cannot be read nothing is planned; the built-in bits then do to find more mistakes.
    let core_bits = shop.as_ref().map_or_else(|| Shop::default().tools.core_bits, |s: &Shop| s.tools.core_bits.clone());
    let mut shown = asked;
    let mut read_jobs: Vec<Job> = Vec::with_capacity(jobs.len());
    let mut names: BTreeMap<String, &str> = BTreeMap::new();
    for (file, text) in jobs {
        let source = Source::new(file, text);
        let folder = folder(file);
        let desk = Desk::beside(&source, &folder);
        if let Some(JobRead { job, name, material_at, thickness_at, unit }) =
            with_table(&desk, job::KEYS, |t| job::read(t, &core_bits, shown))
        {
            let shown = *shown.get_or_insert(Shown::of(unit));
            if let Some((name, at)) = name
                && let Some(other) = names.insert(name.clone(), file)
            {
                let given = format!("\"{}\", which the job of {other} is called too", source::shortened(&name));
                let fix = "rename one; a plan tells jobs apart by name";
                desk.put(Severity::Error, Kind::DuplicateName, at, "name", given, "names that differ", fix);
            }
            if let (Some(job), Some(slabs)) = (&job, &slabs) {
                check_stock(&desk, job, (material_at, thickness_at), slabs, shown);
            }
            read_jobs.extend(job);
        }
        remarks.extend(desk.into_remarks());
    }
    let remarks = Remarks::sorted(remarks);
    match (slabs, shop) {
        (Some(rack), Some(mut shop)) if !remarks.has_errors() => {
            let rack_folder = rack_path.and_then(Path::parent).unwrap_or_else(|| Path::new("")).to_owned();
            shop.shown = shown.unwrap_or_default();
            let shown = shop.shown;
            let mut question = Question { jobs: read_jobs, rack, shop };
            if question.shop.limits.use_drops {
                craft::mark_drops_that_stay(&mut question);
            }
            Ok(Input { question, remarks, shown, rack_folder })
        }
        _ => Err(remarks),
    }
}

/// Says what the rack has where it has no slab of the job's material and thickness, which stand at those places (bytes).
fn check_stock(desk: &Desk<'_>, job: &Job, (material_at, thickness_at): (usize, usize), slabs: &[Slab], shown: Shown) {
    /// A longer list is no help.
    const MOST: usize = 12;
    if slabs.iter().any(|s| job.accepts(s)) {
        return;
    }
    let mut stock: Vec<(&str, f64)> = slabs.iter().map(|s| (s.material.as_str(), s.thickness)).collect();
    stock.sort_by(|a, b| a.0.cmp(b.0).then(a.1.total_cmp(&b.1)));
    stock.dedup();
    let mut words: Vec<String> =
        stock.iter().take(MOST).map(|(m, t)| format!("\"{m}\" of {}", shown.said_to(*t, 2))).collect();
    if stock.len() > MOST {
        words.push(format!("{} more", stock.len() - MOST));
    }
    let materials: Vec<&str> = stock.iter().map(|s| s.0).collect();
    let (key, at, fix) = if slabs.iter().any(|s| job.material_matches(s)) {
        ("thickness", thickness_at, "give a thickness that the rack has, or rack such a slab".to_owned())
    } else {
        let near = nearest(&job.material, &materials);
        let fix = format!("the nearest name on the rack is {}; names must agree letter by letter", listed(&[near]));
        ("material", material_at, fix)
    };
    let given = format!("\"{}\" of {}", job.material, shown.said_to(job.thickness, 2));
    let expected = format!("what the rack has: {}", words.join(", "));
    desk.put(Severity::Error, Kind::NoMatchingSlab, at, key, given, expected, fix);
}
