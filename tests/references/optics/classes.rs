//! Colour classes and the assignment that takes each colour nine times.

use dryturn_cube::{Facelet, FaceletKind};
use dryturn_geometry::DVec3;
use dryturn_reading::decoder::{Evidence, best_without_laws};
use dryturn_reading::{ClassModel, Spread, nine_each};

use super::super::{number, numbers, vector};
use super::{Case, Keys};

/// Below this log posteriors are not told apart.
const FLOOR: f64 = -50.0;

pub(super) fn classify(case: &Case<'_>) -> Keys {
    if case.input.get("cost").is_some() { balanced(case) } else { gaussian(case) }
}

fn gaussian(case: &Case<'_>) -> Keys {
    let list = |key: &str| case.input[key].as_array().unwrap();
    let labels = numbers(&case.input["train_label"]);
    let samples: Vec<(DVec3, usize)> =
        list("train").iter().zip(labels).map(|(x, y)| (vector(x), y as usize)).collect();
    let classes = samples.iter().map(|s| s.1).max().unwrap() + 1;
    for (key, spread) in
        [("lda", Spread::Shared), ("qda", Spread::Own), ("gnb", Spread::Independent)]
    {
        let model = ClassModel::fit(&samples, classes, spread).unwrap();
        let expected = &case.expected[key];
        let labels = numbers(&expected["label"]);
        let wanted = expected["log_posterior"].as_array().unwrap();
        for ((x, wanted), label) in list("test").iter().zip(wanted).zip(labels) {
            let found = model.log_posteriors(vector(x));
            let wanted = numbers(wanted);
            for (found, wanted) in found.iter().zip(&wanted) {
                case.near(key, found.max(FLOOR), *wanted, 0.0, 1e-6);
            }
            let mut sorted = wanted.clone();
            sorted.sort_by(f64::total_cmp);
            if sorted[classes - 1] - sorted[classes - 2] > 1e-6 {
                let best = (0..classes).max_by(|&a, &b| found[a].total_cmp(&found[b])).unwrap();
                assert_eq!(best, label as usize, "{}, {key}", case.id);
            }
        }
    }
    &["lda", "qda", "gnb"]
}

fn balanced(case: &Case<'_>) -> Keys {
    let cost: Vec<[f64; 6]> = case.input["cost"]
        .as_array()
        .unwrap()
        .iter()
        .map(|row| numbers(row).try_into().unwrap())
        .collect();
    let nearest = |row: &[f64; 6]| (0..6).min_by(|&a, &b| row[a].total_cmp(&row[b])).unwrap();
    let nearest: Vec<f64> = cost.iter().map(|row| nearest(row) as f64).collect();
    case.all_near("nearest_labels", &nearest, 0.0, 0.0);
    let counts: Vec<f64> =
        (0..6).map(|c| nearest.iter().filter(|&&n| n == f64::from(c)).count() as f64).collect();
    case.all_near("nearest_counts", &counts, 0.0, 0.0);
    let taken = nine_each(&cost);
    let labels: Vec<f64> = taken.iter().map(|&c| c as f64).collect();
    case.all_near("labels_assigned", &labels, 0.0, 0.0);
    let total: f64 = taken.iter().zip(&cost).map(|(&c, row)| row[c]).sum();
    case.near("total", total, number(&case.expected["total"]), 1e-9, 0.0);
    &["total", "labels_assigned", "nearest_labels", "nearest_counts"]
}

/// Colours that are each used equally often, and pieces that are each used once: the
/// decoder's optimum where its other laws are dropped.
pub(super) fn assignment(case: &Case<'_>) -> Keys {
    let rows = case.input["log_likelihoods"].as_array().unwrap().iter();
    let table: Vec<[f64; 6]> = rows.map(|row| numbers(row).try_into().unwrap()).collect();
    let total = |key: &str, found: f64| {
        case.near(key, found, number(&case.expected[key]), 1e-9, 1e-8);
    };
    let cost: Vec<[f64; 6]> = table.iter().map(|row| row.map(|l| -l)).collect();
    let taken = nine_each(&cost);
    total("total", table.iter().zip(taken).map(|(row, colour)| row[colour]).sum());
    let mut evidence = Evidence::none();
    let places = Facelet::all().filter(|f| f.kind() != FaceletKind::Centre);
    places.zip(&table).for_each(|(facelet, row)| evidence.set(facelet, *row));
    let [corners, edges] = best_without_laws(&evidence);
    total("corners", corners);
    total("edges", edges);
    &["total", "corners", "edges"]
}
