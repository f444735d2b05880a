//! The flow balance: counts, rates, lines and power of a plant in steady state; what is short, what is trapped, and what
//! would mend it.

mod change;
mod figures;
mod fill;
mod findings;
mod mend;
mod network;
mod order;
mod say;
mod sum;
#[cfg(test)]
mod tests;
mod working;

use serde::Serialize;

use crate::balance::{Balance, HeaderFlow, balance};
use crate::budget::{Budget, Halt};
use crate::plan::Plan;
use crate::plan::inquiry::Better;
use crate::questions::answer::{
    Answer, Code as _, Figures, Finding, Named, Verdict, all_within_range, is_within_range,
};
use crate::questions::coupled::{self, Coupled};
use crate::questions::{Detail, OfPlan};
use fill::Source;
use mend::Mending;
use network::Network;

pub use figures::{
    AimFigures, BindingFigures, DemandFigures, HeaderFigures, MakeReached, MostReached, OutletFigures, PowerFigures,
    RunReached, SupplyFigures, UnitFigures,
};
pub use findings::FindingCode;
pub use working::MOST_LINES;

/// The answer to the question.
pub type FlowBalance = Answer<FlowFigures>;

/// Its figures. Sections are in the order of the document, which changes no figure; a field that does not apply is absent.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema), schema(as = FlowBalance))]
pub struct FlowFigures {
    /// How far the aim is reached; absent where nothing is aimed at.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub aim: Option<AimFigures>,
    /// By unit.
    #[cfg_attr(feature = "openapi", schema(value_type = IndexMap<String, UnitFigures>))]
    pub units: Named<UnitFigures>,
    /// By header of matter.
    #[cfg_attr(feature = "openapi", schema(value_type = IndexMap<String, HeaderFigures>))]
    pub headers: Named<HeaderFigures>,
    /// The electric power; absent where nothing makes, draws or asks for any.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub power: Option<PowerFigures>,
    /// By supply.
    #[serde(skip_serializing_if = "Named::is_empty")]
    #[cfg_attr(feature = "openapi", schema(value_type = IndexMap<String, SupplyFigures>))]
    pub supplies: Named<SupplyFigures>,
    /// By demand.
    #[serde(skip_serializing_if = "Named::is_empty")]
    #[cfg_attr(feature = "openapi", schema(value_type = IndexMap<String, DemandFigures>))]
    pub demands: Named<DemandFigures>,
    /// By header that has an outlet.
    #[serde(skip_serializing_if = "Named::is_empty")]
    #[cfg_attr(feature = "openapi", schema(value_type = IndexMap<String, OutletFigures>))]
    pub outlets: Named<OutletFigures>,
    /// What all machines together are built of, in kg, by material.
    #[serde(skip_serializing_if = "Named::is_empty")]
    #[cfg_attr(feature = "openapi", schema(value_type = IndexMap<String, f64>))]
    pub bill_kg: Named<f64>,
    /// What holds the plant back.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub binding: Vec<BindingFigures>,
}

impl Figures for FlowFigures {
    type Finding = Finding;

    const QUESTION: &'static str = "flow-balance";
    const TITLE: &'static str = "Flow balance";
    const SAYS: &'static str = "Steady state: counts, rates, lines, power, what is short and what is trapped.";
}

impl OfPlan for FlowFigures {
    const KEY_FIGURES: &'static [(&'static str, Better)] = &[
        ("/aim/value_per_s", Better::More),
        ("/aim/run/*/got", Better::More),
        ("/demands/*/cut_share", Better::Less),
        ("/headers/*/trapped_kg_s", Better::Less),
        ("/power/net_w", Better::More),
        ("/supplies/*/drawn_kg_s", Better::Less),
        ("/supplies/*/drawn_w", Better::Less),
        ("/units/*/count", Better::Less),
        ("/units/*/utilisation_share", Better::Neither),
        ("/headers/*/lines", Better::Less),
    ];

    fn codes() -> Vec<&'static str> {
        FindingCode::ALL.iter().map(|code| code.as_str()).collect()
    }

    fn ask(plan: &Plan, _: Detail, budget: &Budget<'_>) -> Result<FlowBalance, Halt> {
        ask(plan, budget)
    }
}

/// Answers the question.
///
/// # Errors
/// [`Halt`] when the budget is spent or its hook says stop.
pub fn ask(plan: &Plan, budget: &Budget<'_>) -> Result<FlowBalance, Halt> {
    // Temperatures are asked only where they decide on power.
    let balance = if coupled::moves_power(plan) { Coupled::of(plan, budget)?.balance } else { balance(plan, budget)? };
    ask_with(plan, &balance, budget)
}

/// Answers the question of a balance that is solved.
///
/// # Errors
/// As [`ask`].
pub(crate) fn ask_with(plan: &Plan, balance: &Balance, budget: &Budget<'_>) -> Result<FlowBalance, Halt> {
    all_within_range(is_finite(balance))?;
    let network = Network::of(plan);
    let mending = mend::mend(plan, balance, &network, budget)?;
    Ok(answer(plan, balance, &network, &mending))
}

/// True where all that is derived from the balance will be finite.
fn is_finite(balance: &Balance) -> bool {
    let flow = |flow: &HeaderFlow| {
        let HeaderFlow { made, taken, supplied, demanded, delivered, let_out, unserved, trapped, .. } = *flow;
        [made, taken, supplied, demanded, delivered, let_out, unserved, trapped].into_iter().all(is_within_range)
            && flow.line_utilisation.is_none_or(is_within_range)
    };
    let lists = [&balance.drawn, &balance.served, &balance.let_out];
    balance.headers.iter().all(flow)
        && balance.units.iter().all(|unit| is_within_range(unit.needed))
        && lists.into_iter().flatten().copied().all(is_within_range)
        && balance.aims.iter().all(|reached| is_within_range(reached.wanted) && is_within_range(reached.got))
        && balance.value.is_none_or(is_within_range)
        && balance.binding.iter().all(|binding| binding.worth.is_none_or(is_within_range))
}

/// The answer from a balance and from what would mend it.
fn answer(plan: &Plan, balance: &Balance, network: &Network, mending: &Mending) -> FlowBalance {
    let source = Source::new(plan, balance, network);
    let findings = findings::find(plan, balance, network, mending);
    let verdict = Verdict::of(&findings);
    let order = order::outward(plan, balance, network);
    let say = say::say(plan, balance, network, &order, verdict, &findings);
    let figures = FlowFigures {
        aim: source.aim(),
        units: source.units(),
        headers: source.headers(),
        power: source.power(),
        supplies: source.supplies(),
        demands: source.demands(),
        outlets: source.outlets(),
        bill_kg: source.bill(),
        binding: source.binding(),
    };
    let working = working::working(plan, balance, network, &order);
    FlowBalance { say, working, ..Answer::new(plan, verdict, findings, figures) }
}
