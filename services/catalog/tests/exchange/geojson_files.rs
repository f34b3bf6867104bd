//! GeoJSON (RFC 7946) outwards.

use ::geojson::{FeatureCollection, GeometryValue};
use catalog::exchange::geojson;
use domain::SpotRecord;
use proptest::prelude::*;

use crate::any;

fn written(spots: &[SpotRecord]) -> String {
    let features: Vec<_> = spots.iter().map(|spot| geojson::feature(spot, None)).collect();
    String::from_utf8([geojson::head(), features.join(geojson::BETWEEN), geojson::tail()].concat()).unwrap()
}

proptest! {
    /// Longitude stands before latitude (section 3.1.1), and a spot of no known position has no geometry (section 3.2).
    #[test]
    fn every_spot_is_a_feature_with_its_figures(spots in any::spots()) {
        let read: FeatureCollection = written(&spots).parse().unwrap();
        prop_assert_eq!(read.features.len(), spots.len());
        for (feature, spot) in read.features.iter().zip(&spots) {
            let point = feature.geometry.as_ref().map(|geometry| match &geometry.value {
                GeometryValue::Point { coordinates } => coordinates.as_slice().to_vec(),
                other => panic!("{other:?}"),
            });
            prop_assert_eq!(point, spot.longitude_deg.zip(spot.latitude_deg).map(|(east, north)| vec![east, north]));
            let number = |name: &str| feature.property(name).and_then(serde_json::Value::as_f64);
            let text = |name: &str| feature.property(name).and_then(|value| value.as_str().map(str::to_owned));
            prop_assert_eq!(number("depth_m"), spot.depth_m);
            prop_assert_eq!(number("ph"), spot.ph);
            prop_assert_eq!(number("ice_thickness_m"), spot.ice_thickness_m);
            prop_assert_eq!(text("display_name"), Some(spot.display_name.clone()));
            prop_assert_eq!(text("notes").unwrap_or_default(), spot.notes.clone());
        }
    }
}
