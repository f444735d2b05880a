//! How far everything is from its limit, as shares that can be compared.

use serde::Serialize;

use super::PlanFigures;
use crate::plan::{Aim, Carried, Plan, When, in_order, pointer};
use crate::quantity::{percent, tenths};
use crate::questions::answer::short;

#[cfg(feature = "openapi")]
use utoipa::ToSchema;

/// How far something is from its limit.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct Margin {
    /// A JSON pointer into the plan: what has the limit.
    #[serde(rename = "where")]
    pub at: String,
    /// What is left of it, as a share; negative past the limit. Of what a supply can give, what is not drawn; of what lines
    /// carry, what does not pass; of a store's capacity, the least level above its limit L (or above empty); of the way from the
    /// ambient to a zone's limit, what is left above its hottest; of a cooler's drop, what its coolant stays above freezing; of
    /// what an outlet lets out, what does not leave; of electric power made, what is to spare.
    pub margin_share: f64,
    /// The same in words.
    pub say: String,
}

/// What comes closest to its limit; of equals the first by its pointer.
pub(super) fn tightest(plan: &Plan, reckoned: &PlanFigures) -> Option<Margin> {
    let mut all = Vec::new();
    flows(plan, reckoned, &mut all);
    levels(plan, reckoned, &mut all);
    temperatures(plan, reckoned, &mut all);
    all.into_iter()
        .min_by(|one, other| one.margin_share.total_cmp(&other.margin_share).then_with(|| one.at.cmp(&other.at)))
}

fn flows(plan: &Plan, reckoned: &PlanFigures, all: &mut Vec<Margin>) {
    for ((name, figures), (_, supply)) in
        reckoned.flow.supplies.iter().zip(in_order(&plan.listed.supplies, &plan.supplies))
    {
        // An aim of the most uses all there is.
        let all_used = matches!(plan.aim, Aim::Most(_));
        // A spring gives all it has, wanted or not; where another stands by, one may be used in full.
        let stands_by = plan.supplies.iter().any(|other| other.header == supply.header && other.name != supply.name);
        if let (Some(used), When::Wanted, false) = (figures.utilisation_share, supply.when, stands_by || all_used) {
            let say = format!("supply {} is used to {}", short(name), percent(used));
            all.push(Margin { at: pointer(&["supplies", name]), margin_share: 1.0 - used, say });
        }
    }
    for header in &plan.headers {
        let used = match header.carries {
            Carried::Matter => reckoned.flow.headers.get(&header.name).and_then(|on| on.line_utilisation_share),
            Carried::Power => reckoned.flow.power.as_ref().and_then(|on| on.line_utilisation_share),
        };
        // Where lines are as many as it takes, one more is no trouble.
        if let (Some(used), Some(_)) = (used, header.lines) {
            let say = format!("the lines of {} are used to {}", short(&header.name), percent(used));
            all.push(Margin { at: pointer(&["headers", &header.name]), margin_share: 1.0 - used, say });
        }
    }
    for (name, outlet) in &reckoned.flow.outlets {
        if let Some(used) = outlet.utilisation_share {
            let say = format!("the outlet of {} is used to {}", short(name), percent(used));
            all.push(Margin { at: pointer(&["outlets", name]), margin_share: 1.0 - used, say });
        }
    }
    if let Some(power) = &reckoned.flow.power {
        let made = power.generated_w + power.supplied_w;
        // What stays above what is drawn may go on into a store; only where none takes it is the surplus all there is.
        let stored = plan.stores.iter().any(|store| plan.header(store.header).carries == Carried::Power);
        // An aim of power is met to the watt.
        let aimed = match &plan.aim {
            Aim::Make(targets) => targets.iter().any(|target| plan.header(target.header).carries == Carried::Power),
            Aim::Most(_) => true,
            Aim::Unsaid | Aim::Run(_) => false,
        };
        if made > 0.0 && power.supplied_w == 0.0 && !stored && !aimed {
            let spare = (power.spilled_w - power.unserved_w) / made;
            let say = format!("{} of the power made is to spare", percent(spare.max(0.0)));
            all.push(Margin { at: pointer(&["headers", "power"]), margin_share: spare, say });
        }
    }
}

fn levels(plan: &Plan, reckoned: &PlanFigures, all: &mut Vec<Margin>) {
    let Some(fill) = &reckoned.fill else { return };
    for ((name, figures), (_, store)) in fill.stores.iter().zip(in_order(&plan.listed.stores, &plan.stores)) {
        let Some(least) = figures.least_kg.or(figures.least_j) else { continue };
        let limits = &store.limits;
        let low = limits.low.or(limits.low_low).unwrap_or(0.0);
        let carries = plan.header(store.header).carries;
        let say =
            format!("{} falls to {} ({})", short(name), carries.print_amount(least), percent(least / store.capacity));
        let share = (least - low) / store.capacity;
        // A store that nothing asks of may stand empty.
        let wanted = plan.demands.iter().any(|demand| demand.header == store.header);
        if wanted || low > 0.0 {
            all.push(Margin { at: pointer(&["stores", name]), margin_share: share, say });
        }
        if let (Some(greatest), Some(high)) =
            (figures.greatest_kg.or(figures.greatest_j), limits.high.or(limits.high_high))
        {
            let say = format!(
                "{} rises to {} ({})",
                short(name),
                carries.print_amount(greatest),
                percent(greatest / store.capacity)
            );
            let share = (high - greatest) / store.capacity;
            all.push(Margin { at: pointer(&["stores", name]), margin_share: share, say });
        }
    }
}

fn temperatures(plan: &Plan, reckoned: &PlanFigures, all: &mut Vec<Margin>) {
    let Some(heat) = &reckoned.heat else { return };
    for ((name, figures), (_, zone)) in heat.zones.iter().zip(in_order(&plan.listed.zones, &plan.zones)) {
        let hottest = figures.hottest_c();
        if let (Some(limit), Some(ambient)) = (zone.limit_c, plan.ambient_c)
            && limit > ambient
        {
            let say = format!("{} gets to {} °C of {} °C", short(name), tenths(hottest), tenths(limit));
            let share = (limit - hottest) / (limit - ambient);
            all.push(Margin { at: pointer(&["zones", name, "limit"]), margin_share: share, say });
        }
    }
    for (name, cooler) in &heat.coolers {
        if let (Some(coldest), Some(least)) = (cooler.coldest_c, cooler.set_point_least_c)
            && cooler.drop_k > 0.0
        {
            let above = coldest - (least - cooler.drop_k);
            let say = format!("the coolant of {} stays {} K above freezing", short(name), tenths(above));
            let at = pointer(&["coolers", name, "set_point"]);
            all.push(Margin { at, margin_share: above / cooler.drop_k, say });
        }
    }
}
