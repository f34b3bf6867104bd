//! Checks of a spot.

use super::{Accepted, Faults, Limit, above, within};
use crate::spot::{Canopy, Relief, Spot};
use crate::{Fault, defaults};

/// Most boulders, logs and the like.
const MAX_RELIEF: usize = 16;

impl Spot {
    /// Every fault of this record, with field paths of the public API; empty when it is sound.
    #[must_use]
    pub fn check(&self) -> Vec<Fault> {
        let mut faults = Faults::default();
        faults.name("display_name", &self.display_name);
        faults.short_text("lake", &self.lake);
        faults.notes(&self.notes);
        if let Some(position) = self.position {
            faults.number(
                "latitude_deg",
                position.latitude_deg,
                within(-90.0, 90.0, "degrees"),
                "give WGS 84 degrees, north positive",
            );
            faults.number(
                "longitude_deg",
                position.longitude_deg,
                within(-180.0, 180.0, "degrees"),
                "give WGS 84 degrees, east positive",
            );
        }
        let depth = self.depth.get();
        let depth_fine =
            faults.number("depth_m", depth, within(0.5, 200.0, "m"), "give the water depth under the hole");
        // Limits that depend on the depth are only worth checking against a depth that makes sense.
        let depth = depth_fine.then_some(depth);
        if let Some(ice) = self.ice_thickness {
            faults.number(
                "ice_thickness_m",
                ice.get(),
                within(0.0, 3.0, "m"),
                "give the reported thickness, or leave it out",
            );
        }
        faults.number(
            "slope_deg",
            self.slope.to_degrees(),
            within(0.0, 60.0, "degrees"),
            "give the slope of the bottom, 0 for flat",
        );
        if faults.count("relief", self.relief.len(), 0, MAX_RELIEF, "keep the ones nearest to the hole") {
            for (index, relief) in self.relief.iter().enumerate() {
                check_relief(&mut faults, index, relief, depth);
            }
        }
        if let Some(canopy) = &self.canopy {
            check_canopy(&mut faults, canopy, depth);
        }
        self.check_fish(&mut faults, depth);
        let lure = self.lure_height.get();
        let derived = depth.is_none() && same(lure, defaults::lure_height(self.depth).get());
        if !derived
            && faults.number("lure_height_m", lure, above(0.0, 200.0, "m"), "give the lure's height over the bottom")
        {
            below_depth(&mut faults, "lure_height_m", lure, depth, Above::Never);
        }
        faults.number(
            "hole_radius_m",
            self.hole_radius.get(),
            within(0.05, 0.5, "m"),
            "give the radius of the hole, or leave it out for 0.1 m",
        );
        faults.number(
            "bottom_temperature_c",
            self.bottom_temperature.get(),
            within(0.0, 30.0, "degrees Celsius"),
            "give the water temperature at the bottom, or leave it out for 4",
        );
        faults.number("salinity_g_kg", self.salinity.get(), within(0.0, 40.0, "g/kg"), "leave it out for fresh water");
        faults.number("ph", self.ph, within(6.0, 9.5, ""), "leave it out for 7.5");
        faults.found.into_vec()
    }

    fn check_fish(&self, faults: &mut Faults, depth: Option<f64>) {
        let layer = &self.fish_layer;
        let (top, bottom) = (layer.top.get(), layer.bottom.get());
        faults.number(
            "fish_per_m3",
            layer.per_cubic_metre,
            within(0.0, 1_000.0, "fish per cubic metre"),
            "give the density while a school is under the hole, or leave it out for 0.05",
        );
        let derived = defaults::fish_layer(self.depth);
        if depth.is_none() && same(top, derived.top.get()) && same(bottom, derived.bottom.get()) {
            return;
        }
        let advice = "depths of the layer run from the transducer downwards";
        let top_fine = faults.number("fish_layer_top_m", top, within(0.0, 200.0, "m"), advice);
        let bottom_fine = faults.number("fish_layer_bottom_m", bottom, above(0.0, 200.0, "m"), advice);
        if bottom_fine {
            below_depth(faults, "fish_layer_bottom_m", bottom, depth, Above::OrEqual);
        }
        if top_fine && bottom_fine {
            let limit = Limit { field: "fish_layer_bottom_m", value: bottom, or_equal: false };
            faults.at_most("fish_layer_top_m", top, limit, "swap them if they are the wrong way round");
        }
    }
}

/// Whether a figure is the one that a default gives; a default that follows a refused depth is no fault of its own.
fn same(given: f64, default: f64) -> bool {
    given == default || (given.is_nan() && default.is_nan())
}

/// Whether a height may reach the whole depth.
enum Above {
    Never,
    OrEqual,
}

fn below_depth(faults: &mut Faults, field: &str, value: f64, depth: Option<f64>, reach: Above) {
    if let Some(depth) = depth {
        let limit = Limit { field: "depth_m", value: depth, or_equal: matches!(reach, Above::OrEqual) };
        faults.at_most(field, value, limit, "check which of the two is wrong");
    }
}

fn check_relief(faults: &mut Faults, index: usize, relief: &Relief, depth: Option<f64>) {
    const HEIGHT: Accepted = above(0.0, 200.0, "m");
    const OFFSET: Accepted = within(0.0, 100.0, "m");
    let (height, offset) = (relief.height.get(), relief.offset.get());
    if HEIGHT.holds(height) && OFFSET.holds(offset) && depth.is_none_or(|depth| height < depth) {
        // Names of fields are put together only where one is at fault.
        return;
    }
    let height_field = format!("relief[{index}].height_m");
    if faults.number(&height_field, height, HEIGHT, "give the height over the bottom") {
        below_depth(faults, &height_field, height, depth, Above::Never);
    }
    let advice = "give the horizontal distance from the point under the hole";
    faults.number(&format!("relief[{index}].offset_m"), offset, OFFSET, advice);
}

fn check_canopy(faults: &mut Faults, canopy: &Canopy, depth: Option<f64>) {
    let height = canopy.height.get();
    if faults.number("canopy.height_m", height, above(0.0, 200.0, "m"), "give the height of the plants over the bottom")
    {
        below_depth(faults, "canopy.height_m", height, depth, Above::OrEqual);
    }
    if let Some(strength) = canopy.volume_strength {
        faults.number(
            "canopy.volume_strength_db",
            strength.get(),
            within(-80.0, 0.0, "dB re 1 m^-1"),
            "leave it out to take the value of the density class",
        );
    }
}
