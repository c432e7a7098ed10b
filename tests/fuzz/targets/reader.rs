#![no_main]

#[path = "../body.rs"]
#[allow(dead_code)]
mod body;

libfuzzer_sys::fuzz_target!(|data: &[u8]| {
    body::reader(&String::from_utf8_lossy(data));
});
