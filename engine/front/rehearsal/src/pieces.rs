//! Pieces of a long work that are kept when they are done, so that the work goes on where it
//! was broken off, with the same results to the bit.
//!
//! A piece is a list of results; pieces are numbered in the order in which the work comes to
//! them, which is the same every time.

use std::sync::atomic::{AtomicUsize, Ordering};

use dryturn_cube::Face;
use dryturn_handoff::{Cause, Jam, JamVerdict, Stop};

use crate::failures::FailureKind;
use crate::turning::Execution;

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
