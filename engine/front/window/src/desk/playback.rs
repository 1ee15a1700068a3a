//! Where every piece is at a moment of a run, and which moment is shown.

use dryturn_cube::{CubeState, Face, Facelet, Turn};
use dryturn_rehearsal::Pass;

/// The cube at a moment: stickers at their places, and layers on their way.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Moment {
    /// Colour at each place, layers on their way counted as not yet turned.
    pub(crate) colours: [Face; Facelet::COUNT],
    /// Turns on their way, in order of their start, each with its layer's angle from
    /// where it started, degrees, clockwise positive.
    pub(crate) under_way: Vec<(Turn, f64)>,
    /// Index of the beat that is under way or was last.
    pub(crate) beat: Option<usize>,
}

impl Moment {
    /// A cube at rest.
    pub(crate) fn rest(state: &CubeState) -> Self {
        Self { colours: state.colours(), under_way: Vec::new(), beat: None }
    }

    /// The cube of a pass `t_s` seconds after the start of its run. Turns that
    /// have settled are done; the others stand at the simulated angle.
    pub(crate) fn of(pass: &Pass, t_s: f64) -> Self {
        let Some(run) = &pass.run else { return Self::rest(&pass.truth) };
        let angles = |t: f64| {
            let index = (t / run.trace.step_s).round().max(0.0) as usize;
            let last = run.trace.angles_deg.len().saturating_sub(1);
            run.trace.angles_deg.get(index.min(last)).copied().unwrap_or([0.0; 6])
        };
        let now = angles(t_s);
        let mut state = pass.truth;
        let mut stops_deg = [0.0; 6];
        let (mut under_way, mut beat) = (Vec::new(), None);
        for started in &run.beats {
            for turn in started.turns.iter().filter(|turn| turn.start_s <= t_s) {
                beat = Some(started.beat);
                let face = turn.turn.face.index();
                // Where the run was broken off, what had not settled stays where it is.
                let left = run.failure().is_some() && turn.stop_s >= run.total_s;
                if turn.stop_s <= t_s && !left {
                    state = state.turned(turn.turn);
                    stops_deg[face] += turn.turn.amount.angle_deg();
                } else {
                    under_way.push((turn.turn, now[face] - stops_deg[face]));
                }
            }
        }
        Self { colours: state.colours(), under_way, beat }
    }
}

/// How long a run is, seconds; 0 without one.
pub(crate) fn length_s(pass: &Pass) -> f64 {
    pass.run.as_ref().map_or(0.0, |run| run.total_s)
}

/// Start of the beat after (or before) a moment, seconds.
pub(crate) fn neighbour_beat_s(pass: &Pass, t_s: f64, forward: bool) -> f64 {
    let end = length_s(pass);
    let starts = pass.run.iter().flat_map(|run| run.beats.iter().map(|beat| beat.start_s()));
    if forward {
        starts.filter(|&start| start > t_s + 1e-6).fold(end, f64::min)
    } else {
        starts.filter(|&start| start < t_s - 1e-6).fold(0.0, f64::max)
    }
}

/// Speeds of play: from the real one to a two-hundredth.
pub(crate) const SPEEDS: [f64; 8] = [1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005];

/// Where the playback stands.
#[derive(Clone, Copy)]
pub(crate) struct Player {
    pub(crate) at_s: f64,
    pub(crate) playing: bool,
    /// Index into [`SPEEDS`].
    pub(crate) speed: usize,
}

impl Default for Player {
    fn default() -> Self {
        Self { at_s: 0.0, playing: false, speed: 3 }
    }
}

impl Player {
    /// At the start of another run, at the same speed.
    pub(crate) fn rewound(self) -> Self {
        Self { at_s: 0.0, playing: false, ..self }
    }

    /// Moves on by so much real time. True while it plays.
    pub(crate) fn play_on(&mut self, pass: &Pass, real_s: f64) -> bool {
        if !self.playing {
            return false;
        }
        let end = length_s(pass);
        self.at_s += real_s * SPEEDS[self.speed];
        if self.at_s >= end {
            self.at_s = end;
            self.playing = false;
        }
        true
    }

    /// Plays or pauses; from the start where it stands at the end.
    pub(crate) fn toggle(&mut self, pass: &Pass) {
        if !self.playing && self.at_s >= length_s(pass) {
            self.at_s = 0.0;
        }
        self.playing = !self.playing;
    }

    /// Goes to the start of the next beat, or of the one before.
    pub(crate) fn step_beat(&mut self, pass: &Pass, forward: bool) {
        self.at_s = neighbour_beat_s(pass, self.at_s, forward);
        self.playing = false;
    }
}

/// `1×` or `1/20×`.
pub(crate) fn speed_name(speed: f64) -> String {
    if speed >= 1.0 { "1×".to_owned() } else { format!("1/{:.0}×", 1.0 / speed) }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use dryturn_rehearsal::Rehearser;
    use dryturn_scene::Scene;
    use dryturn_units::noise::Seed;

    use super::*;

    fn pass() -> Pass {
        let text = include_str!("../../../../../scenes/workbench.ron");
        let scene = Arc::new(Scene::parse(text, "workbench.ron").unwrap());
        let rehearser = Rehearser::new(Seed::new(1));
        let rig = rehearser.build(&scene, 0);
        let calibration = rig.calibrate().unwrap();
        rehearser.rehearse(&rig, &calibration, &rehearser.random_cube(0)).unwrap()
    }

    #[test]
    fn a_run_starts_scrambled_and_ends_solved() {
        let pass = pass();
        assert_eq!(Moment::of(&pass, 0.0), Moment::rest(&pass.truth));
        let end = Moment::of(&pass, length_s(&pass));
        assert_eq!(end.colours, CubeState::SOLVED.colours());
        assert_eq!(end.under_way, []);
    }

    #[test]
    fn a_turning_layer_follows_the_simulated_angle() {
        let pass = pass();
        let turn = pass.run.as_ref().unwrap().beats[0].turns[0];
        let half_way = Moment::of(&pass, (turn.start_s + turn.stop_s) / 2.0);
        let (first, angle) = half_way.under_way[0];
        assert_eq!(first, turn.turn);
        let whole = turn.turn.amount.angle_deg();
        assert!(angle / whole > 0.3 && angle / whole < 0.7, "{angle} of {whole}");
        assert_eq!(half_way.colours, pass.truth.colours());
    }

    #[test]
    fn beats_are_stepped_one_by_one() {
        let pass = pass();
        let (mut t, mut steps) = (0.0, 0);
        while t < length_s(&pass) {
            t = neighbour_beat_s(&pass, t, true);
            steps += 1;
        }
        assert_eq!(steps, pass.plan.as_ref().unwrap().beats.len() + 1);
        assert!(neighbour_beat_s(&pass, t, false) < t);
    }
}
