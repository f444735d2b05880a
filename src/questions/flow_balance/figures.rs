//! The figures of the answer: what the balance found, under the author's names.

use serde::Serialize;

use crate::questions::answer::{Name, Named};

#[cfg(feature = "openapi")]
use utoipa::ToSchema;

/// How one type of machine runs.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = UnitFigures))]
pub struct UnitFigures {
    /// Full-duty machines that the flows need: the sum of the run shares.
    pub needed: f64,
    /// How many machines there are, or have to be.
    pub count: u32,
    /// `needed` over `count`; absent where there are none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub utilisation_share: Option<f64>,
    /// Electric power of all of them, in W: made less drawn, idle draw included. Negative: they draw. Absent for machines
    /// that neither make nor draw any.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub power_w: Option<f64>,
    /// What all of them take, in kg/s, by header.
    #[serde(skip_serializing_if = "Named::is_empty")]
    #[cfg_attr(feature = "openapi", schema(value_type = IndexMap<String, f64>))]
    pub takes_kg_s: Named<f64>,
    /// What all of them give, in kg/s, by header.
    #[serde(skip_serializing_if = "Named::is_empty")]
    #[cfg_attr(feature = "openapi", schema(value_type = IndexMap<String, f64>))]
    pub gives_kg_s: Named<f64>,
}

/// What passes through a header of matter:
/// made + supplied = taken + (demanded − unserved) + delivered + let out + trapped.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct HeaderFigures {
    /// Given by units, in kg/s.
    pub made_kg_s: f64,
    /// Taken by units, in kg/s.
    pub taken_kg_s: f64,
    /// Drawn from supplies, in kg/s.
    pub supplied_kg_s: f64,
    /// Asked for by demands and by the aim, in kg/s.
    pub demanded_kg_s: f64,
    /// Delivered for its value under a `most` aim, in kg/s.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub delivered_kg_s: Option<f64>,
    /// Left by the outlet, in kg/s.
    pub let_out_kg_s: f64,
    /// Of what is demanded, not served, in kg/s.
    pub unserved_kg_s: f64,
    /// Surplus that finds no way out, in kg/s.
    pub trapped_kg_s: f64,
    /// Lines: as many as the plan says, or as carry the flow; absent where the plan does not say what a line carries.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lines: Option<u32>,
    /// What enters the header over what its lines carry.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub line_utilisation_share: Option<f64>,
}

/// The electric power of the plant:
/// generated + supplied = drawn + (demanded − unserved) + delivered + spilled + trapped.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct PowerFigures {
    /// Made by units and turbines, in W.
    pub generated_w: f64,
    /// Drawn by units, idle draw included, and by coolers, in W.
    pub drawn_w: f64,
    /// Of what is made, by turbines, in W; absent where there are none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub turbines_w: Option<f64>,
    /// Of what is drawn, by coolers, in W; absent where there are none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub coolers_w: Option<f64>,
    /// Generated less drawn, in W.
    pub net_w: f64,
    /// Drawn from supplies of power, in W.
    pub supplied_w: f64,
    /// Asked for by demands, by the aim, and by idle draw that is not served, in W.
    pub demanded_w: f64,
    /// Delivered for its value under a `most` aim, in W.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub delivered_w: Option<f64>,
    /// Of what is demanded, not served, in W.
    pub unserved_w: f64,
    /// To spare, in W: surplus that leaves freely or by the outlet.
    pub spilled_w: f64,
    /// Surplus that a limited outlet does not let out, in W.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub trapped_w: Option<f64>,
    /// Lines: as many as the plan says, or as carry the power; absent where the plan does not say what a line carries.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lines: Option<u32>,
    /// What enters the header over what its lines carry.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub line_utilisation_share: Option<f64>,
}

/// What is drawn from a supply: in kg/s, or in W where it supplies power.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct SupplyFigures {
    /// Its header.
    #[cfg_attr(feature = "openapi", schema(value_type = String))]
    pub header: Name,
    /// Drawn from it, in kg/s.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub drawn_kg_s: Option<f64>,
    /// Drawn from it, in W.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub drawn_w: Option<f64>,
    /// What it can give in the long run, in kg/s; absent where it has no limit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub available_kg_s: Option<f64>,
    /// What it can give in the long run, in W; absent where it has no limit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub available_w: Option<f64>,
    /// Drawn over available.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub utilisation_share: Option<f64>,
    /// The share of time its pattern is on: `available` is the rate while on, times this.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub average_share: Option<f64>,
    /// Of a supply that pushes, what finds no place, in kg/s.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lost_kg_s: Option<f64>,
    /// Of a supply that pushes, what finds no place, in W.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lost_w: Option<f64>,
}

/// How far a demand is served: in kg/s, or in W where it asks for power.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct DemandFigures {
    /// Its header.
    #[cfg_attr(feature = "openapi", schema(value_type = String))]
    pub header: Name,
    /// Asked for, in kg/s.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub demanded_kg_s: Option<f64>,
    /// Asked for, in W.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub demanded_w: Option<f64>,
    /// Served, in kg/s.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub served_kg_s: Option<f64>,
    /// Served, in W.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub served_w: Option<f64>,
    /// The share of it that is not served.
    pub cut_share: f64,
}

/// What leaves by an outlet: in kg/s, or in W where it lets out power.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct OutletFigures {
    /// Let out, in kg/s.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub let_out_kg_s: Option<f64>,
    /// Let out, in W.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub let_out_w: Option<f64>,
    /// Let out over its limit; absent where it has none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub utilisation_share: Option<f64>,
}

/// How far the aim is reached. One of `run`, `make` and `most` has entries, as the aim has.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct AimFigures {
    /// Machines that were to run, by unit. Without an aim and without demands: every unit of fixed count.
    #[serde(skip_serializing_if = "Named::is_empty")]
    #[cfg_attr(feature = "openapi", schema(value_type = IndexMap<String, RunReached>))]
    pub run: Named<RunReached>,
    /// What was to be made, by header.
    #[serde(skip_serializing_if = "Named::is_empty")]
    #[cfg_attr(feature = "openapi", schema(value_type = IndexMap<String, MakeReached>))]
    pub make: Named<MakeReached>,
    /// What is delivered for its value, by header.
    #[serde(skip_serializing_if = "Named::is_empty")]
    #[cfg_attr(feature = "openapi", schema(value_type = IndexMap<String, MostReached>))]
    pub most: Named<MostReached>,
    /// Value less running costs each second, under `most`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub value_per_s: Option<f64>,
}

/// Machines of a `run` aim.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct RunReached {
    /// Full-duty machines wanted.
    pub wanted: f64,
    /// Full-duty machines that can run.
    pub got: f64,
}

/// A rate of a `make` aim.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct MakeReached {
    /// Wanted, in kg/s.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wanted_kg_s: Option<f64>,
    /// Wanted, in W.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wanted_w: Option<f64>,
    /// Made beyond what the plant itself takes, in kg/s.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub got_kg_s: Option<f64>,
    /// Made beyond what the plant itself takes, in W.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub got_w: Option<f64>,
}

/// A delivery of a `most` aim.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct MostReached {
    /// Delivered, in kg/s.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub delivered_kg_s: Option<f64>,
    /// Delivered, in W.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub delivered_w: Option<f64>,
    /// What it is worth each second.
    pub value_per_s: f64,
}

/// A limit that is met exactly and would change the outcome if it gave way.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct BindingFigures {
    /// A JSON pointer into the plan.
    #[serde(rename = "where")]
    pub at: String,
    /// One sentence.
    pub say: String,
    /// What one more of it would add, where the plan asks for `worth`: to the value of a `most` aim; otherwise to the sum of
    /// what is reached and served.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub worth: Option<f64>,
    /// One more of what: `kg/s`, `W` or `1` (a machine).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub worth_per: Option<&'static str>,
}
