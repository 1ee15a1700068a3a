//! One pair of pictures after the other, so that no more than two need be in memory.

use super::plane::{Plane, PlaneError, measure};
use super::raw::{Level, RawPicture, level};
use super::{Pair, SensorError, SensorFit, combined, highest_code};

/// Measures a sensor from pairs of pictures as they are read. Of each it keeps the name, a
/// fingerprint and a few sums.
pub struct SensorMeter {
    bits: u32,
    /// The places of the 2 × 2 block, or one for all pixels.
    places: Vec<Option<[usize; 2]>>,
    /// Width and height of the first picture.
    size_px: Option<(usize, usize)>,
    prints: Vec<(String, u64)>,
    pairs: Vec<Measured>,
}

/// What is kept of a pair.
struct Measured {
    name: String,
    /// By place.
    levels: Vec<Level>,
}

impl SensorMeter {
    /// For pairs of these lights (any unit, 0 is dark). `mosaic` says that the pixels have
    /// colour filters: then each of the four places of the 2 × 2 block is measured by itself.
    ///
    /// # Errors
    /// Bits other than 8 to 16, no dark pair, or fewer than three levels of light.
    pub fn new(lights: &[f64], bits: u32, mosaic: bool) -> Result<Self, SensorError> {
        if !(8..=16).contains(&bits) {
            return Err(SensorError::Bits { bits });
        }
        let flats = lights.iter().filter(|light| **light > 0.0).count();
        if flats == lights.len() {
            return Err(SensorError::NoDark);
        }
        if flats < 3 {
            return Err(SensorError::Levels { given: flats });
        }
        let places =
            if mosaic { [[0, 0], [1, 0], [0, 1], [1, 1]].map(Some).to_vec() } else { vec![None] };
        Ok(Self { bits, places, size_px: None, prints: Vec::new(), pairs: Vec::new() })
    }

    /// Takes another pair.
    ///
    /// # Errors
    /// A picture of another size, one with codes that the bits cannot hold, or one that was
    /// given before.
    pub fn add(&mut self, pair: &Pair) -> Result<(), SensorError> {
        pair.pictures.iter().try_for_each(|picture| self.check(picture))?;
        let highest = highest_code(self.bits);
        let of = |place: &Option<[usize; 2]>| {
            let grid = place.map_or((0, 0, 1), |[column, row]| (column, row, 2));
            level(pair.light_ratio, &pair.pictures, grid, highest)
        };
        let levels = self.places.iter().map(of).collect();
        self.pairs.push(Measured { name: pair.pictures[0].name.clone(), levels });
        Ok(())
    }

    fn check(&mut self, picture: &RawPicture) -> Result<(), SensorError> {
        let RawPicture { name, width, height, codes } = picture;
        let (name, width, height) = (name.clone(), *width, *height);
        let (wanted_width, wanted_height) = *self.size_px.get_or_insert((width, height));
        if (width, height) != (wanted_width, wanted_height) || codes.len() != width * height {
            return Err(SensorError::Size { name, width, height, wanted_width, wanted_height });
        }
        if width < 32 || height < 32 {
            return Err(SensorError::Small { name, width, height });
        }
        let (bits, highest) = (self.bits, highest_code(self.bits));
        if let Some(&code) = codes.iter().find(|code| **code > highest) {
            return Err(SensorError::Code { name, code, highest, bits });
        }
        // Without any noise at all, saturated pictures are alike.
        if codes.iter().any(|code| *code != highest) {
            let print = fingerprint(codes);
            if let Some((first, _)) = self.prints.iter().find(|(_, other)| *other == print) {
                return Err(SensorError::Same { first: first.clone(), second: name });
            }
            self.prints.push((name, print));
        }
        Ok(())
    }

    /// What all pairs tell.
    ///
    /// # Errors
    /// Pictures that do not show what they must.
    pub fn fit(mut self) -> Result<SensorFit, SensorError> {
        let light = |pair: &Measured| pair.levels[0].light;
        self.pairs.sort_by(|a, b| light(a).total_cmp(&light(b)));
        let highest = highest_code(self.bits);
        let plane = |(number, place): (usize, &Option<[usize; 2]>)| {
            let levels: Vec<Level> = self.pairs.iter().map(|pair| pair.levels[number]).collect();
            measure(&levels, *place, highest).map_err(|fault| self.named(fault))
        };
        let planes: Result<Vec<Plane>, SensorError> =
            self.places.iter().enumerate().map(plane).collect();
        Ok(combined(planes?, self.bits))
    }

    fn named(&self, fault: PlaneError) -> SensorError {
        let name = |k: usize| self.pairs[k].name.clone();
        match fault {
            PlaneError::NoLight { level, mean, dark } => {
                SensorError::NoLight { name: name(level), mean, dark }
            }
            PlaneError::Saturated { level, share, usable } => {
                SensorError::Saturated { name: name(level), percent: 100.0 * share, usable }
            }
            PlaneError::Bright { usable, most } => SensorError::Bright { usable, most },
            PlaneError::NoTransfer => SensorError::NoTransfer,
        }
    }
}

/// FNV-1a over the codes, 64 bits: two pictures with noise of their own come out alike once in
/// 10¹⁹.
fn fingerprint(codes: &[u16]) -> u64 {
    codes.iter().fold(0xcbf2_9ce4_8422_2325, |hash, &code| {
        (hash ^ u64::from(code)).wrapping_mul(0x0100_0000_01b3)
    })
}
