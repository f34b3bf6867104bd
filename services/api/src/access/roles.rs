//! The least role of every method: in one table, but for the standard methods of records.

use catalog::Role;

use crate::reflect::has_method;
use crate::resource::names;

/// What a method asks of its caller.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Need {
    /// Nothing: whoever watches over the service may ask without a token whether it is up.
    Nothing,
    /// A token of at least this role.
    Role(Role),
}

const NOTHING: Need = Need::Nothing;
const READ: Need = Need::Role(Role::Read);
const WRITE: Need = Need::Role(Role::Write);
const ADMIN: Need = Need::Role(Role::Admin);

/// Verbs of the standard methods of records, and what they ask.
const STANDARD: [(&str, Need); 6] =
    [("Get", READ), ("List", READ), ("Create", WRITE), ("Record", WRITE), ("Update", WRITE), ("Delete", WRITE)];

/// Service, what its methods ask, the methods, but for the standard ones of records. A method that is neither here nor one of
/// those is refused to everybody; a test holds both to the descriptor set.
const TABLE: &[(&str, Need, &[&str])] = &[
    ("lakebeam.v1.CatalogService", READ, &["ExportRecords"]),
    ("lakebeam.v1.CatalogService", WRITE, &["ImportRecords"]),
    (
        "lakebeam.v1.SelectionService",
        READ,
        &[
            "GetRun",
            "ListRuns",
            "WatchRun",
            "ListFindings",
            "StreamFindings",
            "SummarizeRun",
            "ExplainFinding",
            "ExportFindings",
            "Evaluate",
            "Recommend",
        ],
    ),
    ("lakebeam.v1.SelectionService", WRITE, &["StartRun", "CancelRun", "DeleteRun"]),
    ("lakebeam.v1.RulesService", READ, &["GetShelterRules", "ListShelterRules", "LayOutShelter", "SeatPeople"]),
    ("lakebeam.v1.RulesService", WRITE, &["DeriveShelterRules", "DeleteShelterRules"]),
    (
        "lakebeam.v1.FleetService",
        READ,
        &[
            "GetFleetPlan",
            "ListFleetPlans",
            "GetUnitAssessment",
            "ListUnitAssessments",
            "GetBeamSurveyDraft",
            "GetBeamFit",
            "ListBeamFits",
        ],
    ),
    (
        "lakebeam.v1.FleetService",
        WRITE,
        &[
            "PlanFleet",
            "HandOutUnits",
            "TakeBackUnits",
            "AssessUnits",
            "DraftBeamSurvey",
            "FitBeamSurvey",
            "AdoptPattern",
            "DeleteFleetPlan",
            "DeleteUnitAssessment",
            "DeleteBeamSurveyDraft",
            "DeleteBeamFit",
        ],
    ),
    (
        "lakebeam.v1.ReportService",
        READ,
        &["GetReport", "ListReports", "DownloadReport", "ListTemplates", "CheckTemplate", "PreviewTemplate"],
    ),
    ("lakebeam.v1.ReportService", WRITE, &["RenderReport", "DeleteReport"]),
    ("lakebeam.v1.AdminService", READ, &["GetCaller"]),
    ("lakebeam.v1.AdminService", ADMIN, &["ListAuditEntries", "PurgeResults"]),
    ("grpc.health.v1.Health", NOTHING, &["Check", "Watch"]),
    ("grpc.reflection.v1.ServerReflection", READ, &["ServerReflectionInfo"]),
    ("grpc.reflection.v1alpha.ServerReflection", READ, &["ServerReflectionInfo"]),
];

/// What the method of a path such as `/lakebeam.v1.CatalogService/GetSpot` asks; none for a method that nobody may call.
#[must_use]
pub fn least_role(path: &str) -> Option<Need> {
    let (service, method) = path.strip_prefix('/')?.split_once('/')?;
    let row = TABLE.iter().find(|(of, _, methods)| *of == service && methods.contains(&method));
    row.map(|(_, need, _)| *need).or_else(|| standard(service, method))
}

/// What a standard method of a record asks, if the service has such a method.
fn standard(service: &str, method: &str) -> Option<Need> {
    let of_records = |(verb, _): &&(&str, Need)| {
        let noun = method.strip_prefix(verb);
        // `ListUnitChecks` gives messages of the type `UnitCheck`; every type has a plain plural.
        let noun = if *verb == "List" { noun.and_then(|noun| noun.strip_suffix('s')) } else { noun };
        names().any(|message| noun == Some(message))
    };
    let (_, need) = STANDARD.iter().find(of_records)?;
    has_method(service, method).then_some(*need)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    fn described() -> BTreeSet<String> {
        let pool = prost_reflect::DescriptorPool::decode(proto::FILE_DESCRIPTOR_SET).unwrap();
        let methods = pool.services().flat_map(|service| service.methods().collect::<Vec<_>>());
        methods.map(|method| format!("/{}/{}", method.parent_service().full_name(), method.name())).collect()
    }

    #[test]
    fn every_method_has_a_role_and_stands_in_one_place() {
        let rows =
            TABLE.iter().flat_map(|(service, _, methods)| methods.iter().map(move |m| format!("/{service}/{m}")));
        let rows: Vec<_> = rows.filter(|path| path.starts_with("/lakebeam.")).collect();
        let once: BTreeSet<_> = rows.iter().cloned().collect();
        assert_eq!(once.len(), rows.len(), "a method stands twice");
        let described = described();
        assert_eq!(once.difference(&described).collect::<Vec<_>>(), [""; 0], "no such methods");
        for path in &described {
            let (service, method) = path.trim_start_matches('/').split_once('/').unwrap();
            let places = usize::from(once.contains(path)) + usize::from(standard(service, method).is_some());
            assert_eq!(places, 1, "{path} stands in {places} places: the table, or the standard methods of records");
        }
    }

    #[test]
    fn what_only_looks_needs_to_read_and_nothing_else_does() {
        // Names say what a method does (AIP-131 to 136); these compute or check, and store nothing.
        let storing_nothing =
            ["Evaluate", "Recommend", "LayOutShelter", "SeatPeople", "CheckTemplate", "PreviewTemplate"];
        let looking = ["Get", "List", "Export", "Watch", "Stream", "Summarize", "Explain", "Download"];
        for path in described() {
            let method = path.rsplit('/').next().unwrap();
            let looks = looking.iter().any(|verb| method.starts_with(verb)) || storing_nothing.contains(&method);
            let expected = if path.contains("AdminService") && method != "GetCaller" {
                Role::Admin
            } else if looks {
                Role::Read
            } else {
                Role::Write
            };
            assert_eq!(least_role(&path), Some(Need::Role(expected)), "{path}");
        }
    }

    #[test]
    fn a_method_that_is_not_in_the_table_has_no_role() {
        for path in [
            "",
            "/",
            "/lakebeam.v1.CatalogService/",
            "/lakebeam.v1.CatalogService/Nothing",
            "/lakebeam.v1.CatalogService/GetBooking",
            "/lakebeam.v1.FleetService/CreateUnitCheck",
            "/lakebeam.v1.Nothing/GetSpot",
            "lakebeam",
            "/a/b/c",
        ] {
            assert_eq!(least_role(path), None, "{path}");
        }
    }
}
