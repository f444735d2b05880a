//! The codes of findings.

use crate::questions::answer::codes;

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
    CoolantFreezes = "coolant-freezes", Failure: "The coolant gets colder than its freezing point and margin: by the set point less the drop, or by what it cools where there is no set point.";
    CoolantBoils = "coolant-boils", Failure: "The set point, or what is cooled, is above the coolant's boiling point less margin.";
    SetPointTooHigh = "set-point-too-high", Failure: "The set point lies above what the zone or a machine in it bears.";
    NoSetPoint = "no-set-point", Failure: "No set point keeps the coolant liquid and the zone within its limits.";
    CoolantNearFreezing = "coolant-near-freezing", Caution: "The coolant comes within 1 K of freezing.";
    ProductFreezes = "product-freezes", Failure: "A unit gives a product colder than its freezing point.";
    StreamHeatUnknown = "stream-heat-unknown", Caution: "No specific heat is given for something whose heat is counted: it counts as next to nothing.";
    BallastLight = "ballast-light", Failure: "A zone has too little mass: pulses drive it past its limit.";
    BallastHeavy = "ballast-heavy", Failure: "A zone holds more mass than its cells bear, which chokes what comes in.";
    NoBallast = "no-ballast", Failure: "The mass that rides out the pulses is more than the vessel bears.";
    SeveralRests = "several-rests", Caution: "The zones can come to rest in several ways; which depends on where they begin.";
    TurbineWastes = "turbine-wastes", Caution: "Turbines take heat above their rating, which makes no power.";
    TurbineStandsStill = "turbine-stands-still", Caution: "A zone is too cold for its turbine.";
    MoreThanTaken = "more-than-taken", Caution: "A turbine is said to make more power than the heat that it takes.";
    HeatOpen = "heat-open", Caution: "Numbers of the plan lie so far apart that heat does not close to a billionth of what passes.";
    CoolingStops = "cooling-stops", Note: "What passes its limit first when all coolers stop, and when.";
    ThermostatCycles = "thermostat-cycles", Note: "A thermostat keeps a zone in a cycle: from where to where, how often, and how long it is on.";
    ThermostatUnsettled = "thermostat-unsettled", Note: "Thermostats of zones that act on each other keep no common cycle: figures at rest count each at the middle of its deadband.";
    HeatAveraged = "heat-averaged", Note: "Figures at rest count intermittent sources at their long-run average.";
    MoreFindings = "more-findings", Note: "There are more findings than are listed.";
}
