//! The figures that plans are compared by: one flat table with stable names.

use serde::Serialize;

use super::{PlanFigures, PlanFinding};
use crate::plan::inquiry::Better;
use crate::questions::answer::{Weight, sum};
use crate::questions::fill_level::{LevelFigures, Moment};
use crate::questions::flow_balance::FlowFigures;
use crate::questions::heat_budget::HeatFigures;

#[cfg(feature = "openapi")]
use utoipa::ToSchema;

/// The table. A figure that does not apply is absent; its name ends in its SI unit, or says that it is a count or a share.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct KeyFigures {
    /// Findings by which the plan fails, those of one cause counted once.
    pub failures_count: u64,
    /// Findings to watch.
    pub cautions_count: u64,
    /// When the first failure shows that is of a moment, in s; `null`: none does within the horizon. Absent where nothing is
    /// reckoned over time.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub first_failure_s: Option<Moment>,
    /// What is left of what comes closest to its limit, as a share of it; negative past the limit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tightest_margin_share: Option<f64>,
    /// Machines of all types, coolers and turbines apart.
    pub units_count: u64,
    /// Types of machine of which there are any.
    pub unit_types_count: u64,
    /// Coolers.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub coolers_count: Option<u64>,
    /// Turbines.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub turbines_count: Option<u64>,
    /// Lines of all headers whose lines are counted.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lines_count: Option<u64>,
    /// What all machines are built of.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub build_kg: Option<f64>,
    /// Electric power made less drawn, by all machines, coolers and turbines.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub net_power_w: Option<f64>,
    /// Electric power made.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub generated_power_w: Option<f64>,
    /// Electric power drawn.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub drawn_power_w: Option<f64>,
    /// Matter drawn from supplies in steady state.
    pub supplied_kg_s: f64,
    /// Matter let out in steady state.
    pub let_out_kg_s: f64,
    /// Matter that finds no way out in steady state.
    pub trapped_kg_s: f64,
    /// The share that the worst served demand gets in steady state; absent where there are no demands.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub least_served_share: Option<f64>,
    /// The use of the most used supply.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub greatest_supply_use_share: Option<f64>,
    /// The use of the most used lines.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub greatest_line_use_share: Option<f64>,
    /// The hottest that any zone gets, at rest or on the way.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub hottest_zone_c: Option<f64>,
    /// The least distance of a zone from its greatest temperature; negative past it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub least_heat_margin_k: Option<f64>,
    /// The least distance of a coolant from its freezing point and margin; negative below it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub least_freezing_margin_k: Option<f64>,
    /// How long was asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub horizon_s: Option<f64>,
    /// The least level of any store, as a share of its capacity.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub least_level_share: Option<f64>,
    /// The greatest level of any store of matter, as a share of its capacity.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub greatest_level_share: Option<f64>,
    /// Matter that demands ask for over time and do not get.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unserved_kg: Option<f64>,
    /// Electric energy that demands ask for over time and do not get.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unserved_j: Option<f64>,
    /// Matter that supplies lose over time because it finds no place.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lost_kg: Option<f64>,
    /// Starts of the busiest switch in the long run.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub greatest_starts_per_h: Option<f64>,
    /// Cells that rows lack for machines that are left over.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub missing_cells: Option<u64>,
    /// Cells of rows that are free.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub spare_cells: Option<u64>,
}

/// Which way each is better; the first decide first.
pub(super) const BETTER: &[(&str, Better)] = &[
    ("/key_figures/failures_count", Better::Less),
    ("/key_figures/cautions_count", Better::Less),
    ("/key_figures/first_failure_s", Better::More),
    ("/key_figures/least_served_share", Better::More),
    ("/key_figures/unserved_kg", Better::Less),
    ("/key_figures/unserved_j", Better::Less),
    ("/key_figures/trapped_kg_s", Better::Less),
    ("/key_figures/lost_kg", Better::Less),
    ("/key_figures/net_power_w", Better::More),
    ("/key_figures/supplied_kg_s", Better::Less),
    ("/key_figures/units_count", Better::Less),
    ("/key_figures/coolers_count", Better::Less),
    ("/key_figures/turbines_count", Better::Neither),
    ("/key_figures/lines_count", Better::Less),
    ("/key_figures/build_kg", Better::Less),
    ("/key_figures/missing_cells", Better::Less),
    ("/key_figures/tightest_margin_share", Better::More),
    ("/key_figures/least_heat_margin_k", Better::More),
    ("/key_figures/least_freezing_margin_k", Better::More),
    ("/key_figures/hottest_zone_c", Better::Neither),
    ("/key_figures/least_level_share", Better::More),
    ("/key_figures/greatest_level_share", Better::Neither),
    ("/key_figures/greatest_starts_per_h", Better::Less),
];

/// The least or greatest of some numbers; `None` of none.
fn least(numbers: impl Iterator<Item = f64>) -> Option<f64> {
    numbers.min_by(f64::total_cmp)
}

fn greatest(numbers: impl Iterator<Item = f64>) -> Option<f64> {
    numbers.max_by(f64::total_cmp)
}

impl KeyFigures {
    /// The table of sections that stand, and of what was found.
    pub(super) fn of(reckoned: &PlanFigures, findings: &[PlanFinding]) -> Self {
        let mut table = Self::default();
        table.outcome(reckoned, findings);
        table.flow(&reckoned.flow);
        reckoned.heat.iter().for_each(|heat| table.heat(heat));
        reckoned.fill.iter().for_each(|fill| table.level(fill));
        if !reckoned.floor.is_empty() {
            let rows = || reckoned.floor.iter().map(|(_, row)| row);
            table.missing_cells = Some(rows().map(|row| row.missing_cells).sum());
            table.spare_cells = Some(rows().map(|row| row.width_cells.saturating_sub(row.used_cells)).sum());
        }
        table
    }

    fn outcome(&mut self, reckoned: &PlanFigures, findings: &[PlanFinding]) {
        let of = |weight: Weight| findings.iter().filter(move |finding| finding.told.weight == weight);
        self.failures_count = of(Weight::Failure).count() as u64;
        self.cautions_count = of(Weight::Caution).count() as u64;
        let over_time = reckoned.heat.is_some() || reckoned.fill.is_some();
        self.first_failure_s =
            over_time.then(|| Moment(least(of(Weight::Failure).filter_map(|finding| finding.told.first_s))));
        self.tightest_margin_share = reckoned.tightest.as_ref().map(|margin| margin.margin_share);
    }

    fn flow(&mut self, flow: &FlowFigures) {
        self.units_count = flow.units.iter().map(|(_, unit)| u64::from(unit.count)).sum();
        self.unit_types_count = flow.units.iter().filter(|(_, unit)| unit.count > 0).count() as u64;
        let matter = flow.headers.iter().filter_map(|(_, header)| header.lines);
        let lines: Vec<u32> = matter.chain(flow.power.as_ref().and_then(|power| power.lines)).collect();
        self.lines_count = (!lines.is_empty()).then(|| lines.into_iter().map(u64::from).sum());
        self.build_kg = (!flow.bill_kg.is_empty()).then(|| sum(flow.bill_kg.iter().map(|(_, mass)| *mass)));
        // Coolers and turbines are in it.
        self.generated_power_w = flow.power.as_ref().map(|power| power.generated_w);
        self.drawn_power_w = flow.power.as_ref().map(|power| power.drawn_w);
        self.net_power_w = flow.power.as_ref().map(|power| power.net_w);
        self.supplied_kg_s = sum(flow.headers.iter().map(|(_, header)| header.supplied_kg_s));
        self.let_out_kg_s = sum(flow.headers.iter().map(|(_, header)| header.let_out_kg_s));
        self.trapped_kg_s = sum(flow.headers.iter().map(|(_, header)| header.trapped_kg_s));
        self.least_served_share = least(flow.demands.iter().map(|(_, demand)| 1.0 - demand.cut_share));
        self.greatest_supply_use_share =
            greatest(flow.supplies.iter().filter_map(|(_, supply)| supply.utilisation_share));
        let on_power = flow.power.as_ref().and_then(|power| power.line_utilisation_share);
        self.greatest_line_use_share =
            greatest(flow.headers.iter().filter_map(|(_, header)| header.line_utilisation_share).chain(on_power));
    }

    fn heat(&mut self, heat: &HeatFigures) {
        self.coolers_count =
            (!heat.coolers.is_empty()).then(|| heat.coolers.iter().map(|(_, cooler)| u64::from(cooler.count)).sum());
        self.turbines_count = (!heat.turbines.is_empty())
            .then(|| heat.turbines.iter().map(|(_, turbine)| u64::from(turbine.count)).sum());
        self.hottest_zone_c = greatest(heat.zones.iter().map(|(_, zone)| zone.hottest_c()));
        self.least_heat_margin_k =
            least(heat.zones.iter().filter_map(|(_, zone)| Some(zone.limit_c? - zone.hottest_c())));
        self.least_freezing_margin_k = least(
            heat.coolers
                .iter()
                .filter_map(|(_, cooler)| Some(cooler.coldest_c? - (cooler.set_point_least_c? - cooler.drop_k))),
        );
    }

    fn level(&mut self, fill: &LevelFigures) {
        self.horizon_s = Some(fill.horizon_s);
        let share = |level: Option<f64>, capacity: Option<f64>| Some(level? / capacity?);
        self.least_level_share = least(fill.stores.iter().filter_map(|(_, store)| {
            share(store.least_kg, store.capacity_kg).or_else(|| share(store.least_j, store.capacity_j))
        }));
        self.greatest_level_share =
            greatest(fill.stores.iter().filter_map(|(_, store)| share(store.greatest_kg, store.capacity_kg)));
        let total = |numbers: Vec<f64>| (!numbers.is_empty()).then(|| sum(numbers));
        self.unserved_kg = total(fill.demands.iter().filter_map(|(_, demand)| demand.unserved_kg).collect());
        self.unserved_j = total(fill.demands.iter().filter_map(|(_, demand)| demand.unserved_j).collect());
        self.lost_kg = total(fill.supplies.iter().filter_map(|(_, supply)| supply.lost_kg).collect());
        self.greatest_starts_per_h = greatest(fill.switches.iter().map(|(_, switch)| switch.starts_per_h));
    }
}
