//! Executions as CSV, one a row.

use dryturn_handoff::Jam;
use dryturn_studies::Execution;

use super::Drilled;

const COLUMNS: [&str; 24] = [
    "trial",
    "plan",
    "end",
    "time_ms",
    "bound_ms",
    "beat",
    "late_face",
    "late_angle_deg",
    "blocked_face",
    "blocked_angle_deg",
    "jam_peak_torque_n_m",
    "jam_safety_factor",
    "jam_verdict",
    "cause",
    "pushed",
    "peak_torque_n_m",
    "safety_factor",
    "supply_j",
    "brake_j",
    "lowest_v",
    "highest_v",
    "winding_c",
    "resistor_c",
    "failure_kind",
];

fn row(execution: &Execution) -> [String; 24] {
    let (jam, stop) = (execution.jam.as_ref(), execution.stop.as_ref());
    let of_jam = |of: fn(&Jam) -> String| jam.map_or_else(String::new, of);
    let end = match (jam, stop) {
        (Some(_), _) => "jammed",
        (_, Some(_)) => "stopped",
        _ => "completed",
    };
    let beat = jam.map(|jam| jam.beat).or(stop.map(|stop| stop.beat));
    [
        execution.number.to_string(),
        (execution.plan + 1).to_string(),
        end.to_owned(),
        (execution.total_s * 1e3).to_string(),
        (execution.bound_s * 1e3).to_string(),
        beat.map_or_else(String::new, |beat| (beat + 1).to_string()),
        of_jam(|jam| jam.met.late_face.to_string()),
        of_jam(|jam| jam.met.late_angle_deg.to_string()),
        of_jam(|jam| jam.met.blocked_face.to_string()),
        of_jam(|jam| jam.met.blocked_angle_deg.to_string()),
        of_jam(|jam| jam.peak_torque_n_m.to_string()),
        of_jam(|jam| jam.safety_factor_ratio.to_string()),
        of_jam(|jam| jam.verdict.words().to_owned()),
        stop.map_or_else(String::new, |stop| stop.cause.to_string()),
        execution.pushed.len().to_string(),
        execution.peak_torque_n_m.to_string(),
        execution.safety_factor_ratio.to_string(),
        execution.supply_j.to_string(),
        execution.brake_j.to_string(),
        execution.bus_v.0.to_string(),
        execution.bus_v.1.to_string(),
        execution.winding_c.to_string(),
        execution.resistor_c.to_string(),
        execution.failure().map_or_else(String::new, |kind| kind.key().to_owned()),
    ]
}

/// All executions; where values are compared, the value comes first.
pub(crate) fn table(drills: &[Drilled]) -> anyhow::Result<String> {
    let mut out = csv::Writer::from_writer(Vec::new());
    let compared = drills.iter().any(|(value, _)| value.is_some());
    let value = |text: String| compared.then_some(text);
    out.write_record(value("value".to_owned()).into_iter().chain(COLUMNS.map(str::to_owned)))?;
    for (given, drill) in drills {
        let given = given.as_ref().map_or_else(String::new, ToString::to_string);
        for execution in &drill.executions {
            out.write_record(value(given.clone()).into_iter().chain(row(execution)))?;
        }
    }
    Ok(String::from_utf8(out.into_inner()?)?)
}
