//! Reading a rig plan back: strictly, so that what is followed is what was written.

use dryturn_cube::Face;
use dryturn_handoff::{Cue, CueSheet, CuedBeat, CuedTurn};

use super::fault::{RigFileError, fault};
use super::read_row::row;
use super::rows::{COLUMNS, CRC32, RowTime, SHA256, TITLE, crc32};
use crate::digest;

/// Most rows of a file; what the follower in C holds.
const MAX_ROWS: usize = 64;
/// How far beside a multiple of 90 degrees a turn may end, for wind-up that is made up for.
const BESIDE_DEG: f64 = 30.0;

/// A rig plan as its file has it.
#[derive(Clone, Debug, PartialEq)]
pub struct RigFile {
    /// SHA-256 of the six named faces of the state that it solves, hexadecimal.
    pub state_hash: String,
    /// The share of full power's torque above friction that it is made for.
    pub ceiling_share: f64,
    /// Whether it was exported as safe.
    pub safe: bool,
    /// The turns and what they wait for.
    pub sheet: CueSheet,
    /// Predicted times of the rows, the last included.
    pub times: Vec<RowTime>,
}

/// Where each face stands, and which way it came.
#[derive(Clone, Copy, Default)]
struct Standing {
    stop_deg: f64,
    to_deg: f64,
    sign: f64,
}

/// Whether cues make sense with what was started before.
fn check_cues(cues: &[Cue], standing: &[Standing; 6], line: usize) -> Result<(), RigFileError> {
    for (place, &cue) in cues.iter().enumerate() {
        if cues[..place].iter().any(|other| other.face() == cue.face()) {
            return fault(line, format!("two cues about {}: must be one a face", cue.face()));
        }
        let face = &standing[cue.face().index()];
        let within = |deg: f64| {
            (deg - face.to_deg) * face.sign <= 0.0 && (face.to_deg - deg) * face.sign < 180.0
        };
        let fine = match cue {
            Cue::Settled(_) => true,
            Cue::Above(_, deg) => face.sign > 0.0 && within(deg),
            Cue::Below(_, deg) => face.sign < 0.0 && within(deg),
        };
        if !fine {
            return fault(line, format!("'{cue}' is no angle on the way of that face's last turn"));
        }
    }
    Ok(())
}

fn check_turn(turn: &CuedTurn, standing: &[Standing; 6], line: usize) -> Result<(), RigFileError> {
    let face = turn.turn.face;
    let stop_deg = standing[face.index()].stop_deg + turn.turn.amount.angle_deg();
    let (to_deg, least, most) = (turn.to_deg, stop_deg - BESIDE_DEG, stop_deg + BESIDE_DEG);
    if (least..=most).contains(&to_deg) {
        return Ok(());
    }
    fault(line, format!("to_deg of {face} is {to_deg}: must be {least} to {most}"))
}

impl RigFile {
    /// Reads a file that was written by this program and not changed since.
    ///
    /// # Errors
    /// The first fault, with its line.
    pub fn parse(text: &str) -> Result<Self, RigFileError> {
        let lines: Vec<&str> = text.split_inclusive('\n').collect();
        let first = lines.first().map_or("", |line| line.trim_end());
        if first != TITLE {
            return fault(1, format!("must be '{TITLE}'"));
        }
        let last = lines.len();
        check_seal(&lines)?;
        let body: Vec<&str> = lines[..last - 2].iter().map(|line| line.trim_end()).collect();
        let Some(heading) = body.iter().position(|line| *line == COLUMNS) else {
            return fault(last - 2, format!("the line '{COLUMNS}' is missing"));
        };
        let states: Vec<&str> =
            body[..heading].iter().filter_map(|line| line.strip_prefix("# state ")).collect();
        let hexadecimal =
            |text: &&str| text.len() == 64 && text.chars().all(|c| c.is_ascii_hexdigit());
        let [state_hash] = states[..] else {
            return fault(heading + 1, "there must be one line '# state' before the columns");
        };
        if !hexadecimal(&state_hash) {
            return fault(heading + 1, "the state must be a SHA-256, 64 hexadecimal digits");
        }
        if let Some(place) = body[..heading].iter().position(|line| !line.starts_with('#')) {
            return fault(place + 1, "a line before the columns must start with '#'");
        }
        let rows = &body[heading + 1..];
        if rows.is_empty() || rows.len() > MAX_ROWS {
            let what = format!("{} rows: must be 1 to {MAX_ROWS}", rows.len());
            return fault(heading + 1, what);
        }
        Self::of_rows(state_hash.to_owned(), rows, heading + 2)
    }

    fn of_rows(state_hash: String, rows: &[&str], at: usize) -> Result<Self, RigFileError> {
        let mut beats: Vec<CuedBeat> = Vec::new();
        let mut times = Vec::with_capacity(rows.len());
        let mut end = None;
        let mut standing = [Standing::default(); 6];
        let mut common: Option<([f64; 3], bool)> = None;
        for (place, text) in rows.iter().enumerate() {
            let line = at + place;
            let row = row(text, place + 1, line)?;
            let [window, dwell, time_out_ms, ceiling] = row.figures;
            let same = ([window, dwell, ceiling], row.safe);
            if *common.get_or_insert(same) != same {
                let what = "window, dwell, ceiling and safe must be the same in all rows";
                return fault(line, what);
            }
            if end.is_some() {
                return fault(line, "a row after the end");
            }
            times.push(row.time);
            row.turn.iter().try_for_each(|turn| check_turn(turn, &standing, line))?;
            let before = beats.len();
            let beside = beats.last_mut().filter(|_| row.beat == before);
            if let (Some(beat), Some(turn)) = (beside, row.turn) {
                if (&beat.cues, beat.time_out_ms) != (&row.cues, time_out_ms) {
                    return fault(line, "the rows of a beat must wait for the same");
                }
                if beat.turns.len() > 1 || turn.turn.face != beat.turns[0].turn.face.opposite() {
                    return fault(line, "a beat is one turn, or two of opposite faces");
                }
                beat.turns.push(turn);
            } else if row.beat == before + 1 {
                check_cues(&row.cues, &standing, line)?;
                let all = Face::ALL.iter().all(|&face| row.cues.contains(&Cue::Settled(face)));
                if (beats.is_empty() || row.turn.is_none()) && !all {
                    let what =
                        "the first row and the last must wait until all six faces are settled";
                    return fault(line, what);
                }
                let turns = row.turn.into_iter().collect();
                let beat = CuedBeat { turns, cues: row.cues, time_out_ms };
                if beat.turns.is_empty() { end = Some(beat) } else { beats.push(beat) }
            } else {
                return fault(line, format!("beat {} after beat {before}", row.beat));
            }
            if let Some(turn) = row.turn {
                let face = &mut standing[turn.turn.face.index()];
                let angle_deg = turn.turn.amount.angle_deg();
                face.stop_deg += angle_deg;
                (face.to_deg, face.sign) = (turn.to_deg, angle_deg.signum());
            }
        }
        let last = at + rows.len() - 1;
        let Some(end) = end else {
            return fault(last, "the last row must be the end");
        };
        let ([window_deg, dwell_ms, ceiling_share], safe) = common.expect("there are rows");
        let sheet = CueSheet { window_deg, dwell_ms, beats, end };
        Ok(Self { state_hash, ceiling_share, safe, sheet, times })
    }
}

fn check_seal(lines: &[&str]) -> Result<(), RigFileError> {
    let last = lines.len();
    let changed = "the file was changed or cut off since it was written";
    let sealed = |line: &str, start: &str, value: &str| line == format!("{start}{value}\n");
    if last < 4 || !lines[last - 1].starts_with(SHA256) {
        return fault(last, format!("the last line must be '{SHA256}…': {changed}"));
    }
    let before: String = lines[..last - 1].concat();
    if !sealed(lines[last - 1], SHA256, &digest(before.as_bytes())) {
        return fault(last, format!("the SHA-256 does not fit what stands above: {changed}"));
    }
    let body: String = lines[..last - 2].concat();
    if !sealed(lines[last - 2], CRC32, &format!("{:08x}", crc32(body.as_bytes()))) {
        return fault(last - 1, format!("the CRC-32 does not fit what stands above: {changed}"));
    }
    if let Some(place) = body.lines().position(|line| line.ends_with('\r')) {
        return fault(place + 1, "lines must end with a line feed alone");
    }
    Ok(())
}
