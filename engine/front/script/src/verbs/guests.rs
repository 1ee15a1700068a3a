//! Passes in which guests play.

use std::sync::Arc;

use dryturn_guests::Company;
use dryturn_handoff::GuestFault;
use dryturn_reading::Calibration;
use dryturn_record::ledger::{Line, TeachLine};
use dryturn_rehearsal::{Pass, ReaderSeat as _};
use dryturn_scene::Scene;

use crate::session::{Fallible, Session, fault};
use crate::values::arguments::ok;
use crate::values::handles::{CubeValue, RigValue};
use crate::values::learnt::Lesson;

/// Most guests that did not end as they must, of which many trials tell one by one.
pub(super) const MAX_TOLD: usize = 5;

/// Starts those who play in a scene.
pub(super) fn company(s: &Session, scene: &Arc<Scene>) -> Fallible<Company> {
    ok(Company::start(&s.host.invited(), scene))
}

/// A pass by a company, which ends with it. A guest that reads is taught first; `calibration` is
/// what Dryturn's own reader goes by.
pub(super) fn played(
    s: &Session,
    rig: &RigValue,
    mut company: Company,
    (calibration, lesson): (Option<&Calibration>, &Lesson),
    cube: &CubeValue,
) -> Fallible<Pass> {
    teach(s, rig, &mut company, lesson)?;
    let pass = match company.stages(calibration) {
        Some(mut stages) => ok(s.rehearser.rehearse_with(&rig.0, &cube.0, &mut stages))?,
        None => return fault("nobody reads: there is no calibration"),
    };
    s.seated(&company.thought());
    if let Some(fault) = &pass.fault {
        s.note(&failed("the pass", fault))?;
    }
    let mut unruly = company.goodbye(pass.fault.as_ref()).into_iter();
    unruly.try_for_each(|fault| s.note(&format!("After the pass: {fault}.")))?;
    Ok(pass)
}

/// That a guest could not go on, and what it said last, for a person.
pub(super) fn failed(of: &str, fault: &GuestFault) -> String {
    let mut lines = vec![format!("A guest could not go on in {of}: {fault}.")];
    lines.extend(fault.fault.stderr.iter().map(|line| format!("    {line}")));
    lines.join("\n")
}

/// Shows a guest that reads what a calibration was learnt from.
fn teach(s: &Session, rig: &RigValue, company: &mut Company, lesson: &Lesson) -> Fallible<()> {
    let Some(reader) = &mut company.reader else { return Ok(()) };
    let names = |scene: &Scene| scene.file().picture_names();
    if names(&lesson.scene) != names(rig.0.scene()) {
        return fault("the calibration was made with other cameras than those of the rig");
    }
    let same = lesson.trial == rig.0.trial() && Arc::ptr_eq(&lesson.scene, rig.0.scene());
    let taught = if same {
        rig.0.teach(reader, lesson.shown_on(&rig.0))
    } else {
        let before = lesson.rig(&s.rehearser);
        before.teach(reader, lesson.shown_on(&before))
    };
    // One that did not learn says so again when it is to read: that is the pass's verdict.
    s.log(Line::Teach(TeachLine {
        trial: lesson.trial,
        scans: lesson.scans(),
        guest: reader.name().to_owned(),
        guest_fault: taught.err(),
    }));
    Ok(())
}
