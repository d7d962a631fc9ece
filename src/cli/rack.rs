//! `scantling rack`: lists the rack and draws it.

use std::path::PathBuf;

use clap::Args;

use super::args::{Format, PaperSize, Showing};
use super::{Exit, answer, json, paper, say};
use crate::diag::{Remarks, Severity};
use crate::io;
use crate::model::Slab;
use crate::report::{self, pdf, rack, svg};
use crate::stock;
use crate::units::{Shown, Unit, parse_length};

/// Which rack.
#[derive(Debug, Args)]
#[group(required = true, multiple = true)]
pub struct RackChoice {
    /// Job files, all of which name the rack
    #[arg(value_name = "JOB")]
    pub jobs: Vec<PathBuf>,
    /// The rack, in place of the one that the job names
    #[arg(long, value_name = "FILE")]
    pub rack: Option<PathBuf>,
}

impl RackChoice {
    /// The path of the rack file.
    pub(super) fn path(&self) -> Result<PathBuf, Remarks> {
        io::rack_path(&io::Paths { jobs: self.jobs.clone(), rack: self.rack.clone(), shop: None })
    }
}

/// `scantling rack`.
#[derive(Debug, Args)]
pub struct RackArgs {
    /// Which rack
    #[command(flatten)]
    pub choice: RackChoice,
    /// Only slabs whose material has this in its name, capitals aside
    #[arg(long, value_name = "TEXT")]
    pub material: Option<String>,
    /// Only slabs of this thickness, to half a millimetre: "3 cm", "1 1/4 in", or a number in the units of the rack file
    #[arg(long, value_name = "LENGTH", value_parser = length)]
    pub thickness: Option<Typed>,
    /// Only slabs that hold a rectangle of this size within their outline: "48 in x 25 1/2 in", or 1200x600 in the units of the rack file
    #[arg(long, value_name = "LENGTHxDEPTH", value_parser = least)]
    pub least: Option<[Typed; 2]>,
    /// Only offcuts
    #[arg(long)]
    pub offcuts: bool,
    /// Folder for a contact sheet: rack.pdf, and rack-01.svg and so on, one a page
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Paper for the contact sheet [default: a4, or letter with inches]
    #[arg(long, value_enum)]
    pub paper: Option<PaperSize>,
    /// How results are shown
    #[command(flatten)]
    pub showing: Showing,
}

/// A length as it was typed.
#[derive(Clone, Copy, Debug)]
pub enum Typed {
    /// With its unit, mm.
    Mm(f64),
    /// A bare number, in the units of the rack file.
    Bare(f64),
}

impl Typed {
    /// In mm, where bare numbers are in a unit.
    fn mm(self, unit: Unit) -> f64 {
        match self {
            Self::Mm(mm) => mm,
            Self::Bare(number) => number * unit.mm(),
        }
    }
}

fn length(text: &str) -> Result<Typed, String> {
    let bare: Result<f64, _> = text.trim().parse();
    let (typed, mm) = match bare {
        Ok(number) => (Typed::Bare(number), number),
        Err(_) => {
            let mm = parse_length(text).map_err(|e| format!("\"{text}\": {e}"))?;
            (Typed::Mm(mm), mm)
        }
    };
    if mm > 0.0 && mm <= 1e6 { Ok(typed) } else { Err(format!("\"{text}\": expected more than 0 and at most 1 km")) }
}

fn least(text: &str) -> Result<[Typed; 2], String> {
    let fail = || format!("\"{text}\": expected a length, an x and a depth, such as 1200x600");
    let (a, b) = text.split_once(['x', 'X', '×']).ok_or_else(fail)?;
    // One unit behind the second number holds for both.
    let unit = Unit::NAMES.iter().find(|(name, _)| b.trim().ends_with(name)).map(|u| u.0);
    let first = match unit {
        Some(unit) if a.trim().ends_with(|c: char| c.is_ascii_digit()) => format!("{a} {unit}"),
        _ => a.to_owned(),
    };
    Ok([length(&first)?, length(b)?])
}

impl RackArgs {
    /// Whether a slab of a rack with this unit is asked for.
    fn wants(&self, slab: &Slab, unit: Unit) -> bool {
        /// As jobs and slabs are matched.
        const SAME_THICKNESS: f64 = 0.5;
        let material = |m: &String| slab.material.to_lowercase().contains(&m.to_lowercase());
        self.material.as_ref().is_none_or(material)
            && self.thickness.is_none_or(|t| (slab.thickness - t.mm(unit)).abs() <= SAME_THICKNESS)
            && (!self.offcuts || slab.from.is_some())
            && self.least.is_none_or(|[length, depth]| stock::holds_rectangle(slab, length.mm(unit), depth.mm(unit)))
    }
}

/// Lists the rack, and draws it if a folder is named.
pub(super) fn list(args: &RackArgs) -> Result<Exit, Remarks> {
    let path = args.choice.path()?;
    let text = io::read_text(&path)?;
    let file = path.display().to_string();
    let (slabs, remarks) = io::read_rack_from_text(&file, &text)?;
    let told: Vec<_> = remarks.0.into_iter().filter(|r| !args.showing.quiet || r.severity != Severity::Note).collect();
    if !told.is_empty() {
        say(&Remarks(told).to_string());
    }
    let unit = io::RackText::read(&file, &text).map_or(Unit::Mm, |r| r.unit());
    let shown = match args.showing.units {
        Some(units) => units.into(),
        None if unit == Unit::In => Shown::In,
        None => Shown::Mm,
    };
    let wanted: Vec<&Slab> = slabs.iter().filter(|s| args.wants(s, unit)).collect();
    let mut end = String::new();
    if let Some(out) = &args.out {
        let settings = report::Settings { shown, paper: paper(args.paper, shown) };
        let scenes = rack::contact_sheet(&wanted, &settings);
        let mut written = Vec::new();
        for (i, scene) in scenes.iter().enumerate() {
            let name = format!("rack-{:02}.svg", i + 1);
            io::write_atomically(&out.join(&name), svg::print(scene).as_bytes())?;
            written.push(name);
        }
        io::write_atomically(&out.join("rack.pdf"), &pdf::print(&scenes))?;
        let lacking = pdf::lacking(&scenes);
        if !lacking.is_empty() && !args.showing.quiet {
            let lacking: String = lacking.into_iter().collect();
            say(&format!(
                "note: rack.pdf: the faces of PDF lack the characters {lacking}, which are printed as ?; the SVG has them"
            ));
        }
        // Pages of an earlier run must not be taken for this one's.
        io::remove_files(out, |name| is_page(name) && !written.iter().any(|w| w == name))?;
        end = format!("\nWritten to {}\n", out.display());
    }
    match args.showing.format {
        Format::Json => answer(&json(&rack::entries(&wanted))),
        Format::Text => answer(&(rack::listing(&wanted, slabs.len(), shown) + &end)),
    }
    Ok(Exit::Good)
}

/// True for the names that we give to pages of the contact sheet: `rack-07.svg`.
fn is_page(name: &str) -> bool {
    let number = name.strip_prefix("rack-").and_then(|n| n.strip_suffix(".svg"));
    number.is_some_and(|n| n.len() >= 2 && n.bytes().all(|b| b.is_ascii_digit()))
}
