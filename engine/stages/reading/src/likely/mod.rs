//! The most probable cube, under light that may have changed since the calibration.
//!
//! Samples are taken as logarithms of light on the sensor, where a change of the light is
//! a sum. What each colour looks like at each place in each camera is known from the
//! calibration ([`crate::looks`]); how the light has changed is not ([`light`]), nor
//! whether a shadow or a reflection lies on a facelet ([`states`]), and is found together with
//! the cube ([`fit`]), from several starts: of all explanations the most probable counts, and
//! each alternative is weighed in the light that suits it best ([`alternatives`]).

mod alternatives;
mod beforehand;
mod belief;
mod equations;
mod explained;
mod explanations;
mod fit;
mod hypothesis;
mod known;
mod light;
mod matches;
mod prior;
mod refusal;
mod scan;
mod search;
mod states;
mod witnesses;

pub(crate) use self::witnesses::{read_blind, read_likely};
