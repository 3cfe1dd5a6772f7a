//! See `shaftwork_fuzz::dat`.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| shaftwork_fuzz::dat(data));
