//! The document's schema for the API description, from the same lists of fields as the reader.

use std::borrow::Cow;

use utoipa::openapi::schema::{
    AdditionalProperties, ArrayBuilder, KnownFormat, ObjectBuilder, OneOfBuilder, Schema, SchemaFormat, Type,
};
use utoipa::openapi::{Ref, RefOr};
use utoipa::{PartialSchema, ToSchema};

use super::amount::{Amount, Capacity, Loses};
use super::document::{
    ALL, CountDoc, CountRange, OtherSide, PatternDoc, PlaceDoc, PlanDocument, ProductDoc, PulseDoc, StepsDoc,
};
use super::field::{
    Bounds, DayLength, HeaderName, LineRate, MachineCount, NOT_NEGATIVE, Name, NumberField, POSITIVE, Period, Plain,
    Quantity, QuantityField, Rate, RateOnKey, Title, Whole, WholeField,
};
use super::limits::Limits;
use super::map::{AtLeastOne, ByHeader, Flows, List, OneOrMore, Parts, Section, Size};
use super::temperature::{AnyTemperature, Temperature};
use crate::quantity::{Dimension, GREATEST, LONGEST};

/// Named schemas, each once.
pub(super) type Schemas = Vec<(String, RefOr<Schema>)>;

/// A part of the document as the API description shows it.
pub(super) trait Described {
    /// Its name among the components, where it has one.
    const NAME: Option<&'static str>;

    /// The schema itself.
    fn body() -> Schema;

    /// The schemas it refers to.
    fn gather_parts(_into: &mut Schemas) {}

    /// What stands where it is used: a reference to the named schema, or the schema itself.
    fn here() -> RefOr<Schema> {
        match Self::NAME {
            Some(name) => Ref::from_schema_name(name).into(),
            None => Self::body().into(),
        }
    }

    /// Adds it, if it is named and not there yet, and what it refers to.
    fn gather(into: &mut Schemas) {
        if let Some(name) = Self::NAME {
            if into.iter().any(|(known, _)| known == name) {
                return;
            }
            into.push((name.to_owned(), Self::body().into()));
        }
        Self::gather_parts(into);
    }
}

/// The schema of the plan document: named "Plan", with every part of it a named component.
#[derive(Debug)]
pub struct PlanSchema;

impl PartialSchema for PlanSchema {
    fn schema() -> RefOr<Schema> {
        PlanDocument::body().into()
    }
}

impl ToSchema for PlanSchema {
    fn name() -> Cow<'static, str> {
        Cow::Borrowed("Plan")
    }
    fn schemas(schemas: &mut Schemas) {
        PlanDocument::gather_parts(schemas);
    }
}

/// One field of a struct.
pub(super) struct Field {
    pub name: &'static str,
    pub about: &'static str,
    pub required: bool,
    pub kind: RefOr<Schema>,
}

/// Doc comments as one paragraph.
fn paragraph(about: &str) -> String {
    about.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// An object with these fields and no others.
pub(super) fn structure(about: &str, fields: &[Field]) -> Schema {
    let mut object = ObjectBuilder::new()
        .schema_type(Type::Object)
        .description(Some(paragraph(about)))
        .additional_properties(Some(AdditionalProperties::FreeForm(false)));
    for field in fields {
        let about = paragraph(field.about);
        let kind = match field.kind.clone() {
            RefOr::Ref(mut reference) => {
                reference.description = about;
                RefOr::Ref(reference)
            }
            RefOr::T(Schema::Object(mut object)) => {
                object.description = Some(about);
                RefOr::T(Schema::Object(object))
            }
            RefOr::T(Schema::Array(mut array)) => {
                array.description = Some(about);
                RefOr::T(Schema::Array(array))
            }
            other @ RefOr::T(_) => other,
        };
        object = object.property(field.name, kind);
        if field.required {
            object = object.required(field.name);
        }
    }
    object.build().into()
}

/// A union.
pub(super) fn one_of(about: &str, variants: Vec<RefOr<Schema>>) -> Schema {
    let mut union = OneOfBuilder::new().description(Some(paragraph(about)));
    for variant in variants {
        union = union.item(variant);
    }
    union.build().into()
}

/// A word out of a few.
pub(super) fn words(about: &str, words: &[&str]) -> Schema {
    ObjectBuilder::new()
        .schema_type(Type::String)
        .description(Some(paragraph(about)))
        .enum_values(Some(words.iter().copied()))
        .build()
        .into()
}

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

fn name() -> ObjectBuilder {
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

fn map(of: RefOr<Schema>, size: Size) -> Schema {
    map_of(of, size.limit(&Limits::DEFAULT))
}

/// An object by names of the author's.
pub(super) fn map_of(of: RefOr<Schema>, most: usize) -> Schema {
    ObjectBuilder::new()
        .schema_type(Type::Object)
        .property_names(Some(Schema::from(name().build())))
        .additional_properties(Some(of))
        .max_properties(Some(most))
        .build()
        .into()
}

macro_rules! maps {
    ($($name:ident, $size:ident;)*) => {$(
        impl<T: Described> Described for $name<T> {
            const NAME: Option<&'static str> = None;
            fn body() -> Schema {
                map(T::here(), Size::$size)
            }
            fn gather_parts(into: &mut Schemas) {
                T::gather(into);
            }
        }
    )*};
}

maps! {
    Section, Section;
    ByHeader, Section;
    Parts, Flows;
}

/// A list of something, not empty.
pub(super) fn list_of(of: RefOr<Schema>, most: usize) -> Schema {
    ArrayBuilder::new().items(of).min_items(Some(1)).max_items(Some(most)).build().into()
}

impl<T: Described> Described for List<T> {
    const NAME: Option<&'static str> = None;
    fn body() -> Schema {
        list_of(T::here(), Size::Flows.limit(&Limits::DEFAULT))
    }
    fn gather_parts(into: &mut Schemas) {
        T::gather(into);
    }
}

impl Described for OneOrMore<Name> {
    const NAME: Option<&'static str> = Some("Names");
    fn body() -> Schema {
        one_of(
            "The name of something in the plan, or a list of such names.",
            vec![Name::here(), List::<Name>::body().into()],
        )
    }
    fn gather_parts(into: &mut Schemas) {
        Name::gather(into);
    }
}

impl<T: Described> Described for AtLeastOne<T> {
    const NAME: Option<&'static str> = None;
    fn body() -> Schema {
        match T::body() {
            Schema::Object(mut map) => {
                map.min_properties = Some(1);
                Schema::Object(map)
            }
            other => other,
        }
    }
    fn gather_parts(into: &mut Schemas) {
        T::gather(into);
    }
}

impl Described for Flows {
    const NAME: Option<&'static str> = None;
    fn body() -> Schema {
        map(RateOnKey::here(), Size::Flows)
    }
    fn gather_parts(into: &mut Schemas) {
        RateOnKey::gather(into);
    }
}

#[cfg(test)]
mod tests {
    use serde_json::{Value as Json, json};

    use super::*;
    use crate::plan::{Limits, Plan};

    fn components() -> Json {
        let mut schemas: Schemas = vec![("Plan".to_owned(), PlanSchema::schema())];
        PlanSchema::schemas(&mut schemas);
        schemas.into_iter().map(|(name, schema)| (name, serde_json::to_value(schema).unwrap())).collect()
    }

    /// A value that the schema allows; `choice` picks among the variants of each union.
    fn sample(schema: &Json, all: &Json, choice: usize) -> Json {
        if let Some(name) = schema["$ref"].as_str() {
            return sample(&all[name.rsplit_once('/').unwrap().1], all, choice);
        }
        if let Some(variants) = schema["oneOf"].as_array() {
            return sample(&variants[choice % variants.len()], all, choice);
        }
        if let Some(words) = schema["enum"].as_array() {
            return words[choice % words.len()].clone();
        }
        match schema["type"].as_str() {
            Some("object") => {
                if let Some(properties) = schema["properties"].as_object() {
                    assert_eq!(schema["additionalProperties"], json!(false));
                    return properties.iter().map(|(name, kind)| (name.clone(), sample(kind, all, choice))).collect();
                }
                assert!(schema["maxProperties"].is_u64());
                json!({ "x": sample(&schema["additionalProperties"], all, choice) })
            }
            Some("array") => {
                assert!(schema["minItems"] == json!(1) && schema["maxItems"].is_u64());
                json!([sample(&schema["items"], all, choice)])
            }
            Some("boolean") => json!(true),
            Some("integer") => schema["minimum"].clone(),
            Some("number") => {
                assert!(schema["maximum"].is_number());
                if let Some(examples) = schema["examples"].as_array() {
                    return examples[0].clone();
                }
                if schema["exclusiveMinimum"].is_number() { json!(1) } else { schema["minimum"].clone() }
            }
            Some("string") => {
                assert!(schema["minLength"].is_u64() && schema["maxLength"].is_u64());
                schema["examples"].as_array().map_or(json!("x"), |examples| examples[0].clone())
            }
            other => panic!("a schema of type {other:?}: {schema}"),
        }
    }

    /// Settles what no schema can say: fields of which only one may stand there, and what holds between two of them.
    fn settle(document: &mut Json, choice: usize) {
        let without = |thing: &mut Json, fields: &[&str]| {
            for field in fields {
                thing.as_object_mut().unwrap().remove(*field);
            }
        };
        let starts: [&[&str]; 3] =
            [&["elapsed", "now_on", "next_change_in"], &["offset", "now_on", "next_change_in"], &["offset", "elapsed"]];
        // Names that switches and readings mean must be clear.
        for (section, name) in [("supplies", "seep"), ("demands", "garden")] {
            let thing = document[section].as_object_mut().unwrap().remove("x").unwrap();
            document[section][name] = thing;
            let pattern = &mut document[section][name]["pattern"];
            let way = if pattern["steps"].is_array() { choice % 2 } else { choice % 3 };
            without(pattern, starts[way]);
        }
        let mut pattern = document["now"]["patterns"].as_object_mut().unwrap().remove("x").unwrap();
        let has_steps = document["supplies"]["seep"]["pattern"]["steps"].is_array();
        without(&mut pattern, starts[if has_steps { 1 } else { 1 + choice % 2 }]);
        document["now"]["patterns"]["seep"] = pattern;
        document["switches"]["x"]["start_at"] = json!("100 %");
        document["switches"]["x"]["stop_at"] = json!(0);
        let closed = &mut document["loops"]["x"];
        without(closed, if choice.is_multiple_of(2) { &["flow", "round_trip"] } else { &["least"] });
        closed["keep_free"] = json!(0);
        let even = choice.is_multiple_of(2);
        let wall = &mut document["zones"]["x"]["walls"][0];
        without(wall, if even { &["area", "layers", "surfaces"] } else { &["conductance"] });
        let mut cooler = document["coolers"].as_object_mut().unwrap().remove("x").unwrap();
        without(
            &mut cooler,
            if even { &["rejects_to", "duty", "cop"] } else { &["rejects_to", "drop", "flow", "draws"] },
        );
        document["coolers"]["loop"] = cooler;
        let mut source = document["hot_sources"].as_object_mut().unwrap().remove("x").unwrap();
        without(&mut source, if even { &["heat"] } else { &["flow", "substance", "at"] });
        let has_steps = source["pattern"]["steps"].is_array();
        without(&mut source["pattern"], starts[if has_steps { choice % 2 } else { choice % 3 }]);
        document["hot_sources"]["vent"] = source;
        for (section, name) in [("turbines", "expander"), ("thermostats", "eye")] {
            let thing = document[section].as_object_mut().unwrap().remove("x").unwrap();
            document[section][name] = thing;
        }
        document["thermostats"]["eye"]["runs"] = json!(["loop", "vent", "seep"]);
    }

    #[test]
    fn a_document_made_from_the_schema_alone_is_a_plan() {
        let all = components();
        for choice in 0..6 {
            let mut document = sample(&all["Plan"], &all, choice);
            settle(&mut document, choice);
            // Every field of every struct is in it, so a field that the reader did not know would be a fault.
            assert_eq!(document["units"]["x"].as_object().unwrap().len(), 17);
            let read = Plan::from_json(document.to_string().as_bytes(), &Limits::DEFAULT);
            assert!(read.is_ok(), "{read:?} on {document}");
        }
    }

    #[test]
    fn every_reference_resolves_and_every_component_is_described() {
        let all = components();
        let text = all.to_string();
        for reference in text.split("\"#/components/schemas/").skip(1) {
            let name = reference.split('"').next().unwrap();
            assert!(all[name].is_object(), "{name} is referred to and not there");
        }
        for (name, schema) in all.as_object().unwrap() {
            assert!(schema["description"].as_str().is_some_and(|about| about.len() > 8), "{name}: {schema}");
        }
        for variant in ["RunAim", "MakeAim", "MostAim"] {
            assert_eq!(all[variant]["required"].as_array().unwrap().len(), 1, "{variant} has one tag");
        }
        assert_eq!(all["RunAim"]["properties"]["run"]["minProperties"], json!(1));
    }
}
