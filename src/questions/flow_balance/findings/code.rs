//! The codes of findings.

use crate::questions::answer::codes;

codes! {
    /// What the flow balance can find. The codes are stable: programs may act on them.
    FindingCode;
    AimShort = "aim-short", Failure: "The aim is not reached.";
    DemandShort = "demand-short", Failure: "A demand is not served in full.";
    IdleShort = "idle-short", Failure: "Machines that stand still do not get the power they draw.";
    CoolingShort = "cooling-short", Failure: "Coolers do not get the power that they draw at rest.";
    SupplyShort = "supply-short", Failure: "A supply gives all it has and something is short for want of more.";
    CountBound = "count-bound", Failure: "All machines of a unit run at full duty and something is short for want of more.";
    LinesFull = "lines-full", Failure: "The fixed lines of a header are full and something is short for want of more.";
    NothingFeeds = "nothing-feeds", Caution: "A header is taken from, but nothing gives to it. A failure where that leaves something short.";
    SurplusTrapped = "surplus-trapped", Failure: "Surplus finds no way out, so the plant cannot stay steady.";
    OutletMissing = "outlet-missing", Note: "A `most` aim is held back because more of it would leave a surplus that has no outlet. A caution where nothing runs for that.";
    NoLimit = "no-limit", Failure: "A `most` aim grows without end because something in it has no limit.";
    NothingAsked = "nothing-asked", Caution: "The plan has no aim, no demand and no unit of fixed count, so nothing runs.";
    SupplyLost = "supply-lost", Caution: "A supply that pushes backs up: part of it finds no place.";
    SupplyTight = "supply-tight", Caution: "A supply is used to more than 95 % and nothing else feeds its header.";
    LinesTight = "lines-tight", Caution: "The fixed lines of a header are used to more than 95 %.";
    OutletFull = "outlet-full", Caution: "An outlet lets out more than 95 % of what it can.";
    MassNotClosed = "mass-not-closed", Caution: "What a unit takes and what it gives differ by more than 0.1 % of mass.";
    BalanceOpen = "balance-open", Caution: "Rates of the plan lie so far apart that the balance does not close to a millionth of what passes through a header.";
    CountsUnproven = "counts-unproven", Note: "The counts serve, but the search for better ones met its limit before the proof.";
    PatternAveraged = "pattern-averaged", Note: "An intermittent supply or demand is counted at its long-run average.";
    IdleMachines = "idle-machines", Note: "Of a unit of fixed count, whole machines are never needed.";
    AllRun = "all-run", Note: "The plan has no aim and no demand: every unit of fixed count is run.";
    MoreFindings = "more-findings", Note: "There are more findings than are listed.";
}
