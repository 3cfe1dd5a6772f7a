//! See `shaftwork_fuzz::intervals`.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| shaftwork_fuzz::intervals(data));
