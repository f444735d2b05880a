#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| hotwell_fuzz::ask::<hotwell::questions::whole_plan::PlanFigures>(bytes));
