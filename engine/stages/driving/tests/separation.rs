//! The exact separation of two layers against SciPy.

use dryturn_driving::separation::Pieces;
use dryturn_units::maths::radians;
use serde_json::Value;

/// Distances of the inner cuboids by bounded least squares (SciPy's `lsq_linear`,
/// method BVLS), less twice the rounding.
#[test]
fn as_bounded_least_squares_finds() {
    let text = include_str!("../../../../tests/reference/drive_open.json");
    let file: Value = serde_json::from_str(text).unwrap();
    let cases = file["cases"].as_array().unwrap();
    let mut checked = 0;
    for case in cases.iter().filter(|case| case["kind"] == "interlock_separation") {
        let input = |name: &str| case["inputs"][name].as_f64().unwrap();
        let pieces = Pieces {
            half_mm: input("H_mm"),
            radius_mm: input("r_mm"),
            clearance_mm: input("c_mm"),
        };
        let (late, turned) = (radians(input("delta_deg")), radians(input("theta_deg")));
        let found = pieces.separation_mm(late, turned, input("lift_mm"));
        let wanted = case["expected"]["separation_mm"].as_f64().unwrap();
        let allowed = (case["tol"].as_f64().unwrap() * wanted.abs()).max(1e-6);
        assert!((found - wanted).abs() <= allowed, "{}: {found} for {wanted}", case["id"]);
        let hard = found <= -2.0 * pieces.radius_mm + 1e-9;
        assert_eq!(Some(hard), case["expected"]["hard"].as_bool(), "{}", case["id"]);
        checked += 1;
    }
    assert!(checked >= 16, "{checked} cases");
}
