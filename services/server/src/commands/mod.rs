//! One file per group of verbs; each is a client of the service.

mod advise;
mod audit;
mod backup;
mod catalog;
mod choice;
mod demo;
mod derived;
mod explain;
mod files;
mod findings;
mod fleet;
mod follow;
mod health;
mod job;
pub(crate) mod length;
mod names;
mod question;
mod records;
mod remove;
mod report;
mod rules;
mod run;
mod seats;
mod sheets;
mod shell;
mod survey;
mod template;
mod token;
mod words;

use crate::cli::{Cli, Command};
use crate::connect::Connection;
use crate::exit::Outcome;
use crate::serve;

/// Does what the command line asks.
pub(crate) async fn run(cli: Cli) -> Outcome {
    let global = cli.global;
    match cli.command {
        Command::Serve(args) => return serve::serve(&global, &args).await,
        Command::Completions(args) => return shell::completions(&args),
        Command::Man(args) => return shell::man(&args),
        Command::Columns(args) => return catalog::show_columns(&args, global.json),
        Command::JobSchema => return job::schema(),
        Command::Demo(args) => return demo::demo(&global, &args).await,
        Command::Backup(args) => return backup::backup(&global, &args).await,
        Command::Restore(args) => return backup::restore(&global, &args).await,
        Command::Health(args) => return health::health(&global, &args).await,
        Command::Token(args) => return token::token(&global, &args).await,
        _ => {}
    }
    let connection = Connection::open(&global).await?;
    let outcome = with_service(&connection, cli.command, global.json).await;
    connection.close().await;
    outcome
}

async fn with_service(connection: &Connection, command: Command, json: bool) -> Outcome {
    match command {
        Command::Import(args) => files::import(connection, &args, json).await,
        Command::Export(args) => files::export(connection, &args).await,
        Command::List(args) => catalog::list(connection, &args, json).await,
        Command::Show(args) => catalog::show(connection, &args.name).await,
        Command::Delete(args) => remove::delete(connection, &args).await,
        Command::Prune(args) => remove::prune(connection, &args, json).await,
        Command::Advise(args) => advise::advise(connection, &args, json).await,
        Command::Run(args) => run::run(connection, &args, json).await,
        Command::Runs => run::list(connection, json).await,
        Command::Watch(args) => run::watch(connection, &args.name, json).await,
        Command::Cancel(args) => run::cancel(connection, &args.name, json).await,
        Command::Findings(args) => findings::findings(connection, &args, json).await,
        Command::Explain(args) => explain::explain(connection, &args, json).await,
        Command::Rules(args) => rules::rules(connection, &args, json).await,
        Command::Layout(args) => rules::layout(connection, &args, json).await,
        Command::Seats(args) => seats::seats(connection, &args, json).await,
        Command::Plan(args) => fleet::plan(connection, &args, json).await,
        Command::HandOut(args) => fleet::hand_out(connection, &args, json).await,
        Command::TakeBack(args) => fleet::take_back(connection, &args, json).await,
        Command::Assess(args) => fleet::assess(connection, &args, json).await,
        Command::Survey(args) => survey::survey(connection, &args, json).await,
        Command::Derived(args) => derived::list(connection, &args, json).await,
        Command::Report(args) => report::report(connection, &args, json).await,
        Command::Sheets(args) => sheets::sheets(connection, &args, json).await,
        Command::Audit(args) => audit::list(connection, &args, json).await,
        Command::Reports => report::list(connection, json).await,
        Command::Template(args) => template::template(connection, &args, json).await,
        Command::Serve(_)
        | Command::Completions(_)
        | Command::Man(_)
        | Command::Columns(_)
        | Command::JobSchema
        | Command::Demo(_)
        | Command::Backup(_)
        | Command::Restore(_)
        | Command::Health(_)
        | Command::Token(_) => Ok(()),
    }
}
