//! The block of how colours are read.

choice! {
    /// How colours are made out.
    Method {
        /// the most probable legal cube by the classes of Gaussian, whatever the light has done since the calibration
        Likely,
        /// the most probable legal cube without a calibration: by what cube colours usually look like, in whatever light
        Blind,
        /// each facelet by itself: Gaussian classes of the logarithm of light, as calibrated at its place
        Gaussian,
        /// each facelet by itself: the nearest reference by CIEDE2000
        Lab,
        /// each facelet by itself: the nearest chromaticity; red where blue is more than green, orange where it is less
        Chromaticity,
        /// each facelet by itself: the nearest reference by summed RGB difference, the baseline that builders start with
        Nearest,
    }
}

block! {
    /// How the pictures are read.
    Reader {
        method: Method = (Method::Likely), (), "How colours are made out.";
        certainty_share: f64 = 0.99, 0.5..=0.999999, "Where the method is Likely or Blind: a cube that is less probable than this is not believed, and the scan is unreadable; without a calibration a tenth of the doubt is allowed.";
        find_mounts: bool = true, (), "Whether the cameras' places are sought in the pictures, within a few degrees and millimetres; false takes the drawing's word.";
        mounting_known: bool = true, (), "Whether the cube is mounted as drawn; false, where the method is Likely or Blind, tries all 24 ways and needs centres that are not covered.";
    }
}

impl Method {
    /// All of them, the baseline first.
    pub const ALL: [Self; 6] =
        [Self::Nearest, Self::Chromaticity, Self::Lab, Self::Gaussian, Self::Likely, Self::Blind];
}

impl Reader {
    /// With every field at its default.
    pub const USUAL: Self = Self {
        method: Method::Likely,
        certainty_share: 0.99,
        find_mounts: true,
        mounting_known: true,
    };
}
