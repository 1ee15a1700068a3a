//! What passes between Dryturn and guests that do as they must.

use dryturn_cube::{CubeState, net, notation};
use dryturn_guests::{
    GuestController, GuestHost, GuestPlanner, GuestReader, HostBegin, HostView, schema,
};
use dryturn_handoff::{GuestRole, Plan, Source};
use jsonschema::Validator;
use serde_json::{Value, json};

use crate::help::{COSTS, PATIENT, Stage, axis, known, scene};

/// Messages as the JSON-RPC 2.0 Specification has them (<https://www.jsonrpc.org/specification>,
/// sections 4 and 5), written from its text: a request has a method that is not one of the
/// reserved, structured params if any, and an id that should be no fraction; a response has the id
/// and either a result or an error with a whole code and a message.
fn specification() -> Validator {
    let id = json!({"type": ["string", "integer", "null"]});
    let request = json!({
        "type": "object",
        "required": ["jsonrpc", "method"],
        "properties": {
            "jsonrpc": {"const": "2.0"},
            "method": {"type": "string", "not": {"pattern": "^rpc\\."}},
            "params": {"type": ["object", "array"]},
            "id": id,
        },
        "not": {"anyOf": [{"required": ["result"]}, {"required": ["error"]}]},
    });
    let response = json!({
        "type": "object",
        "required": ["jsonrpc", "id"],
        "properties": {
            "jsonrpc": {"const": "2.0"},
            "id": id,
            "error": {
                "type": "object",
                "required": ["code", "message"],
                "properties": {"code": {"type": "integer"}, "message": {"type": "string"}},
            },
        },
        "oneOf": [{"required": ["result"]}, {"required": ["error"]}],
        "not": {"required": ["method"]},
    });
    jsonschema::draft202012::new(&json!({"oneOf": [request, response]})).unwrap()
}

/// Every line of both sides is a message of the specification, and of the role's own schema; each
/// question is followed by the answer with its id, and no id comes twice.
fn assert_sound(role: GuestRole, lines: &[String]) {
    let own = schema::lines(role).to_value();
    jsonschema::draft202012::meta::validate(&own).unwrap();
    let (own, specification) = (jsonschema::draft202012::new(&own).unwrap(), specification());
    let messages: Vec<Value> = lines.iter().map(|l| serde_json::from_str(l).unwrap()).collect();
    for message in &messages {
        assert!(specification.is_valid(message), "{message}");
        if let Err(error) = own.validate(message) {
            panic!("{role}: {message}: {error}");
        }
    }
    let mut last = 0;
    for pair in messages.chunks(2) {
        let id = pair[0]["id"].as_u64().unwrap();
        assert!(pair[0]["method"].is_string() && id > last, "{pair:?}");
        assert_eq!(pair[1]["id"], pair[0]["id"]);
        last = id;
    }
}

#[test]
fn the_specification_is_strict_enough_to_fail() {
    let specification = specification();
    for wrong in [
        json!({"jsonrpc": "2.0", "id": 1}),
        json!({"jsonrpc": "1.0", "id": 1, "result": 1}),
        json!({"jsonrpc": "2.0", "id": 1, "result": 1, "error": {"code": 1, "message": ""}}),
        json!({"jsonrpc": "2.0", "id": 1, "error": {"code": 1.5, "message": ""}}),
        json!({"jsonrpc": "2.0", "method": "a", "params": 1, "id": 1}),
        json!({"jsonrpc": "2.0", "method": "rpc.a", "id": 1}),
    ] {
        assert!(!specification.is_valid(&wrong), "{wrong}");
    }
}

#[test]
fn a_planner_plans() {
    let scramble = notation::parse("R U2 D F'").unwrap();
    let cube = CubeState::SOLVED.turned_by(&scramble);
    let table = json!({net::write_faces(&cube.colours()): "F U2 D' R'"});
    let stage = Stage::good("planner").with_table(&table);
    let mut guest = GuestPlanner::start(&stage.command(), PATIENT).unwrap();
    assert_eq!(guest.session().name(), "a good planner 0.1");
    let planned = guest.plan(&cube, &COSTS).unwrap();
    assert_eq!((planned.plan.notation().as_str(), planned.operations), ("F U2 D' R'", 12));
    assert_eq!(planned.plan.beats.len(), 3, "U and D turn together");
    let unknown = guest.plan(&CubeState::SOLVED, &COSTS).unwrap_err();
    assert_eq!(unknown.kind.name(), "error_answer");
    assert_eq!(guest.plan(&cube, &COSTS).unwrap(), planned);
    guest.goodbye().unwrap();
    stage.assert_gone();
    let lines = stage.log();
    assert_eq!(lines.len(), 10);
    assert_sound(GuestRole::Planner, &lines);
}

#[test]
fn a_reader_reads_pictures() {
    let (stage, scene) = (Stage::good("reader"), scene());
    let cube = CubeState::SOLVED.turned_by(&notation::parse("R U F'").unwrap());
    let mut guest = GuestReader::start(&stage.command(), PATIENT, &scene).unwrap();
    guest.calibrate(&[known(&scene, &CubeState::SOLVED), known(&scene, &cube)]).unwrap();
    let files = |guest: &GuestReader| std::fs::read_dir(guest.session().folder()).unwrap().count();
    assert_eq!(files(&guest), 4);
    let reading = guest.read(&known(&scene, &cube).frames).unwrap();
    assert_eq!(files(&guest), 2, "pictures of the last question alone");
    assert_eq!(reading.state(), Some(&cube));
    assert_eq!(reading.probability, Some(0.875));
    assert_eq!(reading.most_probable, Some(cube));
    let told = Source::Told { log_likelihoods: Some([0.0, 0.0, 0.0, 0.0, 0.0, -1.5]) };
    assert_eq!(reading.facelets[7].source, told);
    let folder = guest.session().folder().to_owned();
    guest.goodbye().unwrap();
    assert!(!folder.exists(), "its folder goes with it");
    stage.assert_gone();
    assert_sound(GuestRole::Reader, &stage.log());
    let asked: Value = serde_json::from_str(&stage.log()[2]).unwrap();
    let camera = &asked["params"]["cameras"][0];
    // The optical axis goes through the point that the camera aims at: the middle of the cube.
    let position: Vec<f64> = serde_json::from_value(camera["position_mm"].clone()).unwrap();
    let forward: Vec<f64> = serde_json::from_value(camera["forward"].clone()).unwrap();
    let away: f64 = position.iter().map(|p| p * p).sum::<f64>().sqrt();
    for (p, f) in position.iter().zip(&forward) {
        assert!((p + away * f).abs() < 1e-9, "{camera}");
    }
    assert_eq!(camera["facelets"].as_array().unwrap().len(), 27, "three faces look its way");
}

#[test]
fn a_host_commands() {
    let stage = Stage::good("host");
    let mut guest = GuestHost::start(&stage.command(), PATIENT).unwrap();
    let plan = Plan::of_turns(&notation::parse("R L' U2").unwrap());
    for _ in 0..2 {
        let beats = plan.beats.iter().map(|beat| beat.turns.clone()).collect();
        guest.begin(&HostBegin { beats, ..HostBegin::default() }).unwrap();
        let first = guest.tick(&HostView::default()).unwrap();
        assert_eq!(notation::format(&first.turns), "R L'");
        let busy = HostView { busy: [true; 6], ..HostView::default() };
        assert_eq!(guest.tick(&busy).unwrap(), dryturn_guests::HostAnswer::default());
    }
    guest.goodbye().unwrap();
    stage.assert_gone();
    assert_sound(GuestRole::Host, &stage.log());
}

#[test]
fn a_controller_speaks_lines_again_after_its_run() {
    let stage = Stage::good("controller");
    let mut guest = GuestController::start(&stage.command(), PATIENT).unwrap();
    for _ in 0..2 {
        guest.begin(&axis()).unwrap();
        for tick in 0..20 {
            let view = dryturn_guests::ControlView { tick, ..Default::default() };
            guest.tick(&view).unwrap();
        }
    }
    guest.goodbye().unwrap();
    stage.assert_gone();
    assert_sound(GuestRole::Controller, &stage.log());
}
