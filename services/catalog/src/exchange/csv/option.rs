//! One beam/frequency option: one row of a sensor.

use acoustics::units::{Beamwidth, Db, FullAngle, Hertz, Seconds, SourceLevel, Watts, WidthLevel};
use domain::sensor::{BEAM_SHAPES as SHAPES, BeamShape as Shape, WIDTH_LEVELS as LEVELS};
use domain::{BeamOption, Fact, PatternKind, Provenance, Source, defaults, notation};

use super::Cells;
use super::provenance::Marks;
use super::row::Row;

/// Columns of figures of an option, which `measured` and `assumed` may name.
pub(crate) const FACTS: [&str; 12] = [
    "frequency_khz",
    "beamwidth_deg",
    "cross_beamwidth_deg",
    "peak_side_lobe_db",
    "pattern_points",
    "floor_db",
    "source_level_db",
    "electrical_power_w",
    "efficiency_percent",
    "pulse_length_us",
    "sweep_bandwidth_khz",
    "receiver_bandwidth_khz",
];

/// A pulse that a default bandwidth may go by where the given one is refused.
const USUAL_PULSE: Seconds = Seconds::new(1.0e-4);

/// Reads the option of a row.
pub(crate) fn read(row: &mut Row, marks: &Marks) -> Option<BeamOption> {
    let id = row.id("option_id")?;
    let pulse_length = marks.required_fact(row, "pulse_length_us", Seconds::new);
    let sweep_bandwidth = marks.fact(row, "sweep_bandwidth_khz", Hertz::new);
    let usual = if pulse_length.value.get() > 0.0 { pulse_length.value } else { USUAL_PULSE };
    Some(BeamOption {
        id,
        display_name: row.text("option_display_name").to_owned(),
        frequency: marks.required_fact(row, "frequency_khz", Hertz::new),
        pattern: pattern(row, marks),
        floor: marks.fact(row, "floor_db", Db::new).unwrap_or(defaults::PATTERN_FLOOR),
        source: source(row, marks),
        pulse_length,
        sweep_bandwidth,
        receiver_bandwidth: marks
            .fact(row, "receiver_bandwidth_khz", Hertz::new)
            .unwrap_or_else(|| defaults::receiver_bandwidth(usual, sweep_bandwidth.map(|sweep| sweep.value))),
    })
}

fn pattern(row: &mut Row, marks: &Marks) -> PatternKind {
    let shape = row.required_choice("shape", &SHAPES);
    if let Some(shape) = shape {
        refuse_out_of_place(row, shape);
    }
    match shape {
        Some(Shape::CircularPiston) => PatternKind::CircularPiston { beamwidth: beamwidth(row, marks) },
        Some(Shape::ShadedCircular) => PatternKind::ShadedCircular {
            beamwidth: beamwidth(row, marks),
            peak_side_lobe: marks.required_fact(row, "peak_side_lobe_db", Db::new),
        },
        Some(Shape::Rectangular) => {
            let along = beamwidth(row, marks);
            let at = along.value.at;
            let across = |radians| Beamwidth { full: FullAngle::new(radians), at };
            PatternKind::Rectangular { along, across: marks.required_fact(row, "cross_beamwidth_deg", across) }
        }
        Some(Shape::Tabulated) => {
            if row.text("pattern_points").is_empty() {
                row.missing("pattern_points");
            }
            PatternKind::Tabulated {
                points: row.notation("pattern_points", notation::read_pattern).unwrap_or_default(),
                provenance: marks.of("pattern_points"),
            }
        }
        // What stands in is sound, so that only the shape is refused.
        None => {
            let full = FullAngle::from_degrees(10.0);
            PatternKind::CircularPiston { beamwidth: Fact::assumed(Beamwidth { full, at: WidthLevel::Minus3 }) }
        }
    }
}

/// Cells that belong to another shape would be lost without a word, so they are refused.
fn refuse_out_of_place(row: &mut Row, shape: Shape) {
    if shape == Shape::Tabulated {
        row.out_of_place("beamwidth_deg", "shapes other than tabulated");
        row.out_of_place("beamwidth_level", "shapes other than tabulated");
    } else {
        row.out_of_place("pattern_points", "the shape tabulated");
    }
    if shape != Shape::Rectangular {
        row.out_of_place("cross_beamwidth_deg", "the shape rectangular");
    }
    if shape != Shape::ShadedCircular {
        row.out_of_place("peak_side_lobe_db", "the shape shaded_circular");
    }
}

fn beamwidth(row: &mut Row, marks: &Marks) -> Fact<Beamwidth> {
    let at = row.required_choice("beamwidth_level", &LEVELS).unwrap_or(WidthLevel::Minus3);
    marks.required_fact(row, "beamwidth_deg", |radians| Beamwidth { full: FullAngle::new(radians), at })
}

fn source(row: &mut Row, marks: &Marks) -> Source {
    const ACCEPTED: &str = "accepted: source_level_db, or electrical_power_w with efficiency_percent";
    let given = |row: &Row, column: &str| !row.text(column).is_empty();
    let (has_level, has_power) = (given(row, "source_level_db"), given(row, "electrical_power_w"));
    let has_efficiency = given(row, "efficiency_percent");
    let fault = match (has_level, has_power, has_efficiency) {
        (true, false, false) | (false, true, _) => None,
        (false, false, false) => Some(("source_level_db", "nothing says how strong the option is")),
        (false, false, true) => Some(("electrical_power_w", "an efficiency is given without a power")),
        (true, true, _) => Some(("electrical_power_w", "a power is given beside a source level")),
        (true, false, true) => Some(("efficiency_percent", "an efficiency is given beside a source level")),
    };
    if let Some((column, text)) = fault {
        row.refuse(column, format!("{text}; {ACCEPTED}; correct it"));
    }
    let level = marks.fact(row, "source_level_db", SourceLevel::new);
    let power = marks.fact(row, "electrical_power_w", Watts::new);
    let efficiency = marks.fact(row, "efficiency_percent", |fraction| fraction);
    match (level, power) {
        (None, Some(electrical)) => {
            Source::Power { electrical, efficiency: efficiency.unwrap_or(defaults::EFFICIENCY) }
        }
        (level, _) => Source::Stated(level.unwrap_or(Fact::assumed(SourceLevel::new(200.0)))),
    }
}

/// Writes an option into the row of its sensor.
pub(crate) fn write(option: &BeamOption, cells: &mut Cells, marks: &mut Marks) {
    cells.set("option_id", option.id.as_str());
    cells.set("option_display_name", &option.display_name);
    marks.set(cells, "frequency_khz", &option.frequency, Hertz::get);
    write_pattern(&option.pattern, cells, marks);
    marks.set(cells, "floor_db", &option.floor, Db::get);
    match &option.source {
        Source::Stated(level) => marks.set(cells, "source_level_db", level, SourceLevel::get),
        Source::Power { electrical, efficiency } => {
            marks.set(cells, "electrical_power_w", electrical, Watts::get);
            marks.set(cells, "efficiency_percent", efficiency, |fraction| fraction);
        }
    }
    marks.set(cells, "pulse_length_us", &option.pulse_length, Seconds::get);
    if let Some(sweep) = &option.sweep_bandwidth {
        marks.set(cells, "sweep_bandwidth_khz", sweep, Hertz::get);
    }
    marks.set(cells, "receiver_bandwidth_khz", &option.receiver_bandwidth, Hertz::get);
}

fn write_pattern(pattern: &PatternKind, cells: &mut Cells, marks: &mut Marks) {
    let radians = |width: Beamwidth| width.full.get();
    let mut stated = |cells: &mut Cells, shape: Shape, beamwidth: &Fact<Beamwidth>| {
        cells.set_choice("shape", &shape, &SHAPES);
        cells.set_choice("beamwidth_level", &beamwidth.value.at, &LEVELS);
        marks.set(cells, "beamwidth_deg", beamwidth, radians);
    };
    match pattern {
        PatternKind::CircularPiston { beamwidth } => stated(cells, Shape::CircularPiston, beamwidth),
        PatternKind::ShadedCircular { beamwidth, peak_side_lobe } => {
            stated(cells, Shape::ShadedCircular, beamwidth);
            marks.set(cells, "peak_side_lobe_db", peak_side_lobe, Db::get);
        }
        PatternKind::Rectangular { along, across } => {
            stated(cells, Shape::Rectangular, along);
            marks.set(cells, "cross_beamwidth_deg", across, radians);
        }
        PatternKind::Tabulated { points, provenance } => {
            cells.set_choice("shape", &Shape::Tabulated, &SHAPES);
            cells.set("pattern_points", notation::write_pattern(points));
            // An empty table has nothing to come from.
            marks.note("pattern_points", if points.is_empty() { Provenance::Stated } else { *provenance });
        }
    }
}
