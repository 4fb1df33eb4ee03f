//! Binary STL: 80 bytes of anything, a count, and 50 bytes per facet, little-endian.

#![allow(
    clippy::inline_always,
    reason = "loops over a lot are one vector pass only where all of it is inlined"
)]

use geom::{RawPoints, Welder};

use crate::Error;
use crate::read_scan::{Content, LARGEST, Note};
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

/// Three corners.
type Corners = [[f32; 3]; 3];

/// The stated normal and the corners of a facet.
#[inline(always)]
fn numbers(bytes: &[u8; FACET]) -> [[f32; 3]; 4] {
    let mut words: [u32; 12] = bytemuck::pod_read_unaligned(&bytes[..48]);
    if cfg!(target_endian = "big") {
        for word in &mut words {
            *word = word.swap_bytes();
        }
    }
    bytemuck::cast(words)
}

/// The corners of a facet.
#[inline(always)]
fn corners(bytes: &[u8; FACET]) -> Corners {
    let mut words: [u32; 9] = bytemuck::pod_read_unaligned(&bytes[12..48]);
    if cfg!(target_endian = "big") {
        for word in &mut words {
            *word = word.swap_bytes();
        }
    }
    bytemuck::cast(words)
}

/// Whether every coordinate is a place.
#[inline(always)]
fn all_places(corners: &[Corners]) -> bool {
    let mut odd = [false; 8];
    let (lots, rest) = corners.as_flattened().as_flattened().as_chunks::<8>();
    for lot in lots {
        for (o, v) in odd.iter_mut().zip(lot) {
            *o |= !is_place(*v);
        }
    }
    !odd.contains(&true) && rest.iter().all(|v| is_place(*v))
}

#[inline(always)]
fn is_place(v: f32) -> bool {
    v.abs() <= LARGEST as f32
}

/// Reads a binary STL.
pub(crate) fn read(source: &mut Source, how: Facets) -> Result<Content, Error> {
    source.at_least(HEAD)?;
    let Some(facets) = count(source.window()) else {
        let says = format!(
            "expected a binary STL with a header of {HEAD} bytes, found {} bytes",
            source.size()
        );
        return Err(Error::truncated(says).at_byte(source.size()));
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
    let mut soup = Soup::with_room(how, facets as usize);
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
        extras += records.iter().filter(|r| r[48..] != [0, 0]).count() as u64;
        soup.add_all(records).map_err(|e| {
            e.at_byte(offset + (soup.seen() - done).saturating_sub(1) * FACET as u64)
        })?;
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

/// What becomes of the corners of facets.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Facets {
    /// Equal corners become one point.
    Joined,
    /// Three points each, in the order of the facets; nothing is left out and stated normals are passed over.
    Apart,
}

/// Facets that come one by one or in lots and become triangles with shared corners, or stay as they are.
pub(crate) struct Soup {
    how: Facets,
    /// Of facets that stay apart.
    corners: Vec<Corners>,
    /// A lot on its way.
    lot: Vec<Corners>,
    welder: Welder,
    triangles: Vec<[u32; 3]>,
    seen: u64,
    collapsed: u64,
    against: u64,
}

/// Facets handled at a time: their corners stay in the nearest cache.
const LOT: usize = 512;

impl Soup {
    /// Room for a closed sheet of `facets`: half as many corners.
    pub fn with_room(how: Facets, facets: usize) -> Self {
        let (joined, apart) = match how {
            Facets::Joined => (facets, 0),
            Facets::Apart => (0, facets),
        };
        Self {
            how,
            corners: geom::room_for(apart),
            lot: Vec::new(),
            welder: Welder::with_room(joined / 2 + joined / 32 + 64),
            triangles: geom::room_for(joined),
            seen: 0,
            collapsed: 0,
            against: 0,
        }
    }

    /// How many facets came so far.
    pub fn seen(&self) -> u64 {
        self.seen
    }

    /// Adds records of a binary file.
    fn add_all(&mut self, records: &[[u8; FACET]]) -> Result<(), Error> {
        if self.how == Facets::Apart {
            for lot in records.chunks(LOT) {
                let start = self.corners.len();
                self.corners.extend(lot.iter().map(corners));
                if !all_places(&self.corners[start..]) {
                    let lot = self.corners.split_off(start);
                    return self.first_wrong(&lot);
                }
                self.seen += lot.len() as u64;
            }
            return Ok(());
        }
        for records in records.chunks(LOT) {
            let mut lot = std::mem::take(&mut self.lot);
            lot.clear();
            lot.extend(records.iter().map(corners));
            self.add_lot(&lot, records.iter().map(|r| numbers(r)[0]))?;
            self.lot = lot;
        }
        Ok(())
    }

    /// Adds facets with their stated normals.
    pub fn add_lot(
        &mut self,
        lot: &[Corners],
        normals: impl Iterator<Item = [f32; 3]>,
    ) -> Result<(), Error> {
        if !all_places(lot) {
            return self.first_wrong(lot);
        }
        self.seen += lot.len() as u64;
        if self.how == Facets::Apart {
            self.corners.extend_from_slice(lot);
            return Ok(());
        }
        if self.triangles.capacity() - self.triangles.len() < lot.len() {
            self.triangles
                .reserve_exact(self.triangles.len() / 4 + lot.len());
        }
        let start = self.triangles.len();
        self.welder
            .add_triangles(lot, &mut self.triangles)
            .ok_or_else(|| Error::too_large("more than 4294967295 corners"))?;
        let mut kept = start;
        for ((i, corners), normal) in (start..).zip(lot).zip(normals) {
            let triangle = self.triangles[i];
            let [a, b, c] = triangle;
            if a == b || b == c || c == a {
                self.collapsed += 1;
                continue;
            }
            self.against += u64::from(points_against(normal, *corners));
            self.triangles[kept] = triangle;
            kept += 1;
        }
        self.triangles.truncate(kept);
        Ok(())
    }

    /// The error of the first facet with a corner that is no place.
    #[cold]
    fn first_wrong(&mut self, lot: &[Corners]) -> Result<(), Error> {
        for corners in lot {
            self.seen += 1;
            for corner in corners {
                if !corner.iter().all(|c| is_place(*c)) {
                    return Err(self.no_place(*corner));
                }
            }
        }
        Ok(())
    }

    #[cold]
    fn no_place(&self, corner: [f32; 3]) -> Error {
        let [x, y, z] = corner;
        Error::malformed(format!(
            "expected three coordinates of at most {LARGEST:e}, found \"{x:?} {y:?} {z:?}\""
        ))
        .at_record("facet", self.seen)
        .hinting(
            "the mesh is damaged there: repair or export it once more in the scanner's program",
        )
    }

    /// The mesh with what was odd about it.
    pub fn finish(self, format: &'static str) -> Result<Content, Error> {
        if self.triangles.is_empty() && self.corners.is_empty() {
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
            points: RawPoints::F32(match self.how {
                Facets::Joined => self.welder.into_points(),
                Facets::Apart => self.corners.into_flattened(),
            }),
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
