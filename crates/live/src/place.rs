use std::path::{Path, PathBuf};

/// Where a new take goes: a folder under `root` named by date, time and the rhythm's title, which does not exist yet
/// as far as the name can tell.
#[must_use]
pub fn new_take_dir(root: &Path, title: Option<&str>) -> PathBuf {
    root.join(name(&jiff::Zoned::now().strftime("%Y-%m-%d %H.%M.%S").to_string(), title))
}

/// Letters and digits of the title, everything else a hyphen: fit for a file name on any system.
fn name(time: &str, title: Option<&str>) -> String {
    let plain: String = title
        .unwrap_or("rhythm")
        .chars()
        .map(|c| if c.is_alphanumeric() { c } else { '-' })
        .take(60)
        .collect();
    let words: Vec<&str> = plain.split('-').filter(|word| !word.is_empty()).collect();
    if words.is_empty() { time.to_owned() } else { format!("{time} {}", words.join("-")) }
}

/// Now, as RFC 3339 with the local offset: `2026-03-01T10:15:00+01:00`.
#[must_use]
pub fn now() -> String {
    jiff::Zoned::now().strftime("%Y-%m-%dT%H:%M:%S%:z").to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn titles_become_file_names() {
        assert_eq!(
            name("2025-03-01 10.15.00", Some("Tin Roof: 2/4 (easy)")),
            "2025-03-01 10.15.00 Tin-Roof-2-4-easy"
        );
        assert_eq!(name("2025-03-01 10.15.00", Some("???")), "2025-03-01 10.15.00");
        assert_eq!(name("2025-03-01 10.15.00", None), "2025-03-01 10.15.00 rhythm");
    }
}
