#![no_main]

use hotwell::plan::Plan;
use hotwell::plan::inquiry::{Batch, Compare, Seek, Sweep};

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let limits = hotwell_fuzz::limits();
    let read = [
        Plan::from_json(bytes, &limits).err(),
        Compare::from_json(bytes, &limits).err(),
        Sweep::from_json(bytes, &limits).err(),
        Seek::from_json(bytes, &limits).err(),
        Batch::from_json(bytes, &limits).err(),
    ];
    read.iter().flatten().for_each(hotwell_fuzz::refused);
});
