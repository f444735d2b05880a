//! The questions, as the description tells of them: as many as the router has.

use serde_json::{Map, Value, json};
use utoipa::ToSchema;

use super::components::{self, Schemas};
use super::examples;
use crate::http::inquiries::BatchAnswer;
use crate::plan::PlanSchema;
use crate::plan::inquiry::{BatchSchema, CompareSchema, SeekSchema, SweepSchema};
use crate::questions::answer::{Answer, Figures};
use crate::questions::compare::CompareFigures;
use crate::questions::fill_level::LevelFigures;
use crate::questions::flow_balance::FlowFigures;
use crate::questions::heat_budget::HeatFigures;
use crate::questions::seek::SeekFigures;
use crate::questions::sweep::SweepFigures;
use crate::questions::whole_plan::PlanFigures;

/// What the description says of a question.
pub struct Asked {
    /// Its name in the path.
    pub name: &'static str,
    /// Its title.
    pub title: &'static str,
    /// What it answers.
    pub says: &'static str,
    /// The schema of what is sent.
    pub document: String,
    /// Examples of it.
    pub examples: fn() -> Value,
    /// The schema of its answer.
    pub schema: String,
    /// Adds these schemas and what they refer to.
    pub gather: fn(&mut Schemas),
}

/// Those that a plan is asked.
fn plain() -> Vec<Asked> {
    let examples = examples::references;
    vec![
        inquiry::<PlanSchema, FlowFigures>(examples),
        inquiry::<PlanSchema, LevelFigures>(examples),
        inquiry::<PlanSchema, HeatFigures>(examples),
        inquiry::<PlanSchema, PlanFigures>(examples),
    ]
}

/// All of them.
pub fn all() -> Vec<Asked> {
    let mut all = plain();
    all.push(inquiry::<CompareSchema, CompareFigures>(examples::compare));
    all.push(inquiry::<SweepSchema, SweepFigures>(examples::sweep));
    all.push(inquiry::<SeekSchema, SeekFigures>(examples::seek));
    all.push(Asked {
        name: "batch",
        title: BatchAnswer::TITLE,
        says: BatchAnswer::SAYS,
        document: BatchSchema::name().into_owned(),
        examples: examples::batch,
        schema: "BatchAnswer".to_owned(),
        gather: components::gather::<BatchSchema>,
    });
    all
}

fn inquiry<D, F>(examples: fn() -> Value) -> Asked
where
    D: ToSchema,
    F: Figures + ToSchema,
    F::Finding: ToSchema,
{
    Asked {
        name: F::QUESTION,
        title: F::TITLE,
        says: F::SAYS,
        document: D::name().into_owned(),
        examples,
        schema: F::name().into_owned(),
        gather: |schemas| {
            components::gather::<D>(schemas);
            components::gather::<Answer<F>>(schemas);
        },
    }
}

/// The schemas of a batch's answer: an answer of any question, or a problem.
pub fn batch() -> Vec<(String, Value)> {
    let answers: Vec<Value> =
        plain().iter().map(|asked| json!({"$ref": format!("#/components/schemas/{}", asked.schema)})).collect();
    let mapping: Map<String, Value> = plain()
        .iter()
        .map(|asked| (asked.name.to_owned(), json!(format!("#/components/schemas/{}", asked.schema))))
        .collect();
    vec![
        (
            // What is wrong with one question is no matter to another: it is told in its own place.
            "BatchEntry".to_owned(),
            json!({"description": "A question of a batch.", "anyOf": [{"$ref": "#/components/schemas/BatchItem"},
                {"description": "Anything else, which is answered with what is wrong with it."}]}),
        ),
        (
            "BatchAnswer".to_owned(),
            json!({"type": "object", "description": "What comes of each question of a batch.",
            "required": ["question", "engine", "verdict", "say", "items"],
            "properties": {
                "question": {"type": "string", "description": "Always `batch`."},
                "engine": {"type": "string", "description": "The version of the engine that reckoned."},
                "verdict": {"$ref": "#/components/schemas/Verdict",
                    "description": "The worst of all; a question without an answer fails."},
                "say": {"type": "string", "description": "How many turn out how, in one line of at most 400 bytes."},
                "items": {"type": "array", "items": {"$ref": "#/components/schemas/BatchOutcome"},
                    "description": "One for each question, in their order."},
            }}),
        ),
        (
            "BatchOutcome".to_owned(),
            json!({"type": "object", "required": ["status"],
            "description": "Either `answer` or `problem`, as it is when the question is asked alone; only the pointers of \
                faults lead into the batch.",
            "properties": {
                "status": {"type": "integer", "minimum": 200, "maximum": 599, "description": "The HTTP status."},
                "answer": {"$ref": "#/components/schemas/AnyAnswer"},
                "problem": {"$ref": "#/components/schemas/Problem"},
            }}),
        ),
        (
            "AnyAnswer".to_owned(),
            json!({"description": "The answer to a question that a plan is asked.", "oneOf": answers,
                "discriminator": {"propertyName": "question", "mapping": mapping}}),
        ),
    ]
}
