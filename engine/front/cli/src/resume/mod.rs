//! Works that go on where they were broken off: their finished pieces are kept in a hidden
//! folder of the output folder until the work is done.
//!
//! A piece is a file that begins with the digest of its bytes; one that is damaged is made
//! again. The request stands beside them: a record of another request is refused.

use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};

use dryturn_record::digest;
use dryturn_studies::Keeper;
use serde_json::{Value as Json, json};

use crate::failure::Failure;
use crate::output::OutputFolder;
use crate::say;

/// Characters of a digest, and the end of its line.
const SEAL: usize = 65;
/// A value of a request that takes fewer characters is told.
const SAID: usize = 40;

/// Bytes behind their digest.
pub(crate) fn sealed(bytes: &[u8]) -> Vec<u8> {
    let mut sealed = digest(bytes).into_bytes();
    sealed.push(b'\n');
    sealed.extend_from_slice(bytes);
    sealed
}

/// The bytes, where they are as they were sealed.
pub(crate) fn unsealed(sealed: &[u8]) -> Option<&[u8]> {
    let (seal, bytes) = sealed.split_at_checked(SEAL)?;
    (seal[..SEAL - 1] == *digest(bytes).as_bytes() && seal[SEAL - 1] == b'\n').then_some(bytes)
}

/// A kind of work with a record.
#[derive(Clone, Copy)]
pub(crate) struct Work {
    /// The hidden folder of its record.
    pub(crate) folder: &'static str,
    /// What a person calls it.
    pub(crate) name: &'static str,
}

impl Work {
    /// Begins a record in an output folder, or takes up the one that an unfinished work of the
    /// same request has left. A record whose request cannot be read is of no use and is begun
    /// anew.
    ///
    /// # Errors
    /// An unfinished work of another request, or what cannot be read or written.
    pub(crate) fn take_up(self, folder: &OutputFolder, request: &Json) -> Result<(), Failure> {
        let name = format!("{}/request.json", self.folder);
        let request = json!({ "program": env!("CARGO_PKG_VERSION"), "request": request });
        let text = format!("{request:#}\n");
        match folder.read(&name)?.as_deref().map(unsealed) {
            Some(Some(before)) if before == text.as_bytes() => return Ok(()),
            Some(Some(before)) => {
                let before: Json = serde_json::from_slice(before).unwrap_or_default();
                let (root, own, name) = (folder.root().display(), self.folder, self.name);
                return Err(Failure::input(format!(
                    "{root}: holds an unfinished {name} of another request: {}. To go on with \
                     that one, give its call again; to drop it and begin this one, delete the \
                     folder {root}/{own}; to keep both, give this one another --out",
                    differences(&before, &request)
                )));
            }
            Some(None) => {
                let root = folder.root().display();
                say::message(&format!(
                    "{root}: the record of an unfinished {} is damaged: it begins anew",
                    self.name
                ));
            }
            None => {}
        }
        folder.remove_own(self.folder)?;
        folder.keep(&name, &sealed(text.as_bytes()), true)
    }
}

/// What an unfinished request and the one of this call differ in.
fn differences(before: &Json, now: &Json) -> String {
    let versions = [&before["program"], &now["program"]];
    let keys = |request: &Json| -> Vec<String> {
        request["request"].as_object().map_or_else(Vec::new, |all| all.keys().cloned().collect())
    };
    let mut names = [keys(before), keys(now)].concat();
    names.sort();
    names.dedup();
    // The version of the program stands there too.
    names.retain(|name| name != "dryturn");
    let of = |name: &String| [before, now].map(|request| &request["request"][name]);
    let differing = names.iter().map(|name| (&name[..], of(name)));
    let all = [("version of the program", versions)].into_iter().chain(differing);
    let mut found: Vec<String> = Vec::new();
    for (name, [there, here]) in all.filter(|(_, [there, here])| there != here) {
        let short = |value: &Json| value.to_string().len() < SAID;
        let told = !there.is_array() && !here.is_array() && short(there) && short(here);
        let name = name.trim_end_matches("_sha256").replace('_', " ");
        found.push(if told {
            format!("{name} {there} there, {here} here")
        } else {
            format!("another {}", name.trim_end_matches('s'))
        });
    }
    found.dedup();
    if found.is_empty() { "written otherwise".to_owned() } else { found.join("; ") }
}

/// Keeps pieces below an output folder.
pub(crate) struct Pieces<'a> {
    work: Work,
    folder: &'a OutputFolder,
    failure: Mutex<Option<Failure>>,
    kept: AtomicUsize,
    recalled: AtomicUsize,
}

impl<'a> Pieces<'a> {
    pub(crate) fn of(work: Work, folder: &'a OutputFolder) -> Self {
        Self {
            work,
            folder,
            failure: Mutex::new(None),
            kept: AtomicUsize::new(0),
            recalled: AtomicUsize::new(0),
        }
    }

    fn name(&self, piece: usize) -> String {
        format!("{}/{piece:06}", self.work.folder)
    }

    /// Executions that are kept, and those of them that were there already.
    pub(crate) fn counts(&self) -> (usize, usize) {
        let of = |count: &AtomicUsize| count.load(Ordering::Relaxed);
        (of(&self.kept) + of(&self.recalled), of(&self.recalled))
    }

    /// Why a piece could not be kept.
    pub(crate) fn failure(&self) -> Option<Failure> {
        self.failure.lock().unwrap_or_else(PoisonError::into_inner).take()
    }
}

impl Keeper for Pieces<'_> {
    fn recall(&self, piece: usize) -> Option<Vec<u8>> {
        let found = self.folder.read(&self.name(piece)).ok()??;
        unsealed(&found).map(<[u8]>::to_vec)
    }

    fn recalled(&self, items: usize) {
        self.recalled.fetch_add(items, Ordering::Relaxed);
    }

    fn keep(&self, piece: usize, bytes: &[u8], items: usize) -> bool {
        match self.folder.keep(&self.name(piece), &sealed(bytes), true) {
            Ok(()) => {
                self.kept.fetch_add(items, Ordering::Relaxed);
                true
            }
            Err(failure) => {
                *self.failure.lock().unwrap_or_else(PoisonError::into_inner) = Some(failure);
                false
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Short values are told, lists and digests are named; what is the same is not mentioned.
    #[test]
    fn what_differs_is_told() {
        let digest = |letter: &str| letter.repeat(64);
        let request = |version: &str, seed: u64, scene: &str, plans: &[&str]| {
            let request = json!({
                "seed": seed, "scene": "hall", "scene_sha256": digest(scene), "plans": plans,
                "trials": 5000, "dryturn": version,
            });
            json!({ "program": version, "request": request })
        };
        let before = request("0.1.0", 1, "a", &["R U"]);
        let all = request("0.2.0", 2, "b", &["R U", "F"]);
        assert_eq!(
            differences(&before, &all),
            "version of the program \"0.1.0\" there, \"0.2.0\" here; another plan; another scene; \
             seed 1 there, 2 here"
        );
        let seed = request("0.1.0", 3, "a", &["R U"]);
        assert_eq!(differences(&before, &seed), "seed 1 there, 3 here");
        assert_eq!(differences(&before, &before), "written otherwise");
        assert_eq!(differences(&Json::Null, &seed).matches("there, ").count(), 4);
    }

    #[test]
    fn what_is_damaged_is_not_taken() {
        for bytes in [&b""[..], b"x", b"some bytes"] {
            let whole = sealed(bytes);
            assert_eq!(unsealed(&whole), Some(bytes));
            for end in 0..whole.len() {
                assert_eq!(unsealed(&whole[..end]), None);
            }
            for at in 0..whole.len() {
                let mut damaged = whole.clone();
                damaged[at] ^= 4;
                assert_eq!(unsealed(&damaged), None);
            }
        }
    }
}
