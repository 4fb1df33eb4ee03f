//! The keyboard, and every command by name.

use egui::{Context, Key, Modifiers};
use report::sheet::Pages;

use crate::state::{Act, Panel, Step};

/// A command of the window that has a name and may have a key.
pub struct Named {
    /// What it is called.
    pub name: &'static str,
    /// Its key in words; empty if it has none.
    pub key: &'static str,
    /// What it is for, where the name does not say it all; may be empty.
    pub help: &'static str,
    /// What it does.
    pub act: fn() -> Act,
}

/// Every command by name, for the list that Ctrl-F opens.
pub const COMMANDS: &[Named] = &[
    Named {
        name: "Bring in",
        key: "1",
        help: "",
        act: || Act::Go(Step::BringIn),
    },
    Named {
        name: "Name the places",
        key: "2",
        help: "",
        act: || Act::Go(Step::Places),
    },
    Named {
        name: "Compare",
        key: "3",
        help: "",
        act: || Act::Go(Step::Compare),
    },
    Named {
        name: "Decide",
        key: "4",
        help: "",
        act: || Act::Go(Step::Decide),
    },
    Named {
        name: "Hand over",
        key: "5",
        help: "",
        act: || Act::Go(Step::HandOver),
    },
    Named {
        name: "Centreline",
        key: "6",
        help: "Only for positions on the car: height, set-back, toe, level. Angles, sizes and fit need none.",
        act: || Act::Go(Step::Centreline),
    },
    Named {
        name: "Sections and panels",
        key: "7",
        help: "How the metal beside an opening runs, the other side mirrored and laid on it; gap and flush to neighbours, hinges. No centreline is needed.",
        act: || Act::Go(Step::Sections),
    },
    Named {
        name: "Two visits, two cars",
        key: "8",
        help: "Before and after body work: what moved and what of the answer stands. Parts drawn for one car tried on another.",
        act: || Act::Go(Step::Two),
    },
    Named {
        name: "The other car",
        key: "",
        help: "The pages show the openings of the next car, where the job is of several.",
        act: || Act::NextCar,
    },
    Named {
        name: "Print the pair",
        key: "Ctrl P",
        help: "",
        act: || Act::Print,
    },
    Named {
        name: "Next part",
        key: "Page down",
        help: "",
        act: || Act::NextPair(true),
    },
    Named {
        name: "Part before",
        key: "Page up",
        help: "",
        act: || Act::NextPair(false),
    },
    Named {
        name: "Both pages",
        key: "B",
        help: "",
        act: || Act::Pages(Pages::Both),
    },
    Named {
        name: "Left page alone",
        key: "L",
        help: "",
        act: || Act::Pages(Pages::A),
    },
    Named {
        name: "Right page alone",
        key: "R",
        help: "",
        act: || Act::Pages(Pages::B),
    },
    Named {
        name: "Difference ×1, ×5, ×20",
        key: "X",
        help: "The factor stands across the picture.",
        act: || Act::NextFactor,
    },
    Named {
        name: "Strip along the edge",
        key: "E",
        help: "The difference of gap and flush, station by station, with give or take and what you allow.",
        act: || Act::Strip,
    },
    Named {
        name: "Place the part on the plan",
        key: "Ctrl L",
        help: "Says where on the coach the part of this page sits, so that the plan shows it there. No figure hangs on it. It can be dragged on the plan as well.",
        act: || Act::AskPlace,
    },
    Named {
        name: "Undo",
        key: "Ctrl Z",
        help: "",
        act: || Act::Undo,
    },
    Named {
        name: "Redo",
        key: "Ctrl Y",
        help: "",
        act: || Act::Redo,
    },
    Named {
        name: "Save",
        key: "Ctrl S",
        help: "",
        act: || Act::Save,
    },
    Named {
        name: "Open a job or scan",
        key: "Ctrl O",
        help: "",
        act: || Act::Panel(Some(Panel::OpenFile(String::new()))),
    },
    Named {
        name: "New job",
        key: "Ctrl N",
        help: "",
        act: || Act::NewJob,
    },
    Named {
        name: "Begin by hand, without a scan",
        key: "Ctrl B",
        help: "A left and a right opening measured with tape and protractor: the boxes of the field sheet to fill in, no scan needed.",
        act: || Act::BeginByHand,
    },
    Named {
        name: "Print the field sheet",
        key: "",
        help: "Pages to fill in at the car, with the same boxes left and right.",
        act: || Act::PrintFieldSheet,
    },
    Named {
        name: "Open the coach",
        key: "Ctrl D",
        help: "The worked example: eight sentences, about 15 minutes.",
        act: || Act::OpenCoach,
    },
    Named {
        name: "Paper or slate",
        key: "Ctrl T",
        help: "",
        act: || Act::OtherTheme,
    },
    Named {
        name: "Millimetres or inches",
        key: "Ctrl U",
        help: "Shows every length in the other unit, in the window and in all that is written. Angles stay in degrees; the scans keep their own unit.",
        act: || Act::OtherUnit,
    },
    Named {
        name: "Decimal dot or comma",
        key: "",
        help: "Numbers are shown with the other; typed numbers may have either at any time.",
        act: || Act::OtherDecimal,
    },
    Named {
        name: "Larger type",
        key: "Ctrl +",
        help: "",
        act: || Act::Larger(true),
    },
    Named {
        name: "Smaller type",
        key: "Ctrl −",
        help: "",
        act: || Act::Larger(false),
    },
    Named {
        name: "About, cautions and keys",
        key: "F1",
        help: "",
        act: || Act::Panel(Some(Panel::About)),
    },
];

/// What the keys pressed since the last pass ask for. Letters count only while nothing is being typed.
pub fn acts(ctx: &Context, panel: bool) -> Vec<Act> {
    let mut acts = Vec::new();
    let mut key = |modifiers: Modifiers, key: Key, act: Act| {
        if ctx.input_mut(|i| i.consume_key(modifiers, key)) {
            acts.push(act);
        }
    };
    let ctrl = Modifiers::COMMAND;
    key(ctrl | Modifiers::SHIFT, Key::Z, Act::Redo);
    key(ctrl, Key::Y, Act::Redo);
    key(ctrl, Key::S, Act::Save);
    key(
        ctrl,
        Key::O,
        Act::Panel(Some(Panel::OpenFile(String::new()))),
    );
    key(ctrl, Key::N, Act::NewJob);
    key(ctrl, Key::B, Act::BeginByHand);
    key(ctrl, Key::L, Act::AskPlace);
    key(ctrl, Key::U, Act::OtherUnit);
    key(ctrl, Key::D, Act::OpenCoach);
    key(ctrl, Key::P, Act::Print);
    key(ctrl, Key::T, Act::OtherTheme);
    key(
        ctrl,
        Key::F,
        Act::Panel(Some(Panel::Find(String::new(), 0))),
    );
    key(ctrl, Key::Plus, Act::Larger(true));
    key(ctrl, Key::Equals, Act::Larger(true));
    key(ctrl, Key::Minus, Act::Larger(false));
    key(Modifiers::NONE, Key::F1, Act::Panel(Some(Panel::About)));
    if panel {
        key(Modifiers::NONE, Key::Escape, Act::Panel(None));
    }
    if ctx.text_edit_focused() {
        return acts;
    }
    let mut key = |modifiers: Modifiers, key: Key, act: Act| {
        if ctx.input_mut(|i| i.consume_key(modifiers, key)) {
            acts.push(act);
        }
    };
    key(ctrl, Key::Z, Act::Undo);
    if panel {
        return acts;
    }
    for (number, step) in [Key::Num1, Key::Num2, Key::Num3, Key::Num4, Key::Num5]
        .into_iter()
        .zip(Step::ALL)
    {
        key(Modifiers::NONE, number, Act::Go(step));
    }
    key(Modifiers::NONE, Key::Num6, Act::Go(Step::Centreline));
    key(Modifiers::NONE, Key::Num7, Act::Go(Step::Sections));
    key(Modifiers::NONE, Key::Num8, Act::Go(Step::Two));
    key(Modifiers::NONE, Key::PageDown, Act::NextPair(true));
    key(Modifiers::NONE, Key::PageUp, Act::NextPair(false));
    acts
}
