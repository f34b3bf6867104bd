//! Lists as shops and anglers keep them, with their own names of columns, units in the cells and no ids.

use std::collections::BTreeMap;

use acoustics::units::WidthLevel;
use domain::sensor::PowerKind;
use domain::{BottomClass, CanopyDensity, SensorRecord, SpotRecord};

use super::{CsvRecord, read};

#[track_caller]
fn sound<R: CsvRecord>(text: &str) -> Vec<R> {
    let parsed = read::<R>(text.as_bytes(), &BTreeMap::new());
    assert_eq!(parsed.faults, []);
    parsed.records.into_iter().map(|(_, record)| record).collect()
}

/// The message of the only fault.
#[track_caller]
fn fault<R: CsvRecord>(text: &str) -> (String, String) {
    let parsed = read::<R>(text.as_bytes(), &BTreeMap::new());
    assert_eq!(parsed.faults.len(), 1, "{:#?}", parsed.faults);
    (parsed.faults[0].column.clone(), parsed.faults[0].message.clone())
}

#[test]
fn a_price_list_is_understood_as_it_stands() {
    let sensors = sound::<SensorRecord>(
        "Name,Beam angle,Frequency,Power (W),Price (USD)\n\
         Pike clip 20°,20°,83 kHz,300,149.00\n\
         Twin,9/20,180,40 W,229.5\n\
         Trio,9/20,200/83 kHz,n/a,299\n",
    );
    let told: Vec<_> = sensors.iter().map(|s| (s.id.as_str(), s.price, s.currency.as_str())).collect();
    let usd = |units, nanos| Some((units, nanos));
    assert_eq!(
        told,
        [("pike-clip-20deg", usd(149, 0), "USD"), ("twin", usd(229, 500_000_000), "USD"), ("trio", usd(299, 0), "USD")]
    );
    let beams = |sensor: &SensorRecord| -> Vec<(String, f64, f64, Option<f64>)> {
        sensor
            .options
            .iter()
            .map(|o| {
                let value = |figure: domain::field::Figure| figure.map(|given| given.value);
                (
                    o.id.to_string(),
                    value(o.beamwidth_deg).unwrap(),
                    value(o.frequency_khz).unwrap(),
                    value(o.electrical_power_w),
                )
            })
            .collect()
    };
    let beam = |id: &str, degrees, khz, watts| (id.to_owned(), degrees, khz, watts);
    assert_eq!(beams(&sensors[0]), [beam("beam-20deg-83-khz", 20.0, 83.0, Some(300.0))]);
    assert_eq!(
        beams(&sensors[1]),
        [beam("beam-9-180", 9.0, 180.0, Some(40.0)), beam("beam-20-180", 20.0, 180.0, Some(40.0))]
    );
    assert_eq!(
        beams(&sensors[2]),
        [beam("beam-9-200-khz", 9.0, 200.0, None), beam("beam-20-83-khz", 20.0, 83.0, None)]
    );
}

#[test]
fn units_in_cells_go_before_those_of_the_header() {
    for (header, cell, khz) in [
        ("Frequency", "0.2 MHz", 200.0),
        ("Frequency (Hz)", "83000", 83.0),
        ("Freq. [kHz]", "455kHz", 455.0),
        ("frequency_khz", "50 kHz measured", 50.0),
    ] {
        let sensors = sound::<SensorRecord>(&format!("name,{header},cone angle\nA,{cell},12 deg\n"));
        let option = &sensors[0].options[0];
        assert!((option.frequency_khz.unwrap().value - khz).abs() < 1.0e-9, "{header} {cell}");
        assert_eq!(option.beamwidth_deg.unwrap().value, 12.0);
    }
    for (header, cell, metres) in [
        ("Depth", "18 ft", 18.0 * 0.3048),
        ("Depth", "5.5m", 5.5),
        ("Water depth (ft)", "18", 18.0 * 0.3048),
        ("depth_m", "18'", 18.0 * 0.3048),
        ("Depth", "5' 6\"\"", 5.5 * 0.3048),
    ] {
        let spots = sound::<SpotRecord>(&format!("Name,{header}\nNorth bar,\"{cell}\"\n"));
        assert!((spots[0].depth_m.unwrap() - metres).abs() < 1.0e-12, "{header} {cell}");
        assert_eq!((spots[0].id.as_str(), spots[0].bottom_class), ("north-bar", None));
    }
}

/// What a rating of power means is said behind the figure, in the header, in a column of its own, or by nobody; so is the level of an angle.
#[test]
fn what_a_figure_means_is_read_wherever_it_is_said() {
    use PowerKind::{Peak, PeakToPeak, Rms};
    for (header, cell, watts, kind) in [
        ("power", "300 W rms", 300.0, Some(Rms)),
        ("power", "400 W peak", 400.0, Some(Peak)),
        ("power", "2400 W peak-to-peak", 2_400.0, Some(PeakToPeak)),
        ("power", "2.4 kW p-p", 2_400.0, Some(PeakToPeak)),
        ("RMS power (W)", "300", 300.0, Some(Rms)),
        ("Peak power", "400 W", 400.0, Some(Peak)),
        ("Power (W)", "300", 300.0, None),
        ("Power (W RMS)", "300", 300.0, Some(Rms)),
        ("Power (kW peak-to-peak)", "2.4", 2_400.0, Some(PeakToPeak)),
        ("power", "250 W (rms)", 250.0, Some(Rms)),
        ("power,rating", "2400,peak to peak", 2_400.0, Some(PeakToPeak)),
        ("power,power_kind", "300,unknown", 300.0, None),
    ] {
        let sensors = sound::<SensorRecord>(&format!("name,beam,freq,{header}\nA,12,200,{cell}\n"));
        let option = &sensors[0].options[0];
        assert_eq!((option.electrical_power_w.unwrap().value, option.power_kind), (watts, kind), "{header} {cell}");
    }
    use WidthLevel::{Minus3, Minus6, Minus10};
    for (header, cell, level) in [
        ("beam", "12", None),
        ("beam", "12° at -10 dB", Some(Minus10)),
        ("beam", "12° @ -6dB", Some(Minus6)),
        ("beam", "12° (-10 dB)", Some(Minus10)),
        ("Beam angle (-10 dB)", "12", Some(Minus10)),
        ("Beam angle at -3 dB", "12", Some(Minus3)),
        ("beam,angle at", "12,-3 dB", Some(Minus3)),
        ("beam,beamwidth_level", "12,unknown", None),
    ] {
        let sensors = sound::<SensorRecord>(&format!("name,freq,{header}\nA,200,{cell}\n"));
        let option = &sensors[0].options[0];
        assert_eq!((option.beamwidth_deg.unwrap().value, option.beamwidth_level), (12.0, level), "{header} {cell}");
    }
}

/// What stands behind the last of several beams holds for all of them.
#[test]
fn a_level_behind_a_list_of_angles_is_that_of_each() {
    let sensors = sound::<SensorRecord>("name,beam,freq\nTwin,9/20 at -10 dB,455/200 kHz\n");
    let told: Vec<_> =
        sensors[0].options.iter().map(|o| (o.beamwidth_deg.unwrap().value, o.beamwidth_level, o.id.as_str())).collect();
    let level = Some(WidthLevel::Minus10);
    assert_eq!(told, [(9.0, level, "beam-9-at-10-db-455-khz"), (20.0, level, "beam-20-at-10-db-200-khz")]);
}

#[test]
fn figures_that_may_be_read_in_two_ways_are_refused() {
    let (_, message) = fault::<SensorRecord>("name;beam;freq;power\nA;12;200;2.400 W peak-to-peak\n");
    assert!(message.contains("'2.400' may hold a thousands separator"), "{message}");
    let (column, message) = fault::<SensorRecord>("name,beam,freq,Price (USD)\nA,12,200,€10\n");
    assert_eq!(column, "Price (USD)");
    assert!(message.contains("EUR") && message.contains("USD"), "{message}");
    let (_, message) = fault::<SensorRecord>("name,freq,beam\nA,200,12° at -12 dB\n");
    assert!(message.contains("levels are -3 dB, -6 dB and -10 dB"), "{message}");
}

#[test]
fn a_price_says_its_currency_anywhere() {
    for (header, cell, currency) in [
        ("price,currency", "129,CAD", "CAD"),
        ("Price USD", "129", "USD"),
        ("Retail price (EUR)", "129", "EUR"),
        ("Price", "$129.00", "USD"),
        ("Price", "129 €", "EUR"),
        ("Price", "CAD 129", "CAD"),
    ] {
        let sensors = sound::<SensorRecord>(&format!("name,beam,freq,{header}\nA,12,200,{cell}\n"));
        assert_eq!((sensors[0].price, sensors[0].currency.as_str()), (Some((129, 0)), currency), "{header}: {cell}");
    }
    let (column, message) = fault::<SensorRecord>("name,beam,freq,price\nA,12,200,129\n");
    assert_eq!(column, "currency");
    assert!(message.contains("'price USD'"), "{message}");
}

#[test]
fn bottoms_and_weeds_are_read_in_common_words() {
    let spots = sound::<SpotRecord>(
        "name,depth ft,bottom,weeds,weed density\n\
         A,18,mud,3 ft,thick\nB,18,Unknown,unknown,\nC,18,,none,\nD,18,sand,2 ft,\nE,18,hard,,\n",
    );
    let told: Vec<_> =
        spots.iter().map(|s| (s.bottom_class, s.canopy_height_m, s.canopy_density, s.canopy_unknown)).collect();
    let feet = |feet: f64| Some(feet * 0.3048);
    assert_eq!(
        told,
        [
            (Some(BottomClass::Silt), feet(3.0), Some(CanopyDensity::Dense), false),
            (None, None, None, true),
            (None, None, None, false),
            (Some(BottomClass::MediumSand), feet(2.0), None, false),
            (Some(BottomClass::Gravel), None, None, false),
        ]
    );
    let (_, message) = fault::<SpotRecord>("name,depth ft,weeds\nA,18,thick\n");
    assert!(message.contains("'thick' is not a number"), "{message}");
}

#[test]
fn limits_are_quoted_in_the_unit_in_which_a_figure_is_written() {
    for (text, column, part) in [
        ("name,Depth (ft)\nA,900\n", "Depth (ft)", "it is 900; accepted: 1.65 to 656.16 ft"),
        ("name,Depth\nA,900 ft\n", "Depth", "it is 900; accepted: 1.65 to 656.16 ft"),
        ("name,depth_m\nA,900\n", "depth_m", "depth_m is 900; accepted: 0.5 to 200 m"),
        (
            "name,Depth (ft),lure height (ft)\nA,18,30\n",
            "lure height (ft)",
            "it is 30, which does not fit 'Depth (ft)', which is 18",
        ),
        ("name,Depth\nA,18\n", "Depth", "'18' has no unit; write it behind the figure, such as 18 ft or 5.5 m"),
        (
            "name,Depth\nA,18 fathoms\n",
            "Depth",
            "'fathoms' is no unit of it that is known; known are m, cm, mm, ft, in",
        ),
    ] {
        let (found, message) = fault::<SpotRecord>(text);
        assert_eq!(found, column, "{text}");
        assert!(message.contains(part), "'{message}' lacks '{part}'");
    }
    let (column, message) = fault::<SensorRecord>("name,angle,Frequency (Hz)\nA,12,200\n");
    assert_eq!(column, "Frequency (Hz)");
    assert!(message.contains("it is 200; accepted: 10000 to 2000000 hz"), "{message}");
}

#[test]
fn a_sensor_whose_price_is_left_open_is_not_for_sale() {
    for open in ["", "n/a", "not given"] {
        for text in [
            format!("Name,Beam angle,Frequency,Price (USD)\nPike clip,17,163,{open}\n"),
            format!("Name,Beam angle,Frequency,Price,Currency\nPike clip,17,163,{open},USD\n"),
        ] {
            let sensor = sound::<SensorRecord>(&text).remove(0);
            assert_eq!((sensor.price, sensor.currency.as_str()), (None, ""), "{text}");
        }
    }
}

#[test]
fn a_figure_that_nobody_gives_stays_not_given_in_whatever_words() {
    let sensor = |watts: &str| {
        let text = format!("Name,Beam angle,Frequency,Power (W)\nPike clip,17,163,{watts}\n");
        sound::<SensorRecord>(&text).remove(0).options[0].electrical_power_w
    };
    for nothing in
        ["", "-", "–", "n/a", "N.A.", "not given", "Not stated", "k.A.", "keine Angabe", "unknown", "?", "tbd"]
    {
        assert_eq!(sensor(nothing), None, "{nothing}");
    }
    assert_eq!(sensor("40").map(|given| given.value), Some(40.0));
    assert_eq!(fault::<SensorRecord>("Name,Beam angle,Frequency,Power (W)\nPike clip,17,163,some\n").0, "Power (W)");
}

#[test]
fn cells_that_list_different_numbers_of_beams_are_refused() {
    let (column, message) = fault::<SensorRecord>("name,beam angle,frequency\nA,9/20,50/83/200\n");
    assert_eq!(column, "beam angle");
    assert!(message.contains("it lists 2, but 'frequency' lists 3"), "{message}");
}

/// A column that means something else is not taken for one with like letters: it is left aside and named.
#[test]
fn a_column_of_another_meaning_is_left_aside() {
    for given in [
        "Weight (oz)",
        "Stock",
        "Code",
        "Article no.",
        "Range",
        "Screen (in)",
        "Battery",
        "Warranty",
        "Supplier",
        "Details",
        "Colour",
        "Cable (ft)",
        "Cost centre",
    ] {
        let parsed = read::<SensorRecord>(format!("name,beam,freq,{given}\nA,12,200,7\n").as_bytes(), &BTreeMap::new());
        assert_eq!((parsed.faults.len(), parsed.records.len()), (0, 1), "{given}: {:?}", parsed.faults);
        assert_eq!(parsed.unused, [given]);
    }
    for (slip, meant) in [("Frequncy", "frequency"), ("Beam angel", "beam_angle")] {
        let parsed = read::<SensorRecord>(format!("name,beam,freq,{slip}\nA,12,200,7\n").as_bytes(), &BTreeMap::new());
        assert!(parsed.faults[0].message.contains(&format!("'{meant}'")), "{slip}: {:?}", parsed.faults);
    }
}

#[test]
fn a_title_over_the_header_does_no_harm() {
    let text = "Winter prices,,\n,,\nName,Beam angle,Frequency (kHz)\nA,12,200\n";
    let parsed = read::<SensorRecord>(text.as_bytes(), &BTreeMap::new());
    assert_eq!((parsed.faults, parsed.records.len(), parsed.records[0].0), (vec![], 1, 4));
}
