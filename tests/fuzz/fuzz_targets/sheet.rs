#![no_main]

#[path = "../targets.rs"]
#[allow(dead_code)] // each program takes one of them
mod targets;

libfuzzer_sys::fuzz_target!(|data: &[u8]| targets::sheet(data));
