//! A scan of the whole body on its own mirror image: the plane that needs no places.

use geom::{
    MidPlane, NoOwnImage, NoRefine, OwnImage, Point, Rigid, Vector, own_image as laid_on_itself,
};
use record::{
    Cancelled, Code, Finding, ImageFit, ImageOf, Job, Measured, Number, Place, Progress, Quantity,
    Scans, Severity, Side, Stage,
};

use super::finding;
use super::line::{Doubt, Line};
use crate::Kept;
use crate::join::{CommonAxes, surface};

/// Another plane that leaves less than so many times as much between the halves would do as well.
const TOLD_FROM_NEXT: f64 = 2.0;
/// More of the places and openings than this on the wrong side, and the plane is not the middle of the car.
const WRONG_SIDE: f64 = 0.2;

/// Lays the scan that the job names on its own mirror image; `None` where none is named or it is not there. What was
/// worked out before for the same scan is taken from `kept`.
///
/// # Errors
/// [`Cancelled`] when `at` says so.
pub(crate) fn own_image(
    job: &Job,
    scans: &Scans,
    kept: &mut Kept,
    at: &dyn Progress,
) -> Result<Option<ImageOf>, Cancelled> {
    let Some((id, scan)) =
        (job.centreline.image_of.as_ref()).and_then(|id| Some((id, scans.get(id)?)))
    else {
        return Ok(None);
    };
    at.at(Stage::Join, 0, 1)?;
    let reference = job.scans.iter().find(|s| s.id == *id);
    kept.own_image_or(scan, reference, || {
        let go_on = || at.at(Stage::Join, 0, 1).is_ok();
        let mut out = ImageOf {
            scan: id.clone(),
            laid: None,
            findings: Vec::new(),
        };
        match laid_on_itself(&surface(scan), None, &go_on) {
            Ok(image) if image.next_best < TOLD_FROM_NEXT * image.left => {
                out.findings.push(not_told(&id.0, &image));
            }
            Ok(image) => out.laid = Some(image),
            Err(NoOwnImage::Refine(NoRefine::CalledOff)) => return Err(Cancelled),
            Err(e) => out.findings.push(not_laid(&id.0, &why(e))),
        }
        Ok(out)
    })
    .map(Some)
}

fn why(e: NoOwnImage) -> String {
    match e {
        NoOwnImage::OneHalf(share) => format!(
            "by the best plane {:.0} % of its points lie on the image of others, so it does not show both halves of a body",
            100.0 * share
        ),
        NoOwnImage::Refine(_) => "its halves do not come to rest on each other".to_owned(),
    }
}

const WHOLE_BODY: &str = "name a scan that shows the whole body from both sides, with what stands round the car put aside, or lay the centreline by pairs of places";

fn not_laid(scan: &str, says: &str) -> Finding {
    finding(
        Code::CentrelineNotLaid,
        Severity::Doubt,
        scan,
        format!("{scan} was not laid on its own mirror image: {says}"),
        WHOLE_BODY,
    )
}

fn not_told(scan: &str, image: &OwnImage) -> Finding {
    let mut f = not_laid(
        scan,
        &format!(
            "two planes do nearly as well, {:.1} and {:.1} mm between the halves",
            image.left, image.next_best
        ),
    );
    for (name, value) in [("left", image.left), ("next", image.next_best)] {
        f.numbers.push(Number {
            name: name.to_owned(),
            value,
            quantity: Some(Quantity::Length),
        });
    }
    f
}

/// The image in common axes, with its normal to the right of the car; `None` where it was not found or its scan is not joined.
/// The finding says why it is of no use.
pub(super) fn in_axes(
    job: &Job,
    measured: &Measured,
    axes: &CommonAxes,
    places: &[&Place],
) -> Option<Result<(OwnImage, Vector), Finding>> {
    let of = measured.own_image.as_ref()?;
    let image = of.laid.as_ref()?.seen_from(axes.from(&of.scan)?);
    // What is named left and right, by its distance on the side of the normal.
    let openings = job.openings.iter().filter_map(|o| {
        let base_from_scan = axes.from(&o.scan)?;
        let m = measured.openings.iter().find(|m| m.id == o.id)?;
        let middle = m.part_from_scan.inverse() * Point::origin();
        Some((o.side, base_from_scan * middle))
    });
    let named: Vec<f64> = (places.iter().map(|p| (p.side, p.at)))
        .chain(openings)
        .filter_map(|(side, at)| match side {
            Side::Left => Some(-image.plane.distance(&at)),
            Side::Right => Some(image.plane.distance(&at)),
            Side::Centre | Side::NotSaid => None,
        })
        .collect();
    if named.is_empty() {
        return Some(Err(not_laid(
            &of.scan.0,
            "no place and no opening says which half is left",
        )));
    }
    let over = named.iter().sum::<f64>() < 0.0;
    let wrong = named.iter().filter(|d| (**d < 0.0) != over).count();
    if wrong as f64 > WRONG_SIDE * named.len() as f64 {
        return Some(Err(not_laid(
            &of.scan.0,
            "its plane does not part what is named left from what is named right",
        )));
    }
    let normal = image.plane.normal.into_inner();
    Some(Ok((image, if over { -normal } else { normal })))
}

/// The centreline of an image.
pub(super) fn line(name: record::RivalName, image: OwnImage, plane: MidPlane) -> Line {
    let car_from_scan: Rigid = plane.car_from_scan();
    Line {
        name,
        car_from_scan,
        doubt: Doubt::Image(Box::new((image, plane))),
    }
}

/// How well the scan lies on its image.
pub(super) fn fit(measured: &Measured) -> Option<ImageFit> {
    let of = measured.own_image.as_ref()?;
    of.laid.as_ref().map(|i| ImageFit {
        scan: of.scan.clone(),
        share: i.share,
        left_mm: i.left,
        next_best_mm: i.next_best,
    })
}
