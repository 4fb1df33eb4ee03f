//! The known name nearest to a misspelt one.

/// The nearest of `known` by insertions, deletions, replacements and swaps of neighbours, if it is near enough to be
/// meant: at most a third of the letters wrong, or one word contained in the other.
pub(super) fn nearest<'k>(word: &str, known: &[&'k str]) -> Option<&'k str> {
    let lower = word.to_lowercase();
    let best = known
        .iter()
        .map(|k| (distance(&lower, k), *k))
        .min_by_key(|(d, _)| *d)?;
    if best.0 <= 1 + lower.chars().count().max(best.1.chars().count()) / 3 {
        return Some(best.1);
    }
    known
        .iter()
        .copied()
        .find(|k| lower.len() > 2 && (k.contains(&lower) || lower.contains(k)))
}

/// Optimal string alignment distance, letters.
fn distance(a: &str, b: &str) -> usize {
    let a: Vec<char> = a.chars().collect();
    let b: Vec<char> = b.chars().collect();
    let mut rows = vec![vec![0; b.len() + 1]; a.len() + 1];
    for (i, row) in rows.iter_mut().enumerate() {
        row[0] = i;
    }
    rows[0] = (0..=b.len()).collect();
    for i in 1..=a.len() {
        for j in 1..=b.len() {
            let same = usize::from(a[i - 1] != b[j - 1]);
            let mut least = (rows[i - 1][j] + 1)
                .min(rows[i][j - 1] + 1)
                .min(rows[i - 1][j - 1] + same);
            if i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] {
                least = least.min(rows[i - 2][j - 2] + 1);
            }
            rows[i][j] = least;
        }
    }
    rows[a.len()][b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distances() {
        for (a, b, d) in [
            ("", "abc", 3),
            ("near", "naer", 1),
            ("left", "lft", 1),
            ("gap", "map", 1),
            ("a", "a", 0),
        ] {
            assert_eq!(distance(a, b), d, "{a} {b}");
        }
    }

    #[test]
    fn finds_what_was_meant_or_nothing() {
        let known = ["near_mm", "reach_mm", "band_mm", "facing"];
        for (word, expected) in [
            ("naer_mm", Some("near_mm")),
            ("near", Some("near_mm")),
            ("Facing", Some("facing")),
            ("reach", Some("reach_mm")),
            ("colour_of_paint", None),
        ] {
            assert_eq!(nearest(word, &known), expected, "{word}");
        }
        assert_eq!(nearest("left", &[]), None);
    }
}
