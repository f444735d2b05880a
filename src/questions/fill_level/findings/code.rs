//! The codes of findings.

use crate::questions::answer::codes;

codes! {
    /// What the fill level can find. The codes are stable: programs may act on them.
    FindingCode;
    RunsDry = "runs-dry", Failure: "A store stands empty and something is short for it. A caution where only machines stand still for it, a note where nothing wants it.";
    DemandCut = "demand-cut", Failure: "A demand is not served in full.";
    Overflows = "overflows", Caution: "A store stands full and a supply that pushes loses what finds no place.";
    SupplyLost = "supply-lost", Caution: "A supply that pushes loses what finds no place, and its header has no store.";
    BelowLowLimit = "below-low-limit", Caution: "A level goes below its limit L, or LL, which is a failure.";
    AboveHighLimit = "above-high-limit", Caution: "A level goes above its limit H, or HH, which is a failure.";
    LoopOverFull = "loop-over-full", Failure: "A closed loop holds more than leaves room for its gap and for expansion.";
    LoopShort = "loop-short", Failure: "A closed loop holds less than circulates.";
    LoopWindowEmpty = "loop-window-empty", Failure: "No charge of a closed loop both circulates and leaves room.";
    SwitchChatters = "switch-chatters", Caution: "A switch starts again sooner than 4 min after it last did (15 starts an hour; common practice, no source).";
    DeadbandNarrow = "deadband-narrow", Note: "With the worst of what may flow, a switch would start more than 15 times an hour (T = V/q + V/(Q − q), least at q = Q/2).";
    SwitchNeverActs = "switch-never-acts", Note: "A switch neither starts nor stops anything within the horizon.";
    SwitchStoreNothingFills = "switch-store-nothing-fills", Caution: "A switch watches a store that nothing gives to.";
    SwitchesFight = "switches-fight", Caution: "Two switches on one store undo each other, or never let their common target run.";
    StageOrder = "stage-order", Caution: "Of two stages on one store, the one of the later rank, or the later in the document, starts first.";
    StagesOverlap = "stages-overlap", Caution: "A later stage runs on in the band of an earlier one, so that both run where one might do.";
    StageCannotHold = "stage-cannot-hold", Caution: "The stages on a store give less than is asked on average. A note where only the first cannot hold it alone.";
    CoolerUnpowered = "cooler-unpowered", Failure: "Coolers do not get all the power that they draw.";
    CoolersHunt = "coolers-hunt", Caution: "Where power is short, a cooler at its set point and what shares its power start and stop each other without end.";
    BudgetSpent = "budget-spent", Caution: "The rehearsal ended before the horizon, because the events allowed were spent.";
    NothingToRehearse = "nothing-to-rehearse", Caution: "The plan has no store and no loop.";
    ReserveDrawn = "reserve-drawn", Note: "A supply of a later rank was drawn on.";
    UnitHeld = "unit-held", Note: "Machines were held back because an input was missing or an output blocked.";
    BelowTurndown = "below-turndown", Note: "Machines run below the least share of duty that they can be turned down to, which a rehearsal does not keep.";
    PatternsNeverRepeat = "patterns-never-repeat", Note: "Patterns that act on each other do not repeat together within the horizon, so no cycle can settle.";
    MoreFindings = "more-findings", Note: "There are more findings than are listed.";
}
