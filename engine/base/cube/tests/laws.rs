//! Laws of the cube, by property and against published figures.

use dryturn_cube::{
    ALL_TURNS, CubeState, Face, Facelet, StateError, Turn, net, notation, random_state,
};
use dryturn_units::noise::Seed;
use proptest::prelude::*;

fn any_turns() -> impl Strategy<Value = Vec<Turn>> {
    prop::collection::vec((0..18usize).prop_map(|i| ALL_TURNS[i]), 0..60)
}

proptest! {
    #[test]
    fn turns_and_their_inverses_cancel(turns in any_turns()) {
        let back: Vec<Turn> = turns.iter().rev().map(|t| t.inverse()).collect();
        prop_assert_eq!(CubeState::SOLVED.turned_by(&turns).turned_by(&back), CubeState::SOLVED);
    }

    #[test]
    fn a_state_and_its_inverse_cancel(turns in any_turns()) {
        let state = CubeState::SOLVED.turned_by(&turns);
        prop_assert_eq!(state.then(&state.inverse()), CubeState::SOLVED);
        prop_assert_eq!(state.inverse().then(&state), CubeState::SOLVED);
    }

    #[test]
    fn notation_round_trips(turns in any_turns()) {
        prop_assert_eq!(notation::parse(&notation::format(&turns)).unwrap(), turns);
    }

    #[test]
    fn colours_and_files_round_trip(seed in any::<u64>()) {
        let state = random_state(&mut Seed::new(seed).stream("test", 0, 0));
        prop_assert_eq!(CubeState::from_colours(&state.colours()).unwrap(), state);
        let text = net::write_faces(&state.colours());
        prop_assert_eq!(net::parse_faces(&text).unwrap(), state.colours());
    }

    /// Pieces and facelets are two views of one turn; they must agree.
    #[test]
    fn pieces_move_as_facelets_do(turns in any_turns(), last in 0..18usize) {
        let before = CubeState::SOLVED.turned_by(&turns);
        let shown = before.stickers();
        let moved: [Facelet; 54] = ALL_TURNS[last].sources().map(|from| shown[from.index()]);
        prop_assert_eq!(before.turned(ALL_TURNS[last]).stickers(), moved);
    }

    #[test]
    fn no_text_makes_the_parsers_panic(text in ".{0,80}") {
        let _ = notation::parse(&text);
        let _ = net::parse_faces(&text);
    }
}

/// A clockwise turn of U carries F's top row to L (WCA Regulations, 12a1:
/// clockwise as seen when looking at the face).
#[test]
fn clockwise_is_clockwise() {
    let u = notation::parse("U").unwrap();
    let colours = CubeState::SOLVED.turned_by(&u).colours();
    assert_eq!(colours[Facelet::new(Face::L, 0, 1).index()], Face::F);
    let r = notation::parse("R").unwrap();
    let colours = CubeState::SOLVED.turned_by(&r).colours();
    assert_eq!(colours[Facelet::new(Face::U, 1, 2).index()], Face::F);
}

#[test]
fn net_is_readable() {
    let state = CubeState::SOLVED.turned_by(&notation::parse("R U2").unwrap());
    let drawn = net::draw(|f| state.colours()[f.index()].letter());
    let wanted = "    FUU\n    FUU\n    FUU\nRRR UBB LLL FFD\nLLL FFD RRR UBB\nLLL FFD RRR UBB\n    DDB\n    DDB\n    DDB";
    assert_eq!(drawn, wanted, "\n{drawn}");
}

/// Breaks each law in turn and expects that law to be named.
#[test]
fn the_broken_law_is_named() {
    let solved = CubeState::SOLVED.colours();
    let with = |changes: &[(&str, Face)]| {
        let mut colours = solved;
        for &(name, colour) in changes {
            colours[Facelet::from_name(name).unwrap().index()] = colour;
        }
        CubeState::from_colours(&colours).unwrap_err()
    };
    use Face::{F, L, R, U};
    let message = with(&[("URF", R)]).to_string();
    assert_eq!(
        message,
        "colour count: U occurs 8 times, R occurs 10 times; each colour must occur 9 times"
    );
    assert!(matches!(with(&[("U", R), ("R", U)]), StateError::Centre { face: U, found: R }));
    assert!(matches!(
        with(&[("URF", R), ("RFU", U)]),
        StateError::NoSuchPiece { kind: "corner", .. }
    ));
    assert!(matches!(
        with(&[("FU", L), ("LU", F), ("UF", F), ("FD", U)]),
        StateError::NoSuchPiece { kind: "edge", .. }
    ));
    assert!(matches!(with(&[("URF", F), ("RFU", U), ("FUR", R)]), StateError::CornerTwist { .. }));
    assert!(matches!(with(&[("UF", F), ("FU", U)]), StateError::EdgeFlip));
    assert!(matches!(with(&[("FU", R), ("RU", F)]), StateError::Parity { corners_odd: false }));
}

/// A piece that occurs twice while each colour still occurs nine times.
#[test]
fn a_doubled_piece_is_named() {
    use Face::{B, F, L, R};
    let solved = CubeState::SOLVED.colours();
    let at = |name: &str| Facelet::from_name(name).unwrap().index();
    let mut colours = solved;
    (colours[at("FU")], colours[at("BD")]) = (B, F); // UB twice, DF twice
    let error = CubeState::from_colours(&colours).unwrap_err();
    assert!(matches!(error, StateError::Doubled { kind: "edge", .. }), "{error}");
    let mut colours = solved;
    (colours[at("RU")], colours[at("LD")]) = (L, R);
    let error = CubeState::from_colours(&colours).unwrap_err();
    assert!(error.to_string().starts_with("piece doubled: edge "), "{error}");
}

/// The order of the group that the six face turns generate on the facelets, by
/// the Schreier–Sims method (C. C. Sims 1970), against the figure in SIAM
/// Review 56(4), 2014.
#[test]
fn group_order_matches_siam_review() {
    let generators: Vec<Permutation> = Face::ALL
        .into_iter()
        .map(|face| {
            let turn = Turn { face, amount: dryturn_cube::Amount::Clockwise };
            turn.sources().map(|f| f.index() as u8)
        })
        .collect();
    assert_eq!(group_order(&generators), 43_252_003_274_489_856_000);
}

type Permutation = [u8; 54];

fn compose(a: &Permutation, b: &Permutation) -> Permutation {
    core::array::from_fn(|i| b[usize::from(a[i])])
}

fn invert(a: &Permutation) -> Permutation {
    let mut inverse = [0; 54];
    for (i, &x) in a.iter().enumerate() {
        inverse[usize::from(x)] = i as u8;
    }
    inverse
}

/// A stabiliser chain filled by sifting products of strong generators.
fn group_order(generators: &[Permutation]) -> u128 {
    let identity: Permutation = core::array::from_fn(|i| i as u8);
    // transversal[level][point]: an element that fixes 0..level and maps level to point.
    let mut transversal: Vec<Vec<Option<Permutation>>> = vec![vec![None; 54]; 54];
    for (level, row) in transversal.iter_mut().enumerate() {
        row[level] = Some(identity);
    }
    let mut queue: Vec<Permutation> = generators.to_vec();
    while let Some(mut element) = queue.pop() {
        for level in 0..54 {
            let image = usize::from(element[level]);
            match transversal[level][image] {
                Some(known) => element = compose(&element, &invert(&known)),
                None => {
                    transversal[level][image] = Some(element);
                    let others = |rows: &[Vec<Option<Permutation>>]| -> Vec<Permutation> {
                        rows.iter().flatten().flatten().copied().collect()
                    };
                    for other in others(&transversal) {
                        queue.push(compose(&element, &other));
                        queue.push(compose(&other, &element));
                    }
                    break;
                }
            }
        }
    }
    transversal.iter().map(|row| row.iter().flatten().count() as u128).product()
}

/// The same order from the piece model: arrangements of the pieces that
/// `CubeState` can hold, divided by the three laws that it checks.
#[test]
fn group_order_from_the_piece_model() {
    let corners = CubeState::SOLVED.corner_piece().len();
    let edges = CubeState::SOLVED.edge_piece().len();
    let factorial = |n: usize| (1..=n as u128).product::<u128>();
    let arrangements =
        factorial(corners) * 3u128.pow(corners as u32) * factorial(edges) * 2u128.pow(edges as u32);
    assert_eq!(arrangements / (3 * 2 * 2), 43_252_003_274_489_856_000);
}
