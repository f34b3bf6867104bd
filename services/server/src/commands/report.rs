//! Reports: made, written, listed.

use std::path::Path;

use proto::v1;

use super::names::full_name;
use crate::cli::{self, LengthUnit, Look, Paper};
use crate::connect::Connection;
use crate::exit::{CliError, Outcome};
use crate::output::shown::say;
use crate::output::{count, file, json, table::Columns};

/// A report to be rendered and written.
#[derive(Clone, Copy)]
pub(super) struct Wanted<'a> {
    pub(super) source: &'a str,
    /// Empty for the usual one of what the source is.
    pub(super) template: &'a str,
    pub(super) spots: &'a [String],
    pub(super) look: &'a Look,
    pub(super) output: &'a Path,
    /// A logo that is no file of the caller's; may be empty.
    pub(super) logo: &'a [u8],
}

/// Renders a report and writes it to a file.
pub(super) async fn report(connection: &Connection, args: &cli::Report, as_json: bool) -> Outcome {
    let source = full_name(&args.source, collection_of(&args.source));
    let parts = if source.starts_with("shelterRules/") { "shelters" } else { "spots" };
    let spots: Vec<_> = args.spots.iter().map(|part| full_name(part, parts)).collect();
    let template = args.template.as_deref().unwrap_or_default();
    let wanted = Wanted { source: &source, template, spots: &spots, look: &args.look, output: &args.output, logo: &[] };
    write(connection, &wanted, as_json).await
}

/// The collection of an id by its first letter, which is that of its kind.
fn collection_of(id: &str) -> &'static str {
    // `latest` is a run, though plans begin with its letter.
    let kept = proto::COLLECTIONS.iter().find(|(_, letter)| id != "latest" && id.starts_with(*letter));
    kept.map_or("runs", |(collection, _)| collection)
}

/// Writes what a verb has just derived, where it was asked to.
pub(super) async fn print(connection: &Connection, source: &str, printed: &cli::Printed, as_json: bool) -> Outcome {
    let Some(output) = &printed.report else { return Ok(()) };
    let wanted = Wanted { source, template: "", spots: &[], look: &printed.look, output, logo: &[] };
    // The answer itself is the JSON that was asked for.
    if as_json { write_file(connection, &wanted).await.map(|_| ()) } else { write(connection, &wanted, false).await }
}

/// Renders, downloads and writes a report, and says so.
pub(super) async fn write(connection: &Connection, wanted: &Wanted<'_>, as_json: bool) -> Outcome {
    let report = write_file(connection, wanted).await?;
    if as_json {
        return json::print(&report);
    }
    say!("{}: {}, {}.", wanted.output.display(), count(report.page_count, "page"), report.name);
    Ok(())
}

pub(super) async fn write_file(connection: &Connection, wanted: &Wanted<'_>) -> Result<v1::Report, CliError> {
    let request = v1::RenderReportRequest {
        source: wanted.source.to_owned(),
        template: Some(wanted.template)
            .filter(|id| !id.is_empty())
            .map_or(String::new(), |id| full_name(id, "templates")),
        length_unit: match wanted.look.length_unit {
            Some(LengthUnit::Feet) => v1::LengthUnit::Feet,
            Some(LengthUnit::Metres) => v1::LengthUnit::Metres,
            None => v1::LengthUnit::Unspecified,
        }
        .into(),
        paper: match wanted.look.paper {
            Some(Paper::UsLetter) => v1::Paper::UsLetter,
            Some(Paper::A4) => v1::Paper::A4,
            None => v1::Paper::Unspecified,
        }
        .into(),
        spots: wanted.spots.to_vec(),
        title: wanted.look.title.clone(),
        organisation: wanted.look.organisation.clone(),
        contact: wanted.look.contact.clone(),
        language_code: wanted.look.language.clone().unwrap_or_default(),
        appendix: wanted.look.appendix,
        logo: logo(wanted)?,
    };
    let mut client = connection.reports();
    let report = client.render_report(request).await?.into_inner();
    let mut stream =
        client.download_report(v1::DownloadReportRequest { name: report.name.clone() }).await?.into_inner();
    let mut pdf = Vec::new();
    while let Some(part) = stream.message().await? {
        pdf.extend_from_slice(&part.chunk);
    }
    file::write(wanted.output, &pdf)?;
    Ok(report)
}

/// The bytes of the logo; none where there is to be none.
fn logo(wanted: &Wanted<'_>) -> Result<Vec<u8>, CliError> {
    match (&wanted.look.logo, wanted.logo) {
        (Some(file), _) => {
            std::fs::read(file).map_err(|e| CliError::Usage(format!("the logo {} cannot be read: {e}", file.display())))
        }
        (None, built_in) => Ok(built_in.to_vec()),
    }
}

/// Lists reports, newest first.
pub(super) async fn list(connection: &Connection, as_json: bool) -> Outcome {
    let mut table = Columns::new(&["report", "on", "template", "title", ">pages", ">bytes"]);
    let mut page_token = String::new();
    loop {
        let request = v1::ListReportsRequest { page_size: 200, page_token, source: String::new() };
        let page = connection.reports().list_reports(request).await?.into_inner();
        for r in &page.reports {
            if as_json {
                json::print(r)?;
                continue;
            }
            table.row([
                r.name.clone(),
                r.source.clone(),
                r.template.clone(),
                r.title.clone(),
                r.page_count.to_string(),
                r.size_bytes.to_string(),
            ]);
        }
        if page.next_page_token.is_empty() {
            break;
        }
        page_token = page.next_page_token;
    }
    if !as_json {
        table.print();
    }
    Ok(())
}
