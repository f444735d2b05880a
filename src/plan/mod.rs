//! The plan: the one document every question is asked of, read once into a type that cannot be wrong.

mod document;
mod fault;
mod field;
mod limits;
mod map;
mod model;
mod node;
mod parse;
mod pointer;
mod reader;
#[cfg(feature = "openapi")]
mod schema;
#[cfg(test)]
mod tests;
mod wire;

pub use fault::{At, Fault, FaultCode, Faults};
pub use limits::Limits;
pub use model::{
    Aim, Carried, Count, Course, Demand, DemandId, Flow, Gated, Header, HeaderId, LevelLimits, Loop, Outlet, OutletId,
    Pattern, Plan, Runs, Seasons, StandingLoss, Start, Step, Store, StoreId, Substance, Supply, SupplyId, Switch,
    SwitchId, Target, Unit, UnitId, Value, Watched, When,
};
pub(crate) use node::quoted;
pub use parse::ReadError;
pub use pointer::pointer;
#[cfg(feature = "openapi")]
pub use schema::PlanSchema;
