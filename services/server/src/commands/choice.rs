//! Money, uses, weights and what is owned, as people write them.

use proto::v1;

use super::names::full_name;
use crate::cli::{self, Goal};
use crate::exit::CliError;

/// Puts a choice into a spec; the goal of most of the time becomes the run's.
pub(super) fn put(choice: &cli::Choice, spec: &mut v1::RunSpec) -> Result<(), CliError> {
    spec.budget = choice.budget.as_deref().map(money).transpose()?;
    spec.owned = choice.own.iter().map(|name| full_name(name, "sensors")).collect();
    spec.weights.clone_from(&choice.weights);
    spec.uses = choice.uses.iter().map(|text| share(text)).collect::<Result<_, _>>()?;
    match choice.neighbours.as_slice() {
        [word] if word == "same" => spec.neighbours = v1::Neighbours::Same.into(),
        [word] if word == "unknown" => spec.neighbours = v1::Neighbours::Unknown.into(),
        names => spec.neighbour_options = names.iter().map(|name| full_name(name, "sensors")).collect(),
    }
    let most = spec.uses.iter().max_by(|a, b| a.share.total_cmp(&b.share));
    if let Some((goal, custom_goal)) = most.map(|most| (most.goal, most.custom_goal.clone())) {
        (spec.goal, spec.custom_goal) = (goal, custom_goal);
    }
    Ok(())
}

/// Refuses neighbours where there is nobody to be near: without a shelter nobody is reckoned with.
pub(super) fn check_company(choice: &cli::Choice, shelter: Option<&str>) -> Result<(), CliError> {
    if choice.neighbours.is_empty() || shelter.is_some_and(|name| !name.is_empty()) {
        return Ok(());
    }
    let problem = "--neighbours: who fishes alone has none; add --shelter with its name, or leave it out";
    Err(CliError::Usage(problem.to_owned()))
}

/// `search:0.4`, `goals/perch-school:0.6`; `search` alone has the share 1.
fn share(text: &str) -> Result<v1::UseShare, CliError> {
    let refuse = || {
        CliError::Usage(format!("--uses: '{text}' is no use with its share; write such as search:0.4,watch-lure:0.6"))
    };
    let (goal, share) = text.split_once(':').unwrap_or((text, "1"));
    let (goal, custom_goal) = Goal::parse(goal).map_err(|error| CliError::Usage(format!("--uses: {error}")))?.fields();
    Ok(v1::UseShare { goal: goal.into(), custom_goal, share: share.trim().parse().map_err(|_| refuse())? })
}

/// `2500USD`, `2500.50 EUR`.
pub(super) fn money(text: &str) -> Result<v1::Money, CliError> {
    let refuse =
        || CliError::Usage(format!("--budget: '{text}' is no amount; write it with its currency, such as 2500USD"));
    let at = text.find(|c: char| c.is_ascii_alphabetic()).ok_or_else(refuse)?;
    let (figure, currency) = text.split_at(at);
    let (whole, part) = figure.trim().split_once('.').unwrap_or((figure.trim(), ""));
    if part.len() > 9 || !part.chars().all(|c| c.is_ascii_digit()) {
        return Err(refuse());
    }
    let negative = whole.starts_with('-');
    let units: i64 = whole.parse().map_err(|_| refuse())?;
    let nanos: i32 = format!("{part:0<9}").parse().map_err(|_| refuse())?;
    let nanos = if negative { -nanos } else { nanos };
    Ok(v1::Money { currency_code: currency.trim().to_uppercase(), units, nanos })
}

/// `129.00 USD`.
pub(super) fn money_text(money: &v1::Money) -> String {
    format!("{}.{:02} {}", money.units, money.nanos.abs() / 10_000_000, money.currency_code)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn amounts_are_read_with_their_currency() {
        let read = |text| money(text).map(|m| (m.currency_code, m.units, m.nanos)).ok();
        assert_eq!(read("2500USD"), Some(("USD".to_owned(), 2500, 0)));
        assert_eq!(read("99.5 eur"), Some(("EUR".to_owned(), 99, 500_000_000)));
        assert_eq!(read("-1.25CAD"), Some(("CAD".to_owned(), -1, -250_000_000)));
        assert_eq!(["", "USD", "12", "1.2.3USD", "1,5USD"].map(read), [None, None, None, None, None]);
    }
}
