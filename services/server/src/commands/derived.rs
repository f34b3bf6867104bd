//! Listing what was derived and stored.

use prost::{Message, Name};
use proto::v1;

use super::words::words;
use crate::cli::{self, Derived};
use crate::connect::Connection;
use crate::exit::Outcome;
use crate::output::{json, table::Columns};

/// Documents in one page of a listing.
const PAGE: i32 = 200;

/// Calls a List method page by page and handles each document.
macro_rules! every {
    ($client:expr, $method:ident, $request:ident, $field:ident, $each:expr) => {{
        let mut client = $client;
        let mut page_token = String::new();
        loop {
            let page = client.$method(v1::$request { page_size: PAGE, page_token }).await?.into_inner();
            for document in &page.$field {
                $each(document)?;
            }
            if page.next_page_token.is_empty() {
                break;
            }
            page_token = page.next_page_token;
        }
    }};
}

/// Lists documents of a kind, newest first.
pub(super) async fn list(connection: &Connection, args: &cli::ListDerived, as_json: bool) -> Outcome {
    let mut table = match args.kind {
        Derived::Rules => Columns::new(&["name", ">shelters", ">options", "bottoms", "made"]),
        Derived::Plans => Columns::new(&["name", ">served", ">not served", "made"]),
        Derived::Assessments => Columns::new(&["name", ">units", ">checks", "made"]),
        Derived::Fits => Columns::new(&["name", "option", ">beamwidth °", ">tilt °", "made"]),
    };
    match args.kind {
        Derived::Rules => {
            every!(
                connection.rules(),
                list_shelter_rules,
                ListShelterRulesRequest,
                shelter_rules,
                |r: &v1::ShelterRules| {
                    each(r, as_json, &mut table, || {
                        let spec = r.spec.clone().unwrap_or_default();
                        let (shelters, options) = (spec.shelters.len().to_string(), r.options.len().to_string());
                        vec![r.name.clone(), shelters, options, bottoms(&spec), made(r.create_time.as_ref())]
                    })
                }
            );
        }
        Derived::Plans => {
            every!(connection.fleet(), list_fleet_plans, ListFleetPlansRequest, fleet_plans, |p: &v1::FleetPlan| {
                each(p, as_json, &mut table, || {
                    let (met, unmet) = (p.assignments.len().to_string(), p.unmet.len().to_string());
                    vec![p.name.clone(), met, unmet, made(p.create_time.as_ref())]
                })
            });
        }
        Derived::Assessments => {
            let client = connection.fleet();
            every!(
                client,
                list_unit_assessments,
                ListUnitAssessmentsRequest,
                unit_assessments,
                |a: &v1::UnitAssessment| {
                    each(a, as_json, &mut table, || {
                        let (units, checks) = (a.units.len().to_string(), a.readings.len().to_string());
                        vec![a.name.clone(), units, checks, made(a.create_time.as_ref())]
                    })
                }
            );
        }
        Derived::Fits => {
            every!(connection.fleet(), list_beam_fits, ListBeamFitsRequest, beam_fits, |f: &v1::BeamFit| {
                each(f, as_json, &mut table, || {
                    let figure = |estimate: Option<&v1::Estimate>| {
                        estimate.map_or_else(String::new, |estimate| format!("{:.1}", estimate.value))
                    };
                    let (width, tilt) = (figure(f.beamwidth_deg.as_ref()), figure(f.tilt_deg.as_ref()));
                    vec![f.name.clone(), f.option.clone(), width, tilt, made(f.create_time.as_ref())]
                })
            });
        }
    }
    if !as_json {
        table.print();
    }
    Ok(())
}

fn each<M: Message + Name>(
    document: &M,
    as_json: bool,
    table: &mut Columns,
    row: impl FnOnce() -> Vec<String>,
) -> Outcome {
    if as_json {
        return json::print(document);
    }
    table.row(row());
    Ok(())
}

pub(super) fn made(time: Option<&impl ToString>) -> String {
    time.map_or_else(String::new, ToString::to_string)
}

/// `BOTTOM_CLASS_SOFT_MUD` as people write it, for the listing of specs.
fn bottoms(spec: &v1::RulesSpec) -> String {
    let names: Vec<_> = spec.bottom_classes().map(|class| words("BOTTOM_CLASS_", class.as_str_name())).collect();
    names.join(", ")
}
