//! Decodes a table of log-likelihoods (natural logarithms; within a facelet only differences count) into the most probable legal cube: the way to bring your
//! own colour code.
//!
//! `cargo run --example decode_table -- TABLE.csv`: a line a facelet, `URF,-0.1,-7,-9,-4,-8,-6`, the
//! six colours in the order U R F D L B; facelets that nothing shows are left out. Without a table
//! it makes one of a scrambled cube, with six facelets unseen and two that look wrong.

use std::error::Error;

use dryturn::cube::{CubeState, Facelet, net, notation};
use dryturn::reading::decoder::{Evidence, decode};

fn evidence_of(table: &str) -> Result<Evidence, Box<dyn Error>> {
    let mut evidence = Evidence::none();
    for (number, line) in table.lines().enumerate() {
        let fault = |what: &str| format!("line {}: {what}: {line:?}", number + 1);
        let mut fields = line.split(',').map(str::trim);
        let name = fields.next().unwrap_or_default();
        let facelet = Facelet::from_name(name).ok_or_else(|| fault("no facelet"))?;
        let values = fields.map(str::parse).collect::<Result<Vec<f64>, _>>();
        let values = values.map_err(|_| fault("no numbers"))?;
        evidence.set(facelet, values.try_into().map_err(|_| fault("not six numbers"))?);
    }
    Ok(evidence)
}

/// The table of somebody who sees most of a cube, and is sometimes mistaken.
fn sample() -> Result<String, Box<dyn Error>> {
    let cube = CubeState::SOLVED.turned_by(&notation::parse("R U2 F' D L B2 U R2")?);
    let mut table = String::new();
    for (facelet, colour) in Facelet::all().zip(cube.colours()) {
        if facelet.index() % 9 == 5 {
            continue; // behind a shaft
        }
        let mut row = [-6.0; 6];
        row[colour.index()] = -0.1;
        if [20, 47].contains(&facelet.index()) {
            row[(colour.index() + 1) % 6] = 0.9; // another colour fits better
        }
        let numbers = row.map(|value| value.to_string()).join(",");
        table += &format!("{},{numbers}\n", facelet.name());
    }
    Ok(table)
}

fn main() -> Result<(), Box<dyn Error>> {
    let table = match std::env::args().nth(1) {
        Some(path) => std::fs::read_to_string(path)?,
        None => sample()?,
    };
    let decoded = decode(&evidence_of(&table)?);
    let colours = decoded.best.state.colours();
    println!("{}", net::draw(|facelet| colours[facelet.index()].letter()));
    println!("probability {:.6}", decoded.probability());
    Ok(())
}
