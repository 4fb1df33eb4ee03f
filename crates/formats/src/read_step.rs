//! A small reader of named curves in STEP files, written apart from the writer so that it can check what was written.

mod parse;

use std::collections::BTreeMap;

use geom::{ArcPath, ArcPiece, Point, Unit, Vector, bulge_of};
use nalgebra::Point2;

use crate::Refused;
use parse::{Instance, Value, instances};

/// A curve of a STEP file, in the unit of the file.
#[derive(Clone, Debug, PartialEq)]
pub enum StepCurve {
    /// Straight segments.
    Polyline(Vec<Point>),
    /// A whole circle.
    Circle {
        /// Middle.
        centre: Point,
        /// Axis.
        axis: Unit,
        /// Radius.
        radius: f64,
    },
    /// Part of a circle, counter-clockwise about its axis.
    Arc {
        /// Middle.
        centre: Point,
        /// Axis.
        axis: Unit,
        /// Direction of angle 0.
        zero: Unit,
        /// Radius.
        radius: f64,
        /// First and last angle, rad.
        angles: [f64; 2],
    },
    /// A B-spline.
    Spline {
        /// Degree.
        degree: usize,
        /// Control points.
        poles: Vec<Point>,
        /// Every knot, repeated as often as it counts.
        knots: Vec<f64>,
    },
}

impl StepCurve {
    /// A cubic that begins and ends in its first and last pole, with a knot at every whole number between.
    pub(crate) fn spline_over_whole_numbers(poles: Vec<Point>) -> Self {
        let spans = poles.len().saturating_sub(3);
        let knots = (0..spans + 7)
            .map(|i| i.saturating_sub(3).min(spans) as f64)
            .collect();
        Self::Spline {
            degree: 3,
            poles,
            knots,
        }
    }

    /// Points along the curve, ends included: `per_span` per knot span of a spline, 64 per arc.
    pub fn samples(&self, per_span: usize) -> Vec<Point> {
        match self {
            Self::Polyline(points) => points.clone(),
            Self::Circle {
                centre,
                axis,
                radius,
            } => {
                let zero = geom::any_perpendicular(axis);
                circle_points(centre, axis, &zero, *radius, [0.0, std::f64::consts::TAU])
            }
            Self::Arc {
                centre,
                axis,
                zero,
                radius,
                angles,
            } => circle_points(centre, axis, zero, *radius, *angles),
            Self::Spline {
                degree,
                poles,
                knots,
            } => {
                let mut points = Vec::new();
                for w in knots[*degree..=poles.len()]
                    .windows(2)
                    .filter(|w| w[1] > w[0])
                {
                    for k in 0..per_span {
                        let t = w[0] + (w[1] - w[0]) * k as f64 / per_span as f64;
                        points.push(de_boor(*degree, poles, knots, t));
                    }
                }
                points.push(de_boor(*degree, poles, knots, knots[poles.len()]));
                points
            }
        }
    }
}

fn circle_points(
    centre: &Point,
    axis: &Unit,
    zero: &Unit,
    radius: f64,
    angles: [f64; 2],
) -> Vec<Point> {
    let y = axis.cross(zero);
    (0..=64)
        .map(|i| {
            let a = angles[0] + (angles[1] - angles[0]) * f64::from(i) / 64.0;
            centre + (zero.into_inner() * a.cos() + y * a.sin()) * radius
        })
        .collect()
}

/// de Boor's recurrence (A Practical Guide to Splines, chapter X).
fn de_boor(degree: usize, poles: &[Point], knots: &[f64], t: f64) -> Point {
    let span = knots[..poles.len()]
        .partition_point(|k| *k <= t)
        .saturating_sub(1)
        .max(degree);
    let mut d: Vec<Vector> = (0..=degree)
        .map(|j| poles[span - degree + j].coords)
        .collect();
    for r in 1..=degree {
        for j in (r..=degree).rev() {
            let (a, b) = (knots[span - degree + j], knots[span + 1 + j - r]);
            let f = if b > a { (t - a) / (b - a) } else { 0.0 };
            d[j] = d[j - 1] * (1.0 - f) + d[j] * f;
        }
    }
    Point::from(d[degree])
}

/// A product with its named shapes.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct StepProduct {
    /// Name of the product.
    pub name: String,
    /// Curves by name, in order.
    pub curves: Vec<(String, StepCurve)>,
    /// Points by name, in order.
    pub points: Vec<(String, Point)>,
    /// Names of trimmed planes, in order.
    pub faces: Vec<String>,
}

impl StepProduct {
    /// The first curve of that name.
    pub fn curve(&self, name: &str) -> Option<&StepCurve> {
        self.curves.iter().find(|c| c.0 == name).map(|c| &c.1)
    }

    /// The lines and arcs of that name in the plane Z = 0 as one path.
    pub(crate) fn flat_path(&self, name: &str, closed: bool) -> Result<ArcPath, String> {
        let mut pieces = Vec::new();
        let mut last: Option<Point> = None;
        for (_, curve) in self.curves.iter().filter(|c| c.0 == name) {
            let (ends, bulge) = match curve {
                StepCurve::Polyline(p) if p.len() == 2 => ([p[0], p[1]], 0.0),
                StepCurve::Arc { axis, angles, .. } => {
                    let p = curve.samples(1);
                    (
                        [p[0], p[p.len() - 1]],
                        bulge_of((angles[1] - angles[0]) * axis.z),
                    )
                }
                _ => return Err(format!("{name} has a piece that is neither line nor arc")),
            };
            if last.is_some_and(|l| (l - ends[0]).norm() > 1e-6) {
                return Err(format!("{name} is broken"));
            }
            last = Some(ends[1]);
            pieces.push(ArcPiece {
                start: Point2::new(ends[0].x, ends[0].y),
                bulge,
            });
        }
        let (Some(first), Some(last)) = (pieces.first().map(|p| p.start), last) else {
            return Err(format!("{name} is missing"));
        };
        let last = Point2::new(last.x, last.y);
        if closed && (last - first).norm() > 1e-6 {
            return Err(format!("{name} is open"));
        }
        Ok(ArcPath {
            pieces,
            end: (!closed).then_some(last),
        })
    }
}

/// Reads the products of a STEP file with their wireframes, in the order of their shape definitions.
///
/// # Errors
/// When the text is no data section, or an instance that is followed is missing or has other fields than it should.
/// Lengths must be millimetres.
pub fn read_step(text: &str) -> Result<Vec<StepProduct>, Refused> {
    let all = instances(text)?;
    let file = File { all: &all };
    let milli = all
        .values()
        .any(|i| i.text.contains("SI_UNIT(.MILLI.,.METRE.)"));
    if !milli {
        return Err(Refused::because("the unit of length is not the millimetre"));
    }
    let mut products = Vec::new();
    for i in all
        .values()
        .filter(|i| i.kind == "SHAPE_DEFINITION_REPRESENTATION")
    {
        let mut product = StepProduct {
            name: file.product_name(i.reference(0)?)?,
            ..StepProduct::default()
        };
        let wire = i.reference(1)?;
        file.collect(wire, &mut product)?;
        for r in all
            .values()
            .filter(|r| r.kind == "SHAPE_REPRESENTATION_RELATIONSHIP")
        {
            if r.reference(2)? == wire {
                file.collect(r.reference(3)?, &mut product)?;
            }
        }
        products.push(product);
    }
    Ok(products)
}

struct File<'a> {
    all: &'a BTreeMap<u64, Instance>,
}

impl File<'_> {
    fn get(&self, id: u64) -> Result<&Instance, Refused> {
        self.all
            .get(&id)
            .ok_or_else(|| Refused::because(format!("instance #{id} is missing")))
    }

    /// From the definition shape over definition and formation to the product.
    fn product_name(&self, shape: u64) -> Result<String, Refused> {
        let definition = self.get(shape)?.reference(2)?;
        let formation = self.get(definition)?.reference(2)?;
        let product = self.get(formation)?.reference(2)?;
        self.get(product)?.string(1)
    }

    fn collect(&self, representation: u64, product: &mut StepProduct) -> Result<(), Refused> {
        for set in self.get(representation)?.references(1)? {
            let set = self.get(set)?;
            if !matches!(set.kind.as_str(), "GEOMETRIC_CURVE_SET" | "GEOMETRIC_SET") {
                continue;
            }
            for item in set.references(1)? {
                let item = self.get(item)?;
                let name = item.string(0)?;
                match item.kind.as_str() {
                    "CARTESIAN_POINT" => product.points.push((name, Self::point_of(item)?)),
                    "RECTANGULAR_TRIMMED_SURFACE" => product.faces.push(name),
                    _ => product.curves.push((name, self.curve(item)?)),
                }
            }
        }
        Ok(())
    }

    fn point_of(i: &Instance) -> Result<Point, Refused> {
        match i.reals(1)?.as_slice() {
            [x, y, z] => Ok(Point::new(*x, *y, *z)),
            _ => Err(Refused::because("a point has not three coordinates")),
        }
    }

    fn points(&self, ids: &[u64]) -> Result<Vec<Point>, Refused> {
        ids.iter()
            .map(|id| Self::point_of(self.get(*id)?))
            .collect()
    }

    fn direction(&self, id: u64) -> Result<Unit, Refused> {
        let v = Self::point_of(self.get(id)?)?.coords;
        Unit::try_new(v, 1e-12).ok_or_else(|| Refused::because("a direction has no length"))
    }

    /// Middle, axis and direction of angle 0.
    fn axes(&self, id: u64) -> Result<(Point, Unit, Unit), Refused> {
        let i = self.get(id)?;
        let at = Self::point_of(self.get(i.reference(1)?)?)?;
        Ok((
            at,
            self.direction(i.reference(2)?)?,
            self.direction(i.reference(3)?)?,
        ))
    }

    fn curve(&self, i: &Instance) -> Result<StepCurve, Refused> {
        match i.kind.as_str() {
            "POLYLINE" => Ok(StepCurve::Polyline(self.points(&i.references(1)?)?)),
            "CIRCLE" => {
                let (centre, axis, _) = self.axes(i.reference(1)?)?;
                Ok(StepCurve::Circle {
                    centre,
                    axis,
                    radius: i.real(2)?,
                })
            }
            "TRIMMED_CURVE" => {
                let circle = self.get(i.reference(1)?)?;
                let (centre, axis, zero) = self.axes(circle.reference(1)?)?;
                Ok(StepCurve::Arc {
                    centre,
                    axis,
                    zero,
                    radius: circle.real(2)?,
                    angles: [i.trim(2)?, i.trim(3)?],
                })
            }
            "B_SPLINE_CURVE_WITH_KNOTS" => {
                let (degree, poles) = (i.real(1)? as usize, self.points(&i.references(2)?)?);
                let counts = i.reals(6)?;
                // No more knots than the poles ask for, whatever the counts say.
                let knots: Vec<f64> = counts
                    .iter()
                    .zip(i.reals(7)?)
                    .flat_map(|(n, k)| std::iter::repeat_n(k, *n as usize))
                    .take(2 * poles.len() + 2)
                    .collect();
                if poles.len() <= degree || knots.len() != poles.len() + degree + 1 {
                    return Err(Refused::because("knots and poles of a spline do not agree"));
                }
                Ok(StepCurve::Spline {
                    degree,
                    poles,
                    knots,
                })
            }
            other => Err(Refused::because(format!("{other} is not read here"))),
        }
    }
}

impl Instance {
    fn field(&self, i: usize) -> Result<&Value, Refused> {
        self.fields
            .get(i)
            .ok_or_else(|| Refused::because(format!("{} has too few fields", self.kind)))
    }

    fn wrong(&self, i: usize) -> Refused {
        Refused::because(format!(
            "field {} of {} is of the wrong kind",
            i + 1,
            self.kind
        ))
    }

    fn reference(&self, i: usize) -> Result<u64, Refused> {
        match self.field(i)? {
            Value::Reference(r) => Ok(*r),
            _ => Err(self.wrong(i)),
        }
    }

    fn references(&self, i: usize) -> Result<Vec<u64>, Refused> {
        let Value::List(items) = self.field(i)? else {
            return Err(self.wrong(i));
        };
        items
            .iter()
            .map(|v| match v {
                Value::Reference(r) => Ok(*r),
                _ => Err(self.wrong(i)),
            })
            .collect()
    }

    fn real(&self, i: usize) -> Result<f64, Refused> {
        match self.field(i)? {
            Value::Real(x) => Ok(*x),
            _ => Err(self.wrong(i)),
        }
    }

    fn reals(&self, i: usize) -> Result<Vec<f64>, Refused> {
        let Value::List(items) = self.field(i)? else {
            return Err(self.wrong(i));
        };
        items
            .iter()
            .map(|v| match v {
                Value::Real(x) => Ok(*x),
                _ => Err(self.wrong(i)),
            })
            .collect()
    }

    fn string(&self, i: usize) -> Result<String, Refused> {
        match self.field(i)? {
            Value::Text(s) => Ok(s.clone()),
            _ => Err(self.wrong(i)),
        }
    }

    /// The parameter of a trim.
    fn trim(&self, i: usize) -> Result<f64, Refused> {
        if let Value::List(items) = self.field(i)?
            && let [Value::Typed(inner)] = items.as_slice()
            && let [Value::Real(x)] = inner.as_slice()
        {
            return Ok(*x);
        }
        Err(self.wrong(i))
    }
}
