//! Two units over a bottom: how their beams hang, how the bottom lies, and what it scatters from one to the other.

use std::f64::consts::PI;
use std::sync::{Arc, LazyLock};

use super::axis::real;
use super::curve::{Curve, Ring, curve_of};
use crate::bottom::BistaticScatter;
use crate::pattern::Pattern;
use crate::units::Angle;

/// Rings of equal path length.
const RINGS: usize = 160;
/// Distance of the outermost ring from the mirror point, abreast of the units, over the depth (tan 80°); they stand evenly within the second
/// figure and ever farther apart beyond it.
const RING_MAX: f64 = 5.67;
const RING_BEND: f64 = 0.15;
/// Points around a ring: the middle rule gains digits fast on a closed curve. Each a multiple of four, so that a quarter is whole.
const AROUND: [u16; 8] = [16, 24, 32, 48, 64, 96, 128, 192];
/// Points for each half angle of the narrower beam that a ring passes beside the axes: what it takes to follow lobes. More than this the cases of tests/interference.rs and
/// tests/reference/scatter.json do not show.
const POINTS_PER_EDGE: f64 = 1.2;
/// The farthest that a slope may lift the bottom under the nearer of two units, as a part of the depth between them: no lake slopes on
/// until it meets the ice.
const MOST_RISE: f64 = 0.8;
/// The steepest that a bottom looks after bounces, radians.
const STEEPEST: f64 = 60.0 * PI / 180.0;

type Vector = [f64; 3];

fn dot(a: &Vector, b: &Vector) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

fn plus(a: &Vector, factor: f64, b: &Vector) -> Vector {
    [a[0] + factor * b[0], a[1] + factor * b[1], a[2] + factor * b[2]]
}

/// A beam as it hangs: x from one unit to the other, z down.
#[derive(Debug, Clone)]
pub struct HungBeam {
    pattern: Arc<Pattern>,
    /// Directions of the aperture's two sides, and of the axis.
    sides: [Vector; 2],
    axis: Vector,
}

impl HungBeam {
    /// Straight down, with its first side along the line between the units.
    #[must_use]
    pub fn upright(pattern: Arc<Pattern>) -> Self {
        Self::new(pattern, Angle::new(0.0), Angle::new(0.0))
    }

    /// With its first side turned by a heading from the line to the other unit, and leaning along that line: towards +x, from talker to listener.
    #[must_use]
    pub fn new(pattern: Arc<Pattern>, heading: Angle, lean: Angle) -> Self {
        let (along, across) = (libm::cos(heading.get()), libm::sin(heading.get()));
        let (over, down) = (libm::sin(lean.get()), libm::cos(lean.get()));
        Self {
            pattern,
            sides: [[along * down, across, -along * over], [-across * down, along, across * over]],
            axis: [over, 0.0, down],
        }
    }

    /// One-way intensity towards `way`, a vector of length `range`, relative to the axis.
    fn power(&self, way: &Vector, range: f64) -> f64 {
        let over = 1.0 / range;
        if dot(way, &self.axis) < -1e-9 * range {
            return self.pattern.floor_power();
        }
        self.pattern.power_towards(dot(way, &self.sides[0]) * over, dot(way, &self.sides[1]) * over)
    }

    /// One-way level along the line between the units, dB.
    pub(super) fn level_abeam(&self, towards: f64) -> f64 {
        10.0 * libm::log10(self.power(&[towards, 0.0, 0.0], 1.0))
    }

    fn narrowest(&self) -> f64 {
        self.pattern.narrowest().reference_sine()
    }

    /// How far a beam that is not round reaches farther one way than the other, over the depth.
    fn oblong(&self) -> f64 {
        let [narrow, wide] =
            [self.pattern.narrowest(), self.pattern.widest()].map(crate::pattern::Plane::reference_sine);
        if self.pattern.is_round() { 0.0 } else { 2.0 * (wide - narrow) }
    }

    /// Whether it hangs straight down with a side along or across the line between the units, so that it is alike on both sides of both.
    fn is_square_on(&self) -> bool {
        let [x, y, _] = self.sides[0].map(f64::abs);
        self.axis == [0.0, 0.0, 1.0] && (self.pattern.is_round() || x.min(y) < 1e-12)
    }

    /// Whether another beam does the same in every direction, both square on.
    fn hangs_like(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.pattern, &other.pattern)
            && (self.pattern.is_round() || (self.sides[0][0].abs() - other.sides[0][0].abs()).abs() < 1e-12)
    }
}

/// Which parts of a ring send and hear the same.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Alike {
    Nothing,
    /// Both sides of the line between the units.
    Sides,
    /// The end of the talker and that of the listener.
    Ends,
    Both,
}

impl Alike {
    const fn parts(self) -> u16 {
        match self {
            Self::Nothing => 1,
            Self::Sides | Self::Ends => 2,
            Self::Both => 4,
        }
    }
}

/// What gives the shape of the bottom scatter between two units.
pub trait BottomScatter: std::fmt::Debug {
    /// The curve at a spacing and a pulse length, both over the depth, after so many bounces.
    fn curve(&self, bounces: u32, spacing: f64, pulse: f64, out: &mut Curve);

    /// The shortest path at a spacing after so many bounces, over the depth.
    fn first_path(&self, bounces: u32, spacing: f64) -> f64;
}

/// Two units at one depth of water over a plane bottom; the depth counts half-way between them.
///
/// On a slope of α the m-th bounce looks like one off a bottom m times as deep and m times as steep: that is how images stand in a wedge.
#[derive(Debug, Clone)]
pub struct Pair {
    talker: HungBeam,
    listener: HungBeam,
    scatter: BistaticScatter,
    slope: f64,
    uphill: f64,
}

impl Pair {
    /// Over a level bottom.
    #[must_use]
    pub fn level(talker: HungBeam, listener: HungBeam, scatter: BistaticScatter) -> Self {
        Self::sloping(talker, listener, scatter, Angle::new(0.0), Angle::new(0.0))
    }

    /// Over a bottom of that slope, which rises towards that direction from the line from talker to listener.
    #[must_use]
    pub fn sloping(
        talker: HungBeam,
        listener: HungBeam,
        scatter: BistaticScatter,
        slope: Angle,
        uphill: Angle,
    ) -> Self {
        Self { talker, listener, scatter, slope: slope.get(), uphill: uphill.get() }
    }

    /// The beam of the one that is heard.
    #[must_use]
    pub fn talker(&self) -> &HungBeam {
        &self.talker
    }

    /// The beam of the one that hears.
    #[must_use]
    pub fn listener(&self) -> &HungBeam {
        &self.listener
    }

    /// Sine of the half angle of the narrower beam.
    pub(super) fn narrowest(&self) -> f64 {
        self.talker.narrowest().min(self.listener.narrowest())
    }

    /// What part of a ring has to be summed. For beams that hang square on both sides of the line between the units are alike where the bottom is level or rises along
    /// the line, and its two ends where it is level or rises across and both beams hang alike.
    fn alike(&self) -> Alike {
        let along = self.slope == 0.0 || libm::sin(self.uphill).abs() < 1e-12;
        let across = self.slope == 0.0 || libm::cos(self.uphill).abs() < 1e-12;
        let same = self.talker.hangs_like(&self.listener);
        if !self.talker.is_square_on() || !self.listener.is_square_on() {
            return Alike::Nothing;
        }
        match (along, across && same) {
            (true, true) => Alike::Both,
            (true, false) => Alike::Sides,
            (false, true) => Alike::Ends,
            (false, false) => Alike::Nothing,
        }
    }

    /// What arrives at the path length of each ring.
    pub(super) fn rings(&self, bounces: u32, spacing: f64) -> Vec<Ring> {
        let scene = Scene::new(self, bounces, spacing);
        let (alike, step) = (self.alike(), libm::asinh(RING_MAX / RING_BEND) / real(RINGS));
        let share = alike.parts();
        // A ring passes lobes as far as the axes stand off the mirror point, and as far as an oblong beam is longer than broad.
        let beside = scene.farthest_axis() + self.talker.oblong().max(self.listener.oblong());
        let lobes = 2.0 * PI * POINTS_PER_EDGE / self.narrowest();
        let mut rings: Vec<Ring> = Vec::with_capacity(RINGS + 1);
        for i in 0..=RINGS {
            // The innermost ring is a point: nearly one stands for it.
            let rho = (RING_BEND * libm::sinh(step * real(i))).max(1e-4);
            let path = scene.path_abreast(rho);
            let ring = around(12.0 + lobes * rho.min(beside), share);
            let density = scene.density(path, ring, alike) * f64::from(share);
            let cumulated = rings
                .last()
                .map_or(0.0, |inner| inner.cumulated + 0.5 * (inner.density + density) * (path - inner.path));
            rings.push(Ring { path, density, cumulated });
        }
        rings
    }
}

impl BottomScatter for Pair {
    fn curve(&self, bounces: u32, spacing: f64, pulse: f64, out: &mut Curve) {
        *out = curve_of(&self.rings(bounces, spacing), pulse);
    }

    fn first_path(&self, bounces: u32, spacing: f64) -> f64 {
        Scene::new(self, bounces, spacing).first
    }
}

/// Sine and cosine of points around a ring, at least so many for the whole, of which one part is given; with the angle that each counts for.
fn around(wanted: f64, share: u16) -> (&'static [(f64, f64)], f64) {
    static RINGS: LazyLock<Vec<Vec<(f64, f64)>>> = LazyLock::new(|| {
        let point = |i: u16, points: u16| {
            let phi = (f64::from(i) + 0.5) * 2.0 * PI / f64::from(points);
            (libm::sin(phi), libm::cos(phi))
        };
        AROUND.iter().map(|points| (0..*points).map(|i| point(i, *points)).collect()).collect()
    });
    let index = AROUND.iter().position(|points| f64::from(*points) >= wanted).unwrap_or(AROUND.len() - 1);
    let all = RINGS.get(index).map_or(&[] as &[_], Vec::as_slice);
    let part = all.get(..all.len() / usize::from(share)).unwrap_or(all);
    (part, 2.0 * PI / real(all.len()))
}

/// Units and bottom in space, all lengths over the depth: x from talker to listener, z down from half-way between them.
struct Scene<'a> {
    pair: &'a Pair,
    /// From the talker and from the listener to the mirror point of the bottom, where the path is shortest.
    ways: [Vector; 2],
    /// Along the bottom: in the plane of the shortest path, and abreast of it.
    along: Vector,
    abreast: Vector,
    /// Heights of the units over the bottom plane, and their ranges to the mirror point.
    heights: [f64; 2],
    ranges: [f64; 2],
    /// Distances of their feet from the mirror point.
    feet: [f64; 2],
    /// How much longer rings are along than abreast, near the mirror point.
    stretch: f64,
    /// The shortest path.
    first: f64,
}

impl<'a> Scene<'a> {
    fn new(pair: &'a Pair, bounces: u32, spacing: f64) -> Self {
        let half = 0.5 * spacing;
        let towards = libm::cos(pair.uphill);
        let steepest = libm::tan((pair.slope * f64::from(bounces)).min(STEEPEST));
        let tangent = steepest.min(MOST_RISE / (half * towards.abs()).max(1e-9));
        let down = 1.0 / libm::sqrt(1.0 + tangent * tangent);
        // Upright on the bottom, into it.
        let normal = [tangent * towards * down, tangent * libm::sin(pair.uphill) * down, down];
        let units = [[-half, 0.0, 0.0], [half, 0.0, 0.0]];
        let heights = units.map(|unit| down - dot(&unit, &normal));
        let [talker, listener] = [plus(&units[0], heights[0], &normal), plus(&units[1], heights[1], &normal)];
        let between = plus(&listener, -1.0, &talker);
        let apart = libm::sqrt(dot(&between, &between));
        let level = libm::hypot(down, normal[0]);
        let along =
            if apart > 1e-9 { between.map(|part| part / apart) } else { [down / level, 0.0, -normal[0] / level] };
        let abreast = [
            normal[1] * along[2] - normal[2] * along[1],
            normal[2] * along[0] - normal[0] * along[2],
            normal[0] * along[1] - normal[1] * along[0],
        ];
        let both = heights[0] + heights[1];
        let first = libm::sqrt(apart * apart + both * both);
        let stretch = first / both;
        let feet = heights.map(|height| apart * height / both);
        let mirror = plus(&talker, feet[0], &along);
        Self {
            pair,
            ways: units.map(|unit| plus(&mirror, -1.0, &unit)),
            along,
            abreast,
            heights,
            ranges: heights.map(|height| height * stretch),
            feet,
            stretch,
            first,
        }
    }

    /// How far the farther of the two axes meets the bottom from the mirror point, about.
    fn farthest_axis(&self) -> f64 {
        let off = |way: &Vector, axis: &Vector| {
            let across = plus(way, -dot(way, axis), axis);
            libm::sqrt(dot(&across, &across))
        };
        off(&self.ways[0], &self.pair.talker.axis).max(off(&self.ways[1], &self.pair.listener.axis))
    }

    /// The path over a point that far abreast of the mirror point.
    fn path_abreast(&self, rho: f64) -> f64 {
        self.ranges.iter().map(|range| libm::sqrt(range * range + rho * rho)).sum()
    }

    /// Intensity that arrives for each unit of path length, from a part of the ring of that path.
    ///
    /// A point of the ring lies at the mirror point plus t (stretch cos φ, sin φ). With r₂² − r₁² linear in t, r₁ + r₂ = L is a quadratic in t; an
    /// area stretch · t dt dφ arrives, dt/dL the inverse of dL/dt.
    fn density(&self, path: f64, (points, angle): (&[(f64, f64)], f64), alike: Alike) -> f64 {
        let [p1, p2] = self.feet;
        let [h1, h2] = self.heights;
        let [full1, full2] = self.ranges;
        let middle = 0.5 * (path + (full2 - full1) * (full2 + full1) / path);
        let missing = (full2 - middle) * (full2 + middle);
        let mut sum = 0.0;
        for &(sine, cosine) in points {
            // The first half of a ring is one side of the line; turned by a quarter it is one end.
            let (forth, aside) = if alike == Alike::Ends { (sine, cosine) } else { (cosine, sine) };
            let (u, v) = (self.stretch * forth, aside);
            let square = u * u + v * v;
            let slope = (p1 + p2) * u / path;
            let (a, b) = (square - slope * slope, middle * slope - p2 * u);
            let t = (libm::sqrt(b * b - a * missing) - b) / a;
            let r2 = middle - slope * t;
            let r1 = path - r2;
            let grows = (p1 * u + t * square) / r1 + (t * square - p2 * u) / r2;
            let (x, y) = (t * u, t * v);
            let to = |way: &Vector| plus(&plus(way, x, &self.along), y, &self.abreast);
            let beams =
                self.pair.talker.power(&to(&self.ways[0]), r1) * self.pair.listener.power(&to(&self.ways[1]), r2);
            // The bisector of the two directions, times r₁ r₂.
            let (forth, aside, up) = ((p2 - x) * r1 - (p1 + x) * r2, y * (r1 + r2), h1 * r2 + h2 * r1);
            let tan2_beta = (forth * forth + aside * aside) / (up * up);
            let spreading = 1.0 / (r1 * r2);
            let strength = self.pair.scatter.ratio(tan2_beta, h1 * h2 * spreading);
            sum += beams * strength * spreading * spreading * t / grows;
        }
        sum * self.stretch * angle
    }
}
