//! Functions of time between two events, and the first moment at which one of them comes down to zero.
//!
//! The search never steps over a crossing. From a moment t with value f > 0 and slope f′, a bound M on |f″| from t on gives
//! f(t + τ) ≥ f + f′·τ − M·τ²/2, so nothing happens before the positive root of the right side; the search goes there and
//! looks again. Near a crossing M·τ² vanishes and the step is Newton's, from the safe side: it converges quadratically.

use super::ladder::Run;
use super::row::{Row, Terms};

/// What a curve does at a moment.
#[derive(Clone, Copy, Debug)]
pub(super) struct Look {
    pub value: f64,
    pub slope: f64,
    /// The greatest |f″| from here on, as far as `holds`.
    pub bend: f64,
    /// |f″| is also no more than `bend_now` + `jerk`·τ after τ: tighter where other zones are much quicker than this one.
    pub bend_now: f64,
    pub jerk: f64,
    /// How far from here `bend` holds.
    pub holds: f64,
    /// The least that the value can be between here and the end of the search.
    pub least: f64,
}

impl Look {
    /// The positive root of over + slope·τ − bend·τ²/2, in the form that does not cancel.
    fn root(&self, over: f64, bend: f64) -> f64 {
        let root = (self.slope * self.slope + 2.0 * bend * over).sqrt();
        if self.slope < 0.0 {
            2.0 * over / (root - self.slope)
        } else if bend > 0.0 {
            (self.slope + root) / bend
        } else {
            f64::INFINITY
        }
    }

    /// How long the value stays above −`over`, less what it has, at least.
    fn safe_step(&self, over: f64) -> f64 {
        let step = self.root(over, self.bend);
        if !self.bend_now.is_finite() {
            return step;
        }
        // The nearer bound holds up to `far` with the bend it has grown to by then. The best `far` is not known: a few are tried.
        let mut best = step;
        let mut far = self.root(over, self.bend_now);
        for _ in 0..6 {
            let near = self.root(over, self.bend_now + self.jerk * far).min(far);
            best = best.max(near);
            if !far.is_finite() || near >= 0.5 * far {
                break;
            }
            far = (near * far).sqrt();
        }
        best
    }
}

/// Looks that a search takes at once, about a millisecond of them; none was seen to take more than a few tens.
const LOOKS_AT_ONCE: u32 = 1_000;

/// What a search for a crossing found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Crossing {
    /// There is none.
    Never,
    /// It is then.
    At(f64),
    /// It is not before then; the search goes on from there.
    NotBefore(f64),
}

impl Crossing {
    /// The moment, where there is one to go to.
    pub fn at(self) -> Option<f64> {
        match self {
            Self::Never => None,
            Self::At(t) | Self::NotBefore(t) => Some(t),
        }
    }
}

/// A function of time since the beginning of its segment.
#[derive(Clone, Debug)]
pub(super) enum Curve<'s> {
    /// f = start + Σ rate·φ(λ, t), φ(λ, t) = (e^λt − 1)/λ.
    Exponentials { start: f64, rates: Row, decays: &'s [f64] },
    /// f = start + slope·t + Σ rate·ψ(λ, t), ψ(λ, t) = (φ(λ, t) − t)/λ: the integral of exponentials.
    Gathered { start: f64, slope: f64, rates: Row, decays: &'s [f64] },
    /// f = start + Σ weight·(T(t) − T(0)), or its integral over time plus slope·t.
    Stepped { start: f64, slope: Option<f64>, weights: Terms, run: Run<'s> },
}

/// φ(λ, t) = (e^λt − 1)/λ, t where λ is 0: the integral of e^λt.
pub(super) fn phi(decay: f64, t: f64) -> f64 {
    if decay == 0.0 { t } else { (decay * t).exp_m1() / decay }
}

/// ψ(λ, t) = (φ(λ, t) − t)/λ: the integral of φ.
pub(super) fn psi(decay: f64, t: f64) -> f64 {
    let x = decay * t;
    if x.abs() > 0.05 {
        return (phi(decay, t) - t) / decay;
    }
    // Σ xᵏ/(k + 2)!, of which ten terms are enough below 0.05.
    let mut sum = 0.0;
    for k in (0..10).rev() {
        sum = sum * x / f64::from(k + 3) + 1.0;
    }
    0.5 * t * t * sum
}

impl Curve<'_> {
    /// The curve turned upside down.
    pub fn negated(mut self) -> Self {
        match &mut self {
            Self::Exponentials { start, rates, .. } => {
                *start = -*start;
                rates.iter_mut().for_each(|rate| *rate = -*rate);
            }
            Self::Gathered { start, slope, rates, .. } => {
                *start = -*start;
                *slope = -*slope;
                rates.iter_mut().for_each(|rate| *rate = -*rate);
            }
            Self::Stepped { start, slope, weights, .. } => {
                *start = -*start;
                *slope = slope.map(|slope| -slope);
                weights.iter_mut().for_each(|(_, weight)| *weight = -*weight);
            }
        }
        self
    }

    /// The value at a moment.
    pub fn value(&self, t: f64) -> f64 {
        self.look(t, t).value
    }

    /// The least that the value can be from a moment on, until the end.
    pub fn least(&self, t: f64, until: f64) -> f64 {
        self.look(t, until).least
    }

    fn look(&self, t: f64, until: f64) -> Look {
        match self {
            Self::Exponentials { start, rates, decays } => {
                let mut look = Look {
                    value: *start,
                    slope: 0.0,
                    bend: 0.0,
                    bend_now: f64::INFINITY,
                    jerk: 0.0,
                    holds: f64::INFINITY,
                    least: 0.0,
                };
                for (&rate, &decay) in rates.iter().zip(*decays) {
                    let risen = phi(decay, t);
                    let left = 1.0 + decay * risen;
                    look.value += rate * risen;
                    look.slope += rate * left;
                    look.bend += (rate * decay).abs() * left;
                    if rate < 0.0 && until > t {
                        look.least += rate * left * phi(decay, until - t);
                    }
                }
                look.least += look.value;
                look
            }
            Self::Gathered { start, slope, rates, decays } => {
                let mut look = Look {
                    value: *start + slope * t,
                    slope: *slope,
                    bend: 0.0,
                    bend_now: f64::INFINITY,
                    jerk: 0.0,
                    holds: f64::INFINITY,
                    least: 0.0,
                };
                let mut steepest = 0.0;
                for (&rate, &decay) in rates.iter().zip(*decays) {
                    let risen = phi(decay, t);
                    let left = 1.0 + decay * risen;
                    look.value += rate * psi(decay, t);
                    look.slope += rate * risen;
                    look.bend += rate.abs() * left;
                    if rate < 0.0 && until > t {
                        steepest += rate * left * phi(decay, until - t);
                    }
                }
                look.least = look.value + (look.slope + steepest).min(0.0) * (until - t);
                look
            }
            Self::Stepped { start, slope, weights, run } => run.look(*start, *slope, weights, t, until),
        }
    }

    /// As [`Self::first_down`], but gives up early, so that whoever asks can be stopped in between.
    pub fn search(&self, until: f64, grain: f64) -> Crossing {
        self.search_on(0.0, until, grain)
    }

    /// As [`Self::search`], from a later moment on.
    pub fn search_on(&self, from: f64, until: f64, grain: f64) -> Crossing {
        self.search_from(from, until, grain, LOOKS_AT_ONCE)
    }

    /// The first moment within `until` at which the value is at or below zero, to rounding; touching is enough. `grain` is
    /// the rounding of the value.
    ///
    /// A value at zero that rises is not there yet: it counts when it comes back.
    pub fn first_down(&self, until: f64, grain: f64) -> Option<f64> {
        self.first_down_from(0.0, until, grain)
    }

    pub fn first_down_from(&self, from: f64, until: f64, grain: f64) -> Option<f64> {
        // Far more than any search was seen to take (30 for a curve that only just touches).
        self.search_from(from, until, grain, 100_000).at()
    }

    fn search_from(&self, from: f64, until: f64, grain: f64, looks: u32) -> Crossing {
        let mut t = from;
        for _ in 0..looks {
            let look = self.look(t, until);
            if look.least > grain {
                return Crossing::Never;
            }
            let over = look.value;
            if over <= grain && look.slope <= 0.0 {
                // What is left of the way, or was gone too far, by the slope.
                let rest = if look.slope < 0.0 { (over / -look.slope).clamp(from - t, until - t) } else { 0.0 };
                return Crossing::At(if rest.is_finite() { t + rest } else { t });
            }
            // What goes below zero by less than rounding is no crossing.
            let step = look.safe_step(over.max(0.0) + grain);
            let next = t + step.min(look.holds);
            if next >= until {
                // Nothing before the end; at the end itself touching is enough.
                let end = self.look(until, until);
                let touches = end.value <= grain && (end.slope <= 0.0 || t < until);
                return if touches { Crossing::At(until) } else { Crossing::Never };
            }
            if next <= t {
                return if look.slope < 0.0 { Crossing::At(t) } else { Crossing::Never };
            }
            t = next;
        }
        Crossing::NotBefore(t)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn psi_is_the_integral_of_phi_on_both_sides_of_its_switch() {
        for (decay, t) in [(-0.0499, 1.0), (-0.0501, 1.0), (-3.0, 2.0), (0.0, 4.0), (-1e-9, 7.0)] {
            let steps = 20_000;
            let h = t / f64::from(steps);
            let sum: f64 = (0..steps).map(|k| phi(decay, (f64::from(k) + 0.5) * h) * h).sum();
            approx::assert_relative_eq!(psi(decay, t), sum, max_relative = 1e-8);
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2_000))]

        /// A fine scan finds no sign change before the moment that the search names, and one there.
        #[test]
        fn no_crossing_is_missed(
            terms in prop::collection::vec((-50.0_f64..50.0, -3.0_f64..0.3), 1..5),
            start in -1.0_f64..40.0,
        ) {
            let decays: Vec<f64> = terms.iter().map(|(_, x)| if *x > 0.0 { 0.0 } else { -(10_f64.powf(*x)) }).collect();
            let rates: Row = terms.iter().map(|(rate, _)| *rate).collect();
            let curve = Curve::Exponentials { start, rates, decays: &decays };
            let until = 200.0;
            let found = curve.first_down(until, 1e-13);
            let steps = 40_000_u32;
            for k in 0..=steps {
                let t = until * f64::from(k) / f64::from(steps);
                if found.is_some_and(|found| t >= found - 1e-9) { break; }
                prop_assert!(curve.value(t) > -1e-9 || start <= 0.0, "{} at {t}, found {found:?}", curve.value(t));
            }
            if let Some(found) = found {
                prop_assert!(curve.value(found) < 1e-9, "{} at {found}", curve.value(found));
            }
        }
    }

    #[test]
    fn a_curve_that_only_just_touches_is_found() {
        // (x − ½)² with x = e^-t, whose only zero is double: x² − x + ¼.
        let decays = [-1.0, -2.0];
        let curve = Curve::Exponentials { start: 0.25, rates: Row::from_slice(&[1.0, -2.0]), decays: &decays };
        let found = curve.first_down(10.0, 1e-15).expect("it touches");
        approx::assert_abs_diff_eq!(found, std::f64::consts::LN_2, epsilon = 1e-7);
        let above = Curve::Exponentials { start: 0.25 + 1e-12, rates: Row::from_slice(&[1.0, -2.0]), decays: &decays };
        assert_eq!(above.first_down(10.0, 1e-15), None);
    }
}
