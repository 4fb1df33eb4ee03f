//! Binary records of a PLY.

use crate::Error;
use crate::read_ply::{KEPT, Mesh, Role, kept_as, list_of_corners};
use crate::read_ply_header::{Element, Order, Property, Shape, Type};
use crate::read_scan::LARGEST;
use crate::read_source::{PIECE, Source};

/// Reads all records of an element.
pub(crate) fn element(
    source: &mut Source,
    order: Order,
    element: &Element,
    role: Role,
    mesh: &mut Mesh,
) -> Result<(), Error> {
    let record = word(role);
    let result = match fixed(element) {
        Some(fields) if role == Role::Vertex && fields.are_places(order) => {
            places(source, element.count, mesh)
        }
        Some(fields) => fixed_records(source, order, element.count, &fields, role, mesh),
        None => listed_records(source, order, element, role, mesh),
    };
    result.map_err(|(number, byte, e)| e.at_record(record, number).at_byte(byte))
}

fn word(role: Role) -> &'static str {
    match role {
        Role::Vertex => "vertex",
        Role::Face => "face",
        Role::Strips => "strip",
        Role::Pass => "record",
    }
}

/// Record number counted from one, byte, error.
type At = (u64, u64, Error);

/// Records of one size: the size, and (kept as, type, place) of what is kept.
struct Fixed {
    size: usize,
    kept: Vec<(usize, Type, usize)>,
}

impl Fixed {
    /// Whether a record is x, y and z in the single precision of this machine and nothing else.
    fn are_places(&self, order: Order) -> bool {
        let places = [0, 1, 2].map(|k| (k, Type::F32, 4 * k));
        order == Order::Little
            && cfg!(target_endian = "little")
            && self.size == 12
            && self.kept == places
    }
}

/// Points read at a time: what was read is still near by when it is checked.
const PLACES: usize = 1 << 14;

/// Vertices that are nothing but places, read straight to where they stay.
fn places(source: &mut Source, count: u64, mesh: &mut Mesh) -> Result<(), At> {
    let all = usize::try_from(count.min(source.left() / 12)).unwrap_or(0);
    let mut points = geom::list_of([0.0_f32; 3], all);
    let mut kept = 0;
    for first in (0..all).step_by(PLACES) {
        let here = source.offset();
        let lot = &mut points[first..all.min(first + PLACES)];
        source
            .take_into(bytemuck::cast_slice_mut(lot))
            .map_err(|e| (first as u64 + 1, here, e))?;
        let fine = lot.len();
        if are_finite(lot) {
            if kept < first {
                points.copy_within(first..first + fine, kept);
            }
            kept += fine;
            mesh.met(fine as u64);
            continue;
        }
        for i in first..first + fine {
            let place = points[i];
            if mesh
                .has_place(place)
                .map_err(|e| (i as u64 + 1, here + 12 * (i - first) as u64, e))?
            {
                points[kept] = place;
                kept += 1;
            }
        }
    }
    points.truncate(kept);
    mesh.set_places(points);
    if (all as u64) < count {
        return Err((
            all as u64 + 1,
            source.offset(),
            Error::truncated(format!("the file ends after {all} of {count} records")),
        ));
    }
    Ok(())
}

fn are_finite(points: &[[f32; 3]]) -> bool {
    let mut odd = [false; 8];
    let (lots, rest) = points.as_flattened().as_chunks::<8>();
    for lot in lots {
        for (o, v) in odd.iter_mut().zip(lot) {
            *o |= !is_place(*v);
        }
    }
    !odd.contains(&true) && rest.iter().all(|v| is_place(*v))
}

fn is_place(v: f32) -> bool {
    v.abs() <= LARGEST as f32
}

/// Bytes of a triangle whose count is one byte and whose corners are four each.
const TRIANGLE: usize = 13;

/// Whether a face is nothing but its corners, in the whole numbers of this machine, as most are.
fn are_plain_faces(element: &Element, order: Order) -> bool {
    let usual = |p: &Property| {
        matches!(
            p.shape,
            Shape::List {
                count: Type::U8 | Type::I8,
                item: Type::I32 | Type::U32
            }
        )
    };
    order == Order::Little
        && cfg!(target_endian = "little")
        && matches!(&element.properties[..], [p] if usual(p))
}

/// Takes triangles from the start of the window for as long as there is nothing odd; how many.
fn plain_triangles(source: &mut Source, most: u64, mesh: &mut Mesh) -> u64 {
    let (records, _) = source.window().as_chunks::<TRIANGLE>();
    let records = &records[..records
        .len()
        .min(usize::try_from(most).unwrap_or(usize::MAX))];
    // `are_plain_faces` says that these are the whole numbers of this machine.
    let corners = |r: &[u8; TRIANGLE]| bytemuck::pod_read_unaligned::<[u32; 3]>(&r[1..]);
    let taken = mesh.plain_triangles(records.iter().map(|r| (r[0] == 3, corners(r))));
    source.consume(taken * TRIANGLE);
    taken as u64
}

fn fixed(element: &Element) -> Option<Fixed> {
    let mut fields = Fixed {
        size: 0,
        kept: Vec::new(),
    };
    for p in &element.properties {
        let Shape::One(kind) = p.shape else {
            return None;
        };
        if let Some(which) = kept_as(&p.name)
            && !fields.kept.iter().any(|k| k.0 == which)
        {
            fields.kept.push((which, kind, fields.size));
        }
        fields.size += kind.size();
    }
    Some(fields)
}

fn fixed_records(
    source: &mut Source,
    order: Order,
    count: u64,
    fields: &Fixed,
    role: Role,
    mesh: &mut Mesh,
) -> Result<(), At> {
    let mut done = 0;
    while done < count {
        let here = source.offset();
        let whole = source
            .at_least(fields.size)
            .map_err(|e| (done + 1, here, e))?;
        if !whole {
            return Err((
                done + 1,
                here,
                Error::truncated(format!("the file ends after {done} of {count} records")),
            ));
        }
        let window = source.window();
        let take =
            (window.len() / fields.size).min(usize::try_from(count - done).unwrap_or(usize::MAX));
        if role == Role::Vertex {
            for (i, bytes) in window[..take * fields.size]
                .chunks_exact(fields.size)
                .enumerate()
            {
                let mut v = [0.0; KEPT];
                for &(which, kind, at) in &fields.kept {
                    v[which] = kind.value(&bytes[at..], order);
                }
                let byte = here + (i * fields.size) as u64;
                mesh.vertex(&v)
                    .map_err(|e| (done + i as u64 + 1, byte, e))?;
            }
        }
        source.consume(take * fields.size);
        done += take as u64;
    }
    Ok(())
}

/// Records with lists, whose size is known only by walking through them.
fn listed_records(
    source: &mut Source,
    order: Order,
    element: &Element,
    role: Role,
    mesh: &mut Mesh,
) -> Result<(), At> {
    let corners_at = list_of_corners(element);
    let mut corners = Vec::new();
    let plain = role == Role::Face && are_plain_faces(element, order);
    let mut number = 0;
    while number < element.count {
        if plain {
            number += plain_triangles(source, element.count - number, mesh);
            if number == element.count {
                break;
            }
        }
        number += 1;
        if source.window().len() < PIECE / 16 && !source.is_last() {
            let here = source.offset();
            source.more().map_err(|e| (number, here, e))?;
        }
        let here = source.offset();
        let at = |e| (number, here, e);
        let mut walk = Walk {
            source,
            order,
            place: 0,
        };
        let mut v = [0.0; KEPT];
        for (i, p) in element.properties.iter().enumerate() {
            match p.shape {
                Shape::One(kind) => {
                    let value = walk.one(kind).map_err(at)?;
                    if let Some(which) = kept_as(&p.name) {
                        v[which] = value;
                    }
                }
                Shape::List { count, item } => {
                    let bytes = walk.list(count, item).map_err(at)?;
                    if corners_at == Some(i) && matches!(role, Role::Face | Role::Strips) {
                        corners.clear();
                        for raw in bytes.chunks_exact(item.size()) {
                            let corner = mesh.corner(item.value(raw, order), role).map_err(at)?;
                            mesh.corner_of_list(corner, &mut corners);
                        }
                    }
                }
            }
        }
        let used = walk.place;
        source.consume(used);
        match role {
            Role::Vertex => mesh.vertex(&v).map_err(at)?,
            Role::Face => mesh.face(&corners),
            Role::Strips => mesh.strip(&corners),
            Role::Pass => {}
        }
    }
    Ok(())
}

/// Goes through a record from its start.
struct Walk<'w, 'a> {
    source: &'w mut Source<'a>,
    order: Order,
    place: usize,
}

impl Walk<'_, '_> {
    fn take(&mut self, bytes: usize) -> Result<&[u8], Error> {
        let stop = self.place + bytes;
        if self.source.window().len() < stop && !self.source.at_least(stop)? {
            return Err(Error::truncated("the file ends within a record"));
        }
        let start = std::mem::replace(&mut self.place, stop);
        Ok(&self.source.window()[start..stop])
    }

    fn one(&mut self, kind: Type) -> Result<f64, Error> {
        let order = self.order;
        Ok(kind.value(self.take(kind.size())?, order))
    }

    fn list(&mut self, count: Type, item: Type) -> Result<&[u8], Error> {
        let n = self.one(count)?;
        if n < 0.0 {
            return Err(Error::malformed(format!(
                "expected the length of a list, found \"{n}\""
            )));
        }
        let room = self.source.left() - self.place as u64;
        if n * item.size() as f64 > room as f64 {
            let says = format!(
                "a list promises {n} items of {} bytes, the file has {room} bytes left",
                item.size()
            );
            return Err(Error::truncated(says));
        }
        self.take(n as usize * item.size())
    }
}
