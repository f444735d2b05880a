//! The one door: bytes → [`Plan`].

mod floor;
mod heat;
mod order;
mod time;

use std::collections::HashMap;

use super::document::{AimDoc, CountDoc, CountRange, DemandDoc, PlanDocument, SupplyDoc, UnitDoc};
use super::fault::Faults;
use super::field::{day_of, standard_day};
use super::limits::Limits;
use super::map::Flows;
use super::model::{
    Aim, CoolerId, Count, Demand, DemandId, Flow, Gated, Header, HeaderId, HotSourceId, Outlet, Plan, Supply, SupplyId,
    Target, TurbineId, Unit, UnitId, Value,
};
use super::node::{self, Document};
use super::reader::{Place, Reader};
use super::wire::Wire;
use crate::quantity::{Power, Share};

/// Why bytes are not a plan.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ReadError {
    /// They are not JSON.
    #[error("not JSON: {say} (line {line}, column {column})")]
    NotJson {
        /// Line of the text, from 1.
        line: usize,
        /// Column, in bytes.
        column: usize,
        /// What is wrong there.
        say: String,
    },
    /// Objects or lists lie within one another deeper than is allowed.
    #[error("nested deeper than the limit of {limit} objects or lists")]
    TooDeep {
        /// The limit in force.
        limit: usize,
    },
    /// They are JSON, but not a plan.
    #[error("{0}")]
    Faults(#[from] Faults),
}

impl Plan {
    /// Reads a plan document, finding every fault at once.
    ///
    /// # Errors
    /// [`ReadError`]: not JSON, too deep, or a list of faults in document order, each with its JSON pointer.
    pub fn from_json(bytes: &[u8], limits: &Limits) -> Result<Self, ReadError> {
        open(bytes, limits, |document| Ok(plan(document, limits)?))
    }

    /// Takes a plan document that is a JSON value already, such as one that a patch was applied to.
    ///
    /// # Errors
    /// [`ReadError`]: too deep, or a list of faults.
    pub fn from_value(value: &serde_json::Value, limits: &Limits) -> Result<Self, ReadError> {
        let document = node::take(value, limits.depth).ok_or(ReadError::TooDeep { limit: limits.depth })?;
        Ok(plan(&document, limits)?)
    }
}

fn plan(document: &Document<'_>, limits: &Limits) -> Result<Plan, Faults> {
    let mut reader = Reader::new(document, limits, day_of(document, &document.root));
    let read = PlanDocument::read(&document.root, &Place::Document, &mut reader);
    let (read, headers) = reader.finish(read)?;
    Ok(build(read, headers))
}

/// Reads bytes as JSON and hands on the tree.
pub(super) fn open<T>(
    bytes: &[u8],
    limits: &Limits,
    read: impl FnOnce(&Document<'_>) -> Result<T, ReadError>,
) -> Result<T, ReadError> {
    let marked;
    let document = match node::parse(bytes, limits.depth) {
        Err(fault @ ReadError::NotJson { .. }) => {
            marked = node::endless_numbers_as_texts(bytes).ok_or_else(|| fault.clone())?;
            node::parse(&marked, limits.depth).map_err(|_| fault)?
        }
        read => read?,
    };
    read(&document)
}

/// Local days that a rehearsal lasts unless the plan says otherwise.
const DAYS: f64 = 10.0;

pub(super) fn build(mut document: PlanDocument, mut headers: Vec<Header>) -> Plan {
    let listed = order::sections(&mut document);
    for (id, declared) in document.headers.map_or_else(Vec::new, |section| section.0) {
        if let Some(header) = headers.get_mut(id.0) {
            header.line = declared.line.map(|line| line.0.si);
            header.lines = declared.lines.map(|lines| lines.0);
            header.declared = true;
        }
    }
    let substances = heat::substances(document.substances);
    let names = heat::Names::new(document.zones.as_ref(), &substances);
    let units: Vec<Unit> = document
        .units
        .map_or_else(Vec::new, |section| section.0)
        .into_iter()
        .map(|(name, doc)| unit(name, doc, &names))
        .collect();
    let aim = aim(document.aim, &units);
    let day = document.day.map_or_else(standard_day, |day| day.0);
    let supplies: Vec<Supply> = document
        .supplies
        .map_or_else(Vec::new, |section| section.0)
        .into_iter()
        .map(|(name, doc)| supply(name, doc))
        .collect();
    let demands: Vec<Demand> = document
        .demands
        .map_or_else(Vec::new, |section| section.0)
        .into_iter()
        .map(|(name, doc)| demand(name, doc))
        .collect();
    let zones = heat::zones(document.zones, &names);
    let coolers = heat::coolers(document.coolers, &names);
    let turbines = heat::turbines(document.turbines, &names);
    let hot_sources = heat::hot_sources(document.hot_sources, &names);
    let mut targets: HashMap<&str, Gated> = HashMap::new();
    if document.switches.is_some() || document.thermostats.is_some() {
        targets.extend(units.iter().enumerate().map(|(at, it)| (it.name.as_str(), Gated::Unit(UnitId(at)))));
        targets.extend(supplies.iter().enumerate().map(|(at, it)| (it.name.as_str(), Gated::Supply(SupplyId(at)))));
        targets.extend(demands.iter().enumerate().map(|(at, it)| (it.name.as_str(), Gated::Demand(DemandId(at)))));
        targets.extend(coolers.iter().enumerate().map(|(at, it)| (it.name.as_str(), Gated::Cooler(CoolerId(at)))));
        targets.extend(turbines.iter().enumerate().map(|(at, it)| (it.name.as_str(), Gated::Turbine(TurbineId(at)))));
        targets.extend(
            hot_sources.iter().enumerate().map(|(at, it)| (it.name.as_str(), Gated::HotSource(HotSourceId(at)))),
        );
    }
    let thermostats = heat::thermostats(document.thermostats, &names, &targets);
    let stores = time::stores(document.stores);
    let switches = time::switches(document.switches, &stores, &targets);
    let mut plan = Plan {
        rows: floor::rows(document.floor, &units),
        zones,
        ambient_c: document.ambient.map(|at| at.0),
        coolers,
        turbines,
        hot_sources,
        thermostats,
        title: document.title.map(|title| title.0),
        day,
        substances,
        headers,
        units,
        supplies,
        demands,
        stores,
        switches,
        loops: time::loops(document.loops),
        horizon: document.horizon.map_or(day * DAYS, |horizon| horizon.0),
        outlets: document
            .outlets
            .map_or_else(Vec::new, |section| section.0)
            .into_iter()
            .map(|(header, doc)| Outlet { header, limit: doc.limit.map(|limit| limit.si) })
            .collect(),
        aim,
        wants_worth: document.worth.unwrap_or(false),
        listed,
    };
    order::headers(&mut plan);
    plan
}

fn demand(name: String, doc: DemandDoc) -> Demand {
    Demand {
        name,
        header: doc.header.0,
        rate: doc.rate.si,
        rank: doc.rank.map_or(1, |rank| rank.0),
        pattern: doc.pattern.map(|pattern| pattern.0),
    }
}

fn flows(flows: Option<Flows>) -> Vec<Flow> {
    flows
        .map_or_else(Vec::new, |flows| flows.0)
        .into_iter()
        .map(|(header, rate)| Flow { header, rate: rate.0 })
        .collect()
}

fn unit(name: String, doc: UnitDoc, names: &heat::Names) -> Unit {
    Unit {
        name,
        count: match doc.count {
            Some(CountDoc::Fixed(count)) => Count::Fixed(count.0),
            Some(CountDoc::Range(CountRange { at_least, at_most })) => {
                Count::Sized { at_least: at_least.map_or(0, |least| least.0), at_most: at_most.map(|most| most.0) }
            }
            None => Count::Sized { at_least: 0, at_most: None },
        },
        takes: flows(doc.takes),
        gives: flows(doc.gives),
        generates: doc.generates.map_or(Power::ZERO, |power| power.0),
        draws: doc.draws.map_or(Power::ZERO, |power| power.0),
        idle_draw: doc.idle_draw.map_or(Power::ZERO, |power| power.0),
        turndown: doc.turndown.map_or(Share::ZERO, |share| share.0),
        rank: doc.rank.map_or(1, |rank| rank.0),
        when: doc.when.map(|when| when.0).unwrap_or_default(),
        running_cost: doc.running_cost.map_or(0.0, |cost| cost.0),
        width: doc.width.map(|width| width.0),
        height: doc.height.map_or(1, |height| height.0),
        sheds: doc.sheds.map_or(Power::ZERO, |sheds| sheds.0),
        zone: doc.zone.and_then(|zone| names.zone(&zone.0)),
        limit_c: doc.limit.map(|limit| limit.0),
        product_at: doc.product_at.map(|product| product.0).unwrap_or_default(),
        build: doc
            .build
            .map_or_else(Vec::new, |parts| parts.0)
            .into_iter()
            .map(|(material, mass)| (material, mass.0))
            .collect(),
    }
}

fn supply(name: String, doc: SupplyDoc) -> Supply {
    Supply {
        name,
        header: doc.header.0,
        rate: doc.rate.map(|rate| rate.si),
        rank: doc.rank.map_or(1, |rank| rank.0),
        when: doc.when.map(|when| when.0).unwrap_or_default(),
        pattern: doc.pattern.map(|pattern| pattern.0),
        at_c: doc.at.map(|at| at.0),
    }
}

fn aim(aim: Option<AimDoc>, units: &[Unit]) -> Aim {
    match aim {
        None => Aim::Unsaid,
        Some(AimDoc::Run(aim)) => {
            let ids: HashMap<&str, UnitId> =
                units.iter().enumerate().map(|(index, unit)| (unit.name.as_str(), UnitId(index))).collect();
            // Names that resolve to nothing were faults, so nothing is dropped here.
            Aim::Run(aim.run.0.0.iter().filter_map(|(name, count)| Some((*ids.get(name.as_str())?, count.0))).collect())
        }
        Some(AimDoc::Make(aim)) => {
            Aim::Make(aim.make.0.0.into_iter().map(|(header, rate)| Target { header, rate: rate.0 }).collect())
        }
        Some(AimDoc::Most(aim)) => Aim::Most(value(aim.most.0)),
    }
}

fn value(worth: Vec<(HeaderId, super::field::Plain<super::field::Worth>)>) -> Vec<Value> {
    worth.into_iter().map(|(header, each)| Value { header, each: each.0 }).collect()
}
