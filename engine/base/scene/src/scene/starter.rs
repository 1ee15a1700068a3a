//! A rig to begin with.

use super::Scene;

/// The text of a scene file to begin with, with comments: a cube of 56 mm, two cameras, two
/// lamps, six shafts of 8 mm.
pub const STARTER: &str = include_str!("../../data/starter.ron");

/// The scene of [`STARTER`].
#[must_use]
pub fn starter() -> Scene {
    let scene = Scene::parse(STARTER, "starter.ron");
    scene.expect("the scene that comes with this crate is valid; a test holds it")
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;
    use std::sync::atomic::{AtomicBool, Ordering};

    use super::*;
    use crate::curves::Files;

    #[test]
    fn it_is_valid() {
        assert_eq!(starter().file().cameras.len(), 2);
    }

    /// A file that is there once.
    struct Once(AtomicBool);

    impl Files for Once {
        fn text(&self, path: &str) -> Result<String, String> {
            let again = self.0.swap(true, Ordering::Relaxed);
            if again {
                Err(path.to_owned())
            } else {
                Ok("nm,power\n400,1\n500,1\n700,1\n".to_owned())
            }
        }
    }

    /// What happens to a table after its scene was loaded changes no scene that is made of it.
    #[test]
    fn tables_are_read_once() {
        let measured = "spectrum: Measured, spectrum_csv: \"lamp.csv\"";
        let text = STARTER.replacen("spectrum: Thermal", measured, 1);
        let scene = Scene::load(&text, "s.ron", Arc::new(Once(AtomicBool::new(false)))).unwrap();
        let other = scene.with_text("lamps.upper.flux_lm", "100").unwrap().renamed("other");
        assert!(other.curve("lamp.csv").is_some());
        assert!(scene.with_text("lamps.upper.spectrum_csv", "other.csv").is_err());
    }
}
