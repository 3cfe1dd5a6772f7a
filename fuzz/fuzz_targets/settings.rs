//! See `shaftwork_fuzz::settings`.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| shaftwork_fuzz::settings(data));
