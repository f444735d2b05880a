//! The cycle that zones settle in under patterns that repeat: the temperatures that come back to themselves after one period.
//!
//! One period takes temperatures x at its beginning to temperatures F(x) at its end, piece by piece affinely. What is sought is
//! F(x) = x. Newton's method finds it at once where the pieces stay the same, instead of waiting for the drift F(x) − x to die away:
//! the step is H·(F(x) − x) with H = (1 − F′)⁻¹. H is found by moving each temperature a little, and then kept up by Broyden's
//! update, also from one network to the next that is much like it.

use nalgebra::{DMatrix, DVector};

use super::accounts::{Accounts, Extremes};
use super::block::{Attention, HeatBlock};
use super::network::Network;
use super::rehearse::{Pulsed, run_period};
use crate::budget::{Budget, Halt};

/// Rounds of the search.
const ROUNDS: usize = 48;
/// The cycle is found when a period changes no temperature by more, K.
pub(super) const FOUND_K: f64 = 1e-9;
/// How far a temperature is moved to see what comes of it, K.
pub(super) const MOVED_K: f64 = 1e-3;
/// H is found anew where a round leaves more than this share of the drift.
const SLOW: f64 = 0.3;

/// How far temperatures go in a settled period.
#[derive(Clone, Debug)]
pub struct Cycle {
    /// By zone.
    pub least: Extremes,
    /// By zone.
    pub greatest: Extremes,
}

/// Finds cycles of a network of which one zone holds now more, now less; each from those before.
pub struct CycleSearch<'a> {
    trials: Trials<'a>,
    zone: usize,
    guess_c: DVector<f64>,
    /// The last two by the part of its mass that the zone had, 1/times, and where their cycles begin; the last comes last.
    found: Vec<(f64, DVector<f64>)>,
    /// H, and 1/times where it was found; not known before the first.
    step: Option<(f64, DMatrix<f64>)>,
}

impl<'a> CycleSearch<'a> {
    /// Cycles of `period_s` of a [`bare`] network, for masses of a zone, from temperatures near which the first is likely to begin.
    #[must_use]
    pub fn new(network: &'a Network, pulsed: &'a [Pulsed<'a>], period_s: f64, zone: usize, guess_c: &[f64]) -> Self {
        let trials = Trials { block: HeatBlock::new(network), pulsed, period_s };
        Self { trials, zone, guess_c: DVector::from_column_slice(guess_c), found: Vec::new(), step: None }
    }

    /// Where the cycle at a number is likely to begin: on the straight line through the last two, or near the last where that would
    /// reach far.
    fn begin(&self, number: f64) -> DVector<f64> {
        match &self.found[..] {
            [] => self.guess_c.clone(),
            [(one, at_one), (other, at_other)] if (number - other).abs() <= (other - one).abs() => {
                at_other + (at_other - at_one) * ((number - other) / (other - one))
            }
            [.., (_, last)] => last.clone(),
        }
    }

    /// One settled period where the zone holds so many times as much as the network says, or `None` where it was not found: switches
    /// with a deadband may have a cycle of their own. `near` says of extremes, the least and the greatest by zone, how far from those
    /// of the settled period they may be, K. Where that is less than [`FOUND_K`], a period that changes no temperature by
    /// more than that will do.
    ///
    /// # Errors
    /// [`Halt`] when the budget is spent or the hook says stop.
    pub fn find(
        &mut self,
        times: f64,
        near: &dyn Fn(&Cycle) -> f64,
        budget: &Budget<'_>,
    ) -> Result<Option<Cycle>, Halt> {
        let number = 1.0 / times;
        self.trials.block.weigh(self.zone, times);
        let mut begin = self.begin(number);
        let mut known = self.step.take().map(|(then, step)| reweighed(step, self.zone, number / then));
        // The last step and the drift before it.
        let mut last: Option<(DVector<f64>, DVector<f64>)> = None;
        for _ in 0..ROUNDS {
            let (end, cycle) = self.trials.period(&begin, budget)?;
            let drift = &end - &begin;
            if drift.amax() <= FOUND_K {
                return Ok(Some(self.keep(number, begin, known, cycle)));
            }
            let led = known.take().filter(|_| last.as_ref().is_none_or(|(_, then)| is_less(&drift, then)));
            let led = match (led, &last) {
                (Some(step), Some((moved, then))) => updated(step, moved, &(then - &drift)),
                (led, _) => led,
            };
            let step = match led {
                Some(step) => step,
                None => match self.trials.response(&begin, &drift, &end, budget)?.try_inverse() {
                    Some(step) => step,
                    None => return Ok(None),
                },
            };
            let moved = &step * &drift;
            begin += &moved;
            known = Some(step);
            if begin.iter().any(|t| !t.is_finite() || t.abs() > 1e6) {
                return Ok(None);
            }
            if moved.amax() <= near(&cycle) {
                return Ok(Some(self.keep(number, begin, known, cycle)));
            }
            last = Some((moved, drift));
        }
        Ok(None)
    }

    fn keep(&mut self, number: f64, begin: DVector<f64>, step: Option<DMatrix<f64>>, cycle: Cycle) -> Cycle {
        self.step = step.map(|step| (number, step));
        if self.found.len() == 2 {
            self.found.remove(0);
        }
        self.found.push((number, begin));
        cycle
    }
}

/// Without what moves no temperature: limits, and ratings of what is generated.
#[must_use]
pub fn bare(network: &Network) -> Network {
    let mut bare = network.clone();
    bare.zones.iter_mut().for_each(|zone| zone.limits.clear());
    bare.flows.iter_mut().for_each(|flow| flow.rating = None);
    bare
}

fn is_less(drift: &DVector<f64>, than: &DVector<f64>) -> bool {
    drift.amax() <= SLOW * than.amax()
}

/// H of a network of which a zone is so many times as light, near enough to begin with: of a difference in its temperature a period
/// leaves the part f = 1 − 1/H, which is then left by so much less time.
fn reweighed(mut step: DMatrix<f64>, zone: usize, lighter: f64) -> DMatrix<f64> {
    let own = step[(zone, zone)];
    let left = 1.0 - 1.0 / own;
    if left > 0.0 && left < 1.0 {
        step.row_mut(zone).scale_mut(1.0 / (1.0 - left.powf(lighter)) / own);
    }
    step
}

/// Broyden's update of H by a step s that lessened the drift by y: H + (s − H·y)·sᵀ·H / (sᵀ·H·y). `None` where it says nothing.
fn updated(step: DMatrix<f64>, moved: &DVector<f64>, lessened: &DVector<f64>) -> Option<DMatrix<f64>> {
    let told = &step * lessened;
    let scale = moved.dot(&told);
    let row = moved.transpose() * &step;
    let updated = step + (moved - told) * row / scale;
    updated.iter().all(|entry| entry.is_finite()).then_some(updated)
}

/// Periods from several beginnings.
struct Trials<'a> {
    block: HeatBlock<'a>,
    pulsed: &'a [Pulsed<'a>],
    period_s: f64,
}

impl Trials<'_> {
    /// Temperatures at the end of a period, and their extremes in it.
    fn period(&mut self, begin: &DVector<f64>, budget: &Budget<'_>) -> Result<(DVector<f64>, Cycle), Halt> {
        let end = self.go(begin, Attention::Extremes, budget)?;
        let Accounts { least, greatest, .. } = &self.block.accounts;
        Ok((end, Cycle { least: least.clone(), greatest: greatest.clone() }))
    }

    fn go(&mut self, begin: &DVector<f64>, attention: Attention, budget: &Budget<'_>) -> Result<DVector<f64>, Halt> {
        self.block.attend(attention);
        self.block.again(begin.as_slice());
        run_period(&mut self.block, self.pulsed, self.period_s, budget)?;
        Ok(DVector::from_column_slice(self.block.temperatures()))
    }

    /// 1 − F′ at a beginning.
    fn response(
        &mut self,
        begin: &DVector<f64>,
        drift: &DVector<f64>,
        end: &DVector<f64>,
        budget: &Budget<'_>,
    ) -> Result<DMatrix<f64>, Halt> {
        let zones = begin.len();
        let mut response = DMatrix::identity(zones, zones);
        // A zone that comes back exactly is held: what it begins at decides nothing.
        for zone in (0..zones).filter(|zone| drift[*zone] != 0.0) {
            let mut moved = begin.clone();
            moved[zone] += MOVED_K;
            let after = self.go(&moved, Attention::End, budget)?;
            let change = (after - end) / MOVED_K;
            response.column_mut(zone).axpy(-1.0, &change, 1.0);
        }
        Ok(response)
    }
}
