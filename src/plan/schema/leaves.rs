//! What stands at the ends of a document: quantities, numbers, words and names.

use utoipa::openapi::schema::{KnownFormat, ObjectBuilder, OneOfBuilder, Schema, SchemaFormat, Type};

use super::{Described, Schemas, one_of, paragraph, words};
use crate::plan::amount::{Amount, Capacity, Loses};
use crate::plan::document::{
    ALL, CountDoc, CountRange, OtherSide, PatternDoc, PlaceDoc, ProductDoc, PulseDoc, StepsDoc,
};
use crate::plan::field::{
    Bounds, DayLength, HeaderName, LineRate, MachineCount, NOT_NEGATIVE, Name, NumberField, POSITIVE, Period, Plain,
    Quantity, QuantityField, Rate, RateOnKey, Title, Whole, WholeField,
};
use crate::plan::limits::Limits;
use crate::plan::temperature::{AnyTemperature, Temperature};
use crate::quantity::{Dimension, GREATEST, LONGEST};

fn bounded(object: ObjectBuilder, bounds: Bounds) -> ObjectBuilder {
    let object =
        if bounds.above { object.exclusive_minimum(Some(bounds.least)) } else { object.minimum(Some(bounds.least)) };
    object.maximum(Some(bounds.most.unwrap_or(GREATEST)))
}

/// A number in SI, or a text with a unit of measure.
fn quantity(about: &str, si: &str, examples: &[&str], bounds: Bounds) -> Schema {
    let number = if si == "1" { "A plain number".to_owned() } else { format!("A number in {si}") };
    let bare = bounded(ObjectBuilder::new().schema_type(Type::Number).format(Some(double())), bounds)
        .description(Some(format!("{number}, {}.", bounds.say)));
    let text = ObjectBuilder::new()
        .schema_type(Type::String)
        .min_length(Some(1))
        .max_length(Some(LONGEST))
        .description(Some(format!("A number and a unit of measure, {}.", bounds.say)))
        .examples(examples.iter().copied());
    OneOfBuilder::new()
        .description(Some(format!(
            "{} {number}, or a text with a number and a unit of measure, such as {:?}.",
            paragraph(about),
            examples.first().copied().unwrap_or_default()
        )))
        .examples(examples.iter().copied())
        .item(bare)
        .item(text)
        .build()
        .into()
}

fn double() -> SchemaFormat {
    SchemaFormat::KnownFormat(KnownFormat::Double)
}

impl<F: QuantityField> Described for Quantity<F> {
    const NAME: Option<&'static str> = Some(F::NAME);
    fn body() -> Schema {
        quantity(F::ABOUT, <F::D as Dimension>::SI, &[<F::D as Dimension>::EXAMPLE], F::BOUNDS)
    }
}

impl Described for DayLength {
    const NAME: Option<&'static str> = Quantity::<Period>::NAME;
    fn body() -> Schema {
        Quantity::<Period>::body()
    }
}

impl Described for Rate {
    const NAME: Option<&'static str> = Some("Rate");
    fn body() -> Schema {
        quantity(
            "What passes in a second: a mass flow, or on the header `power` electric power.",
            "kg/s (on `power`, W)",
            &["300 g/s", "2.5 kW"],
            NOT_NEGATIVE,
        )
    }
}

impl Described for RateOnKey {
    const NAME: Option<&'static str> = Rate::NAME;
    fn body() -> Schema {
        Rate::body()
    }
}

impl Described for LineRate {
    const NAME: Option<&'static str> = Some("LineRate");
    fn body() -> Schema {
        quantity(
            "What one line carries at most: a mass flow, or on the header `power` electric power.",
            "kg/s (on `power`, W)",
            &["10 kg/s", "20 kW"],
            POSITIVE,
        )
    }
}

impl Described for Amount {
    const NAME: Option<&'static str> = Some("Amount");
    fn body() -> Schema {
        quantity(
            "What a store holds: a mass, on the header `power` an energy, or a share of its capacity.",
            "kg (on `power`, J)",
            &["800 kg", "40 MJ", "60 %"],
            NOT_NEGATIVE,
        )
    }
}

impl Described for Capacity {
    const NAME: Option<&'static str> = Some("Capacity");
    fn body() -> Schema {
        quantity(
            "What a store holds when full: a mass, on the header `power` an energy.",
            "kg (on `power`, J)",
            &["800 kg", "40 MJ"],
            POSITIVE,
        )
    }
}

impl Described for Loses {
    const NAME: Option<&'static str> = Some("StandingLoss");
    fn body() -> Schema {
        quantity(
            "What a store loses by standing: a share of its contents per time, or a rate while there is any.",
            "kg/s (on `power`, W)",
            &["0.2 %/day", "1 g/s", "5 W"],
            NOT_NEGATIVE,
        )
    }
}

impl Described for PatternDoc {
    const NAME: Option<&'static str> = Some("Pattern");
    fn body() -> Schema {
        one_of("When something comes and goes: pulses, or steps.", vec![PulseDoc::here(), StepsDoc::here()])
    }
    fn gather_parts(into: &mut Schemas) {
        PulseDoc::gather(into);
        StepsDoc::gather(into);
    }
}

impl<F: NumberField> Described for Plain<F> {
    const NAME: Option<&'static str> = Some(F::NAME);
    fn body() -> Schema {
        bounded(ObjectBuilder::new().schema_type(Type::Number).format(Some(double())), F::BOUNDS)
            .description(Some(paragraph(F::ABOUT)))
            .build()
            .into()
    }
}

impl<F: WholeField> Described for Whole<F> {
    const NAME: Option<&'static str> = Some(F::NAME);
    fn body() -> Schema {
        ObjectBuilder::new()
            .schema_type(Type::Integer)
            .format(Some(SchemaFormat::KnownFormat(KnownFormat::Int32)))
            .minimum(Some(F::LEAST))
            .maximum(Some(F::MOST))
            .description(Some(paragraph(F::ABOUT)))
            .build()
            .into()
    }
}

impl Described for CountDoc {
    const NAME: Option<&'static str> = Some("Count");
    fn body() -> Schema {
        one_of(
            "How many machines of a unit there are: a whole number, or bounds within which they are counted.",
            vec![Whole::<MachineCount>::here(), CountRange::here()],
        )
    }
    fn gather_parts(into: &mut Schemas) {
        Whole::<MachineCount>::gather(into);
        CountRange::gather(into);
    }
}

impl Described for PlaceDoc {
    const NAME: Option<&'static str> = Some("PlacedCount");
    fn body() -> Schema {
        let all = words("As many as there are and no row before was asked to place.", &[ALL]);
        one_of(
            "How many machines of a unit are to stand in a row: a whole number, or `all`.",
            vec![Whole::<MachineCount>::here(), all.into()],
        )
    }
    fn gather_parts(into: &mut Schemas) {
        Whole::<MachineCount>::gather(into);
    }
}

impl Described for bool {
    const NAME: Option<&'static str> = None;
    fn body() -> Schema {
        ObjectBuilder::new().schema_type(Type::Boolean).build().into()
    }
}

/// A name of the author's.
pub(super) fn name() -> ObjectBuilder {
    ObjectBuilder::new().schema_type(Type::String).min_length(Some(1)).max_length(Some(Limits::DEFAULT.name_bytes))
}

impl Described for Title {
    const NAME: Option<&'static str> = Some("Title");
    fn body() -> Schema {
        name().description(Some("A text without control characters.")).build().into()
    }
}

impl Described for Name {
    const NAME: Option<&'static str> = Some("Name");
    fn body() -> Schema {
        name().description(Some("The name of something in the plan.")).build().into()
    }
}

impl Described for OtherSide {
    const NAME: Option<&'static str> = Some("OtherSide");
    fn body() -> Schema {
        name().description(Some("The name of another zone, or `ambient`.")).examples(["ambient"]).build().into()
    }
}

impl Described for ProductDoc {
    const NAME: Option<&'static str> = Some("ProductTemperature");
    fn body() -> Schema {
        let words = words("As warm as the feed, or as the zone.", &["feed", "zone"]);
        let at = Temperature::<AnyTemperature>::here();
        one_of("How warm products leave: `feed`, `zone`, or a temperature.", vec![words.into(), at])
    }
    fn gather_parts(into: &mut Schemas) {
        Temperature::<AnyTemperature>::gather(into);
    }
}

impl Described for HeaderName {
    const NAME: Option<&'static str> = Some("HeaderName");
    fn body() -> Schema {
        name()
            .description(Some(
                "The name of a header, the author's own; it exists by being named. `power` is reserved for electric power.",
            ))
            .examples(["water"])
            .build()
            .into()
    }
}
