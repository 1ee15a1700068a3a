//! The blocks of a scene file, version 1.
//!
//! Lengths are in millimetres from the centre of the cube: x to the right face,
//! y up, z to the front face. Every name ends in its unit; `share` and `ratio`
//! are numbers without one. Figures without a source are assumptions for the demo.

mod camera;
mod control;
mod drive;
mod light;
mod power;
mod reader;
mod tolerances;

pub use camera::{Camera, Mosaic, Shutter, WhiteBalance};
pub use control::{AntiWindup, Controller, Detection, Faults, Handover, Link, Policy};
pub use drive::{Drive, Preset, Profile};
pub use light::{FlickerWave, Lamp, LampShape, Spectrum, Surroundings};
pub use power::{Host, Supply};
pub use reader::{Method, Reader};
pub use tolerances::Tolerances;

use crate::given::Given;

choice! {
    /// What the pieces are made of.
    Body {
        /// black plastic with a coloured sticker on each facelet
        Black,
        /// plastic of the facelet's own colour up to the edge
        Coloured,
    }
}

choice! {
    /// Which make of pigments a cube has; smooth reflectance curves, both invented.
    Make {
        /// vivid pigments with steep edges
        Vivid,
        /// softer pigments; orange nearer to red
        Soft,
    }
}

choice! {
    /// How the facelets shine.
    Finish {
        /// polished: narrow highlights, GGX width 0.12
        Glossy,
        /// matt print: wide highlights, GGX width 0.35, and a little grey over all colours
        Matt,
    }
}

choice! {
    /// Section of a rod.
    Section {
        /// square; turns with its face
        Square,
        /// round
        Round,
        /// hexagon; turns with its face
        Hexagon,
    }
}

choice! {
    /// Shape of a motor's body.
    MotorBody {
        /// a square block
        Square,
        /// a cylinder
        Round,
    }
}

choice! {
    /// Shape of a fixture.
    FixtureShape {
        /// a block
        Block,
        /// a cylinder along x; the smaller of the other two sizes is its diameter
        CylinderX,
        /// a cylinder along y
        CylinderY,
        /// a cylinder along z
        CylinderZ,
    }
}

choice! {
    /// What a fixture is for.
    FixtureUse {
        /// holds something, or stands in the way
        Bracket,
        /// closes off what is behind
        Panel,
        /// grey patch for the white balance
        GreyPatch,
    }
}

choice! {
    /// How tightly a cube is screwed together, and how freely its pieces give; other
    /// fields of the cube start from it. Assumed figures: measure how far off a face may
    /// be and still be cut past.
    Tension {
        /// tight and stiff: play 0.1 mm, rounding 1 mm, lift 0.2 mm, friction as the drive has it
        Tight,
        /// loose and flexible: play 0.4 mm, rounding 3 mm, lift 1 mm, a quarter of the friction
        Loose,
    }
}

impl Tension {
    /// The fields of the cube that start from it.
    pub(crate) const GOVERNS: [&'static str; 6] = [
        "clearance_mm",
        "edge_radius_mm",
        "lift_mm",
        "friction_ratio",
        "layer_friction_share",
        "stiffness_n_m_per_rad",
    ];

    /// Of tight and loose the one that this is.
    fn pick(self, tight: f64, loose: f64) -> f64 {
        if self == Self::Tight { tight } else { loose }
    }
}

choice! {
    /// A pigment of the cube.
    Pigment {
        /// white
        White,
        /// yellow
        Yellow,
        /// orange
        Orange,
        /// red
        Red,
        /// green
        Green,
        /// blue
        Blue,
    }
}

choice! {
    /// A face of the cube.
    FaceName {
        /// up
        U,
        /// right
        R,
        /// front
        F,
        /// down
        D,
        /// left
        L,
        /// back
        B,
    }
}

impl FaceName {
    /// The face itself.
    #[must_use]
    pub fn face(self) -> dryturn_cube::Face {
        dryturn_cube::Face::from_index(self as usize)
    }
}

block! {
    /// Which pigment each face of the solved cube has. The default is the
    /// arrangement most cubes are sold with (common practice, no source).
    Colours {
        up: Pigment = (Pigment::White), (), "Face U.";
        right: Pigment = (Pigment::Red), (), "Face R.";
        front: Pigment = (Pigment::Green), (), "Face F.";
        down: Pigment = (Pigment::Yellow), (), "Face D.";
        left: Pigment = (Pigment::Orange), (), "Face L.";
        back: Pigment = (Pigment::Blue), (), "Face B.";
    }
}

all_default!(Colours);

impl Colours {
    /// The pigment of a face.
    #[must_use]
    pub fn of(&self, face: dryturn_cube::Face) -> Pigment {
        [self.up, self.right, self.front, self.down, self.left, self.back][face.index()]
    }
}

block! {
    /// The cube: its size, its looks, and how its pieces block one another.
    Cube {
        edge_mm: f64 = 56.0, 30.0..=120.0, "Edge length of the whole cube; 56 is the usual size (common practice, no source).";
        mass_g: Given = (Given::LEFT_OUT), 5.0..=5000.0, "Mass of the whole cube; None: as one of 56 mm and 82.04 g would have at this edge if it were built alike (assumed).";
        gap_mm: f64 = 0.4, 0.0..=3.0, "Visible gap between neighbouring pieces.";
        rim_radius_mm: f64 = 0.8, 0.0..=6.0, "Rounding of the pieces' edges as one sees them; 0 is sharp.";
        facelet_edge_mm: Given = (Given::LEFT_OUT), 5.0..=40.0, "Edge of a square sticker; None: 16 on a cube of 56 mm, and by the edge on others. Unused where the body is Coloured.";
        facelet_corner_mm: f64 = 1.5, 0.0..=20.0, "Rounding of a sticker's corners.";
        body: Body = (Body::Black), (), "What the pieces are made of.";
        body_reflectance_share: f64 = 0.035, 0.0..=1.0, "Reflectance of black pieces and of what is inside.";
        make: Make = (Make::Vivid), (), "Which make of pigments it has.";
        finish: Finish = (Finish::Matt), (), "How the facelets shine.";
        gloss_width_ratio: f64 = 0.0, 0.0..=1.0, "Width of the facelets' highlight, from 0.03: alpha of the GGX distribution; 0 takes the finish's own.";
        wear_share: f64 = 0.0, 0.0..=1.0, "Wear: 0 is new, 1 is faded and scratched dull.";
        pigments_csv: String = (String::new()), 0..=200, "File with reflectances of your own, 0 to 1: columns nm, white, yellow, orange, red, green, blue; empty takes the make's.";
        colours: Colours = (Colours::default()), (), "Which pigment each face has.";
        tension: Tension = (Tension::Tight), (), "What the fields below start from where they are left out.";
        tension_ratio: f64 = 1.0, 0.1..=10.0, "Tension of the screws over that: scales friction and stiffness, and lift the other way.";
        clearance_mm: f64 = (tension.pick(0.1, 0.4)), 0.0..=2.0, "Effective play between a turning layer and its neighbour, for the interlock.";
        edge_radius_mm: f64 = (tension.pick(1.0, 3.0)), 0.1..=8.0, "Effective rounding of the pieces' hidden edges, for the interlock.";
        lift_mm: f64 = (tension.pick(0.2, 1.0)), 0.0..=3.0, "How far the springs let a turning layer lift off, for the interlock.";
        friction_ratio: f64 = (tension.pick(0.25, 0.15)), 0.0..=1.0, "Coefficient of friction between pieces; plastics on plastics 0.1 to 0.3 (CRC Materials Science and Engineering Handbook, 2001, table 399).";
        layer_friction_share: f64 = (tension.pick(1.0, 0.256)), 0.01..=10.0, "Friction of a layer over the drive's figure for a tight cube of this size.";
        stiffness_n_m_per_rad: f64 = (tension.pick(5.0, 3.0)), 0.1..=1000.0, "How stiff the whole cube is against a layer that is blocked.";
    }
}

block! {
    /// One of the six shafts: a rod on a centre piece, the coupler round its end, the
    /// motor behind.
    Shaft {
        face: FaceName = required, (), "The face it turns; each face once.";
        fitted: bool = true, (), "Whether the shaft is there at all; false shows what hides what.";
        section: Section = (Section::Square), (), "Section of the rod.";
        width_mm: f64 = 8.0, 1.0..=30.0, "Width of the rod: across flats, or its diameter.";
        length_mm: f64 = 70.0, 10.0..=300.0, "From the cube's face to the motor.";
        coupler_diameter_mm: f64 = 17.0, 2.0..=40.0, "Diameter of the coupler; it covers most of the centre.";
        coupler_length_mm: f64 = 26.0, 1.0..=100.0, "Length of the coupler from the cube's face outwards.";
        cap_diameter_mm: f64 = 0.0, 0.0..=60.0, "Diameter of a cap between the centre piece and the coupler; 0 for none.";
        cap_height_mm: f64 = 1.5, 0.1..=20.0, "Height of the cap.";
        reflectance_share: f64 = 0.32, 0.0..=1.0, "Reflectance of rod, coupler and cap: grey printed plastic.";
        infill_share: f64 = 1.0, 0.05..=1.0, "How full the rod is printed inside its walls.";
        wall_mm: f64 = 0.84, 0.1..=10.0, "Thickness of its printed walls: two lines of 0.42.";
        shear_strength_mpa: f64 = 13.0, 0.5..=1000.0, "Shear stress at which it breaks; 13 is an upright print that parts between layers (assumed).";
        shear_modulus_gpa: f64 = 0.9, 0.05..=100.0, "Shear modulus of its material (assumed, printed plastic).";
        twisting_length_mm: f64 = 25.0, 1.0..=300.0, "How much of the rod is free to twist, between the coupler's grip and the motor's.";
        backlash_deg: f64 = 0.1, 0.0..=10.0, "Play of the coupler between motor and face.";
        motor_body: MotorBody = (MotorBody::Square), (), "Shape of the motor's body.";
        motor_width_mm: f64 = 42.0, 5.0..=150.0, "Width or diameter of the motor's body.";
        motor_length_mm: f64 = 40.0, 5.0..=200.0, "Length of the motor's body.";
        motor_reflectance_share: f64 = 0.08, 0.0..=1.0, "Reflectance of the motor: dark metal.";
    }
}

block! {
    /// Anything else that stands still in the rig: brackets, panels, a grey patch.
    /// Grey, and along the axes.
    Fixture {
        name: String = required, 1..=40, "What the survey calls it; each name once, letters, digits, '-' and '_'.";
        role: FixtureUse = (FixtureUse::Bracket), (), "What it is for.";
        shape: FixtureShape = (FixtureShape::Block), (), "Its shape.";
        position_mm: [f64; 3] = required, -5000.0..=5000.0, "Its centre.";
        size_mm: [f64; 3] = required, 0.1..=5000.0, "Its size along x, y and z.";
        reflectance_share: f64 = 0.3, 0.0..=1.0, "Its reflectance.";
        gloss_width_ratio: f64 = 0.5, 0.03..=1.0, "Width of its highlight.";
    }
}

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
