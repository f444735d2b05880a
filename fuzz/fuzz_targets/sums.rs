#![no_main]

use std::borrow::Cow;

use hotwell::sums;

// The first byte chooses the sum; the rest are its parameters, one a line, in the order of the listing. An empty line leaves one
// out.
libfuzzer_sys::fuzz_target!(|input: &str| {
    let mut letters = input.chars();
    let registry = sums::registry();
    let Some(sum) = letters.next().and_then(|first| registry.get(first as usize % registry.len())) else { return };
    let pairs: Vec<(Cow<'_, str>, Cow<'_, str>)> = sum
        .parameters
        .iter()
        .zip(letters.as_str().split('\n'))
        .filter(|(_, value)| !value.is_empty())
        .map(|(parameter, value)| (parameter.name.into(), value.into()))
        .collect();
    if let Ok(answer) = sums::answer(sum, &pairs) {
        hotwell_fuzz::holds(&answer);
    }
});
