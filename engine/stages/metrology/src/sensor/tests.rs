//! Against the linear model of EMVA 1288 (Release 4.0; from memory): a code is K times the electrons
//! (shot noise: variance = mean) and the dark signal, and rounding adds 1/12. What goes in
//! must come out.

use dryturn_units::noise::Seed;

use super::*;

const BITS: u32 = 12;
const SIZE: usize = 128;

/// Codes of a flat picture; each of the four colour planes gets its share of the light.
struct Sensor {
    gain: f64,
    dark_e: f64,
    black: f64,
    full_e: f64,
    planes: [f64; 4],
}

const SENSOR: Sensor =
    Sensor { gain: 0.4, dark_e: 4.0, black: 64.0, full_e: 1e9, planes: [0.5, 1.0, 0.9, 0.6] };

impl Sensor {
    fn picture(&self, electrons: f64, seed: u64) -> RawPicture {
        let mut noise = Seed::new(seed).stream("flat", 0, 0);
        let code = |i: usize| {
            let (x, y) = (i % SIZE, i / SIZE);
            // Light that falls off to one side by a tenth: photon transfer does not mind.
            let mean =
                electrons * self.planes[x % 2 + 2 * (y % 2)] * (1.0 - 0.1 * x as f64 / 128.0);
            let e = (mean + mean.sqrt() * noise.gaussian()).min(self.full_e);
            let code = self.gain * (e + self.dark_e * noise.gaussian()) + self.black;
            code.round().clamp(0.0, 4095.0) as u16
        };
        let codes = (0..SIZE * SIZE).map(code).collect();
        RawPicture { name: format!("{seed}.png"), width: SIZE, height: SIZE, codes }
    }

    fn pairs(&self, lights: &[f64]) -> Vec<Pair> {
        let pair = |(k, &light): (usize, &f64)| {
            let seed = 2 * k as u64;
            let pictures = [self.picture(light, seed), self.picture(light, seed + 1)];
            Pair { light_ratio: light, pictures }
        };
        lights.iter().enumerate().map(pair).collect()
    }
}

/// 0 to beyond saturation (9900 electrons in the lightest plane).
fn lights() -> Vec<f64> {
    (0..16).map(|k| 700.0 * f64::from(k)).collect()
}

#[test]
fn gain_noise_black_and_saturation_come_back() {
    for mosaic in [true, false] {
        let sensor = Sensor { planes: if mosaic { SENSOR.planes } else { [1.0; 4] }, ..SENSOR };
        let fit = fit_sensor(&sensor.pairs(&lights()), BITS, mosaic).unwrap();
        let (gain, error) = fit.codes_per_e;
        assert!((gain - 0.4).abs() < 4.0 * error && error < 0.004, "{gain} ± {error}");
        let (dark, error) = fit.dark_noise_e.unwrap();
        assert!((dark - 4.0).abs() < 4.0 * error && error < 0.08, "{dark} ± {error}");
        assert!((fit.black_code - 64.0).abs() < 0.1);
        assert!((fit.black_level_share - 64.0 / 4095.0).abs() < 1e-4);
        assert!(fit.saturation_seen);
        assert!((fit.full_well_e / ((4095.0 - 64.0) / 0.4) - 1.0).abs() < 0.02);
        assert!((fit.gain_ratio - 1.0).abs() < 1e-9, "the converter ends first");
        assert!(fit.linearity_share.unwrap()[0] < 0.005, "{:?}", fit.linearity_share);
        assert!(fit.warnings.is_empty(), "{:?}", fit.warnings);
        assert_eq!(fit.planes.len(), if mosaic { 4 } else { 1 });
    }
}

/// A pixel that is full before the converter is: the full well is the pixel's, and the
/// scene's gain below 1 says how far it fills the converter.
#[test]
fn a_full_well_below_full_scale_is_seen() {
    let sensor = Sensor { full_e: 6000.0, planes: [1.0; 4], ..SENSOR };
    let fit = fit_sensor(&sensor.pairs(&lights()), BITS, false).unwrap();
    assert!(fit.saturation_seen && (fit.full_well_e / 6000.0 - 1.0).abs() < 0.02, "{fit:?}");
    let wanted = 0.4 * 6000.0 / (4095.0 - 64.0);
    assert!((fit.gain_ratio / wanted - 1.0).abs() < 0.02);
}

/// Rounding hides a dark noise below a good third of a code.
#[test]
fn dark_noise_below_the_steps_is_left_out() {
    let sensor = Sensor { dark_e: 0.5, planes: [1.0; 4], ..SENSOR };
    let fit = fit_sensor(&sensor.pairs(&lights()), BITS, false).unwrap();
    assert_eq!(fit.dark_noise_e, None);
    assert!(fit.warnings[0].contains("hide the dark noise"));
}

#[test]
fn codes_that_are_not_linear_are_seen() {
    let mut pairs = SENSOR.pairs(&lights());
    for picture in pairs.iter_mut().flat_map(|pair| &mut pair.pictures) {
        for code in &mut picture.codes {
            let linear = (f64::from(*code) / 4095.0).clamp(0.0, 1.0);
            *code = (4095.0 * dryturn_units::maths::pow(linear, 0.8)).round() as u16;
        }
    }
    let fit = fit_sensor(&pairs, BITS, true).unwrap();
    assert!(fit.warnings.iter().any(|w| w.contains("straight line")), "{:?}", fit.warnings);
}

#[test]
fn pictures_that_do_not_tell_are_refused() {
    let good = SENSOR.pairs(&[0.0, 1000.0, 2000.0, 3000.0]);
    let refused = |change: &dyn Fn(&mut Vec<Pair>)| {
        let mut pairs = good.clone();
        change(&mut pairs);
        fit_sensor(&pairs, BITS, false).unwrap_err().to_string()
    };
    assert!(fit_sensor(&good, BITS, false).is_ok());
    let said = refused(&|p| drop(p.remove(0)));
    assert!(said.contains("no pair of dark pictures"), "{said}");
    let said = refused(&|p| p.truncate(3));
    assert!(said.contains("2 light levels"), "{said}");
    let said = refused(&|p| {
        p[1].pictures[1] = RawPicture { width: 64, height: 256, ..p[1].pictures[1].clone() };
    });
    assert!(said.contains("3.png: 64 × 256"), "{said}");
    let said = refused(&|p| p[2].pictures[1].codes = p[2].pictures[0].codes.clone());
    assert!(said.contains("5.png: the same codes as 4.png"), "{said}");
    let said = refused(&|p| p[3].pictures[0].codes[7] = 4096);
    assert!(said.contains("6.png: a code is 4096"), "{said}");
    let said = refused(&|p| p[1].pictures = [SENSOR.picture(0.0, 20), SENSOR.picture(0.0, 21)]);
    assert!(said.contains("20.png: mean code") && said.contains("no lighter"), "{said}");
    let bright = SENSOR.pairs(&[0.0, 1000.0, 30_000.0, 40_000.0]);
    let said = fit_sensor(&bright, BITS, false).unwrap_err().to_string();
    assert!(said.contains("4.png: ") && said.contains("saturated; 1 light levels"), "{said}");
    // The same noise in every light: averaged, or no raw pictures.
    let flat = |k: usize, light: f64, seed: u64| {
        let mut picture = SENSOR.picture(0.0, seed);
        picture.codes.iter_mut().for_each(|c| *c += light as u16);
        Pair { light_ratio: light, pictures: [picture, SENSOR.picture(0.0, 50 + k as u64)] }
    };
    let pairs: Vec<Pair> = (0..4)
        .map(|k| {
            let mut pair = flat(k, 500.0 * k as f64, 30 + k as u64);
            pair.pictures[1].codes.iter_mut().for_each(|c| *c += 500 * k as u16);
            pair
        })
        .collect();
    assert_eq!(fit_sensor(&pairs, BITS, false), Err(SensorError::NoTransfer));
    assert!(matches!(fit_sensor(&good, 17, false), Err(SensorError::Bits { bits: 17 })));
}

#[test]
fn lists_are_read_strictly() {
    let said = |text: &str| pair_list(text).unwrap_err().to_string();
    let rows = pair_list("light_ratio,first,second\n# dark\n0,a.png,b.png\n\n2.5, c.png ,d.png\n")
        .unwrap();
    assert_eq!((rows[1].line, rows[1].light_ratio), (5, 2.5));
    assert_eq!(rows[1].files, ["c.png", "d.png"]);
    assert!(said("first,second\n").contains("must be light_ratio,first,second"));
    assert!(said("light_ratio,first,second\n1,a.png").contains("line 2: 1 pictures: must be two"));
    assert!(said("light_ratio,first,second\n1,a.png,").contains("must be two"));
    assert!(said("light_ratio,first,second\n-1,a,b").contains("light_ratio is \"-1\""));
    assert!(said("light_ratio,first,second\n1,a,a").contains("a stands there twice"));
}
