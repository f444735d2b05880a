//! What a store goes through, and how it looks over time.

use serde::Serialize;

use super::{Moment, Size};
use crate::questions::answer::Name;

#[cfg(feature = "openapi")]
use utoipa::ToSchema;

/// What a store goes through.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct StoreFigures {
    /// Its header.
    #[cfg_attr(feature = "openapi", schema(value_type = String))]
    pub header: Name,
    /// What it holds when full, in kg.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub capacity_kg: Option<f64>,
    /// What it holds when full, in J.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub capacity_j: Option<f64>,
    /// Its level at time zero, in kg.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub start_kg: Option<f64>,
    /// Its level at time zero, in J.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub start_j: Option<f64>,
    /// Its level at the end, in kg.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub end_kg: Option<f64>,
    /// Its level at the end, in J.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub end_j: Option<f64>,
    /// Its least level, in kg.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub least_kg: Option<f64>,
    /// Its least level, in J.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub least_j: Option<f64>,
    /// When it first has its least level, in s.
    pub least_at_s: f64,
    /// Its greatest level, in kg.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub greatest_kg: Option<f64>,
    /// Its greatest level, in J.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub greatest_j: Option<f64>,
    /// When it first has its greatest level, in s.
    pub greatest_at_s: f64,
    /// The capacity that it uses within the horizon, greatest less least level, in kg: one of this size that begins with
    /// `used_start_kg` goes through the same, unless it loses a share of its contents or a switch acts at shares of it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub used_capacity_kg: Option<f64>,
    /// The same in J.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub used_capacity_j: Option<f64>,
    /// What of its level at time zero it uses within the horizon, level at time zero less least level, in kg.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub used_start_kg: Option<f64>,
    /// The same in J.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub used_start_j: Option<f64>,
    /// When it first stands empty, in s.
    pub first_empty_s: Moment,
    /// When it first stands full, in s.
    pub first_full_s: Moment,
    /// How long it stands empty in all, in s.
    pub empty_s: f64,
    /// How long it stands full in all, in s.
    pub full_s: f64,
    /// What flows into it, in kg.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub filled_kg: Option<f64>,
    /// What flows into it, in J.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub filled_j: Option<f64>,
    /// What flows out of it, standing loss apart, in kg.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub drained_kg: Option<f64>,
    /// What flows out of it, standing loss apart, in J.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub drained_j: Option<f64>,
    /// What it loses by standing, in kg.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stood_lost_kg: Option<f64>,
    /// What it loses by standing, in J.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stood_lost_j: Option<f64>,
    /// What supplies that push onto its header lose because nothing takes it, in kg.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lost_kg: Option<f64>,
    /// Surplus of its header that nothing takes, in J.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lost_j: Option<f64>,
    /// What demands on its header ask for and do not get, in kg.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unserved_kg: Option<f64>,
    /// What demands on its header ask for and do not get, in J.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unserved_j: Option<f64>,
    /// When its level first goes below LL, in s; absent where it has no such limit, and so are the next three.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub first_below_low_low_s: Option<Moment>,
    /// When its level first goes below L, in s.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub first_below_low_s: Option<Moment>,
    /// When its level first goes above H, in s.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub first_above_high_s: Option<Moment>,
    /// When its level first goes above HH, in s.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub first_above_high_high_s: Option<Moment>,
    /// Starts each hour, in the long run, of the switches that watch it; absent where none does.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub starts_per_h: Option<f64>,
    /// The least capacity that leaves nothing short if it begins full, in kg; absent where no demand hangs on it or the search
    /// was given up. `null`: no size is enough.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub least_capacity_kg: Option<Size>,
    /// The same in J.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub least_capacity_j: Option<Size>,
    /// Whether that capacity is enough however often the patterns repeat, or only as far as the horizon.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub least_capacity_lasts: Option<bool>,
    /// The least level at time zero that leaves nothing short within the horizon, in kg; absent where no demand hangs on it or
    /// the search was given up. `null`: no level is enough.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub least_start_kg: Option<Size>,
    /// The same in J.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub least_start_j: Option<Size>,
    /// The cycle that it settles in; absent where none was seen.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub settles: Option<CycleFigures>,
    /// Its limit LL as a share of its capacity; absent where it has none, and so are the next three.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub low_low_share: Option<f64>,
    /// Its limit L.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub low_share: Option<f64>,
    /// Its limit H.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub high_share: Option<f64>,
    /// Its limit HH.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub high_high_share: Option<f64>,
    /// Its level over time.
    pub course: CourseFigures,
}

/// A cycle that repeats for good.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct CycleFigures {
    /// From when on, in s.
    pub from_s: f64,
    /// How long one cycle takes, in s; 0 where nothing changes any more.
    pub period_s: f64,
    /// The least level in it, in kg.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub least_kg: Option<f64>,
    /// The least level in it, in J.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub least_j: Option<f64>,
    /// The greatest level in it, in kg.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub greatest_kg: Option<f64>,
    /// The greatest level in it, in J.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub greatest_j: Option<f64>,
}

/// The level of a store over time, straight between the points: as long as it takes to see what settles and the first trouble;
/// of many points the extremes.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct CourseFigures {
    /// Times, in s.
    pub at_s: Vec<f64>,
    /// Shares of the capacity at these times.
    pub level_share: Vec<f64>,
}
