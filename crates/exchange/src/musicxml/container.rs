use std::io::{Cursor, Read, Write};

use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipArchive, ZipWriter};

use super::encoding;
use super::xml::Xml;
use crate::Error;
use crate::limits::{MXL_BYTES, MXL_FILES, XML_BYTES};

/// Where a packed file tells which of its files is the score.
const CONTAINER: &str = "META-INF/container.xml";

/// The media type of a packed file, which stands first in it.
const MIMETYPE: &str = "application/vnd.recordare.musicxml";

/// Whether bytes are those of a packed file: they begin as every zip archive with a file in it does.
pub(super) fn is_packed(bytes: &[u8]) -> bool {
    bytes.starts_with(b"PK\x03\x04") || bytes.starts_with(b"PK\x05\x06")
}

/// The score in a packed file, unpacked.
pub(super) fn unpack(bytes: &[u8]) -> Result<Vec<u8>, Error> {
    let size = i64::try_from(bytes.len()).unwrap_or(i64::MAX);
    if !MXL_BYTES.holds(size) {
        return Err(Error::Size { given: bytes.len() as u64, limit: MXL_BYTES });
    }
    few_files(bytes)?;
    let wrong = |error: zip::result::ZipError| Error::Archive { what: error.to_string() };
    let mut archive = ZipArchive::new(Cursor::new(bytes)).map_err(wrong)?;
    let name = root(&mut archive)?;
    file(&mut archive, &name)
}

/// That the archive lists few enough files, before room is made for them.
fn few_files(bytes: &[u8]) -> Result<(), Error> {
    // The record at the end: its mark, 22 bytes, and a comment of up to 65,535.
    let tail = &bytes[bytes.len().saturating_sub(22 + 0xFFFF)..];
    let mut ends = tail.windows(22).filter(|record| record.starts_with(b"PK\x05\x06")).peekable();
    if ends.peek().is_none() {
        return Err(Error::Archive { what: "it has no list of its files: it was cut off".to_owned() });
    }
    for record in ends {
        let files = i64::from(u16::from_le_bytes([record[10], record[11]]));
        if files > MXL_FILES.most {
            let what = format!("it lists {files} files, {} are allowed", MXL_FILES.most);
            return Err(Error::Archive { what });
        }
    }
    Ok(())
}

/// The name of the score in the archive: the first that its container names, else the first XML file.
fn root(archive: &mut ZipArchive<Cursor<&[u8]>>) -> Result<String, Error> {
    if archive.index_for_name(CONTAINER).is_some() {
        let bytes = file(archive, CONTAINER)?;
        let text = encoding::decode(&bytes)?;
        let mut xml = Xml::new(&text);
        while let Some(element) = xml.child()? {
            match element.name() {
                b"container" | b"rootfiles" => {}
                b"rootfile" => {
                    if let Some(path) = xml.attribute(&element, "full-path")? {
                        return Ok(path.into_owned());
                    }
                    xml.skip()?;
                }
                _ => xml.skip()?,
            }
        }
    }
    let is_score = |name: &String| {
        let lower = name.to_lowercase();
        !lower.starts_with("meta-inf/") && (lower.ends_with(".xml") || lower.ends_with(".musicxml"))
    };
    let found = archive.file_names().flatten().map(|name| name.into_owned()).find(is_score);
    found.ok_or_else(|| Error::Archive { what: "it holds no score".to_owned() })
}

/// One file of the archive, at most as large as a score may be whatever the archive says of its size.
fn file(archive: &mut ZipArchive<Cursor<&[u8]>>, name: &str) -> Result<Vec<u8>, Error> {
    let wrong = |what: String| Error::Archive { what: format!("{name:?}: {what}") };
    let entry = archive.by_name(name).map_err(|error| wrong(error.to_string()))?;
    let most = u64::try_from(XML_BYTES.most).unwrap_or(u64::MAX);
    if entry.size() > most {
        return Err(Error::Size { given: entry.size(), limit: XML_BYTES });
    }
    let mut bytes = Vec::new();
    entry.take(most + 1).read_to_end(&mut bytes).map_err(|error| wrong(error.to_string()))?;
    if bytes.len() as u64 > most {
        return Err(Error::Size { given: bytes.len() as u64, limit: XML_BYTES });
    }
    Ok(bytes)
}

/// Packs a score.
pub(super) fn pack(score: &str) -> Result<Vec<u8>, Error> {
    let container = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
        <container>\n  <rootfiles>\n    \
        <rootfile full-path=\"score.musicxml\" media-type=\"application/vnd.recordare.musicxml+xml\"/>\n  \
        </rootfiles>\n</container>\n";
    let packed = SimpleFileOptions::default().compression_method(CompressionMethod::Deflated);
    let stored = SimpleFileOptions::default().compression_method(CompressionMethod::Stored);
    let files =
        [("mimetype", MIMETYPE, stored), (CONTAINER, container, packed), ("score.musicxml", score, packed)];
    let wrong = |what: String| Error::Archive { what };
    let mut archive = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, text, options) in files {
        archive.start_file(name, options).map_err(|error| wrong(error.to_string()))?;
        archive.write_all(text.as_bytes()).map_err(|error| wrong(error.to_string()))?;
    }
    Ok(archive.finish().map_err(|error| wrong(error.to_string()))?.into_inner())
}
