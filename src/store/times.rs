//! Times as text: RFC 3339 in UTC, to the second.

use std::time::SystemTime;

use jiff::Timestamp;

/// The time now, or what `SOURCE_DATE_EPOCH` says it is (reproducible-builds.org, a number of seconds since 1970).
#[must_use]
pub fn now() -> String {
    let fixed = std::env::var("SOURCE_DATE_EPOCH").ok().and_then(|text| text.parse().ok());
    written(fixed.and_then(|s| Timestamp::from_second(s).ok()).unwrap_or_else(Timestamp::now))
}

/// The text of a time; `None` for one that no calendar holds.
pub(super) fn of(time: SystemTime) -> Option<String> {
    Timestamp::try_from(time).ok().map(written)
}

fn written(time: Timestamp) -> String {
    Timestamp::from_second(time.as_second()).unwrap_or(time).to_string()
}
