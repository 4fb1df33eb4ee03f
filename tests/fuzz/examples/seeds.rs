//! Writes the seeds: a small good file of every kind. `cargo run --example seeds -- seeds` in `tests/fuzz`.
//!
//! What a seed is made from lies beside the checks of the readers.

#![allow(dead_code, unused_imports)]

#[path = "../../it/read_others.rs"]
mod read_others;
#[path = "../../it/scan_bytes.rs"]
mod scan_bytes;

use std::path::Path;

use formats::{JournalEntry, JournalKind, JournalWriter, job_from_str, keep_scan};
use geom::{Blocks, RawPoints};
use read_others::{PcdData, e57, obj, off, pcd};
use record::{BoundaryLoop, Code, Finding, Number, Prepared, Quantity, Severity};
use scan_bytes::{PlyOrder, binary_stl, ply, sheet, table, text_stl};

fn main() {
    let to = std::env::args().nth(1).expect("the folder of the seeds");
    let to = Path::new(&to);
    let put = |target: &str, name: &str, bytes: &[u8]| {
        std::fs::create_dir_all(to.join(target)).expect("a folder can be made");
        std::fs::write(to.join(target).join(name), bytes).expect("a seed can be written");
    };
    let s = sheet(3);
    put("stl", "binary", &binary_stl(&s, b"solid"));
    put("stl", "text", &text_stl(&s, 2, "\r\n"));
    for (name, order) in [
        ("text", PlyOrder::Text),
        ("little", PlyOrder::Little),
        ("big", PlyOrder::Big),
    ] {
        put("ply", name, &ply(&s, order, false));
        put("ply", &format!("{name}-odd"), &ply(&s, order, true));
    }
    put(
        "table",
        "plain",
        &table(&s, "# unit mm\nx y z\n", " ", false),
    );
    put(
        "table",
        "comma",
        &table(&s, "X [mm];Y [mm];Z [mm]\n", ";", true),
    );
    put(
        "table",
        "names",
        b"name,x,y,z,nx,ny,nz,r,g,b\nA1,1,2,3,0,0,1,9,8,7\n\"b 2\",-1.5e1,2,3,0,1,0,255,0,1\n",
    );
    put("table", "count", b"2\n1\t2\t3\t0.5\n4\t5\t6\t0.25\n");
    put("obj", "plain", &obj(&s, false, true));
    put("obj", "back", &obj(&s, true, false));
    put("off", "plain", &off(&s, "OFF"));
    put("off", "all", &off(&s, "CNOFF"));
    for (name, data) in [
        ("text", PcdData::Text),
        ("binary", PcdData::Binary),
        ("packed", PcdData::Compressed),
    ] {
        put("pcd", name, &pcd(&s, data));
    }
    put("e57", "one", &e57(&s, 1));
    put("e57", "two", &e57(&s, 2));
    put("numbers", "decimal", b"\x0012.5");
    put("numbers", "comma", b"\x00412,5 mm");
    put("numbers", "fraction", b"\x404 1/2\"");
    put("numbers", "feet", b"\x003' 4 1/2\"");
    put("numbers", "angle", "\u{5}89\u{b0} 15'".as_bytes());
    put("places", "two", b"name;side;scan;x;y;z;sigma;unit;note\nsill end;left;front;-12,5;1004,25;3;0,4;;\nnose;centre;;0;0;1 1/2;1;in;a\n");
    put(
        "hand",
        "all",
        "opening;kind;from;to;value;unit;give_or_take;instrument;operator;station;pointer_from;pointer_to;note\n\
         left;length;A;B;345,0;mm;0.5;tape;me;;;;\n;tram;A;B;3' 4 1/2\";;;;;;10;12;\n\
         ;angle;A top;;89\u{b0} 15';deg;;protractor;;1/4;;;\n;edge;E1 E2 E3;;;;;;;counter-clockwise open;;;\n;length;A;C;;;;;;;;;\n"
            .as_bytes(),
    );
    let text = include_str!("../../data/jobs/schema_1.ron");
    let job = job_from_str(text).expect("the job of schema 1 is read");
    let small = job_from_str("(schema: 1, title: \"first\")").expect("a small job is read");
    put("job", "small", b"(schema: 1, title: \"first\")");
    put(
        "job",
        "written",
        formats::job_to_string(&job)
            .expect("it can be written")
            .as_bytes(),
    );
    journal(&put, &small);
    put(
        "handed_over",
        "one",
        br#"(schema: 1, done: [(revision: "A", job_blake3: "00", figures: [("lamp", "fits")], files: [(name: "a.dxf", blake3: "00")])])"#,
    );
    kept(&put);
}

fn journal(put: &dyn Fn(&str, &str, &[u8]), job: &record::Job) {
    let folder = tempfile::tempdir().expect("a folder can be made");
    let path = folder.path().join("a.journal");
    let mut writer = JournalWriter::take(&path)
        .expect("a journal can be made")
        .expect("nobody has it");
    writer.begin(job).expect("it can be begun");
    let step = |kind, title: &str| JournalEntry {
        kind,
        name: format!("title: {title}"),
        job: record::Job {
            title: title.to_owned(),
            ..job.clone()
        },
    };
    writer
        .append(&[
            step(JournalKind::Step, "second"),
            step(JournalKind::Joined, "third"),
            step(JournalKind::Undo, ""),
        ])
        .expect("it can be added to");
    let bytes = std::fs::read(&path).expect("it was written");
    put("journal", "four", &bytes[8..]);
}

fn kept(put: &dyn Fn(&str, &str, &[u8])) {
    let points: Vec<[f64; 3]> = (0..40)
        .map(|i| [f64::from(i % 8), f64::from(i / 8), f64::from(i % 7) * 0.01])
        .collect();
    let n = points.len();
    let mut blocks = Blocks::build(
        RawPoints::F64(points),
        1.0,
        vec![[9, 8, 7]; n],
        Vec::new(),
        &|| true,
    )
    .expect("not called off");
    blocks
        .set_normals(&vec![[0.0, 0.6, 0.8]; n], &|| true)
        .expect("not called off");
    let scan = Prepared {
        name: "left.ply".to_owned(),
        format: "binary PLY".to_owned(),
        hash: fuzz::HASH.to_owned(),
        blocks,
        triangles: vec![[0, 1, 2], [39, 17, 4]],
        loops: vec![BoundaryLoop {
            slots: vec![3, 4, 5],
            closed: true,
        }],
        spacing_mm: 1.0,
        notes: vec![Finding {
            code: Code::ALL[0],
            severity: Severity::Doubt,
            subject: "left".to_owned(),
            says: "says".to_owned(),
            advice: String::new(),
            numbers: vec![Number {
                name: "count".to_owned(),
                value: 3.0,
                quantity: Some(Quantity::Length),
            }],
        }],
    };
    let folder = tempfile::tempdir().expect("a folder can be made");
    let path = folder.path().join("a.scan");
    keep_scan(&scan, fuzz::UNIT, &path).expect("it can be kept");
    let bytes = std::fs::read(&path).expect("it was kept");
    let mut from = 8;
    for _ in 0..3 {
        let length = bytes[from..from + 8]
            .try_into()
            .map(u64::from_le_bytes)
            .expect("eight bytes");
        from += 8 + length as usize;
    }
    let figures = formats::KeptFigures {
        measured: record::Measured::default(),
        decided: Vec::new(),
    };
    let path_of_figures = folder.path().join("a.figures");
    formats::keep_figures(&figures, fuzz::ENGINE, &fuzz::KEY, &path_of_figures)
        .expect("they can be kept");
    let kept = std::fs::read(&path_of_figures).expect("they were kept");
    put(
        "kept_figures",
        "none",
        &kept[8 + 8 + fuzz::ENGINE.len() + 32..kept.len() - 32],
    );
    put("kept_scan", "forty", &bytes[from..bytes.len() - 32]);
}
