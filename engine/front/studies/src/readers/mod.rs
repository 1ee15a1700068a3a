//! The same scans read in several ways, and how often each is right.

mod tally;

use std::ops::ControlFlow;
use std::sync::Arc;
use std::time::Duration;

use dryturn_cube::{Stickering, random_state};
use dryturn_guests::{Invited, NotInvited, SeatedReader, never_answered};
use dryturn_handoff::{GuestFault, GuestRole};
use dryturn_reading::{CalibrationError, Patches, Sampled, read_samples};
use dryturn_rehearsal::{BuiltRig, ReaderSeat as _, Rehearser, read_by};
use dryturn_scene::Scene;
use dryturn_scene::file::Method;
use thiserror::Error;

pub use self::tally::{ReaderCounts, ReaderTally, Way};
use crate::work::{Watch, all_unless_in_vain};

/// Scans of one rig: it is built, traced and calibrated once for all of them.
const SCANS_A_RIG: usize = 5;

/// What is compared.
pub struct ReadersRequest<'a> {
    /// What a person calls the scans.
    pub name: &'a str,
    /// The scene in whose light the readers are calibrated.
    pub calibrated_in: &'a Arc<Scene>,
    /// The scene that is scanned.
    pub read_in: &'a Arc<Scene>,
    /// Dryturn's ways to read.
    pub methods: &'a [Method],
    /// How many scans.
    pub scans: usize,
    /// Who may read besides Dryturn.
    pub invited: &'a Invited,
}

/// Why there is no comparison.
#[derive(Debug, Error)]
pub enum ReadersFault {
    /// A calibration failed, or the two scenes' cameras differ; the first rig's in order of number.
    #[error(transparent)]
    Calibration(#[from] CalibrationError),
    /// The scene names a guest that may not play.
    #[error(transparent)]
    NotInvited(#[from] NotInvited),
}

/// How a guest fared that read the same scans.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct GuestReads {
    /// Scans in which it could not go on: they count as refused.
    pub faults: usize,
    /// Why, in the first of them.
    pub first_fault: Option<GuestFault>,
    /// Where it did not end as it must, after all was read.
    pub unruly: Vec<GuestFault>,
    /// How long its answers took here together, in real time; never a part of a result.
    pub thought: Duration,
}

/// Scans of one kind, read in several ways.
#[derive(Clone, Debug)]
pub struct ReaderTable {
    /// What a person calls them.
    pub name: String,
    /// The scene whose light the readers were calibrated in.
    pub calibrated_in: Arc<Scene>,
    /// The scene that was scanned.
    pub read_in: Arc<Scene>,
    /// How many scans: fewer than were asked for where a guest never answered in the first ones.
    pub scans: usize,
    /// One for each way, in the order in which they were asked for, a guest's last.
    pub readers: Vec<ReaderTally>,
    /// How the guest fared, where one read.
    pub guest: Option<GuestReads>,
}

/// What came of one rig.
struct OfRig {
    scans: usize,
    readers: Vec<ReaderTally>,
    guest: Option<GuestReads>,
}

impl ReaderTable {
    /// Scans random cubes on rigs with errors of their own, five on each, and reads every
    /// scan in all ways asked for, with one calibration: the solved cube in six mountings in the
    /// light of `calibrated_in`. Mounts, stickers and noise of a rig are the same in both scenes
    /// as far as their tolerances are. A guest that reads is started anew for each rig, taught with
    /// the same pictures, and reads the same scans. `progress` is told the
    /// number of scans done, and may break off: the result is then `None`.
    ///
    /// # Errors
    /// When a calibration fails, or the two scenes' cameras differ; a guest that may not play.
    pub fn of(
        rehearser: &Rehearser,
        asked: &ReadersRequest<'_>,
        progress: &(dyn Fn(usize) -> ControlFlow<()> + Sync),
    ) -> Result<Option<Self>, ReadersFault> {
        let guest = asked.invited.who(asked.read_in, GuestRole::Reader)?;
        let patches = Arc::new(Patches::of(asked.calibrated_in));
        let watch = Watch::new(progress);
        let rig = |number: usize| -> Result<Option<OfRig>, ReadersFault> {
            let scene = asked.calibrated_in;
            let here = BuiltRig::with_patches(scene, &patches, rehearser.seed(), number as u64);
            let mut guest = guest
                .as_ref()
                .map(|(command, limits)| SeatedReader::start(command, *limits, asked.read_in));
            let calibration = match &mut guest {
                None => here.calibrate()?,
                Some(reader) => here.calibrate_and_teach(reader)?,
            };
            let there = here.moved_to(asked.read_in);
            // Its views go before the others are traced: every thread has a rig of its own.
            drop(here);
            let ways = asked.methods.iter().map(|&method| (method, Way::Ours(method)));
            let mut ours: Vec<(Method, ReaderTally)> =
                ways.map(|(method, way)| (method, ReaderTally::of(way))).collect();
            let mut theirs =
                guest.as_ref().map(|guest| ReaderTally::of(Way::Guest(guest.name().into())));
            let mut fared = GuestReads::default();
            let scans = SCANS_A_RIG.min(asked.scans - number * SCANS_A_RIG);
            for cube in 0..scans {
                if watch.stopped() {
                    return Ok(None);
                }
                let mut stream = rehearser.seed().stream("reader-cube", number as u64, cube as u64);
                let truth = random_state(&mut stream);
                let scan = there.scan_unlabelled(&Stickering::from(&truth));
                let sampled =
                    Sampled::of(&patches, &scan.frames).map_err(CalibrationError::from)?;
                for (method, tally) in &mut ours {
                    let reading = read_samples(&patches, &calibration, &sampled, *method);
                    tally.count(&patches, &reading, &truth);
                }
                if let (Some(guest), Some(tally)) = (&mut guest, &mut theirs) {
                    let (reading, fault) = read_by(guest, asked.read_in, &scan.frames);
                    tally.count(&patches, &reading, &truth);
                    fared.faults += usize::from(fault.is_some());
                    fared.first_fault = fared.first_fault.or(fault);
                }
                watch.step();
            }
            let guest = guest.map(|guest| fared.after(guest));
            let readers = ours.into_iter().map(|(_, tally)| tally).chain(theirs).collect();
            Ok(Some(OfRig { scans, readers, guest }))
        };
        let rigs = asked.scans.div_ceil(SCANS_A_RIG);
        let rigs = all_unless_in_vain(rigs, asked.invited, rig, |of: &OfRig| {
            let fault = of.guest.as_ref().and_then(|guest| guest.first_fault.as_ref());
            fault.is_some_and(never_answered)
        })?;
        Ok(rigs.map(|rigs| Self::added_up(asked, rigs)))
    }

    fn added_up(asked: &ReadersRequest<'_>, rigs: Vec<OfRig>) -> Self {
        let mut table = Self {
            name: asked.name.to_owned(),
            calibrated_in: asked.calibrated_in.clone(),
            read_in: asked.read_in.clone(),
            scans: 0,
            readers: Vec::new(),
            guest: None,
        };
        for OfRig { scans, readers, guest } in rigs {
            table.scans += scans;
            if table.readers.is_empty() {
                table.readers = readers;
            } else {
                table.readers.iter_mut().zip(readers).for_each(|(all, own)| all.add(own));
            }
            if let Some(guest) = guest {
                table.guest.get_or_insert_default().add(guest);
            }
        }
        table
    }
}

impl GuestReads {
    /// With how long a guest took, and how it ended.
    fn after(mut self, guest: SeatedReader) -> Self {
        self.thought = guest.thought();
        let name = guest.name().to_owned();
        let ended = guest.goodbye().err().map(|f| GuestFault::of(GuestRole::Reader, &name, f));
        // What ended it before is its answer to goodbye too.
        self.unruly.extend(ended.filter(|fault| self.first_fault.as_ref() != Some(fault)));
        self
    }

    fn add(&mut self, other: Self) {
        self.faults += other.faults;
        self.first_fault = self.first_fault.take().or(other.first_fault);
        self.unruly.extend(other.unruly);
        self.thought += other.thought;
    }
}
