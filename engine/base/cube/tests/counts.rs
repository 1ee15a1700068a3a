//! How many positions lie how far away, against the tables of the On-Line
//! Encyclopedia of Integer Sequences (oeis.org), and group figures against SymPy.

use dryturn_cube::{ALL_TURNS, Amount, CORNERS, CubeState, Face, Turn, notation};

/// Positions at exactly 0, 1, 2, … steps from solved. Neighbours of a layer lie in
/// it, before it or after it, so two layers are enough to know what is new.
fn layers(steps: &[Turn], depth: usize) -> Vec<usize> {
    let mut before: Vec<CubeState> = Vec::new();
    let mut layer = vec![CubeState::SOLVED];
    let mut counts = vec![1];
    for _ in 0..depth {
        let mut next: Vec<CubeState> =
            layer.iter().flat_map(|state| steps.iter().map(|&step| state.turned(step))).collect();
        next.sort_unstable();
        next.dedup();
        next.retain(|s| layer.binary_search(s).is_err() && before.binary_search(s).is_err());
        counts.push(next.len());
        before = core::mem::replace(&mut layer, next);
    }
    counts
}

fn quarter_turns() -> Vec<Turn> {
    ALL_TURNS.into_iter().filter(|turn| turn.amount != Amount::Half).collect()
}

/// OEIS A080601, half-turn metric, terms 0 to 6.
#[test]
fn positions_by_half_turn_metric() {
    assert_eq!(layers(&ALL_TURNS, 6), [1, 18, 243, 3240, 43_239, 574_908, 7_618_438]);
}

/// OEIS A080602, quarter-turn metric, terms 0 to 7.
#[test]
fn positions_by_quarter_turn_metric() {
    let counts = layers(&quarter_turns(), 7);
    assert_eq!(counts, [1, 12, 114, 1068, 10_011, 93_840, 878_880, 8_221_632]);
}

/// Corner positions alone, as a number: permutation and seven twists.
struct CornerTables {
    /// `[permutation · steps + step]`, `[twist · steps + step]`
    permutation: Vec<u16>,
    twist: Vec<u16>,
}

fn rank(permutation: &[u8; CORNERS]) -> usize {
    (0..CORNERS).fold(0, |n, i| {
        n * (CORNERS - i) + permutation[i + 1..].iter().filter(|&&p| p < permutation[i]).count()
    })
}

fn unrank(mut number: usize) -> [u8; CORNERS] {
    let mut digits = [0; CORNERS];
    for i in (0..CORNERS).rev() {
        digits[i] = number % (CORNERS - i);
        number /= CORNERS - i;
    }
    let mut free: Vec<u8> = (0..CORNERS as u8).collect();
    digits.map(|digit| free.remove(digit))
}

impl CornerTables {
    fn new(steps: &[Turn]) -> Self {
        let permutation = (0..40_320).flat_map(|n| {
            let before = unrank(n);
            steps.iter().map(move |step| {
                let from = step.as_state().corner_piece();
                rank(&from.map(|slot| before[usize::from(slot)])) as u16
            })
        });
        let twist = (0..2187usize).flat_map(|n| {
            let mut before = [0u8; CORNERS];
            let mut rest = n;
            for twist in &mut before[..CORNERS - 1] {
                *twist = (rest % 3) as u8;
                rest /= 3;
            }
            before[CORNERS - 1] = (21 - before.iter().sum::<u8>()) % 3;
            steps.iter().map(move |step| {
                let motion = step.as_state();
                (0..CORNERS - 1).rev().fold(0, |n, slot| {
                    let from = usize::from(motion.corner_piece()[slot]);
                    3 * n + u16::from((before[from] + motion.corner_twist()[slot]) % 3)
                })
            })
        });
        Self { permutation: permutation.collect(), twist: twist.collect() }
    }

    fn layers(&self, steps: &[usize], all: usize) -> Vec<usize> {
        let mut seen = vec![false; 40_320 * 2187];
        seen[0] = true;
        let mut layer = vec![0u32];
        let mut counts = Vec::new();
        while !layer.is_empty() {
            counts.push(layer.len());
            let mut next = Vec::new();
            for &at in &layer {
                let (permutation, twist) = (at as usize / 2187, at as usize % 2187);
                for &step in steps {
                    let after = usize::from(self.permutation[permutation * all + step]) * 2187
                        + usize::from(self.twist[twist * all + step]);
                    if !core::mem::replace(&mut seen[after], true) {
                        next.push(after as u32);
                    }
                }
            }
            layer = next;
        }
        counts
    }
}

/// OEIS A080630: positions of the eight corners in the quarter-turn metric, all 15
/// terms; they add up to 88,179,840. OEIS A079761 and A079762: the 2×2×2 cube, which
/// is the corners with one of them held still, in both metrics.
#[test]
fn corner_positions() {
    let quarters = quarter_turns();
    let tables = CornerTables::new(&quarters);
    let counts = tables.layers(&(0..12).collect::<Vec<_>>(), 12);
    assert_eq!(counts.iter().sum::<usize>(), 88_179_840);
    assert_eq!(
        counts,
        [
            1, 12, 114, 924, 6539, 39_528, 199_926, 806_136, 2_761_740, 8_656_152, 22_334_112,
            32_420_448, 18_780_864, 2_166_720, 6624
        ]
    );
    // Turning U, R and F only leaves the corner of D, L and B where it is.
    let three = |turn: &Turn| [Face::U, Face::R, Face::F].contains(&turn.face);
    let all: Vec<Turn> = ALL_TURNS.into_iter().filter(three).collect();
    let counts = CornerTables::new(&all).layers(&(0..9).collect::<Vec<_>>(), 9);
    assert_eq!(
        counts,
        [1, 9, 54, 321, 1847, 9992, 50_136, 227_536, 870_072, 1_887_748, 623_800, 2644]
    );
    let quarters: Vec<Turn> = quarters.into_iter().filter(three).collect();
    let counts = CornerTables::new(&quarters).layers(&(0..6).collect::<Vec<_>>(), 6);
    assert_eq!(
        counts,
        [
            1, 6, 27, 120, 534, 2256, 8969, 33_058, 114_149, 360_508, 930_588, 1_350_852, 782_536,
            90_280, 276
        ]
    );
}

/// Orders of elements, by SymPy's permutation groups on a facelet model of its own
/// (`cube_group.json` here).
#[test]
fn element_orders_match_sympy() {
    let text = include_str!("cube_group.json");
    let reference: serde_json::Value = serde_json::from_str(text).unwrap();
    let orders = reference["element_orders"].as_object().unwrap();
    for (word, order) in orders {
        let turns = notation::parse(word).unwrap();
        let mut state = CubeState::SOLVED.turned_by(&turns);
        let mut count = 1;
        while state != CubeState::SOLVED {
            state = state.turned_by(&turns);
            count += 1;
        }
        assert_eq!(order.as_u64(), Some(count), "{word}");
    }
    assert!(orders.len() >= 10);
    assert_eq!(reference["group_order"], "43252003274489856000");
}
