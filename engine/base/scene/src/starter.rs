//! A rig to begin with.

use crate::scene::Scene;

/// The text of a scene file to begin with, with comments: a cube of 56 mm, two cameras, two
/// lamps, six shafts of 8 mm.
pub const STARTER: &str = include_str!("../data/starter.ron");

/// The scene of [`STARTER`].
#[must_use]
pub fn starter() -> Scene {
    let scene = Scene::parse(STARTER, "starter.ron");
    scene.expect("the scene that comes with this crate is valid; a test holds it")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_is_valid() {
        assert_eq!(starter().file().cameras.len(), 2);
    }
}
