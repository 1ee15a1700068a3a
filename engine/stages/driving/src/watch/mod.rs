//! Who watches a run: the drives, which see following errors and currents and cut the
//! torque; and the judge, who sees pieces meet and shafts break.

mod drives;
mod episode;
mod limits;

use dryturn_cube::Face;
use dryturn_handoff::{BeatRun, Cause, Jam, JamVerdict};
use dryturn_units::degrees;

use crate::contact::Engaged;
use crate::execution::{BESIDE, Execution};
use drives::Drives;
use episode::Episode;
pub(crate) use limits::Guard;

/// Where no drive notices, the judge calls it a jam after this, s.
const PATIENCE_S: f64 = 0.06;
/// From where on, and up to where, degrees, a turning face engages with its neighbours.
const ENGAGING_DEG: (f64, f64) = (0.3, 5.0);

/// Less than this against a turning face is the rubbing of every day, N·m.
const RUBBING_N_M: f64 = 0.03;
/// Less than this is not to blame for a jam, N·m.
const BLAMED_N_M: f64 = 0.05;

/// Why the run ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Found {
    /// A drive cuts the torque.
    Tripped(Cause),
    /// A shaft has broken.
    Broken(Face),
    /// The judge has waited long enough for this face.
    Stuck(Face),
}

/// What is watched.
pub(crate) struct Watch {
    episodes: Vec<Episode>,
    /// Those that are over, of turns that are not.
    over: Vec<Episode>,
    pub(crate) pushed: Vec<Jam>,
    drives: Drives,
}

impl Watch {
    pub(crate) fn new() -> Self {
        Self {
            episodes: Vec::new(),
            over: Vec::new(),
            pushed: Vec::new(),
            drives: Drives::default(),
        }
    }

    /// After a tick: notes who meets whom; finds what ends the run.
    pub(crate) fn tick(
        &mut self,
        execution: &Execution<'_>,
        beats: &mut [BeatRun],
    ) -> Option<Found> {
        note_offsets(execution, beats);
        self.meetings(execution);
        for (face, axis) in execution.axes.iter().enumerate() {
            if axis.tick_torque_n_m > execution.built.axes[face].ultimate_n_m {
                return Some(Found::Broken(Face::from_index(face)));
            }
        }
        let now_s = execution.now_s();
        if let Some(cause) = self.drives.tripped(execution) {
            return Some(Found::Tripped(cause));
        }
        let stuck = |episode: &Episode| episode.stood_s.is_some_and(|s| now_s - s > PATIENCE_S);
        let held_up = self.episodes.iter().find(|episode| stuck(episode))?;
        Some(Found::Stuck(Face::from_index(held_up.turning)))
    }

    fn meetings(&mut self, execution: &Execution<'_>) {
        for (turning, beside) in BESIDE.into_iter().enumerate() {
            for late in beside {
                let engaged = execution.engaged[late][turning] != Engaged::Apart
                    && execution.load_n_m[late][turning] > RUBBING_N_M;
                let place = self
                    .episodes
                    .iter()
                    .position(|episode| (episode.late, episode.turning) == (late, turning));
                match (engaged, place) {
                    (true, None) => self.episodes.push(Episode::begun(execution, late, turning)),
                    (false, Some(place)) => {
                        let episode = self.episodes.swap_remove(place);
                        if episode.stopped {
                            let jam = episode.jam(execution, JamVerdict::PushedThrough, None);
                            self.pushed.push(jam);
                        }
                        self.over.push(episode);
                    }
                    _ => {}
                }
            }
        }
        let axes = &execution.axes;
        self.over.retain(|old| {
            let axis = &axes[old.turning];
            axis.order == old.order && !axis.servo.settled
        });
        for episode in &mut self.episodes {
            episode.go_on(execution);
        }
    }

    /// While the rig comes to rest: the torque goes on rising or falling.
    pub(crate) fn coasting(&mut self, execution: &Execution<'_>) -> Option<Found> {
        for episode in &mut self.episodes {
            episode.strain(&execution.axes);
        }
        let mut axes = execution.axes.iter().zip(&execution.built.axes);
        axes.position(|(axis, built)| axis.tick_torque_n_m > built.ultimate_n_m)
            .map(|face| Found::Broken(Face::from_index(face)))
    }

    /// Whether a neighbour holds somebody up now.
    pub(crate) fn somebody_stands(&self) -> bool {
        self.episodes.iter().any(|episode| episode.stood_s.is_some())
    }

    /// The jam that is to blame for the end of the run, if any: where a shaft broke, one
    /// that strained it.
    pub(crate) fn jam(
        &self,
        execution: &Execution<'_>,
        (verdict, broken): (JamVerdict, Option<Face>),
        noticed_s: Option<f64>,
    ) -> Option<Jam> {
        let worse = |a: &&Episode, b: &&Episode| a.load_n_m_s.total_cmp(&b.load_n_m_s);
        let met = self.episodes.iter().chain(&self.over);
        let strained = |episode: &&Episode| {
            broken.is_none_or(|face| [episode.turning, episode.late].contains(&face.index()))
        };
        let blamed = |episode: &&Episode| episode.load_n_m > BLAMED_N_M;
        let worst = met.filter(blamed).filter(strained).max_by(worse)?;
        Some(worst.jam(execution, verdict, noticed_s))
    }
}

/// How far neighbours are off while the newest beat's faces engage.
fn note_offsets(execution: &Execution<'_>, beats: &mut [BeatRun]) {
    let Some(beat) = beats.last_mut() else { return };
    for turn in &beat.turns {
        let face = turn.turn.face.index();
        let axis = &execution.axes[face];
        let turned = degrees(axis.turned_rad().abs());
        if axis.servo.settled || turned < ENGAGING_DEG.0 || turned > ENGAGING_DEG.1 {
            continue;
        }
        for late in BESIDE[face] {
            let off = degrees(execution.axes[late].off_stop_rad().abs());
            beat.worst_offset_deg = beat.worst_offset_deg.max(off);
        }
    }
}
