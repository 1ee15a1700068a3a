//! What a reader answers, and the reading that it makes.

use dryturn_cube::{CubeState, Facelet, net};
use dryturn_handoff::{Outcome, Reading, RefusalKind, Source};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::fault::FaultKind;
use crate::protocol::{Answer, Fields};
use crate::visible::visible;

/// Longest reason that is kept, characters.
const LONGEST: usize = 200;

/// A reader's answer: either a cube, or why there is none.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ReadResult {
    /// The cube: six named faces of three rows.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) cube: Option<String>,
    /// Why it cannot be read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) refused: Option<String>,
    /// How probable the cube is, 0 to 1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0, max = 1.0))]
    pub(crate) probability: Option<f64>,
    /// 54 rows, facelets in their order, of 6 log-likelihoods in the order U R F D L B; only
    /// differences count.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(equal = 54))]
    pub(crate) scores: Option<Vec<[f64; 6]>>,
    /// What reading cost on the rig's clock, in elementary steps.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) operations: Option<u64>,
}

impl Answer for ReadResult {
    fn of(result: Value) -> Result<Self, FaultKind> {
        let mut fields = Fields::of(result)?;
        let cube = fields.text("cube")?;
        let refused = fields.text("refused")?;
        let probability = fields.optional("probability", "a number from 0 to 1", |value| {
            value.as_f64().filter(|share| (0.0..=1.0).contains(share))
        })?;
        let scores = fields.optional(
            "scores",
            "54 rows, in facelet order, of 6 numbers in the order U R F D L B",
            rows,
        )?;
        let operations = fields.operations()?;
        fields.end()?;
        Ok(Self { cube, refused, probability, scores, operations })
    }
}

fn rows(value: &Value) -> Option<Vec<[f64; 6]>> {
    let row = |row: &Value| {
        let numbers: Option<Vec<f64>> = row.as_array()?.iter().map(Value::as_f64).collect();
        numbers?.try_into().ok()
    };
    let rows: Option<Vec<[f64; 6]>> = value.as_array()?.iter().map(row).collect();
    rows.filter(|rows| rows.len() == Facelet::COUNT)
}

impl ReadResult {
    /// The reading of a scene with so many cameras.
    pub(super) fn reading(&self, cameras: usize) -> Result<Reading, FaultKind> {
        let state = self.state()?;
        let outcome = match (state, &self.refused) {
            (Some(state), _) => Outcome::Read(state),
            (None, refused) => Outcome::Unreadable {
                refusal: RefusalKind::Told,
                because: because(refused.as_deref().unwrap_or_default()),
                weakest: Vec::new(),
            },
        };
        let mut reading = Reading {
            most_probable: state.filter(|_| self.probability.is_some()),
            probability: self.probability,
            steps: self.operations.unwrap_or(0),
            ..Reading::told(outcome, cameras)
        };
        for (facelet, row) in reading.facelets.iter_mut().zip(self.scores.iter().flatten()) {
            facelet.source = Source::Told { log_likelihoods: Some(*row) };
        }
        Ok(reading)
    }

    /// The cube; `None` where it refuses.
    fn state(&self) -> Result<Option<CubeState>, FaultKind> {
        const ONE: &str = "either cube or refused";
        let text = match (&self.cube, &self.refused) {
            (Some(text), None) => text,
            (None, Some(_)) => return Ok(None),
            (None, None) => return Err(FaultKind::bad_field("result", "without either", ONE)),
            (Some(_), Some(_)) => return Err(FaultKind::bad_field("result", "with both", ONE)),
        };
        let colours = net::parse_faces(text).map_err(|error| {
            FaultKind::bad_field("cube", text, format!("six named faces of three rows: {error}"))
        })?;
        let illegal =
            |error: dryturn_cube::StateError| FaultKind::IllegalCube { why: error.to_string() };
        CubeState::from_colours(&colours).map(Some).map_err(illegal)
    }
}

/// The guest's reason as the end of a sentence.
fn because(refused: &str) -> String {
    let reason = refused.trim().trim_end_matches('.');
    if reason.is_empty() {
        "the guest that reads gives no reason".to_owned()
    } else {
        format!("the guest that reads says: {}", visible(reason, LONGEST))
    }
}

#[cfg(test)]
mod tests {
    use dryturn_cube::Face;
    use dryturn_handoff::FaceletReading;
    use serde_json::json;

    use super::*;

    fn read(result: Value) -> Result<Reading, FaultKind> {
        ReadResult::of(result)?.reading(2)
    }

    #[test]
    fn answers_become_readings() {
        let solved = net::write_faces(&CubeState::SOLVED.colours());
        let scores = vec![[0.0, -1.0, -2.0, -3.0, -4.0, -5.0]; 54];
        let all = json!({"cube": solved, "probability": 0.5, "scores": scores, "operations": 7});
        let reading = read(all).unwrap();
        assert_eq!(reading.state(), Some(&CubeState::SOLVED));
        assert_eq!((reading.probability, reading.steps), (Some(0.5), 7));
        let told = Source::Told { log_likelihoods: Some(scores[53]) };
        assert_eq!(reading.facelets[53], FaceletReading { colour: Some(Face::B), source: told });
        let reading = read(json!({"refused": "too dark\u{7}."})).unwrap();
        assert_eq!(reading.refusal(), Some(RefusalKind::Told));
        let Outcome::Unreadable { because, .. } = reading.outcome else { panic!() };
        assert_eq!(because, r"the guest that reads says: too dark\u{7}");
    }

    #[test]
    fn values_are_held_to_what_they_may_be() {
        let solved = net::write_faces(&CubeState::SOLVED.colours());
        let flipped = solved.replacen("U=UUU/UUU/UUU R=RRR", "U=UUU/UUR/UUU R=RUR", 1);
        for (result, name) in [
            (json!({}), "bad_field"),
            (json!({"cube": solved, "refused": "no"}), "bad_field"),
            (json!({"cube": "UUU"}), "bad_field"),
            (json!({"cube": flipped}), "illegal_cube"),
            (json!({"cube": solved, "probability": 1.5}), "bad_field"),
            (json!({"cube": solved, "probability": "0.5"}), "bad_field"),
            (json!({"cube": solved, "scores": [[0, 0, 0, 0, 0, 0]]}), "bad_field"),
            (json!({"cube": solved, "scores": vec![[0.0; 5]; 54]}), "bad_field"),
            (json!({"cube": solved, "operations": 0.5}), "bad_field"),
            (json!({"cube": solved, "faces": 6}), "bad_field"),
            (json!(solved), "bad_field"),
        ] {
            assert_eq!(read(result.clone()).unwrap_err().name(), name, "{result}");
        }
    }
}
