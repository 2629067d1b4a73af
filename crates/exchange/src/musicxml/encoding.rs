use std::borrow::Cow;

use crate::Error;

/// The text of a file: UTF-8, UTF-16 by its mark or its first characters, ISO-8859-1 where the file says so or is no
/// UTF-8.
pub(super) fn decode(bytes: &[u8]) -> Result<Cow<'_, str>, Error> {
    match bytes {
        [0xFF, 0xFE, 0, 0, ..] | [0, 0, 0xFE, 0xFF, ..] => {
            Err(Error::Encoding { given: "UTF-32".to_owned() })
        }
        [0xFF, 0xFE, rest @ ..] | rest @ [b'<', 0, ..] => Ok(utf16(rest, u16::from_le_bytes).into()),
        [0xFE, 0xFF, rest @ ..] | rest @ [0, b'<', ..] => Ok(utf16(rest, u16::from_be_bytes).into()),
        [0xEF, 0xBB, 0xBF, rest @ ..] => Ok(utf8_or_latin1(rest)),
        _ => match declared(bytes).as_deref() {
            None | Some("utf-8" | "utf8" | "us-ascii" | "ascii") => Ok(utf8_or_latin1(bytes)),
            Some("iso-8859-1" | "latin1" | "latin-1" | "windows-1252" | "iso-8859-15") => Ok(latin1(bytes)),
            // Nothing but ASCII is the same text in every encoding that grew from it.
            Some(_) if bytes.is_ascii() => Ok(utf8_or_latin1(bytes)),
            Some(other) => Err(Error::Encoding { given: other.to_owned() }),
        },
    }
}

/// The encoding that the XML declaration names, in small letters.
fn declared(bytes: &[u8]) -> Option<String> {
    let start = &bytes[..bytes.len().min(200)];
    let text: String = start.iter().map(|&byte| char::from(byte)).collect();
    let declaration = text.trim_start().strip_prefix("<?xml")?.split("?>").next()?.to_owned();
    let (_, value) = declaration.split_once("encoding")?;
    let value = value.trim_start().strip_prefix('=')?.trim_start();
    let quote = value.chars().next().filter(|&quote| quote == '"' || quote == '\'')?;
    Some(value[1..].split(quote).next()?.trim().to_lowercase())
}

fn utf16(bytes: &[u8], number: fn([u8; 2]) -> u16) -> String {
    let units = bytes.chunks_exact(2).map(|pair| number([pair[0], pair[1]]));
    let mut text = String::with_capacity(bytes.len() / 2);
    text.extend(char::decode_utf16(units).map(|read| read.unwrap_or(char::REPLACEMENT_CHARACTER)));
    text
}

fn utf8_or_latin1(bytes: &[u8]) -> Cow<'_, str> {
    std::str::from_utf8(bytes).map_or_else(|_| latin1(bytes), Cow::Borrowed)
}

/// The first 256 characters of Unicode are those of ISO-8859-1.
fn latin1(bytes: &[u8]) -> Cow<'_, str> {
    match std::str::from_utf8(bytes) {
        Ok(text) if bytes.is_ascii() => Cow::Borrowed(text),
        _ => Cow::Owned(bytes.iter().map(|&byte| char::from(byte)).collect()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(bytes: &[u8], text: &str) {
        assert_eq!(decode(bytes).as_deref(), Ok(text), "{bytes:?}");
    }

    #[test]
    fn every_encoding_of_the_standard_is_read() {
        let text = "<?xml version='1.0'?><a>Übung</a>";
        check(text.as_bytes(), text);
        check(&[b"\xEF\xBB\xBF", text.as_bytes()].concat(), text);
        let little: Vec<u8> = text.encode_utf16().flat_map(u16::to_le_bytes).collect();
        let big: Vec<u8> = text.encode_utf16().flat_map(u16::to_be_bytes).collect();
        check(&little, text);
        check(&big, text);
        check(&[&[0xFF, 0xFE], little.as_slice()].concat(), text);
        check(&[&[0xFE, 0xFF], big.as_slice()].concat(), text);
        let says = "<?xml version='1.0' encoding=\"ISO-8859-1\"?><a>\u{DC}</a>";
        check(&says.chars().map(|c| u8::try_from(u32::from(c)).expect("Latin-1")).collect::<Vec<_>>(), says);
        check(b"<a>\xDC</a>", "<a>\u{DC}</a>");
    }

    #[test]
    fn another_encoding_is_named_in_the_error() {
        let error =
            decode(b"<?xml version='1.0' encoding='Shift_JIS'?><a>\x83\x80</a>").expect_err("unknown");
        assert!(error.to_string().contains("shift_jis"), "{error}");
        assert!(decode(b"\xFF\xFE\0\0<\0\0\0").is_err());
    }
}
