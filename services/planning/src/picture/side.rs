//! The section through the hole.

use std::f64::consts::FRAC_PI_2;

use super::{BeamOutline, GainName, SectionPoint, SideView, Subject};
use crate::selection::half_width;
use acoustics::levels::{two_way_loss, two_way_spreading};
use acoustics::units::{Db, DbPerMetre, HalfAngle, Metres};

/// Angles along a lobe.
const LOBE_STEPS: u32 = 96;
/// Points along an arc or around a boulder.
const ARC_STEPS: u32 = 48;
/// Steps in which lobes are told apart over 0 to 90°.
const SCAN_STEPS: u32 = 1_800;
/// A side lobe that reaches less than this part of the depth is not drawn.
const LEAST_REACH: f64 = 0.04;
/// Gains nearer than this make one outline, dB.
const SAME_GAIN: f64 = 0.05;
/// A shadow less high than this part of the depth is not drawn.
const LEAST_SHADOW: f64 = 0.002;

pub(super) fn point(x: f64, z: f64) -> SectionPoint {
    SectionPoint { x: Metres::new(x), z: Metres::new(z) }
}

impl Subject<'_> {
    pub(super) fn side(&self) -> SideView {
        let place = self.place;
        let outlines = self.outlines();
        let half_width = self.half_width(&outlines);
        let bottom = vec![
            point(-half_width, self.bottom_at(-half_width)),
            point(0.0, place.depth),
            point(half_width, self.bottom_at(half_width)),
        ];
        let greatest = bottom.iter().map(|p| p.z.get()).fold(place.depth, f64::max);
        SideView {
            half_width: Metres::new(half_width),
            greatest_depth: Metres::new(1.05 * greatest),
            relief: self.relief(),
            canopy: self.canopy(half_width),
            shadow: self.shadow(),
            dead_zone_height: Metres::new(self.figures.dead_zone_height),
            lure: point(place.lure_offset, place.lure_depth),
            fish_layer: (self.spot.fish_layer.top, self.spot.fish_layer.bottom),
            hole_radius: self.spot.hole_radius,
            outlines,
            bottom,
        }
    }

    /// Depth of the bottom plane at a distance up the slope.
    fn bottom_at(&self, x: f64) -> f64 {
        (self.place.depth - x * libm::tan(self.place.slope)).max(0.0)
    }

    /// Slant range to the bottom plane along a ray; angles are positive up the slope. Infinite where the ray never meets it.
    fn bottom_along(&self, theta: f64) -> f64 {
        let approach = libm::cos(theta) + libm::sin(theta) * libm::tan(self.place.slope);
        if approach > 0.0 { self.place.depth / approach } else { f64::INFINITY }
    }

    /// Up to three outlines, the widest first.
    fn outlines(&self) -> Vec<BeamOutline> {
        let f = self.figures;
        let search = (GainName::Search, f.search_gain);
        let top = f.clear_gain.map_or(search, |gain| (GainName::Clear, gain.clamp(0.0, f.max_gain)));
        let lure = (GainName::Lure, f.lure_gain.min(f.max_gain));
        let mut gains = vec![(GainName::Working, f.set_gain)];
        for candidate in [top, lure] {
            if gains.iter().all(|(_, gain)| (gain - candidate.1).abs() > SAME_GAIN) {
                gains.push(candidate);
            }
        }
        gains.sort_by(|a, b| b.1.total_cmp(&a.1));
        gains.into_iter().map(|(name, gain)| self.outline(name, gain)).collect()
    }

    fn outline(&self, name: GainName, gain: f64) -> BeamOutline {
        let reach = |theta: f64| self.reach(theta, gain);
        let lobes = lobes(|theta| self.level(theta));
        let mut main_lobe = Vec::new();
        let mut side_lobes = Vec::new();
        for (number, (from, to)) in lobes.into_iter().enumerate() {
            if number == 0 {
                main_lobe = self.fan(-to, to, &reach);
                continue;
            }
            let middle = (0..=LOBE_STEPS).map(|i| reach(from + (to - from) * f64::from(i) / f64::from(LOBE_STEPS)));
            if middle.fold(0.0, f64::max) > LEAST_REACH * self.place.depth {
                side_lobes.push(self.fan(from, to, &reach));
                side_lobes.push(self.fan(-to, -from, &reach));
            }
        }
        BeamOutline { name, gain: Db::new(gain), main_lobe, side_lobes }
    }

    /// One-way level of the pattern at an angle from the axis.
    fn level(&self, theta: f64) -> f64 {
        self.gear.optics.beam.best_level(theta.abs())
    }

    /// Slant range out to which a fish shows along an angle from the axis, at a gain.
    fn reach(&self, theta: f64, gain: f64) -> f64 {
        let f = self.figures;
        let budget = f.source_level + f.fish_strength + 2.0 * self.level(theta) - f.visible(gain);
        // 40 lg r + 2 α r rises with r: halve the interval until it is found.
        let (mut low, mut high) = (1.0e-3, 2.0e3);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            let range = Metres::new(middle);
            let loss = two_way_loss(two_way_spreading(range), range, DbPerMetre::new(f.absorption)).get();
            if loss <= budget { low = middle } else { high = middle }
        }
        low
    }

    /// A closed polygon from the transducer along a lobe, cut off at the bottom.
    fn fan(&self, from: f64, to: f64, reach: &impl Fn(f64) -> f64) -> Vec<SectionPoint> {
        let mut polygon = vec![point(0.0, 0.0)];
        for step in 0..=LOBE_STEPS {
            let theta = from + (to - from) * f64::from(step) / f64::from(LOBE_STEPS);
            // The section is along the slope, through lure and hole.
            let down = theta + self.place.lean[0];
            let r = reach(theta).min(self.bottom_along(down));
            polygon.push(point(r * libm::sin(down), r * libm::cos(down)));
        }
        polygon.push(point(0.0, 0.0));
        polygon
    }

    /// Half of the view's width: everything drawn, and never less than a sixth of the depth.
    fn half_width(&self, outlines: &[BeamOutline]) -> f64 {
        let lobes = outlines.iter().flat_map(|outline| outline.side_lobes.iter().flatten().chain(&outline.main_lobe));
        let widest = lobes.map(|p| p.x.get().abs()).fold(0.0, f64::max);
        let relief = self.spot.relief.iter().map(|item| item.offset.get() + item.height.get());
        // Relief that is far outside the beam is left out of the view instead of shrinking it.
        let relief = relief.filter(|x| *x < 2.0 * self.place.depth).fold(0.0, f64::max);
        1.1 * widest.min(1.5 * self.place.depth).max(relief).max(self.place.lure_offset).max(self.place.depth / 6.0)
    }

    /// Boulders and logs as half ellipses, alternately up and down the slope, tops at the depth that the model uses.
    fn relief(&self) -> Vec<Vec<SectionPoint>> {
        let mut shapes = Vec::new();
        for (index, item) in self.spot.relief.iter().enumerate() {
            let side = if index % 2 == 0 { 1.0 } else { -1.0 };
            let (x, h) = (side * item.offset.get(), item.height.get());
            let top = self.place.depth - h;
            let base = self.bottom_at(x).max(top);
            let around =
                |turn: f64, from: f64| (0..=ARC_STEPS).map(move |i| from + turn * f64::from(i) / f64::from(ARC_STEPS));
            let half = half_width(item.kind) * h;
            let shape = around(2.0 * FRAC_PI_2, 0.0)
                .map(|angle| point(x - half * libm::cos(angle), base - (base - top) * libm::sin(angle)))
                .collect();
            shapes.push(shape);
        }
        shapes
    }

    /// The stand of plants along the bottom.
    fn canopy(&self, half_width: f64) -> Option<Vec<SectionPoint>> {
        let height = self.spot.canopy?.height.get();
        let top = |x: f64| (self.bottom_at(x) - height).max(0.0);
        let [left, right] = [-half_width, half_width];
        Some(vec![
            point(left, self.bottom_at(left)),
            point(left, top(left)),
            point(right, top(right)),
            point(right, self.bottom_at(right)),
        ])
    }

    /// Between the range from which the bottom's echo covers everything and the bottom, as far as the beam shows the bottom.
    fn shadow(&self) -> Vec<SectionPoint> {
        let f = self.figures;
        if f.dead_zone_height < LEAST_SHADOW * self.place.depth {
            return Vec::new();
        }
        let range = self.place.depth - f.dead_zone_height;
        let lobe = libm::atan(libm::sqrt(self.area(self.place.depth, f.set_gain)));
        let answers = libm::acos((self.place.plane / f.plane_range).clamp(0.0, 1.0));
        let edge = answers.max(lobe).min(0.45 * std::f64::consts::PI);
        let angles: Vec<f64> =
            (0..=ARC_STEPS).map(|i| edge * (2.0 * f64::from(i) / f64::from(ARC_STEPS) - 1.0)).collect();
        let covered: Vec<f64> = angles.into_iter().filter(|theta| self.bottom_along(*theta) > range).collect();
        let arc = covered.iter().map(|theta| point(range * libm::sin(*theta), range * libm::cos(*theta)));
        let floor = covered.iter().rev().map(|theta| {
            // Far along the slope the ray meets the bottom late or never: the view ends before.
            let r = self.bottom_along(*theta).min(3.0 * self.place.depth);
            point(r * libm::sin(*theta), r * libm::cos(*theta))
        });
        arc.chain(floor).collect()
    }
}

/// The lobes of a pattern as intervals of angle between its dips, the main lobe first.
fn lobes(level: impl Fn(f64) -> f64) -> Vec<(f64, f64)> {
    let angle = |i: u32| HalfAngle::new(FRAC_PI_2 * f64::from(i) / f64::from(SCAN_STEPS)).get();
    let mut found = Vec::new();
    let mut from = 0.0;
    let mut falling = true;
    let mut before = level(0.0);
    for i in 1..SCAN_STEPS {
        let now = level(angle(i));
        if falling && now > before {
            let dip = angle(i - 1);
            found.push((from, dip));
            from = dip;
        }
        if now != before {
            falling = now < before;
        }
        before = now;
    }
    found.push((from, angle(SCAN_STEPS - 1)));
    found
}
