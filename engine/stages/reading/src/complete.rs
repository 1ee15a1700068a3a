//! What the shafts hide: the only legal cube that fits what was seen.

use dryturn_cube::{
    CORNERS, Colouring, CubeState, EDGES, Face, Facelet, StateError, corner_facelets, edge_facelets,
};

/// Most completions of corners, or of edges, that are compared.
const MAX_COMPLETIONS: usize = 64;
/// Most steps of the search; reached only when very much is hidden.
const MAX_STEPS: usize = 200_000;

/// What the seen colours leave open.
#[derive(Clone, Debug, PartialEq)]
pub enum Completion {
    /// Exactly one legal cube fits.
    Only(CubeState),
    /// No legal cube fits, and which law is broken.
    None(String),
    /// Several fit; the places where they differ.
    Several(Vec<Facelet>),
    /// So much is hidden that the possibilities are too many to compare.
    TooMany,
}

/// One way to fill all slots of a kind: piece and twist (or flip) by slot.
type Filling = Vec<(usize, usize)>;

/// Completes a partial colouring; `None` marks a hidden place. Centres must be
/// given.
#[must_use]
pub fn complete(seen: &[Option<Face>; Facelet::COUNT]) -> Completion {
    let corners = fillings(CORNERS, 3, seen, |slot| corner_facelets(slot).to_vec());
    let edges = fillings(EDGES, 2, seen, |slot| edge_facelets(slot).to_vec());
    let none = |fillings: &Option<Vec<Filling>>| fillings.as_ref().is_some_and(Vec::is_empty);
    if none(&corners) || none(&edges) {
        return Completion::None(blame(seen));
    }
    let (Some(corners), Some(edges)) = (corners, edges) else {
        return Completion::TooMany;
    };
    let mut fits: Vec<CubeState> = Vec::new();
    let mut laws: Vec<StateError> = Vec::new();
    for corner in &corners {
        for edge in &edges {
            match CubeState::from_colours(&paint(corner, edge)) {
                Ok(state) => fits.push(state),
                Err(law) => laws.push(law),
            }
        }
    }
    match fits[..] {
        [only] => Completion::Only(only),
        [first, ..] => {
            let first = first.colours();
            let others: Vec<Colouring> = fits[1..].iter().map(CubeState::colours).collect();
            let differ = |f: &Facelet| others.iter().any(|c| c[f.index()] != first[f.index()]);
            Completion::Several(Facelet::all().filter(differ).collect())
        }
        [] => Completion::None(match &laws[..] {
            [law, rest @ ..] if rest.iter().all(|other| other == law) => law.to_string(),
            _ => "no legal cube shows these colours, whatever is hidden".to_owned(),
        }),
    }
}

/// All ways to put each piece in one slot so that its colours fit. `None` when
/// there are too many.
fn fillings(
    slots: usize,
    turns: usize,
    seen: &[Option<Face>; Facelet::COUNT],
    facelets: impl Fn(usize) -> Vec<Facelet>,
) -> Option<Vec<Filling>> {
    let candidates: Vec<Filling> =
        (0..slots).map(|slot| candidates(slots, turns, seen, &facelets, slot)).collect();
    // Slots with few candidates first.
    let mut order: Vec<usize> = (0..slots).collect();
    order.sort_by_key(|&slot| candidates[slot].len());
    let mut search = Search { candidates, order, found: Vec::new(), steps: 0 };
    search.fill(0, 0, &mut vec![(0, 0); slots]).then_some(search.found)
}

/// The pieces, with their turns, whose colours fit what is seen at a slot.
fn candidates(
    slots: usize,
    turns: usize,
    seen: &[Option<Face>; Facelet::COUNT],
    facelets: &impl Fn(usize) -> Vec<Facelet>,
    slot: usize,
) -> Filling {
    let places = facelets(slot);
    let all = (0..slots).flat_map(|piece| (0..turns).map(move |turn| (piece, turn)));
    all.filter(|&(piece, turn)| {
        let own = facelets(piece);
        (0..turns).all(|k| {
            let colour = seen[places[(k + turn) % turns].index()];
            colour.is_none_or(|colour| colour == own[k].face())
        })
    })
    .collect()
}

struct Search {
    candidates: Vec<Filling>,
    order: Vec<usize>,
    found: Vec<Filling>,
    steps: usize,
}

impl Search {
    /// False when the limits are reached.
    fn fill(&mut self, depth: usize, used: u32, filling: &mut Filling) -> bool {
        self.steps += 1;
        let Some(&slot) = self.order.get(depth) else {
            self.found.push(filling.clone());
            return self.found.len() <= MAX_COMPLETIONS;
        };
        if self.steps > MAX_STEPS {
            return false;
        }
        for i in 0..self.candidates[slot].len() {
            let (piece, turn) = self.candidates[slot][i];
            if used & 1 << piece == 0 {
                filling[slot] = (piece, turn);
                if !self.fill(depth + 1, used | 1 << piece, filling) {
                    return false;
                }
            }
        }
        true
    }
}

/// The colours of corners and edges in their slots: piece and twist, or flip, by slot.
pub(crate) fn paint(corners: &[(usize, usize)], edges: &[(usize, usize)]) -> Colouring {
    let mut colours = CubeState::SOLVED.colours();
    for (slot, &(piece, twist)) in corners.iter().enumerate() {
        let (places, own) = (corner_facelets(slot), corner_facelets(piece));
        (0..3).for_each(|k| colours[places[(k + twist) % 3].index()] = own[k].face());
    }
    for (slot, &(piece, flip)) in edges.iter().enumerate() {
        let (places, own) = (edge_facelets(slot), edge_facelets(piece));
        (0..2).for_each(|k| colours[places[(k + flip) % 2].index()] = own[k].face());
    }
    colours
}

/// The law that the seen colours break when no set of pieces fits them.
fn blame(seen: &[Option<Face>; Facelet::COUNT]) -> String {
    let counts = Face::ALL.map(|face| seen.iter().filter(|&&c| c == Some(face)).count());
    if counts.iter().any(|&count| count > 9) {
        return StateError::ColourCount { counts }.to_string();
    }
    let corner = blame_kind("corner", CORNERS, 3, seen, |slot| corner_facelets(slot).to_vec());
    corner
        .or_else(|| blame_kind("edge", EDGES, 2, seen, |slot| edge_facelets(slot).to_vec()))
        .unwrap_or_else(|| "no arrangement of the pieces shows these colours".to_owned())
}

fn blame_kind(
    kind: &'static str,
    slots: usize,
    turns: usize,
    seen: &[Option<Face>; Facelet::COUNT],
    facelets: impl Fn(usize) -> Vec<Facelet>,
) -> Option<String> {
    let mut only_at: Vec<Option<Facelet>> = vec![None; slots];
    for slot in 0..slots {
        let places = facelets(slot);
        let fits = candidates(slots, turns, seen, &facelets, slot);
        match fits[..] {
            [] => {
                let colours = places.iter().filter_map(|f| seen[f.index()]).collect();
                return Some(
                    StateError::NoSuchPiece { kind, place: places[0], colours }.to_string(),
                );
            }
            [(piece, _)] => {
                if let Some(first) = only_at[piece].replace(places[0]) {
                    let places = [first, places[0]];
                    let piece = facelets(piece)[0];
                    return Some(StateError::Doubled { kind, piece, places }.to_string());
                }
            }
            _ => {}
        }
    }
    None
}
