//! A facelet in a camera's picture, taken apart where its pixels are of more than one
//! brightness: a shadow's edge crosses it, or a lamp is mirrored on some of it.

use dryturn_cube::Facelet;
use dryturn_handoff::Frame;

use super::shown::Pixels;

/// Two heaps of brightness are two parts where their means explain at least this share of the
/// variance (of a normal distribution the best cut explains 2/π, of an even one 3/4),
const LEAST_EXPLAINED: f64 = 0.82;
/// lie at least so many codes apart, in the mean of the three channels,
const LEAST_CODES: f64 = 12.0;
/// and each holds at least so many pixels, and this share of the facelet's.
const FEWEST_PIXELS: usize = 8;
const LEAST_SHARE: f64 = 0.08;
/// How often a heap is cut in two at most.
const CUTS: usize = 2;

/// Pixels of one facelet in one camera that are about equally bright.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Part {
    pub(crate) facelet: Facelet,
    pub(crate) camera: usize,
    /// Share of the facelet's pixels in this camera.
    pub(crate) share: f64,
    pub(crate) pixels: Pixels,
}

/// The parts of a facelet whose pixels are given, brightest last; `shown` says what some of
/// them show.
pub(crate) fn parts(
    frame: &Frame,
    (camera, facelet): (usize, Facelet),
    pixels: &[usize],
    shown: impl Fn(&[usize]) -> Option<Pixels>,
) -> Vec<Part> {
    let mut heaps = vec![pixels.to_vec()];
    for _ in 0..CUTS {
        heaps = heaps.into_iter().flat_map(|heap| cut(frame, heap, pixels.len())).collect();
    }
    let part = |heap: &Vec<usize>| {
        let share = heap.len() as f64 / pixels.len().max(1) as f64;
        Some(Part { facelet, camera, share, pixels: shown(heap)? })
    };
    heaps.iter().filter_map(part).collect()
}

/// Mean code of a pixel, times three.
fn brightness(frame: &Frame, pixel: usize) -> usize {
    frame.pixel(pixel).0.iter().map(|&code| usize::from(code)).sum()
}

/// A heap in two where it is two: the cut with the largest variance between the halves
/// (N. Otsu, *A threshold selection method from gray-level histograms*, 1979).
fn cut(frame: &Frame, heap: Vec<usize>, of: usize) -> Vec<Vec<usize>> {
    let fewest = FEWEST_PIXELS.max((LEAST_SHARE * of as f64) as usize);
    if heap.len() < 2 * fewest {
        return vec![heap];
    }
    let mut counts = [0usize; 766];
    heap.iter().for_each(|&pixel| counts[brightness(frame, pixel)] += 1);
    let all = heap.len() as f64;
    let (sum, squares) = counts.iter().enumerate().fold((0.0, 0.0), |(sum, squares), (b, &n)| {
        let (b, n) = (b as f64, n as f64);
        (sum + n * b, squares + n * b * b)
    });
    let mean = sum / all;
    let variance = squares / all - mean * mean;
    let (mut below, mut below_sum) = (0usize, 0.0);
    // Variance between, where to cut, and how far apart the means are.
    let mut best = (0.0, 0, 0.0);
    for (b, &count) in counts.iter().enumerate() {
        below += count;
        below_sum += (count * b) as f64;
        let above = heap.len() - below;
        if below < fewest || above < fewest {
            continue;
        }
        let low = below_sum / below as f64;
        let high = (mean * all - below_sum) / above as f64;
        let between = (below as f64 / all) * (above as f64 / all) * (high - low) * (high - low);
        if between > best.0 {
            best = (between, b, high - low);
        }
    }
    if best.0 < LEAST_EXPLAINED * variance || best.2 < 3.0 * LEAST_CODES {
        return vec![heap];
    }
    let (low, high): (Vec<usize>, Vec<usize>) =
        heap.into_iter().partition(|&pixel| brightness(frame, pixel) <= best.1);
    vec![low, high]
}

#[cfg(test)]
mod tests {
    use super::super::shown::statistics;
    use super::*;

    fn frame(codes: &[u8]) -> Frame {
        let pixels = codes.iter().flat_map(|&code| [code; 3]).collect();
        Frame { camera: "a".into(), width: codes.len(), height: 1, pixels }
    }

    fn shares(codes: &[u8]) -> Vec<(u8, f64)> {
        let pixels: Vec<usize> = (0..codes.len()).collect();
        let facelet = Facelet::all().next().unwrap();
        let frame = frame(codes);
        let shown = |heap: &[usize]| statistics(&frame, heap, &[255; 3]);
        let found = parts(&frame, (0, facelet), &pixels, shown);
        found.iter().map(|part| (part.pixels.median.0[0], part.share)).collect()
    }

    #[test]
    fn a_shadow_edge_makes_two_parts() {
        let codes: Vec<u8> = (0..100).map(|k| if k < 30 { 80 } else { 140 } + k % 3).collect();
        assert_eq!(shares(&codes), [(81, 0.3), (141, 0.7)]);
        // A part that is itself two is cut again.
        let three: Vec<u8> = (0..150).map(|k| [80, 140, 250][k % 3]).collect();
        let found = shares(&three);
        assert_eq!(found.iter().map(|part| part.0).collect::<Vec<_>>(), [80, 140, 250]);
    }

    #[test]
    fn what_goes_up_evenly_or_is_noisy_stays_whole() {
        let ramp: Vec<u8> = (0..100).map(|k| 100 + k / 2).collect();
        assert_eq!(shares(&ramp).len(), 1);
        // A binomial heap.
        let heap: Vec<u8> = (0..1024u32).map(|k| 100 + 4 * k.count_ones() as u8).collect();
        assert_eq!(shares(&heap).len(), 1);
        // A few odd pixels are not a part.
        let mut odd = vec![100; 96];
        odd.extend([200; 4]);
        assert_eq!(shares(&odd).len(), 1);
    }
}
