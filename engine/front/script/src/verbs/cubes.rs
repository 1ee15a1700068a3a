//! Cubes: solved, drawn, turned.

use dryturn_cube::{CubeState, net, notation};
use rhai::NativeCallContext;
use rhai::plugin::export_module;

use super::session;
use crate::session::Fallible;
use crate::values::arguments::{ok, trial_number};
use crate::values::handles::CubeValue;

#[export_module]
pub(crate) mod verbs {
    use super::*;

    /// The solved cube.
    ///
    /// Gives the cube.
    ///
    /// ```rhai
    /// let all_right = cube == solved();
    /// ```
    pub(crate) fn solved() -> CubeValue {
        CubeValue(CubeState::SOLVED)
    }

    /// The random state of a trial, uniform over all states; it follows from the seed.
    ///
    /// * `trial` - whole number from 0
    ///
    /// Gives the cube.
    ///
    /// ```rhai
    /// let another = random_cube(7);
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn random_cube(context: NativeCallContext, trial: i64) -> Fallible<CubeValue> {
        Ok(CubeValue(session(&context)?.rehearser.random_cube(trial_number(trial)?)))
    }

    /// The solved cube after turns.
    ///
    /// * `turns` - text, WCA notation
    ///
    /// Gives the cube.
    ///
    /// ```rhai
    /// let scrambled = cube_after("R U2 F'");
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn cube_after(turns: &str) -> Fallible<CubeValue> {
        Ok(CubeValue(CubeState::SOLVED.turned_by(&ok(notation::parse(turns))?)))
    }

    /// The cube that shows these faces; refuses what is no legal cube.
    ///
    /// * `faces` - text, six named faces of three rows: `U=UUU/UUU/UUU R=…`
    ///
    /// Gives the cube.
    ///
    /// ```rhai
    /// let same = cube_of(cube.faces);
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn cube_of(faces: &str) -> Fallible<CubeValue> {
        let colours = ok(net::parse_faces(faces))?;
        Ok(CubeValue(ok(CubeState::from_colours(&colours))?))
    }

    /// The cube after more turns.
    ///
    /// * `cube` - the cube as it is; it stays as it is
    /// * `turns` - text, WCA notation
    ///
    /// Gives another cube.
    ///
    /// ```rhai
    /// let further = cube.turned("L D2");
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn turned(cube: CubeValue, turns: &str) -> Fallible<CubeValue> {
        Ok(CubeValue(cube.0.turned_by(&ok(notation::parse(turns))?)))
    }

    /// Whether two cubes are the same.
    ///
    /// * `one` - a cube
    /// * `other` - another one
    ///
    /// Gives true or false.
    ///
    /// ```rhai
    /// let same = cube == random_cube(0);
    /// ```
    #[rhai_fn(name = "==")]
    pub(crate) fn same(one: CubeValue, other: CubeValue) -> bool {
        one.0 == other.0
    }

    /// Whether two cubes differ.
    ///
    /// * `one` - a cube
    /// * `other` - another one
    ///
    /// Gives true or false.
    ///
    /// ```rhai
    /// let mixed = cube != solved();
    /// ```
    #[rhai_fn(name = "!=")]
    pub(crate) fn different(one: CubeValue, other: CubeValue) -> bool {
        one.0 != other.0
    }

    /// The unfolded net, nine lines of letters.
    #[rhai_fn(get = "net", pure)]
    pub(crate) fn cube_net(cube: &mut CubeValue) -> String {
        let colours = cube.0.colours();
        net::draw(|f| colours[f.index()].letter())
    }

    /// Six named faces of three rows, in one line.
    #[rhai_fn(get = "faces", pure)]
    pub(crate) fn cube_faces(cube: &mut CubeValue) -> String {
        net::write_faces(&cube.0.colours())
    }

    /// Whether it is solved. Cubes can be compared with `==` and `!=`.
    #[rhai_fn(get = "is_solved", pure)]
    pub(crate) fn is_solved(cube: &mut CubeValue) -> bool {
        cube.0 == CubeState::SOLVED
    }
}
