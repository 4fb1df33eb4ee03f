//! Binary STL: 80 bytes of anything, a count, and 50 bytes per facet, little-endian.

use geom::{RawPoints, Welder};

use crate::Error;
use crate::read_scan::{Content, Note};
use crate::read_source::Source;

const HEAD: usize = 84;
const FACET: usize = 50;

/// Whether the count in the header is the one that the size of the file asks for.
pub(crate) fn size_fits(head: &[u8], size: u64) -> bool {
    count(head).is_some_and(|n| size == HEAD as u64 + FACET as u64 * n)
}

fn count(head: &[u8]) -> Option<u64> {
    let bytes: [u8; 4] = head.get(80..HEAD)?.try_into().ok()?;
    Some(u64::from(u32::from_le_bytes(bytes)))
}

/// Three corners of a facet, and what is odd about it.
struct Facet {
    normal: [f32; 3],
    corners: [[f32; 3]; 3],
    extra: [u8; 2],
}

fn facet(bytes: &[u8; FACET]) -> Facet {
    let number = |i: usize| {
        f32::from_le_bytes([
            bytes[4 * i],
            bytes[4 * i + 1],
            bytes[4 * i + 2],
            bytes[4 * i + 3],
        ])
    };
    let triple = |i: usize| [number(3 * i), number(3 * i + 1), number(3 * i + 2)];
    Facet {
        normal: triple(0),
        corners: [triple(1), triple(2), triple(3)],
        extra: [bytes[48], bytes[49]],
    }
}

/// Reads a binary STL.
pub(crate) fn read(source: &mut Source) -> Result<Content, Error> {
    source.at_least(HEAD)?;
    let Some(facets) = count(source.window()) else {
        let says = format!(
            "expected a binary STL with a header of {HEAD} bytes, found {} bytes",
            source.size()
        );
        return Err(Error::truncated(says));
    };
    let room = (source.size() - HEAD as u64) / FACET as u64;
    if facets == 0 {
        let says = format!("the header promises 0 facets; the file has room for {room}");
        return Err(Error::empty(says).at_byte(80));
    }
    if facets > room {
        let says = format!("the header promises {facets} facets, the file ends after {room}");
        return Err(Error::truncated(says)
            .at_byte(source.size())
            .at_record("facet", room + 1));
    }
    source.consume(HEAD);
    let mut soup = Soup::with_room(facets as usize);
    let mut extras = 0;
    let mut done = 0;
    while done < facets {
        if !source.at_least(FACET)? {
            return Err(
                Error::truncated("the file ends within a facet").at_record("facet", done + 1)
            );
        }
        let window = source.window();
        let take = (window.len() / FACET).min(usize::try_from(facets - done).unwrap_or(usize::MAX));
        let offset = source.offset();
        let (records, _) = window[..take * FACET].as_chunks::<FACET>();
        for (i, bytes) in records.iter().enumerate() {
            let f = facet(bytes);
            extras += u64::from(f.extra != [0, 0]);
            soup.add(f.normal, f.corners)
                .map_err(|e| e.at_byte(offset + (i * FACET) as u64))?;
        }
        source.consume(take * FACET);
        done += take as u64;
    }
    let tail = source.left();
    let mut content = soup.finish("binary STL")?;
    let advice =
        "colours in STL are not standard; export as PLY if pen marks or tape are to be seen";
    content.notes.extend(Note::counted(
        extras,
        "facets carry extra bytes (often a colour) that were passed over",
        advice,
    ));
    content.notes.extend(Note::counted(
        tail,
        "bytes after the last facet were passed over",
        "",
    ));
    Ok(content)
}

/// Facets that come one by one and become triangles with shared corners.
pub(crate) struct Soup {
    welder: Welder,
    triangles: Vec<[u32; 3]>,
    seen: u64,
    collapsed: u64,
    against: u64,
}

impl Soup {
    /// Room for a closed sheet of `facets`: half as many corners.
    pub fn with_room(facets: usize) -> Self {
        Self {
            welder: Welder::with_room(facets / 2 + facets / 32 + 64),
            triangles: Vec::with_capacity(facets),
            seen: 0,
            collapsed: 0,
            against: 0,
        }
    }

    /// How many facets came so far.
    pub fn seen(&self) -> u64 {
        self.seen
    }

    /// Adds a facet with its stated normal.
    #[inline]
    pub fn add(&mut self, normal: [f32; 3], corners: [[f32; 3]; 3]) -> Result<(), Error> {
        self.seen += 1;
        let mut triangle = [0; 3];
        for (number, corner) in triangle.iter_mut().zip(corners) {
            if !corner
                .iter()
                .all(|c| c.abs() <= crate::read_scan::LARGEST as f32)
            {
                return Err(self.no_place(corner));
            }
            *number = self
                .welder
                .add(corner)
                .ok_or_else(|| Error::too_large("more than 4294967295 corners"))?;
        }
        let [a, b, c] = triangle;
        if a == b || b == c || c == a {
            self.collapsed += 1;
            return Ok(());
        }
        self.against += u64::from(points_against(normal, corners));
        if self.triangles.len() == self.triangles.capacity() {
            self.triangles
                .reserve_exact(self.triangles.len() / 4 + 1024);
        }
        self.triangles.push(triangle);
        Ok(())
    }

    #[cold]
    fn no_place(&self, corner: [f32; 3]) -> Error {
        let [x, y, z] = corner;
        Error::malformed(format!("expected three coordinates, found \"{x} {y} {z}\""))
            .at_record("facet", self.seen)
            .hinting(
                "the mesh is damaged there: repair or export it once more in the scanner's program",
            )
    }

    /// The mesh with what was odd about it.
    pub fn finish(self, format: &'static str) -> Result<Content, Error> {
        if self.triangles.is_empty() {
            let says = if self.seen == 0 {
                "expected facets, found none".to_owned()
            } else {
                format!("all {} facets have two equal corners", self.seen)
            };
            return Err(Error::empty(says));
        }
        let mut notes = Vec::new();
        notes.extend(Note::counted(
            self.collapsed,
            "facets with two equal corners were left out",
            "",
        ));
        if self.against * 2 > self.triangles.len() as u64 {
            let advice = "if faces come out inside out, turn the triangles round in the scanner's program and export again";
            let says = "facets state a normal against the order of their corners; the order of corners was used";
            notes.extend(Note::counted(self.against, says, advice));
        }
        Ok(Content {
            format,
            points: RawPoints::F32(self.welder.into_points()),
            triangles: self.triangles,
            colours: Vec::new(),
            normals: Vec::new(),
            names: Vec::new(),
            unit: None,
            notes,
        })
    }
}

/// Whether a stated normal (not zero, finite) points away from the one that the order of the corners gives.
#[inline]
fn points_against(n: [f32; 3], [a, b, c]: [[f32; 3]; 3]) -> bool {
    let [ux, uy, uz] = [b[0] - a[0], b[1] - a[1], b[2] - a[2]];
    let [vx, vy, vz] = [c[0] - a[0], c[1] - a[1], c[2] - a[2]];
    n[0] * (uy * vz - uz * vy) + n[1] * (uz * vx - ux * vz) + n[2] * (ux * vy - uy * vx) < 0.0
}
