//! Calling the program and finding its files.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::Arc;

use dryturn_scene::Scene;
use dryturn_scene::file::SceneFile;

/// The repository's root.
pub(crate) fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../..").canonicalize().unwrap()
}

pub(crate) fn read(path: impl AsRef<Path>) -> String {
    let path = root().join(path);
    std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

pub(crate) fn scene(name: &str) -> Arc<Scene> {
    let text = read(format!("scenes/{name}.ron"));
    Arc::new(Scene::parse(&text, &format!("{name}.ron")).unwrap())
}

/// Makes a scene's pictures small and quick.
pub(crate) fn with_small_pictures(file: &mut SceneFile) {
    for camera in &mut file.cameras {
        *camera = camera.with_pixels([320, 240]);
        camera.samples_px = 4;
    }
}

/// A number from the environment, for a long test.
pub(crate) fn setting(name: &str, usual: u64) -> u64 {
    std::env::var(name).ok().and_then(|text| text.parse().ok()).unwrap_or(usual)
}

/// Files of a folder with an extension, sorted.
pub(crate) fn files(folder: &str, extension: &str) -> Vec<PathBuf> {
    let mut files: Vec<PathBuf> = std::fs::read_dir(root().join(folder))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == extension))
        .collect();
    files.sort();
    files
}

/// Every file below a folder with its bytes.
pub(crate) fn contents(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut found = BTreeMap::new();
    let mut open = vec![folder.to_owned()];
    while let Some(at) = open.pop() {
        for entry in std::fs::read_dir(&at).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                open.push(path);
            } else {
                let name = path.strip_prefix(folder).unwrap().display().to_string();
                found.insert(name, std::fs::read(&path).unwrap());
            }
        }
    }
    found
}

/// What a call of the program left.
pub(crate) struct Call {
    pub(crate) code: i32,
    pub(crate) stdout: String,
    pub(crate) stderr: String,
}

pub(crate) fn call_of(output: Output) -> Call {
    let text = |bytes| String::from_utf8(bytes).expect("the program writes UTF-8");
    let call = Call {
        code: output.status.code().expect("the program ends by itself"),
        stdout: text(output.stdout),
        stderr: text(output.stderr),
    };
    crate::written::printed(&call.stdout);
    call
}

/// The program. `DRYTURN_PROGRAM` names another build of it, with what that runs in before it.
pub(crate) fn program() -> Command {
    let other = std::env::var("DRYTURN_PROGRAM").unwrap_or_default();
    let mut words = other.split_whitespace();
    let mut command = Command::new(words.next().unwrap_or(env!("CARGO_BIN_EXE_dryturn")));
    command.args(words);
    command
}

/// Calls the program in `folder`.
pub(crate) fn call(folder: &Path, arguments: &[&str]) -> Call {
    call_of(program().current_dir(folder).args(arguments).output().unwrap())
}

/// Compares a generated page with the file in the repository, or rewrites it
/// when `UPDATE_GOLDENS` is set.
pub(crate) fn golden(path: &str, wanted: &str) {
    let file = root().join(path);
    if std::env::var_os("UPDATE_GOLDENS").is_some() {
        std::fs::write(&file, wanted).unwrap();
    }
    let found = std::fs::read_to_string(&file).unwrap_or_default();
    assert!(found == wanted, "{path} is out of date: UPDATE_GOLDENS=1 cargo test rewrites it");
}
