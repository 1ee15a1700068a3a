//! Random states from a named stream of noise.

use dryturn_units::noise::Noise;
use rand::RngExt;
use rand::seq::SliceRandom;

use crate::CubeState;
use crate::legality::is_odd;

/// A state drawn uniformly from all 43,252,003,274,489,856,000.
#[must_use]
pub fn random_state(noise: &mut Noise) -> CubeState {
    let mut state = CubeState::SOLVED;
    state.corner_piece.shuffle(noise);
    state.edge_piece.shuffle(noise);
    if is_odd(&state.corner_piece) != is_odd(&state.edge_piece) {
        // Swapping two pieces pairs the states of wrong parity with those of
        // right parity, one to one: the draw stays uniform.
        state.edge_piece.swap(0, 1);
    }
    let mut sum = 0;
    for twist in &mut state.corner_twist[1..] {
        *twist = noise.random_range(0..3);
        sum += *twist;
    }
    state.corner_twist[0] = (3 - sum % 3) % 3;
    let mut flips = 0;
    for flip in &mut state.edge_flip[1..] {
        *flip = noise.random_range(0..2);
        flips ^= *flip;
    }
    state.edge_flip[0] = flips;
    state
}
