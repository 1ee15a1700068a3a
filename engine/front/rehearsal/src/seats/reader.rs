//! The reader's seat: pictures in, a cube out.

use std::sync::Arc;

use dryturn_cube::Facelet;
use dryturn_handoff::{Frame, GuestFault, GuestRole, Outcome, Reading, RefusalKind, SeatFault};
use dryturn_reading::KnownScan;
use dryturn_scene::Scene;

/// Whoever sits in the reader's place. It is taught with known cubes first, one scan after the
/// other, and then reads as many scans as it is asked to.
pub trait ReaderSeat {
    /// What it calls itself.
    fn name(&self) -> &str;

    /// It shall learn: the rig as drawn, never as built.
    ///
    /// # Errors
    /// It cannot go on.
    fn begin(&mut self, drawing: &Arc<Scene>) -> Result<(), SeatFault>;

    /// Pictures of a cube that is known.
    ///
    /// # Errors
    /// It cannot go on.
    fn learn(&mut self, scan: &KnownScan) -> Result<(), SeatFault>;

    /// It has seen all that it learns from.
    ///
    /// # Errors
    /// It cannot go on.
    fn learnt(&mut self) -> Result<(), SeatFault>;

    /// Reads the pictures of one scan, in the order of
    /// [`dryturn_scene::file::SceneFile::picture_names`]. That it can make no cube of them is an
    /// answer: an unreadable one. Its `steps` are what the rig's clock charges.
    ///
    /// # Errors
    /// It cannot go on.
    fn read(&mut self, frames: &[Frame]) -> Result<Reading, SeatFault>;
}

/// Teaches a reader.
pub(crate) fn teach(
    reader: &mut dyn ReaderSeat,
    drawing: &Arc<Scene>,
    scans: impl IntoIterator<Item = KnownScan>,
) -> Result<(), GuestFault> {
    let taught = || {
        reader.begin(drawing)?;
        scans.into_iter().try_for_each(|scan| reader.learn(&scan))?;
        reader.learnt()
    };
    let taught = taught();
    taught.map_err(|fault| told(reader, fault))
}

/// Has somebody in the reader's seat read; the fault beside a reading without a cube where they
/// cannot.
pub fn read_by(
    reader: &mut dyn ReaderSeat,
    drawing: &Scene,
    frames: &[Frame],
) -> (Reading, Option<GuestFault>) {
    let cameras = drawing.file().cameras.len();
    match reader.read(frames).and_then(|reading| fits(reading, cameras)) {
        Ok(reading) => (reading, None),
        Err(fault) => {
            let fault = told(reader, fault);
            (unread(&fault, cameras), Some(fault))
        }
    }
}

/// A reading that everybody else can go by: one entry a facelet and a camera, the colours those
/// of its cube.
fn fits(reading: Reading, cameras: usize) -> Result<Reading, SeatFault> {
    let counts = (reading.facelets.len(), reading.cameras.len());
    if counts != (Facelet::COUNT, cameras) {
        let wrong = format!(
            "its reading has {} facelets and {} cameras: must be {} and {cameras}",
            counts.0,
            counts.1,
            Facelet::COUNT
        );
        return Err(SeatFault::new("read", "other_counts", wrong));
    }
    if let Some(state) = reading.state() {
        let colours = state.colours();
        let other = |facelet: &Facelet| reading.colour(*facelet) != Some(colours[facelet.index()]);
        if let Some(facelet) = Facelet::all().find(other) {
            let wrong = format!("its colour of {facelet} is not that of its cube");
            return Err(SeatFault::new("read", "other_colours", wrong));
        }
    }
    Ok(reading)
}

/// Where a reader could not go on there is no cube.
fn unread(fault: &GuestFault, cameras: usize) -> Reading {
    let outcome = Outcome::Unreadable {
        refusal: RefusalKind::Fault,
        because: fault.to_string(),
        weakest: Vec::new(),
    };
    Reading::told(outcome, cameras)
}

fn told(reader: &dyn ReaderSeat, fault: SeatFault) -> GuestFault {
    GuestFault::of(GuestRole::Reader, reader.name(), fault)
}
