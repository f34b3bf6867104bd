//! A refusal of the service in words: what is wrong field by field, then what to do.

use std::fmt::Write as _;

use tonic::{Code, Status};
use tonic_types::StatusExt as _;

/// The refusal as lines of text.
pub(crate) fn describe(status: &Status) -> String {
    let details = status.get_error_details();
    let violations = details.bad_request().map_or(&[] as &[_], |bad| &bad.field_violations);
    // What the message has said already is not said twice: a lone fault stands in it, its field by its full name.
    let lone = match violations {
        [one] => said_once(status.message(), &one.field, &one.description),
        _ => None,
    };
    let mut text = format!("lakebeam: {}\n", lone.as_deref().unwrap_or(status.message()));
    for violation in violations.iter().filter(|_| lone.is_none()) {
        let _ = writeln!(text, "  {}: {}", violation.field, violation.description);
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

/// A message that ends with its only fault, with the full name of the field in place of its last part; none of another one.
fn said_once(message: &str, field: &str, description: &str) -> Option<String> {
    let head = message.strip_suffix(description)?;
    if description.contains(field) {
        return Some(message.to_owned());
    }
    let (name, rest) = description.split_once(' ')?;
    field.ends_with(name).then(|| format!("{head}{field} {rest}"))
}

/// Whether the refusal is that nothing was there to work on.
fn empty(details: &tonic_types::ErrorDetails) -> bool {
    details.error_info().is_some_and(|info| info.reason == "EMPTY_BATCH")
}

#[cfg(test)]
mod tests {
    use super::said_once;

    #[test]
    fn a_lone_fault_is_said_once_with_its_field_in_full() {
        let depth = "depth_m is 600; accepted: 0.5 to 200 m";
        let message = format!("1 field is refused: {depth}");
        let told = said_once(&message, "spots[0].depth_m", depth).unwrap();
        assert_eq!(told, "1 field is refused: spots[0].depth_m is 600; accepted: 0.5 to 200 m");
        assert_eq!(said_once(&message, "depth_m", depth).unwrap(), message);
        assert_eq!(said_once("1 field is refused", "depth_m", depth), None);
        assert_eq!(said_once(&message, "spots[0].name", depth), None);
    }
}
