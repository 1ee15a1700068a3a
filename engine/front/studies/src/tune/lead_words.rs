//! How early faces begin after one another, in words.

use dryturn_driving::Lead;

/// Which hand-over a lead is of: `quarter, then quarter, opposite senses`.
#[must_use]
pub fn lead_kind(lead: &Lead) -> String {
    let turn = |half: bool| if half { "half" } else { "quarter" };
    let sense = if lead.same_sense { "same sense" } else { "opposite senses" };
    format!("{}, then {}, {sense}", turn(lead.late_half), turn(lead.next_half))
}

/// How near pieces come at a lead: `0.120 mm of clearance left`, or `overlap by 0.120 mm`.
#[must_use]
pub fn lead_nearness(lead: &Lead) -> String {
    let mm = lead.nearest_mm;
    // To the decimals that are shown.
    if mm > -5e-4 {
        format!("{:.3} mm of clearance left", mm.max(0.0))
    } else {
        format!("overlap by {:.3} mm", -mm)
    }
}

/// A lead, one sentence without a full stop.
#[must_use]
pub fn lead_sentence(lead: &Lead) -> String {
    format!(
        "{}: begins {:.2} ms before its neighbour's stop, which is then {:.1}° away; at the closest {} \
         ({:.1}° to go, {:.1}° turned)",
        lead_kind(lead),
        lead.lead_s * 1e3,
        lead.to_go_deg,
        lead_nearness(lead),
        lead.nearest_late_deg,
        lead.nearest_turned_deg
    )
}
