//! Corners in rows and columns: from one corner along its edges to the next.

use std::collections::BTreeMap;

use dryturn_geometry::DVec2;

use super::corners::Corner;

/// Cosine within which a neighbour lies along the edge, where nothing else is known.
const ALONG_EDGE: f64 = 0.94;
/// Cosine within which edges of neighbours are parallel.
const PARALLEL: f64 = 0.85;
/// How far a corner may be from where its neighbours say, as a share of the step.
const OFF_SHARE: f64 = 0.3;
/// Nearest that two corners are, px.
const LEAST_STEP_PX: f64 = 5.0;
/// Starts that are tried.
const MOST_STARTS: usize = 200;

/// What has grown from the best start.
#[derive(Clone, Debug)]
pub(super) struct Grown {
    /// All corners in order, row by row, where the board is whole.
    pub(super) whole: Option<Vec<DVec2>>,
    /// Extent of the largest grid.
    pub(super) size: [usize; 2],
    /// Its corners.
    pub(super) count: usize,
}

/// A corner with its number along both edges.
#[derive(Clone, Copy)]
struct Node {
    corner: usize,
    place: DVec2,
    /// Directions in which the numbers grow, with a positive turn from the first to the
    /// second.
    axes: [DVec2; 2],
    /// Whether the square between the two is light.
    light: bool,
}

type Numbers = (i32, i32);

const WAYS: [Numbers; 4] = [(1, 0), (0, 1), (-1, 0), (0, -1)];

fn plus(a: Numbers, b: Numbers) -> Numbers {
    (a.0 + b.0, a.1 + b.1)
}

/// Looks for a grid of `columns × rows` corners, either way round.
pub(super) fn grow(corners: &[Corner], [columns, rows]: [usize; 2]) -> Grown {
    let mut tried = vec![false; corners.len()];
    let mut best = Grown { whole: None, size: [0, 0], count: 0 };
    for start in (0..corners.len()).take(MOST_STARTS) {
        if tried[start] {
            continue;
        }
        let nodes = grow_from(corners, start);
        nodes.values().for_each(|node| tried[node.corner] = true);
        let found = whole(&nodes, [columns, rows]);
        if found.whole.is_some() {
            return found;
        }
        if found.count > best.count {
            best = found;
        }
    }
    best
}

fn grow_from(corners: &[Corner], start: usize) -> BTreeMap<Numbers, Node> {
    let Corner { place, edges, light } = corners[start];
    let mut nodes = BTreeMap::new();
    let mut used = vec![false; corners.len()];
    nodes.insert((0, 0), Node { corner: start, place, axes: edges, light });
    used[start] = true;
    // Wave by wave, so that predictions come from both directions early.
    let mut front: Vec<Numbers> = vec![(0, 0)];
    while !front.is_empty() {
        let mut next = Vec::new();
        for numbers in front {
            for way in WAYS {
                let there = plus(numbers, way);
                if nodes.contains_key(&there) {
                    continue;
                }
                if let Some(node) = neighbour(corners, &used, &nodes, numbers, way) {
                    used[node.corner] = true;
                    nodes.insert(there, node);
                    next.push(there);
                }
            }
        }
        front = next;
    }
    nodes
}

/// Where a corner must be by those that are known, and how far off it may be, px.
fn expected(nodes: &BTreeMap<Numbers, Node>, from: Numbers, way: Numbers) -> Option<(DVec2, f64)> {
    let own = nodes[&from].place;
    // A parallel step beside this one, else the step before.
    for side in [(way.1, way.0), (-way.1, -way.0)] {
        let beside = plus(from, side);
        if let (Some(a), Some(b)) = (nodes.get(&beside), nodes.get(&plus(beside, way))) {
            let step = b.place - a.place;
            return Some((own + step, OFF_SHARE * step.length()));
        }
    }
    let before = nodes.get(&(from.0 - way.0, from.1 - way.1))?;
    let step = own - before.place;
    Some((own + step, OFF_SHARE * step.length()))
}

fn neighbour(
    corners: &[Corner],
    used: &[bool],
    nodes: &BTreeMap<Numbers, Node>,
    from: Numbers,
    way: Numbers,
) -> Option<Node> {
    let own = nodes[&from];
    let ahead = own.axes[0] * f64::from(way.0) + own.axes[1] * f64::from(way.1);
    let known = expected(nodes, from, way);
    let mut best: Option<(f64, Node)> = None;
    for (i, corner) in corners.iter().enumerate() {
        if used[i] {
            continue;
        }
        let step = corner.place - own.place;
        let length = step.length();
        let far = match known {
            Some((place, off)) => Some((corner.place - place).length()).filter(|d| *d <= off),
            None => Some(length).filter(|_| step.dot(ahead) >= ALONG_EDGE * length),
        };
        let Some(far) = far.filter(|_| length >= LEAST_STEP_PX) else { continue };
        if best.is_some_and(|(nearest, _)| nearest <= far) {
            continue;
        }
        if let Some(node) = fitting(&own, corner, i) {
            best = Some((far, node));
        }
    }
    best.map(|(_, node)| node)
}

/// A corner as its neighbour's neighbour: edges parallel, squares the other way round.
fn fitting(own: &Node, corner: &Corner, index: usize) -> Option<Node> {
    let [a, b] = corner.edges;
    // Either edge may be the first.
    let straight = own.axes[0].dot(a).abs() + own.axes[1].dot(b).abs();
    let crossed = own.axes[0].dot(b).abs() + own.axes[1].dot(a).abs();
    let [first, second] = if straight >= crossed { [a, b] } else { [b, a] };
    let mut light = corner.light;
    let towards = |edge: DVec2, axis: DVec2| if edge.dot(axis) < 0.0 { -edge } else { edge };
    let axes = [towards(first, own.axes[0]), towards(second, own.axes[1])];
    // Reversing one of the two passes to the sector beside.
    if (axes[0] != first) != (axes[1] != second) {
        light = !light;
    }
    let parallel = axes[0].dot(own.axes[0]) >= PARALLEL && axes[1].dot(own.axes[1]) >= PARALLEL;
    let node = Node { corner: index, place: corner.place, axes, light };
    (parallel && light != own.light).then_some(node)
}

/// The one place at which the grid holds the whole board, if there is just one.
fn whole(nodes: &BTreeMap<Numbers, Node>, [columns, rows]: [usize; 2]) -> Grown {
    let range = |pick: fn(&Numbers) -> i32| {
        let least = nodes.keys().map(pick).min().unwrap_or(0);
        (least, nodes.keys().map(pick).max().unwrap_or(0) - least + 1)
    };
    let ((left, wide), (top, high)) = (range(|n| n.0), range(|n| n.1));
    let mut found = Vec::new();
    let mut look = |across: usize, down: usize, order: &dyn Fn(i32, i32) -> Numbers| {
        for x in 0..=wide - across as i32 {
            for y in 0..=high - down as i32 {
                let at = |i: usize| order((i % columns) as i32, (i / columns) as i32);
                let place = |i: usize| {
                    let (u, v) = at(i);
                    nodes.get(&(left + x + u, top + y + v)).map(|node| node.place)
                };
                found.extend((0..columns * rows).map(place).collect::<Option<Vec<DVec2>>>());
            }
        }
    };
    look(columns, rows, &|column, row| (column, row));
    if columns != rows {
        // A quarter turn: rows run along the first numbers, backwards.
        look(rows, columns, &|column, row| (rows as i32 - 1 - row, column));
    }
    let whole = if found.len() == 1 { found.pop() } else { None };
    Grown { whole, size: [wide as usize, high as usize], count: nodes.len() }
}
