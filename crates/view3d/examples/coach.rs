//! Pictures of the made-up coach: `cargo run --release -p view3d --example coach -- FOLDER [POINTS]`.

use std::error::Error;
use std::path::{Path, PathBuf};

use demo::Coach;
use geom::{Blocks, Improper, Mirror, Point, Rigid, Vector};
use record::Quiet;
use view3d::{
    Camera, Lens, Line, Look, Object, Picture, Points, Progressive, Scene, Shape, Stand, View, draw,
};

struct Theme {
    name: &'static str,
    look: Look,
    metal: [u8; 3],
    left: [u8; 3],
    right: [u8; 3],
}

const THEMES: [Theme; 2] = [
    Theme {
        name: "paper",
        look: Look {
            sheet: [251, 252, 250],
            light: [255, 255, 255],
            shadow: [20, 34, 43],
            lit: 0.75,
            shaded: 0.5,
            relief: 0.55,
            largest_point_px: 5,
        },
        metal: [214, 220, 217],
        left: [10, 90, 150],
        right: [168, 74, 5],
    },
    Theme {
        name: "slate",
        look: Look {
            sheet: [28, 37, 43],
            light: [238, 241, 237],
            shadow: [10, 14, 17],
            lit: 0.45,
            shaded: 0.7,
            relief: 0.6,
            largest_point_px: 5,
        },
        metal: [88, 102, 110],
        left: [127, 189, 242],
        right: [242, 165, 98],
    },
];

fn main() -> Result<(), Box<dyn Error>> {
    let mut args = std::env::args().skip(1);
    let folder = PathBuf::from(args.next().ok_or("which folder?")?);
    let points = args.next().map_or(Ok(3_000_000), |a| a.parse())?;
    std::fs::create_dir_all(&folder)?;
    let coach = Coach::new(7);
    let mut scans = Vec::new();
    for scan in coach.scans(points, &Quiet)? {
        let blocks = Blocks::build(scan.raw.points, 1.0, scan.raw.colours, Vec::new(), &|| true)
            .ok_or("stopped")?;
        scans.push((blocks, scan.scan_from_car.inverse()));
    }
    let truth = coach.truth();
    let edges: Vec<(Vec<Point>, bool)> = truth
        .openings
        .iter()
        .map(|o| {
            let edge = o.edge(400).iter().map(|e| e.at).collect();
            (edge, o.side == record::Side::Right)
        })
        .collect();
    for theme in &THEMES {
        let scene = all(&scans, &edges, theme, None);
        let centre = Point::new(500.0, 0.0, 700.0);
        let size = (1280, 800);
        let direction = Vector::new(1.0, 0.55, -0.35);
        let whole = Camera::along(centre, &direction, &Vector::z());
        let boxes: Vec<Point> = scans
            .iter()
            .flat_map(|(b, car_from_scan)| b.blocks().iter().map(move |k| car_from_scan * k.origin))
            .collect();
        let whole = whole.fitted(boxes, size, 40.0);
        let deep = Camera {
            lens: Lens::Perspective { eye_px: 1500.0 },
            ..whole
        };
        let front = Camera {
            mm_per_px: whole.mm_per_px,
            ..Camera::standing(Stand::Front, whole.centre)
        };
        for (name, camera) in [("whole", whole), ("perspective", deep), ("front", front)] {
            let picture = draw(&scene, view(camera, size), theme.look);
            save(&folder, name, theme, &picture)?;
        }
        let mut progressive = Progressive::new();
        let moving = progressive.moving(&scene, view(whole, size), theme.look);
        save(&folder, "moving", theme, moving)?;
        for (i, o) in truth.openings.iter().enumerate() {
            let e = o.edge_at(0.5);
            let page = Camera::along(e.at, &-e.normal.into_inner(), &Vector::z()).fitted(
                edges[i].0.clone(),
                (764, 780),
                120.0,
            );
            let turned = o.side == record::Side::Right;
            let (scene, page) = if turned {
                (all(&scans, &edges, theme, Some(Mirror::y())), over(&page))
            } else {
                (all(&scans, &edges, theme, None), page)
            };
            let picture = draw(&scene, view(page, (764, 780)), theme.look);
            save(&folder, &format!("page_{}", o.id), theme, &picture)?;
            let near = page.zoomed(4.0, 150.0, -200.0);
            let picture = draw(&scene, view(near, (764, 780)), theme.look);
            save(&folder, &format!("near_{}", o.id), theme, &picture)?;
        }
    }
    Ok(())
}

/// The camera that sees the mirrored world as `c` sees the world, turned over.
fn over(c: &Camera) -> Camera {
    let m = Mirror::y();
    Camera {
        mm_per_px: c.mm_per_px,
        ..Camera::along(
            m.point(&c.centre),
            &m.vector(&c.forward()),
            &m.vector(&c.up()),
        )
    }
}

fn view(camera: Camera, (width, height): (u32, u32)) -> View {
    View {
        camera,
        width,
        height,
    }
}

fn all<'a>(
    scans: &'a [(Blocks, Rigid)],
    edges: &'a [(Vec<Point>, bool)],
    theme: &Theme,
    mirror: Option<Mirror>,
) -> Scene<'a> {
    let mut scene = Scene::default();
    for (blocks, car_from_scan) in scans {
        // The scan is brought to the car first and mirrored there; the same as mirroring in the scan's own axes.
        let map = Improper {
            mirror: mirror.map(|m| m.moved(&car_from_scan.inverse())),
            rigid: *car_from_scan,
        };
        scene
            .objects
            .push(Object::new(Shape::Points(Points::new(blocks, theme.metal))).placed(map));
    }
    for (edge, right) in edges {
        let colour = if *right { theme.right } else { theme.left };
        let mut line = Line {
            width_px: 2.25,
            ..Line::new(edge, true, colour)
        };
        if *right {
            line = line.dashed(9.0, 3.0);
        }
        scene
            .objects
            .push(Object::new(Shape::Line(line)).placed(Improper {
                mirror,
                rigid: Rigid::identity(),
            }));
    }
    scene
}

fn save(folder: &Path, name: &str, theme: &Theme, picture: &Picture) -> Result<(), Box<dyn Error>> {
    let file = std::fs::File::create(folder.join(format!("{name}_{}.png", theme.name)))?;
    let mut encoder = png::Encoder::new(
        std::io::BufWriter::new(file),
        picture.view.width,
        picture.view.height,
    );
    encoder.set_color(png::ColorType::Rgba);
    encoder.write_header()?.write_image_data(&picture.rgba)?;
    Ok(())
}
