//! Compiles lakebeam/v1 with a protobuf compiler in pure Rust, so that no protoc has to be installed.

use std::{env, error::Error, fs, path::PathBuf};

use prost::Message as _;

/// Where the protocol lies; every file of it is compiled.
const FOLDER: &str = "lakebeam/v1";

fn main() -> Result<(), Box<dyn Error>> {
    for dir in [FOLDER, "google/api"] {
        println!("cargo:rerun-if-changed={dir}");
    }
    let mut files =
        fs::read_dir(FOLDER)?.map(|file| Ok(file?.path())).collect::<Result<Vec<PathBuf>, std::io::Error>>()?;
    files.sort_unstable();
    let mut compiler = protox::Compiler::new(["."])?;
    compiler.include_imports(true).include_source_info(true).open_files(files)?;
    // The encoded form keeps the field_behavior extension, which the decoded prost types would drop.
    let bytes = compiler.encode_file_descriptor_set();
    let out = PathBuf::from(env::var("OUT_DIR")?).join("lakebeam.v1.fds");
    fs::write(&out, &bytes)?;
    let set = prost_types::FileDescriptorSet::decode(bytes.as_slice())?;
    let mut config = tonic_prost_build::Config::new();
    config.enable_type_names();
    config.bytes([
        ".lakebeam.v1.DownloadReportResponse.chunk",
        ".lakebeam.v1.PreviewTemplateResponse.chunk",
        ".lakebeam.v1.ImportRecordsRequest.chunk",
        ".lakebeam.v1.ExportRecordsResponse.chunk",
    ]);
    tonic_prost_build::configure().codec_path("crate::codec::BoundedCodec").compile_fds_with_config(set, config)?;
    Ok(())
}
