//! What is looked at on the page of two visits and two cars.

use editor::{BroughtIn, Two};
use record::{CompareId, Job, ScanId};
use view3d::Camera;

use crate::shown::cars_of;

/// Which of the two.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Leaf {
    /// Before and after body work.
    #[default]
    Visits,
    /// Parts of one car on another.
    Cars,
}

/// What is looked at.
#[derive(Clone, Debug, Default)]
pub struct Looking {
    /// Which leaf lies open.
    pub leaf: Leaf,
    /// The piece of body work.
    pub work: usize,
    /// The area that moved.
    pub area: usize,
    /// Whether the metal after shows, not the one before.
    pub after: bool,
    /// The part tried on the other car; `None`: the worst.
    pub fit: Option<CompareId>,
    /// Which of the factors.
    pub factor: usize,
    /// The car the parts are drawn for, and the one they are tried on; `None`: the first two of the job.
    pub cars: Option<[String; 2]>,
    /// The scan before that is being put together with one after.
    pub before_scan: Option<ScanId>,
    /// The scan after.
    pub after_scan: Option<ScanId>,
    /// Why something was not taken: what is wrong, and what to do.
    pub refused: Option<[String; 2]>,
    /// What came with the job that was brought in last, and what did not.
    pub brought: Option<BroughtIn>,
    /// From where the metal is looked at.
    pub camera: Option<Camera>,
}

impl Looking {
    /// What of the job is to be held against each other; `None` where there is nothing yet.
    pub fn wanted(&self, job: &Job) -> Option<Two> {
        match self.leaf {
            Leaf::Visits => (!job.body_work.is_empty()).then_some(Two::Visits),
            Leaf::Cars => self.two_cars(job).map(Two::Cars),
        }
    }

    /// The two cars: those chosen, as long as the job has them, else its first two.
    pub fn two_cars(&self, job: &Job) -> Option<[String; 2]> {
        let all = cars_of(job);
        let known = |name: &String| all.contains(&name.as_str());
        let chosen = self.cars.clone().filter(|two| two.iter().all(known));
        chosen.or_else(|| match all.as_slice() {
            [first, second, ..] => Some([(*first).to_owned(), (*second).to_owned()]),
            _ => None,
        })
    }

    /// The other leaf.
    pub(super) fn open_leaf(&mut self, to: Leaf) {
        self.leaf = to;
        self.refused = None;
        self.brought = None;
    }

    /// Another area: it is looked at from where it is seen best.
    pub(super) fn look_at_area(&mut self, to: usize) {
        self.area = to;
        self.camera = None;
    }
}
