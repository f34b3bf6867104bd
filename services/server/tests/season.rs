//! A month at an outfitter's desk through the real binary: planned, handed out, extended, called off, broken, brought back, checked, planned again.
//! On each day all that changed is told, and nothing else has changed.
#![allow(missing_docs, clippy::unwrap_used, clippy::panic, clippy::indexing_slicing)]

mod support;

use std::collections::BTreeMap;
use std::path::Path;

use serde_json::Value;
use support::{complained, said};

const SENSORS: &str =
    "id,display_name,price,currency,threshold_db,max_gain_db,dial_scale,dial_points,ping_interval_ms,\
option_id,option_display_name,frequency_khz,beamwidth_deg,electrical_power_w,pulse_length_us
alder,Alder,160.00,EUR,150,72,percent,0=0 100=72,95,main,8.2° at 240 kHz,240,8.2,45,110
birch,Birch,120.00,EUR,150,72,percent,0=0 100=72,105,main,14.5° at 175 kHz,175,14.5,45,110
";
const SPOTS: &str = "id,display_name,lake,depth_m,bottom_class,ice_thickness_m
reed-bay,Reed bay,Lake Ossel,4.2,silt,0.4
long-bar,Long bar,Lake Ossel,6.5,fine_sand,0.45
";
const TARGETS: &str = "id,display_name,kind,shape,diameter_mm,target_strength_db,material
jig,Tungsten jig,lure,sphere,5,,tungsten
perch,Perch,fish,known,,-37,
ball,Steel ball,reference,sphere,38.1,,tungsten_carbide
";
const SHELTERS: &str = "id,display_name,floor_length_m,floor_width_m,party_size\nhut,Hut,4.0,2.4,3\n";
const BOOKINGS: [(&str, &str); 6] = [
    ("mill", "Mill party,reed-bay,,2,2027-02-01,2027-02-04"),
    ("ferry", "Ferry party,long-bar,hut,3,2027-02-03,2027-02-06"),
    ("orchard", "Orchard party,reed-bay,,2,2027-02-05,2027-02-07"),
    ("quarry", "Quarry party,long-bar,,1,2027-02-06,2027-02-12"),
    ("school", "School outing,reed-bay,hut,3,2027-02-09,2027-02-10"),
    ("twins", "Twins,long-bar,,2,2027-02-11,2027-02-14"),
];
const HEAD: &str = "id,display_name,spot,shelter,anglers,first_day,last_day,lure,fish,min_score,min_headroom_db\n";

fn bookings(rows: &[(&str, &str)]) -> String {
    rows.iter().fold(HEAD.to_owned(), |file, (id, row)| format!("{file}{id},{row},jig,perch,0.05,-20\n"))
}

fn import(dir: &Path, name: &str, text: &str) {
    std::fs::write(dir.join(name), text).unwrap();
    said(dir, &["import", "--replace", name]);
}

/// What each booking gets: its option, and its units in the order of their names.
type Given = BTreeMap<String, (String, Vec<String>)>;

struct Plan {
    given: Given,
    /// The kinds of changes by booking.
    changes: BTreeMap<String, String>,
}

fn ids(units: &Value) -> Vec<String> {
    let units = units.as_array().map(Vec::as_slice).unwrap_or_default();
    units.iter().map(|unit| unit["unit"].as_str().unwrap().to_owned()).collect()
}

/// Plans, and holds the answer to what it says of itself: every unit is with one booking at a time.
fn plan(dir: &Path, flags: &[&str]) -> Plan {
    let told: Value =
        serde_json::from_str(&said(dir, &[&["--json", "plan", "--budget", "0EUR"], flags].concat())).unwrap();
    assert!(told["unmet"].as_array().is_none_or(Vec::is_empty), "{told:#}");
    let mut given = Given::new();
    let mut taken: Vec<(String, String, String)> = Vec::new();
    for own in told["assignments"].as_array().unwrap() {
        let text = |field: &str| own[field].as_str().unwrap().to_owned();
        let units = ids(&own["given"]);
        assert_eq!(units.len() as u64, own["units"].as_u64().unwrap(), "nothing is to be bought: {own:#}");
        for unit in &units {
            let clash = |(other, first, last): &&(String, String, String)| {
                other == unit && *first <= text("last_day") && text("first_day") <= *last
            };
            assert_eq!(taken.iter().find(clash), None, "{unit} is with two");
            taken.push((unit.clone(), text("first_day"), text("last_day")));
        }
        given.insert(text("booking"), (text("option"), units));
    }
    let changes = told["changes"].as_array().map(Vec::as_slice).unwrap_or_default();
    let changes = changes.iter().map(|change| {
        assert!(!change["text"].as_str().unwrap().contains('{'), "{change}");
        (change["booking"].as_str().unwrap().to_owned(), change["kind"].as_str().unwrap().to_owned())
    });
    Plan { changes: changes.collect(), given }
}

/// Plans again from a day on, with the page; what is in both plans and not among the changes is as it was.
fn again(dir: &Path, before: &Plan, day: &str) -> Plan {
    let page = format!("changes-{day}.pdf");
    let after = plan(dir, &["--keep", "latest", "--from", day, "--report", &page]);
    assert!(std::fs::read(dir.join(page)).unwrap().starts_with(b"%PDF"));
    for (booking, own) in &after.given {
        let (kind, earlier) = (after.changes.get(booking).map(String::as_str), before.given.get(booking));
        match (kind, earlier) {
            (Some("PLAN_CHANGE_KIND_ADDED"), earlier) => assert_eq!(earlier, None, "{booking}"),
            (None, earlier) => assert_eq!(Some(own), earlier, "{booking}"),
            (Some("PLAN_CHANGE_KIND_RENAMED"), Some(earlier)) => {
                assert!(own.0 == earlier.0 && own.1 != earlier.1, "{booking}")
            }
            (Some(_), Some(earlier)) => assert_ne!(own.0, earlier.0, "{booking}"),
            (Some(kind), None) => panic!("{booking}: {kind}"),
        }
    }
    after
}

#[test]
fn a_month_at_the_desk() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    import(dir, "sensors.csv", SENSORS);
    import(dir, "spots.csv", SPOTS);
    import(dir, "targets.csv", TARGETS);
    import(dir, "shelters.csv", SHELTERS);
    let kinds = (1..=5).flat_map(|n| [("alder", n), ("birch", n)]);
    let units = kinds.fold("id,display_name,sensor,serial\n".to_owned(), |file, (kind, n)| {
        format!("{file}{kind}-{n},{kind} {n},{kind},{kind}{n}\n")
    });
    import(dir, "units.csv", &units);
    import(dir, "bookings.csv", &bookings(&BOOKINGS));

    let first = plan(dir, &["--from", "2027-02-01"]);
    assert_eq!((first.given.len(), first.changes.len()), (BOOKINGS.len(), 0));

    // The first of February: the first party comes, and gets the units that the plan names.
    let out = said(dir, &["hand-out", "mill"]);
    let mill = first.given["bookings/mill"].clone();
    for unit in &mill.1 {
        let unit = unit.trim_start_matches("units/");
        assert!(
            out.lines()
                .any(|line| line.contains(unit) && line.contains("bookings/mill") && line.contains("2027-02-05")),
            "{out}"
        );
    }
    let taken = mill.1[0].trim_start_matches("units/").to_owned();
    let refused = complained(dir, &["hand-out", "ferry", "--units", &taken], 1);
    assert!(refused.contains(&taken) && refused.contains("on loan to bookings/mill"), "{refused}");

    // The second: it stays two days longer. It keeps its very units; nobody else needs them before.
    import(dir, "bookings.csv", &bookings(&[("mill", "Mill party,reed-bay,,2,2027-02-01,2027-02-06")]));
    let second = again(dir, &first, "2027-02-02");
    assert_eq!(second.given["bookings/mill"], mill);
    let listed = said(dir, &["--json", "list", "units", "--filter", "lent_to = \"bookings/mill\""]);
    assert!(listed.matches("2027-02-07").count() == 2 && !listed.contains("2027-02-05"), "{listed}");

    // The third: a booking is called off. That is all that changes.
    said(dir, &["delete", "bookings/twins"]);
    let third = again(dir, &second, "2027-02-03");
    assert_eq!(third.changes, BTreeMap::from([("bookings/twins".to_owned(), "PLAN_CHANGE_KIND_CANCELLED".to_owned())]));
    for (booking, own) in &third.given {
        assert_eq!(own, &second.given[booking], "{booking}");
    }
    said(dir, &["hand-out", "ferry"]);

    // The fourth: a unit of the school outing falls on the ice, and is away until after the outing.
    let broken = third.given["bookings/school"].1[0].trim_start_matches("units/").to_owned();
    let holder = ["mill", "ferry"]
        .into_iter()
        .find(|id| third.given[&format!("bookings/{id}")].1.iter().any(|unit| unit.ends_with(&broken)));
    said(dir, &["take-back", &broken, "--repair", "--back", "2027-02-15"]);
    let fourth = again(dir, &third, "2027-02-04");
    let school = &fourth.given["bookings/school"].1;
    assert!(!school.iter().any(|unit| unit.ends_with(&broken)), "{school:?} with {broken}");
    let listed = said(dir, &["--json", "list", "units"]);
    assert!(listed.contains("2027-02-15"), "{listed}");

    // The seventh: two parties come back, one of them with what it had left.
    for booking in ["mill", "ferry"] {
        let back = said(dir, &["take-back", "--booking", booking]);
        assert!(back.contains("ready"), "{holder:?}: {back}");
    }
    let refused = complained(dir, &["take-back", "--booking", "mill"], 1);
    assert!(refused.contains("bookings/mill holds no units"), "{refused}");
    let refused = complained(dir, &["take-back", "alder-1", "--back", "2027-02-09"], 2);
    assert!(refused.contains("--repair"), "{refused}");

    // A late booking comes in, and gets what is free.
    import(dir, "bookings.csv", &bookings(&[("weir", "Weir party,reed-bay,,2,2027-02-08,2027-02-09")]));
    let fifth = again(dir, &fourth, "2027-02-07");
    assert_eq!(fifth.changes, BTreeMap::from([("bookings/weir".to_owned(), "PLAN_CHANGE_KIND_ADDED".to_owned())]));

    // What was handed out is checked when it is back.
    let checks = ["alder-1", "alder-2", "alder-3"].map(|unit| format!("{unit}-feb,{unit},main,ball,2027-02-07,5,34"));
    import(dir, "unit-checks.csv", &format!("id,unit,option,target,day,depth_m,shown_at\n{}\n", checks.join("\n")));
    assert!(said(dir, &["assess"]).contains("alder 1"));

    // Nothing new: nothing changes, in words.
    let told = said(dir, &["plan", "--keep", "latest", "--from", "2027-02-08"]);
    assert!(told.contains("Nothing changes for any booking of fleetPlans/"), "{told}");
    // A plan that is not there, and flags that need one.
    let refused = complained(dir, &["plan", "--keep", "zzz", "--from", "2027-02-08"], 1);
    assert!(refused.contains("fleetPlans/zzz"), "{refused}");
    complained(dir, &["plan", "--change-worth", "50EUR"], 2);
    let refused = complained(dir, &["plan", "--from", "tomorrow"], 1);
    assert!(refused.contains("from_day") && refused.contains("2027-01-15"), "{refused}");
}
