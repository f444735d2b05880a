//! The sections about time, from what was read to the model.

use std::collections::HashMap;

use crate::plan::amount::Amount;
use crate::plan::document::{LoopDoc, StoreDoc, SwitchDoc};
use crate::plan::map::Section;
use crate::plan::model::{Gated, LevelLimits, Loop, StandingLoss, Store, StoreId, Switch, Watched};
use crate::quantity::{Mass, Share};

pub(super) fn stores(section: Option<Section<StoreDoc>>) -> Vec<Store> {
    let things = section.map_or_else(Vec::new, |section| section.0);
    let si = |amount: Option<Amount>| amount.map(|amount| amount.si);
    let store = |(name, doc): (String, StoreDoc)| Store {
        name,
        header: doc.header.0,
        capacity: doc.capacity.si(),
        level: si(doc.level).unwrap_or(0.0),
        limits: LevelLimits {
            low_low: si(doc.low_low),
            low: si(doc.low),
            high: si(doc.high),
            high_high: si(doc.high_high),
        },
        loses: doc.loses.map_or(StandingLoss::None, crate::plan::amount::Loses::standing),
        rank: doc.rank.map_or(1, |rank| rank.0),
    };
    things.into_iter().map(store).collect()
}

/// Names that resolve to nothing, or to two things, were faults, so nothing is dropped here.
pub(super) fn switches(
    section: Option<Section<SwitchDoc>>,
    stores: &[Store],
    targets: &HashMap<&str, Gated>,
) -> Vec<Switch> {
    let Some(section) = section else { return Vec::new() };
    let watched: HashMap<&str, StoreId> =
        stores.iter().enumerate().map(|(at, store)| (store.name.as_str(), StoreId(at))).collect();
    let switch = |(name, doc): (String, SwitchDoc)| {
        Some(Switch {
            name,
            watch: Watched::Store(*watched.get(doc.watch.0.as_str())?),
            start_at: doc.start_at.si,
            stop_at: doc.stop_at.si,
            runs: doc.runs.0.iter().filter_map(|name| targets.get(name.0.as_str()).copied()).collect(),
            on: doc.on.unwrap_or(false),
        })
    };
    section.0.into_iter().filter_map(switch).collect()
}

pub(super) fn loops(section: Option<Section<LoopDoc>>) -> Vec<Loop> {
    let things = section.map_or_else(Vec::new, |section| section.0);
    let of = |(name, doc): (String, LoopDoc)| Loop {
        name,
        coolant: doc.coolant.0,
        holds: doc.holds.0,
        charge: doc.charge.0,
        keep_free: doc.keep_free.map_or(Mass::ZERO, |mass| mass.0),
        expands: doc.expands.map_or(Share::ZERO, |share| share.0),
        least: doc.least.map(|mass| mass.0).or_else(|| {
            let (flow, time) = doc.flow.zip(doc.round_trip)?;
            Mass::from_si(flow.0.si() * time.0.si())
        }),
    };
    things.into_iter().map(of).collect()
}
