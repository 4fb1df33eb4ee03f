//! What the window remembers that belongs to no job: where one is, what is pointed at, what is being typed.

use std::collections::BTreeMap;
use std::path::PathBuf;

use editor::Command;
use record::{CompareId, OptionKind, ScanId};
use report::sheet::Pages;

/// The stations of the way through a job.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Step {
    /// Scans come in.
    BringIn,
    /// Edges, faces, junctions and holes get their names.
    Places,
    /// Left and right in one book.
    Compare,
    /// What is made.
    Decide,
    /// What leaves the house.
    HandOver,
    /// Where things are on the car; off the way, only for position.
    Centreline,
    /// How the metal beside the openings runs; off the way.
    Sections,
    /// Before and after body work, and parts of one car on another; off the way.
    Two,
}

impl Step {
    /// What lies off the way, in order: most jobs need none of it.
    pub const OFF: [Self; 3] = [Self::Centreline, Self::Sections, Self::Two];

    /// Every step of the way, in order.
    pub const ALL: [Self; 5] = [
        Self::BringIn,
        Self::Places,
        Self::Compare,
        Self::Decide,
        Self::HandOver,
    ];

    /// Its name.
    pub fn word(self) -> &'static str {
        match self {
            Self::BringIn => "Bring in",
            Self::Places => "Name the places",
            Self::Compare => "Compare",
            Self::Decide => "Decide",
            Self::HandOver => "Hand over",
            Self::Centreline => "Centreline",
            Self::Sections => "Sections",
            Self::Two => "Visits, cars",
        }
    }
}

/// Something laid over the page.
#[derive(Clone, Debug, PartialEq)]
pub enum Panel {
    /// All doubts of a pair, worst first.
    Doubts(CompareId),
    /// What a figure means and how it was got.
    Figure(report::sheet::Hit),
    /// Why a choice is taken.
    Choose(CompareId, OptionKind, String),
    /// Where on the coach a part sits.
    Place(record::PartId),
    /// Commands, parts and stations by name.
    Find(String, usize),
    /// What the program is and is not.
    About,
    /// A job or a scan by its path.
    OpenFile(String),
    /// The job of another visit or car by its path.
    Other(String),
    /// A name for the job file.
    SaveAs(String),
}

/// A blank of the sentence of allowances.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Blank {
    /// Agreed gap.
    Gap,
    /// How far the gap may vary.
    Vary,
    /// How far it may stand proud or shy.
    Flush,
    /// How far an angle may be off.
    Angle,
    /// Hole in the part.
    Hole,
    /// Gasket thickness.
    Gasket,
    /// Film on the part.
    Film,
}

/// Where one is.
#[derive(Clone, Debug)]
pub struct ViewState {
    /// The page.
    pub step: Step,
    /// The pair on the page.
    pub pair: Option<CompareId>,
    /// The station pointed at.
    pub pointed: Option<usize>,
    /// Which pages lie open.
    pub pages: Pages,
    /// How many times larger differences are drawn: one of [`FACTORS`].
    pub factor: usize,
    /// Whether Space is held.
    pub laid_over: bool,
    /// Whether the strip is unfolded; `None`: where there is room.
    pub strip: Option<bool>,
    /// What is laid over the page.
    pub panel: Option<Panel>,
    /// Text of blanks that are being typed in.
    pub typing: BTreeMap<Blank, String>,
    /// Shares as they are shown, and when they last became other ones (seconds of the window's clock).
    pub uses: BTreeMap<(CompareId, OptionKind), (String, Option<f64>)>,
    /// The sentence of the worked example that is to be done.
    pub lesson: Option<crate::lesson::Lesson>,
    /// One line about what just happened.
    pub said: Option<String>,
    /// The scan looked at while places are named.
    pub scan: Option<ScanId>,
    /// Naming of places.
    pub places: crate::pages::places::Naming,
    /// Readings being typed.
    pub entry: crate::pages::by_hand::Entry,
    /// Handing over.
    pub hand_over: crate::pages::hand_over::Handing,
    /// What is typed on the page of the centreline.
    pub line: crate::pages::centreline::Lining,
    /// The section that is looked at.
    pub cutting: crate::pages::sections::Cutting,
    /// What is looked at of two visits and two cars.
    pub two: crate::pages::two::Looking,
    /// The car whose openings the pages show, where the job is of several; `None`: the first.
    pub car: Option<String>,
}

/// The factors that X goes through.
pub const FACTORS: [f64; 3] = [1.0, 5.0, 20.0];

impl Default for ViewState {
    fn default() -> Self {
        Self {
            step: Step::BringIn,
            pair: None,
            pointed: None,
            pages: Pages::Both,
            factor: 0,
            laid_over: false,
            strip: None,
            panel: None,
            typing: BTreeMap::new(),
            uses: BTreeMap::new(),
            lesson: None,
            said: None,
            scan: None,
            places: crate::pages::places::Naming::default(),
            entry: crate::pages::by_hand::Entry::default(),
            hand_over: crate::pages::hand_over::Handing::default(),
            line: crate::pages::centreline::Lining::default(),
            cutting: crate::pages::sections::Cutting::default(),
            two: crate::pages::two::Looking::default(),
            car: None,
        }
    }
}

/// What a page asks for; done before the next pass.
#[derive(Clone, Debug)]
pub enum Act {
    /// A change of the job.
    Do(Command),
    /// A change of the job while something is dragged or typed.
    DoLive(Command),
    /// The end of it.
    Settle,
    /// The last step back.
    Undo,
    /// And again.
    Redo,
    /// The job is saved.
    Save,
    /// The job is saved under a name.
    SaveAs(PathBuf),
    /// Text of a blank that is being typed; `None`: it shows what is held again.
    Typed(Blank, Option<String>),
    /// The place a doubt is about.
    GoTo(String),
    /// A look at a place of a scan.
    Probe(ScanId, editor::ProbeAt),
    /// Naming of places goes on like this.
    Naming(Box<crate::pages::places::Naming>),
    /// Places of an opening are proposed on the other side.
    CopyAcross(record::OpeningId),
    /// Two openings become a pair.
    CompareWith(record::OpeningId, record::OpeningId),
    /// An offer is kept.
    KeepOffer(u64),
    /// An offer is skipped.
    SkipOffer(u64),
    /// Changes that a crash left over are made again.
    Recover,
    /// They are left.
    LeaveRecovery,
    /// A table of points was pasted.
    Paste(String),
    /// Openings are looked for in the scans.
    Find,
    /// Handing over goes on like this.
    Handing(Box<crate::pages::hand_over::Handing>),
    /// Typing of places goes on like this.
    Lining(Box<crate::pages::centreline::Lining>),
    /// Another section, or another factor.
    Cutting(crate::pages::sections::Cutting),
    /// Sections are looked at, or no longer.
    WantSections(bool),
    /// The cutting of sections is called off.
    CallOffSections,
    /// Something else of two visits or two cars is looked at.
    Two(Box<crate::pages::two::Looking>),
    /// What is looked at there is worked out again, after it was called off.
    WantTwo,
    /// What is worked out there is called off.
    CallOffTwo,
    /// The job of the other visit or the other car comes in.
    BringInOther(PathBuf),
    /// The two scans chosen are before and after body work.
    PutTogether,
    /// The pages show the openings of this car.
    Car(String),
    /// The pages show those of the next car.
    NextCar,
    /// The place that is being said was clicked in a scan, at these scan coordinates.
    PickPlace(ScanId, geom::Point),
    /// The place that was typed is taken.
    TakePlace,
    /// The taped length that was typed is taken.
    TakeLength,
    /// The start of a join that was typed is taken.
    TakeStart,
    /// Lengths in millimetres or inches, the other of the two.
    OtherUnit,
    /// Decimals behind a dot or a comma, the other of the two.
    OtherDecimal,
    /// Where the part on the page sits is asked.
    AskPlace,
    /// Another page.
    Go(Step),
    /// Another pair.
    Pair(CompareId),
    /// The next pair (`true`) or the one before.
    NextPair(bool),
    /// A station, or none.
    Point(Option<usize>),
    /// Something over the page, or nothing.
    Panel(Option<Panel>),
    /// Pages of the book.
    Pages(Pages),
    /// The next factor.
    NextFactor,
    /// The strip there or away.
    Strip,
    /// Text into the clipboard.
    Copy(String),
    /// Scans come in.
    BringIn(Vec<PathBuf>),
    /// Reading of a file is called off.
    CallOff(PathBuf),
    /// A notice is put away.
    PutAway(u64),
    /// A job is opened.
    OpenJob(PathBuf),
    /// The worked example is opened.
    OpenCoach,
    /// A job without a file.
    NewJob,
    /// The other theme.
    OtherTheme,
    /// Type larger (`true`) or smaller.
    Larger(bool),
    /// Readings by hand begin: a left and a right opening, without a scan.
    BeginByHand,
    /// Typing of readings goes on like this.
    Enter(crate::pages::by_hand::Entering),
    /// The field sheets are printed.
    PrintFieldSheet,
    /// Another scan to look at.
    Scan(ScanId),
    /// Files are written.
    HandOver,
    /// The pair is printed.
    Print,
    /// The sentences of the worked example are put away.
    EndLesson,
    /// One line about what just happened.
    Say(String),
}
