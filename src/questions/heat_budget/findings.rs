//! What the reckoning shows that the author should know, the heaviest first, each with what would mend it.

use serde_json::json;

use super::celsius;
use super::fill::{advised, owner, window, zone_name};
use super::reckon::{Reckoned, product_c};
use crate::heat::{LimitOf, Steady};
use crate::plan::{Plan, UnitId, pointer};
use crate::quantity::{dimension, number, print_si};
use crate::questions::answer::{Finding, Remedy, codes, finding, heaviest_first, nest, quoted, span};

codes! {
    /// What the heat budget can find. The codes are stable: programs may act on them.
    HeatCode;
    HeatsWithoutEnd = "heats-without-end", Failure: "More heat comes in than anything takes away, at any temperature.";
    CoolsWithoutEnd = "cools-without-end", Failure: "More heat is taken away than comes in, down to absolute zero.";
    ZoneOverLimit = "zone-over-limit", Failure: "A zone passes its greatest temperature.";
    ZoneUnderLeast = "zone-under-least", Failure: "A zone falls below its least temperature.";
    MachineOverLimit = "machine-over-limit", Failure: "A machine stands in a zone that gets hotter than it bears.";
    CoolersShort = "coolers-short", Failure: "All coolers of a zone run all the time and do not hold it where they should.";
    CoolingRunsAway = "cooling-runs-away", Failure: "Each round of cooling asks for more power, and so for more machines that shed heat, than the one before.";
    CoolantFreezes = "coolant-freezes", Failure: "Set point less drop lies below the coolant's freezing point and margin.";
    CoolantBoils = "coolant-boils", Failure: "The set point lies above the coolant's boiling point less margin.";
    SetPointTooHigh = "set-point-too-high", Failure: "The set point lies above what the zone or a machine in it bears.";
    NoSetPoint = "no-set-point", Failure: "No set point keeps the coolant liquid and the zone within its limits.";
    CoolantNearFreezing = "coolant-near-freezing", Caution: "The coolant comes within 1 K of freezing.";
    ProductFreezes = "product-freezes", Failure: "A unit gives a product colder than its freezing point.";
    BallastLight = "ballast-light", Failure: "A zone has too little mass: pulses drive it past its limit.";
    BallastHeavy = "ballast-heavy", Failure: "A zone holds more mass than its cells bear, which chokes what comes in.";
    NoBallast = "no-ballast", Failure: "The mass that rides out the pulses is more than the vessel bears.";
    SeveralRests = "several-rests", Caution: "The zones can come to rest in several ways; which depends on where they begin.";
    TurbineWastes = "turbine-wastes", Caution: "Turbines take heat above their rating, which makes no power.";
    TurbineStandsStill = "turbine-stands-still", Caution: "A zone is too cold for its turbine.";
    MoreThanTaken = "more-than-taken", Caution: "A turbine is said to make more power than the heat that it takes.";
    HeatOpen = "heat-open", Caution: "Numbers of the plan lie so far apart that heat does not close to a billionth of what passes.";
    CoolingStops = "cooling-stops", Note: "What passes its limit first when all coolers stop, and when.";
    HeatAveraged = "heat-averaged", Note: "Figures at rest count intermittent sources at their long-run average.";
    MoreFindings = "more-findings", Note: "There are more findings than are listed.";
}

struct Search<'a> {
    plan: &'a Plan,
    reckoned: &'a Reckoned,
    found: Vec<Finding>,
}

/// All findings, the heaviest first.
pub(super) fn find(plan: &Plan, reckoned: &Reckoned) -> Vec<Finding> {
    let mut search = Search { plan, reckoned, found: Vec::new() };
    search.rest();
    search.runaway();
    search.limits();
    search.coolers();
    search.turbines();
    search.ballast();
    search.products();
    search.notes();
    let mut found = search.found;
    heaviest_first::<HeatCode>(&mut found);
    found
}

impl Search<'_> {
    fn rest(&mut self) {
        match &self.reckoned.steady {
            Steady::One(_) => {}
            Steady::Several { coldest, hottest } => {
                let pairs = coldest.temperatures_c.iter().zip(&hottest.temperatures_c).enumerate();
                let apart = pairs.max_by(|(_, (a, b)), (_, (c, d))| (*b - *a).total_cmp(&(*d - *c)));
                let Some((zone, (cold, hot))) = apart else { return };
                let zone = &self.plan.zones[zone].name;
                let say = format!(
                    "{} can come to rest at {} and at {}: which of them depends on where it begins",
                    quoted(zone),
                    celsius(*cold),
                    celsius(*hot)
                );
                self.found.push(finding(HeatCode::SeveralRests, pointer(&["zones", zone]), say));
            }
            Steady::Heats => {
                let say = "more heat comes in than walls, coolers and turbines take away at any temperature".to_owned();
                let at =
                    self.hottest().map_or_else(String::new, |zone| pointer(&["zones", &self.plan.zones[zone].name]));
                let remedy = Remedy {
                    say: "add a cooler, a turbine or a wall to the ambient for what heats up".to_owned(),
                    patch: None,
                };
                self.found.push(finding(HeatCode::HeatsWithoutEnd, at, say).mended(Some(remedy)));
            }
            Steady::Cools => {
                let say = "more heat is taken away than comes in, down to absolute zero".to_owned();
                let remedy = Remedy { say: "give the coolers a set point".to_owned(), patch: None };
                self.found.push(finding(HeatCode::CoolsWithoutEnd, String::new(), say).mended(Some(remedy)));
            }
        }
    }

    fn runaway(&mut self) {
        if self.reckoned.is_settled {
            return;
        }
        let say = "the power that cooling draws makes more heat than it takes away: no number of coolers and generators closes"
            .to_owned();
        let remedy = Remedy {
            say: "let generators stand where nothing cools them by power, or give coolers a better ratio of heat moved to power"
                .to_owned(),
            patch: None,
        };
        self.found.push(finding(HeatCode::CoolingRunsAway, "/coolers".to_owned(), say).mended(Some(remedy)));
    }

    fn hottest(&self) -> Option<usize> {
        let end = &self.reckoned.rehearsal.end_c;
        (0..end.len()).max_by(|a, b| end[*a].total_cmp(&end[*b]))
    }

    /// Temperatures passed over the horizon, and at rest.
    fn limits(&mut self) {
        let plan = self.plan;
        let accounts = &self.reckoned.rehearsal.accounts;
        for (zone, limits) in self.reckoned.assembly.limits.iter().enumerate() {
            for (at, of) in limits.iter().enumerate() {
                let limit = self.reckoned.assembly.network.zones[zone].limits[at];
                let passed = accounts.passed[zone][at];
                let rest = self.reckoned.at_rest().map(|rest| rest.temperatures_c[zone]);
                let at_rest =
                    rest.filter(|t| if limit.above { *t > limit.at_c + 1e-9 } else { *t < limit.at_c - 1e-9 });
                if passed.is_none() && at_rest.is_none() {
                    continue;
                }
                let (place, name) = owner(plan, zone, *of);
                let zone_name = &plan.zones[zone].name;
                let extreme = if limit.above { accounts.greatest[zone].at_c } else { accounts.least[zone].at_c };
                let value = at_rest.map_or(extreme, |t| if limit.above { t.max(extreme) } else { t.min(extreme) });
                let when = match passed {
                    Some(0.0) => "from the beginning".to_owned(),
                    Some(s) => format!("after {}", span(s, plan.day)),
                    None => "in the long run".to_owned(),
                };
                let (code, say) = match of {
                    LimitOf::Zone => (
                        HeatCode::ZoneOverLimit,
                        format!(
                            "{} gets to {}, past its limit of {}, {when}",
                            quoted(&name),
                            celsius(value),
                            celsius(limit.at_c)
                        ),
                    ),
                    LimitOf::ZoneLeast => (
                        HeatCode::ZoneUnderLeast,
                        format!(
                            "{} falls to {}, below its least of {}, {when}",
                            quoted(&name),
                            celsius(value),
                            celsius(limit.at_c)
                        ),
                    ),
                    LimitOf::Unit(_) => (
                        HeatCode::MachineOverLimit,
                        format!(
                            "{} bears {} and {} gets to {}, {when}",
                            quoted(&name),
                            celsius(limit.at_c),
                            quoted(zone_name),
                            celsius(value)
                        ),
                    ),
                };
                let found = finding(code, place, say);
                let found = if limit.above {
                    found.at_most(value, limit.at_c, "°C")
                } else {
                    found.at_least(value, limit.at_c, "°C")
                };
                let remedy = if limit.above { self.more_cooling(zone) } else { None };
                self.found.push(Finding { first_s: passed, ..found.mended(remedy) });
            }
        }
    }

    /// As many coolers of a zone as hold it.
    fn more_cooling(&self, zone: usize) -> Option<Remedy> {
        let coolers = self.plan.coolers.iter().zip(&self.reckoned.coolers);
        let short = coolers.filter(|(cooler, _)| cooler.cools.0 == zone).find_map(|(cooler, needed)| {
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "saturates")]
            let whole = crate::quantity::whole_up(needed.exact?) as u32;
            (whole > needed.count).then_some((cooler, whole))
        });
        let (cooler, whole) = short?;
        Some(Remedy {
            say: format!("have {whole} of {}", quoted(&cooler.name)),
            patch: Some(nest(&["coolers", &cooler.name, "count"], json!(whole))),
        })
    }

    fn coolers(&mut self) {
        let plan = self.plan;
        for (cooler, needed) in plan.coolers.iter().zip(&self.reckoned.coolers) {
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
                let remedy =
                    Remedy { say: "take a coolant that freezes lower, or a smaller drop".to_owned(), patch: None };
                let found = finding(HeatCode::NoSetPoint, pointer(&["coolers", &cooler.name]), say);
                self.found.push(found.at_most(least, greatest, "°C").mended(Some(remedy)));
            }
            let Some(set) = cooler.set_point_c else { continue };
            let to = |at: f64| Remedy {
                say: format!("set {name} to {}", celsius(at)),
                patch: Some(nest(&["coolers", &cooler.name, "set_point"], json!(at))),
            };
            let place = pointer(&["coolers", &cooler.name, "set_point"]);
            if let Some(least) = least {
                let coldest = set - cooler.drop_k();
                let freezing = least - cooler.drop_k();
                if set < least - 1e-9 {
                    let say = format!(
                        "the coolant of {name} leaves it at {}, below {} where it freezes",
                        celsius(coldest),
                        celsius(freezing)
                    );
                    let found = finding(HeatCode::CoolantFreezes, place.clone(), say).at_least(coldest, freezing, "°C");
                    self.found.push(found.mended(advised(Some(least), greatest).map(to)));
                } else if set < least + 1.0 {
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
            if let Some(greatest) = greatest.filter(|greatest| set > *greatest + 1e-9) {
                let boils = cooler.coolant.and_then(|id| plan.substances[id.0].boils_at_c);
                let boils = boils.is_some_and(|boils| boils - cooler.margin_k <= greatest);
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
                self.found.push(found.mended(advised(least, Some(greatest)).or(Some(greatest)).map(to)));
            }
        }
    }

    fn turbines(&mut self) {
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
                self.found.push(found.at_most(turbine.generates.si(), rated, "W"));
            }
            if running == 0.0 && self.reckoned.turbines[at].count > 0 {
                let say = format!(
                    "{name} stands still: {} settles at {}, and it takes {}",
                    quoted(zone_name(plan, turbine.zone)),
                    celsius(inlet),
                    celsius(turbine.inlet_min_c)
                );
                let found = finding(HeatCode::TurbineStandsStill, pointer(&["turbines", &turbine.name]), say);
                self.found.push(found.at_least(inlet, turbine.inlet_min_c, "°C"));
            }
            let wastes = running * turbine.per_kelvin() * (inlet - turbine.inlet_rated_c).max(0.0);
            if wastes > 1e-6 * rated {
                let say = format!(
                    "{name} wastes {} of heat: its inlet settles at {}, {} above its rating",
                    print_si::<dimension::Power>(wastes),
                    celsius(inlet),
                    number(inlet - turbine.inlet_rated_c) + " K"
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

    fn ballast(&mut self) {
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
                self.found.push(found.at_most(least, greatest, "kg"));
                continue;
            }
            if let (None, Some(limit), Some((peak, ..))) = (ballast.least_kg, limit, ballast.cycle)
                && peak > limit
            {
                let say = format!("no mass keeps {name} below {}: it is too hot on average", celsius(limit));
                self.found.push(finding(HeatCode::NoBallast, place.clone(), say).at_most(peak, limit, "°C"));
            }
            if let Some(least) = ballast.least_kg.filter(|least| present < *least) {
                let peak =
                    ballast.cycle.map_or_else(String::new, |(peak, ..)| format!(" and peaks at {}", celsius(peak)));
                let say = format!("{name} holds {}{peak}; from {} on it keeps its limit", kg(present), kg(least));
                let found = finding(HeatCode::BallastLight, place.clone(), say).at_least(present, least, "kg");
                let remedy = Remedy { say: format!("add {}", kg(least - present)), patch: None };
                self.found.push(found.mended(Some(remedy)));
            }
            if let Some(greatest) = ballast.greatest_kg.filter(|greatest| present > *greatest) {
                let say = format!(
                    "{name} holds {}, and its cells bear {}: what comes in is choked",
                    kg(present),
                    kg(greatest)
                );
                let found = finding(HeatCode::BallastHeavy, place, say).at_most(present, greatest, "kg");
                let remedy = Remedy { say: format!("let out {}", kg(present - greatest)), patch: None };
                self.found.push(found.mended(Some(remedy)));
            }
        }
    }

    /// Products colder than their freezing points.
    fn products(&mut self) {
        let plan = self.plan;
        for (at, unit) in plan.units.iter().enumerate() {
            let Some(warm) = product_c(plan, self.reckoned, UnitId(at)) else { continue };
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
                    let remedy = Remedy { say: format!("warm its feed by {} K", number(freezes - warm)), patch: None };
                    self.found.push(found.at_least(warm, freezes, "°C").mended(Some(remedy)));
                }
            }
        }
    }

    fn notes(&mut self) {
        if let Some(first) = self.reckoned.without_cooling.and_then(|stopped| stopped.first) {
            let (at, name) = owner(self.plan, first.zone, first.of);
            let after = if first.after_s == 0.0 {
                "at once".to_owned()
            } else {
                format!("after {}", span(first.after_s, self.plan.day))
            };
            let say = format!("if cooling stops, {} passes {} first, {after}", quoted(&name), celsius(first.limit_c));
            self.found.push(finding(HeatCode::CoolingStops, at, say));
        }
        if let Some(source) = self.plan.hot_sources.iter().find(|source| source.pattern.is_some()) {
            let share = source.pattern.as_ref().map_or(1.0, crate::plan::Pattern::average_share);
            let say = format!(
                "at rest {} is counted at {} on average",
                quoted(&source.name),
                print_si::<dimension::Share>(share)
            );
            self.found.push(finding(HeatCode::HeatAveraged, pointer(&["hot_sources", &source.name, "pattern"]), say));
        }
        let gap = self.reckoned.rehearsal.accounts.worst_gap_share;
        if gap > 1e-9 {
            let say = format!("heat closes to {} of what passes only", number(gap));
            self.found.push(finding(HeatCode::HeatOpen, String::new(), say).at_most(gap, 1e-9, "1"));
        }
    }
}
