//! The plan: the one document every question is asked of, read once into a type that cannot be wrong.

mod amount;
mod document;
mod fault;
mod field;
pub mod inquiry;
mod limits;
mod map;
mod model;
mod node;
mod parse;
mod pointer;
mod presets;
mod reader;
#[cfg(feature = "openapi")]
mod schema;
mod temperature;
#[cfg(test)]
mod tests;
mod wire;

pub use fault::{At, Fault, FaultCode, Faults};
pub use limits::Limits;
pub use model::{
    ABSOLUTE_ZERO_C, Aim, Brings, Carried, Cooler, CoolerId, Count, Course, Demand, DemandId, FloorRow, Flow, Gated,
    Header, HeaderId, HotSource, HotSourceId, LevelLimits, Listed, Loop, Moving, Outlet, OutletId, Pattern, Placed,
    Placing, Plan, ProductAt, Runs, Seasons, StandingLoss, Start, Step, Store, StoreId, Substance, SubstanceId, Supply,
    SupplyId, Switch, SwitchId, Target, Thermostat, ThermostatId, Turbine, TurbineId, Unit, UnitId, Value, Wall,
    Watched, When, Zone, ZoneId, in_order,
};
pub(crate) use node::{quoted, without_mark};
pub use parse::ReadError;
pub use pointer::{Blocked, Pointer, pointer};
#[cfg(feature = "openapi")]
pub use schema::PlanSchema;
