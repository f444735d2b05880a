//! The figures of the answer: what the rehearsal found, under the author's names. Amounts are in kg, on the header `power` in J.

mod store;

use serde::Serialize;

use crate::questions::answer::{Name, Named};

pub use store::{CourseFigures, CycleFigures, StoreFigures};

#[cfg(feature = "openapi")]
use utoipa::ToSchema;

/// When something first happened, in s from time zero; `null`: never within the horizon.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(transparent)]
pub struct Moment(pub Option<f64>);

/// A size that was searched for; `null`: no size is enough.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(transparent)]
pub struct Size(pub Option<f64>);

/// How a switch acts.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct SwitchFigures {
    /// The store that it watches.
    #[cfg_attr(feature = "openapi", schema(value_type = String))]
    pub watches: Name,
    /// Where it starts, as a share of the store's capacity.
    pub start_at_share: f64,
    /// Where it stops, as a share of the store's capacity.
    pub stop_at_share: f64,
    /// How often it starts what it runs.
    pub starts: u64,
    /// How often it stops it.
    pub stops: u64,
    /// Starts each hour, in the long run.
    pub starts_per_h: f64,
    /// When it first starts, in s.
    pub first_start_s: Moment,
    /// How long it is on in all, in s.
    pub on_s: f64,
    /// The share of time it is on.
    pub duty_share: f64,
    /// The shortest time from one start to the next, in s; absent where it starts less than twice.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub least_cycle_s: Option<f64>,
}

/// What a supply gives.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct IntakeFigures {
    /// Its header.
    #[cfg_attr(feature = "openapi", schema(value_type = String))]
    pub header: Name,
    /// What it could give, in kg; absent where it has no limit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub offered_kg: Option<f64>,
    /// What it could give, in J; absent where it has no limit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub offered_j: Option<f64>,
    /// What is drawn from it, in kg.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub drawn_kg: Option<f64>,
    /// What is drawn from it, in J.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub drawn_j: Option<f64>,
    /// The share of what it could give that is spared: not drawn. Absent where it has no limit or pushes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub spared_share: Option<f64>,
    /// Of a supply that pushes, what finds no place, in kg.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lost_kg: Option<f64>,
    /// Of a supply that pushes, what finds no place, in J.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lost_j: Option<f64>,
    /// When some of it first finds no place, in s; absent where it does not push.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub first_lost_s: Option<Moment>,
    /// How long it is on, in s.
    pub on_s: f64,
    /// Whether its pattern lets it give at time zero; absent where it has no pattern, and so are the next two.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub on_now: Option<bool>,
    /// When its pattern next changes, in s.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub next_change_s: Option<Moment>,
    /// When it next comes back, in s.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub next_return_s: Option<Moment>,
}

/// What a demand gets.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct ServiceFigures {
    /// Its header.
    #[cfg_attr(feature = "openapi", schema(value_type = String))]
    pub header: Name,
    /// What it asks for, in kg.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wanted_kg: Option<f64>,
    /// What it asks for, in J.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wanted_j: Option<f64>,
    /// What it gets, in kg.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub served_kg: Option<f64>,
    /// What it gets, in J.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub served_j: Option<f64>,
    /// What it does not get, in kg.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unserved_kg: Option<f64>,
    /// What it does not get, in J.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unserved_j: Option<f64>,
    /// When it is first cut, in s.
    pub first_short_s: Moment,
    /// How long it is cut in all, in s.
    pub short_s: f64,
    /// How often it begins to be cut; on `power`, brown-outs.
    pub cuts: u64,
}

/// How a type of machine runs over time.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct DutyFigures {
    /// How many machines were taken.
    pub count: u32,
    /// How long any of them runs, in s.
    pub running_s: f64,
    /// Machine-seconds at full duty.
    pub duty_s: f64,
    /// The share of full duty of all machines; absent where there are none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub duty_share: Option<f64>,
    /// How often they begin to run.
    pub starts: u64,
    /// Starts in each local day.
    pub starts_per_day: f64,
    /// Machine-seconds held back because an input was missing or an output blocked.
    pub held_s: f64,
    /// When first held back, in s.
    pub first_held_s: Moment,
    /// What all of them take, in kg, by header: among it the fuel they burn.
    #[serde(skip_serializing_if = "Named::is_empty")]
    #[cfg_attr(feature = "openapi", schema(value_type = IndexMap<String, f64>))]
    pub takes_kg: Named<f64>,
    /// What all of them give, in kg, by header.
    #[serde(skip_serializing_if = "Named::is_empty")]
    #[cfg_attr(feature = "openapi", schema(value_type = IndexMap<String, f64>))]
    pub gives_kg: Named<f64>,
    /// Electric energy that all of them make, in J; absent where they make none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub generates_j: Option<f64>,
}

/// The charge of a closed loop, and the window that it must lie in.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct LoopFigures {
    /// What is in it, in kg.
    pub charge_kg: f64,
    /// The least that circulates, in kg.
    pub least_kg: f64,
    /// The most that leaves room for the gap and for expansion: (holds − kept free) ÷ (1 + expansion), in kg. Never negative.
    pub most_kg: f64,
    /// What is in it above the most, in kg; 0 where it is not over-full.
    pub over_kg: f64,
    /// What lacks to the least, in kg; 0 where it circulates.
    pub short_kg: f64,
}

/// Something that happens.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct EventFigures {
    /// When, in s.
    pub at_s: f64,
    /// What: `supply-on`, `supply-off`, `supply-step`, the same of `demand-` and `hot-source-`, `store-empty`, `store-full`,
    /// `switch-start`, `switch-stop`, the same of `thermostat-`, `zone-too-hot`, `zone-too-cold`, `unit-too-hot`.
    pub what: &'static str,
    /// The name of the supply, demand, hot source, store, switch, thermostat, zone or unit.
    #[cfg_attr(feature = "openapi", schema(value_type = String))]
    pub name: Name,
}

#[cfg(feature = "openapi")]
mod schema {
    use std::borrow::Cow;

    use utoipa::openapi::schema::{ObjectBuilder, Schema, SchemaType, Type};
    use utoipa::openapi::{KnownFormat, RefOr, SchemaFormat};
    use utoipa::{PartialSchema, ToSchema};

    use super::{Moment, Size};

    fn number_or_null(about: &str) -> RefOr<Schema> {
        ObjectBuilder::new()
            .schema_type(SchemaType::from_iter([Type::Number, Type::Null]))
            .format(Some(SchemaFormat::KnownFormat(KnownFormat::Double)))
            .minimum(Some(0.0))
            .maximum(Some(1e300))
            .description(Some(about))
            .build()
            .into()
    }

    impl PartialSchema for Moment {
        fn schema() -> RefOr<Schema> {
            number_or_null("When something first happens, in s from time zero; null: never within the horizon.")
        }
    }

    impl ToSchema for Moment {
        fn name() -> Cow<'static, str> {
            Cow::Borrowed("Moment")
        }
    }

    impl PartialSchema for Size {
        fn schema() -> RefOr<Schema> {
            number_or_null("A size that was searched for; null: no size is enough.")
        }
    }

    impl ToSchema for Size {
        fn name() -> Cow<'static, str> {
            Cow::Borrowed("Size")
        }
    }
}
