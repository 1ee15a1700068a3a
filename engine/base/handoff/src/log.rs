//! What axes report while they turn: one axis on the bench, or all six in a run.

use core::fmt::Write as _;

use dryturn_cube::Face;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::finite;

/// What one axis reported, sample by sample; lists of equal length. Where a simulated motion grew
/// beyond all numbers there is null as JSON, which is read as no number.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct AxisLog {
    /// Seconds, rising.
    pub time_s: Vec<f64>,
    /// The motor's angle by its encoder, degrees; clockwise positive.
    #[serde(with = "finite::no_number")]
    #[schemars(with = "Vec<Option<f64>>")]
    pub angle_deg: Vec<f64>,
    /// The motor's speed as its drive measures it, where it was logged.
    #[serde(default, with = "finite::no_number")]
    #[schemars(with = "Option<Vec<Option<f64>>>")]
    pub speed_rad_s: Option<Vec<f64>>,
    /// The motor's current, A, where it was logged: the direct-current equivalent, √3/2 of
    /// the peak phase current.
    #[serde(default, with = "finite::no_number")]
    #[schemars(with = "Option<Vec<Option<f64>>>")]
    pub current_a: Option<Vec<f64>>,
}

impl AxisLog {
    /// How many samples.
    #[must_use]
    pub fn len(&self) -> usize {
        self.time_s.len()
    }

    /// Whether there are none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.time_s.is_empty()
    }

    /// As CSV: `time_s,angle_deg` and, where they were logged, `speed_rad_s,current_a`.
    #[must_use]
    pub fn csv(&self) -> String {
        let mut csv = String::from("time_s,angle_deg");
        csv.push_str(self.speed_rad_s.as_ref().map_or("", |_| ",speed_rad_s"));
        csv.push_str(self.current_a.as_ref().map_or("", |_| ",current_a"));
        for k in 0..self.len() {
            // Writing to a String cannot fail.
            let _ = write!(csv, "\n{:.6},{:.4}", self.time_s[k], self.angle_deg[k]);
            for list in self.speed_rad_s.iter().chain(&self.current_a) {
                let _ = write!(csv, ",{:.4}", list[k]);
            }
        }
        csv.push('\n');
        csv
    }
}

/// What six axes reported in a run, sample by sample; lists of equal length, faces in the
/// order U R F D L B. Null as in [`AxisLog`].
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RunLog {
    /// Seconds, rising.
    pub time_s: Vec<f64>,
    /// What the motors' encoders read, degrees; clockwise positive.
    #[serde(with = "finite::no_number")]
    #[schemars(with = "Vec<[Option<f64>; 6]>")]
    pub angles_deg: Vec<[f64; 6]>,
    /// The motors' currents, A, where they were logged.
    #[serde(default, with = "finite::no_number")]
    #[schemars(with = "Option<Vec<[Option<f64>; 6]>>")]
    pub currents_a: Option<Vec<[f64; 6]>>,
}

impl RunLog {
    /// The columns of a run's log; those of the currents may be missing.
    #[must_use]
    pub fn columns() -> Vec<String> {
        let of = |what: &'static str, unit: &'static str| {
            Face::ALL.into_iter().map(move |face| format!("{what}_{face}_{unit}"))
        };
        ["time_s".to_owned()]
            .into_iter()
            .chain(of("angle", "deg"))
            .chain(of("current", "a"))
            .collect()
    }

    /// As CSV, columns as [`Self::columns`] names them.
    #[must_use]
    pub fn csv(&self) -> String {
        let columns = Self::columns();
        let logged = if self.currents_a.is_some() { &columns[..] } else { &columns[..7] };
        let mut csv = logged.join(",");
        for (k, time_s) in self.time_s.iter().enumerate() {
            // Writing to a String cannot fail.
            let _ = write!(csv, "\n{time_s:.6}");
            let currents = self.currents_a.iter().flat_map(|list| list[k]);
            for value in self.angles_deg[k].into_iter().chain(currents) {
                let _ = write!(csv, ",{value:.4}");
            }
        }
        csv.push('\n');
        csv
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn logs_are_tables() {
        let mut log = AxisLog {
            time_s: vec![0.0, 0.000125],
            angle_deg: vec![0.0, -0.5],
            speed_rad_s: None,
            current_a: Some(vec![1.0, 1.5]),
        };
        assert_eq!(
            log.csv(),
            "time_s,angle_deg,current_a\n0.000000,0.0000,1.0000\n0.000125,-0.5000,1.5000\n"
        );
        log.current_a = None;
        assert!(log.csv().starts_with("time_s,angle_deg\n"));
        assert!(log.len() == 2 && !log.is_empty());
        let run = RunLog { time_s: vec![0.0], angles_deg: vec![[1.0; 6]], currents_a: None };
        let csv = run.csv();
        assert!(csv.starts_with("time_s,angle_U_deg,angle_R_deg,angle_F_deg,"), "{csv}");
        assert!(csv.ends_with("angle_B_deg\n0.000000,1.0000,1.0000,1.0000,1.0000,1.0000,1.0000\n"));
    }
}
