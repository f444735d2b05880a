//! The kernel against nalgebra's matrix exponential and brute force.

use std::rc::Rc;

use nalgebra::{DMatrix, DVector};
use proptest::prelude::*;

use super::ladder::Square;
use super::linear::Linear;

/// Capacities, walls between neighbours and to the outside, heat, temperatures; perhaps streams one way.
#[derive(Clone, Debug)]
struct Case {
    capacity: Vec<f64>,
    conductance: Square,
    heat: Vec<f64>,
    start: Vec<f64>,
}

/// What joins zones.
#[derive(Clone, Copy, PartialEq)]
enum Joined {
    Walls,
    /// Walls, and streams one way besides.
    Streams,
    /// Both, each zone with the one before it only.
    InAChain,
}

fn case(joined: Joined) -> impl Strategy<Value = Case> {
    (1_usize..6)
        .prop_flat_map(move |size| {
            let zone = (4.0_f64..7.0, 0.0_f64..40.0, -2e3_f64..2e3, -30.0_f64..90.0);
            let link = (0.0_f64..30.0, 0.0_f64..20.0);
            (prop::collection::vec(zone, size), prop::collection::vec(link, size * size))
        })
        .prop_map(move |(zones, links)| {
            let size = zones.len();
            let mut k = Square::zero(size);
            for (row, zone) in zones.iter().enumerate() {
                // Every third zone has no wall to the outside.
                k.entries[row * size + row] -= if row % 3 == 2 { 0.0 } else { zone.1 };
                for column in 0..row {
                    let (wall, stream) = links[row * size + column];
                    if joined == Joined::InAChain && column + 1 != row {
                        continue;
                    }
                    k.entries[row * size + row] -= wall;
                    k.entries[column * size + column] -= wall;
                    k.entries[row * size + column] += wall;
                    k.entries[column * size + row] += wall;
                    if joined != Joined::Walls {
                        k.entries[row * size + column] += stream;
                        k.entries[column * size + column] -= stream;
                    }
                }
            }
            Case {
                capacity: zones.iter().map(|zone| 10_f64.powf(zone.0)).collect(),
                conductance: k,
                heat: zones.iter().map(|zone| zone.2).collect(),
                start: zones.iter().map(|zone| zone.3).collect(),
            }
        })
}

/// T(t) and its integral by one exponential of the augmented matrix [[A, b, 0], [0, 0, 0], [1, 0, 0]]. Over many time constants
/// its squarings lose digits (seven of them at 10⁶ s, told by exact fractions), so that long times are held by [`closes`].
fn by_exponential(case: &Case, t: f64) -> (Vec<f64>, Vec<f64>) {
    let size = case.capacity.len();
    let mut m = DMatrix::zeros(2 * size + 1, 2 * size + 1);
    for row in 0..size {
        for column in 0..size {
            m[(row, column)] = case.conductance.entries[row * size + column] / case.capacity[row] * t;
        }
        m[(row, size)] = case.heat[row] / case.capacity[row] * t;
        m[(size + 1 + row, row)] = t;
    }
    let mut start = DVector::zeros(2 * size + 1);
    for (row, temperature) in case.start.iter().enumerate() {
        start[row] = *temperature;
    }
    start[size] = 1.0;
    let end = m.exp() * start;
    ((0..size).map(|row| end[row]).collect(), (0..size).map(|row| end[size + 1 + row]).collect())
}

fn agrees(case: &Case, t: f64) -> Result<(), TestCaseError> {
    let linear = Rc::new(Linear::new(&case.capacity, &case.conductance));
    let segment = linear.segment(&case.start, &case.heat);
    let (reached, gathered) = segment.after(t);
    let (temperatures, integrals) = by_exponential(case, t);
    for zone in 0..case.start.len() {
        let room = 1e-9 * (1.0 + temperatures[zone].abs());
        prop_assert!((reached[zone] - temperatures[zone]).abs() < room, "{reached:?} {temperatures:?} after {t}");
        prop_assert!((gathered[zone] - integrals[zone]).abs() < room * t.max(1.0), "{gathered:?} {integrals:?}");
        let curve = segment.curve(&[(zone, 1.0)], 0.0);
        prop_assert!((curve.value(t) - reached[zone]).abs() < room);
        let gathering = segment.gathered(0.0, &[(zone, 1.0)], 0.0);
        prop_assert!((gathering.value(t) - gathered[zone]).abs() < room * t.max(1.0));
    }
    Ok(())
}

/// What came in is what warmed: C·(T(t) − T(0)) = K·∫T + heat·t, to 1e-9 of what passed.
fn closes(case: &Case, t: f64) -> Result<(), TestCaseError> {
    let size = case.start.len();
    let linear = Rc::new(Linear::new(&case.capacity, &case.conductance));
    let (reached, gathered) = linear.segment(&case.start, &case.heat).after(t);
    for zone in 0..size {
        let row = &case.conductance.entries[zone * size..(zone + 1) * size];
        let (mut sum, mut through) = (case.heat[zone] * t, (case.heat[zone] * t).abs());
        for (conductance, gathered) in row.iter().zip(&gathered) {
            sum += conductance * gathered;
            through += (conductance * gathered).abs();
        }
        let warmed = case.capacity[zone] * (reached[zone] - case.start[zone]);
        prop_assert!((sum - warmed).abs() <= 1e-9 * (through + warmed.abs()), "{sum} {warmed} of {through}");
    }
    Ok(())
}

/// Thresholds and extremes against a fine scan.
fn scan(case: &Case, until: f64) -> Result<(), TestCaseError> {
    let linear = Rc::new(Linear::new(&case.capacity, &case.conductance));
    let segment = linear.segment(&case.start, &case.heat);
    let steps = 300_u32;
    let course: Vec<Vec<f64>> =
        (0..=steps).map(|k| segment.after(until * f64::from(k) / f64::from(steps)).0.to_vec()).collect();
    let end = &course[steps as usize];
    for zone in 0..case.start.len() {
        let [least, greatest] = segment.span(zone, until, end[zone]);
        let seen = course.iter().map(|temperatures| temperatures[zone]);
        let (low, high) = seen.fold((f64::MAX, f64::MIN), |(low, high), next| (low.min(next), high.max(next)));
        prop_assert!(least.0 <= low + 1e-9 && greatest.0 >= high - 1e-9, "{least:?} {greatest:?} {low} {high}");
        prop_assert!((segment.after(least.1).0[zone] - least.0).abs() < 1e-9);
        prop_assert!((segment.after(greatest.1).0[zone] - greatest.0).abs() < 1e-9);
        for share in [0.1, 0.5, 0.9, 1.1] {
            let level = least.0 + share * (greatest.0 - least.0);
            let rising = case.start[zone] < level;
            let sign = if rising { -1.0 } else { 1.0 };
            let found = segment.curve(&[(zone, sign)], -sign * level).first_down(until, 1e-13 * (1.0 + level.abs()));
            for (k, temperatures) in course.iter().enumerate() {
                let t = until * k as f64 / f64::from(steps);
                if found.is_some_and(|found| t >= found - 1e-6) {
                    break;
                }
                prop_assert!(sign * (temperatures[zone] - level) > -1e-9, "missed at {t}: {found:?}");
            }
            if let Some(found) = found {
                prop_assert!((segment.after(found).0[zone] - level).abs() < 1e-8 * (1.0 + level.abs()));
            }
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn walls_agree_with_the_exponential(case in case(Joined::Walls), t in 0.0_f64..7.0) {
        if t < 4.0 {
            agrees(&case, 10_f64.powf(t))?;
        }
        closes(&case, 10_f64.powf(t))?;
    }

    #[test]
    fn streams_agree_with_the_exponential(case in case(Joined::Streams), t in 0.0_f64..7.0) {
        if t < 4.0 {
            agrees(&case, 10_f64.powf(t))?;
        }
        closes(&case, 10_f64.powf(t))?;
    }

    #[test]
    fn streams_in_a_chain_agree_with_the_exponential(case in case(Joined::InAChain), t in 0.0_f64..7.0) {
        if t < 4.0 {
            agrees(&case, 10_f64.powf(t))?;
        }
        closes(&case, 10_f64.powf(t))?;
    }

    #[test]
    fn streams_in_a_chain_hide_no_crossing_and_no_peak(case in case(Joined::InAChain), t in 2.0_f64..5.5) {
        scan(&case, 10_f64.powf(t))?;
    }

    #[test]
    fn walls_hide_no_crossing_and_no_peak(case in case(Joined::Walls), t in 2.0_f64..5.5) {
        scan(&case, 10_f64.powf(t))?;
    }

    #[test]
    fn streams_hide_no_crossing_and_no_peak(case in case(Joined::Streams), t in 2.0_f64..5.5) {
        scan(&case, 10_f64.powf(t))?;
    }
}
