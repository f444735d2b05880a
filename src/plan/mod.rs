//! The plan: the one document every question is asked of, read once into a type that cannot be wrong.

mod fault;
mod model;

pub use fault::{At, Fault, FaultCode, Faults};
pub use model::{
    Aim, Carried, Count, Demand, DemandId, Flow, Header, HeaderId, Outlet, OutletId, Pattern, Plan, Runs, Substance,
    Supply, SupplyId, Target, Unit, UnitId, Value, When,
};
