//! Cutting drawings as a library of another language sees them.

use std::fs;
use std::io::Write as _;
use std::path::PathBuf;
use std::process::Command;

use scantling::cad::layers;
use scantling::io::dxf::write::write;
use scantling::units::Shown;
use serde_json::Value;

use super::exact::area_of;
use super::{CAFE, Demo, INN, odd_texts};

/// What the other library says about files, as JSON.
const OUTSIDE: &str = r#"
import json, logging, math, sys
import ezdxf
from ezdxf.lldxf.encoding import decode_dxf_unicode
from ezdxf.math import Vec2, area, bulge_to_arc

heard = []
# Layers that every document of the library has.
own = ("0", "Defpoints")

class Ear(logging.Handler):
    def emit(self, record):
        heard.append(record.getMessage())

logging.getLogger("ezdxf").addHandler(Ear(logging.WARNING))

def signed(points):
    return sum(a.det(b) for a, b in zip(points, points[1:] + points[:1])) / 2

def measure(e):
    kind = e.dxftype()
    if kind == "CIRCLE":
        return math.pi * e.dxf.radius ** 2
    if kind == "ELLIPSE":
        return math.pi * e.dxf.major_axis.magnitude ** 2 * e.dxf.ratio
    if kind == "LWPOLYLINE" and e.closed:
        points = list(e.get_points("xyb"))
        corners = [Vec2(x, y) for x, y, _ in points]
        total = signed(corners)
        assert math.isclose(abs(total), area(corners))
        for i, (_, _, bulge) in enumerate(points):
            if bulge:
                _, start, end, radius = bulge_to_arc(corners[i], corners[(i + 1) % len(corners)], bulge)
                sweep = (end - start) % math.tau
                total += math.copysign(radius ** 2 / 2 * (sweep - math.sin(sweep)), bulge)
        return total
    return None

told = []
for name in sys.argv[1:]:
    del heard[:]
    doc = ezdxf.readfile(name)
    audit = doc.audit()
    told.append({
        "version": doc.acad_release,
        "units": doc.units,
        "metric": doc.header["$MEASUREMENT"],
        "faults": [e.message for e in audit.errors + audit.fixes] + heard,
        "layers": [[l.dxf.name, l.dxf.color, l.dxf.linetype, l.dxf.lineweight] for l in doc.layers if l.dxf.name not in own],
        "entities": [[e.dxf.layer, e.dxftype(), measure(e)] for e in doc.modelspace()],
        "texts": [decode_dxf_unicode(e.plain_text()) for e in doc.modelspace().query("TEXT")],
    })
print(json.dumps(told))
"#;

/// A Python that has the library; `None` where there is none and none is asked for.
fn python() -> Option<PathBuf> {
    let named = std::env::var_os("SCANTLING_PYTHON").map(PathBuf::from);
    let python = named.unwrap_or_else(|| PathBuf::from("python3"));
    let found = Command::new(&python).args(["-c", "import ezdxf"]).output();
    if found.as_ref().is_ok_and(|out| out.status.success()) {
        return Some(python);
    }
    let why = found.map_or_else(|e| e.to_string(), |out| String::from_utf8_lossy(&out.stderr).trim().to_owned());
    let said = format!("{} has no ezdxf ({why})", python.display());
    assert!(std::env::var_os("SCANTLING_MUST").is_none(), "{said}, and SCANTLING_MUST asks for it");
    // Straight to the screen: what tests print is kept back where they pass.
    let _ = writeln!(std::io::stderr(), "SKIPPED: DXF files were not opened by another library: {said}");
    None
}

/// Every file of planned demos, in both units, opens in the other library: no error, nothing to mend, the same layers, pieces,
/// openings and areas.
#[test]
fn another_library_finds_the_same() {
    let Some(python) = python() else { return };
    let folder = tempfile::tempdir().unwrap();
    let mut files: Vec<(PathBuf, &Demo, usize, Shown)> = Vec::new();
    for (name, demo) in [("cafe", &*CAFE), ("inn", &*INN)] {
        for (unit, shown) in [("mm", Shown::Mm), ("in", Shown::In)] {
            for (i, bytes) in demo.files(shown).into_iter().enumerate() {
                let path = folder.path().join(format!("{name}-{i}-{unit}.dxf"));
                fs::write(&path, bytes).unwrap();
                files.push((path, demo, i, shown));
            }
        }
    }
    let (odd, texts) = odd_texts();
    let odd_path = folder.path().join("odd.dxf");
    fs::write(&odd_path, write(&odd, &layers::ALL, Shown::Mm)).unwrap();
    let out = Command::new(python)
        .args(["-c", OUTSIDE])
        .args(files.iter().map(|f| &f.0))
        .arg(&odd_path)
        .output()
        .expect("Python starts");
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let told: Vec<Value> = serde_json::from_slice(&out.stdout).expect("JSON");
    assert_eq!(told.len(), files.len() + 1);
    let (last, told) = told.split_last().unwrap();
    assert_eq!(last["texts"], serde_json::json!(texts));
    let mut compared = 0;
    for ((path, demo, i, shown), told) in files.iter().zip(told) {
        let at = path.file_name().unwrap().to_string_lossy();
        assert_eq!(told["faults"], serde_json::json!([]), "{at}");
        assert_eq!(told["version"], "R2000", "{at}");
        let (units, metric, scale) = match shown {
            Shown::Mm => (4, 1, 1.0),
            Shown::In => (1, 0, 25.4),
        };
        assert_eq!((told["units"].as_i64(), told["metric"].as_i64()), (Some(units), Some(metric)), "{at}");
        let looks = layers::ALL.map(|l| (l.name, u64::from(l.colour), l.line.name(), u64::from(l.weight)));
        let seen: Vec<_> = told["layers"].as_array().unwrap().iter().collect();
        assert_eq!(serde_json::json!(seen), serde_json::json!(looks), "{at}");
        let found = |wanted: &[&str]| -> Vec<f64> {
            let all = told["entities"].as_array().unwrap().iter();
            let here = all.filter(|e| wanted.contains(&e[0].as_str().unwrap()));
            here.map(|e| e[2].as_f64().expect("an area") * scale * scale).collect()
        };
        let placed = demo.placed(*i);
        let pieces: Vec<f64> = placed.iter().map(|(_, p)| area_of(&p.outline.shape)).collect();
        let holes: Vec<f64> = placed.iter().flat_map(|(_, p)| &p.openings).map(|o| area_of(&o.shape)).collect();
        let slab = demo.question.rack.iter().find(|s| s.name == demo.plan.layouts[*i].slab).unwrap();
        for (wanted, expected) in [
            (&["piece"][..], pieces),
            (&["opening", "opening-score", "opening-stop"], holes),
            (&["slab"], vec![slab.outline.area()]),
        ] {
            let found = found(wanted);
            assert_eq!(found.len(), expected.len(), "{at}: {wanted:?}");
            for (found, expected) in found.iter().zip(&expected) {
                assert!((found - expected).abs() < 1.0, "{at}: {wanted:?}: {found} mm2, not {expected}");
                compared += 1;
            }
        }
    }
    assert!(compared > 20, "{compared} areas were compared");
}
