//! The block of the cube: its size, its looks, and how its pieces block one another.

use crate::block::Given;

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
