//! How much mass rides out pulses.

use serde_json::{Value, json};

use super::super::ballast::Ballast;
use super::super::celsius;
use super::{HeatCode, Search};
use crate::plan::pointer;
use crate::quantity::{dimension, print_si, whole_up};
use crate::questions::answer::{Remedy, finding, merge, nest, quoted, round_up};

/// By how much more than the least, or less than the most, rounding is passed.
const OVER: f64 = 1e-9;

impl Search<'_> {
    pub(super) fn ballast(&mut self) {
        for ballast in &self.reckoned.ballast {
            let zone = &self.plan.zones[ballast.zone].name;
            let (place, name) = (pointer(&["zones", zone, "contents"]), quoted(zone));
            let kg = |kg: f64| print_si::<dimension::Mass>(kg);
            let present = ballast.present_kg;
            let limit = self.plan.zones[ballast.zone].limit_c;
            if let (Some(least), Some(greatest)) = (ballast.least_kg, ballast.greatest_kg)
                && least > greatest
            {
                let say =
                    format!("{name} needs {} to ride out the pulses, and its cells bear {}", kg(least), kg(greatest));
                let found = finding(HeatCode::NoBallast, pointer(&["zones", zone, "cell_limit"]), say);
                self.found.push(found.at_most(least, greatest, "kg").mended(self.cells(ballast, least)));
                continue;
            }
            if let (None, Some(limit), Some((peak, ..))) = (ballast.least_kg, limit, ballast.cycle)
                && peak > limit
            {
                let say = format!("no mass keeps {name} below {}: it is too hot on average", celsius(limit));
                let found = finding(HeatCode::NoBallast, place.clone(), say).at_most(peak, limit, "°C");
                self.found.push(found.mended(self.heat_taken(ballast.zone, limit)));
            }
            if let Some(least) = ballast.least_kg.filter(|least| present < *least) {
                let peak =
                    ballast.cycle.map_or_else(String::new, |(peak, ..)| format!(" and peaks at {}", celsius(peak)));
                let say = format!("{name} holds {}{peak}; from {} on it keeps its limit", kg(present), kg(least));
                let found = finding(HeatCode::BallastLight, place.clone(), say).at_least(present, least, "kg");
                let held = round_up(least * (1.0 + OVER));
                let say = format!("add {} to {name}", kg(held - present));
                self.found.push(found.mended(Some(Remedy { say, patch: Some(self.contents(ballast, held)) })));
            }
            if let Some(greatest) = ballast.greatest_kg.filter(|greatest| present > *greatest) {
                let say = format!(
                    "{name} holds {}, and its cells bear {}: what comes in is choked",
                    kg(present),
                    kg(greatest)
                );
                let found = finding(HeatCode::BallastHeavy, place, say).at_most(present, greatest, "kg");
                let say = format!("let {} out of {name}", kg(present - greatest));
                let patch = self.contents(ballast, greatest * (1.0 - OVER));
                self.found.push(found.mended(Some(Remedy { say, patch: Some(patch) })));
            }
        }
    }

    /// So much in a zone, what is in it in proportion.
    fn contents(&self, ballast: &Ballast, held: f64) -> Value {
        let plan = self.plan;
        let zone = &plan.zones[ballast.zone];
        let times = held / ballast.present_kg;
        let named =
            zone.contents.iter().map(|(id, mass)| (plan.substances[id.0].name.clone(), json!(mass.si() * times)));
        nest(&["zones", &zone.name, "contents"], Value::Object(named.collect()))
    }

    /// So many cells that they bear what the pulses need, and as much in them.
    fn cells(&self, ballast: &Ballast, least: f64) -> Option<Remedy> {
        let zone = &self.plan.zones[ballast.zone];
        let (held, each) = (round_up(least * (1.0 + OVER)), zone.cell_limit?.si());
        let cells = whole_up(held / each);
        let mut patch = nest(&["zones", &zone.name, "cells"], json!(cells));
        if ballast.present_kg < held {
            merge(&mut patch, self.contents(ballast, held));
        }
        let say = format!(
            "give {} {cells} cells, and hold {} in them",
            quoted(&zone.name),
            print_si::<dimension::Mass>(held)
        );
        Some(Remedy { say, patch: Some(patch) })
    }
}
