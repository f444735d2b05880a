//! Coolers: how many, and where their set points may stand.

use serde_json::json;

use super::super::celsius;
use super::super::fill::{advised, intake, window, zone_name};
use super::surplus::INSIDE_K;
use super::{HeatCode, Search};
use crate::plan::{Cooler, Moving, pointer};
use crate::quantity::{dimension, number, print_si};
use crate::questions::answer::{Remedy, finding, nest, quoted, round_up};

/// The least part of its drop that a cooler is advised to keep.
const LEAST_DROP: f64 = 0.05;

impl Search<'_> {
    pub(super) fn coolers(&mut self) {
        let plan = self.plan;
        for (at, (cooler, needed)) in plan.coolers.iter().zip(self.reckoned.coolers).enumerate() {
            let name = quoted(&cooler.name);
            if let Some(exact) = needed.exact
                && exact > f64::from(needed.count) * (1.0 + 1e-9)
            {
                let zone = quoted(zone_name(plan, cooler.cools));
                let say = format!("{} of {name} cannot hold {zone}: {} would", needed.count, number(exact));
                let found = finding(HeatCode::CoolersShort, pointer(&["coolers", &cooler.name, "count"]), say);
                let found = found.at_most(exact, f64::from(needed.count), "1");
                let remedy = self.more_cooling(cooler.cools.0);
                self.found.push(found.mended(remedy));
            }
            let (least, greatest) = window(plan, cooler);
            if let (Some(least), Some(greatest)) = (least, greatest)
                && least > greatest
            {
                let say = format!(
                    "{name} would need a set point of at least {} for its coolant and at most {} for what it cools",
                    celsius(least),
                    celsius(greatest)
                );
                let found = finding(HeatCode::NoSetPoint, pointer(&["coolers", &cooler.name]), say);
                let remedy = smaller_drop(cooler, least, greatest);
                self.found.push(found.at_most(least, greatest, "°C").mended(Some(remedy)));
            }
            let taken_in = intake(plan, self.reckoned, at);
            let coldest_in = cooler.set_point_c.or(taken_in.map(|(least, _)| least));
            let to = |at: f64| Remedy {
                say: format!("set {name} to {}", celsius(at)),
                patch: Some(nest(&["coolers", &cooler.name, "set_point"], json!(at))),
            };
            let (own, set_point) = (&["coolers", &cooler.name], &["coolers", &cooler.name, "set_point"]);
            let place = if cooler.set_point_c.is_some() { pointer(set_point) } else { pointer(own) };
            if let (Some(least), Some(coldest_in)) = (least, coldest_in) {
                let coldest = coldest_in - cooler.drop_k();
                let freezing = least - cooler.drop_k();
                if coldest_in < least - 1e-9 {
                    let say = format!(
                        "the coolant of {name} leaves it at {}, below {} where it freezes",
                        celsius(coldest),
                        celsius(freezing)
                    );
                    let found = finding(HeatCode::CoolantFreezes, place.clone(), say).at_least(coldest, freezing, "°C");
                    self.found.push(found.mended(advised(Some(least), greatest).map(to)));
                } else if coldest_in < least + 1.0 {
                    let say = format!(
                        "the coolant of {name} leaves it at {}, within {} K of freezing",
                        celsius(coldest),
                        number(coldest - freezing)
                    );
                    let found = finding(HeatCode::CoolantNearFreezing, place.clone(), say);
                    let found = found.at_least(coldest, freezing, "°C");
                    self.found.push(found.mended(advised(Some(least), greatest).map(to)));
                }
            }
            let boils = cooler.coolant.and_then(|id| plan.substances[id.0].boils_at_c).map(|at| at - cooler.margin_k);
            let set_too_high = cooler.set_point_c.zip(greatest).filter(|(set, greatest)| *set > *greatest + 1e-9);
            if set_too_high.is_none() {
                self.boiling(at, boils, taken_in);
            }
            if let Some((set, greatest)) = set_too_high {
                let boils = boils.is_some_and(|boils| boils <= greatest);
                let (code, say) = if boils {
                    (
                        HeatCode::CoolantBoils,
                        format!("the coolant of {name} boils below its set point of {}", celsius(set)),
                    )
                } else {
                    let zone = quoted(zone_name(plan, cooler.cools));
                    let say = format!(
                        "{name} holds {zone} at {}, and {} is the most that is borne there",
                        celsius(set),
                        celsius(greatest)
                    );
                    (HeatCode::SetPointTooHigh, say)
                };
                let found = finding(code, place, say).at_most(set, greatest, "°C");
                // No lower than it need be: what lies between costs power.
                let nearest = (greatest - INSIDE_K).max(least.unwrap_or(f64::NEG_INFINITY)).min(greatest);
                self.found.push(found.mended(Some(to(nearest))));
            }
        }
    }
}

impl Search<'_> {
    /// A coolant that boils in what is hotter than it is set to be.
    fn boiling(&mut self, at: usize, boils: Option<f64>, taken_in: Option<(f64, f64)>) {
        let cooler = &self.plan.coolers[at];
        let (Some(boils), Some((_, warmest))) = (boils, taken_in) else { return };
        if warmest <= boils + 1e-9 {
            return;
        }
        let say = format!(
            "the coolant of {} comes in at {} from {}, and boils at {}",
            quoted(&cooler.name),
            celsius(warmest),
            quoted(zone_name(self.plan, cooler.cools)),
            celsius(boils)
        );
        let zone = cooler.cools.0;
        let remedy = self.more_cooling(zone).or_else(|| self.heat_taken(zone, boils));
        let found = finding(HeatCode::CoolantBoils, pointer(&["coolers", &cooler.name]), say);
        self.found.push(found.at_most(warmest, boils, "°C").mended(remedy));
    }
}

/// The drop that leaves one set point, with the flow that moves as much heat; another coolant where no drop does.
fn smaller_drop(cooler: &Cooler, least: f64, greatest: f64) -> Remedy {
    let other = || Remedy { say: "take a coolant that freezes lower".to_owned(), patch: None };
    let Moving::Drop { flow, drop_k, .. } = cooler.moving else { return other() };
    // The least set point is freezing point + margin + drop.
    let smaller = drop_k - (least - greatest);
    if smaller < LEAST_DROP * drop_k {
        return other();
    }
    let more = round_up(flow.si() * drop_k / smaller);
    let say = format!(
        "let {} drop its coolant by {} K at {} and set it to {}",
        quoted(&cooler.name),
        number(smaller),
        print_si::<dimension::MassRate>(more),
        celsius(greatest)
    );
    let change = json!({ "drop": smaller, "flow": more, "set_point": greatest });
    Remedy { say, patch: Some(nest(&["coolers", &cooler.name], change)) }
}
