//! A curve over time that is kept whole however much happens: where it has many points, the extremes of each stretch of time
//! stay.

/// (s, value), straight in between.
pub type Curve = Vec<(f64, f64)>;

/// Stretches of time into which a curve is cut when it is thinned.
const STRETCHES: usize = 200;
/// Points from which on a curve is thinned; at most twice [`STRETCHES`] and two stay.
const FULL: usize = 1_600;
/// The most points that a cycle which repeats is told again by.
const MOST_AGAIN: f64 = 1_200.0;

/// Indices of the points that stay when time is cut into so many stretches: the first, the last, and the least and the
/// greatest of each stretch. All of them, where they are no more.
#[must_use]
pub fn thinned(points: &[(f64, f64)], stretches: usize) -> Vec<usize> {
    if points.len() <= 2 * stretches {
        return (0..points.len()).collect();
    }
    let last_s = points.last().map_or(0.0, |&(at, _)| at);
    let stretch = |at: f64| (at / last_s * stretches as f64).floor().min(stretches as f64 - 1.0);
    let mut kept = vec![0, points.len() - 1];
    let mut from = 0;
    while from < points.len() {
        let of = stretch(points[from].0);
        let to = from + points[from..].iter().take_while(|(at, _)| stretch(*at) <= of).count().max(1);
        let value = |at: &usize| points[*at].1;
        kept.extend((from..to).min_by(|one, other| value(one).total_cmp(&value(other))));
        kept.extend((from..to).max_by(|one, other| value(one).total_cmp(&value(other))));
        from = to;
    }
    kept.sort_unstable();
    kept.dedup();
    kept
}

/// Adds a point; a level stretch is its two ends.
pub(super) fn push(curve: &mut Curve, at_s: f64, value: f64) {
    if let [.., (_, before), (last_s, last)] = &mut curve[..]
        && *before == value
        && *last == value
    {
        *last_s = at_s;
        return;
    }
    curve.push((at_s, value));
    if curve.len() >= FULL {
        *curve = thinned(curve, STRETCHES).into_iter().map(|at| curve[at]).collect();
    }
}

/// Tells again what came about after `from_s` until `now_s`, over and over, until `then_s`. Where that is more than can be told,
/// the least and the greatest of the cycle stand for it, by turns.
pub(super) fn again(curve: &mut Curve, from_s: f64, now_s: f64, then_s: f64) {
    let first = curve.partition_point(|&(at, _)| at <= from_s);
    let cycle = curve[first..].to_vec();
    let period = now_s - from_s;
    let times = ((then_s - now_s) / period).round();
    if cycle.is_empty() || !(period > 0.0 && times >= 1.0) {
        return;
    }
    // A cycle of many points is thinned, so that what is told again is the shape of it and not its extremes alone.
    let cycle = cycle.iter().map(|&(at, value)| (at - from_s, value)).collect::<Curve>();
    let most = (MOST_AGAIN / times / 2.0).max(1.0);
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "between 1 and MOST_AGAIN")]
    let cycle: Curve =
        thinned(&cycle, most as usize).into_iter().map(|at| (from_s + cycle[at].0, cycle[at].1)).collect();
    if times * cycle.len() as f64 <= 2.0 * MOST_AGAIN {
        let mut by = period;
        while by <= (times + 0.5) * period {
            cycle.iter().for_each(|&(at, value)| push(curve, at + by, value));
            by += period;
        }
        return;
    }
    let by_value = |one: &&(f64, f64), other: &&(f64, f64)| one.1.total_cmp(&other.1);
    let (Some(least), Some(greatest)) = (cycle.iter().min_by(by_value), cycle.iter().max_by(by_value)) else { return };
    let turns = 2 * STRETCHES;
    for turn in 1..=turns {
        let at = now_s + (then_s - now_s) * turn as f64 / (turns + 1) as f64;
        push(curve, at, if turn % 2 == 0 { least.1 } else { greatest.1 });
    }
    if let Some(&(_, last)) = cycle.last() {
        push(curve, then_s, last);
    }
}

#[cfg(test)]
mod tests {
    use super::{FULL, again, push, thinned};

    /// Values without order between 0 and 1.
    fn value(k: u32) -> f64 {
        f64::from(k.wrapping_mul(2_654_435_761)) / f64::from(u32::MAX)
    }

    fn span(values: impl Iterator<Item = f64>) -> (f64, f64) {
        values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(value), high.max(value)))
    }

    #[test]
    fn however_many_points_come_the_curve_is_whole_and_short() {
        for points in [50, 100, 1_599, 1_600, 5_000, 100_000] {
            let mut curve = vec![(0.0, value(0))];
            (1..=points).for_each(|k| push(&mut curve, f64::from(k), value(k)));
            assert!(curve.len() <= FULL, "{points}: {}", curve.len());
            assert_eq!(curve.first(), Some(&(0.0, value(0))));
            assert_eq!(curve.last(), Some(&(f64::from(points), value(points))));
            assert!(curve.is_sorted_by(|one, other| one.0 < other.0));
            // What each twentieth came to is told there, or within a hundredth beside it.
            let reach = f64::from(points) / 100.0;
            for part in 0..20 {
                let (from, to) = (points * part / 20, points * (part + 1) / 20);
                let whole = span((from..=to).map(value));
                let near = |at: &f64| *at >= f64::from(from) - reach && *at <= f64::from(to) + reach;
                let kept = span(curve.iter().filter(|(at, _)| near(at)).map(|point| point.1));
                assert!(kept.0 <= whole.0 && kept.1 >= whole.1, "{points}, {part}: {kept:?} of {whole:?}");
            }
        }
    }

    #[test]
    fn a_level_stretch_is_two_points() {
        let mut curve = vec![(0.0, 5.0)];
        (1..1_000).for_each(|k| push(&mut curve, f64::from(k), 5.0));
        assert_eq!(curve, [(0.0, 5.0), (999.0, 5.0)]);
    }

    #[test]
    fn a_cycle_goes_on() {
        let mut curve = vec![(0.0, 9.0), (10.0, 1.0), (11.0, 2.0), (12.0, 1.0)];
        again(&mut curve, 10.0, 12.0, 16.0);
        assert_eq!(curve[4..], [(13.0, 2.0), (14.0, 1.0), (15.0, 2.0), (16.0, 1.0)]);
        let mut long = vec![(0.0, 9.0), (10.0, 1.0), (11.0, 2.0), (12.0, 1.0)];
        again(&mut long, 10.0, 12.0, 2e6);
        assert_eq!(long.last(), Some(&(2e6, 1.0)));
        assert!(long.len() < 500 && long[4..].iter().all(|(_, t)| (1.0..=2.0).contains(t)));
        let greatest = long.iter().filter(|(at, t)| *at > 1e6 && *t == 2.0).count();
        assert!(greatest > 50, "the swing is still seen: {greatest}");
    }

    #[test]
    fn few_points_all_stay() {
        assert_eq!(thinned(&[(0.0, 1.0), (1.0, 1.0)], 1), [0, 1]);
        assert_eq!(thinned(&[], 10), Vec::<usize>::new());
    }
}
