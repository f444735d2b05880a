//! The head that all answers have in common, before the figures of their question.

use serde::Serialize;

use super::{Finding, Verdict};
use crate::plan::Plan;
use crate::plan::inquiry::Question;

/// The figures of a question, and what is known of that question wherever answers are told. They are written after the head,
/// as one object with it.
pub trait Figures: Serialize + Sized {
    /// What it finds.
    type Finding: Serialize + Into<Finding>;

    /// The name of the question, as in the path: `flow-balance`.
    const QUESTION: &'static str;
    /// Its title.
    const TITLE: &'static str;
    /// What it answers, in one sentence.
    const SAYS: &'static str;
    /// What the parts of the head mean here.
    const HEAD: HeadMeans = HeadMeans::USUAL;
}

/// The answer to a question: the head, then the figures.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Answer<F: Figures> {
    /// Always [`Figures::QUESTION`].
    pub question: &'static str,
    /// The version of the engine that reckoned.
    pub engine: &'static str,
    /// What was asked of each plan, where several are reckoned.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub of: Option<&'static str>,
    /// What the author calls the plan.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub title: Option<String>,
    /// How the plan turns out.
    pub verdict: Verdict,
    /// The answer in one line of at most 400 bytes.
    pub say: String,
    /// What was found, the heaviest first.
    pub findings: Vec<F::Finding>,
    /// The arithmetic in order, ready to read aloud.
    pub working: Vec<String>,
    /// What the question reckons.
    #[serde(flatten)]
    pub figures: F,
}

impl<F: Figures> Answer<F> {
    /// The name of the question, as in the path.
    pub const QUESTION: &'static str = F::QUESTION;
    /// Its title.
    pub const TITLE: &'static str = F::TITLE;
    /// What it answers, in one sentence.
    pub const SAYS: &'static str = F::SAYS;

    /// An answer that has nothing to say yet: the line and the working are told from it.
    pub(crate) fn new(plan: &Plan, verdict: Verdict, findings: Vec<F::Finding>, figures: F) -> Self {
        Self {
            question: F::QUESTION,
            engine: env!("CARGO_PKG_VERSION"),
            of: None,
            title: plan.title.clone(),
            verdict,
            say: String::new(),
            findings,
            working: Vec::new(),
            figures,
        }
    }

    /// The same where a question is asked of a plan and of others that come of it.
    pub(crate) fn of_several(
        of: Question,
        plan: &Plan,
        verdict: Verdict,
        findings: Vec<F::Finding>,
        figures: F,
    ) -> Self {
        Self { of: Some(of.name()), ..Self::new(plan, verdict, findings, figures) }
    }
}

/// What the parts of the head mean, as the API description tells it.
#[derive(Clone, Copy, Debug)]
pub struct HeadMeans {
    /// The answer as a whole.
    pub answer: &'static str,
    /// What was asked of each plan; `None` where one plan is asked.
    pub of: Option<&'static str>,
    /// How the plan turns out.
    pub verdict: &'static str,
    /// The one line.
    pub say: &'static str,
    /// What was found.
    pub findings: &'static str,
    /// The arithmetic.
    pub working: &'static str,
}

impl HeadMeans {
    /// Where one plan is asked.
    pub const USUAL: Self = Self {
        answer: "The answer to the question. Sections are in the order of the document, which changes no figure; a field that does not \
                 apply is absent.",
        of: None,
        verdict: "How the plan turns out.",
        say: "The answer in one line of at most 400 bytes.",
        findings: "What was found, the heaviest first.",
        working: "The arithmetic in order, ready to read aloud.",
    };

    /// Where a question is asked of several plans.
    pub const OF_SEVERAL: Self = Self {
        answer: "The answer to the question.",
        of: Some("What was asked of each plan."),
        findings: "What was found, the heaviest first; `where` is a JSON pointer into the document that was sent.",
        ..Self::USUAL
    };
}

#[cfg(feature = "openapi")]
mod schema {
    use std::borrow::Cow;

    use utoipa::openapi::RefOr;
    use utoipa::openapi::schema::{ArrayBuilder, ObjectBuilder, RefBuilder, Schema, Type};
    use utoipa::{PartialSchema, ToSchema};

    use super::{Answer, Figures};
    use crate::questions::answer::Verdict;
    use crate::questions::answer::schema::with_fields_of;

    fn text() -> ObjectBuilder {
        ObjectBuilder::new().schema_type(Type::String)
    }

    impl<F> PartialSchema for Answer<F>
    where
        F: Figures + ToSchema,
        F::Finding: ToSchema,
    {
        fn schema() -> RefOr<Schema> {
            let means = F::HEAD;
            let verdict =
                RefBuilder::new().ref_location_from_schema_name(Verdict::name()).description(Some(means.verdict));
            let finding = RefBuilder::new().ref_location_from_schema_name(F::Finding::name());
            let findings = ArrayBuilder::new().items(finding).description(Some(means.findings));
            let working = ArrayBuilder::new().items(text()).description(Some(means.working));
            let mut head = ObjectBuilder::new()
                .schema_type(Type::Object)
                .description(Some(means.answer))
                .property("question", text().description(Some(format!("Always `{}`.", F::QUESTION))))
                .required("question")
                .property("engine", text().description(Some("The version of the engine that reckoned.")))
                .required("engine");
            if let Some(of) = means.of {
                head = head.property("of", text().description(Some(of))).required("of");
            }
            let head = head
                .property("title", text().description(Some("What the author calls the plan.")))
                .property("verdict", verdict)
                .required("verdict")
                .property("say", text().description(Some(means.say)))
                .required("say")
                .property("findings", findings)
                .required("findings")
                .property("working", working)
                .required("working");
            with_fields_of(head.build(), F::schema()).into()
        }
    }

    impl<F> ToSchema for Answer<F>
    where
        F: Figures + ToSchema,
        F::Finding: ToSchema,
    {
        fn name() -> Cow<'static, str> {
            F::name()
        }

        fn schemas(schemas: &mut Vec<(String, RefOr<Schema>)>) {
            for (name, schema) in [(Verdict::name(), Verdict::schema()), (F::Finding::name(), F::Finding::schema())] {
                schemas.push((name.into_owned(), schema));
            }
            F::Finding::schemas(schemas);
            F::schemas(schemas);
        }
    }
}
