//! From text to the values of a scene file, with all that is wrong with the text.

use ron::error::SpannedError;

use crate::block::Value as _;
use crate::fault::Faults;
use crate::file::SceneFile;
use crate::text::{Node, Shape, every_shaft, share_shafts};

/// What every scene has.
const BLOCKS: [&str; 4] = ["version", "cube", "cameras", "lamps"];

/// What a text comes to.
pub(crate) struct Draft {
    /// The values; where the text has faults, with stand-ins for what they leave open.
    pub(crate) file: SceneFile,
    /// What is wrong with the text.
    pub(crate) found: Faults,
    /// Where everything stands.
    pub(crate) tree: Option<Node>,
    /// Whether the text has the blocks of a scene, whatever is wrong inside.
    pub(crate) is_scene: bool,
}

impl Draft {
    /// Of values that stand in no text.
    pub(crate) fn of(file: SceneFile) -> Self {
        Self { file, found: Faults::default(), tree: None, is_scene: true }
    }

    /// Reads a text.
    ///
    /// # Errors
    /// Its brackets, quotes or commas do not fit: nothing more can be said then.
    pub(crate) fn read(text: &str) -> Result<Self, SpannedError> {
        let Some(mut tree) = Node::parse(text) else {
            // What the reader makes of it counts.
            let file = ron::from_str(text)?;
            return Ok(Self { file, found: Faults::default(), tree: None, is_scene: true });
        };
        let mut found = Faults::default();
        // Before what is missing gets stand-ins.
        let is_scene = BLOCKS.iter().all(|name| tree.entry(name).is_some());
        share_shafts(&mut tree, &mut found);
        match ron::from_str(&tree.text()) {
            Ok(file) => Ok(Self { file, found, tree: Some(tree), is_scene }),
            Err(error) => {
                let mut shape = SceneFile::shape();
                if let Shape::Block { fields, .. } = &mut shape {
                    fields.push(every_shaft());
                }
                shape.mend(&mut tree, ("", "a block SceneFile"), &mut found);
                let mended = ron::from_str(&tree.text());
                match mended {
                    Ok(file) if found.count() > 0 => {
                        Ok(Self { file, found, tree: Some(tree), is_scene })
                    }
                    // The reader sees more than we do: its first fault, where it finds it.
                    _ => Err(ron::from_str::<SceneFile>(text).err().unwrap_or(error)),
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use dryturn_units::noise::Seed;

    use super::*;

    /// Whatever is done to a text: what the reader takes is taken as it is, and what it does
    /// not take is refused for a reason.
    #[test]
    fn mangled_texts_are_read_as_the_reader_reads_them() {
        let text = include_str!("../../../../../scenes/workbench.ron");
        let mut noise = Seed::new(7).stream("mangled", 0, 0);
        let (mut taken, mut refused) = (0, 0);
        for number in 0..3000 {
            let mut mangled: Vec<char> = text.chars().collect();
            for _ in 0..=number % 3 {
                let at = noise.between(0.0, mangled.len() as f64) as usize;
                let with = b"(),:[]\"x0.- \n{#'"[noise.between(0.0, 16.0) as usize];
                if number % 2 == 0 {
                    mangled[at] = char::from(with);
                } else {
                    mangled.remove(at);
                }
            }
            let mangled: String = mangled.into_iter().collect();
            let draft = Draft::read(&mangled);
            match ron::from_str::<SceneFile>(&mangled) {
                Ok(file) => {
                    let draft = draft.unwrap();
                    assert_eq!(draft.found.count(), 0, "{mangled}");
                    assert!(file.shafts.len() < 6 || draft.file == file, "{mangled}");
                    taken += 1;
                }
                Err(_) => {
                    let reasons = draft.map_or(1, |draft| draft.found.count());
                    assert!(reasons > 0, "{mangled}");
                    refused += 1;
                }
            }
        }
        assert!(taken > 200 && refused > 1000, "{taken} taken, {refused} refused");
    }
}
