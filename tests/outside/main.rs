//! Checks against answers from outside: textbooks, published programmes, an independent solver.
//!
//! `rows.json` holds the published problems, each with its source, its tolerances, and how certain each figure is; a figure
//! or an edition that was remembered rather than looked up says "from memory". Published problems are posed as plans, with one
//! mole, case, hour or piece a second written as 1 kg/s: the balance does not ask what a header carries.
//!
//! | row | posed as | what a plan cannot say |
//! |---|---|---|
//! | A01 dehumidifier with recycle | components of known proportion, demand | – |
//! | A02 crystalliser with recycle | components, run of the intake; nothing may be trapped | – |
//! | A03 dehydrogenation with recycle | components, a supply that pushes | – |
//! | A06 purge sized by an inert | two plans | a stream whose unknown composition multiplies an unknown rate: the first plan finds the purge and what it is made of (linear), the second takes that as the recycle's composition |
//! | A08, A09 combustion | units by stoichiometry | – |
//! | A11 maximum flow | edges are units of fixed count | – |
//! | A12 programme with prices | `most` with worth | – |
//! | A14 transport | routes with running cost | prices of demands are not in an answer: they are found by asking again with one more |
//! | A15 AFIRO | columns are units, rows are headers | – |
//! | B01, B02, B03 calorimetry and melting | one or two zones | – |
//! | B07 Newton's cooling | a zone with a wall and a least temperature | – |
//! | B10 glazing | a wall of layers, a thermostat holds the room | surface temperatures, which follow from the flow |
//! | B18 chiller | duty and coefficient of performance | state points of the refrigerant |
//! | S01, S02 raising steam | water by IAPWS-IF97 at a pressure, in a drum that is heated evenly | how specific heat changes with temperature: it is a mean |
//! | B23 ballast | an intermittent source | – |
//! | A17 cutting stock | patterns are units, sized | the list of patterns and the area bound are arithmetic on the problem, done in the test |
//!
//! IAPWS-IF97 is held to the verification values of its release in `src/plan/presets.rs`, and as a sum in `tests/sums/cases.json`,
//! where a steam cycle is. Problems of heat exchangers and radiation have no plan: a zone is a lump.

mod combustion;
mod cutting;
mod heat;
mod networks;
mod practice;
mod programmes;
mod recycles;
mod rows;
mod stores;
#[path = "../support/mod.rs"]
mod support;
mod tanks;
mod thermal;
