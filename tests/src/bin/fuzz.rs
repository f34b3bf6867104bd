//! One target under the fuzzer, named by `LAKEBEAM_FUZZ_TARGET`; the arguments are those of libFuzzer. See `.ci/fuzz`.
#![no_main]

use std::sync::OnceLock;

static TARGET: OnceLock<tests::fuzz::Target> = OnceLock::new();

libfuzzer_sys::fuzz_target!(
    init: {
        let name = std::env::var("LAKEBEAM_FUZZ_TARGET").unwrap_or_default();
        let Some(target) = tests::fuzz::find(&name) else {
            eprintln!("LAKEBEAM_FUZZ_TARGET is '{name}'; accepted: {}", tests::fuzz::names().join(", "));
            std::process::exit(2);
        };
        let _ = TARGET.set(target);
    },
    |data: &[u8]| {
        if let Some(target) = TARGET.get() {
            target(data);
        }
    }
);
