//! How early a face may begin to turn while its neighbour still ends its own turn.
//!
//! With the set-points δ(t) of the late face, still to go, and φ(t) of the turning one the
//! gap of the interlock must not close at any moment: g(δ(t) + margin, φ(t)) ≥ 0. Who turns
//! in the same sense as the late face runs against its error, where corners meet; who turns
//! in the other sense meets the wall of the row that both share.

use dryturn_cube::Turn;
use dryturn_units::{degrees, radians};

use super::Interlock;
use crate::control::{HALF, QUARTER, Setpoints, kind};

/// How early one kind of turn may begin after another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lead {
    /// Whether the late turn is a half turn.
    pub late_half: bool,
    /// Whether the turn that begins is one.
    pub next_half: bool,
    /// Whether both turn clockwise, or both counter-clockwise.
    pub same_sense: bool,
    /// How long before the late turn's set-point stops the other may begin, s.
    pub lead_s: f64,
    /// How far the late turn's set-point is from its stop then, degrees.
    pub to_go_deg: f64,
    /// How near the pieces of both faces come while they turn together, by the set-points
    /// alone, mm: the interlock's signed gap, from play and lift (nothing is in the way) down
    /// to twice the edges' rounding, negative. Below zero they overlap, and push each other aside.
    pub nearest_mm: f64,
    /// Where they come so near: how far the late face then is from its stop, degrees.
    pub nearest_late_deg: f64,
    /// And how far the next one then has turned, degrees.
    pub nearest_turned_deg: f64,
}

/// The clearance table of a drive: leads by whether the late turn is a half turn, whether
/// the other is, and whether both turn in the same sense.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Leads(pub(crate) [Lead; 8]);

impl Leads {
    /// Of two courses of set-points: of a quarter turn and of a half turn. `margin_deg` is
    /// by how much further off than its set-point a face is taken to be; below 0 it may be so
    /// much nearer, and pieces that then meet push each other aside.
    pub(crate) fn of(
        interlock: &Interlock,
        moves: &[Setpoints],
        margin_deg: f64,
        tick_s: f64,
    ) -> Self {
        let lead = |index: usize| {
            let (late_half, next_half) = (index & 1 == 1, index >> 1 & 1 == 1);
            let same_sense = index >> 2 == 1;
            let course = |half: bool| &moves[if half { HALF } else { QUARTER }];
            let (late, next) = (course(late_half), course(next_half));
            let ticks = lead_ticks(interlock, (late, next), same_sense, radians(margin_deg));
            let last = late.ticks.len() - 1;
            let (nearest_mm, off_rad, turned_rad) =
                nearest(interlock, (late, next), same_sense, ticks);
            Lead {
                late_half,
                next_half,
                same_sense,
                lead_s: ticks as f64 * tick_s,
                to_go_deg: degrees(late.angle_rad - late.at(last - ticks).angle_rad),
                nearest_mm,
                nearest_late_deg: degrees(off_rad),
                nearest_turned_deg: degrees(turned_rad),
            }
        };
        Self(core::array::from_fn(lead))
    }

    /// How long before the late turn's set-point stops the other may begin, s.
    pub(crate) fn between_s(&self, late: Turn, turning: Turn) -> f64 {
        let sense = |turn: Turn| turn.amount.angle_deg() > 0.0;
        let same = usize::from(sense(late) == sense(turning));
        let (late, turning) = (kind(late.amount), kind(turning.amount));
        self.0[late | turning << 1 | same << 2].lead_s
    }
}

/// More leads than this of a pair of turns are not tried, nor more moments of one: where turns
/// take longer, every second, third … tick is, and the lead comes out a little shorter.
const MOST_TRIED: usize = 2000;

/// The longest lead, in ticks, up to which every shorter one is clear too.
fn lead_ticks(
    interlock: &Interlock,
    (late, next): (&Setpoints, &Setpoints),
    same_sense: bool,
    margin_rad: f64,
) -> usize {
    let last = late.ticks.len() - 1;
    let longest = last.min(next.ticks.len() - 1);
    let every = longest.div_ceil(MOST_TRIED).max(1);
    let clear = |lead: usize| {
        together((late, next), lead).step_by(every).all(|(to_go, turned)| {
            gap_mm(interlock, (to_go + margin_rad).max(0.0), turned, same_sense) >= 0.0
        })
    };
    let leads = (1..=longest / every).map(|count| count * every);
    leads.take_while(|&lead| clear(lead)).last().unwrap_or(0)
}

/// While both turn: how far the late face is from its stop, and how far the other has turned,
/// rad, tick by tick.
fn together<'a>(
    (late, next): (&'a Setpoints, &'a Setpoints),
    lead: usize,
) -> impl Iterator<Item = (f64, f64)> + 'a {
    let last = late.ticks.len() - 1;
    (0..lead).map(move |after| {
        let to_go = late.angle_rad - late.at(last - lead + after).angle_rad;
        (to_go, next.at(after).angle_rad)
    })
}

/// A face that has not come far enough is off against its own sense.
fn gap_mm(interlock: &Interlock, off_rad: f64, turned_rad: f64, same_sense: bool) -> f64 {
    interlock.gap_mm(if same_sense { -off_rad } else { off_rad }, turned_rad)
}

/// The least gap, mm, that a lead of so many ticks leaves by the set-points, and the two
/// angles there, rad.
fn nearest(
    interlock: &Interlock,
    moves: (&Setpoints, &Setpoints),
    same_sense: bool,
    ticks: usize,
) -> (f64, f64, f64) {
    let gap = |(off, turned): (f64, f64)| (gap_mm(interlock, off, turned, same_sense), off, turned);
    let apart = gap((0.0, 0.0));
    together(moves, ticks)
        .map(gap)
        .fold(apart, |least, now| if now.0 < least.0 { now } else { least })
}
