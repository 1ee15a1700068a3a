//! A host that starts beats by cues: it sees the six encoders and its clock, nothing else.

use dryturn_cube::Face;
use dryturn_handoff::{Cue, CueSheet, CuedBeat};

/// Two moments that are nearer than this are one, s.
const SAME_S: f64 = 1e-9;

/// What is known of one face.
#[derive(Clone, Copy, Debug, Default)]
struct Seen {
    /// Where its last turn ends, degrees since homing.
    to_deg: f64,
    /// Since when it has been within its window.
    within_since_s: Option<f64>,
    settled: bool,
}

/// How far it has come with a sheet.
#[derive(Clone, Debug)]
pub(crate) struct Following<'a> {
    sheet: &'a CueSheet,
    /// Beats that have been started.
    started: usize,
    /// When the last of them was.
    since_s: f64,
    seen: [Seen; 6],
}

/// What is to be done now.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Next {
    /// Wait.
    Wait,
    /// Start the next beat.
    Start,
    /// All is done.
    Done,
    /// A time-out has passed while a cue about this face did not hold: stop everything.
    Stop(Face),
}

impl<'a> Following<'a> {
    pub(crate) fn new(sheet: &'a CueSheet) -> Self {
        Self { sheet, started: 0, since_s: 0.0, seen: [Seen::default(); 6] }
    }

    fn beat(&self) -> &'a CuedBeat {
        self.sheet.beats.get(self.started).unwrap_or(&self.sheet.end)
    }

    /// Looks at all encoders; to be called at every tick.
    pub(crate) fn look(&mut self, reads_deg: &[f64; 6], now_s: f64) {
        for (seen, reads) in self.seen.iter_mut().zip(reads_deg) {
            if (reads - seen.to_deg).abs() > self.sheet.window_deg {
                seen.within_since_s = None;
                continue;
            }
            let since_s = *seen.within_since_s.get_or_insert(now_s);
            seen.settled |= now_s - since_s + SAME_S >= self.sheet.dwell_ms * 1e-3;
        }
    }

    fn holds(&self, cue: Cue, reads_deg: &[f64; 6]) -> bool {
        match cue {
            Cue::Settled(face) => self.seen[face.index()].settled,
            Cue::Above(face, deg) => reads_deg[face.index()] >= deg,
            Cue::Below(face, deg) => reads_deg[face.index()] <= deg,
        }
    }

    /// Whether the time-out of the beat that is waited for has passed.
    pub(crate) fn timed_out(&self, now_s: f64) -> bool {
        now_s - self.since_s > self.beat().time_out_ms * 1e-3 + SAME_S
    }

    /// What is to be done now.
    pub(crate) fn next(&self, reads_deg: &[f64; 6], now_s: f64) -> Next {
        let unmet = self.beat().cues.iter().find(|cue| !self.holds(**cue, reads_deg));
        match unmet {
            Some(cue) if self.timed_out(now_s) => Next::Stop(cue.face()),
            Some(_) => Next::Wait,
            None if self.started == self.sheet.beats.len() => Next::Done,
            None => Next::Start,
        }
    }

    /// The next beat is started now.
    pub(crate) fn start(&mut self, now_s: f64) {
        for turn in &self.beat().turns {
            self.seen[turn.turn.face.index()] = Seen { to_deg: turn.to_deg, ..Seen::default() };
        }
        self.started += 1;
        self.since_s = now_s;
    }
}

#[cfg(test)]
mod tests {
    use dryturn_cube::notation;
    use dryturn_handoff::CuedTurn;

    use super::*;

    fn sheet() -> CueSheet {
        let beat = |turn: &str, to_deg: f64, cues: Vec<Cue>| CuedBeat {
            turns: vec![CuedTurn { turn: notation::parse(turn).unwrap()[0], to_deg }],
            cues,
            time_out_ms: 100.0,
        };
        CueSheet {
            window_deg: 0.5,
            dwell_ms: 2.0,
            beats: vec![
                beat("U", 90.0, vec![Cue::Settled(Face::U)]),
                beat("R'", -90.0, vec![Cue::Above(Face::U, 80.0)]),
                beat("U", 180.0, vec![Cue::Below(Face::R, -80.0), Cue::Settled(Face::U)]),
            ],
            end: CuedBeat {
                turns: vec![],
                cues: vec![Cue::Settled(Face::R), Cue::Settled(Face::U)],
                time_out_ms: 100.0,
            },
        }
    }

    fn step(following: &mut Following<'_>, u: f64, r: f64, now_ms: f64) -> Next {
        let reads = [u, r, 0.0, 0.0, 0.0, 0.0];
        following.look(&reads, now_ms * 1e-3);
        let next = following.next(&reads, now_ms * 1e-3);
        if next == Next::Start {
            following.start(now_ms * 1e-3);
        }
        next
    }

    #[test]
    fn beats_start_by_what_encoders_read() {
        let sheet = sheet();
        let mut at = Following::new(&sheet);
        // At home, but not for long enough yet.
        assert_eq!(step(&mut at, 0.0, 0.0, 0.0), Next::Wait);
        assert_eq!(step(&mut at, 0.0, 0.0, 2.0), Next::Start);
        assert_eq!(step(&mut at, 79.9, 0.0, 20.0), Next::Wait);
        assert_eq!(step(&mut at, 80.0, 0.0, 21.0), Next::Start);
        // U swings through its window once; what it settles at then holds for good.
        assert_eq!(step(&mut at, 89.8, -40.0, 30.0), Next::Wait);
        assert_eq!(step(&mut at, 91.0, -85.0, 31.0), Next::Wait);
        assert_eq!(step(&mut at, 90.2, -85.0, 33.0), Next::Wait);
        assert_eq!(step(&mut at, 90.0, -79.0, 35.0), Next::Wait);
        assert_eq!(step(&mut at, 91.0, -81.0, 36.0), Next::Start);
        assert_eq!(step(&mut at, 180.0, -90.0, 60.0), Next::Wait);
        assert_eq!(step(&mut at, 180.0, -90.0, 62.0), Next::Done);
    }

    #[test]
    fn a_cue_that_does_not_come_stops_everything() {
        let sheet = sheet();
        let mut at = Following::new(&sheet);
        step(&mut at, 0.0, 0.0, 0.0);
        assert_eq!(step(&mut at, 0.0, 0.0, 2.0), Next::Start);
        assert_eq!(step(&mut at, 70.0, 0.0, 102.0), Next::Wait);
        assert_eq!(step(&mut at, 70.0, 0.0, 102.5), Next::Stop(Face::U));
    }
}
