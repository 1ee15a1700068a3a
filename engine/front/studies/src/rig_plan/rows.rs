//! The rows of a rig plan, and how its figures are written.

use core::fmt::Write as _;

use dryturn_cube::Turn;
use dryturn_handoff::{Cue, CueSheet};

use crate::digest;

/// First line of a file.
pub(crate) const TITLE: &str = "# dryturn rig plan 2";
/// What the columns are.
pub(crate) const COLUMNS: &str = "row,beat,face,quarters,to_deg,start_when,settled_within_deg,\
     settled_for_ms,time_out_ms,start_ms,duration_ms,ceiling_share,safe";
/// What stands for a face in the last row.
pub(crate) const END: &str = "end";
/// Between the cues of a row.
pub(crate) const AND: &str = " & ";
/// Start of a row that the predicted run does not come to, ms.
pub(crate) const NEVER_MS: f64 = -1.0;

/// When a row starts and how long its turn takes, predicted, ms; for information.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RowTime {
    /// From the first start; −1 where the predicted run does not come so far.
    pub start_ms: f64,
    /// Of the set-points.
    pub duration_ms: f64,
}

/// Quarter turns of a turn, clockwise positive.
pub(crate) fn quarters(turn: Turn) -> i32 {
    (turn.amount.angle_deg() / 90.0).round() as i32
}

/// All rows under their heading.
pub(crate) fn write(
    sheet: &CueSheet,
    times: &[RowTime],
    (ceiling_share, safe): (f64, bool),
) -> String {
    let mut text = format!("{COLUMNS}\n");
    let mut times = times.iter();
    let mut number = 0;
    for (place, beat) in sheet.beats.iter().chain([&sheet.end]).enumerate() {
        let cues: Vec<String> = beat.cues.iter().map(Cue::to_string).collect();
        let when = format!(
            "{},{:.3},{:.3},{:.3}",
            cues.join(AND),
            sheet.window_deg,
            sheet.dwell_ms,
            beat.time_out_ms
        );
        let turns = beat
            .turns
            .iter()
            .map(|turn| (turn.turn.face.to_string(), quarters(turn.turn), turn.to_deg));
        let end = beat.turns.is_empty().then(|| (END.to_owned(), 0, 0.0));
        for (face, quarters, to_deg) in turns.chain(end) {
            number += 1;
            let none = RowTime { start_ms: NEVER_MS, duration_ms: 0.0 };
            let time = times.next().unwrap_or(&none);
            // Writing to a String cannot fail.
            let _ = writeln!(
                text,
                "{number},{},{face},{quarters},{to_deg:.3},{when},{:.3},{:.3},{ceiling_share:.4},{}",
                place + 1,
                time.start_ms,
                time.duration_ms,
                if safe { "yes" } else { "no" }
            );
        }
    }
    text
}

/// The text with the two checksums of what stands before each.
pub(crate) fn sealed(mut text: String) -> String {
    text.push_str(&format!("{CRC32}{:08x}\n", crc32(text.as_bytes())));
    text.push_str(&format!("{SHA256}{}\n", digest(text.as_bytes())));
    text
}

/// How the lines with checksums begin.
pub(crate) const CRC32: &str = "# crc32 ";
/// Likewise.
pub(crate) const SHA256: &str = "# sha256 ";

/// The cyclic redundancy check of IEEE 802.3: what a firmware can check without a library.
pub(crate) fn crc32(bytes: &[u8]) -> u32 {
    let mut crc = u32::MAX;
    for &byte in bytes {
        crc ^= u32::from(byte);
        for _ in 0..8 {
            crc = (crc >> 1) ^ (0xedb8_8320 & (crc & 1).wrapping_neg());
        }
    }
    !crc
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The check value that catalogues of such checks give for the digits 1 to 9 (CRC-32 of
    /// ISO 3309 and ITU-T V.42).
    #[test]
    fn the_check_value_is_the_published_one() {
        assert_eq!(crc32(b"123456789"), 0xcbf4_3926);
    }
}
