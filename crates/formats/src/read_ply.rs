//! PLY: elements of named properties, as text or binary.

use geom::RawPoints;

use crate::Error;
use crate::read_ply_header::{Element, Header, Order, Property, Shape, Type, header};
use crate::read_scan::{Content, LARGEST, Note};
use crate::read_source::Source;
use crate::{read_ply_binary, read_ply_text};

/// Reads a PLY.
pub(crate) fn read(source: &mut Source) -> Result<Content, Error> {
    let header = header(source.window(), source.size())?;
    source.consume(header.bytes);
    let mut mesh = Mesh::for_header(&header, source.left())?;
    let mut line = header.lines;
    let mut passed = Vec::new();
    for element in header.elements.iter().filter(|e| !e.properties.is_empty()) {
        let role = match element.name.as_str() {
            "vertex" => Role::Vertex,
            "face" if list_of_corners(element).is_some() => Role::Face,
            "tristrips" if list_of_corners(element).is_some() => Role::Strips,
            _ => Role::Pass,
        };
        if role == Role::Pass && element.count > 0 {
            passed.push(format!("\"{}\"", element.name));
        }
        match header.order {
            Order::Text => {
                read_ply_text::element(source, &header, element, role, &mut mesh, &mut line)?;
            }
            order => read_ply_binary::element(source, order, element, role, &mut mesh)?,
        }
    }
    let format = match header.order {
        Order::Text => "text PLY",
        Order::Little => "binary PLY, little-endian",
        Order::Big => "binary PLY, big-endian",
    };
    let tail = if header.order == Order::Text {
        0
    } else {
        source.left()
    };
    let mut content = mesh.finish(format)?;
    content.unit = header.unit;
    content.notes.extend(Note::counted(
        tail,
        "bytes after the last record were passed over",
        "",
    ));
    if !passed.is_empty() {
        content.notes.push(Note::plain(format!(
            "the elements {} were passed over",
            passed.join(", ")
        )));
    }
    Ok(content)
}

/// What an element is to us.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Role {
    Vertex,
    Face,
    Strips,
    Pass,
}

/// Which property of a face or strip lists its corners.
pub(crate) fn list_of_corners(element: &Element) -> Option<usize> {
    let lists = |p: &Property| matches!(p.shape, Shape::List { item, .. } if !item.is_float());
    element
        .properties
        .iter()
        .position(|p| lists(p) && matches!(p.name.as_str(), "vertex_indices" | "vertex_index"))
}

/// A value of a vertex that is kept: x, y, z, red, green, blue, nx, ny, nz in this order.
pub(crate) const KEPT: usize = 9;

/// Which of the kept values a property is.
pub(crate) fn kept_as(name: &str) -> Option<usize> {
    Some(match name {
        "x" => 0,
        "y" => 1,
        "z" => 2,
        "red" | "r" | "diffuse_red" => 3,
        "green" | "g" | "diffuse_green" => 4,
        "blue" | "b" | "diffuse_blue" => 5,
        "nx" | "normal_x" => 6,
        "ny" | "normal_y" => 7,
        "nz" | "normal_z" => 8,
        _ => return None,
    })
}

/// Vertices and triangles as they come.
pub(crate) struct Mesh {
    points: RawPoints,
    colours: Option<Vec<[u8; 3]>>,
    /// Colours as they stand in a text, 0 to 1 or 0 to 255: which is known at the end. As long as the points or empty.
    loose_colours: Vec<[f32; 3]>,
    /// What a colour value is multiplied with to reach 0 to 255.
    colour_scale: f64,
    normals: Option<Vec<[f32; 3]>>,
    triangles: Vec<[u32; 3]>,
    /// Whether vertices are referred to, so that none may be left out.
    all_needed: bool,
    promised: u32,
    taken: u64,
    dropped: u64,
    fanned: u64,
    collapsed: u64,
}

impl Mesh {
    /// Room is set aside for what is promised, but for no more than `left` bytes of usual records can hold.
    fn for_header(header: &Header, left: u64) -> Result<Self, Error> {
        let at_line = |e: Error| e.at_line(header.lines);
        let vertex = header
            .elements
            .iter()
            .find(|e| e.name == "vertex")
            .ok_or_else(|| {
                at_line(Error::malformed(
                    "expected an element \"vertex\" in the header, found none",
                ))
            })?;
        if header
            .elements
            .iter()
            .filter(|e| e.name == "vertex")
            .count()
            > 1
        {
            return Err(at_line(Error::malformed(
                "expected one element \"vertex\" in the header, found more",
            )));
        }
        if vertex.count == 0 {
            return Err(at_line(Error::empty("the header promises 0 vertices")));
        }
        let promised = u32::try_from(vertex.count)
            .ok()
            .filter(|&n| n < u32::MAX)
            .ok_or_else(|| {
                at_line(Error::too_large(format!(
                    "{} vertices; 4294967294 can be numbered",
                    vertex.count
                )))
            })?;
        let kind = |which: usize| {
            vertex.properties.iter().find_map(|p| match p.shape {
                Shape::One(t) if kept_as(&p.name) == Some(which) => Some(t),
                _ => None,
            })
        };
        let mut doubles = false;
        for (which, name) in ["x", "y", "z"].into_iter().enumerate() {
            let found = kind(which).ok_or_else(|| {
                at_line(Error::malformed(format!(
                    "expected a vertex property \"{name}\", found none"
                )))
            })?;
            doubles |= matches!(found, Type::F64 | Type::I32 | Type::U32);
        }
        let (per_vertex, per_face) = if header.order == Order::Text {
            (16, 8)
        } else {
            (1, 13)
        };
        let room = vertex.count.min(left / per_vertex) as usize;
        let colour = (kind(4).is_some() && kind(5).is_some())
            .then(|| kind(3))
            .flatten();
        let normals = (6..9).all(|which| kind(which).is_some());
        let all_needed = header
            .elements
            .iter()
            .any(|e| e.count > 0 && e.name != "vertex" && list_of_corners(e).is_some());
        let faces = header
            .elements
            .iter()
            .filter(|e| e.name == "face" && list_of_corners(e).is_some())
            .map(|e| e.count);
        Ok(Self {
            points: if doubles {
                RawPoints::F64(Vec::with_capacity(room))
            } else {
                RawPoints::F32(Vec::with_capacity(room))
            },
            colours: colour.map(|_| Vec::with_capacity(room)),
            loose_colours: Vec::new(),
            colour_scale: match colour {
                Some(Type::F32 | Type::F64) => 255.0,
                Some(Type::I16 | Type::U16) => 1.0 / 257.0,
                _ => 1.0,
            },
            normals: normals.then(|| Vec::with_capacity(room)),
            triangles: geom::room_for(
                faces.fold(0, u64::saturating_add).min(left / per_face) as usize
            ),
            all_needed,
            promised,
            taken: 0,
            dropped: 0,
            fanned: 0,
            collapsed: 0,
        })
    }

    /// A mesh of which nothing is known beforehand: coordinates in double precision, no vertex without a place.
    pub fn growing() -> Self {
        Self {
            points: RawPoints::F64(Vec::new()),
            colours: None,
            loose_colours: Vec::new(),
            colour_scale: 1.0,
            normals: None,
            triangles: Vec::new(),
            all_needed: true,
            promised: u32::MAX,
            taken: 0,
            dropped: 0,
            fanned: 0,
            collapsed: 0,
        }
    }

    /// Points that are not a number are left out and counted: nothing refers to them.
    pub fn may_lack_places(&mut self) {
        self.all_needed = false;
    }

    /// Precision, colours and normals as the properties of an element say.
    pub fn as_given(&mut self, element: &Element) {
        let kind = |which: usize| {
            element.properties.iter().find_map(|p| match p.shape {
                Shape::One(t) if kept_as(&p.name) == Some(which) => Some(t),
                _ => None,
            })
        };
        if (0..3).all(|k| kind(k) == Some(Type::F32)) {
            self.points = RawPoints::F32(Vec::new());
        }
        self.colours = (3..6).all(|k| kind(k).is_some()).then(Vec::new);
        self.normals = (6..9).all(|k| kind(k).is_some()).then(Vec::new);
    }

    /// Vertices met so far.
    pub fn taken(&self) -> u64 {
        self.taken
    }

    /// Takes a vertex of a text, whose colour, if it has one, goes to 1 or to 255.
    pub fn vertex_with(&mut self, v: &[f64; KEPT], coloured: bool) -> Result<(), Error> {
        let before = self.points.len();
        // How many will come is not known: a quarter more at a time, for doubling would take three times what is held.
        match &mut self.points {
            RawPoints::F32(points) => roomier(points),
            RawPoints::F64(points) => roomier(points),
        }
        roomier(&mut self.loose_colours);
        self.vertex(v)?;
        let now = self.points.len();
        if now > before && (coloured || !self.loose_colours.is_empty()) {
            // Those before it had none.
            self.loose_colours.resize(before, [f32::NAN; 3]);
            self.loose_colours.push(if coloured {
                [v[3], v[4], v[5]].map(|c| c as f32)
            } else {
                [f32::NAN; 3]
            });
        }
        if now >= u32::MAX as usize {
            return Err(Error::too_large("more than 4294967294 points"));
        }
        Ok(())
    }

    /// Takes a vertex.
    #[inline]
    pub fn vertex(&mut self, v: &[f64; KEPT]) -> Result<(), Error> {
        self.taken += 1;
        if !v[..3].iter().all(|c| c.abs() <= LARGEST) {
            if self.all_needed || v[..3].iter().all(|c| c.is_finite()) {
                return Err(self.no_place(v));
            }
            self.dropped += 1;
            return Ok(());
        }
        match &mut self.points {
            RawPoints::F32(points) => points.push([v[0] as f32, v[1] as f32, v[2] as f32]),
            RawPoints::F64(points) => points.push([v[0], v[1], v[2]]),
        }
        if let Some(colours) = &mut self.colours {
            let scale = self.colour_scale;
            colours.push([v[3], v[4], v[5]].map(|c| (c * scale).round() as u8));
        }
        if let Some(normals) = &mut self.normals {
            normals.push(unit([v[6], v[7], v[8]]));
        }
        Ok(())
    }

    /// Notes vertices that were met and are fine.
    pub fn met(&mut self, vertices: u64) {
        self.taken += vertices;
    }

    /// Whether a vertex is a place. One that is none is counted where it may be left out, and an error where not.
    pub fn has_place(&mut self, p: [f32; 3]) -> Result<bool, Error> {
        self.taken += 1;
        if p.iter().all(|c| c.abs() <= LARGEST as f32) {
            return Ok(true);
        }
        if self.all_needed || p.iter().all(|c| c.is_finite()) {
            let mut v = [0.0; KEPT];
            for (to, from) in v.iter_mut().zip(p) {
                *to = f64::from(from);
            }
            return Err(self.no_place(&v));
        }
        self.dropped += 1;
        Ok(false)
    }

    /// Sets the places of all vertices, read elsewhere.
    pub fn set_places(&mut self, points: Vec<[f32; 3]>) {
        self.points = RawPoints::F32(points);
    }

    /// Takes triangles (whether it is one, and its corners) up to the first that is odd; how many were taken.
    pub fn plain_triangles(&mut self, all: impl Iterator<Item = (bool, [u32; 3])>) -> usize {
        let mut taken = 0;
        for (three, [a, b, c]) in all {
            let fine = three && a.max(b).max(c) < self.promised && a != b && b != c && c != a;
            if !fine {
                break;
            }
            roomier(&mut self.triangles);
            self.triangles.push([a, b, c]);
            taken += 1;
        }
        taken
    }

    #[cold]
    fn no_place(&self, v: &[f64; KEPT]) -> Error {
        Error::malformed(format!(
            "expected three coordinates of at most {LARGEST:e}, found \"{:?} {:?} {:?}\"",
            v[0], v[1], v[2]
        ))
        .at_record("vertex", self.taken)
        .hinting(
            "the scan is damaged there: repair or export it once more in the scanner's program",
        )
    }

    /// Takes the corners of a face: a triangle as it is, a polygon as a fan about its first corner.
    #[inline]
    pub fn face(&mut self, corners: &[u32]) {
        if corners.len() < 3 {
            self.collapsed += 1;
        }
        self.fanned += u64::from(corners.len() > 3);
        for pair in corners.get(1..).unwrap_or_default().windows(2) {
            self.triangle([corners[0], pair[0], pair[1]]);
        }
    }

    /// Adds a corner to a list of corners; the mark of an end closes the strip and starts a new list.
    #[inline]
    pub fn corner_of_list(&mut self, corner: Option<u32>, corners: &mut Vec<u32>) {
        if let Some(corner) = corner {
            corners.push(corner);
        } else {
            self.strip(corners);
            corners.clear();
        }
    }

    /// Takes a strip: every corner makes a triangle with the two before it, turned about each time.
    pub fn strip(&mut self, corners: &[u32]) {
        for (i, three) in corners.windows(3).enumerate() {
            let [a, b, c] = [three[0], three[1], three[2]];
            self.triangle(if i % 2 == 0 { [a, b, c] } else { [b, a, c] });
        }
    }

    fn triangle(&mut self, [a, b, c]: [u32; 3]) {
        if a == b || b == c || c == a {
            self.collapsed += 1;
            return;
        }
        roomier(&mut self.triangles);
        self.triangles.push([a, b, c]);
    }

    /// A corner as a vertex number; `None` marks the end of a strip.
    #[inline]
    pub fn corner(&self, value: f64, role: Role) -> Result<Option<u32>, Error> {
        if value >= 0.0 && value < f64::from(self.promised) && value.fract() == 0.0 {
            return Ok(Some(value as u32));
        }
        if role == Role::Strips && value == -1.0 {
            return Ok(None);
        }
        Err(Error::malformed(format!(
            "expected a vertex number from 0 to {}, found \"{value}\"",
            self.promised - 1
        ))
        .hinting(
            "the mesh is damaged there: repair or export it once more in the scanner's program",
        ))
    }

    /// What was read.
    pub fn finish(self, format: &'static str) -> Result<Content, Error> {
        if self.points.is_empty() {
            return Err(Error::empty(format!(
                "none of the {} vertices has coordinates",
                self.taken
            )));
        }
        let mut notes = Vec::new();
        let nothing = "points without coordinates (nothing came back to the scanner) were left out";
        notes.extend(Note::counted(self.dropped, nothing, ""));
        notes.extend(Note::counted(
            self.fanned,
            "faces with more than three corners were cut into triangles",
            "",
        ));
        notes.extend(Note::counted(
            self.collapsed,
            "faces with two equal corners were left out",
            "",
        ));
        if self.all_needed && self.triangles.is_empty() && self.promised < u32::MAX {
            notes.push(Note::plain("the file promises faces and holds none with three corners; it is used as a point cloud"));
        }
        Ok(Content {
            format,
            points: self.points,
            triangles: self.triangles,
            colours: self.colours.unwrap_or_else(|| settled(&self.loose_colours)),
            normals: self.normals.unwrap_or_default(),
            names: Vec::new(),
            unit: None,
            notes,
        })
    }
}

/// Room for a quarter more where there is none left.
#[inline]
fn roomier<T>(list: &mut Vec<T>) {
    if list.len() == list.capacity() {
        list.reserve_exact(list.len() / 4 + 1024);
    }
}

/// Colours of a text in bytes: none is above 1, then they go to 1. Points without one are grey.
fn settled(loose: &[[f32; 3]]) -> Vec<[u8; 3]> {
    let most = loose.iter().flatten().copied().fold(0.0, f32::max);
    let scale = if most <= 1.0 { 255.0 } else { 1.0 };
    loose
        .iter()
        .map(|c| {
            if c.iter().any(|v| v.is_nan()) {
                [128; 3]
            } else {
                c.map(|v| (v * scale).round() as u8)
            }
        })
        .collect()
}

/// The direction of length one; zero where there is none.
pub(crate) fn unit(n: [f64; 3]) -> [f32; 3] {
    let length = n.iter().map(|c| c * c).sum::<f64>().sqrt();
    if length > 0.0 && length.is_finite() {
        n.map(|c| (c / length) as f32)
    } else {
        [0.0; 3]
    }
}
