//! Pieces of a long work that are kept when they are done, so that the work goes on where it
//! was broken off, with the same results to the bit.
//!
//! A piece is a list of results; pieces are numbered in the order in which the work comes to
//! them, which is the same every time.

use std::sync::atomic::{AtomicUsize, Ordering};

use dryturn_cube::Face;
use dryturn_handoff::{Cause, Jam, JamVerdict, SimulationLimit, Stop};

use crate::axes::Execution;
use crate::failures::FailureKind;

/// Keeps pieces for whoever starts a work.
pub trait Keeper: Sync {
    /// The piece of this number as it was kept; `None` where it was not, or is damaged.
    fn recall(&self, piece: usize) -> Option<Vec<u8>>;

    /// Told that so many results of a piece are taken as they were kept.
    fn recalled(&self, _items: usize) {}

    /// Keeps a piece of so many results; whether the work goes on.
    fn keep(&self, piece: usize, bytes: &[u8], items: usize) -> bool;
}

/// The pieces of one work, counted as it comes to them.
pub struct Pieces<'a> {
    keeper: &'a dyn Keeper,
    next: AtomicUsize,
}

impl<'a> Pieces<'a> {
    /// From the first one on.
    #[must_use]
    pub fn of(keeper: &'a dyn Keeper) -> Self {
        Self { keeper, next: AtomicUsize::new(0) }
    }

    /// The next piece, of so many results: as it was kept, or made and kept; whether it is
    /// kept, beside it. `None` where it was broken off.
    pub(crate) fn next<T: Stored>(
        &self,
        count: usize,
        make: impl FnOnce() -> Option<Vec<T>>,
    ) -> Option<(Vec<T>, bool)> {
        let piece = self.next.fetch_add(1, Ordering::Relaxed);
        let kept = self.keeper.recall(piece).and_then(|bytes| T::read_all(&bytes));
        if let Some(all) = kept.filter(|all| all.len() == count) {
            self.keeper.recalled(count);
            return Some((all, true));
        }
        let all = make()?;
        let mut bytes = Vec::new();
        all.iter().for_each(|one| one.store(&mut bytes));
        self.keeper.keep(piece, &bytes, count).then_some((all, false))
    }
}

/// What can be stored and read back the same to the bit.
pub(crate) trait Stored: Sized {
    fn store(&self, out: &mut Vec<u8>);

    /// `None` where the bytes are none of this kind.
    fn read(bytes: &mut &[u8]) -> Option<Self>;

    fn read_all(mut bytes: &[u8]) -> Option<Vec<Self>> {
        let mut all = Vec::new();
        while !bytes.is_empty() {
            all.push(Self::read(&mut bytes)?);
        }
        Some(all)
    }
}

fn byte(bytes: &mut &[u8]) -> Option<u8> {
    let (first, rest) = bytes.split_first()?;
    *bytes = rest;
    Some(*first)
}

fn word<const N: usize>(bytes: &mut &[u8]) -> Option<[u8; N]> {
    let (word, rest) = bytes.split_first_chunk()?;
    *bytes = rest;
    Some(*word)
}

/// Lengths and numbers fit into 64 bits on every machine.
fn number(bytes: &mut &[u8]) -> Option<usize> {
    usize::try_from(u64::from_le_bytes(word(bytes)?)).ok()
}

impl Stored for f64 {
    fn store(&self, out: &mut Vec<u8>) {
        out.extend(self.to_bits().to_le_bytes());
    }

    fn read(bytes: &mut &[u8]) -> Option<Self> {
        Some(Self::from_bits(u64::from_le_bytes(word(bytes)?)))
    }
}

impl Stored for usize {
    fn store(&self, out: &mut Vec<u8>) {
        out.extend((*self as u64).to_le_bytes());
    }

    fn read(bytes: &mut &[u8]) -> Option<Self> {
        number(bytes)
    }
}

impl<T: Stored> Stored for Option<T> {
    fn store(&self, out: &mut Vec<u8>) {
        out.push(u8::from(self.is_some()));
        if let Some(value) = self {
            value.store(out);
        }
    }

    fn read(bytes: &mut &[u8]) -> Option<Self> {
        match byte(bytes)? {
            0 => Some(None),
            1 => T::read(bytes).map(Some),
            _ => None,
        }
    }
}

impl Stored for Face {
    fn store(&self, out: &mut Vec<u8>) {
        out.push(self.index() as u8);
    }

    fn read(bytes: &mut &[u8]) -> Option<Self> {
        Self::ALL.get(usize::from(byte(bytes)?)).copied()
    }
}

/// An execution of tuning: its time, or why it failed.
impl Stored for Result<f64, FailureKind> {
    fn store(&self, out: &mut Vec<u8>) {
        match self {
            Ok(time_s) => {
                out.push(u8::MAX);
                time_s.store(out);
            }
            Err(kind) => {
                let place = FailureKind::ALL.iter().position(|one| one == kind);
                out.push(place.unwrap_or_default() as u8);
            }
        }
    }

    fn read(bytes: &mut &[u8]) -> Option<Self> {
        match byte(bytes)? {
            u8::MAX => f64::read(bytes).map(Ok),
            place => FailureKind::ALL.get(usize::from(place)).copied().map(Err),
        }
    }
}

const VERDICTS: [JamVerdict; 3] =
    [JamVerdict::PushedThrough, JamVerdict::Stalled, JamVerdict::ShaftBroken];

impl Stored for Jam {
    fn store(&self, out: &mut Vec<u8>) {
        self.time_s.store(out);
        self.beat.store(out);
        self.late_face.store(out);
        self.late_angle_deg.store(out);
        self.allowed_deg.store(out);
        self.blocked_face.store(out);
        self.blocked_angle_deg.store(out);
        self.strained_face.store(out);
        self.peak_torque_n_m.store(out);
        self.safety_factor_ratio.store(out);
        out.push(VERDICTS.iter().position(|one| *one == self.verdict).unwrap_or_default() as u8);
        self.noticed_s.store(out);
        self.blame.len().store(out);
        out.extend(self.blame.as_bytes());
    }

    fn read(bytes: &mut &[u8]) -> Option<Self> {
        let jam = Self {
            time_s: f64::read(bytes)?,
            beat: usize::read(bytes)?,
            late_face: Face::read(bytes)?,
            late_angle_deg: f64::read(bytes)?,
            allowed_deg: f64::read(bytes)?,
            blocked_face: Face::read(bytes)?,
            blocked_angle_deg: f64::read(bytes)?,
            strained_face: Face::read(bytes)?,
            peak_torque_n_m: f64::read(bytes)?,
            safety_factor_ratio: f64::read(bytes)?,
            verdict: *VERDICTS.get(usize::from(byte(bytes)?))?,
            noticed_s: Option::read(bytes)?,
            blame: String::new(),
        };
        let length = usize::read(bytes)?;
        let (blame, rest) = bytes.split_at_checked(length)?;
        *bytes = rest;
        Some(Self { blame: String::from_utf8(blame.to_vec()).ok()?, ..jam })
    }
}

/// A number, and the face where there is one.
impl Stored for Cause {
    fn store(&self, out: &mut Vec<u8>) {
        let number = match self {
            Self::EmergencyStop => 0,
            Self::Watchdog => 1,
            Self::NoShaft(_) => 2,
            Self::LinkLost(_) => 3,
            Self::FollowingError(_) => 4,
            Self::Stalled(_) => 5,
            Self::NotSettled(_) => 6,
            Self::ShaftBroken(_) => 7,
            Self::OverVoltage => 8,
            Self::UnderVoltage => 9,
            Self::ResistorHot => 10,
            Self::NotSteady(_) => 11,
            Self::Simulation(SimulationLimit::BeatTime) => 12,
            Self::Simulation(SimulationLimit::RunTime) => 13,
            Self::Simulation(SimulationLimit::Steps) => 14,
            Self::Simulation(SimulationLimit::Numbers) => 15,
        };
        out.push(number);
        self.face().store(out);
    }

    fn read(bytes: &mut &[u8]) -> Option<Self> {
        let number = byte(bytes)?;
        let face: Option<Face> = Option::read(bytes)?;
        Some(match (number, face) {
            (0, None) => Self::EmergencyStop,
            (1, None) => Self::Watchdog,
            (2, Some(face)) => Self::NoShaft(face),
            (3, Some(face)) => Self::LinkLost(face),
            (4, Some(face)) => Self::FollowingError(face),
            (5, Some(face)) => Self::Stalled(face),
            (6, Some(face)) => Self::NotSettled(face),
            (7, Some(face)) => Self::ShaftBroken(face),
            (8, None) => Self::OverVoltage,
            (9, None) => Self::UnderVoltage,
            (10, None) => Self::ResistorHot,
            (11, Some(face)) => Self::NotSteady(face),
            (12, None) => Self::Simulation(SimulationLimit::BeatTime),
            (13, None) => Self::Simulation(SimulationLimit::RunTime),
            (14, None) => Self::Simulation(SimulationLimit::Steps),
            (15, None) => Self::Simulation(SimulationLimit::Numbers),
            _ => return None,
        })
    }
}

impl Stored for Stop {
    fn store(&self, out: &mut Vec<u8>) {
        self.time_s.store(out);
        self.beat.store(out);
        self.cause.store(out);
    }

    fn read(bytes: &mut &[u8]) -> Option<Self> {
        let (time_s, beat) = (f64::read(bytes)?, usize::read(bytes)?);
        Some(Self { time_s, beat, cause: Cause::read(bytes)? })
    }
}

impl Stored for Execution {
    fn store(&self, out: &mut Vec<u8>) {
        (self.number as usize).store(out);
        self.plan.store(out);
        for figure in [
            self.total_s,
            self.bound_s,
            self.peak_torque_n_m,
            self.safety_factor_ratio,
            self.supply_j,
            self.brake_j,
            self.bus_v.0,
            self.bus_v.1,
            self.winding_c,
            self.resistor_c,
        ] {
            figure.store(out);
        }
        self.jam.store(out);
        self.stop.store(out);
        self.pushed.len().store(out);
        self.pushed.iter().for_each(|jam| jam.store(out));
    }

    fn read(bytes: &mut &[u8]) -> Option<Self> {
        Some(Self {
            number: usize::read(bytes)? as u64,
            plan: usize::read(bytes)?,
            total_s: f64::read(bytes)?,
            bound_s: f64::read(bytes)?,
            peak_torque_n_m: f64::read(bytes)?,
            safety_factor_ratio: f64::read(bytes)?,
            supply_j: f64::read(bytes)?,
            brake_j: f64::read(bytes)?,
            bus_v: (f64::read(bytes)?, f64::read(bytes)?),
            winding_c: f64::read(bytes)?,
            resistor_c: f64::read(bytes)?,
            jam: Option::read(bytes)?,
            stop: Option::read(bytes)?,
            pushed: {
                let count = usize::read(bytes)?;
                (0..count).map(|_| Jam::read(bytes)).collect::<Option<Vec<_>>>()?
            },
        })
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;
    use std::ops::ControlFlow;
    use std::sync::{Arc, Mutex};

    use dryturn_cube::notation;
    use dryturn_handoff::Plan;
    use dryturn_scene::Scene;
    use dryturn_units::noise::Seed;

    use super::*;
    use crate::TurningDrill;
    use dryturn_rehearsal::Rehearser;

    #[derive(Default)]
    struct Kept(Mutex<BTreeMap<usize, Vec<u8>>>);

    impl Keeper for Kept {
        fn recall(&self, piece: usize) -> Option<Vec<u8>> {
            self.0.lock().unwrap().get(&piece).cloned()
        }

        fn keep(&self, piece: usize, bytes: &[u8], _: usize) -> bool {
            self.0.lock().unwrap().insert(piece, bytes.to_vec());
            true
        }
    }

    fn jam() -> Jam {
        Jam {
            time_s: 0.1,
            beat: 3,
            late_face: Face::U,
            late_angle_deg: -2.5,
            allowed_deg: 1.3,
            blocked_face: Face::B,
            blocked_angle_deg: f64::NAN,
            strained_face: Face::L,
            peak_torque_n_m: f64::INFINITY,
            safety_factor_ratio: 0.9,
            verdict: JamVerdict::ShaftBroken,
            noticed_s: Some(0.11),
            blame: "the link's delay, 3 °".to_owned(),
        }
    }

    /// What is stored is read back the same to the bit, and nothing else is taken for it.
    #[test]
    fn stored_and_read_back() {
        let causes = [Cause::Watchdog, Cause::NotSettled(Face::D), Cause::ResistorHot];
        for cause in causes {
            for (jam, pushed) in [(Some(jam()), Vec::new()), (None, vec![jam(), jam()])] {
                let one = Execution {
                    number: u64::from(u32::MAX) + 7,
                    plan: 2,
                    total_s: 1.0 / 3.0,
                    bound_s: -0.0,
                    jam,
                    stop: Some(Stop { time_s: 0.2, beat: 1, cause }),
                    pushed,
                    peak_torque_n_m: 1e-310,
                    safety_factor_ratio: f64::INFINITY,
                    supply_j: 4.0,
                    brake_j: 0.1 + 0.2,
                    bus_v: (47.0, 49.9),
                    winding_c: 25.0,
                    resistor_c: 26.0,
                };
                let mut bytes = Vec::new();
                one.store(&mut bytes);
                let read = Execution::read_all(&bytes).unwrap();
                // Debug, for a figure that is no number differs from itself.
                assert_eq!(format!("{read:?}"), format!("{:?}", [one]));
                assert!((1..bytes.len()).all(|end| Execution::read_all(&bytes[..end]).is_none()));
            }
        }
        let all = [Ok(0.3), Err(FailureKind::Watchdog), Err(FailureKind::Jam), Ok(f64::MIN)];
        let mut bytes = Vec::new();
        all.iter().for_each(|one: &Result<f64, FailureKind>| one.store(&mut bytes));
        assert_eq!(Result::read_all(&bytes).unwrap(), all);
        assert!(<Result<f64, FailureKind>>::read_all(&[200]).is_none());
    }

    /// A drill that is broken off, whose record is then damaged, ends up the same.
    #[test]
    fn a_drill_goes_on() {
        let text = std::fs::read_to_string("../../../scenes/foyer_morning.ron").unwrap();
        let scene = Arc::new(Scene::parse(&text, "foyer_morning.ron").unwrap());
        let plans = Arc::new(vec![Plan::of_turns(&notation::parse("R").unwrap())]);
        let rehearser = Rehearser::new(Seed::new(4));
        let go_on = |_| ControlFlow::Continue(());
        let whole = TurningDrill::of(&rehearser, &scene, &plans, 200, &go_on).unwrap();
        let kept = Kept::default();
        let drill = |progress: &(dyn Fn(usize) -> ControlFlow<()> + Sync)| {
            let pieces = Pieces::of(&kept);
            TurningDrill::kept(&rehearser, &scene, &plans, 200, progress, &pieces)
        };
        let ends =
            |done| if done < 150 { ControlFlow::Continue(()) } else { ControlFlow::Break(()) };
        assert!(drill(&ends).is_none());
        assert!((1..4).contains(&kept.0.lock().unwrap().len()));
        kept.0.lock().unwrap().insert(0, vec![1, 2, 3]);
        assert_eq!(drill(&go_on).unwrap().executions, whole.executions);
        // All of it is there now.
        assert_eq!(kept.0.lock().unwrap().len(), 4);
        assert_eq!(drill(&go_on).unwrap().executions, whole.executions);
    }
}
