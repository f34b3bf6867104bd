//! Fleet plans and assessments of units.

use proto::v1;

use super::choice;
use super::names::{full_name, full_names};
use super::report;
use super::words::words;
use crate::cli;
use crate::connect::Connection;
use crate::exit::Outcome;
use crate::output::shown::say;
use crate::output::{json, table::Columns};

/// Plans a fleet and prints what to buy, who gets what, and who cannot be served.
pub(super) async fn plan(connection: &Connection, args: &cli::Plan, as_json: bool) -> Outcome {
    let spec = v1::FleetSpec {
        bookings: full_names(&args.bookings, "bookings"),
        options: full_names(&args.options, "sensors"),
        budget: args.budget.as_deref().map(choice::money).transpose()?,
        gap: args.gap,
        from_day: args.from.as_deref().map(day).unwrap_or_default(),
        keep: args.keep.as_deref().map(|plan| full_name(plan, "fleetPlans")).unwrap_or_default(),
        untold_bookings: full_names(&args.untold, "bookings"),
        change_worth: args.change_worth.as_deref().map(choice::money).transpose()?,
    };
    let request = v1::PlanFleetRequest { spec: Some(spec), validate_only: false };
    let plan = connection.fleet().plan_fleet(request).await?.into_inner();
    if as_json {
        json::print(&plan)?;
    } else {
        print_plan(&plan);
    }
    report::print(connection, &plan.name, &args.printed, as_json).await
}

/// A day as it was typed, or today's in the time zone of the machine.
fn day(text: &str) -> String {
    if text == "today" { jiff::ZonedDateTime::now().date().to_string() } else { text.to_owned() }
}

/// Gives a booking its units.
pub(super) async fn hand_out(connection: &Connection, args: &cli::HandOut, as_json: bool) -> Outcome {
    let plan = if args.units.is_empty() { full_name(&args.plan, "fleetPlans") } else { String::new() };
    let booking = full_name(&args.booking, "bookings");
    let request = v1::HandOutUnitsRequest { booking, units: full_names(&args.units, "units"), plan };
    let answer = connection.fleet().hand_out_units(request).await?.into_inner();
    if as_json {
        return json::print(&answer);
    }
    print_units(&answer.units);
    if answer.missing > 0 {
        say!("\nStill missing for this booking: {}.", answer.missing);
    }
    Ok(())
}

/// Takes units back.
pub(super) async fn take_back(connection: &Connection, args: &cli::TakeBack, as_json: bool) -> Outcome {
    let state = if args.repair { v1::UnitState::InRepair } else { v1::UnitState::Ready };
    let request = v1::TakeBackUnitsRequest {
        units: full_names(&args.units, "units"),
        booking: args.booking.as_deref().map(|booking| full_name(booking, "bookings")).unwrap_or_default(),
        state: state.into(),
        back_day: args.back.as_deref().map(day).unwrap_or_default(),
    };
    let answer = connection.fleet().take_back_units(request).await?.into_inner();
    if as_json {
        return json::print(&answer);
    }
    print_units(&answer.units);
    Ok(())
}

fn print_units(units: &[v1::Unit]) {
    let mut table = Columns::new(&["unit", "name", "serial", "where", "back"]);
    for unit in units {
        let place = match unit.state() {
            v1::UnitState::OnLoan if !unit.lent_to.is_empty() => format!("with {}", unit.lent_to),
            state => words("UNIT_STATE_", state.as_str_name()),
        };
        let id = unit.name.trim_start_matches("units/").to_owned();
        table.row([id, unit.display_name.clone(), unit.serial.clone(), place, unit.back_day.clone()]);
    }
    table.print();
}

fn money_text(money: Option<&v1::Money>) -> String {
    money.map_or_else(String::new, choice::money_text)
}

fn print_plan(plan: &v1::FleetPlan) {
    let all = plan.assignments.len() + plan.unmet.len();
    say!("{} of {all} bookings are served, for {}.", plan.assignments.len(), money_text(plan.cost.as_ref()));
    if plan.cost_is_proven {
        say!("No plan that serves as many anglers costs less.");
    } else {
        say!(
            "No such plan costs less than {}: this one is within {:.1} % of it.",
            money_text(plan.least_cost.as_ref()),
            100.0 * plan.gap
        );
    }
    print_changes(plan);
    if !plan.purchases.is_empty() {
        say!("\nTo buy");
        let mut table = Columns::new(&["sensor", ">units", ">each", ">cost"]);
        for p in &plan.purchases {
            let (each, cost) = (money_text(p.unit_price.as_ref()), money_text(p.cost.as_ref()));
            table.row([p.sensor_display_name.clone(), p.count.to_string(), each, cost]);
        }
        table.print();
    }
    say!("\nWho gets what");
    let mut table = Columns::new(&[
        "booking",
        "days",
        ">units",
        "sensor",
        "beam",
        "which",
        ">score",
        ">room before neighbours show dB",
    ]);
    for a in &plan.assignments {
        table.row([
            a.booking_display_name.clone(),
            format!("{} to {}", a.first_day, a.last_day),
            a.units.to_string(),
            a.sensor_display_name.clone(),
            a.beam.clone(),
            which(a),
            format!("{:.0}", 100.0 * a.score),
            a.headroom_db.map_or_else(|| "–".to_owned(), |headroom| format!("{headroom:.0}")),
        ]);
    }
    table.print();
    if !plan.unmet.is_empty() {
        say!("\nWho cannot be served");
        let mut table = Columns::new(&["booking", "why, and what would help"]);
        for u in &plan.unmet {
            table.row([u.booking_display_name.clone(), u.text.clone()]);
        }
        table.print();
    }
    for remark in &plan.remarks {
        say!("\n{remark}");
    }
    say!("\nStored as {}. With set-up cards: lakebeam report {} --output plan.pdf", plan.name, plan.name);
}

/// What is different from the plan that was kept.
fn print_changes(plan: &v1::FleetPlan) {
    let Some(kept) = plan.spec.as_ref().map(|spec| spec.keep.as_str()).filter(|kept| !kept.is_empty()) else { return };
    if plan.changes.is_empty() {
        say!("\nNothing changes for any booking of {kept}.");
        return;
    }
    for (of_customers, title) in [(true, "To tell customers"), (false, "To know at the desk")] {
        let mut told = plan.changes.iter().filter(|change| change.for_customer == of_customers).peekable();
        if told.peek().is_some() {
            say!("\n{title}");
        }
        for change in told {
            say!("  {}", change.text);
        }
    }
}

/// The names of the units that a booking gets, and how many are to be bought.
fn which(given: &v1::FleetAssignment) -> String {
    let mut names: Vec<String> = given.given.iter().map(|unit| unit.display_name.clone()).collect();
    let to_buy = usize::try_from(given.units).unwrap_or(usize::MAX).saturating_sub(names.len());
    if to_buy > 0 {
        names.push(format!("{to_buy} to buy"));
    }
    names.join(", ")
}

/// Assesses units and prints how each stands.
pub(super) async fn assess(connection: &Connection, args: &cli::Assess, as_json: bool) -> Outcome {
    let spec = v1::AssessmentSpec {
        units: full_names(&args.units, "units"),
        reading_error_db: args.reading_error,
        weak_limit_db: args.weak_limit,
    };
    let request = v1::AssessUnitsRequest { spec: Some(spec), validate_only: false };
    let assessment = connection.fleet().assess_units(request).await?.into_inner();
    if as_json {
        json::print(&assessment)?;
    } else {
        print_assessment(&assessment);
    }
    report::print(connection, &assessment.name, &args.printed, as_json).await
}

fn print_assessment(assessment: &v1::UnitAssessment) {
    let mut table =
        Columns::new(&["unit", "serial", "standing", ">weaker by dB", ">90 % interval", ">chance weak", "in words"]);
    for u in &assessment.units {
        let interval = match (u.low_db, u.high_db) {
            (Some(low), Some(high)) => format!("{low:.1} to {high:.1}"),
            _ => "–".to_owned(),
        };
        table.row([
            u.unit_display_name.clone(),
            u.serial.clone(),
            words("STANDING_", u.standing().as_str_name()),
            u.weakness_db.map_or_else(|| "–".to_owned(), |weakness| format!("{weakness:.1}")),
            interval,
            format!("{:.0} %", 100.0 * u.probability_weak),
            u.text.clone(),
        ]);
    }
    table.print();
    for swap in &assessment.swaps {
        say!(
            "Swapped in one hole: {} needs {:.1} dB more than {} ({:.1} to {:.1}).",
            swap.second,
            swap.difference_db,
            swap.first,
            swap.low_db,
            swap.high_db
        );
    }
    if !assessment.left_out.is_empty() {
        say!("\nLeft out because of faults");
        let mut table = Columns::new(&["record", "what is wrong"]);
        for out in &assessment.left_out {
            table.row([out.name.clone(), out.text.clone()]);
        }
        table.print();
    }
    say!("\nStored as {}. On paper: lakebeam report {} --output units.pdf", assessment.name, assessment.name);
}
