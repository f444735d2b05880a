//! Pictures: one file or folder each, on a transparent ground, legible over a dark and over a light scene.

mod canvas;
pub mod fill_level;
pub mod flow_balance;
pub mod heat_budget;
pub mod sum;
pub mod whole_plan;
