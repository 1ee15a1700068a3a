//! The blocks of lamps and surroundings.

choice! {
    /// Where a spectrum comes from.
    Spectrum {
        /// CIE D series, 4000 to 25000 K
        Daylight,
        /// black body after Planck, 1500 to 25000 K; stands for filament lamps
        Thermal,
        /// CIE LED-B1: blue LED with phosphor, about 2733 K
        LedB1,
        /// CIE LED-B2: blue LED with phosphor, about 2998 K
        LedB2,
        /// CIE LED-B3: blue LED with phosphor, about 4103 K
        LedB3,
        /// CIE LED-B4: blue LED with phosphor, about 5109 K
        LedB4,
        /// CIE LED-B5: blue LED with phosphor, about 6598 K
        LedB5,
        /// CIE LED-BH1: blue and red LEDs with phosphor, about 2851 K
        LedBh1,
        /// CIE LED-RGB1: red, green and blue LEDs, about 2840 K
        LedRgb1,
        /// CIE LED-V1: violet LED with phosphors, about 2724 K
        LedV1,
        /// CIE LED-V2: violet LED with phosphors, about 4070 K
        LedV2,
        /// a curve of your own in a CSV file
        Measured,
    }
}

choice! {
    /// What a lamp looks like.
    LampShape {
        /// a rectangular panel that shines to one side, equally bright from every direction
        Rectangle,
        /// a disc that shines to one side, equally bright from every direction
        Disc,
        /// a point that shines to all sides
        Point,
    }
}

choice! {
    /// How a lamp's light goes up and down.
    FlickerWave {
        /// a sine, as on mains without much smoothing
        Sine,
        /// on and off, as dimmed by pulse width
        Pulse,
    }
}

block! {
    /// A lamp.
    Lamp {
        name: String = required, 1..=40, "What scripts and the ledger call it; each name once, letters, digits, '-' and '_'.";
        shape: LampShape = (LampShape::Rectangle), (), "What it looks like.";
        position_mm: [f64; 3] = required, -20000.0..=20000.0, "Its centre.";
        aim_mm: [f64; 3] = [0.0, 0.0, 0.0], -20000.0..=20000.0, "The point it faces.";
        width_mm: f64 = 60.0, 0.1..=20000.0, "Width of the panel, across; diameter of a disc; unused for a point.";
        height_mm: f64 = 60.0, 0.1..=20000.0, "Height of the panel.";
        flux_lm: f64 = required, 0.0..=10000000.0, "Luminous flux; 0 is off.";
        spectrum: Spectrum = required, (), "Where the spectrum comes from.";
        cct_k: f64 = 5000.0, 1500.0..=25000.0, "Correlated colour temperature where the spectrum is Daylight (from 4000) or Thermal; unused otherwise.";
        spectrum_csv: String = (String::new()), 0..=200, "Where the spectrum is Measured: file with columns nm and power, any unit.";
        flicker_depth_share: f64 = 0.0, 0.0..=1.0, "How far the light goes down: of its mean for a Sine, of its highest for a Pulse; 0 is steady.";
        flicker_wave: FlickerWave = (FlickerWave::Sine), (), "How the light goes up and down.";
        flicker_hz: f64 = 100.0, 1.0..=100000.0, "How often: twice the mains frequency, or the dimmer's.";
        flicker_duty_share: f64 = 0.5, 0.01..=0.99, "Share of the time that a Pulse is on.";
        flicker_phase_deg: f64 = 0.0, 0.0..=360.0, "Where in its period it is when the first row's exposure starts; drawn anew for each shot unless locked.";
        flicker_locked: bool = false, (), "Whether each shot starts at the phase given.";
    }
}

block! {
    /// What surrounds the rig: light from all sides, and what stands behind. The default is a
    /// plain room by day: little light, from everywhere, before a grey wall (assumed).
    Surroundings {
        ambient_lux: f64 = 100.0, 0.0..=100000.0, "Illuminance from the room on a surface that nothing shades.";
        ambient_spectrum: Spectrum = (Spectrum::Daylight), (), "Where its spectrum comes from.";
        ambient_cct_k: f64 = 4500.0, 1500.0..=25000.0, "Its correlated colour temperature, as with a lamp.";
        ambient_spectrum_csv: String = (String::new()), 0..=200, "Where it is Measured: file with columns nm and power.";
        ambient_shadows: bool = true, (), "Whether the rig shades itself from the room's light; false lights everything evenly.";
        bounce: bool = false, (), "Whether light goes on from one part of the rig to the next, once; takes about twice the time.";
        backdrop_reflectance_share: f64 = 0.2, 0.0..=1.0, "Reflectance of the grey wall behind the rig; it is lit by the room only.";
    }
}

all_default!(Surroundings);
