//! Names that are spelt alike.

/// How alike two names must be, of 1, for one to be meant by the other.
const LIKE: f64 = 0.8;

/// How alike two names are spelt (Jaro and Winkler), where one may be meant by the other.
#[must_use]
pub fn likeness(name: &str, other: &str) -> Option<f64> {
    Some(strsim::jaro_winkler(name, other)).filter(|&likeness| likeness >= LIKE)
}

/// The candidate that is spelt most like `name`, if one is like it; of equals the last.
#[must_use]
pub fn most_alike<'c>(name: &str, candidates: impl Iterator<Item = &'c str>) -> Option<&'c str> {
    candidates
        .filter_map(|candidate| Some((likeness(name, candidate)?, candidate)))
        .max_by(|(one, _), (other, _)| one.total_cmp(other))
        .map(|(_, candidate)| candidate)
}

#[cfg(test)]
mod tests {
    use super::{likeness, most_alike};

    #[test]
    fn the_nearest_is_meant_and_nothing_far() {
        assert_eq!(most_alike("burnr", ["turbine", "burner", "boiler"].into_iter()), Some("burner"));
        assert_eq!(most_alike("xyzzy", ["turbine", "burner"].into_iter()), None);
        assert!(likeness("kiln", "kilns") > likeness("kiln", "kite"));
    }
}
