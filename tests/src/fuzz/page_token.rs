//! Page tokens: each leads back to its position in its own listing, and nothing else is taken for one.

use api::edge::Listing;
use arbitrary::{Result, Unstructured};

const KINDS: [&str; 4] = ["sensors", "spots", "runs", "findings"];

pub(crate) fn target(data: &[u8]) {
    // Input that ends early has nothing more to check.
    let _ = check(&mut Unstructured::new(data));
}

fn check(input: &mut Unstructured<'_>) -> Result<()> {
    let kind = input.choose(&KINDS)?;
    let [parent, filter, position] =
        [input.arbitrary::<&str>()?, input.arbitrary::<&str>()?, input.arbitrary::<&str>()?];
    let listing = Listing { kind, selection: &[parent, filter] };
    let token = listing.token(Some(position));
    assert!(token.bytes().all(|byte| byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'_')), "{token}");
    assert_eq!(listing.position(&token).ok().flatten().as_deref(), Some(position), "{token}");

    let edited = edited(&token, input)?;
    if edited != token {
        leads_nowhere(&listing, &edited);
    }
    foreign(kind, parent, filter, &token, input)?;

    let given = String::from_utf8_lossy(input.bytes(input.len())?).into_owned();
    match listing.position(&given) {
        Ok(Some(position)) => assert_eq!(listing.token(Some(&position)), given, "two tokens of one position"),
        Ok(None) => assert_eq!(given, "", "taken for the first page"),
        Err(error) => assert!(!error.to_string().is_empty()),
    }
    Ok(())
}

/// The same token with one byte replaced, put in or left out, or cut short.
fn edited(token: &str, input: &mut Unstructured<'_>) -> Result<String> {
    let mut bytes = token.as_bytes().to_vec();
    let at = input.int_in_range(0..=bytes.len().saturating_sub(1))?;
    match input.int_in_range(0..=3)? {
        0 => {
            if let Some(byte) = bytes.get_mut(at) {
                *byte = input.arbitrary()?;
            }
        }
        1 => bytes.insert(at, input.arbitrary()?),
        2 => {
            bytes.remove(at);
        }
        _ => bytes.truncate(at),
    }
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

/// No other listing takes the token: not of another kind, filter, or with the same letters cut elsewhere.
fn foreign(kind: &'static str, parent: &str, filter: &str, token: &str, input: &mut Unstructured<'_>) -> Result<()> {
    let other = input.choose(&KINDS)?;
    if *other != kind {
        leads_nowhere(&Listing { kind: other, selection: &[parent, filter] }, token);
    }
    let whole = format!("{parent}{filter}");
    leads_nowhere(&Listing { kind, selection: &[&whole] }, token);
    let cut = input.int_in_range(0..=whole.len())?;
    if let Some((left, right)) = whole.split_at_checked(cut)
        && left != parent
    {
        leads_nowhere(&Listing { kind, selection: &[left, right] }, token);
    }
    leads_nowhere(&Listing { kind, selection: &[parent, &format!("{filter} ")] }, token);
    Ok(())
}

fn leads_nowhere(listing: &Listing<'_>, token: &str) {
    let position = listing.position(token);
    let refused = if token.is_empty() { matches!(position, Ok(None)) } else { position.is_err() };
    assert!(refused, "'{token}' leads to {position:?} in {listing:?}");
}
