//! What six shafts share is written once: `every_shaft` has the fields that each entry of
//! `shafts` starts from, and `shafts` lists only those that differ.

use dryturn_cube::Face;

use super::shape::{Shape, ShapeField};
use super::tree::{Entry, Kind, Node};
use crate::fault::{Faults, FieldError};

/// The field that holds what all share.
pub(crate) const EVERY_SHAFT: &str = "every_shaft";
const SHAFTS: &str = "shafts";
const FACE: &str = "face";
/// More fields than any shaft has.
const MOST_SHARED: usize = 100;
/// More shafts than any cube has.
const MOST_SHAFTS: usize = 12;

/// Writes out the six shafts: each entry gets the fields of `every_shaft` that it lacks,
/// and faces that have no entry get one.
pub(crate) fn share_shafts(scene: &mut Node, found: &mut Faults) {
    let at = scene.at;
    let Kind::Block(fields) = &mut scene.kind else { return };
    let every = fields.iter().position(|entry| entry.name == EVERY_SHAFT);
    let every = every.map(|index| fields.remove(index));
    let shared = every.map_or(Vec::new(), |every| shared_fields(every, found));
    if !fields.iter().any(|entry| entry.name == SHAFTS) {
        let value = Node::new(at, Kind::List(Vec::new()));
        fields.push(Entry { name: SHAFTS.to_owned(), at, value, shared: false });
    }
    let Some(shafts) = fields.iter_mut().find(|entry| entry.name == SHAFTS) else { return };
    let at = shafts.value.at;
    let Kind::List(shafts) = &mut shafts.value.kind else { return };
    let face_of = |shaft: &Node| {
        let Kind::Atom(name) = &shaft.entry(FACE)?.value.kind else { return None };
        Some(name.clone())
    };
    let given: Vec<Option<String>> = shafts.iter().map(face_of).collect();
    for face in Face::ALL {
        let name = face.letter().to_string();
        // A face that is given twice leaves another out: that one fault is enough.
        if shafts.len() < Face::ALL.len() && !given.contains(&Some(name.clone())) {
            let value = Node::new(at, Kind::Atom(name));
            let face = Entry { name: FACE.to_owned(), at, value, shared: false };
            shafts.push(Node::new(at, Kind::Block(vec![face])));
        }
    }
    // More than six are a fault by themselves.
    for shaft in shafts.iter_mut().take(MOST_SHAFTS) {
        if let Kind::Block(own) = &mut shaft.kind {
            let lacking = |entry: &&Entry| !own.iter().any(|known| known.name == entry.name);
            let lacking: Vec<Entry> = shared.iter().filter(lacking).cloned().collect();
            own.extend(lacking);
        }
    }
}

/// The field as it is named among those that a scene may have. It is gone by the time that
/// a text is looked at: what is left of it was written twice.
pub(crate) fn every_shaft() -> ShapeField {
    let shape = Shape::Leaf { fits: |_| false, stand_in: "()" };
    let allowed = "written once".to_owned();
    ShapeField { name: EVERY_SHAFT, required: false, allowed, shape }
}

fn shared_fields(every: Entry, found: &mut Faults) -> Vec<Entry> {
    let allowed = "a block Shaft without its face";
    let Kind::Block(entries) = every.value.kind else {
        let value = every.value.text();
        found.push(FieldError::new(EVERY_SHAFT, value, allowed).at(every.value.at));
        return Vec::new();
    };
    let mut shared: Vec<Entry> = Vec::new();
    for entry in entries {
        // Each of them comes to each shaft: a text of no length makes no heap of them.
        if shared.iter().any(|known| known.name == entry.name) {
            let field = format!("{EVERY_SHAFT}.{}", entry.name);
            found.push(FieldError::new(field, "given twice", "given once").at(entry.at));
            continue;
        }
        if shared.len() == MOST_SHARED {
            let field = format!("{EVERY_SHAFT}.{}", entry.name);
            let allowed = format!("one of at most {MOST_SHARED} fields");
            found.push(FieldError::new(field, "one too many", allowed).at(entry.at));
            break;
        }
        if entry.name == FACE {
            let field = format!("{EVERY_SHAFT}.{FACE}");
            let value = entry.value.text();
            let allowed = "left out: each entry of shafts has its own";
            found.push(FieldError::new(field, value, allowed).at(entry.at));
        } else {
            shared.push(Entry { shared: true, ..entry });
        }
    }
    shared
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{STARTER, Scene};

    fn faults(from: &str, to: &str) -> Vec<String> {
        assert!(STARTER.contains(from), "{from}");
        let error = Scene::parse(&STARTER.replacen(from, to, 1), "s.ron").unwrap_err();
        error.faults().iter().map(ToString::to_string).collect()
    }

    #[test]
    fn what_six_share_is_given_once() {
        let twice = faults("every_shaft: (", "every_shaft: (length_mm: 70.0, ");
        assert_eq!(twice.len(), 1, "{twice:?}");
        assert!(twice[0].contains("every_shaft.length_mm is given twice"), "{twice:?}");
        let fields: String = (0..MOST_SHARED + 5).map(|n| format!("a{n}: 1, ")).collect();
        let many = faults("every_shaft: (", &format!("every_shaft: ({fields}"));
        assert!(many.len() <= 101 && many[0].contains("every_shaft.a0"), "{many:?}");
    }

    /// A text of nothing but faults is done with at once, and tells some of them.
    #[test]
    fn a_heap_of_faults_is_told_in_part() {
        let lamps = faults("lamps: [", &format!("lamps: [{}", "(),".repeat(20_000)));
        assert_eq!(lamps.len(), 101);
        assert!(
            lamps[100].contains("and at least ") && lamps[100].ends_with(" more"),
            "{}",
            lamps[100]
        );
        let shafts = format!("shafts: [{}],\n    every_shaft: (", "(face: U),".repeat(5000));
        assert!(faults("every_shaft: (", &shafts).len() <= 101);
    }
}
