//! CIELAB and the colour difference CIEDE2000.

use core::f64::consts::TAU;

use crate::colour::LinearRgb;
use crate::maths;
use crate::{degrees, radians};

/// CIE 1931 tristimulus values, in any one scale.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Xyz(pub [f64; 3]);

/// CIELAB: lightness 0 to 100, and two opponent coordinates.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lab(pub [f64; 3]);

/// From linear sRGB to tristimulus values, D65 (IEC 61966-2-1:1999), four decimals as
/// published.
const SRGB_TO_XYZ: [[f64; 3]; 3] =
    [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]];

impl Xyz {
    /// Tristimulus values of a linear sRGB colour; Y is 1 for white.
    #[must_use]
    pub fn of_srgb(linear: LinearRgb) -> Self {
        Self(SRGB_TO_XYZ.map(|row| row.iter().zip(linear.0).map(|(m, v)| m * v).sum()))
    }

    /// CIELAB for a white of the same scale, light and wavelengths (CIE 15:2018).
    #[must_use]
    pub fn to_lab(self, white: Self) -> Lab {
        const KNEE: f64 = 216.0 / 24389.0;
        const SLOPE: f64 = 24389.0 / 27.0;
        let f = |k: usize| {
            let t = self.0[k] / white.0[k];
            if t > KNEE { maths::cbrt(t) } else { (SLOPE * t + 16.0) / 116.0 }
        };
        let [x, y, z] = [f(0), f(1), f(2)];
        Lab([116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)])
    }
}

impl Lab {
    /// CIEDE2000 with all three weights 1 (G. Sharma, W. Wu and E. N. Dalal, *The
    /// CIEDE2000 color-difference formula*, Color Res. Appl. 30, 2005).
    #[must_use]
    pub fn difference(self, other: Self) -> f64 {
        let ([l1, a1, b1], [l2, a2, b2]) = (self.0, other.0);
        let chroma = |a: f64, b: f64| (a * a + b * b).sqrt();
        let seventh = |c: f64| {
            let c7 = maths::pow(c, 7.0);
            (c7 / (c7 + 6_103_515_625.0)).sqrt()
        };
        let g = 0.5 * (1.0 - seventh((chroma(a1, b1) + chroma(a2, b2)) / 2.0));
        let (a1, a2) = ((1.0 + g) * a1, (1.0 + g) * a2);
        let (c1, c2) = (chroma(a1, b1), chroma(a2, b2));
        // Hues in degrees, 0 to 360; 0 for grey.
        let hue = |a: f64, b: f64| {
            let angle = if a == 0.0 && b == 0.0 { 0.0 } else { maths::atan2(b, a) };
            degrees(if angle < 0.0 { angle + TAU } else { angle })
        };
        let (h1, h2) = (hue(a1, b1), hue(a2, b2));
        let grey = c1 * c2 == 0.0;
        let turn = match h2 - h1 {
            _ if grey => 0.0,
            d if d > 180.0 => d - 360.0,
            d if d < -180.0 => d + 360.0,
            d => d,
        };
        let (dl, dc) = (l2 - l1, c2 - c1);
        let dh = 2.0 * (c1 * c2).sqrt() * maths::sin(radians(turn) / 2.0);
        let (l, c) = ((l1 + l2) / 2.0, (c1 + c2) / 2.0);
        let h = match h1 + h2 {
            sum if grey => sum,
            sum if (h1 - h2).abs() <= 180.0 => sum / 2.0,
            sum if sum < 360.0 => (sum + 360.0) / 2.0,
            sum => (sum - 360.0) / 2.0,
        };
        let cos = |deg: f64| maths::cos(radians(deg));
        let t = 1.0 - 0.17 * cos(h - 30.0) + 0.24 * cos(2.0 * h) + 0.32 * cos(3.0 * h + 6.0)
            - 0.20 * cos(4.0 * h - 63.0);
        let off = (h - 275.0) / 25.0;
        let rotation = -maths::sin(radians(60.0 * maths::exp(-off * off))) * 2.0 * seventh(c);
        let l50 = (l - 50.0) * (l - 50.0);
        let dl = dl / (1.0 + 0.015 * l50 / (20.0 + l50).sqrt());
        let dc = dc / (1.0 + 0.045 * c);
        let dh = dh / (1.0 + 0.015 * c * t);
        (dl * dl + dc * dc + dh * dh + rotation * dc * dh).max(0.0).sqrt()
    }
}
