//! How large a document may be.

/// Limits of one document. What passes a limit is a fault that names it, never a slow answer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Limits {
    /// Objects and lists within one another.
    pub depth: usize,
    /// Faults listed; the rest is counted.
    pub faults: usize,
    /// Entries of each section: units, headers, supplies, demands, outlets, substances, stores, switches, loops, targets of
    /// an aim.
    pub things: usize,
    /// Entries of each map or list of one thing: what a unit takes, gives, is built of; what a switch runs; steps of a
    /// pattern.
    pub flows: usize,
    /// Bytes of a name or title.
    pub name_bytes: usize,
    /// Variants that one comparison may hold beside the plan as it is.
    pub variants: usize,
    /// Values that one sweep, or one search, may try.
    pub values: usize,
    /// Figures that one sweep or comparison may read.
    pub figures: usize,
    /// Questions in one batch.
    pub items: usize,
}

impl Limits {
    /// The limits unless something else is said.
    pub const DEFAULT: Self = Self {
        depth: 64,
        faults: 100,
        things: 20_000,
        flows: 1_000,
        name_bytes: 200,
        variants: 24,
        values: 2_000,
        figures: 50,
        items: 100,
    };
}

impl Default for Limits {
    fn default() -> Self {
        Self::DEFAULT
    }
}
