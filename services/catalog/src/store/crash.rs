//! Points at which a test may end the process, to see that what is left behind is sound.

/// Ends the process at once, as a crash would, if the environment names this point: `LAKEBEAM_CRASH_AT=run-committed`.
/// A release build has nothing of it, whatever the environment says.
#[cfg(debug_assertions)]
pub(crate) fn crash_point(name: std::fmt::Arguments<'_>) {
    if std::env::var_os("LAKEBEAM_CRASH_AT").is_some_and(|wanted| wanted == name.to_string().as_str()) {
        std::process::abort();
    }
}

/// Nothing: only debug builds crash on demand.
#[cfg(not(debug_assertions))]
pub(crate) fn crash_point(_: std::fmt::Arguments<'_>) {}
