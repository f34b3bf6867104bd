//! Completions and manual pages.

use clap::CommandFactory as _;

use crate::cli::{Cli, Completions, Man};
use crate::exit::{CliError, Outcome};
use crate::output::shown::say;

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
    say!("The manual pages are in {}; read one with: man -l {}/lakebeam.1", args.dir.display(), args.dir.display());
    Ok(())
}

#[cfg(test)]
mod tests {
    use std::fmt::Write as _;
    use std::path::{Path, PathBuf};

    use clap::{Arg, Command, CommandFactory as _, Parser as _};

    use crate::cli::Cli;

    fn root() -> PathBuf {
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
    }

    /// The page of commands: every verb with what it does, its own flags and its examples.
    fn page() -> String {
        let mut page = String::from(
            "# Commands\n\n\
             Made from the program: `LAKEBEAM_WRITE_PAGES=1 cargo test -p server --bin lakebeam page_of_commands`.\n\n\
             Every verb but `backup`, `restore` and `token` is a client of the service; without `--server` it starts one for itself over the\n\
             database file. A name may leave out its collection (`perch-25`), and an id its end (`runs/r7`, `latest`).\n\n\
             | exit code | meaning |\n| --- | --- |\n| 0 | done |\n| 1 | the service refused; every fault is named |\n\
             | 2 | the command line or a file of yours is at fault |\n| 3 | the service cannot be reached or started |\n\
             | 4 | done in part: rows were refused, or a run was cancelled or failed |\n",
        );
        let mut cli = Cli::command();
        cli.build();
        let of_all: Vec<_> = cli.get_arguments().filter(|argument| argument.is_global_set()).collect();
        page += "\n## Flags of every verb\n\n";
        flags(&mut page, &of_all);
        for command in cli.get_subcommands() {
            section(&mut page, "lakebeam", command);
        }
        page
    }

    fn section(page: &mut String, before: &str, command: &Command) {
        let name = format!("{before} {}", command.get_name());
        if command.get_name() == "help" {
            return;
        }
        let about = command.get_about().map(ToString::to_string).unwrap_or_default();
        if command.has_subcommands() {
            return command.get_subcommands().for_each(|inner| section(page, &name, inner));
        }
        let positional: Vec<_> = command.get_positionals().map(|a| format!(" <{}>", value(a))).collect();
        let _ = write!(page, "\n## `{name}{}`\n\n{about}.\n\n", positional.concat());
        let own: Vec<_> = command.get_arguments().filter(|a| !a.is_global_set() && a.get_id() != "help").collect();
        flags(page, &own);
        if let Some(after) = command.get_after_help() {
            let _ = write!(page, "\n```text\n{}\n```\n", after.to_string().trim_end());
        }
    }

    fn flags(page: &mut String, arguments: &[&Arg]) {
        if arguments.is_empty() {
            return;
        }
        *page += "| | |\n| --- | --- |\n";
        for argument in arguments {
            let name = match argument.get_long() {
                Some(long) if argument.get_action().takes_values() => format!("--{long} {}", value(argument)),
                Some(long) => format!("--{long}"),
                None => value(argument),
            };
            let help = argument.get_help().map(ToString::to_string).unwrap_or_default();
            let possible: Vec<_> = argument.get_possible_values().iter().map(|v| v.get_name().to_owned()).collect();
            let possible = if possible.is_empty() || !argument.get_action().takes_values() {
                String::new()
            } else {
                format!(": {}", possible.join(", "))
            };
            let _ = writeln!(page, "| `{name}` | {}{possible} |", help.replace('|', "\\|"));
        }
    }

    fn value(argument: &Arg) -> String {
        argument.get_value_names().map(|names| names.join(" ")).unwrap_or_default()
    }

    #[test]
    fn the_page_of_commands_is_what_the_program_says() {
        let path = root().join("services/server/COMMANDS.md");
        let page = page();
        if std::env::var_os("LAKEBEAM_WRITE_PAGES").is_some() {
            std::fs::write(&path, &page).unwrap();
        }
        assert!(std::fs::read_to_string(&path).unwrap() == page, "COMMANDS.md is older than the program: make it anew");
    }

    /// Every `lakebeam ...` in the papers and in the help is a command line that the program takes.
    #[test]
    fn commands_that_are_shown_can_be_typed() {
        let mut shown = Vec::new();
        for paper in ["README.md", "DEVELOPERS.md", "services/server/OPERATIONS.md", "tests/MEASUREMENTS.md"] {
            let text = std::fs::read_to_string(root().join(paper)).unwrap();
            let blocks: String = text.split("```").skip(1).step_by(2).collect();
            shown.extend(commands(&blocks).map(|line| (paper.to_owned(), line)));
        }
        let mut open = vec![Cli::command()];
        while let Some(command) = open.pop() {
            let help = command.get_after_help().map(ToString::to_string).unwrap_or_default();
            shown.extend(commands(&help).map(|line| (command.get_name().to_owned(), line)));
            open.extend(command.get_subcommands().cloned());
        }
        assert!(shown.len() > 30, "only {} commands are shown", shown.len());
        let faults: Vec<_> = shown
            .iter()
            .filter_map(|(place, line)| {
                Cli::try_parse_from(words(line)).err().map(|error| format!("{place}: {line}: {error}"))
            })
            .collect();
        assert!(faults.is_empty(), "{}", faults.join("\n"));
    }

    /// The words of a command line; double quotes hold one together.
    fn words(line: &str) -> Vec<String> {
        let parts = line.split('"').enumerate();
        let words = parts.flat_map(|(index, part)| match index % 2 {
            0 => part.split_whitespace().map(str::to_owned).collect::<Vec<_>>(),
            _ => vec![part.to_owned()],
        });
        words.collect()
    }

    fn commands(text: &str) -> impl Iterator<Item = String> {
        let lines: Vec<_> = text.lines().map(|line| line.trim().trim_start_matches("Example: ").to_owned()).collect();
        lines
            .into_iter()
            .filter(|line| line.starts_with("lakebeam "))
            .map(|line| line.split(" > ").next().unwrap_or_default().split(" # ").next().unwrap_or_default().to_owned())
    }
}
