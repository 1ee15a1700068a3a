//! Renders what the two cameras see of a scrambled cube and saves pictures and labels.
//!
//! `cargo run --example render_pair -- FOLDER`

use std::error::Error;
use std::path::PathBuf;
use std::sync::Arc;

use dryturn::cube::{CubeState, Stickering, notation};
use dryturn::handoff::{Content, PixelMap};
use dryturn::{Rehearser, Seed};

fn main() -> Result<(), Box<dyn Error>> {
    let folder = PathBuf::from(std::env::args().nth(1).unwrap_or_else(|| "pair".to_owned()));
    std::fs::create_dir_all(&folder)?;
    // The drawing, and a rig that was built from it with the errors of trial 0.
    let scene = Arc::new(dryturn::scene::starter());
    let rig = Rehearser::new(Seed::new(1)).build(&scene, 0);
    let cube = CubeState::SOLVED.turned_by(&notation::parse("R U2 F' D L B2")?);
    let scan = rig.scan(&Stickering::from(&cube));
    for (frame, labels) in scan.frames.iter().zip(&scan.labels) {
        let picture = folder.join(format!("{}.png", frame.camera));
        std::fs::write(&picture, dryturn::report::encode(frame)?)?;
        // One grey value a pixel: the facelet's number, or what else is there.
        let codes = dryturn::report::file_bytes(&Content::Map(PixelMap::codes(labels)))?;
        std::fs::write(folder.join(format!("{}-labels.png", frame.camera)), codes)?;
        let seen = labels.facelets.iter().filter(|facelet| facelet.visible_px > 0).count();
        println!(
            "{}: {} x {} pixels, {seen} facelets in view",
            picture.display(),
            frame.width,
            frame.height
        );
    }
    Ok(())
}
