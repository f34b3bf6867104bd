//! Tells Cargo that a template which is added or removed is a change of this crate, and takes from the typesetter's fonts those that a page
//! can want: text in every cut, text of other scripts, formulas, figures of one width. The rest would be a tenth of the binary.

use std::error::Error;
use std::fmt::Write;
use std::path::PathBuf;
use std::{env, fs};

/// The cuts that are kept, by their names in the font itself.
const KEPT: [&str; 10] = [
    "Libertinus Serif Regular",
    "Libertinus Serif Italic",
    "Libertinus Serif Bold",
    "Libertinus Serif Bold Italic",
    "Libertinus Serif Semibold",
    "Libertinus Serif Semibold Italic",
    "NewComputerModern10-Regular",
    "NewComputerModernMath-Regular",
    "DejaVu Sans Mono",
    "DejaVu Sans Mono Bold",
];

fn main() -> Result<(), Box<dyn Error>> {
    println!("cargo:rerun-if-changed=../../report-templates");
    println!("cargo:rerun-if-changed=build.rs");
    let folder = PathBuf::from(env::var_os("OUT_DIR").ok_or("no folder to write into")?);
    let mut list = String::from("[\n");
    let mut left = KEPT.to_vec();
    for font in typst_assets::fonts() {
        let name = full_name(font)?;
        let Some(place) = left.iter().position(|kept| *kept == name) else { continue };
        let file = folder.join(left.swap_remove(place).replace(' ', "-"));
        fs::write(&file, font)?;
        writeln!(list, "    include_bytes!({file:?}).as_slice(),")?;
    }
    if !left.is_empty() {
        return Err(format!("the typesetter's fonts no longer hold {left:?}").into());
    }
    list.push_str("]\n");
    fs::write(folder.join("fonts.rs"), list)?;
    Ok(())
}

/// The full name of a font.
fn full_name(font: &[u8]) -> Result<String, Box<dyn Error>> {
    let face = ttf_parser::Face::parse(font, 0)?;
    let name = face
        .names()
        .into_iter()
        .filter(|name| name.name_id == ttf_parser::name_id::FULL_NAME)
        .find_map(|name| name.to_string());
    Ok(name.ok_or("a font without a name")?)
}
