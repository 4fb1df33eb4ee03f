//! Which side of the car a file name speaks of.

use record::Side;

const LEFT: [&str; 9] = [
    "left",
    "lh",
    "l",
    "li",
    "links",
    "linke",
    "gauche",
    "izquierda",
    "sinistra",
];
const RIGHT: [&str; 10] = [
    "right", "rh", "r", "re", "rechts", "rechte", "droite", "droit", "derecha", "destra",
];
const CENTRE: [&str; 7] = [
    "centre", "center", "middle", "mitte", "milieu", "centro", "central",
];

/// The side named in a file name, with how sure that is; `NotSaid` and 0 if it names none or several.
pub(super) fn side_of(name: &str) -> (Side, f64) {
    let stem = name.rsplit_once('.').map_or(name, |s| s.0);
    let words = words(stem);
    let sure = |list: &[&str]| {
        words
            .iter()
            .filter(|w| list.contains(&w.as_str()))
            .map(|w| match w.chars().count() {
                1 => 0.7,
                2 => 0.8,
                _ => 0.95,
            })
            .fold(0.0, f64::max)
    };
    let found: Vec<(Side, f64)> = [
        (Side::Left, sure(&LEFT)),
        (Side::Right, sure(&RIGHT)),
        (Side::Centre, sure(&CENTRE)),
    ]
    .into_iter()
    .filter(|f| f.1 > 0.0)
    .collect();
    match found[..] {
        [one] => one,
        _ => (Side::NotSaid, 0.0),
    }
}

/// Words in lower case: broken where letters end and where a capital follows a small letter.
fn words(s: &str) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    let mut before = ' ';
    for c in s.chars() {
        if c.is_alphabetic() {
            if !before.is_alphabetic() || (before.is_lowercase() && c.is_uppercase()) {
                out.push(String::new());
            }
            if let Some(w) = out.last_mut() {
                w.extend(c.to_lowercase());
            }
        }
        before = c;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_bounded_and_case_does_not_matter() {
        let check = |name: &str, side: Side| assert_eq!(side_of(name).0, side, "{name}");
        check("left.ply", Side::Left);
        check("Lamp_LEFT-2.stl", Side::Left);
        check("scanL.ply", Side::Left);
        check("wing_l_03.e57", Side::Left);
        check("LH front.obj", Side::Left);
        check("phare gauche.ply", Side::Left);
        check("Scheinwerfer li.stl", Side::Left);
        check("right.stl", Side::Right);
        check("RH_vent.ply", Side::Right);
        check("phare-droite.xyz", Side::Right);
        check("lamp_r.ply", Side::Right);
        check("re.ply", Side::Right);
        check("centre.xyz", Side::Centre);
        check("bright.ply", Side::NotSaid);
        check("leftover.ply", Side::NotSaid);
        check("grille.ply", Side::NotSaid);
        check("left and right.ply", Side::NotSaid);
        check("rear.ply", Side::NotSaid);
        check("", Side::NotSaid);
    }

    #[test]
    fn longer_words_are_surer() {
        assert!(side_of("left.ply").1 > side_of("lh.ply").1);
        assert!(side_of("lh.ply").1 > side_of("l.ply").1);
    }
}
