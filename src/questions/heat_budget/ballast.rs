//! The window of mass of a zone that rides out an intermittent source: light enough not to pass the vessel's limit, heavy enough that
//! its peak keeps the zone's.

use crate::budget::{Budget, Halt};
use crate::heat::{Assembly, Cycle, CycleSearch, Pulsed, bare};
use crate::plan::{Plan, ZoneId};

/// A zone whose contents ride out an intermittent source.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Ballast {
    pub zone: usize,
    pub present_kg: f64,
    pub least_kg: Option<f64>,
    pub greatest_kg: Option<f64>,
    /// Peak, trough, period.
    pub cycle: Option<(f64, f64, f64)>,
}

/// Masses are tried up to so many times the present one, and down to as small a part of it, in these steps: most plants lie near,
/// and what is a thousand times as light swings so fast that it takes as much longer to reckon.
const REACH: [f64; 3] = [4.0, 64.0, 1e4];
/// How far past the likely mass the next is tried, as a factor.
const PAST: f64 = 1.1;
/// Rounds in which the least mass is closed in on.
const ROUNDS: u32 = 60;
/// The least mass is known well enough when its peak is so near the limit, K, or it lies between two so near each other.
const NEAR_K: f64 = 1e-10;
const NEAR_SHARE: f64 = 1e-9;
/// The line leads on where it leaves no more than this part of what the peak was off by.
const LEADS: f64 = 0.5;
/// A peak is known well enough to go on from when it is off by no more than this part of its distance from the limit.
const NEAR_PART: f64 = 0.01;

/// The window of each zone with an intermittent source, of a plant whose cycle is likely to begin near `near_c`, °C by zone.
///
/// # Errors
/// [`Halt`] when the budget is spent or its hook says stop.
pub(super) fn windows(
    plan: &Plan,
    assembly: &Assembly,
    near_c: &[f64],
    budget: &Budget<'_>,
) -> Result<Vec<Ballast>, Halt> {
    let mut found = Vec::new();
    let pulsed = assembly.pulsed(plan);
    // One period for all of them, or there is no cycle to speak of.
    let Some(period_s) = period(&pulsed) else { return Ok(found) };
    let network = bare(&assembly.network);
    for (at, zone) in plan.zones.iter().enumerate() {
        let fed = plan.hot_sources.iter().any(|source| source.zone == ZoneId(at) && source.pattern.is_some());
        if !fed {
            continue;
        }
        let present_kg: f64 = zone.contents.iter().map(|(_, mass)| mass.si()).sum();
        let greatest_kg = zone.cells.zip(zone.cell_limit).map(|(cells, limit)| f64::from(cells) * limit.si());
        let mut search = CycleSearch::new(&network, &pulsed, period_s, at, near_c);
        let mut span = |times: f64, near: &dyn Fn(&Cycle) -> f64| -> Result<Option<(f64, f64)>, Halt> {
            let cycle = search.find(times, near, budget)?;
            Ok(cycle.map(|cycle| (cycle.greatest[at].at_c, cycle.least[at].at_c)))
        };
        let cycle = span(1.0, &|_| 0.0)?;
        let least = match (zone.limit_c, cycle) {
            (Some(limit), Some((peak, _))) => {
                // The further from the limit, the less it matters where just.
                let near = |cycle: &Cycle| NEAR_PART * (cycle.greatest[at].at_c - limit).abs();
                let mut over = |times: f64| Ok(span(times, &near)?.map(|(peak, _)| peak - limit));
                least_times(Trial { times: 1.0, over_k: peak - limit }, &mut over)?
            }
            _ => None,
        };
        found.push(Ballast {
            zone: at,
            present_kg,
            least_kg: least.map(|times| times * present_kg),
            greatest_kg,
            cycle: cycle.map(|(peak, trough)| (peak, trough, period_s)),
        });
    }
    Ok(found)
}

/// The period that all patterns share, seasons counted.
fn period(pulsed: &[Pulsed<'_>]) -> Option<f64> {
    let mut cycles: Vec<f64> = Vec::new();
    for pulsed in pulsed {
        cycles.push(pulsed.pattern.cycle().si());
        cycles.extend(pulsed.pattern.seasons.map(|seasons| seasons.active.si() + seasons.dormant.si()));
    }
    let longest = cycles.iter().copied().fold(0.0, f64::max);
    let together = cycles.iter().all(|cycle| {
        let times = longest / cycle;
        (times - times.round()).abs() <= 1e-9 * times
    });
    (longest > 0.0 && together).then_some(longest)
}

/// A multiple of the present mass, and by how much its peak passes the limit.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Trial {
    times: f64,
    over_k: f64,
}

impl Trial {
    fn is_light(self) -> bool {
        self.over_k > 0.0
    }
}

/// How a mass is tried: by how much its peak passes the limit, K, or nothing where it has no cycle.
type Over<'o> = dyn FnMut(f64) -> Result<Option<f64>, Halt> + 'o;

/// The least multiple of the present mass whose peak keeps the limit: the peak falls as the mass grows.
fn least_times(present: Trial, over: &mut Over<'_>) -> Result<Option<f64>, Halt> {
    let Some((light, heavy)) = bracket(present, over)? else { return Ok(None) };
    match light {
        None => Ok(Some(0.0)),
        Some(light) => between(light, heavy, over),
    }
}

/// A mass that is too light, and one that is not; of the first nothing where none is, of both where all are or one has no cycle.
fn bracket(present: Trial, over: &mut Over<'_>) -> Result<Option<(Option<Trial>, Trial)>, Halt> {
    let grows = present.is_light();
    let (mut before, mut last) = (None, present);
    for reach in REACH {
        let far = if grows { reach } else { 1.0 / reach };
        // A little past where it is likely to lie, or else as far as is tried.
        let likely = before.map(|before| straight(before, last) * if grows { PAST } else { 1.0 / PAST });
        let likely = likely.filter(|likely| (last.times.min(far)..last.times.max(far)).contains(likely));
        for times in likely.into_iter().chain([far]) {
            let Some(over_k) = over(times)? else { return Ok(None) };
            let next = Trial { times, over_k };
            if next.is_light() != grows {
                return Ok(Some(if grows { (Some(last), next) } else { (Some(next), last) }));
            }
            (before, last) = (Some(last), next);
        }
    }
    Ok((!grows).then_some((None, last)))
}

/// Closes in on the mass whose peak keeps just the limit.
fn between(mut light: Trial, mut heavy: Trial, over: &mut Over<'_>) -> Result<Option<f64>, Halt> {
    let (mut before, mut last) = (light, heavy);
    for _ in 0..ROUNDS {
        let likely = straight(before, last);
        // Halved where the line leads out, or has not led nearer.
        let leads = last.over_k.abs() <= LEADS * before.over_k.abs() || before == light;
        let is_between = likely > light.times && likely < heavy.times;
        let are_far = heavy.times > REACH[0] * light.times;
        let times = if is_between && leads && !are_far { likely } else { (light.times * heavy.times).sqrt() };
        if heavy.times / light.times - 1.0 < NEAR_SHARE || (times / last.times - 1.0).abs() < NEAR_SHARE {
            return Ok(Some(times));
        }
        let Some(over_k) = over(times)? else { return Ok(None) };
        if over_k.abs() < NEAR_K {
            return Ok(Some(times));
        }
        (before, last) = (last, Trial { times, over_k });
        if last.is_light() {
            light = last;
        } else {
            heavy = last;
        }
    }
    Ok(Some(heavy.times))
}

/// Where the peak is at the limit if it is straight over 1/mass, as it nearly is: a pulse warms a mass by so much divided by it.
fn straight(one: Trial, other: Trial) -> f64 {
    let (from, to) = (1.0 / one.times, 1.0 / other.times);
    1.0 / (from + (to - from) * one.over_k / (one.over_k - other.over_k))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The least mass and how often one was tried, for a peak as a function of the mass.
    fn least(peak: impl Fn(f64) -> f64) -> (Option<f64>, u32) {
        let mut tried = 0;
        let mut over = |times: f64| {
            tried += 1;
            Ok(Some(peak(times)))
        };
        let found = least_times(Trial { times: 1.0, over_k: peak(1.0) }, &mut over).expect("no budget");
        (found, tried)
    }

    #[test]
    fn the_mass_is_found_wherever_it_lies_in_reach() {
        for wanted in [2e-4, 0.003, 0.1, 0.16, 0.9, 1.0 + 1e-12, 1.3, 5.0, 70.0, 9e3] {
            for bow in [0.0, 0.3, -0.1] {
                let (found, tried) = least(|times: f64| {
                    let rise = wanted / times - 1.0;
                    40.0 * rise + bow * rise * rise.abs().min(1.0)
                });
                let found = found.expect("in reach");
                assert!((found / wanted - 1.0).abs() < 1e-8, "{found} for {wanted}, {bow}");
                assert!(tried < 16, "{tried} for {wanted}, {bow}");
            }
        }
    }

    #[test]
    fn a_peak_that_jumps_is_closed_in_on() {
        let (found, _) = least(|times| if times < 0.37 { 5.0 } else { -1.0 });
        assert!((found.expect("it is there") / 0.37 - 1.0).abs() < 1e-6, "{found:?}");
    }

    #[test]
    fn out_of_reach_it_is_nothing_or_not_there() {
        assert_eq!(least(|_| -1.0).0, Some(0.0));
        assert_eq!(least(|times| 1.0 + 1.0 / times).0, None);
    }
}
