//! The block of a shaft: rod, coupler and motor.

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
