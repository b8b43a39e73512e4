//! What differs from one run to the next is masked, so that the pages are the same whenever and wherever they are made.

use anyhow::Result;
use regex::{Captures, Regex};
use std::path::Path;

/// What stands for the folder of the run.
const FOLDER: &str = "[FOLDER]";

/// Masks ids, keys, today's times and the folder, keeping lengths, so that what is aligned stays aligned.
pub(crate) fn mask(text: &str, folder: &Path) -> Result<String> {
    let id = |length: usize| format!(r"\b[0-9a-f]{{{length}}}\b");
    let short = Regex::new(r"\b[0-9A-HJKMNP-TV-Z]{4}(-[0-9A-HJKMNP-TV-Z]{4}){3}\b")?;
    let uuid = Regex::new(r"\b[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[0-9a-f]{4}-[0-9a-f]{12}\b")?;
    let hex = Regex::new(&format!("{}|{}", id(64), id(16)))?;
    let time = Regex::new(r"\b(\d{4}-\d{2}-\d{2})([T ]\d{2}:\d{2}(:\d{2}Z)?)?")?;
    let real = folder.canonicalize()?.display().to_string();
    let text = text.replace(&real, FOLDER).replace(&folder.display().to_string(), FOLDER);
    let text = short.replace_all(&text, "XXXX-XXXX-XXXX-XXXX");
    let text = uuid.replace_all(&text, "uuiduuid-uuid-uuid-uuid-uuiduuiduuid");
    let text = hex.replace_all(&text, |c: &Captures<'_>| c.get_match().as_str().replace(|_| true, "h"));
    let now = chrono::Utc::now();
    // A shop's zone may be a day ahead or behind; a run may pass midnight.
    let near: Vec<String> =
        (-2..=2).map(|days| (now + chrono::TimeDelta::days(days)).format("%Y-%m-%d").to_string()).collect();
    let text = time.replace_all(&text, |c: &Captures<'_>| {
        let whole = c.get_match().as_str();
        let today = c.get(1).is_some_and(|day| near.iter().any(|n| n == day.as_str()));
        if today { whole.replace(|c: char| c.is_ascii_digit(), "#") } else { whole.to_owned() }
    });
    // In winter and in summer the shop's zone has two names; times of the past keep theirs.
    let zone = Regex::new(r"(####-##-## ##:##) NZ[DS]T")?;
    Ok(zone.replace_all(&text, "$1 NZ#T").into_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_differs_is_masked_and_what_the_trade_writes_is_not() {
        let folder = std::env::temp_dir();
        let masked = |text: &str| mask(text, &folder).unwrap();
        assert_eq!(
            masked("ER70S-2 7K2214 TW-26-0388 2026-04-07 06:10 NZST"),
            "ER70S-2 7K2214 TW-26-0388 2026-04-07 06:10 NZST"
        );
        assert_eq!(masked("8S68-JXAC-MG8X-42R7"), "XXXX-XXXX-XXXX-XXXX");
        assert_eq!(masked(&"0f".repeat(32)), "h".repeat(64));
        assert_eq!(masked("01935f2e-8c00-7000-8000-00000000000c"), "uuiduuid-uuid-uuid-uuid-uuiduuiduuid");
        let now = chrono::Utc::now();
        assert_eq!(masked(&now.format("%Y-%m-%dT%H:%M:%SZ").to_string()), "####-##-##T##:##:##Z");
        assert_eq!(masked(&now.format("%Y-%m-%d %H:%M NZDT").to_string()), "####-##-## ##:## NZ#T");
        assert_eq!(masked(&folder.join("shop.rodbook").display().to_string()), "[FOLDER]/shop.rodbook");
    }
}
