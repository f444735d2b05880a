//! The figures of each question that tell most, the most telling first: what is wrong, then what was asked for.

use super::{Row, count, lower};
use crate::forms::svg::spans::{self, Span};
use crate::plan::{Carried, Pointer};
use crate::quantity::{Time, dimension, number, percent, print_si};
use crate::questions::answer::{Verdict, figure_name, figure_text, span};
use crate::questions::compare::{CompareAnswer, CompareFigures, shown_figure};
use crate::questions::fill_level::{FillLevel, LevelFigures};
use crate::questions::flow_balance::{DemandFigures, FlowBalance, FlowFigures};
use crate::questions::heat_budget::{HeatBudget, HeatFigures};
use crate::questions::seek::SeekAnswer;
use crate::questions::sweep::SweepAnswer;
use crate::questions::whole_plan::WholePlan;

/// Power with a sign that is seen.
fn power(watts: f64) -> String {
    let sign = if watts < 0.0 { "−" } else { "" };
    format!("{sign}{}", print_si::<dimension::Power>(watts.abs()))
}

/// A rate of matter or of power, whichever there is.
fn rate(kg_s: Option<f64>, watts: Option<f64>) -> Option<String> {
    kg_s.map(|rate| Carried::Matter.print(rate)).or_else(|| watts.map(|rate| Carried::Power.print(rate)))
}

fn difference(one: Option<f64>, other: Option<f64>) -> Option<f64> {
    Some(one? - other.unwrap_or(0.0))
}

/// What is short and what finds no way out.
fn troubles(flow: &FlowFigures) -> Vec<Row> {
    let mut rows = Vec::new();
    // What is sold for its value has no amount to fall short of.
    let valued = |header: &str| flow.aim.as_ref().is_some_and(|aim| aim.most.get(header).is_some());
    let short = |demand: &DemandFigures| demand.cut_share > 0.0 && !valued(&demand.header);
    for (name, demand) in flow.demands.iter().filter(|(_, demand)| short(demand)) {
        let short =
            rate(difference(demand.demanded_kg_s, demand.served_kg_s), difference(demand.demanded_w, demand.served_w));
        rows.extend(short.map(|short| Row::warning(&**name, format!("short {short}"))));
    }
    for (name, header) in flow.headers.iter().filter(|(_, header)| header.trapped_kg_s > 0.0) {
        rows.push(Row::warning(&**name, format!("{} trapped", Carried::Matter.print(header.trapped_kg_s))));
    }
    if let Some(aim) = &flow.aim {
        let short = aim.run.iter().filter(|(_, run)| run.got < run.wanted * (1.0 - 1e-9));
        rows.extend(
            short.map(|(name, run)| Row::warning(&**name, format!("{} of {}", number(run.got), number(run.wanted)))),
        );
        for (name, make) in &aim.make {
            let (wanted, got) = (make.wanted_kg_s.or(make.wanted_w), make.got_kg_s.or(make.got_w));
            let said = rate(make.got_kg_s, make.got_w).zip(rate(make.wanted_kg_s, make.wanted_w));
            if let (Some(wanted), Some(got), Some((made, of))) = (wanted, got, said)
                && got < wanted * (1.0 - 1e-9)
            {
                rows.push(Row::warning(&**name, format!("{made} of {of}")));
            }
        }
    }
    rows
}

fn net_power(flow: &FlowFigures) -> Option<Row> {
    let on = flow.power.as_ref().filter(|on| on.generated_w > 0.0 || on.drawn_w > 0.0)?;
    Some(Row::new("net power", power(on.net_w)))
}

/// A flow balance: what is wrong, what is aimed at, the power, the machines, the supplies.
pub fn flow_balance(answer: &FlowBalance) -> Vec<Row> {
    let flow = &answer.figures;
    let mut rows = troubles(flow);
    if let Some(value) = flow.aim.as_ref().and_then(|aim| aim.value_per_s) {
        rows.push(Row::new("value", format!("{} a second", number(value))));
    }
    rows.extend(net_power(flow));
    rows.extend(units(flow).chain(supplies(flow)));
    rows
}

fn units(flow: &FlowFigures) -> impl Iterator<Item = Row> {
    flow.units.iter().filter(|(_, unit)| unit.count > 0).map(|(name, unit)| {
        let share = unit.utilisation_share.map_or(String::new(), |share| format!(" at {}", percent(share)));
        Row::new(&**name, format!("{} ×{share}", unit.count))
    })
}

fn supplies(flow: &FlowFigures) -> impl Iterator<Item = Row> {
    flow.supplies.iter().filter_map(|(name, supply)| {
        let share = supply.utilisation_share.map_or(String::new(), |share| format!(", {}", percent(share)));
        let drawn = rate(supply.drawn_kg_s, supply.drawn_w)?;
        Some(Row::new(&**name, format!("{drawn}{share}")))
    })
}

/// Stores and zones with the shortest that says it all.
fn of_spans(spans: Vec<Span>) -> impl Iterator<Item = Row> {
    spans.into_iter().map(|span| {
        let said = span.said.into_iter().next().unwrap_or_default();
        if span.warns { Row::warning(span.name, said) } else { Row::new(span.name, said) }
    })
}

/// A heat budget: zones, those that get too hot first, power, coolers, turbines, and what stands if they stop.
pub fn heat_budget(answer: &HeatBudget) -> Vec<Row> {
    let heat = &answer.figures;
    let mut rows: Vec<Row> = of_spans(spans::of_zones(heat)).collect();
    if let Some(on) = heat.power {
        let name = if heat.turbines.is_empty() { "power of coolers" } else { "turbines less coolers" };
        rows.push(Row::new(name, power(on.net_w)));
    }
    rows.extend(machines(heat));
    if let Some(Some(stops)) = &heat.cooling_stops {
        let day = Time::from_si(heat.course.day_s).unwrap_or(Time::ZERO);
        rows.push(Row::new("without cooling", format!("{} too hot in {}", &*stops.name, span(stops.after_s, day))));
    }
    rows
}

fn machines(heat: &HeatFigures) -> impl Iterator<Item = Row> {
    let coolers = heat.coolers.iter().map(|(name, cooler)| (name, cooler.count, cooler.running_share));
    let turbines = heat.turbines.iter().map(|(name, turbine)| (name, turbine.count, turbine.running_share));
    coolers.chain(turbines).map(|(name, count, share)| {
        let share = share.map_or(String::new(), |share| format!(" at {}", percent(share)));
        Row::new(&**name, format!("{count} ×{share}"))
    })
}

/// A fill level: stores, those that run dry or over first, who goes short, loops, switches.
pub fn fill_level(answer: &FillLevel) -> Vec<Row> {
    let level = &answer.figures;
    let stores = spans::of_stores(level);
    let (wrong, well): (Vec<Span>, Vec<Span>) = stores.into_iter().partition(|span| span.warns);
    of_spans(wrong).chain(unserved(level)).chain(of_spans(well)).chain(loops(level)).chain(starts(level)).collect()
}

fn unserved(level: &LevelFigures) -> impl Iterator<Item = Row> {
    level.demands.iter().filter_map(|(name, demand)| {
        let is_short = |amount: &f64| *amount > 0.0;
        let mass = demand.unserved_kg.filter(is_short).map(|kg| print_si::<dimension::Mass>(kg).to_string());
        let heat = || demand.unserved_j.filter(is_short).map(|j| print_si::<dimension::Energy>(j).to_string());
        Some(Row::warning(&**name, format!("short {}", mass.or_else(heat)?)))
    })
}

fn loops(level: &LevelFigures) -> impl Iterator<Item = Row> {
    level.loops.iter().map(|(name, held)| {
        let mass = print_si::<dimension::Mass>;
        if held.over_kg > 0.0 {
            Row::warning(&**name, format!("over-full by {}", mass(held.over_kg)))
        } else if held.short_kg > 0.0 {
            Row::warning(&**name, format!("short of {}", mass(held.short_kg)))
        } else {
            Row::new(&**name, format!("{} of {}", mass(held.charge_kg), mass(held.most_kg)))
        }
    })
}

fn starts(level: &LevelFigures) -> impl Iterator<Item = Row> {
    level
        .switches
        .iter()
        .map(|(name, switch)| Row::new(&**name, format!("{} starts an hour", number(switch.starts_per_h))))
}

/// A whole plan: what is wrong anywhere, the power, stores and zones, the floor, machines, supplies.
pub fn whole_plan(answer: &WholePlan) -> Vec<Row> {
    let whole = &answer.figures;
    let (wrong, well): (Vec<Span>, Vec<Span>) = spans::of(whole).into_iter().partition(|span| span.warns);
    let mut rows: Vec<Row> = troubles(&whole.flow);
    rows.extend(of_spans(wrong));
    let missing = whole.floor.iter().filter(|(_, row)| row.missing_cells > 0);
    rows.extend(missing.map(|(name, row)| Row::warning(&**name, format!("{} cells missing", row.missing_cells))));
    rows.extend(net_power(&whole.flow));
    rows.extend(of_spans(well));
    let fits = whole.floor.iter().filter(|(_, row)| row.missing_cells == 0);
    rows.extend(fits.map(|(name, row)| Row::new(&**name, format!("{} of {} cells", row.used_cells, row.width_cells))));
    rows.extend(units(&whole.flow).chain(supplies(&whole.flow)));
    rows
}

/// A comparison: the best, by what it is better than the plan as it is, and how each variant turns out.
pub fn compare(answer: &CompareAnswer) -> Vec<Row> {
    let compared = &answer.figures;
    let mut rows = vec![Row::new("best", &*compared.best)];
    rows.extend(gains(compared).take(3));
    let in_order =
        compared.order.iter().filter_map(|placed| compared.variants.get(&placed.name).map(|of| (&placed.name, of)));
    rows.extend(in_order.map(|(name, of)| Row::turning(of.verdict, &**name, of.verdict.map_or("", lower))));
    let unanswered = compared.variants.iter().filter(|(_, of)| of.verdict.is_none());
    rows.extend(unanswered.map(|(name, _)| Row::new(&**name, "no answer")));
    rows
}

/// Figures that differ between the best and the plan as it is; where that is the best, between it and the next.
fn gains(compared: &CompareFigures) -> impl Iterator<Item = Row> {
    let first = compared.variants.iter().next().map(|(name, _)| name);
    let other = first.filter(|name| **name != compared.best).or_else(|| compared.order.get(1).map(|next| &next.name));
    compared.compared.iter().filter_map(move |(at, figure)| {
        let (from, to) = (figure.values.get(other?)?, figure.values.get(&compared.best)?);
        let at = Pointer::parse(at).filter(|_| from != to && !figure.best.is_empty())?;
        Some(Row::new(figure_name(&at), format!("{} → {}", shown_figure(&at, from), shown_figure(&at, to))))
    })
}

/// A sweep: how many values turn out which way, and between what each figure moves.
pub fn sweep(answer: &SweepAnswer) -> Vec<Row> {
    let swept = &answer.figures;
    let mut rows = Vec::new();
    for verdict in [Verdict::Holds, Verdict::HoldsWithCautions, Verdict::Fails] {
        let values = swept.rows.iter().filter(|row| row.verdict == Some(verdict)).count();
        if values > 0 {
            rows.push(Row::turning(
                Some(verdict),
                lower(verdict),
                format!("{values} of {}", count(swept.rows.len(), "value", "values")),
            ));
        }
    }
    for key in &swept.read {
        let numbers = swept.rows.iter().filter_map(|row| row.figures.get(key)?.as_f64());
        let (least, most) =
            numbers.fold((f64::INFINITY, f64::NEG_INFINITY), |(least, most), n| (least.min(n), most.max(n)));
        if let Some(at) = Pointer::parse(key).filter(|_| least <= most) {
            let (least, most) = (figure_text(&at, least), figure_text(&at, most));
            rows.push(Row::new(figure_name(&at), if least == most { least } else { format!("{least} to {most}") }));
        }
    }
    rows
}

/// A search: the value that was found, the figure with it, where the condition turns, how many plans were tried.
pub fn seek(answer: &SeekAnswer) -> Vec<Row> {
    let sought = &answer.figures;
    let unit = sought.unit.as_ref().map_or(String::new(), |unit| format!(" {unit}"));
    let mut rows = Vec::new();
    if let Some(found) = &sought.found {
        let value = found.value.as_str().map_or_else(|| found.value.to_string(), str::to_owned);
        rows.push(Row::turning(Some(found.verdict), "found", value));
        if let Some((at, figure)) = sought.figure.as_ref().zip(found.figure) {
            rows.push(Row::new(figure_name(at), figure_text(at, figure)));
        }
    }
    if let Some(at) = sought.fails_at {
        // As it stands on its grid: rounded it might be what was found.
        rows.push(Row::new("not with", format!("{at}{unit}")));
    }
    rows.push(Row::new("plans tried", number(sought.tried as f64).to_string()));
    rows
}

/// The questions of a batch, each with its verdict and its line.
pub fn list(lines: &[(Option<Verdict>, &str)]) -> Vec<Row> {
    lines.iter().map(|(verdict, line)| Row::turning(*verdict, *line, "")).collect()
}
