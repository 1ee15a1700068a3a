//! The log of a whole run: six axes, read strictly, and held against the plan.

use core::fmt;

use dryturn_cube::Face;
use dryturn_handoff::{Plan, RunLog};

use crate::columns::{Column, LATEST_S, LONGEST_FINE_S, LogError, Numbers};
use crate::motor::log::{JUMP_DEG, plausible, slopes};

/// Farthest angle, degrees, and current, A.
const MOST_DEG: f64 = 1e6;
const MOST_A: f64 = 1e6;
/// A face has made a quarter turn when it is so far from its last stop, degrees.
const MADE_DEG: f64 = 60.0;

/// Reads the log of a run of `plan`: CSV with the columns `time_s`, `angle_U_deg` to
/// `angle_B_deg` and, where they were logged, `current_U_a` to `current_B_a`, in any order.
/// Angles are what the motors' encoders read, clockwise positive, and may start anywhere. The faces must turn as the plan says, as far as the log goes.
///
/// # Errors
/// The first fault, with its line and column: also where another face turns than the plan's,
/// so that columns are swapped or the plan is another one.
pub fn run_log(csv: &str, plan: &Plan) -> Result<RunLog, LogError> {
    let known: Vec<Column> = RunLog::columns()
        .into_iter()
        .enumerate()
        .map(|(k, name)| match k {
            0 => Column::new(name, true, LATEST_S),
            1..=6 => Column::new(name, true, MOST_DEG),
            _ => Column::new(name, false, MOST_A),
        })
        .collect();
    let Numbers { lines, columns } = Numbers::read(csv, &known, LONGEST_FINE_S)?;
    let rows = |from: usize| -> Option<Vec<[f64; 6]>> {
        let six: Vec<&Vec<f64>> =
            (from..from + 6).map(|k| columns[k].as_ref()).collect::<Option<_>>()?;
        let row = |k: usize| core::array::from_fn(|face| six[face][k]);
        Some((0..lines.len()).map(row).collect())
    };
    let currents = columns[7..].iter().filter(|column| column.is_some()).count();
    if currents != 0 && currents != 6 {
        let missing = columns[7..].iter().position(Option::is_none).unwrap_or(0);
        return Err(LogError::odd(
            1,
            &known[7 + missing].name,
            "missing: must be there for all six faces, or for none",
        ));
    }
    let log = RunLog {
        time_s: columns[0].clone().unwrap_or_default(),
        angles_deg: rows(1).unwrap_or_default(),
        currents_a: rows(7),
    };
    for face in Face::ALL {
        let angle_deg = columns[1 + face.index()].as_deref().unwrap_or_default();
        let slopes = slopes(&log.time_s, angle_deg);
        plausible(angle_deg, &slopes, &lines, &known[1 + face.index()].name, JUMP_DEG)?;
    }
    follows(&log, &lines, plan)?;
    Ok(log)
}

/// A face has made a quarter turn.
struct Made {
    row: usize,
    face: Face,
    /// 1 clockwise, −1 anticlockwise.
    quarters: i32,
}

impl fmt::Display for Made {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let way = if self.quarters > 0 { "clockwise" } else { "anticlockwise" };
        write!(f, "{} makes a quarter turn {way} here", self.face)
    }
}

/// Quarter turns in the order in which they are made.
fn made(log: &RunLog) -> Vec<Made> {
    let Some(first) = log.angles_deg.first() else { return Vec::new() };
    let mut stops = [0_i32; 6];
    let mut all = Vec::new();
    for (row, angles) in log.angles_deg.iter().enumerate() {
        for face in Face::ALL {
            let k = face.index();
            let off = angles[k] - first[k] - 90.0 * f64::from(stops[k]);
            if off.abs() >= MADE_DEG {
                let quarters = if off > 0.0 { 1 } else { -1 };
                stops[k] += quarters;
                all.push(Made { row, face, quarters });
            }
        }
    }
    all
}

fn follows(log: &RunLog, lines: &[usize], plan: &Plan) -> Result<(), LogError> {
    let all = made(log);
    if all.is_empty() {
        let line = lines[lines.len() - 1];
        let what = "no axis turns by 60° or more in the whole log: angles must be in degrees";
        return Err(LogError::odd(line, "angle_U_deg", what));
    }
    let mut beats = plan.beats.iter().enumerate();
    let mut left: Vec<(Face, i32)> = Vec::new();
    let mut now = None;
    for quarter in &all {
        if left.is_empty() {
            now = beats.next();
            let turns = now.iter().flat_map(|(_, beat)| &beat.turns);
            left = turns.map(|turn| (turn.face, (turn.amount.angle_deg() / 90.0) as i32)).collect();
        }
        let place = left.iter().position(|(face, quarters)| {
            *face == quarter.face && quarters.signum() == quarter.quarters
        });
        let Some(place) = place else {
            let wanted = match now {
                Some((number, beat)) => {
                    let turns: Vec<String> = beat.turns.iter().map(ToString::to_string).collect();
                    format!("beat {} of the plan must be {}", number + 1, turns.join(" with "))
                }
                None => "the plan must have ended".to_owned(),
            };
            let what = format!("{quarter}, where {wanted}: swapped columns, or another plan");
            let column = format!("angle_{}_deg", quarter.face);
            return Err(LogError::odd(lines[quarter.row], column, what));
        };
        left[place].1 -= quarter.quarters;
        left.retain(|(_, quarters)| *quarters != 0);
    }
    Ok(())
}
