//! The blocks of a camera.

/// What the name of a camera's darker picture ends in.
const DARKER: &str = "-dark";

choice! {
    /// How a sensor is read out.
    Shutter {
        /// all rows at once
        Global,
        /// row after row, so that flicker shows as bands and motion as skew
        Rolling,
    }
}

choice! {
    /// Colour filters in front of the pixels, by the 2 × 2 block at the top left.
    Mosaic {
        /// none: three sensors, one for each channel
        None,
        /// red, green / green, blue
        Rggb,
        /// blue, green / green, red
        Bggr,
        /// green, red / blue, green
        Grbg,
        /// green, blue / red, green
        Gbrg,
    }
}

choice! {
    /// Where the factors on red and blue come from.
    WhiteBalance {
        /// the camera's own two fields
        Fixed,
        /// so that the mean of the picture is grey
        GreyWorld,
        /// so that the scene's grey patch is grey; fixed where the camera does not see it
        GreyPatch,
    }
}

block! {
    /// A camera: where it stands, its lens, its sensor and how it develops a
    /// picture.
    Camera {
        name: String = required, 1..=40, "What the ledger, the report and the file names call it; each name once, letters, digits, '-' and '_'.";
        position_mm: [f64; 3] = required, -5000.0..=5000.0, "Centre of projection.";
        aim_mm: [f64; 3] = [0.0, 0.0, 0.0], -5000.0..=5000.0, "A point on the optical axis: the middle of the picture, but for optical_centre_px.";
        up_ratio: [f64; 3] = [0.0, 1.0, 0.0], -1.0..=1.0, "Which direction is up in the picture; any length.";
        width_px: u32 = 640, 64..=4096, "Picture width.";
        height_px: u32 = 480, 64..=4096, "Picture height.";
        samples_px: u32 = 16, 1..=1024, "Rays a pixel: 1, 4, 16, 64, 256 or 1024. More smooth edges and soft shadows, and take longer.";
        horizontal_fov_deg: f64 = 36.0, 2.0..=150.0, "Angle of view across the picture's width, were the optical axis in its middle.";
        optical_centre_px: [f64; 2] = [0.0, 0.0], -2000.0..=2000.0, "Where the optical axis meets the picture, from its middle, right and down.";
        radial_k1_ratio: f64 = 0.0, -1.0..=1.0, "Brown–Conrady radial distortion, second order.";
        radial_k2_ratio: f64 = 0.0, -1.0..=1.0, "Brown–Conrady radial distortion, fourth order.";
        radial_k3_ratio: f64 = 0.0, -1.0..=1.0, "Brown–Conrady radial distortion, sixth order.";
        tangential_p1_ratio: f64 = 0.0, -0.1..=0.1, "Brown–Conrady tangential distortion, first.";
        tangential_p2_ratio: f64 = 0.0, -0.1..=0.1, "Brown–Conrady tangential distortion, second.";
        focus_mm: f64 = 0.0, 0.0..=100000.0, "Distance along the optical axis at which the picture is sharp; 0 is sharp everywhere.";
        vignetting_power_ratio: f64 = 4.0, 0.0..=8.0, "Power of the cosine by which the picture darkens towards its corners: 4 is the natural law, 0 none.";
        corner_loss_share: f64 = 0.0, 0.0..=0.95, "Light that the lens barrel takes from the corners beyond that, growing with the square of the distance from the picture's middle.";
        exposure_ms: f64 = 10.0, 0.001..=1000.0, "Exposure time; 10 ms is one period of lamp flicker on 50 Hz mains.";
        start_ms: f64 = 0.0, 0.0..=1000000.0, "From the start of the scan to the start of its first row's exposure.";
        bracket_share: f64 = 1.0, 0.1..=1.0, "Exposure time of a second, darker picture that it takes right after the first, as a share of the first's (exposure bracketing): the reader makes one of the two. At 1 it takes none.";
        auto_exposure_share: f64 = 0.0, 0.0..=0.9, "Mean of the green channel, as a share of full scale, that the camera aims at by its exposure time, 0.01 to 200 ms; below 0.95 of what a full well reaches; 0 leaves it as set.";
        shutter: Shutter = (Shutter::Rolling), (), "How the sensor is read out.";
        row_time_us: f64 = 30.0, 0.0..=100000.0, "With a rolling shutter, from one row's start to the next row's.";
        f_number_ratio: f64 = 4.0, 0.7..=64.0, "Focal length over aperture diameter.";
        pixel_pitch_um: f64 = 3.0, 0.5..=500.0, "Edge of a pixel on the sensor.";
        sensor_csv: String = (String::new()), 0..=200, "File with the quantum efficiency of the channels: columns nm, red, green, blue; empty takes the built-in, invented curves.";
        mosaic: Mosaic = (Mosaic::Rggb), (), "Colour filters in front of the pixels; what is missing is interpolated from the neighbours.";
        full_well_e: f64 = 9000.0, 100.0..=100000000.0, "Electrons at which a pixel saturates.";
        read_noise_e: f64 = 4.0, 0.0..=100000.0, "Standard deviation of the dark signal of a short exposure.";
        dark_current_e_per_s: f64 = 20.0, 0.0..=1000000000.0, "Electrons that gather without light.";
        shot_noise: bool = true, (), "Whether photons and dark electrons arrive at random; false for pictures without that noise.";
        gain_ratio: f64 = 1.0, 0.1..=64.0, "Amplification; at 1 a full well is full scale.";
        converter_bits: u32 = 12, 8..=16, "Bit depth of the converter.";
        black_level_share: f64 = 0.015625, 0.0..=0.25, "Code of no light, as a share of the highest: room for dark noise below zero.";
        white_balance: WhiteBalance = (WhiteBalance::Fixed), (), "Where the factors on red and blue come from.";
        white_balance_red_ratio: f64 = 1.0, 0.1..=10.0, "Factor on red before encoding, where it is fixed.";
        white_balance_blue_ratio: f64 = 1.0, 0.1..=10.0, "Factor on blue before encoding, where it is fixed.";
        colour_matrix_red_ratio: [f64; 3] = [1.0, 0.0, 0.0], -8.0..=8.0, "Red of the picture from the balanced red, green and blue of the sensor; the three rows 1 0 0, 0 1 0, 0 0 1 switch the correction off.";
        colour_matrix_green_ratio: [f64; 3] = [0.0, 1.0, 0.0], -8.0..=8.0, "Green of the picture.";
        colour_matrix_blue_ratio: [f64; 3] = [0.0, 0.0, 1.0], -8.0..=8.0, "Blue of the picture.";
        saturation_ratio: f64 = 1.0, 0.0..=4.0, "Colourfulness of the encoded picture; 1 leaves it, 0 is grey.";
        brightness_share: f64 = 0.0, -1.0..=1.0, "Added to the encoded picture.";
        jpeg_quality_percent: u32 = 0, 0..=100, "Quality of a JPEG that the picture goes through; 0 for none.";
    }
}

impl Camera {
    /// The shortest exposure time, ms.
    pub const SHORTEST_MS: f64 = 0.001;
    /// The shortest and the longest that a camera may choose by itself, ms.
    pub const CHOSEN_MS: [f64; 2] = [0.01, 200.0];
    /// The latest that it may start, ms.
    pub const LATEST_MS: f64 = 1e6;

    /// The same camera with another number of pixels on the same sensor: larger pixels
    /// hold and gather as much more as they are larger, so that brightness, blur and what
    /// is saturated stay as they are.
    #[must_use]
    pub fn with_pixels(&self, [width_px, height_px]: [u32; 2]) -> Self {
        let larger = f64::from(self.width_px) / f64::from(width_px);
        Self {
            width_px,
            height_px,
            optical_centre_px: self.optical_centre_px.map(|offset| offset / larger),
            pixel_pitch_um: self.pixel_pitch_um * larger,
            full_well_e: self.full_well_e * larger * larger,
            dark_current_e_per_s: self.dark_current_e_per_s * larger * larger,
            read_noise_e: self.read_noise_e * larger,
            row_time_us: self.row_time_us * f64::from(self.height_px) / f64::from(height_px),
            ..self.clone()
        }
    }

    /// The camera as it is set for its second, darker picture, which starts when the first has been
    /// read out; `None` where it takes one only.
    #[must_use]
    pub fn darker(&self) -> Option<Self> {
        self.takes_two().then(|| Self {
            start_ms: self.start_ms + self.exposure_ms + self.read_out_ms(),
            exposure_ms: (self.exposure_ms * self.bracket_share).max(Self::SHORTEST_MS),
            bracket_share: 1.0,
            ..self.clone()
        })
    }

    /// Whether it takes a second, darker picture.
    #[must_use]
    pub fn takes_two(&self) -> bool {
        self.bracket_share < 1.0
    }

    /// What its pictures are called, in the order in which it takes them: by its name, the darker
    /// one with `-dark` after it.
    #[must_use]
    pub fn picture_names(&self) -> Vec<String> {
        let darker = self.takes_two().then(|| self.name.clone() + DARKER);
        [self.name.clone()].into_iter().chain(darker).collect()
    }

    /// From the first row's start to the last row's, ms.
    #[must_use]
    pub fn read_out_ms(&self) -> f64 {
        let rows = f64::from(self.height_px.saturating_sub(1));
        if self.shutter == Shutter::Rolling { rows * self.row_time_us * 1e-3 } else { 0.0 }
    }

    /// Rows of the colour correction matrix: red, green, blue of the picture.
    #[must_use]
    pub fn colour_matrix(&self) -> [[f64; 3]; 3] {
        [
            self.colour_matrix_red_ratio,
            self.colour_matrix_green_ratio,
            self.colour_matrix_blue_ratio,
        ]
    }

    /// Linear light of a pixel whose sensor is saturated in all channels, with the fixed
    /// white balance: 1 is full scale.
    #[must_use]
    pub fn saturated_linear(&self) -> [f64; 3] {
        let full = self.gain_ratio.min(1.0);
        let balanced =
            [full * self.white_balance_red_ratio, full, full * self.white_balance_blue_ratio];
        self.colour_matrix().map(|m| m.iter().zip(balanced).map(|(m, b)| m * b).sum())
    }

    /// When a row's exposure starts, s after the scan does.
    #[must_use]
    pub fn row_start_s(&self, row: usize) -> f64 {
        let after_first = match self.shutter {
            Shutter::Global => 0.0,
            Shutter::Rolling => row as f64 * self.row_time_us * 1e-6,
        };
        self.start_ms * 1e-3 + after_first
    }
}
