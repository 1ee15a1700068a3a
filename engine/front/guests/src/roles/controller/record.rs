//! The records of a controller's ticks: fixed, little-endian, without padding.
//!
//! | to the guest, 176 bytes | | from the guest, 160 bytes | |
//! | --- | --- | --- | --- |
//! | 0 | u32 0x44525431 | 0 | u32 0x44525432 |
//! | 4 | u32 flags: bit 0, the run has ended | 4 | u32 flags: bit 0, the guest gives up |
//! | 8 | u64 tick | 8 | u64 the same tick |
//! | 16 | f64 time, s | 16 | of each axis: three f64 |
//! | 24 | f64 bus, V | | |
//! | 32 | of each axis: i32 encoder counts, u32 number of the move, f64 current, A, f64 target, degrees | | |
//!
//! An axis's three numbers are a current (A), 0, 0; or an angle (degrees since homing), a speed
//! (degrees/s), a torque that is fed forward (N·m).

use super::{AxisAnswer, ControlAnswer, ControlMode, ControlView};
use crate::fault::FaultKind;

/// Bytes of a record to the guest.
pub const VIEW_BYTES: usize = 176;
/// Bytes of a record from the guest.
pub const ANSWER_BYTES: usize = 160;
/// What a record to the guest begins with.
pub const VIEW_MAGIC: u32 = 0x4452_5431;
/// What a record from the guest begins with.
pub const ANSWER_MAGIC: u32 = 0x4452_5432;

/// Largest number in an answer, either way.
const LARGEST: f64 = 1e6;

/// The record of what a guest sees; with `ends` the one that ends the run.
#[must_use]
pub fn view(view: &ControlView, ends: bool) -> [u8; VIEW_BYTES] {
    let mut bytes = [0; VIEW_BYTES];
    let mut at = 0;
    let mut put = |piece: &[u8]| {
        bytes[at..at + piece.len()].copy_from_slice(piece);
        at += piece.len();
    };
    put(&VIEW_MAGIC.to_le_bytes());
    put(&u32::from(ends).to_le_bytes());
    put(&view.tick.to_le_bytes());
    put(&view.time_s.to_le_bytes());
    put(&view.bus_v.to_le_bytes());
    for axis in &view.axes {
        put(&axis.encoder_counts.to_le_bytes());
        put(&axis.move_number.to_le_bytes());
        put(&axis.current_a.to_le_bytes());
        put(&axis.target_deg.to_le_bytes());
    }
    debug_assert_eq!(at, VIEW_BYTES);
    bytes
}

/// Reads bytes front to back.
struct Bytes<'a>(&'a [u8]);

impl Bytes<'_> {
    /// The next `N`; zeros where there are no more.
    fn next<const N: usize>(&mut self) -> [u8; N] {
        let (next, rest) = self.0.split_first_chunk().unwrap_or((&[0; N], &[]));
        self.0 = rest;
        *next
    }
}

/// What a guest's record says.
///
/// # Errors
/// The guest gives up; another magic, tick or flag than there must be; a number that is not finite,
/// or larger than a million.
pub fn answer(bytes: &[u8], mode: ControlMode, tick: u64) -> Result<ControlAnswer, FaultKind> {
    let mut bytes = Bytes(bytes);
    let wrong = |field: &str, value: String, allowed: String| {
        Err(FaultKind::BadRecord { field: field.to_owned(), value, allowed })
    };
    let magic = u32::from_le_bytes(bytes.next());
    if magic != ANSWER_MAGIC {
        return wrong("magic", format!("{magic:#010x}"), format!("{ANSWER_MAGIC:#010x}"));
    }
    let flags = u32::from_le_bytes(bytes.next());
    if flags > 1 {
        return wrong("flags", format!("{flags:#x}"), "0, or 1 to give up".to_owned());
    }
    let echo = u64::from_le_bytes(bytes.next());
    if echo != tick {
        return wrong("tick", echo.to_string(), format!("{tick}, as asked"));
    }
    let mut axes = [AxisAnswer::Current { current_a: 0.0 }; 6];
    for (number, axis) in axes.iter_mut().enumerate() {
        let [a, b, c] = core::array::from_fn(|_| f64::from_le_bytes(bytes.next()));
        for (name, value) in [("a", a), ("b", b), ("c", c)] {
            let unused = mode == ControlMode::Current && name != "a";
            let fine = if unused { value == 0.0 } else { value.abs() <= LARGEST };
            if !fine {
                let allowed = if unused {
                    "0 where it answers currents".to_owned()
                } else {
                    format!("a finite number from {} to {LARGEST}", -LARGEST)
                };
                return wrong(&format!("axes[{number}].{name}"), format!("{value:e}"), allowed);
            }
        }
        *axis = match mode {
            ControlMode::Current => AxisAnswer::Current { current_a: a },
            ControlMode::Setpoint => {
                AxisAnswer::Setpoint { angle_deg: a, speed_deg_s: b, torque_n_m: c }
            }
        };
    }
    if flags == 1 { Err(FaultKind::GaveUp) } else { Ok(ControlAnswer { axes }) }
}

#[cfg(test)]
mod tests {
    use super::super::AxisView;
    use super::*;

    #[test]
    fn views_are_laid_out_as_the_table_says() {
        let mut shown = ControlView { tick: 3, time_s: 0.5, bus_v: 48.0, ..Default::default() };
        shown.axes[5] =
            AxisView { encoder_counts: -2, move_number: 9, current_a: 1.5, target_deg: -90.0 };
        let bytes = view(&shown, true);
        assert_eq!(&bytes[..8], b"1TRD\x01\0\0\0");
        assert_eq!(bytes[8..16], 3u64.to_le_bytes());
        assert_eq!(bytes[16..24], 0.5f64.to_le_bytes());
        assert_eq!(bytes[24..32], 48f64.to_le_bytes());
        let last = 32 + 5 * 24;
        assert_eq!(bytes[last..last + 4], (-2i32).to_le_bytes());
        assert_eq!(bytes[last + 4..last + 8], 9u32.to_le_bytes());
        assert_eq!(bytes[last + 8..last + 16], 1.5f64.to_le_bytes());
        assert_eq!(bytes[last + 16..], (-90f64).to_le_bytes());
    }

    fn reply(tick: u64, at: usize, value: f64) -> Vec<u8> {
        let mut bytes = vec![0; ANSWER_BYTES];
        bytes[..4].copy_from_slice(&ANSWER_MAGIC.to_le_bytes());
        bytes[8..16].copy_from_slice(&tick.to_le_bytes());
        bytes[16 + 8 * at..24 + 8 * at].copy_from_slice(&value.to_le_bytes());
        bytes
    }

    #[test]
    fn answers_are_read_strictly() {
        use ControlMode::{Current, Setpoint};
        let read = answer(&reply(7, 15, -2.5), Current, 7).unwrap();
        assert_eq!(read.axes[5], AxisAnswer::Current { current_a: -2.5 });
        let read = answer(&reply(7, 16, -2.5), Setpoint, 7).unwrap();
        let wanted = AxisAnswer::Setpoint { angle_deg: 0.0, speed_deg_s: -2.5, torque_n_m: 0.0 };
        assert_eq!(read.axes[5], wanted);
        let field = |bytes: &[u8], mode| match answer(bytes, mode, 7) {
            Err(FaultKind::BadRecord { field, .. }) => field,
            other => panic!("{other:?}"),
        };
        assert_eq!(field(&reply(8, 0, 0.0), Current), "tick");
        assert_eq!(field(&reply(7, 16, -2.5), Current), "axes[5].b");
        for huge in [f64::NAN, f64::INFINITY, -1.1e6] {
            assert_eq!(field(&reply(7, 3, huge), Setpoint), "axes[1].a");
        }
        let mut other = reply(7, 0, 0.0);
        other[4] = 2;
        assert_eq!(field(&other, Current), "flags");
        other[0] = 0;
        assert_eq!(field(&other, Current), "magic");
    }
}
