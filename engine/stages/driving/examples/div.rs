use dryturn_cube::*; use dryturn_driving::*; use dryturn_handoff::*; use dryturn_scene::Scene; use dryturn_units::noise::Seed; use serde_json::json;
fn main(){
    let text=std::fs::read_to_string("scenes/foyer_morning.ron").unwrap();
    let base=Scene::parse(&text,"x").unwrap().with("tolerances.homing_error_sigma_deg",json!(0.5)).unwrap();
    let plan=Plan::of_turns(&notation::parse("R U2 F' D L B2 U D' R2 F L' B U2 R D F2 L' U B' R F' D2").unwrap());
    let m=Machine::of(&base); let m3=if std::env::var("ST").is_ok(){m.clone().with_steps_per_tick(10)}else{m.clone().without_parking()};
    for i in 0..6 { let r=|m:&Machine| m.run(&CubeState::SOLVED,&plan,(Seed::new(1),i),Detail::Trace);
      let (a,b)=(r(&m),r(&m3));
      let mut printed=0; let mut lim=1e-9;
      for (k,(x,y)) in a.trace.angles_deg.iter().zip(&b.trace.angles_deg).enumerate(){ let d:Vec<f64>=x.iter().zip(y).map(|(p,q)|(p-q).abs()).collect(); let w=d.iter().cloned().fold(0.0,f64::max); if w>lim {println!("trial {i} t {:.1} ms diff {w:.2e} face {:?}",k as f64*0.5,d.iter().position(|v|*v==w)); printed+=1; lim=w*5.0; if printed>12{break;}} }
    }
}
