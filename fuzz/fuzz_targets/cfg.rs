//! See `shaftwork_fuzz::cfg`.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| shaftwork_fuzz::cfg(data));
