//! A program that ends without ending its work ends its guests: alone in its process, for it ends
//! all of them.
#![cfg(unix)]

use std::time::Duration;

use dryturn_cube::CubeState;
use dryturn_guests::{GuestCommand, GuestPlanner, Limits, PlanCosts};

#[test]
fn all_guests_end_at_once() {
    let script = r#"read line
echo '{"jsonrpc":"2.0","id":1,"result":{"protocol":1,"name":"stubborn"}}'
trap '' TERM
sleep 600"#;
    let words = ["sh", "-c", script].map(str::to_owned).to_vec();
    let command = GuestCommand::of_words(words).unwrap();
    let limits = Limits { start: Duration::from_secs(60), answer: Duration::from_secs(60) };
    let mut guest = GuestPlanner::start(&command, limits).unwrap();
    let folder = guest.session().folder().to_owned();
    assert!(folder.is_dir());
    dryturn_guests::end_all();
    assert!(!folder.exists());
    let costs = PlanCosts {
        quarter_turn_s: 0.05,
        half_turn_s: 0.07,
        pair_s: None,
        between_s: None,
        row: None,
    };
    let fault = guest.plan(&CubeState::SOLVED, &costs).unwrap_err();
    assert_eq!(fault.kind.to_string(), "it ended by signal 9");
    // Once more is no harm.
    dryturn_guests::end_all();
}
