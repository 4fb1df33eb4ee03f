//! A DXF file of version R2000 (AC1015) in text form: sections, tables, handles and groups.
//!
//! Group codes and the order of sections, tables and subclass marks are those of the published DXF reference. Every
//! record has a handle and names its owner, so that a strict reader has nothing to mend. Written is only what a reader
//! must find; no clock and no chance goes in, so the same entities give the same bytes.

use std::fmt::Write;

use record::LengthDisplay;

use crate::Refused;
use crate::read_dxf::DxfShapes;

/// The unit of a file as its header says it.
#[derive(Clone, Copy)]
pub(crate) struct DxfUnit {
    /// `$INSUNITS`: 1 inch, 4 millimetre.
    insunits: u8,
    /// `$MEASUREMENT`: 0 inch, 1 metric.
    measurement: u8,
    /// Of the file per mm.
    pub factor: f64,
}

impl DxfUnit {
    pub(crate) fn of(unit: LengthDisplay) -> Self {
        let (insunits, measurement, factor) = match unit {
            LengthDisplay::Millimetre => (4, 1, 1.0),
            LengthDisplay::Inch => (1, 0, 1.0 / 25.4),
        };
        Self {
            insunits,
            measurement,
            factor,
        }
    }

    /// Refuses a file whose header says otherwise.
    pub(crate) fn read_back(self, read: &DxfShapes) -> Result<(), Refused> {
        if (read.insunits, read.measurement)
            == (Some(self.insunits.into()), Some(self.measurement.into()))
        {
            Ok(())
        } else {
            Err(Refused::because("the unit did not read back"))
        }
    }
}

/// What the file says of itself.
pub(crate) struct DxfHead<'a> {
    pub unit: DxfUnit,
    /// Layers besides 0: name and colour index.
    pub layers: &'a [(&'a str, u8)],
    /// Lower left and upper right corner of all entities, unit of the file.
    pub extent: [[f64; 2]; 2],
}

/// Entities of the model space, in the order written.
#[derive(Default)]
pub(crate) struct DxfEntities {
    groups: Groups,
    next: u32,
}

/// Handle of the block record of the model space: the owner of all entities.
const MODEL: u32 = 0x1F;
/// Handle of the block record of the paper space.
const PAPER: u32 = 0x1B;
/// First handle of the entities; all below belong to the tables.
const FIRST: u32 = 0x100;

impl DxfEntities {
    /// Begins an entity on a layer; `marks` is its subclass.
    fn begin(&mut self, kind: &str, layer: &str, mark: &str) -> &mut Groups {
        let handle = FIRST + self.next;
        self.next += 1;
        let g = &mut self.groups;
        g.record(kind, handle, MODEL);
        g.text(100, "AcDbEntity");
        g.text(8, &escaped(layer));
        g.text(100, mark);
        g
    }

    /// A straight line.
    pub(crate) fn line(&mut self, layer: &str, [a, b]: [[f64; 2]; 2]) {
        let g = self.begin("LINE", layer, "AcDbLine");
        g.point(10, a);
        g.point(11, b);
    }

    /// A circle.
    pub(crate) fn circle(&mut self, layer: &str, centre: [f64; 2], radius: f64) {
        let g = self.begin("CIRCLE", layer, "AcDbCircle");
        g.point(10, centre);
        g.real(40, radius);
    }

    /// A chain of lines and arcs: corners with the bulge of what follows each.
    pub(crate) fn polyline(&mut self, layer: &str, corners: &[([f64; 2], f64)], closed: bool) {
        let g = self.begin("LWPOLYLINE", layer, "AcDbPolyline");
        g.int(90, corners.len());
        g.int(70, usize::from(closed));
        g.real(43, 0.0);
        for ([x, y], bulge) in corners {
            g.real(10, *x);
            g.real(20, *y);
            if *bulge != 0.0 {
                g.real(42, *bulge);
            }
        }
    }

    /// A line of words, its lower left corner at `at`.
    pub(crate) fn words(&mut self, layer: &str, at: [f64; 2], height: f64, words: &str) {
        let g = self.begin("TEXT", layer, "AcDbText");
        g.point(10, at);
        g.real(40, height);
        g.text(1, &escaped(words));
        g.text(7, "Standard");
        g.text(100, "AcDbText");
    }

    /// The whole file.
    pub(crate) fn file(self, head: &DxfHead<'_>) -> String {
        let mut g = Groups::default();
        header(&mut g, head, FIRST + self.next);
        g.section("CLASSES", |_| ());
        g.section("TABLES", |g| tables(g, head));
        g.section("BLOCKS", |g| {
            block(g, "*Model_Space", MODEL, 0x20, false);
            block(g, "*Paper_Space", PAPER, 0x1C, true);
        });
        g.section("ENTITIES", |g| g.out.push_str(&self.groups.out));
        g.section("OBJECTS", |g| {
            g.record("DICTIONARY", 0xC, 0);
            g.text(100, "AcDbDictionary");
            g.int(281, 1);
            g.text(3, "ACAD_GROUP");
            g.handle(350, 0xD);
            g.record("DICTIONARY", 0xD, 0xC);
            g.text(100, "AcDbDictionary");
            g.int(281, 1);
        });
        g.text(0, "EOF");
        g.out
    }
}

fn header(g: &mut Groups, head: &DxfHead<'_>, seed: u32) {
    g.section("HEADER", |g| {
        let mut variable = |name: &str, write: &dyn Fn(&mut Groups)| {
            g.text(9, name);
            write(g);
        };
        variable("$ACADVER", &|g| g.text(1, "AC1015"));
        variable("$DWGCODEPAGE", &|g| g.text(3, "ANSI_1252"));
        variable("$INSBASE", &|g| g.point(10, [0.0; 2]));
        variable("$EXTMIN", &|g| g.point(10, head.extent[0]));
        variable("$EXTMAX", &|g| g.point(10, head.extent[1]));
        variable("$MEASUREMENT", &|g| {
            g.int(70, usize::from(head.unit.measurement));
        });
        variable("$INSUNITS", &|g| g.int(70, usize::from(head.unit.insunits)));
        variable("$HANDSEED", &|g| g.handle(5, seed));
    });
}

fn tables(g: &mut Groups, head: &DxfHead<'_>) {
    let [low, high] = head.extent;
    let middle = [
        f64::midpoint(low[0], high[0]),
        f64::midpoint(low[1], high[1]),
    ];
    let size = [high[0] - low[0], high[1] - low[1]].map(|v| v.max(1e-3));
    table(g, "VPORT", 0x8, 1, |g| {
        record(g, "VPORT", 0x29, 0x8, "AcDbViewportTableRecord", "*ACTIVE");
        for (code, p) in [
            (10, [0.0, 0.0]),
            (11, [1.0, 1.0]),
            (12, middle),
            (13, [0.0, 0.0]),
            (14, [10.0, 10.0]),
            (15, [10.0, 10.0]),
        ] {
            g.real(code, p[0]);
            g.real(code + 10, p[1]);
        }
        g.vector(16, [0.0, 0.0, 1.0]);
        g.vector(17, [0.0; 3]);
        g.real(40, 1.1 * size[1].max(size[0] / 1.5));
        g.real(41, 1.5);
        g.real(42, 50.0);
    });
    table(g, "LTYPE", 0x5, 3, |g| {
        for (handle, name, says) in [
            (0x14, "ByBlock", ""),
            (0x15, "ByLayer", ""),
            (0x16, "Continuous", "Solid line"),
        ] {
            record(g, "LTYPE", handle, 0x5, "AcDbLinetypeTableRecord", name);
            g.text(3, says);
            g.int(72, 65);
            g.int(73, 0);
            g.real(40, 0.0);
        }
    });
    table(g, "LAYER", 0x2, head.layers.len() + 1, |g| {
        let all = std::iter::once(&("0", 7)).chain(head.layers);
        for (handle, (name, colour)) in (0x30..).zip(all) {
            record(g, "LAYER", handle, 0x2, "AcDbLayerTableRecord", name);
            g.int(62, usize::from(*colour));
            g.text(6, "Continuous");
            g.handle(390, 0);
        }
    });
    table(g, "STYLE", 0x3, 1, |g| {
        record(
            g,
            "STYLE",
            0x11,
            0x3,
            "AcDbTextStyleTableRecord",
            "Standard",
        );
        g.real(40, 0.0);
        g.real(41, 1.0);
        g.real(50, 0.0);
        g.int(71, 0);
        g.real(42, 2.5);
        g.text(3, "txt");
        g.text(4, "");
    });
    table(g, "VIEW", 0x6, 0, |_| ());
    table(g, "UCS", 0x7, 0, |_| ());
    table(g, "APPID", 0x9, 1, |g| {
        record(g, "APPID", 0x12, 0x9, "AcDbRegAppTableRecord", "ACAD");
    });
    table(g, "DIMSTYLE", 0xA, 1, |g| {
        // The one kind of record whose handle has code 105.
        g.text(0, "DIMSTYLE");
        g.handle(105, 0x27);
        g.handle(330, 0xA);
        named(g, "AcDbDimStyleTableRecord", "Standard");
    });
    table(g, "BLOCK_RECORD", 0x1, 2, |g| {
        for (handle, name) in [(MODEL, "*Model_Space"), (PAPER, "*Paper_Space")] {
            g.record("BLOCK_RECORD", handle, 0x1);
            g.text(100, "AcDbSymbolTableRecord");
            g.text(100, "AcDbBlockTableRecord");
            g.text(2, name);
            g.handle(340, 0);
        }
    });
}

fn table(g: &mut Groups, name: &str, handle: u32, records: usize, write: impl FnOnce(&mut Groups)) {
    g.text(0, "TABLE");
    g.text(2, name);
    g.handle(5, handle);
    g.handle(330, 0);
    g.text(100, "AcDbSymbolTable");
    g.int(70, records);
    if name == "DIMSTYLE" {
        g.text(100, "AcDbDimStyleTable");
    }
    write(g);
    g.text(0, "ENDTAB");
}

fn record(g: &mut Groups, kind: &str, handle: u32, owner: u32, mark: &str, name: &str) {
    g.record(kind, handle, owner);
    named(g, mark, name);
}

fn named(g: &mut Groups, mark: &str, name: &str) {
    g.text(100, "AcDbSymbolTableRecord");
    g.text(100, mark);
    g.text(2, &escaped(name));
    g.int(70, 0);
}

fn block(g: &mut Groups, name: &str, owner: u32, handle: u32, paper: bool) {
    let head = |g: &mut Groups, kind: &str, handle: u32, mark: &str| {
        g.record(kind, handle, owner);
        g.text(100, "AcDbEntity");
        if paper {
            g.int(67, 1);
        }
        g.text(8, "0");
        g.text(100, mark);
    };
    head(g, "BLOCK", handle, "AcDbBlockBegin");
    g.text(2, name);
    g.int(70, 0);
    g.point(10, [0.0; 2]);
    g.text(3, name);
    g.text(1, "");
    head(g, "ENDBLK", handle + 1, "AcDbBlockEnd");
}

/// Pairs of a group code and a value, a line each, ended as the systems of the cutters end lines.
#[derive(Default)]
struct Groups {
    out: String,
}

impl Groups {
    fn text(&mut self, code: u16, value: &str) {
        // Writing to a string cannot fail.
        let _ = write!(self.out, "{code:>3}\r\n{value}\r\n");
    }

    fn int(&mut self, code: u16, value: usize) {
        self.text(code, &value.to_string());
    }

    fn handle(&mut self, code: u16, value: u32) {
        self.text(code, &format!("{value:X}"));
    }

    /// The shortest decimal that reads back as the same number, never with an exponent.
    fn real(&mut self, code: u16, value: f64) {
        let digits = value.to_string();
        if digits.contains('.') {
            self.text(code, &digits);
        } else {
            self.text(code, &format!("{digits}.0"));
        }
    }

    fn vector(&mut self, code: u16, v: [f64; 3]) {
        for (axis, value) in (0..).zip(v) {
            self.real(code + 10 * axis, value);
        }
    }

    fn point(&mut self, code: u16, [x, y]: [f64; 2]) {
        self.vector(code, [x, y, 0.0]);
    }

    fn record(&mut self, kind: &str, handle: u32, owner: u32) {
        self.text(0, kind);
        self.handle(5, handle);
        self.handle(330, owner);
    }

    fn section(&mut self, name: &str, write: impl FnOnce(&mut Self)) {
        self.text(0, "SECTION");
        self.text(2, name);
        write(self);
        self.text(0, "ENDSEC");
    }
}

/// Letters outside ASCII as `\U+XXXX`, the way of this version; characters that would end the line left out.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars().filter(|c| !c.is_control()) {
        if c.is_ascii() {
            out.push(c);
        } else {
            for unit in c.encode_utf16(&mut [0; 2]) {
                let _ = write!(out, "\\U+{unit:04X}");
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    fn file() -> String {
        let mut e = DxfEntities::default();
        e.line("REF", [[0.0, 0.0], [100.0, 0.0]]);
        e.words("REF", [0.0, 3.0], 4.0, "Größe\n𝄞");
        e.circle("MARK", [1.0, 1e-7], 2.5);
        e.polyline("CUT", &[([0.0, 0.0], 1.0), ([10.0, 0.0], 0.0)], true);
        e.file(&DxfHead {
            unit: DxfUnit::of(LengthDisplay::Millimetre),
            layers: &[("CUT", 7), ("MARK", 5), ("REF", 8)],
            extent: [[0.0, -5.0], [100.0, 5.0]],
        })
    }

    fn pairs(text: &str) -> Vec<(u16, &str)> {
        let lines: Vec<&str> = text.lines().collect();
        lines
            .chunks(2)
            .map(|p| (p[0].trim().parse().unwrap(), p[1]))
            .collect()
    }

    #[test]
    fn every_handle_stands_once_below_the_seed_and_every_owner_is_there() {
        let text = file();
        let pairs = pairs(&text);
        let number = |v: &str| u32::from_str_radix(v, 16).unwrap();
        let seed_at = pairs.iter().position(|p| p.1 == "$HANDSEED").unwrap() + 1;
        let handles: Vec<u32> = pairs
            .iter()
            .enumerate()
            .filter(|(i, p)| *i != seed_at && (p.0 == 5 || p.0 == 105))
            .map(|(_, p)| number(p.1))
            .collect();
        let once: BTreeSet<u32> = handles.iter().copied().collect();
        assert_eq!(once.len(), handles.len(), "{handles:x?}");
        assert!(once.iter().all(|h| *h > 0 && *h < number(pairs[seed_at].1)));
        for (_, owner) in pairs.iter().filter(|p| p.0 == 330 || p.0 == 350) {
            let owner = number(owner);
            assert!(owner == 0 || once.contains(&owner), "{owner:x}");
        }
    }

    #[test]
    fn numbers_have_a_point_and_no_exponent_and_words_stay_on_their_line() {
        let text = file();
        let pairs = pairs(&text);
        for (_, value) in pairs.iter().filter(|p| (10..60).contains(&p.0)) {
            assert!(value.contains('.') && !value.contains('e'), "{value}");
        }
        assert!(pairs.contains(&(1, "Gr\\U+00F6\\U+00DFe\\U+D834\\U+DD1E")));
        assert!(pairs.contains(&(20, "0.0000001")));
        assert_eq!(pairs.last(), Some(&(0, "EOF")));
    }
}
