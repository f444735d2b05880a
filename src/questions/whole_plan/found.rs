//! A finding of the whole plan: as a single question tells it, with who found it, what else says the same, and whether its
//! remedy was tried out.

use serde::Serialize;

use crate::questions::answer::{Finding, Mends, Remedy};

#[cfg(feature = "openapi")]
use utoipa::ToSchema;

/// Something the reckoning found. It is written as one flat object.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PlanFinding {
    /// Who found it: `flow-balance`, `heat-budget`, `fill-level` or `floor`.
    pub question: &'static str,
    /// As that question tells it; what has its cause may show earlier and weigh more.
    #[serde(flatten)]
    pub told: Finding<PlanRemedy>,
    /// What else was found that has the same cause.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub also: Vec<AlsoFound>,
    /// What those of the same cause would be mended by, where that is something else: tried where the first does not do it.
    #[serde(skip)]
    pub(super) others: Vec<PlanRemedy>,
}

/// What would mend a finding, and whether it was tried out. It is written as one flat object.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PlanRemedy {
    /// As the question tells it.
    #[serde(flatten)]
    pub told: Remedy,
    /// What came of trying it out.
    #[serde(flatten)]
    pub trial: Trial,
}

/// What came of trying out a remedy.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct Trial {
    /// Whether it does it: with the patch applied and everything reckoned again, the finding and what else has its cause are
    /// gone, and nothing fails that did not before. Absent where it was not tried out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub verified: Option<bool>,
    /// Where it does not do it: what remains, or what comes instead.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub remains: Option<String>,
    /// Why it was not tried out: it is no patch, because only its author knows what the plan would have to have; others came
    /// before it; or it takes too long. Only failures and cautions have their remedies tried.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub untried: Option<&'static str>,
}

/// What else was found that has the same cause.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(ToSchema))]
pub struct AlsoFound {
    /// Who found it.
    pub question: &'static str,
    /// Its code.
    pub code: &'static str,
    /// A JSON pointer into the plan.
    #[serde(rename = "where")]
    pub at: String,
    /// One sentence.
    pub say: String,
}

impl Mends for PlanRemedy {
    const OF_SEVERAL: bool = true;
}

impl From<Remedy> for PlanRemedy {
    /// One that is not tried out.
    fn from(remedy: Remedy) -> Self {
        Self { told: remedy, trial: Trial::default() }
    }
}

impl From<PlanFinding> for Finding {
    /// As a single question would tell it.
    fn from(found: PlanFinding) -> Self {
        found.told.map(|remedy| remedy.told)
    }
}

impl PlanFinding {
    /// A finding of a single question.
    pub(super) fn of(question: &'static str, finding: Finding) -> Self {
        let mut told = finding.map(PlanRemedy::from);
        // What has no moment is said to be infinitely far off.
        told.first_s = told.first_s.filter(|first| first.is_finite());
        Self { question, told, also: Vec::new(), others: Vec::new() }
    }

    /// Takes in one of the same cause.
    pub(super) fn take_in(&mut self, other: Self) {
        let Self { question, told, also, others } = other;
        self.told.weight = self.told.weight.max(told.weight);
        self.told.first_s = match (self.told.first_s, told.first_s) {
            (Some(one), Some(other)) => Some(one.min(other)),
            (one, other) => one.or(other),
        };
        for remedy in told.remedy.into_iter().chain(others) {
            let is_known = |known: &&PlanRemedy| known.told.patch == remedy.told.patch;
            if self.told.remedy.is_none() {
                self.told.remedy = Some(remedy);
            } else if self.told.remedy.iter().chain(&self.others).find(is_known).is_none() {
                self.others.push(remedy);
            }
        }
        self.also.push(AlsoFound { question, code: told.code, at: told.at, say: told.say });
        self.also.extend(also);
    }

    /// Whether this, or what has its cause, is a finding of that code at that place.
    pub(super) fn names(&self, code: &str, at: &str) -> bool {
        (self.told.code == code && self.told.at == at)
            || self.also.iter().any(|also| also.code == code && also.at == at)
    }
}

#[cfg(feature = "openapi")]
mod schema {
    use std::borrow::Cow;

    use utoipa::openapi::schema::{ArrayBuilder, ObjectBuilder, RefBuilder, Schema, Type};
    use utoipa::openapi::{KnownFormat, RefOr, SchemaFormat};
    use utoipa::{PartialSchema, ToSchema};

    use super::{AlsoFound, Finding, PlanFinding, PlanRemedy, Trial};
    use crate::questions::answer::Remedy;
    use crate::questions::answer::schema::with_fields_of;

    impl PartialSchema for PlanRemedy {
        fn schema() -> RefOr<Schema> {
            let empty = ObjectBuilder::new()
                .schema_type(Type::Object)
                .description(Some("What would mend a finding, and whether it was tried out."));
            with_fields_of(with_fields_of(empty.build(), Remedy::schema()), Trial::schema()).into()
        }
    }

    impl ToSchema for PlanRemedy {
        fn name() -> Cow<'static, str> {
            Cow::Borrowed("PlanRemedy")
        }
    }

    impl PartialSchema for PlanFinding {
        fn schema() -> RefOr<Schema> {
            let question = ObjectBuilder::new()
                .schema_type(Type::String)
                .description(Some("Who found it: `flow-balance`, `heat-budget`, `fill-level` or `floor`."));
            let first_s = ObjectBuilder::new()
                .schema_type(Type::Number)
                .format(Some(SchemaFormat::KnownFormat(KnownFormat::Double)))
                .description(Some("When it first shows, in s from time zero; absent where it is of no moment."));
            let remedy = RefBuilder::new()
                .ref_location_from_schema_name(PlanRemedy::name())
                .description(Some("What amount of what would mend it."));
            let also = ArrayBuilder::new()
                .items(RefBuilder::new().ref_location_from_schema_name(AlsoFound::name()))
                .description(Some("What else was found that has the same cause."));
            let head = ObjectBuilder::new()
                .schema_type(Type::Object)
                .description(Some("Something the reckoning found."))
                .property("question", question)
                .required("question");
            let mut found = with_fields_of(head.build(), Finding::<PlanRemedy>::schema());
            let fields = &mut found.properties;
            let place = fields.get_index_of("value").unwrap_or(fields.len());
            fields.shift_insert(place, "first_s".to_owned(), first_s.into());
            fields.insert("remedy".to_owned(), remedy.into());
            fields.insert("also".to_owned(), also.into());
            found.into()
        }
    }

    impl ToSchema for PlanFinding {
        fn name() -> Cow<'static, str> {
            Cow::Borrowed("PlanFinding")
        }

        fn schemas(schemas: &mut Vec<(String, RefOr<Schema>)>) {
            Finding::<PlanRemedy>::schemas(schemas);
            schemas.push((PlanRemedy::name().into_owned(), PlanRemedy::schema()));
            schemas.push((AlsoFound::name().into_owned(), AlsoFound::schema()));
        }
    }
}
