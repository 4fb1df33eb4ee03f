//! E57 (ASTM E2807): scans of several standpoints in one file, each with a pose.

use std::cell::Cell;
use std::fs::File;
use std::io::{BufReader, Read, Seek, SeekFrom};

use e57::{CartesianCoordinate, E57Reader, PointCloud};
use geom::RawPoints;
use record::{LengthUnit, Progress, Stage};

use crate::Error;
use crate::read_e57_columns::Columns;
use crate::read_scan::{Content, LARGEST, Note};
use crate::read_source::Source;

/// Bytes of a page; its last four are its checksum.
const PAGE: u64 = 1024;
/// Bytes of the header of the file.
const HEAD: usize = 48;
/// Colour of points that have none in a file whose others have one.
const GREY: [u8; 3] = [128; 3];

/// Reads all scans of an E57 with their poses applied, so that they share the axes of the file. The unit is the metre.
/// Points that say they are none are left out and counted. Every page's checksum is held against its bytes; one that does
/// not agree ends the reading: half a scan is none.
pub(crate) fn read(source: &mut Source) -> Result<Content, Error> {
    let description = header(source)?;
    let off = Cell::new(false);
    let file = Told {
        file: source.again()?,
        at: source.progress(),
        size: source.size(),
        read: 0,
        off: &off,
    };
    let told = |e: &e57::Error| {
        if off.get() {
            return Error::from(record::Cancelled);
        }
        Error::malformed(format!(
            "expected an E57 file that holds what it promises: {}",
            plain(e)
        ))
    };
    let mut reader =
        E57Reader::new(BufReader::new(file)).map_err(|e| told(&e).at_byte(description))?;
    let clouds = reader.pointclouds();
    let mut found = Found::default();
    for (k, cloud) in clouds.iter().enumerate() {
        let scan = k as u64 + 1;
        found
            .room(cloud, source.size())
            .map_err(|e| e.at_record("scan", scan))?;
        if found.take_columns(cloud, source)? {
            continue;
        }
        let points = reader
            .pointcloud_simple(cloud)
            .map_err(|e| told(&e).at_record("scan", scan))?;
        for point in points {
            let point = point.map_err(|e| told(&e).at_record("scan", scan))?;
            found.take(&point);
        }
    }
    found.finish(clouds.len())
}

/// The header says how long the file is and how large its pages are: what does not agree with the file is not read.
/// Gives the byte at which the description stands.
fn header(source: &mut Source) -> Result<u64, Error> {
    if !source.at_least(HEAD)? {
        return Err(Error::truncated(format!(
            "expected a header of {HEAD} bytes, the file has {}",
            source.size()
        ))
        .at_byte(source.size()));
    }
    let number = |at: usize| {
        let mut raw = [0; 8];
        raw.copy_from_slice(&source.window()[at..at + 8]);
        u64::from_le_bytes(raw)
    };
    let (length, at, xml, page) = (number(16), number(24), number(32), number(40));
    if page != PAGE {
        return Err(Error::malformed(format!(
            "expected pages of {PAGE} bytes, the header says {page}"
        ))
        .at_byte(40));
    }
    if length > source.size() {
        return Err(Error::truncated(format!(
            "the header promises {length} bytes, the file has {}",
            source.size()
        ))
        .at_byte(16));
    }
    if at >= source.size() || xml > source.size() {
        return Err(Error::truncated(format!(
            "the header promises {xml} bytes of description at byte {at}, the file has {} bytes",
            source.size()
        ))
        .at_byte(24));
    }
    if !source.size().is_multiple_of(PAGE) {
        return Err(Error::truncated(format!(
            "expected whole pages of {PAGE} bytes, the file has {} bytes",
            source.size()
        ))
        .at_byte(source.size() / PAGE * PAGE));
    }
    Ok(at)
}

/// What the reader of the standard says, as the end of a sentence.
fn plain(e: &e57::Error) -> String {
    let mut text = e.to_string();
    for said_already in ["Invalid E57 content: ", "Failed to read E57: "] {
        if let Some(rest) = text.strip_prefix(said_already) {
            text = rest.to_owned();
        }
    }
    if let Some(first) = text.get(..1) {
        let lower = first.to_lowercase();
        text.replace_range(..1, &lower);
    }
    let end = text.trim_end_matches('.').len();
    text.truncate(end);
    text
}

/// The points so far.
#[derive(Default)]
struct Found {
    points: Vec<[f64; 3]>,
    /// As long as `points` as soon as one has a colour.
    colours: Vec<[u8; 3]>,
    none: u64,
}

impl Found {
    /// Room for a scan, but for no more points than its bytes can hold: a point takes a bit at least.
    fn room(&mut self, cloud: &PointCloud, bytes: u64) -> Result<(), Error> {
        if cloud.records > bytes.saturating_mul(8) {
            return Err(Error::malformed(format!(
                "the scan promises {} points, the file has {bytes} bytes",
                cloud.records
            )));
        }
        let all = self.points.len() as u64 + cloud.records;
        if all >= u64::from(u32::MAX) {
            return Err(Error::too_large("more than 4294967294 points"));
        }
        // Usual points take six bytes or more; what is smaller grows as it comes.
        let usual = cloud.records.min(bytes / 6) as usize;
        if self.points.is_empty() {
            self.points = geom::room_for(usual);
        } else {
            self.points.reserve_exact(usual);
        }
        Ok(())
    }

    /// Takes a scan of plain coordinates; `false`, and nothing is taken, if it is not one that is quite in order.
    fn take_columns(&mut self, cloud: &PointCloud, source: &mut Source) -> Result<bool, Error> {
        let Some(columns) = Columns::of(cloud) else {
            return Ok(false);
        };
        let (before, none) = (self.points.len(), self.none);
        let whole = columns.read(source, |lot| {
            let is_place = |p: &[f64; 3]| p.iter().all(|c| c.abs() <= LARGEST);
            if lot.iter().all(is_place) {
                self.points.extend_from_slice(lot);
            } else {
                let start = self.points.len();
                self.points.extend(lot.iter().filter(|p| is_place(p)));
                self.none += (lot.len() - (self.points.len() - start)) as u64;
            }
        })?;
        if !whole {
            self.points.truncate(before);
            self.none = none;
        }
        Ok(whole)
    }

    fn take(&mut self, point: &e57::Point) {
        let CartesianCoordinate::Valid { x, y, z } = point.cartesian else {
            self.none += 1;
            return;
        };
        let p = [x, y, z];
        // A coordinate that is not a number fails this as well.
        if !p.iter().all(|c| c.abs() <= LARGEST) {
            self.none += 1;
            return;
        }
        if let Some(c) = &point.color {
            let byte = |v: f32| (v * 255.0).round() as u8;
            self.colours.resize(self.points.len(), GREY);
            self.colours
                .push([byte(c.red), byte(c.green), byte(c.blue)]);
        }
        self.points.push(p);
    }

    fn finish(mut self, scans: usize) -> Result<Content, Error> {
        if self.points.is_empty() {
            return Err(Error::empty(format!(
                "none of the {} points in {scans} scans has coordinates",
                self.none
            )));
        }
        if !self.colours.is_empty() {
            self.colours.resize(self.points.len(), GREY);
        }
        let nothing = "points without coordinates (nothing came back to the scanner) were left out";
        let mut notes: Vec<Note> = Note::counted(self.none, nothing, "").into_iter().collect();
        if scans > 1 {
            notes.push(Note::plain(format!(
                "{scans} scans were put together by the poses that the file gives them"
            )));
        }
        Ok(Content {
            format: "E57",
            points: RawPoints::F64(self.points),
            triangles: Vec::new(),
            colours: self.colours,
            normals: Vec::new(),
            names: Vec::new(),
            unit: Some(LengthUnit::Metre),
            notes,
        })
    }
}

/// The file again, with progress; `off` is set once it was called off.
struct Told<'a> {
    file: File,
    at: &'a dyn Progress,
    size: u64,
    read: u64,
    off: &'a Cell<bool>,
}

impl Read for Told<'_> {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let done = self.read.min(self.size);
        if self
            .at
            .at(Stage::Read, done as usize, self.size as usize)
            .is_err()
        {
            self.off.set(true);
            return Err(std::io::Error::other("called off"));
        }
        let got = self.file.read(buffer)?;
        self.read += got as u64;
        Ok(got)
    }
}

impl Seek for Told<'_> {
    fn seek(&mut self, to: SeekFrom) -> std::io::Result<u64> {
        self.file.seek(to)
    }
}
