#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    dryturn_fuzz::bodies::rig_plan(bytes);
});
