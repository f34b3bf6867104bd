//! Has the linker pack the table of addresses that a program moves at its start: a tenth of its size, and nothing lost.

use std::env;

fn main() {
    println!("cargo:rerun-if-changed=build.rs");
    let target = |part: &str| env::var(format!("CARGO_CFG_TARGET_{part}")).unwrap_or_default();
    if target("OS") == "linux" && target("ENV") == "gnu" {
        println!("cargo:rustc-link-arg-bins=-Wl,-z,pack-relative-relocs");
    }
}
