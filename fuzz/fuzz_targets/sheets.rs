//! See `shaftwork_fuzz::sheets`.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| shaftwork_fuzz::sheets(data));
