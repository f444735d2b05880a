//! The plan that the benches of a whole request use.

/// A plan of 30 unit types in a chain with a side stream, as a client would write it.
pub fn plan() -> String {
    let units: Vec<_> = (0..30)
        .map(|index| {
            format!(
                r#""stage {index}": {{ "takes": {{ "stream {index}": "1.5 kg/s", "brine": "20 g/s" }}, "gives": {{ "stream {}": "1.4 kg/s", "slag": "120 g/s" }}, "draws": "{} kW" }}"#,
                index + 1,
                index + 3
            )
        })
        .collect();
    format!(
        r#"{{ "title": "thirty stages", "units": {{ {} }}, "supplies": {{ "ore": {{ "header": "stream 0", "rate": "40 kg/s" }}, "sea": {{ "header": "brine", "rate": "40 kg/s" }}, "grid": {{ "header": "power", "rate": "90 MW" }} }}, "outlets": {{ "slag": {{}} }}, "demands": {{ "store": {{ "header": "stream 30", "rate": "7 kg/s" }} }} }}"#,
        units.join(", ")
    )
}
