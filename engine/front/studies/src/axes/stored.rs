//! An execution as pieces of a drill keep it.

use dryturn_handoff::Jam;

use super::Execution;
use crate::work::Stored;

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
    use dryturn_cube::Face;
    use dryturn_handoff::{
        Blame, Cause, GuestRole, JamVerdict, LateReason, Meeting, SimulationLimit, Stop,
    };

    use super::*;
    use crate::failures::FailureKind;

    fn jam() -> Jam {
        Jam {
            time_s: 0.1,
            beat: 3,
            met: Meeting {
                late_face: Face::U,
                late_angle_deg: -2.5,
                allowed_deg: 1.3,
                blocked_face: Face::B,
                blocked_angle_deg: f64::NAN,
            },
            strained_face: Face::L,
            peak_torque_n_m: f64::INFINITY,
            safety_factor_ratio: 0.9,
            verdict: JamVerdict::ShaftBroken,
            noticed_s: Some(0.11),
            blame: Blame { reason: LateReason::WoundUp, off_deg: 3.0 },
        }
    }

    /// What is stored is read back the same to the bit, and nothing else is taken for it.
    #[test]
    fn stored_and_read_back() {
        let mut causes = vec![Cause::Watchdog, Cause::NotSettled(Face::D), Cause::ResistorHot];
        causes.extend([Cause::Refused(Face::L), Cause::HostStopped]);
        causes.push(Cause::Simulation(SimulationLimit::Commands));
        causes.extend(GuestRole::ALL.map(Cause::Guest));
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
}
