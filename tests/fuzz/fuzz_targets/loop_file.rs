#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| pressroll_fuzz::loop_file(bytes));
