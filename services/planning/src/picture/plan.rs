//! The view from above.

use std::f64::consts::{FRAC_PI_2, TAU};

use super::{PlanPoint, PlanView, Subject};
use acoustics::levels::{echo_level, two_way_loss, two_way_spreading};
use acoustics::units::{Angle, Db, DbPerMetre, HalfAngle, Metres, SourceLevel, TargetStrength};
use domain::{Cancel, Floor, Shelter};

/// Points around a footprint or a round floor.
const AROUND: u32 = 72;
/// Steps in which an edge is looked for, over 0 to 90°.
const SCAN_STEPS: u32 = 3_600;
/// Room around what is shown, as a part of its size.
const MARGIN: f64 = 0.06;

fn point(x: f64, y: f64) -> PlanPoint {
    PlanPoint { x: Metres::new(x), y: Metres::new(y) }
}

impl Subject<'_> {
    pub(super) fn plan(&self) -> PlanView {
        let shelter = self.prepared.input.shelter.as_ref();
        let neighbours = self.prepared.neighbours.as_ref();
        let holes: Vec<PlanPoint> = neighbours.map_or_else(
            || vec![shelter.map_or_else(|| point(0.0, 0.0), only_hole)],
            |neighbours| neighbours.holes.iter().map(|hole| point(hole.x.get(), hole.y.get())).collect(),
        );
        let own = self.prepared.worst_hole(self.spot_index, self.option_index).unwrap_or_default();
        let centre = holes.get(own).copied().unwrap_or_else(|| point(0.0, 0.0));
        let floor = shelter.map(|shelter| floor_outline(&shelter.floor));
        let watch_footprint = self.footprint(centre, 0.5 * self.figures.watch_footprint, self.watch_level());
        let coverage = self.footprint(centre, self.figures.coverage_radius, self.coverage_level());
        let hole_radius = shelter.map_or(self.spot.hole_radius, |shelter| shelter.hole_radius);
        let shown = floor.iter().flatten().chain(&watch_footprint).chain(&coverage).chain(&holes);
        let extent = extent(shown, hole_radius.get());
        PlanView { floor, holes, own, hole_radius, watch_footprint, coverage, extent }
    }

    /// One-way level down to which a fish shows at the lure's depth, at working gain.
    fn watch_level(&self) -> f64 {
        self.fish_level(self.place.lure_depth, self.figures.set_gain)
    }

    /// The same in the middle of the fish layer, at search gain.
    fn coverage_level(&self) -> f64 {
        let layer = &self.spot.fish_layer;
        self.fish_level(0.5 * (layer.top.get() + layer.bottom.get()), self.figures.coverage_gain)
    }

    /// One-way level down to which a fish at a depth shows, at a gain; positive when it shows nowhere.
    pub(super) fn fish_level(&self, depth: f64, gain: f64) -> f64 {
        let f = self.figures;
        let range = Metres::new(depth);
        let loss = two_way_loss(two_way_spreading(range), range, DbPerMetre::new(f.absorption));
        let echo =
            echo_level(SourceLevel::new(f.source_level), loss, TargetStrength::new(f.fish_strength), Db::new(0.0));
        0.5 * (f.visible(gain) - echo.get())
    }

    /// A footprint with the given mean radius: a circle for a round beam, else the beam's own outline at that level.
    fn footprint(&self, centre: PlanPoint, radius: f64, level: f64) -> Vec<PlanPoint> {
        let pattern = &self.gear.pattern;
        let outline: Vec<(f64, f64)> = (0..AROUND)
            .map(|i| {
                let azimuth = TAU * f64::from(i) / f64::from(AROUND);
                (azimuth, if pattern.is_round() { 1.0 } else { self.edge_towards(azimuth, level) })
            })
            .collect();
        // The outline gives the shape, the figure of the finding its size.
        let square = outline.iter().map(|(_, r)| r * r).sum::<f64>() / f64::from(AROUND);
        let scale = if square > 0.0 { radius / libm::sqrt(square) } else { 0.0 };
        outline
            .into_iter()
            .map(|(azimuth, r)| {
                let r = r * scale;
                point(centre.x.get() + r * libm::cos(azimuth), centre.y.get() + r * libm::sin(azimuth))
            })
            .collect()
    }

    /// Tangent of the angle at which the level is lost towards an azimuth.
    fn edge_towards(&self, azimuth: f64, level: f64) -> f64 {
        let mut edge = 0.0;
        for step in 1..SCAN_STEPS {
            let theta = FRAC_PI_2 * f64::from(step) / f64::from(SCAN_STEPS);
            let here = self.gear.pattern.level_towards(HalfAngle::new(theta), Angle::new(azimuth)).get();
            if here + 20.0 * libm::log10(libm::cos(theta)) < level {
                break;
            }
            edge = theta;
        }
        libm::tan(edge)
    }
}

/// The hole of a shelter with one hole: as drilled, or in the middle.
fn only_hole(shelter: &Shelter) -> PlanPoint {
    crate::layout::holes(shelter, &Cancel::never())
        .ok()
        .and_then(|holes| holes.first().map(|hole| point(hole.x.get(), hole.y.get())))
        .unwrap_or_else(|| point(0.0, 0.0))
}

fn floor_outline(floor: &Floor) -> Vec<PlanPoint> {
    match *floor {
        Floor::Rectangle { length, width } => {
            let (l, w) = (length.get(), width.get());
            vec![point(0.0, 0.0), point(l, 0.0), point(l, w), point(0.0, w)]
        }
        Floor::Circle { diameter } => {
            let r = 0.5 * diameter.get();
            (0..AROUND)
                .map(|i| TAU * f64::from(i) / f64::from(AROUND))
                .map(|angle| point(r + r * libm::cos(angle), r + r * libm::sin(angle)))
                .collect()
        }
    }
}

/// Lower left and upper right corner around points, with room.
fn extent<'a>(points: impl Iterator<Item = &'a PlanPoint>, least: f64) -> (PlanPoint, PlanPoint) {
    let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for p in points {
        low = [low[0].min(p.x.get()), low[1].min(p.y.get())];
        high = [high[0].max(p.x.get()), high[1].max(p.y.get())];
    }
    let room = MARGIN * (high[0] - low[0]).max(high[1] - low[1]).max(4.0 * least) + least;
    (point(low[0] - room, low[1] - room), point(high[0] + room, high[1] + room))
}
