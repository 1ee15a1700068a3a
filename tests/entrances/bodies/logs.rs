//! Logs of real axes.

use dryturn_cube::notation;
use dryturn_handoff::{AxisLog, Plan};
use dryturn_metrology::motor;
use dryturn_studies::{identified_words, measured_block, with_measured};

use super::common::{DRAWN, rarely, said};

/// What a run's log is held against where its first line names no plan.
const TURNS: &str = "R U'";
/// Longest median step of a log whose axis is measured here, s: slower ones are fitted by
/// simulation, which takes minutes.
const FINE_S: f64 = 0.001_000_001;

fn rises(time_s: &[f64]) -> bool {
    time_s.windows(2).all(|pair| pair[0] < pair[1])
}

fn is_fine(log: &AxisLog) -> bool {
    let mut steps: Vec<f64> = log.time_s.windows(2).map(|pair| pair[1] - pair[0]).collect();
    steps.sort_by(f64::total_cmp);
    steps[steps.len() / 2] <= FINE_S
}

/// A log of one axis; what some of them tell, as `identify` does.
pub fn axis_log(bytes: &[u8]) -> bool {
    let Ok(text) = std::str::from_utf8(bytes) else { return false };
    let file = DRAWN.file();
    let log = match motor::axis_log(text, &file.drive) {
        Ok(log) => log,
        Err(error) => {
            said(&error);
            return false;
        }
    };
    let columns = [&log.speed_rad_s, &log.current_a].into_iter().flatten();
    for column in columns.chain([&log.time_s, &log.angle_deg]) {
        assert!(column.len() == log.len() && column.iter().all(|value| value.is_finite()));
    }
    assert!(rises(&log.time_s));
    if is_fine(&log) && rarely(bytes, 16) {
        match motor::identify(std::slice::from_ref(&log), file, None) {
            Ok(found) => {
                identified_words(&found).iter().for_each(|line| said(line));
                said(&measured_block(&found, &found.warnings));
                if let Err(error) = with_measured(&DRAWN, &found) {
                    said(&error);
                }
            }
            Err(error) => said(&error),
        }
    }
    true
}

/// A log of a run, held against the plan that its first line names as a remark, `# R U'`. What
/// explains it takes seconds to find, and is not looked for here.
pub fn run_log(bytes: &[u8]) -> bool {
    let Ok(text) = std::str::from_utf8(bytes) else { return false };
    let named = text.lines().next().and_then(|line| line.strip_prefix("# "));
    let Ok(turns) = notation::parse(named.unwrap_or(TURNS)) else { return false };
    let plan = Plan::of_turns(&turns);
    match motor::run_log(text, &plan) {
        Ok(log) => {
            assert!(rises(&log.time_s) && log.angles_deg.len() == log.time_s.len());
            assert!(log.currents_a.is_none_or(|currents| currents.len() == log.time_s.len()));
            assert!(log.angles_deg.iter().flatten().all(|angle| angle.is_finite()));
            true
        }
        Err(error) => {
            said(&error);
            false
        }
    }
}
