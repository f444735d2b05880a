//! The figures as they are written: one flat object of what the single questions give.

use serde::{Serialize, Serializer};

use super::PlanFigures;
use super::key_figures::KeyFigures;
use super::margin::Margin;
use super::rows::RowFigures;
use crate::questions::answer::Named;
use crate::questions::fill_level::{
    DutyFigures, EventFigures, IntakeFigures, LoopFigures, ServiceFigures, StoreFigures, SwitchFigures,
};
use crate::questions::flow_balance::{
    AimFigures, BindingFigures, DemandFigures, HeaderFigures, OutletFigures, PowerFigures, SupplyFigures, UnitFigures,
};
use crate::questions::heat_budget::{
    BallastFigures, CoolerFigures, CoolingStops, HeatPower, ProductFigures, Rest, StreamFigures, ThermostatFigures,
    TurbineFigures, ZoneFigures,
};

/// Sections are in the order of the document, which changes no figure; a field that does not apply is absent.
#[derive(Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
struct Sheet<'a> {
    /// The figures that plans are compared by.
    #[cfg_attr(feature = "openapi", schema(value_type = KeyFigures))]
    key_figures: &'a KeyFigures,
    /// What comes closest to its limit; absent where nothing has one.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "openapi", schema(value_type = Option<Margin>))]
    tightest: Option<&'a Margin>,
    /// How far the aim is reached; absent where nothing is aimed at.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "openapi", schema(value_type = Option<AimFigures>))]
    aim: Option<&'a AimFigures>,
    /// In steady state, by unit.
    #[cfg_attr(feature = "openapi", schema(value_type = IndexMap<String, UnitFigures>))]
    units: &'a Named<UnitFigures>,
    /// In steady state, by header of matter.
    #[cfg_attr(feature = "openapi", schema(value_type = IndexMap<String, HeaderFigures>))]
    headers: &'a Named<HeaderFigures>,
    /// The electric power in steady state; absent where nothing makes, draws or asks for any.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "openapi", schema(value_type = Option<PowerFigures>))]
    power: Option<&'a PowerFigures>,
    /// In steady state, by supply.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "openapi", schema(value_type = Option<IndexMap<String, SupplyFigures>>))]
    supplies: Option<&'a Named<SupplyFigures>>,
    /// In steady state, by demand.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "openapi", schema(value_type = Option<IndexMap<String, DemandFigures>>))]
    demands: Option<&'a Named<DemandFigures>>,
    /// In steady state, by header that has an outlet.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "openapi", schema(value_type = Option<IndexMap<String, OutletFigures>>))]
    outlets: Option<&'a Named<OutletFigures>>,
    /// What all machines together are built of, in kg, by material.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "openapi", schema(value_type = Option<IndexMap<String, f64>>))]
    bill_kg: Option<&'a Named<f64>>,
    /// What holds the plant back.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "openapi", schema(value_type = Option<Vec<BindingFigures>>))]
    binding: Option<&'a [BindingFigures]>,
    /// Whether the zones come to rest; absent where there are none.
    #[serde(skip_serializing_if = "Option::is_none")]
    rest: Option<Rest>,
    /// By zone.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "openapi", schema(value_type = Option<IndexMap<String, ZoneFigures>>))]
    zones: Option<&'a Named<ZoneFigures>>,
    /// By cooler.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "openapi", schema(value_type = Option<IndexMap<String, CoolerFigures>>))]
    coolers: Option<&'a Named<CoolerFigures>>,
    /// By turbine.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "openapi", schema(value_type = Option<IndexMap<String, TurbineFigures>>))]
    turbines: Option<&'a Named<TurbineFigures>>,
    /// By thermostat.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "openapi", schema(value_type = Option<IndexMap<String, ThermostatFigures>>))]
    thermostats: Option<&'a Named<ThermostatFigures>>,
    /// How warm what headers carry is, where something says so.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "openapi", schema(value_type = Option<IndexMap<String, StreamFigures>>))]
    streams: Option<&'a Named<StreamFigures>>,
    /// How warm what units give is, where something says so.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "openapi", schema(value_type = Option<IndexMap<String, ProductFigures>>))]
    products: Option<&'a Named<ProductFigures>>,
    /// The power of coolers and turbines at rest.
    #[serde(skip_serializing_if = "Option::is_none")]
    heat_power: Option<HeatPower>,
    /// What passes its limit first when all coolers stop; `null`: nothing within the horizon. Absent where nothing is cooled
    /// or nothing has a limit.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "openapi", schema(value_type = Option<CoolingStops>))]
    cooling_stops: Option<&'a Option<CoolingStops>>,
    /// By zone with an intermittent source.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "openapi", schema(value_type = Option<IndexMap<String, BallastFigures>>))]
    ballast: Option<&'a Named<BallastFigures>>,
    /// Over time, by store.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "openapi", schema(value_type = Option<IndexMap<String, StoreFigures>>))]
    stores: Option<&'a Named<StoreFigures>>,
    /// Over time, by switch.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "openapi", schema(value_type = Option<IndexMap<String, SwitchFigures>>))]
    switches: Option<&'a Named<SwitchFigures>>,
    /// By closed loop.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "openapi", schema(value_type = Option<IndexMap<String, LoopFigures>>))]
    loops: Option<&'a Named<LoopFigures>>,
    /// What else the rehearsal over time gives; absent where nothing is stored and nothing comes and goes.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "openapi", schema(value_type = Option<RehearsalFigures>))]
    rehearsal: Option<RehearsalFigures<'a>>,
    /// By row of the floor.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "openapi", schema(value_type = Option<IndexMap<String, RowFigures>>))]
    floor: Option<&'a Named<RowFigures>>,
}

/// Figures over time of what also has figures in steady state.
#[derive(Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = RehearsalFigures))]
struct RehearsalFigures<'a> {
    /// The length of the local day, in s.
    day_s: f64,
    /// How long was asked for, in s.
    horizon_s: f64,
    /// How far it was reckoned, in s: the horizon, or less where the events allowed were spent.
    reached_s: f64,
    /// How many events there were in all, those of repeated cycles too.
    event_count: u64,
    /// The first events, in order.
    #[cfg_attr(feature = "openapi", schema(value_type = Vec<EventFigures>))]
    events: &'a [EventFigures],
    /// By supply.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "openapi", schema(value_type = Option<IndexMap<String, IntakeFigures>>))]
    supplies: Option<&'a Named<IntakeFigures>>,
    /// By demand.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "openapi", schema(value_type = Option<IndexMap<String, ServiceFigures>>))]
    demands: Option<&'a Named<ServiceFigures>>,
    /// By unit.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "openapi", schema(value_type = Option<IndexMap<String, DutyFigures>>))]
    units: Option<&'a Named<DutyFigures>>,
}

/// A part of an answer that may not have been asked for, where it has entries.
fn of<A, T>(answer: Option<&A>, part: impl FnOnce(&A) -> &Named<T>) -> Option<&Named<T>> {
    answer.map(part).and_then(some)
}

/// What has entries.
fn some<T>(named: &Named<T>) -> Option<&Named<T>> {
    (!named.is_empty()).then_some(named)
}

impl<'a> Sheet<'a> {
    fn of(figures: &'a PlanFigures) -> Self {
        let PlanFigures { key_figures, tightest, flow, heat, fill, floor } = figures;
        let (heat, fill) = (heat.as_ref(), fill.as_ref());
        Self {
            key_figures,
            tightest: tightest.as_ref(),
            aim: flow.aim.as_ref(),
            units: &flow.units,
            headers: &flow.headers,
            power: flow.power.as_ref(),
            supplies: some(&flow.supplies),
            demands: some(&flow.demands),
            outlets: some(&flow.outlets),
            bill_kg: some(&flow.bill_kg),
            binding: (!flow.binding.is_empty()).then_some(&flow.binding),
            rest: heat.map(|heat| heat.rest),
            zones: of(heat, |heat| &heat.zones),
            coolers: of(heat, |heat| &heat.coolers),
            turbines: of(heat, |heat| &heat.turbines),
            thermostats: of(heat, |heat| &heat.thermostats),
            streams: of(heat, |heat| &heat.streams),
            products: of(heat, |heat| &heat.products),
            heat_power: heat.and_then(|heat| heat.power),
            cooling_stops: heat.and_then(|heat| heat.cooling_stops.as_ref()),
            ballast: of(heat, |heat| &heat.ballast),
            stores: of(fill, |fill| &fill.stores),
            switches: of(fill, |fill| &fill.switches),
            loops: of(fill, |fill| &fill.loops),
            rehearsal: fill.map(|fill| RehearsalFigures {
                day_s: fill.day_s,
                horizon_s: fill.horizon_s,
                reached_s: fill.reached_s,
                event_count: fill.event_count,
                events: &fill.events,
                supplies: some(&fill.supplies),
                demands: some(&fill.demands),
                units: some(&fill.units),
            }),
            floor: some(floor),
        }
    }
}

impl Serialize for PlanFigures {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        Sheet::of(self).serialize(serializer)
    }
}

#[cfg(feature = "openapi")]
mod schema {
    use std::borrow::Cow;

    use utoipa::openapi::{RefOr, Schema};
    use utoipa::{PartialSchema, ToSchema};

    use super::{PlanFigures, Sheet};

    impl PartialSchema for PlanFigures {
        fn schema() -> RefOr<Schema> {
            Sheet::schema()
        }
    }

    impl ToSchema for PlanFigures {
        fn name() -> Cow<'static, str> {
            Cow::Borrowed("WholePlan")
        }

        fn schemas(schemas: &mut Vec<(String, RefOr<Schema>)>) {
            Sheet::schemas(schemas);
        }
    }
}
