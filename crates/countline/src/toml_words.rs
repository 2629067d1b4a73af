//! What is wrong with a settings file, a plan or a rubric, in words that are not a programmer's.

/// The kinds of value as the reader calls them, and as a person does.
const KINDS: [(&str, &str); 14] = [
    ("expected i64", "expected a whole number"),
    ("expected u8", "expected a whole number"),
    ("expected u32", "expected a whole number"),
    ("expected u64", "expected a whole number"),
    ("expected f64", "expected a number"),
    ("expected a sequence", "expected a list in brackets, such as [1, 2] or [\"K1\", \"K2\"]"),
    ("expected a string", "expected a text in quotes"),
    ("expected a boolean", "expected true or false"),
    ("expected struct", "expected a table, its name in brackets on a line of its own,"),
    (
        "invalid mantissa",
        "a text stands in quotes, such as \"march.rhythm\": this is none, and no number either",
    ),
    ("floating point `", "the number `"),
    ("invalid type: string", "not the right kind of value: the text"),
    ("invalid type: sequence", "not the right kind of value: a list"),
    ("invalid type:", "not the right kind of value:"),
];

/// The message on one line, in plain words.
pub(crate) fn plainly(message: &str) -> String {
    let mut said = message.trim().replace('\n', ", ");
    for (kind, plain) in KINDS {
        said = said.replace(kind, plain);
    }
    said
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn kinds_of_value_are_called_by_their_names() {
        let said = plainly("invalid type: string \"all\", expected i64");
        assert_eq!(said, "not the right kind of value: the text \"all\", expected a whole number");
        let said = plainly("invalid type: integer `3`, expected a sequence");
        assert_eq!(
            said,
            "not the right kind of value: integer `3`, expected a list in brackets, such as [1, 2] or [\"K1\", \"K2\"]"
        );
        assert_eq!(plainly("unknown field `brass`"), "unknown field `brass`");
    }
}
