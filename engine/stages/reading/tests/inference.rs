//! What hidden facelets follow from, and when they do not.

use dryturn_cube::{CubeState, Face, Facelet, random_state};
use dryturn_reading::{Completion, complete};
use dryturn_units::noise::Seed;

/// The colours of a state with some places hidden.
fn seen(state: &CubeState, hidden: &[&str]) -> [Option<Face>; Facelet::COUNT] {
    let mut seen = state.colours().map(Some);
    for name in hidden {
        seen[Facelet::from_name(name).unwrap().index()] = None;
    }
    seen
}

fn state(trial: u64) -> CubeState {
    random_state(&mut Seed::new(6).stream("inference-test", trial, 0))
}

/// One facelet of each of six corners hidden, as the shafts hide them.
const SIX: [&str; 6] = ["ULB", "RBD", "FDL", "DFR", "LUF", "BRU"];

#[test]
fn one_hidden_facelet_a_corner_always_follows() {
    for trial in 0..200 {
        let state = state(trial);
        assert_eq!(complete(&seen(&state, &SIX)), Completion::Only(state));
    }
}

/// A whole edge hidden: only one piece is left for it, and the laws of flip and
/// parity leave one way to put it in.
#[test]
fn a_whole_hidden_edge_follows_from_the_laws() {
    for trial in 0..50 {
        let state = state(trial);
        assert_eq!(complete(&seen(&state, &["UF", "FU"])), Completion::Only(state));
    }
}

/// Two whole edges hidden: each can be flipped together with the other.
#[test]
fn two_hidden_edges_leave_a_choice_and_it_is_named() {
    let result = complete(&seen(&state(1), &["UF", "FU", "DB", "BD"]));
    let names = |places: &[Facelet]| places.iter().map(|f| f.name()).collect::<Vec<_>>();
    match result {
        Completion::Several(open) => assert_eq!(names(&open), ["UF", "FU", "DB", "BD"]),
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_wrong_colour_beside_a_hidden_one_is_noticed() {
    // Opposite colours are never on one corner.
    let mut colours = seen(&CubeState::SOLVED, &["URF"]);
    let at = |name: &str| Facelet::from_name(name).unwrap().index();
    (colours[at("RFU")], colours[at("UB")]) = (Some(Face::U), Some(Face::R));
    (colours[at("FUR")], colours[at("DF")]) = (Some(Face::D), Some(Face::F));
    match complete(&colours) {
        Completion::None(law) => assert!(law.starts_with("piece missing: URF"), "{law}"),
        other => panic!("{other:?}"),
    }
}

/// With everything dark but the centres no time is lost on counting.
#[test]
fn too_much_hidden_is_said() {
    let centres = Facelet::all().filter(|f| f.kind() == dryturn_cube::FaceletKind::Centre);
    let mut colours = [None; Facelet::COUNT];
    centres.for_each(|f| colours[f.index()] = Some(f.face()));
    assert_eq!(complete(&colours), Completion::TooMany);
}
