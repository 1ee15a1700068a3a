//! What the program writes and reads again: ledgers, JSON documents, calibrations.

use std::fmt::Debug;
use std::sync::LazyLock;

use dryturn_cube::{CubeState, Stickering};
use dryturn_handoff::Frame;
use dryturn_reading::{Calibration, StoredVersion, read};
use dryturn_record::ClassesDocument;
use dryturn_record::documents::{Document, ErrorDocument, Issued, ReadDocument};
use dryturn_record::ledger::parse as parse_ledger;
use dryturn_studies::RigPlanDocument;
use dryturn_studies::sets::{CocoDocument, Manifest};
use serde::Serialize;
use serde::de::DeserializeOwned;

use super::common::{DRAWN, RIG, rarely, said, text_of};

/// A ledger, line by line: what is written of a line is the same line.
pub fn ledger(bytes: &[u8]) -> bool {
    let Some(text) = text_of(bytes) else { return false };
    match parse_ledger(text) {
        Ok(lines) => {
            for line in &lines {
                let again = parse_ledger(&line.text());
                let again = again.unwrap_or_else(|error| panic!("written, {error}: {line:?}"));
                assert_eq!(again, std::slice::from_ref(line));
            }
            !lines.is_empty()
        }
        Err(error) => {
            said(&error);
            false
        }
    }
}

/// Whether the bytes are a document of this kind; what is written of it is the same.
fn read_back<T: Serialize + DeserializeOwned + PartialEq + Debug>(bytes: &[u8]) -> bool {
    let read: T = match serde_json::from_slice(bytes) {
        Ok(read) => read,
        Err(error) => {
            said(&error);
            return false;
        }
    };
    let text = dryturn_record::json_text(&read);
    let again: T =
        serde_json::from_str(&text).unwrap_or_else(|error| panic!("written, {error}: {text}"));
    assert_eq!(again, read, "written, it is another one");
    true
}

/// A JSON document of any kind. Of a set's manifest the program reads a part, by a type of its own
/// (`known.rs`), which is private; this is the whole.
pub fn document(bytes: &[u8]) -> bool {
    [
        read_back::<Issued>(bytes),
        read_back::<ErrorDocument>(bytes),
        read_back::<Manifest>(bytes),
        read_back::<CocoDocument>(bytes),
        read_back::<ClassesDocument>(bytes),
        read_back::<RigPlanDocument>(bytes),
    ]
    .contains(&true)
}

/// Pictures for a calibration to read.
static FRAMES: LazyLock<Vec<Frame>> =
    LazyLock::new(|| RIG.scan_unlabelled(&Stickering::from(&CubeState::SOLVED)).frames);

/// A stored calibration, as `read --calibration` takes it; a few are read with.
pub fn calibration(bytes: &[u8]) -> bool {
    let Some(text) = text_of(bytes) else { return false };
    let version = ron::from_str::<StoredVersion>(text).map_err(|error| error.to_string());
    let version = version.and_then(|version| version.check().map_err(|error| error.to_string()));
    if let Err(error) = version {
        said(&error);
        return false;
    }
    let stored = ron::from_str::<Calibration>(text).map_err(|error| error.to_string());
    let stored = stored.and_then(|stored| stored.checked().map_err(|error| error.to_string()));
    let calibration = match stored {
        Ok(calibration) => calibration,
        Err(error) => {
            said(&error);
            return false;
        }
    };
    let written = ron::to_string(&calibration).expect("a calibration has a form as RON");
    let again = ron::from_str::<Calibration>(&written);
    let again = again.unwrap_or_else(|error| panic!("written, {error}: {written}"));
    // By their texts, for a figure may be no number.
    assert_eq!(format!("{again:?}"), format!("{calibration:?}"));
    assert!(calibration.complete_facelets() <= 48);
    if rarely(bytes, 256) {
        let patches = RIG.patches();
        let classes = calibration.pooled_classes(patches);
        said(&classes.c_header());
        let reading = read(patches, &calibration, &FRAMES).expect("pictures of the scene's sizes");
        let told = ReadDocument::of(&DRAWN, Some(calibration.made_under()), &reading);
        let told = dryturn_record::json_text(&Issued::from(Document::Read(Box::new(told))));
        assert!(read_back::<Issued>(told.as_bytes()), "{told}");
    }
    true
}
