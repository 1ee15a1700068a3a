//! Which numbers of the lens the pictures tell: a fit with all that is asked for, less what is not
//! told from zero.

use dryturn_geometry::{DVec2, DVec3};

use super::bundle::{self, Bundle, Unknown};
use super::{LensError, Wanted};

/// A number earns its place where its square is at least so many of its variances: Akaike's
/// criterion (H. Akaike 1974), two for each number. A stricter bar would push what it drops
/// into the others, whose standard errors then promise too much.
const TELLING_VARIANCES: f64 = 2.0;
/// An optical centre with a larger standard error, as a share of the width, is left in the
/// middle.
const CENTRE_SHARE: f64 = 0.02;

/// Standard deviation of a corner's column or row, from what the fit leaves.
pub(super) fn sigma_px(bundle: &Bundle, corners: usize, unknowns: usize) -> f64 {
    let free = (2 * corners).saturating_sub(unknowns + 6 * bundle.poses.len()).max(1);
    (bundle.sum / free as f64).sqrt()
}

/// The fit, what it is of, and what was left out with the reason.
type Telling = (Bundle, Vec<Unknown>, Vec<(Unknown, String)>);

/// The fit with all that is asked for, less what the pictures do not tell: the highest
/// order first, as the lower ones take its place.
pub(super) fn telling(
    first: &Bundle,
    views: &[Vec<(DVec3, DVec2)>],
    size: [usize; 2],
    wanted: Wanted,
) -> Result<Telling, LensError> {
    use Unknown::{CentreColumn, CentreRow, Focal, K1, K2, K3, P1, P2};
    let mut unknowns = vec![Focal, CentreColumn, CentreRow, K1, K2];
    if wanted.k3 {
        unknowns.push(K3);
    }
    if wanted.tangential {
        unknowns.extend([P1, P2]);
    }
    let corners: usize = views.iter().map(Vec::len).sum();
    let mut left_out = Vec::new();
    // A rich model may run away where a plain one does not: each start is the plain fit.
    let fit = |unknowns: &[Unknown]| bundle::fit(first.lens, first.poses.clone(), views, unknowns);
    let groups: [&[Unknown]; 5] = [&[K3], &[P1, P2], &[K2], &[K1], &[CentreColumn, CentreRow]];
    let mut bundle = fit(&unknowns);
    for group in groups {
        // A radial order that stays keeps those below it.
        let above = match group[0] {
            K2 => Some(K3),
            K1 => Some(K2),
            _ => None,
        };
        let carried = above.is_some_and(|above| unknowns.contains(&above)) && bundle.is_some();
        if carried || !group.iter().all(|unknown| unknowns.contains(unknown)) {
            continue;
        }
        let Some(good) = &bundle else {
            drop_group(&mut unknowns, group, &mut left_out, |_| "no fit with it".to_owned());
            bundle = fit(&unknowns);
            continue;
        };
        let sigma = sigma_px(good, corners, unknowns.len());
        let of = |unknown: Unknown| {
            let k = unknowns.iter().position(|u| *u == unknown).unwrap_or(0);
            (unknown.of(&good.lens), sigma * good.unit_variances[k].sqrt())
        };
        let figures: Vec<(Unknown, f64, f64)> =
            group.iter().map(|&u| (u, of(u).0, of(u).1)).collect();
        let centre = group[0] == CentreColumn;
        let keep = if centre {
            figures.iter().all(|&(_, _, error)| error < CENTRE_SHARE * size[0] as f64)
        } else {
            let ratio = |&(_, value, error): &(Unknown, f64, f64)| value / error;
            let squares: f64 = figures.iter().map(|f| ratio(f) * ratio(f)).sum();
            squares >= TELLING_VARIANCES * figures.len() as f64
        };
        if !keep {
            let why = |unknown: Unknown| {
                let at = figures.iter().find(|f| f.0 == unknown);
                let (value, error) = at.map_or((0.0, 0.0), |f| (f.1, f.2));
                if centre {
                    format!("{value:.1} ± {error:.1} px: left in the picture's middle")
                } else {
                    format!("{value:.6} ± {error:.6}: not told from zero")
                }
            };
            drop_group(&mut unknowns, group, &mut left_out, why);
            bundle = fit(&unknowns);
        }
    }
    let bundle = bundle.ok_or(LensError::NoFit)?;
    Ok((bundle, unknowns, left_out))
}

fn drop_group(
    unknowns: &mut Vec<Unknown>,
    group: &[Unknown],
    left_out: &mut Vec<(Unknown, String)>,
    why: impl Fn(Unknown) -> String,
) {
    unknowns.retain(|unknown| !group.contains(unknown));
    left_out.extend(group.iter().map(|&unknown| (unknown, why(unknown))));
}
