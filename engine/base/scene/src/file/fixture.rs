//! The block of a fixture: what else stands in the rig.

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
