//! Tells Cargo that a template which is added or removed is a change of this crate.

fn main() {
    println!("cargo:rerun-if-changed=../../report-templates");
}
