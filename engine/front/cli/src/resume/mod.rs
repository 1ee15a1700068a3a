//! Works that go on where they were broken off: their finished pieces are kept in a hidden
//! folder of the output folder until the work is done.
//!
//! The request stands beside them: a record of another request, or of another program, is refused.
//! What suites of scripts keep is `finished.rs`.

pub(crate) mod finished;
mod pieces;
mod program;
mod seal;

use serde_json::{Value as Json, json};

pub(crate) use self::pieces::{Pieces, broken_off, were_there};
pub(crate) use self::seal::{sealed, unsealed};
use crate::failure::Failure;
use crate::output::OutputFolder;
use crate::say;

/// A value of a request that takes fewer characters is told.
const SAID: usize = 40;

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
    /// anew, and so is any where the program does not know itself.
    ///
    /// # Errors
    /// An unfinished work of another request, or what cannot be read or written.
    pub(crate) fn take_up(self, folder: &OutputFolder, request: &Json) -> Result<(), Failure> {
        let name = format!("{}/request.json", self.folder);
        let program = program::sha256();
        let request = json!({ "program_sha256": program, "request": request });
        let text = format!("{request:#}\n");
        match folder.read(&name)?.as_deref().map(unsealed) {
            Some(Some(before)) if before != text.as_bytes() => {
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
            Some(Some(_)) if program.is_some() => return Ok(()),
            Some(Some(_)) | None => {}
        }
        folder.remove_own(self.folder)?;
        folder.keep(&name, &sealed(text.as_bytes()), true)
    }
}

/// What an unfinished request and the one of this call differ in.
fn differences(before: &Json, now: &Json) -> String {
    let programs = [&before["program_sha256"], &now["program_sha256"]];
    let keys = |request: &Json| -> Vec<String> {
        request["request"].as_object().map_or_else(Vec::new, |all| all.keys().cloned().collect())
    };
    let mut names = [keys(before), keys(now)].concat();
    names.sort();
    names.dedup();
    // A version of the program stands there too: its digest says more.
    names.retain(|name| name != "dryturn");
    let of = |name: &String| [before, now].map(|request| &request["request"][name]);
    let differing = names.iter().map(|name| (&name[..], of(name)));
    let all = [("program_sha256", programs)].into_iter().chain(differing);
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

#[cfg(test)]
mod tests {
    use super::*;

    /// Short values are told, lists and digests are named; what is the same is not mentioned.
    #[test]
    fn what_differs_is_told() {
        let digest = |letter: &str| letter.repeat(64);
        let request = |program: &str, seed: u64, scene: &str, plans: &[&str]| {
            let request = json!({
                "seed": seed, "scene": "hall", "scene_sha256": digest(scene), "plans": plans,
                "trials": 5000, "dryturn": program,
            });
            json!({ "program_sha256": digest(program), "request": request })
        };
        let before = request("d", 1, "a", &["R U"]);
        let all = request("e", 2, "b", &["R U", "F"]);
        assert_eq!(
            differences(&before, &all),
            "another program; another plan; another scene; seed 1 there, 2 here"
        );
        let seed = request("d", 3, "a", &["R U"]);
        assert_eq!(differences(&before, &seed), "seed 1 there, 3 here");
        assert_eq!(differences(&before, &before), "written otherwise");
        assert_eq!(differences(&Json::Null, &seed).matches("there, ").count(), 3);
    }
}
