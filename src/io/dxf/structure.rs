//! What every DXF file of ours has besides its entities: header, tables, blocks, objects, as the version AC1015 asks for.
//!
//! In: layers, the extent of the drawing, the unit. Out: groups. Must not know: entities.

use super::write::{Groups, Handle, Handles};
use crate::cad::layers::{Line, Look};
use crate::geom::{BBox, pt};
use crate::units::Shown;

/// Handles of what every file has. The two after that of a space are of the beginning and the end of its block.
const VPORT: Handle = Handle(0x1);
const LTYPE: Handle = Handle(0x2);
const LAYER: Handle = Handle(0x3);
const STYLE: Handle = Handle(0x4);
const VIEW: Handle = Handle(0x5);
const UCS: Handle = Handle(0x6);
const APPID: Handle = Handle(0x7);
const DIMSTYLE: Handle = Handle(0x8);
const BLOCK_RECORD: Handle = Handle(0x9);
const ROOT: Handle = Handle(0xA);
const GROUPS: Handle = Handle(0xB);
const LAYOUTS: Handle = Handle(0xC);
const PLOT_STYLES: Handle = Handle(0xD);
const PLOT_STYLE: Handle = Handle(0xE);
/// The block that all entities belong to.
pub(super) const MODEL: Handle = Handle(0x10);
const MODEL_LAYOUT: Handle = Handle(0x13);
const PAPER: Handle = Handle(0x14);
const PAPER_LAYOUT: Handle = Handle(0x17);
/// The first handle for everything else.
pub(super) const FREE: u64 = 0x20;

const MODEL_NAME: &str = "*Model_Space";
const PAPER_NAME: &str = "*Paper_Space";

/// Name of the style of all texts.
pub(super) const STYLE_NAME: &str = "Standard";

/// Version, unit, extent, and the first handle that is not taken.
pub(super) fn header(out: &mut Groups, shown: Shown, extent: BBox, seed: Handle) {
    // $INSUNITS: 1 inches, 4 millimetres. $MEASUREMENT: 0 English, 1 metric.
    let (unit, metric) = match shown {
        Shown::Mm => ("4", "1"),
        Shown::In => ("1", "0"),
    };
    out.section("HEADER", |out| {
        out.all(&[(9, "$ACADVER"), (1, "AC1015"), (9, "$DWGCODEPAGE"), (3, "ANSI_1252"), (9, "$INSBASE")]);
        out.point(10, pt(0.0, 0.0));
        for (name, p) in [("$EXTMIN", extent.min), ("$EXTMAX", extent.max)] {
            out.put(9, name);
            out.point(10, p);
        }
        for (name, p) in [("$LIMMIN", extent.min), ("$LIMMAX", extent.max)] {
            out.put(9, name);
            out.flat(10, p);
        }
        out.all(&[(9, "$LTSCALE"), (40, "1.0"), (9, "$TEXTSTYLE"), (7, STYLE_NAME), (9, "$CLAYER"), (8, "0")]);
        out.all(&[(9, "$CELTYPE"), (6, "ByLayer"), (9, "$CECOLOR"), (62, "256"), (9, "$CELTSCALE"), (40, "1.0")]);
        out.all(&[(9, "$LUNITS"), (70, "2"), (9, "$LUPREC"), (70, "4"), (9, "$AUNITS"), (70, "0")]);
        out.put(9, "$HANDSEED");
        out.put(5, seed);
        out.all(&[(9, "$TILEMODE"), (70, "1"), (9, "$MEASUREMENT"), (70, metric), (9, "$CELWEIGHT"), (370, "-1")]);
        out.all(&[(9, "$LWDISPLAY"), (290, "1"), (9, "$INSUNITS"), (70, unit), (9, "$PSTYLEMODE"), (290, "1")]);
    });
}

/// The classes of objects that are not built into the version.
pub(super) fn classes(out: &mut Groups) {
    out.section("CLASSES", |out| {
        for (name, class) in [
            ("ACDBDICTIONARYWDFLT", "AcDbDictionaryWithDefault"),
            ("ACDBPLACEHOLDER", "AcDbPlaceHolder"),
            ("LAYOUT", "AcDbLayout"),
        ] {
            out.all(&[
                (0, "CLASS"),
                (1, name),
                (2, class),
                (3, "ObjectDBX Classes"),
                (90, "0"),
                (280, "0"),
                (281, "0"),
            ]);
        }
    });
}

fn table(out: &mut Groups, name: &str, handle: Handle, entries: usize, fill: impl FnOnce(&mut Groups)) {
    out.all(&[(0, "TABLE"), (2, name)]);
    out.put(5, handle);
    out.put(330, 0);
    out.put(100, "AcDbSymbolTable");
    out.put(70, entries);
    if name == "DIMSTYLE" {
        out.put(100, "AcDbDimStyleTable");
    }
    fill(out);
    out.put(0, "ENDTAB");
}

fn record(out: &mut Groups, kind: &str, handle: Handle, owner: Handle, class: &str) {
    out.put(0, kind);
    out.put(if kind == "DIMSTYLE" { 105 } else { 5 }, handle);
    out.put(330, owner);
    out.all(&[(100, "AcDbSymbolTableRecord"), (100, class)]);
}

/// All tables. Lengths of line patterns are millimetres over `per_unit`.
pub(super) fn tables(out: &mut Groups, handles: &mut Handles, layers: &[(String, Look)], extent: BBox, per_unit: f64) {
    out.section("TABLES", |out| {
        table(out, "VPORT", VPORT, 1, |out| view(out, handles.next(), extent));
        table(out, "LTYPE", LTYPE, 3 + Line::BROKEN.len(), |out| {
            for name in ["ByBlock", "ByLayer", Line::Solid.name()] {
                line_type(out, handles.next(), name, &[]);
            }
            for line in Line::BROKEN {
                let pattern: Vec<f64> = line.pattern().iter().map(|l| l / per_unit).collect();
                line_type(out, handles.next(), line.name(), &pattern);
            }
        });
        table(out, "LAYER", LAYER, 1 + layers.len(), |out| {
            layer(out, handles.next(), "0", 7, Line::Solid, -3);
            for (name, look) in layers {
                layer(out, handles.next(), name, look.colour, look.line, i16::from(look.weight));
            }
        });
        table(out, "STYLE", STYLE, 1, |out| {
            record(out, "STYLE", handles.next(), STYLE, "AcDbTextStyleTableRecord");
            out.all(&[(2, STYLE_NAME), (70, "0"), (40, "0.0"), (41, "1.0"), (50, "0.0"), (71, "0")]);
            out.real(42, 10.0 / per_unit);
            out.all(&[(3, "txt"), (4, "")]);
        });
        table(out, "VIEW", VIEW, 0, |_| {});
        table(out, "UCS", UCS, 0, |_| {});
        table(out, "APPID", APPID, 1, |out| {
            record(out, "APPID", handles.next(), APPID, "AcDbRegAppTableRecord");
            out.all(&[(2, "ACAD"), (70, "0")]);
        });
        table(out, "DIMSTYLE", DIMSTYLE, 1, |out| {
            record(out, "DIMSTYLE", handles.next(), DIMSTYLE, "AcDbDimStyleTableRecord");
            out.all(&[(2, "Standard"), (70, "0")]);
        });
        table(out, "BLOCK_RECORD", BLOCK_RECORD, 2, |out| {
            for (block, name, layout) in [(MODEL, MODEL_NAME, MODEL_LAYOUT), (PAPER, PAPER_NAME, PAPER_LAYOUT)] {
                record(out, "BLOCK_RECORD", block, BLOCK_RECORD, "AcDbBlockTableRecord");
                out.put(2, name);
                out.put(340, layout);
            }
        });
    });
}

/// What is seen when the file is opened: all of it.
fn view(out: &mut Groups, handle: Handle, extent: BBox) {
    /// Width over height of a window.
    const ASPECT: f64 = 1.6;
    record(out, "VPORT", handle, VPORT, "AcDbViewportTableRecord");
    out.all(&[(2, "*Active"), (70, "0")]);
    for (code, p) in [
        (10, pt(0.0, 0.0)),
        (11, pt(1.0, 1.0)),
        (12, extent.centre()),
        (13, pt(0.0, 0.0)),
        (14, pt(1.0, 1.0)),
        (15, pt(1.0, 1.0)),
    ] {
        out.flat(code, p);
    }
    out.point(16, pt(0.0, 0.0));
    // Seen from above.
    out.real(36, 1.0);
    out.point(17, pt(0.0, 0.0));
    out.real(40, 1.1 * extent.height().max(extent.width() / ASPECT).max(1.0));
    out.real(41, ASPECT);
    out.all(&[(42, "50.0"), (43, "0.0"), (44, "0.0"), (50, "0.0"), (51, "0.0"), (71, "0"), (72, "1000"), (73, "1")]);
    out.all(&[(74, "3"), (75, "0"), (76, "0"), (77, "0"), (78, "0")]);
}

/// A kind of line: lengths drawn and left out in turn.
fn line_type(out: &mut Groups, handle: Handle, name: &str, pattern: &[f64]) {
    record(out, "LTYPE", handle, LTYPE, "AcDbLinetypeTableRecord");
    out.all(&[(2, name), (70, "0"), (3, ""), (72, "65")]);
    out.put(73, pattern.len());
    out.real(40, pattern.iter().sum());
    for (i, length) in pattern.iter().enumerate() {
        out.real(49, if i % 2 == 0 { *length } else { -length });
        out.put(74, 0);
    }
}

fn layer(out: &mut Groups, handle: Handle, name: &str, colour: u8, line: Line, weight: i16) {
    record(out, "LAYER", handle, LAYER, "AcDbLayerTableRecord");
    out.put(2, name);
    out.put(70, 0);
    out.put(62, colour);
    out.put(6, line.name());
    out.put(370, weight);
    out.put(390, PLOT_STYLE);
}

/// The blocks of model space and paper space, both without content of their own.
pub(super) fn blocks(out: &mut Groups) {
    fn start(out: &mut Groups, kind: &str, handle: Handle, owner: Handle, class: &str) {
        out.put(0, kind);
        out.put(5, handle);
        out.put(330, owner);
        out.all(&[(100, "AcDbEntity"), (8, "0"), (100, class)]);
    }
    out.section("BLOCKS", |out| {
        for (owner, name) in [(MODEL, MODEL_NAME), (PAPER, PAPER_NAME)] {
            start(out, "BLOCK", Handle(owner.0 + 1), owner, "AcDbBlockBegin");
            out.all(&[(2, name), (70, "0")]);
            out.point(10, pt(0.0, 0.0));
            out.all(&[(3, name), (1, "")]);
            start(out, "ENDBLK", Handle(owner.0 + 2), owner, "AcDbBlockEnd");
        }
    });
}

/// The dictionaries that every file has, with the layouts of model space and paper space.
pub(super) fn objects(out: &mut Groups) {
    let dictionary = |out: &mut Groups, kind: &str, handle: Handle, owner: Handle, entries: &[(&str, Handle)]| {
        out.put(0, kind);
        out.put(5, handle);
        out.put(330, owner);
        out.all(&[(100, "AcDbDictionary"), (281, "1")]);
        for (name, entry) in entries {
            out.put(3, name);
            out.put(350, entry);
        }
    };
    out.section("OBJECTS", |out| {
        let all = [("ACAD_GROUP", GROUPS), ("ACAD_LAYOUT", LAYOUTS), ("ACAD_PLOTSTYLENAME", PLOT_STYLES)];
        dictionary(out, "DICTIONARY", ROOT, Handle(0), &all);
        dictionary(out, "DICTIONARY", GROUPS, ROOT, &[]);
        let layouts = [("Model", MODEL_LAYOUT), ("Layout1", PAPER_LAYOUT)];
        dictionary(out, "DICTIONARY", LAYOUTS, ROOT, &layouts);
        dictionary(out, "ACDBDICTIONARYWDFLT", PLOT_STYLES, ROOT, &[("Normal", PLOT_STYLE)]);
        out.put(100, "AcDbDictionaryWithDefault");
        out.put(340, PLOT_STYLE);
        out.put(0, "ACDBPLACEHOLDER");
        out.put(5, PLOT_STYLE);
        out.put(330, PLOT_STYLES);
        layout(out, MODEL_LAYOUT, "Model", MODEL, 0);
        layout(out, PAPER_LAYOUT, "Layout1", PAPER, 1);
    });
}

/// A layout with the default settings of a plot on A3.
fn layout(out: &mut Groups, handle: Handle, name: &str, block: Handle, order: u8) {
    out.put(0, "LAYOUT");
    out.put(5, handle);
    out.put(330, LAYOUTS);
    out.all(&[(100, "AcDbPlotSettings"), (1, ""), (2, ""), (4, "A3"), (6, "")]);
    out.all(&[(40, "7.5"), (41, "20.0"), (42, "7.5"), (43, "20.0"), (44, "420.0"), (45, "297.0"), (46, "0.0")]);
    out.all(&[(47, "0.0"), (48, "0.0"), (49, "0.0"), (140, "0.0"), (141, "0.0"), (142, "1.0"), (143, "1.0")]);
    // 1024: the settings of model space.
    out.put(70, if order == 0 { 1024 } else { 0 });
    out.all(&[(72, "1"), (73, "0"), (74, "5"), (7, ""), (75, "16"), (147, "1.0"), (148, "0.0"), (149, "0.0")]);
    out.put(100, "AcDbLayout");
    out.put(1, name);
    out.put(70, 1);
    out.put(71, order);
    out.flat(10, pt(0.0, 0.0));
    out.flat(11, pt(420.0, 297.0));
    out.point(12, pt(0.0, 0.0));
    out.point(14, pt(0.0, 0.0));
    out.point(15, pt(420.0, 297.0));
    out.real(146, 0.0);
    out.point(13, pt(0.0, 0.0));
    out.point(16, pt(1.0, 0.0));
    out.point(17, pt(0.0, 1.0));
    out.put(76, 0);
    out.put(330, block);
}
