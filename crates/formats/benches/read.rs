//! How long reading takes: 1 M and 10 M records of each format (half as many for text STL).
//!
//! Plain timing: the best of three runs, printed. `cargo bench -p formats --bench read`; files are made in the
//! folder for temporary files and removed.

use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::Path;
use std::time::Instant;

use record::Quiet;

type Make = fn(&mut dyn Write, u32) -> std::io::Result<()>;

/// Point `i` of a sheet `width` wide, mm.
fn point(i: u32, width: u32) -> [f32; 3] {
    let (x, y) = ((i % width) as f32 * 0.21, (i / width) as f32 * 0.21);
    [x, y, 1200.0 + (x * 0.01).sin() * 40.0]
}

fn width(n: u32) -> u32 {
    f64::from(n).sqrt() as u32
}

/// `n` triangles.
fn binary_stl(out: &mut dyn Write, n: u32) -> std::io::Result<()> {
    out.write_all(&[b' '; 80])?;
    out.write_all(&n.to_le_bytes())?;
    triangles(n, |[a, b, c]| {
        let mut record = [0; 50];
        for (k, value) in [[0.0, 0.0, 1.0], a, b, c].iter().flatten().enumerate() {
            record[4 * k..4 * k + 4].copy_from_slice(&value.to_le_bytes());
        }
        out.write_all(&record)
    })
}

fn text_stl(out: &mut dyn Write, n: u32) -> std::io::Result<()> {
    writeln!(out, "solid x")?;
    triangles(n, |corners| {
        writeln!(out, "facet normal 0 0 1\nouter loop")?;
        for [x, y, z] in corners {
            writeln!(out, "vertex {x:e} {y:e} {z:e}")?;
        }
        writeln!(out, "endloop\nendfacet")
    })?;
    writeln!(out, "endsolid x")
}

fn triangles(
    n: u32,
    mut each: impl FnMut([[f32; 3]; 3]) -> std::io::Result<()>,
) -> std::io::Result<()> {
    let w = width(n / 2);
    for k in 0..n {
        let (i, j) = (k / 2 % w, k / 2 / w);
        let at = |i: u32, j: u32| point(j * (w + 1) + i, w + 1);
        let (a, c) = (at(i, j), at(i + 1, j + 1));
        each(if k % 2 == 0 {
            [a, at(i + 1, j), c]
        } else {
            [a, c, at(i, j + 1)]
        })?;
    }
    Ok(())
}

fn binary_ply(out: &mut dyn Write, n: u32) -> std::io::Result<()> {
    let head = "property float x\nproperty float y\nproperty float z\nproperty uchar red\nproperty uchar green\nproperty uchar blue\n";
    write!(
        out,
        "ply\nformat binary_little_endian 1.0\nelement vertex {n}\n{head}end_header\n"
    )?;
    for i in 0..n {
        for value in point(i, width(n)) {
            out.write_all(&value.to_le_bytes())?;
        }
        out.write_all(&[1, 2, 3])?;
    }
    Ok(())
}

fn text_ply(out: &mut dyn Write, n: u32) -> std::io::Result<()> {
    let head = "property float x\nproperty float y\nproperty float z\n";
    write!(
        out,
        "ply\nformat ascii 1.0\nelement vertex {n}\n{head}end_header\n"
    )?;
    rows(out, n, " ")
}

fn xyz(out: &mut dyn Write, n: u32) -> std::io::Result<()> {
    rows(out, n, " ")
}

fn csv(out: &mut dyn Write, n: u32) -> std::io::Result<()> {
    writeln!(out, "x_mm,y_mm,z_mm")?;
    rows(out, n, ",")
}

fn rows(out: &mut dyn Write, n: u32, between: &str) -> std::io::Result<()> {
    for i in 0..n {
        let [x, y, z] = point(i, width(n));
        writeln!(out, "{x:.4}{between}{y:.4}{between}{z:.4}")?;
    }
    Ok(())
}

fn run(folder: &Path, what: &str, n: u32, make: Make) -> Result<(), Box<dyn std::error::Error>> {
    let path = folder.join("scan.bin");
    let mut out = BufWriter::with_capacity(1 << 20, File::create(&path)?);
    make(&mut out, n)?;
    out.into_inner()?.sync_all()?;
    let mut best = f64::INFINITY;
    let mut points = 0;
    for _ in 0..3 {
        let start = Instant::now();
        let scan = formats::read_scan(&path, &Quiet)?;
        best = best.min(start.elapsed().as_secs_f64());
        points = scan.points.len();
    }
    let mib = std::fs::metadata(&path)?.len() as f64 / f64::from(1 << 20);
    writeln!(
        std::io::stdout(),
        "{what:<22} {n:>10} records {points:>10} points {mib:>8.1} MiB {:>8.1} ms {:>8.1} MiB/s",
        best * 1e3,
        mib / best
    )?;
    Ok(())
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = tempfile::tempdir()?;
    let most = std::env::args()
        .find_map(|a| a.parse().ok())
        .unwrap_or(10_000_000);
    for n in [1_000_000, 10_000_000_u32]
        .into_iter()
        .filter(|&n| n <= most)
    {
        run(folder.path(), "binary STL, triangles", n, binary_stl)?;
        run(folder.path(), "text STL, triangles", n / 2, text_stl)?;
        run(folder.path(), "binary PLY, colours", n, binary_ply)?;
        run(folder.path(), "text PLY", n, text_ply)?;
        run(folder.path(), "XYZ", n, xyz)?;
        run(folder.path(), "CSV", n, csv)?;
    }
    Ok(())
}
