//! Places and the centreline, to and from the file.

use record::ScanId;

use super::wire;

pub(super) fn place(p: wire::Place, only_scan: &str) -> record::Place {
    record::Place {
        name: p.name,
        side: p.side.into(),
        scan: ScanId(p.scan.unwrap_or_else(|| only_scan.to_owned())),
        at: p.at_mm.into(),
        sigma_mm: p.sigma_mm,
        note: p.note,
    }
}

pub(super) fn to_place(place: &record::Place) -> wire::Place {
    let record::Place {
        name,
        side,
        scan,
        at,
        sigma_mm,
        note,
    } = place;
    wire::Place {
        name: name.clone(),
        side: (*side).into(),
        scan: Some(scan.0.clone()),
        at_mm: [at.x, at.y, at.z],
        sigma_mm: *sigma_mm,
        note: note.clone(),
    }
}

pub(super) fn named(n: wire::PlaceName) -> record::PlaceName {
    record::PlaceName {
        name: n.name,
        side: n.side.into(),
    }
}

pub(super) fn to_named(n: &record::PlaceName) -> wire::PlaceName {
    wire::PlaceName {
        name: n.name.clone(),
        side: n.side.into(),
    }
}

pub(super) fn centreline(c: wire::Centreline) -> record::Centreline {
    use wire::CentrelineWay as W;
    record::Centreline {
        way: match c.way {
            W::Pairs => record::CentrelineWay::Pairs,
            W::CentrePlaces => record::CentrelineWay::CentrePlaces,
            W::ThreeTwoOne { level, line, start } => record::CentrelineWay::ThreeTwoOne {
                level: level.map(named),
                line: line.map(named),
                start: named(start),
            },
            W::OwnImage => record::CentrelineWay::OwnImage,
            W::None => record::CentrelineWay::None,
        },
        front: c.front,
        rear: c.rear,
        image_of: c.image_of.map(ScanId),
    }
}

pub(super) fn to_centreline(centreline: &record::Centreline) -> wire::Centreline {
    use record::CentrelineWay as R;
    let record::Centreline {
        way,
        front,
        rear,
        image_of,
    } = centreline;
    wire::Centreline {
        way: match way {
            R::Pairs => wire::CentrelineWay::Pairs,
            R::CentrePlaces => wire::CentrelineWay::CentrePlaces,
            R::ThreeTwoOne { level, line, start } => wire::CentrelineWay::ThreeTwoOne {
                level: level.each_ref().map(to_named),
                line: line.each_ref().map(to_named),
                start: to_named(start),
            },
            R::OwnImage => wire::CentrelineWay::OwnImage,
            R::None => wire::CentrelineWay::None,
        },
        front: front.clone(),
        rear: rear.clone(),
        image_of: image_of.as_ref().map(|s| s.0.clone()),
    }
}
