//! A spot as it is given.

use acoustics::units::{Angle, Celsius, GramsPerKilogram, Metres, VolumeStrength};

use super::lacks;
use crate::check::{Faults, Given, Limit};
use crate::field::{
    Accepted, Field, Holds, List, MAX_NAME_CHARS, NOT_GIVEN, Record, above, name_of, named, names, within,
};
use crate::notation;
use crate::scale::Scale;
use crate::spot::{BOTTOM_CLASSES, BOTTOM_WORDS, DENSITIES, RELIEF_KINDS};
use crate::{
    BottomClass, Canopy, CanopyDensity, Fault, FaultReason, FishLayer, Id, Position, Provenance, Relief, ReliefKind,
    Spot, defaults,
};

type ReliefField = Field<Relief>;
type SpotField = Field<SpotRecord>;

/// Depths of water that a transducer may hang over.
pub const DEPTH: Accepted = within(0.5, 200.0, "m");
/// Temperatures at the bottom that the models of water hold for.
pub const BOTTOM_TEMPERATURE: Accepted = within(0.0, 30.0, "°C");
/// Radii of holes.
pub const HOLE_RADIUS: Accepted = within(0.05, 0.5, "m");
/// Longest label.
const MAX_LABEL: usize = 60;
/// Most boulders, logs and the like.
const MAX_RELIEF: usize = 16;

/// A spot as it is given. Depths run from the transducer face at the underside of the ice.
#[derive(Debug, Clone, PartialEq)]
pub struct SpotRecord {
    /// Resource id.
    pub id: Id,
    /// Name for people.
    pub display_name: String,
    /// Lake that the spot is on.
    pub lake: String,
    /// What keeps some records apart from others, such as those of one customer.
    pub label: String,
    /// Free notes.
    pub notes: String,
    /// North positive.
    pub latitude_deg: Option<f64>,
    /// East positive.
    pub longitude_deg: Option<f64>,
    /// Water depth under the transducer.
    pub depth_m: Option<f64>,
    /// Ice thickness as reported.
    pub ice_thickness_m: Option<f64>,
    /// What the bottom is made of.
    pub bottom_class: Option<BottomClass>,
    /// Slope of the bottom plane.
    pub slope_deg: Option<f64>,
    /// Boulders, logs and the like.
    pub relief: Vec<Relief>,
    /// Height of the plants over the bottom.
    pub canopy_height_m: Option<f64>,
    /// How dense they stand.
    pub canopy_density: Option<CanopyDensity>,
    /// Their volume backscattering strength.
    pub canopy_volume_strength_db: Option<f64>,
    /// Upper limit of the layer in which fish are looked for.
    pub fish_layer_top_m: Option<f64>,
    /// Lower limit of that layer.
    pub fish_layer_bottom_m: Option<f64>,
    /// Fish per cubic metre while a school is under the hole.
    pub fish_per_m3: Option<f64>,
    /// Height of the lure over the bottom.
    pub lure_height_m: Option<f64>,
    /// Radius of the hole.
    pub hole_radius_m: Option<f64>,
    /// Temperature at the bottom.
    pub bottom_temperature_c: Option<f64>,
    /// Salinity.
    pub salinity_g_kg: Option<f64>,
    /// Acidity.
    pub ph: Option<f64>,
    /// Whether nobody knows if plants stand there.
    pub canopy_unknown: bool,
}

const CLASS_NAMES: &[&str] = &names(&BOTTOM_CLASSES);
const DENSITY_NAMES: &[&str] = &names(&DENSITIES);
const RELIEF_NAMES: &[&str] = &names(&RELIEF_KINDS);

/// The fields of one thing that stands on the bottom.
pub const RELIEF_FIELDS: &[Field<Relief>] = &[
    ReliefField::choice(
        "kind",
        RELIEF_NAMES,
        |r| name_of(&RELIEF_KINDS, &r.kind),
        |r, name| {
            r.kind = named(&RELIEF_KINDS, name).unwrap_or(r.kind);
        },
    )
    .required(),
    ReliefField::number("height_m", above(0.0, 200.0, "m"), |r| Some(r.height.get()), |r, v| r.height = Metres::new(v))
        .required()
        .accepts("less than the depth")
        .advice("give the height over the bottom"),
    ReliefField::number(
        "offset_m",
        within(0.0, 100.0, "m"),
        |r| Some(r.offset.get()),
        |r, v| r.offset = Metres::new(v),
    )
    .advice("give the horizontal distance from the point under the hole"),
];

/// The relief of a spot.
pub const RELIEF: List<SpotRecord, Relief> = List {
    path: "relief",
    fields: RELIEF_FIELDS,
    get: |s| s.relief.clone(),
    set: |s, relief| s.relief = relief,
    blank: || Relief { kind: ReliefKind::Boulder, height: Metres::new(0.0), offset: Metres::new(0.0) },
};

impl Record for SpotRecord {
    type Known = Spot;
    const COLLECTION: &'static str = "spots";

    const FIELDS: &'static [Field<Self>] = &[
        SpotField::id(|s| &s.id, |s, id| s.id = id).example("north-bar"),
        SpotField::name(|s| &s.display_name, |s, text| s.display_name = text).example("North bar"),
        SpotField::text("lake", MAX_NAME_CHARS, |s| &s.lake, |s, text| s.lake = text)
            .example("Invented Lake")
            .words(&["water", "see", "gewässer"]),
        SpotField::text("label", MAX_LABEL, |s| &s.label, |s, text| s.label = text)
            .accepts("keeps some records apart from others, such as those of one customer")
            .example("customer-17")
            .words(&["customer", "kunde"]),
        SpotField::notes(|s| &s.notes, |s, text| s.notes = text),
        SpotField::number(
            "latitude_deg",
            within(-90.0, 90.0, "degrees"),
            |s| s.latitude_deg,
            |s, v| s.latitude_deg = Some(v),
        )
        .accepts("WGS 84, north positive, with longitude_deg or not at all")
        .advice("give WGS 84 degrees, north positive")
        .example("46.5")
        .words(&["latitude", "lat"]),
        SpotField::number(
            "longitude_deg",
            within(-180.0, 180.0, "degrees"),
            |s| s.longitude_deg,
            |s, v| s.longitude_deg = Some(v),
        )
        .accepts("WGS 84, east positive, with latitude_deg or not at all")
        .advice("give WGS 84 degrees, east positive")
        .example("-94.25")
        .words(&["longitude", "lon", "long"]),
        SpotField::number("depth_m", DEPTH, |s| s.depth_m, |s, v| s.depth_m = Some(v))
            .required()
            .advice("give the water depth under the hole")
            .example("7.3")
            .words(&["depth", "water_depth", "tiefe", "wassertiefe"]),
        SpotField::number(
            "ice_thickness_m",
            within(0.0, 3.0, "m"),
            |s| s.ice_thickness_m,
            |s, v| s.ice_thickness_m = Some(v),
        )
        .left_out("not reported")
        .advice("give the reported thickness, or leave it out")
        .example("0.4")
        .words(&["ice_thickness", "ice"]),
        SpotField::choice(
            "bottom_class",
            CLASS_NAMES,
            |s| s.bottom_class.and_then(|class| name_of(&BOTTOM_CLASSES, &class)),
            |s, name| s.bottom_class = named(&BOTTOM_CLASSES, name),
        )
        .left_out("not known: sand in the recorded figures, drawn over mud, sand and hard bottoms in the draws")
        .example("fine_sand")
        .words(&["bottom", "bottom_type", "substrate", "grund", "boden"])
        .means(&BOTTOM_WORDS),
        SpotField::number("slope_deg", within(0.0, 60.0, "degrees"), |s| s.slope_deg, |s, v| s.slope_deg = Some(v))
            .left_out("0")
            .advice("give the slope of the bottom, 0 for flat")
            .example("3")
            .words(&["slope", "bottom_slope"]),
        SpotField::new(
            "relief",
            Holds::List {
                unit: "m",
                write: |s| notation::write_relief(&s.relief),
                read: |s, text, numbers| notation::read_relief(text, numbers).map(|relief| s.relief = relief),
            },
        )
        .accepts("up to 16 of: boulder or log, height, at, distance from the hole; semicolons between")
        .example("boulder 0.5 at 1.2; log 0.3 at 0.8"),
        SpotField::number(
            "canopy.height_m",
            above(0.0, 200.0, "m"),
            |s| s.canopy_height_m,
            |s, v| s.canopy_height_m = Some(v),
        )
        .column("canopy_height_m")
        .accepts("up to the depth; none, or unknown")
        .left_out("no plants")
        .advice("give the height of the plants over the bottom")
        .example("1.1")
        .words(&["weeds", "weed_height", "height_of_weeds", "plants", "plant_height", "kraut", "krauthöhe"])
        .means(&[
            ("none", NOT_GIVEN),
            ("no", NOT_GIVEN),
            ("0", NOT_GIVEN),
            ("keines", NOT_GIVEN),
            ("unknown", "canopy_unknown"),
            ("?", "canopy_unknown"),
            ("unbekannt", "canopy_unknown"),
        ]),
        SpotField::choice(
            "canopy.density",
            DENSITY_NAMES,
            |s| s.canopy_density.and_then(|density| name_of(&DENSITIES, &density)),
            |s, name| s.canopy_density = named(&DENSITIES, name),
        )
        .column("canopy_density")
        .accepts("with canopy_height_m")
        .left_out("moderate, assumed")
        .example("moderate")
        .words(&["weed_density", "density_of_weeds", "plant_density", "krautdichte"])
        .means(&[
            ("light", "sparse"),
            ("thin", "sparse"),
            ("scattered", "sparse"),
            ("few", "sparse"),
            ("some", "moderate"),
            ("medium", "moderate"),
            ("heavy", "dense"),
            ("thick", "dense"),
            ("unknown", NOT_GIVEN),
            ("none", NOT_GIVEN),
        ]),
        SpotField::number(
            "canopy.volume_strength_db",
            within(-80.0, 0.0, "dB re 1 m^-1"),
            |s| s.canopy_volume_strength_db,
            |s, v| s.canopy_volume_strength_db = Some(v),
        )
        .column("canopy_volume_strength_db")
        .left_out("from the density")
        .advice("leave it out to take the value of the density class"),
        SpotField::number(
            "fish_layer_top_m",
            within(0.0, 200.0, "m"),
            |s| s.fish_layer_top_m,
            |s, v| s.fish_layer_top_m = Some(v),
        )
        .accepts("under the transducer, above fish_layer_bottom_m")
        .left_out("half the depth")
        .advice("depths of the layer run from the transducer downwards")
        .example("5"),
        SpotField::number(
            "fish_layer_bottom_m",
            above(0.0, 200.0, "m"),
            |s| s.fish_layer_bottom_m,
            |s, v| s.fish_layer_bottom_m = Some(v),
        )
        .accepts("under the transducer, up to the depth")
        .left_out("the depth")
        .advice("depths of the layer run from the transducer downwards")
        .example("7.3"),
        SpotField::number(
            "fish_per_m3",
            within(0.0, 1_000.0, "fish per cubic metre"),
            |s| s.fish_per_m3,
            |s, v| s.fish_per_m3 = Some(v),
        )
        .left_out("0.05")
        .advice("give the density while a school is under the hole, or leave it out for 0.05")
        .example("0.05"),
        SpotField::number(
            "lure_height_m",
            above(0.0, 200.0, "m"),
            |s| s.lure_height_m,
            |s, v| s.lure_height_m = Some(v),
        )
        .accepts("less than the depth")
        .left_out("0.5, or a quarter of the depth if that is less")
        .advice("give the lure's height over the bottom")
        .example("0.4")
        .words(&["lure_height", "height_of_lure"]),
        SpotField::number("hole_radius_m", HOLE_RADIUS, |s| s.hole_radius_m, |s, v| s.hole_radius_m = Some(v))
            .left_out("0.1")
            .advice("give the radius of the hole, or leave it out for 0.1 m")
            .example("0.1"),
        SpotField::number(
            "bottom_temperature_c",
            BOTTOM_TEMPERATURE,
            |s| s.bottom_temperature_c,
            |s, v| s.bottom_temperature_c = Some(v),
        )
        .left_out("4")
        .advice("give the water temperature at the bottom, or leave it out for 4")
        .example("4")
        .words(&["bottom_temperature"]),
        SpotField::number(
            "salinity_g_kg",
            within(0.0, 40.0, "g/kg"),
            |s| s.salinity_g_kg,
            |s, v| s.salinity_g_kg = Some(v),
        )
        .left_out("0")
        .advice("leave it out for fresh water")
        .example("0"),
        SpotField::number("ph", within(6.0, 9.5, ""), |s| s.ph, |s, v| s.ph = Some(v))
            .left_out("7.5")
            .advice("leave it out for 7.5")
            .example("7.5"),
        SpotField::new("canopy_unknown", Holds::Flag { get: |s| s.canopy_unknown, set: |s, v| s.canopy_unknown = v })
            .accepts("true where nobody knows whether plants stand there; not beside canopy_height_m")
            .left_out("false")
            .words(&["weeds_unknown"]),
    ];

    fn blank(id: Id) -> Self {
        Self {
            id,
            display_name: String::new(),
            lake: String::new(),
            label: String::new(),
            notes: String::new(),
            latitude_deg: None,
            longitude_deg: None,
            depth_m: None,
            ice_thickness_m: None,
            bottom_class: None,
            slope_deg: None,
            relief: Vec::new(),
            canopy_height_m: None,
            canopy_density: None,
            canopy_volume_strength_db: None,
            fish_layer_top_m: None,
            fish_layer_bottom_m: None,
            fish_per_m3: None,
            lure_height_m: None,
            hole_radius_m: None,
            bottom_temperature_c: None,
            salinity_g_kg: None,
            ph: None,
            canopy_unknown: false,
        }
    }

    fn id(&self) -> &Id {
        &self.id
    }

    fn known(&self) -> Result<Spot, Fault> {
        self.resolve()
    }

    fn check(&self) -> Vec<Fault> {
        let mut faults = Faults::of(self, Self::FIELDS);
        // Limits that depend on the depth are only worth checking against a depth that makes sense.
        let depth = self.depth_m.filter(|depth| DEPTH.holds(*depth));
        let (north, east) = (self.latitude_deg.is_some(), self.longitude_deg.is_some());
        if north != east {
            let (lacks, has) =
                if north { ("longitude_deg", "latitude_deg") } else { ("latitude_deg", "longitude_deg") };
            let message = format!("{lacks} is left out while {has} is given; accepted: both or neither; give both");
            faults.add(lacks, FaultReason::Contradiction, message);
        }
        if faults.count("relief", self.relief.len(), 0, MAX_RELIEF, "keep the ones nearest to the hole") {
            faults.each("relief", &self.relief, RELIEF_FIELDS, |relief, faults| {
                below_depth(faults, "height_m", Some(relief.height.get()), depth, Reach::Below);
            });
        }
        self.check_canopy(&mut faults, depth);
        below_depth(&mut faults, "fish_layer_bottom_m", self.fish_layer_bottom_m, depth, Reach::OrEqual);
        self.check_layer(&mut faults, depth);
        below_depth(&mut faults, "lure_height_m", self.lure_height_m, depth, Reach::Below);
        faults.found.into_vec()
    }
}

/// The fault of a water depth, if it has one.
#[must_use]
pub fn check_depth(field: &str, depth: Metres) -> Vec<Fault> {
    let mut faults = Faults::default();
    faults.number(field, depth.get(), DEPTH, "give a water depth");
    faults.found.into_vec()
}

impl SpotRecord {
    fn check_canopy(&self, faults: &mut Faults, depth: Option<f64>) {
        let given = [
            Given::from(&self.canopy_height_m),
            Given::from(&self.canopy_density),
            Given::from(&self.canopy_volume_strength_db),
        ];
        if given.contains(&Given::Yes) {
            if self.canopy_height_m.is_none() {
                faults.missing("canopy.height_m", "give the height of the plants, or nothing about them");
            }
            if self.canopy_unknown {
                faults.out_of_place("canopy_unknown", Given::Yes, "places whose plants are not given");
            }
        }
        below_depth(faults, "canopy.height_m", self.canopy_height_m, depth, Reach::OrEqual);
    }

    /// The top of the layer must lie above its lower limit, which is the depth where it is left out.
    fn check_layer(&self, faults: &mut Faults, depth: Option<f64>) {
        let sound = !faults.has("fish_layer_top_m") && !faults.has("fish_layer_bottom_m");
        let top = self.fish_layer_top_m.or(depth.map(|depth| defaults::fish_layer(Metres::new(depth)).top.get()));
        let bottom = self.fish_layer_bottom_m.or(depth);
        if let (true, Some(top), Some(bottom)) = (sound, top, bottom) {
            let limit = Limit { field: "fish_layer_bottom_m", value: bottom, or_equal: false };
            faults.at_most("fish_layer_top_m", top, limit, "swap them if they are the wrong way round");
        }
    }

    /// The spot as it is computed with: what is not given takes its default.
    ///
    /// # Errors
    /// The record lacks a field that its check asks for.
    pub fn resolve(&self) -> Result<Spot, Fault> {
        let metres = |given: Option<f64>, default: Metres| given.map_or(default, Metres::new);
        let depth = Metres::new(self.depth_m.ok_or_else(|| lacks("depth_m"))?);
        let layer = defaults::fish_layer(depth);
        let position = self.latitude_deg.zip(self.longitude_deg);
        Ok(Spot {
            id: self.id.clone(),
            display_name: self.display_name.clone(),
            lake: self.lake.clone(),
            notes: self.notes.clone(),
            position: position.map(|(latitude_deg, longitude_deg)| Position { latitude_deg, longitude_deg }),
            depth,
            ice_thickness: self.ice_thickness_m.map(Metres::new),
            bottom: self.bottom_class.unwrap_or(defaults::BOTTOM),
            bottom_from: if self.bottom_class.is_some() { Provenance::Stated } else { Provenance::Assumed },
            slope: Angle::new(Scale::Degrees.to_si(self.slope_deg.unwrap_or(0.0))),
            relief: self.relief.clone(),
            canopy: self.canopy_height_m.map(|height| Canopy {
                height: Metres::new(height),
                density: self.canopy_density.unwrap_or(defaults::CANOPY_DENSITY),
                volume_strength: self.canopy_volume_strength_db.map(VolumeStrength::new),
            }),
            canopy_unknown: self.canopy_unknown,
            fish_layer: FishLayer {
                top: metres(self.fish_layer_top_m, layer.top),
                bottom: metres(self.fish_layer_bottom_m, layer.bottom),
                per_cubic_metre: self.fish_per_m3.unwrap_or(layer.per_cubic_metre),
            },
            lure_height: metres(self.lure_height_m, defaults::lure_height(depth)),
            hole_radius: metres(self.hole_radius_m, defaults::HOLE_RADIUS),
            bottom_temperature: self.bottom_temperature_c.map_or(defaults::BOTTOM_TEMPERATURE, Celsius::new),
            salinity: self.salinity_g_kg.map_or(defaults::SALINITY, GramsPerKilogram::new),
            ph: self.ph.unwrap_or(defaults::PH),
        })
    }
}

impl From<&Spot> for SpotRecord {
    fn from(s: &Spot) -> Self {
        // Defaults that follow a depth which is refused are no faults of their own.
        let derived = !DEPTH.holds(s.depth.get());
        let layer = defaults::fish_layer(s.depth);
        let unless = |value: Metres, default: Metres| {
            (!(derived && value.get().total_cmp(&default.get()).is_eq())).then_some(value.get())
        };
        Self {
            id: s.id.clone(),
            display_name: s.display_name.clone(),
            lake: s.lake.clone(),
            label: String::new(),
            notes: s.notes.clone(),
            latitude_deg: s.position.map(|position| position.latitude_deg),
            longitude_deg: s.position.map(|position| position.longitude_deg),
            depth_m: Some(s.depth.get()),
            ice_thickness_m: s.ice_thickness.map(Metres::get),
            bottom_class: (s.bottom_from != Provenance::Assumed).then_some(s.bottom),
            slope_deg: Some(Scale::Degrees.from_si(s.slope.get())),
            relief: s.relief.clone(),
            canopy_height_m: s.canopy.map(|canopy| canopy.height.get()),
            canopy_density: s.canopy.map(|canopy| canopy.density),
            canopy_volume_strength_db: s.canopy.and_then(|canopy| canopy.volume_strength).map(VolumeStrength::get),
            fish_layer_top_m: unless(s.fish_layer.top, layer.top),
            fish_layer_bottom_m: unless(s.fish_layer.bottom, layer.bottom),
            fish_per_m3: Some(s.fish_layer.per_cubic_metre),
            lure_height_m: unless(s.lure_height, defaults::lure_height(s.depth)),
            hole_radius_m: Some(s.hole_radius.get()),
            bottom_temperature_c: Some(s.bottom_temperature.get()),
            salinity_g_kg: Some(s.salinity.get()),
            ph: Some(s.ph),
            canopy_unknown: s.canopy_unknown,
        }
    }
}

impl Spot {
    /// Every fault of what is computed with, with field paths of the public API; empty when it is sound.
    #[must_use]
    pub fn check(&self) -> Vec<Fault> {
        SpotRecord::from(self).check()
    }
}

/// Whether a height may reach the whole depth.
#[derive(Clone, Copy)]
enum Reach {
    Below,
    OrEqual,
}

fn below_depth(faults: &mut Faults, field: &str, value: Option<f64>, depth: Option<f64>, reach: Reach) {
    if let Some((value, depth)) = value.zip(depth)
        && !faults.has(field)
    {
        let limit = Limit { field: "depth_m", value: depth, or_equal: matches!(reach, Reach::OrEqual) };
        faults.at_most(field, value, limit, "check which of the two is wrong");
    }
}
