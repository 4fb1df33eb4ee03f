//! A few small pictures, kept as files and compared. `VIEW3D_KEEP=1 cargo test -p view3d` writes them anew: look at
//! them before they are committed.

use std::path::PathBuf;

use geom::{Improper, Mirror, Point, Rigid, Vector};
use view3d::{
    Band, Bands, Behind, Camera, Highlight, Lens, Line, Look, MarkForm, Marks, Mesh, Object, Paint,
    Picture, Points, Scene, Shape, SlotSet, View, draw,
};

use crate::scenes::{INK, METAL, panel, paper};

/// Largest difference of a colour that is not looked at: rounding differs between processors.
const CLOSE: u8 = 3;
/// Share of the pixels that may differ more.
const SHARE: f64 = 0.002;

fn path(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("tests/pictures")
        .join(format!("{name}.png"))
}

fn check(name: &str, picture: &Picture) {
    let (w, h) = (picture.view.width, picture.view.height);
    let rgb: Vec<u8> = picture
        .rgba
        .chunks(4)
        .flat_map(|c| [c[0], c[1], c[2]])
        .collect();
    if std::env::var_os("VIEW3D_KEEP").is_some() {
        let mut encoder = png::Encoder::new(std::fs::File::create(path(name)).unwrap(), w, h);
        encoder.set_color(png::ColorType::Rgb);
        encoder.set_compression(png::Compression::High);
        let mut writer = encoder.write_header().unwrap();
        writer.write_image_data(&rgb).unwrap();
        return;
    }
    let file = std::io::BufReader::new(std::fs::File::open(path(name)).unwrap());
    let mut reader = png::Decoder::new(file).read_info().unwrap();
    let mut kept = vec![0; reader.output_buffer_size().unwrap()];
    let info = reader.next_frame(&mut kept).unwrap();
    assert_eq!((info.width, info.height), (w, h), "{name}");
    let differ = rgb
        .chunks(3)
        .zip(kept.chunks(3))
        .filter(|(a, b)| a.iter().zip(*b).any(|(x, y)| x.abs_diff(*y) > CLOSE))
        .count();
    let share = differ as f64 / f64::from(w * h);
    assert!(share <= SHARE, "{name}: {share} of the pixels differ");
}

fn view(direction: Vector, mm_per_px: f64) -> View {
    let camera = Camera {
        mm_per_px,
        ..Camera::along(Point::new(0.0, 8.0, 0.0), &direction, &Vector::z())
    };
    View {
        camera,
        width: 160,
        height: 120,
    }
}

fn ring() -> Vec<Point> {
    (0..120)
        .map(|i| {
            let a = f64::from(i) * std::f64::consts::TAU / 120.0;
            Point::new(45.0 * a.cos(), 4.05, 45.0 * a.sin())
        })
        .collect()
}

#[test]
fn a_panel_with_its_edge_and_a_face() {
    let blocks = panel(40_000, Point::origin(), 21);
    let edge = ring();
    let face: SlotSet = blocks
        .iter()
        .filter(|(_, p)| (p.x - 70.0).hypot(p.z - 20.0) < 16.0)
        .map(|(s, _)| s)
        .collect();
    let shape = Points {
        paint: Paint {
            colour: METAL,
            highlights: vec![Highlight {
                slots: &face,
                colour: [243, 222, 201],
            }],
            ..Paint::default()
        },
        ..Points::new(&blocks, METAL)
    };
    let centre = [Point::new(70.0, 9.0, 20.0), Point::new(-70.0, 9.0, 20.0)];
    let marks = Marks {
        points: &centre,
        form: MarkForm::Triangle,
        colour: [168, 74, 5],
        radius_px: 4.5,
        behind: Behind::Shown,
        lift_mm: 1.0,
    };
    let line = Line {
        width_px: 2.25,
        ..Line::new(&edge, true, [168, 74, 5]).dashed(9.0, 3.0)
    };
    let scene = Scene {
        objects: vec![
            Object::new(Shape::Points(shape)),
            Object::new(Shape::Line(line)),
            Object::new(Shape::Marks(marks)),
        ],
    };
    check(
        "panel",
        &draw(&scene, view(Vector::new(0.4, 1.0, -0.3), 1.6), paper()),
    );
    let slate = Look::calm([28, 37, 43], [238, 241, 237], [10, 14, 17]);
    let mut dark = scene.clone();
    if let Shape::Points(p) = &mut dark.objects[0].shape {
        p.paint.colour = [78, 91, 99];
    }
    let mut close = view(Vector::new(0.4, 1.0, -0.3), 1.6);
    close.camera.lens = Lens::Perspective { eye_px: 200.0 };
    check("panel_slate_perspective", &draw(&dark, close, slate));
    let mut over = scene;
    let x = geom::Unit::new_normalize(Vector::x());
    for o in &mut over.objects {
        o.world_from_object = Improper {
            mirror: Some(Mirror::through(&Point::origin(), x)),
            rigid: Rigid::identity(),
        };
    }
    check(
        "panel_turned_over",
        &draw(&over, view(Vector::new(-0.4, 1.0, -0.3), 1.6), paper()),
    );
}

#[test]
fn a_mesh_with_bands() {
    // A wavy sheet, steps by height.
    let n = 30;
    let mut vertices = Vec::new();
    let mut steps = Vec::new();
    for i in 0..=n {
        for j in 0..=n {
            let (x, z) = (f64::from(i) * 6.0 - 90.0, f64::from(j) * 4.0 - 60.0);
            let y = 12.0 * (x / 30.0).sin() * (z / 40.0).cos();
            vertices.push(Point::new(x, y, z));
            steps.push((-y / 4.0).round() as i8);
        }
    }
    let at = |i: u32, j: u32| i * (n as u32 + 1) + j;
    let triangles: Vec<[u32; 3]> = (0..n as u32)
        .flat_map(|i| (0..n as u32).map(move |j| (i, j)))
        .flat_map(|(i, j)| {
            let (a, b, c, d) = (at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1));
            [[a, b, c], [a, c, d]]
        })
        .collect();
    let minus = Some([64, 88, 26]);
    let band = |step, colour, hatch| Band {
        step,
        colour,
        hatch,
    };
    let colours = [
        band(1, [230, 221, 241], None),
        band(2, [201, 182, 227], None),
        band(3, [160, 136, 203], None),
        band(-1, [224, 233, 207], minus),
        band(-2, [189, 208, 150], minus),
        band(-3, [148, 175, 95], minus),
    ];
    let mesh = Mesh {
        vertices: &vertices,
        triangles: &triangles,
        paint: Paint {
            colour: METAL,
            bands: Some(Bands {
                steps: &steps,
                colours: &colours,
            }),
            ..Paint::default()
        },
        back: None,
    };
    let hidden = [
        Point::new(-80.0, 30.0, -50.0),
        Point::new(80.0, -30.0, 50.0),
    ];
    let line = Line {
        behind: Behind::Faint(0.35),
        ..Line::new(&hidden, false, INK)
    };
    let scene = Scene {
        objects: vec![
            Object::new(Shape::Mesh(mesh)),
            Object::new(Shape::Line(line)),
        ],
    };
    check(
        "bands",
        &draw(&scene, view(Vector::new(-0.2, 1.0, -0.35), 1.3), paper()),
    );
}
