//! What holds of every cube that is read, whatever is seen of it.

use std::sync::LazyLock;

use dryturn_cube::{
    ALL_TURNS, CORNERS, Colouring, CubeState, EDGES, Face, Facelet, FaceletKind, corner_facelets,
    edge_facelets, random_state,
};
use dryturn_handoff::Frame;
use dryturn_reading::decoder::{Evidence, decode, law_cost, most_probable};
use dryturn_reading::{
    Calibration, Completion, KnownColour, MeanFrame, Patches, Sampled, complete, nine_each,
    read_samples,
};
use dryturn_scene::Scene;
use dryturn_scene::file::{Camera, Method};
use dryturn_units::colour::EncodedRgb8;
use dryturn_units::noise::Seed;
use proptest::prelude::*;

/// Six colours far apart, in the order U R F D L B.
const COLOURS: [[u8; 3]; 6] =
    [[235, 235, 230], [190, 30, 40], [40, 150, 70], [230, 215, 40], [235, 125, 30], [30, 60, 165]];

/// A rig whose cameras stand where they are drawn.
static SCENE: LazyLock<Scene> = LazyLock::new(|| {
    let text = include_str!("../../../../scenes/workbench.ron");
    let scene = Scene::parse(text, "workbench.ron").unwrap();
    let mut file = scene.file().clone();
    file.reader.find_mounts = false;
    scene.with_file(file).unwrap()
});
static PATCHES: LazyLock<Patches> = LazyLock::new(|| Patches::of(&SCENE));

fn state(seed: u64) -> CubeState {
    random_state(&mut Seed::new(seed).stream("reading-properties", 0, 0))
}

/// At each facelet its colour leads the best of the others by `lead` or more.
fn evidence(colours: &Colouring, lead: f64, spread: f64, seed: u64) -> Evidence {
    let mut noise = Seed::new(seed).stream("reading-properties", 1, 0);
    let mut evidence = Evidence::none();
    for (facelet, colour) in Facelet::all().zip(colours) {
        let mut own = core::array::from_fn(|_| noise.between(-spread, 0.0));
        own[colour.index()] = lead;
        evidence.set(facelet, own);
    }
    evidence
}

/// Colours that no turns lead to: a corner is twisted, an edge flipped, or two edges are swapped.
fn broken(colours: &Colouring, way: usize, slot: usize) -> Colouring {
    let mut broken = *colours;
    let mut put = |places: &[Facelet], from: &[Facelet]| {
        for (place, from) in places.iter().zip(from) {
            broken[place.index()] = colours[from.index()];
        }
    };
    let [one, other] = [slot, slot + 1].map(|slot| edge_facelets(slot % EDGES));
    let [a, b, c] = corner_facelets(slot % CORNERS);
    match way {
        0 => put(&[a, b, c], &[c, a, b]),
        1 => put(&one, &[one[1], one[0]]),
        _ => {
            put(&one, &other);
            put(&other, &one);
        }
    }
    broken
}

/// Pictures of a cube, one of each camera, `lighter` codes lighter than the colours are.
fn pictures(colours: &Colouring, lighter: i16) -> Vec<Frame> {
    let black = |camera: &Camera| {
        let (width, height) = (camera.width_px as usize, camera.height_px as usize);
        Frame { camera: camera.name.clone(), width, height, pixels: vec![0; 3 * width * height] }
    };
    let mut frames: Vec<Frame> = SCENE.file().cameras.iter().map(black).collect();
    for (facelet, colour) in Facelet::all().zip(colours) {
        let Some((camera, pixels)) = PATCHES.pixels_of(facelet) else { continue };
        let shown = COLOURS[colour.index()].map(|code| (i16::from(code) + lighter) as u8);
        for &pixel in pixels {
            let at = 3 * pixel as usize;
            frames[camera].pixels[at..at + 3].copy_from_slice(&shown);
        }
    }
    frames
}

fn to_read() -> Vec<Facelet> {
    Facelet::all().filter(|facelet| facelet.kind() != FaceletKind::Centre).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, failure_persistence: None, ..ProptestConfig::default() })]

    /// A cube that leads at every facelet is found, and no probability is beyond 0 and 1.
    #[test]
    fn a_cube_that_leads_is_found(
        seed in any::<u64>(), lead in 0.01..6.0f64, spread in 0.01..9.0f64,
    ) {
        let state = state(seed);
        let evidence = evidence(&state.colours(), lead, spread, seed);
        let decoded = decode(&evidence);
        prop_assert_eq!(decoded.best.state, state);
        prop_assert_eq!(most_probable(&evidence).state, state);
        prop_assert!(decoded.second.weight < decoded.best.weight);
        prop_assert!(decoded.best.weight <= decoded.log_total + 1e-9);
        prop_assert!((0.0..=1.0).contains(&decoded.probability()));
        for own in decoded.facelets {
            prop_assert!(own.iter().all(|share| (-1e-12..=1.0 + 1e-12).contains(share)));
        }
    }

    /// What is seen of a cube that has been turned is read as that cube turned, and as surely. A
    /// number added to all colours of a facelet changes neither.
    #[test]
    fn turning_the_cube_turns_what_is_read(
        seed in any::<u64>(),
        turn in prop::sample::select(ALL_TURNS.to_vec()),
        more in -9.0..9.0f64,
    ) {
        let evidence = evidence(&state(seed).colours(), -1.0, 4.0, seed);
        let mut turned = Evidence::none();
        for (place, from) in Facelet::all().zip(turn.sources()) {
            turned.set(place, evidence.at(*from).map(|own| own + more));
        }
        let (before, after) = (decode(&evidence), decode(&turned));
        prop_assert_eq!(after.best.state, before.best.state.turned(turn));
        prop_assert!((after.log_probability() - before.log_probability()).abs() < 1e-8);
        prop_assert!((after.log_total - before.log_total - 54.0 * more).abs() < 1e-8);
        for (place, from) in Facelet::all().zip(turn.sources()) {
            let pairs = after.facelets[place.index()].iter().zip(&before.facelets[from.index()]);
            prop_assert!(pairs.map(|(a, b)| (a - b).abs()).fold(0.0, f64::max) < 1e-8);
        }
    }

    /// Colours that no turns lead to make no cube, and the nearest cube has two others or more.
    #[test]
    fn what_cannot_be_is_refused(
        seed in any::<u64>(), way in 0usize..3, slot in 0..EDGES, lead in 1.0..20.0f64,
    ) {
        let colours = broken(&state(seed).colours(), way, slot);
        let completed = complete(&colours.map(Some));
        prop_assert!(matches!(completed, Completion::None(_)), "{completed:?}");
        let mut evidence = Evidence::none();
        for (facelet, colour) in Facelet::all().zip(colours) {
            evidence.set(facelet, Face::ALL.map(|face| if face == colour { 0.0 } else { -lead }));
        }
        let best = most_probable(&evidence);
        prop_assert!(best.state.colours() != colours);
        let cost = law_cost(&evidence, &best);
        prop_assert!(cost >= 2.0 * lead - 1e-9, "{cost} for {lead}");
    }

    /// What is hidden is never filled in wrongly, and where it is open nothing else is.
    #[test]
    fn what_is_hidden_follows_or_is_open(
        seed in any::<u64>(), hidden in prop::sample::subsequence(to_read(), 0..=10),
    ) {
        let state = state(seed);
        let mut seen = state.colours().map(Some);
        hidden.iter().for_each(|facelet| seen[facelet.index()] = None);
        match complete(&seen) {
            Completion::Only(found) => prop_assert_eq!(found, state),
            Completion::Several(open) => prop_assert!(open.iter().all(|f| hidden.contains(f))),
            Completion::None(law) => return Err(TestCaseError::fail(law)),
            Completion::TooMany => prop_assert!(hidden.len() > 3),
        }
    }

    /// Each colour is taken equally often, and no two readings would do better with each other's.
    #[test]
    fn colours_are_shared_out_at_least_cost(
        cost in (1usize..5).prop_flat_map(|each| {
            prop::collection::vec(prop::array::uniform6(0.0..100.0f64), 6 * each)
        }),
    ) {
        let taken = nine_each(&cost);
        for colour in 0..6 {
            prop_assert_eq!(taken.iter().filter(|own| **own == colour).count(), cost.len() / 6);
        }
        for (one, &a) in cost.iter().zip(&taken) {
            for (other, &b) in cost.iter().zip(&taken) {
                prop_assert!(one[a] + other[b] <= one[b] + other[a] + 1e-7);
            }
        }
    }

    /// A mean does not depend on the pictures' order, and lies among them.
    #[test]
    fn means_lie_among_their_pictures(
        (codes, shuffled) in prop::collection::vec(prop::collection::vec(any::<u8>(), 30), 1..7)
            .prop_flat_map(|codes| (Just(codes.clone()), Just(codes).prop_shuffle())),
        spare in 0u32..50,
    ) {
        let mean = |codes: &[Vec<u8>]| {
            let mut mean = MeanFrame::new(codes.len() as u32 + spare, 0..30);
            for pixels in codes {
                let pixels = pixels.clone();
                mean.add(&Frame { camera: "a".to_owned(), width: 10, height: 1, pixels });
            }
            mean.codes()
        };
        let found = mean(&codes);
        prop_assert_eq!(&found, &mean(&shuffled));
        for (k, code) in found.iter().enumerate() {
            let own = codes.iter().map(|picture| picture[k]);
            prop_assert!(own.clone().min() <= Some(*code) && Some(*code) <= own.max());
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 4, failure_persistence: None, ..ProptestConfig::default() })]

    /// A calibration is sound, and is stored and read as the same. With it painted cubes are
    /// read, in whatever order their sets of pictures come.
    #[test]
    fn painted_cubes_are_read(seed in any::<u64>(), lighter in -12i16..12, off in 0u8..9) {
        let mark = |k: usize| {
            let seen = COLOURS[k % 6].map(|code| code - off * (k / 6 % 3) as u8 / 2);
            let facelet = Facelet::from_index(k % Facelet::COUNT);
            KnownColour { facelet, colour: Face::from_index(k % 6), seen: EncodedRgb8(seen) }
        };
        let marked: Vec<KnownColour> = (0..90).map(mark).collect();
        let calibration = Calibration::learn_colours(&PATCHES, &marked).unwrap();
        let json = serde_json::to_string(&calibration).unwrap();
        let again: Calibration = serde_json::from_str(&json).unwrap();
        prop_assert_eq!(&again.checked().unwrap(), &calibration);
        let state = state(seed);
        let colours = state.colours();
        let sets = [pictures(&colours, lighter), pictures(&colours, 0)];
        let read = |frames: &[Frame]| {
            let sampled = Sampled::of(&PATCHES, frames).unwrap();
            read_samples(&PATCHES, &calibration, &sampled, Method::Nearest)
        };
        let forwards = read(&sets.concat());
        let backwards = read(&[&sets[1][..], &sets[0][..]].concat());
        prop_assert_eq!(&forwards, &backwards);
        let shown = Facelet::all().filter(|facelet| PATCHES.pixels_of(*facelet).is_some());
        prop_assert!(shown.clone().count() > 30);
        for facelet in shown {
            prop_assert_eq!(forwards.colour(facelet), Some(colours[facelet.index()]));
        }
        prop_assert!(forwards.state().is_none_or(|found| *found == state));
    }
}
