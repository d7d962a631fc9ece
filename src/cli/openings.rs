//! `scantling openings`: sheets and templates of all openings, written and told.

use std::path::{Path, PathBuf};

use super::args::{Format, OpeningsArgs, TilePaper};
use super::{Exit, answer, default_folder, earlier, file_word, json, load_cut, paper, say_all};
use crate::craft;
use crate::diag::Remarks;
use crate::io;
use crate::model::openings::{Held, Openings, Verdict};
use crate::model::{Plan, Question};
use crate::report::scene::Scene;
use crate::report::template::Template;
use crate::report::{self, Paper, opening, pdf, svg};
use crate::units::Shown;

/// What is written beside the drawings.
const TEXT_FILE: &str = "openings.txt";
const DATA_FILE: &str = "openings.json";

/// Works all openings out, writes their sheets and prints them.
pub(super) fn run(args: &OpeningsArgs) -> Result<Exit, Remarks> {
    let (question, shown, _) = load_cut(&args.inputs, &args.showing, args.plan.as_deref())?;
    let plan = args.plan.as_deref().map(|path| earlier::read_placed(path, &question)).transpose()?;
    let openings = craft::sheets(&question, plan.as_ref());
    let names: Vec<String> = question.jobs.iter().map(|j| j.name.clone()).collect();
    let out = args.out.clone().unwrap_or_else(|| default_folder("openings", &args.inputs.jobs, &names));
    let text = if openings.openings.is_empty() {
        "No piece of these jobs has an opening.\n".to_owned()
    } else {
        opening::text_of(&question, &openings, shown)
    };
    let how = How { shown, paper: paper(args.paper, shown), tiles: args.tiles };
    let remarks = write(&out, &question, plan.as_ref(), &openings, &text, &how)?;
    say_all(&remarks, args.showing.quiet);
    match args.showing.format {
        Format::Json => answer(&json(&openings)),
        Format::Text => answer(&format!("{text}\nWritten to {}\n", out.display())),
    }
    let stop = openings.openings.iter().any(|o| o.verdict == Verdict::Stop);
    Ok(if stop { Exit::Faulty } else { Exit::Good })
}

struct How {
    shown: Shown,
    paper: Paper,
    tiles: Option<TilePaper>,
}

/// Writes everything, and says what could not be shown as it is.
fn write(
    out: &Path,
    question: &Question,
    plan: Option<&Plan>,
    openings: &Openings,
    text: &str,
    how: &How,
) -> Result<Vec<String>, Remarks> {
    let mut written: Vec<String> = Vec::new();
    let mut remarks = Vec::new();
    let mut put = |name: String, bytes: &[u8]| -> Result<PathBuf, Remarks> {
        let path = out.join(&name);
        io::write_atomically(&path, bytes)?;
        written.push(name);
        Ok(path)
    };
    let settings = report::Settings { shown: how.shown, paper: how.paper };
    for (i, group) in opening::alike(question, openings).iter().enumerate() {
        let sheet = &openings.openings[group.first];
        let Some((piece, hole)) = opening::find(question, sheet) else { continue };
        let called = group.name();
        let stem = format!("opening-{:02}-{}-{}", i + 1, short_word(&called), short_word(&sheet.opening));
        for (page, scene) in opening::scenes(question, plan, sheet, &called, &settings).iter().enumerate() {
            let more = if page == 0 { String::new() } else { format!("-page-{}", page + 1) };
            put(format!("{stem}{more}.svg"), svg::print(scene).as_bytes())?;
        }
        let held = Held::of(sheet);
        let held = held.as_ref();
        let template = Template { job: &sheet.job, called: &called, piece, opening: hole, settings, held };
        let whole = [template.sheet()];
        put(format!("{stem}-template.svg"), svg::print(&whole[0]).as_bytes())?;
        let mut print = |name: String, scenes: &[Scene]| -> Result<(), Remarks> {
            let path = put(name, &pdf::print(scenes))?;
            let lacking = pdf::lacking(scenes);
            if !lacking.is_empty() {
                let lacking: String = lacking.into_iter().collect();
                remarks.push(format!(
                    "note: {}: the faces of PDF lack the characters {lacking}, which are printed as ?; the SVG has them",
                    path.display()
                ));
            }
            Ok(())
        };
        print(format!("{stem}-template.pdf"), &whole)?;
        if let Some(tiles) = how.tiles {
            let (paper, word) = tiles.paper();
            let template = Template { settings: report::Settings { paper, ..settings }, ..template };
            match template.tiles() {
                Some(pages) => print(format!("{stem}-template-{word}.pdf"), &pages)?,
                None => remarks.push(format!(
                    "warning: {called}, {}: too large to be tiled over {}; use the template on one sheet",
                    sheet.opening,
                    paper.name()
                )),
            }
        }
    }
    io::write_atomically(&out.join(TEXT_FILE), text.as_bytes())?;
    io::write_atomically(&out.join(DATA_FILE), json(openings).as_bytes())?;
    // Sheets of an earlier run in the same folder must not be taken for this one's. They go last, so that nothing is lost
    // where the new ones cannot be written.
    io::remove_files(out, |name| is_sheet(name) && !written.iter().any(|w| w == name))?;
    Ok(remarks)
}

/// A word for file names, short enough that two of them with all that stands round them make a name on any disk.
fn short_word(name: &str) -> String {
    let word: String = file_word(name).chars().take(30).collect();
    word.trim_end_matches('-').to_owned()
}

/// True for the names that we give to sheets: `opening-07-name.svg` and so on. Other files of the folder are the user's.
fn is_sheet(name: &str) -> bool {
    let stem = name.strip_suffix(".svg").or_else(|| name.strip_suffix(".pdf"));
    let middle = stem.and_then(|s| s.strip_prefix("opening-"));
    middle.and_then(|m| m.split_once('-')).is_some_and(|(number, word)| {
        number.len() >= 2 && number.bytes().all(|b| b.is_ascii_digit()) && !word.is_empty() && is_words(word)
    })
}

/// True if every part between hyphens is one that [`file_word`] makes.
fn is_words(word: &str) -> bool {
    word.split('-').all(|part| !part.is_empty() && file_word(part) == part)
}
