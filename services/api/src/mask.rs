//! Field masks (AIP-134, AIP-161): which fields an update changes.

use domain::{Fault, FaultList, FaultReason};
use prost_reflect::{DynamicMessage, Kind, MessageDescriptor, ReflectMessage as _, Value};

use crate::reflect::is_managed;

/// Most paths of one mask: no message has as many fields.
const MAX_PATHS: usize = 100;

/// Changes `stored` as the mask says: the named fields take the value that `incoming` has, or none. An empty mask means
/// every field that is set; `*` the whole. Fields that the service manages stay as they are. All bad paths come back.
pub(crate) fn apply(
    paths: &[String],
    stored: &DynamicMessage,
    incoming: &DynamicMessage,
) -> Result<DynamicMessage, Vec<Fault>> {
    let descriptor = stored.descriptor();
    let mut merged = stored.clone();
    let whole = paths.iter().any(|path| path == "*");
    if whole && paths.len() > 1 {
        let message = "update_mask holds '*' beside other paths; accepted: '*' alone, or named fields; drop one";
        return Err(vec![Fault::new("update_mask", FaultReason::Contradiction, message)]);
    }
    if whole || paths.is_empty() {
        for field in descriptor.fields().filter(|field| !is_managed(field)) {
            if incoming.has_field(&field) {
                merged.set_field(&field, incoming.get_field(&field).into_owned());
            } else if whole {
                merged.clear_field(&field);
            }
        }
        return Ok(merged);
    }
    if paths.len() > MAX_PATHS {
        let message = format!(
            "update_mask has {} paths; accepted: up to {MAX_PATHS}; name each field once, or leave the mask out",
            paths.len()
        );
        return Err(vec![Fault::new("update_mask", FaultReason::OutOfRange, message)]);
    }
    let faults: FaultList = paths
        .iter()
        .enumerate()
        .filter_map(|(index, path)| check(path, &descriptor).err().map(|message| (index, message)))
        .map(|(index, message)| Fault::new(format!("update_mask.paths[{index}]"), FaultReason::Unknown, message))
        .collect();
    if !faults.is_empty() {
        return Err(faults.into_vec());
    }
    for path in paths {
        let segments: Vec<_> = path.split('.').collect();
        copy(&segments, &mut merged, Some(incoming));
    }
    Ok(merged)
}

/// Whether a path leads to a field through single messages.
fn check(path: &str, descriptor: &MessageDescriptor) -> Result<(), String> {
    let mut at = descriptor.clone();
    let mut segments = path.split('.').peekable();
    while let Some(segment) = segments.next() {
        let Some(field) = at.get_field_by_name(segment) else {
            let known: Vec<_> = at.fields().map(|field| field.name().to_owned()).collect();
            let given: String = path.chars().take(80).collect();
            return Err(format!("update_mask names '{given}'; accepted after the last dot: {}", known.join(", ")));
        };
        if segments.peek().is_none() {
            break;
        }
        match field.kind() {
            Kind::Message(inner) if !field.is_list() && !field.is_map() => at = inner,
            _ => {
                return Err(format!(
                    "update_mask goes into '{}', which is replaced whole; accepted: '{0}' itself",
                    field.name()
                ));
            }
        }
    }
    Ok(())
}

/// Copies one checked path; where the source lacks it, it is cleared.
fn copy(segments: &[&str], into: &mut DynamicMessage, from: Option<&DynamicMessage>) {
    let Some((first, rest)) = segments.split_first() else { return };
    let Some(field) = into.descriptor().get_field_by_name(first) else { return };
    if is_managed(&field) {
        return;
    }
    let given = from.filter(|from| from.has_field(&field)).map(|from| from.get_field(&field).into_owned());
    if rest.is_empty() {
        match given {
            Some(value) => into.set_field(&field, value),
            None => into.clear_field(&field),
        }
        return;
    }
    let inner = match &given {
        Some(Value::Message(inner)) => Some(inner),
        _ => None,
    };
    // Clearing a field of an absent message must not bring the message into being.
    if inner.is_none() && !into.has_field(&field) {
        return;
    }
    if let Value::Message(target) = into.get_field_mut(&field) {
        copy(rest, target, inner);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reflect::{from_dynamic, to_dynamic};
    use proto::v1;

    fn stored() -> v1::Spot {
        v1::Spot {
            name: "spots/bar".to_owned(),
            display_name: "North bar".to_owned(),
            lake: "Tarn Vesper".to_owned(),
            depth_m: 7.0,
            slope_deg: Some(4.0),
            canopy: Some(v1::Canopy { height_m: 1.0, density: 2, volume_strength_db: Some(-50.0) }),
            etag: "e1".to_owned(),
            ..v1::Spot::default()
        }
    }

    fn updated(paths: &[&str], incoming: &v1::Spot) -> Result<v1::Spot, Vec<Fault>> {
        let paths: Vec<_> = paths.iter().map(|&path| path.to_owned()).collect();
        apply(&paths, &to_dynamic(&stored()).unwrap(), &to_dynamic(incoming).unwrap())
            .map(|merged| from_dynamic(&merged).unwrap())
    }

    #[test]
    fn named_fields_change_and_no_others() {
        let incoming = v1::Spot { depth_m: 9.0, lake: "Other".to_owned(), ..v1::Spot::default() };
        assert_eq!(updated(&["depth_m"], &incoming), Ok(v1::Spot { depth_m: 9.0, ..stored() }));
    }

    #[test]
    fn a_named_field_that_is_not_given_is_cleared() {
        let expected = v1::Spot { slope_deg: None, canopy: None, ..stored() };
        assert_eq!(updated(&["slope_deg", "canopy"], &v1::Spot::default()), Ok(expected));
    }

    #[test]
    fn paths_lead_into_single_messages() {
        let incoming =
            v1::Spot { canopy: Some(v1::Canopy { height_m: 2.0, ..v1::Canopy::default() }), ..v1::Spot::default() };
        let canopy = v1::Canopy { height_m: 2.0, density: 2, volume_strength_db: None };
        let expected = v1::Spot { canopy: Some(canopy), ..stored() };
        assert_eq!(updated(&["canopy.height_m", "canopy.volume_strength_db"], &incoming), Ok(expected));
    }

    #[test]
    fn no_mask_means_every_field_that_is_set() {
        let incoming = v1::Spot { depth_m: 9.0, etag: "mine".to_owned(), ..v1::Spot::default() };
        assert_eq!(updated(&[], &incoming), Ok(v1::Spot { depth_m: 9.0, ..stored() }));
    }

    #[test]
    fn a_star_replaces_all_but_what_the_service_manages() {
        let incoming = v1::Spot { display_name: "New".to_owned(), ..v1::Spot::default() };
        let expected = v1::Spot {
            name: "spots/bar".to_owned(),
            display_name: "New".to_owned(),
            etag: "e1".to_owned(),
            ..v1::Spot::default()
        };
        assert_eq!(updated(&["*"], &incoming), Ok(expected));
    }

    #[test]
    fn every_unknown_path_is_named() {
        let faults = updated(&["depth", "canopy.colour", "relief.height_m", "depth_m.x", ""], &stored()).unwrap_err();
        let fields: Vec<_> = faults.iter().map(|fault| fault.field.as_str()).collect();
        assert_eq!(
            fields,
            [0, 1, 2, 3, 4].map(|index| format!("update_mask.paths[{index}]")).iter().collect::<Vec<_>>()
        );
        assert!(updated(&["*", "depth_m"], &stored()).is_err());
    }

    #[test]
    fn managed_fields_are_left_alone_even_when_named() {
        let incoming = v1::Spot { name: "spots/other".to_owned(), etag: "x".to_owned(), ..v1::Spot::default() };
        assert_eq!(updated(&["name", "etag", "create_time"], &incoming), Ok(stored()));
    }
}
