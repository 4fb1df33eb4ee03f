//! Drawings for CAD in STEP (ISO 10303-21, AP214): one product per side with its edge, outline, holes, junction lines
//! and stations as a geometrically bounded wireframe, and its faces as trimmed planes. Millimetres, part axes.

use geom::{
    ArcPath, ArcSegment, Plane, Point, Polyline, SplineBasis, SplineFit, Unit, Vector,
    any_perpendicular,
};
use record::{Drawing, DrawnFace, DrawnHole};

use crate::read_step::{StepCurve, StepProduct, read_step};
use crate::step_text::{StepText, real, reals, refs, string};
use crate::write_dxf::same_path;
use crate::{Refused, side_word};

/// How far the written edge may be from the points it goes through, mm.
const EDGE_TOLERANCE_MM: f64 = 2e-3;
/// Most spans of the edge.
const MOST_SPANS: usize = 800;
/// How long a hole axis is drawn, mm.
const AXIS_MM: f64 = 30.0;

/// The drawings of one part (usually left and right) as text of a STEP file, read back and compared before it is
/// handed out. `program` is written as the originating system.
///
/// # Errors
/// When there is nothing to draw or the file does not read back as the drawings: names, edge distance, closing, area,
/// turning direction, holes, junction lines, stations.
pub fn step_text(drawings: &[&Drawing], program: &str) -> Result<String, Refused> {
    let first = drawings
        .first()
        .ok_or_else(|| Refused::because("there is nothing to draw"))?;
    let mut out = StepText::default();
    let context = Context::write(&mut out);
    for drawing in drawings {
        Writer {
            out: &mut out,
            context: &context,
        }
        .write(drawing);
    }
    let text = out.file(
        &first.part_name,
        "curves in part axes, mm; every value is named",
        program,
    );
    let products = read_step(&text)?;
    if products.len() != drawings.len() {
        return Err(Refused::because("not every side read back"));
    }
    for (drawing, product) in drawings.iter().zip(&products) {
        check(drawing, product)
            .map_err(|why| Refused::because(format!("STEP, {}: {why}", side_word(drawing.side))))?;
    }
    Ok(text)
}

/// What a product is called.
fn product_name(drawing: &Drawing) -> String {
    format!("{}, {}", drawing.part_name, side_word(drawing.side))
}

/// The instances all products share.
pub(crate) struct Context {
    product: u32,
    definition: u32,
    geometry: u32,
}

impl Context {
    pub(crate) fn write(out: &mut StepText) -> Self {
        let app =
            out.add("APPLICATION_CONTEXT('core data for automotive mechanical design processes')");
        out.add(&format!(
            "APPLICATION_PROTOCOL_DEFINITION('international standard','automotive_design',2000,#{app})"
        ));
        let product = out.add(&format!("PRODUCT_CONTEXT('',#{app},'mechanical')"));
        let definition = out.add(&format!(
            "PRODUCT_DEFINITION_CONTEXT('part definition',#{app},'design')"
        ));
        let mm = out.add("(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.MILLI.,.METRE.))");
        let rad = out.add("(NAMED_UNIT(*)PLANE_ANGLE_UNIT()SI_UNIT($,.RADIAN.))");
        let sr = out.add("(NAMED_UNIT(*)SI_UNIT($,.STERADIAN.)SOLID_ANGLE_UNIT())");
        let near = out.add(&format!(
            "UNCERTAINTY_MEASURE_WITH_UNIT(LENGTH_MEASURE(1.E-4),#{mm},'distance_accuracy_value','')"
        ));
        let geometry = out.add(&format!(
            "(GEOMETRIC_REPRESENTATION_CONTEXT(3)GLOBAL_UNCERTAINTY_ASSIGNED_CONTEXT((#{near}))\
             GLOBAL_UNIT_ASSIGNED_CONTEXT((#{mm},#{rad},#{sr}))REPRESENTATION_CONTEXT('part axes','3D'))"
        ));
        Self {
            product,
            definition,
            geometry,
        }
    }
}

/// Writes products.
pub(crate) struct Writer<'a> {
    pub(crate) out: &'a mut StepText,
    pub(crate) context: &'a Context,
}

impl Writer<'_> {
    fn write(&mut self, drawing: &Drawing) {
        let name = product_name(drawing);
        let about = if drawing.mirrored {
            "mirror image of what was measured"
        } else {
            "as measured"
        };
        let [shape, axes] = self.product(&name, about);
        let curves = self.curves(drawing);
        let wire = self.wire(&name, [shape, axes], &curves);
        let (name, geometry) = (string(&name), self.context.geometry);
        if drawing.faces.is_empty() {
            return;
        }
        let faces: Vec<u32> = drawing.faces.iter().map(|f| self.face(f)).collect();
        let set = self
            .out
            .add(&format!("GEOMETRIC_SET({name},{})", refs(&faces)));
        let flats = self.out.add(&format!(
            "GEOMETRICALLY_BOUNDED_SURFACE_SHAPE_REPRESENTATION({name},(#{axes},#{set}),#{geometry})"
        ));
        self.out.add(&format!(
            "SHAPE_REPRESENTATION_RELATIONSHIP('','',#{wire},#{flats})"
        ));
    }

    /// A product of chains of points, each with its name.
    pub(crate) fn chains(&mut self, name: &str, about: &str, chains: &[(String, &[Point])]) {
        let [shape, axes] = self.product(name, about);
        let curves: Vec<u32> = chains
            .iter()
            .map(|(name, points)| self.polyline(name, points))
            .collect();
        self.wire(name, [shape, axes], &curves);
    }

    /// A product; its shape and its axes.
    fn product(&mut self, name: &str, about: &str) -> [u32; 2] {
        let (name, about) = (string(name), string(about));
        let Context {
            product,
            definition,
            ..
        } = *self.context;
        let p = self
            .out
            .add(&format!("PRODUCT({name},{name},{about},(#{product}))"));
        self.out.add(&format!(
            "PRODUCT_RELATED_PRODUCT_CATEGORY('part','',(#{p}))"
        ));
        let f = self
            .out
            .add(&format!("PRODUCT_DEFINITION_FORMATION('','',#{p})"));
        let d = self.out.add(&format!(
            "PRODUCT_DEFINITION('design','',#{f},#{definition})"
        ));
        let shape = self
            .out
            .add(&format!("PRODUCT_DEFINITION_SHAPE('','',#{d})"));
        let axes = self.axes(
            &Point::origin(),
            &Vector::z_axis(),
            &Vector::x_axis(),
            "part axes",
        );
        [shape, axes]
    }

    /// The curves of a product as its wireframe.
    fn wire(&mut self, name: &str, [shape, axes]: [u32; 2], curves: &[u32]) -> u32 {
        let (name, geometry) = (string(name), self.context.geometry);
        let set = self
            .out
            .add(&format!("GEOMETRIC_CURVE_SET({name},{})", refs(curves)));
        let wire = self.out.add(&format!(
            "GEOMETRICALLY_BOUNDED_WIREFRAME_SHAPE_REPRESENTATION({name},(#{axes},#{set}),#{geometry})"
        ));
        self.out.add(&format!(
            "SHAPE_DEFINITION_REPRESENTATION(#{shape},#{wire})"
        ));
        wire
    }

    fn curves(&mut self, drawing: &Drawing) -> Vec<u32> {
        let mut items = Vec::new();
        if let Some(edge) = Edge::of(drawing) {
            items.push(self.edge(&edge));
        }
        for (name, path) in [("cut", &drawing.cut), ("mark", &drawing.mark)] {
            for segment in path.iter().flat_map(|p| p.split_wide_arcs().segments()) {
                items.push(self.segment(name, &segment));
            }
        }
        for hole in &drawing.holes {
            items.extend(self.hole(hole));
        }
        for j in &drawing.junctions {
            items.push(self.polyline(&format!("junction {}", j.id), &[j.start, j.end]));
        }
        for s in &drawing.stations {
            items.push(self.point(&s.name, &s.at));
        }
        items
    }

    fn point(&mut self, name: &str, p: &Point) -> u32 {
        self.out.add(&format!(
            "CARTESIAN_POINT({},{})",
            string(name),
            reals(&[p.x, p.y, p.z])
        ))
    }

    fn direction(&mut self, v: &Unit) -> u32 {
        self.out
            .add(&format!("DIRECTION('',{})", reals(&[v.x, v.y, v.z])))
    }

    fn axes(&mut self, at: &Point, z: &Unit, x: &Unit, name: &str) -> u32 {
        let (p, z, x) = (self.point("", at), self.direction(z), self.direction(x));
        self.out.add(&format!(
            "AXIS2_PLACEMENT_3D({},#{p},#{z},#{x})",
            string(name)
        ))
    }

    fn polyline(&mut self, name: &str, points: &[Point]) -> u32 {
        let points: Vec<u32> = points.iter().map(|p| self.point("", p)).collect();
        self.out
            .add(&format!("POLYLINE({},{})", string(name), refs(&points)))
    }

    fn edge(&mut self, edge: &Edge) -> u32 {
        match edge {
            Edge::Chain(points) => self.polyline("opening edge", points),
            Edge::Spline { poles, closed } => {
                let spans = poles.len() - 3;
                let points: Vec<u32> = poles.iter().map(|p| self.point("", p)).collect();
                let counts: Vec<String> = (0..=spans)
                    .map(|i| if i == 0 || i == spans { "4" } else { "1" }.to_owned())
                    .collect();
                let knots: Vec<f64> = (0..=spans).map(|i| i as f64).collect();
                self.out.add(&format!(
                    "B_SPLINE_CURVE_WITH_KNOTS('opening edge',3,{},.UNSPECIFIED.,{},.U.,({}),{},.UNSPECIFIED.)",
                    refs(&points),
                    if *closed { ".T." } else { ".F." },
                    counts.join(","),
                    reals(&knots),
                ))
            }
        }
    }

    /// A line or arc in the flat of the part.
    fn segment(&mut self, name: &str, s: &ArcSegment) -> u32 {
        let flat = |p: &nalgebra::Point2<f64>| Point::new(p.x, p.y, 0.0);
        let Some((centre, radius)) = s.circle() else {
            return self.polyline(name, &[flat(&s.start), flat(&s.end)]);
        };
        let z = Unit::new_unchecked(Vector::z() * s.bulge.signum());
        let x = Unit::new_normalize(flat(&s.start) - flat(&centre));
        let axes = self.axes(&flat(&centre), &z, &x, "");
        let circle = self
            .out
            .add(&format!("CIRCLE('',#{axes},{})", real(radius)));
        self.out.add(&format!(
            "TRIMMED_CURVE({},#{circle},(PARAMETER_VALUE(0.)),(PARAMETER_VALUE({})),.T.,.PARAMETER.)",
            string(name),
            real(s.sweep().abs()),
        ))
    }

    /// The circle as found, the one to cut, and the axis.
    fn hole(&mut self, hole: &DrawnHole) -> Vec<u32> {
        let across = any_perpendicular(&hole.axis);
        let mut items = Vec::new();
        let sizes = [
            (
                format!("hole {} on the body", hole.id),
                Some(hole.body_diameter_mm),
            ),
            (
                format!("hole {} to cut", hole.id),
                hole.cut_diameter_mm.filter(|_| hole.slot.is_none()),
            ),
        ];
        for (name, diameter) in sizes {
            if let Some(d) = diameter {
                let axes = self.axes(&hole.centre, &hole.axis, &across, "");
                items.push(self.out.add(&format!(
                    "CIRCLE({},#{axes},{})",
                    string(&name),
                    real(d / 2.0)
                )));
            }
        }
        let half = hole.axis.into_inner() * (AXIS_MM / 2.0);
        let ends = [hole.centre - half, hole.centre + half];
        items.push(self.polyline(&format!("axis {}", hole.id), &ends));
        items
    }

    /// A face as a rectangle of its plane of the size that was seen.
    fn face(&mut self, face: &DrawnFace) -> u32 {
        let Plane { normal, .. } = face.plane;
        let along = any_perpendicular(&normal);
        let axes = self.axes(&face.plane.foot(&face.centre), &normal, &along, "");
        let plane = self.out.add(&format!("PLANE('',#{axes})"));
        let [u, v] = face.size_mm.map(|s| s.max(1.0) / 2.0);
        self.out.add(&format!(
            "RECTANGULAR_TRIMMED_SURFACE({},#{plane},{},{},{},{},.T.,.T.)",
            string(&format!("face {}", face.id)),
            real(-u),
            real(u),
            real(-v),
            real(v),
        ))
    }
}

/// The edge in space as it is written.
enum Edge {
    Spline { poles: Vec<Point>, closed: bool },
    Chain(Vec<Point>),
}

impl Edge {
    /// A cubic spline through the points of the edge (evenly spaced, more or less); where that strays from the points (sharp corners),
    /// the chain of points itself.
    fn of(drawing: &Drawing) -> Option<Self> {
        let chain = Polyline::new(drawing.edge.iter().copied(), drawing.edge_closed)?;
        let spline = Self::spline(&chain);
        let close = |e: &Self| check_edge(&chain, &e.curve()).is_ok();
        Some(spline.filter(close).unwrap_or_else(|| {
            let mut points = chain.points().to_vec();
            if chain.closed() {
                points.push(points[0]);
            }
            Self::Chain(points)
        }))
    }

    fn spline(chain: &Polyline) -> Option<Self> {
        // Every point, or every k-th of many: the spline goes through them, one span from each to the next.
        let every = chain.points().len().div_ceil(MOST_SPANS);
        let points: Vec<Vector> = chain
            .points()
            .iter()
            .step_by(every)
            .map(|p| p.coords)
            .collect();
        let n = points.len();
        let spans = if chain.closed() { n } else { n - 1 };
        let at: Vec<f64> = (0..n).map(|i| i as f64).collect();
        let basis = SplineBasis::new(0.0, spans as f64, spans, chain.closed());
        let fit = SplineFit::new(basis, &at, &[], 0.0)?;
        let poles = fit
            .curve(&points)
            .clamped()
            .into_iter()
            .map(Point::from)
            .collect();
        Some(Self::Spline {
            poles,
            closed: chain.closed(),
        })
    }

    fn curve(&self) -> StepCurve {
        match self {
            Self::Chain(points) => StepCurve::Polyline(points.clone()),
            Self::Spline { poles, .. } => StepCurve::spline_over_whole_numbers(poles.clone()),
        }
    }
}

/// Compares what was read back with what was to be written.
fn check(drawing: &Drawing, read: &StepProduct) -> Result<(), String> {
    if read.name != product_name(drawing) {
        return Err(format!("it came back as \"{}\"", read.name));
    }
    if let Some(chain) = Polyline::new(drawing.edge.iter().copied(), drawing.edge_closed) {
        let curve = read.curve("opening edge").ok_or("the edge is missing")?;
        check_edge(&chain, curve)?;
    }
    for (name, path) in [("cut", &drawing.cut), ("mark", &drawing.mark)] {
        if let Some(path) = path {
            let found = read.flat_path(name, path.is_closed())?;
            let expected: ArcPath = path.split_wide_arcs();
            same_path(&expected, &found).map_err(|why| format!("{name}: {why}"))?;
        }
    }
    for hole in &drawing.holes {
        let name = format!("hole {} on the body", hole.id);
        match read.curve(&name) {
            Some(StepCurve::Circle {
                centre,
                radius,
                axis,
            }) => {
                let off = (centre - hole.centre)
                    .norm()
                    .max((radius * 2.0 - hole.body_diameter_mm).abs());
                if off.is_nan() || off > 1e-6 || axis.dot(&hole.axis) < 1.0 - 1e-9 {
                    return Err(format!("{name} is {off:.1e} mm off"));
                }
            }
            _ => return Err(format!("{name} is missing")),
        }
    }
    for j in &drawing.junctions {
        let name = format!("junction {}", j.id);
        let kept = matches!(read.curve(&name), Some(StepCurve::Polyline(p))
            if p.len() == 2 && (p[0] - j.start).norm() < 1e-6 && (p[1] - j.end).norm() < 1e-6);
        if !kept {
            return Err(format!("{name} did not read back"));
        }
    }
    for s in &drawing.stations {
        let kept = read
            .points
            .iter()
            .any(|(n, p)| *n == s.name && (p - s.at).norm() < 1e-6);
        if !kept {
            return Err(format!("station \"{}\" did not read back", s.name));
        }
    }
    if read.faces.len() != drawing.faces.len() {
        return Err("a face is missing".into());
    }
    Ok(())
}

fn check_edge(chain: &Polyline, curve: &StepCurve) -> Result<(), String> {
    let samples = curve.samples(8);
    let open = (samples[samples.len() - 1] - samples[0]).norm();
    if chain.closed() && open > 1e-6 {
        return Err(format!("the edge is open by {open:.1e} mm"));
    }
    let found = Polyline::new(samples, false).ok_or("the edge is empty")?;
    let off = chain
        .points()
        .iter()
        .map(|p| found.distance(p))
        .fold(0.0, f64::max);
    if off > EDGE_TOLERANCE_MM {
        return Err(format!("the edge is {off:.4} mm off"));
    }
    let spacing = chain.length() / chain.segments() as f64;
    let back = found
        .points()
        .iter()
        .map(|p| chain.distance(p))
        .fold(0.0, f64::max);
    if back > 0.05 + 0.05 * spacing {
        return Err(format!(
            "the edge swings out by {back:.3} mm between its points"
        ));
    }
    let (a, b) = (chain.area_xy(), found.area_xy());
    if chain.closed() && (a - b).abs() > 1e-3 * a.abs() + EDGE_TOLERANCE_MM * chain.length() {
        return Err(format!("the edge encloses {b:.1} mm2 instead of {a:.1}"));
    }
    Ok(())
}

#[cfg(test)]
mod tests;
