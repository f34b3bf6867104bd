//! What the reports draw of one option at one spot, computed to scale, in metres.
//!
//! Side views are sections through the hole along the slope of the bottom: `x` to the right is up the slope, `z` is the
//! depth under the transducer. Plan views look down on the ice: `x` and `y` from the lower left corner of the floor, or
//! from the hole when fishing alone.

mod plan;
mod side;

use crate::PlanningError;
use crate::selection::{Evaluation, Perturbation, Prepared, PreparedOption, PreparedSpot};
use acoustics::units::{Db, Metres};
use domain::Spot;

/// Depths at which radii are given.
const RADII: u32 = 40;

/// Everything that is drawn of one finding.
#[derive(Debug, Clone, PartialEq)]
pub struct Picture {
    /// The section through the hole.
    pub side: SideView,
    /// The view from above.
    pub plan: PlanView,
    /// Radius in which a fish shows against depth, at search gain and at working gain.
    pub radii: Vec<RadiusAtDepth>,
}

/// A point of a section.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SectionPoint {
    /// Horizontal distance from the hole; positive up the slope.
    pub x: Metres,
    /// Depth under the transducer.
    pub z: Metres,
}

/// The section through the hole.
#[derive(Debug, Clone, PartialEq)]
pub struct SideView {
    /// The view shows `x` from minus this to plus this.
    pub half_width: Metres,
    /// The view shows depths from 0 to this.
    pub greatest_depth: Metres,
    /// Where a fish shows, at up to three gains, highest gain (widest) first.
    pub outlines: Vec<BeamOutline>,
    /// The bottom line from left to right.
    pub bottom: Vec<SectionPoint>,
    /// Boulders and logs, each a closed polygon.
    pub relief: Vec<Vec<SectionPoint>>,
    /// The stand of plants, a closed polygon.
    pub canopy: Option<Vec<SectionPoint>>,
    /// Where the bottom's own echo hides a lure under the hole, a closed polygon; empty when that is less than can be drawn.
    pub shadow: Vec<SectionPoint>,
    /// Height of that shadow over the bottom under the hole.
    pub dead_zone_height: Metres,
    /// The lure.
    pub lure: SectionPoint,
    /// Upper and lower limit of the fish layer.
    pub fish_layer: (Metres, Metres),
    /// Radius of the hole.
    pub hole_radius: Metres,
}

/// What a gain is called in a picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum GainName {
    /// Shows the lure.
    Lure,
    /// To work with.
    Working,
    /// To search with.
    Search,
    /// The highest without interference marks.
    Clear,
}

/// Where a fish shows at one gain.
#[derive(Debug, Clone, PartialEq)]
pub struct BeamOutline {
    /// Which gain.
    pub name: GainName,
    /// The gain.
    pub gain: Db,
    /// The main lobe, a closed polygon from the transducer around and back.
    pub main_lobe: Vec<SectionPoint>,
    /// Side lobes in which a fish shows again, each a closed polygon; both sides of the axis.
    pub side_lobes: Vec<Vec<SectionPoint>>,
}

/// Radius of the main lobe at one depth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RadiusAtDepth {
    /// Depth under the transducer.
    pub depth: Metres,
    /// Radius in which a fish shows at working gain.
    pub working: Metres,
    /// Radius in which a fish shows at search gain.
    pub search: Metres,
}

/// A point seen from above.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlanPoint {
    /// To the right.
    pub x: Metres,
    /// Upwards on the page.
    pub y: Metres,
}

/// The view from above.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanView {
    /// The floor of the shelter as a closed polygon; none when fishing alone.
    pub floor: Option<Vec<PlanPoint>>,
    /// Every hole, with the one that is judged.
    pub holes: Vec<PlanPoint>,
    /// Index into `holes` of the one that is judged: the worst placed.
    pub own: usize,
    /// Radius of a hole.
    pub hole_radius: Metres,
    /// Where other fish show at the lure's depth at working gain, about the judged hole, a closed polygon.
    pub watch_footprint: Vec<PlanPoint>,
    /// Where fish show on average over the fish layer at search gain, about the judged hole, a closed polygon.
    pub coverage: Vec<PlanPoint>,
    /// Lower left and upper right corner of what the view shows.
    pub extent: (PlanPoint, PlanPoint),
}

/// One finding to be drawn.
struct Subject<'a> {
    prepared: &'a Prepared,
    figures: &'a Evaluation,
    place: &'a PreparedSpot,
    gear: &'a PreparedOption,
    spot: &'a Spot,
    spot_index: usize,
    option_index: usize,
}

/// Draws the finding of one option at one spot.
///
/// # Errors
/// An index that the run does not have.
pub fn draw(prepared: &Prepared, spot: usize, option: usize) -> Result<Picture, PlanningError> {
    let figures = prepared.figures(spot, option, &Perturbation::NONE)?;
    let unknown =
        |what, given, count: usize| PlanningError::UnknownIndex { what, given, last: count.saturating_sub(1) };
    let place = prepared.places.get(spot).ok_or_else(|| unknown("spot", spot, prepared.spot_count()))?;
    let record = prepared.input.spots.get(spot).ok_or_else(|| unknown("spot", spot, prepared.spot_count()))?;
    let gear = prepared.gears.get(option).ok_or_else(|| unknown("option", option, prepared.option_count()))?;
    let subject =
        Subject { prepared, figures: &figures, place, gear, spot: record, spot_index: spot, option_index: option };
    Ok(Picture { side: subject.side(), plan: subject.plan(), radii: subject.radii() })
}

/// Everything out to the horizontal, as the square of a tangent.
const EVERYWHERE: f64 = 1.0e6;

impl Subject<'_> {
    /// Area in which a fish at a depth shows at a gain, whatever the bottom hides, as the square of a tangent.
    fn area(&self, depth: f64, gain: f64) -> f64 {
        self.gear.optics.beam.area(self.fish_level(depth, gain), EVERYWHERE)
    }

    /// Radii from near the ice to the bottom.
    fn radii(&self) -> Vec<RadiusAtDepth> {
        (1..=RADII)
            .map(|step| {
                let depth = self.place.depth * f64::from(step) / f64::from(RADII);
                let radius = |gain: f64| Metres::new(depth * libm::sqrt(self.area(depth, gain)));
                RadiusAtDepth {
                    depth: Metres::new(depth),
                    working: radius(self.figures.set_gain),
                    search: radius(self.figures.coverage_gain),
                }
            })
            .collect()
    }
}
