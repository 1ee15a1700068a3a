//! Hosts that sit in the seat.

use dryturn_cube::Turn;
use dryturn_driving::{HostAnswer, HostBrief, HostSeat, HostSees};
use dryturn_handoff::SeatFault;

/// How far a command has come, as far as its host can see.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Seen {
    Settled,
    Sent,
    Moves,
}

/// One that keeps to the scene's policy as it is written down: it waits for faces to settle, or
/// where it is given an angle, until they are as near to their stops.
pub(crate) struct Waits {
    near_deg: Option<f64>,
    beats: Vec<Vec<Turn>>,
    commanded: usize,
    /// When each answer with turns was given.
    pub(crate) commanded_s: Vec<f64>,
    one_by_one: bool,
    window_deg: f64,
    dwell_s: f64,
    faces: [(Seen, f64); 6],
    since_s: Option<f64>,
}

impl Waits {
    pub(crate) fn to_settle() -> Self {
        Self {
            near_deg: None,
            beats: Vec::new(),
            commanded: 0,
            commanded_s: Vec::new(),
            one_by_one: false,
            window_deg: 0.0,
            dwell_s: 0.0,
            faces: [(Seen::Settled, 0.0); 6],
            since_s: None,
        }
    }

    pub(crate) fn until(near_deg: f64) -> Self {
        Self { near_deg: Some(near_deg), ..Self::to_settle() }
    }

    /// It commands no two turns at once.
    pub(crate) fn one_by_one(self) -> Self {
        Self { one_by_one: true, ..self }
    }

    fn look(&mut self, sees: &HostSees) {
        for (face, (seen, to_deg)) in self.faces.iter_mut().enumerate() {
            let off_deg = (sees.encoder_deg[face] - *to_deg).abs();
            *seen = match *seen {
                Seen::Sent if !sees.moving[face] => Seen::Sent,
                Seen::Sent => Seen::Moves,
                Seen::Moves if !sees.moving[face] && off_deg <= self.window_deg => Seen::Settled,
                as_before => as_before,
            };
        }
    }

    fn to_go_deg(&self, sees: &HostSees, face: usize) -> f64 {
        let to_deg = self.faces[face].1;
        (sees.encoder_deg[face] - to_deg).abs().max((sees.setpoint_deg[face] - to_deg).abs())
    }

    fn ready(&self, sees: &HostSees) -> bool {
        let late = |face: &usize| self.faces[*face].0 != Seen::Settled;
        let next = self.beats.get(self.commanded);
        let (Some(near_deg), Some(next)) = (self.near_deg, next) else {
            return !(0..6).any(|face| late(&face));
        };
        !next.iter().any(|turn| late(&turn.face.index()))
            && (0..6).filter(late).all(|face| self.to_go_deg(sees, face) <= near_deg)
    }

    /// Whether the faces that turned last are within their windows now.
    fn stays(&self, sees: &HostSees) -> bool {
        let last = &self.beats[self.commanded - 1];
        last.iter().all(|turn| self.to_go_deg(sees, turn.face.index()) <= self.window_deg)
    }
}

impl HostSeat for Waits {
    fn name(&self) -> &str {
        "waits"
    }

    fn begin(&mut self, brief: &HostBrief<'_>) -> Result<(), SeatFault> {
        self.beats = brief.plan.beats.iter().map(|beat| beat.turns.clone()).collect();
        if self.one_by_one {
            self.beats = brief.plan.turns().into_iter().map(|turn| vec![turn]).collect();
        }
        self.window_deg = brief.settle_window_deg;
        self.dwell_s = brief.settle_dwell_ms * 1e-3;
        Ok(())
    }

    fn tick(&mut self, sees: &HostSees) -> Result<HostAnswer, SeatFault> {
        self.look(sees);
        if self.faces.iter().any(|(seen, _)| *seen == Seen::Sent) {
            return Ok(HostAnswer::WAIT);
        }
        let waits = self.near_deg.is_none() && self.commanded > 0;
        let dwell_s = if waits { self.dwell_s } else { 0.0 };
        if !self.ready(sees) || (dwell_s > 0.0 && !self.stays(sees)) {
            self.since_s = None;
            return Ok(HostAnswer::WAIT);
        }
        let since_s = *self.since_s.get_or_insert(sees.time_s);
        if sees.time_s - since_s + 1e-12 < dwell_s {
            return Ok(HostAnswer::WAIT);
        }
        let Some(turns) = self.beats.get(self.commanded).cloned() else {
            return Ok(HostAnswer::Done);
        };
        self.since_s = None;
        self.commanded += 1;
        self.commanded_s.push(sees.time_s);
        for turn in &turns {
            let (seen, to_deg) = &mut self.faces[turn.face.index()];
            (*seen, *to_deg) = (Seen::Sent, *to_deg + turn.amount.angle_deg());
        }
        Ok(HostAnswer::Turn(turns))
    }
}

/// One that is a function of what it sees and of how often it was asked.
pub(crate) struct Does<F>(pub(crate) F, pub(crate) usize);

impl<F: FnMut(usize, &HostSees) -> Result<HostAnswer, SeatFault>> HostSeat for Does<F> {
    fn name(&self) -> &str {
        "does"
    }

    fn begin(&mut self, _: &HostBrief<'_>) -> Result<(), SeatFault> {
        Ok(())
    }

    fn tick(&mut self, sees: &HostSees) -> Result<HostAnswer, SeatFault> {
        self.1 += 1;
        (self.0)(self.1 - 1, sees)
    }
}
