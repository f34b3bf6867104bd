//! A refusal of the service in words: what is wrong field by field, then what to do.

use std::fmt::Write as _;

use tonic::{Code, Status};
use tonic_types::StatusExt as _;

/// The refusal as lines of text.
pub(crate) fn describe(status: &Status) -> String {
    let mut text = format!("lakebeam: {}\n", status.message());
    let details = status.get_error_details();
    if let Some(bad) = details.bad_request() {
        // A lone fault that the message has said already, its field by name, is not said twice.
        let said = |field: &str, text: &str| text.contains(field) && status.message().ends_with(text);
        for violation in bad.field_violations.iter().filter(|one| !said(&one.field, &one.description)) {
            let _ = writeln!(text, "  {}: {}", violation.field, violation.description);
        }
    }
    if let Some(failed) = details.precondition_failure() {
        for violation in &failed.violations {
            let _ = writeln!(text, "  {}: {}", violation.subject, violation.description);
        }
    }
    if let Some(request) = details.request_info().filter(|_| status.code() == Code::Internal) {
        let _ = writeln!(text, "  request {}", request.request_id);
    }
    let retry = details.retry_info().and_then(|r| r.retry_delay);
    let next = match (status.code(), retry) {
        (_, Some(delay)) => format!("The service is busy; try again in {:.1} s.", delay.as_secs_f64()),
        (Code::NotFound, _) => "`lakebeam list sensors`, `list spots`, `list shelters`, `list targets`, `list goals` and `lakebeam runs` show what there is.".to_owned(),
        _ if empty(&details) => "Nothing stored yet? `lakebeam import sensors.csv spots.csv targets.csv` brings files in, `lakebeam columns sensors` starts one, and \
            `lakebeam demo` shows invented ones."
            .to_owned(),
        (Code::Unauthenticated, _) => "A token is made where the database lies: `lakebeam token add NAME --role read`.".to_owned(),
        (Code::Aborted, _) => "Read the record again, repeat the change, and send it with the new etag.".to_owned(),
        (Code::DeadlineExceeded, _) => "It took longer than allowed; try with fewer spots or options.".to_owned(),
        (Code::Internal, _) => "This is a fault of lakebeam; its log has more under the id above.".to_owned(),
        _ => return text,
    };
    let _ = writeln!(text, "{next}");
    text
}

/// Whether the refusal is that nothing was there to work on.
fn empty(details: &tonic_types::ErrorDetails) -> bool {
    details.error_info().is_some_and(|info| info.reason == "EMPTY_BATCH")
}
