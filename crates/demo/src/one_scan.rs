//! The whole front in one scan.

use geom::{Point, RawPoints, Rigid, Vector};
use record::{Cancelled, Job, Opening, Progress, RawScan, Side};

use crate::coach::Coach;

/// Its name in the job.
const BODY: &str = "body";

impl Coach {
    /// All openings seen in one cloud of about `points` points, in one set of axes, with the job for it.
    ///
    /// `scan_from_car` lays the axes of the scan; `moved` moves the left side before, in car axes: the truth of every
    /// difference of position. The file of the scan is `body.ply`.
    ///
    /// # Errors
    /// [`Cancelled`] when `at` says so.
    pub fn in_one_scan(
        &self,
        points: usize,
        scan_from_car: &Rigid,
        moved: &Rigid,
        at: &dyn Progress,
    ) -> Result<(RawScan, Job), Cancelled> {
        let mut job = self.job();
        let (mut all_points, mut all_normals) = (Vec::new(), Vec::new());
        let mut about = None;
        for s in self.scan_clouds(points, at)? {
            let left = s.id.0 == "left";
            let own = if left { *moved } else { Rigid::identity() };
            let map = scan_from_car * own * s.scan_from_car.inverse();
            let scan = s.raw;
            all_points.extend((0..scan.points.len()).map(|k| {
                let p = map * scan.points.get(k);
                [p.x as f32, p.y as f32, p.z as f32]
            }));
            all_normals.extend(scan.normals.iter().map(|n| {
                let v = map.rotation * Vector::from_fn(|k, _| f64::from(n[k]));
                [v.x as f32, v.y as f32, v.z as f32]
            }));
            for o in job.openings.iter_mut().filter(|o| o.scan == s.id) {
                move_picks(o, &map);
                o.scan = BODY.into();
            }
            about.get_or_insert(RawScan {
                points: RawPoints::F32(Vec::new()),
                normals: Vec::new(),
                ..scan
            });
        }
        job.scans.truncate(1);
        for s in &mut job.scans {
            s.id = BODY.into();
            s.path = "body.ply".into();
            s.side = Side::NotSaid;
        }
        let raw = about.ok_or(Cancelled)?;
        let raw = RawScan {
            name: "body.ply".to_owned(),
            points: RawPoints::F32(all_points),
            normals: all_normals,
            ..raw
        };
        Ok((raw, job))
    }
}

/// What was clicked, in other axes.
fn move_picks(o: &mut Opening, map: &Rigid) {
    let at = |p: &mut Point| *p = map * *p;
    let way = |v: &mut Vector| *v = map.rotation * *v;
    if let Some(e) = &mut o.edge {
        at(&mut e.near);
    }
    if let Some(t) = &mut o.top {
        at(t);
    }
    if let Some(v) = &mut o.outward {
        way(v);
    }
    for f in &mut o.faces {
        at(&mut f.near);
        if let Some(v) = &mut f.facing {
            way(v);
        }
    }
    for j in &mut o.junctions {
        at(&mut j.start);
    }
    for h in &mut o.holes {
        at(&mut h.near);
    }
}
