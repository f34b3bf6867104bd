//! Report templates: those there are, whether one compiles, how it prints, what data it gets.

use proto::v1;

use super::names::full_name;
use crate::cli::{self, Paper, TemplateStep};
use crate::connect::Connection;
use crate::exit::{CliError, Outcome};
use crate::output::shown::say;
use crate::output::{count, file, json, table::Columns};

/// Does what is asked with templates.
pub(super) async fn template(connection: &Connection, args: &cli::Template, as_json: bool) -> Outcome {
    match &args.step {
        TemplateStep::List => list(connection, as_json).await,
        TemplateStep::Check(args) => check(connection, args, as_json).await,
        TemplateStep::Preview(args) => preview(connection, args).await,
        TemplateStep::Schema(args) => schema(connection, &args.name).await,
    }
}

async fn list(connection: &Connection, as_json: bool) -> Outcome {
    let answer = connection.reports().list_templates(v1::ListTemplatesRequest {}).await?.into_inner();
    if as_json {
        return answer.templates.iter().try_for_each(json::print);
    }
    let mut table = Columns::new(&["template", "title", "reports on", "from"]);
    for t in &answer.templates {
        let from = if t.own { "your folder" } else { "built in" };
        table.row([t.name.clone(), t.title.clone(), t.source_collection.clone(), from.to_owned()]);
    }
    table.print();
    say!("Languages: {}.", answer.language_codes.join(", "));
    Ok(())
}

async fn check(connection: &Connection, args: &cli::CheckTemplate, as_json: bool) -> Outcome {
    let name = &args.name;
    let request = v1::CheckTemplateRequest {
        name: full_name(name, "templates"),
        language_code: args.language.clone().unwrap_or_default(),
    };
    let answer = connection.reports().check_template(request).await?.into_inner();
    if as_json {
        json::print(&answer)?;
    } else if answer.faults.is_empty() {
        say!("{name} compiles with its sample: {}.", count(answer.page_count, "page"));
    }
    if answer.faults.is_empty() {
        return Ok(());
    }
    if !as_json {
        for fault in &answer.faults {
            say!("{}:{}:{}: {}", fault.file, fault.line, fault.column, fault.message);
            if !fault.hint.is_empty() {
                say!("    {}", fault.hint);
            }
        }
    }
    let faults = i64::try_from(answer.faults.len()).unwrap_or(i64::MAX);
    Err(CliError::Partial(format!("{name} has {}", count(faults, "fault"))))
}

async fn preview(connection: &Connection, args: &cli::PreviewTemplate) -> Outcome {
    let request = v1::PreviewTemplateRequest {
        name: full_name(&args.name, "templates"),
        language_code: args.language.clone().unwrap_or_default(),
        paper: match args.paper {
            Some(Paper::UsLetter) => v1::Paper::UsLetter,
            Some(Paper::A4) => v1::Paper::A4,
            None => v1::Paper::Unspecified,
        }
        .into(),
    };
    let mut stream = connection.reports().preview_template(request).await?.into_inner();
    let mut pdf = Vec::new();
    while let Some(part) = stream.message().await? {
        pdf.extend_from_slice(&part.chunk);
    }
    file::write(&args.output, &pdf)?;
    say!("{}: {} with its sample.", args.output.display(), args.name);
    Ok(())
}

/// The contract follows from what a template reports on, so that it holds for one's own as well.
async fn schema(connection: &Connection, name: &str) -> Outcome {
    let wanted = full_name(name, "templates");
    let answer = connection.reports().list_templates(v1::ListTemplatesRequest {}).await?.into_inner();
    let Some(known) = answer.templates.iter().find(|template| template.name == wanted) else {
        let known: Vec<_> = answer.templates.iter().map(|t| t.name.trim_start_matches("templates/")).collect();
        return Err(CliError::Usage(format!("there is no template '{name}'; there are {}", known.join(", "))));
    };
    let Some(schema) = reports::schema(&known.source_collection) else {
        return Err(CliError::Usage(format!("this version knows no reports on {}", known.source_collection)));
    };
    say!("{schema:#}");
    Ok(())
}
