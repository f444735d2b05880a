//! Heat exchangers by effectiveness and number of transfer units, and by the log mean difference.

use super::answer::{Outcome, Refusal, concern};
use super::arguments::Arguments;
use super::heat::{conductance, watts};
use super::parameter::Parameter;
use super::wording::{celsius, kelvin, percent};
use super::{Kind, Sum};
use crate::plan::FaultCode;
use crate::quantity::{dimension, number, print_si};
use crate::questions::answer::Weight;

/// Effectiveness-NTU: T. L. Bergman, A. S. Lavine, F. P. Incropera, D. P. `DeWitt`, Introduction to Heat Transfer, 6th ed., chapter 11 (table
/// 11.3 from memory), as `ht` 1.2.0 quotes them, which the tests below are held to. The exact cross flow is summed by the series of J. L.
/// Mason, Heat transfer in cross-flow, Proceedings of the Second U.S. National Congress of Applied Mechanics, ASME, 1955, pages 801 to 803
/// (its form from memory); the same tests hold it to an integral over a Bessel function.
pub(super) const EXCHANGER: Sum = Sum {
    name: "heat-exchanger",
    title: "Heat exchanger by effectiveness",
    says: "How much heat goes from one stream to another in an exchanger, and how warm each leaves.",
    formula: "NTU = conductance ÷ the smaller capacity; heat = effectiveness × smaller capacity × (hot_in − cold_in); with R = smaller ÷ larger: \
              counterflow (1 − E) ÷ (1 − R × E), E = exp(−NTU × (1 − R)); parallel (1 − exp(−NTU × (1 + R))) ÷ (1 + R); \
              cross-flow 1 − exp(NTU^0.22 ÷ R × (exp(−R × NTU^0.78) − 1)); cross-flow-exact by its series; condensing 1 − exp(−NTU)",
    parameters: &[
        Parameter::positive(
            "conductance",
            Kind::Conductance,
            "4000 W/K",
            "of the whole surface: coefficient times area",
        ),
        Parameter::positive(
            "hot_capacity",
            Kind::Conductance,
            "1500 W/K",
            "flow times specific heat of the hot stream; or give both",
        )
        .optional(),
        Parameter::positive("hot_flow", Kind::MassRate, "1.5 kg/s", "the hot stream").optional(),
        Parameter::positive("hot_heat", Kind::SpecificHeat, "1 kJ/(kg·K)", "its specific heat").optional(),
        Parameter::positive(
            "cold_capacity",
            Kind::Conductance,
            "4197 W/K",
            "flow times specific heat of the cold stream; or give both",
        )
        .optional(),
        Parameter::positive("cold_flow", Kind::MassRate, "1 kg/s", "the cold stream").optional(),
        Parameter::positive("cold_heat", Kind::SpecificHeat, "4.197 kJ/(kg·K)", "its specific heat").optional(),
        Parameter::temperature("hot_in", "250 °C", "temperature at which the hot stream comes in"),
        Parameter::temperature("cold_in", "35 °C", "temperature at which the cold stream comes in"),
        Parameter::choice(
            "arrangement",
            &["counterflow", "parallel", "cross-flow", "cross-flow-exact", "condensing"],
            "counterflow",
            "how the streams run: counterflow, parallel, cross-flow (unmixed, the common correlation), cross-flow-exact, or condensing \
             (the stream of the larger capacity keeps its temperature)",
        ),
    ],
    example: "conductance=4000 W/K&hot_flow=1.5 kg/s&hot_heat=1 kJ/(kg·K)&cold_capacity=4197 W/K&hot_in=250 °C&cold_in=35 °C",
    evaluate: exchanger,
};

/// Log mean difference: `heat = conductance · (Δ₁ − Δ₂)/ln(Δ₁/Δ₂)`.
pub(super) const LOG_MEAN: Sum = Sum {
    name: "log-mean-difference",
    title: "Surface of a heat exchanger",
    says: "What conductance, and what surface, an exchanger needs for a heat flow between given temperatures.",
    formula: "log mean = (one end − other end) ÷ ln(one end ÷ other end); conductance = heat ÷ log mean; area = conductance ÷ coefficient",
    parameters: &[
        Parameter::positive("heat", Kind::Power, "50 kW", "the heat flow"),
        Parameter::temperature("hot_in", "90 °C", "temperature at which the hot stream comes in"),
        Parameter::temperature("hot_out", "60 °C", "temperature at which it leaves"),
        Parameter::temperature("cold_in", "20 °C", "temperature at which the cold stream comes in"),
        Parameter::temperature("cold_out", "45 °C", "temperature at which it leaves"),
        Parameter::choice(
            "arrangement",
            &["counterflow", "parallel"],
            "counterflow",
            "how the streams run: counterflow or parallel",
        ),
        Parameter::positive(
            "coefficient",
            Kind::HeatTransfer,
            "800 W/(m²·K)",
            "heat transfer coefficient, to tell the surface",
        )
        .optional(),
    ],
    example: "heat=50 kW&hot_in=90 °C&hot_out=60 °C&cold_in=20 °C&cold_out=45 °C&coefficient=800 W/(m²·K)",
    evaluate: log_mean,
};

/// The most transfer units that are reckoned with: beyond, the series of the exact cross flow underflows.
const MOST_NTU: f64 = 500.0;

fn side(
    arguments: &Arguments<'_>,
    capacity: &'static str,
    flow: &'static str,
    heat: &'static str,
) -> Result<f64, Refusal> {
    match (arguments.maybe(capacity), arguments.maybe(flow), arguments.maybe(heat)) {
        (Some(capacity), None, None) => Ok(capacity),
        (None, Some(flow), Some(heat)) => Ok(flow * heat),
        (None, None, None) => Err(Refusal::missing(capacity, format!("{capacity}, or {flow} and {heat}"))),
        (None, Some(_), None) => Err(Refusal::missing(heat, format!("a specific heat, as {flow} is given"))),
        (None, None, Some(_)) => Err(Refusal::missing(flow, format!("a flow, as {heat} is given"))),
        (Some(_), _, _) => Err(Refusal::contradiction(
            capacity,
            format!("both {capacity} and {flow} or {heat}"),
            "one of the two".to_owned(),
        )),
    }
}

/// The share of the most heat there could be, by the number of transfer units and the ratio of the capacities (0 to 1).
fn effectiveness(arrangement: &str, ntu: f64, ratio: f64) -> f64 {
    let condensing = -(-ntu).exp_m1();
    if ratio == 0.0 {
        return condensing;
    }
    match arrangement {
        "parallel" => -(-ntu * (1.0 + ratio)).exp_m1() / (1.0 + ratio),
        "cross-flow" => -(ntu.powf(0.22) / ratio * (-ratio * ntu.powf(0.78)).exp_m1()).exp_m1(),
        "cross-flow-exact" => cross_flow(ntu, ratio),
        "condensing" => condensing,
        // Counterflow: 1 − R·E is (1 − R) + R·(1 − E), which keeps its digits as R nears 1.
        _ => {
            let turned = ntu * (1.0 - ratio);
            let gone = -(-turned).exp_m1();
            if turned < 1e-12 { ntu / (1.0 + ntu) } else { gone / ((1.0 - ratio) + ratio * gone) }
        }
    }
}

/// Both streams unmixed: `1/(R·NTU) · Σ (1 − e^−N Σ_{m≤k} N^m/m!)·(the same of R·N)`, over k from 0. Each factor falls to 0 once
/// k is well past N.
fn cross_flow(ntu: f64, ratio: f64) -> f64 {
    let (mut first, mut second) = (Tail::of(ntu), Tail::of(ratio * ntu));
    let mut sum = 0.0;
    // For N up to 500 the tails are below 1e-16 by k = 1000.
    for _ in 0..2_000 {
        let term = first.next() * second.next();
        sum += term;
        if term < 1e-17 * sum {
            break;
        }
    }
    (sum / (ratio * ntu)).min(1.0)
}

/// What is left of a Poisson distribution past k.
struct Tail {
    mean: f64,
    k: f64,
    term: f64,
    left: f64,
}

impl Tail {
    fn of(mean: f64) -> Self {
        Self { mean, k: 0.0, term: (-mean).exp(), left: -(-mean).exp_m1() }
    }

    /// The tail past the present k; then k goes on by one.
    fn next(&mut self) -> f64 {
        let tail = self.left.max(0.0);
        self.k += 1.0;
        self.term *= self.mean / self.k;
        self.left -= self.term;
        tail
    }
}

fn exchanger(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let through = arguments.number("conductance")?;
    let hot = side(arguments, "hot_capacity", "hot_flow", "hot_heat")?;
    let cold = side(arguments, "cold_capacity", "cold_flow", "cold_heat")?;
    let (hot_in, cold_in) = (arguments.number("hot_in")?, arguments.number("cold_in")?);
    if hot_in < cold_in {
        let found = format!("{}, colder than the cold stream", celsius(hot_in));
        return Err(Refusal::contradiction("hot_in", found, format!("at least cold_in, {}", celsius(cold_in))));
    }
    let arrangement = arguments.chosen("arrangement").unwrap_or("counterflow");
    let (small, large) = (hot.min(cold), hot.max(cold));
    let (ntu, ratio) = (through / small, small / large);
    if ntu > MOST_NTU {
        return Err(Refusal {
            parameter: "conductance",
            code: FaultCode::OutOfRange,
            found: format!("{}, {} times the smaller capacity", conductance(through), number(ntu)),
            expected: format!("at most {} times the smaller capacity, {}", number(MOST_NTU), conductance(small)),
        });
    }
    let share = effectiveness(arrangement, ntu, ratio).clamp(0.0, 1.0);
    let heat = share * small * (hot_in - cold_in);
    let constant = arrangement == "condensing";
    // A stream that condenses or boils keeps its temperature.
    let out = |from: f64, capacity: f64, sign: f64| {
        if constant && capacity > small { from } else { from + sign * heat / capacity }
    };
    let (hot_out, cold_out) = (out(hot_in, hot, -1.0), out(cold_in, cold, 1.0));
    let mut outcome = Outcome::of(arguments);
    outcome.work(|| format!("{} ÷ {} = {} transfer units", conductance(through), conductance(small), number(ntu)));
    outcome.work(|| format!("{} ÷ {} = {}", conductance(small), conductance(large), number(ratio)));
    outcome.work(|| format!("effectiveness, {arrangement}: {}", percent(share)));
    outcome.work(|| {
        format!("{} × {} × {} = {}", percent(share), conductance(small), kelvin(hot_in - cold_in), watts(heat))
    });
    outcome.say = format!(
        "{} go over, {} of what could: hot {} to {}, cold {} to {}.",
        watts(heat),
        percent(share),
        celsius(hot_in),
        celsius(hot_out),
        celsius(cold_in),
        celsius(cold_out)
    );
    outcome.figure("ntu", ntu);
    outcome.figure("capacity_ratio", ratio);
    outcome.figure("effectiveness_share", share);
    outcome.figure("heat_w", heat);
    outcome.figure("hot_out_c", hot_out);
    outcome.figure("cold_out_c", cold_out);
    if arrangement == "cross-flow" {
        let say = "The common correlation of cross flow is an approximation; cross-flow-exact is not.".to_owned();
        outcome.found(concern("approximate", Weight::Note, "arrangement", say));
    }
    Ok(outcome)
}

fn log_mean(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let heat = arguments.number("heat")?;
    let (hot_in, hot_out) = (arguments.number("hot_in")?, arguments.number("hot_out")?);
    let (cold_in, cold_out) = (arguments.number("cold_in")?, arguments.number("cold_out")?);
    let parallel = arguments.chosen("arrangement") == Some("parallel");
    let (one, other) =
        if parallel { (hot_in - cold_in, hot_out - cold_out) } else { (hot_in - cold_out, hot_out - cold_in) };
    if one < 1e-6 || other < 1e-6 || hot_out > hot_in || cold_out < cold_in {
        return Err(Refusal::contradiction(
            "hot_out",
            format!("ends that differ by {} and {}", kelvin(one), kelvin(other)),
            "the hot stream warmer than the cold one at both ends, and each going the right way".to_owned(),
        ));
    }
    let ratio = one / other;
    // Where both ends are alike the log mean is their mean.
    let mean = if (ratio - 1.0).abs() < 1e-6 { f64::midpoint(one, other) } else { (one - other) / ratio.ln() };
    let through = heat / mean;
    let mut outcome = Outcome::of(arguments);
    outcome.work(|| format!("ends: {} and {}; log mean {}", kelvin(one), kelvin(other), kelvin(mean)));
    outcome.work(|| format!("{} ÷ {} = {}", watts(heat), kelvin(mean), conductance(through)));
    outcome.say = format!("{}: {} ÷ a log mean difference of {}.", conductance(through), watts(heat), kelvin(mean));
    outcome.figure("log_mean_k", mean);
    outcome.figure("conductance_w_k", through);
    if let Some(coefficient) = arguments.maybe("coefficient") {
        let area = print_si::<dimension::Area>(through / coefficient);
        let text = print_si::<dimension::HeatTransfer>(coefficient);
        outcome.work(|| format!("{} ÷ {text} = {area}", conductance(through)));
        outcome.say = format!("{} With {text} that is {area}.", outcome.say);
        outcome.figure("area_m2", through / coefficient);
    }
    Ok(outcome)
}

#[cfg(test)]
mod tests {
    use super::effectiveness;

    /// By `ht` 1.2.0, which has the exact cross flow as an integral over a modified Bessel function. NTU, ratio of the capacities, then
    /// counterflow, parallel, the correlation of cross flow, the exact cross flow.
    const PUBLISHED: [(f64, f64, [f64; 4]); 16] = [
        (0.05, 0.1, [0.048_653_810_167, 0.048_649_865_497, 0.048_541_448_547, 0.048_651_864_804]),
        (0.05, 0.357_398_141_53, [0.048_354_918_262, 0.048_340_995_787, 0.047_958_168_872, 0.048_348_073_299]),
        (0.05, 0.7, [0.047_960_768_095, 0.047_933_950_352, 0.047_196_084_398, 0.047_947_637_252]),
        (0.05, 1.0, [0.047_619_047_619, 0.047_581_290_982, 0.046_541_878_597, 0.047_600_627_409]),
        (1.0, 0.1, [0.618_579_923_147, 0.606_480_833_002, 0.613_887_236_84, 0.614_030_586_273]),
        (1.0, 0.357_398_141_53, [0.583_813_431_026, 0.547_128_020_733, 0.568_641_583_968, 0.570_178_449_755]),
        (1.0, 0.7, [0.538_361_261_704, 0.480_774_397_616, 0.512_840_576_779, 0.517_489_508_17]),
        (1.0, 1.0, [0.5, 0.432_332_358_382, 0.468_536_394_613, 0.476_222_388_197]),
        (8.0, 0.1, [0.999_328_022_604, 0.908_953_879_023, 0.998_121_634_367, 0.997_521_893_601]),
        (8.0, 0.357_398_141_53, [0.996_231_019_712, 0.736_689_363_434, 0.975_207_013_765, 0.976_102_844_451]),
        (8.0, 0.7, [0.970_939_177_155, 0.588_234_564_415, 0.888_311_262_786, 0.900_641_566_493]),
        (8.0, 1.0, [0.888_888_888_889, 0.499_999_943_732, 0.791_972_794_782, 0.802_106_257_882]),
        (20.0, 0.1, [0.999_999_986_293, 0.909_090_908_837, 0.999_996_125_454, 0.999_997_208_118]),
        (20.0, 0.357_398_141_53, [0.999_998_315_878, 0.736_703_528_172, 0.994_879_338_451, 0.998_818_858_564]),
        (20.0, 0.7, [0.999_255_081_82, 0.588_235_294_118, 0.936_671_495_863, 0.967_919_549_702]),
        (20.0, 1.0, [0.952_380_952_381, 0.5, 0.855_274_229_813, 0.874_239_491_05]),
    ];

    #[test]
    fn each_arrangement_is_as_effective_as_published() {
        for (ntu, ratio, expected) in PUBLISHED {
            for (arrangement, expected) in
                ["counterflow", "parallel", "cross-flow", "cross-flow-exact"].into_iter().zip(expected)
            {
                approx::assert_relative_eq!(effectiveness(arrangement, ntu, ratio), expected, max_relative = 1e-9);
            }
        }
    }
}
