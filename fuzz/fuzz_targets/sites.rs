//! See `shaftwork_fuzz::sites`.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| shaftwork_fuzz::sites(data));
