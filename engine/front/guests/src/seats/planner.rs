//! A guest in the planner's seat.

use std::time::Duration;

use dryturn_cube::CubeState;
use dryturn_driving::Transitions;
use dryturn_handoff::SeatFault;
use dryturn_rehearsal::{PlanCosts, PlannerSeat, SeatPlan};

use super::sitting::Sitting;
use crate::command::{GuestCommand, Limits};
use crate::roles::{self, GuestPlanner, Planned, RowCosts};

/// A guest in the planner's seat.
pub struct SeatedPlanner(Sitting<GuestPlanner>);

impl SeatedPlanner {
    /// Starts it; one that cannot be started says so when it is asked.
    #[must_use]
    pub fn start(command: &GuestCommand, limits: Limits) -> Self {
        let guest = GuestPlanner::start(command, limits);
        Self(Sitting::of(command, guest, |guest| guest.session().name()))
    }

    /// How long its answers have taken here, in real time.
    pub(super) fn thought(&self) -> Duration {
        self.0.thought(GuestPlanner::session)
    }

    /// Lets it end.
    ///
    /// # Errors
    /// It does not end as it must.
    pub fn goodbye(self) -> Result<(), SeatFault> {
        self.0.leave(GuestPlanner::goodbye)
    }
}

impl PlannerSeat for SeatedPlanner {
    fn name(&self) -> &str {
        &self.0.name
    }

    fn plan(&mut self, read: &CubeState, costs: &PlanCosts) -> Result<SeatPlan, SeatFault> {
        let Planned { plan, operations } = self.0.ask(|guest| guest.plan(read, &told(costs)))?;
        Ok(SeatPlan { plan, operations })
    }
}

/// What a planner is told of costs.
fn told(costs: &PlanCosts) -> roles::PlanCosts {
    roles::PlanCosts {
        quarter_turn_s: costs.quarter_turn_s,
        half_turn_s: costs.half_turn_s,
        pair_s: costs.beats.map(|beats| beats.pair_s),
        between_s: costs.beats.map(|beats| beats.between_s),
        // A drive that does not get through a row has no costs of one either.
        row: costs.beats.map(|_| row(&costs.transitions)),
    }
}

fn row(transitions: &Transitions) -> RowCosts {
    let seconds = |us: u32| f64::from(us) / 1e6;
    RowCosts {
        first_s: seconds(transitions.first_us),
        between_s: transitions.between_us.map(|next| next.map(|sense| sense.map(seconds))),
        pair_longer_s: transitions.pair_us.map(|us| f64::from(us) / 1e6),
        last_s: transitions.last_us.map(seconds),
    }
}

#[cfg(test)]
mod tests {
    use dryturn_rehearsal::Rehearser;
    use dryturn_units::noise::Seed;

    use super::*;

    #[test]
    fn costs_are_told_in_seconds() {
        let scene = dryturn_scene::starter();
        let costs = Rehearser::new(Seed::new(1)).plan_costs(&scene);
        let told = told(&costs);
        assert_eq!(told.quarter_turn_s, costs.quarter_turn_s);
        let row = told.row.unwrap();
        let opposite = f64::from(costs.transitions.between_us[1][0][0]) * 1e-6;
        assert!((row.between_s[1][0][0] - opposite).abs() < 1e-12);
        assert!(row.first_s >= 0.0 && row.last_s[0] < row.last_s[1]);
    }
}
