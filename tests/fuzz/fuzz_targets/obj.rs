#![no_main]
libfuzzer_sys::fuzz_target!(|data: &[u8]| -> libfuzzer_sys::Corpus { fuzz::obj(data) });
