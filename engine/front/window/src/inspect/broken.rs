//! Files that are broken, each in another way.

use std::path::{Path, PathBuf};

use anyhow::Context as _;

/// Writes ten of them into a folder: scenes and scripts.
pub(super) fn files(folder: &Path, scene: &Path) -> anyhow::Result<Vec<PathBuf>> {
    let shown = || folder.display().to_string();
    std::fs::create_dir_all(folder.join("broken")).with_context(shown)?;
    let good = std::fs::read_to_string(scene).with_context(|| scene.display().to_string())?;
    let texts = [
        ("a.ron", String::new()),
        ("b.ron", good.replacen("version: 1", "version: 9", 1)),
        ("c.ron", good.replacen("flux_lm", "flux", 1)),
        ("d.ron", good.replacen("Daylight", "Moonlight", 1)),
        ("e.ron", good.replacen("(127.0, 127.0, 127.0)", "(1.0, 1.0, 1.0)", 1)),
        ("f.rhai", "let x = ;".to_owned()),
        ("g.rhai", "fly();".to_owned()),
        ("h.rhai", "loop {}".to_owned()),
        ("i.rhai", "scene(\"none.ron\");".to_owned()),
        ("j.rhai", "throw \"enough\";".to_owned()),
    ];
    let mut broken = Vec::new();
    for (name, text) in texts {
        let path = folder.join("broken").join(name);
        std::fs::write(&path, text).with_context(shown)?;
        broken.push(path);
    }
    Ok(broken)
}
