//! The kinds of findings, with the names that `check` and its JSON give them.

macro_rules! kinds {
    ($( $kind:ident = $name:literal, $meaning:literal; )+) => {
        /// What a finding is about.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
        pub enum FindingKind { $( #[doc = $meaning] $kind ),+ }

        impl FindingKind {
            /// All of them.
            pub const ALL: &'static [Self] = &[$(Self::$kind),+];

            /// Its name in words with hyphens.
            #[must_use]
            pub fn name(self) -> &'static str {
                match self { $( Self::$kind => $name ),+ }
            }

            /// What it means.
            #[must_use]
            pub fn meaning(self) -> &'static str {
                match self { $( Self::$kind => $meaning ),+ }
            }
        }
    };
}

kinds! {
    CameraLooksAway = "camera-looks-away", "A camera has the cube outside its picture.";
    CameraBlocked = "camera-blocked", "Something stands between a camera and the whole cube.";
    FixtureInTheWay = "fixture-in-the-way", "A fixture or a motor hides much of what faces a camera.";
    CameraReadsNothing = "camera-reads-nothing", "A camera sees the cube, but no facelet well enough.";
    CameraAddsNothing = "camera-adds-nothing", "All that a camera reads is read without it.";
    CamerasAtOnePlace = "cameras-at-one-place", "Two cameras stand at one place.";
    CubeCutOff = "cube-cut-off", "The cube reaches beyond the picture.";
    FaceletsSmall = "facelets-small", "Facelets have few pixels.";
    MountTooLoose = "mount-too-loose", "Facelets are seen, but not surely, as loosely as the camera is mounted.";
    OutOfFocus = "out-of-focus", "The cube is blurred by much of a facelet.";
    HiddenNotUnique = "hidden-not-unique", "What is hidden does not follow from what is seen.";
    LampTooBright = "lamp-too-bright", "A lamp outshines the sun.";
    LampLightsNothing = "lamp-lights-nothing", "A lamp is on and reaches no facelet that is seen.";
    FaceInTheDark = "face-in-the-dark", "A face that a camera reads gets next to no light.";
    ColoursClose = "colours-close", "Two colours can hardly be told apart in this light.";
    Glare = "glare", "A lamp's mirror light hides the colour of facelets.";
    FlickerShows = "flicker-shows", "A lamp's flicker makes pictures, or rows of them, differ.";
    ExposureClips = "exposure-clips", "White facelets saturate the sensor.";
    ExposureWastes = "exposure-wastes", "White facelets use little of the sensor's range.";
    GreyIsTinted = "grey-is-tinted", "What is grey is far from grey in the picture.";
    ColoursPale = "colours-pale", "The colour matrix leaves the pictures nearly grey.";
    SaturationOff = "saturation-off", "The camera takes the colour out of its pictures.";
    BrightnessOff = "brightness-off", "The camera shifts its pictures into black or white.";
    JpegCoarse = "jpeg-coarse", "The pictures are compressed beyond use.";
    NoGreyPatch = "no-grey-patch", "A camera balances on a grey patch that it does not see.";
    ReadNoiseLarge = "read-noise-large", "Read noise is a large share of the sensor's range.";
    DarkFillsWell = "dark-fills-well", "Dark current alone fills much of the sensor's range.";
    RodWiderThanCoupler = "rod-wider-than-coupler", "A rod does not fit into its coupler.";
    CouplerFoulsNeighbours = "coupler-fouls-neighbours", "A coupler or cap reaches beyond its centre piece.";
    MotorNarrowerThanRod = "motor-narrower-than-rod", "A motor is narrower than the rod that it turns.";
    ShaftNotFitted = "shaft-not-fitted", "A face has no shaft.";
    ShaftWeak = "shaft-weak", "The motor's torque can break its shaft.";
    ShaftSoft = "shaft-soft", "A shaft winds up by degrees before its face turns.";
    StiffnessContradictsStrength = "stiffness-contradicts-strength", "No material is so stiff and so weak, or so soft and so strong.";
    TwistLongerThanRod = "twist-longer-than-rod", "More of a rod twists than there is of it.";
    InfillWithoutCore = "infill-without-core", "A rod's walls leave no room for its infill.";
    HomingBeyondJam = "homing-beyond-jam", "Faces may be homed so wrongly that neighbours jam.";
    BacklashBeyondJam = "backlash-beyond-jam", "Faces may hang so far in their play that neighbours jam.";
    EncoderBeyondJam = "encoder-beyond-jam", "Encoders may be so wrong that neighbours jam.";
    WindUpBeyondJam = "wind-up-beyond-jam", "Shafts wind up so far that neighbours jam.";
    SettleBeyondJam = "settle-beyond-jam", "Faces count as settled where neighbours jam.";
    ReleaseBeyondJam = "release-beyond-jam", "Neighbours start while a face is so far off that they jam.";
    SettleBelowEncoder = "settle-below-encoder", "The settle window is smaller than the encoder can tell.";
    DeadbandBeyondSettle = "deadband-beyond-settle", "An axis is left alone before it counts as settled.";
    BeatLimitShort = "beat-limit-short", "Turns are given up before they can end.";
    SpeedLoopTooQuick = "speed-loop-too-quick", "The speed controller asks for more than its period allows.";
    PositionLoopTooQuick = "position-loop-too-quick", "The position controller is as quick as the speed controller inside it.";
    CurrentLoopSlow = "current-loop-slow", "The current loop is slower than the speed controller round it.";
    HoldWeak = "hold-weak", "Stopped axes let go of their faces.";
    FollowingNeverFound = "following-never-found", "No following error is ever found.";
    OverVoltageBelowBus = "over-voltage-below-bus", "The drives let go at their own supply voltage.";
    ChopperTooLate = "chopper-too-late", "The drives let go before the chopper works.";
    ChopperNeverOff = "chopper-never-off", "The chopper burns the supply once it is on.";
    SupplyWeak = "supply-weak", "The supply cannot feed one axis.";
    HeatLimitBelowAmbient = "heat-limit-below-ambient", "A heat limit is passed before anything happens.";
    CommandsLost = "commands-lost", "The link loses commands for good.";
    LatencyBeyondWatchdog = "latency-beyond-watchdog", "Commands take longer than the watchdog waits.";
    ResendTooEarly = "resend-too-early", "Commands are sent again before their answer can come.";
    JitterBeyondLatency = "jitter-beyond-latency", "Commands would arrive before they are sent.";
    ClearanceContradictsTension = "clearance-contradicts-tension", "A tight cube with a loose one's play, or the other way.";
    HostSlow = "host-slow", "The host takes longer than all turns.";
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_unique() {
        let names: std::collections::BTreeSet<&str> =
            FindingKind::ALL.iter().map(|kind| kind.name()).collect();
        assert_eq!(names.len(), FindingKind::ALL.len());
        assert!(names.len() >= 30);
    }
}
