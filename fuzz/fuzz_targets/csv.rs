//! See `shaftwork_fuzz::csv`.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| shaftwork_fuzz::csv(data));
