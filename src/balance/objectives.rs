//! The objectives in strict order, as costs on columns.

use super::assemble::pushes;
use super::model::Model;
use crate::plan::{Aim, Carried, Count, HeaderId, Plan, SupplyId};

/// Which objective a stage serves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Purpose {
    /// Least shortfall of one rank, each thing as a share of what it wants.
    Shortfall(u32),
    /// Least trapped surplus of matter.
    Trapped,
    /// Least trapped surplus of power (an outlet with a limit).
    TrappedPower,
    /// Least lost by supplies that push, each as a share of its rate.
    Lost,
    /// Greatest value less running cost.
    Value,
    /// Least draw on the supplies of a rank.
    Draw(u32),
    /// Fewest machines among those to be sized.
    Machines,
    /// Least matter let out.
    LetOut,
    /// Least machines idle: where power is to spare, nothing else keeps those that run from being counted as idle besides.
    Idle,
    /// Least power spilled.
    Spilled,
}

/// One objective: minimise Σ cost · x over unscaled columns.
#[derive(Clone, Debug)]
pub struct Stage {
    /// What for.
    pub purpose: Purpose,
    /// Costs of columns; the others cost nothing.
    pub costs: Vec<(usize, f64)>,
}

/// All objectives of a plan, first first. Stages without a cost are left out.
#[must_use]
pub fn stages(plan: &Plan, model: &Model) -> Vec<Stage> {
    let mut stages: Vec<Stage> = Vec::new();
    for item in &model.items {
        let purpose = Purpose::Shortfall(item.rank);
        if stages.last().is_none_or(|stage| stage.purpose != purpose) {
            stages.push(Stage { purpose, costs: Vec::new() });
        }
        if let Some(stage) = stages.last_mut() {
            stage.costs.push((item.column, -1.0 / item.wanted));
        }
    }
    let columns = &model.columns;
    let carries = |header: usize, carried: Carried| plan.headers[header].carries == carried;
    let trapped = |carried: Carried| -> Vec<(usize, f64)> {
        let of_header = |(header, column): (usize, &Option<usize>)| {
            column.filter(|_| carries(header, carried)).map(|column| (column, 1.0))
        };
        columns.trapped.iter().enumerate().filter_map(of_header).collect()
    };
    stages.push(Stage { purpose: Purpose::Trapped, costs: trapped(Carried::Matter) });
    stages.push(Stage { purpose: Purpose::TrappedPower, costs: trapped(Carried::Power) });
    let pushed = plan.supplies.iter().enumerate().filter_map(|(at, supply)| {
        let rate = supply.average_rate().filter(|&rate| rate > 0.0 && pushes(plan, SupplyId(at)))?;
        Some((columns.draw[at], -1.0 / rate))
    });
    let turbines = columns.turbines.map(|column| (column, -1.0 / model.program.upper[column]));
    stages.push(Stage { purpose: Purpose::Lost, costs: pushed.chain(turbines).collect() });
    if let Aim::Most(values) = &plan.aim {
        let worth =
            |header: HeaderId| values.iter().find(|value| value.header == header).map_or(0.0, |value| value.each);
        let mut costs: Vec<(usize, f64)> =
            model.deliveries.iter().map(|delivery| (delivery.column, -worth(delivery.header))).collect();
        costs.extend(plan.units.iter().enumerate().map(|(at, unit)| (columns.run[at], unit.running_cost)));
        stages.push(Stage { purpose: Purpose::Value, costs });
    }
    let mut ranks: Vec<u32> = plan.supplies.iter().map(|supply| supply.rank).collect();
    ranks.sort_unstable();
    ranks.dedup();
    for &rank in ranks.iter().rev() {
        for carried in [Carried::Matter, Carried::Power] {
            let costs = plan
                .supplies
                .iter()
                .enumerate()
                .filter(|(_, supply)| supply.rank == rank && carries(supply.header.0, carried));
            let costs = costs.map(|(at, _)| (columns.draw[at], 1.0)).collect();
            stages.push(Stage { purpose: Purpose::Draw(rank), costs });
        }
    }
    let sized = plan.units.iter().enumerate().filter(|(_, unit)| matches!(unit.count, Count::Sized { .. }));
    stages.push(Stage { purpose: Purpose::Machines, costs: sized.map(|(at, _)| (columns.run[at], 1.0)).collect() });
    for (purpose, carried) in [(Purpose::LetOut, Carried::Matter), (Purpose::Spilled, Carried::Power)] {
        let out = plan.outlets.iter().enumerate().filter(|(_, outlet)| carries(outlet.header.0, carried));
        let mut costs: Vec<(usize, f64)> = out.map(|(at, _)| (columns.let_out[at], 1.0)).collect();
        if carried == Carried::Power {
            let idle = columns.idle.iter().flatten().map(|&column| (column, 1.0)).collect();
            stages.push(Stage { purpose: Purpose::Idle, costs: idle });
            costs.extend(columns.spill.iter().flatten().map(|&column| (column, 1.0)));
        }
        stages.push(Stage { purpose, costs });
    }
    for stage in &mut stages {
        stage.costs.retain(|&(_, cost)| cost != 0.0);
    }
    // Counts are chosen even where no unit is to be sized by a cost: the stage stays as a mark.
    stages.retain(|stage| !stage.costs.is_empty() || stage.purpose == Purpose::Machines);
    stages
}
