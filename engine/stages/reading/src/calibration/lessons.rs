//! Scans of known cubes, one after the other.

use dryturn_cube::{Colouring, Facelet};
use dryturn_units::colour::EncodedRgb8;

use super::{Calibration, CalibrationError, KnownScan};
use crate::looks::{Sighting, median};
use crate::pixels::{Patches, Standing};

/// Learns from scans of cubes that somebody knows as they are read: the solved cube, or any
/// other. Of each scan it keeps a colour a facelet, so that only one need be in memory. With
/// the six mountings of [`dryturn_cube::MOUNTINGS`] every facelet sees every colour, so uneven
/// light cancels; with fewer scans, what a place has not seen is taken from elsewhere.
pub struct Lessons<'a> {
    patches: &'a Patches,
    each_rig: bool,
    scans: usize,
    sightings: Vec<Sighting>,
    /// By camera: how the grey patch looked.
    grey: Vec<Vec<EncodedRgb8>>,
    standing: Option<Standing>,
}

impl<'a> Lessons<'a> {
    /// The cameras stand where the first scan finds them, unless each scan is of a rig of its
    /// own (`each_rig`).
    #[must_use]
    pub fn new(patches: &'a Patches, each_rig: bool) -> Self {
        let grey = vec![Vec::new(); patches.camera_count()];
        Self { patches, each_rig, scans: 0, sightings: Vec::new(), grey, standing: None }
    }

    /// Takes another scan.
    ///
    /// # Errors
    /// Frames that do not fit the scene.
    pub fn add(&mut self, scan: &KnownScan) -> Result<(), CalibrationError> {
        let patches = self.patches;
        let frames = &*patches.one_each(&scan.frames)?;
        if self.each_rig {
            self.standing = None;
        }
        let standing = self.standing.get_or_insert_with(|| patches.standing(frames));
        let colours: Colouring = scan.shown.colours();
        let fold = self.scans;
        for facelet in Facelet::all() {
            for camera in 0..patches.camera_count() {
                let Some(pixels) = patches.pixels(standing, camera, facelet) else { continue };
                let Some(shown) = patches.shown(frames, camera, &pixels) else { continue };
                let seen = shown.median;
                let colour = colours[facelet.index()].index();
                let (facelet, camera) = (Some(facelet), Some(camera));
                self.sightings.push(Sighting { fold, facelet, camera, colour, seen });
            }
        }
        for (camera, all) in self.grey.iter_mut().enumerate() {
            all.extend(patches.grey(frames, camera));
        }
        self.scans += 1;
        Ok(())
    }

    /// Scans taken so far.
    #[must_use]
    pub fn scans(&self) -> usize {
        self.scans
    }

    /// What they teach.
    ///
    /// # Errors
    /// A colour that no scan shows.
    pub fn learn(self) -> Result<Calibration, CalibrationError> {
        let grey = self.grey.iter().map(|seen| median(seen)).collect();
        Calibration::of_sightings(self.patches, grey, self.sightings, self.scans)
    }
}
