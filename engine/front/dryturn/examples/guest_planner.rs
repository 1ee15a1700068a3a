//! A planner of your own for Dryturn's stage, in Rust: JSON-RPC 2.0 over standard input and output,
//! a message a line. It searches twice, for the fewest turns and for the least time, and takes what
//! is quicker by the costs that the question tells.
//!
//! `dryturn rehearse my.rhai --guest planner=target/release/examples/guest_planner`
//!
//! In place of `best` put a search of your own. Standard output belongs to the protocol: print to
//! standard error. What passes is described in `assets/guests/README.md`.

use std::error::Error;
use std::io::{BufRead, Write};

use dryturn::cube::{Amount, CubeState, net};
use dryturn::handoff::Plan;
use dryturn::planning::{Objective, Planner, Weights};
use serde_json::{Value, json};

/// Search nodes for each of the two plans: about a tenth of a second.
const NODES: u64 = 50_000;

/// JSON-RPC's codes of what went wrong, with a sentence.
type Fault = (i64, String);

fn bad(what: impl ToString) -> Fault {
    (-32602, what.to_string())
}

/// How long a plan takes, s, if nothing overlaps but opposite faces.
fn estimate_s(plan: &Plan, [quarter_s, half_s, pair_s]: [f64; 3]) -> f64 {
    let beat_s = plan.beats.iter().map(|beat| {
        let half = beat.turns.iter().any(|turn| turn.amount == Amount::Half);
        match (half, beat.turns.len()) {
            (true, _) => half_s,
            (false, 1) => quarter_s,
            (false, _) => pair_s,
        }
    });
    beat_s.sum()
}

fn best(planner: &Planner, params: &Value) -> Result<Value, Fault> {
    let faces = params["cube"].as_str().ok_or_else(|| bad("cube is missing"))?;
    let colours = net::parse_faces(faces).map_err(bad)?;
    let cube = CubeState::from_colours(&colours).map_err(bad)?;
    let cost = |name: &str| params["costs"][name].as_f64().filter(|seconds| *seconds > 0.0);
    let quarter_s = cost("quarter_turn_s").ok_or_else(|| bad("costs.quarter_turn_s is missing"))?;
    let half_s = cost("half_turn_s").ok_or_else(|| bad("costs.half_turn_s is missing"))?;
    let costs = [quarter_s, half_s, cost("pair_s").unwrap_or(quarter_s)];
    // A half turn takes once to twice as long as a quarter turn, in quarters of the latter.
    let half = (4.0 * half_s / quarter_s).round().clamp(4.0, 8.0) as u32;
    let objectives = [Objective::FewestTurns, Objective::LeastTime(Weights { quarter: 4, half })];
    let plans = objectives.map(|objective| planner.plan(&cube, objective, NODES).plan);
    let quickest = plans
        .iter()
        .min_by(|a, b| estimate_s(a, costs).total_cmp(&estimate_s(b, costs)))
        .ok_or_else(|| bad("no plan"))?;
    Ok(json!({"turns": quickest.notation(), "operations": 2 * NODES}))
}

fn answer(planner: &Planner, method: &str, params: &Value) -> Result<Value, Fault> {
    match method {
        "hello" if params["protocol"].as_f64() != Some(1.0) => {
            Err(bad("this guest speaks protocol 1"))
        }
        "hello" if params["role"] != "planner" => Err(bad("this guest is a planner")),
        "hello" => Ok(json!({"protocol": 1, "name": "two searches", "version": "1"})),
        "plan" => best(planner, params),
        "goodbye" => Ok(Value::Null),
        _ => Err((-32601, "this guest knows hello, plan and goodbye".to_owned())),
    }
}

fn main() -> Result<(), Box<dyn Error>> {
    let planner = Planner::new();
    let mut output = std::io::stdout().lock();
    let (mut input, mut line) = (std::io::stdin().lock(), Vec::new());
    while input.read_until(b'\n', &mut line)? > 0 && line.ends_with(b"\n") {
        let message: Option<Value> = serde_json::from_slice(&line).ok();
        line.clear();
        let method = message.as_ref().and_then(|message| message["method"].as_str());
        let given = message.as_ref().and_then(|message| message.get("id"));
        let id = given.filter(|id| id.is_number() || id.is_string()).cloned();
        // An id is a number, a text or null.
        let named = id.is_some() || given.is_none_or(Value::is_null);
        let result = match (&message, method) {
            (None, _) => Err((-32700, "no JSON".to_owned())),
            (Some(message), Some(method)) if named && message["jsonrpc"] == "2.0" => {
                answer(&planner, method, &message["params"])
            }
            _ => Err((-32600, "no request of JSON-RPC 2.0".to_owned())),
        };
        // A sound message without an id is a notification, which wants no answer.
        let unheard = message.as_ref().is_some_and(|message| message.get("id").is_none());
        if !unheard || matches!(result, Err((-32600, _))) {
            let response = match &result {
                Ok(result) => json!({"jsonrpc": "2.0", "id": id, "result": result}),
                Err((code, message)) => json!({"jsonrpc": "2.0", "id": id,
                    "error": {"code": code, "message": message}}),
            };
            writeln!(output, "{response}")?;
            output.flush()?;
        }
        if method == Some("goodbye") {
            return Ok(());
        }
    }
    Err("the input ended before goodbye".into())
}
