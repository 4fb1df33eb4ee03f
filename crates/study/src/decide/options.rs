//! The options of a comparison and what comes out for each.

use geom::{Rigid, t_quantile};
use record::{
    Chance, Direction, Figure, HoleId, Need, NeedKind, OptionKind, OptionResult, Quantity,
    Relation, Source, Verdict, WorstPlace,
};

use super::chance::{Drawn, odds};
use super::cures::{Cure, cure};
use super::pairing::Pairing;
use super::task::Task;
use crate::fit::{Fit, FitProblem, Held, NoFit, place_from, place_within};

/// Chance from which an option fits, and up to which it will not.
const SURE: f64 = 0.95;
/// Rounds end once the share is known this well.
const ENOUGH: f64 = 1e-8;

/// One option as planned.
pub(super) struct Planned {
    pub kind: OptionKind,
    /// Its placements, by place in the list of tasks; empty where the fasteners cannot be started.
    pub tasks: Vec<usize>,
    /// Why not.
    pub no_fit: Option<NoFit>,
    pub needs: Vec<Need>,
    pub incurable: bool,
}

/// All options with the placements they share.
pub(super) struct Plan {
    pub tasks: Vec<Task>,
    pub options: Vec<Planned>,
}

impl Plan {
    fn add(&mut self, task: Task) -> usize {
        self.tasks.push(task);
        self.tasks.len() - 1
    }

    /// The placement of an option that uses most.
    pub(super) fn deciding(&self, o: &Planned) -> Option<usize> {
        let by_share =
            |i: &usize, j: &usize| self.tasks[*i].share().total_cmp(&self.tasks[*j].share());
        o.tasks.iter().copied().max_by(by_share)
    }
}

/// Works out which options there are and places their parts.
pub(super) fn plan(p: &Pairing<'_>) -> Plan {
    let mut plan = Plan {
        tasks: Vec::new(),
        options: Vec::new(),
    };
    if !p.measured {
        return plan;
    }
    let own = [plan.add(Task::own(p, 0)), plan.add(Task::own(p, 1))];
    let shapes: &[OptionKind] = match p.compare.relation {
        _ if p.part.load_bearing => &[],
        Relation::Mirrored => &[OptionKind::MirrorA, OptionKind::MirrorB, OptionKind::Midway],
        Relation::Same => &[OptionKind::OneShape],
        Relation::Itself => &[OptionKind::MirrorA, OptionKind::Midway],
    };
    for kind in shapes {
        one_shape(p, &mut plan, *kind, own);
    }
    if p.compare.relation != Relation::Itself {
        plan.options.push(Planned {
            kind: OptionKind::TwoHands,
            tasks: own.to_vec(),
            no_fit: None,
            needs: Vec::new(),
            incurable: false,
        });
    }
    plan
}

fn held(problem: &FitProblem) -> Vec<Held> {
    problem.fasteners.iter().map(Held::from).collect()
}

/// Adds the placements of one shape on both sides; returns their places.
fn add_tasks(
    p: &Pairing<'_>,
    plan: &mut Plan,
    kind: OptionKind,
    fit: &Fit,
    problem: &FitProblem,
    own: [usize; 2],
) -> Vec<usize> {
    match kind {
        OptionKind::Midway => (0..2)
            .map(|s| plan.add(Task::midway(p, s, fit, held(problem))))
            .collect(),
        OptionKind::MirrorB => vec![plan.add(Task::other(p, 0, fit, held(problem))), own[1]],
        _ => vec![own[0], plan.add(Task::other(p, 1, fit, held(problem)))],
    }
}

fn one_shape(p: &Pairing<'_>, plan: &mut Plan, kind: OptionKind, own: [usize; 2]) {
    let (part, into) = if kind == OptionKind::MirrorB {
        (1, 0)
    } else {
        (0, 1)
    };
    let single = p.problem(part, into);
    let midway = kind == OptionKind::Midway;
    let joint = |single: &FitProblem| {
        if midway {
            single.midway()
        } else {
            single.clone()
        }
    };
    let angles = p.angles.iter().fold(0.0_f64, |m, a| m.max(a.d.abs())) / p.part.allowed.angle_deg;
    let angle_share = if angles.is_nan() {
        0.0
    } else {
        angles * if midway { 0.5 } else { 1.0 }
    };
    let found = place_within(&joint(&single), ENOUGH);
    let share = found.as_ref().map_or(f64::INFINITY, |f| f.share);
    let mut planned = Planned {
        kind,
        tasks: Vec::new(),
        no_fit: found.as_ref().err().copied(),
        needs: Vec::new(),
        incurable: angle_share > 1.0 + 1e-9,
    };
    if let Ok(fit) = &found {
        planned.tasks = add_tasks(p, plan, kind, fit, &single, own);
    }
    if share <= 1.0 + 1e-9 {
        plan.options.push(planned);
        return;
    }
    let near = found.as_ref().map_or(Rigid::identity(), |f| f.pose);
    let loose = (!planned.incurable)
        .then(|| place_from(&joint(&single.loose()), &near, ENOUGH).ok())
        .flatten();
    let Some(free) = loose.filter(|f| f.share <= 1.0 + 1e-9) else {
        planned.incurable = true;
        if let Ok(fit) = &found {
            planned.needs.extend(take_off(p, fit, midway));
        }
        plan.options.push(planned);
        return;
    };
    let found_cure = cure(p, &single, midway, &free);
    planned.incurable = found_cure.is_none();
    plan.options.push(planned);
    let Some(Cure {
        problem,
        kind: need_kind,
        amount,
        along,
    }) = found_cure
    else {
        return;
    };
    let with = match (kind, need_kind) {
        (OptionKind::Midway, NeedKind::Shim) => OptionKind::MidwayWithShims,
        (OptionKind::Midway, _) => OptionKind::MidwayWithSlots,
        (OptionKind::OneShape, NeedKind::Shim) => OptionKind::OneShapeWithShims,
        (OptionKind::OneShape, _) => OptionKind::OneShapeWithSlots,
        (OptionKind::MirrorA, NeedKind::Shim) => OptionKind::MirrorAWithShims,
        (OptionKind::MirrorA, _) => OptionKind::MirrorAWithSlots,
        _ => return,
    };
    if let Ok(fit) = place_from(&joint(&problem), &free.pose, ENOUGH) {
        let tasks = add_tasks(p, plan, kind, &fit, &problem, own);
        plan.options.push(Planned {
            kind: with,
            tasks,
            no_fit: None,
            needs: needs(p, need_kind, amount, &along),
            incurable: false,
        });
    }
}

fn needs(p: &Pairing<'_>, kind: NeedKind, amount: f64, along: &[[f64; 2]]) -> Vec<Need> {
    p.holes
        .iter()
        .enumerate()
        .map(|(j, (_, h))| Need {
            kind,
            hole: Some(HoleId(h.id.0.clone())),
            amount_mm: amount,
            along: along.get(j).copied(),
        })
        .collect()
}

/// The most metal that has to come off the part where it is too tight.
fn take_off(p: &Pairing<'_>, fit: &Fit, midway: bool) -> Option<Need> {
    let tight = if midway {
        p.limits.tight + p.limits.wide
    } else {
        p.limits.tight
    };
    let most = fit
        .starts
        .gap
        .iter()
        .fold(0.0_f64, |m, g| m.max(-g - tight))
        * if midway { 0.5 } else { 1.0 };
    (most > 0.0).then_some(Need {
        kind: NeedKind::TakeOff,
        hole: None,
        amount_mm: most,
        along: None,
    })
}

/// Results of all options, best first.
pub(super) fn results(p: &Pairing<'_>, plan: &mut Plan, drawn: &Drawn) -> Vec<OptionResult> {
    if !p.measured {
        return not_measured(p);
    }
    let mut out: Vec<OptionResult> = plan
        .options
        .iter()
        .map(|o| result(p, plan, o, drawn))
        .collect();
    let rank = |v: Verdict| match v {
        Verdict::Fits => 0,
        Verdict::NotProven => 1,
        Verdict::WillNotFit => 2,
        Verdict::NotMeasured => 3,
    };
    // The order of OptionKind is the order of effort, simplest first.
    out.sort_by_key(|o| (rank(o.verdict), o.kind));
    out
}

fn not_measured(p: &Pairing<'_>) -> Vec<OptionResult> {
    let kinds: &[OptionKind] = if p.part.load_bearing {
        &[OptionKind::TwoHands]
    } else if p.compare.relation == Relation::Same {
        &[OptionKind::OneShape, OptionKind::TwoHands]
    } else {
        &[
            OptionKind::MirrorA,
            OptionKind::Midway,
            OptionKind::TwoHands,
        ]
    };
    kinds
        .iter()
        .map(|&kind| OptionResult {
            kind,
            uses: None,
            worst: None,
            worst_gap_mm: None,
            chance: None,
            even: None,
            band_percent: None,
            verdict: Verdict::NotMeasured,
            needs: Vec::new(),
            incurable: false,
            least_oversize_mm: None,
        })
        .collect()
}

fn result(p: &Pairing<'_>, plan: &Plan, o: &Planned, drawn: &Drawn) -> OptionResult {
    let mut r = OptionResult {
        kind: o.kind,
        uses: None,
        worst: None,
        worst_gap_mm: None,
        chance: None,
        even: None,
        band_percent: None,
        verdict: Verdict::WillNotFit,
        needs: o.needs.clone(),
        incurable: o.incurable,
        least_oversize_mm: o.no_fit.map(|n| n.least_oversize).filter(|v| v.is_finite()),
    };
    let Some(decides) = plan.deciding(o) else {
        return r;
    };
    let task = &plan.tasks[decides];
    // A part drawn to its own side is out by nothing but the doubt of the readings.
    let own = (o.kind == OptionKind::TwoHands)
        .then(|| pointwise(p, o.tasks.iter().map(|&t| plan.tasks[t].side)))
        .flatten();
    let (u, nu) = own
        .as_ref()
        .map_or_else(|| task.share_u(p), |w| (w.u, w.nu));
    let (mut share, mut share_u95) = (task.share(), geom::u95(u, nu));
    let draws = drawn.first().map_or(0, Vec::len);
    let fits = if draws > 0 {
        let odds = odds(&plan.tasks, drawn, &o.tasks, decides);
        share = odds.share;
        if own.is_some() {
            share_u95 = odds.spread;
        }
        odds.fits
    } else {
        about(p, plan, o)
    };
    r.uses = Some(Figure {
        value: 100.0 * share,
        u95: 100.0 * share_u95,
        nu,
        source: source(p, task),
        quantity: Quantity::Percent,
    });
    r.worst = match own {
        Some(widest) => Some(known_worst(p, &widest, share, share_u95)),
        None => worst(p, task, share, share_u95, nu),
    };
    r.worst_gap_mm = task.starts.gap.iter().map(|g| g.abs()).reduce(f64::max);
    r.chance = (draws > 0).then_some(Chance {
        fits,
        draws: draws as u32,
    });
    r.verdict = if fits >= SURE {
        Verdict::Fits
    } else if fits <= 1.0 - SURE {
        Verdict::WillNotFit
    } else {
        Verdict::NotProven
    };
    r
}

fn source(p: &Pairing<'_>, task: &Task) -> Source {
    if task.angle_share() > task.edge_share || p.seen.is_empty() {
        Source::Noise
    } else {
        Source::EdgeSight
    }
}

/// The reading that is known worst against what is allowed there.
struct Widest<'a> {
    /// Standard uncertainty as a share of what is allowed.
    u: f64,
    nu: f64,
    side: usize,
    place: &'a str,
    direction: Direction,
    allowed: f64,
    station: Option<usize>,
}

/// Largest doubt of any one reading as a share of what is allowed there: what a part drawn to its own side uses at
/// most on `sides`, before its placement takes some of it up. `None` without readings.
fn pointwise<'a>(p: &'a Pairing<'_>, sides: impl IntoIterator<Item = usize>) -> Option<Widest<'a>> {
    let l = &p.limits;
    // Which way a reading errs is not known: the way that allows less counts.
    let less = |a: (Direction, f64), b: (Direction, f64)| if a.1 <= b.1 { a } else { b };
    let (gap_dir, gap) = less((Direction::Tight, l.tight), (Direction::Wide, l.wide));
    let (flush_dir, flush) = less((Direction::Proud, l.proud), (Direction::Shy, l.shy));
    let mut widest: Option<Widest> = None;
    // Of equal ones the first.
    let mut offer = |w: Widest<'a>| {
        if widest.as_ref().is_none_or(|best| w.u > best.u) {
            widest = Some(w);
        }
    };
    for side in sides {
        let d = &p.doubt[side];
        let edge = |k: usize, mm: f64, direction, allowed| Widest {
            u: mm / allowed,
            nu: d.nu,
            side,
            place: &p.compare.stations[p.seen[k]].place,
            direction,
            allowed,
            station: Some(p.seen[k]),
        };
        for (k, u) in d.gap_u.iter().enumerate() {
            offer(edge(k, u.hypot(p.bias), gap_dir, gap));
        }
        for (k, u) in d.flush_u.iter().enumerate() {
            offer(edge(k, *u, flush_dir, flush));
        }
        for a in &p.angles {
            offer(Widest {
                u: a.u[side].0 / p.part.allowed.angle_deg,
                nu: a.u[side].1,
                side,
                place: &a.name,
                direction: Direction::AngleLarge,
                allowed: p.part.allowed.angle_deg,
                station: None,
            });
        }
    }
    widest
}

/// Chance without draws: the normal approximation of the share; for a part drawn to its own side a lower bound from
/// the doubts of the single readings, as many of which are independent as there are factors.
fn about(p: &Pairing<'_>, plan: &Plan, o: &Planned) -> f64 {
    o.tasks
        .iter()
        .map(|&t| {
            let task = &plan.tasks[t];
            if !task.share().is_finite() {
                return 0.0;
            }
            if task.own < 1.0 {
                let (u, nu) = task.share_u(p);
                return geom::conforming(task.share(), u, nu, f64::NEG_INFINITY, 1.0);
            }
            let (u, nu) = pointwise(p, [task.side]).map_or((0.0, f64::INFINITY), |w| (w.u, w.nu));
            let several = p.doubt[task.side].gap.ncols().max(1) as f64 + p.angles.len() as f64;
            let tail = if u > 0.0 {
                2.0 * geom::t_sf(1.0 / u, nu)
            } else {
                0.0
            };
            (1.0 - several * tail).max(0.0)
        })
        .product()
}

/// Share of what is allowed; nothing out uses nothing, also where nothing is allowed.
fn share_of(amount: f64, allowed: f64) -> f64 {
    if amount == 0.0 { 0.0 } else { amount / allowed }
}

/// What may be the place that decides.
struct Candidate<'a> {
    share: f64,
    /// How strongly it holds the share up: many places can be put as far out at no cost, few have to be.
    pull: f64,
    amount: f64,
    direction: Direction,
    allowed: f64,
    station: Option<usize>,
    place: &'a str,
}

impl Candidate<'_> {
    fn decides_more(&self, other: &Self) -> bool {
        let tie = (self.share - other.share).abs() <= 1e-4 * (1.0 + other.share);
        if tie {
            (self.pull, self.amount) > (other.pull, other.amount)
        } else {
            self.share > other.share
        }
    }
}

/// The place of a part drawn to its own side that is known worst.
fn known_worst(p: &Pairing<'_>, w: &Widest<'_>, share: f64, share_u95: f64) -> WorstPlace {
    let (source, quantity) = kind_of(w.station.is_none());
    WorstPlace {
        place: w.place.to_owned(),
        side: p.side(w.side),
        direction: w.direction,
        amount: Figure {
            value: share * w.allowed,
            u95: share_u95 * w.allowed,
            nu: w.nu,
            source,
            quantity,
        },
        allowed: w.allowed,
        station: w.station,
    }
}

fn kind_of(angle: bool) -> (Source, Quantity) {
    if angle {
        (Source::Noise, Quantity::Angle)
    } else {
        (Source::EdgeSight, Quantity::Length)
    }
}

/// The place that decides: the one that uses most; where several use the same, the one that holds the part there.
///
/// How far it is out follows from `share`, the share the option uses without the noise of the readings; but the angle of a
/// part drawn to the other side is out by what the ladder says.
fn worst(p: &Pairing<'_>, task: &Task, share: f64, share_u95: f64, nu: f64) -> Option<WorstPlace> {
    let l = &p.limits;
    let mut all: Vec<Candidate> = Vec::new();
    for (k, &i) in p.seen.iter().enumerate() {
        let place = p.compare.stations[i].place.as_str();
        let (g, f) = (task.starts.gap[k], task.starts.flush[k]);
        let pulls = task
            .pull
            .as_ref()
            .map_or((0.0, 0.0), |pull| (pull.gap[k].abs(), pull.flush[k].abs()));
        let (gap_dir, gap_allowed) = if g < 0.0 {
            (Direction::Tight, l.tight)
        } else {
            (Direction::Wide, l.wide)
        };
        let (flush_dir, flush_allowed) = if f > 0.0 {
            (Direction::Proud, l.proud)
        } else {
            (Direction::Shy, l.shy)
        };
        for (amount, pull, direction, allowed) in [
            (g.abs(), pulls.0, gap_dir, gap_allowed),
            (f.abs(), pulls.1, flush_dir, flush_allowed),
        ] {
            all.push(Candidate {
                share: share_of(amount, allowed),
                pull,
                amount,
                direction,
                allowed,
                station: Some(i),
                place,
            });
        }
    }
    for (a, e) in p.angles.iter().zip(&task.angles) {
        all.push(Candidate {
            share: share_of(e.abs(), task.allowed_deg),
            pull: 1.0,
            amount: e.abs(),
            direction: if *e > 0.0 {
                Direction::AngleLarge
            } else {
                Direction::AngleSmall
            },
            allowed: task.allowed_deg,
            station: None,
            place: &a.name,
        });
    }
    let Candidate {
        amount,
        direction,
        allowed,
        station,
        place,
        ..
    } = all
        .into_iter()
        .reduce(|best, c| if c.decides_more(&best) { c } else { best })?;
    let place = place.to_owned();
    let angle = station.is_none();
    let (amount, u95, nu) = if angle {
        let (u, nu) = p
            .angles
            .iter()
            .find(|a| a.name == place)
            .map_or((0.0, f64::INFINITY), |a| a.u[task.side]);
        let out = if task.own > 0.0 {
            share * allowed
        } else {
            amount
        };
        (out, u * t_quantile(0.975, nu), nu)
    } else {
        (share * allowed, share_u95 * allowed, nu)
    };
    let (source, quantity) = kind_of(angle);
    Some(WorstPlace {
        place,
        side: p.side(task.side),
        direction,
        amount: Figure {
            value: amount,
            u95,
            nu,
            source,
            quantity,
        },
        allowed,
        station,
    })
}
