//! Spectra on one grid: 380 to 780 nm in steps of 5 nm, 81 values.

use std::sync::LazyLock;

use dryturn_numerics::on_line;
use dryturn_scene::file::Spectrum as Kind;
use dryturn_scene::{CurveTable, Scene};
use dryturn_units::maths;

/// Number of wavelengths.
pub const SAMPLES: usize = 81;
/// First wavelength.
pub const FIRST_NM: f64 = 380.0;
/// Distance between wavelengths.
pub const STEP_NM: f64 = 5.0;

/// A value for each wavelength of the grid.
pub type Curve = [f64; SAMPLES];

/// The wavelength with the given index, nm.
#[must_use]
pub fn wavelength_nm(index: usize) -> f64 {
    FIRST_NM + STEP_NM * index as f64
}

/// A curve from a function of the wavelength in nm.
#[must_use]
pub fn curve(f: impl Fn(f64) -> f64) -> Curve {
    core::array::from_fn(|i| f(wavelength_nm(i)))
}

/// Sum over the grid of the product of curves, times the step: the integral
/// over wavelength by the rule of CIE 15 (plain sum at 5 nm).
#[must_use]
pub fn integrate<const N: usize>(factors: [&[f64]; N]) -> f64 {
    let sum: f64 = (0..SAMPLES).map(|i| factors.iter().map(|f| f[i]).product::<f64>()).sum();
    sum * STEP_NM
}

fn columns<const N: usize>(csv: &str) -> Vec<[f64; N]> {
    csv.lines()
        .filter(|line| line.starts_with(|c: char| c.is_ascii_digit()))
        .map(|line| {
            let mut values = line.split(',').skip(1).map(|v| v.parse().unwrap_or(f64::NAN));
            core::array::from_fn(|_| values.next().unwrap_or(f64::NAN))
        })
        .collect()
}

/// The CIE 1931 2° standard observer: x̄, ȳ, z̄ (CIE 15:2018; the table in
/// `cie/`).
pub static OBSERVER: LazyLock<[Curve; 3]> = LazyLock::new(|| {
    let rows = columns::<3>(include_str!("../../cie/observer_1931_2deg_5nm.csv"));
    core::array::from_fn(|k| core::array::from_fn(|i| rows[i][k]))
});

/// The CIE LED illuminants B1 to B5, BH1, RGB1, V1, V2 (CIE 15:2018; the table in
/// `cie/`).
static LEDS: LazyLock<[Curve; 9]> = LazyLock::new(|| {
    let rows = columns::<9>(include_str!("../../cie/led_illuminants_5nm.csv"));
    core::array::from_fn(|k| core::array::from_fn(|i| rows[i][k]))
});

/// S0, S1, S2 at 10 nm, CIE 15:2018.
static DAYLIGHT: LazyLock<Vec<[f64; 3]>> =
    LazyLock::new(|| columns(include_str!("../../cie/daylight_series_10nm.csv")));

/// Chromaticity (x, y) of CIE daylight at a correlated colour temperature of
/// 4000 to 25000 K (CIE 15:2018, D series).
#[must_use]
pub fn daylight_xy(cct_k: f64) -> [f64; 2] {
    let u = 1000.0 / cct_k;
    let x = if cct_k <= 7000.0 {
        0.244_063 + u * (0.099_11 + u * (2.967_8 - 4.607_0 * u))
    } else {
        0.237_040 + u * (0.247_48 + u * (1.901_8 - 2.006_4 * u))
    };
    [x, x * (2.870 - 3.000 * x) - 0.275]
}

/// Relative spectral power of CIE daylight, 100 at 560 nm (CIE 15:2018; M1 and
/// M2 are not rounded; linear between the 10 nm nodes).
#[must_use]
pub fn daylight(cct_k: f64) -> Curve {
    let [x, y] = daylight_xy(cct_k);
    let m = 0.0241 + 0.2562 * x - 0.7341 * y;
    let m1 = (-1.3515 - 1.7703 * x + 5.9114 * y) / m;
    let m2 = (0.0300 - 31.4424 * x + 30.0717 * y) / m;
    let node = |i: usize| {
        let [s0, s1, s2] = DAYLIGHT[i];
        s0 + m1 * s1 + m2 * s2
    };
    core::array::from_fn(|i| match i % 2 {
        0 => node(i / 2),
        _ => 0.5 * (node(i / 2) + node(i / 2 + 1)),
    })
}

/// Relative spectral power of a black body, 1 at 560 nm (Planck's law with
/// c₂ = 1.4388 × 10⁻² m K, as CIE 15 has it for illuminant A).
#[must_use]
pub fn black_body(temperature_k: f64) -> Curve {
    let planck = |nm: f64| {
        let um = nm / 1000.0;
        1.0 / (um * um * um * um * um * maths::exp_m1(1.4388e4 / (um * temperature_k)))
    };
    let at_560 = planck(560.0);
    curve(|nm| planck(nm) / at_560)
}

/// What lies beyond the wavelengths that were measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Beyond {
    /// Nothing: lamps and sensors.
    Nothing,
    /// The last value: reflectances (ASTM E308).
    Last,
}

/// A column of a measured table on the grid, linear between its wavelengths. Where the
/// table is finer than the grid, its mean over the grid's step: lines are not lost.
#[must_use]
pub fn resampled(table: &CurveTable, column: usize, beyond: Beyond) -> Curve {
    let (nm, values) = (&table.nm, &table.columns[column]);
    let (first, last) = (nm[0], nm[nm.len() - 1]);
    let outside = |value: f64| if beyond == Beyond::Last { value } else { 0.0 };
    let at = |wanted: f64| match nm.partition_point(|&n| n <= wanted) {
        0 => outside(values[0]),
        next if next == nm.len() && wanted > last => outside(values[next - 1]),
        next if next == nm.len() => values[next - 1],
        next => on_line(wanted, (nm[next - 1], values[next - 1]), (nm[next], values[next])),
    };
    curve(|middle| {
        let (from, to) = (middle - STEP_NM / 2.0, middle + STEP_NM / 2.0);
        let within = nm.partition_point(|&n| n <= from)..nm.partition_point(|&n| n < to);
        if within.len() < 2 {
            return at(middle);
        }
        // By trapezoids over what of the step the table covers.
        let (low, high) = (from.max(first), to.min(last));
        let inner = within.map(|i| (nm[i], values[i])).filter(|&(n, _)| n > low && n < high);
        let (mut sum, mut before) = (0.0, (low, at(low)));
        for point in inner.chain([(high, at(high))]) {
            sum += (point.0 - before.0) * (point.1 + before.1) / 2.0;
            before = point;
        }
        sum += (low - from) * outside(values[0]) + (to - high) * outside(values[nm.len() - 1]);
        sum / STEP_NM
    })
}

/// Relative spectral power of a kind of lamp; `cct_k` where the kind has one,
/// `measured` where it is a table.
#[must_use]
pub fn relative_power(kind: Kind, cct_k: f64, measured: Option<&CurveTable>) -> Curve {
    let led = |number: usize| LEDS[number];
    match kind {
        Kind::Daylight => daylight(cct_k),
        Kind::Thermal => black_body(cct_k),
        Kind::LedB1 => led(0),
        Kind::LedB2 => led(1),
        Kind::LedB3 => led(2),
        Kind::LedB4 => led(3),
        Kind::LedB5 => led(4),
        Kind::LedBh1 => led(5),
        Kind::LedRgb1 => led(6),
        Kind::LedV1 => led(7),
        Kind::LedV2 => led(8),
        // A scene that names no table is refused when it is read.
        Kind::Measured => measured.map_or([1.0; SAMPLES], |t| resampled(t, 0, Beyond::Nothing)),
    }
}

/// Spectral power per lumen, W/(nm·lm): with the luminous efficacy of 683 lm/W
/// at the peak of ȳ (SI, candela).
#[must_use]
pub fn per_lumen(relative: &Curve) -> Curve {
    let lumens = 683.0 * integrate([relative, &OBSERVER[1]]);
    relative.map(|value| value / lumens)
}

/// Spectral power per lumen of a scene's lamp.
#[must_use]
pub fn lamp_per_lumen(scene: &Scene, lamp: usize) -> Curve {
    let lamp = &scene.file().lamps[lamp];
    per_lumen(&relative_power(lamp.spectrum, lamp.cct_k, scene.curve(&lamp.spectrum_csv)))
}

/// Spectral power per lumen of the room's light.
#[must_use]
pub fn room_per_lumen(scene: &Scene) -> Curve {
    let room = &scene.file().surroundings;
    let table = scene.curve(&room.ambient_spectrum_csv);
    per_lumen(&relative_power(room.ambient_spectrum, room.ambient_cct_k, table))
}

/// Correlated colour temperature of a chromaticity (C. S. McCamy, *Correlated color
/// temperature as an explicit function of chromaticity coordinates*, Color Res. Appl.
/// 17, 1992), K; good from 2000 to 12500 K near the Planckian locus.
#[must_use]
pub fn cct_mccamy([x, y]: [f64; 2]) -> f64 {
    let n = (x - 0.3320) / (y - 0.1858);
    -449.0 * n * n * n + 3525.0 * n * n - 6823.3 * n + 5520.33
}

/// Tristimulus values of a reflectance under a lamp, Y of a perfect white 100
/// (ASTM E308 by plain sum on the grid); `None` stands for the perfect white.
#[must_use]
pub fn tristimulus(lamp: &[f64], reflectance: Option<&[f64]>, observer: [&[f64]; 3]) -> [f64; 3] {
    let white = [1.0; SAMPLES];
    let surface = reflectance.unwrap_or(&white);
    let scale = 100.0 / integrate([lamp, observer[1]]);
    observer.map(|bar| scale * integrate([lamp, surface, bar]))
}

/// Camera signals of a reflectance under a lamp, divided by the green signal of
/// a perfect white.
#[must_use]
pub fn camera_signal(lamp: &[f64], reflectance: &[f64], sensor: [&[f64]; 3]) -> [f64; 3] {
    let white = integrate([lamp, sensor[1]]);
    sensor.map(|channel| integrate([lamp, reflectance, channel]) / white)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn table(points: &[(f64, f64)]) -> CurveTable {
        let (nm, values) = points.iter().copied().unzip();
        CurveTable { nm, columns: vec![values] }
    }

    /// A line between two wavelengths of the grid keeps its power; a table on the grid
    /// stays as it is; a coarse one is linear.
    #[test]
    fn tables_of_every_fineness_keep_their_power() {
        let line = [(380.0, 0.0), (588.0, 0.0), (589.0, 1.0), (589.9, 0.0), (780.0, 0.0)];
        let found = resampled(&table(&line), 0, Beyond::Nothing);
        assert!((found.iter().sum::<f64>() * STEP_NM - 0.95).abs() < 1e-12);
        assert!((found[42] * STEP_NM - 0.95).abs() < 1e-12, "587.5 to 592.5 nm");
        let own: Vec<(f64, f64)> =
            (0..SAMPLES).map(|i| (wavelength_nm(i), (i * i % 17) as f64)).collect();
        let found = resampled(&table(&own), 0, Beyond::Nothing);
        assert!(found.iter().zip(&own).all(|(a, b)| *a == b.1));
        let found = resampled(&table(&[(400.0, 1.0), (700.0, 4.0)]), 0, Beyond::Last);
        assert_eq!([found[0], found[4], found[24], found[80]], [1.0, 1.0, 2.0, 4.0]);
        assert_eq!(resampled(&table(&[(400.0, 1.0), (700.0, 4.0)]), 0, Beyond::Nothing)[80], 0.0);
        // Nanometre by nanometre, a smooth curve hardly changes, and keeps its sum.
        let fine: Vec<(f64, f64)> =
            (360..=800).map(|nm| (f64::from(nm), 2.0 + maths::sin(f64::from(nm) / 25.0))).collect();
        let found = resampled(&table(&fine), 0, Beyond::Nothing);
        let smooth = curve(|nm| 2.0 + maths::sin(nm / 25.0));
        assert!(found.iter().zip(&smooth).all(|(a, b)| (a - b).abs() < 0.005));
    }
}
