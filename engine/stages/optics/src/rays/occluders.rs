//! The few solids that can stand between a face of a solid and a light. Most ways from
//! the cube's faces to a lamp can be barred by two or three solids only, which are known
//! before any ray is sent.

use dryturn_geometry::{Bounds, DVec3, Shape, may_stand_between};
use dryturn_scene::file::Lamp;
use dryturn_scene::lamp::Panel;

/// Flat faces of a solid, and all of it.
const SURFACES: usize = 7;
/// Longer lists are no gain over the tree of all solids.
const MOST: usize = 12;

/// Numbers of solids, or nothing where they are many.
type List = Option<Vec<u32>>;

/// Lists for every surface of every solid.
pub(crate) struct Occluders {
    /// `[lamp][solid · surfaces + surface]`.
    lamps: Vec<Vec<List>>,
    /// `[solid · surfaces + surface]`.
    sky: Vec<List>,
}

/// A flat face of a box, or all of it.
fn surface((low, high): Bounds, number: usize) -> Bounds {
    let (mut from, mut to) = (low, high);
    if number < 6 {
        let k = number / 2;
        if number.is_multiple_of(2) { to[k] = low[k] } else { from[k] = high[k] }
    }
    (from, to)
}

/// The half of space before a flat face; all of it for the rest.
fn before((low, high): Bounds, number: usize) -> Bounds {
    let (mut from, mut to) = (DVec3::NEG_INFINITY, DVec3::INFINITY);
    if number < 6 {
        let k = number / 2;
        if number.is_multiple_of(2) { to[k] = low[k] } else { from[k] = high[k] }
    }
    (from, to)
}

impl Occluders {
    /// For the lamps that are asked for, of solids that stand still.
    pub(crate) fn new(shapes: &[Shape], lamps: &[&Lamp]) -> Self {
        let bounds: Vec<Bounds> = shapes.iter().map(Shape::bounds).collect();
        let list = |solid: usize, may: &dyn Fn(&Bounds) -> bool| -> List {
            let others = (0..bounds.len()).filter(|&other| other != solid && may(&bounds[other]));
            let list: Vec<u32> = others.map(|other| other as u32).take(MOST + 1).collect();
            (list.len() <= MOST).then_some(list)
        };
        let all = |each: &dyn Fn(usize, usize) -> List| -> Vec<List> {
            let places = (0..bounds.len()).flat_map(|s| (0..SURFACES).map(move |n| (s, n)));
            places.map(|(solid, number)| each(solid, number)).collect()
        };
        let lamp = |lamp: &&Lamp| {
            let panel = Panel::of(lamp);
            let reach = panel.half_across.abs() + panel.half_up.abs();
            let light = (panel.centre - reach, panel.centre + reach);
            all(&|solid, number| {
                let from = surface(bounds[solid], number);
                list(solid, &|other| may_stand_between(&from, &light, other))
            })
        };
        let sky = all(&|solid, number| {
            let half = before(bounds[solid], number);
            list(solid, &|other| (0..3).all(|k| other.1[k] > half.0[k] && other.0[k] < half.1[k]))
        });
        Self { lamps: lamps.iter().map(lamp).collect(), sky }
    }

    /// The solids that can bar the way from a surface to a lamp, by its place among those
    /// asked for; `None` where they are many.
    pub(crate) fn of_lamp(&self, lamp: usize, (solid, surface): (u32, u32)) -> Option<&[u32]> {
        Self::get(&self.lamps[lamp], (solid, surface))
    }

    /// The same for the sky.
    pub(crate) fn of_sky(&self, (solid, surface): (u32, u32)) -> Option<&[u32]> {
        Self::get(&self.sky, (solid, surface))
    }

    fn get(lists: &[List], (solid, surface): (u32, u32)) -> Option<&[u32]> {
        lists[solid as usize * SURFACES + surface as usize].as_deref()
    }
}
