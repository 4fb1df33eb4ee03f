//! What is being said on the page of the centreline: a place, by typing or clicking, and which leaf lies open.

use editor::{TypedLength, TypedPlace, TypedStart};

use super::joining::Joining;

/// What the right column shows.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Leaf {
    /// Figures, once there are any.
    #[default]
    Figures,
    /// The places and how they are used.
    Places,
    /// Scans joined to common axes.
    Joins,
}

/// What is being typed on the page.
#[derive(Clone, Debug)]
pub struct Lining {
    /// Which leaf lies open.
    pub leaf: Leaf,
    /// The place as it is typed.
    pub typed: TypedPlace,
    /// The number of the place that is changed; `None`: a new one.
    pub number: Option<usize>,
    /// Why it was not taken: what is wrong, and what to do.
    pub refused: Option<[String; 2]>,
    /// Whether places are clicked in the scan, not typed.
    pub picking: bool,
    /// The scans that are being joined; clicks are for them while its leaf lies open.
    pub joining: Joining,
    /// The taped length as it is typed.
    pub tape: TypedLength,
    /// Why it was not taken.
    pub tape_refused: Option<[String; 2]>,
    /// The start of the join of a number, as it is typed.
    pub start: Option<(usize, TypedStart)>,
    /// Why it was not taken.
    pub start_refused: Option<[String; 2]>,
    /// From where the scan is looked at meanwhile.
    pub camera: Option<(record::ScanId, view3d::Camera)>,
    /// The front place, as long as the rear one is not said.
    pub front: Option<String>,
}

impl Default for Lining {
    fn default() -> Self {
        Self {
            leaf: Leaf::Figures,
            typed: TypedPlace {
                side: "left".to_owned(),
                sigma: "0.5".to_owned(),
                ..TypedPlace::default()
            },
            number: None,
            refused: None,
            picking: false,
            joining: Joining::default(),
            tape: TypedLength {
                u95: "1.5".to_owned(),
                ..TypedLength::default()
            },
            tape_refused: None,
            start: None,
            start_refused: None,
            camera: None,
            front: None,
        }
    }
}

impl Lining {
    /// The place was clicked: its coordinates are those of the pick, to the last digit; without a name it gets one.
    pub fn picked(&mut self, job: &record::Job, scan: &record::ScanId, at: &geom::Point) {
        self.typed.at = [at.x, at.y, at.z].map(|v| format!("{v}"));
        self.typed.scan.clone_from(&scan.0);
        if self.typed.name.trim().is_empty() {
            let taken = |name: &str| job.every_place().any(|p| p.name == name);
            let mut number = 1;
            while taken(&format!("place {number}")) {
                number += 1;
            }
            self.typed.name = format!("place {number}");
        }
    }

    /// Another leaf: clicking on one is not clicking on the other.
    pub(super) fn open_leaf(&mut self, to: Leaf) {
        if self.leaf != to && (self.leaf == Leaf::Joins || to == Leaf::Joins) {
            self.picking = false;
            self.number = None;
            self.typed.name.clear();
            if self.typed.side.is_empty() {
                "left".clone_into(&mut self.typed.side);
            }
        }
        self.leaf = to;
    }

    /// Begins or ends clicking places that are in both scans of a join.
    pub fn click_in_both(&mut self, join: &record::Join, begin: bool) {
        self.picking = begin;
        self.number = None;
        self.refused = None;
        self.joining = Joining {
            scan: Some(join.scan.clone()),
            to: Some(join.to.clone()),
        };
        let side = if begin { "" } else { "left" };
        self.typed = TypedPlace {
            side: side.to_owned(),
            scan: join.scan.0.clone(),
            sigma: self.typed.sigma.clone(),
            ..TypedPlace::default()
        };
    }

    /// After a place of a join was taken: the same in the other scan, then a new one.
    fn taken_of_join(&mut self) {
        let ids = [&self.joining.scan, &self.joining.to];
        let [Some(scan), Some(to)] = ids.map(Option::clone) else {
            return;
        };
        if self.typed.scan == scan.0 {
            self.typed.scan = to.0;
        } else {
            self.typed.scan = scan.0;
            self.typed.name.clear();
        }
        self.typed.at = <[String; 3]>::default();
        self.refused = None;
    }

    /// After a place was taken: the next is most likely its partner, or another one.
    pub fn taken(&mut self) {
        if self.leaf == Leaf::Joins && self.picking {
            self.taken_of_join();
            return;
        }
        let partner = self.number.is_none() && self.typed.side == "left";
        self.typed = TypedPlace {
            name: if partner {
                self.typed.name.clone()
            } else {
                String::new()
            },
            side: if self.number.is_none() && self.typed.side == "centre" {
                "centre".to_owned()
            } else if partner {
                "right".to_owned()
            } else {
                "left".to_owned()
            },
            scan: self.typed.scan.clone(),
            sigma: self.typed.sigma.clone(),
            ..TypedPlace::default()
        };
        self.number = None;
        self.refused = None;
    }
}
