//! Cooling loops: the window of their set point, how many coolers, what a chiller draws.

use super::answer::{Outcome, Refusal, concern, remedy};
use super::arguments::Arguments;
use super::heat::{CELSIUS_ZERO_K, flow, per_mass, specific, watts};
use super::parameter::Parameter;
use super::wording::{Headcount, celsius, counted, kelvin, percent, ratio};
use super::{Kind, Sum};
use crate::quantity::number;
use crate::questions::answer::Weight;

/// Set-point window: from `freezes + margin + drop` to the least of `boils − margin` and the limit.
pub(super) const SET_POINT: Sum = Sum {
    name: "set-point-window",
    title: "Set-point window of a cooling loop",
    says: "Between which set points a coolant neither freezes behind its cooler nor boils before it, and which to take.",
    formula: "least = freezes + margin + drop; greatest = the lower of boils − margin and limit; advised = least + 3 K, or the middle",
    parameters: &[
        Parameter::temperature("freezes", "0 °C", "freezing point of the coolant"),
        Parameter::measure("drop", Kind::Difference, "14 K", "by how much the cooler lowers its temperature"),
        Parameter::measure("margin", Kind::Difference, "2 K", "how far to stay from freezing and boiling").or("0 K"),
        Parameter::temperature("boils", "100 °C", "boiling point of the coolant").optional(),
        Parameter::temperature("limit", "70 °C", "the hottest that what it cools may get").optional(),
        Parameter::temperature("set_point", "15 °C", "a set point to be held against the window").optional(),
    ],
    example: "freezes=0 °C&drop=14 K&boils=100 °C&limit=70 °C&set_point=15 °C",
    evaluate: set_point,
};

/// Coolers needed: `heat / (flow · specific heat · drop)`, rounded up.
pub(super) const COOLERS: Sum = Sum {
    name: "coolers-needed",
    title: "Coolers needed for a heat flow",
    says: "How many coolers a heat flow needs, how hard they run, what they draw and what they reject.",
    formula: "moves = flow × specific_heat × drop; count = heat ÷ moves, rounded up; running share = heat ÷ (count × moves)",
    parameters: &[
        Parameter::measure("heat", Kind::Power, "125 kW", "the heat to be taken away"),
        Parameter::positive(
            "moves",
            Kind::Power,
            "40 kW",
            "what one cooler moves; or give flow, specific heat and drop",
        )
        .optional(),
        Parameter::positive("flow", Kind::MassRate, "1 kg/s", "coolant through one cooler").optional(),
        Parameter::positive("specific_heat", Kind::SpecificHeat, "3.6 kJ/(kg·K)", "specific heat of the coolant")
            .optional(),
        Parameter::positive("drop", Kind::Difference, "11 K", "by how much one cooler lowers its temperature")
            .optional(),
        Parameter::measure("draws", Kind::Power, "12 kW", "what one cooler draws while it runs").or("0"),
    ],
    example: "heat=125 kW&flow=1 kg/s&specific_heat=3.6 kJ/(kg·K)&drop=11 K&draws=12 kW",
    evaluate: coolers,
};

/// A chiller by its coefficient of performance: `draws = moves / cop`.
pub(super) const CHILLER: Sum = Sum {
    name: "chiller",
    title: "Power and heat of a chiller",
    says: "What a chiller draws and rejects for the heat that it moves, by its coefficient of performance, and whether that can be.",
    formula: "draws = moves ÷ cop; rejects = moves + draws; the greatest cop there can be = cold ÷ (hot − cold), in kelvins",
    parameters: &[
        Parameter::positive("moves", Kind::Power, "40 kW", "the heat that it takes from the cold side").optional(),
        Parameter::new(
            "cop",
            Kind::Number,
            (1e-6, 1e6),
            "3.5",
            "coefficient of performance: heat moved for each power drawn",
        )
        .optional(),
        Parameter::positive("draws", Kind::Power, "12 kW", "the power that it draws; two of these three are wanted")
            .optional(),
        Parameter::temperature("cold", "-5 °C", "temperature on the cold side, to hold it against the limit of nature")
            .optional(),
        Parameter::temperature("hot", "40 °C", "temperature on the warm side").optional(),
    ],
    example: "moves=40 kW&cop=3.5&cold=-5 °C&hot=40 °C",
    evaluate: chiller,
};

/// Carnot: `1 − Tc/Th`, `Th/(Th − Tc)`, `Tc/(Th − Tc)`.
pub(super) const CARNOT: Sum = Sum {
    name: "carnot-limit",
    title: "Limit of heat engines and heat pumps",
    says: "The share of heat that an engine between two temperatures can turn into power at most, and the greatest coefficients of performance.",
    formula: "efficiency = 1 − cold ÷ hot; heating = hot ÷ (hot − cold); cooling = cold ÷ (hot − cold), all in kelvins",
    parameters: &[
        Parameter::temperature("hot", "300 °C", "the warmer temperature"),
        Parameter::temperature("cold", "27 °C", "the colder temperature"),
    ],
    example: "hot=300 °C&cold=27 °C",
    evaluate: carnot,
};

/// A refrigeration cycle by the enthalpies of its states.
pub(super) const CYCLE: Sum = Sum {
    name: "refrigeration-cycle",
    title: "Refrigeration cycle by its states",
    says: "What a refrigeration cycle moves, draws and rejects, from the enthalpies at its states.",
    formula: "moves = flow × (suction − liquid); draws = flow × (discharge − suction); rejects = moves + draws; cop = moves ÷ draws",
    parameters: &[
        Parameter::positive("flow", Kind::MassRate, "0.05 kg/s", "refrigerant that goes round"),
        Parameter::measure("suction", Kind::HeatPerMass, "239.16 kJ/kg", "enthalpy before the compressor"),
        Parameter::measure("discharge", Kind::HeatPerMass, "275.39 kJ/kg", "enthalpy behind the compressor"),
        Parameter::measure(
            "liquid",
            Kind::HeatPerMass,
            "95.47 kJ/kg",
            "enthalpy behind the condenser, and so before the evaporator",
        ),
    ],
    example: "flow=0.05 kg/s&suction=239.16 kJ/kg&discharge=275.39 kJ/kg&liquid=95.47 kJ/kg",
    evaluate: cycle,
};

/// How far above the least set point the advised one lies, K: as in the heat budget.
const ADVISED_K: f64 = 3.0;

fn set_point(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let (freezes, drop, margin) =
        (arguments.number("freezes")?, arguments.number("drop")?, arguments.number("margin")?);
    let (boils, limit) = (arguments.maybe("boils"), arguments.maybe("limit"));
    if let Some(boils) = boils.filter(|boils| *boils <= freezes) {
        let found = format!("{}, at or below freezing", celsius(boils));
        return Err(Refusal::contradiction("boils", found, format!("above freezes, {}", celsius(freezes))));
    }
    let least = freezes + margin + drop;
    let greatest = boils.map(|boils| boils - margin).into_iter().chain(limit).min_by(f64::total_cmp);
    let with = if margin > 0.0 { format!(" + {} margin", kelvin(margin)) } else { String::new() };
    let sum = format!("{} + {} drop{with}", celsius(freezes), kelvin(drop));
    let mut outcome = Outcome::of(arguments);
    outcome.work(|| format!("least: {sum} = {}", celsius(least)));
    outcome.figure("set_point_least_c", least);
    let Some(greatest) = greatest else {
        outcome.say = format!("At least {}: {sum}.", celsius(least));
        outcome.figure("set_point_advised_c", least + ADVISED_K);
        held(&mut outcome, arguments, (freezes, drop), least, None);
        return Ok(outcome);
    };
    let by = if limit == Some(greatest) { "the limit" } else { "boiling" };
    outcome.work(|| format!("greatest, by {by}: {}", celsius(greatest)));
    outcome.figure("set_point_greatest_c", greatest);
    outcome.figure("window_k", (greatest - least).max(0.0));
    if greatest < least {
        let short = kelvin(least - greatest);
        outcome.say = format!(
            "No set point will do: at least {} by freezing, at most {} by {by}.",
            celsius(least),
            celsius(greatest)
        );
        let say = format!("The window is {short} too narrow.");
        let found = concern("no-set-point", Weight::Failure, "drop", say);
        let mend = remedy(format!("Lower the drop by {short}, or take a coolant that freezes lower."));
        outcome.found(found.at_least(greatest, least, "°C").mended(mend));
        return Ok(outcome);
    }
    let advised = least + ADVISED_K.min((greatest - least) / 2.0);
    outcome.say =
        format!("From {} to {}, best {}: {sum} at least.", celsius(least), celsius(greatest), celsius(advised));
    outcome.figure("set_point_advised_c", advised);
    held(&mut outcome, arguments, (freezes, drop), least, Some(greatest));
    Ok(outcome)
}

/// A set point held against the window.
fn held(
    outcome: &mut Outcome,
    arguments: &Arguments<'_>,
    (freezes, drop): (f64, f64),
    least: f64,
    greatest: Option<f64>,
) {
    let Some(set) = arguments.maybe("set_point") else { return };
    let coldest = set - drop;
    outcome.work(|| format!("{} − {} = {} behind the cooler", celsius(set), kelvin(drop), celsius(coldest)));
    outcome.figure("coldest_c", coldest);
    if set < least {
        let say = if coldest < freezes {
            format!(
                "At {} the coolant leaves at {} and freezes at {}.",
                celsius(set),
                celsius(coldest),
                celsius(freezes)
            )
        } else {
            format!(
                "At {} the coolant leaves at {}, within the margin to {}.",
                celsius(set),
                celsius(coldest),
                celsius(freezes)
            )
        };
        outcome.say = format!("{} {say}", outcome.say);
        let weight = if coldest < freezes { Weight::Failure } else { Weight::Caution };
        let mend = remedy(format!("Raise it by {}.", kelvin(least - set)));
        outcome.found(concern("coolant-freezes", weight, "set_point", say).at_least(set, least, "°C").mended(mend));
    }
    if let Some(greatest) = greatest.filter(|greatest| set > *greatest) {
        let say = format!("{} is above the greatest, {}.", celsius(set), celsius(greatest));
        outcome.say = format!("{} {say}", outcome.say);
        let mend = remedy(format!("Lower it by {}.", kelvin(set - greatest)));
        let found = concern("set-point-too-high", Weight::Failure, "set_point", say);
        outcome.found(found.at_most(set, greatest, "°C").mended(mend));
    }
}

fn coolers(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let (heat, draws) = (arguments.number("heat")?, arguments.number("draws")?);
    let mut outcome = Outcome::of(arguments);
    let moves = if let Some(moves) = arguments.maybe("moves") {
        moves
    } else {
        let part = |name| arguments.maybe(name).ok_or_else(|| Refusal::missing(name, "a value, as moves is not given"));
        let (mass, heat_per, drop) = (part("flow")?, part("specific_heat")?, part("drop")?);
        let moves = mass * heat_per * drop;
        outcome.work(|| format!("{} × {} × {} = {}", flow(mass), specific(heat_per), kelvin(drop), watts(moves)));
        moves
    };
    let count = Headcount::of(heat / moves, "moves")?;
    let things = counted(count.count, "cooler");
    outcome.work(|| format!("{} ÷ {} = {}: {things}", watts(heat), watts(moves), ratio(&count)));
    let power = count.utilisation * count.count * draws;
    outcome.say = if count.count == 0.0 {
        "No coolers: there is no heat.".to_owned()
    } else {
        format!(
            "{things}: {} ÷ {} = {}, running {}.",
            watts(heat),
            watts(moves),
            ratio(&count),
            percent(count.utilisation)
        )
    };
    outcome.figure("moves_w", moves);
    outcome.figure("needed", count.needed);
    outcome.figure("count", count.count);
    outcome.figure("running_share", count.utilisation);
    outcome.figure("spare_w", if count.even() { 0.0 } else { (count.count * moves - heat).max(0.0) });
    outcome.figure("draws_w", power);
    outcome.figure("rejects_w", heat + power);
    if power > 0.0 {
        outcome.work(|| format!("{} × {} = {} drawn", ratio(&count), watts(draws), watts(power)));
        outcome.say = format!("{} They draw {} and reject {}.", outcome.say, watts(power), watts(heat + power));
    }
    Ok(outcome)
}

fn chiller(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let given = (arguments.maybe("moves"), arguments.maybe("cop"), arguments.maybe("draws"));
    let (moves, cop, draws) = match given {
        (Some(moves), Some(cop), None) => (moves, cop, moves / cop),
        (Some(moves), None, Some(draws)) => (moves, moves / draws, draws),
        (None, Some(cop), Some(draws)) => (cop * draws, cop, draws),
        (Some(_), Some(_), Some(_)) => {
            let found = "all three of moves, cop and draws".to_owned();
            return Err(Refusal::contradiction("draws", found, "two of them".to_owned()));
        }
        (None, None, _) | (None, Some(_), None) => {
            return Err(Refusal::missing("moves", "two of moves, cop and draws"));
        }
        (Some(_), None, None) => return Err(Refusal::missing("cop", "two of moves, cop and draws")),
    };
    let mut outcome = Outcome::of(arguments);
    outcome.work(|| format!("{} moved for {} drawn: {}", watts(moves), watts(draws), number(cop)));
    outcome.work(|| format!("{} + {} = {} rejected", watts(moves), watts(draws), watts(moves + draws)));
    outcome.say = format!(
        "It draws {} to move {} (coefficient of performance {}), and rejects {}.",
        watts(draws),
        watts(moves),
        number(cop),
        watts(moves + draws)
    );
    outcome.figure("moves_w", moves);
    outcome.figure("draws_w", draws);
    outcome.figure("rejects_w", moves + draws);
    outcome.figure("cop", cop);
    match (arguments.maybe("cold"), arguments.maybe("hot")) {
        (Some(cold), Some(hot)) if hot > cold => {
            let most = (cold + CELSIUS_ZERO_K).max(0.0) / (hot - cold);
            outcome.work(|| format!("between {} and {} nature allows {}", celsius(cold), celsius(hot), number(most)));
            outcome.figure("most_cop", most);
            if cop > most {
                let say = format!(
                    "No chiller does better than {} between {} and {}.",
                    number(most),
                    celsius(cold),
                    celsius(hot)
                );
                outcome.found(concern("beyond-carnot", Weight::Failure, "cop", say).at_most(cop, most, "1"));
            } else {
                outcome.figure("of_carnot_share", cop / most);
            }
        }
        (Some(_), Some(_)) | (None, None) => {}
        (Some(_), None) => return Err(Refusal::missing("hot", "a temperature, as cold is given")),
        (None, Some(_)) => return Err(Refusal::missing("cold", "a temperature, as hot is given")),
    }
    Ok(outcome)
}

fn carnot(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let (hot, cold) = (arguments.number("hot")?, arguments.number("cold")?);
    if hot <= cold {
        let found = format!("{}, no warmer than the cold side", celsius(hot));
        return Err(Refusal::contradiction("hot", found, format!("above cold, {}", celsius(cold))));
    }
    let (above, below, span) = (hot + CELSIUS_ZERO_K, (cold + CELSIUS_ZERO_K).max(0.0), hot - cold);
    let efficiency = (1.0 - below / above).clamp(0.0, 1.0);
    let mut outcome = Outcome::of(arguments);
    outcome.work(|| format!("1 − {} ÷ {} = {}", kelvin(below), kelvin(above), percent(efficiency)));
    outcome.work(|| format!("heating: {} ÷ {} = {}", kelvin(above), kelvin(span), number(above / span)));
    outcome.work(|| format!("cooling: {} ÷ {} = {}", kelvin(below), kelvin(span), number(below / span)));
    outcome.say = format!(
        "At most {} becomes power; a heat pump gives at most {} and a chiller moves at most {} for each power drawn.",
        percent(efficiency),
        number(above / span),
        number(below / span)
    );
    outcome.figure("efficiency_share", efficiency);
    outcome.figure("cop_heating", above / span);
    outcome.figure("cop_cooling", below / span);
    Ok(outcome)
}

fn cycle(arguments: &Arguments<'_>) -> Result<Outcome, Refusal> {
    let mass = arguments.number("flow")?;
    let (suction, discharge, liquid) =
        (arguments.number("suction")?, arguments.number("discharge")?, arguments.number("liquid")?);
    if discharge <= suction {
        let found = format!("{}, no more than before the compressor", per_mass(discharge));
        return Err(Refusal::contradiction("discharge", found, format!("more than suction, {}", per_mass(suction))));
    }
    if liquid >= suction {
        let found = format!("{}, no less than behind the evaporator", per_mass(liquid));
        return Err(Refusal::contradiction("liquid", found, format!("less than suction, {}", per_mass(suction))));
    }
    let (moves, draws) = (mass * (suction - liquid), mass * (discharge - suction));
    let cop = (suction - liquid) / (discharge - suction);
    let mut outcome = Outcome::of(arguments);
    outcome.work(|| format!("{} × {} = {} moved", flow(mass), per_mass(suction - liquid), watts(moves)));
    outcome.work(|| format!("{} × {} = {} drawn", flow(mass), per_mass(discharge - suction), watts(draws)));
    outcome.work(|| format!("{} ÷ {} = {}", watts(moves), watts(draws), number(cop)));
    outcome.say = format!(
        "It moves {}, draws {} and rejects {}: coefficient of performance {}.",
        watts(moves),
        watts(draws),
        watts(moves + draws),
        number(cop)
    );
    outcome.figure("moves_w", moves);
    outcome.figure("draws_w", draws);
    outcome.figure("rejects_w", moves + draws);
    outcome.figure("cop", cop);
    Ok(outcome)
}
