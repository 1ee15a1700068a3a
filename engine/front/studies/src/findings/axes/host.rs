//! The host, and its link to the axes.

use dryturn_handoff::Reading;
use dryturn_rehearsal::reading_ms;
use dryturn_scene::file::{Camera, SceneFile};
use dryturn_units::maths;

use crate::findings::{Finding, FindingKind as Kind, Severity};

/// Beats of a usual plan, for what the link loses.
const BEATS: f64 = 20.0;
/// Solves that may be lost to the link.
const LOST_SOLVES: f64 = 0.01;
/// A host that takes longer than this outweighs all turns, ms.
const SLOW_HOST_MS: f64 = 10_000.0;

pub(super) fn commands(file: &SceneFile) -> Option<Finding> {
    let link = &file.link;
    let once = (link.frame_loss_share + link.frame_corrupt_share).min(1.0);
    let for_good = maths::pow(once, 1.0 + f64::from(link.most_resends));
    let solves = 1.0 - maths::pow(1.0 - for_good, BEATS);
    let severity = if solves > 0.5 { Severity::Wrong } else { Severity::Doubtful };
    (solves > LOST_SOLVES).then(|| {
        Finding::new(Kind::CommandsLost, severity, "link.frame_loss_share")
            .figure("lost_once_share", once)
            .figure("failed_solves_share", solves)
            .says(
                format!(
                    "{:.0} % of frames fail, and after {} resends {:.2} %: {:.0} % of solves of {BEATS} \
                     beats end there",
                    100.0 * once,
                    link.most_resends,
                    100.0 * for_good,
                    100.0 * solves
                ),
                "mend the link, or raise most_resends",
            )
    })
}

pub(super) fn watchdog(file: &SceneFile) -> Option<Finding> {
    let (latency_ms, watchdog_ms) = (file.link.command_latency_ms, file.link.watchdog_ms);
    (latency_ms >= watchdog_ms).then(|| {
        Finding::wrong(Kind::LatencyBeyondWatchdog, "link.watchdog_ms")
            .figure("command_latency_ms", latency_ms)
            .figure("watchdog_ms", watchdog_ms)
            .says(
                format!(
                    "commands take {latency_ms} ms, and the axes let go after {watchdog_ms} ms"
                ),
                format!("allow several times {latency_ms} ms"),
            )
    })
}

pub(super) fn resend(file: &SceneFile) -> Option<Finding> {
    let (latency_ms, after_ms) = (file.link.command_latency_ms, file.link.resend_after_ms);
    (after_ms < latency_ms).then(|| {
        Finding::doubtful(Kind::ResendTooEarly, "link.resend_after_ms")
            .figure("command_latency_ms", latency_ms)
            .figure("resend_after_ms", after_ms)
            .says(
                format!("a command takes {latency_ms} ms, and is sent again after {after_ms} ms"),
                format!("wait for more than {latency_ms} ms"),
            )
    })
}

pub(super) fn jitter(file: &SceneFile) -> Option<Finding> {
    let (latency_ms, sigma_ms) = (file.link.command_latency_ms, file.link.command_jitter_sigma_ms);
    (sigma_ms > 0.5 * latency_ms).then(|| {
        Finding::doubtful(Kind::JitterBeyondLatency, "link.command_jitter_sigma_ms")
            .figure("command_jitter_sigma_ms", sigma_ms)
            .figure("command_latency_ms", latency_ms)
            .says(
                format!(
                    "a spread of {sigma_ms} ms round {latency_ms} ms is cut off at nothing and at \
                     twice the latency"
                ),
                "measure the link: latency is the mean, jitter its standard deviation",
            )
    })
}

pub(super) fn host(file: &SceneFile) -> Option<Finding> {
    let host = &file.host;
    let pixels = |c: &Camera| u64::from(c.width_px) * u64::from(c.height_px);
    let largest = file.cameras.iter().map(|c| pixels(c) * c.picture_names().len() as u64);
    let transfer_ms = largest.max().unwrap_or(0) as f64 / (host.transfer_mb_per_s * 1e3);
    let search_ms = f64::from(host.search_nodes) / host.search_nodes_per_ms;
    let reading_ms = reading_ms(host, Reading::USUAL_STEPS);
    let terms = [
        (transfer_ms, "host.transfer_mb_per_s", "transfer"),
        (reading_ms, "host.reading_ms", "reading"),
        (search_ms, "host.search_nodes", "search"),
    ];
    let sum_ms = transfer_ms + reading_ms + search_ms;
    let [first, rest @ ..] = terms;
    let worst = rest.into_iter().fold(first, |a, b| if b.0 > a.0 { b } else { a });
    (sum_ms > SLOW_HOST_MS).then(|| {
        Finding::doubtful(Kind::HostSlow, worst.1).figure("host_ms", sum_ms).says(
            format!(
                "{:.0} s pass before the first command, {:.0} s of them in {}",
                1e-3 * sum_ms,
                1e-3 * worst.0,
                worst.2
            ),
            "check the figure's unit",
        )
    })
}
