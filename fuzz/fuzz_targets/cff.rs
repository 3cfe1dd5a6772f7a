//! See `shaftwork_fuzz::cff`.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| shaftwork_fuzz::cff(data));
