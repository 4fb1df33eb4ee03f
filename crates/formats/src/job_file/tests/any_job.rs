//! Any job that could be, sensible or not.

use geom::{Point, Vector};
use proptest::option::of;
use proptest::prelude::*;
use record::{
    Allowed, BarrelPick, BodyState, BodyWork, Car, Centreline, CentrelineWay, Choices, Compare,
    DisplayUnits, EdgeKind, EdgePick, FacePick, Fastener, Finish, Fixing, GapPick, GapTrack,
    Gasket, HingePick, HoleKind, HolePick, Job, Join, JunctionPick, LengthDisplay, LengthUnit,
    Mounting, Opening, OptionKind, Part, Place, PlaceName, PlacesTable, Region, RegionShape,
    Relation, ScanRef, SectionPlan, Side, Slot, StartPose, Stations, Surface, SwingPick,
    TapedLength, Through, UnitSource, Visit,
};

fn number() -> impl Strategy<Value = f64> {
    prop_oneof![
        -5000.0..5000.0_f64,
        Just(0.0),
        Just(-0.0),
        any::<f64>().prop_filter("finite", |v| v.is_finite())
    ]
}

fn point() -> impl Strategy<Value = Point> {
    prop::array::uniform3(number()).prop_map(Point::from)
}

fn vector() -> impl Strategy<Value = Vector> {
    prop::array::uniform3(number()).prop_map(Vector::from)
}

fn text() -> impl Strategy<Value = String> {
    prop_oneof![
        "[a-z][a-z0-9-]{0,6}",
        Just(String::new()),
        any::<String>(),
        Just("\"quo\\ted\"\n// ü (".to_owned())
    ]
}

fn few<S: Strategy>(one: S) -> impl Strategy<Value = Vec<S::Value>>
where
    S::Value: Clone,
{
    prop::collection::vec(one, 0..3)
}

fn id<T: for<'a> From<&'a str> + std::fmt::Debug>() -> impl Strategy<Value = T> {
    text().prop_map(|t| T::from(t.as_str()))
}

fn one_of<T: Clone + std::fmt::Debug + 'static>(all: &'static [T]) -> impl Strategy<Value = T> {
    prop::sample::select(all)
}

fn visit() -> impl Strategy<Value = Visit> {
    let surface = || {
        one_of(&[
            Surface::NotNoted,
            Surface::Bare,
            Surface::Primed,
            Surface::Painted,
        ])
    };
    let mounting = one_of(&[Mounting::NotNoted, Mounting::OnMounts, Mounting::OnStands]);
    let state = (
        mounting,
        surface(),
        surface(),
        prop::array::uniform4(of(number())),
        of(any::<bool>()),
        of(number()),
    )
        .prop_map(
            |(mounting, left, right, films, doors_hung, temperature_c)| BodyState {
                mounting,
                left,
                right,
                left_film_um: films[0],
                right_film_um: films[1],
                left_film_u95_um: films[2],
                right_film_u95_um: films[3],
                doors_hung,
                temperature_c,
            },
        );
    (id(), prop::array::uniform4(text()), number(), state, text()).prop_map(
        |(id, [car, date, operator, instrument], flatness_mm, state, note)| Visit {
            id,
            car,
            date,
            operator,
            instrument,
            flatness_mm,
            state,
            note,
        },
    )
}

fn regions() -> impl Strategy<Value = Vec<Region>> {
    let boxed = (point(), point()).prop_map(|(low, high)| RegionShape::Box { low, high });
    let corners = few(prop::array::uniform2(number()));
    let lasso = (point(), vector(), vector(), corners).prop_map(|(origin, right, up, corners)| {
        RegionShape::Lasso {
            origin,
            right,
            up,
            corners,
        }
    });
    few((prop_oneof![boxed, lasso], text()).prop_map(|(shape, note)| Region { shape, note }))
}

fn scan() -> impl Strategy<Value = ScanRef> {
    let source = prop_oneof![
        Just(UnitSource::Stated),
        Just(UnitSource::Guessed),
        (point(), point(), number()).prop_map(|(from, to, taped_mm)| UnitSource::Checked {
            from,
            to,
            taped_mm
        }),
    ];
    let path = "[a-zäß ]{1,8}(/[a-z.]{1,8}){0,2}";
    (
        id(),
        id(),
        path,
        of(text()),
        one_of(&LengthUnit::ALL),
        source,
        regions(),
        regions(),
        any::<bool>(),
        (side(), text()),
    )
        .prop_map(
            |(
                id,
                visit,
                path,
                hash,
                unit,
                unit_source,
                keep,
                aside,
                largest_piece_only,
                (side, note),
            )| {
                ScanRef {
                    id,
                    visit,
                    path: path.into(),
                    hash,
                    unit,
                    unit_source,
                    side,
                    keep,
                    aside,
                    largest_piece_only,
                    note,
                }
            },
        )
}

fn side() -> impl Strategy<Value = Side> {
    one_of(&[Side::Left, Side::Right, Side::Centre, Side::NotSaid])
}

fn place() -> impl Strategy<Value = Place> {
    (text(), side(), id(), point(), number(), text()).prop_map(
        |(name, side, scan, at, sigma_mm, note)| Place {
            name,
            side,
            scan,
            at,
            sigma_mm,
            note,
        },
    )
}

fn centreline() -> impl Strategy<Value = Centreline> {
    let named = || (text(), side()).prop_map(|(name, side)| PlaceName { name, side });
    let way = prop_oneof![
        Just(CentrelineWay::Pairs),
        Just(CentrelineWay::CentrePlaces),
        Just(CentrelineWay::OwnImage),
        Just(CentrelineWay::None),
        (
            prop::array::uniform3(named()),
            prop::array::uniform2(named()),
            named()
        )
            .prop_map(|(level, line, start)| CentrelineWay::ThreeTwoOne {
                level,
                line,
                start
            }),
    ];
    (way, of(text()), of(text()), of(id())).prop_map(|(way, front, rear, image_of)| Centreline {
        way,
        front,
        rear,
        image_of,
    })
}

fn section_plan() -> impl Strategy<Value = SectionPlan> {
    prop::array::uniform3(number()).prop_map(|[width_mm, step_mm, every_mm]| SectionPlan {
        width_mm,
        step_mm,
        every_mm,
    })
}

fn gap() -> impl Strategy<Value = GapPick> {
    let track = || {
        (id(), few(point()), point(), of(vector())).prop_map(|(scan, along, on_first, outward)| {
            GapTrack {
                scan,
                along,
                on_first,
                outward,
            }
        })
    };
    (
        prop::array::uniform3(text()),
        of(track()),
        of(track()),
        prop::array::uniform2(number()),
    )
        .prop_map(
            |([name, first, second], left, right, [every_mm, reach_mm])| GapPick {
                name,
                first,
                second,
                left,
                right,
                every_mm,
                reach_mm,
            },
        )
}

fn hinge() -> impl Strategy<Value = HingePick> {
    let barrel =
        (text(), point(), point(), of(number())).prop_map(|(name, from, to, diameter_mm)| {
            BarrelPick {
                name,
                from,
                to,
                diameter_mm,
            }
        });
    let swing = (id(), id(), number()).prop_map(|(part, body, open_deg)| SwingPick {
        part,
        body,
        open_deg,
    });
    (text(), id(), few(barrel), of(swing)).prop_map(|(name, scan, barrels, swing)| HingePick {
        name,
        scan,
        barrels,
        swing,
    })
}

fn opening() -> impl Strategy<Value = Opening> {
    let kind = one_of(&[EdgeKind::Auto, EdgeKind::Free, EdgeKind::Bend]);
    let edge =
        (point(), kind, few(point()), any::<bool>()).prop_map(|(near, kind, by_hand, closed)| {
            EdgePick {
                near,
                kind,
                by_hand,
                closed,
            }
        });
    let face = (id(), point(), of(vector()), of(number()), of(number())).prop_map(
        |(id, near, facing, reach_mm, band_mm)| FacePick {
            id,
            near,
            facing,
            reach_mm,
            band_mm,
        },
    );
    let stations = prop_oneof![Just(Stations::Quarters), number().prop_map(Stations::Every)];
    let through = one_of(&[Through::Material, Through::Air]);
    let junction = (
        id(),
        id(),
        id(),
        point(),
        text(),
        text(),
        through,
        stations,
        of(number()),
    )
        .prop_map(
            |(id, a, b, start, start_name, end_name, through, stations, drawn_deg)| JunctionPick {
                id,
                a,
                b,
                start,
                start_name,
                end_name,
                through,
                stations,
                drawn_deg,
            },
        );
    let hole = (
        id(),
        point(),
        one_of(&[HoleKind::Hole, HoleKind::Stud]),
        of(number()),
    )
        .prop_map(|(id, near, kind, diameter_mm)| HolePick {
            id,
            near,
            kind,
            diameter_mm,
        });
    let side = side();
    let picks = (
        of(edge),
        of(point()),
        of(vector()),
        few(face),
        few(junction),
        few(hole),
    );
    let more = (of(id()), of(number()), text());
    (id(), text(), id(), side, picks, more).prop_map(
        |(id, name, scan, side, (edge, top, outward, faces, junctions, holes), more)| {
            let (repeat_of, sureness, note) = more;
            Opening {
                id,
                name,
                scan,
                side,
                edge,
                top,
                outward,
                faces,
                junctions,
                holes,
                repeat_of,
                sureness,
                note,
            }
        },
    )
}

fn part() -> impl Strategy<Value = Part> {
    let slot = (prop::array::uniform2(number()), number())
        .prop_map(|(along, extra_mm)| Slot { along, extra_mm });
    let fixing = one_of(&[Fixing::Fixed, Fixing::Floating]);
    let fastener = (
        id(),
        prop::array::uniform3(number()),
        fixing,
        of(slot),
        (number(), number()),
    )
        .prop_map(
            |(hole, [fastener_mm, part_hole_mm, body_hole_mm], fixing, slot, shim_mm)| Fastener {
                hole,
                fastener_mm,
                part_hole_mm,
                body_hole_mm,
                fixing,
                slot,
                shim_mm,
            },
        );
    let gasket = prop::array::uniform3(number()).prop_map(|[thickness_mm, least, most]| Gasket {
        thickness_mm,
        least,
        most,
    });
    let finish = (text(), number(), number()).prop_map(|(name, part_mm, body_mm)| Finish {
        name,
        part_mm,
        body_mm,
    });
    let allowed = prop::array::uniform5(number()).prop_map(
        |[tight_mm, wide_mm, proud_mm, shy_mm, angle_deg]| Allowed {
            tight_mm,
            wide_mm,
            proud_mm,
            shy_mm,
            angle_deg,
        },
    );
    let evenness = (number(), number()).prop_map(|(within_mm, taper_mm)| record::Evenness {
        within_mm,
        taper_mm,
    });
    let flags = (any::<bool>(), any::<bool>());
    let words = (few(text()), text());
    (
        id(),
        text(),
        number(),
        (allowed, of(evenness)),
        few(fastener),
        of(gasket),
        finish,
        number(),
        flags,
        words,
    )
        .prop_map(
            |(
                id,
                name,
                gap_mm,
                (allowed, evenness),
                fasteners,
                gasket,
                finish,
                cutter_radius_mm,
                flags,
                (must_not_mirror, note),
            )| Part {
                id,
                name,
                gap_mm,
                allowed,
                evenness,
                fasteners,
                gasket,
                finish,
                cutter_radius_mm,
                load_bearing: flags.0,
                must_not_mirror,
                seen_together: flags.1,
                place: flags.1.then_some([0.25, 0.5]),
                note,
            },
        )
}

fn start_pose() -> impl Strategy<Value = StartPose> {
    (vector(), number(), vector(), of(number())).prop_map(|(axis, turn_deg, shift, within_mm)| {
        StartPose {
            axis,
            turn_deg,
            shift,
            within_mm,
        }
    })
}

fn join() -> impl Strategy<Value = Join> {
    (
        id(),
        id(),
        few(text()),
        of(start_pose()),
        any::<bool>(),
        text(),
    )
        .prop_map(|(scan, to, places, start, refine, note)| Join {
            scan,
            to,
            places,
            start,
            refine,
            note,
        })
}

fn body_work() -> impl Strategy<Value = BodyWork> {
    let parts = (
        text(),
        id(),
        id(),
        regions(),
        of(start_pose()),
        number(),
        text(),
    );
    parts.prop_map(
        |(name, before, after, worked, start, most_mm, note)| BodyWork {
            name,
            before,
            after,
            worked,
            start,
            most_mm,
            note,
        },
    )
}

fn taped() -> impl Strategy<Value = TapedLength> {
    let end = || {
        let sides = one_of(&[Side::Left, Side::Right, Side::Centre, Side::NotSaid]);
        (text(), sides).prop_map(|(name, side)| PlaceName { name, side })
    };
    (end(), end(), number(), number(), text()).prop_map(|(from, to, length_mm, u95_mm, note)| {
        TapedLength {
            from,
            to,
            length_mm,
            u95_mm,
            note,
        }
    })
}

pub(super) fn job() -> impl Strategy<Value = Job> {
    const KINDS: &[OptionKind] = &[
        OptionKind::OneShape,
        OptionKind::MirrorA,
        OptionKind::MirrorB,
        OptionKind::Midway,
        OptionKind::MirrorAWithSlots,
        OptionKind::MidwayWithSlots,
        OptionKind::MirrorAWithShims,
        OptionKind::MidwayWithShims,
        OptionKind::TwoHands,
    ];
    let relation = one_of(&[Relation::Mirrored, Relation::Same, Relation::Itself]);
    let compare =
        (id(), id(), of(id()), relation, id()).prop_map(|(id, a, b, relation, part)| Compare {
            id,
            a,
            b,
            relation,
            part,
        });
    let car = (text(), text()).prop_map(|(name, note)| Car { name, note });
    let choices = (few(part()), few((id(), one_of(KINDS), text())))
        .prop_map(|(parts, chosen)| Choices { parts, chosen });
    let units = (
        one_of(&[LengthDisplay::Millimetre, LengthDisplay::Inch]),
        any::<bool>(),
    )
        .prop_map(|(length, decimal_comma)| DisplayUnits {
            length,
            decimal_comma,
        });
    let table = "[a-z ]{1,8}(/[a-z.]{1,8}){0,2}".prop_map(|path| PlacesTable {
        path: path.into(),
        hash: None,
        places: Vec::new(),
        unread: None,
    });
    let lists = (
        few(car),
        few(visit()),
        few(scan()),
        few(opening()),
        few(compare),
        (few(place()), of(table), centreline()),
        (few(join()), few(taped()), few(body_work())),
        (section_plan(), few(gap()), few(hinge())),
    );

    (text(), text(), any::<u64>(), units, lists, choices).prop_map(
        |(
            title,
            note,
            seed,
            units,
            (
                cars,
                visits,
                scans,
                openings,
                compares,
                (places, places_table, centreline),
                (joins, taped, body_work),
                (sections, gaps, hinges),
            ),
            choices,
        )| Job {
            title,
            note,
            seed,
            units,
            cars,
            visits,
            scans,
            hand: Vec::new(),
            places,
            places_table,
            joins,
            taped,
            body_work,
            centreline,
            openings,
            compares,
            sections,
            gaps,
            hinges,
            choices,
        },
    )
}
