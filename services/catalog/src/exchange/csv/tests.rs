use std::collections::BTreeMap;

use domain::field::Given;
use domain::{BottomClass, CanopyDensity, Provenance, SensorRecord, ShelterRecord, SpotRecord, TargetRecord};

use super::{CsvRecord, read, template};
use crate::exchange::Parsed;

fn parse<R: CsvRecord>(text: &str) -> Parsed<R> {
    read(text.as_bytes(), &BTreeMap::new())
}

/// Reads a file and compares its faults: line, column, a part of the message.
#[track_caller]
fn refused<R: CsvRecord + std::fmt::Debug>(bytes: &[u8], expected: &[(u32, &str, &str)]) {
    let parsed: Parsed<R> = read(bytes, &BTreeMap::new());
    let found: Vec<_> = parsed.faults.iter().map(|f| (f.line, f.column.as_str(), f.message.as_str())).collect();
    assert_eq!(found.len(), expected.len(), "{found:#?}");
    for ((line, column, message), (at, of, part)) in found.iter().zip(expected) {
        assert_eq!((line, column), (at, of), "{found:#?}");
        assert!(message.contains(part), "'{message}' lacks '{part}'");
    }
}

#[track_caller]
fn sound<R: CsvRecord>(text: &str) -> Vec<R> {
    let parsed: Parsed<R> = parse(text);
    assert_eq!(parsed.faults, []);
    parsed.records.into_iter().map(|(_, record)| record).collect()
}

const SPOTS: &str = "id,display_name,depth_m,bottom_class\n";

#[test]
fn templates_read_as_they_stand() {
    fn check<R: CsvRecord>() {
        assert_eq!(sound::<R>(&template::<R>()).len(), 1);
    }
    check::<SensorRecord>();
    check::<SpotRecord>();
    check::<ShelterRecord>();
    check::<TargetRecord>();
}

#[test]
fn what_a_cell_leaves_out_is_not_given() {
    let spots = sound::<SpotRecord>("id,display_name,depth_m,bottom_class\nbar,North bar,7.3,fine_sand\n");
    let spot = &spots[0];
    assert_eq!((spot.id.as_str(), spot.display_name.as_str(), spot.depth_m), ("bar", "North bar", Some(7.3)));
    assert_eq!(spot.bottom_class, Some(BottomClass::FineSand));
    assert_eq!((spot.fish_layer_top_m, spot.lure_height_m, spot.ice_thickness_m), (None, None, None));
    assert_eq!((spot.latitude_deg, spot.canopy_height_m, spot.ph), (None, None, None));
}

#[test]
fn every_cell_of_a_spot_is_read() {
    let spots = sound::<SpotRecord>(&template::<SpotRecord>());
    let spot = &spots[0];
    assert_eq!(spot.relief.len(), 2);
    assert_eq!((spot.relief[1].height.get(), spot.relief[1].offset.get()), (0.3, 0.8));
    assert_eq!((spot.canopy_height_m, spot.canopy_density), (Some(1.1), Some(CanopyDensity::Moderate)));
    assert_eq!((spot.slope_deg, spot.longitude_deg), (Some(3.0), Some(-94.25)));
    assert_eq!(spot.label, "customer-17");
}

/// The same two records in every shape of file that spreadsheets make.
#[test]
fn separators_line_ends_and_marks_do_not_matter() {
    let plain = sound::<SpotRecord>("id,display_name,depth_m,bottom_class\na,A,7.5,silt\nb,B,8,rock\n");
    for text in [
        "\u{feff}id,display_name,depth_m,bottom_class\na,A,7.5,silt\nb,B,8,rock\n",
        "id,display_name,depth_m,bottom_class\r\na,A,7.5,silt\r\nb,B,8,rock\r\n",
        "id;display_name;depth_m;bottom_class\na;A;7,5;silt\nb;B;8;rock",
        "id\tdisplay_name\tdepth_m\tbottom_class\na\tA\t7,5\tsilt\nb\tB\t8,0\trock\n",
        "sep=;\r\nid;display_name;depth_m;bottom_class\r\na;A;7.5;silt\r\nb;B;8;rock\r\n",
        "\n\nID, Display Name ,Depth-m,bottom_class\n\n\"a\",\"A\",\"7.5\", Silt \n,,,\nb,B,+8.0,ROCK\n\n",
        "bottom_class,depth_m,display_name,id\nsilt,7.5,A,a\nrock,8e0,B,b\n",
    ] {
        assert_eq!(sound::<SpotRecord>(text), plain, "{text}");
    }
}

#[test]
fn other_units_are_taken_where_the_header_says_so() {
    let spots = sound::<SpotRecord>(
        "id,display_name,depth_ft,bottom_class,lure_height_in,bottom_temperature_f,ice_thickness_in,relief_ft\n\
         a,A,24,silt,20,39.2,16,boulder 2 at 4\n",
    );
    let spot = &spots[0];
    assert_eq!(spot.depth_m, Some(24.0 * 0.3048));
    assert_eq!(spot.lure_height_m, Some(20.0 * 0.0254));
    assert!((spot.bottom_temperature_c.unwrap() - 4.0).abs() < 1.0e-12);
    assert_eq!(spot.ice_thickness_m, Some(16.0 * 0.0254));
    assert_eq!(spot.relief[0].height.get(), 2.0 * 0.3048);
}

/// The same spot in the units of either side of the ocean: 1 ft = 0.3048 m and 1 in = 0.0254 m exactly (1959),
/// °F = 1.8 °C + 32.
#[test]
fn units_in_words_brackets_and_decimal_commas_are_converted_once() {
    let spots = sound::<SpotRecord>(
        "id;display_name;Depth (ft);bottom_class;Hole diameter [in];Bottom temperature (°F)\n\
         a;A;24,5;silt;8;39,2\n",
    );
    let spot = &spots[0];
    assert_eq!(spot.depth_m, Some(24.5 * 0.3048));
    assert_eq!(spot.hole_radius_m, Some(8.0 * 0.0254 / 2.0));
    assert!((spot.bottom_temperature_c.unwrap() - 4.0).abs() < 1.0e-12);
    let same = sound::<SpotRecord>(
        "id,display_name,depth_ft,bottom_class,hole_diameter_in,bottom_temperature_degf\na,A,24.5,silt,8,39.2\n",
    );
    assert_eq!(same, spots);
}

#[test]
fn unknown_units_are_named_with_the_accepted_ones() {
    for (given, part) in [
        (
            "depth_fathoms",
            "'fathoms' is no unit of it that is known; accepted: depth_m, depth_cm, depth_ft, depth_in; convert",
        ),
        ("depth_fm", "'fm' is no unit"),
        ("Depth (yd)", "'yd' is no unit"),
        (
            "hole_diameter_ft",
            "accepted: hole_radius_m, hole_radius_cm, hole_radius_ft, hole_radius_in, hole_diameter_m",
        ),
        ("bottom_temperature_k", "accepted: bottom_temperature_c, bottom_temperature_degc, bottom_temperature_f"),
        ("relief_yards", "accepted: relief, relief_ft"),
        ("canopy_densty", "the nearest known one is 'canopy_density'"),
    ] {
        let text = format!("id,display_name,depth_m,bottom_class,{given}\n");
        refused::<SpotRecord>(text.as_bytes(), &[(1, given, part)]);
    }
}

#[test]
fn faults_of_a_header_are_all_named() {
    let text = "id,display_name,depht_m,colour,lake,Lake,\nbar,,7,red,x,y,\n";
    refused::<SpotRecord>(
        text.as_bytes(),
        &[
            (1, "depht_m", "nearest known one is 'depth_m'"),
            (1, "Lake", "gives the same as 'lake'"),
            (1, "", "cell 7 of the header is empty"),
            (1, "depth_m", "missing"),
            (2, "display_name", "empty"),
        ],
    );
    refused::<SpotRecord>(b"id,display_name,depth,bottom_class\n", &[]);
    refused::<SpotRecord>(
        b"id,display_name,depth_m,depth_ft,bottom_class\n",
        &[(1, "depth_ft", "gives the same as 'depth_m'")],
    );
}

#[test]
fn files_that_are_no_csv_are_said_to_be_so() {
    refused::<SpotRecord>(b"", &[(1, "", "empty")]);
    refused::<SpotRecord>(b"\xef\xbb\xbf", &[(1, "", "empty")]);
    refused::<SpotRecord>(b"\n\r\n\n", &[(1, "", "empty")]);
    refused::<SpotRecord>(b"\xff\xfei\0d\0", &[(1, "", "UTF-16")]);
}

#[test]
fn a_header_alone_is_no_record_and_no_fault() {
    let parsed: Parsed<SpotRecord> = parse(SPOTS);
    assert_eq!((parsed.rows_read, parsed.records.len(), parsed.faults.len()), (0, 0, 0));
}

#[test]
fn every_fault_of_every_row_has_its_line_and_column() {
    let text = "id,display_name,depth_m,bottom_class,latitude_deg,longitude_deg,relief,canopy_density,ph\r\n\
                a,\"two\r\nlines\",300,silt,,,,,\r\n\
                \r\n\
                B,B,deep,sandstone,91,,\"rock 1 at 2\",,NaN\r\n\
                c,C,-3,silt,,,,dense,1e999\r\n\
                ,,,,,,,,7\r\n";
    refused::<SpotRecord>(
        text.as_bytes(),
        &[
            (2, "display_name", "control character"),
            (2, "depth_m", "depth_m is 300; accepted: 0.5 to 200 m"),
            (5, "id", "'B' is not an identifier"),
            (5, "depth_m", "'deep' is not a number; accepted: 0.5 to 200"),
            (5, "bottom_class", "'sandstone' is none of the choices"),
            (5, "relief", "'rock' is no kind of relief"),
            (5, "ph", "'NaN' is not a number"),
            (5, "latitude_deg", "latitude_deg is 91"),
            (6, "ph", "too large"),
            (6, "depth_m", "depth_m is -3"),
            (6, "canopy_height_m", "give the height of the plants"),
            (7, "id", "empty"),
            (7, "display_name", "empty"),
            (7, "depth_m", "empty"),
        ],
    );
}

#[test]
fn rows_of_another_length_and_open_quotes_are_refused() {
    refused::<SpotRecord>(format!("{SPOTS}a,A,7,silt,9\n").as_bytes(), &[(2, "", "5 cells; accepted: 4")]);
    refused::<SpotRecord>(format!("{SPOTS}a,A,7\n").as_bytes(), &[(2, "", "3 cells; accepted: 4")]);
    for open in ["a,\"A,7,silt\nb,B,7,silt\n", "a,A,7,\"silt", "b,B,7,silt\na,A,7,\"silt\n"] {
        let parsed: Parsed<SpotRecord> = parse(&format!("{SPOTS}{open}"));
        assert!(parsed.faults.iter().any(|f| f.message.contains("never closed")), "{open}: {:?}", parsed.faults);
    }
    // A quote inside a cell, such as an inch mark, opens nothing.
    assert_eq!(sound::<SpotRecord>(&format!("{SPOTS}a,8\" hole,7,silt\n"))[0].display_name, "8\" hole");
}

/// Line ends of any kind count as people count them, also inside quotes.
#[test]
fn faults_stand_on_the_line_that_an_editor_shows() {
    for (end, expected) in [("\n", 5), ("\r\n", 5), ("\r", 5)] {
        let text = [SPOTS.trim_end(), "", "a,A,7,silt", "", "b,B,deep,silt"].join(end);
        refused::<SpotRecord>(text.as_bytes(), &[(expected, "depth_m", "'deep' is not a number")]);
    }
    let quoted = format!("{SPOTS}a,A,7,silt\rb,\"B\rb\",7,silt\rc,C,deep,silt\r");
    refused::<SpotRecord>(quoted.as_bytes(), &[(3, "display_name", "control character"), (5, "depth_m", "'deep'")]);
}

#[test]
fn text_that_is_not_utf8_is_refused_with_row_and_column() {
    let mut bytes = SPOTS.as_bytes().to_vec();
    bytes.extend_from_slice(b"a,A,7,silt\nb,N\xf8rd,7,silt\n");
    refused::<SpotRecord>(&bytes, &[(3, "display_name", "byte 2 of the cell is not UTF-8")]);
}

#[test]
fn an_id_stands_once_in_a_file() {
    let parsed: Parsed<SpotRecord> = parse(&format!("{SPOTS}a,A,7,silt\nb,B,7,silt\na,C,8,silt\n"));
    assert_eq!(parsed.records.len(), 2);
    assert_eq!(parsed.faults[0].line, 4);
    assert_eq!((parsed.faults[0].id.as_str(), parsed.faults[0].column.as_str()), ("a", "id"));
    assert!(parsed.faults[0].message.contains("line 2"));
}

#[test]
fn decimal_commas_belong_to_files_without_separating_commas() {
    refused::<SpotRecord>(format!("{SPOTS}a,A,\"7,5\",silt\n").as_bytes(), &[(2, "depth_m", "decimal point")]);
    let semicolons = SPOTS.replace(',', ";");
    refused::<SpotRecord>(
        format!("{semicolons}a;A;1.007,5;silt\n").as_bytes(),
        &[(2, "depth_m", "thousands separator")],
    );
}

#[test]
fn defaults_fill_columns_that_the_file_lacks() {
    let defaults: BTreeMap<_, _> =
        [("bottom_class", "gravel"), ("depth_ft", "20"), ("lake", "Invented Lake")].map(own).into();
    let parsed: Parsed<SpotRecord> = read(b"id,display_name,lake\na,A,Other Lake\n", &defaults);
    assert_eq!(parsed.faults, []);
    let spot = &parsed.records[0].1;
    assert_eq!((spot.bottom_class, spot.lake.as_str()), (Some(BottomClass::Gravel), "Other Lake"));
    assert_eq!(spot.depth_m, Some(20.0 * 0.3048));
    let unknown: BTreeMap<_, _> = [("botom_class", "gravel")].map(own).into();
    let parsed: Parsed<SpotRecord> = read(format!("{SPOTS}a,A,7,silt\n").as_bytes(), &unknown);
    assert!(parsed.records.is_empty());
    assert!(parsed.faults[0].message.contains("'bottom_class'"), "{:?}", parsed.faults);
}

fn own((column, cell): (&str, &str)) -> (String, String) {
    (column.to_owned(), cell.to_owned())
}

const SENSORS: &str = "id,display_name,price,currency,threshold_db,max_gain_db,dial_scale,dial_points,option_id,\
                       frequency_khz,shape,beamwidth_deg,beamwidth_level,source_level_db,electrical_power_w,\
                       pulse_length_us\n";

#[test]
fn a_sensor_has_a_row_for_each_option() {
    let text = format!(
        "{SENSORS}two,Two beams,129.5,EUR,150 ±3 measured,70,clock_hour,7:00=0 12:00=40 5:00=70,narrow,200,circular_piston,9 measured,minus_3_db,,40,100\n\
         one,One beam,,,150,70,percent,0=0 100=70,only,83,circular_piston,20,minus_10_db,210 told,,120\n\
         two,,,,,,,,wide,83,circular_piston,19,minus_3_db,,40,100\n"
    );
    let sensors = sound::<SensorRecord>(&text);
    assert_eq!(sensors.len(), 2);
    let two = &sensors[0];
    assert_eq!((two.price, two.currency.as_str()), (Some((129, 500_000_000)), "EUR"));
    let ids: Vec<_> = two.options.iter().map(|option| option.id.as_str()).collect();
    assert_eq!(ids, ["narrow", "wide"]);
    assert_eq!(two.threshold_db, Some(Given { value: 150.0, spread: Some(3.0), source: Provenance::Measured }));
    assert_eq!(two.max_gain_db, Some(Given::stated(70.0)));
    assert_eq!(two.receiver_noise_db, None);
    let positions: Vec<_> = two.dial_points.iter().map(|point| point.position).collect();
    assert_eq!(positions, [420.0, 720.0, 1020.0]);
    let widths: Vec<_> =
        two.options.iter().filter_map(|option| option.beamwidth_deg).map(|width| width.source).collect();
    assert_eq!(widths, [Provenance::Measured, Provenance::Stated]);
    assert_eq!(two.options[0].efficiency_percent, None);
    assert_eq!(sensors[1].options[0].source_level_db.map(|level| level.source), Some(Provenance::Told));
}

/// A leaflet says a name, an angle and a frequency, and perhaps a price.
#[test]
fn a_leaflet_makes_a_sensor() {
    let sensors =
        sound::<SensorRecord>("id,display_name,option_id,frequency_khz,beamwidth_deg\nl,Leaflet,only,200,12\n");
    let sensor = domain::Record::known(&sensors[0]).unwrap();
    assert_eq!(sensor.threshold.provenance, Provenance::Assumed);
    assert_eq!(sensor.options[0].pulse_length.value.get(), 20.0 / 200.0e3);
    assert_eq!((sensor.dial.points.len(), sensor.check()), (0, vec![]));
}

#[test]
fn what_stands_behind_a_figure_is_its_spread_and_its_source() {
    let header = "id,display_name,option_id,frequency_khz,beamwidth_deg\n";
    for (cell, part) in [
        ("12 guessed", "'guessed' is no source of a figure; known are stated, measured, assumed"),
        ("12 ±x", "'x' is not a number"),
        ("12 measured twice", "'twice' is too much"),
    ] {
        refused::<SensorRecord>(format!("{header}l,L,only,200,{cell}\n").as_bytes(), &[(2, "beamwidth_deg", part)]);
    }
}

#[test]
fn a_figure_and_the_column_beside_it_agree_on_what_it_means() {
    let header = "id,display_name,option_id,frequency_khz,beamwidth_deg,electrical_power_w,power_kind\n";
    let said = |cells: &str| format!("{header}l,L,only,200,12,{cells}\n");
    assert_eq!(sound::<SensorRecord>(&said("400 W peak,peak")).len(), 1);
    refused::<SensorRecord>(said("400 W peak,rms").as_bytes(), &[(2, "power_kind", "'400 W peak', which says peak")]);
}

#[test]
fn faults_of_a_sensor_stand_at_the_row_of_their_option() {
    let text = format!(
        "{SENSORS}two,Two beams,12x,EUR,20,70,clock_hour,7:00=0 5:00=90,narrow,200,circular_piston,9,minus_3_db,,40,100\n\
         two,Three beams,,,,,,,narrow,5,circular_piston,190,minus_7_db,200,40,100\n"
    );
    refused::<SensorRecord>(
        text.as_bytes(),
        &[
            (2, "price", "'12x' is not a number"),
            (2, "threshold_db", "threshold_db is 20"),
            (
                3,
                "beamwidth_level",
                "'minus_7_db' is none of the choices; accepted: minus_3_db, minus_6_db, minus_10_db",
            ),
            (3, "display_name", "'Three beams' differs from 'Two beams' on line 2"),
            (3, "frequency_khz", "frequency_khz is 5"),
            (3, "beamwidth_deg", "beamwidth_deg is 190"),
            (3, "option_id", "used twice"),
        ],
    );
}

#[test]
fn cells_of_another_shape_are_refused() {
    let text = "id,display_name,threshold_db,max_gain_db,dial_scale,dial_points,option_id,frequency_khz,shape,\
                beamwidth_deg,beamwidth_level,cross_beamwidth_deg,pattern_points,pattern_provenance,source_level_db,pulse_length_us\n\
                a,A,150,70,step,0=0 10=70,x,200,circular_piston,9,minus_3_db,5,0=0 4=-3 9=-20,,200,100\n\
                b,B,150,70,step,0=0 10=70,x,200,tabulated,9,,,0=0 4=-3 9=-20,measured,200,100\n\
                c,C,150,70,step,0=0 10=70,x,200,rectangular,9,minus_3_db,,,,200,100\n";
    refused::<SensorRecord>(
        text.as_bytes(),
        &[
            (2, "pattern_points", "the shape tabulated only"),
            (2, "cross_beamwidth_deg", "the shape rectangular only"),
            (3, "beamwidth_deg", "shapes other than tabulated only"),
            (4, "cross_beamwidth_deg", "left out"),
        ],
    );
}

#[test]
fn shelters_have_one_floor_and_one_plan() {
    let header =
        "id,display_name,floor_length_ft,floor_width_m,floor_diameter_m,holes,party_size,transducers_recessed\n";
    let shelters = sound::<ShelterRecord>(&format!("{header}a,A,10,2.4,,,4,yes\nb,B,,,3,\"0.6,1.5; 2.4,1.5\",,\n"));
    assert_eq!(shelters[0].floor_length_m, Some(10.0 * 0.3048));
    assert_eq!((shelters[0].party_size, shelters[0].transducers_recessed), (Some(4), true));
    assert_eq!(shelters[1].holes.len(), 2);
    refused::<ShelterRecord>(
        format!("{header}a,A,10,,,,4,\nb,B,,,,\"1;2\",4,maybe\nc,C,9,3,3,,,\n").as_bytes(),
        &[
            (2, "floor_width_m", "only one side"),
            (3, "holes", "not a pair x,y"),
            (3, "transducers_recessed", "none of the choices"),
            (3, "floor_length_ft", "no floor is given"),
            (4, "floor_diameter_m", "beside a side"),
            (4, "party_size", "give the drilled holes"),
        ],
    );
}

#[test]
fn targets_have_the_cells_of_their_shape() {
    let header = "id,display_name,kind,shape,target_strength_db,diameter_mm,length_mm,length_cm,material,fish_class\n";
    let targets = sound::<TargetRecord>(&format!(
        "{header}a,A,lure,known,-50 measured,,,,,\n\
         b,B,lure,Sphere,,5,,,Tungsten Carbide,\n\
         c,C,reference,disc,,38.1,,,,\n\
         d,D,lure,cylinder,,4,40,,,\n\
         e,E,fish,fish,,,,25,,closed-swim-bladder\n"
    ));
    assert_eq!(targets[0].target_strength_db.map(|strength| strength.source), Some(Provenance::Measured));
    assert_eq!((targets[1].diameter_mm, targets[4].length_cm), (Some(5.0), Some(25.0)));
    refused::<TargetRecord>(
        format!("{header}a,A,bait,sphere,-50,5000,,,gold,\nb,B,fish,,-30,,,,,\n").as_bytes(),
        &[
            (2, "kind", "'bait' is none of the choices"),
            (2, "material", "'gold' is none of the choices"),
            (2, "diameter_mm", "is 5000; accepted: 1 to 100 mm"),
            (3, "shape", "empty"),
        ],
    );
}

/// Each of them would be compared with every known name.
#[test]
fn a_header_of_a_million_cells_is_refused_at_once() {
    let header = "x,".repeat(1_000_000);
    refused::<SpotRecord>(header.as_bytes(), &[(1, "", "1000001 cells; accepted: up to 1000")]);
}
