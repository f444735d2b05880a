//! The schemas of inquiries for the API description.

use std::borrow::Cow;

use utoipa::openapi::RefOr;
use utoipa::openapi::schema::{
    AdditionalProperties, ArrayBuilder, KnownFormat, ObjectBuilder, Schema, SchemaFormat, SchemaType, Type,
};
use utoipa::{PartialSchema, ToSchema};

use super::batch::ItemDocument;
use super::compare::{CompareDocument, FigureDoc, FigureEntry, Variants};
use super::field::{FigureList, JsonList, Patch, ValueCount};
use super::range::EndDoc;
use super::seek::SeekDocument;
use super::sweep::SweepDocument;
use crate::plan::limits::Limits;
use crate::plan::pointer::Pointer;
use crate::plan::schema::{Described, Field, Schemas, list_of, map_of, one_of, structure};
use crate::quantity::{GREATEST, LONGEST};

macro_rules! inquiries {
    ($($(#[doc = $about:literal])* $name:ident, $document:ident;)*) => {$(
        $(#[doc = $about])*
        #[derive(Debug)]
        pub struct $name;

        impl PartialSchema for $name {
            fn schema() -> RefOr<Schema> {
                $document::body().into()
            }
        }

        impl ToSchema for $name {
            fn name() -> Cow<'static, str> {
                Cow::Borrowed($document::NAME.unwrap_or_default())
            }
            fn schemas(schemas: &mut Schemas) {
                $document::gather_parts(schemas);
            }
        }
    )*};
}

inquiries! {
    /// The schema of a comparison.
    CompareSchema, CompareDocument;
    /// The schema of a sweep.
    SweepSchema, SweepDocument;
    /// The schema of a search.
    SeekSchema, SeekDocument;
    /// The schema of a batch.
    BatchSchema, BatchDocument;
}

/// The batch as the API description shows it.
struct BatchDocument;

impl Described for BatchDocument {
    const NAME: Option<&'static str> = Some("BatchInquiry");
    fn body() -> Schema {
        let about = "Questions, each with its plan; what is wrong with one is no matter to another.";
        let items = list_of(ItemDocument::here(), Limits::DEFAULT.items);
        let items = Field { name: "items", about: "The questions.", required: true, kind: items.into() };
        structure(about, &[items])
    }
    fn gather_parts(into: &mut Schemas) {
        ItemDocument::gather(into);
    }
}

impl Described for Pointer {
    const NAME: Option<&'static str> = Some("JsonPointer");
    fn body() -> Schema {
        ObjectBuilder::new()
            .schema_type(Type::String)
            .min_length(Some(1))
            .max_length(Some(16_384))
            .description(Some("A JSON pointer (RFC 6901)."))
            .examples(["/supplies/seep/rate"])
            .build()
            .into()
    }
}

impl<T: Described> Described for FigureList<T> {
    const NAME: Option<&'static str> = None;
    fn body() -> Schema {
        list_of(T::here(), Limits::DEFAULT.figures)
    }
    fn gather_parts(into: &mut Schemas) {
        T::gather(into);
    }
}

impl Described for JsonList {
    const NAME: Option<&'static str> = None;
    fn body() -> Schema {
        let any = ObjectBuilder::new().schema_type(SchemaType::AnyValue).build();
        ArrayBuilder::new()
            .items(RefOr::<Schema>::from(any))
            .min_items(Some(1))
            .max_items(Some(Limits::DEFAULT.values))
            .build()
            .into()
    }
}

impl Described for Patch {
    const NAME: Option<&'static str> = Some("MergePatch");
    fn body() -> Schema {
        ObjectBuilder::new()
            .schema_type(Type::Object)
            .description(Some("A merge patch (RFC 7396) on the plan: `null` takes a member out."))
            .additional_properties(Some(AdditionalProperties::FreeForm(true)))
            .build()
            .into()
    }
}

impl Described for Variants {
    const NAME: Option<&'static str> = None;
    fn body() -> Schema {
        map_of(Patch::here(), Limits::DEFAULT.variants)
    }
    fn gather_parts(into: &mut Schemas) {
        Patch::gather(into);
    }
}

impl Described for FigureEntry {
    const NAME: Option<&'static str> = Some("ComparedFigure");
    fn body() -> Schema {
        let about = "A figure by its pointer, or with which way it is better.";
        one_of(about, vec![Pointer::here(), FigureDoc::here()])
    }
    fn gather_parts(into: &mut Schemas) {
        Pointer::gather(into);
        FigureDoc::gather(into);
    }
}

impl Described for EndDoc {
    const NAME: Option<&'static str> = Some("Quantity");
    fn body() -> Schema {
        let bare = ObjectBuilder::new()
            .schema_type(Type::Number)
            .format(Some(SchemaFormat::KnownFormat(KnownFormat::Double)))
            .minimum(Some(-GREATEST))
            .maximum(Some(GREATEST));
        let text = ObjectBuilder::new().schema_type(Type::String).min_length(Some(1)).max_length(Some(LONGEST));
        one_of(
            "A number in SI, or a text with a number and a unit of measure.",
            vec![Schema::from(bare.build()).into(), Schema::from(text.examples(["300 g/s"]).build()).into()],
        )
    }
}

impl Described for ValueCount {
    const NAME: Option<&'static str> = Some("ValueCount");
    fn body() -> Schema {
        ObjectBuilder::new()
            .schema_type(Type::Integer)
            .format(Some(SchemaFormat::KnownFormat(KnownFormat::Int32)))
            .minimum(Some(2))
            .maximum(Some(Limits::DEFAULT.values as f64))
            .description(Some("A number of values."))
            .build()
            .into()
    }
}
