//! What tuning came to.

use core::fmt;
use std::sync::Arc;

use dryturn_driving::{Lead, Machine};
use dryturn_rehearsal::StartToStop;
use dryturn_scene::Scene;
use dryturn_scene::file::Policy;
use dryturn_statistics::share_in_words;

use super::below_zero::{BelowZero, overlap_mm};
use super::lead_words::lead_sentence;
use super::limits::{TuneLimit, ranked};
use super::request::TuneRequest;
use super::rounds::{Dot, Round};
use super::settings::Setting;
use crate::axes::TurningDrill;

/// Settings that keep the target.
#[derive(Clone, Debug)]
pub struct Tuned {
    /// The scene with them.
    pub scene: Arc<Scene>,
    /// What has changed.
    pub settings: Vec<Setting>,
    /// Their proof on fresh trials and cubes.
    pub drill: Arc<TurningDrill>,
    /// The scene as it was, on the same trials and plans.
    pub before: Arc<TurningDrill>,
    /// The tuned limits with the plainest timing (each beat waits for the settle window,
    /// no dwell), on the same trials and plans.
    pub waiting: Arc<TurningDrill>,
    /// What keeps them from being faster.
    pub limits: Vec<TuneLimit>,
    /// What a clearance margin below zero would buy; `None` where it was allowed, or where it
    /// would change nothing.
    pub below_zero: Option<BelowZero>,
    /// How many settings were tried before the proof, to choose it.
    pub tried: usize,
}

/// Why nothing was found.
#[derive(Clone, Debug)]
pub enum NotTuned {
    /// The shafts do not stand the torque that turning takes.
    WeakShafts {
        /// What the weakest allows at the wanted safety factor, N·m.
        allowed_n_m: f64,
        /// What turning a layer takes at least, or the torque limit that is to be kept, N·m.
        needed_n_m: f64,
        /// The safety factor.
        safety_ratio: f64,
    },
    /// The scene allows none of the settings.
    NoScene {
        /// Points that were tried.
        tried: usize,
    },
    /// None of the settings keeps the target.
    NoneKeeps {
        /// Those that came nearest.
        drill: Arc<TurningDrill>,
        /// The scene as it was, on the same trials and plans.
        before: Arc<TurningDrill>,
        /// Their torque limit, N·m.
        torque_n_m: f64,
        /// Whether weak shafts had ruled out others.
        weak: bool,
    },
}

/// One sentence without its full stop.
impl fmt::Display for NotTuned {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::WeakShafts { allowed_n_m, needed_n_m, safety_ratio } => write!(
                f,
                "the shafts cannot hold: at a safety factor of {safety_ratio} the weakest allows \
                 {allowed_n_m:.3} N·m, and {needed_n_m:.3} N·m are needed"
            ),
            Self::NoScene { tried } => {
                write!(f, "none of {tried} settings is allowed by the scene")
            }
            Self::NoneKeeps { drill, before, torque_n_m, weak } => {
                let failures = drill.failures();
                write!(
                    f,
                    "no settings keep the target: of those that came nearest {}",
                    share_in_words("failed", failures.count(), failures.trials(), 1)
                )?;
                write!(f, ", of the scene as it was {}", before.failures().count())?;
                if *weak {
                    write!(
                        f,
                        ", with the {torque_n_m:.3} N·m that the shafts allow; stronger shafts \
                         would allow more"
                    )?;
                }
                match drill.first_cause() {
                    Some(cause) => write!(f, "; first of all {cause}"),
                    None => Ok(()),
                }
            }
        }
    }
}

/// What tuning came to, and how.
#[derive(Clone, Debug)]
pub struct Tuning {
    /// What was asked for.
    pub request: TuneRequest,
    /// The fields that were free.
    pub fields: Vec<String>,
    /// The race, round by round.
    pub rounds: Vec<Round>,
    /// Settings of the race.
    pub dots: Vec<Dot>,
    /// What was found.
    pub found: Result<Tuned, NotTuned>,
}

impl Tuned {
    /// Share of the way from the plainest timing to the bound that the settings go, by
    /// medians and the mean bound, with their own limits; 1 would be the bound itself.
    #[must_use]
    pub fn gap_closed(&self) -> Option<f64> {
        closed(&self.waiting, &self.drill)
    }

    /// Wilson's 95 % interval of the share that fails.
    #[must_use]
    pub fn failure_interval(&self) -> (f64, f64) {
        self.drill.failures().interval()
    }

    /// Strength of the weakest shaft over the torque limit.
    #[must_use]
    pub fn static_safety_ratio(&self) -> f64 {
        let machine = dryturn_driving::Machine::of(&self.scene);
        machine.weakest_shaft_n_m() / machine.axis().limit.torque_n_m()
    }

    /// From the start button to the last stop at the median, s.
    #[must_use]
    pub fn start_to_stop_s(&self) -> Option<f64> {
        let (median_s, _) = self.drill.time_s(0.5)?;
        Some(StartToStop::of(&self.scene, median_s).total_s())
    }

    /// What keeps them from being faster, sentences without full stops: what binds first, what
    /// would come after it, and so on.
    #[must_use]
    pub fn what_limits(&self) -> Vec<String> {
        ranked(&self.limits)
    }

    /// How early faces begin after one another, and how near they come then; `None` where the
    /// policy does not go by it.
    #[must_use]
    pub fn leads(&self) -> Option<[Lead; 8]> {
        let predicts = self.scene.file().handover.policy == Policy::Predict;
        predicts.then(|| *Machine::of(&self.scene).leads())
    }

    /// What the margin makes of the pieces of neighbours, one sentence without a full stop;
    /// `None` where the policy does not go by it.
    #[must_use]
    pub fn clearance_sentence(&self) -> Option<String> {
        let nearest_mm = self.leads()?.iter().map(|l| l.nearest_mm).fold(f64::INFINITY, f64::min);
        let margin_deg = self.scene.file().handover.clearance_margin_deg;
        let deepest_mm = overlap_mm(&self.scene);
        Some(if margin_deg < 0.0 {
            let touch = if deepest_mm > 0.0 {
                format!("push each other aside, overlapping by up to {deepest_mm:.3} mm")
            } else {
                "pass each other by their set-points, with nothing to spare".to_owned()
            };
            format!(
                "with a clearance margin of {margin_deg}° pieces {touch}; without --allow no margin \
                 below zero is used"
            )
        } else {
            format!(
                "by their set-points neighbours pass each other with {:.3} mm of clearance at the \
                 least, and a face may be {margin_deg}° later than planned and still be passed \
                 untouched",
                nearest_mm.max(0.0)
            )
        })
    }
}

fn closed(waiting: &TurningDrill, tuned: &TurningDrill) -> Option<f64> {
    let (from, to) = (waiting.time_s(0.5)?.0, tuned.time_s(0.5)?.0);
    Some((from - to) / (from - waiting.mean_bound_s()))
}

impl Tuning {
    /// What came of it as text, several lines.
    #[must_use]
    pub fn summary(&self) -> String {
        let tuned = match &self.found {
            Ok(tuned) => tuned,
            Err(why) => return format!("no settings: {why}"),
        };
        let drill = &tuned.drill;
        let median = |drill: &TurningDrill| {
            drill
                .time_s(0.5)
                .map_or_else(|| "none".to_owned(), |(s, _)| format!("{:.1} ms", s * 1e3))
        };
        let percent = |share: Option<f64>| {
            share.map_or_else(|| "none".to_owned(), |share| format!("{:.0} %", share * 100.0))
        };
        let rate = self.request.target.jam_rate;
        let fail = |drill: &TurningDrill| drill.failures().words();
        let failures = drill.failures();
        let mut lines = vec![
            format!(
                "{} at {} V, shafts {:.2} times as strong as the torque limit",
                share_in_words("failed", failures.count(), failures.trials(), 2),
                tuned.scene.file().drive.bus_voltage_v,
                tuned.static_safety_ratio()
            ),
            format!(
                "median {}; the scene as it was {} ({}); waiting, with the tuned limits, {} ({}); no run \
                 can beat {:.1} ms on average: {} of the way there from waiting",
                median(drill),
                median(&tuned.before),
                fail(&tuned.before),
                median(&tuned.waiting),
                fail(&tuned.waiting),
                drill.mean_bound_s() * 1e3,
                percent(tuned.gap_closed())
            ),
            format!("chosen on trials of their own, of {} that were tried there", tuned.tried),
        ];
        lines.extend(failures.split().into_iter().map(|(kind, count)| {
            format!("  {}", share_in_words(kind.words(), count, failures.trials(), 2))
        }));
        lines.extend(failures.advice(&[rate, 0.5 * rate, 0.1 * rate]));
        lines.extend(tuned.settings.iter().map(Setting::sentence));
        if let Some(leads) = tuned.leads() {
            lines.push("how early the next face begins, by the set-points:".to_owned());
            lines.extend(leads.iter().map(|lead| format!("  {}", lead_sentence(lead))));
        }
        lines.extend(tuned.clearance_sentence());
        lines.extend(tuned.below_zero.as_ref().map(BelowZero::sentence));
        for (rank, sentence) in tuned.what_limits().into_iter().enumerate() {
            let rank = ["next limit", "after it"].get(rank).unwrap_or(&"further");
            lines.push(format!("{rank}: {sentence}"));
        }
        lines.join("\n")
    }
}
