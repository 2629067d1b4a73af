use std::path::{Path, PathBuf};

/// Where a new take goes: a folder under `root` named by date, time and the rhythm's title, which does not exist yet. The second take
/// of one second has a number behind.
#[must_use]
pub fn new_take_dir(root: &Path, title: Option<&str>) -> PathBuf {
    let name = name(&jiff::Zoned::now().strftime("%Y-%m-%d %H.%M.%S").to_string(), title);
    free(root, &name)
}

fn free(root: &Path, name: &str) -> PathBuf {
    let numbered = (2u32..).map(|number| root.join(format!("{name} {number}")));
    let mut places = std::iter::once(root.join(name)).chain(numbered);
    // There is one: nobody has that many folders.
    places.find(|place| !place.exists()).unwrap_or_else(|| root.join(name))
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
    fn the_second_take_of_a_second_has_a_number() {
        let root = tempfile::tempdir().expect("a folder");
        let mut taken = Vec::new();
        for _ in 0..3 {
            let place = free(root.path(), "12.00.00 rhythm");
            std::fs::create_dir(&place).expect("it is free");
            taken.push(place.file_name().expect("a name").to_string_lossy().into_owned());
        }
        assert_eq!(taken, ["12.00.00 rhythm", "12.00.00 rhythm 2", "12.00.00 rhythm 3"]);
    }

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
