//! The verbs about planning for a tuned rig.

use super::Verbs;

pub(super) const PLANS: Verbs = &[
    (
        "transitions(scene)",
        "What a beat costs after another on the scene's drive if nothing is off, ms from start to start: `quarter_quarter_same_ms`, `quarter_half_opposite_ms` and so on (kinds of the two turns, and whether both have the same sense; a half turn is clockwise), `quarter_pair_longer_ms` and `half_pair_longer_ms` (what opposite faces together take longer), `quarter_last_ms` and `half_last_ms` (the last beat, to its stop), `first_ms`. A second stands where the drive does not get through a row.",
    ),
    (
        "search_budgets(scene, cubes)",
        "Plans random cubes 0 to cubes − 1 for the scene's drive with budgets from 1000 to 500,000 nodes; `search_budgets(scene, cubes, budgets)` takes a list. A search costs the nodes that it really spends (it always goes on to a first plan) at the host's speed. The report shows it.",
    ),
    ("budgets.best_nodes", "The budget with the least mean time of search and execution."),
    (
        "budgets.points",
        "List by budget: `budget`, `nodes` (spent, mean), `search_ms`, `execution_ms` (predicted, mean), `total` and `over_best` (how much more than at the best budget), each `ms`, `low_ms`, `high_ms` (95 % paired bootstrap interval).",
    ),
    ("budgets.summary", "The figures as text."),
    (
        "compare_rigs(safe, tuned, cubes)",
        "Turns random cubes 0 to cubes − 1 four ways, each cube with the same luck: the textbook plan and the plan for the rig, on scene `safe` and on scene `tuned`. The clock runs from the start button to the last stop. Searches cost the nodes that they really spend, the textbook's too. Cubes that a way did not complete are counted and left out of all four. The report shows it.",
    ),
    ("comparison.cubes", "How many cubes."),
    ("comparison.compared", "How many were completed all four ways."),
    (
        "comparison.ways",
        "List of four: textbook plan and plan for the rig on safe timing, then on tuned timing: `way` (name), `mean_ms`, `median_ms` (`()` where nothing was compared), `jammed`, `stopped`, `parts_ms` (mean `exposure`, `read_out`, `transfer`, `reading`, `search`, `execution`).",
    ),
    (
        "saving(comparison, what)",
        "Mean saving by `what`: `\"both together\"`, `\"the plan's share\"`, `\"the timing's share\"` (means over both orders, which add up), `\"the plan, on safe timing\"`, `\"the plan, on tuned timing\"`, `\"the timing, with the textbook plan\"`, `\"the timing, with the plan for the rig\"`: `ms`, `low_ms`, `high_ms`, and of the textbook plan's mean on safe timing `percent`, `low_percent`, `high_percent` (95 % paired bootstrap intervals).",
    ),
    ("comparison.summary", "The figures as text."),
];
