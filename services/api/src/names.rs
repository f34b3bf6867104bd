//! Resource names (AIP-122): `sensors/{sensor}`, `sensors/{sensor}/options/{option}`, `runs/{run}/findings/{finding}`.

use domain::{Fault, FaultReason, Id, Sensor};

/// Reads `{collection}/{id}`; the fault stands at `field`.
///
/// # Errors
/// The name is not of that form.
pub fn parse(field: &str, collection: &'static str, name: &str) -> Result<Id, Fault> {
    let form = || bad_form(field, name, &format!("{collection}/{{id}}"));
    let id = name.strip_prefix(collection).and_then(|rest| rest.strip_prefix('/')).ok_or_else(form)?;
    Id::parse(id).map_err(|_| form())
}

/// Writes `{collection}/{id}`.
#[must_use]
pub fn of(collection: &str, id: &Id) -> String {
    format!("{collection}/{id}")
}

/// Reads an id that a caller chose for a new resource.
///
/// # Errors
/// The id is not well formed.
pub fn parse_id(field: &str, id: &str) -> Result<Id, Fault> {
    Id::parse(id).map_err(|error| Fault::new(field, FaultReason::BadForm, format!("{field}: {error}")))
}

/// What an entry of `RunSpec.options` names.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum OptionName {
    /// Every option of a sensor.
    All {
        /// The sensor.
        sensor: Id,
    },
    /// One option.
    One {
        /// The sensor.
        sensor: Id,
        /// The option in it.
        option: Id,
    },
}

impl OptionName {
    /// Whether it names an option of a sensor, by its place there.
    #[must_use]
    pub fn names(&self, of: &Sensor, place: usize) -> bool {
        match self {
            Self::All { sensor } => *sensor == of.id,
            Self::One { sensor, option } => {
                *sensor == of.id && of.options.get(place).is_some_and(|known| known.id == *option)
            }
        }
    }
}

/// Reads `sensors/{sensor}` or `sensors/{sensor}/options/{option}`.
///
/// # Errors
/// The name has neither form.
pub fn parse_option(field: &str, name: &str) -> Result<OptionName, Fault> {
    let form = || bad_form(field, name, "sensors/{sensor} or sensors/{sensor}/options/{option}");
    let mut parts = name.split('/');
    let (collection, sensor) = (parts.next(), parts.next().and_then(|id| Id::parse(id).ok()));
    let (Some("sensors"), Some(sensor)) = (collection, sensor) else { return Err(form()) };
    match (parts.next(), parts.next(), parts.next()) {
        (None, ..) => Ok(OptionName::All { sensor }),
        (Some("options"), Some(option), None) => {
            Ok(OptionName::One { sensor, option: Id::parse(option).map_err(|_| form())? })
        }
        _ => Err(form()),
    }
}

/// A finding's name in its parts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FindingName {
    /// The run that it belongs to.
    pub run: Id,
    /// Where.
    pub spot: Id,
    /// With what.
    pub sensor: Id,
    /// With which of its beams.
    pub option: Id,
}

impl std::fmt::Display for FindingName {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "runs/{}/findings/{}.{}.{}", self.run, self.spot, self.sensor, self.option)
    }
}

/// Reads `runs/{run}/findings/{spot}.{sensor}.{option}`; ids hold no dots, so the parts are unambiguous.
///
/// # Errors
/// The name is not of that form.
pub fn parse_finding(field: &str, name: &str) -> Result<FindingName, Fault> {
    let read = || {
        let (run, finding) = name.strip_prefix("runs/")?.split_once("/findings/")?;
        let mut parts = finding.split('.').map(|part| Id::parse(part).ok());
        let (spot, sensor, option) = (parts.next()??, parts.next()??, parts.next()??);
        if parts.next().is_some() {
            return None;
        }
        Some(FindingName { run: Id::parse(run).ok()?, spot, sensor, option })
    };
    read().ok_or_else(|| bad_form(field, name, "runs/{run}/findings/{spot}.{sensor}.{option}"))
}

/// Whether the path of a fault begins with the name of a stored record, such as `bookings/b1.spot`.
pub(crate) fn is_stored(field: &str) -> bool {
    field.split(['.', '[']).next().is_some_and(|first| first.contains('/'))
}

fn bad_form(field: &str, given: &str, accepted: &str) -> Fault {
    let given: String = given.chars().take(120).collect();
    let reason = if given.is_empty() { FaultReason::Missing } else { FaultReason::BadForm };
    Fault::new(
        field,
        reason,
        format!(
            "{field} is '{given}'; accepted: {accepted}, each id 1 to 63 lower-case letters, digits and hyphens, a letter first and no hyphen last"
        ),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn id(text: &str) -> Id {
        Id::parse(text).unwrap()
    }

    #[test]
    fn names_read_into_their_parts() {
        assert_eq!(parse("name", "sensors", "sensors/dual-9-20"), Ok(id("dual-9-20")));
        assert_eq!(parse_option("o", "sensors/a"), Ok(OptionName::All { sensor: id("a") }));
        assert_eq!(parse_option("o", "sensors/a/options/b"), Ok(OptionName::One { sensor: id("a"), option: id("b") }));
        let finding = parse_finding("name", "runs/r1/findings/s.a.b").unwrap();
        assert_eq!(finding.to_string(), "runs/r1/findings/s.a.b");
    }

    #[test]
    fn other_names_are_refused_with_the_accepted_form() {
        for name in
            ["", "sensors", "sensors/", "spots/a", "sensors/A", "sensors/a/", "sensors/a/b", "/sensors/a", "sensors/ä"]
        {
            let fault = parse("name", "sensors", name).unwrap_err();
            assert!(fault.message.contains("sensors/{id}"), "{}", fault.message);
        }
        for name in ["", "sensors/", "sensors/a/options", "sensors/a/options/", "sensors/a/options/b/c", "spots/a"] {
            assert!(parse_option("o", name).is_err(), "{name}");
        }
        for name in
            ["", "runs/r", "runs/r/findings/a.b", "runs/r/findings/a.b.c.d", "runs/r/findings/a..c", "r/findings/a.b.c"]
        {
            assert!(parse_finding("name", name).is_err(), "{name}");
        }
    }
}
