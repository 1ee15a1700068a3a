//! Colour values with their encoding in the type, and the sRGB transfer
//! function of IEC 61966-2-1:1999.

use std::sync::LazyLock;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::maths;

/// Linear light, red green blue; 1 is the white point, values may exceed it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct LinearRgb(pub [f64; 3]);

/// sRGB-encoded, 8 bit, red green blue: what a picture file holds.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
pub struct EncodedRgb8(pub [u8; 3]);

impl LinearRgb {
    /// Encoded, clipped to 0…1 and rounded to the nearest of 256 steps.
    #[must_use]
    pub fn encode(self) -> EncodedRgb8 {
        EncodedRgb8(self.0.map(encode_srgb8))
    }
}

impl EncodedRgb8 {
    /// Summed absolute difference of the three channels, 0…765.
    #[must_use]
    pub fn summed_difference(self, other: Self) -> u32 {
        self.0.iter().zip(other.0).map(|(&a, b)| u32::from(a.abs_diff(b))).sum()
    }

    /// Back to linear light.
    #[must_use]
    pub fn decode(self) -> LinearRgb {
        LinearRgb(self.0.map(decode_srgb8))
    }
}

/// Linear light to encoded value, both 0…1 (IEC 61966-2-1). Values below the
/// knee, negative ones included, stay on the linear branch; nothing is clipped.
#[must_use]
pub fn encode_srgb(linear: f64) -> f64 {
    if linear <= 0.003_130_8 {
        12.92 * linear
    } else {
        1.055 * maths::pow(linear, 1.0 / 2.4) - 0.055
    }
}

/// Encoded value to linear light, both 0…1 (IEC 61966-2-1).
#[must_use]
pub fn decode_srgb(encoded: f64) -> f64 {
    if encoded <= 0.040_45 { encoded / 12.92 } else { maths::pow((encoded + 0.055) / 1.055, 2.4) }
}

static LINEAR: LazyLock<[f64; 256]> =
    LazyLock::new(|| core::array::from_fn(|code| decode_srgb(code as f64 / 255.0)));

/// 8-bit sRGB code to linear light, 0…1; the same as `decode_srgb(code / 255)`, by table.
#[must_use]
pub fn decode_srgb8(code: u8) -> f64 {
    LINEAR[usize::from(code)]
}

const COARSE_STEPS: usize = 4096;

/// `upper[k]` is the linear value at which code `k` gives way to `k + 1`;
/// `coarse[i]` the code of linear value `i / COARSE_STEPS`.
struct EncodeTable {
    upper: [f64; 255],
    coarse: [u8; COARSE_STEPS],
}

static TABLE: LazyLock<EncodeTable> = LazyLock::new(|| {
    let upper = core::array::from_fn(|k| decode_srgb((k as f64 + 0.5) / 255.0));
    let mut code = 0;
    let coarse = core::array::from_fn(|i| {
        while code < 255 && upper[code] <= i as f64 / COARSE_STEPS as f64 {
            code += 1;
        }
        code as u8
    });
    EncodeTable { upper, coarse }
});

/// Linear light, clipped to 0…1, to the nearest 8-bit sRGB code; the same as
/// rounding `255 · encode_srgb(v)`, by table. NaN gives 0.
#[must_use]
pub fn encode_srgb8(linear: f64) -> u8 {
    if linear >= 1.0 {
        return 255;
    }
    if linear.is_nan() || linear <= 0.0 {
        return 0;
    }
    let table = &*TABLE;
    let mut code = table.coarse[(linear * COARSE_STEPS as f64) as usize];
    while code < 255 && table.upper[usize::from(code)] <= linear {
        code += 1;
    }
    code
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn table_equals_the_formula() {
        for i in 0..=100_000 {
            let v = f64::from(i) / 100_000.0;
            assert_eq!(encode_srgb8(v), (255.0 * encode_srgb(v)).round() as u8, "{v}");
        }
    }

    #[test]
    fn encode_and_decode_cancel() {
        for code in 0..=255 {
            assert_eq!(EncodedRgb8([code; 3]).decode().encode(), EncodedRgb8([code; 3]));
        }
    }

    #[test]
    fn out_of_range_light_is_clipped() {
        let clipped = LinearRgb([-0.5, 7.0, f64::NAN]).encode();
        assert_eq!(clipped, EncodedRgb8([0, 255, 0]));
    }
}
