//! GPX: what is accepted survives writing and reading unchanged, and faults name their line.

use std::collections::BTreeMap;

use catalog::exchange::gpx;
use domain::SpotRecord;

use super::records::{Ids, comes_back, judged, with_defaults};

pub(crate) fn target(data: &[u8]) {
    let Some((kind, rest)) = data.split_first() else { return };
    let (defaults, file) = with_defaults(*kind, rest);
    let mut records = judged(gpx::read(file, &defaults), file, Ids::Different);
    assert!(records.iter().all(|spot| spot.latitude_deg.is_some()), "a waypoint has a position: {records:?}");
    for spot in &mut records {
        on_the_meridian(spot);
    }
    round_trip(&records);
}

/// Longitudes of the format end short of 180°; the same meridian comes back as −180°.
pub(crate) fn on_the_meridian(spot: &mut SpotRecord) {
    if spot.longitude_deg.is_some_and(|east| east >= 180.0) {
        spot.longitude_deg = Some(-180.0);
    }
}

/// Writes spots with positions and reads them.
pub(crate) fn round_trip(spots: &[SpotRecord]) {
    if spots.is_empty() {
        return;
    }
    let rows = gpx::rows(spots);
    assert!(rows.is_ok(), "{spots:?} cannot be written: {:?}", rows.err());
    let written = [gpx::head(), rows.unwrap_or_default(), gpx::tail()].concat();
    comes_back(spots, gpx::read(&written, &BTreeMap::new()), &written);
}
