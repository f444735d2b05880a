//! The codes of findings.

use crate::questions::answer::codes;

codes! {
    /// What the floor fit can find. The codes are stable: programs may act on them.
    RowCode;
    RowTooNarrow = "row-too-narrow", Failure: "Machines are left over that fit into no row that is to take them.";
    RowTooLow = "row-too-low", Failure: "Machines are taller than every row that is to take them.";
    SymmetryOdd = "symmetry-odd", Caution: "An odd count has no equal halves: one machine has no mirror.";
    NotAllPlaced = "not-all-placed", Caution: "The rows together are to take fewer machines than there are.";
    MoreFindings = "more-findings", Note: "There are more findings than are listed.";
}
