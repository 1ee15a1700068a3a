//! The block of how colours are read.

choice! {
    /// How colours are made out.
    Method {
        /// the most probable legal cube, whatever the light has done since the calibration
        Likely,
        /// each facelet takes the nearest reference by summed RGB difference; nothing is corrected or repaired: the baseline that builders start with
        Nearest,
    }
}

block! {
    /// How the pictures are read.
    Reader {
        method: Method = (Method::Likely), (), "How colours are made out.";
        certainty_share: f64 = 0.99, 0.5..=0.999999, "Where the method is Likely: a cube that is less probable than this is not believed, and the scan is unreadable.";
    }
}

impl Reader {
    /// With every field at its default.
    pub const USUAL: Self = Self { method: Method::Likely, certainty_share: 0.99 };
}
