//! A spot in numbers: everything about it that does not depend on the option.

use acoustics::ModelError;
use acoustics::levels::source_level;
use acoustics::units::{Db, MetresPerSecond, Watts};
use acoustics::water::WaterColumn;

use domain::selection::Settings;
use domain::{BottomClass, Spot};

/// Nodes and weights of Gauss and Legendre's rule of six points on [0, 1] (Abramowitz and Stegun 1964, table 25.4):
/// coverage is smooth over the layer, so six depths stand for all.
const LAYER_RULE: [(f64, f64); 6] = [
    (0.033_765_242_898_423_98, 0.085_662_246_189_585_18),
    (0.169_395_306_766_867_74, 0.180_380_786_524_069_3),
    (0.380_690_406_958_401_56, 0.233_956_967_286_345_52),
    (0.619_309_593_041_598_4, 0.233_956_967_286_345_52),
    (0.830_604_693_233_132_3, 0.180_380_786_524_069_3),
    (0.966_234_757_101_576, 0.085_662_246_189_585_18),
];

/// A spot in numbers; SI, radians.
#[derive(Debug, Clone, Copy)]
pub(crate) struct PreparedSpot {
    /// Which bottom table serves.
    pub(crate) bottom: BottomClass,
    pub(crate) depth: f64,
    /// 40 lg d.
    pub(crate) depth_spreading: f64,
    pub(crate) slope: f64,
    /// Distance of the bottom plane, d cos α, and its logarithm.
    pub(crate) plane: f64,
    pub(crate) plane_logarithm: f64,
    /// Lean of the transducer up the slope, which is where the lure hangs, and across it, radians.
    pub(crate) lean: [f64; 2],
    /// Mean sound speed, and its logarithm.
    pub(crate) speed: f64,
    pub(crate) speed_logarithm: f64,
    /// Source level of one acoustic watt without directivity, dB re 1 µPa m.
    pub(crate) watt_level: f64,
    pub(crate) lure_height: f64,
    pub(crate) lure_depth: f64,
    /// 40 lg of that depth.
    pub(crate) lure_depth_spreading: f64,
    pub(crate) lure_offset: f64,
    /// Slant range to the lure.
    pub(crate) lure_range: f64,
    /// 40 lg of that range.
    pub(crate) lure_spreading: f64,
    /// Angle of the lure from the vertical.
    pub(crate) lure_angle: f64,
    /// Depths over the fish layer.
    pub(crate) layer: [LayerNode; 6],
    pub(crate) fish_per_m3: f64,
    /// Depth of the top of the plants; infinite without.
    pub(crate) canopy_top: f64,
}

/// One depth of the fish layer.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct LayerNode {
    pub(crate) depth: f64,
    pub(crate) weight: f64,
    /// 40 lg z.
    pub(crate) spreading: f64,
}

impl PreparedSpot {
    /// A spot as it is recorded.
    pub(crate) fn new(spot: &Spot, settings: &Settings) -> Result<Self, ModelError> {
        let column = water(spot);
        let speed = column.mean_sound_speed()?;
        let watt_level = source_level(Watts::new(1.0), 1.0, Db::new(0.0), column.mean_density()?, speed)?;
        let offset = settings.lure_offset.unwrap_or(spot.hole_radius);
        let upright = Self::with_depth(spot, offset.get(), spot.depth.get(), speed, watt_level.get());
        Ok(Self { lean: settings.lean.parts(), ..upright })
    }

    /// The same spot at another depth, as a draw of the uncertainty has it: the fish layer moves in proportion, the lure
    /// keeps its height over the bottom, as a lure is let down to the bottom and lifted.
    pub(crate) fn moved(&self, spot: &Spot, depth: f64) -> Self {
        let speed = MetresPerSecond::new(self.speed);
        Self { lean: self.lean, ..Self::with_depth(spot, self.lure_offset, depth, speed, self.watt_level) }
    }

    fn with_depth(spot: &Spot, lure_offset: f64, depth: f64, speed: MetresPerSecond, watt_level: f64) -> Self {
        let stretch = depth / spot.depth.get();
        let (top, bottom) = (spot.fish_layer.top.get() * stretch, spot.fish_layer.bottom.get() * stretch);
        let layer = LAYER_RULE.map(|(share, weight)| {
            let z = top + (bottom - top) * share;
            LayerNode { depth: z, weight, spreading: 40.0 * libm::log10(z) }
        });
        // A lure that hangs higher than a drawn depth would be in the ice: it stays a tenth of the depth under it, or as near as it is recorded.
        let highest = (spot.lure_height.get() / spot.depth.get()).max(0.9);
        let lure_height = spot.lure_height.get().min(highest * depth);
        let lure_depth = depth - lure_height;
        let lure_range = libm::hypot(lure_depth, lure_offset);
        let depth_spreading = 40.0 * libm::log10(depth);
        let plane = depth * libm::cos(spot.slope.get());
        Self {
            bottom: spot.bottom,
            depth,
            depth_spreading,
            slope: spot.slope.get(),
            plane,
            plane_logarithm: libm::log10(plane),
            lean: [0.0; 2],
            speed: speed.get(),
            speed_logarithm: libm::log10(speed.get()),
            watt_level,
            lure_height,
            lure_depth,
            lure_depth_spreading: 40.0 * libm::log10(lure_depth),
            lure_offset,
            lure_range,
            lure_spreading: 40.0 * libm::log10(lure_range),
            lure_angle: libm::atan2(lure_offset, lure_depth),
            layer,
            fish_per_m3: spot.fish_layer.per_cubic_metre,
            canopy_top: spot.canopy.map_or(f64::INFINITY, |canopy| (depth - canopy.height.get()).max(0.0)),
        }
    }
}

/// The water under a spot: 0 °C at the ice, the recorded temperature at the bottom.
pub(crate) fn water(spot: &Spot) -> WaterColumn {
    WaterColumn { salinity: spot.salinity, ph: spot.ph, ..WaterColumn::under_ice(spot.depth, spot.bottom_temperature) }
}
