//! What turbines waste, and what products freeze.

use serde_json::json;

use super::super::celsius;
use super::super::fill::zone_name;
use super::super::reckon::product_c;
use super::{HeatCode, Search};
use crate::plan::{Plan, ProductAt, Unit, UnitId, pointer};
use crate::quantity::{dimension, number, print_si};
use crate::questions::answer::{Remedy, finding, listed, merge, nest, quoted};

impl Search<'_> {
    pub(super) fn turbines(&mut self) {
        let plan = self.plan;
        let Some(rest) = self.reckoned.at_rest() else { return };
        for (at, turbine) in plan.turbines.iter().enumerate() {
            let name = quoted(&turbine.name);
            let running = rest.running[self.reckoned.assembly.turbines[at]];
            let inlet = rest.temperatures_c[turbine.zone.0];
            let rated = turbine.takes_w(turbine.inlet_rated_c);
            if turbine.generates.si() > rated * (1.0 + 1e-9) {
                let say = format!(
                    "{name} makes {} of {} of heat",
                    print_si::<dimension::Power>(turbine.generates.si()),
                    print_si::<dimension::Power>(rated)
                );
                let found = finding(HeatCode::MoreThanTaken, pointer(&["turbines", &turbine.name, "generates"]), say);
                let remedy = Remedy {
                    say: format!("say {}, which is all of its heat", print_si::<dimension::Power>(rated)),
                    patch: Some(nest(&["turbines", &turbine.name, "generates"], json!(rated))),
                };
                self.found.push(found.at_most(turbine.generates.si(), rated, "W").mended(Some(remedy)));
            }
            if running == 0.0 && self.reckoned.turbines[at].count > 0 {
                let say = format!(
                    "{name} stands still: {} settles at {}, and it takes {}",
                    quoted(zone_name(plan, turbine.zone)),
                    celsius(inlet),
                    celsius(turbine.inlet_min_c)
                );
                let found = finding(HeatCode::TurbineStandsStill, pointer(&["turbines", &turbine.name]), say);
                let remedy = self.heat_given(turbine.zone.0, turbine.inlet_min_c);
                self.found.push(found.at_least(inlet, turbine.inlet_min_c, "°C").mended(remedy));
            }
            let wastes = running * turbine.per_kelvin() * (inlet - turbine.inlet_rated_c).max(0.0);
            if wastes > 1e-6 * rated {
                let say = format!(
                    "{name} wastes {} of heat: its inlet settles at {}, {} K above its rating",
                    print_si::<dimension::Power>(wastes),
                    celsius(inlet),
                    number(inlet - turbine.inlet_rated_c)
                );
                let found = finding(HeatCode::TurbineWastes, pointer(&["turbines", &turbine.name]), say);
                let found = found.at_most(inlet, turbine.inlet_rated_c, "°C");
                let needed = &self.reckoned.turbines[at];
                let remedy = needed.exact.map(|exact| {
                    let whole = crate::quantity::whole_up(exact);
                    Remedy {
                        say: format!("have {whole} of {name}"),
                        patch: Some(nest(&["turbines", &turbine.name, "count"], json!(whole))),
                    }
                });
                self.found.push(found.mended(remedy));
            }
        }
    }

    /// Feeds whose heat is counted and whose specific heat nobody has given: what its zone brings to its own temperature, and what
    /// mixes with something else in a feed that products are as warm as.
    pub(super) fn feeds(&mut self) {
        let plan = self.plan;
        for unit in &plan.units {
            let is_known = |name: &str| {
                let of = plan.substances.iter().find(|substance| substance.name == name);
                of.is_some_and(|substance| substance.specific_heat.is_some())
            };
            let warm = unit.takes.iter().filter(|flow| self.reckoned.headers[flow.header.0].is_some());
            let names: Vec<&str> = warm.map(|flow| plan.header(flow.header).name.as_str()).collect();
            let unknown: Vec<&str> = names.iter().copied().filter(|name| !is_known(name)).collect();
            let counts = match unit.product_at {
                ProductAt::Zone => unit.zone.is_some(),
                ProductAt::Feed => unknown.len() < names.len(),
                ProductAt::Fixed(_) => false,
            };
            if unknown.is_empty() || !counts {
                continue;
            }
            let quoted_names: Vec<String> = unknown.iter().map(|name| quoted(name)).collect();
            let say = format!(
                "{} takes {}, of which no specific heat is given: it counts as 1 J/(kg·K)",
                quoted(&unit.name),
                listed(&quoted_names)
            );
            let place = pointer(&["units", &unit.name, "takes", unknown[0]]);
            let remedy = Remedy {
                say: format!("say under substances what specific heat {} has", listed(&quoted_names)),
                patch: None,
            };
            self.found.push(finding(HeatCode::StreamHeatUnknown, place, say).mended(Some(remedy)));
        }
    }

    /// Products colder than their freezing points.
    pub(super) fn products(&mut self) {
        let plan = self.plan;
        for (at, unit) in plan.units.iter().enumerate() {
            let Some((_, warm)) = product_c(plan, self.reckoned, UnitId(at)) else { continue };
            for flow in &unit.gives {
                let header = &plan.header(flow.header).name;
                let freezes = plan.substances.iter().find(|substance| substance.name == *header);
                let Some(freezes) = freezes.and_then(|substance| substance.freezes_at_c) else { continue };
                if warm < freezes {
                    let say = format!(
                        "{} gives {} at {}, which freezes at {}",
                        quoted(&unit.name),
                        quoted(header),
                        celsius(warm),
                        celsius(freezes)
                    );
                    let found =
                        finding(HeatCode::ProductFreezes, pointer(&["units", &unit.name, "gives", header]), say);
                    let remedy = warmer(plan, unit, freezes - warm);
                    self.found.push(found.at_least(warm, freezes, "°C").mended(Some(remedy)));
                }
            }
        }
    }
}

/// Products so much warmer, K: by what the machine makes of them, or by what is said of the supplies of its feed.
fn warmer(plan: &Plan, unit: &Unit, by_k: f64) -> Remedy {
    // Rounding must not leave them a hair below freezing.
    let by_k = by_k + 1e-6;
    if let ProductAt::Fixed(at_c) = unit.product_at {
        let patch = nest(&["units", &unit.name, "product_at"], json!(at_c + by_k));
        return Remedy { say: format!("give it at {}", celsius(at_c + by_k)), patch: Some(patch) };
    }
    let (mut said, mut patch) = (Vec::new(), json!({}));
    let taken = |header| unit.takes.iter().any(|flow| flow.header == header);
    for supply in plan.supplies.iter().filter(|supply| taken(supply.header)) {
        if let Some(at_c) = supply.at_c.filter(|_| unit.product_at == ProductAt::Feed) {
            said.push(format!("{} to {}", quoted(&supply.name), celsius(at_c + by_k)));
            merge(&mut patch, nest(&["supplies", &supply.name, "at"], json!(at_c + by_k)));
        }
    }
    let say = format!("warm its feed by {} K", number((by_k * 1e6).round() / 1e6));
    match said.as_slice() {
        [] => Remedy { say, patch: None },
        said => Remedy { say: format!("{say}: {}", listed(said)), patch: Some(patch) },
    }
}
