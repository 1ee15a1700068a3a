//! Executions with guests at the drive.

use std::collections::BTreeMap;
use std::sync::Arc;
use std::time::Duration;

use dryturn_cube::CubeState;
use dryturn_driving::{Detail, Machine, Seated};
use dryturn_guests::{Company, Invited, NotInvited, never_answered};
use dryturn_handoff::{GuestFault, GuestRole, Plan};
use dryturn_rehearsal::Rehearser;
use dryturn_scene::Scene;

use super::{Execution, TurningDrill};
use crate::work::{Progress, Watch, all_unless_in_vain};

/// How guests fared that sat at the drive.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct GuestDrives {
    /// Executions in which one could not go on: they count as stopped.
    pub faults: usize,
    /// The first of them by number, and why.
    pub first_fault: Option<(u64, GuestFault)>,
    /// Where one did not end as it must, after its execution.
    pub unruly: Vec<GuestFault>,
    /// How long their answers took here together, in real time; never a part of a result.
    pub thought: BTreeMap<GuestRole, Duration>,
}

/// One execution, and how its guests fared.
struct Driven {
    execution: Execution,
    fault: Option<GuestFault>,
    unruly: Vec<GuestFault>,
    thought: BTreeMap<GuestRole, Duration>,
}

impl TurningDrill {
    /// As [`TurningDrill::of`], by whoever of `invited` sits at the drive, started anew for each
    /// execution. Draws are named by the trial alone, so the same drill without guests meets the
    /// same luck. Those after the first few are left out where in none of these an answer came in
    /// time.
    ///
    /// # Errors
    /// A guest that may not play, before anything is executed.
    pub fn by_guests(
        rehearser: &Rehearser,
        scene: &Arc<Scene>,
        plans: &Arc<Vec<Plan>>,
        count: usize,
        invited: &Invited,
        progress: Progress<'_>,
    ) -> Result<Option<(Self, GuestDrives)>, NotInvited> {
        let machine = Machine::of(scene);
        let watch = Watch::new(progress);
        let execution = |number: usize| -> Result<Option<Driven>, NotInvited> {
            if watch.stopped() || plans.is_empty() {
                return Ok(None);
            }
            let place = number % plans.len();
            let draw = rehearser.seed().trial(number as u64);
            let mut company = Company::at_the_drive(invited, scene)?;
            let seats = company.driving();
            let Seated { run, fault, .. } =
                machine.run_with(&CubeState::SOLVED, &plans[place], draw, Detail::Figures, seats);
            let thought = company.thought();
            let unruly = company.goodbye(fault.as_ref());
            watch.step();
            let execution = Execution::of(number as u64, place, run);
            Ok(Some(Driven { execution, fault, unruly, thought }))
        };
        let driven = all_unless_in_vain(count, invited, execution, |driven: &Driven| {
            driven.fault.as_ref().is_some_and(never_answered)
        })?;
        Ok(driven.map(|driven| {
            let (mut executions, mut fared) =
                (Vec::with_capacity(driven.len()), GuestDrives::default());
            for Driven { execution, fault, unruly, thought } in driven {
                fared.faults += usize::from(fault.is_some());
                let number = execution.number;
                fared.first_fault = fared.first_fault.or(fault.map(|fault| (number, fault)));
                fared.unruly.extend(unruly);
                for (role, own) in thought {
                    *fared.thought.entry(role).or_default() += own;
                }
                executions.push(execution);
            }
            let (scene, plans) = (scene.clone(), plans.clone());
            (Self { scene, plans, executions, seed: rehearser.seed() }, fared)
        }))
    }
}
