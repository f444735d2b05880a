#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| hotwell_fuzz::ask::<hotwell::questions::fill_level::LevelFigures>(bytes));
