//! Makes the golden calls with the generated client: `hotwell-golden ADDRESS GOLDEN`.

use std::error::Error;
use std::path::Path;
use std::process::ExitCode;

use progenitor_client::{ByteStream, Error as Failed, ResponseValue};
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::{Value, from_slice, from_value, json, to_value};

use client::{Client, types};

/// The client, generated anew by each build.
mod client {
    progenitor::generate_api!(spec = "openapi-3.0.json", interface = Builder);
}

/// What came back, read into its type and written again from it: what the type does not hold is missing here.
struct Answered {
    status: u16,
    /// As JSON, or a string of a text.
    written: Value,
    /// Of a problem, read as its type.
    faults: Vec<(Option<String>, String, Option<String>)>,
}

type Outcome<T> = Result<T, Box<dyn Error>>;

async fn bytes(mut stream: ByteStream) -> Outcome<Vec<u8>> {
    let mut all = Vec::new();
    while let Some(part) = futures_util::TryStreamExt::try_next(&mut *stream).await? {
        all.extend_from_slice(&part);
    }
    Ok(all)
}

/// A refusal is `application/problem+json`, which the generator hands on as bytes; its type is there all the same.
async fn refused(failed: Failed<ByteStream>) -> Outcome<Answered> {
    let Failed::ErrorResponse(response) = failed else { return Err(failed.to_string().into()) };
    let status = response.status().as_u16();
    let problem: types::Problem = from_slice(&bytes(response.into_inner()).await?)?;
    let mut faults: Vec<_> = problem
        .faults
        .iter()
        .map(|fault| {
            let (pointer, near) = (fault.pointer.as_ref(), fault.near.as_ref());
            (pointer.map(|at| at[..].to_owned()), fault.code[..].to_owned(), near.map(|name| name[..].to_owned()))
        })
        .collect();
    // They come in the order of the document as it was sent, which is the generator's.
    faults.sort();
    Ok(Answered { status, written: to_value(&problem)?, faults })
}

async fn typed<T: Serialize>(sent: Result<ResponseValue<T>, Failed<ByteStream>>) -> Outcome<Answered> {
    match sent {
        Ok(response) => {
            let status = response.status().as_u16();
            Ok(Answered { status, written: to_value(response.into_inner())?, faults: Vec::new() })
        }
        Err(failed) => refused(failed).await,
    }
}

async fn plain(sent: Result<ResponseValue<ByteStream>, Failed<ByteStream>>) -> Outcome<Answered> {
    match sent {
        Ok(response) => {
            let status = response.status().as_u16();
            let written = Value::String(String::from_utf8(bytes(response.into_inner()).await?)?);
            Ok(Answered { status, written, faults: Vec::new() })
        }
        Err(failed) => refused(failed).await,
    }
}

/// A document read into its type.
fn read<T: DeserializeOwned>(body: &Value) -> Outcome<T> {
    Ok(from_value(body.clone())?)
}

/// Each operation by its own typed method: none is reached by its path.
async fn ask(to: &Client, operation: &str, body: &Value, given: impl Fn(&str) -> String) -> Outcome<Answered> {
    match operation {
        "flowBalance" => typed(to.flow_balance().body(read::<types::Plan>(body)?).send().await).await,
        "flowBalanceJson" => typed(to.flow_balance_json().body(read::<types::Plan>(body)?).send().await).await,
        "flowBalanceText" => plain(to.flow_balance_text().body(read::<types::Plan>(body)?).send().await).await,
        "flowBalancePacked" => typed(to.flow_balance_packed().z(given("z")).send().await).await,
        "heatBudget" => typed(to.heat_budget().body(read::<types::Plan>(body)?).send().await).await,
        "fillLevel" => typed(to.fill_level().body(read::<types::Plan>(body)?).send().await).await,
        "plan" => typed(to.plan().body(read::<types::Plan>(body)?).send().await).await,
        "compare" => typed(to.compare().body(read::<types::CompareInquiry>(body)?).send().await).await,
        "sweep" => typed(to.sweep().body(read::<types::SweepInquiry>(body)?).send().await).await,
        "seek" => typed(to.seek().body(read::<types::SeekInquiry>(body)?).send().await).await,
        "batch" => typed(to.batch().body(read::<types::BatchInquiry>(body)?).send().await).await,
        "listSums" => typed(to.list_sums().send().await).await,
        "sumCarnotLimit" => typed(to.sum_carnot_limit().hot(given("hot")).cold(given("cold")).send().await).await,
        "sumCarnotLimitText" => {
            plain(to.sum_carnot_limit_text().hot(given("hot")).cold(given("cold")).send().await).await
        }
        "example" => typed(to.example().example(given("example")).send().await).await,
        "health" => plain(to.health().send().await).await,
        other => Err(format!("no operation {other}").into()),
    }
}

fn holds(found: &Value, wanted: &Value) -> bool {
    let most = |key| wanted[key].as_f64().unwrap_or(0.0);
    match (found.as_f64(), wanted.as_f64(), wanted["value"].as_f64()) {
        (Some(found), Some(wanted), _) => found == wanted,
        (Some(found), None, Some(value)) => {
            (found - value).abs() <= f64::max(most("tolerance"), most("relative") * value.abs())
        }
        _ => found == wanted,
    }
}

/// What of a call is not as expected.
async fn wrong(call: &Value, body: &Value, address: &str) -> Outcome<Vec<String>> {
    let client = Client::new(&format!("{address}{}", call["below"].as_str().unwrap_or("")));
    let given = |name: &str| {
        let value = call["query"].get(name).or_else(|| call["path"].get(name));
        value.and_then(Value::as_str).unwrap_or("").to_owned()
    };
    let answered = ask(&client, call["operation"].as_str().unwrap_or(""), body, given).await?;
    let expected = &call["expect"];
    if json!(answered.status) != expected["status"] {
        return Ok(vec![format!("status {}: {}", answered.status, answered.written)]);
    }
    let mut told = Vec::new();
    if let Some(start) = expected["text"].as_str()
        && !answered.written.as_str().is_some_and(|text| text.starts_with(start))
    {
        told.push(format!("text {}", answered.written));
    }
    let faults = json!(answered.faults);
    if faults != *expected.get("faults").unwrap_or(&json!([])) {
        told.push(format!("faults {faults}"));
    }
    for (pointer, wanted) in expected["figures"].as_object().into_iter().flatten() {
        match answered.written.pointer(pointer) {
            // `null` is read as `None`, and that is not written.
            None if wanted.is_null() => {}
            None => told.push(format!("{pointer} is not there")),
            Some(found) if !holds(found, wanted) => told.push(format!("{pointer} is {found} and not {wanted}")),
            Some(_) => {}
        }
    }
    Ok(told)
}

#[tokio::main(flavor = "current_thread")]
async fn main() -> Outcome<ExitCode> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [address, golden] = arguments.as_slice() else { return Err("usage: hotwell-golden ADDRESS GOLDEN".into()) };
    let calls: Vec<Value> = from_slice(&std::fs::read(golden)?)?;
    let mut failed = 0;
    for call in &calls {
        let title = call["title"].as_str().unwrap_or("");
        let body = match call["body"].as_str() {
            Some(file) => from_slice(&std::fs::read(Path::new(golden).with_file_name(file))?)?,
            None => call["body"].clone(),
        };
        let told = wrong(call, &body, address).await.unwrap_or_else(|error| vec![error.to_string()]);
        failed += usize::from(!told.is_empty());
        for fault in told {
            println!("rust: {title}: {fault}");
        }
    }
    println!("rust: {} of {} golden calls as expected", calls.len() - failed, calls.len());
    Ok(if failed == 0 { ExitCode::SUCCESS } else { ExitCode::FAILURE })
}
