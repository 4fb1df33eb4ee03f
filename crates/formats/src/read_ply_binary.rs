//! Binary records of a PLY.

use crate::Error;
use crate::read_ply::{KEPT, Mesh, Role, kept_as, list_of_corners};
use crate::read_ply_header::{Element, Order, Shape, Type};
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
    for number in 1..=element.count {
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
