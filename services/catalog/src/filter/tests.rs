use super::field::Kind;
use super::*;
use proptest::prelude::*;

fn made() -> Vec<Field> {
    let field = |name: &str, kind, sql: &str| Field { name: name.into(), kind, sql: sql.into(), list: None };
    vec![
        field("depth_m", Kind::Number, "depth"),
        field("slope_deg", Kind::Number, "slope"),
        field("lake", Kind::Text, "lake"),
        field("bottom_class", Kind::Choice(&["silt", "fine_sand"]), "class"),
        field("canopy.height_m", Kind::Number, "height"),
        field("price", Kind::Amount, "price"),
        field("recessed", Kind::Flag, "recessed"),
        field("create_time", Kind::Time, "created"),
        Field {
            list: Some(("sensors_options".into(), "sensors")),
            ..field("options.frequency_khz", Kind::Number, "frequency_khz")
        },
    ]
}

fn parse(text: &str) -> Filter {
    Filter::parse(text, &made()).unwrap().unwrap()
}

#[track_caller]
fn check(text: &str, sql: &str) {
    assert_eq!(parse(text).sql(), sql, "{text}");
}

#[test]
fn nothing_chooses_everything() {
    assert_eq!(Filter::parse(" \n", &made()).unwrap(), None);
}

#[test]
fn or_binds_tighter_than_and() {
    let (a, b, c) = ("((depth > ?) IS TRUE)", "((lake = ?) IS TRUE)", "((depth < ?) IS TRUE)");
    check("depth_m > 6", a);
    check("depth_m>6 AND lake = \"A\" OR depth_m < 2", &format!("({a} AND ({b} OR {c}))"));
    check("(depth_m > 6 AND lake = A) OR depth_m < 2", &format!("(({a} AND {b}) OR {c})"));
    check("NOT (depth_m > 6 OR -depth_m < 2)", &format!("NOT ({a} OR NOT {c})"));
    check("NOT NOT - lake = A", &format!("NOT NOT NOT {b}"));
}

#[test]
fn each_kind_of_field_has_its_tests() {
    check("lake:\"a\"", "((instr(lower(lake), lower(?)) > 0) IS TRUE)");
    check("lake = \"Tarn*\"", "((lake GLOB ?) IS TRUE)");
    check("lake:*", "((lake IS NOT NULL) IS TRUE)");
    check("lake:\"*\"", "((instr(lower(lake), lower(?)) > 0) IS TRUE)");
    check("canopy_height_m:*", "((height IS NOT NULL) IS TRUE)");
    check("bottom_class != FINE_SAND", "((class != ?) IS TRUE)");
    check(
        "options.frequency_khz < 100",
        "EXISTS (SELECT 1 FROM sensors_options WHERE owner = sensors.id AND (frequency_khz < ?))",
    );
}

#[test]
fn values_are_bound_as_they_are_written() {
    let filter = parse(
        "depth_m = -1.5e1 AND slope_deg >= 3 AND lake = \"a\\\"b\" AND lake = \"x[?]*\" AND bottom_class = Silt \
         AND price <= 129.5 AND recessed = TRUE AND create_time < \"1970-01-01T00:00:01Z\"",
    );
    assert_eq!(
        filter.values(),
        [
            Value::Number(-15.0),
            Value::Number(3.0),
            Value::Text("a\"b".into()),
            Value::Text("x[[][?]]*".into()),
            Value::Text("silt".into()),
            Value::Integer(129_500_000_000),
            Value::Integer(1),
            Value::Integer(1_000_000),
        ]
    );
}

#[test]
fn faults_say_where_and_what() {
    let many = vec!["depth_m > 6"; 21].join(" OR ");
    for (text, at, part) in [
        (many.as_str(), 301, "more than 20 comparisons"),
        ("depht_m > 6", 1, "perhaps depth_m is meant"),
        ("colour = red", 1, "accepted: depth_m, slope_deg"),
        ("depth_m 6", 9, "a sign must follow 'depth_m'"),
        ("depth_m > \"six\"", 11, "'six' does not fit depth_m; accepted: a number"),
        ("depth_m > inf", 11, "accepted: a number"),
        ("bottom_class = mud", 16, "one of silt, fine_sand"),
        ("bottom_class > silt", 1, "accepted: = and !="),
        ("recessed = maybe", 12, "true or false"),
        ("create_time > yesterday", 15, "a time in double quotes"),
        ("price = 1.2.3", 9, "an amount"),
        ("depth_m > 6 lake = A", 13, "join comparisons by AND or OR"),
        ("(depth_m > 6", 13, "a closing ')' is missing"),
        ("depth_m > 6)", 12, "closes nothing"),
        ("(depth_m > 6 lake = A)", 14, "close the parenthesis"),
        ("lake = \"A", 8, "no closing quote"),
        ("depth_m > ", 11, "a value must follow 'depth_m >'"),
        ("depth_m > AND lake = A", 15, "join comparisons"),
        ("depth_m > 6 AND", 16, "a comparison is missing"),
        ("depth_m ! 6", 9, "'!' is not expected"),
        ("lake = 'A'", 8, "''' is not expected"),
        ("1=1; --", 4, "';' is not expected"),
        ("1=1", 1, "there is no field '1'"),
        (")", 1, "')' stands where a field is expected"),
    ] {
        match Filter::parse(text, &made()) {
            Err(StoreError::BadFilter { at: found, problem }) => {
                assert!(problem.contains(part), "{text}: {problem}");
                assert_eq!(found, at, "{text}: {problem}");
            }
            other => panic!("{text}: {other:?}"),
        }
    }
}

#[test]
fn depth_and_length_are_bounded() {
    let deep = format!("{}depth_m = 1{}", "(".repeat(40), ")".repeat(40));
    assert!(matches!(Filter::parse(&deep, &made()), Err(StoreError::BadFilter { .. })));
    let nots = format!("{}depth_m = 1", "NOT ".repeat(400));
    assert!(matches!(Filter::parse(&nots, &made()), Err(StoreError::BadFilter { .. })));
    let long = format!("lake = \"{}\"", "x".repeat(3_000));
    assert!(matches!(Filter::parse(&long, &made()), Err(StoreError::BadFilter { .. })));
}

proptest! {
    /// Whatever is given, the statement is made of our own words, and everything else is bound.
    #[test]
    fn no_text_of_a_caller_gets_into_the_statement(value in "[^\"\\\\*]{1,40}") {
        let filter = parse(&format!("lake = \"{value}\" OR lake:\"{value}\""));
        prop_assert_eq!(filter.sql(), "(((lake = ?) IS TRUE) OR ((instr(lower(lake), lower(?)) > 0) IS TRUE))");
        prop_assert_eq!(filter.values(), [Value::Text(value.clone()), Value::Text(value)]);
    }

    #[test]
    fn any_text_is_read_or_refused_without_panic(text in "[ a-z_.()<>=!:\"*\\-0-9ANDORT;']{0,60}") {
        if let Ok(Some(filter)) = Filter::parse(&text, &made()) {
            prop_assert_eq!(filter.sql().matches('?').count(), filter.values().len());
            prop_assert!(!filter.sql().contains(';'));
        }
    }
}
