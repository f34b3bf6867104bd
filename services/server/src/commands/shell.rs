//! Completions and manual pages.

use clap::CommandFactory as _;

use crate::cli::{Cli, Completions, Man};
use crate::exit::{CliError, Outcome};

/// Prints completions for a shell.
pub(super) fn completions(args: &Completions) -> Outcome {
    clap_complete::generate(args.shell, &mut Cli::command(), "lakebeam", &mut std::io::stdout());
    Ok(())
}

/// Writes manual pages to a folder.
pub(super) fn man(args: &Man) -> Outcome {
    let fail = |e: std::io::Error| CliError::Usage(format!("{} cannot be written: {e}", args.dir.display()));
    std::fs::create_dir_all(&args.dir).map_err(fail)?;
    clap_mangen::generate_to(Cli::command(), &args.dir).map_err(fail)?;
    println!("The manual pages are in {}; read one with: man -l {}/lakebeam.1", args.dir.display(), args.dir.display());
    Ok(())
}
