//! What two neighbouring layers do to each other, step by step.
//!
//! Of two neighbours the one whose turn was commanded later is the turning face, the
//! other the late one. Turned against the late face's error, the turning face runs its
//! corners into the late face's corners: the cube as a whole gives with its stiffness,
//! and the rounded corners lead a share of the push to the late face (the static law of
//! [`Interlock`]). They stay engaged until the late face has given way or the turning
//! face has backed out. Once past, the late face can only rub along the turning one.
//! Turned with the late face's error, no corners meet; the row that both share rubs
//! along and realigns the late face cheaply.

use core::f64::consts::{FRAC_PI_2, PI};

use dryturn_scene::WALL_OVER_CUBE;
use dryturn_units::maths;

use super::interlock::{CONTACTS, Interlock};

/// Flat on flat, pieces push back stiffer than the whole cube gives (assumed), up to this depth,
/// rad; then the cube gives.
const WALL_RAD: f64 = 0.01;
/// Damping of corners, as a share of what would be critical (assumed).
const DAMPING_SHARE: f64 = 0.2;

/// How a pair stands.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Engaged {
    /// Nothing has met.
    #[default]
    Apart,
    /// Corners have met and block.
    Corners,
    /// The turning face is past the corners, or rubs along the shared row.
    Past,
}

/// A layer as its neighbours meet it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Facing {
    /// Off its nearest stop, rad.
    pub(crate) off_rad: f64,
    /// From the stop that it has left, rad.
    pub(crate) turned_rad: f64,
    pub(crate) speed_rad_s: f64,
}

/// Torques of one meeting.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Meeting {
    pub(crate) on_late_n_m: f64,
    pub(crate) on_turning_n_m: f64,
    pub(crate) late_drag_n_m: f64,
    pub(crate) turning_drag_n_m: f64,
}

/// The law of one cube.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Contact {
    pub(crate) interlock: Interlock,
    /// First contacts by overlap, rad.
    first_rad: [f64; CONTACTS],
    free_rad: f64,
    past_rad: f64,
    /// No wall is met while error times way is below the inverse of this.
    wedge_below: f64,
    cube_n_m_rad: f64,
    damping_n_m_s: f64,
}

impl Contact {
    /// `first_rad` may be that of a cube whose lift is a little different.
    pub(crate) fn of(
        interlock: Interlock,
        first_rad: [f64; CONTACTS],
        cube_n_m_rad: f64,
        layer_kg_m2: f64,
    ) -> Self {
        Self {
            interlock,
            first_rad,
            free_rad: dryturn_units::radians(interlock.free_deg),
            past_rad: interlock.past_rad(),
            wedge_below: 4.0 / PI * interlock.z_mm / interlock.slack_mm.max(1e-9),
            cube_n_m_rad,
            damping_n_m_s: 2.0 * DAMPING_SHARE * (cube_n_m_rad * layer_kg_m2).sqrt(),
        }
    }

    /// How far the turning face gets at an overlap, rad.
    fn first_contact_rad(&self, overlap_mm: f64) -> f64 {
        let last = CONTACTS - 1;
        let at = overlap_mm / (2.0 * self.interlock.radius_mm) * last as f64;
        let below = (at.max(0.0) as usize).min(last - 1);
        let share = (at - below as f64).min(1.0);
        self.first_rad[below] + share * (self.first_rad[below + 1] - self.first_rad[below])
    }

    fn wall_n_m(&self, deep_rad: f64) -> f64 {
        self.cube_n_m_rad * (deep_rad + (WALL_OVER_CUBE - 1.0) * deep_rad.min(WALL_RAD))
    }

    /// Whether a late face that is off by so much at most meets nobody.
    pub(crate) fn idle(&self, off_rad: f64) -> bool {
        // After a quarter turn the shared row leaves half of the free angle.
        off_rad <= 0.49 * self.free_rad
    }

    /// Torques between two faces, and how they then stand.
    pub(crate) fn meet(
        &self,
        late: &Facing,
        turning: &Facing,
        engaged: Engaged,
    ) -> (Engaged, Meeting) {
        let off = late.off_rad.abs();
        let turned = turning.turned_rad.abs();
        let back = -late.off_rad.signum();
        let against = late.off_rad * turning.turned_rad < 0.0;
        // Almost at its next stop the turning face leaves all corners behind.
        if turned > FRAC_PI_2 - self.past_rad {
            return (Engaged::Apart, Meeting::default());
        }
        if !against {
            // tan(φ/2) is at most 4/π · φ/2 up to a quarter turn.
            if off * turned * self.wedge_below < 1.0 {
                return (Engaged::Apart, Meeting::default());
            }
            let deep = off - self.interlock.wedge_rad(turned);
            if deep <= 0.0 {
                return (Engaged::Apart, Meeting::default());
            }
            let wall = self.wall_n_m(deep);
            // The wall leans by the late face's error; levers do not cancel.
            let half_sin = maths::quick_sin(0.5 * turned);
            let half_cos = (1.0 - half_sin * half_sin).sqrt();
            let slope = off / (2.0 * half_sin * half_cos);
            let meeting = Meeting {
                on_late_n_m: wall * back,
                on_turning_n_m: -slope * wall * turning.turned_rad.signum(),
                turning_drag_n_m: self.interlock.friction_ratio * wall / (2.0 * half_sin),
                late_drag_n_m: 0.0,
            };
            return (Engaged::Past, meeting);
        }
        if engaged == Engaged::Apart && off <= self.free_rad {
            return (Engaged::Apart, Meeting::default());
        }
        let overlap = self.interlock.overlap_mm(late.off_rad);
        let ahead = turned < self.past_rad;
        let engaged = match engaged {
            _ if overlap <= 0.0 && ahead => Engaged::Apart,
            Engaged::Corners if overlap <= 0.0 => Engaged::Past,
            Engaged::Corners => Engaged::Corners,
            Engaged::Apart if ahead => Engaged::Corners,
            Engaged::Past if ahead => Engaged::Corners,
            _ => Engaged::Past,
        };
        match engaged {
            Engaged::Apart => (Engaged::Apart, Meeting::default()),
            Engaged::Corners => {
                let deep = turned - self.first_contact_rad(overlap);
                if deep <= 0.0 {
                    return (Engaged::Apart, Meeting::default());
                }
                let sign = turning.turned_rad.signum();
                let damping = self.damping_n_m_s * turning.speed_rad_s * sign;
                let push = (self.cube_n_m_rad * deep + damping).max(0.0);
                let ratio = self.interlock.realigning_ratio(overlap);
                let meeting = Meeting {
                    on_late_n_m: push * ratio * back,
                    on_turning_n_m: -push * sign,
                    late_drag_n_m: if ratio > 0.0 {
                        0.0
                    } else {
                        self.interlock.friction_ratio * push
                    },
                    turning_drag_n_m: 0.0,
                };
                (Engaged::Corners, meeting)
            }
            Engaged::Past => {
                let deep = (off - self.free_rad).max(0.0);
                let wall = self.wall_n_m(deep);
                let meeting = Meeting {
                    on_late_n_m: wall * back,
                    turning_drag_n_m: self.interlock.friction_ratio * wall,
                    ..Meeting::default()
                };
                (Engaged::Past, meeting)
            }
        }
    }
}
