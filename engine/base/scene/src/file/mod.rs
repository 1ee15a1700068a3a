//! The blocks of a scene file, version 1.
//!
//! Lengths are in millimetres from the centre of the cube: x to the right face,
//! y up, z to the front face. Every name ends in its unit; `share` and `ratio`
//! are numbers without one. Figures without a source are assumptions for the demo.

mod camera;
mod control;
mod cube;
mod drive;
mod fixture;
mod guests;
mod light;
mod power;
mod reader;
mod shaft;
mod tolerances;

pub use camera::{Camera, Mosaic, Shutter, WhiteBalance};
pub use control::{AntiWindup, Controller, Detection, Faults, Handover, Link, Policy};
pub use cube::{Body, Colours, Cube, Finish, Make, Pigment, Tension};
pub use drive::{Drive, Preset, Profile};
pub use fixture::{Fixture, FixtureShape, FixtureUse};
pub use guests::{Guest, Guests};
pub use light::{FlickerWave, Lamp, LampShape, Spectrum, Surroundings};
pub use power::{Host, Supply};
pub use reader::{Method, Reader};
pub use shaft::{FaceName, MotorBody, Section, Shaft};
pub use tolerances::Tolerances;

block! {
    /// A scene: the rig, the light and the tolerances.
    SceneFile {
        version: u32 = required, 1..=1, "Version of this format.";
        name: String = required, 1..=80, "What the report calls it.";
        cube: Cube = required, (), "The cube.";
        shafts: Vec<Shaft> = required, 6..=6, "The six shafts; a face that has no entry has the shaft that every_shaft describes.";
        fixtures: Vec<Fixture> = (Vec::new()), 0..=32, "What else stands in the rig.";
        cameras: Vec<Camera> = required, 2..=6, "The cameras.";
        lamps: Vec<Lamp> = required, 1..=16, "The lamps.";
        surroundings: Surroundings = (Surroundings::default()), (), "What surrounds the rig; by default a plain room by day.";
        reader: Reader = (Reader::USUAL), (), "How the pictures are read.";
        drive: Drive = required, (), "The axes.";
        controller: Controller = (Controller::default()), (), "Their controllers.";
        handover: Handover = (Handover::default()), (), "How one beat follows another.";
        link: Link = (Link::default()), (), "The serial link to the axes.";
        supply: Supply = (Supply::default()), (), "The supply that they share.";
        detection: Detection = (Detection::default()), (), "What a drive watches.";
        faults: Faults = (Faults::default()), (), "Faults that are put in on purpose.";
        host: Host = (Host::default()), (), "The computer between cameras and axes.";
        guests: Guests = (Guests::default()), (), "Processes of your own in the places of Dryturn's parts; none by default.";
        tolerances: Tolerances = required, (), "How exact it is all built.";
    }
}

impl SceneFile {
    /// Pixels of all pictures of a scan.
    #[must_use]
    pub fn scan_pixels(&self) -> u64 {
        let of = |c: &Camera| {
            c.picture_names().len() as u64 * u64::from(c.width_px) * u64::from(c.height_px)
        };
        self.cameras.iter().map(of).sum()
    }

    /// Pixels of one picture of every camera.
    #[must_use]
    pub fn pixels(&self) -> u64 {
        self.cameras.iter().map(|c| u64::from(c.width_px) * u64::from(c.height_px)).sum()
    }

    /// What the pictures of a scan are called, in the order in which they come: camera by camera,
    /// the darker one of a camera that takes two after its first.
    #[must_use]
    pub fn picture_names(&self) -> Vec<String> {
        self.cameras.iter().flat_map(Camera::picture_names).collect()
    }
}
