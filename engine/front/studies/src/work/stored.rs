//! What can be stored and read back the same to the bit.

use dryturn_cube::Face;
use dryturn_handoff::{
    Blame, Cause, GuestRole, Jam, JamVerdict, LateReason, Meeting, SimulationLimit, Stop,
};

use crate::failures::FailureKind;

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

const REASONS: [LateReason; 4] =
    [LateReason::ReleasedEarly, LateReason::HeldOff, LateReason::WoundUp, LateReason::EncoderOff];

impl Stored for Meeting {
    fn store(&self, out: &mut Vec<u8>) {
        self.late_face.store(out);
        self.late_angle_deg.store(out);
        self.allowed_deg.store(out);
        self.blocked_face.store(out);
        self.blocked_angle_deg.store(out);
    }

    fn read(bytes: &mut &[u8]) -> Option<Self> {
        Some(Self {
            late_face: Face::read(bytes)?,
            late_angle_deg: f64::read(bytes)?,
            allowed_deg: f64::read(bytes)?,
            blocked_face: Face::read(bytes)?,
            blocked_angle_deg: f64::read(bytes)?,
        })
    }
}

impl Stored for Jam {
    fn store(&self, out: &mut Vec<u8>) {
        self.time_s.store(out);
        self.beat.store(out);
        self.met.store(out);
        self.strained_face.store(out);
        self.peak_torque_n_m.store(out);
        self.safety_factor_ratio.store(out);
        out.push(VERDICTS.iter().position(|one| *one == self.verdict).unwrap_or_default() as u8);
        self.noticed_s.store(out);
        out.push(REASONS.iter().position(|one| *one == self.blame.reason).unwrap_or_default() as u8);
        self.blame.off_deg.store(out);
    }

    fn read(bytes: &mut &[u8]) -> Option<Self> {
        Some(Self {
            time_s: f64::read(bytes)?,
            beat: usize::read(bytes)?,
            met: Meeting::read(bytes)?,
            strained_face: Face::read(bytes)?,
            peak_torque_n_m: f64::read(bytes)?,
            safety_factor_ratio: f64::read(bytes)?,
            verdict: *VERDICTS.get(usize::from(byte(bytes)?))?,
            noticed_s: Option::read(bytes)?,
            blame: Blame {
                reason: *REASONS.get(usize::from(byte(bytes)?))?,
                off_deg: f64::read(bytes)?,
            },
        })
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
            Self::Simulation(SimulationLimit::Commands) => 16,
            Self::Refused(_) => 17,
            Self::HostStopped => 18,
            Self::Guest(GuestRole::Reader) => 19,
            Self::Guest(GuestRole::Planner) => 20,
            Self::Guest(GuestRole::Host) => 21,
            Self::Guest(GuestRole::Controller) => 22,
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
            (16, None) => Self::Simulation(SimulationLimit::Commands),
            (17, Some(face)) => Self::Refused(face),
            (18, None) => Self::HostStopped,
            (19, None) => Self::Guest(GuestRole::Reader),
            (20, None) => Self::Guest(GuestRole::Planner),
            (21, None) => Self::Guest(GuestRole::Host),
            (22, None) => Self::Guest(GuestRole::Controller),
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
